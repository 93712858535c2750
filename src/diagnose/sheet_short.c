/* The shorthand of a call sheet (its syntax stands in sheet.h): reading. */
#include "diagnose/sheet_priv.h"

#include <stdarg.h>
#include <string.h>

#include "event.h"
#include "mem.h"

#define ITEM_MOST  400 /* bytes of one item */
#define ITEMS_MOST 64  /* items of one row */

/* ---- times ---- */

const struct sheet_short_time sheet_short_times[SHORT_TIMES] = {
    {"hours", AT_RULE, RULE_HOUR},
    {"halves", AT_RULE, RULE_HALF},
    {"quarters", AT_RULE, RULE_QUARTER},
    {"other-hours", AT_RULE, RULE_OTHER_HOUR},
    {"any", AT_RULE, RULE_ANY},
    {"an-hour", AT_ONE, RULE_HOUR},
    {"a-half", AT_ONE, RULE_HALF},
    {"a-quarter", AT_ONE, RULE_QUARTER},
    {"?", AT_UNKNOWN, RULE_ANY},
    /* also taken, never written */
    {"hour", AT_RULE, RULE_HOUR},
    {"half", AT_RULE, RULE_HALF},
    {"quarter", AT_RULE, RULE_QUARTER},
};

static bool named_time(const char *s, struct sheet_at *at)
{
    for (size_t i = 0; i < SHORT_TIMES; i++)
        if (!strcmp(s, sheet_short_times[i].name)) {
            at->kind = sheet_short_times[i].kind;
            at->rule = sheet_short_times[i].rule;
            return true;
        }
    return false;
}

/* A point of the dial or "*:28", nothing else. */
static bool point_time(const char *s, struct sheet_at *at)
{
    return at_read(s, at) && (at->kind == AT_EXACT || at->kind == AT_MINUTE);
}

static void span(struct sheet_at *at, const struct sheet_at *from, const struct sheet_at *to)
{
    at->known24 = from->known24 && to->known24;
    at->any_hour = from->kind == AT_MINUTE;
    at->about = from->about || to->about;
    bool fold = !at->known24 && !at->any_hour;
    at->min = fold ? from->min % 720 : from->min;
    at->end_min = fold ? to->min % 720 : to->min;
}

/* "8:10..8:30" */
static bool window_time(const char *s, struct sheet_at *at)
{
    const char *dots = strstr(s, "..");
    char first[16];
    struct sheet_at from, to;
    if (!dots || (size_t)(dots - s) >= sizeof first)
        return false;
    memcpy(first, s, (size_t)(dots - s));
    first[dots - s] = 0;
    if (!point_time(first, &from) || !point_time(dots + 2, &to) || from.kind != to.kind)
        return false;
    at->kind = AT_WINDOW;
    span(at, &from, &to);
    return true;
}

/* "3:00-11:00/hours" */
static bool part_time(const char *s, struct sheet_at *at)
{
    char copy[48];
    if (strlen(s) >= sizeof copy)
        return false;
    strcpy(copy, s);
    char *dash = strchr(copy, '-'), *slash = dash ? strchr(dash, '/') : NULL;
    struct sheet_at from, to, rule = {0};
    if (!slash)
        return false;
    *dash = *slash = 0;
    if (!point_time(copy, &from) || !point_time(dash + 1, &to) || from.kind != AT_EXACT ||
        to.kind != AT_EXACT || !named_time(slash + 1, &rule) || rule.kind != AT_RULE ||
        rule.rule == RULE_OTHER_HOUR)
        return false;
    at->kind = AT_RULE;
    at->rule = rule.rule;
    at->part = true;
    span(at, &from, &to);
    return true;
}

static bool short_time(const char *s, struct sheet_at *at)
{
    struct sheet_at new = {0};
    if (!named_time(s, &new) && !point_time(s, &new)) {
        memset(&new, 0, sizeof new);
        if (!window_time(s, &new) && !part_time(s, &new))
            return false;
    }
    *at = new;
    return true;
}

/* ---- reading ---- */

struct item {
    char text[ITEM_MOST + 1];
    size_t column; /* bytes from 1 */
};

struct short_reading {
    struct sheet *sheet;
    const struct words *words;
    struct err *e;
};

