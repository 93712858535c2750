/* From a recording to the causes, by the verb itself: clips are made by code, coded as an old telephone codes
 * them, and `letoff listen` has to say what is wrong. */
#include "suite.h"

#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "amr_write.h"
#include "command/command.h"
#include "command/setup.h"
#include "degrade.h"
#include "mem.h"
#include "movement/move.h"
#include "sound/score.h"

#define RATE_HZ 16000

static struct library *lib;
static struct voice_set voices;
static char folder[64], path[128], printed[200000];

/* ---- the program's output, caught ---- */

static int listen_to(const char *const *words, int count)
{
    char out[128], *argv[16] = {"listen"};
    for (int i = 0; i < count; i++)
        argv[i + 1] = (char *)(uintptr_t)words[i];
    snprintf(out, sizeof out, "%s/out", folder);
    fflush(stdout);
    int kept = dup(1), file = open(out, O_CREAT | O_TRUNC | O_RDWR, 0600);
    dup2(file, 1);
    int status = verb_listen(count + 1, argv);
    fflush(stdout);
    dup2(kept, 1);
    close(kept);
    lseek(file, 0, SEEK_SET);
    ssize_t n = read(file, printed, sizeof printed - 1);
    printed[n > 0 ? n : 0] = 0;
    close(file);
    return status;
}

/* ---- making recordings ---- */

static int load(void **state)
{
    struct err e = {0};
    (void)state;
    strcpy(folder, "/tmp/letoff-listen-XXXXXX");
    lib = library_load("chimes", &e);
    bool good = lib && voice_set_load_folder(&voices, "sounds", NULL, &e) && mkdtemp(folder);
    err_print(&e, stderr);
    return good ? 0 : -1;
}

static int unload(void **state)
{
    char command[128];
    (void)state;
    voice_set_release(&voices);
    library_free(lib);
    snprintf(command, sizeof command, "rm -r %s", folder);
    return system(command);
}

static void add_run(const struct clock *c, int min, const struct change *change, size_t changes, double at_s,
                    struct event_list *all)
{
    struct works w;
    struct moment m;
    struct chance chance;
    struct random r;
    struct event_list events = {0};
    works_init(&w, c, change, changes);
    moment_init(&m, &w, min - 1);
    random_init(&r, 2);
    chance_draw(&chance, &r);
    movement_turn(&w, &m, 2, BY_TIME, &chance, &events);
    double first = -1;
    for (size_t i = 0; i < events.count; i++)
        if (event_sounds(&events.at[i])) {
            first = first < 0 ? events.at[i].t_s : first;
            events.at[i].t_s += at_s - first;
            event_list_add(all, events.at[i]);
        }
    event_list_release(&events);
}

static void render(const struct clock *c, const struct event_list *events, double length_s, double snr_db, struct pcm *p)
{
    struct score_sounder table[CLOCK_SOUNDERS];
    struct score_style style = {.rate_hz = RATE_HZ, .tail_s = 2, .detune_cents = 15, .stretch = 0.005, .seed = 11};
    struct degrade way = {.phone = true, .noise = NOISE_WHITE, .snr_db = snr_db};
    struct random r;
    size_t n = setup_sounders(c, table);
    random_init(&r, 77);
    assert_true(score_render(events, table, n, &voices, &style, p, NULL));
    if (length_s > 0)
        pcm_reserve(p, (size_t)(length_s * RATE_HZ));
    degrade_apply(&way, p, &r);
}

static const char *wav_of(const struct clock *c, const struct event_list *events, double length_s)
{
    struct pcm p = {0};
    render(c, events, length_s, 25, &p);
    snprintf(path, sizeof path, "%s/clip.wav", folder);
    assert_true(pcm_write_wav(&p, path, NULL));
    pcm_release(&p);
    return path;
}

static const char *clip_3gp_of(const struct clock *c, const struct event_list *events)
{
    struct pcm p = {0};
    char amr[128], command[400];
    render(c, events, 0, 20, &p);
    snprintf(amr, sizeof amr, "%s/clip.amr", folder);
    snprintf(path, sizeof path, "%s/clip.3gp", folder);
    snprintf(command, sizeof command, "ffmpeg -hide_banner -loglevel error -nostdin -y -i %s -c copy %s", amr, path);
    assert_true(amr_write_narrow(&p, amr));
    assert_int_equal(system(command), 0);
    pcm_release(&p);
    return path;
}

/* What stands first under "causes", up to its chance. */
static void first_cause(char *to, size_t room)
{
    const char *from = strstr(printed, "\"causes\""), *until = from ? strstr(from, "\"p\"") : NULL;
    assert_non_null(from);
    assert_non_null(until);
    snprintf(to, room, "%.*s", (int)(until - from), from);
}

/* ---- tests ---- */

