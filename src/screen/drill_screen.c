/* drill_screen.c - training: something is hidden; listen, ask, answer, and see what would have been best.
 *
 * Rounds are made and answered in a thread of their own with a finder of their own, since the
 * hidden fault is marked against the whole belief.  The screen shows a round only while the thread
 * is at rest, so nobody touches it twice.
 */
#include <pthread.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "drill/drill.h"
#include "draw/oil_chart.h"
#include "journal/spaced.h"
#include "mem.h"
#include "screen/app.h"
#include "screen/window.h"

#define WEAK_MOST 16

struct drilling {
    struct training room;
    struct drill drill;
    struct round *round;
    bool taken;               /* the finished round is in the score */
    size_t hint;
    struct journal *journal;  /* NULL: nothing is kept */
    struct due_parts due;
    const char *weak[WEAK_MOST];
    /* the thread */
    pthread_t thread;
    pthread_mutex_t lock;
    bool running, ready, headless;
    size_t choose;            /* ROUND_NO_CHOICE: make the next round */
    struct round *made;
};

static size_t oil_places(const struct clock *c, struct oil_place *list, size_t room)
{
    struct oil_row row[OIL_ROWS];
    size_t n = oil_chart(c, row);
    n = n < room ? n : room;
    for (size_t i = 0; i < n; i++) {
        snprintf(list[i].place, sizeof list[i].place, "%.63s", row[i].place);
        list[i].wants = oil_name(row[i].oil);
        list[i].note = row[i].note;
    }
    return n;
}

/* Parts due again come first; a journal that is not there yet keeps nothing. */
static void take_weak(struct drilling *d)
{
    struct journal_options o = {.must_exist = true, .busy_ms = 1000};
    struct err e = {0};
    char now[20];
    d->journal = journal_open(NULL, &o, &e);
    if (d->journal && drill_due(d->journal, NULL, &d->due, &e)) {
        journal_now(d->journal, now);
        for (size_t i = 0; i < d->due.count && d->room.weaks < WEAK_MOST; i++)
            if (strncmp(d->due.at[i].due_at, now, 10) <= 0)
                d->weak[d->room.weaks++] = d->due.at[i].part;
    }
    d->room.weak = d->weak;
    err_release(&e);
}

static struct drilling *drill_of(struct app *a)
{
    if (!a->drilling) {
        struct drilling *d = a->drilling = mem_alloc(sizeof *d);
        d->headless = a->headless;
        d->hint = ROUND_NO_CHOICE;
        pthread_mutex_init(&d->lock, NULL);
        d->room = (struct training){.lib = a->lib, .words = a->words, .oil = oil_places};
        random_init(&d->room.random, a->headless ? 7 : (uint64_t)(window_now_s() * 1e6));
        take_weak(d);
        drill_init(&d->drill, &d->room, 1);
    }
    return a->drilling;
}

/* ---- the thread ---- */

static void do_work(struct drilling *d)
{
    if (!d->room.finder)
        d->room.finder = finder_new(d->room.lib);
    if (d->choose == ROUND_NO_CHOICE)
        d->made = drill_next(&d->drill);
    else
        round_choose(d->round, d->choose);
}

static void *work(void *with)
{
    struct drilling *d = with;
    do_work(d);
    pthread_mutex_lock(&d->lock);
    d->ready = true;
    pthread_mutex_unlock(&d->lock);
    if (!d->headless)
        window_wake();
    return NULL;
}

static void begin(struct drilling *d, size_t choose)
{
    d->choose = choose;
    d->hint = ROUND_NO_CHOICE;
    d->ready = false;
    if (d->headless) {
        do_work(d);
        d->ready = d->running = true;
        return;
    }
    d->running = pthread_create(&d->thread, NULL, work, d) == 0;
}

static void keep_round(struct drilling *d)
{
    struct err e = {0};
    drill_take(&d->drill, d->round);
    d->taken = true;
    if (d->journal && d->round->part && strcmp(d->round->part, "none") != 0)
        drill_keep(d->journal, NULL, d->round->part, d->round->right, &e);
    err_release(&e);
}

/* Set the sound of the round ready to be played. */
static void take_sound(struct app *a, struct drilling *d)
{
    if (d->round && d->round->events.count > 0)
        show_take(&a->show, d->round->clock, &d->round->events);
}

static void take_work(struct app *a, struct drilling *d)
{
    pthread_mutex_lock(&d->lock);
    bool ready = d->running && d->ready;
    pthread_mutex_unlock(&d->lock);
    if (!ready)
        return;
    if (!d->headless)
        pthread_join(d->thread, NULL);
    d->running = d->ready = false;
    if (d->choose == ROUND_NO_CHOICE) {
        round_free(d->round);
        d->round = d->made;
        d->made = NULL;
        d->taken = false;
    }
    take_sound(a, d);
    if (d->round && d->round->done && !d->taken)
        keep_round(d);
}

void drill_screen_free(struct drilling *d)
{
    if (!d)
        return;
    if (d->running && !d->headless)
        pthread_join(d->thread, NULL);
    round_free(d->made);
    round_free(d->round);
    drill_release(&d->drill);
    finder_free(d->room.finder);
    due_parts_release(&d->due);
    journal_close(d->journal);
    pthread_mutex_destroy(&d->lock);
    mem_free(d);
}

