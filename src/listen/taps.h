/* taps.h - a person taps a key at each blow: times without sound.
 *
 * Keys 1..9 say which sounder (1 = highest); key 0 means "a blow", no matter of what.  Taps are
 * late and uneven by some tens of milliseconds, so rhythm read from them is coarser.
 */
#ifndef LETOFF_TAPS_H
#define LETOFF_TAPS_H

#include <stddef.h>
#include "hearing.h"

struct tap {
    double t_s;
    int key; /* 0..9 */
};

/* Taps in any order; others than 0..9 and times that are no numbers are left out. */
void taps_to_hearing(const struct tap *tap, size_t count, struct hearing *h);

#endif
