/* journal_import.h - take in CSV and JSON Lines (formats: journal_export.h).
 *
 * First a pure parser turns bytes into rows; it touches no journal, accepts any bytes, and reports
 * every problem with file:line:column.  Then all rows are taken in by one transaction; a file with
 * one problem changes nothing.
 *
 * A row with stamps (JSON Lines as we write them) is merged by the rules of journal.h.  A row
 * without (CSV, or lines made by another program) is somebody's edit made now:
 *   - no id: a new record;
 *   - an id nobody has: a new record under that id;
 *   - an id we have: fields that differ are edited, unless `updated_ms` is there and older than our
 *     record: then the row is a stale copy and is left out;
 *   - an erased id is left out.
 */
#ifndef LETOFF_JOURNAL_IMPORT_H
#define LETOFF_JOURNAL_IMPORT_H

#include "journal/journal.h"

#define IMPORT_BYTES_MOST   256000000 /* of a file that is taken in */
#define IMPORT_COLUMNS_MOST 64        /* of a CSV file */

struct import_row {
    struct record record; /* updated_ms 0 if the row did not say */
    bool erased;          /* only kind and id count, with stamp_ms[0] */
    bool stamped;
    int64_t stamp_ms[RECORD_FIELDS_MOST]; /* 0 = no value in this row */
    char origin[RECORD_FIELDS_MOST][17];
    size_t line;
};
/* A zeroed struct is an empty list. */
struct import_rows {
    struct import_row *at;
    size_t count, room;
};
void import_rows_release(struct import_rows *rows);

enum import_format { IMPORT_CSV, IMPORT_JSONL };

/* Pure: `name` is for sentences only.  True if nothing was wrong. */
bool import_parse_csv(const char *name, const char *bytes, size_t length, struct import_rows *rows,
                      struct err *e);
bool import_parse_jsonl(const char *name, const char *bytes, size_t length,
                        struct import_rows *rows, struct err *e);
/* JSON Lines if the first byte that is no blank is '{', else CSV. */
enum import_format import_guess(const char *bytes, size_t length);

struct import_result {
    size_t rows;    /* read */
    size_t changed; /* records made or changed */
    size_t same;    /* rows that brought nothing new */
    size_t stale;   /* older than what we have, left out */
    size_t erased;  /* erased here, left out; or erased by this file */
};

bool journal_import(struct journal *j, const char *name, const char *bytes, size_t length,
                    struct import_result *result, struct err *e);

#endif
