/* presume.h - from what a person can tell to the stances a clock may be in.
 *
 * Told are: what the hands show, what it last struck or chimed, perhaps at which let-off, or that
 * nothing is known.  Nothing is inferred by rule: every state the mechanism can be in is set up
 * before the let-off in question, run through it by the simulator, and kept if it sounds as
 * told.  What is not told at all is taken to be in step, unless `unknown` is said or
 * nothing would fit otherwise.
 *
 * An hour hand or minute hand moved on its pipe is thought of only where something told speaks for
 * it, and less readily than the hands being right (HAND_MOVED; ours).
 */
#ifndef LETOFF_RESYNC_PRESUME_H
#define LETOFF_RESYNC_PRESUME_H

#include "resync/plan.h"

#define TOLD_NOTHING (-1)
struct told {
    int hands_min;  /* shown now; TOLD_NOTHING: hands are off */
    int struck;     /* blows last struck, 0 silent; TOLD_NOTHING */
    int phrases;    /* phrases last chimed; TOLD_NOTHING */
    int at_min;     /* what the hands showed then; TOLD_NOTHING: at the last let-off that sounded */
    bool unknown;   /* nothing else may be relied on */
};
struct told told_nothing(void);

/* Times told without saying which half of the day (`known` false) on a clock that tells day from
 * night.  The time wanted is taken by day when only then it sounds: whoever stands before it hears
 * it.  What the hands show is of the half nearer to the time wanted. */
int told_target(const struct clock *c, int min, bool known);
int told_near(const struct clock *c, int min, bool known, int target_min);

/* Stances that fit, with chances that sum to 1.  `list` grows; mem_free it.  Returns how many; 0
 * when no sound clock of this kind could have done it. */
size_t presume(struct reset *r, const struct told *told, struct stance_chance **list);

/* Every stance the mechanism can be found in with its hands at `shown_min`, straight on their
 * pipes: all counts, all places of the chime, corrector as they follow.  For sweeps. */
size_t presume_all(const struct works *w, int shown_min, struct stance_chance **list);

#endif
