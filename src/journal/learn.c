#include "journal/learn.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>
#include "mem.h"
#include "text.h"

const struct learn_weights learn_standard_weights = {.shop = 2, .clock = 50, .leaf = 40};

/* A fault of a leaf. */
struct cell {
    size_t fault;     /* index into learn.fault */
    double shipped;   /* p0 */
    double found;     /* n_chf */
    double shop, now; /* q1 and q3, when not stale */
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
    char **fault; /* all ids */
    size_t faults, fault_room;
    struct leaf *leaf; /* sorted by clock, then history, NULL first */
    size_t count, room;
    size_t jobs, unplaced;
    bool stale; /* a job came in since the levels were worked out */
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
    l->stale = true;
    l->leaf[at] = (struct leaf){.clock = mem_copy_text(clock), .history = mem_copy_text(history)};
    return &l->leaf[at];
}

#define NO_FAULT ((size_t)-1)

static size_t fault_index(const struct learn *l, const char *fault)
{
    for (size_t i = 0; i < l->faults; i++)
        if (strcmp(l->fault[i], fault) == 0)
            return i;
    return NO_FAULT;
}

static size_t need_fault(struct learn *l, const char *fault)
{
    size_t at = fault_index(l, fault);
    if (at != NO_FAULT)
        return at;
    l->fault = mem_grow(l->fault, &l->fault_room, l->faults + 1, sizeof *l->fault);
    l->fault[l->faults] = mem_copy_text(fault);
    return l->faults++;
}

static struct cell *find_cell(const struct leaf *leaf, size_t fault)
{
    for (size_t i = 0; leaf && i < leaf->count; i++)
        if (leaf->cell[i].fault == fault)
            return &leaf->cell[i];
    return NULL;
}

static struct cell *cell_of(const struct learn *l, const struct leaf *leaf, const char *fault)
{
    size_t at = fault_index(l, fault);
    return at == NO_FAULT ? NULL : find_cell(leaf, at);
}

