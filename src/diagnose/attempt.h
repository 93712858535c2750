/* attempt.h - actions already tried, as actions of the mechanism.
 *
 * Each row of `tried` is done to the clock where the report left it, in order, and what came of it
 * is compared with what was told.  Actions the mechanism has no part in are judged by what stands
 * still (a tap on the case), or as the cure of some faults: that it helped speaks for them, that it did not
 * against them.
 */
#ifndef LETOFF_DIAGNOSE_ATTEMPT_H
#define LETOFF_DIAGNOSE_ATTEMPT_H

#include "diagnose/filter.h"
#include "diagnose/hypothesis.h"

/* Probability of the results told, after the run of the filter that left `space`. */
double attempt_chance(const struct sheet *sheet, struct clock_case *k, const struct variant *v,
                      const struct filter_plan *plan, const struct filter_space *space,
                      const struct ear_model *ear);

#endif
