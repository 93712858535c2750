/* verb_listen.c - a recording, the microphone or typed taps: what was struck and when; with a clock,
 * the call sheet and the cause. */
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "command/command.h"
#include "command/desk.h"
#include "command/hear_cause.h"
#include "command/hear_hints.h"
#include "command/hear_rhythm.h"
#include "command/listen_live.h"
#include "command/listen_picture.h"
#include "command/listen_print.h"
#include "command/options.h"
#include "command/picture_file.h"
#include "command/setup.h"
#include "listen/decoder.h"
#include "listen/listener.h"
#include "mem.h"

#define SOUND_JITTER_S 0.005
#define TAP_JITTER_S 0.03
#define LONG_S 60 /* of a recording: how far it is with it is shown on a terminal */

struct feeding {
    struct listener *listener;
    struct pcm *sound; /* or NULL */
};

struct listen {
    const char *clock, *out, *taps;
    int at_min;
    long most;
    double seconds;
    bool json, sheet_only, live;
    struct desk desk;
    const struct clock *known;
    struct decoding *decoding; /* of a file, until it is heard */
    struct feeding feeding;
    struct pcm sound; /* kept for the picture only */
    struct hearing hearing;
    struct heard_clock heard;
    struct heard_rhythm rhythm[HEAR_RHYTHMS];
    size_t rhythms;
    struct heard_cause cause;
    bool cut;
};

/* ---- hearing ---- */

static bool feed(void *with, const float *samples, size_t frames)
{
    struct feeding *f = with;
    listener_feed(f->listener, samples, frames);
    if (f->sound)
        pcm_add(f->sound, samples, frames);
    return true;
}

/* A line on a terminal for long recordings. */
static void progress(void *with, double done_s, double whole_s)
{
    (void)with;
    if (!isatty(2) || whole_s < LONG_S)
        return;
    fprintf(stderr, "\rlistening: %.0f of %.0f s ", done_s, whole_s);
    if (done_s >= whole_s)
        fputc('\n', stderr);
}

static bool hear_file(struct listen *l, struct err *e)
{
    l->feeding = (struct feeding){listener_new(), l->out ? &l->sound : NULL};
    bool good = decoder_end(l->decoding, &l->cut, e);
    l->decoding = NULL;
    if (good) {
        listener_finish(l->feeding.listener);
        listener_hearing(l->feeding.listener, &l->hearing);
    }
    listener_free(l->feeding.listener);
    return good;
}

static bool hear(struct listen *l, struct err *e)
{
    pcm_init(&l->sound, LISTENER_RATE_HZ);
    if (l->taps)
        return strcmp(l->taps, "-") != 0 ? listen_taps(l->taps, &l->hearing, e) : listen_taps_typed(&l->hearing, e);
    if (l->live)
        return listen_live(l->seconds, &l->hearing, l->out ? &l->sound : NULL, e);
    return hear_file(l, e);
}

/* ---- answering ---- */

/* Of an unknown clock a count alone says nothing: any hour is right at some time. */
static bool tells_of_fault(const struct listen *l)
{
    const struct sheet *s = &l->desk.sheet;
    if (l->known || l->at_min >= 0)
        return true;
    for (size_t i = 0; i < s->heards; i++)
        if (word_set_count(&s->heard[i].how) > 0)
            return true;
    return false;
}

static bool answer(struct listen *l, struct err *e)
{
    bool any = l->hearing.blow_count > 0, causes = any && !l->sheet_only && tells_of_fault(l);
    struct listen_print p = {.clock = l->known,
                             .hearing = &l->hearing,
                             .heard = &l->heard,
                             .sheet = any ? &l->desk.sheet : NULL,
                             .rhythm = l->rhythm,
                             .rhythms = l->rhythms,
                             .cut = l->cut,
                             .most = (size_t)l->most};
    if (causes && !heard_cause_init(&l->cause, &l->desk, &l->heard, l->known, &l->hearing, l->at_min)) {
        err_add(e, "No clock fits what was heard.");
        return false;
    }
    p.cause = causes ? &l->cause : NULL;
    if (any && !causes && !l->sheet_only)
        p.no_cause = "Nothing in this points to a fault; say which clock it is (--clock) or what the hands showed (--at).";
    if (l->json)
        listen_print_json(&p);
    else
        listen_print_text(&p);
    return true;
}

