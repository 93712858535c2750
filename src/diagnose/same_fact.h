/* same_fact.h - one fact, told twice, is one piece of evidence.
 *
 * "The hour count is wrong", ticked off as seen, beside a row "every hour: strike wrong" tells
 * nothing that the row does not: who says the one says the other.  The row has a time and tells
 * more, so it is the one that is weighed, and the word of `seen` is left aside.  What was said only
 * when it was asked for is an answer of its own and is weighed as one.
 *
 * To add a word: a row in the table of same_fact.c, or, where a word of `how` says it, `told_by` in
 * words.yaml (the first of its words says that it is so; the others, that it is not).
 */
#ifndef LETOFF_DIAGNOSE_SAME_FACT_H
#define LETOFF_DIAGNOSE_SAME_FACT_H

#include <stdbool.h>
#include <stddef.h>
#include "diagnose/sheet.h"

/* Does one of these rows say what this word of `seen` says? */
bool same_fact_in(const struct heard *row, size_t rows, const struct words *w,
                  const struct word *seen);
/* Is this word of `seen` (by ordinal) of the sheet left aside for a row? */
bool same_fact_told(const struct sheet *s, size_t seen);

#endif
