#include "suite.h"

#include "degrade.h"
#include "pcm.h"
#include "random.h"

static void tone(struct pcm *p, double hz, double from_s, double s, double level)
{
    pcm_reserve(p, (size_t)((from_s + s) * p->rate_hz));
    size_t from = (size_t)(from_s * p->rate_hz);
    for (size_t i = from; i < p->frames; i++)
        p->at[i] += (float)(level * sin(2 * 3.14159265358979 * hz * (double)i / p->rate_hz));
}

static double decibel(double power, double other)
{
    return 10 * log10(power / other);
}

/* G.711: the telephone passes 300 to 3400 Hz; the edges are where the power is halved. */
static void the_telephone_passes_300_to_3400_hz(void **state)
{
    (void)state;
    static const struct {
        double hz, low_db, high_db;
    } row[] = {
        {50, -200, -50}, {150, -200, -22}, {300, -3.3, -2.7}, {600, -0.3, 0.1},
        {1000, -0.1, 0.1}, {2000, -0.3, 0.1}, {3400, -3.3, -2.7}, {6800, -200, -22},
    };
    for (size_t i = 0; i < COUNT_OF(row); i++) {
        struct pcm p;
        pcm_init(&p, 44100);
        tone(&p, row[i].hz, 0, 2, 0.5);
        double before = degrade_power(&p);
        degrade_phone(&p);
        double db = decibel(degrade_power(&p), before);
        if (db < row[i].low_db || db > row[i].high_db)
            fail_msg("%g Hz comes through with %.2f dB", row[i].hz, db);
        pcm_release(&p);
    }
}

static void noise_stands_at_the_ratio_asked_for(void **state)
{
    (void)state;
    static const struct {
        enum degrade_noise kind;
        double snr_db;
        bool phone;
    } row[] = {
        {NOISE_WHITE, 20, false}, {NOISE_WHITE, 10, true}, {NOISE_WHITE, 0, false},
        {NOISE_BABBLE, 10, false}, {NOISE_BABBLE, 0, true},
    };
    for (size_t i = 0; i < COUNT_OF(row); i++) {
        struct pcm clean, noisy;
        struct random r;
        random_init(&r, 7 + i);
        pcm_init(&clean, 16000);
        pcm_init(&noisy, 16000);
        tone(&clean, 800, 2, 2, 0.5); /* two seconds of silence do not count */
        pcm_add(&noisy, clean.at, clean.frames);
        degrade_noise(&noisy, row[i].kind, row[i].snr_db, row[i].phone, &r);
        pcm_mix(&noisy, 0, clean.at, clean.frames, -1);
        double sum = 0;
        for (size_t k = 0; k < noisy.frames; k++)
            sum += (double)noisy.at[k] * noisy.at[k];
        assert_near(decibel(degrade_power(&clean), sum / (double)noisy.frames), row[i].snr_db, 0.1);
        pcm_release(&clean);
        pcm_release(&noisy);
    }
}

static double rms(const struct pcm *p, double from_s, double s)
{
    double sum = 0;
    size_t from = (size_t)(from_s * p->rate_hz), frames = (size_t)(s * p->rate_hz);
    for (size_t i = from; i < from + frames; i++)
        sum += (double)p->at[i] * p->at[i];
    return sqrt(sum / (double)frames);
}

/* The time of reverberation is defined by a fall of 60 dB. */
static void a_room_dies_away_in_its_time(void **state)
{
    (void)state;
    struct pcm p;
    struct random r;
    random_init(&r, 3);
    pcm_init(&p, 16000);
    pcm_reserve(&p, 800);
    for (size_t i = 0; i < p.frames; i++)
        p.at[i] = (float)(2 * random_unit(&r) - 1);
    degrade_room(&p, 0.8, 0.4, &r);
    double half_db = 20 * log10(rms(&p, 0.15, 0.1) / rms(&p, 0.55, 0.1));
    assert_near(half_db, 30, 5);
    assert_true(rms(&p, 0.15, 0.1) > 0.01);
    pcm_release(&p);
}

static void gain_control_brings_soft_and_loud_together(void **state)
{
    (void)state;
    struct pcm p;
    pcm_init(&p, 16000);
    tone(&p, 500, 0, 4, 0.02);
    tone(&p, 500, 4, 4, 0.78);
    double before = rms(&p, 7, 0.5) / rms(&p, 3, 0.5);
    degrade_gain_control(&p);
    double after = rms(&p, 7, 0.5) / rms(&p, 3, 0.5);
    assert_true(before > 30);
    assert_true(after < 4);
    pcm_release(&p);
}

/* An 8-bit logarithmic code keeps about 38 dB over a wide range of levels (G.711). */
static void mulaw_keeps_its_ratio_at_any_level(void **state)
{
    (void)state;
    for (double level = 0.9; level > 0.02; level /= 3) {
        struct pcm p, q;
        pcm_init(&p, 16000);
        pcm_init(&q, 16000);
        tone(&p, 437, 0, 1, level);
        pcm_add(&q, p.at, p.frames);
        degrade_mulaw(&q);
        pcm_mix(&q, 0, p.at, p.frames, -1);
        double db = decibel(degrade_power(&p), degrade_power(&q));
        assert_true(db > 33 && db < 43);
        pcm_release(&p);
        pcm_release(&q);
    }
}

static void ticks_come_at_their_beat_and_a_zero_row_changes_nothing(void **state)
{
    (void)state;
    struct pcm p;
    struct random r;
    struct degrade nothing = {.name = "as it is"};
    random_init(&r, 5);
    pcm_init(&p, 16000);
    tone(&p, 500, 0, 0.1, 1);
    pcm_reserve(&p, 6 * 16000);
    degrade_apply(&nothing, &p, &r);
    assert_near(rms(&p, 1, 4), 0, 0);
    degrade_tick(&p, 1, -20, &r);
    int ticks = 0;
    for (double t_s = 0.2; t_s < 5.9; t_s += 0.05)
        ticks += rms(&p, t_s, 0.05) > 0.005 && rms(&p, t_s - 0.05, 0.05) <= 0.005;
    assert_in_range(ticks, 5, 6);
    pcm_release(&p);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_telephone_passes_300_to_3400_hz),
        cmocka_unit_test(noise_stands_at_the_ratio_asked_for),
        cmocka_unit_test(a_room_dies_away_in_its_time),
        cmocka_unit_test(gain_control_brings_soft_and_loud_together),
        cmocka_unit_test(mulaw_keeps_its_ratio_at_any_level),
        cmocka_unit_test(ticks_come_at_their_beat_and_a_zero_row_changes_nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
