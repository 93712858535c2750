/* hear_hints.h - what a hearing says of a clock that nobody has named. */
#ifndef LETOFF_COMMAND_HEAR_HINTS_H
#define LETOFF_COMMAND_HEAR_HINTS_H

#include "command/hear.h"

/* Set hints of the sheet that the notes bear out: a tune that is known by its order of bells. */
void hear_hints(const struct heard_clock *c, const struct library *lib, struct sheet *sheet);

#endif
