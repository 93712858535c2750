#include "listen/judgement.h"

#include <math.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

#include "mem.h"

/* What the recording as a whole is like, to judge its onsets by. */
struct company {
    float loud_db; /* level of its louder onsets */
    float
        crowd; /* ln of the share of onsets that are plainly nothing: a room full of talk or not */
    float least; /* how sure an onset must be to be called a blow */
};

#define BARE_DB                                                                                    \
    11.0f /* a burst of noise has no partials; what scatters out of it is no clearer than that */

static float at_most(float x, float most)
{
    return x < most ? x : most;
}

#define ALONE 0.45f /* no likelier than that to any other: a sounder struck once, or no blow */

/* Whether an onset was a blow: ln odds as a sum of what was seen of it.  `likeness` is how much it
 * is like other blows of the same recording; speech never says the same thing twice, so in a crowd
 * an onset that stands alone is held against it.  The weights
 * were fitted (logistic regression) on made sounds with seeds kept apart from the tests. */
static float blow_odds(const struct attack *a, const struct company *c, float likeness)
{
    float keep = at_most(a->keep, 1), grows = at_most(a->keep > 1 ? logf(a->keep) : 0, 3);
    float below = at_most(c->loud_db > a->level_db ? c->loud_db - a->level_db : 0, 40);
    float alone = likeness < ALONE ? 1 : 0, like = likeness < ALONE ? ALONE : likeness,
          crowded = c->crowd + 2;
    const float seen[][2] = {
        {1, -14.76f},
        {at_most(a->snr_db, 30), 0.08f},
        {keep, 0.76f},
        {grows, -3.69f},
        {at_most(a->rise, 6), 1.26f},
        {below, -0.44f},
        {like, 10.9f},
        {c->crowd, 3.1f},
        {alone, 0.42f},
        {alone * c->crowd, -0.54f},
        {a->sharp, 3.35f},
        {a->steady, 5.01f},
        {a->tonality, 0.09f},
        {a->noise_share, 0.23f},
        {a->bright, 2.68f},
        {crowded * like, -6.8f},
        {crowded * a->steady, -3.34f},
        {crowded * a->sharp, -0.28f},
        {crowded * below, -0.02f},
        {crowded * at_most(a->snr_db, 30), 0.12f},
        {crowded * keep, 0.81f},
        {below > 12 ? below - 12 : 0, 0.44f},
        {a->snr_db < BARE_DB ? BARE_DB - a->snr_db : 0, -1.2f},
        {logf(a->novelty + 0.01f), 0.03f},
        {at_most(a->ring_s, 2), 0.47f},
    };
    float odds = 0;
    for (size_t i = 0; i < sizeof seen / sizeof seen[0]; i++)
        odds += seen[i][0] * seen[i][1];
    return odds;
}

static float chance_of(float odds)
{
    return 1 / (1 + expf(-odds));
}

static int by_size(const void *a, const void *b)
{
    float x = *(const float *)a, y = *(const float *)b;
    return (x > y) - (x < y);
}

static float upper_quartile(float *x, size_t count)
{
    qsort(x, count, sizeof *x, by_size);
    return count ? x[count - 1 - count / 4] : 0;
}

#define LEAST_SURE 0.5f
#define LEAST_ALONE                                                                                \
    0.1f /* where nothing but steady noise makes itself heard, even a drowned onset is a blow */
#define DROWNED_DB 13.0f
#define CLEAR_DB   21.0f

#define LOUDER_DB 10.0f /* a blow or two among many little noises say how loud a blow is */

static bool rings(const struct attack *a)
{
    return a->steady > 0.8f && a->tonality > 0.5f && a->keep > 0.2f && a->snr_db > 12;
}

static struct company company_of(const struct attack *a, size_t count)
{
    struct company c;
    size_t nothing = 0;
    float *x = mem_alloc((count + 1) * sizeof *x);
    for (size_t i = 0; i < count; i++)
        x[i] = a[i].keep > 0.1f ? a[i].level_db : a[i].level_db - 20;
    c.loud_db = upper_quartile(x, count);
    for (size_t i = 0; i < count; i++)
        if (rings(&a[i]) && a[i].level_db - LOUDER_DB > c.loud_db)
            c.loud_db = a[i].level_db - LOUDER_DB;
    for (size_t i = 0; i < count; i++)
        nothing += c.loud_db - a[i].level_db > 15 || a[i].keep < 0.05f;
    c.crowd = logf(((float)nothing + 0.5f) / ((float)count + 1));
    for (size_t i = 0; i < count; i++)
        x[i] = a[i].snr_db;
    float clear = (upper_quartile(x, count) - DROWNED_DB) / (CLEAR_DB - DROWNED_DB);
    clear = nothing * 20 > count || clear > 1 ? 1 : clear < 0 ? 0 : clear;
    c.least = LEAST_ALONE + clear * (LEAST_SURE - LEAST_ALONE);
    mem_free(x);
    return c;
}

