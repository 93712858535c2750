/* A voice clip from an old phone: Cambridge quarters with one dead hammer and the drum some changes late.
 * Made by code, coded as 3gp, heard, and fitted to everything such a clock could have played. */
#include "suite.h"

#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "amr_write.h"
#include "degrade.h"
#include "listen/fit.h"
#include "sound/score.h"

#define ROOM 24
#define HAMMERS 4
#define CHANGES 5
#define NOTE_S 0.6

static const char changes[CHANGES][5] = {"1234", "3124", "3213", "1324", "4213"};
static const double pitch_hz[HAMMERS] = {415.3, 370.0, 329.6, 246.9};
static char folder[64];

/* A quarter of `count` changes from change `first` of the drum on; hammer `dead` (HAMMERS: none) silent. */
static size_t play(int first, int count, int dead, struct fit_blow *blow)
{
    size_t n = 0;
    double t_s = 1.5;
    for (int c = 0; c < count; c++, t_s += NOTE_S)
        for (int k = 0; k < 4; k++, t_s += NOTE_S) {
            int hammer = changes[(first + c) % CHANGES][k] - '1';
            blow[n++] = (struct fit_blow){t_s, (uint8_t)hammer, hammer == dead ? 0 : 1};
        }
    return n;
}

static void write_clip(const struct fit_blow *blow, size_t n, struct random *r, const char *path)
{
    struct score_sounder rods[HAMMERS];
    struct voice_set voices = {0};
    struct event_list events = {0};
    struct pcm p = {0};
    struct score_style style = {.rate_hz = 16000, .tail_s = 2, .works = true, .detune_cents = 25, .stretch = 0.01, .seed = random_bits(r)};
    struct degrade way = {.room_s = 0.4, .tick_every_s = 0.5, .tick_db = -30, .noise = NOISE_WHITE, .snr_db = 20};
    for (size_t i = 0; i < HAMMERS; i++)
        rods[i] = (struct score_sounder){.name = "rod", .voice = "rod", .hz = pitch_hz[i], .gain = 1};
    for (size_t i = 0; i < n; i++)
        if (blow[i].strength > 0)
            event_list_add(&events, (struct event){.t_s = blow[i].t_s * 1.15, .kind = EVENT_NOTE, .train = TRAIN_CHIME,
                                                   .sounder = blow[i].hammer, .strength = 0.9f});
    assert_true(voice_set_load_folder(&voices, "sounds", NULL, NULL));
    assert_true(score_render(&events, rods, HAMMERS, &voices, &style, &p, NULL));
    degrade_apply(&way, &p, r);
    assert_true(amr_write_narrow(&p, path));
    voice_set_release(&voices);
    event_list_release(&events);
    pcm_release(&p);
}

/* Every number of changes, every phase of the drum, every dead hammer or none. */
static size_t all_candidates(struct fit_candidate *list, struct fit_blow (*blow)[ROOM])
{
    size_t n = 0;
    for (int count = 1; count <= 4; count++)
        for (int first = 0; first < CHANGES; first++)
            for (int dead = 0; dead <= HAMMERS; dead++, n++)
                list[n] = (struct fit_candidate){blow[n], play(first, count, dead, blow[n]), 1};
    return n;
}

static void a_3gp_clip_names_the_dead_hammer_and_the_late_drum(void **state)
{
    (void)state;
    static const struct {
        int first, count, dead;
    } rows[] = {{1, 2, HAMMERS}, {2, 2, 1}, {0, 4, 0}, {3, 3, 3}};
    static struct fit_blow blow[200][ROOM];
    static struct fit_candidate list[200];
    size_t candidates = all_candidates(list, blow);
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        char amr[96], clip[96], command[320];
        struct fit_blow played[ROOM];
        struct random r;
        struct hearing h = {0};
        struct fit_result f = {0};
        struct fit_options o = {.hammers = HAMMERS, .pitch_hz = pitch_hz};
        random_init(&r, 9700 + i);
        snprintf(amr, sizeof amr, "%s/clip.amr", folder);
        snprintf(clip, sizeof clip, "%s/clip.3gp", folder);
        write_clip(played, play(rows[i].first, rows[i].count, rows[i].dead, played), &r, amr);
        snprintf(command, sizeof command, "ffmpeg -hide_banner -loglevel error -nostdin -y -i %s -c copy %s", amr, clip);
        assert_int_equal(system(command), 0);
        assert_true(hearing_from_file(&h, clip, NULL, NULL, NULL, NULL));
        fit_hearing(&f, &h, 0, h.blow_count, list, candidates, &o);
        size_t right = (size_t)(((rows[i].count - 1) * CHANGES + rows[i].first) * (HAMMERS + 1) + rows[i].dead);
        if (f.best != right)
            fail_msg("row %zu: candidate %zu (%.3f) instead of %zu (%.3f)", i, f.best, f.posterior[f.best], right,
                     f.posterior[right]);
        fit_release(&f);
        hearing_release(&h);
    }
}

static int make_folder(void **state)
{
    (void)state;
    strcpy(folder, "/tmp/letoff-clip-XXXXXX");
    return mkdtemp(folder) ? 0 : -1;
}

static int remove_folder(void **state)
{
    (void)state;
    char command[96];
    snprintf(command, sizeof command, "rm -r %s", folder);
    return system(command);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_3gp_clip_names_the_dead_hammer_and_the_late_drum),
    };
    return cmocka_run_group_tests(tests, make_folder, remove_folder);
}
