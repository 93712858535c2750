/* due_list.h - what a clock in order and in step sounds at each let-off of its round: for charts and proofs.
 *
 * It is the mechanism's own answer, so nothing that a clock does at one hour and not at another (single
 * bells, an hour told again, a quiet night) can be left out.
 */
#ifndef LETOFF_MOVEMENT_DUE_LIST_H
#define LETOFF_MOVEMENT_DUE_LIST_H

#include <stddef.h>
#include "movement/move.h"
#include "movement/rung.h"

struct due {
    int shown_min; /* 0 .. cycle_min-1 */
    struct rung rung;
    bool by_night; /* a cam of the night keeps it silent */
};
#define DUES_MOST 200

/* In the order of the dial, from twelve (0:00) on; returns how many, at most `room`. */
size_t due_list(const struct clock *c, struct due *out, size_t room);

/* "4:30", or "16:30" where the clock tells day from night. */
const char *due_time(const struct clock *c, int shown_min, char out[8]);

#endif
