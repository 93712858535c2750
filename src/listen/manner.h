/* manner.h - how a blow sounded: weak, loud, dull, buzzing, struck twice, tinny (enum event_quality).
 *
 * A blow is compared with the usual one of its sounder: a hard hammer face makes the same sounder
 * brighter, a rattle adds noise to its ring, a hammer that stays on leaves nothing to ring, and
 * one that bounces leaves a second burst that the ring does not explain (bounce.h).  What is seen
 * is weighed (manner_weights.h); a manner that is not there is worse than one missed, so it takes
 * more than even odds.
 *
 * Where it stops: a clock with one sounder whose every blow is tinny or buzzes has no usual blow to compare
 * with, and is judged by the numbers alone.
 */
#ifndef LETOFF_MANNER_H
#define LETOFF_MANNER_H

#include <stddef.h>
#include <stdint.h>
#include "listen/attack.h"

/* What is looked at, each the median over a sounder's blows or of one blow. */
enum manner_number {
    MANNER_LEVEL, /* dB */
    MANNER_BRIGHT,
    MANNER_NOISE,
    MANNER_TONALITY,
    MANNER_KEEP,
    MANNER_RING, /* ln s */
    MANNER_SECOND,
    MANNER_STANDS, /* ln */
    MANNER_SHARP,
    MANNER_STEADY, /* ln of what is lacking to 1 */
    MANNER_JUMP,   /* ln */
    MANNER_PITCH,  /* ln Hz */
    MANNER_NUMBERS
};
void manner_numbers(const struct attack *a, float number[MANNER_NUMBERS]);

/* What a blow is held against. */
struct manner_usual {
    float own[MANNER_NUMBERS];    /* medians of the blow's sounder, */
    size_t blows;                 /* of so many */
    float others[MANNER_NUMBERS]; /* means of the other sounders' medians, */
    size_t sounders;              /* of so many: those with blows enough to have a usual one */
};
#define MANNER_ALIKE 3 /* blows that make a usual one */

uint8_t manner_of(const struct attack *a, const struct manner_usual *usual);

#endif
