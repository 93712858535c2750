/* note_facts.h - the single facts of a call sheet, and whether another sheet bears them out.
 *
 * A sheet is taken apart into its smallest facts: one hint, one history or seen word, one thing
 * about one heard row.  A fact is borne out by a sheet that says the same or something it follows
 * from: "struck, not counted" follows from a count, "wrong" from one too many, four at three from
 * one too many at every hour, a let-off at an unknown time from one at a known time.
 */
#ifndef LETOFF_TESTS_NOTE_FACTS_H
#define LETOFF_TESTS_NOTE_FACTS_H

#include <stdbool.h>
#include <stddef.h>
#include "diagnose/sheet.h"

enum fact_kind { FACT_HINT, FACT_HISTORY, FACT_SEEN, FACT_SINCE, FACT_TRIED, FACT_HEARD };

struct fact {
    enum fact_kind kind;
    bool denied;      /* of a history or seen word: asked, and the answer was no */
    int which, value; /* hint: ordinal and value; history, seen, since.after, action: ordinal */
    struct heard row; /* of FACT_HEARD: the time and one thing about it; `said` is NULL */
};

#define FACTS_MOST 1500
/* Take the sheet apart; returns how many facts were written. */
size_t facts_of(const struct sheet *s, struct fact *into, size_t most);
bool fact_holds(const struct fact *f, const struct sheet *truth);
/* In shorthand. */
void fact_print(const struct fact *f, const struct words *words, struct text *out);

/* Does `at` of two rows mean the same minutes of the dial? */
bool same_place(const struct sheet_at *a, const struct sheet_at *b);

#endif
