#include "screen/job_card.h"

#include <ctype.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* ---- small things the page shares ---- */

double leaf_section(struct canvas *c, double x, double y, double w, const char *label)
{
    double lw = canvas_text_width(c, TYPE_LABEL, label), mid = y + canvas_line_height(c, TYPE_LABEL) / 2;
    canvas_text_fit(c, x, y, w, TYPE_LABEL, TONE_SOFT, ALIGN_LEFT, label);
    if (lw + 10 < w)
        canvas_rule(c, x + lw + 10, mid, x + w, mid, TONE_FAINT, WEIGHT_HAIR);
    return canvas_line_height(c, TYPE_LABEL) + 7;
}

const char *leaf_day(const char *time, bool with_year, char out[24])
{
    static const char *const month[] = {"Jan", "Feb", "Mar", "Apr", "May", "Jun",
                                        "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"};
    int y = 0, m = 0, d = 0, hour = 0, min = 0;
    int got = sscanf(time, "%4d-%2d-%2dT%2d:%2d", &y, &m, &d, &hour, &min);
    if (got < 3 || m < 1 || m > 12)
        snprintf(out, 24, "%.20s", time);
    else if (with_year)
        snprintf(out, 24, "%d %s %d", d % 100, month[m - 1], y % 10000);
    else if (got < 5)
        snprintf(out, 24, "%d %s", d % 100, month[m - 1]);
    else
        snprintf(out, 24, "%d %s %02d:%02d", d % 100, month[m - 1], hour % 100, min % 100);
    return out;
}

const char *leaf_clock(const struct app *a, const char *movement)
{
    const struct clock *k = library_find_clock(a->lib, movement);
    return k ? k->name : movement[0] ? movement : "a clock not named";
}

static const char *fault_name(const struct app *a, const char *id)
{
    const struct fault *f = library_find_fault(a->lib, id);
    return f ? f->name : strcmp(id, "none") == 0 ? "Nothing was wrong" : strcmp(id, "unknown") == 0 ? "Never found out" : id;
}

/* ---- head ---- */

static double head(struct app *a, struct journaling *b, double x, double y, double w)
{
    struct canvas *c = &a->canvas;
    const struct record *call = &b->job.call;
    const char *who = record_text(&b->job.customer, "label"), *closed = record_text(call, "closed_at");
    char line[120], day[24];
    double top = y;
    if (book_is_open(b))
        snprintf(line, sizeof line, "open since %s", leaf_day(record_text(call, "taken_at"), true, day));
    else
        snprintf(line, sizeof line, "closed %s", leaf_day(closed, true, day));
    double bw = ui_button_width(&a->ui, "Take up");
    if (ui_button(&a->ui, "take-up", x + w - bw, y, bw, 0, "Take up", record_text(call, "sheet")[0] ? 0 : UI_OFF))
        book_take_up(a);
    canvas_text_fit(c, x, y - 2, w - bw - 16, TYPE_ASK, TONE_INK, ALIGN_LEFT, who[0] ? who : "Nobody's name was taken");
    y += canvas_line_height(c, TYPE_ASK) + 2;
    double lw = canvas_text_width(c, TYPE_SMALL, line);
    canvas_text(c, x + w, y + 2, TYPE_SMALL, TONE_SOFT, ALIGN_RIGHT, line);
    canvas_text_fit(c, x, y, w - lw - 12, TYPE_ITALIC, TONE_INK, ALIGN_LEFT,
                    leaf_clock(a, record_text(&b->job.clock, "movement")));
    y += canvas_line_height(c, TYPE_ITALIC) + 4;
    if (record_text(call, "story")[0])
        y += canvas_paragraph(c, x, y, w, TYPE_BODY, TONE_INK, ALIGN_LEFT, record_text(call, "story")) + 2;
    return y - top;
}

#define HEARD_SHOWN 5

