/* verb_list.c - what the program knows, as a table or as JSON rows with an id each. */
#include <jansson.h>
#include <stdio.h>
#include <string.h>

#include "command/command.h"
#include "command/options.h"
#include "command/sheet_list.h"
#include "command/voices.h"
#include "diagnose/words.h"
#include "movement/library.h"
#include "text.h"

static json_t *text_or_null(const char *s)
{
    return s ? json_string(s) : json_null();
}

static int trains_of(const struct clock *c)
{
    int n = 1;
    for (int t = TRAIN_STRIKE; t < TRAINS; t++)
        n += clock_train(c, (enum event_train)t) != NULL && c->train[t].shares <= 0;
    return n;
}

static const char *power_of(const struct clock *c)
{
    switch (c->train[TRAIN_GOING].power.drive) {
    case DRIVE_WEIGHT:
        return "weight";
    case DRIVE_SPRING:
        return "spring";
    case DRIVE_NONE:
        break;
    }
    enum drive d = c->train[TRAIN_STRIKE].power.drive;
    return d == DRIVE_WEIGHT ? "weight" : d == DRIVE_SPRING ? "spring" : "unknown";
}

static json_t *clock_row(const struct clock *c)
{
    json_t *o = json_pack("{s:s, s:s, s:i, s:s}", "id", c->id, "name", c->name, "trains",
                          trains_of(c), "power", power_of(c));
    json_object_set_new(o, "count", text_or_null(c->count));
    json_object_set_new(o, "half", text_or_null(c->half));
    json_object_set_new(o, "chime", text_or_null(c->chime));
    json_object_set_new(o, "about", text_or_null(c->about));
    json_object_set_new(o, "source", text_or_null(c->source));
    return o;
}

static void list_clocks(const struct library *lib, json_t *rows)
{
    for (size_t i = 0; i < library_clocks(lib); i++)
        json_array_append_new(rows, clock_row(library_clock(lib, i)));
}

static json_t *tune_row(const struct tune *u)
{
    json_t *o = json_pack("{s:s, s:s, s:i, s:i, s:i}", "id", u->id, "name", u->name, "bells",
                          u->bells, "changes", u->changes, "notes", u->notes);
    json_object_set_new(o, "status", text_or_null(u->status));
    json_object_set_new(o, "source", text_or_null(u->source));
    return o;
}

static void list_tunes(const struct library *lib, json_t *rows)
{
    for (size_t i = 0; i < library_tunes(lib); i++)
        json_array_append_new(rows, tune_row(library_tune(lib, i)));
}

static json_t *fault_row(const struct library *lib, const struct fault *f)
{
    json_t *o = json_pack("{s:s, s:s, s:s, s:s}", "id", f->id, "name", f->name, "part", f->part,
                          "class", f->class);
    json_t *clocks = json_array();
    for (size_t i = 0; i < library_clocks(lib); i++)
        if (fault_applies(f, library_clock(lib, i)))
            json_array_append_new(clocks, json_string(library_clock(lib, i)->id));
    json_object_set_new(o, "clocks", clocks);
    json_object_set_new(o, "about", text_or_null(f->about));
    json_object_set_new(o, "cure", text_or_null(f->cure));
    json_object_set_new(o, "source", text_or_null(f->source));
    return o;
}

static void list_faults(const struct library *lib, json_t *rows)
{
    for (size_t i = 0; i < library_faults(lib); i++)
        json_array_append_new(rows, fault_row(lib, library_fault(lib, i)));
}

static bool list_voices(json_t *rows, struct err *e)
{
    struct voice_set set = {0};
    if (!voices_load(&set, e))
        return false;
    for (size_t i = 0; i < set.count; i++)
        json_array_append_new(rows, json_pack("{s:s, s:s, s:s}", "id", set.at[i].id, "name",
                                              set.at[i].name, "source",
                                              set.at[i].source ? set.at[i].source : ""));
    voice_set_release(&set);
    return true;
}

static struct words *load_words(const struct library *lib, struct err *e)
{
    struct text path = {0};
    text_addf(&path, "%s/words.yaml", library_folder(lib));
    struct words *words = words_load(text_cstr(&path), e);
    text_release(&path);
    return words;
}

static bool list_sheet(const struct library *lib, json_t *rows, struct err *e)
{
    struct words *words = load_words(lib, e);
    if (words)
        sheet_list(words, rows);
    words_free(words);
    return words != NULL;
}

