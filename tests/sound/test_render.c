#include "suite.h"

#include <string.h>
#include "event.h"
#include "measure.h"
#include "sound/midi.h"
#include "sound/partials.h"
#include "sound/render.h"

#define RATE_HZ 32000

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

static struct pcm sound_of(const char *voice, struct render_blow blow)
{
    struct pcm p;
    pcm_init(&p, RATE_HZ);
    render_blow(voice_find(&set, voice), &blow, &p);
    return p;
}

/* Frequency of partial n (from 1) as it stands in the sound; its doublet is not told apart. */
static double partial_found(const struct pcm *p, double expected_hz)
{
    return measure_peak_hz(p, 0.02, 0.5, expected_hz * 0.97, expected_hz * 1.03);
}

/* Equal temperament, A4 = 440 Hz: the table of https://www.engineeringtoolbox.com/note-frequencies-d_520.html
 * and of the CRC Handbook, musical scales. */
static void notes_lie_where_the_table_of_equal_temperament_says(void **state)
{
    (void)state;
    static const struct {
        int note;
        double hz;
    } row[] = {
        {52, 164.8138}, {59, 246.9417}, {60, 261.6256}, {62, 293.6648}, {64, 329.6276},
        {66, 369.9944}, {67, 391.9954}, {68, 415.3047}, {69, 440.0000}, {71, 493.8833},
        {72, 523.2511}, {73, 554.3653}, {74, 587.3295}, {76, 659.2551},
    };
    for (size_t i = 0; i < COUNT_OF(row); i++) {
        double cents;
        assert_near(midi_hz_of(row[i].note), row[i].hz, 5e-5);
        assert_int_equal(midi_note_of(row[i].hz, &cents), row[i].note);
        assert_near(cents, 0, 0.01);
        struct pcm p = sound_of("flute", (struct render_blow){.hz = row[i].hz, .strength = 1,
                                                              .hold_s = 1.2});
        assert_near(measure_peak_hz(&p, 0.1, 1, row[i].hz * 0.98, row[i].hz * 1.02), row[i].hz, 0.05);
        pcm_release(&p);
    }
}

/* W. T. Thomson, Theory of Vibration with Applications, app. D.3.  The rod is rendered without its
 * stretch; the pitch named is that of its third partial. */
static void a_rod_sounds_in_the_ratios_of_the_clamped_bar(void **state)
{
    (void)state;
    static const double ratio[] = {1, 6.2669, 17.5475, 34.386};
    const struct voice *rod = voice_find(&set, "rod");
    double pitch[] = {246.9417, 329.6276, 415.3047};
    for (size_t k = 0; k < COUNT_OF(pitch); k++) {
        struct pcm p = sound_of("rod", (struct render_blow){.hz = pitch[k], .strength = 1,
                                                            .stretch = -rod->stretch});
        double unit = pitch[k] / 17.5475;
        for (size_t n = 1; n < COUNT_OF(ratio); n++)
            assert_near(partial_found(&p, unit * ratio[n]) / unit, ratio[n], 0.002 * ratio[n]);
        pcm_release(&p);
    }
}

/* "Modal frequencies are stretched compared to thin-rod theory": Espe, Lin, Hartmann, ASA 1995. */
static void a_rod_as_made_is_stretched_and_can_be_stretched_more(void **state)
{
    (void)state;
    double theory = 440 * partials_clamped_ratio(5) / partials_clamped_ratio(3), last = theory;
    for (int i = 0; i < 3; i++) {
        struct pcm p = sound_of("rod", (struct render_blow){.hz = 440, .strength = 1,
                                                            .stretch = 0.01 * i});
        double found = partial_found(&p, last * 1.01);
        assert_near(partial_found(&p, 440), 440, 1);
        assert_true(found > last * 1.004);
        last = found;
        pcm_release(&p);
    }
}

/* Hum 0.5, prime 1, tierce 1.2, quint 1.5, nominal 2; the strike note is half the nominal (Keltek Trust,
 * http://www.btinternet.com/~keltek/sapage5.html; W. A. Hibbert). */
