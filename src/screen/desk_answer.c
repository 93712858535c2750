/* desk_answer.c - the right column of the desk: first things, the question, causes, the plate. */
#include <stdio.h>
#include <string.h>

#include "draw/vignette.h"
#include "screen/desk_priv.h"

/* ---- the question ---- */

static void answer(struct app *a, const struct question *q, const char *text)
{
    struct err e = {0};
    if (question_answer(q, &a->call.sheet, text, &e))
        call_touch(&a->call);
    else
        app_notice(a, "%s", e.count > 0 ? e.line[0] : "This is no answer to that.");
    err_release(&e);
}

/* "Don't know" is an answer too: the question is put aside until a new call. */
static void put_aside(struct app *a, const struct question *q)
{
    struct desk_view *d = &a->desk;
    size_t n = sizeof d->aside / sizeof *d->aside;
    snprintf(d->aside[d->asides++ % n], sizeof d->aside[0], "%s", q->id);
    a->ui.changed = true;
}

static bool is_aside(const struct app *a, const struct question *q)
{
    const struct desk_view *d = &a->desk;
    size_t n = sizeof d->aside / sizeof *d->aside;
    for (size_t i = 0; i < n && i < d->asides; i++)
        if (strcmp(d->aside[i], q->id) == 0)
            return true;
    return false;
}

static const struct question *question_now(const struct app *a)
{
    const struct next_step *s = &a->advice.next;
    for (size_t i = 0; i < s->questions; i++)
        if (!is_aside(a, &s->batch[i]))
            return &s->batch[i];
    return s->apart_by >= APART_LEAST && !is_aside(a, &s->apart) ? &s->apart : NULL;
}

struct row {
    double x, y, w, h;
};

static bool place_button(struct app *a, struct row *r, double left, double right, const char *name, const char *cap,
                         int code, const char *label)
{
    double w = ui_button_width(&a->ui, label) + 30;
    if (r->x + w > right && r->x > left) {
        r->x = left;
        r->y += r->h + 8;
    }
    bool hit = ui_key_button(&a->ui, name, r->x, r->y, w, r->h, cap, code, label, 0);
    r->x += w + 8;
    return hit;
}

static void yes_no(struct app *a, const struct question *q, struct row *r, double left, double right)
{
    if (place_button(a, r, left, right, "answer-yes", "Y", 'y', "yes"))
        answer(a, q, "yes");
    if (place_button(a, r, left, right, "answer-no", "N", 'n', "no"))
        answer(a, q, "no");
}

/* One key for each value of a hint. */
static void values(struct app *a, const struct question *q, struct row *r, double left, double right)
{
    const struct word *w = words_find(a->words, WORD_HINT, q->word);
    for (size_t i = 0; w && i < w->values && i < 9; i++) {
        char name[64], cap[4] = {(char)('1' + i), 0}, label[64];
        if (strcmp(w->value[i], "unknown") == 0)
            continue;
        snprintf(name, sizeof name, "answer-%s", w->value[i]);
        snprintf(label, sizeof label, "%.40s", w->value_text[i] && w->value_text[i][0] ? w->value_text[i] : w->value[i]);
        if (place_button(a, r, left, right, name, cap, '1' + (int)i, label))
            answer(a, q, w->value[i]);
    }
}

static void chime_answers(struct app *a, const struct question *q, struct row *r, double left, double right)
{
    static const struct { const char *cap; int code; const char *word; } rows[] = {
        {"R", 'r', "right"}, {"W", 'w', "wrong"}, {"0", '0', "silent"}};
    for (size_t i = 0; i < 3; i++) {
        char name[32];
        snprintf(name, sizeof name, "answer-%s", rows[i].word);
        if (place_button(a, r, left, right, name, rows[i].cap, rows[i].code, rows[i].word))
            answer(a, q, rows[i].word);
    }
}

/* A number to press: 0..9 at once, A B C for ten to twelve. */
static void counts(struct app *a, const struct question *q, struct row *r, double left, double right)
{
    double each = (right - left - 13 * 4) / 14, h = r->h;
    double least = canvas_text_width(&a->canvas, TYPE_UI, "12") + 12;
    each = each > 40 ? 40 : each;
    each = each < least ? least : each;
    for (int i = 0; i <= 12; i++) {
        char name[24], label[12], text[12];
        int code = i < 10 ? '0' + i : 'a' + i - 10;
        snprintf(name, sizeof name, "answer-%d", i);
        snprintf(label, sizeof label, "%d", i);
        snprintf(text, sizeof text, "%d", i);
        if (r->x + each > right) {
            r->x = left;
            r->y += h + 6;
        }
        bool hit = ui_button(&a->ui, name, r->x, r->y, each, h, label, 0) || ui_letter(&a->ui, code);
        r->x += each + 4;
        if (hit)
            answer(a, q, i == 0 ? "none" : text);
    }
    if (place_button(a, r, left, right, "answer-runs-on", "*", '*', "runs on"))
        answer(a, q, "runs on");
}

