/* clock_file.h - clocks as they stand in a data file: one row of `clocks:` a clock.
 *
 * Reading goes in two steps, so that a row may be `like` another: first the keys of the row are
 * laid over a copy of its model (a key that is absent keeps the model's value; a list or the map
 * `use` that is present replaces the model's), then names are turned into numbers: sounders,
 * arbors, lobes, tunes.
 *
 * To add a clock: copy the nearest row, give it a new `id`, or write `like: ID` and the keys that
 * differ; run `letoff check FILE`.
 *
 *     trains:
 *       strike:
 *         control: rack               # rack, count_wheel, run
 *         let_off_by: lobes           # lobes, chime, strike
 *         use: {0: {read: snail}, 30: {read: one}}     # by lobe minute; let off by a train:
 *                                      # after its work of that lobe
 *         patterns: [[bell], [ting, {sounder: tang, at: 0.4}]]
 *         snails: [{steps: [1, 2 ... 12], turn_min: 720, lead_min: 30, edges: [...], bevelled: yes}]
 *         entries: [1, 1, 2 ...]      # count wheel; with wheel_blows the published sum is checked
 *         arbors: [{name: great, wheel: 78}, {name: pin, wheel: 64, pinion: 8} ...]
 *         pins_on: pin
 */
#ifndef LETOFF_MOVEMENT_CLOCK_FILE_H
#define LETOFF_MOVEMENT_CLOCK_FILE_H

#include <stdbool.h>
#include <stddef.h>
#include "err.h"
#include "movement/clock.h"
#include "yaml_map.h"

/* A train as written: what needs other parts of the clock to be understood is kept as a node. */
struct train_draft {
    struct train train;
    const struct yaml_node *use, *patterns, *snails, *entries, *entry_hammers, *tunes, *hammers,
        *arbors, *power;
    const char *pins_on, *warning_on, *shares;
    int wheel_blows; /* published sum of one turn of the count wheel, 0 not stated */
};

/* A clock as written.  A zeroed struct set up by clock_file_start is a model with defaults. */
struct clock_draft {
    struct clock clock;
    struct train_draft train[TRAINS];
    const struct yaml_node *row, *lobes, *sounders, *hints, *trains;
    const char *like, *night_from, *night_to;
    int day_blows; /* published sum of strike counts in 24 hours, 0 not stated */
};

/* Finds a tune by id, NULL if there is none. */
typedef const struct tune *tune_finder(void *with, const char *id);

void clock_file_start(struct clock_draft *d);
/* Lay one row over the draft.  False, with sentences, when anything in it is wrong. */
bool clock_file_read(const struct yaml_node *row, struct clock_draft *d, struct err *e);
/* Turn names into numbers and check that everything fits together; the clock is then d->clock. */
bool clock_file_finish(struct clock_draft *d, tune_finder *find, void *with, struct err *e);

#endif
