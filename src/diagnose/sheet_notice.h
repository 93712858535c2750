/* sheet_notice.h - what of a call sheet can be read but was perhaps not meant so.
 *
 * None of it is an error: a clock may strike two today and three tomorrow.  It is told to whoever
 * wrote the sheet, by `check` beside the file and by `find` among its notes.
 */
#ifndef LETOFF_DIAGNOSE_SHEET_NOTICE_H
#define LETOFF_DIAGNOSE_SHEET_NOTICE_H

#include <stddef.h>
#include "diagnose/sheet.h"

/* `line`: of the file, 0 unknown; `said`: a sentence without a full stop, good during the call. */
typedef void sheet_noticed(void *with, size_t line, const char *said);
void sheet_notice(const struct sheet *s, sheet_noticed *noticed, void *with);

#endif
