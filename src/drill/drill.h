/* drill.h - a session of rounds that grow harder.
 *
 * Level 1 names times and clocks; higher levels bring oil, setting in step, defects by sound and
 * hidden faults, on harder clocks.  Three good rounds in a row raise the level, two bad ones
 * lower it.  What was missed is kept for a review at the end; the caller keeps it in the journal
 * (journal/spaced.h) and gives weak parts back in struct training, so that they come up again.
 */
#ifndef LETOFF_DRILL_DRILL_H
#define LETOFF_DRILL_DRILL_H

#include "drill/round.h"

#define DRILL_GOOD ROUND_GOOD
#define DRILL_BAD 40

struct drill_miss {
    enum round_kind kind;
    char *prompt, *review;
    const char *part;
};

struct drill {
    struct training *room; /* not owned */
    int level, only;       /* `only`: a kind, or -1 all kinds */
    int good_row, bad_row;
    size_t rounds;
    long score;            /* sum */
    double spent_min, best_min;
    struct drill_miss *miss;
    size_t misses, miss_room;
    enum round_kind last;
};

void drill_init(struct drill *d, struct training *room, int level);
void drill_release(struct drill *d);
/* The next round; NULL only when no kind of round can be made.  round_free when done. */
struct round *drill_next(struct drill *d);
/* Take a finished round into the score. */
void drill_take(struct drill *d, const struct round *r);
/* What to keep of a round that was missed: what was asked and what would have been right; mem_free
 * it.  NULL for a good one. */
char *drill_note(const struct round *r);
/* Mean score so far, 0..100. */
double drill_score(const struct drill *d);

#endif