static void add_cell(struct leaf *leaf, size_t fault, double p)
{
    struct cell *old = find_cell(leaf, fault);
    if (old) {
        old->shipped += p;
        return;
    }
    leaf->cell = mem_grow(leaf->cell, &leaf->room, leaf->count + 1, sizeof *leaf->cell);
    leaf->cell[leaf->count++] = (struct cell){fault, p, 0, 0, 0};
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
    l->stale = true;
    for (size_t i = 0; i < count; i++) {
        char *history = tidy_history(rows[i].history);
        if (rows[i].p > 0 && isfinite(rows[i].p))
            add_cell(need_leaf(l, rows[i].clock, history), need_fault(l, rows[i].fault), rows[i].p);
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
    for (size_t i = 0; i < l->faults; i++)
        mem_free(l->fault[i]);
    mem_free(l->fault);
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
    l->stale = true;
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
        known += cell_of(l, leaf, faults[i]) != NULL;
    if (known == 0) {
        l->unplaced++;
        return false;
    }
    for (size_t i = 0; i < count; i++) {
        struct cell *cell = cell_of(l, leaf, faults[i]);
        if (cell)
            cell->found += 1.0 / (double)known;
    }
    leaf->jobs++;
    l->jobs++;
    l->stale = true;
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

/* Per fault, over some leaves: how often it was found, and how often that was expected. */
struct sums {
    double *found, *expected;
};

static struct sums sums_new(const struct learn *l)
{
    size_t room = (l->faults + 1) * sizeof(double);
    return (struct sums){mem_alloc(room), mem_alloc(room)};
}

static void sums_free(struct sums *s)
{
    mem_free(s->found);
    mem_free(s->expected);
}

/* Leaves from..to, expecting what was shipped, or what the shop level makes of it. */
static struct sums add_up(const struct learn *l, size_t from, size_t to, bool shop)
{
    struct sums s = sums_new(l);
    for (size_t i = from; i < to; i++)
        for (size_t c = 0; c < l->leaf[i].count; c++) {
            const struct cell *cell = &l->leaf[i].cell[c];
            s.found[cell->fault] += cell->found;
            s.expected[cell->fault] += l->leaf[i].jobs * (shop ? cell->shop : cell->shipped);
        }
    return s;
}

/* q1: shipped rows times the factors learned from all other clocks, scaled. */
static void shop_level(const struct learn *l, struct leaf *leaf, const struct sums *all,
                       const struct sums *clock)
{
    double sum = 0, a = l->weights.shop;
    for (size_t i = 0; i < leaf->count; i++) {
        struct cell *cell = &leaf->cell[i];
        size_t f = cell->fault;
        cell->shop = cell->shipped * (a + all->found[f] - clock->found[f]) /
                     (a + all->expected[f] - clock->expected[f]);
        sum += cell->shop;
    }
    for (size_t i = 0; i < leaf->count; i++)
        leaf->cell[i].shop /= sum;
}

/* q2 and q3 into `now`; `clock` are the sums of all leaves of the clock at the shop level. */
static void clock_and_leaf_level(const struct learn *l, struct leaf *leaf, const struct sums *clock)
{
    double sum = 0, k1 = l->weights.clock, k2 = l->weights.leaf;
    for (size_t i = 0; i < leaf->count; i++) {
        struct cell *cell = &leaf->cell[i];
        double found = clock->found[cell->fault] - cell->found;
        double expected = clock->expected[cell->fault] - leaf->jobs * cell->shop;
        cell->now = cell->shop * (k1 * cell->shop + found) / (k1 * cell->shop + expected);
        sum += cell->now;
    }
    for (size_t i = 0; i < leaf->count; i++) {
        struct cell *cell = &leaf->cell[i];
        cell->now /= sum;
        if (leaf->history)
            cell->now = (k2 * cell->now + cell->found) / (k2 + leaf->jobs);
    }
}

static void work_out_clock(struct learn *l, size_t from, size_t to, const struct sums *all)
{
    struct sums shipped = add_up(l, from, to, false);
    for (size_t i = from; i < to; i++)
        shop_level(l, &l->leaf[i], all, &shipped);
    struct sums shop = add_up(l, from, to, true);
    for (size_t i = from; i < to; i++)
        clock_and_leaf_level(l, &l->leaf[i], &shop);
    sums_free(&shipped);
    sums_free(&shop);
}

static void work_out(struct learn *l)
{
    if (!l->stale)
        return;
    struct sums all = add_up(l, 0, l->count, false);
    for (size_t from = 0, to; from < l->count; from = to) {
        for (to = from + 1; to < l->count; to++)
            if (strcmp(l->leaf[to].clock, l->leaf[from].clock) != 0)
                break;
        work_out_clock(l, from, to, &all);
    }
    sums_free(&all);
    l->stale = false;
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
    const struct cell *cell = cell_of(l, leaf_for(l, clock, history), fault);
    return cell ? cell->shipped : 0;
}

double learn_p(struct learn *l, const char *clock, const char *history, const char *fault)
{
    work_out(l);
    const struct cell *cell = cell_of(l, leaf_for(l, clock, history), fault);
    return cell ? cell->now : 0;
}

double learn_factor(struct learn *l, const char *clock, const char *history, const char *fault)
{
    work_out(l);
    const struct cell *cell = cell_of(l, leaf_for(l, clock, history), fault);
    return cell && l->jobs ? cell->now / cell->shipped : 1;
}

static int by_fault(const void *a, const void *b)
{
    return strcmp(((const struct learned *)a)->fault, ((const struct learned *)b)->fault);
}

static size_t show_leaf(struct learn *l, const struct leaf *leaf, const struct sums *clock,
                        double clock_jobs, size_t n)
{
    l->learned = mem_grow(l->learned, &l->learned_room, n + leaf->count, sizeof *l->learned);
    for (size_t i = 0; i < leaf->count; i++) {
        const struct cell *cell = &leaf->cell[i];
        l->learned[n + i] =
            (struct learned){leaf->clock,
                             leaf->history,
                             l->fault[cell->fault],
                             cell->shipped,
                             cell->now,
                             leaf->history ? cell->found : clock->found[cell->fault],
                             leaf->history ? leaf->jobs : clock_jobs};
    }
    qsort(l->learned + n, leaf->count, sizeof *l->learned, by_fault);
    return n + leaf->count;
}

const struct learned *learn_show(struct learn *l, size_t *count)
{
    size_t n = 0;
    work_out(l);
    for (size_t from = 0, to; l->jobs > 0 && from < l->count; from = to) {
        double jobs = 0;
        for (to = from; to < l->count && strcmp(l->leaf[to].clock, l->leaf[from].clock) == 0; to++)
            jobs += l->leaf[to].jobs;
        struct sums clock = add_up(l, from, to, true);
        for (size_t i = from; i < to; i++)
            n = show_leaf(l, &l->leaf[i], &clock, jobs, n);
        sums_free(&clock);
    }
    *count = n;
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
    return (struct minutes){mean_min, weight, shape, deviation_min * deviation_min * (shape - 1)};
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
    m.scale =
        shipped.scale + r->squares / 2 + shipped.weight * r->count * off * off / (2 * m.weight);
    return m;
}

double minutes_deviation(const struct minutes *m)
{
    return m->shape > 1 ? sqrt(m->scale / (m->shape - 1)) : 0;
}
