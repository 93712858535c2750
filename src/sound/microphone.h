/* microphone.h - sound coming in, block by block.
 *
 * The device's own thread writes into a ring; the reader takes from it when it likes.  What is
 * not fetched for ten seconds is lost, and said to be.  A device that goes away is one sentence.
 */
#ifndef LETOFF_SOUND_MICROPHONE_H
#define LETOFF_SOUND_MICROPHONE_H

#include <stdbool.h>
#include <stddef.h>
#include "err.h"

struct microphone;
/* Mono at `rate_hz`.  NULL with a sentence (device) when there is none. */
struct microphone *microphone_open(int rate_hz, struct err *e);
void microphone_close(struct microphone *m);
/* Take at most `room` samples; returns how many there were. */
size_t microphone_take(struct microphone *m, float *to, size_t room);
bool microphone_alive(const struct microphone *m);

#endif
