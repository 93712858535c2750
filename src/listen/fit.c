#include "listen/fit.h"

#include <math.h>
#include <stdbool.h>
#include <string.h>

#include "mem.h"

#define STRETCH_SIGMA 0.3
#define JITTER_S 0.08
#define MISS_P 0.02
#define EXTRA_P 0.02
#define LABEL_WRONG 0.02   /* of the listener's sounder being wrong altogether */
#define SKIP_MOST 5        /* blows in a row that may be missing, or extra */
#define ROUNDS 5
#define NONE_PRIOR 0.02
#define SHARED 5.0         /* nats for a hammer that sounds as another one does ... */
#define SHARED_UNISON 0.7  /* ... and if they are tuned alike */
#define UNISON 0.01        /* of the pitch */
#define DISORDER 1.5       /* nats for each pair of sounders whose pitches stand the wrong way round */
#define BLOWS_MOST 256
#define NOWHERE (-1e18)
#define LN_STUMBLE (-5.809) /* ln 0.003: a pause or a stumble, any time will do, but it costs */

/* ln of what one more blow nobody expected costs: that it comes, and when (within about a second). */
static double ln_extra(const struct fit_options *o)
{
    return log(o->extra_p) - log((double)o->hammers);
}

/* One candidate against the heard blows.  name[c] is the hammer of heard sounder c. */
struct fitting {
    const struct heard_blow *heard;
    size_t heards;
    const struct hearing *hearing;
    const struct fit_blow *expected;
    size_t expecteds;
    const struct fit_options *o;
    uint8_t name[HEARING_SOUNDERS_MOST];
    uint8_t also[FIT_HAMMERS_MOST]; /* the sounder that a hammer shares with the one it is named after, or FIT_UNNAMED */
    bool named;        /* false: labels are not looked at yet */
    double stretch;    /* heard seconds for an expected one */
    double *best;      /* [i * expecteds + j]: best ln score with heard i matched to expected j last */
    int *from;         /* the state before, or -1 */
    int match[BLOWS_MOST]; /* heard -> expected, -1 extra */
    /* logarithms that the alignment asks for again and again; see prepare and learn_labels */
    double extra;                               /* ln_extra */
    double missed_before[BLOWS_MOST + 1];       /* cost of missing all expected blows before this one */
    double present[BLOWS_MOST];                 /* of expected blow j being there */
    double sure[BLOWS_MOST];                    /* of heard blow i being one */
    double label[BLOWS_MOST][FIT_HAMMERS_MOST]; /* of heard blow i being hammer h */
};

static double ln_label(const struct fitting *f, size_t i, size_t hammer)
{
    if (!f->named)
        return -log((double)f->o->hammers) * 0.5;
    double p = 0, wrong = LABEL_WRONG;
    for (size_t c = 0; c < f->hearing->sounder_count; c++)
        if (f->name[c] == hammer || f->also[hammer] == c)
            p += f->heard[i].sounder_p[c];
    return log((1 - wrong) * p + wrong / (double)f->o->hammers);
}

/* What the present names make of each heard blow. */
static void learn_labels(struct fitting *f)
{
    for (size_t i = 0; i < f->heards; i++)
        for (size_t hammer = 0; hammer < f->o->hammers; hammer++)
            f->label[i][hammer] = ln_label(f, i, hammer);
}

/* A blow of strength 1 is missed with miss_p, one of strength 0 is not there. */
static double chance_missed(const struct fit_options *o, float strength)
{
    double s = strength < 0 ? 0 : strength > 1 ? 1 : (double)strength;
    return s >= 0.9 ? o->miss_p : o->miss_p + (0.97 - o->miss_p) * (1 - s / 0.9) * (1 - s / 0.9);
}

/* What does not change while one candidate is fitted. */
static void prepare(struct fitting *f)
{
    f->extra = ln_extra(f->o);
    f->missed_before[0] = 0;
    for (size_t j = 0; j < f->expecteds; j++) {
        double missed = chance_missed(f->o, f->expected[j].strength);
        f->missed_before[j + 1] = f->missed_before[j] + log(missed);
        f->present[j] = log(1 - missed);
    }
    for (size_t i = 0; i < f->heards; i++)
        f->sure[i] = log(0.5 + 0.5 * (double)f->heard[i].sure);
}

static double ln_missed(const struct fitting *f, size_t from, size_t until)
{
    return until > from ? f->missed_before[until] - f->missed_before[from] : 0;
}

