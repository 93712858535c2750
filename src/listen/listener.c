#include "listen/listener.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "listen/attack.h"
#include "listen/cluster.h"
#include "listen/onset.h"
#include "mem.h"

#define KEEP_S       3 /* seconds of sound kept */
#define KEEP         (KEEP_S * LISTENER_RATE_HZ)
#define BLOCK        4096 /* samples handed on at a time */
#define WAITING_MOST 32
#define BLOWS_MOST   4096 /* of a recording; only the surest are kept beyond it */

struct listener {
    struct onset_finder *finder;
    struct attack_lab *lab;
    float *kept; /* the last kept_count samples, the first at kept_s */
    size_t kept_count;
    double kept_s;
    size_t fed; /* samples in all */
    struct onset waiting[WAITING_MOST];
    size_t waiting_count;
    struct attack *attack;
    size_t attack_count, attack_room;
    struct clustering clusters;
    struct level level;
    double power_sum; /* slow background: minimum of block powers */
    float background_db;
};

struct listener *listener_new(void)
{
    struct listener *l = mem_alloc(sizeof *l);
    l->finder = onset_new();
    l->lab = attack_lab_new();
    l->kept = mem_alloc((KEEP + BLOCK) * sizeof *l->kept);
    listener_clear(l);
    return l;
}

void listener_free(struct listener *l)
{
    if (!l)
        return;
    onset_free(l->finder);
    attack_lab_free(l->lab);
    cluster_release(&l->clusters);
    mem_free(l->kept);
    mem_free(l->attack);
    mem_free(l);
}

void listener_clear(struct listener *l)
{
    onset_clear(l->finder);
    level_init(&l->level, LISTENER_RATE_HZ);
    l->kept_count = l->fed = l->waiting_count = l->attack_count = 0;
    l->kept_s = 0;
    l->background_db = 0;
}

/* ---- finding blows ---- */

static void keep_attack(struct listener *l, const struct attack *a)
{
    if (l->attack_count < BLOWS_MOST) {
        l->attack = mem_grow(l->attack, &l->attack_room, l->attack_count + 1, sizeof *l->attack);
        l->attack[l->attack_count++] = *a;
        return;
    }
    size_t least = 0;
    for (size_t i = 1; i < l->attack_count; i++)
        if (l->attack[i].novelty < l->attack[least].novelty)
            least = i;
    if (l->attack[least].novelty >= a->novelty)
        return;
    memmove(&l->attack[least], &l->attack[least + 1], (l->attack_count - least - 1) * sizeof *a);
    l->attack[l->attack_count - 1] = *a;
}

static void look_at(struct listener *l, const struct onset *o, double next_s)
{
    struct attack a;
    if (!attack_look(l->lab, l->kept, l->kept_count, l->kept_s, o->t_s, o->novelty, next_s, &a))
        return;
    if (l->attack_count && fabs(a.t_s - l->attack[l->attack_count - 1].t_s) < 0.02)
        return; /* two peaks, one blow */
    keep_attack(l, &a);
}

static void look_at_waiting(struct listener *l, double heard_s, double settled_s)
{
    struct onset o;
    while (l->waiting_count < WAITING_MOST && onset_take(l->finder, &o))
        l->waiting[l->waiting_count++] = o;
    size_t done = 0;
    while (done < l->waiting_count) {
        bool next_known = done + 1 < l->waiting_count;
        double t = l->waiting[done].t_s, next = next_known ? l->waiting[done + 1].t_s : 1e9;
        if (heard_s < t + ATTACK_AFTER_S + 0.1 || (!next_known && settled_s < t + ATTACK_AFTER_S))
            break;
        look_at(l, &l->waiting[done], next);
        done++;
    }
    l->waiting_count -= done;
    memmove(l->waiting, l->waiting + done, l->waiting_count * sizeof *l->waiting);
}

static void keep_sound(struct listener *l, const float *samples, size_t frames)
{
    if (l->kept_count + frames > KEEP) {
        size_t drop = l->kept_count + frames - KEEP;
        drop = drop < l->kept_count ? drop : l->kept_count;
        memmove(l->kept, l->kept + drop, (l->kept_count - drop) * sizeof *l->kept);
        l->kept_count -= drop;
        l->kept_s += (double)drop / LISTENER_RATE_HZ;
    }
    memcpy(l->kept + l->kept_count, samples, frames * sizeof *samples);
    l->kept_count += frames;
}