static bool complain(struct short_reading *r, const struct item *item, const char *fmt, ...)
    __attribute__((format(printf, 3, 4)));

static bool complain(struct short_reading *r, const struct item *item, const char *fmt, ...)
{
    char said[600];
    va_list rest;
    va_start(rest, fmt);
    vsnprintf(said, sizeof said, fmt, rest);
    va_end(rest);
    err_at(r->e, "shorthand", 1, item->column, "%s", said);
    return false;
}

static bool whole(const char *s, long low, long high, int *value)
{
    long number;
    if (*s == '+')
        s++;
    if (*s == '+' || !text_int(s, &number) || number < low || number > high)
        return false;
    *value = (int)number;
    return true;
}

/* One count of a set: 3, 0, * for without end, or a sign that stands for a count. */
static bool one_count(const char *s, bool error, int *value)
{
    if (!error && !strcmp(s, "*")) {
        *value = HEARD_ENDLESS;
        return true;
    }
    int sign = error || !strcmp(s, "0") ? -1 : sheet_value(sheet_strike_signs, s);
    if (sign > 0 && sign != HEARD_STRIKE_UNNOTICED && sign != HEARD_STRIKE_SAME_ERROR) {
        *value = HEARD_AS(sign);
        return true;
    }
    return whole(s, error ? -SHEET_COUNT_MOST : 0, SHEET_COUNT_MOST, value);
}

/* "2/3/4" behind the values already there. */
static bool more_counts(char *s, bool error, struct heard *h)
{
    for (;;) {
        char *slash = strchr(s, '/');
        if (slash)
            *slash = 0;
        if (h->values == SHEET_VALUES || !one_count(s, error, &h->value[h->values]))
            return false;
        h->values++;
        if (!slash)
            return true;
        s = slash + 1;
    }
}

/* What follows the s: "1/2", "1(2/3)", "-1", "+0(-1)", "3". */
static bool counts(const char *text, struct heard *h)
{
    char copy[ITEM_MOST + 1];
    strcpy(copy, text);
    bool error = *copy == '+' || *copy == '-';
    char *open = strchr(copy, '(');
    h->values = 0;
    h->mostly = open;
    if (open) {
        size_t length = strlen(open);
        if (open[length - 1] != ')')
            return false;
        open[length - 1] = 0;
        *open = 0;
        if (!one_count(copy, error, &h->value[0]))
            return false;
        h->values = 1;
        if (!more_counts(open + 1, error, h))
            return false;
    } else if (!more_counts(copy, error, h)) {
        return false;
    }
    sheet_settle_counts(h, error);
    return true;
}

const struct yaml_word sheet_strike_signs[] = {
    {"*", HEARD_STRIKE_RUNS_ON}, {"?", HEARD_STRIKE_UNNOTICED},  {"=", HEARD_STRIKE_RIGHT},
    {"!", HEARD_STRIKE_WRONG},   {".", HEARD_STRIKE_SOME},       {"#", HEARD_STRIKE_HOURS},
    {"0", HEARD_STRIKE_NONE},    {"~", HEARD_STRIKE_SAME_ERROR}, {NULL, 0},
};
const struct yaml_word sheet_chime_signs[] = {
    {"0", HEARD_CHIME_NONE},
    {"=", HEARD_CHIME_RIGHT},
    {"!", HEARD_CHIME_WRONG},
    {".", HEARD_CHIME_SOME},
    {"*", HEARD_CHIME_RUNS_ON},
    {"?", HEARD_CHIME_UNNOTICED},
    {NULL, 0},
};

/* Readers of an item by its first letter; the text is what follows it. */
static bool item_strike(struct heard *h, const char *text)
{
    int sign = sheet_value(sheet_strike_signs, text);
    if (h->strike)
        return false;
    if (sign >= 0) {
        h->strike = (enum heard_strike)sign;
        return true;
    }
    return counts(text, h);
}

static bool item_notes(struct heard *h, const char *text)
{
    return notes_read(text, h->notes);
}

static bool item_phrases(struct heard *h, const char *text)
{
    return whole(text, 0, SHEET_COUNT_MOST, &h->phrases);
}

