/* tune_file.h - tunes as they stand in a data file.
 *
 *     tunes:
 *       - id: westminster
 *         name: Westminster quarters
 *         status: published
 *         source: https://...
 *         numbering: highest        # bell 1 is the highest; `lowest` is turned round on loading
 *         bells: 4
 *         changes: [1234, 3124, 3213, 1324, 4213]    # or lists: [1, 2, 3, 4]
 *         quarters: [1, 2, 3, 4]    # changes at the 1st, the half, the 3rd, the hour
 *         gap: 2                    # last note of a change to the next, in note gaps
 *         pitch: [G#4, F#4, E4, B3]
 *
 * A change written as one word of digits is one bell a digit, 0 a rest.  `like: ID` starts from
 * another tune of the same file.  Tunes that are known by name but for which no published sequence was found
 * stand under `wanted:` with a name and what is known; they are not played.
 */
#ifndef LETOFF_MOVEMENT_TUNE_FILE_H
#define LETOFF_MOVEMENT_TUNE_FILE_H

#include <stdbool.h>
#include "err.h"
#include "movement/clock.h"
#include "yaml_map.h"

/* Read one row over what `t` holds already (zeroed, or the tune it is like).  Strings belong to
 * the tree.  False, with a sentence for everything that is wrong. */
bool tune_file_read(const struct yaml_node *map, struct tune *t, struct err *e);
/* Check one row of `wanted:`. */
bool tune_file_wanted(const struct yaml_node *map, struct err *e);

#endif
