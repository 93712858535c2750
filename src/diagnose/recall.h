/* recall.h - what a shorter report, weighed before, says of the one at hand.
 *
 * A caller is asked one thing after another, and each answer makes the report one row or one word
 * longer.  What is told more can only make a works less likely to have given all of it, so the
 * chance of the shorter report bounds that of the longer one.  Works that had no chance worth
 * naming need not be followed again:
 *
 *     const struct recalled *was = recall_find(r, sheet, ear);    // NULL: nothing of use
 *     bound = recall_bound(was, clock, variant);                  // 1 when not known
 *
 * That holds as long as the longer report is laid along the let-offs as the shorter one was.  It is
 * not when its first row of one let-off is new, when it first tells of a stand, or when hands led
 * to an answer pass let-offs that a rule speaks of; nor is a report remembered in which something was
 * tried.  Such reports are never found.
 */
#ifndef LETOFF_DIAGNOSE_RECALL_H
#define LETOFF_DIAGNOSE_RECALL_H

#include <stddef.h>
#include "diagnose/ear.h"

#define RECALL_KEPT 4 /* reports remembered; the one not used for longest gives way */

struct recall;
struct recalled;
struct recall *recall_new(size_t clocks);
void recall_free(struct recall *r);

/* The longest report that bounds this one under the same ear, or NULL.  Good until the next
 * recall_begin. */
const struct recalled *recall_find(struct recall *r, const struct sheet *sheet,
                                   const struct ear_model *ear);
double recall_bound(const struct recalled *was, size_t clock, size_t variant);

/* Remember this report; NULL when it can bound none.  `keep` is not given up for it (may be NULL). */
struct recalled *recall_begin(struct recall *r, const struct sheet *sheet,
                              const struct ear_model *ear, const struct recalled *keep);
/* The bounds of one clock, all 1 until set. */
float *recall_bounds(struct recalled *of, size_t clock, size_t variants);
void recall_set(float *bound, double chance); /* rounded up */

#endif
