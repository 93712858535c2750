/* Reading a call sheet from YAML: one table of keys per map, each key with its reader. */
#include "diagnose/sheet_priv.h"

#include <string.h>

#include "event.h"
#include "mem.h"

struct reading {
    struct sheet *sheet;
    const struct words *words;
    struct err *e;
};

/* A key of a map and what reads its value into the struct that is filled. */
struct field {
    const char *key;
    bool (*read)(struct reading *r, const struct yaml_node *n, const char *key, void *into);
    struct sheet_help help; /* what letoff list sheet says of it */
};

#define FIELDS_MOST 40

static bool unknown_key(struct reading *r, const struct yaml_node *map, size_t i, const char *what,
                        const struct field *fields, size_t count)
{
    const char *keys[FIELDS_MOST];
    for (size_t k = 0; k < count; k++)
        keys[k] = fields[k].key;
    const char *key = yaml_key_text(map, i), *near = text_nearest(key, keys, count);
    yaml_complain(yaml_key_node(map, i), r->e, "unknown key %s in %s%s%s%s", sheet_shown(key).at,
                  what, near ? "; did you mean " : "", near ? near : "", near ? "?" : "");
    return false;
}

static bool read_fields(struct reading *r, const struct yaml_node *map, const char *what,
                        const struct field *fields, size_t count, void *into)
{
    bool good = true, met[FIELDS_MOST] = {false};
    if (yaml_shape_of(map) != YAML_MAP) {
        yaml_complain(map, r->e, "%s is no map of keys and values", what);
        return false;
    }
    for (size_t i = 0; i < yaml_count(map); i++) {
        const char *key = yaml_key_text(map, i);
        size_t k = 0;
        while (k < count && strcmp(fields[k].key, key))
            k++;
        if (k == count) {
            good = unknown_key(r, map, i, what, fields, count);
        } else if (met[k]) {
            good = false; /* the tree has told of it */
        } else {
            met[k] = true;
            good = fields[k].read(r, yaml_item(map, i), key, into) && good;
        }
    }
    return good;
}

/* The scalar's text; a sentence and NULL for other shapes. */
static const char *scalar(struct reading *r, const struct yaml_node *n, const char *key,
                          const char *expected)
{
    const char *text = yaml_text(n);
    if (!text)
        yaml_complain(n, r->e, "%s is a %s; expected %s", key,
                      yaml_shape_of(n) == YAML_LIST ? "list" : "map", expected);
    return text;
}

static bool refuse(struct reading *r, const struct yaml_node *n, const char *key,
                   const char *expected)
{
    const char *text = yaml_text(n);
    if (text)
        yaml_complain(n, r->e, "%s: \"%s\" is no such value; expected %s", key,
                      sheet_shown(text).at, expected);
    else
        yaml_complain(n, r->e, "%s is a %s; expected %s", key,
                      yaml_shape_of(n) == YAML_LIST ? "list" : "map", expected);
    return false;
}

/* Items of a list, or the one scalar itself. */
static size_t items(const struct yaml_node *n)
{
    return yaml_shape_of(n) == YAML_LIST ? yaml_count(n) : 1;
}

static const struct yaml_node *item(const struct yaml_node *n, size_t i)
{
    return yaml_shape_of(n) == YAML_LIST ? yaml_item(n, i) : n;
}

/* ---- words ---- */

static int read_word(struct reading *r, const struct yaml_node *n, const char *key,
                     enum word_kind kind, const char *id)
{
    int ordinal = words_ordinal(r->words, kind, id);
    if (ordinal >= 0)
        return ordinal;
    const char *near = words_nearest(r->words, kind, id);
    yaml_complain(n, r->e, "%s: \"%s\" is no %s word%s%s%s", key, sheet_shown(id).at,
                  word_kind_name(kind), near ? "; did you mean " : "; see letoff list words",
                  near ? near : "", near ? "?" : "");
    return -1;
}

static bool read_one_word(struct reading *r, const struct yaml_node *n, const char *key,
                          enum word_kind kind, int *ordinal)
{
    const char *id = scalar(r, n, key, "one word");
    int found = id ? read_word(r, n, key, kind, id) : -1;
    if (found >= 0)
        *ordinal = found;
    return found >= 0;
}

/* Words into `set`; where that may be, those with "not" before them into `denials`, those with
 * "asked" into `asked` as well. */
static bool read_said_set(struct reading *r, const struct yaml_node *n, const char *key,
                          enum word_kind kind, struct word_set *set, struct word_set *denials,
                          struct word_set *asked)
{
    bool good = true;
    for (size_t i = 0; i < items(n); i++) {
        const struct yaml_node *at = item(n, i);
        const char *id = scalar(r, at, key, "a word or a list of words");
        bool denied = id && denials && !strncmp(id, "not ", 4);
        bool was_asked = id && asked && !strncmp(id, "asked ", 6);
        int ordinal = id ? read_word(r, at, key, kind, id + 4 * denied + 6 * was_asked) : -1;
        struct word_set *to = denied ? denials : set;
        bool twice = word_set_has(set, ordinal) || (denials && word_set_has(denials, ordinal));
        if (twice)
            yaml_complain(at, r->e, "%s: \"%s\" is said twice", key, sheet_shown(id).at);
        else
            word_set_add(to, ordinal);
        if (was_asked && !twice)
            word_set_add(asked, ordinal);
        good = good && ordinal >= 0 && !twice;
    }
    return good;
}