static double heard_part(struct app *a, const struct journaling *b, double x, double y, double w)
{
    struct canvas *c = &a->canvas;
    struct text t = {0};
    size_t n = b->sheet.heards;
    for (size_t i = 0; i < n && i < HEARD_SHOWN; i++) {
        text_add(&t, i ? "; " : "Heard: ");
        heard_say(&b->sheet.heard[i], a->words, &t);
    }
    if (n > HEARD_SHOWN)
        text_addf(&t, "; and %zu more", n - HEARD_SHOWN);
    double h = t.length ? canvas_paragraph(c, x, y, w, TYPE_SMALL, TONE_SOFT, ALIGN_LEFT, text_cstr(&t)) : 0;
    text_release(&t);
    return h;
}

/* ---- what it was ---- */

static void tick(struct canvas *c, double x, double y)
{
    canvas_begin(c);
    canvas_move(c, x, y);
    canvas_line_to(c, x + 5, y + 5);
    canvas_line_to(c, x + 13, y - 7);
    canvas_stroke(c, TONE_INK, WEIGHT_BOLD);
}

/* As long as the fault was thought likely. */
static void measure(struct canvas *c, double x, double y, double w, double h, double p)
{
    canvas_box(c, x, y, w, h, 0, TONE_CARD, TONE_FAINT, WEIGHT_HAIR);
    canvas_begin(c);
    canvas_rect(c, x, y, w * p < 1 ? 1 : w * p, h, 0);
    canvas_fill(c, TONE_WASH, 1);
    canvas_hatch(c, TONE_ACCENT, WEIGHT_FINE, 135, p > 0.5 ? 2.6 : p > 0.2 ? 3.6 : 5);
    canvas_stroke(c, TONE_ACCENT, WEIGHT_FINE);
}

#define FAULT_KEYS 9

/* A row to press: key, name, and how likely it was thought (p < 0: not). */
static bool fault_row(struct app *a, const struct journaling *b, int number, const char *id, double p, double x,
                      double y, double w)
{
    struct canvas *c = &a->canvas;
    double line = canvas_line_height(c, TYPE_UI), h = line + 10, bar = w > 420 ? 90 : 60;
    bool found = book_is_found(b, id);
    char name[80], key[8], percent[16];
    snprintf(name, sizeof name, "fault-%d", number);
    struct ui_touch t = ui_area(&a->ui, name, x, y, w, h);
    canvas_box(c, x, y, w, h, 3, t.over ? TONE_SHADE : TONE_CARD, found ? TONE_INK : TONE_FAINT,
               found ? WEIGHT_BOLD : WEIGHT_FINE);
    snprintf(key, sizeof key, "%d", number);
    if (found)
        tick(c, x + 10, y + h / 2 + 1);
    else if (number <= FAULT_KEYS)
        canvas_text(c, x + 16, y + 5, TYPE_UI_BOLD, TONE_SOFT, ALIGN_CENTRE, key);
    canvas_text_fit(c, x + 34, y + 5, w - bar - 100, found ? TYPE_UI_BOLD : TYPE_UI, TONE_INK, ALIGN_LEFT,
                    fault_name(a, id));
    if (p >= 0) {
        snprintf(percent, sizeof percent, p < 0.095 ? "%.1f %%" : "%.0f %%", 100 * p);
        canvas_text(c, x + w - bar - 18, y + 5, TYPE_NUMERAL, TONE_INK, ALIGN_RIGHT, percent);
        measure(c, x + w - bar - 10, y + 7, bar, h - 14, p);
    }
    bool keyed = number <= FAULT_KEYS && ui_letter(&a->ui, '0' + number);
    return t.pressed || keyed;
}

struct picks {
    const char *id[FAULT_KEYS];
    double p[FAULT_KEYS];
    size_t count;
};

static void pick(struct picks *k, const char *id, double p)
{
    for (size_t i = 0; i < k->count; i++)
        if (strcmp(k->id[i], id) == 0)
            return;
    if (k->count < FAULT_KEYS) {
        k->id[k->count] = id;
        k->p[k->count++] = p;
    }
}

#define LIKELY_SHOWN 5

