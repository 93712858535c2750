#include "suite.h"

#include <string.h>
#include "err.h"
#include "event.h"
#include "measure.h"
#include "sound/score.h"

static struct voice_set set;

static int voices_load(void **state)
{
    (void)state;
    return voice_set_load_folder(&set, "sounds", NULL, NULL) ? 0 : -1;
}

static int voices_release(void **state)
{
    (void)state;
    voice_set_release(&set);
    return 0;
}

/* The bells at Westminster: G#4 F#4 E4 B3, hour E3 (https://en.wikipedia.org/wiki/Westminster_Quarters). */
static const struct score_sounder RODS[] = {
    {"1", "rod", 415.3047, 1},   {"2", "rod", 369.9944, 1}, {"3", "rod", 329.6276, 1},
    {"4", "rod", 246.9417, 1},   {"hour", "rod-bim-bam", 164.8138, 1},
};

static void strike(struct event_list *list, double t_s, int sounder, unsigned quality)
{
    event_list_add(list, (struct event){.t_s = t_s, .kind = sounder == 4 ? EVENT_BLOW : EVENT_NOTE,
                                        .train = sounder == 4 ? TRAIN_STRIKE : TRAIN_CHIME,
                                        .sounder = (uint8_t)sounder, .strength = 1,
                                        .quality = (uint8_t)quality});
}

static void sign(struct event_list *list, double t_s, enum event_kind kind)
{
    event_list_add(list, (struct event){.t_s = t_s, .kind = (uint8_t)kind, .train = TRAIN_STRIKE,
                                        .sounder = EVENT_NO_SOUNDER});
}

/* Blows at awkward times land on their own frame; between blows the bells are damped away. */
static void each_blow_begins_on_its_own_frame(void **state)
{
    (void)state;
    static const double T_S[] = {0, 0.3333333, 0.71, 1.0000113, 1.61803398, 2.7182818};
    static const struct score_sounder bell[] = {{"bell", "ting", 2000, 1}};
    struct score_style style = {.rate_hz = 44100, .lead_s = 0.25, .decay = 0.05, .tail_s = 1};
    struct event_list list = {0};
    struct pcm out = {0};
    for (size_t i = 0; i < COUNT_OF(T_S); i++)
        strike(&list, T_S[i], 0, 0);
    assert_true(score_render(&list, bell, 1, &set, &style, &out, NULL));
    for (size_t i = 0; i < COUNT_OF(T_S); i++) {
        double want = T_S[i] + 0.25;
        assert_near(measure_onset_s(&out, want - 0.02, 0.003), want, 0.0005);
    }
    assert_int_equal(out.frames, lround((2.7182818 + 1.25) * 44100));
    event_list_release(&list);
    pcm_release(&out);
}

/* Which of the rods gained most at this moment, by their named pitch. */
static int rod_heard(const struct pcm *p, double t_s)
{
    int best = -1;
    double most = 0;
    for (int i = 0; i < (int)COUNT_OF(RODS); i++) {
        double after = measure_amplitude(p, t_s + 0.01, 0.25, RODS[i].hz);
        double before = t_s > 0.3 ? measure_amplitude(p, t_s - 0.26, 0.25, RODS[i].hz) : 0;
        if (after - before > most) {
            most = after - before;
            best = i;
        }
    }
    return best;
}

/* Changes of the Cambridge quarters in their order, I to V (Grimthorpe, Clocks, Watches and Bells, 204);
 * the hour plays II III IV V.  Found again in the sound by their pitches. */
static void a_westminster_hour_is_heard_note_by_note(void **state)
{
    (void)state;
    static const char CHANGES[] = "3124" "3213" "1324" "4213";
    struct event_list list = {0};
    struct pcm out = {0};
    double at_s[20], t_s = 0.5;
    for (int i = 0; i < 16; i++) {
        strike(&list, at_s[i] = t_s, CHANGES[i] - '1', 0);
        t_s += i % 4 == 3 ? 1.5 : 0.6; /* gap between changes 2.5 note gaps: the same, 205 */
    }
    for (int i = 16; i < 20; i++, t_s += 1.8)
        strike(&list, at_s[i] = t_s, 4, 0);
    struct score_style style = {.rate_hz = 16000};
    assert_true(score_render(&list, RODS, 5, &set, &style, &out, NULL));
    for (int i = 0; i < 20; i++) {
        int want = i < 16 ? CHANGES[i] - '1' : 4;
        assert_int_equal(rod_heard(&out, at_s[i]), want);
    }
    assert_true(pcm_peak(&out) <= 0.98f);
    event_list_release(&list);
    pcm_release(&out);
}