static bool read_word_set(struct reading *r, const struct yaml_node *n, const char *key,
                          enum word_kind kind, struct word_set *set)
{
    return read_said_set(r, n, key, kind, set, NULL, NULL);
}

/* ---- times ---- */

#define AT_EXPECTED                                                                                \
    "a time like \"3:00\", \"~3:00\" or \"*:28\", every_hour, every_half, every_quarter, "         \
    "every_other_hour, any, an_hour, a_half, a_quarter, unknown, {after:, before:}, "              \
    "{from:, to:, every:} or, in a row of heard, a list of these"

struct at_map {
    struct sheet_at after, before, from, to;
    bool has_after, has_before, has_from, has_to;
    int every;
};

static bool read_point(struct reading *r, const struct yaml_node *n, const char *key,
                       struct sheet_at *at, bool *has)
{
    const char *text = yaml_text(n);
    *has = text && at_read(text, at) && (at->kind == AT_EXACT || at->kind == AT_MINUTE);
    return *has || refuse(r, n, key, "a time like \"3:00\" or \"*:10\"");
}

static bool read_after(struct reading *r, const struct yaml_node *n, const char *key, void *into)
{
    struct at_map *m = into;
    return read_point(r, n, key, &m->after, &m->has_after);
}

static bool read_before(struct reading *r, const struct yaml_node *n, const char *key, void *into)
{
    struct at_map *m = into;
    return read_point(r, n, key, &m->before, &m->has_before);
}

static bool read_from(struct reading *r, const struct yaml_node *n, const char *key, void *into)
{
    struct at_map *m = into;
    return read_point(r, n, key, &m->from, &m->has_from);
}

static bool read_to(struct reading *r, const struct yaml_node *n, const char *key, void *into)
{
    struct at_map *m = into;
    return read_point(r, n, key, &m->to, &m->has_to);
}

static bool read_every(struct reading *r, const struct yaml_node *n, const char *key, void *into)
{
    struct at_map *m = into;
    return yaml_one_of(n, key, sheet_rule_words, &m->every, r->e);
}

/* clang-format off */
static const struct field at_fields[] = {
    {"after", read_after, {"begin of a window: once, not before this", sheet_forms_point, .with = "before: \"8:50\""}},
    {"before", read_before, {"end of the window", sheet_forms_point, .with = "after: \"7:50\""}},
    {"from", read_from, {"first let-off of a rule over part of the dial", sheet_forms_dial, .with = "to: \"11:00\""}},
    {"to", read_to, {"last let-off of that rule", sheet_forms_dial, .with = "from: \"3:00\""}},
    {"every", read_every, {"which let-offs of that part (hour when nothing is said)", NULL, sheet_rule_words,
                           .with = "from: \"3:00\", to: \"11:00\""}},
};
/* clang-format on */

static void set_span(struct sheet_at *at, const struct sheet_at *from, const struct sheet_at *to)
{
    at->min = from->min;
    at->end_min = to->min;
    at->known24 = from->known24 && to->known24;
    at->any_hour = from->kind == AT_MINUTE;
    at->about = from->about || to->about;
    if (!at->known24 && !at->any_hour) {
        at->min %= 720;
        at->end_min %= 720;
    }
}

static bool read_at_map(struct reading *r, const struct yaml_node *n, struct sheet_at *at)
{
    struct at_map m = {.every = -1};
    if (!read_fields(r, n, "at", at_fields, sizeof at_fields / sizeof *at_fields, &m))
        return false;
    bool window = m.has_after && m.has_before && !m.has_from && !m.has_to && m.every < 0;
    bool part = m.has_from && m.has_to && !m.has_after && !m.has_before;
    struct sheet_at new = {0};
    if (window && m.after.kind == m.before.kind) {
        new.kind = AT_WINDOW;
        set_span(&new, &m.after, &m.before);
    } else if (part && m.from.kind == AT_EXACT && m.to.kind == AT_EXACT) {
        new.kind = AT_RULE;
        new.rule = m.every < 0 ? RULE_HOUR : (enum at_rule)m.every;
        new.part = true;
        set_span(&new, &m.from, &m.to);
    } else {
        yaml_complain(n, r->e,
                      "at is neither {after:, before:} with two times of one kind nor {from:, to:, "
                      "every:} with two times of the dial");
        return false;
    }
    *at = new;
    return true;
}

static bool read_at(struct reading *r, const struct yaml_node *n, const char *key,
                    struct sheet_at *at)
{
    if (yaml_shape_of(n) == YAML_MAP)
        return read_at_map(r, n, at);
    const char *text = yaml_text(n);
    return (text && at_read(text, at)) || refuse(r, n, key, AT_EXPECTED);
}

/* ---- rows ---- */

struct row_reading {
    struct heard *h;
    const struct yaml_node *pm;
    const struct yaml_node *at; /* the list of times, all but the first still to be read */
    bool is_pm, struck, many;   /* many: a list of times may stand there */
};
#define HEARD(into) (((struct row_reading *)(into))->h)

static bool row_at(struct reading *r, const struct yaml_node *n, const char *key, void *into)
{
    struct row_reading *row = into;
    bool list = yaml_shape_of(n) == YAML_LIST && row->many && yaml_count(n);
    row->at = list ? n : NULL;
    return read_at(r, list ? yaml_item(n, 0) : n, key, &row->h->at);
}

static bool row_for(struct reading *r, const struct yaml_node *n, const char *key, void *into)
{
    struct heard *h = HEARD(into);
    const char *text = yaml_text(n);
    h->has_for = text && at_read_due(text, &h->due);
    return h->has_for ||
           refuse(r, n, key, "the let-off meant: \"5:00\", \"*:30\", hour, half, quarter or any");
}

