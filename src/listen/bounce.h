/* bounce.h - did the hammer strike twice?
 *
 * After a blow a sounder rings, and ringing is predictable: each sample is a fixed sum of the last
 * few dozen (linear prediction, by Burg's method: J. P. Burg, "Maximum entropy spectral analysis",
 * 1967, learnt from the 50 ms after the blow).  What cannot be predicted is noise, which is steady,
 * and a second touch, which is a burst.  A bounce is the largest burst 30 to 130 ms after the blow,
 * if it stands out of what cannot be predicted at other times.  A tick or a click is such a burst as well, but the
 * ring goes on beneath it as it was; a second touch gives each partial a new size and turn.
 */
#ifndef LETOFF_BOUNCE_H
#define LETOFF_BOUNCE_H

#include <stddef.h>

#define BOUNCE_RATE_HZ 16000

struct bounce {
    float size;    /* its burst against that of the blow itself, 0..1 (amplitudes) */
    float stands;  /* its burst against the usual remainder, amplitudes; 1 = nothing there */
    float after_s; /* how long after the blow */
    float jump;    /* power of what the ring is not as foretold after the burst, against what it was before */
};

#define BOUNCE_JUMP_UNKNOWN 0.05f /* burst too soon, or too little undisturbed sound after it */

/* samples[at] is the moment of the blow; sound from 2 ms before to 160 ms after is looked at, as far
 * as `frames` reaches and no farther than clear_s after the blow. */
struct bounce bounce_find(const float *samples, size_t frames, size_t at, float clear_s);

#endif
