/* Times of a call sheet: reading, writing and what they cover. */
#include "diagnose/sheet_priv.h"

#include <string.h>

#define ABOUT_MIN 7 /* "about three": half a quarter, so that it stays the nearest let-off */

/* clang-format off */
const struct yaml_word sheet_rule_words[] = {
    {"hour", RULE_HOUR, "every full hour"},
    {"half", RULE_HALF, "every half hour"},
    {"quarter", RULE_QUARTER, "every quarter, the half and the full hour among them"},
    {"any", RULE_ANY, "every let-off"},
    {NULL, 0},
};

/* Words that stand for a whole `at`; value: AT_WORD. */
#define AT_WORD(kind, rule) ((int)(kind) * 16 + (int)(rule))
const struct yaml_word sheet_at_words[] = {
    {"every_hour", AT_WORD(AT_RULE, RULE_HOUR), "every full hour"},
    {"every_half", AT_WORD(AT_RULE, RULE_HALF), "every half hour, not the full hour"},
    {"every_quarter", AT_WORD(AT_RULE, RULE_QUARTER),
     "every quarter, the half and the full hour among them (except: hour leaves that out)"},
    {"every_other_hour", AT_WORD(AT_RULE, RULE_OTHER_HOUR), "every second hour; which of them is not known"},
    {"any", AT_WORD(AT_RULE, RULE_ANY), "every let-off the clock has, whatever it is for"},
    {"an_hour", AT_WORD(AT_ONE, RULE_HOUR), "one full hour, which is not known"},
    {"a_half", AT_WORD(AT_ONE, RULE_HALF), "one half hour, which is not known"},
    {"a_quarter", AT_WORD(AT_ONE, RULE_QUARTER),
     "one quarter, which is not known; it may be the half or the full hour"},
    {"unknown", AT_WORD(AT_UNKNOWN, RULE_ANY), "one let-off at a time not known; so it is without `at`"},
    {NULL, 0},
};
/* clang-format on */

/* The 28 of "*:28"; -1 if it is no such thing. */
static int minute_of_any_hour(const char *s)
{
    if (strlen(s) != 4 || s[0] != '*' || s[1] != ':' || s[2] < '0' || s[2] > '5' || s[3] < '0' ||
        s[3] > '9')
        return -1;
    return (s[2] - '0') * 10 + s[3] - '0';
}

static bool read_clock_time(const char *s, struct sheet_at *at)
{
    int min = minute_of_any_hour(s);
    if (min >= 0) {
        at->kind = AT_MINUTE;
        at->min = min;
        return true;
    }
    bool known24 = false;
    if (!text_time(s, &min, &known24))
        return false;
    at->kind = AT_EXACT;
    at->known24 = known24;
    at->min = known24 ? min : min % 720;
    return true;
}

bool at_read(const char *text, struct sheet_at *at)
{
    struct sheet_at new = {0};
    int word = sheet_value(sheet_at_words, text);
    if (word >= 0) {
        new.kind = (enum at_kind)(word / 16);
        new.rule = (enum at_rule)(word % 16);
        *at = new;
        return true;
    }
    new.about = *text == '~';
    if (!read_clock_time(text + new.about, &new))
        return false;
    *at = new;
    return true;
}

bool at_read_due(const char *text, struct sheet_at *at)
{
    struct sheet_at new = {0};
    int rule = sheet_value(sheet_rule_words, strncmp(text, "every_", 6) ? text : text + 6);
    if (rule >= 0) {
        new.kind = AT_RULE;
        new.rule = (enum at_rule)rule;
    } else if (!read_clock_time(text, &new)) {
        return false;
    }
    *at = new;
    return true;
}

bool at_same(const struct sheet_at *a, const struct sheet_at *b)
{
    return a->kind == b->kind && a->rule == b->rule && a->min == b->min &&
           a->end_min == b->end_min && a->known24 == b->known24 && a->about == b->about &&
           a->any_hour == b->any_hour && a->part == b->part;
}

void at_write_time(int min, bool known24, const char *between, struct text *out)
{
    char dial[8];
    text_add(out, text_dial(min, dial));
    if (known24)
        text_addf(out, "%s%s", between, min >= 720 ? "pm" : "am");
}

static void write_quoted(const struct sheet_at *at, int min, bool any_hour, struct text *out)
{
    text_add(out, at->about ? "\"~" : "\"");
    if (any_hour)
        text_addf(out, "*:%02d", min);
    else
        at_write_time(min, at->known24, " ", out);
    text_add(out, "\"");
}

