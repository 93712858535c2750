#include "listen/listener.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "event.h"
#include "listen/attack.h"
#include "listen/bounce.h"
#include "listen/cluster.h"
#include "listen/halve.h"
#include "listen/judgement.h"
#include "listen/manner.h"
#include "listen/onset.h"
#include "mem.h"

#define KEEP_S       3    /* seconds of sound kept */
#define BLOCK        4096 /* samples handed on at a time */
#define WAITING_MOST 32
#define FULLER       4    /* times the novelty of an onset right before it */
#define BLOWS_MOST   4096 /* of a recording; only the surest are kept beyond it */

/* The latest sound. */
struct kept {
    float *at;
    size_t count;
    double start_s;
    int rate_hz;
};

struct listener {
    struct onset_finder *finder;
    struct attack_lab *lab;
    struct halver halver;
    struct kept whole, half; /* the sound as it came, and at ATTACK_RATE_HZ */
    size_t fed;              /* samples in all */
    struct onset waiting[WAITING_MOST];
    size_t waiting_count;
    struct attack *attack;
    size_t attack_count, attack_room;
    struct clustering clusters;
    struct level level;
    double power_sum; /* slow background: minimum of block powers */
    float background_db;
};

static struct kept kept_new(int rate_hz)
{
    size_t room = (size_t)(KEEP_S * rate_hz + BLOCK);
    return (struct kept){.at = mem_alloc(room * sizeof(float)), .rate_hz = rate_hz};
}

struct listener *listener_new(void)
{
    struct listener *l = mem_alloc(sizeof *l);
    l->finder = onset_new();
    l->lab = attack_lab_new();
    l->whole = kept_new(LISTENER_RATE_HZ);
    l->half = kept_new(ATTACK_RATE_HZ);
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
    mem_free(l->whole.at);
    mem_free(l->half.at);
    mem_free(l->attack);
    mem_free(l);
}

void listener_clear(struct listener *l)
{
    onset_clear(l->finder);
    level_init(&l->level, LISTENER_RATE_HZ);
    halver_init(&l->halver);
    l->whole.count = l->half.count = l->fed = l->waiting_count = l->attack_count = 0;
    l->whole.start_s = l->half.start_s = 0;
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

static void look_for_bounce(const struct listener *l, struct attack *a)
{
    long at = lround((a->t_s - l->whole.start_s) * LISTENER_RATE_HZ);
    struct bounce b = bounce_find(l->whole.at, l->whole.count, at > 0 ? (size_t)at : 0, a->clear_s);
    a->second = b.size;
    a->second_stands = b.stands;
    a->second_s = b.after_s;
    a->second_jump = b.jump;
}

#define ASIDE_S     0.07  /* a tick and a blow so near each other are one onset */
#define BEFORE_S    0.1   /* ... and what came before has to be seen without the tick */
#define ASIDE_LEAST 0.03
#define ASIDE_MOST  0.125
#define GROWS       3.0f  /* power of the partials a tenth of a second later: what rings came after */
#define OLD_SHARE   0.95f /* less of them is new: what rings may have come before */

static bool looks_like_blow(const struct attack *a)
{
    return a->steady > 0.75f && a->tonality > 0.85f && a->snr_db > 13 && a->rise > 2 && a->share > 0.5f &&
           a->keep > 0.15f && a->keep < 1.6f;
}

/* A tick is sharper than a blow and draws the onset to itself: what rings may have begun a little later, or a
 * little before. */
static void look_aside(struct listener *l, const struct onset *o, double next_s, double later_s, struct attack *a)
{
    struct attack b;
    bool grows = a->keep > GROWS, old = a->keep > 0.15f && a->share < OLD_SHARE;
    double side_s = grows ? ASIDE_S : -BEFORE_S, end_s = grows ? next_s : a->t_s + ATTACK_AFTER_S;
    if (!grows && !old)
        return;
    end_s = end_s < next_s ? end_s : next_s;
    if (!attack_look(l->lab, l->half.at, l->half.count, l->half.start_s, o->t_s + side_s, o->novelty, end_s, later_s,
                     &b) ||
        !looks_like_blow(&b))
        return;
    double off_s = (b.t_s - a->t_s) * (grows ? 1 : -1);
    if (off_s > ASIDE_LEAST && off_s < ASIDE_MOST && (grows || b.share > a->share + 0.1f))
        *a = b;
}

static void look_at(struct listener *l, const struct onset *o, double next_s, double later_s)
{
    struct attack a;
    if (!attack_look(l->lab, l->half.at, l->half.count, l->half.start_s, o->t_s, o->novelty, next_s,
                     later_s, &a))
        return;
    look_aside(l, o, next_s, later_s, &a);
    if (l->attack_count && fabs(a.t_s - l->attack[l->attack_count - 1].t_s) < 0.02)
        return; /* two peaks, one blow */
    look_for_bounce(l, &a);
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
        double t = l->waiting[done].t_s, next = next_known ? l->waiting[done + 1].t_s : 1e9,
               later = done + 2 < l->waiting_count ? l->waiting[done + 2].t_s : 1e9;
        if (next_known && l->waiting[done + 1].novelty > FULLER * l->waiting[done].novelty)
            later = next; /* it is the blow itself that comes next */
        if (heard_s < t + ATTACK_AFTER_S + 0.1 || (!next_known && settled_s < t + ATTACK_AFTER_S))
            break;
        look_at(l, &l->waiting[done], next, later);
        done++;
    }
    l->waiting_count -= done;
    memmove(l->waiting, l->waiting + done, l->waiting_count * sizeof *l->waiting);
}

