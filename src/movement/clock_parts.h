/* clock_parts.h - the second step of reading a clock: names become numbers, and what belongs
 * together is compared.  Used by clock_file.c only; each function adds a sentence for everything
 * that is wrong and returns false then.
 */
#ifndef LETOFF_MOVEMENT_CLOCK_PARTS_H
#define LETOFF_MOVEMENT_CLOCK_PARTS_H

#include "movement/clock_file.h"

bool clock_parts_power(const struct yaml_node *map, struct power *p, struct err *e);
bool clock_parts_lobes(struct clock_draft *d, struct err *e);
bool clock_parts_sounders(struct clock_draft *d, struct err *e);
bool clock_parts_hints(struct clock_draft *d, struct err *e);
bool clock_parts_night(struct clock_draft *d, struct err *e);
bool clock_parts_train(const struct clock_draft *d, struct train_draft *t, tune_finder *find,
                       void *with, struct err *e);
/* The finished clock: sums of count wheels, gears that close, hammers and bells, snails (clock_fit.c). */
bool clock_parts_fit(const struct clock_draft *d, struct err *e);

#endif