static void a_bell_sounds_in_the_five_partials_and_half_its_nominal(void **state)
{
    (void)state;
    static const char *const BELLS[] = {"bell-large", "bell-turret"};
    static const double ratio[] = {0.5, 1, 1.2, 1.5, 2};
    double pitch = 329.6276;
    for (size_t b = 0; b < COUNT_OF(BELLS); b++) {
        struct pcm p = sound_of(BELLS[b], (struct render_blow){.hz = pitch, .strength = 1});
        for (size_t n = 0; n < COUNT_OF(ratio); n++)
            assert_near(partial_found(&p, pitch * ratio[n]) / pitch, ratio[n], 0.002 * ratio[n]);
        assert_near(partial_found(&p, 2 * pitch) / 2, pitch, 0.002 * pitch);
        pcm_release(&p);
    }
}

/* Keltek Trust, https://www.keltektrust.org.uk/sob10.html: high partials loud and short, low ones
 * weaker and long. */
static void high_partials_of_a_bell_are_loud_and_short(void **state)
{
    (void)state;
    double pitch = 200, hum = 100, nominal = 400;
    struct pcm p = sound_of("bell-turret", (struct render_blow){.hz = pitch, .strength = 1});
    assert_true(measure_amplitude(&p, 0, 0.3, nominal) > measure_amplitude(&p, 0, 0.3, hum));
    assert_true(measure_amplitude(&p, 9, 0.3, nominal) < measure_amplitude(&p, 9, 0.3, hum));
    assert_true(p.frames > 10 * RATE_HZ); /* "tails of tens of seconds", kept to 20 */
    pcm_release(&p);
}

/* The law of decay as the header of voice.h states it, on a voice with one partial and no doublet. */
static void a_partial_falls_by_60_db_in_its_time(void **state)
{
    (void)state;
    struct voice v = {.kind = VOICE_STRUCK, .partials = 1, .pitch_ratio = 1, .t60_s = 2, .t60_hz = 500,
                      .t60_slope = 1, .contact_ms = 0.1, .level = 0.5,
                      .partial = {{.ratio = 1, .level = 1}}};
    static const struct {
        double hz, decay, t60_s;
    } row[] = {{500, 0, 2}, {1000, 0, 1}, {1000, 2, 2}, {2000, 1, 0.5}};
    for (size_t i = 0; i < COUNT_OF(row); i++) {
        struct pcm p;
        pcm_init(&p, RATE_HZ);
        render_blow(&v, &(struct render_blow){.hz = row[i].hz, .strength = 1, .decay = row[i].decay},
                    &p);
        double a = measure_rms(&p, 0.1, 0.1), b = measure_rms(&p, 0.3, 0.1);
        assert_near(60 * 0.2 / (20 * log10(a / b)), row[i].t60_s, 0.02 * row[i].t60_s);
        pcm_release(&p);
    }
}

static double brightness(const struct pcm *p)
{
    return measure_rms_rise(p, 0.02, 0.2) / measure_rms(p, 0.02, 0.2);
}

static void a_softer_blow_is_weaker_and_duller(void **state)
{
    (void)state;
    static const char *const VOICES[] = {"rod", "bell-large", "gong-coiled", "tube", "bell-small"};
    for (size_t i = 0; i < COUNT_OF(VOICES); i++) {
        struct render_blow blow = {.hz = 400, .strength = 1};
        struct pcm full = sound_of(VOICES[i], blow);
        blow.strength = 0.2f;
        struct pcm soft = sound_of(VOICES[i], blow);
        double ratio = measure_rms(&soft, 0, 0.3) / measure_rms(&full, 0, 0.3);
        assert_true(ratio > 0.1 && ratio < 0.21);
        assert_true(brightness(&soft) < brightness(&full));
        pcm_release(&full);
        pcm_release(&soft);
    }
}

/* What each bit must do to be heard, measured against the blow as made. */
struct heard {
    double peak, early, late, bright; /* ratios to the plain blow */
    double again;                     /* what was added after 115 ms, to the plain blow there */
};