static bool row_except(struct reading *r, const struct yaml_node *n, const char *key, void *into)
{
    struct heard *h = HEARD(into);
    if (items(n) > SHEET_EXCEPT) {
        yaml_complain(n, r->e, "%s has %zu items; at most %d are taken", key, items(n),
                      SHEET_EXCEPT);
        return false;
    }
    for (size_t i = 0; i < items(n); i++) {
        const char *text = yaml_text(item(n, i));
        if (!text || !at_read_due(text, &h->except[h->excepts]))
            return refuse(r, item(n, i), key,
                          "hour, half, quarter, \"5:00\", \"*:30\" or a list of these");
        h->excepts++;
    }
    return true;
}

/* One count: a number in low..high, or where `words` allows them a word that stands for one. */
static bool read_count(struct reading *r, const struct yaml_node *n, const char *key, int low,
                       int high, bool words, int *count)
{
    const char *text = yaml_text(n);
    long number;
    int word = words && text ? sheet_value(sheet_strike_words, text) : -1;
    if (word == HEARD_STRIKE_NONE)
        *count = 0;
    else if (word == HEARD_STRIKE_RUNS_ON)
        *count = HEARD_ENDLESS;
    else if (word > 0 && word != HEARD_STRIKE_UNNOTICED)
        *count = HEARD_AS(word);
    else if (text && text_int(*text == '+' ? text + 1 : text, &number) && number >= low &&
             number <= high && strncmp(text, "+-", 2))
        *count = (int)number;
    else {
        char expected[100];
        snprintf(expected, sizeof expected, "a whole number from %d to %d%s", low, high,
                 words ? ", none, runs_on, right, wrong, some or hour_count" : "");
        return refuse(r, n, key, expected);
    }
    return true;
}

static bool add_count(struct reading *r, const struct yaml_node *n, const char *key, bool error,
                      struct heard *h)
{
    if (h->values == SHEET_VALUES) {
        yaml_complain(n, r->e, "%s holds more than %d counts", key, SHEET_VALUES);
        return false;
    }
    if (!read_count(r, n, key, error ? -SHEET_COUNT_MOST : 0, SHEET_COUNT_MOST, !error,
                    &h->value[h->values]))
        return false;
    h->values++;
    return true;
}

void sheet_settle_counts(struct heard *h, bool error)
{
    bool one = h->values == 1;
    h->strike = error                          ? one ? HEARD_STRIKE_ERROR : HEARD_STRIKE_ERROR_SET
                : !one                         ? HEARD_STRIKE_SET
                : !h->value[0]                 ? HEARD_STRIKE_NONE
                : h->value[0] == HEARD_ENDLESS ? HEARD_STRIKE_RUNS_ON
                : h->value[0] < 0              ? (enum heard_strike) - h->value[0]
                                               : HEARD_STRIKE_COUNT;
    if (one && !error && h->strike != HEARD_STRIKE_COUNT)
        h->values = 0;
}

/* [1, 2] or {mostly: 1, sometimes: [2, 3]} */
static bool read_counts(struct reading *r, const struct yaml_node *n, const char *key, bool error,
                        struct heard *h)
{
    const struct yaml_node *list = n;
    h->values = 0;
    if (yaml_shape_of(n) == YAML_MAP) {
        const struct yaml_node *mostly = yaml_get(n, "mostly");
        list = yaml_get(n, "sometimes");
        if (!mostly || !list || yaml_count(n) != 2) {
            yaml_complain(n, r->e, "%s is a map; expected {mostly: COUNT, sometimes: [COUNTS]}",
                          key);
            return false;
        }
        h->mostly = true;
        if (!add_count(r, mostly, key, error, h))
            return false;
    }
    if (!items(list)) {
        yaml_complain(list, r->e, "%s is an empty list; expected at least one count", key);
        return false;
    }
    for (size_t i = 0; i < items(list); i++)
        if (!add_count(r, item(list, i), key, error, h))
            return false;
    sheet_settle_counts(h, error);
    return true;
}

/* "5 or 6": either, as a list of both; false, and nothing is changed, when it is not just that. */
static bool read_either(const char *text, struct heard *h)
{
    struct heard either = *h;
    either.values = 0;
    for (const char *part = text, *end; part; part = end ? end + 4 : NULL) {
        char one[8];
        long number;
        end = strstr(part, " or ");
        size_t length = end ? (size_t)(end - part) : strlen(part);
        if (length >= sizeof one || either.values == SHEET_VALUES)
            return false;
        memcpy(one, part, length);
        one[length] = '\0';
        if (!text_int(one, &number) || number < 0 || number > SHEET_COUNT_MOST)
            return false;
        either.value[either.values++] = (int)number;
    }
    if (either.values < 2)
        return false;
    sheet_settle_counts(&either, false);
    *h = either;
    return true;
}

static bool once_struck(struct reading *r, const struct yaml_node *n, void *into)
{
    struct row_reading *row = into;
    bool twice = row->struck;
    row->struck = true;
    if (twice)
        yaml_complain(n, r->e, "strike and strike_error stand in one row; expected one of them");
    return !twice;
}

