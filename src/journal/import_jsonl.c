/* import_jsonl.c - the JSON Lines reader: bytes to rows, nothing else. */
#include "journal/journal_import.h"

#include <inttypes.h>
#include <jansson.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "journal/journal_schema.h"
#include "mem.h"
#include "text.h"

struct jsonl {
    const char *name;
    size_t line;
    struct err *e;
};

static bool complain(const struct jsonl *l, const char *key, const char *wanted)
{
    err_at(l->e, l->name, l->line, 0, "%s is wrong or missing, expected %s.", key, wanted);
    return false;
}

static const char *text_of(const json_t *object, const char *key)
{
    const char *value = json_string_value(json_object_get(object, key));
    return value ? value : "";
}

/* The value as text; NULL if it is an array or an object. */
static char *plain_value(const json_t *value)
{
    char number[48] = "";
    if (json_is_string(value))
        return mem_copy_text(json_string_value(value));
    if (json_is_integer(value))
        snprintf(number, sizeof number, "%" JSON_INTEGER_FORMAT, json_integer_value(value));
    else if (json_is_real(value))
        snprintf(number, sizeof number, "%.15g", json_real_value(value));
    else if (json_is_boolean(value))
        snprintf(number, sizeof number, "%s", json_is_true(value) ? "yes" : "no");
    else if (!json_is_null(value))
        return NULL;
    return mem_copy_text(number);
}

static bool read_id(const struct jsonl *l, const json_t *object, bool needed, struct record *r)
{
    const json_t *id = json_object_get(object, "id");
    if (!id && !needed)
        return true;
    if (!json_is_string(id) || !record_id_ok(json_string_value(id)))
        return complain(l, "id", "32 of the digits 0-9 and a-f");
    memcpy(r->id, json_string_value(id), sizeof r->id);
    return true;
}

static bool read_value(const struct jsonl *l, struct import_row *row, size_t field,
                       const json_t *value)
{
    const char *key = record_shape(row->record.kind)->field[field].name;
    char *plain = plain_value(value);
    struct err why = {0};
    if (!plain)
        return complain(l, key, "a string, a number or null");
    char *canonical = record_canonical(row->record.kind, field, plain, &why);
    if (why.count)
        err_at(l->e, l->name, l->line, 0, "%s", why.line[0]);
    err_release(&why);
    mem_free(plain);
    mem_free(row->record.value[field]);
    row->record.value[field] = canonical;
    return canonical != NULL;
}

/* "<milliseconds>-<16 hex digits>" */
static bool read_stamp(const struct jsonl *l, struct import_row *row, size_t field,
                       const json_t *value)
{
    static const char wanted[] = "\"<milliseconds since 1970>-<16 hex digits>\"";
    const char *text = json_string_value(value);
    const char *dash = text ? strchr(text, '-') : NULL;
    char digits[24];
    long stamp;
    if (!dash || dash - text >= (long)sizeof digits || strlen(dash + 1) != 16 ||
        strspn(dash + 1, "0123456789abcdef") != 16)
        return complain(l, "stamps", wanted);
    snprintf(digits, sizeof digits, "%.*s", (int)(dash - text), text);
    if (!text_int(digits, &stamp) || stamp <= 0)
        return complain(l, "stamps", wanted);
    row->stamp_ms[field] = stamp;
    memcpy(row->origin[field], dash + 1, 17);
    return true;
}

static bool read_stamps(const struct jsonl *l, struct import_row *row, json_t *stamps)
{
    const char *key;
    json_t *value;
    bool ok = true;
    if (!stamps)
        return true;
    if (!json_is_object(stamps))
        return complain(l, "stamps", "an object");
    row->stamped = true;
    json_object_foreach(stamps, key, value)
    {
        int field = record_field_of(row->record.kind, key);
        ok = (field >= 0 ? read_stamp(l, row, (size_t)field, value)
                         : complain(l, "stamps", "the names of fields of this kind")) &&
             ok;
    }
    return ok;
}

static bool is_frame(const char *key)
{
    return strcmp(key, "kind") == 0 || strcmp(key, "id") == 0 || strcmp(key, "updated_ms") == 0 ||
           strcmp(key, "stamps") == 0;
}

