/* judgement.h - which of the onsets looked at were blows, and how sure that is.
 *
 * Each onset is weighed by itself (does it ring, steadily, in partials, as loud as the others), in
 * its company (is it like other blows of the recording; is the recording full of talk) and, last,
 * by its place: blows of one run come at a near-constant interval.
 */
#ifndef LETOFF_JUDGEMENT_H
#define LETOFF_JUDGEMENT_H

#include <stddef.h>
#include <stdint.h>
#include "listen/attack.h"
#include "listen/cluster.h"

enum { NO_BLOW, BLOW_RINGS, BLOW_DULL }; /* BLOW_DULL: known by its time alone (dull.h) */

/* a: onsets in order of time, of a recording of this length.  use and sure have room for `count`: what
 * each was in use[i], the probability that it was a blow in sure[i].  clusters is learnt anew from the
 * blows and ordered by pitch. */
void judge_blows(const struct attack *a, size_t count, double length_s, struct clustering *clusters,
                 uint8_t *use, float *sure);

#endif
