#include "journal/learn.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>
#include "mem.h"
#include "text.h"

const struct learn_weights learn_standard_weights = {.shop = 2, .clock = 50, .leaf = 40};

/* A fault of a leaf. */
struct cell {
    char *fault;
    double shipped; /* p0 */
    double found;   /* n_chf */
};

/* One (clock, history).  The leaf with history NULL carries the shipped row of the clock and stands
 * for the histories without leaf; no job sits in it. */
struct leaf {
    char *clock, *history;
    struct cell *cell;
    size_t count, room;
    double jobs; /* n_ch: jobs that could be placed */
};

struct learn {
    struct learn_weights weights;
    struct leaf *leaf; /* sorted by clock, then history, NULL first */
    size_t count, room;
    size_t jobs, unplaced;
    struct prior_tilt *tilt;
    size_t tilt_room;
    struct learned *learned;
    size_t learned_room;
};

/* ---- leaves -------------------------------------------------------------------------------- */

static int compare_text(const char *a, const char *b)
{
    if (!a || !b)
        return (a != NULL) - (b != NULL);
    return strcmp(a, b);
}

static int compare_key(const struct leaf *leaf, const char *clock, const char *history)
{
    int order = strcmp(leaf->clock, clock);
    return order ? order : compare_text(leaf->history, history);
}

/* Where the leaf is or would be. */
static size_t place_of(const struct learn *l, const char *clock, const char *history)
{
    size_t low = 0, high = l->count;
    while (low < high) {
        size_t middle = (low + high) / 2;
        if (compare_key(&l->leaf[middle], clock, history) < 0)
            low = middle + 1;
        else
            high = middle;
    }
    return low;
}

static struct leaf *find_leaf(const struct learn *l, const char *clock, const char *history)
{
    size_t at = place_of(l, clock, history);
    if (at < l->count && compare_key(&l->leaf[at], clock, history) == 0)
        return &l->leaf[at];
    return NULL;
}

static struct leaf *need_leaf(struct learn *l, const char *clock, const char *history)
{
    size_t at = place_of(l, clock, history);
    if (at < l->count && compare_key(&l->leaf[at], clock, history) == 0)
        return &l->leaf[at];
    l->leaf = mem_grow(l->leaf, &l->room, l->count + 1, sizeof *l->leaf);
    memmove(&l->leaf[at + 1], &l->leaf[at], (l->count - at) * sizeof *l->leaf);
    l->count++;
    l->leaf[at] = (struct leaf){.clock = mem_copy_text(clock), .history = mem_copy_text(history)};
    return &l->leaf[at];
}

static struct cell *find_cell(const struct leaf *leaf, const char *fault)
{
    for (size_t i = 0; leaf && i < leaf->count; i++)
        if (strcmp(leaf->cell[i].fault, fault) == 0)
            return &leaf->cell[i];
    return NULL;
}

static void add_cell(struct leaf *leaf, const char *fault, double p)
{
    struct cell *old = find_cell(leaf, fault);
    if (old) {
        old->shipped += p;
        return;
    }
    leaf->cell = mem_grow(leaf->cell, &leaf->room, leaf->count + 1, sizeof *leaf->cell);
    leaf->cell[leaf->count++] = (struct cell){mem_copy_text(fault), p, 0};
}

static void scale_leaf(struct leaf *leaf)
{
    double sum = 0;
    for (size_t i = 0; i < leaf->count; i++)
        sum += leaf->cell[i].shipped;
    for (size_t i = 0; i < leaf->count && sum > 0; i++)
        leaf->cell[i].shipped /= sum;
}

static void release_leaf(struct leaf *leaf)
{
    for (size_t i = 0; i < leaf->count; i++)
        mem_free(leaf->cell[i].fault);
    mem_free(leaf->cell);
    mem_free(leaf->clock);
    mem_free(leaf->history);
}

static int by_word(const void *a, const void *b)
{
    return strcmp(*(char *const *)a, *(char *const *)b);
}

/* Words sorted, each once, one blank between; NULL for NULL, "" for none. */
static char *tidy_history(const char *history)
{
    struct text out = {0};
    char *words[64];
    size_t count = 0;
    if (!history)
        return NULL;
    char *copy = mem_copy_text(history), *rest = copy;
    for (char *w; count < 64 && (w = strtok_r(rest, " \t\n,", &rest));)
        words[count++] = w;
    qsort(words, count, sizeof *words, by_word);
    for (size_t i = 0; i < count; i++)
        if (i == 0 || strcmp(words[i], words[i - 1]) != 0)
            text_addf(&out, "%s%s", out.length ? " " : "", words[i]);
    mem_free(copy);
    char *tidy = mem_copy_text(text_cstr(&out));
    text_release(&out);
    return tidy;
}

/* ---- life cycle ---------------------------------------------------------------------------- */