/* ---- drawing ---- */

static double line_pair(struct canvas *c, double x, double y, double w, const char *label, const char *value)
{
    canvas_text(c, x, y + 3, TYPE_LABEL, TONE_SOFT, ALIGN_LEFT, label);
    canvas_text(c, x + w, y, TYPE_STRONG, TONE_INK, ALIGN_RIGHT, value);
    double h = canvas_line_height(c, TYPE_STRONG) + 6;
    canvas_rule(c, x, y + h - 2, x + w, y + h - 2, TONE_FAINT, WEIGHT_HAIR);
    return h + 2;
}

/* The movement in question, at ten past ten, where knowing it gives nothing away. */
static void plate_below(struct app *a, double x, double y, double w, double h)
{
    const struct round *r = drill_of(a)->round;
    static struct plate plate;
    static struct works works;
    struct moment m;
    if (r->kind == ROUND_TIME || r->kind == ROUND_CLOCK || h < 160)
        return;
    double scale = w / PLATE_W < h / PLATE_H ? w / PLATE_W : h / PLATE_H;
    memset(&plate, 0, sizeof plate);
    plate.clock = r->clock;
    plate.pointed = PART_NONE;
    works_init(&works, r->clock, NULL, 0);
    moment_init(&m, &works, 610);
    plate_pose_rest(&plate.pose, &works, &m);
    plate_draw(&plate, &a->canvas, x + (w - PLATE_W * scale) / 2, y, scale);
}

static void score_column(struct app *a, double x, double y, double w, double bottom)
{
    struct drilling *d = drill_of(a);
    struct canvas *c = &a->canvas;
    char v[64];
    snprintf(v, sizeof v, "%d of 5", d->drill.level);
    y += line_pair(c, x, y, w, "LEVEL", v);
    snprintf(v, sizeof v, "%zu", d->drill.rounds);
    y += line_pair(c, x, y, w, "ROUNDS", v);
    snprintf(v, sizeof v, d->drill.rounds > 0 ? "%.0f of 100" : "\xe2\x80\x93", drill_score(&d->drill));
    y += line_pair(c, x, y, w, "SCORE", v);
    snprintf(v, sizeof v, "%.0f min, best %.0f", d->drill.spent_min, d->drill.best_min);
    y += line_pair(c, x, y, w, "ASKED", v);
    y += 14;
    canvas_text(c, x, y, TYPE_LABEL, TONE_SOFT, ALIGN_LEFT, "KIND OF ROUND");
    y += canvas_line_height(c, TYPE_LABEL) + 6;
    double at = x, cw;
    for (int k = -1; k < ROUND_KINDS; k++) {
        const char *label = k < 0 ? "any" : round_kind_name((enum round_kind)k);
        char name[40];
        if (at + canvas_text_width(c, TYPE_SMALL, label) + 34 > x + w && at > x) {
            at = x;
            y += ui_chip_height(&a->ui) + 5;
        }
        snprintf(name, sizeof name, "kind-%s", label);
        if (ui_chip(&a->ui, name, at, y, label, d->drill.only == k, &cw))
            d->drill.only = k;
        at += cw + 5;
    }
    y += ui_chip_height(&a->ui) + 18;
    double plate_h = w * PLATE_H / PLATE_W, foot = bottom - (d->round && !d->round->done ? plate_h + 10 : 0);
    if (d->round && !d->round->done && !d->running)
        plate_below(a, x, bottom - plate_h, w, plate_h);
    if (d->drill.misses == 0)
        return;
    canvas_text(c, x, y, TYPE_LABEL, TONE_SOFT, ALIGN_LEFT, "TO LOOK AT AGAIN");
    y += canvas_line_height(c, TYPE_LABEL) + 6;
    for (size_t i = d->drill.misses; i-- > 0 && y < foot - 60;) {
        const struct drill_miss *m = &d->drill.miss[i];
        y += canvas_paragraph(c, x, y, w, TYPE_SMALL, TONE_INK, ALIGN_LEFT, m->review) + 8;
    }
}

/* 1 .. 9, then a, b, c ... */
static int key_of(size_t i, char cap[4])
{
    char ch = i < 9 ? (char)('1' + i) : i < 9 + 26 ? (char)('a' + i - 9) : 0;
    cap[0] = ch >= 'a' ? (char)(ch - 32) : ch;
    cap[1] = 0;
    return ch;
}