/* `first`: the step to take now, in large type; otherwise a question that may be asked besides. */
static double question_card(struct app *a, const struct question *q, bool first, double x, double y, double w)
{
    struct canvas *c = &a->canvas;
    double top = y;
    char worth[80];
    canvas_text(c, x, y, TYPE_LABEL, TONE_SOFT, ALIGN_LEFT, first ? "ASK" : "OR ASK, TO TELL THE FIRST TWO APART");
    snprintf(worth, sizeof worth, "saves about %.0f min", q->saves_min);
    if (first)
        canvas_text(c, x + w, y - 2, TYPE_SMALL, TONE_SOFT, ALIGN_RIGHT, worth);
    y += canvas_line_height(c, TYPE_LABEL) + 4;
    double side = first && w > 380 && vignette_draw(c, q->picture, x + w - 78, y + 8, 74) ? 92 : 0, ty = y;
    y += canvas_paragraph(c, x, y, w - side, first ? TYPE_ASK : TYPE_STRONG, TONE_INK, ALIGN_LEFT, q->text) + 10;
    double right = x + w - side; /* the picture stands beside the buttons too */
    canvas_name(c, x, top, w, y - top, "question");
    struct row r = {x, y, 0, ui_button_height(&a->ui) + 4};
    switch (q->kind) {
    case QUESTION_SEEN:
    case QUESTION_HISTORY: yes_no(a, q, &r, x, right); break;
    case QUESTION_HINT: values(a, q, &r, x, right); break;
    case QUESTION_CHIME: chime_answers(a, q, &r, x, right); break;
    case QUESTION_STRIKE: counts(a, q, &r, x, right); break;
    }
    if (place_button(a, &r, x, x + w, "answer-unknown", "U", 'u', "don't know"))
        put_aside(a, q);
    double end = r.y + r.h;
    return (side > 0 && end < ty + 84 ? ty + 84 : end) - top;
}

/* ---- the advice ---- */

static const char *advice_label(enum next_kind k)
{
    switch (k) {
    case NEXT_OWNER: return "THE OWNER MAY DO THIS";
    case NEXT_LEAVE: return "LEAVE IT RUNNING";
    case NEXT_VISIT: return "SEND A VAN";
    case NEXT_BENCH: return "TO THE BENCH";
    default: return "NEXT";
    }
}

static double advice_card(struct app *a, double x, double y, double w)
{
    struct canvas *c = &a->canvas;
    const struct next_step *s = &a->advice.next;
    double top = y;
    char line[200];
    canvas_text(c, x, y, TYPE_LABEL, TONE_SOFT, ALIGN_LEFT, advice_label(s->kind));
    y += canvas_line_height(c, TYPE_LABEL) + 4;
    enum type type = strlen(s->text) > 180 ? TYPE_HEAD : TYPE_ASK;
    y += canvas_paragraph(c, x, y, w, type == TYPE_HEAD ? TYPE_STRONG : type, TONE_INK, ALIGN_LEFT, s->text) + 6;
    canvas_name(c, x, top, w, y - top, "advice");
    snprintf(line, sizeof line, "%.0f minutes, puts it right with %.0f %%.%s%s", s->minutes, 100 * s->p_cure,
             s->hazard && strcmp(s->hazard, "none") != 0 ? "  Hazard: " : "",
             s->hazard && strcmp(s->hazard, "none") != 0 ? s->hazard : "");
    y += canvas_paragraph(c, x, y, w, TYPE_SMALL, TONE_SOFT, ALIGN_LEFT, line);
    if (s->kits > 0) {
        struct text kit = {0};
        for (size_t i = 0; i < s->kits; i++)
            text_addf(&kit, "%s%s", i ? ", " : "Bring: ", s->kit[i]);
        text_add(&kit, ".");
        y += canvas_paragraph(c, x, y, w, TYPE_SMALL, TONE_SOFT, ALIGN_LEFT, text_cstr(&kit));
        text_release(&kit);
    }
    return y - top;
}

/* ---- causes ---- */

