/* puzzle.h - what is as it should be and yet makes its owner ring.
 *
 * Owners expect the hour's number at the hour, and at most one blow between (common practice, no
 * source).  A ship's bell strikes six at seven, a night silence strikes nothing at ten, a clock that
 * strikes the hour twice over gives four at half past three, one that only tells the hours is silent at
 * the half: all of it right.  When every row of a report is what a sound clock of this kind does, and one of them is
 * such a puzzle, then the report itself says why somebody rang, and "nothing wrong" needs no other reason to be
 * thought of.  The same when who rings says that every hour is right and complains of nothing: it is asked
 * about the click of the warning, the weight of a thirty-hour clock on the floor a day later, or what the
 * sheet has no word for.  Whatever else was seen must be what a sound clock shows (evidence.h), and who says that it
 * began suddenly or by and by tells of a change, not of how the clock was made.
 */
#ifndef LETOFF_DIAGNOSE_PUZZLE_H
#define LETOFF_DIAGNOSE_PUZZLE_H

#include "diagnose/ear.h"
#include "diagnose/hypothesis.h"
#include "diagnose/sheet.h"
#include "diagnose/tuned.h"

#define PUZZLED TUNED(puzzled, 20.0) /* calls about nothing wrong are so much likelier among reports of a puzzle
                        (judgement: of those whose ship's bell puzzles them most own a sound one) */

/* What the report does to the prior of `none` on this clock: PUZZLED or 1. */
double puzzle_tilt(const struct sheet *s, struct clock_case *k, const struct ear_model *ear);

#endif
