/* verb_play.c - what a clock sounds, as it should or with a fault: table, JSON, sound, files. */
#include <jansson.h>
#include <stdio.h>
#include <string.h>
#include <time.h>

#include "command/command.h"
#include "command/options.h"
#include "command/play_picture.h"
#include "command/setup.h"
#include "command/tally.h"
#include "command/voices.h"
#include "mem.h"
#include "sound/midi.h"
#include "sound/perform.h"
#include "sound/score.h"

struct play {
    const char *out, *state;
    int from_min, to_min;
    struct option_list faults;
    bool no_sound, json;
    long seed;
    struct library *lib;
    struct setup setup;
    struct event_list events, due; /* of the faulty clock, and of the same clock in order */
};

#define SILENCE_MOST_S 4.0  /* gaps between let-offs are cut to this when played */
#define SILENCE_FILE_S 16.0 /* and to this in a file: longer than any pause within a let-off, so that it can be
                               heard apart again */

static int span_min(const struct play *p)
{
    int span = (p->to_min - p->from_min + 1440) % 1440;
    return span ? span : 1440;
}

/* Let both clocks run over the span; a clock that stops stays where it stopped. */
static void run(struct play *p)
{
    struct random model;
    struct chance chance;
    struct moment sound;
    random_init(&model, (uint64_t)p->seed);
    chance_draw(&chance, &model);
    movement_turn(&p->setup.works, &p->setup.moment, span_min(p), BY_TIME, &chance, &p->events);
    moment_init(&sound, &p->setup.sound, p->from_min);
    movement_turn(&p->setup.sound, &sound, span_min(p), BY_TIME, &chance, &p->due);
}

/* --- text ------------------------------------------------------------------------------------ */

static const char *dial24(int min, char out[16])
{
    snprintf(out, 16, "%2d:%02d", (min / 60) % 24, min % 60);
    return out;
}

static int apart_min(int a, int b)
{
    int d = (a - b + 2160) % 1440 - 720;
    return d < 0 ? -d : d;
}

/* The let-off of `list` nearest to the hands at `min`, not yet taken; -1 if none is near. */
static int nearest(const struct tally *list, const bool *taken, int n, int min)
{
    int best = -1;
    for (int i = 0; i < n; i++)
        if (!taken[i] && apart_min(list[i].hand_min, min) < 20 &&
            (best < 0 || apart_min(list[i].hand_min, min) < apart_min(list[best].hand_min, min)))
            best = i;
    return best;
}

static int gather(const struct clock *c, const struct event_list *events, struct tally **list)
{
    size_t room = 0;
    int n = 0;
    *list = NULL;
    for (size_t i = 0; i < events->count;) {
        *list = mem_grow(*list, &room, (size_t)n + 1, sizeof **list);
        i = tally_take(&(*list)[n++], c, events, i);
    }
    return n;
}

static void print_row(const struct tally *due, const struct tally *got)
{
    struct text should = {0}, does = {0};
    char at[16];
    if (due)
        tally_say(due, &should);
    if (got)
        tally_say(got, &does);
    bool same = due && got && tally_same(due, got);
    dial24(got ? got->hand_min : due->hand_min, at);
    if (same)
        printf("  %s   %s\n", at, text_cstr(&does));
    else
        printf("> %s   %s      (should be: %s)\n", at, got ? text_cstr(&does) : "nothing",
               due ? text_cstr(&should) : "nothing");
    text_release(&should);
    text_release(&does);
}

static void print_table(struct play *p)
{
    struct tally *due, *got;
    const struct clock *c = p->setup.clock;
    int dues = gather(c, &p->due, &due), gots = gather(c, &p->events, &got);
    bool *taken = mem_alloc((size_t)dues + 1);
    printf("%s%s\n", c->name, p->setup.faults ? ", with a fault" : "");
    for (size_t i = 0; i < p->setup.faults; i++)
        printf("  %s: %s\n", p->setup.fault[i]->id, p->setup.fault[i]->name);
    for (int i = 0; i < gots; i++) {
        int at = nearest(due, taken, dues, got[i].hand_min);
        if (at >= 0)
            taken[at] = true;
        print_row(at >= 0 ? &due[at] : NULL, &got[i]);
    }
    for (int i = 0; i < dues; i++)
        if (!taken[i])
            print_row(&due[i], NULL);
    for (int i = 0; i < dues; i++)
        tally_release(&due[i]);
    for (int i = 0; i < gots; i++)
        tally_release(&got[i]);
    mem_free(due);
    mem_free(got);
    mem_free(taken);
}

