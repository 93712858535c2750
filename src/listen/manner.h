/* manner.h - how a blow sounded: weak, loud, dull, buzzing, struck twice, tinny (enum event_quality).
 *
 * A blow is compared with the usual one of its sounder: a hard hammer face makes the same sounder
 * brighter, a rattle adds noise to its ring, a hammer that stays on leaves nothing to ring, and
 * one that bounces leaves a second burst that the ring does not explain (bounce.h).  What is seen
 * is weighed (manner_weights.h); a manner that is not there is worse than one missed, so it takes
 * more than even odds.
 *
 * Where it stops: a clock whose every blow is tinny or buzzes has no usual blow to compare with.
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
    MANNER_PITCH, /* ln Hz */
    MANNER_NUMBERS
};
void manner_numbers(const struct attack *a, float number[MANNER_NUMBERS]);

/* usual: medians of the blow's sounder; alike: how many blows they are of. */
uint8_t manner_of(const struct attack *a, const float usual[MANNER_NUMBERS], size_t alike);

#endif
