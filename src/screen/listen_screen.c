/* listen_screen.c - hearing a clock: a recording dropped in, or the microphone.
 *
 * A recording is decoded and heard in a thread of its own.  What was heard is shown as a picture
 * with every blow named, and let-off by let-off; each can be put into the call at its time.
 */
#include <math.h>
#include <pthread.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "command/hear.h"
#include "command/listen_live.h"
#include "draw/spectro.h"
#include "listen/decoder.h"
#include "listen/hearing.h"
#include "listen/listener.h"
#include "listen/spectrogram.h"
#include "mem.h"
#include "screen/app.h"
#include "screen/desk_priv.h"
#include "sound/microphone.h"
#include "screen/window.h"

#define ROWS 40
#define COLUMNS 700
#define BANDS 160
#define HIGH_HZ 4000

struct listening {
    pthread_t thread;
    bool threaded, joined;
    pthread_mutex_t lock;
    bool done, good;          /* of the thread, under the lock */
    bool cut;                 /* the recording broke off, or goes on */
    double decoded_s, whole_s;
    bool headless;
    char path[1024];
    char trouble[400];
    struct pcm sound;
    struct hearing hearing;
    const struct library *lib;
    const struct clock *clock; /* told in the call; NULL: sounders keep their own numbers */
    struct heard_clock named;
    bool is_named;
    struct spectrogram picture;
    struct heard_row row[ROWS];
    size_t rows;
    struct text when[ROWS];   /* time typed for each let-off */
    bool taken[ROWS];
    struct microphone *mic;
    struct listener *listener;
    double picture_s;         /* wall time of the last live picture */
};

/* ---- what was heard ---- */

/* Twelve hours strike one to twelve: a guess to be corrected. */
static void guess_time(struct listening *l, size_t i)
{
    const struct heard_row *r = &l->row[i];
    text_clear(&l->when[i]);
    if (r->strike >= 1 && r->strike <= 12)
        text_addf(&l->when[i], "%d:00", r->strike);
}

/* The same rows with the clock's own hammers, where it is known what clock was heard. */
static void name_rows(struct listening *l)
{
    heard_clock_release(&l->named);
    memset(&l->named, 0, sizeof l->named);
    hear_name(&l->named, l->lib, l->clock, &l->hearing);
    l->is_named = true;
    l->rows = l->named.letoffs < ROWS ? l->named.letoffs : ROWS;
    for (size_t i = 0; i < l->rows; i++) {
        const struct heard_letoff *from = &l->named.letoff[i];
        struct heard_row *r = &l->row[i];
        size_t last = from->first + (from->count > 0 ? from->count - 1 : 0);
        *r = (struct heard_row){.t_s = from->t_s, .strike = from->strikes, .strike_p = (float)from->explained,
                                .note_interval_s = from->note_interval_s, .strike_interval_s = from->strike_interval_s,
                                .note_how = from->note_how, .strike_how = from->strike_how};
        r->until_s = last < l->hearing.blow_count ? l->hearing.blow[last].t_s : from->t_s;
        memcpy(r->notes, from->notes, sizeof r->notes);
    }
}

static void look(struct listening *l, bool name)
{
    spectrogram_of(&l->picture, &l->sound, COLUMNS, BANDS, HIGH_HZ, -60);
    size_t before = l->rows;
    if (name && l->clock && l->hearing.blow_count > 0) {
        name_rows(l);
    } else {
        l->rows = hearing_rows(&l->hearing, l->row, ROWS);
        l->rows = l->rows > ROWS ? ROWS : l->rows;
    }
    for (size_t i = 0; i < l->rows; i++)
        if (i >= before || (l->when[i].length == 0 && !l->taken[i]))
            guess_time(l, i);
}

static void progress(void *with, double done_s, double whole_s)
{
    struct listening *l = with;
    pthread_mutex_lock(&l->lock);
    l->decoded_s = done_s;
    l->whole_s = whole_s;
    pthread_mutex_unlock(&l->lock);
    if (!l->headless)
        window_wake();
}

static bool block(void *with, const float *samples, size_t frames)
{
    struct listening *l = with;
    pcm_add(&l->sound, samples, frames);
    return true;
}

static void *hear(void *with)
{
    struct listening *l = with;
    struct err e = {0};
    struct decoder_job job = {.path = l->path, .block = block, .progress = progress, .with = l, .seconds_most = LISTEN_LIVE_MOST_S};
    pcm_init(&l->sound, DECODER_RATE_HZ);
    bool good = decoder_run(&job, &l->cut, &e);
    if (good)
        hearing_from_pcm(&l->hearing, &l->sound);
    else
        snprintf(l->trouble, sizeof l->trouble, "%.390s", e.count > 0 ? e.line[0] : "It could not be read.");
    err_release(&e);
    if (good)
        look(l, true);
    pthread_mutex_lock(&l->lock);
    l->done = true;
    l->good = good;
    pthread_mutex_unlock(&l->lock);
    if (!l->headless)
        window_wake();
    return NULL;
}

