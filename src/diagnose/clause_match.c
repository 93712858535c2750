/* Several patterns of one row in one clause, in any order (phrases_priv.h).
 *
 * A stranger's clause names the same things as ours in another order and with other words between:
 * "the weight on the left has not moved an inch", "left weight still up, will not budge".  A row
 * lists what must be there; each of its patterns is looked for at every word, and of all ways to
 * place them without two on one word the narrowest is taken. */
#include "diagnose/phrases_priv.h"

#include <string.h>

#include "mem.h"

#define PLACES_MOST 12 /* of one pattern in one clause */
#define GAP_MOST    5  /* words between two of a row that stand next to each other */
#define BAR_REACH   4  /* words around a row where none of `but` may stand */
#define DENY_REACH  3  /* words between a negator and the first word of a row */

struct place {
    size_t at, end, own;
    struct filled filled;
};
struct element {
    struct place place[PLACES_MOST];
    size_t places;
};
struct placing {
    const struct phrases *p;
    const struct clause_row *row;
    const struct said *said;
    const bool *used;
    size_t from, to;
    struct element element[CLAUSE_PATTERNS];
    size_t now[CLAUSE_PATTERNS], best[CLAUSE_PATTERNS]; /* the place of each */
    size_t span, own;                                   /* of the best */
    bool found;
};

static void find_places(struct placing *g, const struct pattern *pattern, struct element *e)
{
    struct result r[PATTERN_RESULTS];
    e->places = 0;
    for (size_t at = g->from; at < g->to; at++) {
        size_t count = pattern_results(g->p, pattern, g->said, at, g->to, r);
        for (size_t i = 0; i < count && e->places < PLACES_MOST; i++)
            if (!r[i].filled.denied)
                e->place[e->places++] = (struct place){at, r[i].end, r[i].own, r[i].filled};
    }
}

static bool has_news(const struct placing *g, const struct place *at)
{
    bool news = false;
    for (size_t i = at->at; i < at->end; i++) {
        if (g->used[i])
            return false;
        news = news ||
               !(phrases_filler(g->p, &g->said->word[i]) || phrases_noun(g->p, &g->said->word[i]));
    }
    return news;
}

static const struct place *place_of(const struct placing *g, const size_t *which, size_t i)
{
    return &g->element[i].place[which[i]];
}

static bool is_taken(const struct placing *g, const size_t *which, size_t word)
{
    for (size_t i = 0; i < g->row->all.count; i++)
        if (word >= place_of(g, which, i)->at && word < place_of(g, which, i)->end)
            return true;
    return false;
}

static bool stands_at(const struct placing *g, const struct patterns *patterns, size_t at)
{
    struct result r[PATTERN_RESULTS];
    for (size_t i = 0; i < patterns->count; i++)
        if (pattern_results(g->p, &patterns->at[i], g->said, at, g->to, r))
            return true;
    return false;
}

/* No negator and no word of what ought to be stands there beside the row's own words. */
static bool is_plain(const struct placing *g, const size_t *which, size_t first, size_t end)
{
    for (size_t i = g->from; i < end; i++) {
        if (is_taken(g, which, i))
            continue;
        if (stands_at(g, &g->p->unreal, i))
            return false;
        if (i + DENY_REACH >= first && !g->used[i] && phrases_negates(g->p, &g->said->word[i]))
            return false;
    }
    return true;
}

/* Does a pattern of `but` stand among the words of the row, or near them?  A row of one pattern knows
 * too little: it must not stand anywhere in the clause. */
static bool is_barred(const struct placing *g, size_t first, size_t end)
{
    size_t reach = g->row->all.count > 1 ? BAR_REACH : CLAUSE_WORDS;
    size_t from = first > g->from + reach ? first - reach : g->from;
    for (size_t at = from; at < g->to && at < end + reach; at++)
        if (stands_at(g, &g->row->but, at))
            return true;
    return false;
}

