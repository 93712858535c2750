/* journal_screen.c - calls and jobs: the list, one job with what was believed, closing it.
 *
 * Closing a job tells the finder what it really was; nothing else teaches it.
 */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "draw/pages.h"
#include "journal/journal_jobs.h"
#include "mem.h"
#include "screen/app.h"

#define LIST_MOST 200

struct journaling {
    struct journal *journal;
    char trouble[400];
    struct text find, minutes, van, visit_at, note;
    int which;                /* enum job_which */
    struct job_rows rows;
    bool stale;               /* the list must be read again */
    char open[RECORD_ID_LENGTH + 1];
    struct job job;
    char found[80];           /* fault chosen when closing */
    char outcome[24];
};

static struct journaling *journal_of(struct app *a)
{
    if (!a->journaling) {
        a->journaling = mem_alloc(sizeof *a->journaling);
        a->journaling->stale = true;
    }
    return a->journaling;
}

void journal_free(struct journaling *j)
{
    if (!j)
        return;
    job_rows_release(&j->rows);
    job_release(&j->job);
    journal_close(j->journal);
    text_release(&j->find);
    text_release(&j->minutes);
    text_release(&j->van);
    text_release(&j->visit_at);
    text_release(&j->note);
    mem_free(j);
}

static void tell(struct app *a, struct err *e, const char *otherwise)
{
    app_notice(a, "%s", e->count > 0 ? e->line[0] : otherwise);
    err_release(e);
}

/* A journal that is not there yet is no trouble until something is kept. */
static bool journal_ready(struct app *a, bool make)
{
    struct journaling *j = journal_of(a);
    struct err e = {0};
    struct journal_options o = {.must_exist = !make, .busy_ms = 2000};
    if (!j->journal)
        j->journal = journal_open(NULL, &o, &e);
    if (!j->journal)
        snprintf(j->trouble, sizeof j->trouble, "%.390s", e.count > 0 ? e.line[0] : "There is no journal.");
    else
        j->trouble[0] = 0;
    err_release(&e);
    return j->journal != NULL;
}

/* ---- keeping the call in hand ---- */

static bool keep_beliefs(struct app *a, struct journal *j, const char *id, struct err *e)
{
    struct belief_row row[ADVICE_CAUSES];
    const struct advice *v = &a->advice;
    size_t n = 0;
    if (v->version != a->call.version)
        return true;
    for (size_t i = 0; i < v->causes; i++)
        row[n++] = (struct belief_row){v->cause[i].id, v->cause[i].part, v->cause[i].p};
    return job_believe(j, id, row, n, 0.005, e) &&
           (!v->next.text[0] || job_advise(j, id, v->next.id, v->next.text, v->next.saves_min, e));
}

bool app_keep(struct app *a)
{
    struct err e = {0};
    struct text sheet = {0};
    char id[RECORD_ID_LENGTH + 1] = "";
    if (!journal_ready(a, true)) {
        app_notice(a, "%s", journal_of(a)->trouble);
        return false;
    }
    struct journal *j = journal_of(a)->journal;
    const char *who = text_cstr(&a->desk.customer);
    sheet_print(&a->call.sheet, &sheet);
    struct new_call call = {.customer = who[0] ? who : NULL, .movement = app_clock(a)->id,
                            .sheet = text_cstr(&sheet), .story = a->call.sheet.story};
    bool good = journal_begin(j, &e) && job_add(j, &call, id, &e) && keep_beliefs(a, j, id, &e) && journal_commit(j, &e);
    if (!good)
        journal_rollback(j);
    text_release(&sheet);
    journal_of(a)->stale = true;
    tell(a, &e, good ? "Kept in the journal." : "Not kept.");
    return good;
}

/* ---- the list ---- */

