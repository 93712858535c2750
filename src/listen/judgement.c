#include "listen/judgement.h"

#include <math.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

#include "listen/dull.h"
#include "listen/judgement_weights.h"
#include "listen/ticking.h"
#include "mem.h"

/* What the recording as a whole is like, to judge its onsets by. */
struct company {
    float loud_db; /* level of its louder onsets */
    float top_db;  /* level of the loudest few that ring */
    float busy;    /* ln of onsets a second */
    float
        crowd; /* ln of the share of onsets that are plainly nothing: a room full of talk or not */
    float least; /* how sure an onset must be to be called a blow */
};

#define BARE_DB                                                                                    \
    11.0f /* a burst of noise has no partials; what scatters out of it is no clearer than that */
#define ALONE 0.45f /* no likelier than that to any other: a sounder struck once, or no blow */

/* How an onset stands among the others, as far as they are judged. */
struct place {
    float likeness;   /* to other blows of its sounder; 0 alone */
    float fainter_db; /* than its sounder's usual blow */
    float ticking;    /* keeps time with the tick, 0..1 */
    float hole;       /* fills a hole of two intervals in a run, 0..1 */
    float beat;       /* that, or goes on with a run beyond its end, 0..1 */
    float soon;       /* comes sooner after or before a blow than blows do there, 0..1 */
    float spread; /* ln of how many lines its spectrum is spread over: few a rod, many a voice */
    float row;   /* stands in a row of clear tones at one pace, whatever sounder each is on, 0..1 */
    float own;   /* ... in a row of its like, 0..1 */
    float known; /* ln of how many blows of the recording are like another, and one */
};

static float at_most(float x, float most)
{
    return x < most ? x : most;
}

#define GONE 0.06f /* of its power is left of what does not ring, a tenth of a second later */

/* What is seen of an onset, in numbers; speech never says the same thing twice, so in a crowd an onset that
 * stands alone is held against it. */
static void see(const struct attack *a, const struct company *c, const struct place *p,
                float seen[SIGHTS])
{
    float keep = at_most(a->keep, 1), grows = at_most(a->keep > 1 ? logf(a->keep) : 0, 3);
    float below = at_most(c->loud_db > a->level_db ? c->loud_db - a->level_db : 0, 40);
    float alone = p->likeness < ALONE ? 1 : 0, like = p->likeness < ALONE ? ALONE : p->likeness;
    float gone = a->keep < GONE ? 1 - a->keep / GONE : 0;
    float crowded = c->crowd + 2, snr = at_most(a->snr_db, 30), rise = at_most(a->rise, 6),
          under = at_most(c->top_db > a->level_db ? c->top_db - a->level_db : 0, 40),
          share = logf(a->share + 0.01f), news = logf(a->novelty + 0.01f);
    const float all[] = {
        1,
        snr,
        keep,
        grows,
        rise,
        below,
        like,
        c->crowd,
        alone,
        alone * c->crowd,
        a->sharp,
        a->steady,
        a->tonality,
        a->noise_share,
        a->bright,
        crowded * like,
        crowded * a->steady,
        crowded * a->sharp,
        crowded * below,
        crowded * snr,
        crowded * keep,
        below > 12 ? below - 12 : 0,
        a->snr_db < BARE_DB ? BARE_DB - a->snr_db : 0,
        news,
        at_most(a->ring_s, 2),
        share,
        crowded * share,
        p->fainter_db,
        p->ticking,
        p->ticking * share,
        p->ticking * p->fainter_db,
        p->beat,
        p->beat * crowded,
        p->beat * news,
        p->beat * a->sharp * rise,
        p->soon,
        p->soon * share,
        p->ticking * below,
        under,
        crowded * under,
        c->busy,
        c->busy * under,
        c->busy * like,
        c->busy * share,
        c->busy * p->beat,
        c->busy * p->fainter_db,
        gone,
        gone * p->beat,
        gone * p->likeness,
        p->beat * share,
        gone * a->sharp,
        under > 20 ? under - 20 : 0,
        (p->beat > 0.3f ? 1 : 0) * (under > 20 ? under - 20 : 0),
        p->ticking * gone,
        p->hole,
        p->hole * gone,
        p->hole * under,
        p->hole * a->sharp * rise,
        p->spread,
        alone * p->spread,
        p->known,
        alone * p->known,
        p->known * under,
        alone * p->soon,
        alone * p->known * p->spread,
        alone * p->known * a->steady,
        p->row,
        p->row * alone,
        p->row * crowded,
        p->row * share,
        p->own,
        p->own * crowded,
        p->own * share,
        p->own * rise,
        p->own * under,
    };
    _Static_assert(sizeof all == SIGHTS * sizeof *all, "one weight each");
    memcpy(seen, all, sizeof all);
}

