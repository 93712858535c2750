#include "diagnose/pairs.h"

#include <math.h>
#include <stdbool.h>
#include <stdlib.h>

#include "mem.h"

/* One variant, or a fault with all its variants (variant unused). */
struct ranked {
    size_t variant;
    const struct fault *fault;
    double weight, rank;
};

static int by_rank(const void *a, const void *b)
{
    const struct ranked *x = a, *y = b;
    if (x->rank != y->rank)
        return x->rank < y->rank ? 1 : -1;
    return (x->variant > y->variant) - (x->variant < y->variant);
}

/* Variants of this clock by weight x chance^power, best first. */
static size_t rank_variants(const struct held *held, size_t helds, const struct clock_case *k, double power,
                            struct ranked *to)
{
    size_t n = 0;
    for (size_t i = 0; i < helds; i++) {
        const struct variant *v = &k->variant[held[i].variant];
        if (held[i].kase != k || !v->fault || v->fault == &fault_undescribed || v->second || held[i].chance <= 0)
            continue;
        double weight = held[i].p / held[i].chance;
        to[n++] = (struct ranked){held[i].variant, v->fault, weight, weight * pow(held[i].chance, power)};
    }
    if (n)
        qsort(to, n, sizeof *to, by_rank);
    return n;
}

/* Faults by the sum of their variants, best first. */
static size_t rank_faults(const struct ranked *variant, size_t n, struct ranked *to)
{
    size_t faults = 0;
    for (size_t i = 0; i < n; i++) {
        size_t f = 0;
        while (f < faults && to[f].fault != variant[i].fault)
            f++;
        if (f == faults)
            to[faults++] = (struct ranked){.variant = i, .fault = variant[i].fault};
        to[f].rank += variant[i].rank;
    }
    if (faults)
        qsort(to, faults, sizeof *to, by_rank);
    return faults;
}

/* The best `each` variants of the best `most` faults; returns how many. */
static size_t best_of(const struct held *held, size_t helds, const struct clock_case *k, double power, size_t most,
                      size_t each, struct ranked *to)
{
    struct ranked *variant = mem_alloc((helds + 1) * sizeof *variant), *fault = mem_alloc((helds + 1) * sizeof *fault);
    size_t n = rank_variants(held, helds, k, power, variant), faults = rank_faults(variant, n, fault), taken = 0;
    for (size_t f = 0; f < faults && f < most; f++) {
        size_t same = 0;
        for (size_t i = 0; i < n && same < each; i++)
            if (variant[i].fault == fault[f].fault) {
                to[taken++] = variant[i];
                same++;
            }
    }
    mem_free(variant);
    mem_free(fault);
    return taken;
}

/* Where the clock may be found is asked of the first fault of a pair. */
static bool leads(const struct clock_case *k, size_t a, size_t b)
{
    unsigned x = k->variant[a].start, y = k->variant[b].start;
    return !x != !y ? x != 0 : a < b;
}

static bool among(const struct ranked *list, size_t n, size_t variant)
{
    for (size_t i = 0; i < n; i++)
        if (list[i].variant == variant)
            return true;
    return false;
}

size_t pairs_choose(const struct held *held, size_t helds, const struct clock_case *k, struct pair_choice *to)
{
    struct ranked first[PAIRS_FIRST * PAIRS_FIRST_EACH], second[PAIRS_SECOND * PAIRS_SECOND_EACH];
    size_t firsts = best_of(held, helds, k, 1, PAIRS_FIRST, PAIRS_FIRST_EACH, first);
    size_t seconds = best_of(held, helds, k, 0.5, PAIRS_SECOND, PAIRS_SECOND_EACH, second), n = 0;
    for (size_t j = 0; j < seconds; j++) {
        bool both = among(first, firsts, second[j].variant);
        for (size_t i = 0; i < firsts; i++) {
            const struct ranked *a = &first[i], *b = &second[j];
            bool met = both && a->variant > b->variant && among(second, seconds, a->variant);
            if (a->fault == b->fault || met)
                continue;
            if (!leads(k, a->variant, b->variant)) {
                a = &second[j];
                b = &first[i];
            }
            to[n++] = (struct pair_choice){a->variant, b->variant, a->weight * b->weight};
        }
    }
    return n;
}

