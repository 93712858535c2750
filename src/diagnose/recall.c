#include "diagnose/recall.h"

#include <math.h>
#include <string.h>
#include "diagnose/same_fact.h"
#include "diagnose/sheet_priv.h"
#include "mem.h"

struct recalled {
    bool filled;
    struct heard *row; /* without what is owned */
    size_t rows;
    struct word_set seen, seen_not, seen_asked;
    const struct words *words;
    struct ear_model ear;
    float **bound; /* by clock; NULL not looked at */
    size_t *count;
    unsigned long used;
};

struct recall {
    struct recalled kept[RECALL_KEPT];
    size_t clocks;
    unsigned long now;
};

struct recall *recall_new(size_t clocks)
{
    struct recall *r = mem_alloc(sizeof *r);
    r->clocks = clocks;
    return r;
}

static void forget(struct recall *r, struct recalled *k)
{
    for (size_t i = 0; k->bound && i < r->clocks; i++)
        mem_free(k->bound[i]);
    mem_free(k->bound);
    mem_free(k->count);
    mem_free(k->row);
    memset(k, 0, sizeof *k);
}

void recall_free(struct recall *r)
{
    for (size_t i = 0; r && i < RECALL_KEPT; i++)
        forget(r, &r->kept[i]);
    mem_free(r);
}

/* ---- which report bounds which ---- */

static bool tells_stand(const struct heard *h, size_t n)
{
    for (size_t i = 0; i < n; i++)
        if (h[i].stopped != STOPPED_NOTHING)
            return true;
    return false;
}

static bool tells_one(const struct heard *h, size_t n)
{
    for (size_t i = 0; i < n; i++)
        if (h[i].at.kind == AT_EXACT && h[i].stopped == STOPPED_NOTHING)
            return true;
    return false;
}

static bool tells_many(const struct heard *h, size_t n)
{
    for (size_t i = 0; i < n; i++)
        if (h[i].at.kind != AT_EXACT || h[i].stopped != STOPPED_NOTHING)
            return true;
    return false;
}

static bool led(const struct words *w, const struct heard *h, size_t n)
{
    for (size_t i = 0; i < n; i++)
        if (heard_how(&h[i], w, HOW_BY_HAND))
            return true;
    return false;
}

static bool within(const struct word_set *part, const struct word_set *whole)
{
    for (size_t i = 0; i < sizeof part->bits / sizeof part->bits[0]; i++)
        if (part->bits[i] & ~whole->bits[i])
            return false;
    return true;
}

/* Words that were told before are so still, and no word is taken for an answer that was not. */
static bool words_begin(const struct recalled *k, const struct sheet *s)
{
    for (size_t i = 0; i < sizeof s->seen.bits / sizeof s->seen.bits[0]; i++)
        if (k->seen.bits[i] & (k->seen_asked.bits[i] ^ s->seen_asked.bits[i]))
            return false;
    return within(&k->seen, &s->seen) && within(&k->seen_not, &s->seen_not);
}

/* A word that a further row says as well is weighed no more, so that the report has grown likelier. */
static bool says_again(const struct recalled *k, const struct sheet *s)
{
    for (int i = -1; (i = word_set_next(&k->seen, i)) >= 0;)
        if (same_fact_told(s, (size_t)i) &&
            !same_fact_in(k->row, k->rows, s->words, words_at(s->words, WORD_SEEN, (size_t)i)))
            return true;
    return false;
}

static bool rows_begin(const struct recalled *k, const struct sheet *s)
{
    for (size_t i = 0; i < k->rows; i++) {
        struct heard h = s->heard[i];
        h.said = NULL;
        if (!heard_same(&k->row[i], &h))
            return false;
    }
    return true;
}

static bool bounds(const struct recalled *k, const struct sheet *s, const struct ear_model *ear)
{
    if (!k->filled || k->words != s->words || k->rows > s->heards ||
        memcmp(&k->ear, ear, sizeof *ear) != 0 || !words_begin(k, s) || !rows_begin(k, s) ||
        says_again(k, s))
        return false;
    const struct heard *more = s->heard + k->rows;
    size_t n = s->heards - k->rows;
    if (tells_stand(more, n) && !tells_stand(k->row, k->rows))
        return false;
    if (tells_one(more, n) && !tells_one(k->row, k->rows))
        return false;
    return !(led(s->words, more, n) && tells_many(k->row, k->rows));
}

const struct recalled *recall_find(struct recall *r, const struct sheet *sheet,
                                   const struct ear_model *ear)
{
    struct recalled *best = NULL;
    size_t most = 0;
    for (size_t i = 0; i < RECALL_KEPT; i++) {
        struct recalled *k = &r->kept[i];
        if (!bounds(k, sheet, ear))
            continue;
        size_t length = 1 + k->rows + word_set_count(&k->seen) + word_set_count(&k->seen_not);
        if (length > most) {
            most = length;
            best = k;
        }
    }
    if (best)
        best->used = ++r->now;
    return best;
}

double recall_bound(const struct recalled *was, size_t clock, size_t variant)
{
    return was && was->bound[clock] && variant < was->count[clock]
               ? (double)was->bound[clock][variant]
               : 1;
}

/* ---- remembering ---- */

struct recalled *recall_begin(struct recall *r, const struct sheet *sheet,
                              const struct ear_model *ear, const struct recalled *keep)
{
    struct recalled *k = NULL;
    if (sheet->trieds || (!sheet->heards && word_set_empty(&sheet->seen)))
        return NULL;
    for (size_t i = 0; i < RECALL_KEPT; i++)
        if (&r->kept[i] != keep && (!k || r->kept[i].used < k->used))
            k = &r->kept[i];
    forget(r, k);
    k->filled = true;
    k->used = ++r->now;
    k->words = sheet->words;
    k->ear = *ear;
    k->seen = sheet->seen;
    k->seen_not = sheet->seen_not;
    k->seen_asked = sheet->seen_asked;
    k->rows = sheet->heards;
    k->row = mem_alloc((k->rows + 1) * sizeof *k->row);
    for (size_t i = 0; i < k->rows; i++) {
        k->row[i] = sheet->heard[i];
        k->row[i].said = NULL;
    }
    k->bound = mem_alloc((r->clocks + 1) * sizeof *k->bound);
    k->count = mem_alloc((r->clocks + 1) * sizeof *k->count);
    return k;
}

float *recall_bounds(struct recalled *of, size_t clock, size_t variants)
{
    if (!of)
        return NULL;
    mem_free(of->bound[clock]);
    of->bound[clock] = mem_alloc((variants + 1) * sizeof *of->bound[clock]);
    of->count[clock] = variants;
    for (size_t i = 0; i < variants; i++)
        of->bound[clock][i] = 1;
    return of->bound[clock];
}

void recall_set(float *bound, double chance)
{
    *bound = chance >= 1 ? 1 : nextafterf((float)chance, 2);
}
