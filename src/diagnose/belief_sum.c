/* From hypotheses to causes, classes, parts and clocks; beliefs mixed (belief.h). */
#include "diagnose/belief_priv.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>
#include "diagnose/sweep.h"
#include "mem.h"

static int by_p_held(const void *a, const void *b)
{
    double x = ((const struct held *)a)->p, y = ((const struct held *)b)->p;
    return x < y ? 1 : x > y ? -1 : 0;
}

static int by_p_cause(const void *a, const void *b)
{
    double x = ((const struct belief_cause *)a)->p, y = ((const struct belief_cause *)b)->p;
    return x < y ? 1 : x > y ? -1 : 0;
}

static int by_p_share(const void *a, const void *b)
{
    double x = ((const struct belief_share *)a)->p, y = ((const struct belief_share *)b)->p;
    return x < y ? 1 : x > y ? -1 : 0;
}

static void share_add(struct belief_share **at, size_t *count, const char *name, double p)
{
    for (size_t i = 0; i < *count; i++)
        if (strcmp((*at)[i].name, name) == 0) {
            (*at)[i].p += p;
            return;
        }
    size_t room = *count; /* grows by one name at a time; there are few */
    *at = mem_grow(*at, &room, *count + 1, sizeof **at);
    (*at)[(*count)++] = (struct belief_share){name, p};
}

static void clock_add(struct belief *b, size_t *place, const char *id, double p)
{
    if (*place)
        b->clock[*place - 1].p += p;
    else {
        share_add(&b->clock, &b->clocks, id, p);
        *place = b->clocks;
    }
}

static bool safe_for_owner(const struct cure *c)
{
    return c && c->hazard && strcmp(c->hazard, "none") == 0 && c->who &&
           strcmp(c->who, "owner") == 0;
}

static size_t cause_for(struct finder *f, struct belief *b, size_t *room, const struct fault *one,
                        const struct fault *two)
{
    for (size_t i = 0; i < b->causes; i++)
        if (b->cause[i].fault == one && b->cause[i].second == two)
            return i;
    b->cause = mem_grow(b->cause, room, b->causes + 1, sizeof *b->cause);
    const struct cure *cure = one && one->cure ? library_find_cure(f->lib, one->cure) : NULL;
    bool safe = one ? safe_for_owner(cure) : true;
    if (two)
        safe = safe && safe_for_owner(library_find_cure(f->lib, two->cure));
    b->cause[b->causes] = (struct belief_cause){.fault = one,
                                                .second = two,
                                                .id = one ? one->id : "none",
                                                .part = one ? one->part : "none",
                                                .class = one ? one->class : "no_fault",
                                                .cure = cure,
                                                .owner_safe = safe,
                                                .best = (size_t)-1};
    return b->causes++;
}

/* Severity over the hypotheses of a cause, in hundredths. */
struct severities {
    double bin[101], sum, mean;
};

static void severity_add(struct severities *s, const struct held *h)
{
    double severity = h->kase->variant[h->variant].severity;
    s->bin[(int)lround(fmax(0, fmin(1, severity)) * 100)] += h->p;
    s->sum += h->p;
    s->mean += h->p * severity;
}

/* Mean and the middle four fifths. */
static void severity_of(const struct severities *s, struct belief_cause *c)
{
    double run = 0;
    c->severity_mean = s->sum > 0 ? s->mean / s->sum : 0;
    for (int i = 0; i <= 100; i++) {
        double before = run;
        run += s->sum > 0 ? s->bin[i] / s->sum : 0;
        if (before < 0.1 && run >= 0.1)
            c->severity_low = i / 100.0;
        if (before < 0.9 && run >= 0.9)
            c->severity_high = i / 100.0;
    }
}

static void find_severities(struct belief *b)
{
    struct severities *s = mem_alloc((b->causes + 1) * sizeof *s);
    for (size_t i = 0; i < b->helds; i++)
        severity_add(&s[b->held[i].cause], &b->held[i]);
    for (size_t i = 0; i < b->causes; i++)
        severity_of(&s[i], &b->cause[i]);
    mem_free(s);
}

void belief_sum_up(struct finder *f, struct gathering *g)
{
    struct belief *b = g->out;
    size_t room = 0;
    size_t *place = mem_alloc((f->count + 1) * sizeof *place); /* of each clock in b->clock, + 1 */
    double all = g->total + g->unknown;
    b->omitted = all + g->lost > 0 ? g->lost / (all + g->lost) : 0;
    b->pairs_untried = all > 0 ? g->untried / (all + g->untried) : 0;
    b->pairs_about = all > 0 ? g->about / (all + g->about) : 0;
    b->evidence = log(all);
    for (size_t i = 0; i < b->helds; i++)
        b->held[i].p /= all;
    if (b->helds)
        qsort(b->held, b->helds, sizeof *b->held, by_p_held);
    for (size_t i = 0; i < b->helds; i++) {
        struct held *h = &b->held[i];
        const struct variant *v = &h->kase->variant[h->variant];
        size_t c = cause_for(f, b, &room, v->fault, v->second);
        h->cause = c;
        b->cause[c].p += h->p;
        if (b->cause[c].best == (size_t)-1)
            b->cause[c].best = i;
        clock_add(b, &place[h->kase - f->kase], h->kase->clock->id, h->p);
    }
    mem_free(place);
    find_severities(b);
    size_t at = cause_for(f, b, &room, &fault_undescribed, NULL); /* may move the causes */
    struct belief_cause *unknown = &b->cause[at];
    unknown->p += g->unknown / all;
    unknown->fault = NULL;
    unknown->best = (size_t)-1;
}

