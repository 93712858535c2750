/* "Always wrong by the same number", which is not told.
 *
 * The errors that a dial knows are one to eleven too many; eleven too many is one too few at any
 * hour that has one fewer.  Before the report each is as likely as another, so
 *
 *     P(cause, report) = sum over errors e of  1/11  P(cause, report with e in place of "constant")
 *
 * and every term is a belief of its own.  What is left of an hour for the error goes on round the
 * dial: three too many at eleven is two.  What comes later and lays the rows along one hypothesis
 * (reasons, predictions) hears a wrong count at each let-off (ear.c). */
#include "diagnose/belief_priv.h"

#include <math.h>
#include <string.h>
#include "diagnose/same_fact.h"
#include "mem.h"

#define ERRORS      11
#define SHARE_LEAST 1e-4 /* what an error comes to below this is left out, and counted as omitted */

static bool of_same_error(const struct heard *h)
{
    return h->strike == HEARD_STRIKE_SAME_ERROR;
}

static bool tells_same_error(const struct sheet *s)
{
    for (size_t i = 0; i < s->heards; i++)
        if (of_same_error(&s->heard[i]))
            return true;
    return false;
}

/* The sheet with this error; its rows are in `row`, what they own stays the sheet's. */
static struct sheet with_error(const struct sheet *s, struct heard *row, int error)
{
    struct sheet with = *s;
    with.heard = row;
    for (size_t i = 0; i < s->heards; i++) {
        row[i] = s->heard[i];
        if (!of_same_error(&row[i]))
            continue;
        row[i].strike = HEARD_STRIKE_ERROR_SET;
        row[i].value[0] = error;
        row[i].value[1] = error - 12;
        row[i].values = 2;
    }
    for (size_t i = 0; i < words_count(s->words, WORD_SEEN); i++)
        if (word_set_has(&s->seen, (int)i) && same_fact_told(s, i))
            word_set_remove(&with.seen, (int)i);
    return with;
}

/* How much of all that the report may have come from is each error's; the log of all of it. */
static double shares_of(const struct belief *b, const bool *good, double *share)
{
    double most = -INFINITY, sum = 0;
    for (int e = 0; e < ERRORS; e++)
        most = good[e] ? fmax(most, b[e].evidence) : most;
    for (int e = 0; e < ERRORS; e++) {
        share[e] = good[e] && isfinite(most) ? exp(b[e].evidence - most) : 0;
        sum += share[e];
    }
    for (int e = 0; e < ERRORS && sum > 0; e++)
        share[e] /= sum;
    return sum > 0 ? most + log(sum / ERRORS) : -INFINITY;
}

static int likeliest(const double *share)
{
    int best = 0;
    for (int e = 1; e < ERRORS; e++)
        best = share[e] > share[best] ? e : best;
    return best;
}

/* The beliefs put together, the likeliest first; they are used up.  With pairs, which are good for a few
 * beliefs only, those that count are thought through once more and share the walks. */
static bool put_together(struct finder *f, const struct sheet *s, const struct belief_options *o,
                         struct belief *b, double *share, struct heard *row, struct belief *out)
{
    double taken = 0, left = 0;
    struct belief_options each = o ? *o : (struct belief_options){0};
    each.pair_walks = (each.pair_walks ? each.pair_walks : BELIEF_PAIR_WALKS) / BELIEF_PAIRED;
    for (int n = 0; n < ERRORS; n++) {
        int e = likeliest(share);
        double mine = share[e];
        struct belief one = b[e];
        memset(&b[e], 0, sizeof b[e]);
        share[e] = -1;
        bool counts = !n || (mine > SHARE_LEAST && !(o && o->pairs && n >= BELIEF_PAIRED));
        if (counts && o && o->pairs) {
            struct sheet with = with_error(s, row, e + 1);
            belief_release(&one);
            counts = belief_find_told(f, &with, &each, &one);
        }
        if (!n)
            *out = one;
        else if (counts)
            belief_mix(out, &one, mine / (taken + mine));
        taken += counts ? mine : 0;
        left += counts || mine < 0 ? 0 : mine;
        if (n)
            belief_release(&one);
    }
    out->omitted += left;
    return out->causes > 0;
}

static bool find_same_error(struct finder *f, const struct sheet *s,
                            const struct belief_options *options, struct belief *out)
{
    struct heard *row = mem_alloc(s->heards * sizeof *row);
    struct belief b[ERRORS];
    struct belief_options alone = options ? *options : (struct belief_options){0};
    bool good[ERRORS], any = false;
    double share[ERRORS];
    alone.pairs = false;
    memset(b, 0, sizeof b);
    memset(out, 0, sizeof *out);
    for (int e = 0; e < ERRORS; e++) {
        struct sheet with = with_error(s, row, e + 1);
        good[e] = belief_find_told(f, &with, &alone, &b[e]);
        any |= good[e];
    }
    double evidence = shares_of(b, good, share);
    if (any)
        any = put_together(f, s, options, b, share, row, out);
    out->evidence = evidence;
    mem_free(row);
    return any;
}

bool belief_find(struct finder *f, const struct sheet *sheet, const struct belief_options *options,
                 struct belief *out)
{
    return tells_same_error(sheet) ? find_same_error(f, sheet, options, out)
                                   : belief_find_told(f, sheet, options, out);
}