static void read_list(struct app *a)
{
    struct journaling *j = journal_of(a);
    struct err e = {0};
    job_rows_release(&j->rows);
    memset(&j->rows, 0, sizeof j->rows);
    if (!journal_ready(a, false))
        return;
    bool good = j->find.length > 0 ? job_find(j->journal, text_cstr(&j->find), &j->rows, &e)
                                   : job_list(j->journal, (enum job_which)j->which, LIST_MOST, &j->rows, &e);
    if (!good)
        tell(a, &e, "The journal could not be read.");
    err_release(&e);
    j->stale = false;
}

static void open_job(struct app *a, const char *id)
{
    struct journaling *j = journal_of(a);
    struct err e = {0};
    job_release(&j->job);
    memset(&j->job, 0, sizeof j->job);
    snprintf(j->open, sizeof j->open, "%s", id);
    if (!job_read(j->journal, id, &j->job, &e)) {
        j->open[0] = 0;
        tell(a, &e, "It could not be read.");
    }
    j->found[0] = 0;
    snprintf(j->outcome, sizeof j->outcome, "phone");
    text_clear(&j->minutes);
    text_clear(&j->note);
    err_release(&e);
}

static double list_line(struct app *a, const struct job_row *r, size_t i, double x, double y, double w)
{
    struct canvas *c = &a->canvas;
    struct journaling *j = journal_of(a);
    double line = canvas_line_height(c, TYPE_BODY), small = canvas_line_height(c, TYPE_SMALL), h = line + small + 12;
    char name[40], when[24];
    bool on = strcmp(j->open, r->call) == 0;
    snprintf(name, sizeof name, "job-%zu", i + 1);
    snprintf(when, sizeof when, "%.16s", r->taken_at);
    for (char *s = when; *s; s++)
        *s = *s == 'T' ? ' ' : *s;
    struct ui_touch t = ui_area(&a->ui, name, x, y, w, h);
    if (on || t.over) {
        canvas_begin(c);
        canvas_rect(c, x, y, w, h, 2);
        canvas_fill(c, TONE_SHADE, 1);
    }
    if (on)
        canvas_rule(c, x + 1, y + 2, x + 1, y + h - 2, TONE_INK, WEIGHT_HEAVY);
    canvas_text_fit(c, x + 10, y + 5, w - 120, TYPE_STRONG, TONE_INK, ALIGN_LEFT, r->customer[0] ? r->customer : "(no name)");
    canvas_text(c, x + w - 8, y + 6, TYPE_SMALL, TONE_SOFT, ALIGN_RIGHT, when);
    const struct clock *k = library_find_clock(a->lib, r->movement);
    canvas_text_fit(c, x + 10, y + 5 + line, w - 100, TYPE_SMALL, TONE_SOFT, ALIGN_LEFT, k ? k->name : r->movement);
    canvas_text(c, x + w - 8, y + 5 + line, TYPE_SMALL, TONE_INK, ALIGN_RIGHT, r->outcome[0] ? r->outcome : r->state);
    if (t.pressed)
        open_job(a, r->call);
    canvas_rule(c, x, y + h, x + w, y + h, TONE_FAINT, WEIGHT_HAIR);
    return h + 1;
}

static void list_column(struct app *a, double x, double y, double w, double h)
{
    struct ui *u = &a->ui;
    struct journaling *j = journal_of(a);
    static const char *const names[] = {"open", "closed", "all"};
    size_t before = j->find.length;
    double at = x, cw, fh = ui_field_height(u);
    ui_field(u, "find-job", x, y, w, &j->find, "find: name, clock, fault, any word");
    j->stale |= before != j->find.length;
    y += fh + 8;
    for (int i = 0; i < 3; i++) {
        char id[24];
        snprintf(id, sizeof id, "which-%s", names[i]);
        if (ui_chip(u, id, at, y, names[i], j->which == i, &cw)) {
            j->which = i;
            j->stale = true;
        }
        at += cw + 6;
    }
    y += ui_chip_height(u) + 10;
    h -= fh + ui_chip_height(u) + 18;
    double top = ui_scroll_begin(u, "jobs", x, y, w - 8, h), inner = 0;
    for (size_t i = 0; i < j->rows.count; i++)
        inner += list_line(a, &j->rows.at[i], i, x, top + inner, w - 12);
    if (j->rows.count == 0)
        canvas_paragraph(u->c, x, top + 8, w - 20, TYPE_ITALIC, TONE_SOFT, ALIGN_LEFT,
                         j->journal ? "Nothing here." : "There is no journal yet; it begins with the first call that is kept.");
    ui_scroll_end(u, "jobs", x, y, w - 8, h, inner);
}

