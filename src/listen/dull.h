/* dull.h - blows of hammers that rest on their sounder, known by the time they keep.
 *
 * A hammer that stays on gives a knock that is gone in a tenth of a second, and so do a tick, a step, a
 * door.  What tells a train: its knocks are equally loud, come at one interval (or, in pairs, at two that
 * alternate), there are no more of them than a clock strikes, and it is still before and after.  Where
 * blows that ring were heard as well, the knocks have to keep the pace of those.
 *
 * Where it stops: a single dull blow is a knock, unless runs of its like are in the recording.  A short
 * recording filled by knocks less than a second apart is a going train.
 */
#ifndef LETOFF_DULL_H
#define LETOFF_DULL_H

#include <stddef.h>
#include <stdint.h>
#include "listen/attack.h"

/* a: onsets in order of time; use[i] 1 for those already known to be blows, which are left alone.  dull has
 * room for `count`: 1 for each further onset that is a dull blow.  Returns how many there are. */
size_t dull_mark(const struct attack *a, size_t count, double length_s, const uint8_t *use,
                 uint8_t *dull);

#endif
