/* ceiling.h - what could be known at best from the words of a simulated call.
 *
 * The report is weighed by the finder's exact filtering, but with the world's true priors, faults and
 * ear and without any thought of an unknown cause.  The answers are not left to the finder: for each
 * hypothesis still in play they are weighed by how answers are really made in that world: the hands
 * led on by hand from where the report leaves the clock (drawn a few times), words by what the works
 * show from there, the history by the tilts it was drawn with, all misheard as often as they are.
 * So a finder that weighs its own questions wrongly stands below it.
 */
#ifndef LETOFF_TESTS_CEILING_H
#define LETOFF_TESTS_CEILING_H

#include "pretend_caller.h"

struct answered {
    struct question q;
    char answer[64];
};

/* The belief of one who knows the world.  Released with belief_release; only causes and shares by
 * class and part are of use in it.  False when the clock is none of the library. */
bool ceiling_find(struct finder *f, struct pretend_desk *d, struct pretend_world *w,
                  const struct sheet *report, const struct answered *answered, size_t count,
                  struct belief *out);

#endif
