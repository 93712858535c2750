/* story_rows.h - the heard rows of a story: which of them speak of one thing and become one row, and what
 * all of them say of each other at the end.  For story.c only.
 *
 * A row is told by a phrase or a clause; `more` is what the next tells.  It adds to the row when it tells
 * nothing that the row tells otherwise: "strikes three", "slowly", "at four" are one row, "silent" and
 * "too loud" are two. */
#ifndef LETOFF_DIAGNOSE_STORY_ROWS_H
#define LETOFF_DIAGNOSE_STORY_ROWS_H

#include <stdbool.h>
#include "diagnose/sheet.h"

/* What is told of times. */
bool row_is_vague(const struct sheet_at *at); /* any time: a more exact one may take its place */
bool row_is_whole_of(const struct sheet_at *at, const struct sheet_at *part); /* hours, and some of them */
bool row_is_quarter(const struct sheet_at *at);
bool rows_time_fits(const struct sheet_at *row, const struct sheet_at *at); /* meant of the same? */
void row_put_time(struct heard *row, const struct sheet_at *at, const struct words *words);
/* The hours behind the part of the dial told of last, up to where the first such part begins: 6:00-12:00 behind
 * 1:00-5:00.  False if there is none. */
bool rows_onward(const struct sheet *s, struct sheet_at *at);

/* What is told of sounds. */
bool rows_strike_fits(const struct heard *row, const struct heard *more);
bool row_says_already(const struct heard *row, const struct heard *h);
bool row_say_of_chime(struct heard *h); /* right, wrong or nothing of a quarter is so of the chime */

/* Does `more` add to the row?  `timed`: the row has its time from the sentence. */
bool row_adds_to(const struct heard *row, const struct heard *more, bool timed,
                 const struct words *words);
void row_merge(struct heard *row, const struct heard *more, bool timed);

bool row_sounds(const struct heard *h); /* something was heard */

/* At the end (story_settle.c): what is told twice is one row, "right at all others" excepts the hours named, a count of all hours is more than "wrong", what
 * is silent while the hours strike is the chime.  `others` says of each row whether it speaks of the
 * let-offs not named; it is kept in step when a row goes. */
void rows_settle(struct sheet *s, bool *others);

#endif
