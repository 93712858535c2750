/* lessons.h - the shop's own priors: shipped faults and clocks, taught by the journal's jobs.
 *
 * For the finder:
 *
 *     struct lessons got;
 *     struct learn *l = lessons_learned(lib, NULL, false, &got, &e);
 *     struct lessons_view view = {.learn = l, .history = "moved_house ran_down"}; // history words of the sheet
 *     belief_options.shop = lessons_factor, belief_options.shop_with = &view;
 */
#ifndef LETOFF_COMMAND_LESSONS_H
#define LETOFF_COMMAND_LESSONS_H

#include "journal/journal_learn.h"
#include "movement/library.h"

/* The shipped priors of all clocks and faults of the library, without lessons; for the histories
 * in `seen` (NULL: none) with the tilts of the fault rows, as the finder would use them.  Free with
 * learn_free; it copies what it needs. */
struct learn *lessons_shipped(const struct library *lib, const struct seen_histories *seen);

/* The shipped priors with the lessons of an open journal.  NULL and a sentence if it cannot be
 * read. */
struct learn *lessons_of(const struct library *lib, struct journal *j, struct lessons *got,
                         struct err *e);

/* True if there is nothing to learn from: a default journal that is not there, or a file that is
 * about to be made. */
bool lessons_nothing_yet(const char *where, bool may_be_new);
/* The same from `where` as in journal_open.  A default journal that is not there yet teaches
 * nothing and is no error; nor is a file that is about to be made (may_be_new). */
struct learn *lessons_learned(const struct library *lib, const char *where, bool may_be_new,
                              struct lessons *got, struct err *e);

struct lessons_view {
    struct learn *learn;
    const char *history; /* words separated by blanks, in any order; "" for none */
    /* the answer given last: the finder asks for all variants of a fault in a row */
    const char *clock, *fault;
    double factor;
};
/* What the finder's prior of a fault on a clock is multiplied by; `with` is a lessons_view. */
double lessons_factor(void *with, const char *clock, const char *fault);

#endif
