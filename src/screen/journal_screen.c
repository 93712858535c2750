/* journal_screen.c - the journal's page: today's visits, open calls and a search on the left, the job
 * in hand or the figures of the year on the right. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "command/journal_figures.h"
#include "screen/job_card.h"
#include "screen/jobs_book.h"

/* ---- rows of the lists ---- */

/* All calls listed now, in the order shown; for the arrow keys. */
struct order {
    const char *call[400];
    size_t count;
};

struct line {
    const char *call, *when, *first, *second;
};

/* What is there to press: a day, who, and under it what. */
static double row(struct app *a, struct order *o, const char *name, const struct line *l, double x, double y, double w)
{
    struct journaling *b = book_of(a);
    struct canvas *c = &a->canvas;
    double big = canvas_line_height(c, TYPE_BODY), small = canvas_line_height(c, TYPE_SMALL);
    double h = big + (l->second[0] ? small : 0) + 9, when_w = canvas_text_width(c, TYPE_NUMERAL, "00 Mmm 00:00") + 12;
    bool on = strcmp(b->chosen, l->call) == 0 && !b->figures;
    struct ui_touch t = ui_area(&a->ui, name, x, y, w, h);
    if (on || t.over) {
        canvas_begin(c);
        canvas_rect(c, x, y, w, h - 1, 3);
        canvas_fill(c, on ? TONE_CARD : TONE_SHADE, 1);
        if (on)
            canvas_stroke(c, TONE_INK, WEIGHT_LINE);
    }
    canvas_text_fit(c, x + 8, y + 5, when_w, TYPE_NUMERAL, TONE_SOFT, ALIGN_LEFT, l->when);
    canvas_text_fit(c, x + when_w, y + 3, w - when_w - 8, on ? TYPE_STRONG : TYPE_BODY, TONE_INK, ALIGN_LEFT, l->first);
    if (l->second[0])
        canvas_text_fit(c, x + when_w, y + 3 + big, w - when_w - 8, TYPE_SMALL, TONE_SOFT, ALIGN_LEFT, l->second);
    if (o->count < sizeof o->call / sizeof *o->call)
        o->call[o->count++] = l->call;
    if (t.pressed) {
        char call[RECORD_ID_LENGTH + 1];
        snprintf(call, sizeof call, "%s", l->call);
        book_choose(a, call);
    }
    return h + 2;
}

static void first_line(const struct app *a, const char *who, const char *movement, char out[160])
{
    snprintf(out, 160, "%.70s%s%.80s", who, who[0] ? ", " : "", leaf_clock(a, movement));
}

/* Faults found by their names, else the caller's words. */
static void second_line(const struct app *a, const struct job_row *r, char out[300])
{
    size_t n = 0;
    out[0] = 0;
    for (const char *s = r->found; *s && n < 240;) {
        char id[80];
        size_t len = strcspn(s, " ");
        snprintf(id, sizeof id, "%.*s", (int)(len < 79 ? len : 79), s);
        const struct fault *f = library_find_fault(a->lib, id);
        n += (size_t)snprintf(out + n, 300 - n, "%s%.50s", n ? "; " : "", f ? f->name : id);
        s += len + (s[len] == ' ');
    }
    if (n == 0)
        snprintf(out, 300, "%.280s", r->story);
}

static double job_rows_part(struct app *a, struct order *o, const char *prefix, const struct job_rows *rows, double x,
                            double y, double w)
{
    double top = y;
    for (size_t i = 0; i < rows->count; i++) {
        const struct job_row *r = &rows->at[i];
        char name[32], first[160], second[300], day[24];
        snprintf(name, sizeof name, "%s-%zu", prefix, i + 1);
        first_line(a, r->customer, r->movement, first);
        second_line(a, r, second);
        struct line l = {r->call, leaf_day(r->taken_at, false, day), first, second};
        char chosen[RECORD_ID_LENGTH + 1];
        snprintf(chosen, sizeof chosen, "%s", r->call);
        y += row(a, o, name, &l, x, y, w);
    }
    return y - top;
}

