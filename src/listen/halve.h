/* halve.h - half the sampling rate: what is heard of a blow lies below 3.6 kHz, and half the samples are half
 * the work.
 *
 * A half-band filter (every second coefficient is zero), flat up to 3.6 kHz of 16 and 60 dB down from
 * 4.4 kHz on (sine under a window after J. F. Kaiser, "Nonrecursive digital filter design using the
 * I0-sinh window function", 1974).  Sample k that comes out stands at the time of sample 2 k
 * that went in.
 */
#ifndef LETOFF_HALVE_H
#define LETOFF_HALVE_H

#include <stddef.h>

#define HALVE_TAPS  20 /* to either side, of those that are not zero */
#define HALVE_BLOCK 64 /* come out at a time */

struct halver {
    float tap[HALVE_TAPS];
    float even[HALVE_BLOCK + HALVE_TAPS], odd[HALVE_BLOCK + 2 * HALVE_TAPS];
    size_t evens, odds;
};

void halver_init(struct halver *h);
/* Returns how many came out; `out` has room for frames / 2 + HALVE_BLOCK. */
size_t halver_feed(struct halver *h, const float *samples, size_t frames, float *out);
/* What still waits for its block, at most HALVE_BLOCK; the last HALVE_TAPS are lost. */
size_t halver_finish(struct halver *h, float *out);

#endif