static bool row_strike(struct reading *r, const struct yaml_node *n, const char *key, void *into)
{
    struct heard *h = HEARD(into);
    if (!once_struck(r, n, into))
        return false;
    if (yaml_shape_of(n) != YAML_SCALAR)
        return read_counts(r, n, key, false, h);
    int word = sheet_value(sheet_strike_words, yaml_text(n));
    long number;
    if (word >= 0) {
        h->strike = (enum heard_strike)word;
    } else if (text_int(yaml_text(n), &number) && number >= 0 && number <= SHEET_COUNT_MOST) {
        h->strike = number ? HEARD_STRIKE_COUNT : HEARD_STRIKE_NONE;
        h->value[0] = (int)number;
        h->values = number > 0;
    } else if (!read_either(yaml_text(n), h)) {
        return refuse(r, n, key,
                      "a count from 0 to 24, none, runs_on, unnoticed, right, wrong, some, "
                      "hour_count, \"5 or 6\", a list of counts or {mostly:, sometimes:}");
    }
    return true;
}

static bool row_strike_error(struct reading *r, const struct yaml_node *n, const char *key,
                             void *into)
{
    struct heard *h = HEARD(into);
    if (!once_struck(r, n, into))
        return false;
    if (yaml_shape_of(n) != YAML_SCALAR)
        return read_counts(r, n, key, true, h);
    if (sheet_value(sheet_error_words, yaml_text(n)) >= 0) {
        h->strike = HEARD_STRIKE_SAME_ERROR;
        return true;
    }
    long number;
    if (!text_int(yaml_text(n), &number))
        return refuse(r, n, key,
                      "a whole number from -24 to 24, constant, a list of numbers or {mostly:, sometimes:}");
    h->strike = HEARD_STRIKE_ERROR;
    h->values = 0;
    return add_count(r, n, key, true, h);
}

static bool row_notes(struct reading *r, const struct yaml_node *n, const char *key, void *into)
{
    const char *text = yaml_text(n);
    if (text && notes_read(text, HEARD(into)->notes))
        return true;
    HEARD(into)->notes[0] = 0;
    return refuse(r, n, key, "1 to 96 notes out of 1..9, a..g, . and ?, in quotes");
}

static bool row_phrases(struct reading *r, const struct yaml_node *n, const char *key, void *into)
{
    return read_count(r, n, key, 0, SHEET_COUNT_MOST, false, &HEARD(into)->phrases);
}

static bool row_quarter(struct reading *r, const struct yaml_node *n, const char *key, void *into)
{
    struct heard *h = HEARD(into);
    const char *text = yaml_text(n);
    long number;
    if (text && !strcmp(text, "next"))
        h->quarter_shift = 1;
    else if (text && !strcmp(text, "previous"))
        h->quarter_shift = -1;
    else if (text && text_int(text, &number) && number >= 1 && number <= 4)
        h->quarter = (int)number;
    else
        return refuse(r, n, key, "1, 2, 3, 4, next or previous");
    return true;
}

/* One of several; "unnoticed" says nothing, so it is none of them. */
static bool add_chime(struct reading *r, const struct yaml_node *n, const char *key,
                      struct heard *h)
{
    int value = 0;
    if (!yaml_one_of(n, key, sheet_chime_words, &value, r->e))
        return false;
    if (value == HEARD_CHIME_UNNOTICED)
        return refuse(r, n, key, "none, right, wrong, some or runs_on beside others");
    if (!h->chime)
        h->chime = (enum heard_chime)value;
    else
        h->chime_also |= 1u << value;
    return true;
}

/* [none, wrong] or {mostly: right, sometimes: none} */
static bool read_chimes(struct reading *r, const struct yaml_node *n, const char *key,
                        struct heard *h)
{
    const struct yaml_node *list = n;
    if (yaml_shape_of(n) == YAML_MAP) {
        const struct yaml_node *mostly = yaml_get(n, "mostly");
        list = yaml_get(n, "sometimes");
        if (!mostly || !list || yaml_count(n) != 2)
            return refuse(r, n, key, "a word, a list of words or {mostly: WORD, sometimes: WORDS}");
        h->chime_mostly = true;
        if (!add_chime(r, mostly, key, h))
            return false;
    }
    if (!items(list))
        return refuse(r, list, key, "at least one word in it");
    for (size_t i = 0; i < items(list); i++)
        if (!add_chime(r, item(list, i), key, h))
            return false;
    sheet_settle_chimes(h);
    return true;
}

static bool row_chime(struct reading *r, const struct yaml_node *n, const char *key, void *into)
{
    int value = 0;
    if (yaml_shape_of(n) != YAML_SCALAR)
        return read_chimes(r, n, key, HEARD(into));
    bool good = yaml_one_of(n, key, sheet_chime_words, &value, r->e);
    HEARD(into)->chime = (enum heard_chime)value;
    return good;
}

static bool row_hammers(struct reading *r, const struct yaml_node *n, const char *key, void *into)
{
    int value = 0;
    bool good = yaml_one_of(n, key, sheet_hammers_words, &value, r->e);
    HEARD(into)->hammers = (enum heard_hammers)value;
    return good;
}

static bool row_how(struct reading *r, const struct yaml_node *n, const char *key, void *into)
{
    return read_word_set(r, n, key, WORD_HOW, &HEARD(into)->how);
}

static bool row_often(struct reading *r, const struct yaml_node *n, const char *key, void *into)
{
    int value = 0;
    bool good = yaml_one_of(n, key, sheet_often_words, &value, r->e);
    HEARD(into)->often = (enum heard_often)value;
    return good;
}