static double today_part(struct app *a, struct order *o, double x, double y, double w)
{
    struct journaling *b = book_of(a);
    double top = y;
    for (size_t i = 0; i < b->today.count; i++) {
        const struct visit_row *v = &b->today.at[i];
        char name[32], first[160], when[24], kit[300];
        size_t n = 0;
        snprintf(name, sizeof name, "visit-%zu", i + 1);
        snprintf(when, sizeof when, "%.5s", strlen(v->planned_at) > 11 ? v->planned_at + 11 : "today");
        first_line(a, v->customer, v->movement, first);
        n = (size_t)snprintf(kit, sizeof kit, "%.40s%s%s", v->van, v->van[0] ? ". " : "",
                             v->done ? "Made." : v->kit[0] ? "Kit: " : "No kit is written down.");
        for (const char *s = v->kit; !v->done && *s && n + 2 < sizeof kit; s++)
            n += (size_t)snprintf(kit + n, sizeof kit - n, "%s%.1s", *s == '\n' ? "," : "", *s == '\n' ? " " : s);
        struct line l = {v->call, when, first, kit};
        y += row(a, o, name, &l, x, y, w);
    }
    if (b->today.count == 0)
        y += canvas_paragraph(&a->canvas, x + 8, y, w - 8, TYPE_ITALIC, TONE_SOFT, ALIGN_LEFT, "No visit is planned for today.") + 2;
    return y - top;
}

static double lists(struct app *a, struct order *o, double x, double y, double w)
{
    struct journaling *b = book_of(a);
    struct canvas *c = &a->canvas;
    double top = y;
    char label[80], day[24];
    if (b->search.length > 0) {
        snprintf(label, sizeof label, "FOUND \xc2\xb7 %zu", b->rows[LIST_FOUND].count);
        y += leaf_section(c, x, y, w, label);
        return y + job_rows_part(a, o, "found", &b->rows[LIST_FOUND], x, y, w) - top;
    }
    snprintf(label, sizeof label, "TODAY%s%s", b->day[0] ? " \xc2\xb7 " : "", leaf_day(b->day, true, day));
    y += leaf_section(c, x, y, w, label);
    y += today_part(a, o, x, y, w) + 10;
    snprintf(label, sizeof label, "OPEN CALLS \xc2\xb7 %zu", b->rows[LIST_OPEN].count);
    y += leaf_section(c, x, y, w, label);
    y += job_rows_part(a, o, "open", &b->rows[LIST_OPEN], x, y, w) + 10;
    if (b->rows[LIST_CLOSED].count > 0) {
        y += leaf_section(c, x, y, w, "CLOSED LATELY");
        y += job_rows_part(a, o, "closed", &b->rows[LIST_CLOSED], x, y, w);
    }
    return y - top;
}

/* From job to job by the arrow keys. */
static void list_keys(struct app *a, const struct order *o)
{
    struct journaling *b = book_of(a);
    size_t at = o->count;
    for (size_t i = 0; i < o->count && at == o->count; i++)
        if (strcmp(o->call[i], b->chosen) == 0)
            at = i;
    size_t to = at;
    if (ui_key(&a->ui, UI_DOWN, 0))
        to = at == o->count ? 0 : at + 1;
    if (ui_key(&a->ui, UI_UP, 0))
        to = at == 0 || at == o->count ? 0 : at - 1;
    while (to < o->count && to > at && strcmp(o->call[to], b->chosen) == 0)
        to++; /* the same call stands in two lists */
    if (to != at && to < o->count) {
        char call[RECORD_ID_LENGTH + 1];
        snprintf(call, sizeof call, "%s", o->call[to]);
        book_choose(a, call);
    }
}

