#include "suite.h"

#include <math.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "err.h"
#include "mem.h"
#include "pcm.h"
#include "resample.h"
#include "text.h"

static void make_sine(struct pcm *p, int rate_hz, double hz, double seconds, double level)
{
    pcm_init(p, rate_hz);
    size_t frames = (size_t)(seconds * rate_hz);
    pcm_reserve(p, frames);
    for (size_t i = 0; i < frames; i++)
        p->at[i] = (float)(level * sin(2 * M_PI * hz * (double)i / rate_hz));
}

static void mixing_lengthens_and_adds(void **state)
{
    (void)state;
    struct pcm p;
    static const float two[] = {0.5f, -0.5f};
    pcm_init(&p, 8000);
    pcm_add(&p, two, 2);
    pcm_mix(&p, 1, two, 2, 2.0f);
    pcm_mix(&p, 9, two, 0, 1.0f);
    static const float want[] = {0.5f, 0.5f, -1.0f};
    assert_int_equal(p.frames, 3);
    for (size_t i = 0; i < 3; i++)
        assert_near(p.at[i], want[i], 0);
    assert_near(pcm_peak(&p), 1, 0);
    pcm_scale(&p, 0.5f);
    assert_near(p.at[2], -0.5, 0);
    pcm_release(&p);
    pcm_release(&p);
}

static char path[] = "/tmp/letoff-pcm-XXXXXX";

static int make_file(void **state)
{
    (void)state;
    int fd = mkstemp(path);
    return fd < 0 ? -1 : close(fd);
}

static int remove_file(void **state)
{
    (void)state;
    return unlink(path);
}

static void a_wave_file_comes_back_within_half_a_step(void **state)
{
    (void)state;
    struct err e = {0};
    struct pcm out, in = {0};
    make_sine(&out, 22050, 440, 0.1, 0.9);
    out.at[5] = 3; /* clipped */
    assert_true(pcm_write_wav(&out, path, &e));
    assert_true(pcm_read_wav(&in, path, &e));
    assert_int_equal(e.count, 0);
    assert_int_equal(in.rate_hz, 22050);
    assert_int_equal(in.frames, out.frames);
    out.at[5] = 32767 / 32768.0f;
    for (size_t i = 0; i < in.frames; i++)
        assert_near(in.at[i], out.at[i], 0.5 / 32768 + 1e-7);
    pcm_release(&in);
    pcm_release(&out);
}

/* A WAVE file of one frame; `extra` bytes of an odd chunk stand before the samples. */
static size_t make_wave(unsigned char *b, unsigned code, unsigned channels, unsigned bits,
                        const void *samples, unsigned bytes)
{
    unsigned fmt = code == 0xFFFE ? 40 : 16;
    memset(b, 0, 200);
    memcpy(b, "RIFF\0\0\0\0WAVEjunk\3\0\0\0abc\0fmt ", 28);
    b[28] = (unsigned char)fmt;
    b[32] = (unsigned char)code;
    b[33] = (unsigned char)(code >> 8);
    b[34] = (unsigned char)channels;
    b[36] = 0x40; /* 8000 Hz */
    b[37] = 0x1F;
    b[46] = (unsigned char)bits;
    if (fmt == 40)
        b[56] = 1;
    unsigned char *data = b + 32 + fmt;
    memcpy(data, "data", 4);
    data[4] = (unsigned char)bytes;
    memcpy(data + 8, samples, bytes);
    return (size_t)(data + 8 + bytes - b);
}

static void every_sample_form_is_read_and_channels_are_mixed_down(void **state)
{
    (void)state;
    static const unsigned char half8[] = {192}, half16[] = {0, 64}, half24[] = {0, 0, 64},
                               half32[] = {0, 0, 0, 64}, stereo16[] = {0, 64, 0, 0};
    static const float half_f = 0.5f;
    static const double half_d = 0.5;
    const struct {
        unsigned code, channels, bits;
        const void *samples;
        unsigned bytes;
        double want;
    } rows[] = {
        {1, 1, 8, half8, 1, 0.5},      {1, 1, 16, half16, 2, 0.5},      {1, 1, 24, half24, 3, 0.5},
        {1, 1, 32, half32, 4, 0.5},    {3, 1, 32, &half_f, 4, 0.5},     {3, 1, 64, &half_d, 8, 0.5},
        {1, 2, 16, stereo16, 4, 0.25}, {0xFFFE, 1, 16, half16, 2, 0.5},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        unsigned char b[200];
        size_t length = make_wave(b, rows[i].code, rows[i].channels, rows[i].bits, rows[i].samples,
                                  rows[i].bytes);
        struct err e = {0};
        struct pcm p = {0};
        assert_true(text_write_file(path, b, length, &e));
        assert_true(pcm_read_wav(&p, path, &e));
        assert_int_equal(p.rate_hz, 8000);
        assert_int_equal(p.frames, 1);
        assert_near(p.at[0], rows[i].want, 1e-6);
        pcm_release(&p);
    }
}

