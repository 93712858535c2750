/* right_screen.c - setting right: from what the hands show and what was last heard to the steps
 * that bring hands, strike and chime into step, one after another, each with what must be heard.
 *
 * The plan is made in a thread of its own.  At each step the person says what was heard; if it is
 * not what must be heard, the plan is made anew from there.
 */
#include <pthread.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "command/plan_pages.h"
#include "mem.h"
#include "resync/presume.h"
#include "resync/step_text.h"
#include "screen/app.h"
#include "screen/window.h"

#define COUNT_W 84 /* of a field for a number */

struct righting {
    /* told */
    char clock[64];
    struct text hands, time, letoff; /* letoff: what the hands showed when it was heard; empty: the last */
    int struck, phrases;      /* TOLD_NOTHING */
    bool unknown, hands_off, night;
    bool stale;               /* told has changed since the plan was made */
    /* the plan */
    struct works works;
    struct reset reset;
    struct plan *plan;        /* whole, owned */
    const struct plan *at;    /* the part in hand */
    size_t step;              /* in it */
    size_t done;              /* steps done in all */
    bool fault;               /* what was heard fits no state */
    struct stance_chance *may;
    size_t mays;
    struct text heard, heard_phrases, pointed; /* numbers typed at the step */
    /* the step that sounded otherwise than thought of: all is thought over from before it */
    enum deed odd_deed;
    int odd_amount, odd_from_min;
    struct noticed odd;
    bool music; /* it played, told at the step */
    /* the thread */
    pthread_t thread;
    bool running;
    pthread_mutex_t lock;
    bool ready;
    bool headless;
    struct told told;
    bool from_heard;          /* plan from `may`, not from `told` */
};

static struct righting *right_of(struct app *a)
{
    if (!a->righting) {
        struct righting *r = a->righting = mem_alloc(sizeof *r);
        pthread_mutex_init(&r->lock, NULL);
        r->struck = r->phrases = TOLD_NOTHING;
        r->headless = a->headless;
        text_add(&r->hands, "3:10");
        text_add(&r->time, "3:10");
    }
    return a->righting;
}

/* ---- the thread ---- */

/* What was heard fits nothing thought of: everything is possible before that step. */
static void think_again(struct righting *r)
{
    struct told told = told_nothing();
    struct stance_chance *before = NULL;
    told.hands_min = r->odd_from_min < 0 ? TOLD_NOTHING : r->odd_from_min;
    told.unknown = true;
    size_t n = presume(&r->reset, &told, &before);
    mem_free(r->may);
    r->may = mem_alloc((n + 1) * sizeof *r->may);
    r->mays = plan_heard(&r->reset, before, n, r->odd_deed, r->odd_amount, &r->odd, r->may);
    mem_free(before);
}

static void make_plan(struct righting *r)
{
    if (r->from_heard && r->mays == 0)
        think_again(r);
    if (!r->from_heard) {
        mem_free(r->may);
        r->may = NULL;
        r->mays = presume(&r->reset, &r->told, &r->may);
    }
    size_t n = r->mays;
    struct stance *s = mem_alloc((n + 1) * sizeof *s);
    double *p = mem_alloc((n + 1) * sizeof *p);
    for (size_t i = 0; i < n; i++) {
        s[i] = r->may[i].stance;
        p[i] = r->may[i].p;
    }
    plan_free(r->plan);
    r->plan = n > 0 ? plan_find(&r->reset, s, p, n) : NULL;
    r->fault = n == 0;
    mem_free(s);
    mem_free(p);
}

static void *work(void *with)
{
    struct righting *r = with;
    make_plan(r);
    pthread_mutex_lock(&r->lock);
    r->ready = true;
    pthread_mutex_unlock(&r->lock);
    if (!r->headless)
        window_wake();
    return NULL;
}

static void take_plan(struct righting *r)
{
    pthread_mutex_lock(&r->lock);
    bool ready = r->running && r->ready;
    pthread_mutex_unlock(&r->lock);
    if (!ready)
        return;
    pthread_join(r->thread, NULL);
    r->running = r->ready = false;
    r->at = r->plan;
    r->step = 0;
}