static bool row_stopped(struct reading *r, const struct yaml_node *n, const char *key, void *into)
{
    struct heard *h = HEARD(into);
    if (!items(n))
        return refuse(r, n, key, "at least one word in it");
    for (size_t i = 0; i < items(n); i++) {
        int value = 0;
        if (!yaml_one_of(item(n, i), key, sheet_stopped_words, &value, r->e))
            return false;
        if (!h->stopped)
            h->stopped = (enum heard_stopped)value;
        else if (value != (int)h->stopped)
            h->stopped_also |= 1u << value;
    }
    return true;
}

static bool row_freed_by(struct reading *r, const struct yaml_node *n, const char *key, void *into)
{
    return read_one_word(r, n, key, WORD_FREED_BY, &HEARD(into)->freed_by);
}

static bool row_train(struct reading *r, const struct yaml_node *n, const char *key, void *into)
{
    return yaml_one_of(n, key, sheet_train_words, &HEARD(into)->train, r->e);
}

static bool row_order(struct reading *r, const struct yaml_node *n, const char *key, void *into)
{
    struct heard *h = HEARD(into);
    if (items(n) > SHEET_ORDER || items(n) < 2)
        return refuse(r, n, key, "a list of two to six of gong, call, bell, music, chime, strike");
    for (size_t i = 0; i < items(n); i++) {
        int value;
        if (!yaml_one_of(item(n, i), key, sheet_order_words, &value, r->e))
            return false;
        h->order[h->orders++] = (enum heard_order)value;
    }
    return true;
}

static bool row_interval(struct reading *r, const struct yaml_node *n, const char *key, void *into)
{
    return yaml_real(n, key, 0.01, 600, &HEARD(into)->interval_s, r->e);
}

static bool row_pause(struct reading *r, const struct yaml_node *n, const char *key, void *into)
{
    return yaml_real(n, key, 0.01, 3600, &HEARD(into)->pause_s, r->e);
}

static bool row_intervals(struct reading *r, const struct yaml_node *n, const char *key, void *into)
{
    struct heard *h = HEARD(into);
    if (items(n) > SHEET_INTERVALS || !items(n)) {
        yaml_complain(n, r->e, "%s has %zu items; expected 1 to %d", key, items(n),
                      SHEET_INTERVALS);
        return false;
    }
    for (size_t i = 0; i < items(n); i++) {
        if (!yaml_real(item(n, i), key, 0.01, 600, &h->intervals_s[i], r->e))
            return false;
        h->intervals = i + 1;
    }
    return true;
}

static bool row_date(struct reading *r, const struct yaml_node *n, const char *key, void *into)
{
    struct heard *h = HEARD(into);
    const char *text = yaml_text(n);
    return (text && date_read(text, &h->year, &h->month, &h->day)) ||
           refuse(r, n, key, "a day of the calendar like \"2026-10-25\"");
}

static bool row_pm(struct reading *r, const struct yaml_node *n, const char *key, void *into)
{
    struct row_reading *row = into;
    row->pm = n;
    return yaml_bool(n, key, &row->is_pm, r->e);
}

/* A copy of the text; false with a sentence if it is none or too long. */
static bool read_text(struct reading *r, const struct yaml_node *n, const char *key, char **into)
{
    const char *text = scalar(r, n, key, "a text");
    if (text && strlen(text) > SHEET_TEXT) {
        yaml_complain(n, r->e, "%s is %zu bytes long; at most %d are taken", key, strlen(text),
                      SHEET_TEXT);
        text = NULL;
    }
    if (text)
        *into = mem_copy_text(text);
    return text;
}

static bool row_said(struct reading *r, const struct yaml_node *n, const char *key, void *into)
{
    return read_text(r, n, key, &HEARD(into)->said);
}

#define AN_HOUR .with = "at: \"3:00\""
#define COUNTED .with = "strike: 3"
/* clang-format off */
static const struct field row_fields[] = {
    {"at", row_at, {"when it was heard", sheet_forms_at, sheet_at_words, COUNTED}},
    {"for", row_for, {"the let-off it belongs to when it came late or early", sheet_forms_for, sheet_rule_words,
                      .with = "at: \"5:07\", strike: 5"}},
    {"except", row_except, {"what a rule leaves out: one or a list", sheet_forms_except, sheet_rule_words,
                            .with = "at: every_quarter, strike: right"}},
    {"strike", row_strike, {"what the strike did: its blows, not those of the quarters", sheet_forms_strike,
                            sheet_strike_words, AN_HOUR}},
    {"strike_error", row_strike_error, {"instead of strike: blows heard less blows due", sheet_forms_strike_error, sheet_error_words,
                                        .with = "at: every_hour"}},
    {"notes", row_notes, {"the notes of the chime, by bell", sheet_forms_notes, AN_HOUR}},
    {"phrases", row_phrases, {"how many phrases of the chime came (of a ting-tang: pairs)", sheet_forms_phrases, AN_HOUR}},
    {"quarter", row_quarter, {"the tune of which quarter it was", sheet_forms_quarter, AN_HOUR}},
    {"chime", row_chime, {"what the chime did at the quarters and before the hour", sheet_forms_chime, sheet_chime_words, AN_HOUR}},
    {"hammers", row_hammers, {"which hammers were heard (or moved)", NULL, sheet_hammers_words, AN_HOUR}},
    {"how", row_how, {"how it went or sounded", sheet_forms_how, .kind = "how", AN_HOUR}},
    {"often", row_often, {"how often the row holds", NULL, sheet_often_words, .with = "at: every_hour, strike: 1"}},
    {"stopped", row_stopped, {"what came to a stand there", sheet_forms_stopped, sheet_stopped_words, .with = "at: \"*:28\""}},
    {"freed_by", row_freed_by, {"what set it going again; beside stopped", .kind = "freed_by",
                                .with = "at: \"*:28\", stopped: hands"}},
    {"train", row_train, {"which train is meant, when that is not plain", NULL, sheet_train_words,
                          .with = "at: \"3:00\", how: slow"}},
    {"order", row_order, {"in which order things sounded", sheet_forms_order, sheet_order_words, AN_HOUR}},
    {"interval_s", row_interval, {"seconds from blow to blow (0.01 to 600)", sheet_forms_seconds, AN_HOUR}},
    {"intervals_s", row_intervals, {"the same, each by itself", sheet_forms_intervals, AN_HOUR}},
    {"pause_s", row_pause, {"seconds between chime and hour; not measured: how: long_pause", sheet_forms_seconds, AN_HOUR}},
    {"date", row_date, {"the day; needed only for a silence by night and the like", sheet_forms_date,
                        .with = "at: \"3:00\", strike: 3"}},
    {"pm", row_pm, {"which half of the day, beside a time of the dial", sheet_forms_pm,
                    .with = "at: \"3:00\", strike: 3"}},
    {"said", row_said, {"the caller's own words of this row; kept, not read", sheet_forms_text,
                        .with = "at: \"3:00\", strike: 3"}},
};
/* clang-format on */

