/* verb_journal_move.c - export, import, merge, check. */
#include <errno.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>

#include "command/verb_journal.h"
#include "journal/journal_calendar.h"
#include "journal/journal_export.h"
#include "journal/journal_import.h"
#include "journal/journal_merge.h"
#include "mem.h"
#include "text.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))
#define FILES_MOST   32

/* ---- export --------------------------------------------------------------------------------- */

static bool put_out(const char *path, const struct text *out, struct err *e)
{
    if (path && strcmp(path, "-") != 0)
        return text_write_file(path, text_cstr(out), out->length, e);
    fwrite(text_cstr(out), 1, out->length, stdout);
    return true;
}

/* One file a kind into a folder, which is made if need be. */
static bool export_folder(struct journal *j, const char *folder, struct err *e)
{
    if (mkdir(folder, 0700) != 0 && errno != EEXIST) {
        err_device(e, "The folder %s cannot be made: %s.", folder, strerror(errno));
        return false;
    }
    for (int kind = 0; kind < RECORD_KINDS; kind++) {
        struct text out = {0}, path = {0};
        text_addf(&path, "%s/%s.csv", folder, record_shape((enum record_kind)kind)->name);
        bool ok = journal_export_csv(j, (enum record_kind)kind, &out, e) &&
                  text_write_file(text_cstr(&path), text_cstr(&out), out.length, e);
        text_release(&out);
        text_release(&path);
        if (!ok)
            return false;
    }
    return true;
}

static bool export_csv(struct journal *j, const char *kind, const char *path, struct err *e)
{
    struct text out = {0};
    if (!kind && path)
        return export_folder(j, path, e);
    int which = kind ? record_kind_of(kind) : -1;
    if (which < 0) {
        err_add(e,
                kind ? "--kind \"%s\" is no kind of record; letoff journal schema lists them."
                     : "CSV is one file a kind: name a folder with --out, or one kind with --kind.",
                kind);
        return false;
    }
    bool ok = journal_export_csv(j, (enum record_kind)which, &out, e) && put_out(path, &out, e);
    text_release(&out);
    return ok;
}

static bool export_as(struct journal *j, const char *as, const char *kind, const char *path,
                      struct err *e)
{
    struct text out = {0};
    bool ok = false;
    if (strcmp(as, "csv") == 0)
        return export_csv(j, kind, path, e);
    if (strcmp(as, "jsonl") == 0)
        ok = journal_export_jsonl(j, &out, e);
    else if (strcmp(as, "ics") == 0)
        ok = journal_calendar(j, NULL, &out, NULL, e);
    else
        err_add(e, "--as is \"%s\", expected jsonl, csv or ics.", as);
    ok = ok && put_out(path, &out, e);
    text_release(&out);
    return ok;
}

int verb_journal_export(int argc, char **argv)
{
    struct journal_common c = {0};
    const char *as = "jsonl", *kind = NULL, *path = NULL;
    const struct option options[] = {
        {"--as", OPTION_TEXT, &as, "FORMAT", "jsonl (all, lossless), csv, or ics (planned visits)",
         0, 0},
        {"--kind", OPTION_TEXT, &kind, "KIND", "for csv: one kind of record", 0, 0},
        {"--out", OPTION_TEXT, &path, "FILE",
         "file, or folder for csv; standard output if not given", 0, 0},
        JOURNAL_OPTIONS(c),
    };
    const struct usage u = {"letoff journal export",
                            "Writes the journal in an open format.",
                            options,
                            COUNT(options),
                            0,
                            0};
    struct journal_options reader = {.read_only = true};
    struct err e = {0};
    if (options_read(&u, argc, argv, NULL, NULL, &e) != OPTIONS_OK)
        return options_end(&e);
    struct journal *j = journal_open(c.where, &reader, &e);
    if (j)
        export_as(j, as, kind, path, &e);
    journal_close(j);
    return options_end(&e);
}

/* ---- import --------------------------------------------------------------------------------- */

static bool import_file(struct journal *j, const char *path, json_t *list, bool json, struct err *e)
{
    struct import_result r = {0};
    size_t length;
    char *bytes = text_read_file(path, IMPORT_BYTES_MOST, &length, e);
    bool ok = bytes && journal_import(j, path, bytes, length, &r, e);
    mem_free(bytes);
    if (!ok)
        return false;
    json_array_append_new(list, json_pack("{s:s, s:I, s:I, s:I, s:I, s:I}", "file", path, "rows",
                                          (json_int_t)r.rows, "changed", (json_int_t)r.changed,
                                          "same", (json_int_t)r.same, "stale", (json_int_t)r.stale,
                                          "erased", (json_int_t)r.erased));
    if (!json)
        printf("%s: %zu rows, %zu changed something, %zu were known, %zu were older, %zu erased.\n",
               path, r.rows, r.changed, r.same, r.stale, r.erased);
    return true;
}

