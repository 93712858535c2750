/* fuzz_import.c - any bytes as a table or as lines of records for the journal. */
#include "fuzz_target.h"

#include <string.h>

#include "err.h"
#include "journal/journal_import.h"
#include "mem.h"

/* What was read is in canonical form already. */
static void check_row(const struct import_row *row)
{
    const struct record *r = &row->record;
    FUZZ_MUST(r->id[0] == '\0' || record_id_ok(r->id));
    for (size_t i = 0; i < RECORD_FIELDS_MOST; i++) {
        FUZZ_MUST(!r->value[i] || i < record_field_count(r->kind));
        if (!r->value[i])
            continue;
        char *again = record_canonical(r->kind, i, r->value[i], NULL);
        FUZZ_MUST(again && strcmp(again, r->value[i]) == 0);
        mem_free(again);
    }
}

typedef bool import_parser(const char *name, const char *bytes, size_t length,
                           struct import_rows *rows, struct err *e);

static void parse(import_parser *parser, const uint8_t *data, size_t size)
{
    struct err e = {0};
    struct import_rows rows = {0};
    bool good = parser("fuzz", (const char *)data, size, &rows, &e);
    FUZZ_MUST(good == (e.count == 0));
    for (size_t i = 0; good && i < rows.count; i++)
        check_row(&rows.at[i]);
    import_rows_release(&rows);
    err_release(&e);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    parse(import_parse_csv, data, size);
    parse(import_parse_jsonl, data, size);
    import_guess((const char *)data, size);
    return 0;
}
