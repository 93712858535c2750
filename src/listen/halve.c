#include "listen/halve.h"

#include <math.h>
#include <string.h>

#define KAISER 5.65 /* beta for 60 dB */

/* Modified Bessel function of order 0, by its series. */
static double bessel(double x)
{
    double term = 1, sum = 1;
    for (int k = 1; k < 30; k++) {
        term *= x / (2 * k) * (x / (2 * k));
        sum += term;
    }
    return sum;
}

void halver_init(struct halver *h)
{
    *h = (struct halver){.odds = HALVE_TAPS}; /* silence before the first */
    for (int k = 0; k < HALVE_TAPS; k++) {
        double away = 2 * k + 1, edge = away / (2 * HALVE_TAPS);
        h->tap[k] = (float)(sin(M_PI * away / 2) / (M_PI * away) *
                            bessel(KAISER * sqrt(1 - edge * edge)) / bessel(KAISER));
    }
}

/* even[i] is the sample that out[i] stands at, odd[HALVE_TAPS + i] the one after it. */
static void put_block(const struct halver *h, float *out)
{
    const float *odd = h->odd + HALVE_TAPS;
    float sum[HALVE_BLOCK];
    for (int i = 0; i < HALVE_BLOCK; i++)
        sum[i] = 0.5f * h->even[i];
    for (int k = 0; k < HALVE_TAPS; k++)
        for (int i = 0; i < HALVE_BLOCK; i++)
            sum[i] += h->tap[k] * (odd[i + k] + odd[i - k - 1]);
    memcpy(out, sum, sizeof sum);
}

static void drop_block(struct halver *h)
{
    h->evens -= HALVE_BLOCK;
    h->odds -= HALVE_BLOCK;
    memmove(h->even, h->even + HALVE_BLOCK, h->evens * sizeof *h->even);
    memmove(h->odd, h->odd + HALVE_BLOCK, h->odds * sizeof *h->odd);
}

size_t halver_feed(struct halver *h, const float *samples, size_t frames, float *out)
{
    size_t n = 0;
    for (size_t i = 0; i < frames; i++) {
        if (h->evens + HALVE_TAPS == h->odds) {
            h->even[h->evens++] = samples[i];
            continue;
        }
        h->odd[h->odds++] = samples[i];
        if (h->odds == HALVE_BLOCK + 2 * HALVE_TAPS) {
            put_block(h, out + n);
            drop_block(h);
            n += HALVE_BLOCK;
        }
    }
    return n;
}

size_t halver_finish(struct halver *h, float *out)
{
    float block[HALVE_BLOCK];
    size_t n = h->odds > 2 * HALVE_TAPS ? h->odds - 2 * HALVE_TAPS : 0;
    put_block(h, block);
    memcpy(out, block, n * sizeof *out);
    return n;
}