/* Causes add rows to copies of the desk's sheet; the sheet that is shown gets its own. */
static void write_rows(struct listen *l)
{
    struct sheet *s = &l->desk.sheet;
    if (!l->known)
        hear_hints(&l->heard, l->desk.lib, s);
    hear_rows(&l->heard, l->known, &l->hearing, l->at_min, s);
}

/* The decoder loads its libraries while the data folder is read. */
static bool begin_hearing(struct listen *l, const char *path, struct err *e)
{
    struct decoder_job job = {.path = path, .block = feed, .progress = progress, .with = &l->feeding};
    l->decoding = path ? decoder_begin(&job, e) : NULL;
    return !path || l->decoding;
}

static void listen(struct listen *l, const char *path, struct err *e)
{
    if (!begin_hearing(l, path, e) || !desk_open(&l->desk, e) ||
        (l->clock && !(l->known = setup_clock(l->desk.lib, l->clock, e))) || !hear(l, e))
        return;
    hear_name(&l->heard, l->desk.lib, l->known, &l->hearing);
    l->rhythms = hear_rhythm(&l->heard, l->known, &l->hearing, l->taps ? TAP_JITTER_S : SOUND_JITTER_S, l->rhythm);
    if (l->known)
        desk_clock(&l->desk, l->known->id, e);
    write_rows(l);
    struct listen_picture picture = {l->known, &l->hearing, &l->heard, &l->sound, l->at_min};
    if (answer(l, e) && l->out)
        listen_picture(&picture, l->out, e);
}

/* One of a recording, the microphone and taps. */
static bool one_source(const struct listen *l, size_t plains, struct err *e)
{
    size_t sources = plains + (l->live ? 1 : 0) + (l->taps ? 1 : 0);
    if (sources != 1)
        err_add(e, "listen wants one of a RECORDING, --live and --taps; met %s.", sources ? "several" : "none");
    if (l->seconds > 0 && !l->live)
        err_add(e, "--seconds goes with --live.");
    if (l->out)
        picture_ending(l->out, e);
    return e->count == 0;
}

static void release(struct listen *l)
{
    decoder_drop(l->decoding);
    heard_cause_release(&l->cause);
    heard_clock_release(&l->heard);
    hearing_release(&l->hearing);
    pcm_release(&l->sound);
    desk_close(&l->desk);
    mem_free(l);
}

int verb_listen(int argc, char **argv)
{
    struct listen *l = mem_alloc(sizeof *l);
    l->at_min = -1;
    const struct option options[] = {
        {"--clock", OPTION_TEXT, &l->clock, "ID", "which clock it is (letoff list clocks)", 0, 0},
        {"--at", OPTION_TIME, &l->at_min, "H:MM", "what the hands showed when it began to sound", 0, 0},
        {"--live", OPTION_FLAG, &l->live, NULL, "listen through the microphone", 0, 0},
        {"--seconds", OPTION_REAL, &l->seconds, "N", "for so long; otherwise until ^C, at most 1800", 0.1, LISTEN_LIVE_MOST_S},
        {"--taps", OPTION_TEXT, &l->taps, "'0 1.2 ...'",
         "blows at these seconds (2.4:1 is sounder 1, the highest); - reads them, or Enter keys, from the input", 0, 0},
        {"--out", OPTION_TEXT, &l->out, "FILE", "a picture as well: .png, .svg or .pdf", 0, 0},
        {"--most", OPTION_INT, &l->most, "N", "show at most so many causes", 1, 500},
        {"--no-cause", OPTION_FLAG, &l->sheet_only, NULL, "only what was heard and the call sheet", 0, 0},
        {"--json", OPTION_FLAG, &l->json, NULL, "print the answer as JSON", 0, 0},
    };
    const struct usage u = {"letoff listen RECORDING | --live | --taps '0 1.2 ...' [--clock ID] [--at 3:00]",
                            "Hears which hammers fell and when, counts the hour, writes the call sheet and\n"
                            "names the likely cause.  Takes any sound or video file a telephone makes.",
                            options, sizeof options / sizeof options[0], 0, 1};
    struct err e = {0};
    const char *path = NULL;
    size_t plains = 0;
    if (options_read(&u, argc, argv, &path, &plains, &e) == OPTIONS_OK && one_source(l, plains, &e))
        listen(l, path, &e);
    release(l);
    return options_end(&e);
}
