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
#define BAR_REACH   6  /* words around a row where none of `but` may stand */
#define DENY_REACH  3  /* words between a negator and the first word of a row */
#define NOR_REACH   6  /* ... and where it goes on behind "or" */

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
    bool hears;
    struct element element[CLAUSE_PATTERNS];
    size_t now[CLAUSE_PATTERNS], best[CLAUSE_PATTERNS]; /* the place of each */
    size_t span, own;                                   /* of the best */
    bool found;
};

static bool is_spent(const struct placing *g, size_t from, size_t to)
{
    for (size_t i = from; i < to; i++)
        if (g->said->word[i].spent)
            return true;
    return false;
}

static void find_places(struct placing *g, const struct pattern *pattern, struct element *e)
{
    struct result r[PATTERN_RESULTS];
    e->places = 0;
    for (size_t at = g->from; at < g->to; at++) {
        size_t count = pattern_results(g->p, pattern, g->said, at, g->to, r);
        for (size_t i = 0; i < count && e->places < PLACES_MOST; i++)
            if (!r[i].filled.denied && !is_spent(g, at, r[i].end))
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
    return patterns_end(g->p, patterns, g->said, at, g->said->count) > at;
}

/* "Never dropped or | knocked", though the negator is used. */
static bool denial_goes_on(const struct placing *g, size_t negator, size_t first)
{
    for (size_t i = negator + 1; i < first && first <= negator + NOR_REACH; i++)
        if (phrases_listed(g->p->nors, g->said->word[i].text))
            return true;
    return false;
}

/* No negator and no word of what ought to be, was once or may be stands there beside the row's own
 * words. */
static bool is_plain(const struct placing *g, const size_t *which, size_t first, size_t end)
{
    for (size_t i = g->from; i < end; i++) {
        if (is_taken(g, which, i))
            continue;
        enum standing standing = phrases_stands(g->p, g->said, i, g->said->count);
        bool had = !strncmp(g->row->gives, "had ", 4), heard = *g->row->gives == '_';
        if (standing != STANDING_PLAIN && (standing != STANDING_COMING || had) &&
            (standing != STANDING_DOUBTFUL || !heard))
            return false;
        bool denies = phrases_negates(g->p, &g->said->word[i]);
        if (denies && ((i + DENY_REACH >= first && !g->used[i]) || denial_goes_on(g, i, first)))
            return false;
    }
    return true;
}

/* Words around the row, as far as its statement goes: "the hand is loose | and then it does not strike". */
static void look_around(const struct placing *g, size_t first, size_t end, size_t *from, size_t *to)
{
    *from = first > g->from + BAR_REACH ? first - BAR_REACH : g->from;
    *to = end + BAR_REACH < g->to ? end + BAR_REACH : g->to;
    for (size_t i = end; i < *to; i++)
        if (phrases_begins_anew(g->p, g->said, i))
            *to = i;
}

/* Does a pattern of `but` stand among the words of the row, or near them?  A row of one pattern
 * knows too little: it must not stand anywhere in the clause, of what was heard in the sentence. */
static bool is_barred(const struct placing *g, size_t first, size_t end)
{
    size_t from, to;
    look_around(g, first, end, &from, &to);
    if (g->row->all.count == 1) {
        bool heard = *g->row->gives == '_';
        from = heard ? said_sentence(g->said, first) : g->from;
        to = heard ? said_sentence_end(g->said, first) : g->to;
    }
    for (size_t at = from; at < to; at++)
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

/* "No" before a word is no of that word: "no space to speak of" is not "no" and "speak". */
static bool binds_right(const struct placing *g)
{
    for (size_t i = 0; i < g->row->all.count; i++) {
        size_t next = place_of(g, g->now, i)->end;
        const struct said_word *w = &g->said->word[next - 1];
        if (!phrases_listed(g->p->binders, w->text) && w->number != 0)
            continue;
        while (next < g->to && phrases_filler(g->p, &g->said->word[next]) &&
               !is_taken(g, g->now, next))
            next++;
        if (next == g->to || !is_taken(g, g->now, next))
            return false;
    }
    return true;
}

/* A negator that a phrase has taken is good for what stands behind it only: in "starts to strike, does not
 * end" the start is not denied. */
static bool is_spent_no(const struct placing *g, size_t end)
{
    for (size_t i = 0; i < g->row->all.count; i++) {
        const struct place *at = place_of(g, g->now, i);
        if (g->used[at->at] && phrases_negates(g->p, &g->said->word[at->at]) && at->end == end &&
            at->end == at->at + 1)
            return true;
    }
    return false;
}

/* It was so once (history stays), or is asked. */
static bool is_over(const struct placing *g, size_t first, size_t end)
{
    enum standing standing = phrases_standing(g->p, g->said, first, end);
    return standing == STANDING_ELSEWHERE ||
           (standing == STANDING_FORMER && strncmp(g->row->gives, "had ", 4) != 0);
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
    if (!news || !better || is_spent_no(g, end) || !is_close(g, first, end) || !binds_right(g) ||
        !is_plain(g, g->now, first, end) || is_barred(g, first, end) || is_over(g, first, end) ||
        (own == 1 && strncmp(g->row->gives, "hint ", 5) != 0 &&
         !phrases_is_sure(g->p, g->said, g->used, g->from, g->to, first, end)) ||
        !(g->hears || phrases_says_enough(g->p, g->said, first, end, own, g->row->gives)))
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
                          const bool *used, bool wide, bool hears, struct clause_match *match)
{
    struct placing *g = mem_alloc(sizeof *g);
    size_t own = 0, span = 0;
    bool found = false;
    g->p = p, g->said = s, g->used = used, g->from = from, g->hears = hears;
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
