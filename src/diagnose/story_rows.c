#include "diagnose/story_rows.h"

#include <string.h>

#include "diagnose/sheet_priv.h"

/* ---- do they fit? ---- */

bool rows_strike_fits(const struct heard *row, const struct heard *more)
{
    if (!row->strike || !more->strike)
        return true;
    return row->strike == more->strike && row->values == more->values &&
           row->mostly == more->mostly &&
           !memcmp(row->value, more->value, row->values * sizeof *row->value);
}

bool row_says_already(const struct heard *row, const struct heard *h)
{
    struct word_set more = word_set_less(&h->how, &row->how);
    return (!h->strike || (row->strike && rows_strike_fits(row, h))) &&
           (!h->chime || h->chime == row->chime) && (!h->stopped || h->stopped == row->stopped) &&
           h->quarter == row->quarter && word_set_empty(&more);
}

/* "at any let-off" is what is said of a habit; a more exact time may take its place. */
bool row_is_vague(const struct sheet_at *at)
{
    return at->kind == AT_UNKNOWN || (at->kind == AT_RULE && at->rule == RULE_ANY && !at->part);
}

/* Could what is usual at `row` be meant of the time `at`?  Hours are no quarters. */
bool rows_time_fits(const struct sheet_at *row, const struct sheet_at *at)
{
    return row->kind != AT_RULE || at->kind != AT_RULE || row->rule == at->rule ||
           row->rule == RULE_ANY || (row->rule == RULE_HOUR && at->rule == RULE_OTHER_HOUR);
}

/* Told by one of the two only, or the same by both. */
static bool told_same(unsigned row, unsigned more)
{
    return !row || !more || row == more;
}

bool row_sounds(const struct heard *h)
{
    return (h->strike && h->strike != HEARD_STRIKE_NONE && h->strike != HEARD_STRIKE_UNNOTICED) ||
           (h->chime && h->chime != HEARD_CHIME_NONE && h->chime != HEARD_CHIME_UNNOTICED) ||
           h->quarter || h->quarter_shift || h->phrases > 0 || *h->notes;
}

bool row_is_quarter(const struct sheet_at *at)
{
    return (at->kind == AT_RULE && at->rule == RULE_QUARTER) ||
           (at->kind == AT_MINUTE && (at->min == 15 || at->min == 45));
}

static bool is_part_of_hours(const struct sheet_at *at)
{
    return at->kind == AT_RULE && at->rule == RULE_HOUR && at->part && at->min % 60 == 0 &&
           at->end_min % 60 == 0;
}

bool row_is_whole_of(const struct sheet_at *at, const struct sheet_at *part)
{
    return at->kind == AT_RULE && at->rule == RULE_HOUR && !at->part && is_part_of_hours(part);
}

bool rows_onward(const struct sheet *s, struct sheet_at *at)
{
    const struct sheet_at *first = NULL, *last = NULL;
    for (size_t i = 0; i < s->heards; i++)
        if (is_part_of_hours(&s->heard[i].at)) {
            first = first ? first : &s->heard[i].at;
            last = &s->heard[i].at;
        }
    if (!first || (last->end_min + 60) % 720 == first->min % 720)
        return false;
    *at = *last;
    at->known24 = false;
    at->min = (last->end_min + 60) % 720;
    at->end_min = (first->min + 660) % 720;
    return true;
}

static bool is_silent(const struct heard *h, const struct words *words)
{
    return h->strike == HEARD_STRIKE_NONE || heard_how(h, words, "silent");
}

/* How it sounded, so that it did sound.  A click or a whirr may come instead. */
static bool says_how(const struct heard *h, const struct words *words)
{
    static const char *const how[] = {"loud", "soft", "slow",  "fast",    "dull",  "uneven",
                                      "buzz", "thud", "tinny", "cracked", "double"};
    for (size_t i = 0; i < sizeof how / sizeof *how; i++)
        if (heard_how(h, words, how[i]))
            return true;
    return false;
}

/* Silence of the one and sound of the other. */
static bool silence_clashes(const struct heard *row, const struct heard *more,
                            const struct words *words)
{
    if (row_is_quarter(&row->at) && row->chime == HEARD_CHIME_NONE && more->strike && row_sounds(more))
        return true; /* "no quarters, only the hours, and they are right" */
    return (is_silent(row, words) && (row_sounds(more) || says_how(more, words))) ||
           (is_silent(more, words) && (row_sounds(row) || says_how(row, words)));
}

