#include "draw/pages.h"

#include <ctype.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "draw/oil_chart.h"
#include "draw/paint.h"
#include "draw/plate.h"
#include "draw/svg.h"
#include "mem.h"
#include "movement/due_list.h"
#include "movement/library.h"
#include "text.h"

#define MARGIN 48.0

static const struct { double w, h; const char *name; } papers[] = {
    [PAPER_A4] = {595.28, 841.89, "a4"},
    [PAPER_LETTER] = {612, 792, "letter"},
};

static const char caution[] =
    "Answers are likelihoods. Mainsprings, weights and glass tubes hurt people: never open a wound "
    "movement or let down a spring; leave that to a trained repairer and follow local rules.";

enum paper paper_of(const char *name, bool *known)
{
    *known = true;
    for (size_t i = 0; i < sizeof papers / sizeof *papers; i++)
        if (strcmp(papers[i].name, name) == 0)
            return (enum paper)i;
    *known = false;
    return PAPER_A4;
}

enum paper paper_of_house(void)
{
    char word[32] = "";
    bool known;
    const char *said = getenv("PAPERSIZE");
    FILE *f = said && said[0] ? NULL : fopen("/etc/papersize", "r");
    if (f && fscanf(f, "%31s", word) == 1)
        said = word;
    if (f)
        fclose(f);
    enum paper paper = paper_of(said ? said : "", &known);
    return known ? paper : PAPER_A4;
}

void pages_init(struct pages *p, struct type_case *types, enum paper paper, const struct ink *ink)
{
    memset(p, 0, sizeof *p);
    p->types = types;
    p->paper = paper;
    p->ink = *ink;
    p->ink.text *= p->ink.text > 0 ? 0.78 : 0;
    if (p->ink.text <= 0)
        p->ink.text = 0.78; /* print is read nearer than a screen */
}

void pages_release(struct pages *p)
{
    for (size_t i = 0; i < p->count; i++)
        canvas_release(&p->page[i]);
    p->count = 0;
}

/* ---- the sheet in hand ---- */

static struct canvas *sheet(struct pages *p)
{
    return &p->page[p->count - 1];
}

static double inner_w(const struct pages *p)
{
    return papers[p->paper].w - 2 * MARGIN;
}

static double bottom(const struct pages *p)
{
    return papers[p->paper].h - MARGIN - 40;
}

static void draw_head(struct pages *p)
{
    struct canvas *c = sheet(p);
    double w = inner_w(p), th = canvas_line_height(c, TYPE_TITLE);
    canvas_text(c, MARGIN, MARGIN - 8, TYPE_TITLE, TONE_INK, ALIGN_LEFT, p->title);
    canvas_text(c, MARGIN + w, MARGIN - 8 + th - canvas_line_height(c, TYPE_LABEL) - 5, TYPE_LABEL,
                TONE_SOFT, ALIGN_RIGHT, "LETOFF");
    p->y = MARGIN - 8 + th + 2;
    canvas_rule(c, MARGIN, p->y, MARGIN + w, p->y, TONE_INK, WEIGHT_BOLD);
    canvas_rule(c, MARGIN, p->y + 3, MARGIN + w, p->y + 3, TONE_INK, WEIGHT_HAIR);
    p->y += 8;
    if (p->under[0])
        p->y += canvas_paragraph(c, MARGIN, p->y, w, TYPE_ITALIC, TONE_SOFT, ALIGN_LEFT, p->under);
    p->y += 10;
}

static void draw_foot(struct pages *p)
{
    struct canvas *c = sheet(p);
    double w = inner_w(p), y = bottom(p) + 10;
    char number[32];
    snprintf(number, sizeof number, "%zu", p->count);
    canvas_rule(c, MARGIN, y, MARGIN + w, y, TONE_FAINT, WEIGHT_FINE);
    canvas_paragraph(c, MARGIN, y + 5, w - 40, TYPE_SMALL, TONE_SOFT, ALIGN_LEFT, caution);
    canvas_text(c, MARGIN + w, y + 5, TYPE_NUMERAL, TONE_SOFT, ALIGN_RIGHT, number);
}

