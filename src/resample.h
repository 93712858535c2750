/* resample.h - the same sound at another sampling rate, block by block.
 *
 * Each output sample is the input seen through a low-pass window: a sinc cut at the lower of the
 * two Nyquist limits under a Kaiser window (J. O. Smith, "Digital Audio Resampling Home Page",
 * https://ccrma.stanford.edu/~jos/resample/), 70 or 90 dB down beyond the edge.  With the rates
 * divided by their greatest common divisor, `up` output samples span `down` input samples, so only
 * `up` different windows exist; they are worked out once unless there are too many to be worth keeping.
 *
 * The first sample that comes out stands at the time of the first that went in, and the last within one step
 * of the last.  Equal rates give back what came.
 */
#ifndef LETOFF_RESAMPLE_H
#define LETOFF_RESAMPLE_H

#include <stddef.h>

struct resampler;
/* Quick: two thirds of the work; flat to 0.8 of the lower Nyquist limit instead of 0.85, 70 dB down instead of 90. */
enum resample_care { RESAMPLE_FINE, RESAMPLE_QUICK };

/* Both rates 1 or more. */
struct resampler *resampler_new(int from_hz, int to_hz, enum resample_care care);
void resampler_free(struct resampler *r);

/* Room that `out` must have for what comes of so many frames, or of the end (0). */
size_t resampler_room(const struct resampler *r, size_t frames);
/* Blocks of any size; returns how many came out. */
size_t resampler_feed(struct resampler *r, const float *samples, size_t frames, float *out);
/* No more will come: what still waited for its window.  Only resampler_free may follow. */
size_t resampler_finish(struct resampler *r, float *out);

#endif