/* Say which half of the day a time of the dial is in. */
static bool settle_pm(struct reading *r, struct row_reading *row)
{
    struct sheet_at *at = &row->h->at;
    if (!row->pm)
        return true;
    if (at->kind != AT_EXACT || (at->known24 && (at->min >= 720) != row->is_pm)) {
        yaml_complain(row->pm, r->e, "pm does not fit at; expected it beside a time like \"3:00\"");
        return false;
    }
    at->min = at->min % 720 + 720 * row->is_pm;
    at->known24 = true;
    return true;
}

static bool check_row(struct reading *r, const struct yaml_node *n, const struct heard *h)
{
    if (!heard_tells(h))
        yaml_complain(n, r->e,
                      "this row tells nothing that was heard; expected strike, chime, "
                      "notes, how, stopped or another key of the kind");
    else if (h->freed_by >= 0 && !h->stopped)
        yaml_complain(n, r->e, "freed_by stands without stopped; expected both");
    else if (h->excepts && h->at.kind != AT_RULE)
        yaml_complain(n, r->e, "except stands without a rule; expected at: every_hour or the like");
    else
        return true;
    return false;
}

static bool read_row(struct reading *r, const struct yaml_node *n, const char *what,
                     struct row_reading *row)
{
    row->h->line = yaml_line(n);
    return read_fields(r, n, what, row_fields, sizeof row_fields / sizeof *row_fields, row) &&
           settle_pm(r, row) && check_row(r, n, row->h);
}

static bool too_many_rows(struct reading *r, const struct yaml_node *list)
{
    yaml_complain(list, r->e, "heard has more than %d rows; at most %d are taken", SHEET_ROWS,
                  SHEET_ROWS);
    return false;
}

/* The row just read is said of the other times of its list as well. */
static bool repeat_row(struct reading *r, const struct yaml_node *n, struct row_reading row)
{
    struct sheet *s = r->sheet;
    for (size_t i = 1; row.at && i < yaml_count(row.at); i++) {
        struct heard *h = sheet_add_heard(s);
        if (!h)
            return too_many_rows(r, n);
        *h = s->heard[s->heards - 2];
        h->said = h->said ? mem_copy_text(h->said) : NULL;
        row.h = h;
        if (!read_at(r, yaml_item(row.at, i), "at", &h->at) || !settle_pm(r, &row) ||
            !check_row(r, n, h))
            return false;
    }
    return true;
}

static bool read_heard(struct reading *r, const struct yaml_node *n)
{
    struct row_reading row = {.h = sheet_add_heard(r->sheet), .many = true};
    return row.h ? read_row(r, n, "heard", &row) && repeat_row(r, n, row) : too_many_rows(r, n);
}

/* ---- tried ---- */

static bool tried_do(struct reading *r, const struct yaml_node *n, const char *key, void *into)
{
    return read_one_word(r, n, key, WORD_DO, &((struct tried *)into)->action);
}

static bool tried_train(struct reading *r, const struct yaml_node *n, const char *key, void *into)
{
    return yaml_one_of(n, key, sheet_train_words, &((struct tried *)into)->train, r->e);
}

static bool tried_at(struct reading *r, const struct yaml_node *n, const char *key, void *into)
{
    struct tried *t = into;
    t->has_at = read_at(r, n, key, &t->at);
    return t->has_at;
}

static bool tried_result(struct reading *r, const struct yaml_node *n, const char *key, void *into)
{
    struct tried *t = into;
    if (yaml_shape_of(n) != YAML_MAP)
        return read_one_word(r, n, key, WORD_RESULT, &t->result);
    struct row_reading row = {.h = &t->row};
    t->has_row = true;
    return read_row(r, n, "result", &row);
}

/* clang-format off */
static const struct field tried_fields[] = {
    {"do", tried_do, {"what was done", .kind = "do"}},
    {"train", tried_train, {"to which train", NULL, sheet_train_words, .with = "do: pull_weight"}},
    {"at", tried_at, {"where the hands stood", sheet_forms_stood, sheet_at_words, .with = "do: trip_by_hand"}},
    {"result", tried_result, {"what came of it", sheet_forms_result, .kind = "result", .with = "do: trip_by_hand"}},
};
/* clang-format on */

