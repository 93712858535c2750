#include "listen/cluster.h"

#include <math.h>
#include <stdbool.h>
#include <string.h>

#include "listen/likeness.h"
#include "mem.h"

#define FORM_MOST 400    /* blows that form clusters; more only get probabilities */
#define JOIN_LEAST 0.50f /* groups less like each other than this are different sounders ... */
#define SAME_LEAST 0.90f /* cluster spectra as like as this are one sounder */
#define SHARPNESS 22.0f  /* of the mixture: ln odds for a difference of 1 in likeness */
#define ROUNDS 6

/* Groups under way.  like[i * n + j] holds the mean likeness of group i to group j while both live. */
struct joining {
    size_t n;
    float *like;
    size_t *size, *group; /* group of each blow, as the index of its first blow */
    bool *lives;
};

/* ... in noise; clear blows of one sounder are liker than that, and two bells an octave apart are nearly
 * as like as noisy blows of one.  What is added to a likeness to make JOIN_LEAST right for it, from
 * the spread of likenesses of made blows at each clearness. */
static float allowance(const struct attack *a, const struct attack *b)
{
    float snr = a->snr_db < b->snr_db ? a->snr_db : b->snr_db;
    float clear = (snr - 12) / 18;
    clear = clear < 0 ? 0 : clear > 1 ? 1 : clear;
    return 0.05f - 0.25f * clear;
}

static void joining_init(struct joining *g, const struct attack *const *a, size_t n)
{
    g->n = n;
    g->like = mem_alloc(n * n * sizeof *g->like);
    g->size = mem_alloc(n * sizeof *g->size);
    g->group = mem_alloc(n * sizeof *g->group);
    g->lives = mem_alloc(n * sizeof *g->lives);
    for (size_t i = 0; i < n; i++) {
        g->size[i] = 1;
        g->group[i] = i;
        g->lives[i] = true;
        for (size_t j = 0; j < i; j++)
            g->like[i * n + j] = g->like[j * n + i] =
                attack_likeness(a[i]->spectrum, a[j]->spectrum) + allowance(a[i], a[j]);
    }
}

static void joining_release(struct joining *g)
{
    mem_free(g->like);
    mem_free(g->size);
    mem_free(g->group);
    mem_free(g->lives);
}

static bool likest_pair(const struct joining *g, size_t *first, size_t *second)
{
    float most = JOIN_LEAST;
    bool found = false;
    for (size_t i = 0; i < g->n; i++)
        for (size_t j = 0; g->lives[i] && j < i; j++)
            if (g->lives[j] && g->like[i * g->n + j] > most) {
                most = g->like[i * g->n + j];
                *first = j;
                *second = i;
                found = true;
            }
    return found;
}

static void join(struct joining *g, size_t i, size_t j)
{
    float wi = (float)g->size[i], wj = (float)g->size[j];
    for (size_t k = 0; k < g->n; k++) {
        float mean = (wi * g->like[i * g->n + k] + wj * g->like[j * g->n + k]) / (wi + wj);
        g->like[i * g->n + k] = g->like[k * g->n + i] = mean;
    }
    g->size[i] += g->size[j];
    g->lives[j] = false;
    for (size_t b = 0; b < g->n; b++)
        if (g->group[b] == j)
            g->group[b] = i;
}

/* The heaviest groups become clusters. */
static void found_clusters(struct clustering *c, const struct joining *g, const struct attack *const *a)
{
    bool *taken = mem_alloc(g->n * sizeof *taken);
    c->count = 0;
    while (c->count < CLUSTERS_MOST) {
        size_t best = g->n;
        for (size_t i = 0; i < g->n; i++)
            if (g->lives[i] && !taken[i] && (best == g->n || g->size[i] > g->size[best]))
                best = i;
        if (best == g->n)
            break;
        taken[best] = true;
        struct cluster *k = &c->at[c->count++];
        *k = (struct cluster){.weight = (double)g->size[best]};
        for (size_t b = 0; b < g->n; b++)
            for (size_t l = 0; g->group[b] == best && l < ATTACK_LINES; l++)
                k->spectrum[l] += a[b]->spectrum[l];
    }
    mem_free(taken);
}

static void scale_to_unit(float *v)
{
    float sum = 0;
    for (size_t l = 0; l < ATTACK_LINES; l++)
        sum += v[l] * v[l];
    float scale = sum > 0 ? 1 / sqrtf(sum) : 0;
    for (size_t l = 0; l < ATTACK_LINES; l++)
        v[l] *= scale;
}

static void expect(struct clustering *c, const struct attack *a, size_t blow, double total)
{
    float ln[CLUSTERS_MOST], most = -1e9f, sum = 0, *p = c->p[blow];
    for (size_t k = 0; k < c->count; k++) {
        float like = attack_likeness(a->spectrum, c->at[k].spectrum);
        ln[k] = SHARPNESS * like + logf((float)((c->at[k].weight + 0.5) / (total + 0.5 * (double)c->count)));
        most = ln[k] > most ? ln[k] : most;
    }
    for (size_t k = 0; k < c->count; k++)
        sum += p[k] = expf(ln[k] - most);
    for (size_t k = 0; k < CLUSTERS_MOST; k++)
        p[k] = k < c->count ? p[k] / sum : 0;
}