/* What was found, then what was thought likeliest. */
static void choose_picks(const struct app *a, const struct journaling *b, struct picks *k)
{
    const struct record *row[BOOK_BELIEFS];
    const struct record_list *found = &b->job.of[RECORD_FINDING];
    size_t n = book_beliefs(b, row, BOOK_BELIEFS);
    for (size_t i = 0; i < n && k->count < LIKELY_SHOWN; i++)
        if (library_find_fault(a->lib, record_text(row[i], "fault")))
            pick(k, record_text(row[i], "fault"), record_real(row[i], "p", 0));
    for (size_t i = 0; i < found->count; i++)
        pick(k, record_text(&found->at[i], "fault"), -1);
}

static bool holds_all(const char *name, const char *words)
{
    char low[160], word[40];
    size_t n = 0;
    for (; name[n] && n + 1 < sizeof low; n++)
        low[n] = (char)tolower((unsigned char)name[n]);
    low[n] = 0;
    for (const char *s = words; *s;) {
        size_t len = strcspn(s, " ");
        snprintf(word, sizeof word, "%.*s", (int)(len < 39 ? len : 39), s);
        for (char *w = word; *w; w++)
            *w = (char)tolower((unsigned char)*w);
        if (word[0] && !strstr(low, word))
            return false;
        s += len + (s[len] == ' ');
    }
    return true;
}

/* Faults of this clock whose names hold the words typed. */
static size_t search_faults(const struct app *a, const struct journaling *b, const char **id, size_t room)
{
    const struct clock *k = library_find_clock(a->lib, record_text(&b->job.clock, "movement"));
    const char *words = text_cstr(&b->other);
    size_t n = 0;
    for (size_t i = 0; words[0] && i < library_faults(a->lib) && n < room; i++) {
        const struct fault *f = library_fault(a->lib, i);
        if ((!k || fault_applies(f, k)) && (holds_all(f->name, words) || holds_all(f->part, words)))
            id[n++] = f->id;
    }
    return n;
}

static double other_fault(struct app *a, struct journaling *b, double x, double y, double w, const char **hit)
{
    struct ui *u = &a->ui;
    const char *id[6];
    double h = ui_field_height(u), cx = x, cw, top = y;
    static const char *const plain[][2] = {{"none", "nothing was wrong"}, {"unknown", "never found out"}};
    double field_w = w > 520 ? 240 : w * 0.42;
    bool enter = ui_field(u, "other-fault", x, y, field_w, &b->other, "something else \xe2\x80\xa6");
    size_t n = search_faults(a, b, id, 6);
    if (enter && n > 0)
        *hit = id[0];
    cx += field_w + 12;
    for (size_t i = 0; i < 2; i++) {
        char name[32];
        snprintf(name, sizeof name, "fault-%s", plain[i][0]);
        if (cx > x && cx + canvas_text_width(u->c, TYPE_SMALL, plain[i][1]) + 34 > x + w) {
            cx = x;
            y += h + 4;
        }
        if (ui_chip(u, name, cx, y + (h - ui_chip_height(u)) / 2, plain[i][1], book_is_found(b, plain[i][0]), &cw))
            *hit = plain[i][0];
        cx += cw + 6;
    }
    y += h + 6;
    for (size_t i = 0; i < n; i++) {
        char name[80], label[80];
        snprintf(name, sizeof name, "fault-%.60s", id[i]);
        snprintf(label, sizeof label, "%.70s", fault_name(a, id[i]));
        if (ui_chip(u, name, x, y, label, book_is_found(b, id[i]), &cw))
            *hit = id[i];
        y += ui_chip_height(u) + 4;
    }
    return y - top;
}