static void stop_thread(struct listening *l)
{
    if (l->threaded && !l->joined)
        pthread_join(l->thread, NULL);
    l->joined = true;
}

void listen_free(struct listening *l)
{
    if (!l)
        return;
    stop_thread(l);
    microphone_close(l->mic);
    listener_free(l->listener);
    pcm_release(&l->sound);
    hearing_release(&l->hearing);
    heard_clock_release(&l->named);
    spectrogram_release(&l->picture);
    for (size_t i = 0; i < ROWS; i++)
        text_release(&l->when[i]);
    pthread_mutex_destroy(&l->lock);
    mem_free(l);
}

static struct listening *listen_fresh(struct app *a)
{
    listen_free(a->listening);
    a->listening = mem_alloc(sizeof *a->listening);
    a->listening->headless = a->headless;
    a->listening->lib = a->lib;
    a->listening->clock = a->call.sheet.clock[0] ? library_find_clock(a->lib, a->call.sheet.clock) : NULL;
    pthread_mutex_init(&a->listening->lock, NULL);
    return a->listening;
}

bool listen_take_file(struct app *a, const char *path)
{
    struct listening *l = listen_fresh(a);
    snprintf(l->path, sizeof l->path, "%s", path);
    if (a->headless) {
        l->joined = true;
        hear(l);
        return true;
    }
    l->threaded = pthread_create(&l->thread, NULL, hear, l) == 0;
    return l->threaded;
}

/* ---- the microphone ---- */

static void mic_start(struct app *a)
{
    struct err e = {0};
    struct listening *l = listen_fresh(a);
    l->joined = true;
    l->mic = a->headless ? NULL : microphone_open(LISTENER_RATE_HZ, &e);
    if (!l->mic)
        snprintf(l->trouble, sizeof l->trouble, "%.390s", e.count > 0 ? e.line[0] : "There is no microphone here.");
    else
        l->listener = listener_new();
    pcm_init(&l->sound, LISTENER_RATE_HZ);
    err_release(&e);
}

static void mic_stop(struct listening *l)
{
    microphone_close(l->mic);
    l->mic = NULL;
    listener_finish(l->listener);
    listener_hearing(l->listener, &l->hearing);
    look(l, true);
    l->done = l->good = true;
}

bool listen_tick(struct app *a, double now_s)
{
    struct listening *l = a->listening;
    float samples[4096];
    size_t n;
    if (!l || !l->mic)
        return false;
    while ((n = microphone_take(l->mic, samples, sizeof samples / sizeof *samples)) > 0) {
        listener_feed(l->listener, samples, n);
        pcm_add(&l->sound, samples, n);
    }
    if ((double)l->sound.frames >= LISTEN_LIVE_MOST_S * LISTENER_RATE_HZ) {
        mic_stop(l);
        app_notice(a, "Half an hour has been heard, the longest that is listened for at once.");
    } else if (!microphone_alive(l->mic)) {
        mic_stop(l);
        app_notice(a, "The microphone has gone; what was heard so far is kept.");
    } else if (now_s - l->picture_s > 1 && l->sound.frames > LISTENER_RATE_HZ) {
        l->picture_s = now_s;
        listener_hearing(l->listener, &l->hearing);
        look(l, false);
    }
    return true;
}

/* ---- drawing ---- */

/* Bell number of a chime hammer, "h" for the hour's; without a clock the sounder's own number. */
static void name_of(const struct listening *l, size_t i, char out[4])
{
    const struct heard_blow *b = &l->hearing.blow[i];
    uint8_t hammer = l->is_named && l->named.hammer ? l->named.hammer[i] : FIT_UNNAMED;
    if (!l->is_named || !l->named.hammer) {
        snprintf(out, 4, "%d", b->sounder % 99 + 1);
        return;
    }
    snprintf(out, 4, hammer == FIT_UNNAMED ? "?" : "h");
    const struct train *chime = clock_train(l->clock, TRAIN_CHIME);
    for (int bell = 0; chime && bell < CLOCK_SOUNDERS && hammer != FIT_UNNAMED && chime->tunes > 0; bell++)
        if (bell < chime->tune[0]->bells && chime->hammer[bell] == hammer)
            snprintf(out, 4, "%d", (bell + 1) % 100);
}

