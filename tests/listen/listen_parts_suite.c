/* The small parts of listening: level meter, taps, rhythm, picture. */
#include "suite.h"

#include <math.h>
#include <string.h>

#include "listen/level.h"
#include "listen/rhythm.h"
#include "listen/spectrogram.h"
#include "listen/taps.h"
#include "random.h"

/* ---- level ---- */

static void the_meter_reads_a_sine_3_db_under_its_peak(void **state)
{
    (void)state;
    struct level l;
    float block[160];
    level_init(&l, 16000);
    assert_true(l.rms_db <= LEVEL_FLOOR_DB && !l.clipped);
    for (int b = 0; b < 400; b++) {
        for (int i = 0; i < 160; i++)
            block[i] = 0.5f * sinf(2 * (float)M_PI * 1000 * (float)(b * 160 + i) / 16000);
        level_feed(&l, block, 160);
    }
    assert_true(fabsf(l.peak_db + 6.02f) < 0.1f); /* 20 log 0.5 */
    assert_true(fabsf(l.rms_db + 9.03f) < 0.1f);
    assert_false(l.clipped);
    block[3] = 1;
    level_feed(&l, block, 160);
    assert_true(l.clipped);
    block[3] = NAN;
    level_feed(&l, block, 160);
    assert_true(isfinite(l.rms_db) && isfinite(l.peak_db));
    memset(block, 0, sizeof block);
    for (int b = 0; b < 1500; b++)
        level_feed(&l, block, 160);
    assert_true(l.peak_db < -80 && l.rms_db <= LEVEL_FLOOR_DB && !l.clipped);
}

/* ---- taps ---- */

static void taps_become_blows_in_order(void **state)
{
    (void)state;
    static const struct tap taps[] = {{2.0, 2}, {1.0, 1}, {NAN, 1}, {3.0, 3}, {4.0, 4}, {5.5, 7}, {7.0, 7},
                                      {8.5, 7}, {9, 11}, {9, -1}};
    struct hearing h = {0};
    taps_to_hearing(taps, sizeof taps / sizeof *taps, &h);
    assert_int_equal(h.blow_count, 7);
    assert_int_equal(h.sounder_count, 5);
    assert_true(h.sounder[0].tapped);
    assert_true(h.blow[0].t_s == 1.0);
    for (size_t i = 0; i < 4; i++)
        assert_int_equal(h.blow[i].sounder, i);
    assert_int_equal(h.part_count, 2);
    assert_int_equal(h.part[1].strikes, 3);
    taps_to_hearing(NULL, 0, &h);
    assert_int_equal(h.blow_count, 0);
    hearing_release(&h);
}

/* Gong, high note, low note, again and again; a tune on three sounders has no wider gap after each round. */
static void rounds_of_three_count_an_hour(void **state)
{
    (void)state;
    static const struct {
        double high_s, low_s;
        int strikes;
    } rows[] = {{0.25, 0.72, 5}, {0.5, 1.0, 0}};
    for (size_t row = 0; row < sizeof rows / sizeof *rows; row++) {
        struct hearing h = {0};
        struct text told = {0};
        struct tap taps[15];
        for (int i = 0; i < 5; i++) {
            taps[3 * i] = (struct tap){1.5 * i, 3};
            taps[3 * i + 1] = (struct tap){1.5 * i + rows[row].high_s, 1};
            taps[3 * i + 2] = (struct tap){1.5 * i + rows[row].low_s, 2};
        }
        taps_to_hearing(taps, 15, &h);
        struct heard_row heard[1];
        assert_int_equal(hearing_rows(&h, heard, 1), 1);
        assert_int_equal(heard[0].strike, rows[row].strikes);
        hearing_summary(&h, &told);
        if (rows[row].strikes) {
            assert_string_equal(text_cstr(&told), "Three sounders in turn, five times.");
            assert_near(heard[0].strike_interval_s, 1.5, 1e-9);
        }
        text_release(&told);
        hearing_release(&h);
    }
}

static void plain_taps_count_an_hour(void **state)
{
    (void)state;
    struct tap taps[9];
    struct hearing h = {0};
    for (int i = 0; i < 9; i++)
        taps[i] = (struct tap){1.7 * i, 0};
    taps_to_hearing(taps, 9, &h);
    assert_int_equal(h.sounder_count, 1);
    assert_int_equal(h.part_count, 1);
    assert_int_equal(h.part[0].strikes, 9);
    assert_true(fabs(h.part[0].interval_s - 1.7) < 1e-9);
    hearing_release(&h);
}

/* ---- rhythm ---- */

/* count blows a base interval apart, growing by drag a blow, swinging with a period, with jitter. */
static void blows_of(double *t, size_t count, double base_s, double drag, double period, double swing, double jitter_s,
                     struct random *r)
{
    double at = 1;
    for (size_t i = 0; i < count; i++) {
        t[i] = at + jitter_s * random_normal(r);
        double wave = period > 0 ? swing * cos(2 * M_PI * (double)(i + 1) / period + 0.7) : 0;
        at += base_s * exp(drag * (double)i + wave + 0.01 * random_normal(r));
    }
}

static void a_steady_train_is_called_nothing(void **state)
{
    (void)state;
    struct random r;
    double t[24];
    int wrong = 0;
    random_init(&r, 3);
    for (int turn = 0; turn < 100; turn++) {
        struct rhythm m;
        size_t count = 6 + random_below(&r, 18);
        blows_of(t, count, 1.5, 0, 0, 0, 0.004, &r);
        rhythm_of(&m, t, NULL, count, 1.5, 0.005, NULL, 0);
        assert_true(fabs(m.mean_s - 1.5) < 0.03);
        wrong += m.dragging || m.uneven || m.slow || m.fast || m.period_count > 0;
    }
    assert_true(wrong <= 5); /* a few in a hundred look like something */
}