/* A measure of ink: as long as the cause is likely, hatched closer the likelier. */
static void measure(struct canvas *c, double x, double y, double w, double h, double p)
{
    canvas_begin(c);
    canvas_rect(c, x, y, w, h, 0);
    canvas_fill(c, TONE_CARD, 1);
    canvas_stroke(c, TONE_FAINT, WEIGHT_HAIR);
    canvas_begin(c);
    canvas_rect(c, x, y, w * p < 1 ? 1 : w * p, h, 0);
    canvas_fill(c, TONE_WASH, 1);
    canvas_hatch(c, TONE_ACCENT, WEIGHT_FINE, 135, p > 0.5 ? 2.6 : p > 0.2 ? 3.6 : 5);
    canvas_stroke(c, TONE_ACCENT, WEIGHT_FINE);
}

static double bullet(struct canvas *c, double x, double y, double w, enum type type, const char *text)
{
    canvas_text(c, x, y, type, TONE_SOFT, ALIGN_LEFT, "\xe2\x80\x93");
    return canvas_paragraph(c, x + 14, y, w - 14, type, TONE_INK, ALIGN_LEFT, text) + 1;
}

static double cause_open(struct app *a, const struct advice_cause *k, double x, double y, double w)
{
    struct canvas *c = &a->canvas;
    double top = y;
    for (size_t i = 0; i < k->whys && i < 3; i++)
        y += bullet(c, x, y, w, TYPE_SMALL, k->why[i]);
    for (size_t i = 0; i < k->thens && i < 1; i++)
        y += bullet(c, x, y, w, TYPE_ITALIC, k->then[i]);
    if (k->cure[0]) {
        struct text t = {0};
        text_addf(&t, "Cure (%s): %s", k->who, k->cure);
        y += bullet(c, x, y, w, TYPE_SMALL, text_cstr(&t));
        text_release(&t);
    }
    return y - top + 4;
}

static double cause_line(struct app *a, size_t i, double x, double y, double w)
{
    struct canvas *c = &a->canvas;
    const struct advice_cause *k = &a->advice.cause[i];
    bool open = a->desk.open_cause == i;
    double line = canvas_line_height(c, TYPE_BODY), h = line + 8, bar = w > 420 ? 96 : 64;
    char name[24], percent[16];
    snprintf(name, sizeof name, "cause-%zu", i + 1);
    snprintf(percent, sizeof percent, k->p < 0.095 ? "%.1f %%" : "%.0f %%", 100 * k->p);
    struct ui_touch t = ui_area(&a->ui, name, x, y, w, h);
    if (t.over) {
        canvas_begin(c);
        canvas_rect(c, x - 4, y, w + 8, h, 2);
        canvas_fill(c, TONE_SHADE, 1);
    }
    if (t.pressed)
        a->desk.open_cause = i;
    measure(c, x, y + 5, bar, h - 10, k->p);
    canvas_text(c, x + bar + 50, y + 4, TYPE_NUMERAL, TONE_INK, ALIGN_RIGHT, percent);
    if (open)
        h += canvas_paragraph(c, x + bar + 60, y + 4, w - bar - 60, TYPE_STRONG, TONE_INK, ALIGN_LEFT, k->name) - line;
    else
        canvas_text_fit(c, x + bar + 60, y + 4, w - bar - 60, TYPE_BODY, TONE_INK, ALIGN_LEFT, k->name);
    if (open)
        h += cause_open(a, k, x + 14, y + h, w - 14);
    return h;
}

static double causes_part(struct app *a, double x, double y, double w)
{
    double top = y;
    size_t n = a->advice.causes;
    for (size_t i = 0; i < n && i < 6; i++) {
        if (i > 1 && a->advice.cause[i].p < 0.01)
            break;
        y += cause_line(a, i, x, y, w);
    }
    return y - top;
}

#define ALIKE_SHOWN 2 /* groups */

double desk_alike_part(struct app *a, double x, double y, double w, size_t most)
{
    double top = y;
    for (size_t i = 0; i < a->advice.alikes && i < most; i++)
        y += canvas_paragraph(&a->canvas, x, y, w, TYPE_BODY, TONE_SOFT, ALIGN_LEFT, a->advice.alike[i]) + 4;
    return y - top;
}

/* ---- the plate, small ---- */

static void small_plate(struct app *a, double x, double y, double w, double h)
{
    static struct plate plate;
    double scale = w / PLATE_W < h / PLATE_H ? w / PLATE_W : h / PLATE_H;
    double px = x + (w - PLATE_W * scale) / 2;
    memset(&plate, 0, sizeof plate);
    plate.clock = app_clock(a);
    plate.pointed = PART_NONE;
    if (a->desk.play && a->show.works.clock == plate.clock) {
        show_pose(&a->show, &plate.pose);
    } else {
        struct works works;
        struct moment m;
        int hour = a->desk.hour >= 0 ? a->desk.hour : 10;
        works_init(&works, plate.clock, NULL, 0);
        moment_init(&m, &works, hour * 60 + (a->desk.hour >= 0 ? a->desk.quarter * 15 : 9));
        plate_pose_rest(&plate.pose, &works, &m);
    }
    if (!sheet_empty(&a->call.sheet) && a->advice.version > 0) {
        memcpy(plate.belief, a->advice.part, sizeof plate.belief);
        memcpy(plate.doubt, a->advice.doubt, sizeof plate.doubt);
        plate.doubts = a->advice.doubts;
    }
    struct ui_touch t = ui_area(&a->ui, "small-plate", px, y, PLATE_W * scale, PLATE_H * scale);
    plate_draw(&plate, &a->canvas, px, y, scale);
    if (t.pressed)
        a->page = PAGE_PLATE;
}

