/* plan_pages.h - a plan of setting right and the sheet of hands off and on, on paper. */
#ifndef LETOFF_COMMAND_PLAN_PAGES_H
#define LETOFF_COMMAND_PLAN_PAGES_H

#include "draw/pages.h"
#include "resync/plan.h"

/* All steps; where the plan branches, each branch stands under what was heard.  A plan of more
 * steps than anybody carries on paper is cut, and says so. */
void plan_pages_add(struct pages *p, const struct clock *c, const struct plan *plan);

/* Hands off and on again, from hands that show `shown_min`. */
void hands_pages_add(struct pages *p, const struct works *w, int shown_min);

#endif
