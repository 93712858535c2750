#include "listen/dull.h"

#include <math.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

#include "listen/ticking.h"
#include "mem.h"

#define KEEP_MOST     0.15f /* of its power is left a tenth of a second later */
#define SHARP_LEAST   0.6f
#define NOVELTY_LEAST 12.0f /* steady noise scatters up to about 5 */
#define FAINTER_MOST  10.0f /* dB, than the louder knocks: hammers fall alike */
#define STILL_S       5.0   /* knocks further apart are of two let-offs */
#define QUICKEST_S    0.4
#define SLOWEST_S     4.5
#define EVEN          0.15 /* how far an interval may differ from the one before it, */
#define EVEN_OF_TWO   0.07 /* ... if there are but two of them, which doors and steps have as well */
#define PACE          0.12 /* ... and a run from those of the same clock, */
#define PACE_OF_TWO   0.04 /* ... if it is but two */
#define ALIKE_DB      3.5f /* spread of the level within a run */
#define RUN_LEAST     3    /* knocks that make one: two may be anything ... */
#define ALL_LEAST     3    /* ... unless there are so many in all, */
#define ALL_ALIKE_DB  1.0f /* as loud as each other as only one hammer is */
#define RUN_MOST      24   /* no clock has so many blows due */
#define ASTRAY        3    /* of knocks in runs there must be so many for each one in none */
#define OTHERS_LEAST  3    /* ... and for each other sound as loud */
#define TICK_MOST_S   1.05
#define TICKS_LEAST   12
#define OVER_TICK_DB  4.0f

/* The knocks of a recording, in order; at[] are indices of its onsets. */
struct knocks {
    const struct attack *a;
    size_t *at;
    size_t count;
};

/* Knocks first..first+count-1, with nothing like them within STILL_S. */
struct run {
    size_t first, count;
    double interval_s; /* 0 for one alone */
    bool even;
};