static bool item_quarter(struct heard *h, const char *text)
{
    if (!strcmp(text, "+1") || !strcmp(text, "-1")) {
        h->quarter_shift = *text == '+' ? 1 : -1;
        return true;
    }
    return *text != '+' && whole(text, 1, 4, &h->quarter);
}

/* "0/!" or "=(0/!)": signs of one letter each. */
static bool chimes(struct heard *h, const char *text)
{
    size_t length = strlen(text);
    bool mostly = length > 3 && text[1] == '(' && text[length - 1] == ')';
    for (size_t i = 0; i < length - mostly; i += 2) {
        const char one[2] = {text[i], 0};
        char next = text[i + 1];
        int sign = sheet_value(sheet_chime_signs, one);
        bool last = i + 1 == length - mostly;
        if (sign < 0 || sign == HEARD_CHIME_UNNOTICED ||
            (!last && next != (mostly && !i ? '(' : '/')))
            return false;
        if (!i)
            h->chime = (enum heard_chime)sign;
        else
            h->chime_also |= 1u << sign;
    }
    h->chime_mostly = mostly;
    sheet_settle_chimes(h);
    return length > 2 && length % 2 == !mostly;
}

static bool item_chime(struct heard *h, const char *text)
{
    int sign = sheet_value(sheet_chime_signs, text);
    if (h->chime)
        return false;
    if (sign < 0)
        return chimes(h, text);
    h->chime = (enum heard_chime)sign;
    return true;
}

static bool seconds(const char *s, double most, double *value)
{
    return text_real(s, value) && *value >= 0.01 && *value <= most;
}

static bool item_interval(struct heard *h, const char *text)
{
    char copy[ITEM_MOST + 1];
    strcpy(copy, text);
    char *s = copy, *slash = strchr(s, '/');
    if (!slash)
        return seconds(s, 600, &h->interval_s);
    for (h->intervals = 0;; s = slash + 1) {
        slash = strchr(s, '/');
        if (slash)
            *slash = 0;
        if (!*s && !slash && h->intervals == 1) /* "2.1/": a list of one */
            return true;
        if (h->intervals == SHEET_INTERVALS || !seconds(s, 600, &h->intervals_s[h->intervals]))
            return false;
        h->intervals++;
        if (!slash)
            return true;
    }
}

static const struct {
    char letter;
    bool (*read)(struct heard *h, const char *text);
    const char *expected;
} letters[] = {
    {'s', item_strike, "s3, s0, s*, s?, s=, s!, s., s#, s-1, s1/2 or s1(2/3), once in a row"},
    {'n', item_notes, "n and the notes 1..9, a..g, . or ?"},
    {'p', item_phrases, "p and a number of phrases"},
    {'q', item_quarter, "q1, q2, q3, q4, q+1 or q-1"},
    {'c', item_chime, "c0, c=, c!, c., c* or c?"},
    {'i', item_interval, "i and seconds between blows, i2.1 or i2.1/2.3"},
};

static bool key_for(struct short_reading *r, struct heard *h, char *value)
{
    (void)r;
    return h->has_for = at_read_due(value, &h->due);
}

static bool key_not(struct short_reading *r, struct heard *h, char *value)
{
    (void)r;
    for (char *s = value, *next; s; s = next) {
        next = strchr(s, '/');
        if (next)
            *next++ = 0;
        if (h->excepts == SHEET_EXCEPT || !at_read_due(s, &h->except[h->excepts]))
            return false;
        h->excepts++;
    }
    return h->at.kind == AT_RULE;
}

static bool take(const struct yaml_word *words, const char *value, int *into)
{
    int found = sheet_value(words, value);
    if (found >= 0)
        *into = found;
    return found >= 0;
}

static bool key_stop(struct short_reading *r, struct heard *h, char *value)
{
    (void)r;
    for (char *next; value; value = next) {
        int found = 0;
        next = strchr(value, '/');
        if (next)
            *next++ = 0;
        if (!take(sheet_stopped_words, value, &found))
            return false;
        if (!h->stopped)
            h->stopped = (enum heard_stopped)found;
        else if (found != (int)h->stopped)
            h->stopped_also |= 1u << found;
    }
    return true;
}

static bool key_freed(struct short_reading *r, struct heard *h, char *value)
{
    h->freed_by = words_ordinal(r->words, WORD_FREED_BY, value);
    return h->freed_by >= 0;
}