static void draw_picture(struct app *a, double x, double y, double w, double h)
{
    struct listening *l = a->listening;
    const struct hearing *k = &l->hearing;
    size_t n = k->blow_count < 400 ? k->blow_count : 400;
    struct spectro_blow *blow = mem_alloc((n + 1) * sizeof *blow);
    char (*name)[4] = mem_alloc((n + 1) * sizeof *name);
    for (size_t i = 0; i < n; i++) {
        bool odd = k->blow[i].quality & (QUALITY_WEAK | QUALITY_DOUBLE | QUALITY_BUZZ | QUALITY_THUD);
        name_of(l, i, name[i]);
        blow[i] = (struct spectro_blow){k->blow[i].t_s, name[i], odd, (double)k->blow[i].sure};
    }
    struct spectro s = {l->picture.db, (int)l->picture.columns, (int)l->picture.rows, l->picture.column_s,
                        l->picture.row_hz, (double)l->picture.floor_db, blow, n};
    spectro_draw(&a->canvas, x, y, w, h, &s);
    mem_free(blow);
    mem_free(name);
}

/* Everything that was heard of a let-off as the call sheet's shorthand says it, without its time. */
static void row_words(const struct app *a, const struct listening *l, size_t i, struct text *out)
{
    struct heard_clock unnamed = {.letoffs = 0};
    struct text line = {0};
    struct sheet s;
    const char *words;
    if (!l->is_named)
        hear_name(&unnamed, l->lib, NULL, &l->hearing);
    sheet_init(&s, a->words);
    hear_rows(l->is_named ? &l->named : &unnamed, l->is_named ? l->clock : NULL, &l->hearing, -1, &s);
    while (s.heards > i + 1)
        sheet_remove_heard(&s, s.heards - 1);
    while (s.heards > 1)
        sheet_remove_heard(&s, 0);
    sheet_print_shorthand(&s, &line);
    words = strchr(text_cstr(&line), ' ');
    text_add(out, words ? words : "");
    text_release(&line);
    sheet_release(&s);
    heard_clock_release(&unnamed);
}

static void put_in_call(struct app *a, size_t i)
{
    struct listening *l = a->listening;
    struct text line = {0};
    struct err e = {0};
    const char *when = text_cstr(&l->when[i]);
    text_add(&line, when[0] ? when : "?");
    row_words(a, l, i, &line);
    if (call_add(&a->call, text_cstr(&line), &e)) {
        l->taken[i] = true;
        app_notice(a, "Taken into the call: %s", text_cstr(&line));
    } else {
        app_notice(a, "%s", e.count > 0 ? e.line[0] : "Not taken.");
    }
    err_release(&e);
    text_release(&line);
}

static double row_line(struct app *a, size_t i, double x, double y, double w)
{
    struct ui *u = &a->ui;
    struct canvas *c = &a->canvas;
    struct listening *l = a->listening;
    const struct heard_row *r = &l->row[i];
    double h = ui_field_height(u), line = canvas_line_height(c, TYPE_BODY), bw = ui_button_width(u, "Into the call");
    char name[32];
    struct text t = {0}, how = {0};
    text_addf(&t, "%.1f\xe2\x80\x93%.1f s:  ", r->t_s, r->until_s);
    if (r->notes[0])
        text_addf(&t, "notes %s  ", r->notes);
    if (r->strike > 0)
        text_addf(&t, "struck %d", r->strike);
    hearing_how_words(r->strike_how | r->note_how, &how);
    if (how.length > 0)
        text_addf(&t, "  %s", text_cstr(&how));
    snprintf(name, sizeof name, "when-%zu", i + 1);
    ui_field(u, name, x, y, 96, &l->when[i], "at \xe2\x80\xa6");
    canvas_text_fit(c, x + 110, y + (h - line) / 2, w - 120 - bw, TYPE_BODY, TONE_INK, ALIGN_LEFT, text_cstr(&t));
    snprintf(name, sizeof name, "take-%zu", i + 1);
    if (ui_button(u, name, x + w - bw, y, bw, h, l->taken[i] ? "Taken" : "Into the call", l->taken[i] ? UI_OFF : 0))
        put_in_call(a, i);
    text_release(&t);
    text_release(&how);
    return h + 6;
}

static bool taken_any(const struct listening *l)
{
    for (size_t i = 0; i < l->rows; i++)
        if (l->taken[i])
            return true;
    return false;
}

#define CAUSES_SHOWN 3
#define GROUPS_SHOWN 2

static double causes_height(struct app *a)
{
    double line = canvas_line_height(&a->canvas, TYPE_BODY);
    return a->advice.causes ? 16 + line * (1.5 + CAUSES_SHOWN + 2 * GROUPS_SHOWN) : 0;
}