static void feed_block(struct listener *l, const float *samples, size_t frames)
{
    float clean[BLOCK];
    for (size_t i = 0; i < frames; i++)
        clean[i] = samples[i] >= -8 && samples[i] <= 8 ? samples[i] : 0; /* NaN too */
    level_feed(&l->level, clean, frames);
    keep_sound(l, clean, frames);
    onset_feed(l->finder, clean, frames);
    l->fed += frames;
    look_at_waiting(l, (double)l->fed / LISTENER_RATE_HZ, onset_settled_s(l->finder));
}

void listener_feed(struct listener *l, const float *samples, size_t frames)
{
    while (frames) {
        size_t n = frames < BLOCK ? frames : BLOCK;
        feed_block(l, samples, n);
        samples += n;
        frames -= n;
    }
}

void listener_finish(struct listener *l)
{
    onset_finish(l->finder);
    look_at_waiting(l, 1e9, 1e9);
}

size_t listener_blow_count(const struct listener *l)
{
    return l->attack_count;
}

const struct level *listener_level(const struct listener *l)
{
    return &l->level;
}

/* ---- from attacks to a hearing ---- */

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
static void leave_out_ticks(const struct listener *l, uint8_t *use, float *sure)
{
    const struct clustering *c = &l->clusters;
    float *keep = mem_alloc((l->attack_count + 1) * sizeof *keep);
    uint8_t *at = mem_alloc(l->attack_count + 1);
    for (size_t i = 0; i < l->attack_count; i++)
        for (size_t k = 1; k < c->count; k++)
            at[i] = c->p[i][k] > c->p[i][at[i]] ? (uint8_t)k : at[i];
    for (size_t k = 0; k < c->count; k++) {
        size_t n = 0;
        for (size_t i = 0; i < l->attack_count; i++)
            if (use[i] && at[i] == k)
                keep[n++] = l->attack[i].keep;
        bool any = n < 2 || upper_quartile(keep, n) > RING_LEAST;
        for (size_t i = 0; i < l->attack_count && !any; i++)
            if (at[i] == k && l->attack[i].keep < RING_LEAST)
                use[i] = 0, sure[i] = 0;
    }
    mem_free(keep);
    mem_free(at);
}

/* Blows to be reported: their numbers in `use`, how sure in `sure`. */
static void judge(struct listener *l, uint8_t *use, float *sure)
{
    size_t n = l->attack_count;
    struct company c = company_of(l->attack, n);
    for (size_t i = 0; i < n; i++)
        sure[i] = chance_of(blow_odds(&l->attack[i], &c, 0.6f));
    for (int round = 0; round < 3; round++) {
        for (size_t i = 0; i < n; i++)
            use[i] = sure[i] > (round ? c.least : LEAST_SURE);
        cluster_learn(&l->clusters, l->attack, use, n);
        for (size_t i = 0; i < n; i++)
            sure[i] = chance_of(
                blow_odds(&l->attack[i], &c, l->clusters.count ? l->clusters.likeness[i] : 0));
    }
    for (size_t i = 0; i < n; i++)
        use[i] = sure[i] > c.least;
    leave_out_ticks(l, use, sure);
    rescue(l->attack, use, sure, n);
    cluster_learn(&l->clusters, l->attack, use, n);
    cluster_order(&l->clusters, l->attack);
}

#define TYPICAL_MOST 512

/* Median of one number over the blows of a sounder; 0 when it has none. */
static float typical(const struct listener *l, const uint8_t *use, const struct hearing *h,
                     size_t sounder, float (*number)(const struct attack *))
{
    float x[TYPICAL_MOST];
    size_t n = 0;
    for (size_t i = 0, b = 0; i < l->attack_count; i++) {
        if (!use[i])
            continue;
        if (h->blow[b++].sounder == sounder && n < TYPICAL_MOST)
            x[n++] = number(&l->attack[i]);
    }
    qsort(x, n, sizeof *x, by_size);
    return n ? x[n / 2] : 0;
}

static float level_of(const struct attack *a)
{
    return a->level_db;
}
static float ring_of(const struct attack *a)
{
    return a->ring_s;
}

#define WEAK_DB   7.5f /* below the sounder's median */
#define LOUD_DB   6.0f
#define THUD_KEEP 0.12f /* of the power is left after 100 ms */