static void numbers_that_are_no_sound_are_tamed(void **state)
{
    (void)state;
    static const struct {
        uint32_t raw;
        double want;
    } rows[] = {{0x7FC00000, 0}, {0x7F800000, 0}, {0x7F7FFFFF, 1}, {0xFF7FFFFF, -1}};
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        unsigned char b[200];
        struct err e = {0};
        struct pcm p = {0};
        size_t length = make_wave(b, 3, 1, 32, &rows[i].raw, 4);
        assert_true(text_write_file(path, b, length, &e));
        assert_true(pcm_read_wav(&p, path, &e));
        assert_near(p.at[0], rows[i].want, 0);
        pcm_release(&p);
    }
}

static void what_is_no_sound_is_refused_with_a_sentence(void **state)
{
    (void)state;
    unsigned char b[200];
    static const unsigned char zero[8];
    static const struct {
        unsigned code, channels, bits;
    } rows[] = {{2, 1, 16}, {1, 0, 16}, {1, 33, 16}, {1, 1, 12}, {1, 1, 0}, {3, 1, 16}};
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct err e = {0};
        struct pcm p = {0};
        size_t length = make_wave(b, rows[i].code, rows[i].channels, rows[i].bits, zero, 8);
        assert_true(text_write_file(path, b, length, &e));
        assert_false(pcm_read_wav(&p, path, &e));
        assert_int_equal(e.count, 1);
        assert_null(p.at);
        err_release(&e);
    }
}

/* Every prefix of a good file: read as far as it goes, or refused; never more than that. */
static void a_file_cut_anywhere_is_no_danger(void **state)
{
    (void)state;
    unsigned char b[200];
    static const unsigned char samples[8] = {1, 2, 3, 4, 5, 6, 7, 8};
    size_t length = make_wave(b, 1, 1, 16, samples, 8);
    for (size_t cut = 0; cut < length; cut++) {
        struct err e = {0};
        struct pcm p = {0};
        assert_true(text_write_file(path, b, cut, &e));
        bool good = pcm_read_wav(&p, path, &e);
        assert_int_equal(e.count, good ? 0 : 1);
        assert_true(p.frames <= 4);
        err_release(&e);
        pcm_release(&p);
    }
}

static double power_of(const struct pcm *p, size_t margin)
{
    double sum = 0;
    for (size_t i = margin; i + margin < p->frames; i++)
        sum += (double)p->at[i] * p->at[i];
    return sum / (double)(p->frames - 2 * margin);
}

static void resampling_keeps_a_sine_in_its_place(void **state)
{
    (void)state;
    static const struct {
        int from_hz, to_hz;
    } rows[] = {{44100, 16000}, {48000, 44100}, {16000, 48000}, {8000, 8000}, {44100, 15999}};
    for (size_t r = 0; r < COUNT_OF(rows); r++) {
        struct pcm from, to, want;
        make_sine(&from, rows[r].from_hz, 1000, 0.25, 0.8);
        make_sine(&want, rows[r].to_hz, 1000, 0.25, 0.8);
        pcm_resample(&from, rows[r].to_hz, &to);
        assert_int_equal(to.rate_hz, rows[r].to_hz);
        assert_in_range(to.frames, want.frames, want.frames + 1);
        for (size_t i = 200; i + 200 < want.frames; i++) /* away from the cut ends */
            assert_near(to.at[i], want.at[i], 1e-3);
        pcm_release(&from);
        pcm_release(&to);
        pcm_release(&want);
    }
}