/* A further page under the same head; false when there are too many. */
static bool next_page(struct pages *p)
{
    if (p->count >= PAGES_MOST)
        return false;
    canvas_init(&p->page[p->count++], p->types, &p->ink, papers[p->paper].w, papers[p->paper].h);
    canvas_name(sheet(p), 0, 0, papers[p->paper].w, papers[p->paper].h, "page");
    draw_head(p);
    draw_foot(p);
    return true;
}

static bool start_chart(struct pages *p, const char *title, const char *under)
{
    snprintf(p->title, sizeof p->title, "%s", title);
    snprintf(p->under, sizeof p->under, "%s", under ? under : "");
    return next_page(p);
}

static bool room_for(struct pages *p, double h)
{
    return p->y + h <= bottom(p) || next_page(p);
}

static void heading(struct pages *p, const char *text)
{
    if (!room_for(p, 60))
        return;
    struct canvas *c = sheet(p);
    p->y += 8;
    canvas_text(c, MARGIN, p->y, TYPE_LABEL, TONE_SOFT, ALIGN_LEFT, text);
    p->y += canvas_line_height(c, TYPE_LABEL) + 4;
}

static void paragraph(struct pages *p, enum type type, const char *text)
{
    double h = canvas_text_height(sheet(p), type, inner_w(p), text);
    if (!room_for(p, h))
        return;
    canvas_paragraph(sheet(p), MARGIN, p->y, inner_w(p), type, TONE_INK, ALIGN_LEFT, text);
    p->y += h + 5;
}

/* With a capital and a full stop. */
static void sentence(struct pages *p, const char *text)
{
    struct text t = {0};
    text_addf(&t, "%s.", text);
    t.at[0] = (char)toupper((unsigned char)t.at[0]);
    paragraph(p, TYPE_BODY, text_cstr(&t));
    text_release(&t);
}

static void tick_box(struct canvas *c, double x, double y, double size)
{
    canvas_box(c, x, y, size, size, 1, TONE_CARD, TONE_INK, WEIGHT_FINE);
}

/* ---- proving ---- */

/* What must sound, short: "4 phrases, then 12"; "12, then 1 quarter"; "strikes 3, music". */
static void due_text(const struct clock *k, const struct due *d, char out[64])
{
    const struct rung *h = &d->rung;
    struct text t = {0};
    const char *what = k->train[TRAIN_CHIME].tunes > 0 ? "phrase" : "quarter";
    if (h->blows && (h->hour_first || !h->phrases))
        text_addf(&t, "%s%d", h->phrases ? "" : "strikes ", h->blows);
    if (h->phrases)
        text_addf(&t, "%s%d %s%s", t.length ? ", then " : "", h->phrases, what, h->phrases == 1 ? "" : "s");
    if (h->blows && h->phrases && !h->hour_first)
        text_addf(&t, ", then %d", h->blows);
    if (h->music)
        text_addf(&t, "%smusic", t.length ? ", " : "");
    if (!t.length)
        text_add(&t, d->by_night ? "silent by night" : "nothing");
    snprintf(out, 64, "%s", text_cstr(&t));
    text_release(&t);
}

struct prove {
    struct pages *p;
    const struct clock *k;
    struct due due[DUES_MOST];
    size_t dues;
    int lobe[CLOCK_LOBES], lobes; /* in order of the minute */
    double hour_w, cell_w, row_h;
};

static void prove_init(struct prove *v, struct pages *p, const struct clock *k)
{
    *v = (struct prove){.p = p, .k = k, .hour_w = 40};
    v->dues = due_list(k, v->due, DUES_MOST);
    for (int minute = 0; minute < 120; minute++)
        for (int i = 0; i < k->lobes; i++)
            if (k->lobe[i].minute == minute && minute < (k->lobe_period_min > 60 ? 120 : 60))
                v->lobe[v->lobes++] = i;
    v->cell_w = (inner_w(p) - v->hour_w) / (v->lobes > 0 ? v->lobes : 1);
    v->row_h = (bottom(p) - p->y - 30) / 12;
    v->row_h = v->row_h > 48 ? 48 : v->row_h;
}

static const struct due *due_at(const struct prove *v, int shown_min)
{
    for (size_t i = 0; i < v->dues; i++)
        if (v->due[i].shown_min == shown_min)
            return &v->due[i];
    return NULL;
}