static bool list_words(const struct library *lib, json_t *rows, struct err *e)
{
    struct words *words = load_words(lib, e);
    for (int k = 0; words && k < WORD_KINDS; k++)
        for (size_t i = 0; i < words_count(words, (enum word_kind)k); i++) {
            const struct word *w = words_at(words, (enum word_kind)k, i);
            json_t *o = json_pack("{s:s, s:s, s:f}", "id", w->id, "kind",
                                  word_kind_name((enum word_kind)k), "minutes", w->minutes);
            json_object_set_new(o, "ask", text_or_null(w->ask));
            json_object_set_new(o, "explain", text_or_null(w->explain));
            json_array_append_new(rows, o);
        }
    words_free(words);
    return words != NULL;
}

/* The columns shown as text, by list. */
static const struct list_kind {
    const char *name;
    const char *column[5];
} kinds[] = {
    {"clocks", {"id", "trains", "count", "power", "name"}},
    {"tunes", {"id", "bells", "changes", "notes", "name"}},
    {"faults", {"id", "part", "class", "name"}},
    {"voices", {"id", "name"}},
    {"words", {"id", "kind", "ask"}},
    {"sheet", {"id", "about"}},
};
#define KINDS (sizeof kinds / sizeof kinds[0])

static const char *cell(const json_t *row, const char *key, char number[24])
{
    const json_t *v = json_object_get(row, key);
    if (json_is_integer(v)) {
        snprintf(number, 24, "%d", (int)json_integer_value(v));
        return number;
    }
    return json_is_string(v) ? json_string_value(v) : "-";
}

static void print_rows(const struct list_kind *k, const json_t *rows)
{
    size_t width[5] = {0}, i;
    json_t *row;
    char number[24];
    json_array_foreach(rows, i, row) {
        for (size_t c = 0; c < 5 && k->column[c]; c++) {
            size_t n = strlen(cell(row, k->column[c], number));
            width[c] = n > width[c] ? n : width[c];
        }
    }
    json_array_foreach(rows, i, row) {
        for (size_t c = 0; c < 5 && k->column[c]; c++)
            printf("%-*s%s", c == 4 || !k->column[c + 1] ? 0 : (int)width[c],
                   cell(row, k->column[c], number), c == 4 || !k->column[c + 1] ? "\n" : "  ");
    }
}

static bool fill(const char *what, const struct library *lib, json_t *rows, struct err *e)
{
    if (!strcmp(what, "clocks"))
        list_clocks(lib, rows);
    else if (!strcmp(what, "tunes"))
        list_tunes(lib, rows);
    else if (!strcmp(what, "faults"))
        list_faults(lib, rows);
    else if (!strcmp(what, "voices"))
        return list_voices(rows, e);
    else if (!strcmp(what, "sheet"))
        return list_sheet(lib, rows, e);
    else
        return list_words(lib, rows, e);
    return true;
}

static void list(const char *what, bool as_json, struct err *e)
{
    const struct list_kind *kind = NULL;
    for (size_t i = 0; i < KINDS; i++)
        if (!strcmp(what, kinds[i].name))
            kind = &kinds[i];
    if (!kind) {
        err_add(e,
                "There is no list of \"%.40s\"; there are clocks, tunes, faults, voices, words and "
                "sheet.",
                what);
        return;
    }
    struct library *lib = library_load(NULL, e);
    json_t *rows = json_array();
    if (lib && fill(what, lib, rows, e)) {
        if (as_json) {
            json_dumpf(rows, stdout, JSON_COMPACT);
            putchar('\n');
        } else if (!strcmp(what, "sheet")) {
            sheet_list_print(rows);
        } else {
            print_rows(kind, rows);
        }
    }
    json_decref(rows);
    library_free(lib);
}

int verb_list(int argc, char **argv)
{
    bool as_json = false;
    const struct option options[] = {
        {"--json", OPTION_FLAG, &as_json, NULL, "an array of rows", 0, 0},
    };
    const struct usage u = {
        "letoff list clocks|tunes|faults|voices|words|sheet",
        "Shows what the program knows, a row each; sheet: every key of a call sheet with its\n"
        "meaning, forms and allowed values.",
        options,
        1,
        1,
        1};
    struct err e = {0};
    const char *what = NULL;
    size_t plains = 0;
    if (options_read(&u, argc, argv, &what, &plains, &e) == OPTIONS_OK)
        list(what, as_json, &e);
    return options_end(&e);
}
