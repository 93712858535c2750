/* ticking.h - which onsets keep time with the going train.
 *
 * A tick in a quiet room is plain: it does not ring.  In the ring of a blow it is not, for what rings
 * seems to be its own.  But ticks come at the beat of the pendulum or balance, all through the
 * recording: the beat is learnt from the plain ones, and an onset that has others one, two and
 * three beats before and after it is one of them, whatever rings about it.
 *
 * Where it stops: a strike that runs in step with the tick looks like it, so this is one piece of evidence
 * among others.
 */
#ifndef LETOFF_TICKING_H
#define LETOFF_TICKING_H

#include <stddef.h>
#include "listen/attack.h"

/* The beat, or both together when they are uneven; 0 when no ticking is heard. */
double ticking_period_s(const struct attack *a, size_t count);
/* on[i]: share of the six places about onset i where there is one, 0..1. */
void ticking_mark(const struct attack *a, size_t count, double period_s, float *on);

#endif
