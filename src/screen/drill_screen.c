/* drill_screen.c - training rounds in the window: the same rounds as in the terminal.
 *
 * Making a round and taking an answer may need the finder or the planner, so they are done in a
 * thread of their own; while it works the screen shows what stood there and takes no answer.
 * Answers are kept in the journal by part, and weak parts come up again when they are due.
 */
#include <ctype.h>
#include <pthread.h>
#include <stdio.h>
#include <string.h>
#include <time.h>

#include "command/oil_rounds.h"
#include "draw/notes_row.h"
#include "drill/drill.h"
#include "journal/spaced.h"
#include "mem.h"
#include "screen/app.h"
#include "screen/job_card.h"
#include "screen/jobs_book.h"
#include "screen/window.h"

#define LOG_MOST 24
#define WEAK_MOST 32
#define MISSED_MOST 5
#define PATIENCE_MS 80 /* what is done by then never shows as waiting */

enum op { OP_NONE, OP_NEXT, OP_CHOOSE };

struct drilling {
    struct training room;
    struct drill drill;
    struct round *round;      /* the thread's while `running` */
    struct due_parts due;     /* of the journal; room.weak points into it */
    const char *weak[WEAK_MOST];
    struct record_list missed; /* before this session, and not answered right since */
    char *log[LOG_MOST];      /* what came of each choice of this round */
    size_t logs;
    bool begun, none;         /* none: no round of this kind can be made */
    bool hint, notes;
    /* the thread */
    pthread_t thread;
    pthread_mutex_t lock;
    pthread_cond_t done;
    enum op op;
    size_t pick;
    bool running, ready, headless;
};

static const struct { const char *title; } kind_rows[ROUND_KINDS] = {
    [ROUND_TIME] = {"Name the time"},      [ROUND_CLOCK] = {"Name the clock"},
    [ROUND_OIL] = {"Where does oil go"},   [ROUND_RESET] = {"Set it in step"},
    [ROUND_DEFECT] = {"Name the defect"},  [ROUND_FAULT] = {"Find the hidden fault"},
};

/* ---- life ---- */

static void due_read(struct app *a)
{
    struct drilling *d = a->drilling;
    struct journal *j = book_journal(a, false);
    struct err quiet = {0};
    char now[20];
    d->room.weaks = 0;
    due_parts_release(&d->due);
    d->due = (struct due_parts){0};
    if (j && drill_due(j, NULL, &d->due, &quiet)) {
        journal_now(j, now);
        for (size_t i = 0; i < d->due.count && d->room.weaks < WEAK_MOST; i++)
            if (strncmp(d->due.at[i].due_at, now, 10) <= 0)
                d->weak[d->room.weaks++] = d->due.at[i].part;
    }
    d->room.weak = d->weak;
    err_release(&quiet);
}

static void missed_read(struct app *a)
{
    struct journal *j = book_journal(a, false);
    struct err quiet = {0};
    if (j)
        drill_missed(j, NULL, MISSED_MOST, &a->drilling->missed, &quiet);
    err_release(&quiet);
}

static struct drilling *drill_of(struct app *a)
{
    if (a->drilling)
        return a->drilling;
    struct drilling *d = a->drilling = mem_alloc(sizeof *d);
    pthread_mutex_init(&d->lock, NULL);
    pthread_cond_init(&d->done, NULL);
    d->headless = a->headless;
    d->room = (struct training){.lib = a->lib, .words = a->words, .oil = oil_rounds};
    random_init(&d->room.random, a->headless ? 1 : (uint64_t)time(NULL));
    drill_init(&d->drill, &d->room, 1);
    due_read(a);
    missed_read(a);
    return d;
}

static void log_clear(struct drilling *d)
{
    while (d->logs > 0)
        mem_free(d->log[--d->logs]);
}

void drill_screen_free(struct drilling *d)
{
    if (!d)
        return;
    if (d->running)
        pthread_join(d->thread, NULL);
    round_free(d->round);
    drill_release(&d->drill);
    finder_free(d->room.finder);
    due_parts_release(&d->due);
    record_list_release(&d->missed);
    log_clear(d);
    pthread_mutex_destroy(&d->lock);
    pthread_cond_destroy(&d->done);
    mem_free(d);
}