static void prove_cell(const struct prove *v, double x, double y, int shown_min)
{
    struct canvas *c = sheet(v->p);
    const struct due *d = due_at(v, shown_min);
    char due[64], time[8];
    double line = canvas_line_height(c, TYPE_UI_BOLD), small = canvas_line_height(c, TYPE_SMALL);
    if (!d)
        return;
    due_text(v->k, d, due);
    tick_box(c, x + 6, y + (v->row_h - 13) / 2, 13);
    canvas_text(c, x + 28, y + (v->row_h - line - small) / 2, TYPE_UI_BOLD, TONE_INK, ALIGN_LEFT,
                due_time(v->k, shown_min, time));
    canvas_text_fit(c, x + 28, y + (v->row_h - line - small) / 2 + line, v->cell_w - 30, TYPE_SMALL,
                    TONE_SOFT, ALIGN_LEFT, due);
}

static bool whole_day(const struct clock *k)
{
    return k->cycle_min > 720 || k->dials_24;
}

static void prove_row(const struct prove *v, int hour_min)
{
    struct pages *p = v->p;
    if (!room_for(p, v->row_h))
        return;
    struct canvas *c = sheet(p);
    char n[8];
    int hour = hour_min / 60 % 24, shown = whole_day(v->k) ? hour : (hour + 11) % 12 + 1;
    snprintf(n, sizeof n, "%d", shown);
    canvas_rule(c, MARGIN, p->y, MARGIN + inner_w(p), p->y, TONE_FAINT, WEIGHT_FINE);
    canvas_text(c, MARGIN + v->hour_w - 14, p->y + (v->row_h - canvas_line_height(c, TYPE_HEAD)) / 2,
                TYPE_HEAD, TONE_INK, ALIGN_RIGHT, n);
    for (int i = 0; i < v->lobes; i++)
        prove_cell(v, MARGIN + v->hour_w + i * v->cell_w, p->y,
                   (hour_min + v->k->lobe[v->lobe[i]].minute) % (whole_day(v->k) ? 1440 : 720));
    p->y += v->row_h;
}

void pages_proving(struct pages *p, const struct clock *clock)
{
    struct prove *v = mem_alloc(sizeof *v);
    char under[160], sum[120];
    snprintf(under, sizeof under, "%s. Listen at every let-off; tick what was right, write down "
             "what was not.", clock->name);
    if (start_chart(p, "Proving chart", under)) {
        prove_init(v, p, clock);
        int period = clock->lobe_period_min > 60 ? 120 : 60;
        for (int m = 0; m < (whole_day(clock) ? 1440 : 720); m += period)
            prove_row(v, m);
        canvas_rule(sheet(p), MARGIN, p->y, MARGIN + inner_w(p), p->y, TONE_FAINT, WEIGHT_FINE);
        p->y += 8;
        int blows = 0;
        for (size_t i = 0; i < v->dues; i++)
            blows += v->due[i].rung.blows;
        snprintf(sum, sizeof sum, "In 24 hours: %d blows%s.", blows * (clock->cycle_min > 720 ? 1 : 2),
                 clock_train(clock, TRAIN_CHIME) ? " and the quarters" : "");
        paragraph(p, TYPE_BODY, sum);
    }
    mem_free(v);
}

/* ---- over a full winding ---- */

#define TINY 6.5   /* a box of the winding chart */
#define DAY_W 46.0

/* Days from one winding to the next; a clock that goes for months is watched for a week and a day. */
static int winding_days(const struct clock *k)
{
    double days = k->train[TRAIN_GOING].power.days;
    return days >= 1 && days < 40 ? (int)ceil(days) : 8;
}

/* The boxes of one hour of one day, with the blows of the hour above the first that strikes. */
static void winding_hour(const struct prove *v, int hour, double x, double y, double w)
{
    struct canvas *c = sheet(v->p);
    double at = x;
    bool said = false;
    for (size_t i = 0; i < v->dues; i++) {
        const struct due *d = &v->due[i];
        char blows[8];
        if (d->shown_min / 60 != (v->k->cycle_min > 720 ? hour : hour % 12))
            continue;
        tick_box(c, at, y + 11, TINY);
        snprintf(blows, sizeof blows, "%d", d->rung.blows);
        if (d->rung.blows && (!said || v->lobes < 3))
            canvas_text(c, at, y - 3, TYPE_SMALL, TONE_INK, ALIGN_LEFT, blows);
        said = said || d->rung.blows;
        at += v->lobes < 3 ? w / 2 : TINY + 2;
    }
}

