/* told.h - what a report makes of an outcome at a step of its walk, and where a row leads from there.
 *
 * filter.h carries probabilities from let-off to let-off; here is what each let-off does to them.  All
 * of it is worked out once for steps that are alike (filter_step.like) and remembered.
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

/* States that a unit of mass comes to from one row: `state` has `count` of them, some perhaps more than once, `part`
 * the lanes of each, one after another.  Good until the next row is asked for. */
struct told_way {
    const uint32_t *state;
    const double *part;
    size_t count;
};

/* For the steps and looks of this plan, which are done.  Owned by the caller. */
struct told *told_new(const struct filter_plan *p);
void told_free(struct told *t);

/* Where a row of the plan's rows leads. */
struct told_way told_row(struct filter_plan *p, const struct filter_step *s, uint32_t row);
/* The hands stand in this state and nothing is let off. */
struct told_way told_standing(struct filter_plan *p, const struct filter_step *s, uint32_t state);
/* A row that came to a stand as time went, was told of, and was then helped over by a finger: by lane,
 * what to multiply with. */
void told_stood(struct filter_plan *p, const struct filter_step *s, uint32_t row, double *lane);
/* The lanes of one state put together at the end of the walk. */
double told_closing(const struct filter_plan *p, const double *lane);

#endif
