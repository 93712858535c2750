/* hear_hints.h - what a hearing says of a clock that nobody has named. */
#ifndef LETOFF_COMMAND_HEAR_HINTS_H
#define LETOFF_COMMAND_HEAR_HINTS_H

#include "command/hear.h"

/* Set hints of the sheet that the notes bear out: a tune that is known by its order of bells.  Where
 * the order of pitch put sounders the wrong way round, the notes are numbered as the tune has them. */
void hear_hints(struct heard_clock *c, const struct library *lib, struct sheet *sheet);

#endif
