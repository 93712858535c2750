/* plate_parts.h - the parts of a movement: what each does and what goes wrong with it.
 *
 * The words are those of the fault rows and of `find --json`, so that a belief by part can be
 * painted.  To add a part: 1. a row in plate_parts.c; 2. draw it in one of the fig_*.c with
 * fig_part(); a test finds parts that no clock draws.
 */
#ifndef LETOFF_DRAW_PLATE_PARTS_H
#define LETOFF_DRAW_PLATE_PARTS_H

#include <stddef.h>

enum plate_part {
    PART_HOUR_HAND, PART_MINUTE_HAND, PART_MOTION_WORK, PART_LIFTING_PIECE, PART_WARNING,
    PART_SNAIL, PART_RACK, PART_RACK_TAIL, PART_RACK_HOOK, PART_GATHERING_PALLET,
    PART_LOCKING_PIN, PART_COUNT_WHEEL, PART_COUNT_LEVER, PART_CHIME_COUNT_WHEEL,
    PART_CORRECTOR, PART_CHIME_DRUM, PART_SELECTOR, PART_HAMMER, PART_RETURN_SPRING,
    PART_SOUNDER, PART_BELLOWS, PART_SILENT_LEVER, PART_FLY, PART_PIVOTS, PART_POWER, PART_CABLE,
    PART_BEAT, PLATE_PARTS, PART_NONE = -1
};

struct plate_part_row {
    const char *word;  /* as in the fault rows */
    const char *title; /* for a caption: "Rack tail" */
    const char *does, *wrong;
};

const struct plate_part_row *plate_part_row(enum plate_part part);
enum plate_part plate_part_of(const char *word); /* PART_NONE for no such word */

#endif