static void winding_day(const struct prove *v, int day)
{
    struct pages *p = v->p;
    char name[24];
    double w = (inner_w(p) - DAY_W) / 12;
    if (!room_for(p, 72))
        return;
    struct canvas *c = sheet(p);
    snprintf(name, sizeof name, "Day %d", day);
    canvas_rule(c, MARGIN, p->y, MARGIN + inner_w(p), p->y, TONE_FAINT, WEIGHT_FINE);
    canvas_text(c, MARGIN, p->y + 4, TYPE_UI_BOLD, TONE_INK, ALIGN_LEFT, name);
    for (int hour = 0; hour < 24; hour++)
        winding_hour(v, hour, MARGIN + DAY_W + hour % 12 * w, p->y + 6 + hour / 12 * 23, w - 3);
    bool spring = v->k->train[TRAIN_GOING].power.drive == DRIVE_SPRING;
    const char *const what[] = {"even, not slow", spring ? "strong to the end" : "weights even", "off by, min:"};
    for (int i = 0; i < 3; i++) {
        double x = MARGIN + DAY_W + i * (inner_w(p) - DAY_W) / 3;
        if (i < 2)
            tick_box(c, x, p->y + 55, TINY);
        canvas_text(c, x + (i < 2 ? 12 : 0), p->y + 52, TYPE_SMALL, TONE_SOFT, ALIGN_LEFT, what[i]);
    }
    p->y += 72;
}

/* What the boxes of an hour stand for, where not each has its number above it. */
static void say_boxes(const struct prove *v, struct text *t)
{
    int from = whole_day(v->k) ? 540 : 60, span = v->k->lobe_period_min > 60 ? 120 : 60, n = 0;
    text_add(t, "; in an hour they are ");
    for (size_t i = 0; i < v->dues; i++) {
        const struct due *d = &v->due[i];
        char due[64];
        if (d->shown_min < from || d->shown_min >= from + span)
            continue;
        due_text(v->k, d, due);
        text_addf(t, "%s:%02d %s", n++ ? ", " : "", d->shown_min % 60, d->shown_min % 60 || !d->rung.blows ? due : "the hour");
    }
}

static void winding_key(struct pages *p, const struct prove *v)
{
    struct text t = {0};
    text_add(&t, "A box for each let-off, twelve hours a line from 12 on");
    if (v->lobes > 2)
        say_boxes(v, &t);
    text_addf(&t, ". The number is how many it strikes%s.",
              v->k->night_from_min != v->k->night_to_min ? "; where none stands at the hour it is silent by night" : "");
    paragraph(p, TYPE_SMALL, text_cstr(&t));
    p->y += 4;
    text_release(&t);
}

void pages_winding(struct pages *p, const struct clock *clock)
{
    struct prove *v = mem_alloc(sizeof *v);
    char under[160];
    snprintf(under, sizeof under, "%s. Over one winding: weak power, a dry train and a slipping "
             "click show only late.", clock->name);
    if (start_chart(p, "Over a full winding", under)) {
        prove_init(v, p, clock);
        winding_key(p, v);
        for (int day = 1; day <= winding_days(clock); day++)
            winding_day(v, day);
    }
    mem_free(v);
}

/* ---- oiling ---- */

/* A sign for each kind, told apart by shape: drop, filled drop, ring struck out, half. */
static void oil_sign(struct canvas *c, double x, double y, enum oil oil)
{
    const double r = 5;
    canvas_begin(c);
    if (oil == OIL_CLOCK || oil == OIL_GREASE || oil == OIL_DISPUTED) {
        canvas_move(c, x, y - r * 1.5);
        canvas_curve_to(c, x + r * 0.7, y - r * 0.5, x + r, y, x + r, y + r * 0.3);
        canvas_arc(c, x, y + r * 0.3, r, 90, 270);
        canvas_curve_to(c, x - r, y, x - r * 0.7, y - r * 0.5, x, y - r * 1.5);
        canvas_close(c);
        if (oil == OIL_GREASE)
            canvas_fill(c, TONE_INK, 1);
        if (oil == OIL_DISPUTED)
            canvas_dash(c, TONE_INK, WEIGHT_LINE);
        else
            canvas_stroke(c, TONE_INK, WEIGHT_LINE);
        return;
    }
    canvas_arc(c, x, y, r, 0, 360);
    canvas_stroke(c, TONE_INK, WEIGHT_LINE);
    canvas_rule(c, x - r, y + r, x + r, y - r, TONE_INK, WEIGHT_LINE);
}