/* ---- one job ---- */

static double section(struct app *a, double x, double y, double w, const char *label)
{
    struct canvas *c = &a->canvas;
    double lw = canvas_text(c, x, y, TYPE_LABEL, TONE_SOFT, ALIGN_LEFT, label);
    canvas_rule(c, x + lw + 10, y + 8, x + w, y + 8, TONE_FAINT, WEIGHT_HAIR);
    return canvas_line_height(c, TYPE_LABEL) + 6;
}

static const char *fault_name(const struct app *a, const char *id)
{
    const struct fault *f = library_find_fault(a->lib, id);
    return f ? f->name : strcmp(id, "none") == 0 ? "Nothing was wrong" : strcmp(id, "unknown") == 0 ? "Something else" : id;
}

static double believed(struct app *a, double x, double y, double w)
{
    struct canvas *c = &a->canvas;
    const struct record_list *l = &journal_of(a)->job.of[RECORD_BELIEF];
    double top = y, line = canvas_line_height(c, TYPE_BODY) + 4;
    if (l->count == 0)
        return 0;
    y += section(a, x, y, w, "BELIEVED");
    for (size_t i = 0; i < l->count && i < 5; i++, y += line) {
        char p[16];
        snprintf(p, sizeof p, "%.0f %%", 100 * record_real(&l->at[i], "p", 0));
        canvas_text(c, x + 48, y, TYPE_NUMERAL, TONE_INK, ALIGN_RIGHT, p);
        canvas_text_fit(c, x + 60, y, w - 60, TYPE_BODY, TONE_INK, ALIGN_LEFT, fault_name(a, record_text(&l->at[i], "fault")));
    }
    return y - top + 8;
}

static double texts_of(struct app *a, enum record_kind kind, const char *label, const char *field, double x, double y,
                       double w)
{
    struct canvas *c = &a->canvas;
    const struct record_list *l = &journal_of(a)->job.of[kind];
    double top = y;
    if (l->count == 0)
        return 0;
    y += section(a, x, y, w, label);
    for (size_t i = 0; i < l->count && i < 4; i++) {
        const char *t = record_text(&l->at[i], field);
        y += canvas_paragraph(c, x, y, w, TYPE_BODY, TONE_INK, ALIGN_LEFT, kind == RECORD_FINDING ? fault_name(a, t) : t) + 3;
    }
    return y - top + 8;
}

static void close_now(struct app *a)
{
    struct journaling *j = journal_of(a);
    struct err e = {0};
    const struct fault *f = library_find_fault(a->lib, j->found);
    struct found_fault found = {j->found, f ? f->part : NULL, f ? f->class : NULL};
    double minutes = -1;
    if (j->minutes.length > 0 && !text_real(text_cstr(&j->minutes), &minutes)) {
        app_notice(a, "Minutes are wanted as a number.");
        return;
    }
    struct closing c = {.faults = &found, .fault_count = j->found[0] != 0, .outcome = j->outcome, .minutes = minutes,
                        .note = j->note.length > 0 ? text_cstr(&j->note) : NULL};
    char id[RECORD_ID_LENGTH + 1];
    snprintf(id, sizeof id, "%s", j->open);
    bool good = job_close(j->journal, id, &c, &e);
    j->stale = true;
    if (good)
        open_job(a, id);
    tell(a, &e, good ? "Closed. The finder learns from it." : "Not closed.");
}

