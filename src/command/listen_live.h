/* listen_live.h - hearing without a file: the microphone, and blows that a person taps. */
#ifndef LETOFF_COMMAND_LISTEN_LIVE_H
#define LETOFF_COMMAND_LISTEN_LIVE_H

#include <stdbool.h>
#include "err.h"
#include "listen/hearing.h"
#include "pcm.h"

/* Limits of what is heard without a file. */
#define LISTEN_LIVE_MOST_S  1800.0  /* of the microphone */
#define LISTEN_TAPS_MOST    10000
#define LISTEN_TAP_LAST_S   86400.0 /* the latest tap: a day */
#define LISTEN_TYPED_MOST   1000000 /* bytes of taps read from the standard input */

/* Listen for `seconds` (0: until interrupted by ^C), at most LISTEN_LIVE_MOST_S, with a line of level
 * on a terminal.  `sound` (may be NULL) gets the samples.  False with one sentence (device) when there
 * is no microphone; a microphone that goes away ends it, and what was heard is kept. */
bool listen_live(double seconds, struct hearing *h, struct pcm *sound, struct err *e);

/* Taps as text: times in seconds, each with ":KEY" behind it where the sounder is known (1 =
 * highest), parted by blanks, commas or lines: "0 1.2 2.4:2".  A sentence for every word that is
 * none, and one when there are more than LISTEN_TAPS_MOST; false then, or when there is not one tap. */
bool listen_taps(const char *text, struct hearing *h, struct err *e);
/* The same from the standard input.  At a terminal a line is a tap at the moment it is ended: press
 * Enter at each blow, a digit before it names the sounder, q ends (and so does the last of
 * LISTEN_TAPS_MOST). */
bool listen_taps_typed(struct hearing *h, struct err *e);

#endif