static void oil_line(struct pages *p, const struct oil_row *r)
{
    double note_w = inner_w(p) - 270;
    double h = canvas_text_height(sheet(p), TYPE_SMALL, note_w, r->note[0] ? r->note : "X") + 7;
    double least = canvas_line_height(sheet(p), TYPE_BODY) + 6;
    h = h < least ? least : h;
    if (!room_for(p, h))
        return;
    struct canvas *c = sheet(p);
    char count[24];
    snprintf(count, sizeof count, "%d", r->count);
    canvas_rule(c, MARGIN, p->y, MARGIN + inner_w(p), p->y, TONE_FAINT, WEIGHT_HAIR);
    tick_box(c, MARGIN, p->y + 4, 11);
    canvas_text(c, MARGIN + 40, p->y + 3, TYPE_NUMERAL, TONE_SOFT, ALIGN_RIGHT, count);
    canvas_text_fit(c, MARGIN + 50, p->y + 3, 215, TYPE_BODY, TONE_INK, ALIGN_LEFT, r->place);
    if (r->note[0])
        canvas_paragraph(c, MARGIN + 270, p->y + 3, note_w, TYPE_SMALL, TONE_SOFT, ALIGN_LEFT, r->note);
    p->y += h;
}

static void oil_group(struct pages *p, const struct oil_row *row, size_t n, enum oil oil,
                      const char *title)
{
    bool any = false;
    for (size_t i = 0; i < n; i++)
        any |= row[i].oil == oil;
    if (!any || !room_for(p, 70))
        return;
    p->y += 8;
    oil_sign(sheet(p), MARGIN + 6, p->y + 8, oil);
    canvas_text(sheet(p), MARGIN + 20, p->y, TYPE_STRONG, TONE_INK, ALIGN_LEFT, title);
    p->y += canvas_line_height(sheet(p), TYPE_STRONG) + 3;
    for (size_t i = 0; i < n; i++)
        if (row[i].oil == oil)
            oil_line(p, &row[i]);
}

void pages_oiling(struct pages *p, const struct clock *clock)
{
    struct oil_row row[OIL_ROWS];
    size_t n = oil_chart(clock, row);
    char under[160];
    snprintf(under, sizeof under, "%s. Clean first: fresh oil on old oil helps for a while only.",
             clock->name);
    if (!start_chart(p, "Oiling chart", under))
        return;
    oil_group(p, row, n, OIL_CLOCK, "Clock oil, a trace");
    oil_group(p, row, n, OIL_GREASE, "Grease, at the bench only");
    oil_group(p, row, n, OIL_DISPUTED, "Where sources differ");
    oil_group(p, row, n, OIL_DRY, "Stays dry");
    heading(p, "WHEN");
    paragraph(p, TYPE_SMALL, "Published advice runs from three to five years between cleanings, and "
              "oil at three with a strip at ten; the clock's own pace over a winding decides.");
}

/* ---- steps ---- */

static double step_height(struct canvas *c, const struct page_step *s, double w)
{
    double h = canvas_text_height(c, TYPE_BODY, w, s->text) + 10;
    if (s->hear)
        h += canvas_text_height(c, TYPE_ITALIC, w - 44, s->hear) + 2;
    if (s->caution)
        h += canvas_text_height(c, TYPE_SMALL, w, s->caution) + 2;
    return h;
}

/* A heading stays with the step it stands above. */
static void step_heading(struct pages *p, const struct page_step *s, double h)
{
    double own = canvas_text_height(sheet(p), TYPE_STRONG, inner_w(p), s->heading) + 10;
    if (!room_for(p, own + h))
        return;
    p->y += 6;
    p->y += canvas_paragraph(sheet(p), MARGIN, p->y, inner_w(p), TYPE_STRONG, TONE_INK, ALIGN_LEFT, s->heading) + 4;
}

