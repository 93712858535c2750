/* journal_export.h - the journal in open formats.
 *
 * JSON Lines (one file, lossless): one object a line, UTF-8.
 *   {"kind":"journal","version":2}                       first line; version of the schema
 *   {"kind":"erased","of":"call","id":"...","stamp_ms":1700000000000}
 *   {"kind":"call","id":"<32 hex digits>","updated_ms":1700000000000,
 *    "state":"open", ... one member a field that ever had a value, null = cleared ...,
 *    "stamps":{"state":"1700000000000-<16 hex digits>", ... stamp and origin of each field}}
 *   Numbers are JSON numbers, everything else strings.  Parents stand before what names them.
 *   An object without "stamps" is taken in like a CSV row.
 *
 * CSV (one file a kind, for a spreadsheet): RFC 4180, UTF-8, CRLF.
 *   kind,id,updated_ms,<the fields of the kind in the order of journal_record.c>
 *   An empty cell is a field without a value.
 *
 * The fields of each kind with their meaning: `letoff journal schema` (journal_schema_text).
 */
#ifndef LETOFF_JOURNAL_EXPORT_H
#define LETOFF_JOURNAL_EXPORT_H

#include "journal/journal.h"
#include "text.h"

bool journal_export_jsonl(struct journal *j, struct text *out, struct err *e);
bool journal_export_csv(struct journal *j, enum record_kind kind, struct text *out, struct err *e);
/* The kinds and fields in words, made from the same table. */
void journal_schema_text(struct text *out);

#endif
