/* fuzz_import.c - any bytes as a table or as lines of records for the journal. */
#include "fuzz_target.h"

#include "err.h"
#include "journal/journal_import.h"

typedef bool import_parser(const char *name, const char *bytes, size_t length,
                           struct import_rows *rows, struct err *e);

static void parse(import_parser *parser, const uint8_t *data, size_t size)
{
    struct err e = {0};
    struct import_rows rows = {0};
    bool good = parser("fuzz", (const char *)data, size, &rows, &e);
    FUZZ_MUST(good == (e.count == 0));
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