/* The cause in hand, or the likeliest that can be played. */
static size_t playable(const struct app *a)
{
    size_t i = a->desk.open_cause;
    if (i < a->advice.causes && a->advice.cause[i].clock[0])
        return i;
    for (i = 0; i < a->advice.causes && !a->advice.cause[i].clock[0]; i++)
        ;
    return i;
}

static double play_buttons(struct app *a, double x, double y, double w)
{
    struct ui *u = &a->ui;
    double half = (w - 8) / 2, h = ui_button_height(u);
    bool on = a->show.playing;
    size_t cause = playable(a);
    unsigned fault = cause < a->advice.causes ? 0 : UI_OFF;
    if (ui_key_button(u, "play-due", x, y, half, h, "F7", UI_F7,
                      on && a->desk.play == 1 ? "playing \xe2\x80\xa6" : "play what is due", 0))
        app_play_due(a);
    if (ui_key_button(u, "play-fault", x + half + 8, y, half, h, "F8", UI_F8,
                      on && a->desk.play == 2 ? "playing \xe2\x80\xa6" : "play this fault", fault))
        app_play_cause(a, cause);
    return h;
}

static double first_things(struct app *a, double x, double y, double w)
{
    struct canvas *c = &a->canvas;
    double top = y;
    for (size_t i = 0; i < a->advice.firsts && i < 2; i++)
        y += canvas_paragraph(c, x, y, w, TYPE_STRONG, TONE_INK, ALIGN_LEFT, a->advice.first[i]) + 2;
    return a->advice.firsts > 0 ? y - top + 6 : 0;
}

static const char *const welcome =
    "What has the clock been heard to do? Type it, paste the message, or click an hour and press the number of "
    "blows.";

/* What to see to first, the step, the causes; returns the height. */
static double reading(struct app *a, double x, double y, double w)
{
    struct canvas *c = &a->canvas;
    double top = y;
    const struct question *q = question_now(a);
    bool stale = a->advice.version != a->call.version;
    y += first_things(a, x, y, w);
    if (a->advice.next.kind == NEXT_QUESTION && q)
        y += question_card(a, q, true, x, y, w);
    else
        y += advice_card(a, x, y, w);
    if (a->advice.next.kind != NEXT_QUESTION && q)
        y += 10 + question_card(a, q, false, x, y + 10, w);
    y += 12;
    double lw = canvas_text(c, x, y, TYPE_LABEL, TONE_SOFT, ALIGN_LEFT,
                            stale            ? "LIKELY CAUSES, A MOMENT \xe2\x80\xa6"
                            : a->advice.rough ? "LIKELY CAUSES, OTHER CLOCKS TO COME \xe2\x80\xa6"
                                              : "LIKELY CAUSES");
    canvas_rule(c, x + lw + 10, y + 8, x + w, y + 8, TONE_FAINT, WEIGHT_HAIR);
    y += canvas_line_height(c, TYPE_LABEL) + 6;
    y += causes_part(a, x, y, w) + 6;
    y += desk_alike_part(a, x, y, w, ALIKE_SHOWN);
    return y - top;
}

void desk_answer_part(struct app *a, double x, double y, double w, double h)
{
    struct canvas *c = &a->canvas;
    double bh = ui_button_height(&a->ui), room = h - bh - 14, tall;
    bool told = !sheet_empty(&a->call.sheet);
    double at = ui_scroll_begin(&a->ui, "answers", x, y, w, room);
    if (told && a->advice.version > 0)
        tall = 6 + reading(a, x, at + 6, w - 8);
    else
        tall = 24 + canvas_paragraph(c, x, at + 6, w, TYPE_ASK, TONE_INK, ALIGN_LEFT, told ? "One moment \xe2\x80\xa6" : welcome);
    ui_scroll_end(&a->ui, "answers", x, y, w, room, tall);
    if (room - tall > 130)
        small_plate(a, x, y + tall, w, room - tall);
    play_buttons(a, x, y + h - bh, w);
}