static double ln_matched(const struct fitting *f, size_t i, size_t j)
{
    return f->label[i][f->expected[j].hammer] + f->present[j] + f->sure[i];
}

static double ln_time(const struct fitting *f, double heard_s, double expected_s)
{
    double sigma = f->o->jitter_s * (1 + 0.3 * expected_s * f->stretch);
    double off = (heard_s - f->stretch * expected_s) / sigma;
    if (off > 6 || off < -6)
        return LN_STUMBLE;
    double ln = -0.5 * off * off - log(sigma * 2.5066);
    return ln > LN_STUMBLE ? ln : LN_STUMBLE;
}

static void step_to(struct fitting *f, size_t i, size_t j)
{
    double most = NOWHERE;
    int from = -1;
    size_t m = f->expecteds;
    double here = ln_matched(f, i, j);
    if (i <= SKIP_MOST) /* the first match; a recording may begin in the middle */
        most = (double)i * f->extra + ln_missed(f, 0, j);
    for (size_t a = 1; a <= SKIP_MOST + 1 && a <= i; a++)
        for (size_t b = 1; b <= SKIP_MOST + 1 && b <= j; b++) {
            double before = f->best[(i - a) * m + j - b];
            if (before <= most)
                continue;
            double ln = before + (double)(a - 1) * f->extra + ln_missed(f, j - b + 1, j) +
                        ln_time(f, f->heard[i].t_s - f->heard[i - a].t_s, f->expected[j].t_s - f->expected[j - b].t_s);
            if (ln > most) {
                most = ln;
                from = (int)((i - a) * m + j - b);
            }
        }
    f->best[i * m + j] = most + here;
    f->from[i * m + j] = from;
}

/* Best alignment under the present names and stretch; its ln score.  Fills match. */
static double align(struct fitting *f)
{
    size_t n = f->heards, m = f->expecteds;
    learn_labels(f);
    double most = (double)n * f->extra + ln_missed(f, 0, m);
    int last = -1;
    for (size_t i = 0; i < n; i++)
        for (size_t j = 0; j < m; j++) {
            step_to(f, i, j);
            double end = f->best[i * m + j] + (double)(n - 1 - i) * f->extra + ln_missed(f, j + 1, m);
            if (end > most) {
                most = end;
                last = (int)(i * m + j);
            }
        }
    for (size_t i = 0; i < n; i++)
        f->match[i] = -1;
    for (int at = last; at >= 0; at = f->from[at])
        f->match[(size_t)at / m] = (int)((size_t)at % m);
    return most;
}

/* ---- names ---- */

/* The best one-to-one naming for what[c][h], one row at a time with augmenting paths (the Hungarian
 * method: H. W. Kuhn, Naval Research Logistics Quarterly 2, 1955).  Square, FIT_HAMMERS_MOST. */
static void assign(double what[FIT_HAMMERS_MOST][FIT_HAMMERS_MOST], int *column_of)
{
    enum { N = FIT_HAMMERS_MOST };
    double u[N + 1] = {0}, v[N + 1] = {0};
    int row_of[N + 1] = {0}, way[N + 1];
    for (int i = 1; i <= N; i++) {
        double least[N + 1];
        bool used[N + 1] = {false};
        int j0 = 0;
        for (int j = 0; j <= N; j++)
            least[j] = 1e18;
        row_of[0] = i;
        do {
            int i0 = row_of[j0], j1 = 0;
            double delta = 1e18;
            used[j0] = true;
            for (int j = 1; j <= N; j++) {
                if (used[j])
                    continue;
                double cost = -what[i0 - 1][j - 1] - u[i0] - v[j];
                if (cost < least[j]) {
                    least[j] = cost;
                    way[j] = j0;
                }
                if (least[j] < delta) {
                    delta = least[j];
                    j1 = j;
                }
            }
            for (int j = 0; j <= N; j++)
                if (used[j]) {
                    u[row_of[j]] += delta;
                    v[j] -= delta;
                } else {
                    least[j] -= delta;
                }
            j0 = j1;
        } while (row_of[j0] != 0);
        for (; j0; j0 = way[j0])
            row_of[j0] = row_of[way[j0]];
    }
    for (int j = 1; j <= N; j++)
        column_of[row_of[j] - 1] = j - 1;
}

/* Two hammers may fall on one sounder, or on two that nobody tells apart through a telephone (the hour's and
 * the lowest of the chime): one that has no sounder of its own and nearly always met another's shares it. */