static void begin_plan(struct righting *r)
{
    r->at = NULL;
    r->ready = false;
    r->stale = false;
    if (r->headless) {
        make_plan(r);
        r->at = r->plan;
        r->step = 0;
        return;
    }
    r->running = pthread_create(&r->thread, NULL, work, r) == 0;
}

void right_free(struct righting *r)
{
    if (!r)
        return;
    if (r->running)
        pthread_join(r->thread, NULL);
    plan_free(r->plan);
    if (r->reset.w)
        reset_release(&r->reset);
    mem_free(r->may);
    text_release(&r->hands);
    text_release(&r->time);
    text_release(&r->letoff);
    text_release(&r->heard);
    text_release(&r->heard_phrases);
    text_release(&r->pointed);
    pthread_mutex_destroy(&r->lock);
    mem_free(r);
}

static bool minute_of(const struct text *t, int *min, bool *known)
{
    return text_time(text_cstr(t), min, known);
}

/* What was told, as numbers; false and a notice if some of it is no time. */
static bool take_told(struct app *a, int *target)
{
    struct righting *r = right_of(a);
    const struct clock *c = app_clock(a);
    int hands = TOLD_NOTHING, at = TOLD_NOTHING;
    bool target_known, hands_known = true, at_known = true;
    if (!minute_of(&r->time, target, &target_known) || (!r->hands_off && !minute_of(&r->hands, &hands, &hands_known)) ||
        (r->letoff.length > 0 && !minute_of(&r->letoff, &at, &at_known))) {
        app_notice(a, "A time is wanted, like 3:10.");
        return false;
    }
    *target = told_target(c, *target, target_known);
    r->told = told_nothing();
    r->told.hands_min = r->hands_off ? TOLD_NOTHING : told_near(c, hands, hands_known, *target);
    r->told.at_min = r->hands_off || at < 0 ? TOLD_NOTHING : told_near(c, at, at_known, *target);
    r->told.struck = r->struck;
    r->told.phrases = r->phrases;
    r->told.unknown = r->unknown;
    return true;
}

static void ask_plan(struct app *a)
{
    struct righting *r = right_of(a);
    int target;
    if (r->running || !take_told(a, &target))
        return;
    struct minds minds = r->night ? minds_by_night() : minds_by_day();
    if (r->reset.w)
        reset_release(&r->reset);
    works_init(&r->works, app_clock(a), NULL, 0);
    reset_init(&r->reset, &r->works, target, &minds);
    r->from_heard = false;
    r->done = 0;
    snprintf(r->clock, sizeof r->clock, "%s", app_clock(a)->id);
    begin_plan(r);
}

/* ---- going through the steps ---- */

/* True if this step is where the plan parts by what is heard: then a nod is no answer. */
static bool parts_here(const struct righting *r)
{
    return r->step + 1 == r->at->steps && r->at->branches > 0;
}

static void narrow(struct righting *r, const struct step *s, const struct noticed *n)
{
    struct stance_chance *to = mem_alloc((r->mays + 1) * sizeof *to);
    size_t count = plan_heard(&r->reset, r->may, r->mays, s->deed, s->amount, n, to);
    mem_free(r->may);
    r->may = to;
    r->mays = count;
}

static void step_done(struct righting *r, const struct step *s, struct noticed n)
{
    bool same = n.blows == s->heard.blows && n.phrases == s->heard.phrases && !parts_here(r);
    const struct plan *then = parts_here(r) ? plan_branch_heard(r->at, &n) : NULL;
    narrow(r, s, &n);
    r->done++;
    r->odd_deed = s->deed;
    r->odd_amount = s->amount;
    r->odd_from_min = s->from_min;
    r->odd = n;
    text_clear(&r->heard);
    text_clear(&r->heard_phrases);
    text_clear(&r->pointed);
    r->music = false;
    if (then) {
        r->at = then;
        r->step = 0;
    } else if (same) {
        r->step++;
    } else {
        r->from_heard = true;
        begin_plan(r);
    }
}

/* ---- what is told ---- */