struct learn *learn_new(const struct shipped_prior *rows, size_t count,
                        const struct learn_weights *w)
{
    struct learn *l = mem_alloc(sizeof *l);
    l->weights = w ? *w : learn_standard_weights;
    for (size_t i = 0; i < count; i++) {
        char *history = tidy_history(rows[i].history);
        if (rows[i].p > 0 && isfinite(rows[i].p))
            add_cell(need_leaf(l, rows[i].clock, history), rows[i].fault, rows[i].p);
        mem_free(history);
    }
    for (size_t i = 0; i < l->count; i++)
        scale_leaf(&l->leaf[i]);
    return l;
}

void learn_free(struct learn *l)
{
    if (!l)
        return;
    for (size_t i = 0; i < l->count; i++)
        release_leaf(&l->leaf[i]);
    mem_free(l->leaf);
    mem_free(l->tilt);
    mem_free(l->learned);
    mem_free(l);
}

void learn_clear(struct learn *l)
{
    for (size_t i = 0; i < l->count; i++) {
        l->leaf[i].jobs = 0;
        for (size_t c = 0; c < l->leaf[i].count; c++)
            l->leaf[i].cell[c].found = 0;
    }
    l->jobs = l->unplaced = 0;
}

/* ---- learning ------------------------------------------------------------------------------ */

/* The leaf of a job; made from the clock's shipped row if the history has none of its own. */
static struct leaf *leaf_of_job(struct learn *l, const char *clock, const char *history)
{
    char *tidy = tidy_history(history ? history : "");
    struct leaf *leaf = find_leaf(l, clock, tidy);
    if (!leaf && find_leaf(l, clock, NULL)) {
        leaf = need_leaf(l, clock, tidy);
        struct leaf *whole = find_leaf(l, clock, NULL);
        for (size_t i = 0; i < whole->count; i++)
            add_cell(leaf, whole->cell[i].fault, whole->cell[i].shipped);
    }
    mem_free(tidy);
    return leaf;
}

bool learn_job(struct learn *l, const char *clock, const char *history, const char *const *faults,
               size_t count)
{
    struct leaf *leaf = leaf_of_job(l, clock, history);
    size_t known = 0;
    for (size_t i = 0; i < count; i++)
        known += find_cell(leaf, faults[i]) != NULL;
    if (known == 0) {
        l->unplaced++;
        return false;
    }
    for (size_t i = 0; i < count; i++) {
        struct cell *cell = find_cell(leaf, faults[i]);
        if (cell)
            cell->found += 1.0 / (double)known;
    }
    leaf->jobs++;
    l->jobs++;
    return true;
}

size_t learn_jobs(const struct learn *l)
{
    return l->jobs;
}

size_t learn_unplaced(const struct learn *l)
{
    return l->unplaced;
}

/* ---- what is believed now ------------------------------------------------------------------- */

/* Finds of a fault in the jobs of all other clocks, and how many the shipped priors expected. */
static double shop_factor(const struct learn *l, const char *clock, const char *fault)
{
    double found = 0, expected = 0;
    for (size_t i = 0; i < l->count; i++) {
        const struct leaf *leaf = &l->leaf[i];
        const struct cell *cell = leaf->jobs > 0 ? find_cell(leaf, fault) : NULL;
        if (!cell || strcmp(leaf->clock, clock) == 0)
            continue;
        found += cell->found;
        expected += leaf->jobs * cell->shipped;
    }
    return (l->weights.shop + found) / (l->weights.shop + expected);
}

/* Finds of a fault and jobs of the clock outside the leaf `but`. */
static void clock_counts(const struct learn *l, const char *clock, const struct leaf *but,
                         const char *fault, double *found, double *jobs)
{
    *found = *jobs = 0;
    for (size_t i = 0; i < l->count; i++) {
        const struct leaf *leaf = &l->leaf[i];
        if (leaf == but || strcmp(leaf->clock, clock) != 0)
            continue;
        const struct cell *cell = find_cell(leaf, fault);
        *found += cell ? cell->found : 0;
        *jobs += leaf->jobs;
    }
}

/* Shipped rows times the shop's factors: q1 of each cell, scaled.  mem_free it. */
static double *shop_level(const struct learn *l, const struct leaf *leaf)
{
    double *q = mem_alloc(leaf->count * sizeof *q), sum = 0;
    for (size_t i = 0; i < leaf->count; i++) {
        q[i] = leaf->cell[i].shipped * shop_factor(l, leaf->clock, leaf->cell[i].fault);
        sum += q[i];
    }
    for (size_t i = 0; i < leaf->count; i++)
        q[i] /= sum;
    return q;
}

/* All levels for one leaf; the sum stays 1 because found sums to jobs on every level.  A clock
 * whose histories were shipped with different faults can break that, so it is scaled. */