/* Noise all through the ring, that also breaks the ring's regularity. */
static bool buzzes(const struct attack *a)
{
    return a->noise_share > 0.03f && a->second > 0.6f && a->second_stands > 1.35f && a->keep > 0.3f;
}

/* Conservative: in noise a bounce drowns, and a bounce that is not there is worse than one missed. */
static bool bounced(const struct attack *a)
{
    return a->second > 0.5f && a->second_stands > 1.6f && a->second_s > 0.05f &&
           a->keep > THUD_KEEP;
}

static uint8_t quality_of(const struct attack *a, float usual_db, size_t alike)
{
    unsigned q = 0;
    if (alike >= 3 && a->level_db < usual_db - WEAK_DB)
        q |= QUALITY_WEAK;
    if (alike >= 3 && a->level_db > usual_db + LOUD_DB)
        q |= QUALITY_LOUD;
    if (a->keep < THUD_KEEP && a->clear_s > 0.2f)
        q |= QUALITY_THUD;
    if (buzzes(a))
        q |= QUALITY_BUZZ;
    else if (bounced(a))
        q |= QUALITY_DOUBLE;
    return (uint8_t)q;
}

static void add_blows(const struct listener *l, const uint8_t *use, const float *sure,
                      struct hearing *h)
{
    const struct clustering *c = &l->clusters;
    for (size_t i = 0; i < l->attack_count; i++) {
        if (!use[i])
            continue;
        h->blow = mem_grow(h->blow, &h->blow_room, h->blow_count + 1, sizeof *h->blow);
        struct heard_blow *b = &h->blow[h->blow_count++];
        const struct attack *a = &l->attack[i];
        *b = (struct heard_blow){.t_s = a->t_s,
                                 .sure = sure[i],
                                 .ring_s = a->ring_s,
                                 .tonality = a->tonality,
                                 .noise_share = a->noise_share};
        for (size_t k = 0; k < c->count; k++) {
            b->sounder_p[k] = c->p[i][k];
            if (b->sounder_p[k] > b->sounder_p[b->sounder])
                b->sounder = (uint8_t)k;
        }
        b->p = b->sounder_p[b->sounder];
        h->sounder[b->sounder].blows++;
    }
}

static void describe_sounders(const struct listener *l, const uint8_t *use, struct hearing *h,
                              float *usual_db)
{
    float loudest = -1000;
    h->sounder_count = l->clusters.count;
    for (size_t k = 0; k < h->sounder_count; k++) {
        h->sounder[k].pitch_hz = l->clusters.at[k].pitch_hz;
        h->sounder[k].ring_s = typical(l, use, h, k, ring_of);
        usual_db[k] = typical(l, use, h, k, level_of);
        if (h->sounder[k].blows && usual_db[k] > loudest)
            loudest = usual_db[k];
    }
    for (size_t k = 0; k < h->sounder_count; k++)
        h->sounder[k].strength = powf(10, (usual_db[k] - loudest) / 20);
}

static void describe_blows(const struct listener *l, const uint8_t *use, struct hearing *h,
                           const float *usual_db)
{
    float most_db[CLUSTERS_MOST];
    for (size_t k = 0; k < CLUSTERS_MOST; k++)
        most_db[k] = -1000;
    for (int pass = 0; pass < 2; pass++)
        for (size_t i = 0, n = 0; i < l->attack_count; i++) {
            if (!use[i])
                continue;
            struct heard_blow *b = &h->blow[n++];
            const struct attack *a = &l->attack[i];
            if (pass == 0 && a->level_db > most_db[b->sounder])
                most_db[b->sounder] = a->level_db;
            if (pass == 1) {
                b->strength = powf(10, (a->level_db - most_db[b->sounder]) / 20);
                b->quality = quality_of(a, usual_db[b->sounder], h->sounder[b->sounder].blows);
            }
        }
}

void listener_hearing(struct listener *l, struct hearing *h)
{
    size_t n = l->attack_count;
    uint8_t *use = mem_alloc(n + 1);
    float *sure = mem_alloc((n + 1) * sizeof *sure), usual_db[CLUSTERS_MOST] = {0};
    hearing_clear(h);
    h->length_s = (double)l->fed / LISTENER_RATE_HZ;
    judge(l, use, sure);
    add_blows(l, use, sure, h);
    describe_sounders(l, use, h, usual_db);
    describe_blows(l, use, h, usual_db);
    hearing_divide(h);
    mem_free(use);
    mem_free(sure);
}