static bool key_train(struct short_reading *r, struct heard *h, char *value)
{
    (void)r;
    return take(sheet_train_words, value, &h->train);
}

static bool key_hammers(struct short_reading *r, struct heard *h, char *value)
{
    (void)r;
    int found = 0;
    bool good = take(sheet_hammers_words, value, &found);
    h->hammers = (enum heard_hammers)found;
    return good;
}

static bool key_often(struct short_reading *r, struct heard *h, char *value)
{
    (void)r;
    int found = 0;
    bool good = take(sheet_often_words, value, &found);
    h->often = (enum heard_often)found;
    return good;
}

static bool key_order(struct short_reading *r, struct heard *h, char *value)
{
    (void)r;
    for (char *s = value, *next; s; s = next) {
        int found;
        next = strchr(s, '>');
        if (next)
            *next++ = 0;
        if (h->orders == SHEET_ORDER || !take(sheet_order_words, s, &found))
            return false;
        h->order[h->orders++] = (enum heard_order)found;
    }
    return h->orders > 1;
}

static bool key_pause(struct short_reading *r, struct heard *h, char *value)
{
    (void)r;
    return seconds(value, 3600, &h->pause_s);
}

static bool key_date(struct short_reading *r, struct heard *h, char *value)
{
    (void)r;
    return date_read(value, &h->year, &h->month, &h->day);
}

static const struct {
    const char *key;
    bool (*read)(struct short_reading *r, struct heard *h, char *value);
    const char *expected;
} keys[] = {
    {"for", key_for, "for=5:00, for=hour, for=half or for=quarter"},
    {"not", key_not, "not=hour, not=5:00 or several parted by /, beside a rule such as hours"},
    {"stop", key_stop, "stop=hands, clock, train, strike, chime or music"},
    {"freed", key_freed, "freed= and a word such as hand_back"},
    {"train", key_train, "train=going, strike, chime or music"},
    {"hammers", key_hammers, "hammers=single, both, outer, inner, high, low, none or all"},
    {"often", key_often, "often=always, mostly, sometimes, once or maybe"},
    {"order", key_order, "order=gong>call, of gong, call, bell, music, chime and strike"},
    {"pause", key_pause, "pause= and seconds"},
    {"date", key_date, "date=2026-10-25"},
};

static bool read_key(struct short_reading *r, const struct item *item, struct heard *h)
{
    char copy[ITEM_MOST + 1];
    strcpy(copy, item->text);
    char *value = strchr(copy, '=');
    *value++ = 0;
    for (size_t i = 0; i < sizeof keys / sizeof *keys; i++)
        if (!strcmp(copy, keys[i].key))
            return keys[i].read(r, h, value) ||
                   complain(r, item, "\"%s\" is not understood; expected %s",
                            sheet_shown(item->text).at, keys[i].expected);
    return complain(r, item,
                    "\"%s\" begins with no known key; expected for=, not=, stop=, "
                    "freed=, train=, hammers=, often=, order=, pause= or date=",
                    sheet_shown(item->text).at);
}

/* An item of a heard row: a how word, LETTERvalue or key=value.  Words come first, so that
 * "slow" is no count. */
static bool read_item(struct short_reading *r, const struct item *item, struct heard *h)
{
    int how = words_ordinal(r->words, WORD_HOW, item->text);
    if (how >= 0) {
        bool twice = word_set_has(&h->how, how);
        word_set_add(&h->how, how);
        return !twice || complain(r, item, "\"%s\" is said twice in one row", item->text);
    }
    const char *sign = strchr(item->text, '='), second = *item->text ? item->text[1] : 0;
    if (sign && second >= 'a' && second <= 'z') /* a key, not a sign among others: "s0(=)" */
        return read_key(r, item, h);
    const char *expected = "s2, n3124, p2, q3, c0, i2.1 or a word such as slow";
    for (size_t i = 0; i < sizeof letters / sizeof *letters; i++)
        if (*item->text == letters[i].letter) {
            if (letters[i].read(h, item->text + 1))
                return true;
            expected = letters[i].expected;
        }
    const char *near = words_nearest(r->words, WORD_HOW, item->text);
    return complain(r, item, "\"%s\" is not understood; %s%s%s", sheet_shown(item->text).at,
                    near ? "did you mean " : "expected ", near ? near : expected, near ? "?" : "");
}