static struct heard heard_of(const struct pcm *p, const struct pcm *plain)
{
    struct heard h = {
        .peak = pcm_peak(p) / pcm_peak(plain),
        .early = measure_rms(p, 0, 0.05) / measure_rms(plain, 0, 0.05),
        .late = measure_rms(p, 0.6, 0.4) / measure_rms(plain, 0.6, 0.4),
        .bright = brightness(p) / brightness(plain),
    };
    struct pcm rest;
    pcm_init(&rest, p->rate_hz);
    pcm_add(&rest, p->at, p->frames);
    pcm_mix(&rest, 0, plain->at, plain->frames, -1);
    h.again = measure_rms(&rest, 0.115, 0.1) / measure_rms(plain, 0.115, 0.1);
    pcm_release(&rest);
    return h;
}

static void every_fault_of_a_blow_can_be_heard(void **state)
{
    (void)state;
    static const char *const VOICES[] = {"rod", "bell-large", "gong-coiled", "tube", "bell-small",
                                         "rod-bim-bam", "bell-ship", "tang"};
    for (size_t i = 0; i < COUNT_OF(VOICES); i++) {
        struct pcm plain = sound_of(VOICES[i], (struct render_blow){.hz = 600, .strength = 1});
        for (unsigned bit = QUALITY_WEAK; bit <= QUALITY_LOUD; bit <<= 1) {
            struct pcm p =
                sound_of(VOICES[i], (struct render_blow){.hz = 600, .strength = 1, .quality = bit});
            struct heard h = heard_of(&p, &plain);
            bool good = bit == QUALITY_WEAK     ? h.peak < 0.4 && h.bright < 1
                        : bit == QUALITY_LOUD   ? h.early > 1.4 && h.bright > 1
                        : bit == QUALITY_THUD   ? h.late < 0.03 && h.early > 0.1
                        : bit == QUALITY_TINNY  ? h.bright > 1.12 && h.late > 0.1
                        : bit == QUALITY_BUZZ   ? h.bright > 1.15 && h.late < 0.8
                                                : h.again > 0.4 && h.late > 0.4;
            if (!good)
                fail_msg("%s, bit %u: peak %.2f early %.2f late %.3f bright %.2f again %.2f",
                         VOICES[i], bit, h.peak, h.early, h.late, h.bright, h.again);
            pcm_release(&p);
        }
        pcm_release(&plain);
    }
}

static void a_double_blow_has_its_second_60_to_110_ms_later(void **state)
{
    (void)state;
    for (uint64_t seed = 0; seed < 8; seed++) {
        struct render_blow blow = {.hz = 800, .strength = 1, .seed = seed, .decay = 0.05};
        struct pcm once = sound_of("tang", blow);
        blow.quality = QUALITY_DOUBLE;
        struct pcm twice = sound_of("tang", blow);
        pcm_mix(&twice, 0, once.at, once.frames, -1); /* leaves the second */
        double s = measure_onset_s(&twice, 0, 0.01);
        assert_true(s > 0.059 && s < 0.112);
        pcm_release(&once);
        pcm_release(&twice);
    }
}

/* Every voice with every set of bits at every pitch of its range keeps below full scale or ends. */
static void no_blow_is_out_of_bounds(void **state)
{
    (void)state;
    for (size_t i = 0; i < set.count; i++)
        for (unsigned quality = 0; quality < 64; quality += 9)
            for (double hz = 10; hz <= 10000; hz *= 31) {
                struct pcm p;
                pcm_init(&p, 8000);
                render_blow(&set.at[i],
                            &(struct render_blow){.hz = hz, .strength = 1, .quality = quality}, &p);
                float peak = pcm_peak(&p);
                if (!(peak <= 1.6f))
                    fail_msg("%s, bits %u, at %g Hz peaks at %g", set.at[i].id, quality, hz, peak);
                assert_true(p.frames <= (size_t)(1.6 * RENDER_LONGEST_S * 8000));
                if (!quality && hz == 310)
                    assert_true(peak > 0.005f && peak < 1);
                pcm_release(&p);
            }
}