static void keep_sound(struct kept *k, const float *samples, size_t frames)
{
    size_t most = (size_t)(KEEP_S * k->rate_hz + BLOCK);
    if (k->count + frames > most) {
        size_t drop = k->count - (most - BLOCK - frames);
        memmove(k->at, k->at + drop, (k->count - drop) * sizeof *k->at);
        k->count -= drop;
        k->start_s += (double)drop / k->rate_hz;
    }
    memcpy(k->at + k->count, samples, frames * sizeof *samples);
    k->count += frames;
}

static void feed_block(struct listener *l, const float *samples, size_t frames)
{
    float clean[BLOCK], half[BLOCK / 2 + HALVE_BLOCK];
    for (size_t i = 0; i < frames; i++)
        clean[i] = samples[i] >= -8 && samples[i] <= 8 ? samples[i] : 0; /* NaN too */
    level_feed(&l->level, clean, frames);
    keep_sound(&l->whole, clean, frames);
    size_t halves = halver_feed(&l->halver, clean, frames, half);
    keep_sound(&l->half, half, halves);
    onset_feed(l->finder, half, halves);
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
    float half[HALVE_BLOCK];
    size_t halves = halver_finish(&l->halver, half);
    keep_sound(&l->half, half, halves);
    onset_feed(l->finder, half, halves);
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

static int by_size(const void *a, const void *b)
{
    float x = *(const float *)a, y = *(const float *)b;
    return (x > y) - (x < y);
}

#define TYPICAL_MOST 512

/* Median of one number over the blows of a sounder; 0 when it has none. */
static float typical(const struct listener *l, const uint8_t *use, const struct hearing *h,
                     size_t sounder, enum manner_number number)
{
    float x[TYPICAL_MOST], numbers[MANNER_NUMBERS];
    size_t n = 0;
    for (size_t i = 0, b = 0; i < l->attack_count; i++) {
        if (!use[i])
            continue;
        if (h->blow[b++].sounder == sounder && n < TYPICAL_MOST) {
            manner_numbers(&l->attack[i], numbers);
            x[n++] = numbers[number];
        }
    }
    if (n == 0)
        return 0;
    qsort(x, n, sizeof *x, by_size);
    return x[n / 2];
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

/* Means of the medians of all sounders but k that have blows enough. */
static void usual_elsewhere(const struct hearing *h, struct manner_usual usual[CLUSTERS_MOST], size_t k)
{
    for (size_t j = 0; j < h->sounder_count; j++) {
        if (j == k || usual[j].blows < MANNER_ALIKE)
            continue;
        usual[k].sounders++;
        for (int i = 0; i < MANNER_NUMBERS; i++)
            usual[k].others[i] += usual[j].own[i];
    }
    for (int i = 0; i < MANNER_NUMBERS && usual[k].sounders; i++)
        usual[k].others[i] /= (float)usual[k].sounders;
}

static void describe_sounders(const struct listener *l, const uint8_t *use, struct hearing *h,
                              struct manner_usual usual[CLUSTERS_MOST])
{
    float loudest = -1000;
    h->sounder_count = l->clusters.count;
    for (size_t k = 0; k < h->sounder_count; k++) {
        h->sounder[k].pitch_hz = l->clusters.at[k].pitch_hz;
        usual[k].blows = h->sounder[k].blows;
        for (int i = 0; i < MANNER_NUMBERS; i++)
            usual[k].own[i] = typical(l, use, h, k, (enum manner_number)i);
        h->sounder[k].ring_s = fmaxf(expf(usual[k].own[MANNER_RING]) - 0.05f, 0);
        if (h->sounder[k].blows && usual[k].own[MANNER_LEVEL] > loudest)
            loudest = usual[k].own[MANNER_LEVEL];
    }
    for (size_t k = 0; k < h->sounder_count; k++) {
        h->sounder[k].strength = powf(10, (usual[k].own[MANNER_LEVEL] - loudest) / 20);
        usual_elsewhere(h, usual, k);
    }
}

static void describe_blows(const struct listener *l, const uint8_t *use, struct hearing *h,
                           const struct manner_usual usual[CLUSTERS_MOST])
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
                b->quality = manner_of(a, &usual[b->sounder]);
                if (use[i] == BLOW_DULL)
                    b->quality = (uint8_t)((b->quality & ~QUALITY_WEAK) | QUALITY_THUD);
            }
        }
}

void listener_hearing(struct listener *l, struct hearing *h)
{
    size_t n = l->attack_count;
    uint8_t *use = mem_alloc(n + 1);
    float *sure = mem_alloc((n + 1) * sizeof *sure);
    struct manner_usual usual[CLUSTERS_MOST] = {{{0}, 0, {0}, 0}};
    hearing_clear(h);
    h->length_s = (double)l->fed / LISTENER_RATE_HZ;
    judge_blows(l->attack, n, h->length_s, &l->clusters, use, sure);
    add_blows(l, use, sure, h);
    describe_sounders(l, use, h, usual);
    describe_blows(l, use, h, usual);
    hearing_divide(h);
    mem_free(use);
    mem_free(sure);
}
