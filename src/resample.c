#include "resample.h"

#include <assert.h>
#include <math.h>
#include <string.h>

#include "mem.h"

#define WINDOWS_MOST 2048
#define SIDE_BY_SIDE 16 /* products summed side by side; taps are a multiple of it */

static const struct {
    double crossings; /* of zero, each side; they set how steep the edge is */
    double beta;      /* of the Kaiser window; sets how far down what lies beyond the edge is */
    double edge;      /* of Nyquist: leaves room for the slope */
} cares[] = {
    [RESAMPLE_FINE] = {24, 9.0, 0.94},
    [RESAMPLE_QUICK] = {16, 6.8, 0.93},
};

static const double pi = 3.14159265358979323846;

struct resampler {
    size_t up, down; /* reduced rates: to and from */
    size_t taps;     /* half each side of the output's place */
    double cut;      /* 1 = Nyquist of the input */
    double beta, i0_beta;
    float *windows;  /* up * taps, or NULL: worked out for each sample */
    float *one;      /* room for one window */
    float *kept;     /* input under the next window and after it */
    size_t count, room;
    size_t base, phase; /* the next output's window begins at kept[base]; it stands phase / up after the middle */
};

static double bessel_i0(double x)
{
    double sum = 1, term = 1;
    for (int k = 1; k < 40; k++) {
        term *= (x / (2 * k)) * (x / (2 * k));
        sum += term;
    }
    return sum;
}

/* The window for an output `ahead` (0..1) of an input sample behind the middle tap. */
static void shape_window(const struct resampler *r, double ahead, float *window)
{
    double half = (double)r->taps / 2, sum = 0;
    for (size_t i = 0; i < r->taps; i++) {
        double x = (double)i - (half - 1) - ahead; /* in input samples */
        double u = x / half, s = pi * r->cut * x;
        double v = fabs(u) >= 1 ? 0 : bessel_i0(r->beta * sqrt(1 - u * u)) / r->i0_beta;
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

struct resampler *resampler_new(int from_hz, int to_hz, enum resample_care care)
{
    assert(from_hz > 0 && to_hz > 0);
    struct resampler *r = mem_alloc(sizeof *r);
    size_t g = common_divisor((size_t)from_hz, (size_t)to_hz);
    double ratio = (double)to_hz / from_hz;
    *r = (struct resampler){.up = (size_t)to_hz / g, .down = (size_t)from_hz / g};
    if (r->up == r->down)
        return r;
    r->cut = cares[care].edge * (ratio < 1 ? ratio : 1);
    size_t least = 2 * (size_t)ceil(cares[care].crossings / r->cut);
    r->taps = (least + SIDE_BY_SIDE - 1) / SIDE_BY_SIDE * SIDE_BY_SIDE;
    r->beta = cares[care].beta;
    r->i0_beta = bessel_i0(r->beta);
    r->one = mem_alloc(r->taps * sizeof *r->one);
    r->count = r->taps / 2 - 1; /* silence before the first sample */
    r->kept = mem_grow(NULL, &r->room, r->taps, sizeof *r->kept);
    memset(r->kept, 0, r->count * sizeof *r->kept);
    if (r->up > WINDOWS_MOST)
        return r;
    r->windows = mem_alloc(r->up * r->taps * sizeof *r->windows);
    for (size_t phase = 0; phase < r->up; phase++)
        shape_window(r, (double)phase / (double)r->up, r->windows + phase * r->taps);
    return r;
}

void resampler_free(struct resampler *r)
{
    if (!r)
        return;
    mem_free(r->windows);
    mem_free(r->one);
    mem_free(r->kept);
    mem_free(r);
}

size_t resampler_room(const struct resampler *r, size_t frames)
{
    return (frames + r->taps) * r->up / r->down + 1;
}

static float under_window(const float *window, const float *samples, size_t taps)
{
    float sum[SIDE_BY_SIDE] = {0};
    for (size_t i = 0; i < taps; i += SIDE_BY_SIDE)
        for (size_t k = 0; k < SIDE_BY_SIDE; k++)
            sum[k] += window[i + k] * samples[i + k];
    for (size_t k = 0; k < 4; k++)
        sum[k] += sum[k + 4] + (sum[k + 8] + sum[k + 12]);
    return sum[0] + sum[1] + (sum[2] + sum[3]);
}

/* All whose window is filled. */
static size_t put_filled(struct resampler *r, float *out)
{
    size_t n = 0, whole = r->down / r->up, part = r->down % r->up;
    for (; r->base + r->taps <= r->count; r->base += whole) {
        const float *window = r->windows ? r->windows + r->phase * r->taps : r->one;
        if (!r->windows)
            shape_window(r, (double)r->phase / (double)r->up, r->one);
        out[n++] = under_window(window, r->kept + r->base, r->taps);
        r->phase += part;
        if (r->phase >= r->up) {
            r->phase -= r->up;
            r->base++;
        }
    }
    size_t drop = r->base < r->count ? r->base : r->count;
    r->count -= drop;
    r->base -= drop;
    memmove(r->kept, r->kept + drop, r->count * sizeof *r->kept);
    return n;
}

size_t resampler_feed(struct resampler *r, const float *samples, size_t frames, float *out)
{
    if (!frames)
        return 0;
    if (!r->taps) {
        memcpy(out, samples, frames * sizeof *out);
        return frames;
    }
    r->kept = mem_grow(r->kept, &r->room, r->count + frames, sizeof *r->kept);
    memcpy(r->kept + r->count, samples, frames * sizeof *samples);
    r->count += frames;
    return put_filled(r, out);
}

size_t resampler_finish(struct resampler *r, float *out)
{
    if (!r->taps)
        return 0;
    size_t silence = r->taps / 2;
    r->kept = mem_grow(r->kept, &r->room, r->count + silence, sizeof *r->kept);
    memset(r->kept + r->count, 0, silence * sizeof *r->kept);
    r->count += silence;
    return put_filled(r, out);
}