static bool is_close(const struct placing *g, size_t first, size_t end)
{
    size_t gap = 0;
    for (size_t i = first; i < end; i++) {
        gap = is_taken(g, g->now, i) ? 0 : gap + 1;
        if (gap > GAP_MOST)
            return false;
    }
    return true;
}

static void judge(struct placing *g)
{
    size_t first = SIZE_MAX, end = 0, own = 0;
    bool news = false;
    for (size_t i = 0; i < g->row->all.count; i++) {
        const struct place *at = place_of(g, g->now, i);
        first = at->at < first ? at->at : first;
        end = at->end > end ? at->end : end;
        own += at->own;
        news = news || has_news(g, at);
    }
    bool better = !g->found || own > g->own || (own == g->own && end - first < g->span);
    if (!news || !better || !is_close(g, first, end) || !is_plain(g, g->now, first, end) ||
        is_barred(g, first, end))
        return;
    g->found = true;
    g->own = own;
    g->span = end - first;
    memcpy(g->best, g->now, sizeof g->best);
}

static void place_next(struct placing *g, size_t i)
{
    if (i == g->row->all.count) {
        judge(g);
        return;
    }
    for (size_t k = 0; k < g->element[i].places; k++) {
        const struct place *at = &g->element[i].place[k];
        bool free = true;
        for (size_t j = 0; j < i && free; j++) {
            const struct place *other = place_of(g, g->now, j);
            free = at->end <= other->at || other->end <= at->at;
        }
        g->now[i] = k;
        if (free)
            place_next(g, i + 1);
    }
}

static bool place_row(struct placing *g)
{
    g->found = false;
    g->span = SIZE_MAX;
    g->own = 0;
    for (size_t i = 0; i < g->row->all.count; i++) {
        find_places(g, &g->row->all.at[i], &g->element[i]);
        if (!g->element[i].places)
            return false;
    }
    place_next(g, 0);
    return g->found;
}

static void take_slots(struct filled *into, const struct filled *from)
{
    for (int i = 0; i < SLOTS; i++)
        if (from->number[i] >= 0)
            into->number[i] = from->number[i];
    if (*from->list)
        strcpy(into->list, from->list);
    if (*from->notes)
        strcpy(into->notes, from->notes);
    for (int i = 0; i < 2; i++)
        if (*from->time[i])
            strcpy(into->time[i], from->time[i]);
}

static void write_clause(const struct placing *g, struct clause_match *m)
{
    struct filled filled = {0};
    struct text gives = {0};
    memset(filled.number, -1, sizeof filled.number);
    memset(m, 0, sizeof *m);
    m->first = SIZE_MAX;
    for (size_t i = 0; i < g->row->all.count; i++) {
        const struct place *at = place_of(g, g->best, i);
        take_slots(&filled, &at->filled);
        m->first = at->at < m->first ? at->at : m->first;
        m->end = at->end > m->end ? at->end : m->end;
        for (size_t k = at->at; k < at->end; k++)
            m->taken[k - g->from] = true;
    }
    m->own = g->own;
    m->say = g->row->say;
    phrases_fill(g->row->gives, &filled, &gives);
    snprintf(m->gives, sizeof m->gives, "%s", text_cstr(&gives));
    text_release(&gives);
}

bool phrases_match_clause(const struct phrases *p, const struct said *s, size_t from, size_t to,
                          const bool *used, bool wide, struct clause_match *match)
{
    struct placing *g = mem_alloc(sizeof *g);
    size_t own = 0, span = 0;
    bool found = false;
    g->p = p, g->said = s, g->used = used, g->from = from;
    g->to = to - from < CLAUSE_WORDS ? to : from + CLAUSE_WORDS;
    for (size_t i = 0; i < p->clauses; i++) {
        g->row = &p->clause[i];
        if ((wide && !g->row->wide) || !place_row(g) ||
            (found && (g->own < own || (g->own == own && g->span >= span))))
            continue;
        found = true;
        own = g->own;
        span = g->span;
        write_clause(g, match);
    }
    mem_free(g);
    return found;
}