static double faults_part(struct app *a, struct journaling *b, double x, double y, double w)
{
    struct picks k = {.count = 0};
    const char *hit = NULL;
    double top = y, row = canvas_line_height(&a->canvas, TYPE_UI) + 14;
    y += leaf_section(&a->canvas, x, y, w, book_is_open(b) ? "WHAT WAS IT? PRESS TO CLOSE THE JOB" : "WHAT IT WAS");
    choose_picks(a, b, &k);
    for (size_t i = 0; i < k.count; i++, y += row)
        if (fault_row(a, b, (int)i + 1, k.id[i], k.p[i], x, y, w))
            hit = k.id[i];
    y += other_fault(a, b, x, y + 2, w, &hit) + 2;
    if (hit) {
        char id[80]; /* the record it stands in goes with the reading that follows */
        snprintf(id, sizeof id, "%s", hit);
        book_found(a, id);
    }
    return y - top;
}

/* ---- after closing ---- */

static double outcome_part(struct app *a, struct journaling *b, double x, double y, double w)
{
    struct ui *u = &a->ui;
    static const char *const rows[][2] = {{"phone", "by telephone"}, {"visit", "on a visit"}, {"bench", "at the bench"},
                                          {"declined", "declined"}, {"no_fault", "no fault"}};
    const char *was = record_text(&b->job.call, "outcome"), *hit = NULL;
    double h = ui_chip_height(u), fh = ui_field_height(u), cx = x, cw, top = y;
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        char name[32];
        snprintf(name, sizeof name, "outcome-%s", rows[i][0]);
        if (cx > x && cx + canvas_text_width(u->c, TYPE_SMALL, rows[i][1]) + 34 > x + w) {
            cx = x;
            y += h + 6;
        }
        if (ui_chip(u, name, cx, y, rows[i][1], strcmp(was, rows[i][0]) == 0, &cw))
            hit = rows[i][0];
        cx += cw + 6;
    }
    y += h + 8;
    double line = canvas_line_height(u->c, TYPE_SMALL);
    double lw = canvas_text(u->c, x, y + (fh - line) / 2, TYPE_SMALL, TONE_SOFT, ALIGN_LEFT, "Minutes in all");
    bool minutes = ui_field(u, "minutes", x + lw + 10, y, 90, &b->minutes, "");
    double bw = ui_button_width(u, "Reopen");
    bool reopen = ui_button(u, "reopen", x + w - bw, y, bw, fh, "Reopen", 0);
    bool teaches = strcmp(record_text(&b->job.call, "lesson"), "no") != 0, turn = false;
    double tx = x + lw + 116;
    if (tx + canvas_text_width(u->c, TYPE_SMALL, "the finder learns from it") + 34 < x + w - bw)
        turn = ui_chip(u, "teaches", tx, y + (fh - h) / 2, "the finder learns from it", teaches, &cw);
    char call[RECORD_ID_LENGTH + 1];
    snprintf(call, sizeof call, "%s", b->chosen);
    if (hit)
        book_set(a, RECORD_CALL, call, "outcome", hit);
    else if (minutes)
        book_set(a, RECORD_CALL, call, "minutes", text_cstr(&b->minutes));
    else if (reopen)
        book_reopen(a);
    else if (turn)
        book_teaches(a, !teaches);
    return y + fh - top + 10;
}

/* ---- advice ---- */

struct wish {
    char id[RECORD_ID_LENGTH + 1];
    const char *field, *value;
};

static double fate_chips(struct app *a, const struct record *r, size_t number, double x, double y, struct wish *wish)
{
    static const char *const rows[][3] = {{"followed", "yes", "done"}, {"followed", "no", "not done"},
                                          {"helped", "yes", "was the cure"}, {"helped", "no", "did not help"}};
    double cw;
    for (size_t i = 0; i < 4; i++) {
        char name[40];
        bool on = strcmp(record_text(r, rows[i][0]), rows[i][1]) == 0;
        snprintf(name, sizeof name, "advice-%zu-%s-%s", number, rows[i][0], rows[i][1]);
        if (ui_chip(&a->ui, name, x, y, rows[i][2], on, &cw)) {
            snprintf(wish->id, sizeof wish->id, "%s", r->id);
            wish->field = rows[i][0];
            wish->value = on ? "" : rows[i][1];
        }
        x += cw + 6 + (i == 1 ? 10 : 0);
    }
    return ui_chip_height(&a->ui);
}