static void expect_all(struct clustering *c, const struct attack *a)
{
    double total = 0;
    for (size_t k = 0; k < c->count; k++)
        total += c->at[k].weight;
    for (size_t b = 0; b < c->blows; b++)
        expect(c, &a[b], b, total);
}

static void maximise(struct clustering *c, const struct attack *a, const uint8_t *use)
{
    for (size_t k = 0; k < c->count; k++) {
        struct cluster *cl = &c->at[k];
        *cl = (struct cluster){0};
        for (size_t b = 0; b < c->blows; b++) {
            float p = c->p[b][k];
            if (p < 0.02f || (use && !use[b]))
                continue;
            cl->weight += p;
            for (size_t l = 0; l < ATTACK_LINES; l++)
                cl->spectrum[l] += p * a[b].spectrum[l];
        }
        scale_to_unit(cl->spectrum);
    }
}

static void drop_cluster(struct clustering *c, size_t k)
{
    memmove(&c->at[k], &c->at[k + 1], (c->count - k - 1) * sizeof *c->at);
    c->count--;
}

/* Clusters that lost their blows go, and two that have become alike are one. */
static void tidy(struct clustering *c)
{
    for (size_t k = c->count; k-- > 0;)
        if (c->at[k].weight < 0.5 && c->count > 1)
            drop_cluster(c, k);
    for (size_t i = 0; i < c->count; i++)
        for (size_t j = c->count; j-- > i + 1;)
            if (attack_likeness(c->at[i].spectrum, c->at[j].spectrum) > SAME_LEAST) {
                for (size_t l = 0; l < ATTACK_LINES; l++)
                    c->at[i].spectrum[l] = (float)(c->at[i].weight * c->at[i].spectrum[l] +
                                                   c->at[j].weight * c->at[j].spectrum[l]);
                c->at[i].weight += c->at[j].weight;
                scale_to_unit(c->at[i].spectrum);
                drop_cluster(c, j);
            }
}

static void order_by_pitch(struct clustering *c)
{
    const float *spectra[CLUSTERS_MOST];
    double pitch_hz[CLUSTERS_MOST];
    for (size_t k = 0; k < c->count; k++)
        spectra[k] = c->at[k].spectrum;
    pitch_order(spectra, c->count, pitch_hz);
    for (size_t k = 0; k < c->count; k++)
        c->at[k].pitch_hz = pitch_hz[k];
    for (size_t i = 1; i < c->count; i++) {
        struct cluster moved = c->at[i];
        size_t j = i;
        for (; j > 0 && c->at[j - 1].pitch_hz < moved.pitch_hz; j--)
            c->at[j] = c->at[j - 1];
        c->at[j] = moved;
    }
}

/* Likeness of each blow to what its cluster is without it. */
static void measure_likeness(struct clustering *c, const struct attack *a, const uint8_t *use)
{
    for (size_t b = 0; b < c->blows; b++) {
        float best = 0;
        for (size_t k = 0; k < c->count; k++) {
            float rest[ATTACK_LINES], own = !use || use[b] ? c->p[b][k] : 0;
            double length = 0; /* of the sum the cluster's unit spectrum came from, nearly */
            length = c->at[k].weight * 0.85;
            for (size_t l = 0; l < ATTACK_LINES; l++) {
                float r = (float)length * c->at[k].spectrum[l] - own * a[b].spectrum[l];
                rest[l] = r > 0 ? r : 0;
            }
            if (c->at[k].weight - own < 0.5)
                continue;
            scale_to_unit(rest);
            float like = attack_likeness(a[b].spectrum, rest);
            best = like > best ? like : best;
        }
        c->likeness[b] = best;
    }
}

static size_t pick(const struct attack *a, const uint8_t *use, size_t blows, const struct attack **picked)
{
    size_t wanted = 0, n = 0, seen = 0;
    for (size_t b = 0; b < blows; b++)
        wanted += !use || use[b];
    size_t each = wanted / FORM_MOST + 1; /* every so-many-th of a very long list */
    for (size_t b = 0; b < blows && n < FORM_MOST; b++)
        if ((!use || use[b]) && seen++ % each == 0)
            picked[n++] = &a[b];
    return n;
}

void cluster_learn(struct clustering *c, const struct attack *a, const uint8_t *use, size_t blows)
{
    const struct attack *picked[FORM_MOST];
    c->p = mem_grow(c->p, &c->room, blows, sizeof *c->p);
    c->likeness = mem_grow(c->likeness, &c->likeness_room, blows, sizeof *c->likeness);
    c->blows = blows;
    c->count = 0;
    size_t n = pick(a, use, blows, picked), first, second;
    if (n == 0)
        return;
    struct joining g;
    joining_init(&g, picked, n);
    while (likest_pair(&g, &first, &second))
        join(&g, first, second);
    found_clusters(c, &g, picked);
    joining_release(&g);
    for (size_t k = 0; k < c->count; k++)
        scale_to_unit(c->at[k].spectrum);
    for (int round = 0; round < ROUNDS; round++) {
        expect_all(c, a);
        maximise(c, a, use);
        tidy(c);
    }
    expect_all(c, a);
    measure_likeness(c, a, use);
}

void cluster_order(struct clustering *c, const struct attack *a)
{
    order_by_pitch(c);
    expect_all(c, a);
}

void cluster_release(struct clustering *c)
{
    mem_free(c->p);
    mem_free(c->likeness);
    *c = (struct clustering){0};
}
