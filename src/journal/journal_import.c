#include "journal/journal_import.h"

#include <string.h>
#include "journal/journal_priv.h"
#include "mem.h"

void import_rows_release(struct import_rows *rows)
{
    for (size_t i = 0; i < rows->count; i++)
        record_release(&rows->at[i].record);
    mem_free(rows->at);
    *rows = (struct import_rows){0};
}

enum import_format import_guess(const char *bytes, size_t length)
{
    size_t i = 0;
    if (length >= 3 && memcmp(bytes, "\xEF\xBB\xBF", 3) == 0)
        i = 3;
    while (i < length && strchr(" \t\r\n", bytes[i]) && bytes[i])
        i++;
    return i < length && bytes[i] == '{' ? IMPORT_JSONL : IMPORT_CSV;
}

/* ---- taking rows in ----------------------------------------------------------------------- */

static bool take_stamped(struct journal *j, const struct import_row *row,
                         struct import_result *result, struct err *e)
{
    struct edit edit = {.kind = row->record.kind};
    bool fresh, any = false;
    memcpy(edit.record, row->record.id, sizeof edit.record);
    for (size_t i = 0; i < RECORD_FIELDS_MOST; i++) {
        if (!row->stamp_ms[i])
            continue;
        edit.field = (int)i;
        edit.stamp_ms = row->stamp_ms[i];
        memcpy(edit.origin, row->origin[i], sizeof edit.origin);
        edit.value = row->record.value[i] ? row->record.value[i] : "";
        if (!journal_take_edit(j, &edit, &fresh, e))
            return false;
        any = any || fresh;
    }
    result->changed += any;
    result->same += !any;
    return true;
}

static void copy_record(struct record *to, const struct record *from)
{
    *to = *from;
    for (size_t i = 0; i < RECORD_FIELDS_MOST; i++)
        to->value[i] = mem_copy_text(from->value[i]);
}

static bool known(struct journal *j, const struct record *r, int64_t *updated_ms, struct err *e)
{
    struct record_list found = {0};
    *updated_ms = 0;
    bool ok = journal_list(j, r->kind, "id", r->id, NULL, &found, e);
    if (ok && found.count)
        *updated_ms = found.at[0].updated_ms;
    record_list_release(&found);
    return ok;
}

static bool take_plain(struct journal *j, const struct import_row *row,
                       struct import_result *result, struct err *e)
{
    int64_t ours_ms = 0;
    if (row->record.id[0] && !known(j, &row->record, &ours_ms, e))
        return false;
    if (row->record.updated_ms && row->record.updated_ms < ours_ms) {
        result->stale++;
        return true;
    }
    struct record r;
    copy_record(&r, &row->record);
    bool ok = journal_put(j, &r, e);
    bool changed = ok && r.updated_ms != ours_ms;
    result->changed += changed;
    result->same += ok && !changed;
    record_release(&r);
    return ok;
}

static bool take_row(struct journal *j, const struct import_row *row, struct import_result *result,
                     struct err *e)
{
    bool erased = false, fresh;
    if (row->erased) {
        bool ok =
            journal_take_erased(j, row->record.kind, row->record.id, row->stamp_ms[0], &fresh, e);
        result->erased += ok && fresh;
        result->same += ok && !fresh;
        return ok;
    }
    if (row->record.id[0] && !journal_is_erased(j, row->record.id, &erased, e))
        return false;
    if (erased) {
        result->erased++;
        return true;
    }
    return row->stamped ? take_stamped(j, row, result, e) : take_plain(j, row, result, e);
}

/* Erasures first, then kind by kind, so that parents are there before what names them. */
static bool take_rows(struct journal *j, const char *name, const struct import_rows *rows,
                      struct import_result *result, struct err *e)
{
    for (int kind = -1; kind < RECORD_KINDS; kind++) {
        for (size_t i = 0; i < rows->count; i++) {
            const struct import_row *row = &rows->at[i];
            if ((row->erased ? -1 : (int)row->record.kind) != kind)
                continue;
            if (!take_row(j, row, result, e)) {
                err_at(e, name, row->line, 0, "This row could not be taken in.");
                return false;
            }
        }
        size_t dropped;
        if (!journal_settle(j, &dropped, e))
            return false;
        result->erased += dropped;
    }
    return true;
}

static bool erases(const struct import_rows *rows)
{
    for (size_t i = 0; i < rows->count; i++)
        if (rows->at[i].erased)
            return true;
    return false;
}

bool journal_import(struct journal *j, const char *name, const char *bytes, size_t length,
                    struct import_result *result, struct err *e)
{
    struct import_rows rows = {0};
    *result = (struct import_result){0};
    bool ok = import_guess(bytes, length) == IMPORT_JSONL
                  ? import_parse_jsonl(name, bytes, length, &rows, e)
                  : import_parse_csv(name, bytes, length, &rows, e);
    result->rows = rows.count;
    ok = ok && journal_begin(j, e);
    if (ok && take_rows(j, name, &rows, result, e))
        ok = journal_commit(j, e);
    else if (ok) {
        journal_rollback(j);
        ok = false;
    }
    if (ok && erases(&rows))
        ok = journal_scrub(j, NULL, e);
    if (!ok)
        *result = (struct import_result){.rows = rows.count};
    import_rows_release(&rows);
    return ok;
}