static void share_sounders(struct fitting *f, double met[FIT_HAMMERS_MOST][FIT_HAMMERS_MOST])
{
    bool own[FIT_HAMMERS_MOST] = {false};
    for (size_t c = 0; c < f->hearing->sounder_count; c++)
        if (f->name[c] != FIT_UNNAMED)
            own[f->name[c]] = true;
    for (size_t h = 0; h < FIT_HAMMERS_MOST; h++) {
        double all = 0, most = 0;
        f->also[h] = FIT_UNNAMED;
        for (size_t c = 0; c < f->hearing->sounder_count; c++) {
            all += met[c][h];
            if (met[c][h] > most && !own[h]) {
                most = met[c][h];
                f->also[h] = (uint8_t)c;
            }
        }
        if (most < 0.7 * all || most < 0.5 || f->also[h] == FIT_UNNAMED || f->name[f->also[h]] == FIT_UNNAMED)
            f->also[h] = FIT_UNNAMED;
    }
}

static double ln_shared(const struct fitting *f)
{
    double ln = 0;
    for (size_t h = 0; h < f->o->hammers; h++) {
        if (f->also[h] == FIT_UNNAMED)
            continue;
        const double *hz = f->o->pitch_hz;
        uint8_t with = f->name[f->also[h]];
        bool unison = hz && with < f->o->hammers && fabs(log(hz[h] / hz[with])) < UNISON;
        ln -= unison ? SHARED_UNISON : SHARED;
    }
    return ln;
}

/* Sounders get the hammers they met most in the alignment; those that met none stay unnamed. */
static void name_from_matches(struct fitting *f)
{
    double met[FIT_HAMMERS_MOST][FIT_HAMMERS_MOST] = {{0}};
    int hammer[FIT_HAMMERS_MOST];
    for (size_t i = 0; i < f->heards; i++)
        for (size_t c = 0; f->match[i] >= 0 && c < f->hearing->sounder_count; c++)
            met[c][f->expected[f->match[i]].hammer] += (double)f->heard[i].sounder_p[c];
    assign(met, hammer);
    for (size_t c = 0; c < f->hearing->sounder_count; c++)
        f->name[c] = met[c][hammer[c]] > 0.3 ? (uint8_t)hammer[c] : FIT_UNNAMED;
    share_sounders(f, met);
    f->named = true;
}

/* Sounders in their order of pitch get hammers `first`, first+1 ... of those that are expected. */
static void name_in_order(struct fitting *f, const uint8_t *order, size_t hammers, size_t first)
{
    for (size_t c = 0; c < HEARING_SOUNDERS_MOST; c++)
        f->name[c] = first + c < hammers ? order[first + c] : FIT_UNNAMED;
    memset(f->also, FIT_UNNAMED, sizeof f->also);
    f->named = true;
}

/* Hammers that occur in the candidate, highest pitch first (by number when pitches are unknown). */
static size_t hammers_in_order(const struct fitting *f, uint8_t order[FIT_HAMMERS_MOST])
{
    bool used[FIT_HAMMERS_MOST] = {false};
    size_t n = 0;
    for (size_t j = 0; j < f->expecteds; j++)
        used[f->expected[j].hammer] = true;
    for (uint8_t h = 0; h < f->o->hammers; h++) {
        if (!used[h])
            continue;
        size_t at = n++;
        for (; f->o->pitch_hz && at > 0 && f->o->pitch_hz[order[at - 1]] < f->o->pitch_hz[h]; at--)
            order[at] = order[at - 1];
        order[at] = h;
    }
    return n;
}

/* Cost of sounders named against their order of pitch; pairs nearly in unison tell nothing. */
static double ln_order(const struct fitting *f)
{
    double ln = 0;
    for (size_t a = 0; f->o->pitch_hz && a < f->hearing->sounder_count; a++)
        for (size_t b = a + 1; b < f->hearing->sounder_count; b++) {
            const struct heard_sounder *s = f->hearing->sounder;
            if (f->name[a] == FIT_UNNAMED || f->name[b] == FIT_UNNAMED || s[a].tapped)
                continue;
            double heard = log(s[a].pitch_hz / s[b].pitch_hz);
            double named = log(f->o->pitch_hz[f->name[a]] / f->o->pitch_hz[f->name[b]]);
            if (heard * named < 0 && fabs(heard) > 0.01 && fabs(named) > 0.01)
                ln -= DISORDER;
        }
    return ln;
}

/* ---- one candidate ---- */