static bool number_row(struct app *a, const char *label, const char *name, double x, double y, double w, int most,
                       int *value)
{
    struct ui *u = &a->ui;
    struct canvas *c = &a->canvas;
    double h = ui_chip_height(u), at = x, cw;
    int was = *value;
    canvas_text(c, x, y, TYPE_LABEL, TONE_SOFT, ALIGN_LEFT, label);
    y += canvas_line_height(c, TYPE_LABEL) + 6;
    for (int i = -1; i <= most; i++) {
        char id[40], text[16];
        snprintf(id, sizeof id, "%s-%d", name, i);
        snprintf(text, sizeof text, i < 0 ? "not heard" : i == 0 ? "silent" : "%d", i);
        double room = canvas_text_width(c, TYPE_SMALL, text) + 34;
        if (at + room > x + w) {
            at = x;
            y += h + 5;
        }
        if (ui_chip(u, id, at, y, text, *value == i, &cw))
            *value = i;
        at += cw + 5;
    }
    return *value != was;
}

static double rows_high(struct app *a, double w, int most)
{
    double at = 0, h = ui_chip_height(&a->ui), y = h;
    for (int i = -1; i <= most; i++) {
        char text[16];
        snprintf(text, sizeof text, i < 0 ? "not heard" : i == 0 ? "silent" : "%d", i);
        double room = canvas_text_width(&a->canvas, TYPE_SMALL, text) + 34;
        if (at + room > w) {
            at = 0;
            y += h + 5;
        }
        at += room - 9;
    }
    return y + canvas_line_height(&a->canvas, TYPE_LABEL) + 16;
}

static void dial_of_hands(struct app *a, double x, double y, double size)
{
    struct righting *r = right_of(a);
    static struct plate plate;
    int min = 0;
    memset(&plate, 0, sizeof plate);
    plate.clock = app_clock(a);
    plate.pointed = PART_NONE;
    if (minute_of(&r->hands, &min, NULL) && !r->hands_off) {
        plate.pose.minute_deg = min % 60 * 6;
        plate.pose.hour_deg = min % 720 * 0.5;
    }
    plate_draw_dial(&plate, &a->canvas, x, y, size);
}

static double fields(struct app *a, double x, double y, double w)
{
    struct righting *r = right_of(a);
    struct ui *u = &a->ui;
    struct canvas *c = &a->canvas;
    double lh = canvas_line_height(c, TYPE_LABEL) + 4, gap = 10, cw, top = y;
    struct { const char *name, *label; struct text *text; const char *hint; } rows[] = {
        {"time", "TIME NOW", &r->time, "3:10"}, {"hands", "HANDS AT", &r->hands, "3:10"},
        {"letoff", "HEARD AT", &r->letoff, "last"}};
    double each = (w - 2 * gap) / 3;
    bool go = false;
    for (size_t i = 0; i < (r->hands_off ? 1 : 3); i++) { /* hands in a tin show nothing */
        double at = x + (double)i * (each + gap);
        char *was = mem_copy_text(text_cstr(rows[i].text));
        canvas_text_fit(c, at, y, each, TYPE_LABEL, TONE_SOFT, ALIGN_LEFT, rows[i].label);
        go |= ui_field(u, rows[i].name, at, y + lh, each, rows[i].text, rows[i].hint);
        r->stale |= strcmp(was, text_cstr(rows[i].text)) != 0;
        mem_free(was);
    }
    y += lh + ui_field_height(u) + 10;
    struct { const char *name, *label; bool *on; } flags[] = {{"hands-off", "hands are off", &r->hands_off},
                                                              {"all-unknown", "nothing is known", &r->unknown},
                                                              {"by-night", "by night, quietly", &r->night}};
    double at = x;
    for (size_t i = 0; i < 3; i++) {
        if (at + canvas_text_width(c, TYPE_SMALL, flags[i].label) + 34 > x + w) {
            at = x;
            y += ui_chip_height(u) + 5;
        }
        if (ui_chip(u, flags[i].name, at, y, flags[i].label, *flags[i].on, &cw)) {
            *flags[i].on = !*flags[i].on;
            r->stale = true;
        }
        at += cw + 6;
    }
    if (go)
        ask_plan(a);
    return y + ui_chip_height(u) + 14 - top;
}

