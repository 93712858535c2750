#include "diagnose/story_facts.h"

#include <string.h>

#include "diagnose/sheet_priv.h"

/* Words the sheet has the other way round clash; those it has already say nothing new. */
static bool join_sets(struct word_set *to, const struct word_set *more,
                      const struct word_set *other)
{
    bool good = true;
    for (size_t i = 0; i < WORDS_PER_KIND / 64; i++) {
        good = good && !(more->bits[i] & other->bits[i]);
        to->bits[i] |= more->bits[i] & ~other->bits[i];
    }
    return good;
}

/* Does what is told now say more exactly what was said: "a wall clock, in fact a cuckoo"? */
static bool narrows_hint(const struct phrases *p, const struct sheet *to, const struct sheet *more,
                         size_t i)
{
    const struct word *w = words_at(phrases_words(p), WORD_HINT, i);
    int was = to->hint[i], is = more->hint[i];
    return w && was >= 0 && is >= 0 && (size_t)was < w->values && (size_t)is < w->values &&
           phrases_narrow(p, w->value[is], w->value[was]);
}

static bool join_hints(const struct phrases *p, struct sheet *to, const struct sheet *more)
{
    bool good = true;
    for (size_t i = 0; i < SHEET_HINTS; i++) {
        if (more->hint[i] == HINT_UNSAID)
            continue;
        bool narrows = narrows_hint(p, to, more, i);
        good = good && (to->hint[i] == HINT_UNSAID || to->hint[i] == more->hint[i] || narrows);
        if (to->hint[i] == HINT_UNSAID || narrows)
            to->hint[i] = more->hint[i];
    }
    return good;
}

static bool join_tried(struct sheet *to, const struct sheet *more)
{
    for (size_t i = 0; i < more->trieds; i++) {
        struct tried *t = sheet_add_tried(to);
        if (!t)
            return false;
        *t = more->tried[i]; /* shorthand gives no `said`, so nothing is owned twice */
    }
    return true;
}

bool story_join_facts(const struct phrases *p, struct sheet *to,
                      const struct sheet *more, bool denied)
{
    static const struct word_set none;
    if (denied) {
        if (word_set_empty(&more->history) && word_set_empty(&more->seen))
            return false;
        bool good = join_sets(&to->history_not, &more->history, &to->history);
        return join_sets(&to->seen_not, &more->seen, &to->seen) && good;
    }
    bool good = join_sets(&to->history, &more->history, &to->history_not);
    good = join_sets(&to->history_not, &more->history_not, &to->history) && good;
    good = join_sets(&to->seen, &more->seen, &to->seen_not) && good;
    good = join_sets(&to->seen_not, &more->seen_not, &to->seen) && good;
    join_sets(&to->since_after, &more->since_after, &none);
    if (to->since_when < 0)
        to->since_when = more->since_when;
    if (to->years_since_oil < 0)
        to->years_since_oil = more->years_since_oil;
    if (to->hands_min < 0)
        to->hands_min = more->hands_min;
    if (!*to->clock)
        strcpy(to->clock, more->clock);
    good = join_tried(to, more) && good;
    return join_hints(p, to, more) && good;
}

/* ---- what words only hint at ---- */

static bool adds_to_sets(const struct word_set *more, const struct word_set *has,
                         const struct word_set *denies)
{
    for (size_t i = 0; i < WORDS_PER_KIND / 64; i++)
        if (more->bits[i] & ~has->bits[i] & ~denies->bits[i])
            return true;
    return false;
}

static bool tells_silence(const struct heard *h, const struct words *w)
{
    return h->strike == HEARD_STRIKE_NONE || h->chime == HEARD_CHIME_NONE ||
           heard_how(h, w, "silent");
}

static bool sounds_new(const struct sheet *sheet, const struct heard *h)
{
    bool silent = tells_silence(h, sheet->words);
    for (size_t i = 0; i < sheet->heards; i++) {
        const struct heard *row = &sheet->heard[i];
        struct word_set both = word_set_both(&row->how, &h->how);
        bool sound = row->strike || row->chime || tells_silence(row, sheet->words);
        if ((h->strike && row->strike) || (h->chime && row->chime) || !word_set_empty(&both) ||
            (silent && sound) || (h->stopped && row->stopped))
            return false;
    }
    return true;
}

bool story_tells_news(const struct sheet *sheet, const struct sheet *more)
{
    bool news = adds_to_sets(&more->history, &sheet->history, &sheet->history_not) ||
                adds_to_sets(&more->seen, &sheet->seen, &sheet->seen_not);
    for (size_t i = 0; i < more->heards; i++)
        news = news || sounds_new(sheet, &more->heard[i]);
    return news;
}
