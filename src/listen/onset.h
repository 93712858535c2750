/* onset.h - when something new began to sound, however loudly older things still ring.
 *
 * A rod rings for many seconds, so a new blow often adds little to the total loudness, and in noise
 * loudness says nothing.  But a ringing partial is *predictable*: from one frame to the next its
 * spectral line turns by a fixed angle and shrinks by a fixed factor, X[n] = a X[n-d].  The factor
 * a is learnt for each line as it goes (least squares with a short memory; for a line that holds
 * only noise it tends to 0), and what is left over, E = X[n] - a X[n-d], is the new sound of that
 * line: the whole of a fresh partial, also of one that was ringing already and was struck again,
 * and nothing of a tail.  E is compared with what that line's E has been lately (its own noise, so
 * hiss, hum, room and codec noise set their own measure, line by line), and
 *
 *     novelty[n] = sum over lines of max(0, ln(|E|^2 / recent mean |E|^2) - ln gate)
 *
 * which is small and steady in any steady noise and jumps when a handful of lines wake together.
 * Related: J. P. Bello et al., "A tutorial on onset detection in music signals", IEEE Trans. Speech
 * and Audio Processing 13(5), 2005 (complex-domain detection); D. Stowell, M. Plumbley, "Adaptive
 * whitening for improved real-time audio onset detection", ICMC 2007 (each line by its own recent
 * level).
 *
 * Where it stops: two blows within about 60 ms are one onset here (attack.h looks closer), and
 * speech is full of true onsets, which must be told from blows by what follows.
 */
#ifndef LETOFF_ONSET_H
#define LETOFF_ONSET_H

#include <stddef.h>

#define ONSET_RATE_HZ 8000
#define ONSET_WINDOW 512 /* samples, 64 ms */
#define ONSET_HOP 80     /* samples, 10 ms */

/* A moment where something began; t_s is within some 20 ms of it. */
struct onset {
    double t_s;
    float novelty; /* height of its peak */
};

struct onset_finder;
struct onset_finder *onset_new(void);
void onset_free(struct onset_finder *f);
void onset_clear(struct onset_finder *f);

/* Samples at ONSET_RATE_HZ (halve.h), blocks of any size. */
void onset_feed(struct onset_finder *f, const float *samples, size_t frames);
/* No more samples will come: lets a peak in the last frames be one.  Nothing may be fed after it. */
void onset_finish(struct onset_finder *f);
/* Takes the next onset found, in order of time; returns 0 when there is none yet. */
int onset_take(struct onset_finder *f, struct onset *o);
/* Before this time no further onset will be found. */
double onset_settled_s(const struct onset_finder *f);
/* For pictures and tests: novelty of the latest frame. */
float onset_novelty(const struct onset_finder *f);

#endif
