/* manner_weights.h - what each thing seen of a blow counts for, manner by manner (manner.c).
 *
 * Fitted (least cross-entropy) on some 15,000 blows of made recordings, two hundred of them with one of these
 * manners, in noise and out of it; seeds kept apart from the tests.
 */
#ifndef LETOFF_MANNER_WEIGHTS_H
#define LETOFF_MANNER_WEIGHTS_H

#include <stdint.h>
#include "listen/manner.h"

#define MANNERS       4
#define MANNER_SIGHTS (2 * MANNER_NUMBERS + 2)
#define MANNER_UNITS  3

struct manner_weights {
    uint8_t quality;                   /* enum event_quality */
    float straight[1 + MANNER_SIGHTS]; /* a constant, then one a sight */
    float unit[MANNER_UNITS]
              [2 + MANNER_SIGHTS]; /* what tanh of the sum counts for, then likewise */
};
extern const struct manner_weights manner_weights[MANNERS];

#endif
