/* verb_listen.c - a recording: what was struck and when; with a clock, the call sheet and the cause. */
#include <jansson.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "command/command.h"
#include "command/desk.h"
#include "command/hear.h"
#include "command/options.h"
#include "command/setup.h"
#include "diagnose/report.h"
#include "listen/decoder.h"
#include "listen/listener.h"
#include "mem.h"

struct listen {
    const char *clock;
    int at_min;
    long most;
    bool json, sheet_only;
    struct desk desk;
    const struct clock *known;
    struct hearing hearing;
    struct heard_clock heard;
    bool cut;
};

static bool feed(void *with, const float *samples, size_t frames)
{
    listener_feed(with, samples, frames);
    return true;
}

/* A line on a terminal for long recordings. */
static void progress(void *with, double done_s, double whole_s)
{
    (void)with;
    if (!isatty(2) || whole_s < 60)
        return;
    fprintf(stderr, "\rlistening: %.0f of %.0f s ", done_s, whole_s);
    if (done_s >= whole_s)
        fputc('\n', stderr);
}

static bool hear(struct listen *l, const char *path, struct err *e)
{
    struct listener *listener = listener_new();
    struct decoder_job job = {.path = path, .block = feed, .progress = progress, .with = listener};
    bool good = decoder_run(&job, &l->cut, e);
    if (good) {
        listener_finish(listener);
        listener_hearing(listener, &l->hearing);
    }
    listener_free(listener);
    return good;
}

static const char *sounder_name(const struct listen *l, size_t blow, char number[24])
{
    if (l->known && l->heard.hammer[blow] != FIT_UNNAMED)
        return l->known->sounder[l->heard.hammer[blow]].name;
    snprintf(number, 24, "%d", l->hearing.blow[blow].sounder + 1);
    return number;
}

static void print_list(const struct listen *l)
{
    char number[24];
    for (size_t i = 0; i < l->hearing.blow_count; i++) {
        const struct heard_blow *b = &l->hearing.blow[i];
        printf("%9.3f s  %-12s %3.0f %%%s%s%s%s\n", b->t_s, sounder_name(l, i, number),
               100 * (double)(l->known ? l->heard.hammer_p[i] : b->p),
               b->quality & QUALITY_WEAK ? "  weak" : "", b->quality & QUALITY_DOUBLE ? "  double" : "",
               b->quality & QUALITY_BUZZ ? "  buzz" : "", b->quality & QUALITY_THUD ? "  thud" : "");
    }
}

static void print_text(struct listen *l, const struct report *r)
{
    struct text t = {0};
    hearing_summary(&l->hearing, &t);
    text_add(&t, "\n");
    if (l->cut)
        text_add(&t, "The recording breaks off; what came before was used.\n");
    fputs(text_cstr(&t), stdout);
    text_clear(&t);
    print_list(l);
    if (l->hearing.blow_count) {
        puts("\nCall sheet:");
        sheet_print(&l->desk.sheet, &t);
        fputs(text_cstr(&t), stdout);
        text_clear(&t);
    }
    if (r) {
        report_text(r, (size_t)l->most, &t);
        printf("\n%s", text_cstr(&t));
    }
    text_release(&t);
}

static json_t *quality_json(unsigned quality)
{
    static const char *const names[] = {"weak", "double", "buzz", "thud", "tinny", "loud"};
    json_t *list = json_array();
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++)
        if (quality & 1u << i)
            json_array_append_new(list, json_string(names[i]));
    return list;
}

static json_t *events_json(const struct listen *l)
{
    json_t *list = json_array();
    char number[24];
    for (size_t i = 0; i < l->hearing.blow_count; i++) {
        const struct heard_blow *b = &l->hearing.blow[i];
        json_array_append_new(list, json_pack("{s:f, s:s, s:f, s:f, s:o}", "t_s", b->t_s, "sounder",
                                              sounder_name(l, i, number), "p",
                                              (double)(l->known ? l->heard.hammer_p[i] : b->p),
                                              "strength", (double)b->strength, "quality",
                                              quality_json(b->quality)));
    }
    return list;
}