/* ---- the thread ---- */

static void do_op(struct drilling *d)
{
    if (!d->room.finder)
        d->room.finder = finder_new(d->room.lib);
    if (d->op == OP_CHOOSE) {
        round_choose(d->round, d->pick);
    } else {
        round_free(d->round);
        d->round = drill_next(&d->drill);
    }
}

static void *work(void *with)
{
    struct drilling *d = with;
    do_op(d);
    pthread_mutex_lock(&d->lock);
    d->ready = true;
    pthread_cond_signal(&d->done);
    pthread_mutex_unlock(&d->lock);
    window_wake();
    return NULL;
}

static void keep_answer(struct app *a, const struct round *r)
{
    struct err e = {0};
    struct journal *j = strcmp(r->part, "none") != 0 ? book_journal(a, !a->headless) : NULL;
    char *note = drill_note(r);
    struct drill_answer answer = {r->part, r->right, round_kind_name(r->kind), r->score, note};
    if (j && !drill_keep(j, NULL, &answer, &e))
        app_notice(a, "%s", e.count > 0 ? e.line[0] : "The answer was not kept.");
    mem_free(note);
    err_release(&e);
    due_read(a);
}

/* What the thread did is taken over. */
static void op_finish(struct app *a)
{
    struct drilling *d = a->drilling;
    struct round *r = d->round;
    enum op op = d->op;
    d->op = OP_NONE;
    d->hint = false;
    d->none = r == NULL;
    if (op == OP_NEXT) {
        log_clear(d);
        d->notes = false;
    } else if (r) {
        if (r->came && d->logs < LOG_MOST)
            d->log[d->logs++] = mem_copy_text(r->came);
        if (r->done) {
            drill_take(&d->drill, r);
            keep_answer(a, r);
        }
    }
    a->ui.changed = true;
}

static bool op_ready(struct drilling *d, long patience_ms)
{
    struct timespec until;
    clock_gettime(CLOCK_REALTIME, &until);
    until.tv_nsec += patience_ms * 1000000;
    until.tv_sec += until.tv_nsec / 1000000000;
    until.tv_nsec %= 1000000000;
    pthread_mutex_lock(&d->lock);
    while (!d->ready && patience_ms > 0 && pthread_cond_timedwait(&d->done, &d->lock, &until) == 0)
        ;
    bool ready = d->ready;
    pthread_mutex_unlock(&d->lock);
    return ready;
}

static void op_collect(struct app *a, long patience_ms)
{
    struct drilling *d = a->drilling;
    if (!d->running || !op_ready(d, patience_ms))
        return;
    pthread_join(d->thread, NULL);
    d->running = false;
    op_finish(a);
}

static void op_begin(struct app *a, enum op op, size_t pick)
{
    struct drilling *d = a->drilling;
    if (d->running)
        return;
    d->op = op;
    d->pick = pick;
    d->begun = true;
    d->ready = false;
    show_stop(&a->show);
    d->running = !d->headless && pthread_create(&d->thread, NULL, work, d) == 0;
    if (d->running) {
        op_collect(a, PATIENCE_MS);
    } else {
        do_op(d);
        op_finish(a);
    }
}

/* ---- the round ---- */

/* What is asked stands large, what was told before it small. */
static double prompt_part(struct canvas *c, const char *prompt, double x, double y, double w)
{
    const char *ask = prompt;
    double top = y;
    for (const char *s = prompt; (s = strstr(s, ". ")) != NULL; s += 2)
        ask = s + 2;
    if (ask > prompt) {
        char *told = mem_copy_bytes(prompt, (size_t)(ask - prompt - 1));
        y += canvas_paragraph(c, x, y, w, TYPE_BODY, TONE_INK, ALIGN_LEFT, told) + 8;
        mem_free(told);
    }
    y += canvas_paragraph(c, x, y, w, TYPE_ASK, TONE_INK, ALIGN_LEFT, ask) + 12;
    canvas_name(c, x, top, w, y - top, "prompt");
    return y - top;
}

static int key_of(size_t i)
{
    return i < 9 ? '1' + (int)i : i < 9 + 26 ? 'a' + (int)i - 9 : 0;
}

