/* What the heard rows of a story say of each other, when all are there (story_rows.h). */
#include "diagnose/story_rows.h"

#include <string.h>

#include "diagnose/sheet_priv.h"

/* ---- what is excepted, and what is less than something else ---- */

static bool heard_excepts(const struct heard *h, const struct sheet_at *at)
{
    for (size_t i = 0; i < h->excepts; i++)
        if (at_same(&h->except[i], at))
            return true;
    return false;
}

/* The hours, halves or quarters as a whole. */
static bool is_kind(const struct heard *h)
{
    return h->at.kind == AT_RULE && !h->at.part && h->often == OFTEN_ALWAYS &&
           (h->at.rule == RULE_HOUR || h->at.rule == RULE_HALF || h->at.rule == RULE_QUARTER);
}

/* "Right at all others": all let-offs but those the story names one by one or by kind. */
static void except_the_named(struct sheet *s, bool *others)
{
    for (size_t i = 0; i < s->heards; i++) {
        struct heard *h = &s->heard[i];
        for (size_t j = 0; others[i] && j < s->heards; j++) {
            const struct heard *named = &s->heard[j];
            struct sheet_at at = named->has_for ? named->due : named->at;
            bool kind = h->at.kind == AT_RULE && h->at.rule == RULE_ANY && is_kind(named);
            if (others[j] || (at.kind != AT_EXACT && at.kind != AT_MINUTE && !kind))
                continue;
            at.about = false;
            if (!heard_excepts(h, &at) && h->excepts < SHEET_EXCEPT)
                h->except[h->excepts++] = at;
        }
    }
}

/* "It has stopped chiming, but strikes the hours": what is silent is the quarters. */
static void settle_silence(struct sheet *s)
{
    bool hours = false;
    for (size_t i = 0; i < s->heards; i++)
        hours = hours || (s->heard[i].at.kind == AT_RULE && s->heard[i].at.rule == RULE_HOUR &&
                          s->heard[i].strike && row_sounds(&s->heard[i]));
    for (size_t i = 0; i < s->heards && hours; i++) {
        struct heard *h = &s->heard[i];
        if (h->at.kind == AT_RULE && h->at.rule == RULE_ANY && !h->strike && !h->chime &&
            heard_how(h, s->words, "silent"))
            h->at.rule = RULE_QUARTER;
    }
}

static bool is_plain_rule(const struct heard *h)
{
    return h->at.kind == AT_RULE && !h->at.part && h->often == OFTEN_ALWAYS && !h->excepts &&
           (h->strike == HEARD_STRIKE_RIGHT || h->strike == HEARD_STRIKE_WRONG);
}

/* "Right" or "wrong" of all is less than a count of all: "it is wrong, always one too many". */
static void settle_rules(struct sheet *s, bool *others)
{
    for (size_t i = s->heards; i-- > 0;) {
        bool told = false;
        for (size_t j = 0; j < s->heards; j++) {
            const struct heard *other = &s->heard[j];
            told = told || (j != i && other->strike && other->strike != s->heard[i].strike &&
                            other->often == OFTEN_ALWAYS && at_same(&other->at, &s->heard[i].at));
        }
        if (told && is_plain_rule(&s->heard[i]) && !others[i] && !s->heard[i].chime &&
            word_set_empty(&s->heard[i].how)) {
            sheet_remove_heard(s, i);
            memmove(&others[i], &others[i + 1], s->heards - i);
        }
    }
}

/* The due count of an hour, and of a half where all let-offs are spoken of; -1 of anything else. */
static int count_due(const struct sheet_at *at, bool any)
{
    int min = at->min % 720;
    if (at->kind == AT_EXACT && any && min % 60 == 30)
        return 1;
    return at->kind != AT_EXACT || min % 60 ? -1 : min ? min / 60 : 12;
}

/* "Right, but four at three": right at the others. */
static void except_the_wrong(struct sheet *s)
{
    for (size_t i = 0; i < s->heards; i++) {
        struct heard *h = &s->heard[i];
        bool right = h->at.kind == AT_RULE && h->strike == HEARD_STRIKE_RIGHT &&
                     (h->at.rule == RULE_HOUR || h->at.rule == RULE_ANY);
        for (size_t j = 0; right && j < s->heards; j++) {
            const struct heard *named = &s->heard[j];
            int due = count_due(&named->at, h->at.rule == RULE_ANY);
            bool wrong =
                due > 0 && named->often == OFTEN_ALWAYS &&
                ((named->strike == HEARD_STRIKE_COUNT && named->value[0] != due) ||
                 named->strike == HEARD_STRIKE_NONE || named->strike == HEARD_STRIKE_RUNS_ON ||
                 named->strike == HEARD_STRIKE_WRONG || heard_how(named, s->words, "silent"));
            bool within = !h->at.part || at_covers(&h->at, named->at.min % 720, 720);
            if (wrong && within && !heard_excepts(h, &named->at) && h->excepts < SHEET_EXCEPT) {
                h->except[h->excepts] = named->at;
                h->except[h->excepts++].about = false;
            }
        }
    }
}