int verb_journal_import(int argc, char **argv)
{
    struct journal_common c = {0};
    const char *plain[FILES_MOST];
    const struct option options[] = {JOURNAL_OPTIONS(c)};
    const struct usage u = {"letoff journal import FILE...",
                            "Takes in JSON Lines or CSV; a file with one mistake changes nothing.",
                            options,
                            COUNT(options),
                            1,
                            FILES_MOST};
    struct err e = {0};
    json_t *list;
    size_t plains;
    if (options_read(&u, argc, argv, plain, &plains, &e) != OPTIONS_OK)
        return options_end(&e);
    struct journal *j = journal_open(c.where, NULL, &e);
    list = json_array();
    for (size_t i = 0; j && i < plains; i++)
        if (!import_file(j, plain[i], list, c.json, &e))
            break;
    if (c.json)
        journal_print(json_incref(list));
    json_decref(list);
    journal_close(j);
    return options_end(&e);
}

/* ---- merge ---------------------------------------------------------------------------------- */

int verb_journal_merge(int argc, char **argv)
{
    struct journal_common c = {0};
    const char *plain[1];
    bool both = false;
    const struct option options[] = {
        {"--both", OPTION_FLAG, &both, NULL, "let the other journal take in this one too", 0, 0},
        JOURNAL_OPTIONS(c),
    };
    const struct usage u = {
        "letoff journal merge OTHER",
        "Takes in another journal: a file, or postgresql://...  Of two edits of one field "
        "the later stands, the other stays in the history.",
        options,
        COUNT(options),
        1,
        1};
    struct journal_options there = {.must_exist = true};
    struct merge_result r = {0}, back = {0};
    struct err e = {0};
    size_t plains;
    if (options_read(&u, argc, argv, plain, &plains, &e) != OPTIONS_OK)
        return options_end(&e);
    struct journal *other = journal_open(plain[0], &there, &e);
    struct journal *j = other ? journal_open(c.where, NULL, &e) : NULL;
    bool ok = j && journal_merge(j, other, &r, &e) && (!both || journal_merge(other, j, &back, &e));
    if (ok && c.json)
        journal_print(json_pack("{s:I, s:I, s:I, s:I}", "records", (json_int_t)r.records, "edits",
                                (json_int_t)r.edits, "erased", (json_int_t)r.erased, "given",
                                (json_int_t)back.records));
    else if (ok)
        printf("%zu records brought %zu new edits, %zu were erased; %zu records were given back.\n",
               r.records, r.edits, r.erased, back.records);
    journal_close(j);
    journal_close(other);
    return options_end(&e);
}

/* ---- check, schema -------------------------------------------------------------------------- */

int verb_journal_check(int argc, char **argv)
{
    struct journal_common c = {0};
    const struct option options[] = {JOURNAL_OPTIONS(c)};
    const struct usage u = {"letoff journal check",
                            "Reads all of the journal and looks for damage.",
                            options,
                            COUNT(options),
                            0,
                            0};
    struct journal_options reader = {.read_only = true};
    struct err e = {0};
    if (options_read(&u, argc, argv, NULL, NULL, &e) != OPTIONS_OK)
        return options_end(&e);
    struct journal *j = journal_open(c.where, &reader, &e);
    bool ok = j && journal_verify(j, &e);
    if (ok && c.json)
        journal_print(json_pack("{s:s, s:b}", "journal", journal_name(j), "sound", 1));
    else if (ok)
        printf("The journal %s is sound.\n", journal_name(j));
    journal_close(j);
    return options_end(&e);
}

static json_t *schema_json(void)
{
    json_t *kinds = json_array();
    for (int kind = 0; kind < RECORD_KINDS; kind++) {
        const struct record_shape *shape = record_shape((enum record_kind)kind);
        json_t *fields = json_array();
        for (const struct field *f = shape->field; f->name; f++)
            json_array_append_new(fields, json_pack("{s:s, s:s, s:b}", "name", f->name, "about",
                                                    f->about, "must", f->must));
        json_array_append_new(kinds, json_pack("{s:s, s:s, s:o}", "id", shape->name, "about",
                                               shape->about, "fields", fields));
    }
    return kinds;
}

int verb_journal_schema(int argc, char **argv)
{
    bool json = false;
    const struct option options[] = {
        {"--json", OPTION_FLAG, &json, NULL, "print the result as JSON", 0, 0},
    };
    const struct usage u = {"letoff journal schema",
                            "Lists the kinds of records and their fields.",
                            options,
                            COUNT(options),
                            0,
                            0};
    struct err e = {0};
    struct text out = {0};
    if (options_read(&u, argc, argv, NULL, NULL, &e) != OPTIONS_OK)
        return options_end(&e);
    journal_schema_text(&out);
    if (json)
        journal_print(schema_json());
    else
        fputs(text_cstr(&out), stdout);
    text_release(&out);
    return EXIT_DONE;
}
