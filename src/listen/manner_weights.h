/* manner_weights.h - what each thing seen of a blow counts for, manner by manner (manner.c).
 *
 * Fitted (least cross-entropy) on some 60,000 blows of made recordings, in noise and out of it, with a manner on
 * single blows, on all of one sounder or on all, and on strange recordings with bounces; seeds kept apart from the
 * tests.  Ln odds from which a manner is told are those at which about one in twenty is told wrongly.
 */
#ifndef LETOFF_MANNER_WEIGHTS_H
#define LETOFF_MANNER_WEIGHTS_H

#include <stdint.h>
#include "listen/manner.h"

#define MANNERS       4
#define MANNER_SIGHTS (3 * MANNER_NUMBERS + 5)
#define MANNER_UNITS  12

struct manner_weights {
    uint8_t quality;                   /* enum event_quality */
    float told;                        /* ln odds from which it is told */
    float straight[1 + MANNER_SIGHTS]; /* a constant, then one a sight */
    float unit[MANNER_UNITS]
              [2 + MANNER_SIGHTS]; /* what tanh of the sum counts for, then likewise */
};
extern const struct manner_weights manner_weights[MANNERS];

#endif
