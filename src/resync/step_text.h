/* step_text.h - the words of a plan: what to do, what must be heard, why there is no way. */
#ifndef LETOFF_RESYNC_STEP_TEXT_H
#define LETOFF_RESYNC_STEP_TEXT_H

#include "resync/plan.h"

/* All of these are the caller's to mem_free, but for step_text_no_way. */
char *step_text(const struct reset *r, const struct step *s);
char *step_text_hear(const struct reset *r, const struct step *s);
/* What may be heard at the last step of a plan that branches there. */
char *step_text_branches(const struct reset *r, const struct plan *p);
/* "At 4:00 it must now sound four phrases, then strike 4." */
char *step_text_proof(struct reset *r, const struct stance *s);
/* Why it cannot be found out by listening which of several states it is in, and what tells. */
const char *step_text_alike(const struct reset *r);
const char *step_text_no_way(const struct reset *r, const struct stance *s);

/* What the rules of this movement are and who says so, one sentence each; returns how many. */
#define RULES_MOST 8
size_t step_text_rules(const struct clock *c, const char *rule[RULES_MOST]);
/* Where a plan with the hands off begins. */
#define STEP_BARE                                                                                  \
    "With the hands off it is taken to stand just behind a let-off. If it may stand elsewhere, turn the minute arbor "     \
    "forward until it lets off and all is quiet, and begin there."
#define STEP_CAUTION                                                                               \
    "Weights, mainsprings and glass can hurt.  Never force a hand that resists: wait and try later.  " \
    "Leave what is not said here to a trained repairer."

#endif
