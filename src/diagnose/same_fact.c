#include "diagnose/same_fact.h"

#include <string.h>

/* The let-off that a row speaks of; of a list of exceptions only `hour` and the like count. */
static const struct sheet_at *meant(const struct heard *h)
{
    return h->has_for ? &h->due : &h->at;
}

static bool of_minute(const struct heard *h, int minute)
{
    const struct sheet_at *at = meant(h);
    if (at->kind == AT_UNKNOWN || at->kind == AT_WINDOW)
        return false;
    if (at->kind == AT_EXACT || at->kind == AT_MINUTE)
        return at->min % 60 == minute;
    return heard_covers(h, minute, 720) || heard_covers(h, 360 + minute, 720);
}

static bool of_hours(const struct heard *h)
{
    return of_minute(h, 0);
}

static bool of_quarters(const struct heard *h)
{
    return of_minute(h, 15) || of_minute(h, 30) || of_minute(h, 45);
}

/* Said of all let-offs of the kind, not of some. */
static bool of_all(const struct heard *h)
{
    const struct sheet_at *at = meant(h);
    return at->kind == AT_RULE && !at->part && !h->excepts && h->often == OFTEN_ALWAYS;
}

static bool says_hours_wrong(const struct heard *h)
{
    if (!of_hours(h))
        return false;
    switch (h->strike) {
    case HEARD_STRIKE_WRONG:
    case HEARD_STRIKE_SAME_ERROR:
        return true;
    case HEARD_STRIKE_ERROR:
        return h->value[0] != 0;
    case HEARD_STRIKE_COUNT: /* one count is not right at every hour */
        return meant(h)->kind != AT_EXACT || h->value[0] != (meant(h)->min / 60 + 11) % 12 + 1;
    default:
        return false;
    }
}

static bool says_hours_right(const struct heard *h)
{
    return of_hours(h) && of_all(h) &&
           (h->strike == HEARD_STRIKE_RIGHT || (h->strike == HEARD_STRIKE_ERROR && !h->value[0]));
}

static bool says_quarters_wrong(const struct heard *h)
{
    return of_quarters(h) && h->chime == HEARD_CHIME_WRONG && !h->chime_also;
}

static bool says_quarters_right(const struct heard *h)
{
    return of_quarters(h) && of_all(h) && h->chime == HEARD_CHIME_RIGHT && !h->chime_also;
}

static bool says_hours_at_half(const struct heard *h)
{
    return of_minute(h, 30) && (h->strike == HEARD_STRIKE_HOURS ||
                                (h->strike == HEARD_STRIKE_COUNT && h->value[0] > 1));
}

static bool says_half_on_hour(const struct heard *h)
{
    bool one = meant(h)->kind == AT_EXACT && meant(h)->min % 720 == 60; /* where one is due */
    return of_hours(h) && h->strike == HEARD_STRIKE_COUNT && h->value[0] == 1 && !one;
}

static bool says_behind(const struct heard *h)
{
    return of_hours(h) && of_all(h) && h->strike == HEARD_STRIKE_ERROR && h->value[0] < 0;
}

static bool says_ahead(const struct heard *h)
{
    return of_hours(h) && of_all(h) && h->strike == HEARD_STRIKE_ERROR && h->value[0] > 0;
}

static bool says_in_order(const struct heard *h)
{
    return of_hours(h) && of_all(h) && h->strike == HEARD_STRIKE_SAME_ERROR;
}

static bool says_clock_stops(const struct heard *h)
{
    return h->stopped == STOPPED_CLOCK || h->stopped_also >> STOPPED_CLOCK & 1;
}

static bool says_hands_stall(const struct heard *h)
{
    return h->stopped == STOPPED_HANDS || h->stopped_also >> STOPPED_HANDS & 1;
}

static const struct {
    const char *seen;
    bool (*says)(const struct heard *h);
} rows[] = {
    {"hour_count_wrong", says_hours_wrong},  {"hour_count_right", says_hours_right},
    {"quarters_wrong", says_quarters_wrong}, {"quarters_right", says_quarters_right},
    {"hours_at_half", says_hours_at_half},   {"half_hour_on_hour", says_half_on_hour},
    {"count_behind", says_behind},           {"count_ahead", says_ahead},
    {"count_in_order", says_in_order},       {"clock_stops", says_clock_stops},
    {"hands_stall", says_hands_stall},
};

bool same_fact_in(const struct heard *row, size_t count, const struct words *w,
                  const struct word *seen)
{
    bool (*says)(const struct heard *h) = NULL;
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++)
        if (!strcmp(rows[i].seen, seen->id))
            says = rows[i].says;
    for (size_t i = 0; i < count; i++) {
        if (row[i].often == OFTEN_MAYBE)
            continue;
        if ((says && says(&row[i])) || (seen->told_bys && heard_how(&row[i], w, seen->told_by[0])))
            return true;
    }
    return false;
}

bool same_fact_told(const struct sheet *s, size_t seen)
{
    return !word_set_has(&s->seen_asked, (int)seen) &&
           same_fact_in(s->heard, s->heards, s->words, words_at(s->words, WORD_SEEN, seen));
}