static double told_column(struct app *a, double x, double y, double w, double h)
{
    struct righting *r = right_of(a);
    const struct clock *k = app_clock(a);
    double size = w < h * 0.36 ? w : h * 0.36, top = y;
    canvas_text_fit(&a->canvas, x, y, w, TYPE_STRONG, TONE_INK, ALIGN_LEFT, k->name);
    y += canvas_line_height(&a->canvas, TYPE_STRONG) + 8;
    dial_of_hands(a, x + (w - size) / 2, y, size);
    y += size + 12;
    y += fields(a, x, y, w);
    if (number_row(a, "IT LAST STRUCK", "struck", x, y, w, 12, &r->struck))
        r->stale = true;
    y += rows_high(a, w, 12);
    if (clock_train(k, TRAIN_CHIME)) {
        if (number_row(a, "PHRASES LAST CHIMED", "phrases", x, y, w, 4, &r->phrases))
            r->stale = true;
        y += rows_high(a, w, 4);
    }
    return y - top;
}

/* ---- the steps ---- */

static void print_plan(struct app *a)
{
    struct righting *r = right_of(a);
    struct pages p;
    struct text path = {0};
    struct err e = {0};
    struct ink ink = {0};
    settings_path(&path, "XDG_DATA_HOME", ".local/share", "setting-right.pdf");
    pages_init(&p, a->types, paper_of_house(), &ink);
    plan_pages_add(&p, r->works.clock, r->plan);
    hands_pages_add(&p, &r->works, r->reset.target_min);
    if (path.length && pages_write(&p, text_cstr(&path), &e))
        app_notice(a, "Written: %s", text_cstr(&path));
    else
        app_notice(a, "%s", e.count > 0 ? e.line[0] : "It could not be written.");
    pages_release(&p);
    err_release(&e);
    text_release(&path);
}

/* A number typed; what is not typed was as it must be. */
static bool typed(const struct text *t, int *n)
{
    long value;
    if (t->length == 0)
        return true;
    if (!text_int(text_cstr(t), &value) || value < 0 || value > 99)
        return false;
    *n = (int)value;
    return true;
}

/* One number to be typed; moves *at on.  True when Enter was pressed in it. */
static bool count_field(struct ui *u, const char *name, const char *hint, struct text *text, double *at, double y)
{
    bool go = ui_field(u, name, *at, y, COUNT_W, text, hint);
    *at += COUNT_W + 8;
    return go;
}

/* Beside the button, or below it where there is no room.  Returns the height added. */
static double else_heard(struct app *a, const struct step *s, double x, double y, double w, double bw, double h)
{
    struct righting *r = right_of(a);
    struct ui *u = &a->ui;
    bool chimes = clock_train(r->works.clock, TRAIN_CHIME) != NULL, parts = parts_here(r);
    bool points = parts && plan_asks_pointed(r->at), plays = parts && plan_asks_music(r->at);
    const char *label = parts ? "it was" : "or it struck", *sure = "Heard that";
    double lw = canvas_text_width(u->c, TYPE_ITALIC, label), sw = ui_button_width(u, sure);
    double need = lw + 8 + (1 + chimes + points + plays) * (COUNT_W + 8) + sw, line = canvas_line_height(u->c, TYPE_ITALIC);
    bool below = bw > 0 && bw + 16 + need > w;
    double at = below || bw <= 0 ? x : x + bw + 16, top = below ? y + h + 8 : y;
    canvas_text(u->c, at, top + (h - line) / 2, TYPE_ITALIC, TONE_SOFT, ALIGN_LEFT, label);
    at += lw + 8;
    bool go = chimes && count_field(u, "heard-phrases", "phrases", &r->heard_phrases, &at, top + 1);
    go |= count_field(u, "heard-else", "blows", &r->heard, &at, top + 1);
    if (points)
        go |= count_field(u, "heard-points", "hand at", &r->pointed, &at, top + 1);
    if (plays && ui_chip(u, "heard-music", at, top + 1 + (ui_field_height(u) - ui_chip_height(u)) / 2, "with music", r->music, &sw))
        r->music = !r->music;
    at += plays ? sw + 8 : 0;
    sw = ui_button_width(u, sure);
    bool told = r->heard.length > 0 || r->heard_phrases.length > 0;
    go |= ui_button(u, "heard-that", at, top + 1, sw, ui_field_height(u), sure, told ? 0 : UI_OFF);
    /* what is not typed was as it must be; where the plan parts, nothing */
    struct noticed n = noticed_of(&s->heard);
    if (parts)
        n = (struct noticed){0, 0, points ? -1 : n.pointed, plays && r->music};
    bool good = typed(&r->heard, &n.blows) && typed(&r->heard_phrases, &n.phrases) && (!points || typed(&r->pointed, &n.pointed));
    if (points && n.pointed == 0)
        n.pointed = 60;
    if (go && told && good && !(points && n.pointed < 0))
        step_done(r, s, n);
    else if (go && told)
        app_notice(a, points && good ? "The minute the loose hand points to is wanted too, 30 or 0."
                                     : "A number is wanted: blows counted, 0 for silence.");
    return below ? h + 8 : 0;
}