/* The items of a row behind its time; `at` is where the row begins. */
static bool read_items(struct short_reading *r, const struct item *items, size_t count,
                       const struct item *at, struct heard *h)
{
    bool good = true;
    for (size_t i = 0; i < count; i++)
        good = read_item(r, &items[i], h) && good;
    if (good && !heard_tells(h))
        return complain(r, at,
                        "nothing is told for \"%s\"; expected s2, n3124, slow or the "
                        "like behind it",
                        sheet_shown(at->text).at);
    if (good && h->freed_by >= 0 && !h->stopped)
        return complain(r, at, "freed= stands without stop=; expected both");
    return good;
}

static bool read_heard(struct short_reading *r, const struct item *items, size_t count,
                       struct heard *h)
{
    if (!short_time(items[0].text, &h->at))
        return complain(r, &items[0],
                        "\"%s\" is no time; expected 3:00, ~3:00, *:28, hours, halves, quarters, "
                        "other-hours, any, ?, 8:10..8:30 or 3:00-11:00/hours",
                        sheet_shown(items[0].text).at);
    return read_items(r, items + 1, count - 1, items, h);
}

/* ---- rows that begin with a word ---- */

static bool word_rows(struct short_reading *r, const struct item *items, size_t count,
                      enum word_kind kind, struct word_set *set, const struct word_set *other)
{
    bool good = count > 1 || complain(r, items, "%s has no word behind it", items->text);
    for (size_t i = 1; i < count; i++) {
        int ordinal = words_ordinal(r->words, kind, items[i].text);
        const char *near = words_nearest(r->words, kind, items[i].text);
        if (ordinal < 0)
            good =
                complain(r, &items[i], "\"%s\" is no %s word%s%s%s", sheet_shown(items[i].text).at,
                         word_kind_name(kind), near ? "; did you mean " : "; see letoff list words",
                         near ? near : "", near ? "?" : "");
        else if (word_set_has(set, ordinal) || (other && word_set_has(other, ordinal)))
            good = complain(r, &items[i], "\"%s\" is said twice", items[i].text);
        else
            word_set_add(set, ordinal);
    }
    return good;
}

static bool row_had(struct short_reading *r, const struct item *items, size_t count)
{
    struct sheet *s = r->sheet;
    return word_rows(r, items, count, WORD_HISTORY, &s->history, &s->history_not);
}

static bool row_not_had(struct short_reading *r, const struct item *items, size_t count)
{
    struct sheet *s = r->sheet;
    return word_rows(r, items, count, WORD_HISTORY, &s->history_not, &s->history);
}

static bool row_seen(struct short_reading *r, const struct item *items, size_t count)
{
    struct sheet *s = r->sheet;
    return word_rows(r, items, count, WORD_SEEN, &s->seen, &s->seen_not);
}

static bool row_not_seen(struct short_reading *r, const struct item *items, size_t count)
{
    struct sheet *s = r->sheet;
    return word_rows(r, items, count, WORD_SEEN, &s->seen_not, &s->seen);
}

static bool row_asked_had(struct short_reading *r, const struct item *items, size_t count)
{
    struct word_set before = r->sheet->history;
    bool good = row_had(r, items, count);
    struct word_set now = word_set_less(&r->sheet->history, &before);
    for (int i = 0; i < WORDS_PER_KIND; i++)
        if (word_set_has(&now, i))
            word_set_add(&r->sheet->history_asked, i);
    return good;
}

static bool row_asked_seen(struct short_reading *r, const struct item *items, size_t count)
{
    struct word_set before = r->sheet->seen;
    bool good = row_seen(r, items, count);
    struct word_set now = word_set_less(&r->sheet->seen, &before);
    for (int i = 0; i < WORDS_PER_KIND; i++)
        if (word_set_has(&now, i))
            word_set_add(&r->sheet->seen_asked, i);
    return good;
}