/* Does `more` tell nothing that the row tells otherwise? */
bool row_adds_to(const struct heard *row, const struct heard *more, bool timed,
                 const struct words *words)
{
    bool same_time = row_is_vague(&more->at) || row_is_vague(&row->at) ||
                     at_same(&more->at, &row->at) || (timed && rows_time_fits(&row->at, &more->at));
    bool other_matter = !timed && ((more->stopped && (row->strike || row->chime)) ||
                                   (row->stopped && (more->strike || more->chime)));
    return same_time && !other_matter && !silence_clashes(row, more, words) &&
           rows_strike_fits(row, more) && told_same(row->chime, more->chime) &&
           !(*row->notes && *more->notes) && told_same(row->stopped, more->stopped) &&
           !(row->has_for && more->has_for) && !(row->phrases >= 0 && more->phrases >= 0) &&
           !((row->quarter || row->quarter_shift) && (more->quarter || more->quarter_shift)) &&
           !(row->orders && more->orders) && told_same(row->hammers, more->hammers);
}

/* ---- one row of two ---- */

static void merge_strike(struct heard *row, const struct heard *more)
{
    bool of_chime = row->chime == HEARD_CHIME_RUNS_ON && more->strike == HEARD_STRIKE_RUNS_ON;
    if (!more->strike || (of_chime && !row->strike)) /* "the chime runs on until ..." */
        return;
    row->strike = more->strike;
    row->values = more->values;
    row->mostly = more->mostly;
    memcpy(row->value, more->value, sizeof row->value);
}

static void merge_lists(struct heard *row, const struct heard *more)
{
    for (size_t i = 0; i < WORDS_PER_KIND / 64; i++)
        row->how.bits[i] |= more->how.bits[i];
    if (more->orders) {
        memcpy(row->order, more->order, sizeof row->order);
        row->orders = more->orders;
    }
    for (size_t i = 0; i < more->excepts && row->at.kind == AT_RULE; i++)
        if (row->excepts < SHEET_EXCEPT)
            row->except[row->excepts++] = more->except[i];
}

void row_merge(struct heard *row, const struct heard *more, bool timed)
{
    if (!timed && row_is_vague(&row->at) && more->at.kind != AT_UNKNOWN)
        row->at = more->at;
    merge_strike(row, more);
    merge_lists(row, more);
    row->chime = more->chime ? more->chime : row->chime;
    if (*more->notes)
        strcpy(row->notes, more->notes);
    row->phrases = more->phrases >= 0 ? more->phrases : row->phrases;
    row->quarter = more->quarter ? more->quarter : row->quarter;
    row->quarter_shift = more->quarter_shift ? more->quarter_shift : row->quarter_shift;
    row->hammers = more->hammers ? more->hammers : row->hammers;
    row->stopped = more->stopped ? more->stopped : row->stopped;
    row->freed_by = more->freed_by >= 0 ? more->freed_by : row->freed_by;
    row->train = more->train >= 0 ? more->train : row->train;
    row->often = more->often ? more->often : row->often;
    row->interval_s = more->interval_s > 0 ? more->interval_s : row->interval_s;
    row->pause_s = more->pause_s > 0 ? more->pause_s : row->pause_s;
    if (more->has_for) {
        row->has_for = true;
        row->due = more->due;
    }
}

/* What is said of quarters is said of the chime: "every quarter is right".  False if it is not such a
 * thing. */
bool row_say_of_chime(struct heard *h)
{
    static const enum heard_chime chime[] = {[HEARD_STRIKE_NONE] = HEARD_CHIME_NONE,
                                             [HEARD_STRIKE_RIGHT] = HEARD_CHIME_RIGHT,
                                             [HEARD_STRIKE_WRONG] = HEARD_CHIME_WRONG};
    if (h->chime || h->strike >= sizeof chime / sizeof *chime || !chime[h->strike])
        return false;
    h->chime = chime[h->strike];
    h->strike = HEARD_STRIKE_UNSAID;
    return true;
}

/* The time of a row is `at`.  What is early or late at some minute was due at its usual time. */
void row_put_time(struct heard *row, const struct sheet_at *at, const struct words *words)
{
    bool off = heard_how(row, words, "early") || heard_how(row, words, "late");
    if (off && !row->has_for && at->kind == AT_MINUTE && row->at.kind == AT_RULE) {
        row->has_for = true;
        row->due = row->at;
    }
    if (at->kind == AT_RULE && at->rule == RULE_QUARTER)
        row_say_of_chime(row);
    row->at = *at;
}