static void what_the_lower_rate_cannot_hold_is_removed_not_folded(void **state)
{
    (void)state;
    struct pcm from, to;
    make_sine(&from, 44100, 12000, 0.25, 0.8); /* above the 8 kHz that 16 kHz can hold */
    pcm_resample(&from, 16000, &to);
    double left_db = 10 * log10(power_of(&to, 200) / 0.32 + 1e-20);
    assert_true(left_db < -80);
    pcm_release(&from);
    pcm_release(&to);
}

static void resampling_in_blocks_is_the_same(void **state)
{
    (void)state;
    static const struct {
        int from_hz, to_hz;
        size_t block;
    } rows[] = {{44100, 16000, 1}, {44100, 16000, 997}, {48000, 16000, 3}, {8000, 16000, 50}, {16000, 16000, 7}, {384000, 16000, 100}};
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct pcm from, whole;
        make_sine(&from, rows[i].from_hz, 700, 0.05, 0.8);
        pcm_resample(&from, rows[i].to_hz, &whole);
        struct resampler *r = resampler_new(rows[i].from_hz, rows[i].to_hz, RESAMPLE_FINE);
        float *out = mem_alloc(resampler_room(r, from.frames) * sizeof *out);
        size_t n = 0;
        for (size_t at = 0; at < from.frames; at += rows[i].block) {
            size_t left = from.frames - at;
            n += resampler_feed(r, from.at + at, left < rows[i].block ? left : rows[i].block, out + n);
        }
        n += resampler_finish(r, out + n);
        assert_int_equal(n, whole.frames);
        assert_memory_equal(out, whole.at, n * sizeof *out);
        resampler_free(r);
        mem_free(out);
        pcm_release(&from);
        pcm_release(&whole);
    }
}

/* Power that is left of a tone, in dB. */
static double left_of(int from_hz, double hz, enum resample_care care)
{
    struct pcm from, to;
    make_sine(&from, from_hz, hz, 0.25, 0.8);
    struct resampler *r = resampler_new(from_hz, 16000, care);
    pcm_init(&to, 16000);
    pcm_reserve(&to, resampler_room(r, from.frames));
    to.frames = resampler_feed(r, from.at, from.frames, to.at);
    double left_db = 10 * log10(power_of(&to, 200) / 0.32 + 1e-20);
    resampler_free(r);
    pcm_release(&from);
    pcm_release(&to);
    return left_db;
}

static void what_is_done_quickly_is_flat_and_does_not_fold_either(void **state)
{
    (void)state;
    static const int rates_hz[] = {44100, 48000, 22050, 96000};
    for (size_t i = 0; i < COUNT_OF(rates_hz); i++) {
        assert_near(left_of(rates_hz[i], 6400, RESAMPLE_QUICK), 0, 0.1);
        assert_near(left_of(rates_hz[i], 6800, RESAMPLE_FINE), 0, 0.1);
        assert_true(left_of(rates_hz[i], 8700, RESAMPLE_QUICK) < -68);
        assert_true(left_of(rates_hz[i], 8700, RESAMPLE_FINE) < -80);
    }
}

static void resampling_silence_or_nothing_is_no_trouble(void **state)
{
    (void)state;
    struct pcm from = {.rate_hz = 44100}, to;
    pcm_resample(&from, 16000, &to);
    assert_int_equal(to.frames, 0);
    pcm_release(&to);
    pcm_reserve(&from, 3); /* shorter than the window */
    pcm_resample(&from, 16000, &to);
    assert_int_equal(to.frames, 2);
    assert_near(pcm_peak(&to), 0, 0);
    pcm_release(&from);
    pcm_release(&to);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(mixing_lengthens_and_adds),
        cmocka_unit_test(a_wave_file_comes_back_within_half_a_step),
        cmocka_unit_test(every_sample_form_is_read_and_channels_are_mixed_down),
        cmocka_unit_test(numbers_that_are_no_sound_are_tamed),
        cmocka_unit_test(what_is_no_sound_is_refused_with_a_sentence),
        cmocka_unit_test(a_file_cut_anywhere_is_no_danger),
        cmocka_unit_test(resampling_keeps_a_sine_in_its_place),
        cmocka_unit_test(what_the_lower_rate_cannot_hold_is_removed_not_folded),
        cmocka_unit_test(resampling_in_blocks_is_the_same),
        cmocka_unit_test(what_is_done_quickly_is_flat_and_does_not_fold_either),
        cmocka_unit_test(resampling_silence_or_nothing_is_no_trouble),
    };
    return cmocka_run_group_tests(tests, make_file, remove_file);
}
