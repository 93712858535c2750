/* listener.h - hearing block by block: from a decoder or a microphone.
 *
 * Feed samples as they come, of any block size, at 16 kHz.  Blows are found about half a second
 * after they sounded (the ring has to be heard to be told from a tick or a spoken word).  Memory is
 * bounded: some seconds of sound and a few kilobytes a blow.  One thread at a time.
 */
#ifndef LETOFF_LISTENER_H
#define LETOFF_LISTENER_H

#include <stddef.h>
#include "hearing.h"
#include "level.h"

#define LISTENER_RATE_HZ 16000

struct listener;
struct listener *listener_new(void);
void listener_free(struct listener *l);
void listener_clear(struct listener *l); /* forget all, ready for another recording */

void listener_feed(struct listener *l, const float *samples, size_t frames);
/* No more sound will come: blows still waiting for their ring are taken as they are. */
void listener_finish(struct listener *l);

/* Blows found so far; grows.  Useful to blink a lamp while listening. */
size_t listener_blow_count(const struct listener *l);
/* Everything found so far, with sounders learnt afresh from all of it. */
void listener_hearing(struct listener *l, struct hearing *h);
const struct level *listener_level(const struct listener *l);

#endif
