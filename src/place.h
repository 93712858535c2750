/* place.h - where the program's own files and the user's lie.
 *
 * Own data (chimes, sounds), the first folder that is there:
 *   1. the one an environment variable names (LETOFF_CHIMES, LETOFF_SOUNDS),
 *   2. share/letoff/NAME beside the bin/ the running program is in, so that an installed tree may be
 *      moved or unpacked anywhere,
 *   3. NAME in the source tree the program was built from,
 *   4. share/letoff/NAME of the prefix it was configured for.
 * The user's own data comes on top of that: $XDG_DATA_HOME/letoff/NAME, else
 * ~/.local/share/letoff/NAME.
 */
#ifndef LETOFF_PLACE_H
#define LETOFF_PLACE_H

#include <stdbool.h>
#include "text.h"

enum place { PLACE_CHIMES, PLACE_SOUNDS, PLACES };

const char *place_name(enum place p);     /* "chimes": the folder's name */
const char *place_variable(enum place p); /* "LETOFF_CHIMES" */

/* Append the folder of the program's own data; false, and all places that were looked at parted by
 * ", ", when none of them is a folder. */
bool place_own(enum place p, struct text *into);
/* Append the user's folder; false when there is no home or no such folder (then it is appended all
 * the same where there is a home, to be named in a sentence). */
bool place_user(enum place p, struct text *into);
/* Append share/letoff/NAME beside the bin/ of the running program, for a file that is installed; false,
 * and nothing appended, where the system does not tell where the program runs from. */
bool place_installed(const char *name, struct text *into);
/* Append lib/letoff beside the bin/ of the running program; false as above. */
bool place_annexes(struct text *into);
bool place_is_folder(const char *path); /* NULL and "" are none */

#endif
