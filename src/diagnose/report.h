/* report.h - the whole answer to a call, for people and for programs.
 *
 *     struct report r;
 *     report_init(&r, finder, &sheet, NULL);
 *     report_text(&r, 5, false, &text);     // or report_json(&r, 5), owned by the caller
 *     report_release(&r);
 *
 * The keys of the JSON object are those of the contract in README.md: causes, by_class, by_part,
 * clock, next, omitted; more are only added (alike: groups of causes).
 */
#ifndef LETOFF_DIAGNOSE_REPORT_H
#define LETOFF_DIAGNOSE_REPORT_H

#include <stdbool.h>
#include <stddef.h>
#include "diagnose/alike.h"
#include "diagnose/belief.h"
#include "diagnose/next_step.h"
#include "diagnose/reasons.h"

#define REPORT_CAUSES 6 /* causes that get reasons and predictions */

struct report {
    const struct sheet *sheet; /* not owned */
    struct belief belief;
    struct next_step next;
    struct sentences reasons[REPORT_CAUSES], predicts[REPORT_CAUSES];
    struct sentences first, notes; /* to see to first; clashes and causes that sound alike */
    size_t alike_from, alike_to;   /* those of the notes that tell of causes that sound alike */
    int clash;                     /* row that clashes, -1 none */
    struct alike alike;            /* the causes above one in a hundred, by how they sound in the rows */
};

/* False only when no clock fits (see belief_find); the report is empty then. */
bool report_init(struct report *r, struct finder *f, const struct sheet *sheet,
                 const struct belief_options *options);
/* The belief alone, when it is not sure what was heard: several readings with their shares, the likeliest
 * first, by which reasons and questions go.  report_look fills in all the rest. */
bool report_believe(struct report *r, struct finder *f, const struct sheet *const *reading,
                    const double *share, size_t readings, const struct belief_options *options);
void report_look(struct report *r, struct finder *f);
void report_release(struct report *r);

/* Lines for a terminal, at most `most` causes (0: those over one in a hundred, at most six).  `grouped`:
 * report_groups has told which of them sound alike, so the notes do not. */
void report_text(const struct report *r, size_t most, bool grouped, struct text *out);
/* One line for each group of causes that sound alike in the rows. */
void report_groups(const struct report *r, struct text *out);
/* JSON as text, indented by two; at most `most` causes (0 = all).  The causes printed sum to 1
 * only when all are. */
void report_json(const struct report *r, size_t most, struct text *out);

#endif