/* Minutes of a choice, at its right. */
static void choice_minutes(struct canvas *c, const struct round_choice *k, double right, double mid)
{
    char minutes[24];
    snprintf(minutes, sizeof minutes, k->minutes < 10 ? "%.1f min" : "%.0f min", k->minutes);
    if (k->minutes > 0)
        canvas_text(c, right - 10, mid - canvas_line_height(c, TYPE_SMALL) / 2, TYPE_SMALL, TONE_SOFT, ALIGN_RIGHT, minutes);
}

/* Long ones break: only their ends may tell them apart.  *h gets the height. */
static bool choice_row(struct app *a, size_t i, const struct round_choice *k, bool hinted, double x, double y, double w,
                       double *h)
{
    struct canvas *c = &a->canvas;
    char name[32], cap[4] = {0};
    int code = key_of(i);
    enum type type = hinted ? TYPE_UI_BOLD : TYPE_UI;
    double room = w - 48 - (k->minutes > 0 ? canvas_text_width(c, TYPE_SMALL, "00.0 min") + 14 : 0);
    *h = canvas_text_height(c, type, room, k->text) + 12;
    snprintf(name, sizeof name, "choice-%zu", i + 1);
    cap[0] = (char)(code >= 'a' ? code - 'a' + 'A' : code);
    struct ui_touch t = ui_area(&a->ui, name, x, y, w, *h);
    canvas_box(c, x, y, w, *h, 3, t.over || t.held ? TONE_SHADE : TONE_CARD, hinted ? TONE_INK : TONE_FAINT,
               hinted ? WEIGHT_BOLD : WEIGHT_FINE);
    canvas_text(c, x + 18, y + 6, TYPE_UI_BOLD, TONE_SOFT, ALIGN_CENTRE, cap);
    if (hinted)
        canvas_name(c, x, y, w, *h, "hinted");
    canvas_paragraph(c, x + 36, y + 6, room, type, TONE_INK, ALIGN_LEFT, k->text);
    choice_minutes(c, k, x + w, y + *h / 2);
    return t.pressed || (code && ui_letter(&a->ui, code));
}

static double choices_part(struct app *a, double x, double y, double w)
{
    struct drilling *d = a->drilling;
    const struct round *r = d->round;
    size_t best = d->hint ? round_best(r) : ROUND_NO_CHOICE, hit = ROUND_NO_CHOICE;
    double h = 0, top = y;
    for (size_t i = 0; i < r->choices; i++, y += h + 4)
        if (choice_row(a, i, &r->choice[i], i == best, x, y, w, &h))
            hit = i;
    if (d->hint && best == ROUND_NO_CHOICE)
        y += canvas_paragraph(&a->canvas, x, y, w, TYPE_ITALIC, TONE_SOFT, ALIGN_LEFT,
                              "What an expert would do is not among these.");
    if (hit != ROUND_NO_CHOICE)
        op_begin(a, OP_CHOOSE, hit);
    return y - top;
}

/* The movement in question; when all is over, where on it the fault was. */
static double part_plate(struct app *a, const struct round *r, double x, double y, double w)
{
    static struct plate plate;
    struct works works;
    struct moment m;
    enum plate_part part = plate_part_of(r->part);
    double scale = w / PLATE_W;
    if (scale > 0.5)
        scale = 0.5;
    memset(&plate, 0, sizeof plate);
    plate.clock = r->clock;
    plate.pointed = PART_NONE;
    works_init(&works, r->clock, NULL, 0);
    moment_init(&m, &works, 609);
    plate_pose_rest(&plate.pose, &works, &m);
    if (r->done && part != PART_NONE && (r->kind == ROUND_FAULT || r->kind == ROUND_DEFECT))
        plate.belief[part] = 1;
    plate_draw(&plate, &a->canvas, x + (w - PLATE_W * scale) / 2, y, scale);
    return PLATE_H * scale;
}