static void the_same_blow_sounds_the_same_and_no_strength_is_silence(void **state)
{
    (void)state;
    struct render_blow blow = {.hz = 300, .strength = 0.7f, .quality = QUALITY_BUZZ, .seed = 9};
    struct pcm a = sound_of("gong-coiled", blow), b = sound_of("gong-coiled", blow);
    assert_int_equal(a.frames, b.frames);
    assert_memory_equal(a.at, b.at, a.frames * sizeof *a.at);
    blow.strength = 0;
    struct pcm none = sound_of("rod", blow);
    assert_int_equal(none.frames, 0);
    pcm_release(&a);
    pcm_release(&b);
    pcm_release(&none);
}

/* The call of a cuckoo falls by three or four semitones (B-G and C-A heard of two clocks). */
static void a_cuckoo_calls_with_two_pipes_of_odd_harmonics(void **state)
{
    (void)state;
    static const struct {
        const char *voice;
        double hz;
    } row[] = {{"cuckoo-high", 493.8833}, {"cuckoo-low", 391.9954}};
    for (size_t i = 0; i < COUNT_OF(row); i++) {
        struct pcm p = sound_of(row[i].voice, (struct render_blow){.hz = row[i].hz, .strength = 1,
                                                                   .hold_s = 0.6});
        assert_near(measure_peak_hz(&p, 0.05, 0.5, 300, 600), row[i].hz, 0.5);
        double first = measure_amplitude(&p, 0.05, 0.5, row[i].hz);
        assert_true(measure_amplitude(&p, 0.05, 0.5, 3 * row[i].hz) > 0.05 * first);
        assert_true(measure_amplitude(&p, 0.05, 0.5, 2 * row[i].hz) < 0.02 * first);
        pcm_release(&p);
    }
}

/* A recording made at 200 Hz, asked for an octave and a half higher and with a stopped hammer. */
static void a_recording_is_moved_to_the_pitch_asked_for(void **state)
{
    (void)state;
    struct voice v = {.id = "own", .kind = VOICE_STRUCK, .level = 0.5, .recording_hz = 200,
                      .pitch_ratio = 1};
    struct pcm p;
    pcm_init(&v.recording, 16000);
    pcm_reserve(&v.recording, 32000);
    for (size_t i = 0; i < v.recording.frames; i++)
        v.recording.at[i] = (float)(0.3 * sin(2 * 3.14159265358979 * 200 * (double)i / 16000));
    pcm_init(&p, RATE_HZ);
    render_blow(&v, &(struct render_blow){.hz = 600, .strength = 1}, &p);
    assert_near(measure_peak_hz(&p, 0.1, 0.4, 500, 700), 600, 0.5);
    assert_near((double)p.frames / RATE_HZ, 2.0 / 3, 0.01);
    assert_near(pcm_peak(&p), 0.25, 0.01);
    render_blow(&v, &(struct render_blow){.hz = 600, .strength = 1, .quality = QUALITY_THUD}, &p);
    assert_true(measure_rms(&p, 0.3, 0.1) < 0.001);
    pcm_release(&p);
    pcm_release(&v.recording);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(notes_lie_where_the_table_of_equal_temperament_says),
        cmocka_unit_test(a_rod_sounds_in_the_ratios_of_the_clamped_bar),
        cmocka_unit_test(a_rod_as_made_is_stretched_and_can_be_stretched_more),
        cmocka_unit_test(a_bell_sounds_in_the_five_partials_and_half_its_nominal),
        cmocka_unit_test(high_partials_of_a_bell_are_loud_and_short),
        cmocka_unit_test(a_partial_falls_by_60_db_in_its_time),
        cmocka_unit_test(a_softer_blow_is_weaker_and_duller),
        cmocka_unit_test(every_fault_of_a_blow_can_be_heard),
        cmocka_unit_test(a_double_blow_has_its_second_60_to_110_ms_later),
        cmocka_unit_test(no_blow_is_out_of_bounds),
        cmocka_unit_test(the_same_blow_sounds_the_same_and_no_strength_is_silence),
        cmocka_unit_test(a_cuckoo_calls_with_two_pipes_of_odd_harmonics),
        cmocka_unit_test(a_recording_is_moved_to_the_pitch_asked_for),
    };
    return cmocka_run_group_tests(tests, voices_load, voices_release);
}