static json_t *sounders_json(const struct listen *l)
{
    json_t *list = json_array();
    for (size_t i = 0; i < l->hearing.sounder_count; i++) {
        const struct heard_sounder *s = &l->hearing.sounder[i];
        json_array_append_new(list, json_pack("{s:i, s:f, s:i, s:f}", "id", (int)i + 1, "pitch_hz", s->pitch_hz,
                                              "blows", (int)s->blows, "ring_s", (double)s->ring_s));
    }
    return list;
}

static void print_json(const struct listen *l, const struct report *r)
{
    struct text sheet = {0}, found = {0};
    json_t *o = json_object();
    json_object_set_new(o, "events", events_json(l));
    json_object_set_new(o, "sounders", sounders_json(l));
    if (l->hearing.blow_count)
        sheet_print(&l->desk.sheet, &sheet);
    json_object_set_new(o, "sheet", json_string(text_cstr(&sheet)));
    json_object_set_new(o, "causes", json_array());
    if (r) {
        report_json(r, (size_t)l->most, &found);
        json_t *answer = json_loads(text_cstr(&found), 0, NULL);
        json_object_update(o, answer);
        json_decref(answer);
    }
    json_dumpf(o, stdout, JSON_INDENT(2));
    putchar('\n');
    json_decref(o);
    text_release(&sheet);
    text_release(&found);
}

static void answer(struct listen *l, struct err *e)
{
    struct report r = {0};
    bool any = l->hearing.blow_count > 0 && !l->sheet_only;
    if (any && !report_init(&r, l->desk.finder, &l->desk.sheet, NULL)) {
        err_add(e, "No clock fits what was heard.");
        return;
    }
    if (l->json)
        print_json(l, any ? &r : NULL);
    else
        print_text(l, any ? &r : NULL);
    report_release(&r);
}

static void listen(struct listen *l, const char *path, struct err *e)
{
    if (!desk_open(&l->desk, e) || (l->clock && !(l->known = setup_clock(l->desk.lib, l->clock, e))) ||
        !hear(l, path, e))
        return;
    hear_name(&l->heard, l->desk.lib, l->known, &l->hearing);
    if (l->known)
        desk_clock(&l->desk, l->known->id, e);
    hear_rows(&l->heard, l->known, l->at_min, &l->desk.sheet);
    answer(l, e);
}

int verb_listen(int argc, char **argv)
{
    struct listen *l = mem_alloc(sizeof *l);
    l->at_min = -1;
    const struct option options[] = {
        {"--clock", OPTION_TEXT, &l->clock, "ID", "which clock it is (letoff list clocks)", 0, 0},
        {"--at", OPTION_TIME, &l->at_min, "H:MM", "what the hands showed when it began to sound", 0, 0},
        {"--most", OPTION_INT, &l->most, "N", "show at most so many causes", 1, 500},
        {"--no-cause", OPTION_FLAG, &l->sheet_only, NULL, "only what was heard and the call sheet", 0, 0},
        {"--json", OPTION_FLAG, &l->json, NULL, "print the answer as JSON", 0, 0},
    };
    const struct usage u = {"letoff listen RECORDING [--clock ID] [--at 3:00]",
                            "Hears which hammers fell and when, counts the hour, writes the call sheet and\n"
                            "names the likely cause.  Takes any sound or video file a telephone makes.",
                            options, sizeof options / sizeof options[0], 1, 1};
    struct err e = {0};
    const char *path = NULL;
    size_t plains = 0;
    if (options_read(&u, argc, argv, &path, &plains, &e) == OPTIONS_OK)
        listen(l, path, &e);
    heard_clock_release(&l->heard);
    hearing_release(&l->hearing);
    desk_close(&l->desk);
    mem_free(l);
    err_print(&e, stderr);
    int status = err_status(&e);
    err_release(&e);
    return status;
}