static double result_part(struct app *a, double x, double y, double w)
{
    struct canvas *c = &a->canvas;
    const struct round *r = a->drilling->round;
    char line[120];
    double top = y;
    if (r->best_min > 0)
        snprintf(line, sizeof line, "%s  %d of 100.  You took %.1f minutes, the best line %.1f.", r->right ? "Right." : "Not so.",
                 r->score, r->spent_min, r->best_min);
    else
        snprintf(line, sizeof line, "%s  %d of 100.", r->right ? "Right." : "Not so.", r->score);
    y += canvas_paragraph(c, x, y, w, TYPE_ASK, TONE_INK, ALIGN_LEFT, line) + 6;
    y += canvas_paragraph(c, x, y, w, TYPE_BODY, TONE_INK, ALIGN_LEFT, r->review) + 12;
    double bw = ui_button_width(&a->ui, "Next round") + 40;
    if (ui_key_button(&a->ui, "next-round", x, y, bw, 0, "N", 'n', "Next round", UI_PRIMARY))
        op_begin(a, OP_NEXT, 0);
    else
        return y + ui_button_height(&a->ui) + 14 + part_plate(a, r, x, y + ui_button_height(&a->ui) + 14, w) - top;
    return y - top;
}

static double notes_part(struct app *a, const struct round *r, double x, double y, double w)
{
    struct notes heard;
    const struct train *chime = clock_train(r->clock, TRAIN_CHIME);
    size_t i = 0;
    while (i < r->events.count && !event_sounds(&r->events.at[i]))
        i++;
    if (i == r->events.count)
        return 0;
    notes_of_events(&heard, r->clock, &r->events, r->events.at[i].letoff);
    return notes_row_draw(&a->canvas, x, y, w, chime && chime->tunes > 0 ? chime->tune[0]->bells : 1, &heard, NULL) + 6;
}

static double round_part(struct app *a, double x, double y, double w)
{
    struct drilling *d = a->drilling;
    const struct round *r = d->round;
    double top = y;
    if (r->done)
        y += canvas_paragraph(&a->canvas, x, y, w, TYPE_SMALL, TONE_SOFT, ALIGN_LEFT, r->prompt) + 10;
    else
        y += prompt_part(&a->canvas, r->prompt, x, y, w);
    if (d->notes)
        y += notes_part(a, r, x, y, w);
    if (!r->done)
        return y + choices_part(a, x, y, w) - top;
    return y + result_part(a, x, y, w) - top;
}

/* ---- the head and the left column ---- */

static void hear(struct app *a, const struct round *r)
{
    show_take(&a->show, r->clock, &r->events);
    show_play(&a->show, a->now_s);
}

static void head_buttons(struct app *a, double x, double y, double w)
{
    struct drilling *d = a->drilling;
    struct ui *u = &a->ui;
    const struct round *r = d->running ? NULL : d->round;
    double hear_w = ui_button_width(u, "Hear it") + 34, hint_w = ui_button_width(u, "A hint") + 34;
    bool sounds = r && r->events.count > 0;
    if (ui_key_button(u, "hint", x + w - hint_w, y, hint_w, 0, "F8", UI_F8, "A hint",
                      !r || r->done ? UI_OFF : d->hint ? UI_ON : 0))
        d->hint = !d->hint;
    if (ui_key_button(u, "play-round", x + w - hint_w - 8 - hear_w, y, hear_w, 0, "F7", UI_F7,
                      a->show.playing ? "playing" : "Hear it", sounds ? 0 : UI_OFF)) {
        hear(a, r);
        d->notes = true;
    }
}

static const char *const welcome =
    "Rounds that grow harder: name the time or the clock by its sound, find where oil goes, set a clock in step, find "
    "the hidden fault by asking. The finder and the planner know the shortest way; you are marked against it.";

static void left_column(struct app *a, double x, double y, double w, double h)
{
    struct drilling *d = a->drilling;
    struct canvas *c = &a->canvas;
    char label[80];
    if (d->running || !d->begun || d->none) {
        const char *text = d->running ? "One moment \xe2\x80\xa6" : d->none ? "No round of this kind can be made." : welcome;
        y += canvas_paragraph(c, x, y, w, TYPE_ASK, TONE_INK, ALIGN_LEFT, text) + 20;
        if (!d->running && ui_key_button(&a->ui, "begin-drill", x, y, 0, 0, "N", 'n', "Begin", UI_PRIMARY))
            op_begin(a, OP_NEXT, 0);
        return;
    }
    snprintf(label, sizeof label, "ROUND %zu \xc2\xb7 %s \xc2\xb7 LEVEL %d", d->drill.rounds + (d->round->done ? 0 : 1),
             kind_rows[d->round->kind].title, d->round->level);
    for (char *l = label; *l; l++)
        *l = (char)toupper((unsigned char)*l);
    y += leaf_section(c, x, y, w, label) + 4;
    h -= canvas_line_height(c, TYPE_LABEL) + 11;
    double top = ui_scroll_begin(&a->ui, "round", x, y, w, h);
    double inner = round_part(a, x + 4, top + 4, w - 12) + 12;
    ui_scroll_end(&a->ui, "round", x, y, w, h, inner);
}