/* Whether an onset was a blow, ln odds: what is seen weighed straight, and what some units make of it. */
static float blow_odds(const struct attack *a, const struct company *c, const struct place *p)
{
    float odds = 0, seen[SIGHTS];
    see(a, c, p, seen);
    for (size_t i = 0; i < SIGHTS; i++)
        odds += seen[i] * judgement_straight[i];
    for (size_t u = 0; u < UNITS; u++) {
        const float *unit = judgement_unit[u];
        float sum = 0;
        for (size_t i = 0; i < SIGHTS; i++)
            sum += seen[i] * unit[1 + i];
        odds += unit[0] * tanhf(sum);
    }
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

#define LEAST_SURE  0.5f
#define ROUNDS      4
#define FIRST_LEAST 0.03f /* to stand for a sounder while it is not known what recurs */
#define LEAST_ALONE                                                                                \
    0.3f /* where nothing but steady noise makes itself heard, even a drowned onset is a blow */
#define DROWNED_DB 13.0f
#define CLEAR_DB   21.0f

#define LOUDER_DB 10.0f /* a blow or two among many little noises say how loud a blow is */

static bool rings(const struct attack *a)
{
    return a->steady > 0.8f && a->tonality > 0.5f && a->keep > 0.2f && a->snr_db > 12;
}

#define TOP 3

/* Mean level of the loudest few that ring; of all when none does. */
static float top_level_db(const struct attack *a, size_t count, float *x)
{
    size_t n = 0, top;
    float sum = 0;
    for (size_t i = 0; i < count; i++)
        if (rings(&a[i]))
            x[n++] = a[i].level_db;
    for (size_t i = 0; i < count && n == 0; i++)
        x[i] = a[i].level_db;
    n = n ? n : count;
    qsort(x, n, sizeof *x, by_size);
    top = n < TOP ? n : TOP;
    for (size_t i = n - top; i < n; i++)
        sum += x[i];
    return top ? sum / (float)top : 0;
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
    c.top_db = top_level_db(a, count, x);
    c.busy = count ? logf((float)count / (float)(a[count - 1].t_s - a[0].t_s + 5)) : 0;
    mem_free(x);
    return c;
}

#define SUPPORTED   0.55f /* as like another blow as that, it is a sounder's */
#define SAME_AGAIN  0.8f  /* ... and as that, the same partials sounded again */
#define PLAIN_DB    20.0f
#define PLAIN_SHARE 0.9f
#define PLAIN_KEEP  0.1f   /* of its power is left a tenth of a second later, */
#define LEAST_KEEP  0.015f /* ... or that, if what is left */
#define LONG_S      0.5f   /* ... takes so long to fall by 20 dB */

/* A bell that beats within the tenth of a second looked at is neither steady nor falls evenly, but it has partials far
 * above all else, and has the same again; what a knock or a tick has of them is little. */
static bool plainly_rings(const struct attack *a, float likeness)
{
    bool steadily = a->steady > 0.6f && a->tonality > 0.4f && a->keep > 0.15f && a->snr_db > 10;
    bool lasts = a->keep > PLAIN_KEEP || (a->keep > LEAST_KEEP && a->ring_s > LONG_S);
    return steadily ||
           (lasts && likeness > SAME_AGAIN && a->tonality > PLAIN_SHARE && a->snr_db > PLAIN_DB);
}

#define RING_LEAST 0.04f /* of the power, 100 ms later: a tick has less, a muffled rod more */

/* What recurs and never rings is a tick or a knock, however well it stands out. */
static void leave_out_ticks(const struct attack *a, size_t count, const struct clustering *c,
                            uint8_t *use, float *sure)
{
    float *keep = mem_alloc((count + 1) * sizeof *keep);
    uint8_t *at = mem_alloc(count + 1);
    for (size_t i = 0; i < count; i++)
        for (size_t k = 1; k < c->count; k++)
            at[i] = c->p[i][k] > c->p[i][at[i]] ? (uint8_t)k : at[i];
    for (size_t k = 0; k < c->count; k++) {
        size_t n = 0, plain = 0;
        for (size_t i = 0; i < count; i++)
            if (use[i] && at[i] == k) {
                plain += plainly_rings(&a[i], c->likeness[i]);
                keep[n++] = a[i].keep;
            }
        bool any = n < 2 || 2 * plain > n || upper_quartile(keep, n) > RING_LEAST;
        for (size_t i = 0; i < count && !any; i++)
            if (at[i] == k && a[i].keep < RING_LEAST)
                use[i] = 0, sure[i] = 0;
    }
    mem_free(keep);
    mem_free(at);
}

/* Dull blows are known by those that ring; where nothing rings there are knocks and ticks, and only a train's
 * time tells a clock (dull.h). */
static void leave_out_all_dull(const struct attack *a, size_t n, const struct clustering *c,
                               uint8_t *use, float *sure)
{
    for (size_t i = 0; i < n; i++)
        if (use[i] && plainly_rings(&a[i], c->count ? c->likeness[i] : 0))
            return;
    for (size_t i = 0; i < n; i++)
        use[i] = 0, sure[i] = 0;
}

#define TWINS_S 0.07

/* No hammer follows another so soon: of two onsets the fuller one was the blow. */
static void leave_out_twins(const struct attack *a, size_t n, uint8_t *use, float *sure)
{
    size_t last = n;
    for (size_t i = 0; i < n; i++) {
        if (!use[i])
            continue;
        if (last < n && a[i].t_s - a[last].t_s < TWINS_S) {
            size_t less = a[i].novelty * sure[i] > a[last].novelty * sure[last] ? last : i;
            use[less] = 0;
            sure[less] = 0;
            last = less == i ? last : i;
            continue;
        }
        last = i;
    }
}

#define COMPANY_DB 3.0f
#define COMPANY    4

#define ON_BEAT 0.3f
#define BEAT_LEAST                                                                                 \
    3 /* blows at one pace: the four of a first quarter are all on different sounders */

/* A voice brings forth a syllable that might be a blow, but none that is like another, nor three at one pace, and others
 * as loud round about; a clock alone in the recording strikes over them. */
static void leave_out_syllables(const struct attack *a, size_t n, const struct clustering *c,
                                const struct place *place, uint8_t *use, float *sure)
{
    size_t in_time = 0;
    for (size_t i = 0; i < n; i++) {
        if (use[i] && c->count && c->likeness[i] > SUPPORTED)
            return;
        in_time += use[i] && place[i].beat > ON_BEAT && plainly_rings(&a[i], 0);
    }
    if (in_time >= BEAT_LEAST)
        return;
    for (size_t i = 0; i < n; i++) {
        size_t as_loud = 0;
        for (size_t j = 0; j < n && use[i]; j++)
            as_loud += !use[j] && a[j].level_db > a[i].level_db - COMPANY_DB;
        if (as_loud >= COMPANY)
            sure[i] = 0;
    }
    for (size_t i = 0; i < n; i++)
        use[i] = use[i] && sure[i] > 0;
}

/* ---- where an onset stands ---- */

#define FAINTER_MOST 30.0f

/* How much fainter than the middle one of its sounder's blows each onset is. */
static void mark_fainter(const struct attack *a, size_t n, const struct clustering *c,
                         const uint8_t *use, struct place *place)
{
    float *x = mem_alloc((n + 1) * sizeof *x), usual_db[CLUSTERS_MOST];
    uint8_t *at = mem_alloc(n + 1);
    size_t alike[CLUSTERS_MOST];
    for (size_t i = 0; i < n; i++)
        for (size_t k = 1; k < c->count; k++)
            at[i] = c->p[i][k] > c->p[i][at[i]] ? (uint8_t)k : at[i];
    for (size_t k = 0; k < c->count; k++) {
        size_t m = 0;
        for (size_t i = 0; i < n; i++)
            if (use[i] && at[i] == k)
                x[m++] = a[i].level_db;
        qsort(x, m, sizeof *x, by_size);
        usual_db[k] = m ? x[m / 2] : 0;
        alike[k] = m;
    }
    for (size_t i = 0; i < n; i++) {
        float below = c->count && alike[at[i]] > 1 ? usual_db[at[i]] - a[i].level_db : 0;
        place[i].fainter_db = below < 0 ? 0 : at_most(below, FAINTER_MOST);
    }
    mem_free(x);
    mem_free(at);
}

#define BEAT_WIDTH 0.06 /* of an interval; trains keep time to a few hundredths */

static float fits(double t_s, double wanted_s, double interval_s)
{
    double off = (t_s - wanted_s) / (BEAT_WIDTH * interval_s);
    return (float)exp(-off * off);
}

/* Blows round about an onset: before it and after it, nearest first; a huge way off when there are none. */
struct neighbours {
    double before_s[3], after_s[3];
};

static struct neighbours neighbours_of(const struct attack *a, size_t n, const uint8_t *use,
                                       size_t i)
{
    struct neighbours b = {{-1e9, -1e9, -1e9}, {1e9, 1e9, 1e9}};
    for (size_t j = i, k = 0; j-- > 0 && k < 3;)
        if (use[j])
            b.before_s[k++] = a[j].t_s;
    for (size_t j = i + 1, k = 0; j < n && k < 3; j++)
        if (use[j])
            b.after_s[k++] = a[j].t_s;
    return b;
}

/* Whether t_s would go on with a run whose latest two blows are given, or fill a hole of two intervals in it. */
static void mark_beat(const struct neighbours *b, double t_s, struct place *p)
{
    double last = b->before_s[0] - b->before_s[1], next = b->after_s[1] - b->after_s[0],
           hole = b->after_s[0] - b->before_s[0], step = last < next ? last : next;
    float beat = 0, filled = 0;
    if (hole < 1e8) {
        if (last < 1e8)
            filled = fits(hole, 2 * last, 2 * last) * fits(t_s, b->before_s[0] + hole / 2, last);
        if (next < 1e8)
            filled = fmaxf(filled, fits(hole, 2 * next, 2 * next) *
                                       fits(t_s, b->before_s[0] + hole / 2, next));
    }
    if (last < 1e8)
        beat = fits(t_s, b->before_s[0] + last, last);
    if (next < 1e8)
        beat = fmaxf(beat, fits(t_s, b->after_s[0] - next, next));
    p->hole = filled;
    p->beat = fmaxf(beat, filled);
    double nearest = fmin(t_s - b->before_s[0], b->after_s[0] - t_s);
    p->soon = step < 1e8 && nearest < 0.7 * step ? (float)(1 - nearest / (0.7 * step)) : 0;
}

/* How many lines would hold as much as they do if all were alike, ln. */
static float spread_of(const struct attack *a)
{
    float sum = 0;
    for (int k = 0; k < ATTACK_LINES; k++)
        sum += a->spectrum[k] * a->spectrum[k] * a->spectrum[k] * a->spectrum[k];
    return sum > 0 ? -logf(sum) : 0;
}

static void mark_places(const struct attack *a, size_t n, const struct clustering *c,
                        const uint8_t *use, struct place *place)
{
    size_t alike = 0;
    mark_fainter(a, n, c, use, place);
    for (size_t i = 0; i < n; i++)
        alike += use[i] && c->count && c->likeness[i] > SUPPORTED;
    for (size_t i = 0; i < n; i++) {
        struct neighbours b = neighbours_of(a, n, use, i);
        mark_beat(&b, a[i].t_s, &place[i]);
        place[i].likeness = c->count ? c->likeness[i] : 0;
        place[i].known = logf(1 + (float)alike);
    }
}

/* ---- rows of clear tones ---- */

#define ROW_NEAR    4 /* clear tones to each side that may be the next of a row */
#define ROW_STEPS   3 /* to each side, at most, that count */
#define ROW_QUICK_S 0.2
#define ROW_SLOW_S  4.0
#define ROW_OFF     0.04 /* of a step */
#define ROW_ALIKE   0.85f

static bool clear_tone(const struct attack *a)
{
    return a->tonality > 0.8f && a->snr_db > 15 && a->steady > 0.6f && a->rise > 1.2f;
}

/* Whether there is a clear tone at t_s, like `like` if that is not NULL. */
static bool tone_at(const struct attack *a, const size_t *tone, size_t tones, size_t from,
                    double t_s, double off_s, const struct attack *like)
{
    size_t k = from;
    while (k > 0 && a[tone[k]].t_s > t_s - off_s)
        k--;
    for (; k < tones && a[tone[k]].t_s < t_s + off_s; k++)
        if (a[tone[k]].t_s > t_s - off_s &&
            (!like || attack_likeness(a[tone[k]].spectrum, like->spectrum) > ROW_ALIKE))
            return true;
    return false;
}

/* Share of the places to both sides of tone[k], step_s apart, where the row goes on without a break. */
static float row_of_step(const struct attack *a, const size_t *tone, size_t tones, size_t k,
                         double step_s, const struct attack *like)
{
    int steps = 0;
    for (int side = -1; side <= 1; side += 2)
        for (int m = 1;
             m <= ROW_STEPS && tone_at(a, tone, tones, k, a[tone[k]].t_s + side * m * step_s,
                                       ROW_OFF * m * step_s, like);
             m++)
            steps++;
    return (float)steps / (2 * ROW_STEPS);
}

static float best_row(const struct attack *a, const size_t *tone, size_t tones, size_t k,
                      const struct attack *like)
{
    size_t first = k > ROW_NEAR ? k - ROW_NEAR : 0,
           last = k + ROW_NEAR < tones ? k + ROW_NEAR : tones - 1;
    float best = 0;
    for (size_t j = first; j <= last; j++) {
        double step_s = fabs(a[tone[j]].t_s - a[tone[k]].t_s);
        if (j == k || step_s < ROW_QUICK_S || step_s > ROW_SLOW_S ||
            (like && attack_likeness(a[tone[j]].spectrum, like->spectrum) < ROW_ALIKE))
            continue;
        best = fmaxf(best, row_of_step(a, tone, tones, k, step_s, like));
    }
    return best;
}

/* A train lets its hammers fall at one pace, those that are hardly heard among the others too. */
static void mark_rows(const struct attack *a, size_t n, struct place *place)
{
    size_t *tone = mem_alloc((n + 1) * sizeof *tone), tones = 0;
    for (size_t i = 0; i < n; i++)
        if (clear_tone(&a[i]))
            tone[tones++] = i;
    for (size_t k = 0; k < tones; k++) {
        place[tone[k]].row = best_row(a, tone, tones, k, NULL);
        place[tone[k]].own = best_row(a, tone, tones, k, &a[tone[k]]);
    }
    mem_free(tone);
}

static void mark_ticking(const struct attack *a, size_t n, struct place *place)
{
    float *on = mem_alloc((n + 1) * sizeof *on);
    ticking_mark(a, n, ticking_period_s(a, n), on);
    for (size_t i = 0; i < n; i++)
        place[i].ticking = on[i];
    mem_free(on);
}

#define FAINT_DB  20.0f
#define END_LEAST 0.9f

/* A train locks where its next blow would have been, and the lock clicks: what goes on with a run faintly and
 * fills no hole must be plainer than the rest. */
static bool faint_end(const struct attack *a, const struct company *c, const struct place *p)
{
    return p->hole < 0.3f && c->top_db - a->level_db > FAINT_DB;
}

#define DULL_SURE 0.9f
#define OWN_LEAST                                                                                  \
    0.3f /* two more of its like at one pace: a sounder, as far as can be said at first */

static void add_dull(const struct attack *a, size_t n, double length_s, uint8_t *use, float *sure)
{
    uint8_t *dull = mem_alloc(n + 1);
    dull_mark(a, n, length_s, use, dull);
    for (size_t i = 0; i < n; i++)
        if (dull[i])
            use[i] = BLOW_DULL, sure[i] = DULL_SURE;
    mem_free(dull);
}

void judge_blows(const struct attack *a, size_t n, double length_s, struct clustering *clusters,
                 uint8_t *use, float *sure)
{
    struct company c = company_of(a, n);
    struct place *place = mem_alloc((n + 1) * sizeof *place);
    mark_ticking(a, n, place);
    mark_rows(a, n, place);
    for (size_t i = 0; i < n; i++) {
        place[i].likeness = 0.6f;
        place[i].spread = spread_of(&a[i]);
        sure[i] = chance_of(blow_odds(&a[i], &c, &place[i]));
    }
    for (int round = 0; round < ROUNDS; round++) {
        for (size_t i = 0; i < n; i++)
            use[i] = sure[i] > (round ? c.least : FIRST_LEAST) || place[i].own >= OWN_LEAST;
        cluster_learn(clusters, a, use, n);
        for (size_t i = 0; i < n; i++)
            use[i] = sure[i] > (round ? c.least : LEAST_SURE);
        mark_places(a, n, clusters, use, place);
        for (size_t i = 0; i < n; i++)
            sure[i] = chance_of(blow_odds(&a[i], &c, &place[i]));
    }
    for (size_t i = 0; i < n; i++)
        use[i] = sure[i] > (faint_end(&a[i], &c, &place[i]) ? END_LEAST : c.least);
    cluster_learn(clusters, a, use, n);
    leave_out_syllables(a, n, clusters, place, use, sure);
    leave_out_all_dull(a, n, clusters, use, sure);
    leave_out_ticks(a, n, clusters, use, sure);
    leave_out_twins(a, n, use, sure);
    add_dull(a, n, length_s, use, sure);
    cluster_learn(clusters, a, use, n);
    cluster_order(clusters, a);
    mem_free(place);
}
