/* voices.h - where the program's own files lie, and its voices. */
#ifndef LETOFF_COMMAND_VOICES_H
#define LETOFF_COMMAND_VOICES_H

#include <stdbool.h>
#include "err.h"
#include "sound/voice.h"
#include "text.h"

/* Load the program's own voices, then the user's (place.h tells where).  Release the set. */
bool voices_load(struct voice_set *set, struct err *e);

#endif