/* An unknown cause that was followed through the mechanism has its place there, though no name. */
static void place_unknown(struct belief *b)
{
    for (size_t i = 0; i < b->helds; i++) {
        const struct variant *v = &b->held[i].kase->variant[b->held[i].variant];
        if (v->fault != &fault_undescribed)
            continue;
        share_add(&b->by_part, &b->parts, sweep_part(v->swept), b->held[i].p);
        share_add(&b->by_part, &b->parts, fault_undescribed.part, -b->held[i].p);
    }
}

/* Causes in order; hypotheses keep pointing at theirs. */
void belief_put_in_order(struct belief *b)
{
    const char **was = mem_alloc((b->causes + 1) * sizeof *was);
    const struct fault **second = mem_alloc((b->causes + 1) * sizeof *second);
    size_t *now = mem_alloc((b->causes + 1) * sizeof *now);
    for (size_t i = 0; i < b->causes; i++) {
        was[i] = b->cause[i].id;
        second[i] = b->cause[i].second;
    }
    qsort(b->cause, b->causes, sizeof *b->cause, by_p_cause);
    for (size_t i = 0; i < b->causes; i++)
        for (size_t k = 0; k < b->causes; k++)
            if (b->cause[k].id == was[i] && b->cause[k].second == second[i])
                now[i] = k;
    for (size_t i = 0; i < b->helds; i++)
        b->held[i].cause = now[b->held[i].cause];
    mem_free(was);
    mem_free(second);
    mem_free(now);
    for (size_t i = 0; i < b->causes; i++) {
        share_add(&b->by_class, &b->classes, b->cause[i].class, b->cause[i].p);
        share_add(&b->by_part, &b->parts, b->cause[i].part, b->cause[i].p);
    }
    place_unknown(b);
    qsort(b->by_class, b->classes, sizeof *b->by_class, by_p_share);
    qsort(b->by_part, b->parts, sizeof *b->by_part, by_p_share);
    if (b->clocks)
        qsort(b->clock, b->clocks, sizeof *b->clock, by_p_share);
}

void belief_release(struct belief *b)
{
    mem_free(b->cause);
    mem_free(b->by_class);
    mem_free(b->by_part);
    mem_free(b->clock);
    mem_free(b->held);
    memset(b, 0, sizeof *b);
}

static size_t same_cause(const struct belief *b, const struct belief_cause *c)
{
    size_t i = 0;
    while (i < b->causes && (strcmp(b->cause[i].id, c->id) != 0 || b->cause[i].second != c->second))
        i++;
    return i;
}

static void mix_shares(struct belief_share **at, size_t *count, const struct belief_share *other,
                       size_t others, double share)
{
    for (size_t i = 0; i < *count; i++)
        (*at)[i].p *= 1 - share;
    for (size_t i = 0; i < others; i++)
        share_add(at, count, other[i].name, other[i].p * share);
    if (*count)
        qsort(*at, *count, sizeof **at, by_p_share);
}

void belief_mix(struct belief *b, const struct belief *other, double share)
{
    size_t cause_room = b->causes, held_room = b->helds;
    for (size_t i = 0; i < b->causes; i++)
        b->cause[i].p *= 1 - share;
    for (size_t i = 0; i < b->helds; i++)
        b->held[i].p *= 1 - share;
    for (size_t i = 0; i < other->causes; i++) {
        size_t at = same_cause(b, &other->cause[i]);
        b->cause = mem_grow(b->cause, &cause_room, b->causes + 1, sizeof *b->cause);
        if (at == b->causes) {
            b->cause[b->causes] = other->cause[i];
            b->cause[b->causes++].p = 0;
        }
        b->cause[at].p += share * other->cause[i].p;
    }
    for (size_t i = 0; i < other->helds; i++) {
        struct held h = other->held[i];
        h.p *= share;
        h.cause = same_cause(b, &other->cause[h.cause]);
        b->held = mem_grow(b->held, &held_room, b->helds + 1, sizeof *b->held);
        b->held[b->helds++] = h;
    }
    if (b->helds)
        qsort(b->held, b->helds, sizeof *b->held, by_p_held);
    b->classes = b->parts = 0;
    belief_put_in_order(b);
    mix_shares(&b->clock, &b->clocks, other->clock, other->clocks, share);
    for (size_t i = 0; i < b->causes; i++)
        b->cause[i].best = (size_t)-1;
    for (size_t i = b->helds; i-- > 0;)
        b->cause[b->held[i].cause].best = i;
    b->omitted += other->omitted;
    b->pairs_untried += share * (other->pairs_untried - b->pairs_untried);
    b->pairs_about += share * (other->pairs_about - b->pairs_about);
    b->pairs_tried += other->pairs_tried;
}

const struct belief_cause *belief_cause_of(const struct belief *b, const char *id)
{
    for (size_t i = 0; i < b->causes; i++)
        if (strcmp(b->cause[i].id, id) == 0 && !b->cause[i].second)
            return &b->cause[i];
    return NULL;
}
