/* lessons.h - the shop's own priors: shipped faults and clocks, taught by the journal's jobs. */
#ifndef LETOFF_COMMAND_LESSONS_H
#define LETOFF_COMMAND_LESSONS_H

#include "journal/journal_learn.h"
#include "movement/library.h"

/* The shipped priors of all clocks and faults of the library, without lessons.  Free with
 * learn_free; it copies what it needs. */
struct learn *lessons_shipped(const struct library *lib);

/* The shipped priors with the lessons of a journal: `where` as in journal_open.  A default journal
 * that is not there yet teaches nothing and is no error.  NULL and a sentence otherwise. */
struct learn *lessons_learned(const struct library *lib, const char *where, struct lessons *got,
                              struct err *e);

#endif