static void left_column(struct app *a, double x, double y, double w, double h)
{
    struct journaling *b = book_of(a);
    struct ui *u = &a->ui;
    static struct order order;
    double bottom = y + h;
    if (ui_key(u, 'f', UI_CTRL))
        ui_focus(u, "search");
    ui_field(u, "search", x, y, w, &b->search, "search: a name, a clock, a fault, a part \xe2\x80\xa6");
    y += ui_field_height(u) + 12;
    order.count = 0;
    double top = ui_scroll_begin(u, "jobs", x, y, w, bottom - y);
    double inner = lists(a, &order, x + 4, top + 4, w - 12) + 10;
    ui_scroll_end(u, "jobs", x, y, w, bottom - y, inner);
    list_keys(a, &order);
}

/* ---- the figures ---- */

static double fates(struct app *a, const struct stats *s, double x, double y, double w)
{
    struct canvas *c = &a->canvas;
    double top = y, line = canvas_line_height(c, TYPE_BODY) + 4, each = 78;
    static const char *const head[] = {"GIVEN", "DONE", "CURE"};
    if (s->advices == 0)
        return 0;
    y += leaf_section(c, x, y, w, "WHAT CAME OF ADVICE");
    for (int i = 0; i < 3; i++)
        canvas_text(c, x + w - (2 - i) * each, y, TYPE_LABEL, TONE_SOFT, ALIGN_RIGHT, head[i]);
    y += canvas_line_height(c, TYPE_LABEL) + 4;
    for (size_t i = 0; i < s->advices && i < 8; i++, y += line) {
        const struct advice_fate *f = &s->advice[i];
        const struct cure *cure = library_find_cure(a->lib, f->action);
        const unsigned n[] = {f->given, f->followed, f->helped};
        canvas_text_fit(c, x, y, w - 3 * each, TYPE_BODY, TONE_INK, ALIGN_LEFT, cure ? cure->text : f->action);
        for (int k = 0; k < 3; k++) {
            char number[16];
            snprintf(number, sizeof number, "%u", n[k]);
            canvas_text(c, x + w - (2 - k) * each, y, TYPE_NUMERAL, TONE_INK, ALIGN_RIGHT, number);
        }
    }
    return y - top + 14;
}

/* Shown openly: what was believed before and after the shop's own jobs, and from how many. */
static double lessons_part(struct app *a, double x, double y, double w)
{
    struct journaling *b = book_of(a);
    struct canvas *c = &a->canvas;
    double top = y, line = canvas_line_height(c, TYPE_SMALL) + 3, cw;
    char n[160];
    y += leaf_section(c, x, y, w, "WHAT THE JOBS TAUGHT THE FINDER");
    if (ui_chip(&a->ui, "learning", x, y, "learn from closed jobs", !b->lessons.off, &cw)) {
        book_learning(a, b->lessons.off);
        return y + ui_chip_height(&a->ui) - top;
    }
    snprintf(n, sizeof n, "%zu jobs taught, %zu were told not to", b->lessons.jobs, b->lessons.left_out);
    canvas_text(c, x + w, y + 3, TYPE_SMALL, TONE_SOFT, ALIGN_RIGHT, n);
    y += ui_chip_height(&a->ui) + 8;
    for (size_t i = 0; i < b->taughts && !b->lessons.off; i++, y += line) {
        const struct taught_row *t = &b->taught[i];
        const struct fault *f = library_find_fault(a->lib, t->fault);
        char name[200];
        snprintf(n, sizeof n, "%.1f %% \xe2\x86\x92 %.1f %%, %.3g of %.3g jobs", 100 * t->before, 100 * t->after, t->found,
                 t->jobs);
        double nw = canvas_text(c, x + w, y, TYPE_SMALL, TONE_INK, ALIGN_RIGHT, n);
        snprintf(name, sizeof name, "%.90s. %.90s", f ? f->name : t->fault, leaf_clock(a, t->clock));
        canvas_text_fit(c, x, y, w - nw - 12, TYPE_SMALL, TONE_INK, ALIGN_LEFT, name);
    }
    return y - top + 10;
}

