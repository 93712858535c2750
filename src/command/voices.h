/* voices.h - where the program's own files lie, and its voices. */
#ifndef LETOFF_COMMAND_VOICES_H
#define LETOFF_COMMAND_VOICES_H

#include <stdbool.h>
#include "err.h"
#include "sound/voice.h"
#include "text.h"

/* Load the voices of the tree or the installed program, then the user's own
 * ($XDG_DATA_HOME/letoff/sounds).  LETOFF_SOUNDS names another folder.  Release the set. */
bool voices_load(struct voice_set *set, struct err *e);

#endif