static int by_size(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

static bool is_knock(const struct attack *a)
{
    return a->keep < KEEP_MOST && a->sharp > SHARP_LEAST && a->novelty > NOVELTY_LEAST;
}

/* Leave only those of at least this level. */
static void leave_louder(struct knocks *k, double least_db)
{
    size_t n = 0;
    for (size_t i = 0; i < k->count; i++)
        if (k->a[k->at[i]].level_db >= least_db)
            k->at[n++] = k->at[i];
    k->count = n;
}

/* Level that the given share of the knocks do not reach. */
static double level_at(const struct knocks *k, const bool *among, double share)
{
    double *level = mem_alloc((k->count + 1) * sizeof *level), at = 0;
    size_t n = 0;
    for (size_t i = 0; i < k->count; i++)
        if (!among || among[i])
            level[n++] = (double)k->a[k->at[i]].level_db;
    qsort(level, n, sizeof *level, by_size);
    at = n ? level[(size_t)(share * (double)(n - 1))] : -1000;
    mem_free(level);
    return at;
}

static double time_of(const struct knocks *k, size_t i)
{
    return k->a[k->at[i]].t_s;
}

/* A going train knocks all the while; only what stands above it can be more. */
static void leave_over_tick(struct knocks *k, double length_s)
{
    struct attack *a = mem_alloc((k->count + 1) * sizeof *a);
    float *on = mem_alloc((k->count + 1) * sizeof *on);
    bool *tick = mem_alloc(k->count + 1);
    size_t n = 0, first = 0, last = 0;
    for (size_t i = 0; i < k->count; i++)
        a[i] = k->a[k->at[i]];
    double every_s = ticking_period_s(a, k->count);
    ticking_mark(a, k->count, every_s, on);
    for (size_t i = 0; i < k->count; i++) {
        tick[i] = on[i] > 0.4f;
        first = tick[i] && n == 0 ? i : first;
        last = tick[i] ? i : last;
        n += tick[i];
    }
    bool going = n >= TICKS_LEAST && every_s < TICK_MOST_S && time_of(k, first) < 3 * every_s + 1 &&
                 time_of(k, last) > length_s - 3 * every_s - 1 &&
                 (double)n * every_s > 0.6 * (time_of(k, last) - time_of(k, first));
    if (going)
        leave_louder(k, level_at(k, tick, 0.5) + (double)OVER_TICK_DB);
    mem_free(a);
    mem_free(on);
    mem_free(tick);
}

/* Where there is talk, there are knocks of all kinds among it. */
static bool among_others(const struct knocks *k, size_t count, const uint8_t *use)
{
    double least_db = level_at(k, NULL, 0.5) - (double)FAINTER_MOST;
    size_t others = 0;
    for (size_t i = 0; i < count; i++)
        others += !use[i] && !is_knock(&k->a[i]) && k->a[i].novelty > NOVELTY_LEAST && k->a[i].level_db > least_db;
    return OTHERS_LEAST * others > k->count;
}

static void gather(struct knocks *k, size_t count, double length_s, const uint8_t *use)
{
    for (size_t i = 0; i < count; i++)
        if (!use[i] && is_knock(&k->a[i]))
            k->at[k->count++] = i;
    leave_louder(k, level_at(k, NULL, 0.75) - (double)FAINTER_MOST);
    leave_over_tick(k, length_s);
    leave_louder(k, level_at(k, NULL, 0.75) - (double)FAINTER_MOST);
}

/* ---- runs ---- */

static double interval_s(const struct knocks *k, const struct run *r, size_t i)
{
    return time_of(k, r->first + i + 1) - time_of(k, r->first + i);
}

/* Every interval like the one `back` before it. */
static bool repeats(const struct knocks *k, const struct run *r, size_t back)
{
    for (size_t i = 0; i + 1 < r->count; i++) {
        double now = interval_s(k, r, i);
        if (now < QUICKEST_S || now > SLOWEST_S)
            return false;
        if (i >= back && fabs(now / interval_s(k, r, i - back) - 1) >
                             (r->count > RUN_LEAST ? EVEN : EVEN_OF_TWO))
            return false;
    }
    return true;
}

static bool level_is_even(const struct knocks *k, const struct run *r, float within_db)
{
    double sum = 0, square = 0, n = (double)r->count;
    for (size_t i = 0; i < r->count; i++) {
        double db = (double)k->a[k->at[r->first + i]].level_db;
        sum += db;
        square += db * db;
    }
    return square / n - sum / n * (sum / n) < (double)(within_db * within_db);
}

static double median_interval_s(const struct knocks *k, const struct run *r)
{
    double d[RUN_MOST] = {0};
    size_t n = 0;
    for (size_t i = 0; i + 1 < r->count && n < RUN_MOST; i++)
        d[n++] = interval_s(k, r, i);
    qsort(d, n, sizeof *d, by_size);
    return n ? d[(n - 1) / 2] : 0;
}

static size_t divide(const struct knocks *k, struct run *run)
{
    size_t runs = 0;
    for (size_t i = 0; i < k->count; runs++) {
        struct run r = {.first = i, .count = 1};
        while (i + r.count < k->count && time_of(k, i + r.count) - time_of(k, i + r.count - 1) < STILL_S)
            r.count++;
        i += r.count;
        r.interval_s = median_interval_s(k, &r);
        r.even = r.count <= RUN_MOST && level_is_even(k, &r, ALIKE_DB) &&
                 (repeats(k, &r, 1) || (r.count > 3 && repeats(k, &r, 2)));
        run[runs] = r;
    }
    return runs;
}

static bool near_pace(double one_s, double other_s, double within)
{
    return one_s > 0 && fabs(one_s / other_s - 1) < within;
}

/* Of two blows that ring, one after the other, some come at such an interval. */
static bool rings_at(const struct attack *a, size_t count, const uint8_t *use, double pace_s, double within)
{
    double last_s = -1e9;
    for (size_t i = 0; i < count; i++) {
        if (use[i] && near_pace(a[i].t_s - last_s, pace_s, within))
            return true;
        last_s = use[i] ? a[i].t_s : last_s;
    }
    return false;
}

/* Interval of the longest run that is one; 0 if that is no train's. */
static double pace_of_runs(const struct knocks *k, const struct run *run, size_t runs, size_t count,
                           const uint8_t *use)
{
    struct run all = {.count = k->count};
    bool rings = memchr(use, 1, count) != NULL;
    size_t best = runs;
    for (size_t i = 0; i < runs; i++)
        if (run[i].even && run[i].count > 1 && (best == runs || run[i].count > run[best].count))
            best = i;
    if (best == runs)
        return 0;
    bool two = run[best].count < RUN_LEAST;
    bool good = rings ? rings_at(k->a, count, use, run[best].interval_s, two ? PACE_OF_TWO : PACE)
                      : !two || (runs > 1 && k->count >= ALL_LEAST && level_is_even(k, &all, ALL_ALIKE_DB));
    return good ? run[best].interval_s : 0;
}

static bool belongs(const struct run *r, double pace_s)
{
    return r->count == 1 || (r->even && near_pace(r->interval_s, pace_s, PACE));
}

static size_t mark(const struct knocks *k, const struct run *run, size_t runs, double pace_s, uint8_t *dull)
{
    size_t in = 0, astray = 0;
    for (size_t i = 0; i < runs; i++)
        *(belongs(&run[i], pace_s) ? &in : &astray) += run[i].count;
    if (in < ASTRAY * astray)
        return 0;
    for (size_t i = 0; i < runs; i++)
        for (size_t j = 0; j < run[i].count && belongs(&run[i], pace_s); j++)
            dull[k->at[run[i].first + j]] = 1;
    return in;
}

size_t dull_mark(const struct attack *a, size_t count, double length_s, const uint8_t *use, uint8_t *dull)
{
    struct knocks k = {.a = a};
    k.at = mem_alloc((count + 1) * sizeof *k.at);
    memset(dull, 0, count);
    gather(&k, count, length_s, use);
    struct run *run = mem_alloc((k.count + 1) * sizeof *run);
    size_t runs = divide(&k, run);
    double pace_s = among_others(&k, count, use) ? 0 : pace_of_runs(&k, run, runs, count, use);
    size_t marked = pace_s > 0 ? mark(&k, run, runs, pace_s, dull) : 0;
    mem_free(run);
    mem_free(k.at);
    return marked;
}