/* ---- the right column ---- */

static double chips(struct app *a, const char *const *label, const char *prefix, int n, int first, int now, int *hit,
                    double x, double y, double w)
{
    double cx = x, cw, top = y;
    for (int i = 0; i < n; i++) {
        char name[40];
        snprintf(name, sizeof name, "%s-%s", prefix, label[i]);
        if (cx > x && cx + canvas_text_width(&a->canvas, TYPE_SMALL, label[i]) + 34 > x + w) {
            cx = x;
            y += ui_chip_height(&a->ui) + 6;
        }
        if (ui_chip(&a->ui, name, cx, y, label[i], now == i + first, &cw))
            *hit = i + first;
        cx += cw + 6;
    }
    return y + ui_chip_height(&a->ui) + 12 - top;
}

static double wishes(struct app *a, double x, double y, double w)
{
    struct drilling *d = a->drilling;
    static const char *const levels[] = {"1", "2", "3", "4", "5"};
    const char *kinds[ROUND_KINDS + 1] = {"all"};
    int kind = -2, level = 0;
    double top = y;
    for (int i = 0; i < ROUND_KINDS; i++)
        kinds[i + 1] = round_kind_name((enum round_kind)i);
    y += leaf_section(&a->canvas, x, y, w, "KIND OF ROUND");
    y += chips(a, kinds, "kind", ROUND_KINDS + 1, -1, d->drill.only, &kind, x, y, w);
    y += leaf_section(&a->canvas, x, y, w, "LEVEL");
    y += chips(a, levels, "level", 5, 1, d->drill.level, &level, x, y, w);
    if (d->running)
        return y - top;
    if (kind >= -1)
        d->drill.only = kind;
    if (level)
        d->drill.level = level;
    if ((kind >= -1 || level) && d->begun)
        op_begin(a, OP_NEXT, 0);
    return y - top;
}

static double score_part(struct app *a, double x, double y, double w)
{
    struct drilling *d = a->drilling;
    struct canvas *c = &a->canvas;
    char score[16], line[80];
    if (d->drill.rounds == 0)
        return 0;
    snprintf(score, sizeof score, "%.0f", drill_score(&d->drill));
    snprintf(line, sizeof line, "of 100 after %zu round%s", d->drill.rounds, d->drill.rounds == 1 ? "" : "s");
    double sw = canvas_text(c, x, y, TYPE_TITLE, TONE_INK, ALIGN_LEFT, score);
    canvas_text_fit(c, x + sw + 10, y + 12, w - sw - 10, TYPE_SMALL, TONE_SOFT, ALIGN_LEFT, line);
    return canvas_line_height(c, TYPE_TITLE) + 10;
}

static double log_part(struct app *a, double x, double y, double w)
{
    const struct drilling *d = a->drilling;
    struct canvas *c = &a->canvas;
    double top = y;
    if (d->logs == 0)
        return 0;
    y += leaf_section(c, x, y, w, "WHAT CAME OF IT");
    for (size_t i = d->logs; i-- > 0 && i + 6 >= d->logs;) {
        canvas_text(c, x, y, TYPE_SMALL, TONE_SOFT, ALIGN_LEFT, "\xe2\x80\x93");
        y += canvas_paragraph(c, x + 14, y, w - 14, TYPE_SMALL, TONE_INK, ALIGN_LEFT, d->log[i]) + 3;
    }
    return y - top + 10;
}