static double choices(struct app *a, double x, double y, double w, double room)
{
    struct drilling *d = drill_of(a);
    struct ui *u = &a->ui;
    struct round *r = d->round;
    double h = ui_button_height(u) + 2;
    bool two = (double)r->choices * (h + 6) > room;
    double cw = two ? (w - 12) / 2 : w;
    size_t half = two ? (r->choices + 1) / 2 : r->choices, pick = ROUND_NO_CHOICE;
    for (size_t i = 0; i < r->choices; i++) {
        char name[32], cap[4], label[300];
        int code = key_of(i, cap);
        double cx = x + (i >= half ? cw + 12 : 0), cy = y + (double)(i % half) * (h + 6);
        snprintf(name, sizeof name, "choice-%zu", i + 1);
        if (r->choice[i].minutes > 0)
            snprintf(label, sizeof label, "%.240s  (%.1f min)", r->choice[i].text, r->choice[i].minutes);
        else
            snprintf(label, sizeof label, "%.280s", r->choice[i].text);
        if (ui_key_button(u, name, cx, cy, cw, h, cap, code, label, d->hint == i ? UI_ON : 0))
            pick = i;
    }
    double tall = (double)half * (h + 6);
    if (pick != ROUND_NO_CHOICE)
        begin(d, pick);
    return tall;
}

static void head_buttons(struct app *a, double right, double y)
{
    struct drilling *d = drill_of(a);
    struct ui *u = &a->ui;
    struct round *r = d->round;
    double w = ui_button_width(u, "Show me") + 34;
    if (!r->done && ui_key_button(u, "hint", right - w, y, w, 0, "?", 'h', "Show me", 0))
        d->hint = round_best(r);
    double pw = ui_button_width(u, "Play it") + 40;
    if (r->events.count > 0 &&
        ui_key_button(u, "play-round", right - w - pw - 8, y, pw, 0, "F7", UI_F7, a->show.playing ? "Playing \xe2\x80\xa6" : "Play it", 0)) {
        take_sound(a, d);
        show_play(&a->show, a->now_s);
    }
}

static double round_column(struct app *a, double x, double y, double w, double h)
{
    struct drilling *d = drill_of(a);
    struct canvas *c = &a->canvas;
    struct round *r = d->round;
    double top = y, bottom = y + h, bh = ui_button_height(&a->ui);
    char label[64];
    snprintf(label, sizeof label, "ROUND %zu", d->drill.rounds + (d->taken ? 0 : 1));
    canvas_text(c, x, y + 8, TYPE_LABEL, TONE_SOFT, ALIGN_LEFT, label);
    head_buttons(a, x + w, y);
    y += bh + 10;
    if (r->came && r->came[0])
        y += canvas_paragraph(c, x, y, w, TYPE_STRONG, TONE_INK, ALIGN_LEFT, r->came) + 10;
    if (!r->done) {
        enum type type = strlen(r->prompt) > 260 ? TYPE_BODY : strlen(r->prompt) > 140 ? TYPE_HEAD : TYPE_ASK;
        y += canvas_paragraph(c, x, y, w, type, TONE_INK, ALIGN_LEFT, r->prompt) + 14;
        canvas_name(c, x, y, w, 1, "round");
        return y + choices(a, x, y, w, bottom - y) - top;
    }
    snprintf(label, sizeof label, "%s  %d of 100", r->right ? "Right." : "Not so.", r->score);
    y += canvas_paragraph(c, x, y, w, TYPE_ASK, TONE_INK, ALIGN_LEFT, label) + 8;
    y += canvas_paragraph(c, x, y, w, TYPE_BODY, TONE_INK, ALIGN_LEFT, r->review) + 16;
    if (ui_key_button(&a->ui, "next-round", x, y, 0, bh + 4, "N", 'n', "Next round", UI_PRIMARY))
        begin(d, ROUND_NO_CHOICE);
    return y + bh + 8 - top;
}

static void scrolled_round(struct app *a, double x, double y, double w, double h)
{
    double at = ui_scroll_begin(&a->ui, "round-in-hand", x, y, w, h);
    double tall = round_column(a, x, at, w - 6, h);
    ui_scroll_end(&a->ui, "round-in-hand", x, y, w, h, tall);
}

void drill_screen(struct app *a, double x, double y, double w, double h)
{
    struct drilling *d = drill_of(a);
    struct canvas *c = &a->canvas;
    double head = canvas_line_height(c, TYPE_TITLE) + 14, right = w * 0.28 > 320 ? 320 : w * 0.28, gap = 40;
    double main_w = w - right - gap;
    take_work(a, d);
    canvas_text(c, x, y, TYPE_TITLE, TONE_INK, ALIGN_LEFT, "Drill");
    y += head;
    h -= head;
    score_column(a, x + w - right, y, right, y + h);
    canvas_rule(c, x + main_w + gap / 2, y, x + main_w + gap / 2, y + h, TONE_FAINT, WEIGHT_HAIR);
    if (d->running && !(d->headless && d->ready))
        canvas_paragraph(c, x, y, main_w, TYPE_ASK, TONE_INK, ALIGN_LEFT, "One moment \xe2\x80\xa6");
    else if (d->round)
        scrolled_round(a, x, y, main_w, h);
    else {
        double ty = y + canvas_paragraph(c, x, y, main_w, TYPE_ASK, TONE_INK, ALIGN_LEFT,
                                         "Name the sound, name the clock, place the oil, set it right, find the hidden fault by "
                                         "asking. Rounds grow harder as you grow better.") + 20;
        if (ui_key_button(&a->ui, "begin-drill", x, ty, 0, 0, "N", 'n', "Begin", UI_PRIMARY))
            begin(d, ROUND_NO_CHOICE);
    }
}