/* --- JSON ------------------------------------------------------------------------------------- */

static json_t *quality_names(unsigned quality)
{
    static const char *const names[] = {"weak", "double", "buzz", "thud", "tinny", "loud"};
    json_t *list = json_array();
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++)
        if (quality & 1u << i)
            json_array_append_new(list, json_string(names[i]));
    return list;
}

static json_t *event_json(const struct clock *c, const struct event *e)
{
    char hand[16];
    snprintf(hand, sizeof hand, "%d:%02d", e->hand_min / 60, e->hand_min % 60);
    json_t *o = json_pack("{s:f, s:s, s:s, s:s, s:f}", "t_s", e->t_s, "hand", hand, "kind",
                          event_kind_name((enum event_kind)e->kind), "train",
                          event_train_name((enum event_train)e->train), "strength", (double)e->strength);
    json_object_set_new(o, "sounder", e->sounder < c->sounders ? json_string(c->sounder[e->sounder].name)
                                                               : json_null());
    json_object_set_new(o, "letoff", e->letoff >= 0 ? json_integer(e->letoff) : json_null());
    json_object_set_new(o, "quality", quality_names(e->quality));
    return o;
}

static void print_json(const struct play *p)
{
    json_t *list = json_array();
    for (size_t i = 0; i < p->events.count; i++)
        json_array_append_new(list, event_json(p->setup.clock, &p->events.at[i]));
    json_t *o = json_pack("{s:s, s:o}", "clock", p->setup.clock->id, "events", list);
    json_dumpf(o, stdout, JSON_COMPACT | JSON_REAL_PRECISION(9));
    putchar('\n');
    json_decref(o);
}

/* --- sound -------------------------------------------------------------------------------------- */

static bool ends_with(const char *s, const char *end)
{
    size_t n = strlen(s), m = strlen(end);
    return n >= m && !strcmp(s + n - m, end);
}

static bool write_wav(const struct event_list *events, const struct score_sounder *table, size_t n,
                      const struct voice_set *voices, const struct score_style *style,
                      const char *path, struct err *e)
{
    struct pcm pcm = {0};
    bool good = score_render(events, table, n, voices, style, &pcm, e) && pcm_write_wav(&pcm, path, e);
    pcm_release(&pcm);
    return good;
}

/* What stands under the head of a picture. */
static const char *picture_line(const struct play *p, char *line, size_t room)
{
    size_t n = (size_t)snprintf(line, room, "Due above, sounded below");
    for (size_t i = 0; i < p->setup.faults && n < room; i++)
        n += (size_t)snprintf(line + n, room - n, "%s%s", i ? ", " : "; with: ", p->setup.fault[i]->name);
    return line;
}

static bool write_out(const struct play *p, const struct voice_set *voices, struct err *e)
{
    struct score_sounder table[CLOCK_SOUNDERS];
    size_t n = setup_sounders(p->setup.clock, table);
    struct score_style style = {.works = true, .lead_s = 0.5, .gap_most_s = SILENCE_FILE_S};
    char line[300];
    if (ends_with(p->out, ".wav"))
        return write_wav(&p->events, table, n, voices, &style, p->out, e);
    if (ends_with(p->out, ".mid"))
        return midi_save(&p->events, table, n, voices, &style, 1, p->out, e);
    return play_picture(p->setup.clock, picture_line(p, line, sizeof line), &p->due, &p->events,
                        p->out, e);
}

static void sleep_s(double s)
{
    struct timespec t = {(time_t)s, (long)((s - (double)(time_t)s) * 1e9)};
    nanosleep(&t, NULL);
}

static void sound_cues(struct player *player, const struct score_cues *cues)
{
    struct perform now;
    perform_init(&now, player, cues, player_now(player) + (uint64_t)player_rate_hz(player) / 10);
    do {
        player_poll(player);
        sleep_s(0.02);
    } while (perform_step(&now));
}

