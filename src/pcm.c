#include "pcm.h"

#include <assert.h>
#include <math.h>
#include <stdint.h>
#include <string.h>

#include "err.h"
#include "mem.h"
#include "text.h"

#define READ_LIMIT    (256u << 20)
#define RATE_LOW_HZ   1000
#define RATE_HIGH_HZ  384000
#define CHANNELS_MOST 32

static const double pi = 3.14159265358979323846;

/* ---- samples ---- */

void pcm_init(struct pcm *p, int rate_hz)
{
    *p = (struct pcm){.rate_hz = rate_hz};
}

void pcm_reserve(struct pcm *p, size_t frames)
{
    if (frames <= p->frames)
        return;
    p->at = mem_grow(p->at, &p->room, frames, sizeof *p->at);
    memset(p->at + p->frames, 0, (frames - p->frames) * sizeof *p->at);
    p->frames = frames;
}

void pcm_add(struct pcm *p, const float *samples, size_t frames)
{
    if (!frames)
        return;
    size_t start = p->frames;
    pcm_reserve(p, start + frames);
    memcpy(p->at + start, samples, frames * sizeof *samples);
}

void pcm_mix(struct pcm *p, size_t start_frame, const float *samples, size_t frames, float gain)
{
    if (!frames)
        return;
    pcm_reserve(p, start_frame + frames);
    for (size_t i = 0; i < frames; i++)
        p->at[start_frame + i] += samples[i] * gain;
}

float pcm_peak(const struct pcm *p)
{
    float peak = 0;
    for (size_t i = 0; i < p->frames; i++)
        peak = fmaxf(peak, fabsf(p->at[i]));
    return peak;
}

void pcm_scale(struct pcm *p, float gain)
{
    for (size_t i = 0; i < p->frames; i++)
        p->at[i] *= gain;
}

void pcm_release(struct pcm *p)
{
    mem_free(p->at);
    *p = (struct pcm){0};
}

/* ---- RIFF/WAVE ----
 * "RIFF" size "WAVE", then chunks: four letters, a 32-bit length, that many bytes, padded to even.
 * "fmt " comes before "data".  All numbers are little-endian.  A recorder that was cut off leaves
 * lengths of 0 or FFFFFFFF, so a data chunk that runs past the file is taken as far as it goes. */

struct wave_format {
    unsigned code; /* 1 whole numbers, 3 floating point */
    unsigned channels, rate_hz, bits;
};

static unsigned le16(const unsigned char *b)
{
    return b[0] | (unsigned)b[1] << 8;
}

static uint32_t le32(const unsigned char *b)
{
    return le16(b) | (uint32_t)le16(b + 2) << 16;
}

static uint64_t le64(const unsigned char *b)
{
    return le32(b) | (uint64_t)le32(b + 4) << 32;
}

static bool read_format(const unsigned char *b, size_t length, struct wave_format *f)
{
    if (length < 16)
        return false;
    f->code = le16(b);
    f->channels = le16(b + 2);
    f->rate_hz = le32(b + 4);
    f->bits = le16(b + 14);
    if (f->code == 0xFFFE && length >= 26) /* "extensible": the real code begins the sub-format */
        f->code = le16(b + 24);
    return true;
}

static bool format_known(const struct wave_format *f)
{
    bool whole = f->code == 1 && (f->bits == 8 || f->bits == 16 || f->bits == 24 || f->bits == 32);
    bool real = f->code == 3 && (f->bits == 32 || f->bits == 64);
    return (whole || real) && f->channels >= 1 && f->channels <= CHANNELS_MOST &&
           f->rate_hz >= RATE_LOW_HZ && f->rate_hz <= RATE_HIGH_HZ;
}

static float tame(double v) /* what no recorder means is silence or the loudest sample */
{
    if (!isfinite(v))
        return 0;
    return (float)fmax(-1, fmin(1, v));
}

static float sample_value(const unsigned char *b, const struct wave_format *f)
{
    switch (f->bits) {
    case 8:
        return (float)(b[0] - 128) / 128;
    case 16:
        return (float)(int16_t)le16(b) / 32768;
    case 24:
        return (float)(int32_t)((uint32_t)b[0] << 8 | (uint32_t)b[1] << 16 | (uint32_t)b[2] << 24) /
               2147483648.0f;
    case 32:
        if (f->code == 3) {
            uint32_t raw = le32(b);
            float v;
            memcpy(&v, &raw, sizeof v);
            return tame(v);
        }
        return (float)(int32_t)le32(b) / 2147483648.0f;
    default: {
        uint64_t raw = le64(b);
        double v;
        memcpy(&v, &raw, sizeof v);
        return tame(v);
    }
    }
}

