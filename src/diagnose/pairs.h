/* pairs.h - which two faults are worth being thought of together.
 *
 * A clock of fifteen hundred hypotheses has a million pairs.  A pair that explains a report has, as
 * a rule, one member that explains much of it alone; the other then explains what is left.  So the
 * first is taken from the faults that came out best by themselves, the second from a wider choice in
 * which the chance of the report counts by its root only.  Of each fault its best variants are taken.
 *
 * Every pair of the two lists is weighed exactly; what the others may come to is only estimated
 * (belief.h, pairs_untried).
 */
#ifndef LETOFF_DIAGNOSE_PAIRS_H
#define LETOFF_DIAGNOSE_PAIRS_H

#include <stddef.h>
#include "diagnose/belief.h"

#define PAIRS_FIRST 10  /* faults, and variants of each */
#define PAIRS_FIRST_EACH 4
#define PAIRS_SECOND 40
#define PAIRS_SECOND_EACH 6
#define PAIRS_MOST (PAIRS_FIRST * PAIRS_FIRST_EACH * PAIRS_SECOND * PAIRS_SECOND_EACH)

/* Two variants of the clock, and the product of their weights before the report. */
struct pair_choice {
    size_t a, b;
    double weight;
};

/* held: hypotheses of single faults, p not yet divided by their sum.  The member with the wider choice of starts comes
 * first, so one pair of faults stands always the same way round.  Writes at most PAIRS_MOST. */
size_t pairs_choose(const struct held *held, size_t helds, const struct clock_case *k, struct pair_choice *to);

#endif