static bool read_tried(struct reading *r, const struct yaml_node *n, struct tried *t)
{
    t->line = yaml_line(n);
    if (!read_fields(r, n, "tried", tried_fields, sizeof tried_fields / sizeof *tried_fields, t))
        return false;
    if (t->action >= 0)
        return true;
    yaml_complain(n, r->e, "this row of tried has no do; expected what was done");
    return false;
}

/* ---- since ---- */

static bool since_when(struct reading *r, const struct yaml_node *n, const char *key, void *into)
{
    return read_one_word(r, n, key, WORD_WHEN, &((struct sheet *)into)->since_when);
}

static bool since_after(struct reading *r, const struct yaml_node *n, const char *key, void *into)
{
    return read_word_set(r, n, key, WORD_AFTER, &((struct sheet *)into)->since_after);
}

static const struct field since_fields[] = {
    {"when", since_when, {"how it began", .kind = "when"}},
    {"after", since_after, {"after what", sheet_forms_after, .kind = "after"}},
};

/* ---- the sheet ---- */

static bool top_clock(struct reading *r, const struct yaml_node *n, const char *key, void *into)
{
    struct sheet *s = into;
    const char *text = yaml_text(n);
    if (!text || !*text || strlen(text) >= sizeof s->clock ||
        strspn(text, "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-_") !=
            strlen(text))
        return refuse(r, n, key, "the id of a clock: letters, digits, - and _, at most 63");
    strcpy(s->clock, text);
    s->clock_line = yaml_line(n);
    s->clock_column = yaml_column(n);
    return true;
}

static bool bad_hint(struct reading *r, const struct yaml_node *n, const struct word *w)
{
    char expected[600] = "";
    if (w->values)
        for (size_t i = 0; i < w->values; i++)
            snprintf(expected + strlen(expected), sizeof expected - strlen(expected), "%s%s",
                     i ? i + 1 == w->values ? " or " : ", " : "", w->value[i]);
    else
        snprintf(expected, sizeof expected, "a whole number from %ld to %ld%s", w->low, w->high,
                 w->high > 1000 ? ", \"~1920\" or \"1920s\"" : " (\"~3\" for about)");
    const char *near = yaml_text(n) ? text_nearest(yaml_text(n), w->value, w->values) : NULL;
    if (near)
        snprintf(expected + strlen(expected), sizeof expected - strlen(expected),
                 "; did you mean %s?", near);
    return refuse(r, n, w->id, expected);
}

static bool read_hint(struct reading *r, const struct yaml_node *map, size_t i)
{
    const struct yaml_node *n = yaml_item(map, i);
    const char *key = yaml_key_text(map, i);
    int ordinal = read_word(r, yaml_key_node(map, i), "hints", WORD_HINT, key);
    if (ordinal < 0 || ordinal >= SHEET_HINTS)
        return false;
    if (r->sheet->hint[ordinal] != HINT_UNSAID) /* the tree has told of it */
        return false;
    const char *text = yaml_text(n);
    if (text && sheet_set_hint(r->sheet, key, text))
        return true;
    return bad_hint(r, n, words_at(r->words, WORD_HINT, (size_t)ordinal));
}

static bool top_hints(struct reading *r, const struct yaml_node *n, const char *key, void *into)
{
    (void)into;
    bool good = true;
    if (yaml_shape_of(n) != YAML_MAP)
        return refuse(r, n, key, "a map like {winding_points: 3, power: weight}");
    for (size_t i = 0; i < yaml_count(n); i++)
        good = read_hint(r, n, i) && good;
    return good;
}

static bool top_history(struct reading *r, const struct yaml_node *n, const char *key, void *into)
{
    struct sheet *s = into;
    return read_said_set(r, n, key, WORD_HISTORY, &s->history, &s->history_not, &s->history_asked);
}

static bool top_seen(struct reading *r, const struct yaml_node *n, const char *key, void *into)
{
    struct sheet *s = into;
    return read_said_set(r, n, key, WORD_SEEN, &s->seen, &s->seen_not, &s->seen_asked);
}

static bool top_oil(struct reading *r, const struct yaml_node *n, const char *key, void *into)
{
    return yaml_real(n, key, 0, 500, &((struct sheet *)into)->years_since_oil, r->e);
}

static bool top_hands(struct reading *r, const struct yaml_node *n, const char *key, void *into)
{
    const char *text = yaml_text(n);
    int min;
    if (!text || !text_time(text, &min, NULL))
        return refuse(r, n, key, "a time like \"3:10\"");
    ((struct sheet *)into)->hands_min = min % 720;
    return true;
}

static bool top_heard(struct reading *r, const struct yaml_node *n, const char *key, void *into)
{
    const struct sheet *s = into;
    bool good = true;
    if (yaml_shape_of(n) != YAML_LIST)
        return refuse(r, n, key, "a list of rows like {at: \"3:00\", strike: 2}");
    for (size_t i = 0; i < yaml_count(n); i++) {
        bool room = s->heards < SHEET_ROWS;
        good = read_heard(r, yaml_item(n, i)) && good;
        if (!room)
            return false;
    }
    return good;
}

static bool top_tried(struct reading *r, const struct yaml_node *n, const char *key, void *into)
{
    struct sheet *s = into;
    bool good = true;
    if (yaml_shape_of(n) != YAML_LIST)
        return refuse(r, n, key, "a list of rows like {do: wind, result: starts}");
    for (size_t i = 0; i < yaml_count(n); i++) {
        struct tried *t = sheet_add_tried(s);
        if (!t) {
            yaml_complain(n, r->e, "tried has %zu rows; at most %d are taken", yaml_count(n),
                          SHEET_TRIED);
            return false;
        }
        good = read_tried(r, yaml_item(n, i), t) && good;
    }
    return good;
}