static void mix_down(struct pcm *p, const unsigned char *b, size_t length,
                     const struct wave_format *f)
{
    size_t width = f->bits / 8, step = width * f->channels, frames = length / step;
    pcm_init(p, (int)f->rate_hz);
    pcm_reserve(p, frames);
    for (size_t i = 0; i < frames; i++) {
        float sum = 0;
        for (unsigned c = 0; c < f->channels; c++)
            sum += sample_value(b + i * step + c * width, f);
        p->at[i] = sum / (float)f->channels;
    }
}

/* The whole of a sentence that says why the bytes are no sound we read, or NULL. */
static const char *read_chunks(struct pcm *p, const unsigned char *b, size_t length)
{
    if (length < 12 || memcmp(b, "RIFF", 4) != 0 || memcmp(b + 8, "WAVE", 4) != 0)
        return "this is no WAVE file; expected one that begins with RIFF and WAVE.";
    struct wave_format f = {0};
    bool have_format = false;
    for (size_t at = 12; length - at >= 8;) {
        const unsigned char *body = b + at + 8;
        size_t size = le32(b + at + 4), left = length - at - 8;
        size_t here = size < left ? size : left;
        if (memcmp(b + at, "fmt ", 4) == 0) {
            have_format = read_format(body, here, &f);
        } else if (memcmp(b + at, "data", 4) == 0) {
            if (!have_format || !format_known(&f))
                return "the sound is in a form that is not read; expected 8, 16, 24 or 32 bit "
                       "samples or floating point, 1 to 32 channels, 1000 to 384000 Hz.";
            mix_down(p, body, size ? here : left, &f);
            return NULL;
        }
        if (here + (here & 1) >= left)
            break;
        at += 8 + here + (here & 1);
    }
    return "the WAVE file holds no samples; expected a data chunk.";
}

bool pcm_parse_wav(struct pcm *p, const char *name, const void *bytes, size_t length, struct err *e)
{
    const char *wrong = read_chunks(p, bytes, length);
    if (wrong)
        err_add(e, "%s: %s", name, wrong);
    return !wrong;
}

bool pcm_read_wav(struct pcm *p, const char *path, struct err *e)
{
    size_t length;
    char *bytes = text_read_file(path, READ_LIMIT, &length, e);
    if (!bytes)
        return false;
    bool good = pcm_parse_wav(p, path, bytes, length, e);
    mem_free(bytes);
    return good;
}

static void put16(unsigned char *b, unsigned v)
{
    b[0] = (unsigned char)v;
    b[1] = (unsigned char)(v >> 8);
}

static void put32(unsigned char *b, uint32_t v)
{
    put16(b, v & 0xFFFF);
    put16(b + 2, v >> 16);
}

#define WAVE_HEADER 44

static void put_header(unsigned char *b, uint32_t data_bytes, uint32_t rate_hz)
{
    memcpy(b, "RIFF", 4);
    put32(b + 4, WAVE_HEADER - 8 + data_bytes);
    memcpy(b + 8, "WAVEfmt ", 8);
    put32(b + 16, 16);
    put16(b + 20, 1);
    put16(b + 22, 1);
    put32(b + 24, rate_hz);
    put32(b + 28, rate_hz * 2);
    put16(b + 32, 2);
    put16(b + 34, 16);
    memcpy(b + 36, "data", 4);
    put32(b + 40, data_bytes);
}

bool pcm_write_wav(const struct pcm *p, const char *path, struct err *e)
{
    if (p->frames > (UINT32_MAX - WAVE_HEADER) / 2) {
        err_add(e, "%s: the sound is too long for a WAVE file (%zu samples).", path, p->frames);
        return false;
    }
    size_t length = WAVE_HEADER + p->frames * 2;
    unsigned char *b = mem_alloc(length);
    put_header(b, (uint32_t)(p->frames * 2), (uint32_t)p->rate_hz);
    for (size_t i = 0; i < p->frames; i++) {
        long v = lrint(tame(p->at[i]) * 32768.0);
        put16(b + WAVE_HEADER + 2 * i, (unsigned)(v > 32767 ? 32767 : v) & 0xFFFF);
    }
    bool good = text_write_file(path, b, length, e);
    mem_free(b);
    return good;
}