static void step_line(struct pages *p, const struct page_step *s, size_t number)
{
    double w = inner_w(p) - 96, x = MARGIN + 36, h = step_height(sheet(p), s, w);
    if (s->heading)
        step_heading(p, s, h);
    if (!room_for(p, h))
        return;
    struct canvas *c = sheet(p);
    char n[24];
    snprintf(n, sizeof n, "%zu", number);
    canvas_text(c, MARGIN + 24, p->y, TYPE_HEAD, TONE_SOFT, ALIGN_RIGHT, n);
    tick_box(c, MARGIN + inner_w(p) - 14, p->y + 4, 13);
    if (s->minutes > 0) {
        if (s->minutes < 0.95)
            snprintf(n, sizeof n, "%.0f s", ceil(s->minutes * 12) * 5);
        else
            snprintf(n, sizeof n, "%.0f min", s->minutes);
        canvas_text(c, MARGIN + inner_w(p) - 22, p->y + 3, TYPE_SMALL, TONE_SOFT, ALIGN_RIGHT, n);
    }
    double y = p->y + canvas_paragraph(c, x, p->y + 2, w, TYPE_BODY, TONE_INK, ALIGN_LEFT, s->text) + 4;
    if (s->hear) {
        canvas_text(c, x, y + 2, TYPE_LABEL, TONE_SOFT, ALIGN_LEFT, "HEAR");
        y += canvas_paragraph(c, x + 44, y, w - 44, TYPE_ITALIC, TONE_INK, ALIGN_LEFT, s->hear) + 2;
    }
    if (s->caution)
        canvas_paragraph(c, x, y, w, TYPE_SMALL, TONE_SOFT, ALIGN_LEFT, s->caution);
    p->y += h;
    canvas_rule(c, MARGIN, p->y - 4, MARGIN + inner_w(p), p->y - 4, TONE_FAINT, WEIGHT_HAIR);
}

void pages_steps(struct pages *p, const char *title, const char *under,
                 const struct page_step *step, size_t steps)
{
    if (!start_chart(p, title, under))
        return;
    for (size_t i = 0; i < steps; i++)
        step_line(p, &step[i], i + 1);
}

/* ---- call and visit ---- */

static void pair_line(struct pages *p, const char *label, const char *text)
{
    if (!text || !text[0])
        return;
    double x = MARGIN + 96, w = inner_w(p) - 96;
    double h = canvas_text_height(sheet(p), TYPE_BODY, w, text);
    if (!room_for(p, h))
        return;
    struct canvas *c = sheet(p);
    canvas_text(c, MARGIN, p->y + 3, TYPE_LABEL, TONE_SOFT, ALIGN_LEFT, label);
    p->y += canvas_paragraph(c, x, p->y, w, TYPE_BODY, TONE_INK, ALIGN_LEFT, text) + 3;
}

static void cause_line(struct pages *p, const struct page_cause *k)
{
    struct canvas *c = sheet(p);
    double w = inner_w(p) - 70, h = canvas_line_height(c, TYPE_STRONG) + 6;
    if (k->reason)
        h += canvas_text_height(c, TYPE_SMALL, w, k->reason);
    if (!room_for(p, h))
        return;
    c = sheet(p);
    char n[24];
    snprintf(n, sizeof n, "%.0f %%", 100 * k->p);
    canvas_text(c, MARGIN + 48, p->y, TYPE_UI_BOLD, TONE_INK, ALIGN_RIGHT, n);
    canvas_text_fit(c, MARGIN + 62, p->y, w, TYPE_STRONG, TONE_INK, ALIGN_LEFT, k->name);
    if (k->reason)
        canvas_paragraph(c, MARGIN + 62, p->y + canvas_line_height(c, TYPE_STRONG) + 1, w,
                         TYPE_SMALL, TONE_SOFT, ALIGN_LEFT, k->reason);
    p->y += h;
}

static void small_plate(struct pages *p, const struct page_call *call)
{
    static struct plate plate;
    double w = inner_w(p), scale = w / PLATE_W, room = bottom(p) - p->y - 10;
    if (room < PLATE_H * scale && room > 0.55 * PLATE_H * scale)
        scale = room / PLATE_H; /* rather smaller than on a page of its own */
    double h = PLATE_H * scale;
    if (!call->clock || !room_for(p, h + 10))
        return;
    memset(&plate, 0, sizeof plate);
    plate.clock = call->clock;
    plate.pointed = PART_NONE;
    plate.pose.hour_deg = 60;
    plate.pose.minute_deg = 0;
    plate.pose.work_min = 120;
    for (int t = 0; t < TRAINS; t++)
        plate.pose.wound[t] = 0.7;
    memcpy(plate.belief, call->belief, sizeof plate.belief);
    plate_draw(&plate, sheet(p), MARGIN + (w - PLATE_W * scale) / 2, p->y + 6, scale);
    p->y += h + 12;
}

