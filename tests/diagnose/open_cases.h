/* open_cases.h - the real open cases, or invented ones: at which place the finder puts an accepted
 * class and an accepted part, and what probability it gives them.
 *
 * Case sheets are FOLDER/NAME.yaml; the answers FOLDER/answers.jsonl, one JSON object a line with
 * `id`, a list of accepted classes and one of accepted parts (any key with "class" or "part" in
 * it).  Without answers only the first causes are printed.
 */
#ifndef LETOFF_TESTS_OPEN_CASES_H
#define LETOFF_TESTS_OPEN_CASES_H

#include "diagnose/belief.h"
#include "diagnose/phrases.h"

#define CASES_MOST 400

/* How one case came out: rank 0 is not among the answers; logs of the chance given to what is accepted. */
struct case_score {
    int class_rank, part_rank;
    double log_class, log_part;
};

struct case_totals {
    int cases, class_first, class_three, part_first, part_three;
    double log_class, log_part;
    struct case_score score[CASES_MOST];  /* by case, as summed up */
    bool quiet;                           /* in: sum up only */
    const struct belief_options *options; /* in: how they are weighed; NULL as shipped */
    const struct phrases *phrases; /* in: not NULL: a sheet read from each case's `story` is weighed
                                      instead of the one written by hand */
    /* then: what the sheets by hand say of what was heard, seen and done, and how much of it the
     * stories' sheets say; what those say, and how much of it the sheets by hand bear out */
    int told, read, given, borne;
};
void case_totals_add(struct case_totals *t, struct case_score s);
void case_totals_print(const struct case_totals *t);
/* Print one line a case and the sums (unless t->quiet); only cases with `only` in their name (NULL = all).  Returns
 * how many could not be read.  Without a finder the stories are only read. */
int open_cases_run(struct finder *f, const struct words *words, const char *folder, const char *only,
                   struct case_totals *t);

#endif
