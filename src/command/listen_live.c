#include "command/listen_live.h"

#include <math.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include "listen/listener.h"
#include "listen/taps.h"
#include "mem.h"
#include "sound/microphone.h"
#include "text.h"

#define BLOCK 2048
#define PAUSE_NS 30000000
#define BAR 30
#define BAR_DB 60.0

/* ---- the microphone ---- */

static volatile sig_atomic_t stopped;

static void stop(int signal_number)
{
    (void)signal_number;
    stopped = 1;
}

static double now_s(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + (double)t.tv_nsec * 1e-9;
}

static void show_level(const struct listener *l, double heard_s)
{
    const struct level *v = listener_level(l);
    int full = (int)((1 + (double)v->rms_db / BAR_DB) * BAR + 0.5);
    char bar[BAR + 1];
    for (int i = 0; i < BAR; i++)
        bar[i] = i < full ? '#' : '.';
    bar[BAR] = 0;
    fprintf(stderr, "\r%5.0f s  [%s] %4.0f dB  %zu blows%s ", heard_s, bar, (double)v->rms_db,
            listener_blow_count(l), v->clipped ? "  too loud" : "          ");
}

/* All that waits in the ring. */
static size_t take(struct microphone *m, struct listener *l, struct pcm *sound)
{
    float samples[BLOCK];
    size_t n, all = 0;
    while ((n = microphone_take(m, samples, BLOCK)) > 0) {
        listener_feed(l, samples, n);
        if (sound)
            pcm_add(sound, samples, n);
        all += n;
    }
    return all;
}

/* The time is that of the sound; a device that gives none is left after as long by the clock, and
 * a moment more. */
static void listen_on(struct microphone *m, struct listener *l, struct pcm *sound, double seconds)
{
    double began = now_s(), shown = began, most = seconds > 0 ? seconds : LISTEN_LIVE_MOST_S;
    size_t frames = 0;
    bool meter = isatty(2);
    while (!stopped && (double)frames < most * LISTENER_RATE_HZ && now_s() - began < most + 2) {
        struct timespec pause = {.tv_nsec = PAUSE_NS};
        frames += take(m, l, sound);
        if (!microphone_alive(m))
            break;
        if (meter && now_s() - shown > 0.1) {
            shown = now_s();
            show_level(l, (double)frames / LISTENER_RATE_HZ);
        }
        nanosleep(&pause, NULL);
    }
    if (meter)
        fputc('\n', stderr);
    if (seconds <= 0 && (double)frames >= most * LISTENER_RATE_HZ)
        fprintf(stderr, "Stopped after %.0f s, the longest that is listened for at once.\n", most);
}

bool listen_live(double seconds, struct hearing *h, struct pcm *sound, struct err *e)
{
    struct microphone *m = microphone_open(LISTENER_RATE_HZ, e);
    if (!m)
        return false;
    struct listener *l = listener_new();
    struct sigaction quiet = {.sa_handler = stop}, before;
    stopped = 0;
    sigaction(SIGINT, &quiet, &before);
    if (isatty(2))
        fprintf(stderr, "Listening; ^C ends it.\n");
    listen_on(m, l, sound, seconds);
    sigaction(SIGINT, &before, NULL);
    microphone_close(m);
    listener_finish(l);
    listener_hearing(l, h);
    listener_free(l);
    return true;
}

/* ---- taps ---- */

struct taps {
    struct tap *at;
    size_t count, room;
    bool too_many; /* more were given */
};

static void add_tap(struct taps *t, double t_s, int key)
{
    t->at = mem_grow(t->at, &t->room, t->count + 1, sizeof *t->at);
    t->at[t->count++] = (struct tap){t_s, key};
}

static void read_word(struct taps *t, const char *word, struct err *e)
{
    char *end;
    double t_s = strtod(word, &end);
    int key = 0;
    bool good = end != word && isfinite(t_s) && t_s >= 0 && t_s <= LISTEN_TAP_LAST_S;
    if (good && *end == ':' && end[1] >= '0' && end[1] <= '9' && !end[2])
        key = end[1] - '0';
    else
        good = good && !*end;
    if (!good)
        err_add(e, "\"%.40s\" is no tap; expected seconds up to %.0f, or seconds:SOUNDER with 1 to 9, as in 2.4 or 2.4:1.",
                word, LISTEN_TAP_LAST_S);
    else if (t->count < LISTEN_TAPS_MOST)
        add_tap(t, t_s, key);
    else
        t->too_many = true;
}

static bool hear_taps(struct taps *t, struct hearing *h, struct err *e)
{
    bool any = t->count > 0;
    if (any)
        taps_to_hearing(t->at, t->count, h);
    else
        err_add(e, "No tap was given; expected times in seconds, as in \"0 1.2 2.4\".");
    mem_free(t->at);
    return any;
}

bool listen_taps(const char *text, struct hearing *h, struct err *e)
{
    struct taps t = {0};
    struct err wrong = {0};
    char *copy = mem_alloc(strlen(text) + 1), *rest = NULL;
    memcpy(copy, text, strlen(text) + 1);
    for (char *w = strtok_r(copy, " ,\t\r\n", &rest); w; w = strtok_r(NULL, " ,\t\r\n", &rest))
        read_word(&t, w, &wrong);
    mem_free(copy);
    if (t.too_many)
        err_add(&wrong, "There are more taps than the %d that are taken.", LISTEN_TAPS_MOST);
    if (!wrong.count)
        return hear_taps(&t, h, e);
    err_move(e, &wrong);
    mem_free(t.at);
    return false;
}

static void tap_along(struct taps *t)
{
    char line[64];
    double first = -1;
    fprintf(stderr, "Press Enter at each blow (a digit before it names the sounder, 1 the highest); q ends.\n");
    while (t->count < LISTEN_TAPS_MOST && fgets(line, sizeof line, stdin) && line[0] != 'q') {
        double at = now_s();
        first = first < 0 ? at : first;
        add_tap(t, at - first, line[0] >= '0' && line[0] <= '9' ? line[0] - '0' : 0);
    }
}

bool listen_taps_typed(struct hearing *h, struct err *e)
{
    struct taps t = {0};
    if (isatty(0)) {
        tap_along(&t);
        return hear_taps(&t, h, e);
    }
    size_t length, bad;
    char *all = text_read_file("-", LISTEN_TYPED_MOST, &length, e);
    bool good = all && text_is_utf8(all, length, &bad);
    if (all && !good)
        err_add(e, "The taps are no text: byte %zu of the standard input is no character.", bad + 1);
    good = good && listen_taps(all, h, e);
    mem_free(all);
    return good;
}