static bool top_since(struct reading *r, const struct yaml_node *n, const char *key, void *into)
{
    return read_fields(r, n, key, since_fields, sizeof since_fields / sizeof *since_fields, into);
}

static bool top_story(struct reading *r, const struct yaml_node *n, const char *key, void *into)
{
    return read_text(r, n, key, &((struct sheet *)into)->story);
}

static bool top_source(struct reading *r, const struct yaml_node *n, const char *key, void *into)
{
    return read_text(r, n, key, &((struct sheet *)into)->source);
}

/* clang-format off */
#define SHEET_MAP "sheet"
static const struct field top_fields[] = {
    {"clock", top_clock, {"which clock it is", sheet_forms_clock, .with = "seen: pendulum_on"}},
    {"hints", top_hints, {"what is known of the clock, instead of clock or beside it", sheet_forms_hints,
                          .with = "seen: pendulum_on"}},
    {"history", top_history, {"what happened to the clock before: a word or a list of words", sheet_forms_history,
                              .kind = "history"}},
    {"seen", top_seen, {"what can be seen, felt or noticed apart from single let-offs: a word or a list of words",
                        sheet_forms_seen, .kind = "seen"}},
    {"years_since_oil", top_oil, {"how long ago it was last oiled", sheet_forms_years, .with = "seen: pendulum_on"}},
    {"hands", top_hands, {"what the hands show now", sheet_forms_hands, .with = "seen: pendulum_on"}},
    {"heard", top_heard, {"what was heard: a list of rows", sheet_forms_heard}},
    {"tried", top_tried, {"what was tried, and what came of it: a list of rows", sheet_forms_tried}},
    {"since", top_since, {"when it began, and after what", sheet_forms_since, .with = "seen: pendulum_on"}},
    {"story", top_story, {"the call in the caller's words; kept beside the rows, find reads only --story", sheet_forms_text,
                      .with = "seen: pendulum_on"}},
    {"source", top_source, {"where the report is from; kept, not read", sheet_forms_text, .with = "seen: pendulum_on"}},
};
/* clang-format on */

/* Every map of keys, for those who list them. */
static const struct map_fields {
    const char *map;
    const struct field *field;
    size_t count;
    const char *before, *after; /* what stands round the map in a sheet */
} maps[] = {
    {SHEET_MAP, top_fields, sizeof top_fields / sizeof *top_fields, "", ""},
    {"heard", row_fields, sizeof row_fields / sizeof *row_fields, "heard: [{", "}]"},
    {"at", at_fields, sizeof at_fields / sizeof *at_fields, "heard: [{at: {", "}, strike: right}]"},
    {"tried", tried_fields, sizeof tried_fields / sizeof *tried_fields, "tried: [{", "}]"},
    {"since", since_fields, sizeof since_fields / sizeof *since_fields,
     "seen: pendulum_on\nsince: {", "}"},
};
#define MAPS (sizeof maps / sizeof *maps)

size_t sheet_keys(void)
{
    size_t count = 0;
    for (size_t m = 0; m < MAPS; m++)
        count += maps[m].count;
    return count;
}

struct sheet_key sheet_key_at(size_t i)
{
    size_t m = 0;
    for (; i >= maps[m].count; m++)
        i -= maps[m].count;
    return (struct sheet_key){maps[m].map, maps[m].field[i].key, maps[m].field[i].help};
}

void sheet_key_example(const struct sheet_key *k, const char *value, struct text *out)
{
    size_t m = 0;
    while (strcmp(maps[m].map, k->map))
        m++;
    bool top = !strcmp(k->map, SHEET_MAP);
    text_add(out, maps[m].before);
    if (k->help.with)
        text_addf(out, "%s%s", k->help.with, top ? "\n" : ", ");
    text_addf(out, "%s: %s%s\n", k->key, value, maps[m].after);
}

void sheet_key_value(const char *word, struct text *out)
{
    bool plain = (*word >= 'a' && *word <= 'z') && strcmp(word, "yes") && strcmp(word, "no");
    text_addf(out, plain ? "%s" : "\"%s\"", word);
}

static bool read_sheet(struct sheet *s, struct yaml_tree *tree, struct err *e)
{
    struct reading r = {.sheet = s, .words = s->words, .e = e};
    const struct yaml_node *root = yaml_root(tree);
    bool good = read_fields(&r, root, "a call sheet", top_fields,
                            sizeof top_fields / sizeof *top_fields, s) &&
                !yaml_faulty(root);
    if (good && sheet_empty(s)) {
        yaml_complain(
            root, e,
            "the sheet tells nothing; expected rows under heard, or seen, history or story");
        good = false;
    }
    return good;
}

static bool read_tree(struct sheet *s, const char *name, struct yaml_tree *tree, struct err *e)
{
    bool good = false;
    if (tree) {
        good = read_sheet(s, tree, e);
        if (!good)
            sheet_clear(s);
        else
            s->file = mem_copy_text(name);
    }
    yaml_free(tree);
    return good;
}

bool sheet_parse(struct sheet *s, const char *name, const char *text, size_t length, struct err *e)
{
    return read_tree(s, name, yaml_parse(name, text, length, e), e);
}

bool sheet_load(struct sheet *s, const char *path, struct err *e)
{
    return read_tree(s, path, yaml_load(path, e), e);
}