/* ---- all of them ---- */

double pairs_weight(const struct clock_case *k, const double *weight)
{
    double sum = 0, cross = 0, same = 0;
    for (size_t i = 1; i < k->listed; i++) {
        if (k->variant[i].fault != k->variant[i - 1].fault)
            same = 0;
        cross += weight[i] * (sum - same); /* with all variants of the faults before */
        sum += weight[i];
        same += weight[i];
    }
    return cross;
}

/* The partner tried next of a variant: both are places in the list by weight, and the partner stands
 * behind it. */
struct partner {
    size_t one, other;
    double weight;
};

struct pair_order {
    const struct clock_case *k;
    struct ranked *single; /* heaviest first */
    size_t singles;
    struct partner *heap; /* the heaviest on top */
    size_t heaped;
    uint64_t *but; /* ascending */
    size_t buts;
};

static uint64_t pair_number(size_t a, size_t b)
{
    return a < b ? (uint64_t)a << 32 | b : (uint64_t)b << 32 | a;
}

static int by_number(const void *a, const void *b)
{
    uint64_t x = *(const uint64_t *)a, y = *(const uint64_t *)b;
    return x < y ? -1 : x > y;
}

static bool heavier(const struct partner *a, const struct partner *b)
{
    if (a->weight != b->weight)
        return a->weight > b->weight;
    return a->one != b->one ? a->one < b->one : a->other < b->other;
}

static void sink(struct pair_order *o, size_t at)
{
    for (size_t child; (child = 2 * at + 1) < o->heaped; at = child) {
        if (child + 1 < o->heaped && heavier(&o->heap[child + 1], &o->heap[child]))
            child++;
        if (!heavier(&o->heap[child], &o->heap[at]))
            return;
        struct partner swap = o->heap[at];
        o->heap[at] = o->heap[child];
        o->heap[child] = swap;
    }
}

/* The next partner of the variant on top, or none and it goes. */
static void advance(struct pair_order *o)
{
    struct partner *p = &o->heap[0];
    if (++p->other < o->singles)
        p->weight = o->single[p->one].weight * o->single[p->other].weight;
    else
        *p = o->heap[--o->heaped];
    sink(o, 0);
}

struct pair_order *pair_order_new(const struct clock_case *k, const double *weight, const struct pair_choice *but,
                                  size_t buts)
{
    struct pair_order *o = mem_alloc(sizeof *o);
    size_t most = k->listed;
    *o = (struct pair_order){.k = k, .buts = buts};
    o->single = mem_alloc(most * sizeof *o->single);
    o->heap = mem_alloc(most * sizeof *o->heap);
    o->but = mem_alloc((buts + 1) * sizeof *o->but);
    for (size_t i = 1; i < most; i++)
        if (weight[i] > 0)
            o->single[o->singles++] = (struct ranked){i, k->variant[i].fault, weight[i], weight[i]};
    for (size_t i = 0; i < buts; i++)
        o->but[i] = pair_number(but[i].a, but[i].b);
    if (o->singles)
        qsort(o->single, o->singles, sizeof *o->single, by_rank);
    if (buts)
        qsort(o->but, buts, sizeof *o->but, by_number);
    for (size_t i = 0; i + 1 < o->singles; i++) /* falling weights: a heap already */
        o->heap[o->heaped++] = (struct partner){i, i + 1, o->single[i].weight * o->single[i + 1].weight};
    return o;
}

bool pair_order_next(struct pair_order *o, struct pair_choice *to)
{
    while (o->heaped) {
        const struct ranked *a = &o->single[o->heap[0].one], *b = &o->single[o->heap[0].other];
        uint64_t number = pair_number(a->variant, b->variant);
        bool tried = o->buts && bsearch(&number, o->but, o->buts, sizeof *o->but, by_number);
        bool first = leads(o->k, a->variant, b->variant);
        advance(o);
        if (a->fault == b->fault || tried)
            continue;
        *to = (struct pair_choice){first ? a->variant : b->variant, first ? b->variant : a->variant,
                                   a->weight * b->weight};
        return true;
    }
    return false;
}

void pair_order_free(struct pair_order *o)
{
    if (!o)
        return;
    mem_free(o->single);
    mem_free(o->heap);
    mem_free(o->but);
    mem_free(o);
}