#define RESCUE_LEAST 0.08f /* less likely than that is not looked at, however well it fits */
#define RESCUED      0.55f

static bool about(double x, double y)
{
    return fabs(x - y) < 0.12 * y;
}

/* The likeliest onset not reported that lies within `slack_s` of t_s becomes a blow. */
static void rescue_at(const struct attack *a, uint8_t *use, float *sure, size_t n, double t_s,
                      double slack_s)
{
    size_t best = n;
    for (size_t k = 0; k < n; k++)
        if (!use[k] && sure[k] > RESCUE_LEAST && fabs(a[k].t_s - t_s) < slack_s &&
            (best == n || sure[k] > sure[best]))
            best = k;
    if (best < n) {
        use[best] = 1;
        sure[best] = RESCUED;
    }
}

/* A dull or drowned blow betrays itself by the hole it leaves: where an interval is twice the one before or
 * after it, or where a steady run would go on by one, a doubtful onset was a blow after all. */
static void rescue(const struct attack *a, uint8_t *use, float *sure, size_t n)
{
    size_t *at = mem_alloc((n + 1) * sizeof *at), count = 0;
    for (size_t i = 0; i < n; i++)
        if (use[i])
            at[count++] = i;
    for (size_t i = 0; i + 1 < count; i++) {
        double hole = a[at[i + 1]].t_s - a[at[i]].t_s;
        double before = i > 0 ? a[at[i]].t_s - a[at[i - 1]].t_s : 0;
        double after = i + 2 < count ? a[at[i + 2]].t_s - a[at[i + 1]].t_s : 0;
        if (about(hole, 2 * before) || about(hole, 2 * after))
            rescue_at(a, use, sure, n, 0.5 * (a[at[i]].t_s + a[at[i + 1]].t_s), 0.06 * hole);
        else if (about(hole, before) && (after == 0 || after > 1.5 * hole))
            rescue_at(a, use, sure, n, a[at[i + 1]].t_s + hole, 0.06 * hole);
        else if (about(hole, after) && (before == 0 || before > 1.5 * hole))
            rescue_at(a, use, sure, n, a[at[i]].t_s - hole, 0.06 * hole);
    }
    mem_free(at);
}

#define RING_LEAST 0.04f /* of the power, 100 ms later: a tick has less, a muffled rod more */

/* What recurs and never rings is a tick or a knock, however well it stands out. */
static void leave_out_ticks(const struct attack *a, size_t count, const struct clustering *c, uint8_t *use, float *sure)
{
    float *keep = mem_alloc((count + 1) * sizeof *keep);
    uint8_t *at = mem_alloc(count + 1);
    for (size_t i = 0; i < count; i++)
        for (size_t k = 1; k < c->count; k++)
            at[i] = c->p[i][k] > c->p[i][at[i]] ? (uint8_t)k : at[i];
    for (size_t k = 0; k < c->count; k++) {
        size_t n = 0;
        for (size_t i = 0; i < count; i++)
            if (use[i] && at[i] == k)
                keep[n++] = a[i].keep;
        bool any = n < 2 || upper_quartile(keep, n) > RING_LEAST;
        for (size_t i = 0; i < count && !any; i++)
            if (at[i] == k && a[i].keep < RING_LEAST)
                use[i] = 0, sure[i] = 0;
    }
    mem_free(keep);
    mem_free(at);
}

void judge_blows(const struct attack *a, size_t n, struct clustering *clusters, uint8_t *use, float *sure)
{
    struct company c = company_of(a, n);
    for (size_t i = 0; i < n; i++)
        sure[i] = chance_of(blow_odds(&a[i], &c, 0.6f));
    for (int round = 0; round < 3; round++) {
        for (size_t i = 0; i < n; i++)
            use[i] = sure[i] > (round ? c.least : LEAST_SURE);
        cluster_learn(clusters, a, use, n);
        for (size_t i = 0; i < n; i++)
            sure[i] = chance_of(blow_odds(&a[i], &c, clusters->count ? clusters->likeness[i] : 0));
    }
    for (size_t i = 0; i < n; i++)
        use[i] = sure[i] > c.least;
    leave_out_ticks(a, n, clusters, use, sure);
    rescue(a, use, sure, n);
    cluster_learn(clusters, a, use, n);
    cluster_order(clusters, a);
}