static double *all_levels(const struct learn *l, const struct leaf *leaf)
{
    double *q = shop_level(l, leaf), sum = 0;
    for (size_t i = 0; i < leaf->count; i++) {
        double found, jobs;
        clock_counts(l, leaf->clock, leaf, leaf->cell[i].fault, &found, &jobs);
        q[i] = (l->weights.clock * q[i] + found) / (l->weights.clock + jobs);
        if (leaf->history)
            q[i] = (l->weights.leaf * q[i] + leaf->cell[i].found) / (l->weights.leaf + leaf->jobs);
        sum += q[i];
    }
    for (size_t i = 0; i < leaf->count; i++)
        q[i] /= sum;
    return q;
}

static const struct leaf *leaf_for(const struct learn *l, const char *clock, const char *history)
{
    char *tidy = tidy_history(history);
    const struct leaf *leaf = find_leaf(l, clock, tidy);
    mem_free(tidy);
    return leaf ? leaf : find_leaf(l, clock, NULL);
}

double learn_shipped_p(const struct learn *l, const char *clock, const char *history,
                       const char *fault)
{
    const struct cell *cell = find_cell(leaf_for(l, clock, history), fault);
    return cell ? cell->shipped : 0;
}

double learn_p(const struct learn *l, const char *clock, const char *history, const char *fault)
{
    const struct leaf *leaf = leaf_for(l, clock, history);
    const struct cell *cell = find_cell(leaf, fault);
    if (!cell)
        return 0;
    double *q = all_levels(l, leaf), p = q[cell - leaf->cell];
    mem_free(q);
    return p;
}

static int by_fault(const void *a, const void *b)
{
    return strcmp(((const struct learned *)a)->fault, ((const struct learned *)b)->fault);
}

static size_t show_leaf(struct learn *l, const struct leaf *leaf, size_t n)
{
    double *q = all_levels(l, leaf);
    l->learned = mem_grow(l->learned, &l->learned_room, n + leaf->count, sizeof *l->learned);
    for (size_t i = 0; i < leaf->count; i++) {
        double found = leaf->cell[i].found, jobs = leaf->jobs;
        if (!leaf->history)
            clock_counts(l, leaf->clock, leaf, leaf->cell[i].fault, &found, &jobs);
        l->learned[n + i] = (struct learned){leaf->clock, leaf->history, leaf->cell[i].fault,
                                             leaf->cell[i].shipped, q[i], found, jobs};
    }
    qsort(l->learned + n, leaf->count, sizeof *l->learned, by_fault);
    mem_free(q);
    return n + leaf->count;
}

const struct learned *learn_show(struct learn *l, size_t *count)
{
    *count = 0;
    for (size_t i = 0; i < l->count && l->jobs > 0; i++)
        *count = show_leaf(l, &l->leaf[i], *count);
    return l->learned;
}

const struct prior_tilt *learn_tilts(struct learn *l, size_t *count)
{
    size_t rows;
    const struct learned *row = learn_show(l, &rows);
    *count = 0;
    l->tilt = mem_grow(l->tilt, &l->tilt_room, rows + 1, sizeof *l->tilt);
    for (size_t i = 0; i < rows; i++)
        if (row[i].after != row[i].before)
            l->tilt[(*count)++] = (struct prior_tilt){row[i].clock, row[i].fault,
                                                      row[i].after / row[i].before, row[i].history};
    return l->tilt;
}

/* ---- callers and minutes --------------------------------------------------------------------- */

struct error_rate error_rate_of(double p, double trials)
{
    return (struct error_rate){p * trials, (1 - p) * trials};
}

void error_rate_learn(struct error_rate *r, long trials, long wrong)
{
    if (trials < 0 || wrong < 0 || wrong > trials)
        return; /* no count of statements */
    r->wrong += (double)wrong;
    r->right += (double)(trials - wrong);
}

double error_rate_mean(const struct error_rate *r)
{
    double all = r->wrong + r->right;
    return all > 0 ? r->wrong / all : 0.5;
}

void running_add(struct running *r, double x)
{
    double off = x - r->mean;
    r->count++;
    r->mean += off / r->count;
    r->squares += off * (x - r->mean);
}

double running_variance(const struct running *r)
{
    return r->count < 2 ? 0 : r->squares / (r->count - 1);
}

struct minutes minutes_of(double mean_min, double deviation_min, double weight)
{
    double shape = 1 + weight / 2;
    return (struct minutes){mean_min, weight, shape,
                            deviation_min * deviation_min * (shape - 1)};
}

struct minutes minutes_learned(struct minutes shipped, const struct running *r)
{
    struct minutes m = shipped;
    double off = r->mean - shipped.mean;
    if (r->count == 0)
        return shipped;
    m.weight = shipped.weight + r->count;
    m.mean = (shipped.weight * shipped.mean + r->count * r->mean) / m.weight;
    m.shape = shipped.shape + r->count / 2;
    m.scale = shipped.scale + r->squares / 2 +
              shipped.weight * r->count * off * off / (2 * m.weight);
    return m;
}

double minutes_deviation(const struct minutes *m)
{
    return m->shape > 1 ? sqrt(m->scale / (m->shape - 1)) : 0;
}
