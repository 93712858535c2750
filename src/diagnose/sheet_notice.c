#include "diagnose/sheet_notice.h"

#include <stdio.h>

#include "diagnose/ear.h"
#include "diagnose/sheet_priv.h"

struct noticing {
    const struct sheet *sheet;
    sheet_noticed *noticed;
    void *with;
};

static const struct sheet_at *meant(const struct heard *h)
{
    return h->has_for ? &h->due : &h->at;
}

static bool tells_tune(const struct heard *h)
{
    return (h->chime && h->chime != HEARD_CHIME_NONE) || h->notes[0] || h->phrases > 0 ||
           h->quarter || h->quarter_shift;
}

/* Silence, and a word of how it sounded: which train is that word of? */
static void silence_that_sounds(const struct noticing *n, const struct heard *h)
{
    bool strike = h->strike && h->strike != HEARD_STRIKE_NONE;
    if ((h->strike != HEARD_STRIKE_NONE && h->chime != HEARD_CHIME_NONE) || strike ||
        tells_tune(h) || !ear_tells_sound(h, n->sheet->words))
        return;
    n->noticed(n->with, h->line,
               "a row tells of silence and of how it sounded: say which of strike and chime was "
               "silent and what the other did");
}

static bool plain_strike(const struct heard *h)
{
    return h->strike == HEARD_STRIKE_COUNT || h->strike == HEARD_STRIKE_NONE ||
           h->strike == HEARD_STRIKE_RUNS_ON;
}

static bool strikes_clash(const struct heard *a, const struct heard *b)
{
    if (plain_strike(a) && plain_strike(b))
        return a->strike != b->strike ||
               (a->strike == HEARD_STRIKE_COUNT && a->value[0] != b->value[0]);
    return (a->strike == HEARD_STRIKE_RIGHT && b->strike == HEARD_STRIKE_WRONG) ||
           (a->strike == HEARD_STRIKE_WRONG && b->strike == HEARD_STRIKE_RIGHT);
}

static bool chimes_clash(const struct heard *a, const struct heard *b)
{
    if (!a->chime || !b->chime || a->chime_also || b->chime_also || a->chime == b->chime ||
        a->chime == HEARD_CHIME_UNNOTICED || b->chime == HEARD_CHIME_UNNOTICED)
        return false;
    return a->chime != HEARD_CHIME_SOME && b->chime != HEARD_CHIME_SOME;
}

/* Both are said of the same let-offs at all times. */
static bool same_letoff(const struct heard *a, const struct heard *b)
{
    const struct sheet_at *x = meant(a), *y = meant(b);
    bool day = a->year == b->year && a->month == b->month && a->day == b->day;
    return (x->kind == AT_EXACT || x->kind == AT_MINUTE || x->kind == AT_RULE) && at_same(x, y) &&
           day && a->often == OFTEN_ALWAYS && b->often == OFTEN_ALWAYS && !a->excepts &&
           !b->excepts && x->rule != RULE_OTHER_HOUR;
}

static void clashing_rows(const struct noticing *n, size_t later)
{
    const struct heard *b = &n->sheet->heard[later];
    for (size_t i = 0; i < later; i++) {
        const struct heard *a = &n->sheet->heard[i];
        struct text said = {0};
        if (!same_letoff(a, b) || !(strikes_clash(a, b) || chimes_clash(a, b)))
            continue;
        text_addf(&said, "rows %zu and %zu tell of the same let-off (", i + 1, later + 1);
        at_write_due(meant(b), &said);
        text_add(&said, ") and clash: leave one out, unless they are of different days; if it "
                        "varies, say {mostly:, sometimes:} in one row");
        n->noticed(n->with, b->line, text_cstr(&said));
        text_release(&said);
        return;
    }
}

void sheet_notice(const struct sheet *s, sheet_noticed *noticed, void *with)
{
    const struct noticing n = {s, noticed, with};
    for (size_t i = 0; i < s->heards; i++) {
        silence_that_sounds(&n, &s->heard[i]);
        clashing_rows(&n, i);
    }
    if (!s->heards && !s->trieds && word_set_empty(&s->seen) && word_set_empty(&s->seen_not))
        noticed(with, 0,
                "nothing that was heard, seen or tried is told: only the clock and its history "
                "speak");
}