void pages_call(struct pages *p, const struct page_call *call)
{
    if (!start_chart(p, "Call report", call->when))
        return;
    pair_line(p, "CUSTOMER", call->customer);
    pair_line(p, "CLOCK", call->clock_name);
    pair_line(p, "SAID", call->story);
    if (call->heards > 0)
        heading(p, "HEARD");
    for (size_t i = 0; i < call->heards; i++)
        sentence(p, call->heard[i]);
    if (call->causes > 0)
        heading(p, "LIKELY CAUSES");
    for (size_t i = 0; i < call->causes; i++)
        cause_line(p, &call->cause[i]);
    if (call->advice) {
        heading(p, "ADVICE");
        paragraph(p, TYPE_BODY, call->advice);
    }
    small_plate(p, call);
}

void pages_visit(struct pages *p, const struct page_visit *visit)
{
    if (!start_chart(p, "Visit plan", visit->when))
        return;
    char line[96];
    pair_line(p, "VAN", visit->van);
    pair_line(p, "CUSTOMER", visit->customer);
    pair_line(p, "CLOCK", visit->clock_name);
    snprintf(line, sizeof line, "About %.0f minutes of work, the way not counted", visit->minutes);
    pair_line(p, "TIME", visit->minutes > 0 ? line : NULL);
    if (visit->causes > 0)
        heading(p, "EXPECTED");
    for (size_t i = 0; i < visit->causes; i++)
        cause_line(p, &visit->cause[i]);
    if (visit->oil_enough >= 0) {
        heading(p, "CLEAN AND OIL ONLY");
        snprintf(line, sizeof line, "Chance that it suffices: %.0f %%.", 100 * visit->oil_enough);
        paragraph(p, TYPE_BODY, line);
        if (visit->comes_back)
            paragraph(p, TYPE_BODY, visit->comes_back);
    }
    if (visit->kits > 0)
        heading(p, "KIT");
    for (size_t i = 0; i < visit->kits && room_for(p, 18); i++) {
        tick_box(sheet(p), MARGIN, p->y + 2, 11);
        canvas_text(sheet(p), MARGIN + 20, p->y, TYPE_BODY, TONE_INK, ALIGN_LEFT, visit->kit[i]);
        p->y += canvas_line_height(sheet(p), TYPE_BODY) + 3;
    }
    if (visit->steps > 0 && !visit->step[0].heading)
        heading(p, "STEPS");
    for (size_t i = 0; i < visit->steps; i++)
        step_line(p, &visit->step[i], i + 1);
}

/* ---- writing ---- */

static bool write_one(const struct pages *p, const char *path, size_t i, bool svg, struct err *e)
{
    char name[1024];
    const char *dot = strrchr(path, '.');
    if (i == 0)
        snprintf(name, sizeof name, "%s", path);
    else
        snprintf(name, sizeof name, "%.*s-%zu%s", (int)(dot - path), path, i + 1, dot);
    return svg ? svg_file(&p->page[i], p->title, name, e) : paint_png(&p->page[i], 2, name, e);
}

bool pages_write(const struct pages *p, const char *path, struct err *e)
{
    const char *dot = strrchr(path, '.');
    const struct canvas *page[PAGES_MOST];
    bool svg = dot && strcmp(dot, ".svg") == 0, png = dot && strcmp(dot, ".png") == 0, good = true;
    if (!dot || (!svg && !png && strcmp(dot, ".pdf") != 0)) {
        err_add(e, "%s: cannot tell the kind of file from its ending; .pdf, .svg and .png can be written.",
                path);
        return false;
    }
    for (size_t i = 0; i < p->count; i++)
        page[i] = &p->page[i];
    if (!svg && !png)
        return paint_pdf(page, p->count, p->title, path, e);
    for (size_t i = 0; i < p->count && good; i++)
        good = write_one(p, path, i, svg, e);
    return good;
}