static void the_works_are_heard_only_when_wanted(void **state)
{
    (void)state;
    struct event_list list = {0};
    struct pcm still = {0}, busy = {0};
    struct score_style style = {.rate_hz = 16000, .tail_s = 0.5};
    sign(&list, 1, EVENT_WARN);
    sign(&list, 3, EVENT_RELEASE);
    sign(&list, 6, EVENT_LOCK);
    sign(&list, 8, EVENT_JAM);
    sign(&list, 9, EVENT_HAND_STALL);
    assert_true(score_render(&list, RODS, 5, &set, &style, &still, NULL));
    assert_near(pcm_peak(&still), 0, 0);
    style.works = true;
    assert_true(score_render(&list, RODS, 5, &set, &style, &busy, NULL));
    static const struct {
        double at_s, low, high;
    } level[] = {
        {0.2, 0, 0},           /* before all */
        {0.78, 0.001, 1},      /* the run to the warning */
        {1, 0.005, 1},         /* caught */
        {2, 0, 0},             /* warned and waiting */
        {4.5, 0.001, 0.02},    /* the fly */
        {5.7, 0.001, 0.02},
        {6, 0.005, 1},         /* locked */
        {7, 0, 0},
        {8, 0.02, 1},          /* wedged */
        {9, 0, 0},             /* hands that stall make no sound */
    };
    for (size_t i = 0; i < COUNT_OF(level); i++) {
        double rms = measure_rms(&busy, level[i].at_s, 0.02);
        if (rms < level[i].low || rms > level[i].high)
            fail_msg("at %g s the level is %g", level[i].at_s, rms);
    }
    event_list_release(&list);
    pcm_release(&still);
    pcm_release(&busy);
}

static void a_clock_ticks_through_its_strike(void **state)
{
    (void)state;
    struct event_list list = {0};
    struct pcm out = {0};
    struct score_style style = {.rate_hz = 16000, .tick_s = 0.5, .tail_s = 1};
    sign(&list, 9, EVENT_CLICK);
    assert_true(score_render(&list, RODS, 5, &set, &style, &out, NULL));
    int ticks = 0;
    for (double t_s = 0; t_s < 9.9; t_s += 0.25)
        ticks += measure_rms(&out, t_s, 0.01) > 0.003;
    assert_int_equal(ticks, 20);
    event_list_release(&list);
    pcm_release(&out);
}

static void long_silences_can_be_cut(void **state)
{
    (void)state;
    struct event_list list = {0};
    struct score_style style = {.gap_most_s = 4, .lead_s = 1};
    double place[3];
    strike(&list, 2, 0, 0);
    strike(&list, 902, 1, 0);
    strike(&list, 903, 2, 0);
    score_places(&list, &style, place);
    assert_near(place[0], 3, 1e-9);
    assert_near(place[1], 7, 1e-9);
    assert_near(place[2], 8, 1e-9);
    style.gap_most_s = 0;
    score_places(&list, &style, place);
    assert_near(place[2], 904, 1e-9);
    event_list_release(&list);
}

static void detuning_moves_each_rod_and_stays_the_same(void **state)
{
    (void)state;
    double found[2][3];
    for (int round = 0; round < 2; round++)
        for (int i = 0; i < 3; i++) {
            struct event_list list = {0};
            struct pcm out = {0};
            struct score_style style = {.rate_hz = 16000, .detune_cents = 40, .seed = 5, .tail_s = 1};
            strike(&list, 0, i, 0);
            assert_true(score_render(&list, RODS, 5, &set, &style, &out, NULL));
            found[round][i] = measure_peak_hz(&out, 0.02, 0.6, RODS[i].hz * 0.9, RODS[i].hz * 1.1);
            event_list_release(&list);
            pcm_release(&out);
        }
    double moved = 0;
    for (int i = 0; i < 3; i++) {
        assert_near(found[0][i], found[1][i], 1e-9);
        moved = fmax(moved, fabs(1200 * log2(found[0][i] / RODS[i].hz)));
    }
    assert_true(moved > 8 && moved < 160);
}

