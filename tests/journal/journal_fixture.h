/* journal_fixture.h - what the journal's suites share: a temporary folder, a clock that stands
 * where the test puts it, and short ways to write records of an invented shop in Aldermere. */
#ifndef LETOFF_JOURNAL_FIXTURE_H
#define LETOFF_JOURNAL_FIXTURE_H

#include "journal/journal.h"

#define NINE_O_CLOCK INT64_C(1793955600000) /* 6 November 2026, 09:00 UTC */

extern int64_t fixture_now_ms; /* set by the test; journals opened by fixture_open read it */

char *fixture_folder(void);                               /* a new folder; mem_free the name */
void fixture_remove(char *folder);                        /* with all in it; frees the name */
char *fixture_path(const char *folder, const char *name); /* mem_free it */
/* Opens or fails the test with the sentences. */
struct journal *fixture_open(const char *where);

/* New records; the ids go into `id`. */
void fixture_customer(struct journal *j, const char *label, char id[33]);
void fixture_clock(struct journal *j, const char *customer, const char *movement, char id[33]);
void fixture_call(struct journal *j, const char *customer, const char *clock, const char *story,
                  char id[33]);
void fixture_finding(struct journal *j, const char *call, const char *fault, const char *part);
/* Set one field of a record that is there. */
void fixture_edit(struct journal *j, enum record_kind kind, const char *id, const char *field,
                  const char *value);
/* The value of a field, "" if none; mem_free it. */
char *fixture_value(struct journal *j, enum record_kind kind, const char *id, const char *field);
size_t fixture_count(struct journal *j, enum record_kind kind);
/* All of the journal as JSON Lines; mem_free it. */
char *fixture_dump(struct journal *j);

/* Fails unless `call` gave exactly one sentence containing `part`; empties `e`. */
void fixture_one_sentence(struct err *e, const char *part);
/* Fails with the sentences if there are any. */
void fixture_no_sentence(struct err *e);

#endif