static double advice_part(struct app *a, struct journaling *b, double x, double y, double w)
{
    struct canvas *c = &a->canvas;
    const struct record_list *list = &b->job.of[RECORD_ADVICE];
    struct wish wish = {.field = NULL};
    double top = y;
    if (list->count == 0)
        return 0;
    y += leaf_section(c, x, y, w, "WHAT WAS ADVISED, AND WHAT CAME OF IT");
    for (size_t i = 0; i < list->count; i++) {
        y += canvas_paragraph(c, x, y, w, TYPE_BODY, TONE_INK, ALIGN_LEFT, record_text(&list->at[i], "text")) + 4;
        y += fate_chips(a, &list->at[i], i + 1, x, y, &wish) + 8;
    }
    if (wish.field)
        book_set(a, RECORD_ADVICE, wish.id, wish.field, wish.value);
    return y - top;
}

/* ---- visits ---- */

static double visit_line(struct app *a, const struct record *v, double x, double y, double w)
{
    struct canvas *c = &a->canvas;
    struct text t = {0};
    char day[24];
    bool done = strcmp(record_text(v, "done"), "yes") == 0;
    text_addf(&t, "%s, %s%s%s", done ? "made" : "planned", leaf_day(record_text(v, "planned_at"), false, day),
              record_text(v, "van")[0] ? ", " : "", record_text(v, "van"));
    for (const char *s = record_text(v, "kit"), *sep = ". Kit: "; *s; sep = ", ") {
        size_t n = strcspn(s, "\n");
        text_addf(&t, "%s%.*s", sep, (int)n, s);
        s += n + (s[n] == '\n');
    }
    double h = canvas_paragraph(c, x, y, w, TYPE_BODY, TONE_INK, ALIGN_LEFT, text_cstr(&t));
    text_release(&t);
    return h + 4;
}

static double visits_part(struct app *a, struct journaling *b, double x, double y, double w)
{
    struct ui *u = &a->ui;
    const struct record_list *list = &b->job.of[RECORD_VISIT];
    double top = y, fh = ui_field_height(u), bw = ui_button_width(u, "Plan"), pw = ui_button_width(u, "On paper");
    if (!book_is_open(b) && list->count == 0)
        return 0;
    y += leaf_section(u->c, x, y, w, "VISITS");
    for (size_t i = 0; i < list->count; i++)
        y += visit_line(a, &list->at[i], x, y, w);
    bool enter = false, paper = false;
    if (book_is_open(b)) {
        double field = (w - bw - 16 - (list->count ? pw + 8 : 0)) / 2;
        char hint[40];
        snprintf(hint, sizeof hint, "%.10sT14:00", b->day);
        enter = ui_field(u, "visit-when", x, y, field, &b->when, hint);
        enter |= ui_field(u, "visit-van", x + field + 8, y, field, &b->van, "van");
        enter |= ui_button(u, "plan-visit", x + 2 * field + 16, y, bw, fh, "Plan", b->when.length ? 0 : UI_OFF);
        if (list->count)
            paper = ui_button(u, "visit-page", x + w - pw, y, pw, fh, "On paper", 0);
        y += fh + 8;
    }
    if (paper)
        book_visit_page(a);
    if (enter && b->when.length > 0 && book_plan(a, text_cstr(&b->when), text_cstr(&b->van)))
        text_clear(&b->when);
    return y - top;
}

double job_card(struct app *a, double x, double y, double w)
{
    struct journaling *b = book_of(a);
    double top = y;
    if (!b->job_there)
        return 0;
    y += head(a, b, x, y, w);
    y += heard_part(a, b, x, y, w) + 12;
    y += faults_part(a, b, x, y, w) + 8;
    if (!b->job_there)
        return y - top;
    if (!book_is_open(b))
        y += outcome_part(a, b, x, y, w) + 4;
    y += advice_part(a, b, x, y, w) + 4;
    y += visits_part(a, b, x, y, w);
    return y - top;
}