static const char *rule_word(const struct sheet_at *at)
{
    const char *word = sheet_name(sheet_at_words, AT_WORD(at->kind, at->rule));
    return word ? word : "unknown";
}

void at_write(const struct sheet_at *at, struct text *out)
{
    switch (at->kind) {
    case AT_EXACT:
    case AT_MINUTE:
        write_quoted(at, at->min, at->kind == AT_MINUTE, out);
        return;
    case AT_WINDOW:
        text_add(out, "{after: ");
        write_quoted(at, at->min, at->any_hour, out);
        text_add(out, ", before: ");
        write_quoted(at, at->end_min, at->any_hour, out);
        text_add(out, "}");
        return;
    case AT_RULE:
        if (!at->part)
            break;
        text_add(out, "{from: ");
        write_quoted(at, at->min, false, out);
        text_add(out, ", to: ");
        write_quoted(at, at->end_min, false, out);
        text_addf(out, ", every: %s}", sheet_name(sheet_rule_words, at->rule));
        return;
    case AT_ONE:
    case AT_UNKNOWN:
        break;
    }
    text_add(out, rule_word(at));
}

void at_write_due(const struct sheet_at *at, struct text *out)
{
    if (at->kind == AT_RULE)
        text_add(out, sheet_name(sheet_rule_words, at->rule));
    else
        at_write(at, out);
}

/* Is `min` on the way from `from` to `to`, both ends included, on a dial of `round` minutes? */
static bool on_the_way(int min, int from, int to, int round)
{
    int way = ((to - from) % round + round) % round;
    int there = ((min - from) % round + round) % round;
    return there <= way;
}

static bool rule_covers(enum at_rule rule, int min)
{
    switch (rule) {
    case RULE_HOUR:
    case RULE_OTHER_HOUR:
        return min % 60 == 0;
    case RULE_HALF:
        return min % 60 == 30;
    case RULE_QUARTER:
        return min % 15 == 0;
    case RULE_ANY:
        break;
    }
    return true;
}

bool at_covers(const struct sheet_at *at, int due_min, int cycle_min)
{
    int round = at->known24 && cycle_min == 1440 ? 1440 : 720;
    int slack = at->about ? ABOUT_MIN : 0;
    switch (at->kind) {
    case AT_UNKNOWN:
        return true;
    case AT_EXACT:
        return on_the_way(due_min, at->min - slack, at->min + slack, round);
    case AT_MINUTE:
        return on_the_way(due_min, at->min - slack, at->min + slack, 60);
    case AT_RULE:
    case AT_ONE:
        return rule_covers(at->rule, due_min) &&
               (!at->part || on_the_way(due_min, at->min, at->end_min, round));
    case AT_WINDOW:
        return on_the_way(due_min, at->min - slack, at->end_min + slack, at->any_hour ? 60 : round);
    }
    return false;
}

bool heard_covers(const struct heard *h, int due_min, int cycle_min)
{
    if (!at_covers(h->has_for ? &h->due : &h->at, due_min, cycle_min))
        return false;
    for (size_t i = 0; i < h->excepts; i++)
        if (at_covers(&h->except[i], due_min, cycle_min))
            return false;
    return true;
}

bool heard_is_rule(const struct heard *h)
{
    return h->at.kind == AT_RULE || h->at.kind == AT_MINUTE;
}

bool date_read(const char *text, int *year, int *month, int *day)
{
    static const int days[] = {31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
    int part[3] = {0};
    static const char shape[] = "dddd-dd-dd";
    if (strlen(text) != strlen(shape))
        return false;
    for (int i = 0, p = 0; shape[i]; i++) {
        if (shape[i] == '-' ? text[i] != '-' : text[i] < '0' || text[i] > '9')
            return false;
        if (shape[i] == '-')
            p++;
        else
            part[p] = part[p] * 10 + text[i] - '0';
    }
    int y = part[0];
    bool leap = (y % 4 == 0 && y % 100) || y % 400 == 0;
    if (y < 1300 || part[1] < 1 || part[1] > 12 || part[2] < 1 ||
        part[2] > days[part[1] - 1] + (leap && part[1] == 2))
        return false;
    *year = y, *month = part[1], *day = part[2];
    return true;
}
