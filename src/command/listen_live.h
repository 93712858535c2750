/* listen_live.h - hearing without a file: the microphone, and blows that a person taps. */
#ifndef LETOFF_COMMAND_LISTEN_LIVE_H
#define LETOFF_COMMAND_LISTEN_LIVE_H

#include <stdbool.h>
#include "err.h"
#include "listen/hearing.h"
#include "pcm.h"

/* Listen for `seconds` (0: until interrupted by ^C), with a line of level on a terminal.  `sound`
 * (may be NULL) gets the samples.  False with one sentence (device) when there is no microphone; a
 * microphone that goes away ends it, and what was heard is kept. */
bool listen_live(double seconds, struct hearing *h, struct pcm *sound, struct err *e);

/* Taps as text: times in seconds, each with ":KEY" behind it where the sounder is known (1 =
 * highest), parted by blanks, commas or lines: "0 1.2 2.4:2".  A sentence for every word that is
 * none; false then, or when there is not one tap. */
bool listen_taps(const char *text, struct hearing *h, struct err *e);
/* The same from the standard input.  At a terminal a line is a tap at the moment it is ended: press
 * Enter at each blow, a digit before it names the sounder, q ends. */
bool listen_taps_typed(struct hearing *h, struct err *e);

#endif