/* What the call comes to with what was taken; the desk has more of it. */
static void causes_foot(struct app *a, double x, double y, double w)
{
    struct canvas *c = &a->canvas;
    canvas_text(c, x, y, TYPE_LABEL, TONE_SOFT, ALIGN_LEFT, a->advice.version == a->call.version ? "LIKELY CAUSES OF WHAT IS IN THE CALL"
                                                    : "LIKELY CAUSES, A MOMENT \xe2\x80\xa6");
    y += canvas_line_height(c, TYPE_LABEL) + 4;
    for (size_t i = 0; i < a->advice.causes && i < CAUSES_SHOWN; i++) {
        char line[200];
        snprintf(line, sizeof line, "%.0f %%  %s", 100 * a->advice.cause[i].p, a->advice.cause[i].name);
        canvas_text_fit(c, x, y, w, TYPE_BODY, TONE_INK, ALIGN_LEFT, line);
        y += canvas_line_height(c, TYPE_BODY);
    }
    desk_alike_part(a, x, y + 4, w, GROUPS_SHOWN);
}

static void draw_heard(struct app *a, double x, double y, double w, double h)
{
    struct listening *l = a->listening;
    struct canvas *c = &a->canvas;
    struct text sum = {0};
    double pic = h * 0.5 > 330 ? 330 : h * 0.5, top;
    draw_picture(a, x, y, w, pic);
    y += pic + 10;
    hearing_summary(&l->hearing, &sum);
    if (l->cut)
        text_add(&sum, " The recording breaks off, or is longer than half an hour; what came before was used.");
    y += canvas_paragraph(c, x, y, w, TYPE_STRONG, TONE_INK, ALIGN_LEFT, text_cstr(&sum)) + 8;
    text_release(&sum);
    double foot = taken_any(l) ? causes_height(a) : 0, list_h = h - pic - 60 - foot, inner = 0;
    top = ui_scroll_begin(&a->ui, "heard-rows", x, y, w - 10, list_h);
    for (size_t i = 0; i < l->rows; i++)
        inner += row_line(a, i, x, top + inner, w - 14);
    ui_scroll_end(&a->ui, "heard-rows", x, y, w - 10, list_h, inner);
    if (foot > 0)
        causes_foot(a, x, y + fmin(inner, list_h) + 14, w);
}

static void draw_waiting(struct app *a, double x, double y, double w)
{
    struct listening *l = a->listening;
    char line[200];
    pthread_mutex_lock(&l->lock);
    double done = l->decoded_s, whole = l->whole_s;
    pthread_mutex_unlock(&l->lock);
    snprintf(line, sizeof line, whole > 0 ? "Listening: %.0f of %.0f seconds \xe2\x80\xa6" : "Listening: %.0f seconds \xe2\x80\xa6",
             done, whole);
    canvas_paragraph(&a->canvas, x, y, w, TYPE_ASK, TONE_INK, ALIGN_LEFT, line);
}

static const char *const listen_idle =
    "Drop a recording here: anything a telephone makes. Or let the clock be heard through the microphone. Every blow "
    "is found and named, counted, and can be put into the call.";

static void mic_button(struct app *a, double x, double y)
{
    struct ui *u = &a->ui;
    bool live = a->listening && a->listening->mic;
    double w = ui_button_width(u, "Listen through the microphone");
    if (ui_button(u, "microphone", x - w, y, w, 0, live ? "Stop listening" : "Listen through the microphone",
                  live ? UI_ON : 0)) {
        if (live)
            mic_stop(a->listening);
        else
            mic_start(a);
    }
}

void listen_screen(struct app *a, double x, double y, double w, double h)
{
    struct canvas *c = &a->canvas;
    struct listening *l = a->listening;
    double head = canvas_line_height(c, TYPE_TITLE) + 14;
    canvas_text(c, x, y, TYPE_TITLE, TONE_INK, ALIGN_LEFT, "Listening");
    mic_button(a, x + w, y + 2);
    l = a->listening;
    y += head;
    h -= head;
    if (l && l->mic) {
        const struct level *v = listener_level(l->listener);
        spectro_level(c, x, y, w - 90, 22, (double)v->rms_db, (double)v->peak_db, v->clipped);
        y += 32;
        h -= 32;
    }
    bool done = true;
    if (l && l->threaded) {
        pthread_mutex_lock(&l->lock);
        done = l->done;
        pthread_mutex_unlock(&l->lock);
    }
    if (l && l->trouble[0] && done)
        canvas_paragraph(c, x, y, w, TYPE_ASK, TONE_INK, ALIGN_LEFT, l->trouble);
    else if (l && !done)
        draw_waiting(a, x, y, w);
    else if (l && l->picture.columns > 0)
        draw_heard(a, x, y, w, h);
    else
        canvas_paragraph(c, x, y, w * 0.8, TYPE_ASK, TONE_INK, ALIGN_LEFT, l && l->mic ? "Waiting for the clock \xe2\x80\xa6" : listen_idle);
}