static void a_dragging_train_is_found(void **state)
{
    (void)state;
    struct random r;
    double t[12];
    int found = 0;
    random_init(&r, 4);
    for (int turn = 0; turn < 50; turn++) {
        struct rhythm m;
        blows_of(t, 12, 1.5, 0.03, 0, 0, 0.004, &r);
        rhythm_of(&m, t, NULL, 12, 1.5, 0.005, NULL, 0);
        found += m.dragging && fabs(m.drag - 0.03) < 0.01;
    }
    assert_true(found >= 48);
}

static void a_bad_arbor_shows_its_period(void **state)
{
    (void)state;
    static const double periods[] = {2, 2.5, 3, 4, 5.3, 7};
    struct random r;
    double t[28];
    random_init(&r, 5);
    for (size_t k = 0; k < sizeof periods / sizeof *periods; k++) {
        int found = 0;
        for (int turn = 0; turn < 20; turn++) {
            struct rhythm m;
            blows_of(t, 28, 0.6, 0, periods[k], 0.10, 0.004, &r);
            rhythm_of(&m, t, NULL, 28, 0.6, 0.005, periods, sizeof periods / sizeof *periods);
            bool in_set = false;
            for (size_t i = 0; i < m.period_count; i++)
                in_set = in_set || m.period[i].blows == periods[k];
            found += in_set && m.p_none < 0.1;
        }
        if (found < 19)
            fail_msg("period %.1f found %d times of 20", periods[k], found);
    }
}

static void a_period_is_found_without_candidates(void **state)
{
    (void)state;
    struct random r;
    struct rhythm m;
    double t[24];
    random_init(&r, 6);
    blows_of(t, 24, 0.6, 0, 3.7, 0.12, 0.004, &r);
    rhythm_of(&m, t, NULL, 24, 0, 0.005, NULL, 0);
    assert_true(m.period_count > 0);
    assert_true(fabs(m.period[0].blows - 3.7) < 0.3);
    assert_true(m.p_none < 0.01);
    double sum = m.p_none;
    for (size_t i = 0; i < m.period_count; i++)
        sum += m.period[i].p;
    assert_true(sum <= 1.0001);
}

static void pauses_are_left_out_and_short_runs_say_little(void **state)
{
    (void)state;
    static const double chime[] = {0, 0.5, 1, 1.5, 3, 3.5, 4, 4.5};
    static const bool skip[] = {false, false, false, false, true, false, false, false};
    struct rhythm m;
    rhythm_of(&m, chime, skip, 8, 0.3, 0.005, NULL, 0);
    assert_int_equal(m.intervals, 6);
    assert_true(fabs(m.mean_s - 0.5) < 1e-9 && m.slow && !m.uneven);
    rhythm_of(&m, chime, NULL, 2, 1, 0.005, NULL, 0);
    assert_true(m.fast && !m.dragging && m.period_count == 0);
    rhythm_of(&m, chime, NULL, 0, 1, 0.005, NULL, 0);
    assert_int_equal(m.intervals, 0);
    static const double same[] = {1, 1, 1, 1, 1, 1, 1, 1};
    rhythm_of(&m, same, NULL, 8, 1, 0.005, NULL, 0);
    assert_int_equal(m.intervals, 0);
}

/* ---- picture ---- */

static void a_tone_is_one_bright_row(void **state)
{
    (void)state;
    struct pcm p;
    struct spectrogram s = {0};
    pcm_init(&p, 16000);
    pcm_reserve(&p, 32000);
    for (size_t i = 0; i < p.frames; i++)
        p.at[i] = sinf(2 * (float)M_PI * 1000 * (float)i / 16000);
    spectrogram_of(&s, &p, 20, 64, 3200, -60);
    assert_int_equal(s.columns, 20);
    assert_int_equal(s.rows, 64);
    assert_true(fabs(s.row_hz - 50) < 1e-9);
    for (size_t c = 0; c < 19; c++)
        for (size_t row = 0; row < s.rows; row++) {
            float db = s.db[c * s.rows + row];
            assert_true(db <= 0 && db >= -60);
            if (row == 20) /* 1000 .. 1050 Hz */
                assert_true(db > -3);
            if (row < 17 || row > 23)
                assert_true(db < -40);
        }
    spectrogram_of(&s, &p, 100000, 1, 0, -60);
    assert_true(s.columns <= 4096 && s.rows == 16);
    p.frames = 0;
    spectrogram_of(&s, &p, 10, 10, 0, -60);
    assert_null(s.db);
    spectrogram_release(&s);
    pcm_release(&p);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_meter_reads_a_sine_3_db_under_its_peak),
        cmocka_unit_test(taps_become_blows_in_order),
        cmocka_unit_test(plain_taps_count_an_hour),
        cmocka_unit_test(rounds_of_three_count_an_hour),
        cmocka_unit_test(a_steady_train_is_called_nothing),
        cmocka_unit_test(a_dragging_train_is_found),
        cmocka_unit_test(a_bad_arbor_shows_its_period),
        cmocka_unit_test(a_period_is_found_without_candidates),
        cmocka_unit_test(pauses_are_left_out_and_short_runs_say_little),
        cmocka_unit_test(a_tone_is_one_bright_row),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