static double weak_part(struct app *a, double x, double y, double w)
{
    const struct drilling *d = a->drilling;
    struct canvas *c = &a->canvas;
    double top = y, line = canvas_line_height(c, TYPE_SMALL) + 3;
    if (d->due.count == 0)
        return 0;
    y += leaf_section(c, x, y, w, "PARTS, WHEN THEY COME UP AGAIN");
    for (size_t i = 0; i < d->due.count && i < 8; i++, y += line) {
        const struct due_part *p = &d->due.at[i];
        char day[24], right[64];
        snprintf(right, sizeof right, "%zu of %zu right, %s", p->right, p->asked, leaf_day(p->due_at, false, day));
        double rw = canvas_text(c, x + w, y, TYPE_SMALL, TONE_SOFT, ALIGN_RIGHT, right);
        canvas_text_fit(c, x, y, w - rw - 10, TYPE_SMALL, i < d->room.weaks ? TONE_INK : TONE_SOFT, ALIGN_LEFT, p->part);
    }
    return y - top + 10;
}

static double miss_line(struct canvas *c, const char *head, const char *asked, const char *told, double x, double y, double w)
{
    double top = y;
    y += canvas_paragraph(c, x, y, w, TYPE_ITALIC, TONE_INK, ALIGN_LEFT, head);
    if (asked)
        y += canvas_paragraph(c, x, y, w, TYPE_SMALL, TONE_SOFT, ALIGN_LEFT, asked);
    return y + canvas_paragraph(c, x, y, w, TYPE_SMALL, TONE_INK, ALIGN_LEFT, told) + 8 - top;
}

static const char *kind_title(const char *kind)
{
    int k = round_kind_of(kind);
    return k < 0 ? kind : kind_rows[k].title;
}

/* Of this session and of those before, the latest first. */
static double misses_part(struct app *a, double x, double y, double w)
{
    const struct drilling *d = a->drilling;
    struct canvas *c = &a->canvas;
    double top = y;
    if (d->drill.misses + d->missed.count == 0)
        return 0;
    y += leaf_section(c, x, y, w, "TO LOOK AT AGAIN");
    for (size_t i = d->drill.misses; i-- > 0 && i + 5 >= d->drill.misses;) {
        const struct drill_miss *m = &d->drill.miss[i];
        y += miss_line(c, kind_rows[m->kind].title, m->prompt, m->review, x, y, w);
    }
    for (size_t i = 0; i < d->missed.count; i++) {
        const struct record *r = &d->missed.at[i];
        char day[24], head[96];
        snprintf(head, sizeof head, "%s, %s", kind_title(record_text(r, "round")), leaf_day(record_text(r, "made_at"), false, day));
        y += miss_line(c, head, NULL, record_text(r, "note"), x, y, w);
    }
    return y - top;
}

/* Where seeing the movement gives nothing away. */
static double plate_beside(struct app *a, double x, double y, double w)
{
    const struct drilling *d = a->drilling;
    const struct round *r = d->running ? NULL : d->round;
    if (!r || r->done || r->kind == ROUND_TIME || r->kind == ROUND_CLOCK)
        return 0;
    return part_plate(a, r, x, y, w) + 10;
}

static double right_column(struct app *a, double x, double y, double w)
{
    double top = y;
    y += score_part(a, x, y, w);
    y += wishes(a, x, y, w);
    if (!a->drilling->running)
        y += log_part(a, x, y, w);
    y += plate_beside(a, x, y, w);
    y += weak_part(a, x, y, w);
    y += misses_part(a, x, y, w);
    return y - top;
}

void drill_screen(struct app *a, double x, double y, double w, double h)
{
    struct canvas *c = &a->canvas;
    double head = canvas_line_height(c, TYPE_TITLE) + 12, gap = 32, right_w = w > 1000 ? 340 : w * 0.36;
    double left_w = w - right_w - gap, rx = x + left_w + gap;
    drill_of(a);
    op_collect(a, 0);
    canvas_text(c, x, y, TYPE_TITLE, TONE_INK, ALIGN_LEFT, "Drill");
    head_buttons(a, x, y + 2, left_w);
    left_column(a, x, y + head, left_w, h - head);
    canvas_rule(c, rx - gap / 2, y + 4, rx - gap / 2, y + h, TONE_FAINT, WEIGHT_HAIR);
    double top = ui_scroll_begin(&a->ui, "session", rx, y, right_w, h);
    double inner = right_column(a, rx, top + 4, right_w - 10) + 12;
    ui_scroll_end(&a->ui, "session", rx, y, right_w, h, inner);
}