/* Play through the loudspeaker; with none, one line says so and the program goes on. */
static bool play_aloud(const struct play *p, const struct voice_set *voices, struct err *e)
{
    struct score_sounder table[CLOCK_SOUNDERS];
    size_t n = setup_sounders(p->setup.clock, table);
    struct score_style style = {.works = true, .lead_s = 0.2, .gap_most_s = SILENCE_MOST_S};
    struct score_bank *bank = score_bank_new(table, n, voices, &style, e);
    struct score_cues cues = {0};
    struct err quiet = {0};
    if (!bank)
        return false;
    struct player *player = player_new();
    if (!player_open(player, &player_back_sdl, 44100, &quiet)) {
        err_print(&quiet, stderr);
        err_release(&quiet);
    } else if (score_cue(bank, &p->events, &cues, e)) {
        sound_cues(player, &cues);
    }
    player_close(player);
    player_free(player);
    score_cues_release(&cues);
    score_bank_free(bank);
    return e->count == 0;
}

static bool make_sound(const struct play *p, struct err *e)
{
    struct voice_set voices = {0};
    bool good = true;
    if (!p->out && (p->no_sound || p->json))
        return true;
    good = voices_load(&voices, e);
    if (good && p->out)
        good = write_out(p, &voices, e);
    else if (good)
        good = play_aloud(p, &voices, e);
    voice_set_release(&voices);
    return good;
}

static bool known_ending(const char *out, struct err *e)
{
    static const char *const ends[] = {".wav", ".mid", ".svg", ".pdf", ".png"};
    for (size_t i = 0; i < sizeof ends / sizeof ends[0]; i++)
        if (ends_with(out, ends[i]))
            return true;
    err_add(e, "--out %s must end in .wav, .mid, .svg, .pdf or .png.", out);
    return false;
}

static bool prepare(struct play *p, const char *clock, struct err *e)
{
    struct random random;
    if (p->out && !known_ending(p->out, e))
        return false;
    p->lib = library_load(NULL, e);
    const struct clock *c = p->lib ? setup_clock(p->lib, clock, e) : NULL;
    random_init(&random, (uint64_t)p->seed + 1);
    return c &&
           setup_init(&p->setup, p->lib, c, p->faults.at, p->faults.count, p->from_min, &random, e) &&
           (!p->state || setup_state(&p->setup, p->state, e));
}

static bool play(struct play *p, const char *clock, struct err *e)
{
    if (!prepare(p, clock, e))
        return false;
    run(p);
    if (p->json)
        print_json(p);
    else
        print_table(p);
    fflush(stdout);
    return make_sound(p, e);
}

int verb_play(int argc, char **argv)
{
    struct play p = {.from_min = 14 * 60 + 50, .to_min = 16 * 60 + 10, .seed = 1};
    const struct option options[] = {
        {"--from", OPTION_TIME, &p.from_min, "H:MM", "where the hands begin (14:50)", 0, 0},
        {"--to", OPTION_TIME, &p.to_min, "H:MM", "where they end (16:10)", 0, 0},
        {"--fault", OPTION_MANY, &p.faults, "ID[=S]", "a fault, S its severity 0..1; may be repeated", 0, 0},
        {"--state", OPTION_TEXT, &p.state, "WORDS", "where it stands: count=3,quarter=2,strike=out,hung=5 ...", 0, 0},
        {"--out", OPTION_TEXT, &p.out, "FILE", "write .wav, .mid, .svg, .pdf or .png instead of playing", 0, 0},
        {"--no-sound", OPTION_FLAG, &p.no_sound, NULL, "only print", 0, 0},
        {"--seed", OPTION_INT, &p.seed, "N", "for what happens now and then (1)", 0, 2147483647},
        {"--json", OPTION_FLAG, &p.json, NULL, "print the events as JSON", 0, 0},
    };
    const struct usage u = {"letoff play CLOCK [--from 14:50 --to 16:10] [--fault ID[=SEVERITY]]...",
                            "Lets a clock run and shows, plays or writes what it sounds.",
                            options, sizeof options / sizeof options[0], 1, 1};
    struct err e = {0};
    const char *clock = NULL;
    size_t plains = 0;
    enum options_result r = options_read(&u, argc, argv, &clock, &plains, &e);
    if (r == OPTIONS_OK)
        play(&p, clock, &e);
    event_list_release(&p.events);
    event_list_release(&p.due);
    library_free(p.lib);
    return options_end(&e);
}