/* Pace of the matched blows against the expected, pulled towards 1 by the prior. */
static void learn_stretch(struct fitting *f)
{
    double sum = 0, weight = 1 / (f->o->stretch_sigma * f->o->stretch_sigma);
    size_t last = f->heards;
    for (size_t i = 0; i < f->heards; i++) {
        if (f->match[i] < 0)
            continue;
        if (last < f->heards) {
            double heard = f->heard[i].t_s - f->heard[last].t_s;
            double expected = f->expected[f->match[i]].t_s - f->expected[f->match[last]].t_s;
            double sigma = expected > 0 ? f->o->jitter_s / expected + 0.05 : 1;
            if (heard > 0 && expected > 0 && fabs(log(heard / expected / f->stretch)) < 1) {
                sum += log(heard / expected) / (sigma * sigma);
                weight += 1 / (sigma * sigma);
            }
        }
        last = i;
    }
    f->stretch = exp(sum / weight);
}

static double ln_stretch(const struct fitting *f)
{
    double z = log(f->stretch) / f->o->stretch_sigma;
    return -0.5 * z * z;
}

static double settle(struct fitting *f, double start_stretch)
{
    double score = NOWHERE;
    f->stretch = start_stretch;
    for (int round = 0; round < ROUNDS; round++) {
        double now = align(f);
        if (f->named)
            now += ln_order(f) + ln_shared(f);
        now += ln_stretch(f);
        if (f->named && round > 1 && now <= score + 1e-6)
            return now > score ? now : score;
        score = f->named ? now : NOWHERE;
        learn_stretch(f);
        name_from_matches(f);
    }
    return score;
}

struct outcome {
    double score;
    uint8_t name[HEARING_SOUNDERS_MOST], also[FIT_HAMMERS_MOST];
    int match[BLOWS_MOST];
};

static void keep_if_better(struct outcome *best, const struct fitting *f, double score)
{
    if (score <= best->score)
        return;
    best->score = score;
    memcpy(best->name, f->name, sizeof best->name);
    memcpy(best->also, f->also, sizeof best->also);
    memcpy(best->match, f->match, sizeof best->match);
}

static double first_stretch(const struct fitting *f)
{
    if (f->heards < 2 || f->expecteds < 2)
        return 1;
    double heard = f->heard[f->heards - 1].t_s - f->heard[0].t_s;
    double expected = f->expected[f->expecteds - 1].t_s - f->expected[0].t_s;
    double ratio = expected > 0 ? heard / expected * (double)(f->expecteds - 1) / (double)(f->heards - 1) : 1;
    return ratio < 0.4 ? 0.4 : ratio > 2.5 ? 2.5 : ratio;
}

/* Names from order of pitch at every offset, and names from an alignment that ignores them. */
static void fit_one(struct fitting *f, struct outcome *best)
{
    uint8_t order[FIT_HAMMERS_MOST] = {0};
    size_t hammers = hammers_in_order(f, order), sounders = f->hearing->sounder_count;
    size_t offsets = hammers > sounders ? hammers - sounders + 1 : 1;
    double stretch = first_stretch(f);
    prepare(f);
    best->score = NOWHERE;
    f->named = false;
    keep_if_better(best, f, settle(f, stretch));
    for (size_t first = 0; first < offsets && first < 6; first++) {
        name_in_order(f, order, hammers, first);
        keep_if_better(best, f, settle(f, stretch));
    }
}

/* ---- all candidates ---- */

static struct fit_options filled_in(const struct fit_options *o)
{
    struct fit_options full = *o;
    full.hammers = full.hammers < 1 ? 1 : full.hammers > FIT_HAMMERS_MOST ? FIT_HAMMERS_MOST : full.hammers;
    full.stretch_sigma = full.stretch_sigma > 0 ? full.stretch_sigma : STRETCH_SIGMA;
    full.jitter_s = full.jitter_s > 0 ? full.jitter_s : JITTER_S;
    full.miss_p = full.miss_p > 0 ? full.miss_p : MISS_P;
    full.extra_p = full.extra_p > 0 ? full.extra_p : EXTRA_P;
    return full;
}

/* Everything heard is something else: as if all were extra, but with nothing missing either. */
static double ln_none(const struct hearing *h, size_t first, size_t count, const struct fit_options *o)
{
    double ln = 0;
    for (size_t i = 0; i < count; i++)
        ln += log(0.3) - log((double)o->hammers) + log(0.5 + 0.5 * (double)h->blow[first + i].sure);
    return ln;
}

static bool sound_candidate(const struct fit_candidate *c, const struct fit_options *o)
{
    for (size_t j = 0; j < c->count; j++)
        if (c->blow[j].hammer >= o->hammers)
            return false;
    return c->prior > 0 && c->count <= BLOWS_MOST;
}