static bool row_clock(struct short_reading *r, const struct item *items, size_t count)
{
    struct sheet *s = r->sheet;
    static const char allowed[] =
        "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-_";
    if (count != 2 || strlen(items[1].text) >= sizeof s->clock || *s->clock ||
        strspn(items[1].text, allowed) != strlen(items[1].text))
        return complain(r, items, "clock is not followed by one id of a clock, once");
    strcpy(s->clock, items[1].text);
    return true;
}

static bool row_hint(struct short_reading *r, const struct item *items, size_t count)
{
    bool good = count > 1 || complain(r, items, "hint has nothing behind it");
    for (size_t i = 1; i < count; i++) {
        char copy[ITEM_MOST + 1];
        strcpy(copy, items[i].text);
        char *value = strchr(copy, '=');
        if (value)
            *value++ = 0;
        const char *near = words_nearest(r->words, WORD_HINT, copy);
        if (value && sheet_set_hint(r->sheet, copy, value))
            continue;
        if (value && words_find(r->words, WORD_HINT, copy))
            good = complain(r, &items[i], "\"%s\" is no value of the hint %s",
                            sheet_shown(value).at, copy);
        else
            good =
                complain(r, &items[i], "\"%s\" is no hint; expected key=value%s%s",
                         sheet_shown(items[i].text).at, near ? " such as " : "", near ? near : "");
    }
    return good;
}

static bool row_oil(struct short_reading *r, const struct item *items, size_t count)
{
    double years;
    if (count != 2 || !text_real(items[1].text, &years) || years < 0 || years > 500)
        return complain(r, items, "oil is not followed by the years since oiling, 0 to 500");
    r->sheet->years_since_oil = years;
    return true;
}

static bool row_hands(struct short_reading *r, const struct item *items, size_t count)
{
    int min;
    if (count != 2 || !text_time(items[1].text, &min, NULL))
        return complain(r, items, "hands is not followed by one time like 3:10");
    r->sheet->hands_min = min % 720;
    return true;
}

static bool row_since(struct short_reading *r, const struct item *items, size_t count)
{
    bool good = count > 1 || complain(r, items, "since has nothing behind it");
    for (size_t i = 1; i < count; i++) {
        int when = words_ordinal(r->words, WORD_WHEN, items[i].text);
        int after = words_ordinal(r->words, WORD_AFTER, items[i].text);
        if (when >= 0)
            r->sheet->since_when = when;
        else if (after >= 0)
            word_set_add(&r->sheet->since_after, after);
        else
            good = complain(r, &items[i], "\"%s\" is no word for when or after what it began",
                            sheet_shown(items[i].text).at);
    }
    return good;
}

/* "pull_weight:strike@3:00" */
static bool read_did(struct short_reading *r, const struct item *item, struct tried *t)
{
    char copy[ITEM_MOST + 1];
    strcpy(copy, item->text);
    char *at = strchr(copy, '@');
    if (at) {
        *at++ = 0;
        t->has_at = short_time(at, &t->at);
        if (!t->has_at)
            return complain(r, item, "\"%s\" is no time", sheet_shown(at).at);
    }
    char *train = strchr(copy, ':');
    if (train) {
        *train++ = 0;
        if (!take(sheet_train_words, train, &t->train))
            return complain(r, item, "\"%s\" is no train; expected going, strike, chime or music",
                            sheet_shown(train).at);
    }
    t->action = words_ordinal(r->words, WORD_DO, copy);
    const char *near = words_nearest(r->words, WORD_DO, copy);
    return t->action >= 0 || complain(r, item, "\"%s\" is no action%s%s%s", sheet_shown(copy).at,
                                      near ? "; did you mean " : "; see letoff list words",
                                      near ? near : "", near ? "?" : "");
}

static bool row_did(struct short_reading *r, const struct item *items, size_t count)
{
    if (count < 2)
        return complain(r, items, "did has no action behind it");
    struct tried *t = sheet_add_tried(r->sheet);
    if (!t)
        return complain(r, items, "more than %d actions are not taken", SHEET_TRIED);
    if (!read_did(r, &items[1], t))
        return false;
    if (count == 2)
        return true;
    if (strcmp(items[2].text, "->") || count == 3)
        return complain(r, &items[2], "expected -> and what came of it");
    t->result = count == 4 ? words_ordinal(r->words, WORD_RESULT, items[3].text) : -1;
    if (t->result >= 0)
        return true;
    t->has_row = true;
    struct sheet_at time;
    if (short_time(items[3].text, &time))
        return read_heard(r, items + 3, count - 3, &t->row);
    return read_items(r, items + 3, count - 3, items + 3, &t->row);
}

