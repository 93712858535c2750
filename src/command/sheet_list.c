#include "command/sheet_list.h"

#include <stdio.h>
#include <string.h>

#include "diagnose/sheet_keys.h"

/* ---- rows ---- */

static void add_value(json_t *values, const struct sheet_key *k, const char *value,
                      const char *about)
{
    struct text example = {0};
    sheet_key_example(k, value, &example);
    json_array_append_new(values, json_pack("{s:s, s:s, s:s}", "value", value, "about",
                                            about ? about : "", "example", text_cstr(&example)));
    text_release(&example);
}

static void add_word(json_t *values, const struct sheet_key *k, const char *word, const char *about,
                     bool list)
{
    struct text value = {0};
    sheet_key_value(word, &value);
    if (list) { /* one word of an order says nothing */
        struct text both = {0};
        text_addf(&both, "[%s, %s]", text_cstr(&value), strcmp(word, "gong") ? "gong" : "call");
        add_value(values, k, text_cstr(&both), about);
        text_release(&both);
    } else {
        add_value(values, k, text_cstr(&value), about);
    }
    text_release(&value);
}

static json_t *row_of(const struct sheet_key *k)
{
    char id[80];
    bool top = !strcmp(k->map, "sheet");
    snprintf(id, sizeof id, "%s%s%s", top ? "" : k->map, top ? "" : ".", k->key);
    return json_pack("{s:s, s:s, s:s, s:s}", "id", id, "map", k->map, "key", k->key, "about",
                     k->help.about);
}

static void add_kind(json_t *row, json_t *values, const struct sheet_key *k,
                     const struct words *words)
{
    enum word_kind kind = (enum word_kind)word_kind_of(k->help.kind);
    json_object_set_new(row, "kind", json_string(k->help.kind));
    for (size_t i = 0; i < words_count(words, kind); i++)
        add_word(values, k, words_at(words, kind, i)->id, words_at(words, kind, i)->ask, false);
}

static void add_key(json_t *rows, const struct sheet_key *k, const struct words *words)
{
    json_t *row = row_of(k), *values = json_array();
    for (const struct sheet_form *f = k->help.forms; f && f->form; f++)
        add_value(values, k, f->form, f->about);
    for (const struct yaml_word *w = k->help.words; w && w->name; w++)
        add_word(values, k, w->name, w->about, !strcmp(k->key, "order"));
    if (k->help.kind)
        add_kind(row, values, k, words);
    json_object_set_new(row, "values", values);
    json_array_append_new(rows, row);
}

/* A hint stands in a map of its own. */
static void add_hint(json_t *rows, const struct word *w)
{
    struct sheet_key k = {"sheet", "hints", {w->ask, .with = "seen: pendulum_on"}};
    json_t *row = row_of(&(struct sheet_key){"hints", w->id, {w->ask}}), *values = json_array();
    for (size_t i = 0; i < (w->values ? w->values : 1); i++) {
        struct text value = {0}, map = {0}, about = {0}, example = {0};
        if (w->values)
            sheet_key_value(w->value[i], &value);
        else
            text_addf(&value, "%ld", w->low + (w->high - w->low) / 2);
        if (w->values)
            text_add(&about, w->value_text[i]);
        else
            text_addf(&about, "a whole number, %ld to %ld%s", w->low, w->high,
                      w->high > 1000 ? "; \"~1920\" is about then, \"1920s\" the middle of them"
                                     : "");
        text_addf(&map, "{%s: %s}", w->id, text_cstr(&value));
        sheet_key_example(&k, text_cstr(&map), &example);
        json_array_append_new(values,
                              json_pack("{s:s, s:s, s:s}", "value", text_cstr(&value), "about",
                                        text_cstr(&about), "example", text_cstr(&example)));
        text_release(&value);
        text_release(&map);
        text_release(&about);
        text_release(&example);
    }
    json_object_set_new(row, "values", values);
    json_array_append_new(rows, row);
}

void sheet_list(const struct words *words, json_t *rows)
{
    for (size_t i = 0; i < sheet_keys(); i++) {
        struct sheet_key k = sheet_key_at(i);
        add_key(rows, &k, words);
    }
    for (size_t i = 0; i < words_count(words, WORD_HINT); i++)
        add_hint(rows, words_at(words, WORD_HINT, i));
}

/* ---- for people ---- */

#define LINE 100

static const struct chapter {
    const char *map, *text;
} chapters[] = {
    {"sheet",
     "A call sheet is a YAML file of these keys; all may be left out, but something must be told.\n"
     "Example:\n\n"
     "    hints: {winding_points: 2, power: weight}\n"
     "    history: [hands_turned_back]\n"
     "    heard:\n"
     "      - {at: \"3:00\", strike: 2}\n"
     "      - {at: every_half, strike: right}\n\n"
     "Of a fact that a row of heard tells and that is ticked off under seen as well, only the row "
     "is\n"
     "weighed; what was done may stand under history or since, and counts once there too.  Where "
     "there is a\n"
     "choice, say it in a row (it has a time), else in seen; a hint says how the clock is made.\n"},
    {"heard", "In a row of heard (and in result of tried):\n"},
    {"at", "In at, when it is a map:\n"},
    {"tried", "In a row of tried:\n"},
    {"since", "In since:\n"},
    {"hints", "In hints:\n"},
};

static const char *string_of(const json_t *row, const char *key)
{
    const char *s = json_string_value(json_object_get(row, key));
    return s ? s : "";
}

static void print_values(const json_t *values)
{
    size_t i;
    json_t *v;
    json_array_foreach(values, i, v)
    {
        const char *value = string_of(v, "value");
        printf("      %-28s  %s\n", value, string_of(v, "about"));
    }
}

/* Many words of a kind: their names only, some to a line. */
static void print_words(const json_t *row, const json_t *values)
{
    size_t i, column = LINE;
    json_t *v;
    printf("      words of kind %s (letoff list words asks for each in plain words):\n",
           string_of(row, "kind"));
    json_array_foreach(values, i, v)
    {
        const char *value = string_of(v, "value");
        if (strchr(value, '[') || strchr(value, '{'))
            continue;
        if (column + strlen(value) + 2 > LINE) {
            printf("%s       ", column < LINE ? "\n" : "");
            column = 7;
        }
        printf(" %s", value);
        column += strlen(value) + 1;
    }
    putchar('\n');
}

static void print_forms_before_words(const json_t *values)
{
    size_t i;
    json_t *v;
    json_array_foreach(values, i, v)
    {
        const char *value = string_of(v, "value");
        if (strchr(value, '[') || strchr(value, '{'))
            printf("      %-28s  %s\n", value, string_of(v, "about"));
    }
}

static void print_key(const json_t *row)
{
    const json_t *values = json_object_get(row, "values");
    printf("  %-14s  %s\n", string_of(row, "key"), string_of(row, "about"));
    if (!*string_of(row, "kind")) {
        print_values(values);
        return;
    }
    print_forms_before_words(values);
    print_words(row, values);
}

void sheet_list_print(const json_t *rows)
{
    for (size_t c = 0; c < sizeof chapters / sizeof *chapters; c++) {
        size_t i;
        json_t *row;
        printf("%s%s\n", c ? "\n" : "", chapters[c].text);
        json_array_foreach(rows, i, row) if (!strcmp(string_of(row, "map"), chapters[c].map))
            print_key(row);
    }
}
