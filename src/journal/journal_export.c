#include "journal/journal_export.h"

#include <inttypes.h>
#include <jansson.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "journal/journal_schema.h"
#include "mem.h"

#define DUMP_FLAGS (JSON_COMPACT | JSON_PRESERVE_ORDER | JSON_REAL_PRECISION(15))

static void add_line(struct text *out, json_t *object)
{
    char *line = json_dumps(object, DUMP_FLAGS);
    text_add(out, line ? line : "");
    text_add(out, "\n");
    free(line);
    json_decref(object);
}

static json_t *value_of(const struct field *f, const char *value)
{
    double number;
    if (!value || !value[0])
        return json_null();
    if ((f->type == FIELD_INT || f->type == FIELD_REAL) && text_real(value, &number))
        return f->type == FIELD_INT ? json_integer((json_int_t)number) : json_real(number);
    return json_string(value);
}

/* Edits come oldest first, so the last one of a field is the one that counts. */
struct stamping {
    enum record_kind kind;
    json_t *object, *stamps;
};

static void stamp_field(void *with, const struct edit *edit)
{
    struct stamping *s = with;
    char stamp[48];
    if (edit->kind != (int)s->kind)
        return;
    const struct field *f = &record_shape(s->kind)->field[edit->field];
    snprintf(stamp, sizeof stamp, "%" PRId64 "-%s", edit->stamp_ms, edit->origin);
    json_object_set_new(s->object, f->name, value_of(f, edit->value));
    json_object_set_new(s->stamps, f->name, json_string(stamp));
}

static bool export_record(struct journal *j, const struct record *r, struct text *out,
                          struct err *e)
{
    struct stamping s = {r->kind, json_object(), json_object()};
    json_object_set_new(s.object, "kind", json_string(record_shape(r->kind)->name));
    json_object_set_new(s.object, "id", json_string(r->id));
    json_object_set_new(s.object, "updated_ms", json_integer(r->updated_ms));
    bool ok = journal_history(j, r->id, stamp_field, &s, e);
    json_object_set_new(s.object, "stamps", s.stamps);
    if (ok)
        add_line(out, s.object);
    else
        json_decref(s.object);
    return ok;
}

static void export_erased(void *with, enum record_kind kind, const char *id, int64_t stamp_ms)
{
    json_t *object = json_object();
    json_object_set_new(object, "kind", json_string("erased"));
    json_object_set_new(object, "of", json_string(record_shape(kind)->name));
    json_object_set_new(object, "id", json_string(id));
    json_object_set_new(object, "stamp_ms", json_integer(stamp_ms));
    add_line(with, object);
}

static bool export_kind(struct journal *j, enum record_kind kind, struct text *out, struct err *e)
{
    struct record_list list = {0};
    bool ok = journal_list(j, kind, NULL, NULL, NULL, &list, e);
    for (size_t i = 0; ok && i < list.count; i++)
        ok = export_record(j, &list.at[i], out, e);
    record_list_release(&list);
    return ok;
}

bool journal_export_jsonl(struct journal *j, struct text *out, struct err *e)
{
    if (!journal_read_begin(j, e))
        return false;
    json_t *head = json_object();
    json_object_set_new(head, "kind", json_string("journal"));
    json_object_set_new(head, "version", json_integer((json_int_t)schema_migration_count));
    add_line(out, head);
    bool ok = journal_each_erased(j, export_erased, out, e);
    for (int kind = 0; ok && kind < RECORD_KINDS; kind++)
        ok = export_kind(j, (enum record_kind)kind, out, e);
    journal_read_end(j);
    return ok;
}

static void add_cell(struct text *out, const char *value)
{
    if (!value)
        return;
    if (!strpbrk(value, ",;\t\"\r\n") && value[0] != ' ') {
        text_add(out, value);
        return;
    }
    text_add(out, "\"");
    for (const char *c = value; *c; c++) {
        text_add_bytes(out, c, 1);
        if (*c == '"')
            text_add(out, "\"");
    }
    text_add(out, "\"");
}

static void add_row(struct text *out, const struct record *r)
{
    size_t count = record_field_count(r->kind);
    text_addf(out, "%s,%s,%" PRId64, record_shape(r->kind)->name, r->id, r->updated_ms);
    for (size_t i = 0; i < count; i++) {
        text_add(out, ",");
        add_cell(out, r->value[i]);
    }
    text_add(out, "\r\n");
}

bool journal_export_csv(struct journal *j, enum record_kind kind, struct text *out, struct err *e)
{
    struct record_list list = {0};
    text_add(out, "kind,id,updated_ms");
    for (const struct field *f = record_shape(kind)->field; f->name; f++)
        text_addf(out, ",%s", f->name);
    text_add(out, "\r\n");
    bool ok = journal_list(j, kind, NULL, NULL, NULL, &list, e);
    for (size_t i = 0; ok && i < list.count; i++)
        add_row(out, &list.at[i]);
    record_list_release(&list);
    return ok;
}

static void describe_type(struct text *out, const struct field *f)
{
    switch (f->type) {
    case FIELD_TEXT:
        text_add(out, "text");
        break;
    case FIELD_WORD:
        text_addf(out, "one of: %s", f->words);
        break;
    case FIELD_INT:
        text_addf(out, "whole number %g to %g", f->low, f->high);
        break;
    case FIELD_REAL:
        text_addf(out, "number %g to %g", f->low, f->high);
        break;
    case FIELD_TIME:
        text_add(out, "YYYY-MM-DD or YYYY-MM-DDTHH:MM[:SS]");
        break;
    case FIELD_REF:
        text_addf(out, "id of a %s", record_shape(f->refers)->name);
        break;
    }
}

void journal_schema_text(struct text *out)
{
    text_addf(out,
              "Journal, schema version %zu.  Every record has an id (32 hex digits) and "
              "updated_ms (milliseconds since 1970).\n",
              schema_migration_count);
    for (int kind = 0; kind < RECORD_KINDS; kind++) {
        const struct record_shape *shape = record_shape((enum record_kind)kind);
        text_addf(out, "\n%s: %s\n", shape->name, shape->about);
        for (const struct field *f = shape->field; f->name; f++) {
            text_addf(out, "  %-14s %s (", f->name, f->about);
            describe_type(out, f);
            text_addf(out, "%s)\n", f->must ? ", must be there" : "");
        }
    }
}
