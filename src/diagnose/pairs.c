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
        if (held[i].kase != k || !v->fault || v->second || held[i].chance <= 0)
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
static bool leads(const struct ranked *a, const struct ranked *b)
{
    if (!a->fault->start != !b->fault->start)
        return a->fault->start != 0;
    return a->variant < b->variant;
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
            if (!leads(a, b)) {
                a = &second[j];
                b = &first[i];
            }
            to[n++] = (struct pair_choice){a->variant, b->variant, a->weight * b->weight};
        }
    }
    return n;
}