/* What another row says of a known time, at a time that is not known: "at eleven it would not leave off,
 * he counted to sixty". */
static void settle_doubles(struct sheet *s, bool *others)
{
    for (size_t i = s->heards; i-- > 0;) {
        const struct heard *h = &s->heard[i];
        bool plain = h->at.kind == AT_UNKNOWN && !h->has_for && !*h->notes && !h->orders &&
                     h->phrases < 0 && !h->values && !h->quarter_shift && !h->hammers &&
                     !others[i] && (h->strike || h->chime || !word_set_empty(&h->how)),
             told = false;
        for (size_t j = 0; j < s->heards && plain; j++)
            told = told || (j != i && s->heard[j].often == h->often &&
                            (s->heard[j].at.kind != AT_UNKNOWN || j < i) &&
                            row_says_already(&s->heard[j], h));
        if (told) {
            sheet_remove_heard(s, i);
            memmove(&others[i], &others[i + 1], (s->heards - i) * sizeof *others);
        }
    }
}

/* ---- rows that are one ---- */

static void remove_row(struct sheet *s, bool *others, size_t i)
{
    sheet_remove_heard(s, i);
    memmove(&others[i], &others[i + 1], (s->heards - i) * sizeof *others);
}

static bool says_no_more(const struct heard *h)
{
    return !*h->notes && !h->orders && h->phrases < 0 && !h->quarter && !h->quarter_shift &&
           !h->hammers && !h->stopped && !h->excepts && h->interval_s <= 0 && h->pause_s <= 0;
}

/* Nothing but a count, a chime and how it sounded, and both the same of the same time. */
static bool are_twins(const struct heard *a, const struct heard *b)
{
    struct word_set more = word_set_less(&a->how, &b->how), less = word_set_less(&b->how, &a->how);
    return at_same(&a->at, &b->at) && a->often == b->often && says_no_more(a) && says_no_more(b) &&
           a->strike == b->strike && rows_strike_fits(a, b) && a->chime == b->chime &&
           a->has_for == b->has_for && (!a->has_for || at_same(&a->due, &b->due)) &&
           word_set_empty(&more) && word_set_empty(&less);
}

static bool is_still(const struct heard *h, const struct words *words)
{
    bool silent = h->strike == HEARD_STRIKE_NONE || heard_how(h, words, "silent") ||
                  heard_how(h, words, "click_only") || heard_how(h, words, "whirr_only");
    return silent && !row_sounds(h) && says_no_more(h) && !h->has_for;
}

/* "It strikes slowly", "it stops half way" and "it is loud", told of all hours one by one. */
static bool are_of_one(const struct heard *a, const struct heard *b, const struct words *words)
{
    return is_kind(a) && is_kind(b) && at_same(&a->at, &b->at) && says_no_more(a) && says_no_more(b) &&
           !a->has_for && !b->has_for && !is_still(a, words) && !is_still(b, words) &&
           a->chime != HEARD_CHIME_NONE && b->chime != HEARD_CHIME_NONE && !a->chime == !b->chime &&
           row_adds_to(a, b, true, words);
}

/* What is told twice is one row; so are "no strike" and "only a click" of one time, and what was heard of
 * all hours. */
static void settle_twins(struct sheet *s, bool *others)
{
    for (size_t i = s->heards; i-- > 1;)
        for (size_t j = 0; j < i; j++) {
            struct heard *first = &s->heard[j], *second = &s->heard[i];
            bool still = is_still(first, s->words) && is_still(second, s->words) &&
                         at_same(&first->at, &second->at) && first->often == second->often &&
                         row_adds_to(first, second, true, s->words);
            if (others[i] || others[j] || !(still || are_twins(first, second) || are_of_one(first, second, s->words)))
                continue;
            row_merge(first, second, true);
            remove_row(s, others, i);
            break;
        }
}

/* ---- how it sounds ---- */