static double heard_buttons(struct app *a, const struct step *s, double x, double y, double w)
{
    struct righting *r = right_of(a);
    struct ui *u = &a->ui;
    bool sounds = s->heard.blows > 0 || s->heard.phrases > 0;
    double h = ui_button_height(u) + 4, bw = ui_button_width(u, "Done, and heard so") + 34;
    if (parts_here(r))
        return h + else_heard(a, s, x, y, w, 0, h);
    if (ui_key_button(u, "heard-so", x, y, bw, h, "Y", 'y', sounds ? "Done, and heard so" : "Done", UI_PRIMARY)) {
        step_done(r, s, noticed_of(&s->heard));
        return h;
    }
    return h + else_heard(a, s, x, y, w, bw, h);
}

static double step_in_hand(struct app *a, const struct step *s, double x, double y, double w)
{
    struct canvas *c = &a->canvas;
    double top = y;
    char label[48];
    snprintf(label, sizeof label, "STEP %zu", right_of(a)->done + 1);
    canvas_text(c, x, y, TYPE_LABEL, TONE_SOFT, ALIGN_LEFT, label);
    y += canvas_line_height(c, TYPE_LABEL) + 4;
    y += canvas_paragraph(c, x, y, w, TYPE_ASK, TONE_INK, ALIGN_LEFT, s->text) + 8;
    if (s->hear && s->hear[0]) {
        double lw = canvas_text(c, x, y + 4, TYPE_LABEL, TONE_SOFT, ALIGN_LEFT, "HEAR") + 14;
        y += canvas_paragraph(c, x + lw, y, w - lw, TYPE_HEAD, TONE_INK, ALIGN_LEFT, s->hear) + 10;
    }
    if (hazard_caution(s->hazard))
        y += canvas_paragraph(c, x, y, w, TYPE_SMALL, TONE_INK, ALIGN_LEFT, hazard_caution(s->hazard)) + 8;
    canvas_name(c, x, top, w, y - top, "step");
    y += heard_buttons(a, s, x, y, w) + 14;
    return y - top;
}

static double coming_steps(struct app *a, const struct plan *p, size_t from, double x, double y, double w, double room)
{
    struct canvas *c = &a->canvas;
    double top = y;
    for (size_t i = from; i < p->steps; i++) {
        struct text t = {0};
        char n[16];
        text_addf(&t, "%s%s%s", p->step[i].text, p->step[i].hear ? "  Hear: " : "", p->step[i].hear ? p->step[i].hear : "");
        double h = canvas_text_height(c, TYPE_SMALL, w - 30, text_cstr(&t));
        if (y + h - top > room) {
            text_release(&t);
            break;
        }
        snprintf(n, sizeof n, "%zu", right_of(a)->done + 1 + i - from + 1);
        canvas_text(c, x + 16, y, TYPE_SMALL, TONE_SOFT, ALIGN_RIGHT, n);
        canvas_paragraph(c, x + 28, y, w - 30, TYPE_SMALL, TONE_SOFT, ALIGN_LEFT, text_cstr(&t));
        y += h + 4;
        text_release(&t);
    }
    return y - top;
}