/* A sounder that two hammers share is the one that was expected there. */
static void add_soft_names(struct fit_result *r, const struct hearing *h, size_t first, const struct outcome *o,
                           const struct fit_blow *expected, double p)
{
    for (size_t i = 0; i < r->blow_count; i++) {
        uint8_t due = o->match[i] >= 0 ? expected[o->match[i]].hammer : FIT_UNNAMED;
        for (size_t c = 0; c < h->sounder_count; c++) {
            uint8_t hammer = due < FIT_HAMMERS_MOST && o->also[due] == c ? due : o->name[c];
            if (hammer < FIT_HAMMERS_MOST)
                r->hammer_p[i * FIT_HAMMERS_MOST + hammer] += (float)p * h->blow[first + i].sounder_p[c];
        }
    }
}

static void weigh(struct fit_result *r, const struct fit_candidate *candidate, const struct outcome *outcome,
                  double none)
{
    double most = none + log(NONE_PRIOR), prior = 0, sum;
    for (size_t k = 0; k < r->candidate_count; k++)
        prior += candidate[k].prior > 0 ? candidate[k].prior : 0;
    for (size_t k = 0; k < r->candidate_count; k++)
        if (outcome[k].score > NOWHERE) {
            r->posterior[k] = outcome[k].score + log((1 - NONE_PRIOR) * candidate[k].prior / prior);
            most = r->posterior[k] > most ? r->posterior[k] : most;
        }
    r->none = exp(none + log(NONE_PRIOR) - most);
    sum = r->none;
    for (size_t k = 0; k < r->candidate_count; k++) {
        r->posterior[k] = outcome[k].score > NOWHERE ? exp(r->posterior[k] - most) : 0;
        sum += r->posterior[k];
        if (r->posterior[k] > r->posterior[r->best])
            r->best = k;
    }
    r->none /= sum;
    for (size_t k = 0; k < r->candidate_count; k++)
        r->posterior[k] /= sum;
}

void fit_hearing(struct fit_result *r, const struct hearing *h, size_t first, size_t count,
                 const struct fit_candidate *candidate, size_t candidates, const struct fit_options *options)
{
    struct fit_options o = filled_in(options);
    fit_release(r);
    memset(r->hammer_of, FIT_UNNAMED, sizeof r->hammer_of);
    first = first < h->blow_count ? first : h->blow_count;
    count = count < h->blow_count - first ? count : h->blow_count - first;
    count = count < BLOWS_MOST ? count : BLOWS_MOST;
    r->candidate_count = candidates;
    r->blow_count = count;
    r->none = 1;
    r->posterior = mem_alloc((candidates + 1) * sizeof *r->posterior);
    r->hammer_p = mem_alloc((count + 1) * FIT_HAMMERS_MOST * sizeof *r->hammer_p);
    r->expected_of = mem_alloc((count + 1) * sizeof *r->expected_of);
    struct outcome *outcome = mem_alloc((candidates + 1) * sizeof *outcome);
    struct fitting f = {.heard = h->blow + first, .heards = count, .hearing = h, .o = &o};
    f.best = mem_alloc((count + 1) * BLOWS_MOST * sizeof *f.best);
    f.from = mem_alloc((count + 1) * BLOWS_MOST * sizeof *f.from);
    for (size_t k = 0; k < candidates; k++) {
        outcome[k].score = NOWHERE;
        if (!sound_candidate(&candidate[k], &o))
            continue;
        f.expected = candidate[k].blow;
        f.expecteds = candidate[k].count;
        fit_one(&f, &outcome[k]);
    }
    weigh(r, candidate, outcome, ln_none(h, first, count, &o));
    for (size_t k = 0; k < candidates; k++)
        if (r->posterior[k] > 1e-6)
            add_soft_names(r, h, first, &outcome[k], candidate[k].blow, r->posterior[k]);
    if (candidates > 0 && outcome[r->best].score > NOWHERE) {
        r->log_score = outcome[r->best].score;
        memcpy(r->hammer_of, outcome[r->best].name, sizeof r->hammer_of);
        memcpy(r->expected_of, outcome[r->best].match, count * sizeof *r->expected_of);
    }
    mem_free(f.best);
    mem_free(f.from);
    mem_free(outcome);
}

void fit_release(struct fit_result *r)
{
    mem_free(r->posterior);
    mem_free(r->hammer_p);
    mem_free(r->expected_of);
    *r = (struct fit_result){0};
}