static void a_3gp_clip_of_a_quarter_names_the_dead_hammer_and_the_late_drum(void **state)
{
    (void)state;
    static const struct {
        const char *clock;
        int min, bell;
        const char *at; /* NULL: the caller does not know */
    } rows[] = {{"floor-westminster-rack", 9 * 60 + 45, 2, "9:45"},
                {"floor-westminster-rack", 9 * 60 + 45, 1, NULL},
                {"mantel-westminster-rack", 4 * 60 + 45, 4, "4:45"}};
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        const struct clock *c = library_find_clock(lib, rows[i].clock);
        struct change change[] = {{PAR_drum_late, 0.5}, {PAR_hammer_dead, c->train[TRAIN_CHIME].hammer[rows[i].bell - 1]}};
        struct event_list events = {0};
        char cause[2000];
        add_run(c, rows[i].min, change, 2, 0.8, &events);
        const char *words[] = {clip_3gp_of(c, &events), "--clock", rows[i].clock, "--json", "--at", rows[i].at};
        assert_int_equal(listen_to(words, rows[i].at ? 6 : 4), 0);
        first_cause(cause, sizeof cause);
        if (!strstr(cause, "\"drum-late\"") || !strstr(cause, "\"chime-hammer-misses\""))
            fail_msg("row %zu: %.1800s", i, strstr(printed, "\"letoffs\""));
        event_list_release(&events);
    }
}

static void ten_minutes_with_one_strike_in_them(void **state)
{
    (void)state;
    const struct clock *c = library_find_clock(lib, "longcase-rack");
    struct event_list events = {0};
    add_run(c, 9 * 60, NULL, 0, 400, &events);
    const char *words[] = {wav_of(c, &events, 600), "--clock", "longcase-rack", "--at", "9:00", "--no-cause"};
    assert_int_equal(listen_to(words, 6), 0);
    assert_non_null(strstr(printed, "One sounder nine times."));
    assert_non_null(strstr(printed, "at: \"9:00\", strike: 9"));
    event_list_release(&events);
}

static void let_offs_minutes_apart_are_rows_of_their_own(void **state)
{
    (void)state;
    const struct clock *c = library_find_clock(lib, "longcase-rack");
    struct event_list events = {0};
    add_run(c, 3 * 60, NULL, 0, 5, &events);
    add_run(c, 4 * 60, NULL, 0, 155, &events); /* the hands were led on: no hour was waited for */
    const char *words[] = {wav_of(c, &events, 0), "--clock", "longcase-rack", "--no-cause"};
    assert_int_equal(listen_to(words, 4), 0);
    const char *three = strstr(printed, "strike: 3"), *four = strstr(printed, "strike: 4");
    assert_non_null(three);
    assert_non_null(four);
    assert_true(three < four);
    event_list_release(&events);
}

static void a_clock_nobody_named_is_told_by_its_sounders(void **state)
{
    (void)state;
    const struct clock *c = library_find_clock(lib, "mantel-westminster-rack");
    struct event_list events = {0};
    add_run(c, 9 * 60, NULL, 0, 1, &events);
    const char *words[] = {wav_of(c, &events, 0)};
    assert_int_equal(listen_to(words, 1), 0);
    assert_non_null(strstr(printed, "Four sounders, 16 notes, then one lower sounder nine times."));
    assert_non_null(strstr(printed, "hints: {chime: westminster}"));
    assert_non_null(strstr(printed, "3124321313244213"));
    assert_non_null(strstr(printed, "Nothing in this points to a fault"));
    event_list_release(&events);
}

static void taps_count_and_give_the_pace(void **state)
{
    (void)state;
    const char *words[] = {"--taps", "0 1.2, 2.4\n3.6", "--json"};
    assert_int_equal(listen_to(words, 3), 0);
    assert_non_null(strstr(printed, "strike: 4"));
    assert_non_null(strstr(printed, "\"interval_s\": 1.2"));
    const char *keyed[] = {"--taps", "0:1 0.6:2 1.2:3 1.8:4 2.4:3 3.0:1 3.6:2 4.2:4", "--no-cause"};
    assert_int_equal(listen_to(keyed, 3), 0);
    assert_non_null(strstr(printed, "notes: \"12343124\""));
}

static void what_is_no_tap_is_refused(void **state)
{
    (void)state;
    static const char *const bad[] = {"", "one two", "1 2 x", "1:a", "1:12", "nan 2", "-1 2", "1e9"};
    for (size_t i = 0; i < COUNT_OF(bad); i++) {
        const char *words[] = {"--taps", bad[i]};
        assert_int_equal(listen_to(words, 2), 2);
        assert_string_equal(printed, "");
    }
}

static void one_source_is_wanted(void **state)
{
    (void)state;
    const char *both[] = {"--taps", "0 1 2", "--live"}, *late[] = {"--taps", "0 1 2", "--seconds", "3"};
    assert_int_equal(listen_to(both, 3), 2);
    assert_int_equal(listen_to(late, 4), 2);
    assert_int_equal(listen_to(NULL, 0), 2);
}

