/* oil_rounds.h - the oiling chart as training rounds want it. */
#ifndef LETOFF_COMMAND_OIL_ROUNDS_H
#define LETOFF_COMMAND_OIL_ROUNDS_H

#include "drill/round.h"

/* Places of this clock, at most `room`; returns how many.  For struct training. */
size_t oil_rounds(const struct clock *c, struct oil_place *list, size_t room);

#endif
