/* told.h - what a report makes of an outcome at a step of its walk, and where a row leads from there.
 *
 * filter.h carries probabilities from let-off to let-off; here is what each let-off does to them.  What was
 * told of an outcome is judged once for steps that are alike (filter_step.like) and remembered; rows are
 * gone through anew each time, since most are met once or twice in a walk.
 *
 * Some rows ask that something was so at least once ("sometimes 2" asks for two things: that it was
 * so, and that it was not).  Which of these marks have been met need not be carried along: the chance
 * that all are met follows from the chances that some are missed,
 *
 *     P(report, closing) = sum over sets S of marks of  c(S) P(report, none of S met)
 *     c(S) = product over marks of S of  -(1 - what the mark is worth when missed)
 *
 * (inclusion and exclusion).  A walk that must meet none of S is a plain one, so every state carries
 * one number for each S, its lanes: lane S leaves out of each let-off what would meet a mark of S.
 * Lane 0 leaves nothing out and is the most that the others can come to; it is what is weighed
 * against bounds.  Without marks there is one lane.
 */
#ifndef LETOFF_DIAGNOSE_TOLD_H
#define LETOFF_DIAGNOSE_TOLD_H

#include "diagnose/filter.h"

#define TOLD_NEED_MISSING 0.01 /* what a mark that must be met is worth when it is not */
#define TOLD_WISH_MISSING 0.25 /* one that should be */

#define TOLD_LANES_MOST (1 << FILTER_MARKS)

/* For the steps and looks of this plan, which are done.  Owned by the caller. */
struct told *told_new(const struct filter_plan *p);
void told_free(struct told *t);

/* From a row of the plan's rows `lane` times `times` goes on to the states it leads to: gathered in `to`. */
void told_row(struct filter_plan *p, const struct filter_step *s, uint32_t row, const double *lane, double times,
              struct filter_space *to);
/* The same for several rows one after another, `lane` holding the lanes of each. */
void told_rows(struct filter_plan *p, const struct filter_step *s, const uint32_t *row, size_t n, const double *lane,
               struct filter_space *to);
/* The same where the hands stand in this state and nothing is let off. */
void told_standing(struct filter_plan *p, const struct filter_step *s, uint32_t state, const double *lane, double times,
                   struct filter_space *to);
/* A row that came to a stand as time went, was told of, and was then helped over by a finger: by lane,
 * what to multiply with. */
void told_stood(struct filter_plan *p, const struct filter_step *s, uint32_t row, double *lane);
/* The lanes of one state put together at the end of the walk. */
double told_closing(const struct filter_plan *p, const double *lane);

#endif