/* The swing of an arbor that turns two fifths of a turn a blow, as tapped over an hour of twelve. */
static void uneven_taps_lay_the_arbors_beside_their_period(void **state)
{
    (void)state;
    char taps[1000] = "";
    double t_s = 0;
    for (int i = 0; i < 36; i++) {
        snprintf(taps + strlen(taps), sizeof taps - strlen(taps), "%.3f ", t_s);
        t_s += 1.7 * (1 + 0.2 * sin(2 * 3.14159265 * 0.2 * i));
    }
    const char *words[] = {"--taps", taps, "--clock", "longcase-rack", "--json", "--no-cause"};
    assert_int_equal(listen_to(words, 6), 0);
    assert_non_null(strstr(printed, "\"uneven\": true"));
    assert_non_null(strstr(printed, "\"arbor\": "));
    assert_non_null(strstr(printed, "\"blows_wanted\""));
    const char *period = strstr(printed, "\"periods\"");
    assert_non_null(period);
    assert_near(strtod(strstr(period, "\"blows\": ") + 9, NULL), 5, 0.3);
}

static void a_picture_goes_with_it(void **state)
{
    (void)state;
    const struct clock *c = library_find_clock(lib, "floor-westminster-rack");
    struct event_list events = {0};
    char picture[128], head[8] = "", text[200000];
    add_run(c, 9 * 60 + 30, NULL, 0, 1, &events);
    snprintf(picture, sizeof picture, "%s/x.svg", folder);
    const char *words[] = {wav_of(c, &events, 0), "--clock", c->id, "--at", "9:30", "--no-cause", "--out", picture};
    assert_int_equal(listen_to(words, 8), 0);
    FILE *f = fopen(picture, "r");
    assert_non_null(f);
    text[fread(text, 1, sizeof text - 1, f)] = 0;
    fclose(f);
    assert_non_null(strstr(text, "9:30"));
    snprintf(picture, sizeof picture, "%s/x.png", folder);
    assert_int_equal(listen_to(words, 8), 0);
    f = fopen(picture, "r");
    assert_non_null(f);
    assert_int_equal(fread(head, 1, 4, f), 4);
    fclose(f);
    assert_memory_equal(head, "\x89PNG", 4);
    words[7] = "x.doc";
    assert_int_equal(listen_to(words, 8), 2);
    event_list_release(&events);
}

static void a_microphone_that_gives_silence_and_none_at_all(void **state)
{
    (void)state;
    const char *words[] = {"--live", "--seconds", "0.3", "--no-cause"};
    setenv("SDL_AUDIODRIVER", "dummy", 1);
    assert_int_equal(listen_to(words, 4), 0);
    assert_non_null(strstr(printed, "No blow was heard."));
    setenv("SDL_AUDIODRIVER", "nothing", 1);
    assert_int_equal(listen_to(words, 4), 3);
    assert_string_equal(printed, "");
    setenv("SDL_AUDIODRIVER", "dummy", 1);
}

/* SDL's disk driver reads a file of samples in place of a microphone. */
static void the_microphone_hears_blows(void **state)
{
    (void)state;
    const struct clock *c = library_find_clock(lib, "longcase-rack");
    struct event_list events = {0};
    struct pcm p = {0};
    char raw[128];
    add_run(c, 2 * 60, NULL, 0, 0.5, &events);
    render(c, &events, 0, 30, &p);
    snprintf(raw, sizeof raw, "%s/in.raw", folder);
    FILE *f = fopen(raw, "wb");
    assert_non_null(f);
    assert_int_equal(fwrite(p.at, sizeof *p.at, p.frames, f), p.frames);
    fclose(f);
    setenv("SDL_AUDIODRIVER", "disk", 1);
    setenv("SDL_DISKAUDIOFILEIN", raw, 1);
    const char *words[] = {"--live", "--seconds", "4", "--clock", "longcase-rack", "--no-cause"};
    assert_int_equal(listen_to(words, 6), 0);
    if (!strstr(printed, "strike: 2"))
        fail_msg("%s", printed);
    setenv("SDL_AUDIODRIVER", "dummy", 1);
    pcm_release(&p);
    event_list_release(&events);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_3gp_clip_of_a_quarter_names_the_dead_hammer_and_the_late_drum),
        cmocka_unit_test(ten_minutes_with_one_strike_in_them),
        cmocka_unit_test(let_offs_minutes_apart_are_rows_of_their_own),
        cmocka_unit_test(a_clock_nobody_named_is_told_by_its_sounders),
        cmocka_unit_test(taps_count_and_give_the_pace),
        cmocka_unit_test(what_is_no_tap_is_refused),
        cmocka_unit_test(one_source_is_wanted),
        cmocka_unit_test(uneven_taps_lay_the_arbors_beside_their_period),
        cmocka_unit_test(a_picture_goes_with_it),
        cmocka_unit_test(a_microphone_that_gives_silence_and_none_at_all),
        cmocka_unit_test(the_microphone_hears_blows),
    };
    return cmocka_run_group_tests(tests, load, unload);
}