static bool is_manner_only(const struct heard *h, const struct words *words)
{
    static const char *const manners[] = {"slow", "fast", "loud",   "soft",    "dull",  "buzz",
                                          "tinny", "double", "cracked", "uneven", "slowing"};
    size_t known = 0;
    for (size_t i = 0; i < sizeof manners / sizeof *manners; i++)
        known += heard_how(h, words, manners[i]);
    return known && known == word_set_count(&h->how) && !h->strike && !h->chime && says_no_more(h) &&
           !h->has_for && h->at.kind == AT_RULE && h->at.rule == RULE_ANY && !h->at.part &&
           h->often == OFTEN_ALWAYS;
}

/* Is a row of the hours or of all let-offs something that sounded, so that a manner can be its own? */
static bool takes_manner(const struct heard *h, const struct words *words)
{
    return h->at.kind == AT_RULE && !h->at.part && h->often == OFTEN_ALWAYS && row_sounds(h) &&
           !heard_how(h, words, "silent");
}

/* Is it known that quarters are chimed, though no row speaks of them? */
static bool chimes_unheard(const struct sheet *s)
{
    for (size_t i = 0; i < s->heards; i++)
        if (s->heard[i].chime || row_is_quarter(&s->heard[i].at))
            return false;
    for (size_t i = 0; i < words_count(s->words, WORD_HINT) && i < SHEET_HINTS; i++) {
        const struct word *w = words_at(s->words, WORD_HINT, i);
        int value = s->hint[i];
        if (value >= 0 && (size_t)value < w->values && !strcmp(w->id, "chime"))
            return strcmp(w->value[value], "none") != 0 && strcmp(w->value[value], "cuckoo") != 0 &&
                   strcmp(w->value[value], "shipbell") != 0;
    }
    return false;
}

/* "All strokes sound dull; the count is right": the hours are right and dull, no other let-offs are spoken of. */
static void settle_manner(struct sheet *s, bool *others)
{
    bool hours = false;
    for (size_t j = 0; j < s->heards; j++)
        hours = hours || (takes_manner(&s->heard[j], s->words) && !others[j] &&
                          s->heard[j].at.rule == RULE_HOUR);
    for (size_t i = s->heards; hours && !chimes_unheard(s) && i-- > 0;) {
        if (!is_manner_only(&s->heard[i], s->words))
            continue;
        for (size_t j = 0; j < s->heards; j++)
            for (size_t k = 0; k < WORDS_PER_KIND / 64; k++)
                if (j != i && !others[j] && takes_manner(&s->heard[j], s->words))
                    s->heard[j].how.bits[k] |= s->heard[i].how.bits[k];
        remove_row(s, others, i);
    }
}

/* ---- how often ---- */

static bool tells_otherwise(const struct heard *a, const struct heard *b)
{
    return (a->strike && b->strike && !rows_strike_fits(a, b)) ||
           (a->chime && b->chime && a->chime != b->chime);
}

/* "It is right, but sometimes it misses": right mostly. */
static void settle_often(struct sheet *s)
{
    for (size_t i = 0; i < s->heards; i++)
        for (size_t j = 0; j < s->heards; j++) {
            struct heard *h = &s->heard[i];
            const struct heard *other = &s->heard[j];
            if (h->often == OFTEN_ALWAYS && other->often == OFTEN_SOMETIMES &&
                h->at.kind == AT_RULE && at_same(&h->at, &other->at) && tells_otherwise(h, other))
                h->often = OFTEN_MOSTLY;
        }
}

static bool only_lasting(const struct heard *h, const struct words *words)
{
    if (word_set_empty(&h->how))
        return false;
    for (int i = word_set_next(&h->how, -1); i >= 0; i = word_set_next(&h->how, i))
        if (!words_at(words, WORD_HOW, (size_t)i)->lasting)
            return false;
    return true;
}

/* "There is no sound from the bird": who names no time says what a part is like, and so it is whenever it is due. */
static void settle_timeless(struct sheet *s)
{
    for (size_t i = 0; i < s->heards; i++) {
        struct heard *h = &s->heard[i];
        bool plain = h->at.kind == AT_UNKNOWN && h->often == OFTEN_ALWAYS && !h->has_for && !*h->notes && !h->orders &&
                     h->phrases < 0 && !h->values && !h->quarter_shift && !h->hammers && h->stopped == STOPPED_NOTHING &&
                     h->strike == HEARD_STRIKE_UNSAID && h->chime == HEARD_CHIME_UNSAID;
        if (plain && only_lasting(h, s->words)) {
            h->at.kind = AT_RULE;
            h->at.rule = RULE_ANY;
        }
    }
}

void rows_settle(struct sheet *s, bool *others)
{
    settle_doubles(s, others);
    settle_twins(s, others);
    except_the_named(s, others);
    settle_rules(s, others);
    except_the_wrong(s);
    settle_silence(s);
    settle_manner(s, others);
    settle_often(s);
    settle_timeless(s);
}