/* A run that begins between warning and strike carries the warning before its start. */
static void what_lies_before_the_run_is_not_heard(void **state)
{
    (void)state;
    struct event_list list = {0};
    struct pcm out = {0};
    struct score_style style = {.rate_hz = 16000, .works = true, .gap_most_s = 3};
    sign(&list, -120, EVENT_WARN);
    strike(&list, -1, 1, 0);
    strike(&list, 50, 0, 0);
    assert_true(score_render(&list, RODS, 5, &set, &style, &out, NULL));
    assert_near(measure_onset_s(&out, 0, 0.001), 3, 0.001);
    event_list_release(&list);
    pcm_release(&out);
}

/* A bank renders a blow once; another strength or quality is another sound. */
static void a_bank_keeps_what_it_rendered(void **state)
{
    (void)state;
    struct score_style style = {.rate_hz = 8000};
    struct score_bank *bank = score_bank_new(RODS, 5, &set, &style, NULL);
    struct event a = {.kind = EVENT_NOTE, .sounder = 1, .strength = 1}, b = a, silent = a;
    b.quality = QUALITY_BUZZ;
    silent.kind = EVENT_STALL;
    const struct pcm *first = score_bank_sound(bank, &a);
    assert_ptr_not_equal(first, score_bank_sound(bank, &b));
    assert_ptr_equal(first, score_bank_sound(bank, &a));
    assert_null(score_bank_sound(bank, &silent));
    score_bank_free(bank);
    score_bank_free(NULL);
}

static void what_cannot_be_rendered_is_said_and_leaves_nothing(void **state)
{
    (void)state;
    static const struct score_sounder misspelt[] = {{"gong", "gong-coild", 262, 1}},
                                      deep[] = {{"gong", "gong-coiled", 1, 1}},
                                      nothing[] = {{NULL, NULL, NAN, 0}}, good[] = {{"1", "rod", 415.3, 1}};
    static const struct {
        const struct score_sounder *sounder;
        double t_s;
        int struck, rate_hz;
        const char *said;
    } row[] = {
        {misspelt, 0, 0, 0, "is it \"gong-coiled\""}, {deep, 0, 0, 0, "1 Hz"},
        {nothing, 0, 0, 0, "Sounder 1"},              {good, 0, 3, 0, "sounder 4"},
        {good, INFINITY, 0, 0, "order of time"},      {good, NAN, 0, 0, "order of time"},
        {good, 1e6, 0, 0, "more than"},               {good, 0, 0, 100, "100 Hz"},
    };
    for (size_t i = 0; i < COUNT_OF(row); i++) {
        struct event_list list = {0};
        struct err e = {0};
        struct pcm out = {0};
        struct score_style style = {.rate_hz = row[i].rate_hz};
        strike(&list, row[i].t_s, row[i].struck, 0);
        assert_false(score_render(&list, row[i].sounder, 1, &set, &style, &out, &e));
        assert_true(e.count >= 1);
        if (!strstr(e.line[0], row[i].said))
            fail_msg("row %zu says: %s", i, e.line[0]);
        assert_int_equal(out.frames, 0);
        err_release(&e);
        event_list_release(&list);
        pcm_release(&out);
    }
}

static void no_events_are_no_sound(void **state)
{
    (void)state;
    struct event_list list = {0};
    struct pcm out = {0};
    struct score_style style = {.works = true};
    assert_true(score_render(&list, RODS, 5, &set, &style, &out, NULL));
    assert_int_equal(out.frames, 0);
    assert_true(score_render(&list, NULL, 0, &set, &style, &out, NULL));
    pcm_release(&out);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(each_blow_begins_on_its_own_frame),
        cmocka_unit_test(a_westminster_hour_is_heard_note_by_note),
        cmocka_unit_test(the_works_are_heard_only_when_wanted),
        cmocka_unit_test(a_clock_ticks_through_its_strike),
        cmocka_unit_test(long_silences_can_be_cut),
        cmocka_unit_test(detuning_moves_each_rod_and_stays_the_same),
        cmocka_unit_test(what_lies_before_the_run_is_not_heard),
        cmocka_unit_test(a_bank_keeps_what_it_rendered),
        cmocka_unit_test(what_cannot_be_rendered_is_said_and_leaves_nothing),
        cmocka_unit_test(no_events_are_no_sound),
    };
    return cmocka_run_group_tests(tests, voices_load, voices_release);
}