/* Chips in rows; returns the chosen index or -1. */
static int choose(struct app *a, const char *prefix, const char *const *id, const char *const *label, size_t n,
                  const char *now, double x, double *y, double w)
{
    double at = x, cw;
    int hit = -1;
    for (size_t i = 0; i < n; i++) {
        char name[120];
        double room = canvas_text_width(&a->canvas, TYPE_SMALL, label[i]) + 34;
        if (at + room > x + w && at > x) {
            at = x;
            *y += ui_chip_height(&a->ui) + 5;
        }
        snprintf(name, sizeof name, "%s-%s", prefix, id[i]);
        if (ui_chip(&a->ui, name, at, *y, label[i], strcmp(now, id[i]) == 0, &cw))
            hit = (int)i;
        at += cw + 6;
    }
    *y += ui_chip_height(&a->ui) + 8;
    return hit;
}

static double closing_part(struct app *a, double x, double y, double w)
{
    struct journaling *j = journal_of(a);
    struct ui *u = &a->ui;
    const struct record_list *l = &j->job.of[RECORD_BELIEF];
    const char *id[10], *label[10];
    static const char *const outcomes[] = {"phone", "visit", "bench", "declined", "no_fault"};
    static const char *const outcome_labels[] = {"on the telephone", "by a visit", "at the bench", "declined", "no fault"};
    size_t n = 0;
    double top = y;
    int hit;
    y += section(a, x, y, w, "CLOSE: WHAT WAS IT REALLY?");
    for (size_t i = 0; i < l->count && n < 8; i++) {
        const char *f = record_text(&l->at[i], "fault");
        if (strcmp(f, "none") == 0 || strcmp(f, "unknown") == 0)
            continue;
        id[n] = f;
        label[n++] = fault_name(a, f);
    }
    id[n] = "none";
    label[n++] = "nothing was wrong";
    id[n] = "unknown";
    label[n++] = "something else";
    if ((hit = choose(a, "found", id, label, n, j->found, x, &y, w)) >= 0)
        snprintf(j->found, sizeof j->found, "%s", id[hit]);
    if ((hit = choose(a, "outcome", outcomes, outcome_labels, 5, j->outcome, x, &y, w)) >= 0)
        snprintf(j->outcome, sizeof j->outcome, "%s", outcomes[hit]);
    double bw = ui_button_width(u, "Close the job");
    ui_field(u, "minutes", x, y, 110, &j->minutes, "minutes");
    ui_field(u, "note", x + 118, y, w - 118 - bw - 8, &j->note, "note");
    if (ui_button(u, "close-job", x + w - bw, y, bw, ui_field_height(u), "Close the job", j->found[0] ? UI_PRIMARY : UI_OFF))
        close_now(a);
    return y + ui_field_height(u) + 12 - top;
}

static double visit_part(struct app *a, double x, double y, double w)
{
    struct journaling *j = journal_of(a);
    struct ui *u = &a->ui;
    double top = y, bw = ui_button_width(u, "Plan a visit"), half = (w - bw - 16) / 2;
    y += section(a, x, y, w, "VISIT");
    ui_field(u, "visit-at", x, y, half, &j->visit_at, "2026-12-01T10:00");
    ui_field(u, "van", x + half + 8, y, half, &j->van, "van");
    if (ui_button(u, "plan-visit", x + w - bw, y, bw, ui_field_height(u), "Plan a visit", 0)) {
        struct err e = {0};
        char id[RECORD_ID_LENGTH + 1];
        snprintf(id, sizeof id, "%s", j->open);
        bool good = job_plan_visit(j->journal, id, text_cstr(&j->visit_at), 0,
                                   j->van.length > 0 ? text_cstr(&j->van) : NULL, NULL, &e);
        if (good)
            open_job(a, id);
        j->stale = true;
        tell(a, &e, good ? "The visit is planned." : "Not planned.");
    }
    return y + ui_field_height(u) + 12 - top;
}