/* ---- resampling ----
 * Each output sample is the input seen through a low-pass window: a sinc cut at the lower of the
 * two Nyquist limits under a Kaiser window (J. O. Smith, "Digital Audio Resampling Home Page",
 * https://ccrma.stanford.edu/~jos/resample/).  With the rates divided by their greatest common
 * divisor, `up` output samples span `down` input samples, so only `up` different windows exist;
 * they are worked out once unless there are too many to be worth keeping. */

#define ZERO_CROSSINGS 24   /* each side; sets how steep the edge is */
#define KAISER_BETA    9.0  /* about 90 dB down beyond the edge */
#define EDGE           0.94 /* of Nyquist: leaves room for the slope */
#define WINDOWS_MOST   2048

static double bessel_i0(double x)
{
    double sum = 1, term = 1;
    for (int k = 1; k < 40; k++) {
        term *= (x / (2 * k)) * (x / (2 * k));
        sum += term;
    }
    return sum;
}

struct resampler {
    size_t up, down; /* reduced rates: to and from */
    size_t taps;     /* even; half each side of the output's place */
    double cut;      /* 1 = Nyquist of the input */
    double i0_beta;
    float *windows; /* up * taps, or NULL: worked out for each sample */
    float *one;     /* room for one window */
};

/* The window for an output `ahead` (0..1) of an input sample behind the middle tap. */
static void shape_window(const struct resampler *r, double ahead, float *window)
{
    double half = (double)r->taps / 2, sum = 0;
    for (size_t i = 0; i < r->taps; i++) {
        double x = (double)i - (half - 1) - ahead; /* in input samples */
        double u = x / half, s = pi * r->cut * x;
        double v = fabs(u) >= 1 ? 0 : bessel_i0(KAISER_BETA * sqrt(1 - u * u)) / r->i0_beta;
        v *= fabs(s) < 1e-9 ? 1 : sin(s) / s;
        window[i] = (float)v;
        sum += v;
    }
    for (size_t i = 0; i < r->taps; i++) /* so that a steady level stays as it was */
        window[i] = (float)(window[i] / sum);
}

static size_t common_divisor(size_t a, size_t b)
{
    while (b) {
        size_t rest = a % b;
        a = b;
        b = rest;
    }
    return a;
}

static void resampler_init(struct resampler *r, int from_hz, int to_hz)
{
    size_t g = common_divisor((size_t)from_hz, (size_t)to_hz);
    double ratio = (double)to_hz / from_hz;
    *r = (struct resampler){.up = (size_t)to_hz / g, .down = (size_t)from_hz / g};
    r->cut = EDGE * (ratio < 1 ? ratio : 1);
    r->taps = 2 * (size_t)ceil(ZERO_CROSSINGS / r->cut);
    r->i0_beta = bessel_i0(KAISER_BETA);
    r->one = mem_alloc(r->taps * sizeof *r->one);
    if (r->up > WINDOWS_MOST)
        return;
    r->windows = mem_alloc(r->up * r->taps * sizeof *r->windows);
    for (size_t phase = 0; phase < r->up; phase++)
        shape_window(r, (double)phase / (double)r->up, r->windows + phase * r->taps);
}

static void resampler_release(struct resampler *r)
{
    mem_free(r->windows);
    mem_free(r->one);
}

static float sample_at(const struct resampler *r, const struct pcm *from, size_t place)
{
    size_t phase = place % r->up, base = place / r->up, half = r->taps / 2;
    const float *window = r->one;
    if (r->windows)
        window = r->windows + phase * r->taps;
    else
        shape_window(r, (double)phase / (double)r->up, r->one);
    size_t skip = base + 1 < half ? half - 1 - base : 0; /* taps before the first sample */
    size_t start = base + 1 + skip - half;               /* sample under tap `skip` */
    float sum = 0;
    for (size_t i = skip; i < r->taps && start + (i - skip) < from->frames; i++)
        sum += window[i] * from->at[start + (i - skip)];
    return sum;
}

void pcm_resample(const struct pcm *from, int rate_hz, struct pcm *to)
{
    assert(rate_hz > 0 && from->rate_hz > 0);
    pcm_init(to, rate_hz);
    if (rate_hz == from->rate_hz) {
        pcm_add(to, from->at, from->frames);
        return;
    }
    struct resampler r;
    resampler_init(&r, from->rate_hz, rate_hz);
    size_t frames = (from->frames * r.up + r.down - 1) / r.down;
    pcm_reserve(to, frames);
    for (size_t i = 0; i < frames; i++)
        to->at[i] = sample_at(&r, from, i * r.down);
    resampler_release(&r);
}