/* The movement as it stands before this step, if the clock is where it is most likely to be. */
static void stands_now(struct app *a, const struct stance *at, double x, double y, double w, double h)
{
    struct righting *r = right_of(a);
    static struct plate plate;
    double scale = w / PLATE_W < h / PLATE_H ? w / PLATE_W : h / PLATE_H;
    struct moment m = stance_moment(at);
    if (h < 130)
        return;
    memset(&plate, 0, sizeof plate);
    plate.clock = r->works.clock;
    plate.pointed = PART_NONE;
    plate_pose_rest(&plate.pose, &r->works, &m);
    plate_draw(&plate, &a->canvas, x + (w - PLATE_W * scale) / 2, y, scale);
    canvas_name(&a->canvas, x, y, w, PLATE_H * scale, "stands-now");
}

/* A plan that does not reach the end for all that may be the case says so before its first step. */
static double why_not(struct canvas *c, const struct plan *p, double x, double y, double w)
{
    double top = y;
    if (p->found || !p->why)
        return 0;
    canvas_text(c, x, y, TYPE_LABEL, TONE_SOFT, ALIGN_LEFT,
                p->steps ? "MAY NOT REACH THE END BY HANDS ALONE" : "HANDS ALONE DO NOT BRING IT INTO STEP");
    y += canvas_line_height(c, TYPE_LABEL) + 4;
    y += canvas_paragraph(c, x, y, w, p->steps ? TYPE_BODY : TYPE_ASK, TONE_INK, ALIGN_LEFT, p->why) + 14;
    canvas_name(c, x, top, w, y - top, "why-not");
    return y - top;
}

static void sum_line(const struct plan *p, char line[200])
{
    double minutes = p->minutes < 1 ? 1 : p->minutes;
    int n = snprintf(line, 200, "About %.0f minute%s and %.0f blow%s in all", minutes, minutes < 1.5 ? "" : "s", p->blows,
                     p->blows > 0.5 && p->blows < 1.5 ? "" : "s");
    if (p->branches)
        n += snprintf(line + n, 200 - (size_t)n, " to be expected, at worst %.0f minutes", p->worst_min < 1 ? 1 : p->worst_min);
    snprintf(line + n, 200 - (size_t)n, "%s.", p->optimal ? "; there is no shorter way" : "");
}

/* The step in hand, what it comes to, what follows, and how the movement stands. */
static void going_on(struct app *a, const struct plan *p, double x, double y, double w, double bottom)
{
    struct righting *r = right_of(a);
    char line[200];
    y += step_in_hand(a, &p->step[r->step], x, y, w);
    if (r->at != p) /* that step was just done */
        return;
    if (r->done == 0 && p->step[r->step].before.hands_off)
        y += canvas_paragraph(&a->canvas, x, y, w, TYPE_SMALL, TONE_INK, ALIGN_LEFT, STEP_BARE) + 8;
    sum_line(r->plan, line);
    y += canvas_paragraph(&a->canvas, x, y, w, TYPE_ITALIC, TONE_SOFT, ALIGN_LEFT, line) + 10;
    double room = bottom - y;
    y += coming_steps(a, p, r->step + 1, x, y, w, room > 300 ? room * 0.45 : room) + 8;
    if (!r->hands_off && r->mays == 1) /* else nobody knows yet how it stands */
        stands_now(a, &p->step[r->step].before, x, y, w, bottom - y);
}

static double list_rules(struct app *a, double x, double y, double w)
{
    const char *rule[RULES_MOST];
    size_t n = step_text_rules(app_clock(a), rule);
    struct canvas *c = &a->canvas;
    double top = y;
    canvas_text(c, x, y, TYPE_LABEL, TONE_SOFT, ALIGN_LEFT, "RULES OF THIS MOVEMENT");
    y += canvas_line_height(c, TYPE_LABEL) + 6;
    for (size_t i = 0; i < n; i++)
        y += canvas_paragraph(c, x, y, w, TYPE_BODY, TONE_INK, ALIGN_LEFT, rule[i]) + 5;
    return y - top;
}