static double figures(struct app *a, double x, double y, double w)
{
    struct journaling *b = book_of(a);
    struct ui *u = &a->ui;
    struct canvas *c = &a->canvas;
    double top = y, h = ui_button_height(u), this_year = atof(b->day);
    char label[120];
    int year = b->year;
    if (year > 0)
        snprintf(label, sizeof label, "%d", year);
    else
        snprintf(label, sizeof label, "All years");
    canvas_text(c, x + 44, y, TYPE_ASK, TONE_INK, ALIGN_LEFT, label);
    if (ui_button(u, "year-back", x, y, 34, h, "\xe2\x97\x82", 0))
        year = year > 0 ? year - 1 : (int)this_year;
    double after = x + 54 + canvas_text_width(c, TYPE_ASK, "All years");
    if (ui_button(u, "year-on", after, y, 34, h, "\xe2\x96\xb8", year > 0 ? 0 : UI_OFF))
        year = year >= (int)this_year ? 0 : year + 1;
    if (year != b->year)
        book_figures(a, year);
    if (!b->stats_there)
        return y - top;
    snprintf(label, sizeof label, "%u calls, %u open, %u closed", b->stats.calls, b->stats.open, b->stats.closed);
    canvas_text(c, x + w, y + 8, TYPE_SMALL, TONE_SOFT, ALIGN_RIGHT, label);
    y += h + 16;
    y += journal_figures_draw(c, x, y, w, &b->stats) + 18;
    y += fates(a, &b->stats, x, y, w);
    y += lessons_part(a, x, y, w);
    return y - top;
}

/* ---- the page ---- */

static void toggle_figures(struct app *a)
{
    struct journaling *b = book_of(a);
    b->figures = !b->figures;
    if (b->figures)
        book_figures(a, b->year ? b->year : atoi(b->day));
    a->ui.changed = true;
}

static const char *const nothing_yet =
    "There is no journal yet. It begins with the first call that is kept: take a call, come here, and keep it.";

static void right_column(struct app *a, double x, double y, double w, double h)
{
    struct journaling *b = book_of(a);
    struct ui *u = &a->ui;
    const char *name = b->figures ? "figures-page" : "job-page";
    if (b->trouble[0] || b->missing || (!b->job_there && !b->figures)) {
        canvas_paragraph(&a->canvas, x, y, w, TYPE_ASK, TONE_INK, ALIGN_LEFT,
                         b->trouble[0] ? b->trouble : b->missing ? nothing_yet : "No call is open.");
        return;
    }
    double top = ui_scroll_begin(u, name, x, y, w, h);
    double inner = (b->figures ? figures(a, x, top + 4, w - 8) : job_card(a, x + 2, top + 4, w - 10)) + 12;
    ui_scroll_end(u, name, x, y, w, h, inner);
}

void journal_screen(struct app *a, double x, double y, double w, double h)
{
    struct ui *u = &a->ui;
    struct canvas *c = &a->canvas;
    double head = canvas_line_height(c, TYPE_TITLE) + 10, gap = 28, left_w = (w - gap) * 0.46;
    double right_x = x + left_w + gap;
    book_look(a);
    struct journaling *b = book_of(a);
    canvas_text(c, x, y, TYPE_TITLE, TONE_INK, ALIGN_LEFT, "Journal");
    double bw = ui_button_width(u, "Figures") + 30;
    if (ui_key_button(u, "figures", x + left_w - bw, y + 2, bw, 0, "G", 'g', "Figures",
                      b->figures ? UI_ON : b->j ? 0 : UI_OFF))
        toggle_figures(a);
    left_column(a, x, y + head, left_w, h - head);
    canvas_rule(c, right_x - gap / 2, y + 4, right_x - gap / 2, y + h, TONE_FAINT, WEIGHT_HAIR);
    right_column(a, right_x, y + 4, x + w - right_x, h - 4);
}
