/* journal_calendar.h - planned visits as an iCalendar file (RFC 5545).
 *
 * Times are the shop's own ("floating", RFC 5545 section 3.3.5 form 1): a visit at nine is at
 * nine whatever zone the phone is in.  UID is the visit's id, so reading the file again
 * moves an entry instead of doubling it. */
#ifndef LETOFF_JOURNAL_CALENDAR_H
#define LETOFF_JOURNAL_CALENDAR_H

#include "journal/journal.h"
#include "text.h"

/* Visits not yet done from the day `from` (YYYY-MM-DD; NULL: all).  *visits (may be NULL) counts. */
bool journal_calendar(struct journal *j, const char *from, struct text *out, size_t *visits,
                      struct err *e);

/* One content line: folded at 75 bytes without cutting a character, CRLF at the end. */
void calendar_line(struct text *out, const char *line);
/* Text with \ ; , and line breaks escaped. */
void calendar_escape(struct text *out, const char *value);

#endif