static void at_the_end(struct app *a, const struct plan *p, double x, double y, double w)
{
    struct canvas *c = &a->canvas;
    if (!p->found) {
        list_rules(a, x, y + 8, w);
        return;
    }
    canvas_text(c, x, y, TYPE_LABEL, TONE_SOFT, ALIGN_LEFT, "IN STEP");
    y += canvas_line_height(c, TYPE_LABEL) + 4;
    y += canvas_paragraph(c, x, y, w, TYPE_ASK, TONE_INK, ALIGN_LEFT, p->proof ? p->proof : "The clock is in step.") + 10;
    canvas_name(c, x, y, w, 1, "in-step");
}

static void plan_in_hand(struct app *a, double x, double y, double w, double h)
{
    struct righting *r = right_of(a);
    const struct plan *p = r->at;
    double bottom = y + h, bh = ui_button_height(&a->ui), bw = ui_button_width(&a->ui, "Print the sheet"), cw = w - bw - 24;
    double ch = canvas_text_height(&a->canvas, TYPE_SMALL, cw, STEP_CAUTION), foot = ch > bh ? ch : bh;
    if (!r->plan->found && r->plan->why)
        y += why_not(&a->canvas, r->step < p->steps ? r->plan : p, x, y, w);
    if (r->step < p->steps)
        going_on(a, p, x, y, w, bottom - foot - 12);
    else
        at_the_end(a, p, x, y, w);
    canvas_paragraph(&a->canvas, x, bottom - ch, cw, TYPE_SMALL, TONE_SOFT, ALIGN_LEFT, STEP_CAUTION);
    if (ui_button(&a->ui, "print-plan", x + w - bw, bottom - bh, bw, bh, "Print the sheet", 0))
        print_plan(a);
}

static void rules(struct app *a, double x, double y, double w)
{
    struct canvas *c = &a->canvas;
    y += canvas_paragraph(c, x, y, w, TYPE_ASK, TONE_INK, ALIGN_LEFT,
                          "Tell what the hands show and what was last heard; the shortest safe way into step is worked "
                          "out from this movement itself.") + 18;
    y += list_rules(a, x, y, w);
    canvas_paragraph(c, x, y + 8, w, TYPE_SMALL, TONE_SOFT, ALIGN_LEFT, STEP_CAUTION);
}

void right_screen(struct app *a, double x, double y, double w, double h)
{
    struct righting *r = right_of(a);
    struct canvas *c = &a->canvas;
    double head = canvas_line_height(c, TYPE_TITLE) + 12, left = w * 0.34 > 400 ? 400 : w * 0.34, gap = 36;
    take_plan(r);
    canvas_text(c, x, y, TYPE_TITLE, TONE_INK, ALIGN_LEFT, "Setting right");
    y += head;
    h -= head;
    double bh = ui_button_height(&a->ui) + 6, room = h - bh - 12;
    double top = ui_scroll_begin(&a->ui, "told", x, y, left, room);
    double inner = told_column(a, x, top, left - 8, room);
    ui_scroll_end(&a->ui, "told", x, y, left, room, inner);
    if (ui_button(&a->ui, "make-plan", x, y + h - bh, left, bh, r->plan && !r->stale ? "Begin again" : "Show the way",
                  UI_PRIMARY))
        ask_plan(a);
    canvas_rule(c, x + left + gap / 2, y, x + left + gap / 2, y + h, TONE_FAINT, WEIGHT_HAIR);
    double rx = x + left + gap, rw = w - left - gap;
    bool other = strcmp(r->clock, app_clock(a)->id) != 0;
    if (r->running)
        canvas_paragraph(c, rx, y, rw, TYPE_ASK, TONE_INK, ALIGN_LEFT, "Looking for the shortest way \xe2\x80\xa6");
    else if (r->fault && !other)
        canvas_paragraph(c, rx, y, rw, TYPE_ASK, TONE_INK, ALIGN_LEFT,
                         "No clock of this kind that is only out of step could have sounded so. It has a fault: take it as a call.");
    else if (r->at && !other)
        plan_in_hand(a, rx, y, rw, h);
    else
        rules(a, rx, y, rw);
}
