/* pairs.h - which two faults are worth being thought of together.
 *
 * A clock of fifteen hundred hypotheses has a million pairs.  A pair that explains a report has, as
 * a rule, one member that explains much of it alone; the other then explains what is left.  So the
 * first is taken from the faults that came out best by themselves, the second from a wider choice in
 * which the chance of the report counts by its root only.  Of each fault its best variants are taken.
 *
 * After those, all pairs follow by what they weigh before the report, heaviest first.  No report is
 * likelier than certain, so what the pairs not tried weigh together is a bound of what they can come to:
 *
 *     sum over f < g of W_f W_g  -  what was tried,     W_f: all variants of fault f
 *
 * It is a wide one.  Two faults may do together what neither does alone (two that each take half of the
 * lift), so nothing that is known of the single ones narrows it; only trying does.
 */
#ifndef LETOFF_DIAGNOSE_PAIRS_H
#define LETOFF_DIAGNOSE_PAIRS_H

#include <stdbool.h>
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

/* What all pairs of different faults weigh together; weight: by single variant, [0] is not read. */
double pairs_weight(const struct clock_case *k, const double *weight);

/* All pairs, heaviest first, but for those of a list. */
struct pair_order;
struct pair_order *pair_order_new(const struct clock_case *k, const double *weight, const struct pair_choice *but,
                                  size_t buts);
bool pair_order_next(struct pair_order *o, struct pair_choice *to); /* false: there is no other */
void pair_order_free(struct pair_order *o);

#endif
