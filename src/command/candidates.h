/* candidates.h - everything one let-off of a clock could sound like, in order or under any fault. */
#ifndef LETOFF_COMMAND_CANDIDATES_H
#define LETOFF_COMMAND_CANDIDATES_H

#include <stddef.h>
#include "listen/fit.h"
#include "movement/library.h"

/* What an expected blow is, beside its hammer. */
enum candidate_tag { /* of the strike; the first stroke of a count; of a musical train; of several hammers at once */
    TAG_STRIKE = 1, TAG_COUNT = 2, TAG_MUSIC = 4, TAG_CHORD = 8
};

struct candidates {
    const struct clock *clock;
    struct fit_candidate *at; /* blows owned by `blow` */
    size_t count, room;
    struct fit_blow *blow;
    unsigned char *tag;       /* enum candidate_tag of each blow */
    size_t blows, blow_room, tag_room;
    size_t *first;            /* of each candidate's blows */
    size_t first_room;
    unsigned long long *key;  /* of its sequence, to find equal ones */
    size_t key_room;
    size_t *slot;             /* hash of keys: index + 1, 0 empty; slots is a power of two */
    size_t slots;
};

/* Let the clock run half a day in order and under each fault that can occur on it (a few variants
 * and starts of each) and gather the different sequences with their weights. */
void candidates_make(struct candidates *c, const struct library *lib, const struct clock *clock);
void candidates_release(struct candidates *c);
/* Tags of the blows of a candidate (one of c->at, or a copy of it). */
const unsigned char *candidates_tags(const struct candidates *c, const struct fit_candidate *of);

#endif