static void take_up(struct app *a)
{
    struct err e = {0};
    const struct record *call = &journal_of(a)->job.call;
    if (call_read(&a->call, "journal", record_text(call, "sheet"), &e)) {
        a->page = PAGE_DESK;
        text_clear(&a->desk.customer);
        text_add(&a->desk.customer, record_text(&journal_of(a)->job.customer, "label"));
    }
    tell(a, &e, "Taken up again.");
}

static void reopen(struct app *a)
{
    struct err e = {0};
    struct journaling *j = journal_of(a);
    char id[RECORD_ID_LENGTH + 1];
    snprintf(id, sizeof id, "%s", j->open);
    bool good = job_reopen(j->journal, id, &e);
    if (good)
        open_job(a, id);
    j->stale = true;
    tell(a, &e, good ? "Open again." : "Not opened.");
}

static double job_head(struct app *a, double x, double y, double w)
{
    struct journaling *j = journal_of(a);
    struct canvas *c = &a->canvas;
    struct ui *u = &a->ui;
    bool closed = strcmp(record_text(&j->job.call, "state"), "closed") == 0;
    const char *who = record_text(&j->job.customer, "label");
    double bw = ui_button_width(u, "Take up again"), bh = ui_button_height(u), at = x + w - bw;
    if (ui_button(u, "take-up", at, y, bw, bh, "Take up again", 0)) {
        take_up(a);
        return bh;
    }
    bw = ui_button_width(u, "Reopen");
    if (closed && ui_button(u, "reopen", at - bw - 8, y, bw, bh, "Reopen", 0)) {
        reopen(a);
        return bh;
    }
    canvas_text_fit(c, x, y, w * 0.5, TYPE_HEAD, TONE_INK, ALIGN_LEFT, who[0] ? who : "(no name)");
    return bh + 8;
}

static double job_column(struct app *a, double x, double y, double w)
{
    struct journaling *j = journal_of(a);
    struct canvas *c = &a->canvas;
    double top = y;
    const char *story = record_text(&j->job.call, "story");
    char was[RECORD_ID_LENGTH + 1];
    memcpy(was, j->open, sizeof was);
    y += job_head(a, x, y, w);
    bool closed = strcmp(record_text(&j->job.call, "state"), "closed") == 0;
    if (story[0])
        y += canvas_paragraph(c, x, y, w, TYPE_ITALIC, TONE_INK, ALIGN_LEFT, story) + 10;
    y += believed(a, x, y, w);
    y += texts_of(a, RECORD_ADVICE, "ADVISED", "text", x, y, w);
    y += texts_of(a, RECORD_VISIT, "VISITS", "planned_at", x, y, w);
    y += texts_of(a, RECORD_FINDING, "FOUND", "fault", x, y, w);
    if (!closed) {
        y += visit_part(a, x, y, w);
        y += closing_part(a, x, y, w);
    }
    return y - top;
}

void journal_screen(struct app *a, double x, double y, double w, double h)
{
    struct journaling *j = journal_of(a);
    struct canvas *c = &a->canvas;
    double head = canvas_line_height(c, TYPE_TITLE) + 12, left = w * 0.4 > 460 ? 460 : w * 0.4, gap = 36;
    canvas_text(c, x, y, TYPE_TITLE, TONE_INK, ALIGN_LEFT, "Journal");
    y += head;
    h -= head;
    if (j->stale)
        read_list(a);
    list_column(a, x, y, left, h);
    canvas_rule(c, x + left + gap / 2, y, x + left + gap / 2, y + h, TONE_FAINT, WEIGHT_HAIR);
    double rx = x + left + gap, rw = w - left - gap;
    if (!j->open[0]) {
        canvas_paragraph(c, rx, y, rw, TYPE_ITALIC, TONE_SOFT, ALIGN_LEFT,
                         "Choose a job to see what was told and believed, to plan a visit, or to close it with what was found.");
        return;
    }
    double top = ui_scroll_begin(&a->ui, "job", rx, y, rw - 8, h);
    double inner = job_column(a, rx, top, rw - 14);
    ui_scroll_end(&a->ui, "job", rx, y, rw - 8, h, inner);
}