static bool read_fields(const struct jsonl *l, struct import_row *row, json_t *object)
{
    const char *key;
    json_t *value;
    bool ok = true;
    json_object_foreach(object, key, value)
    {
        if (is_frame(key))
            continue;
        int field = record_field_of(row->record.kind, key);
        if (field >= 0)
            ok = read_value(l, row, (size_t)field, value) && ok;
        else {
            err_at(l->e, l->name, l->line, 0,
                   "%.60s is no field of a %s, see letoff journal "
                   "schema.",
                   key, record_shape(row->record.kind)->name);
            ok = false;
        }
    }
    return ok;
}

static bool read_record(const struct jsonl *l, json_t *object, int kind, struct import_row *row)
{
    json_t *updated = json_object_get(object, "updated_ms");
    record_init(&row->record, (enum record_kind)kind);
    bool ok = read_id(l, object, false, &row->record);
    if (updated && !json_is_integer(updated))
        ok = complain(l, "updated_ms", "milliseconds since 1970");
    else if (updated)
        row->record.updated_ms = json_integer_value(updated);
    ok = read_fields(l, row, object) && ok;
    ok = read_stamps(l, row, json_object_get(object, "stamps")) && ok;
    if (row->stamped && !row->record.id[0])
        ok = complain(l, "id", "32 of the digits 0-9 and a-f beside stamps");
    return ok;
}

static bool read_erased(const struct jsonl *l, json_t *object, struct import_row *row)
{
    int kind = record_kind_of(text_of(object, "of"));
    json_int_t stamp = json_integer_value(json_object_get(object, "stamp_ms"));
    if (kind < 0)
        return complain(l, "of", "the kind of the erased record");
    record_init(&row->record, (enum record_kind)kind);
    row->erased = true;
    row->stamp_ms[0] = stamp;
    if (stamp <= 0)
        return complain(l, "stamp_ms", "milliseconds since 1970");
    return read_id(l, object, true, &row->record);
}

static bool read_head(const struct jsonl *l, const json_t *object)
{
    json_int_t version = json_integer_value(json_object_get(object, "version"));
    if (version >= 1 && version <= (json_int_t)schema_migration_count)
        return true;
    if (version < 1)
        return complain(l, "version", "a version number");
    err_at(l->e, l->name, l->line, 0,
           "The file was written by a newer letoff (version %" JSON_INTEGER_FORMAT
           ", this one knows up to %zu).",
           version, schema_migration_count);
    return false;
}

static bool read_object(const struct jsonl *l, json_t *object, struct import_rows *rows)
{
    const char *word = text_of(object, "kind");
    int kind = record_kind_of(word);
    bool erased = strcmp(word, "erased") == 0;
    if (strcmp(word, "journal") == 0)
        return read_head(l, object);
    if (kind < 0 && !erased)
        return complain(l, "kind", "customer, clock, call or another kind of record");
    rows->at = mem_grow(rows->at, &rows->room, rows->count + 1, sizeof *rows->at);
    struct import_row *row = &rows->at[rows->count++];
    memset(row, 0, sizeof *row);
    row->line = l->line;
    return erased ? read_erased(l, object, row) : read_record(l, object, kind, row);
}

static bool read_line(const struct jsonl *l, const char *bytes, size_t length,
                      struct import_rows *rows)
{
    json_error_t why;
    size_t blank = 0;
    while (blank < length && strchr(" \t\r", bytes[blank]) && bytes[blank])
        blank++;
    if (blank == length)
        return true;
    json_t *object = json_loadb(bytes, length, JSON_REJECT_DUPLICATES, &why);
    if (!object) {
        err_at(l->e, l->name, l->line, (size_t)(why.column > 0 ? why.column : 1),
               "This line is no JSON (%s), expected one object a line.", why.text);
        return false;
    }
    bool ok = json_is_object(object) ? read_object(l, object, rows)
                                     : complain(l, "The line", "a JSON object");
    json_decref(object);
    return ok;
}

bool import_parse_jsonl(const char *name, const char *bytes, size_t length,
                        struct import_rows *rows, struct err *e)
{
    struct jsonl l = {name, 0, e};
    bool ok = true;
    if (length >= 3 && memcmp(bytes, "\xEF\xBB\xBF", 3) == 0) {
        bytes += 3;
        length -= 3;
    }
    while (length > 0) {
        const char *newline = memchr(bytes, '\n', length);
        size_t here = newline ? (size_t)(newline - bytes) : length;
        l.line++;
        ok = read_line(&l, bytes, here, rows) && ok;
        here += newline != NULL;
        bytes += here;
        length -= here;
    }
    return ok;
}