static const struct {
    const char *name;
    bool (*read)(struct short_reading *r, const struct item *items, size_t count);
} row_words[] = {
    {"had", row_had},           {"not-had", row_not_had},     {"seen", row_seen},
    {"not-seen", row_not_seen}, {"clock", row_clock},         {"hint", row_hint},
    {"oil", row_oil},           {"hands", row_hands},         {"since", row_since},
    {"did", row_did},           {"asked-had", row_asked_had}, {"asked-seen", row_asked_seen},
};

static bool read_row(struct short_reading *r, const struct item *items, size_t count)
{
    for (size_t i = 0; i < sizeof row_words / sizeof *row_words; i++)
        if (!strcmp(items[0].text, row_words[i].name))
            return row_words[i].read(r, items, count);
    struct heard *h = sheet_add_heard(r->sheet);
    if (!h)
        return complain(r, items, "more than %d rows are not taken", SHEET_ROWS);
    return read_heard(r, items, count, h);
}

static bool parts_rows(char c)
{
    return c == ',' || c == ';' || c == '\n';
}

static bool is_blank(char c)
{
    return c == ' ' || c == '\t' || c == '\r';
}

/* Split the row text[from..to) into items; the count, or SIZE_MAX with a sentence. */
static size_t split_row(struct short_reading *r, const char *text, size_t from, size_t to,
                        struct item *items)
{
    size_t count = 0;
    while (from < to) {
        if (is_blank(text[from])) {
            from++;
            continue;
        }
        size_t end = from;
        while (end < to && !is_blank(text[end]))
            end++;
        struct item here = {.column = from + 1};
        if (end - from > ITEM_MOST || count == ITEMS_MOST) {
            complain(r, &here,
                     end - from > ITEM_MOST ? "this item is over %d bytes long"
                                            : "this row has more than %d items",
                     end - from > ITEM_MOST ? ITEM_MOST : ITEMS_MOST);
            return SIZE_MAX;
        }
        items[count].column = from + 1;
        memcpy(items[count].text, text + from, end - from);
        items[count++].text[end - from] = 0;
        from = end;
    }
    return count;
}

static bool read_rows(struct short_reading *r, const char *text, size_t length)
{
    struct item *items = mem_alloc(ITEMS_MOST * sizeof *items);
    bool good = true;
    for (size_t from = 0; from < length;) {
        size_t to = from;
        while (to < length && !parts_rows(text[to]))
            to++;
        size_t count = split_row(r, text, from, to, items);
        good = count != SIZE_MAX && (!count || read_row(r, items, count)) && good;
        if (r->e && r->e->count > 2 * ERR_MOST) /* hopeless input: enough has been said */
            break;
        from = to + 1;
    }
    mem_free(items);
    return good;
}

static void take_back(struct sheet *s, const struct sheet *before)
{
    while (s->heards > before->heards)
        heard_release(&s->heard[--s->heards]);
    while (s->trieds > before->trieds)
        heard_release(&s->tried[--s->trieds].row);
    struct sheet old = *before;
    old.heard = s->heard, old.heard_room = s->heard_room;
    old.tried = s->tried, old.tried_room = s->tried_room;
    *s = old;
}

bool sheet_parse_shorthand(struct sheet *s, const char *text, size_t length, struct err *e)
{
    struct short_reading r = {.sheet = s, .words = s->words, .e = e};
    size_t bad;
    if (!text_is_utf8(text, length, &bad)) {
        err_at(e, "shorthand", 1, bad + 1, "this is no well-formed text (UTF-8)");
        return false;
    }
    struct sheet before = *s;
    bool good = read_rows(&r, text, length);
    if (good && s->heards == before.heards && s->trieds == before.trieds && sheet_empty(s) &&
        sheet_same(s, &before)) {
        err_at(e, "shorthand", 1, 1, "nothing is told; expected rows like 3:00 s2, 3:15 n3124");
        good = false;
    }
    if (!good)
        take_back(s, &before);
    return good;
}
