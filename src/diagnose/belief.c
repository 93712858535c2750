#include "diagnose/belief_priv.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>
#include "diagnose/pairs.h"
#include "diagnose/unknown.h"
#include "mem.h"

#define UNKNOWN_CLOCK 1e-3 /* on less likely clocks the unknown cause is not thought of */
#define PAIRS_KEEP 1e-9 /* a single fault that explains little may still be half of a pair */

/* ---- gathering ---- */

static void hold(struct gathering *g, struct clock_case *k, size_t variant, double joint,
                 double chance)
{
    struct belief *b = g->out;
    b->held = mem_grow(b->held, &g->held_room, b->helds + 1, sizeof *b->held);
    b->held[b->helds++] =
        (struct held){.kase = k, .variant = variant, .p = joint, .chance = chance};
    g->total += joint;
}

/* All variants of the clock that are to be followed now. */
static size_t gather_company(struct gathering *g, size_t clock, struct clock_case *k, const double *weight,
                             struct company *c)
{
    double allowed = g->each * everything(g);
    size_t n = 0;
    for (size_t at = 0; at < k->variants - k->pairs; at++) {
        size_t i = k->order ? k->order[at] : at;
        const struct variant *v = &k->variant[i];
        double most = weight[i] * recall_bound(g->was, clock, i);
        if (most <= g->least || most > g->done)
            continue;
        c[n++] = (struct company){.variant = i,
                                  .weight = weight[i],
                                  .bound = allowed / weight[i],
                                  .minute_off = v->minute_off,
                                  .hour_off = v->hour_off,
                                  .late = clock_case_late(k, i),
                                  .start = v->start,
                                  .start_only = v->start_only,
                                  .acts = v->acts};
    }
    return n;
}

static void put_in_order(struct company *c, size_t n)
{
    size_t i = 1;
    while (i < n && company_order_by_acts(&c[i - 1], &c[i]) <= 0)
        i++;
    if (i < n)
        qsort(c, n, sizeof *c, company_order_by_acts);
}

/* Follow all, company by company, and hold what is left of each. */
static void follow_all(struct gathering *g, struct plans *plans, struct company *c, size_t n,
                       struct filter_space *space)
{
    put_in_order(c, n);
    for (size_t first = 0, last; first < n; first = last) {
        last = first + 1;
        while (last < n && company_order(&c[first], &c[last]) == 0)
            last++;
        for (size_t i = first; i < last; i++) /* what is known by now raises the bound */
            c[i].bound = fmax(c[i].bound, g->each * everything(g) / c[i].weight);
        follow_company(plans, g->mine, c + first, last - first, space);
        for (size_t i = first; i < last; i++) {
            g->lost += c[i].weight * c[i].dropped;
            if (g->bound && c[i].begun)
                recall_set(&g->bound[c[i].variant], c[i].chance + c[i].dropped);
            if (g->pairing && c[i].chance <= c[i].bound)
                g->lost += c[i].weight * c[i].chance;
            else if (c[i].chance > 0)
                hold(g, plans->kase, c[i].variant, c[i].weight * c[i].chance, c[i].chance);
        }
    }
    for (size_t i = 0; i < plans->kase->tables && plans->kase->rows.works; i++)
        outcome_table_forget(&plans->kase->table[i]);
}

/* A clock that some report is held against. */
struct candidate {
    size_t clock;
    double *weight; /* by single variant */
    double promise; /* what they may come to */
    float *bound;   /* remembered for longer reports; NULL: not */
    struct rows_alone *alone; /* left by a first look, by single variant; NULL: none */
};

static void look_at_clock(struct finder *f, struct gathering *g, const struct sheet *sheet,
                          const struct candidate *a, const struct belief_options *o, struct filter_space *space)
{
    struct plans plans;
    struct clock_case *k = &f->kase[a->clock];
    struct company *c = mem_alloc(k->variants * sizeof *c);
    size_t n = gather_company(g, a->clock, k, a->weight, c);
    plans_init(&plans, sheet, k, o->ear);
    plans.heard_only = g->heard_only;
    g->bound = a->bound;
    g->mine = a->alone;
    follow_all(g, &plans, c, n, space);
    g->bound = NULL;
    g->mine = NULL;
    plans_release(&plans);
    mem_free(c);
}

/* ---- pairs ---- */

/* So many are followed together, which is cheaper; as long as it is not known what they cost, a few. */
#define PAIRS_BATCH 128
#define PAIRS_BATCH_FIRST 8

/* Trying the pairs of one clock. */
struct pairing {
    struct plans plans;
    double times; /* weight of a pair for the product of its members' weights: the clock counts once */
    double left;  /* what those not tried weigh */
    size_t walks, begun; /* may be walked; were walked before */
};

#define VISITS_A_WALK 40 /* states passed in summing up a works take about as long as a let-off walked anew */

static size_t work_done(const struct clock_case *k)
{
    return k->rows.branches + k->visits / VISITS_A_WALK;
}

static bool tired(const struct pairing *p)
{
    return work_done(p->plans.kase) - p->begun >= p->walks;
}

static void follow_pairs(struct finder *f, struct gathering *g, struct pairing *p, const struct pair_choice *choice,
                         size_t pairs)
{
    struct clock_case *k = p->plans.kase;
    struct company *c = mem_alloc((pairs + 1) * sizeof *c);
    for (size_t i = 0; i < pairs; i++) {
        double weight = choice[i].weight * p->times;
        double share = k->variant[choice[i].a].share * k->variant[choice[i].b].share;
        size_t n = clock_case_pair(k, choice[i].a, choice[i].b, share);
        const struct variant *v = &k->variant[n];
        p->left -= weight;
        c[i] = (struct company){.variant = n,
                                .weight = weight,
                                .bound = g->each * (g->total + g->unknown) / weight,
                                .minute_off = v->minute_off,
                                .hour_off = v->hour_off,
                                .late = clock_case_late(k, n),
                                .start = v->start,
                                .start_only = v->start_only,
                                .acts = v->acts};
    }
    follow_all(g, &p->plans, c, pairs, &f->space[0]);
    g->out->hypotheses += pairs;
    g->out->pairs_tried += pairs;
    mem_free(c);
}

/* Only pairs that are held stay variants of the clock. */
static void keep_held_pairs(struct gathering *g, struct clock_case *k, size_t from, size_t helds)
{
    size_t pairs = k->variants - from, *now = mem_alloc((pairs + 1) * sizeof *now);
    bool *keep = mem_alloc((pairs + 1) * sizeof *keep);
    struct held *held = g->out->held;
    for (size_t i = helds; i < g->out->helds; i++)
        if (held[i].variant >= from)
            keep[held[i].variant - from] = true;
    clock_case_keep_pairs(k, from, keep, now);
    for (size_t i = helds; i < g->out->helds; i++)
        if (held[i].variant >= from)
            held[i].variant = now[held[i].variant - from];
    mem_free(keep);
    mem_free(now);
}

/* Twice as many, as long as they cost little of what may be walked. */
static size_t next_batch(size_t batch, size_t work, size_t walks)
{
    if (work > walks / 8)
        return PAIRS_BATCH_FIRST;
    return batch * 2 < PAIRS_BATCH ? batch * 2 : PAIRS_BATCH;
}

/* False when it is enough. */
static bool try_pairs(struct finder *f, struct gathering *g, struct pairing *p, const struct pair_choice *choice,
                      size_t pairs)
{
    struct clock_case *k = p->plans.kase;
    size_t batch = PAIRS_BATCH_FIRST, n;
    for (size_t i = 0; i < pairs && (!i || !tired(p)); i += n) { /* one batch in any case */
        size_t from = k->variants, helds = g->out->helds, before = work_done(k);
        n = pairs - i < batch ? pairs - i : batch;
        follow_pairs(f, g, p, choice + i, n);
        keep_held_pairs(g, k, from, helds);
        batch = next_batch(batch, work_done(k) - before, p->walks);
    }
    return !tired(p) && p->left > g->omit / 2 * (g->total + g->unknown);
}

/* Pairs by weight, until all are tried or it is enough.  What is left is taken to explain as much for its
 * weight as these did. */
static void try_by_weight(struct finder *f, struct gathering *g, struct pairing *p, struct pair_order *order)
{
    struct pair_choice choice[PAIRS_BATCH];
    double left = p->left, total = g->total;
    bool more = true, enough;
    do {
        size_t n = 0;
        while (n < PAIRS_BATCH && (more = pair_order_next(order, &choice[n])))
            n++;
        enough = !try_pairs(f, g, p, choice, n);
    } while (more && !enough);
    p->left = more ? fmax(0, p->left) : 0;
    g->about += left > p->left ? (g->total - total) * p->left / (left - p->left) : p->left;
    g->untried += p->left;
}

/* First those that promise to explain the report, then all by weight. */
static void pair_up(struct finder *f, struct gathering *g, struct pairing *p, const double *weight, size_t helds)
{
    const struct clock_case *k = p->plans.kase;
    struct pair_choice *first = mem_alloc(PAIRS_MOST * sizeof *first);
    size_t firsts = pairs_choose(g->out->held, helds, k, first), all = k->listed * k->listed / 2;
    size_t tried = g->out->pairs_tried;
    p->left = p->times * pairs_weight(k, weight);
    p->begun = work_done(k);
    g->each = g->omit / 4 / fmax(1, fmin((double)all, 2 * (double)p->walks));
    g->pairing = true;
    try_pairs(f, g, p, first, firsts);
    tried = g->out->pairs_tried - tried;
    p->walks *= 2; /* the half for each */
    struct pair_order *order = pair_order_new(k, weight, first, tried);
    try_by_weight(f, g, p, order);
    pair_order_free(order);
    mem_free(first);
}

static void pair_up_clock(struct finder *f, struct gathering *g, const struct sheet *sheet, struct clock_case *k,
                          double clock_weight, double walks, const struct belief_options *o, size_t helds)
{
    struct pairing p = {.times = BELIEF_SECOND / clock_weight, .walks = (size_t)walks / 2};
    double *weight = mem_alloc((k->variants - k->pairs) * sizeof *weight);
    prior_weights(g, f->lib, k, clock_weight, o, weight);
    plans_init(&p.plans, sheet, k, o->ear);
    pair_up(f, g, &p, weight, helds);
    plans_release(&p.plans);
    mem_free(weight);
}

static void look_at_pairs(struct finder *f, struct gathering *g, const struct sheet *sheet,
                          const double *clock_weight, const struct belief_options *o)
{
    size_t helds = g->out->helds;
    double *mass = mem_alloc((f->count + 1) * sizeof *mass), wanted = 0;
    double walks = (double)(o->pair_walks ? o->pair_walks : BELIEF_PAIR_WALKS), singles = g->total;
    for (size_t h = 0; h < helds; h++)
        mass[g->out->held[h].kase - f->kase] += g->out->held[h].p;
    for (size_t i = 0; i < f->count; i++) {
        mass[i] = mass[i] > BELIEF_PAIR_CLOCK * singles ? mass[i] : 0;
        wanted += mass[i];
    }
    for (size_t i = 0; i < f->count; i++)
        if (mass[i] > 0)
            pair_up_clock(f, g, sheet, &f->kase[i], clock_weight[i], walks * mass[i] / wanted, o, helds);
    mem_free(mass);
}

static struct belief_options options_of(const struct belief_options *given)
{
    struct belief_options o = given ? *given : (struct belief_options){0};
    if (!o.ear)
        o.ear = &ear_usual;
    if (o.prior_none <= 0)
        o.prior_none = PRIOR_NONE;
    if (o.prior_unknown <= 0)
        o.prior_unknown = o.pairs ? PRIOR_UNKNOWN_PAIRED : PRIOR_UNKNOWN;
    return o;
}

struct unmade {
    struct finder *finder;
    size_t *clock;
};

static void make_one(void *with, size_t i, size_t hand)
{
    const struct unmade *u = with;
    (void)hand;
    finder_make_case(u->finder, u->clock[i]);
}

/* Those that are thought of for the first time. */
static void make_cases(struct finder *f, const double *share)
{
    struct unmade u = {f, mem_alloc((f->count + 1) * sizeof *u.clock)};
    size_t n = 0;
    for (size_t i = 0; i < f->count; i++)
        if (share[i] > 0 && !f->made[i])
            u.clock[n++] = i;
    crew_run(n, f->hands, make_one, &u);
    mem_free(u.clock);
}

/* Likelier clocks first: what they come to tightens the bounds of the others. */
static int by_promise(const void *a, const void *b)
{
    const struct candidate *x = a, *y = b;
    if (x->promise != y->promise)
        return x->promise < y->promise ? 1 : -1;
    return (x->clock > y->clock) - (x->clock < y->clock);
}

static size_t gather_clocks(struct finder *f, struct gathering *g, const double *share,
                            const struct belief_options *o, struct candidate *a)
{
    size_t n = 0;
    for (size_t i = 0; i < f->count; i++) {
        struct clock_case *k = share[i] > 0 ? finder_case_at(f, i) : NULL;
        if (!k)
            continue;
        size_t singles = k->variants - k->pairs;
        a[n] = (struct candidate){.clock = i, .weight = mem_alloc(singles * sizeof(double))};
        prior_weights(g, f->lib, k, share[i], o, a[n].weight);
        for (size_t v = 0; v < singles; v++)
            a[n].promise += a[n].weight[v] * recall_bound(g->was, i, v);
        a[n].bound = recall_bounds(g->now, i, singles);
        if (g->alone && g->heard_only)
            g->alone[i] = mem_alloc(singles * sizeof **g->alone);
        a[n].alone = g->alone ? g->alone[i] : NULL;
        for (size_t v = 0; a[n].bound && v < singles; v++)
            recall_set(&a[n].bound[v], recall_bound(g->was, i, v));
        g->out->hypotheses += singles;
        n++;
    }
    if (n)
        qsort(a, n, sizeof *a, by_promise);
    return n;
}

#define OCTAVES 1100 /* of bounds, downwards from 1: as far as doubles go */

static int octave_of(double bound)
{
    return bound > 0 ? (int)fmax(0, fmin(OCTAVES - 1, -ilogb(bound))) : OCTAVES - 1;
}

/* How many hypotheses have a bound in each octave, and what the bounds come to. */
struct octaves {
    double sum[OCTAVES], count[OCTAVES];
};

static void count_octaves(struct octaves *t, const struct finder *f, const struct gathering *g,
                          const struct candidate *a, size_t n)
{
    memset(t, 0, sizeof *t);
    for (size_t i = 0; i < n; i++) {
        const struct clock_case *k = &f->kase[a[i].clock];
        for (size_t v = 0; v < k->variants - k->pairs; v++) {
            double most = a[i].weight[v] * recall_bound(g->was, a[i].clock, v);
            t->sum[octave_of(most)] += most;
            t->count[octave_of(most)]++;
        }
    }
}

/* Those with the least bounds are not followed, as far as `budget` goes. */
static void set_least(struct gathering *g, const struct octaves *t, double budget)
{
    int o = OCTAVES;
    g->skipped = 0;
    while (o > 0 && g->skipped + t->sum[o - 1] <= budget)
        g->skipped += t->sum[--o];
    g->least = o > 0 ? nextafter(ldexp(1, -o + 1), 0) : INFINITY;
    g->count = 0;
    for (int i = 0; i < o; i++)
        g->count += t->count[i];
    g->each = g->omit / 4 / fmax(1, g->count); /* of two rounds and what is skipped */
}

/* ---- several clocks at once ---- */

/* What was gathered of each clock, apart from the others. */
struct crew_look {
    struct finder *finder;
    const struct gathering *from;
    const struct sheet *sheet;
    const struct candidate *candidate;
    const struct belief_options *options;
    struct gathering *part;
    struct belief *out;
};

static void look_at_one(void *with, size_t i, size_t hand)
{
    struct crew_look *c = with;
    c->part[i] = *c->from;
    c->part[i].out = &c->out[i];
    c->part[i].held_room = 0;
    c->part[i].total = c->part[i].lost = 0;
    c->part[i].total_before = c->from->total_before + c->from->total;
    look_at_clock(c->finder, &c->part[i], c->sheet, &c->candidate[i], c->options, &c->finder->space[hand]);
}

static void add_part(struct gathering *g, const struct gathering *part)
{
    struct belief *b = g->out;
    const struct belief *more = part->out;
    b->held = mem_grow(b->held, &g->held_room, b->helds + more->helds + 1, sizeof *b->held);
    for (size_t i = 0; i < more->helds; i++)
        b->held[b->helds++] = more->held[i];
    g->total += part->total;
    g->lost += part->lost;
    mem_free(more->held);
}

/* Each clock goes by what is known before any of them, so that nothing hangs on who is done first. */
static void look_at_several(struct finder *f, struct gathering *g, const struct sheet *sheet,
                            const struct candidate *a, size_t n, const struct belief_options *o)
{
    struct crew_look c = {f, g, sheet, a, o, mem_alloc((n + 1) * sizeof *c.part), mem_alloc((n + 1) * sizeof *c.out)};
    crew_run(n, f->hands, look_at_one, &c);
    for (size_t i = 0; i < n; i++)
        add_part(g, &c.part[i]);
    mem_free(c.part);
    mem_free(c.out);
}

/* The likeliest clock first, since what it comes to bounds the others. */
static void look_at_all(struct finder *f, struct gathering *g, const struct sheet *sheet, const struct candidate *a,
                        size_t n, const struct belief_options *o)
{
    size_t first = n ? 1 : 0;
    look_at_several(f, g, sheet, a, first, o);
    look_at_several(f, g, sheet, a + first, n - first, o);
}

#define TELLING 1

/* Follow what may matter.  How much that is depends on what the whole comes to: after a first round
 * its bounds are known, and a second one follows what is still missing. */
static void look_at_clocks(struct finder *f, struct gathering *g, const struct sheet *sheet,
                           const double *share, const struct belief_options *o)
{
    struct candidate *a = mem_alloc((f->count + 1) * sizeof *a);
    struct octaves *t = mem_alloc(sizeof *t);
    size_t n = gather_clocks(f, g, share, o, a);
    double promise = 0, half = g->omit / 2;
    for (size_t i = 0; i < n; i++)
        promise += a[i].promise;
    count_octaves(t, f, g, a, n);
    set_least(g, t, half * fmax(g->unknown, g->was ? TELLING * promise : 0));
    g->done = INFINITY;
    look_at_all(f, g, sheet, a, n, o);
    if (g->skipped > half * (g->total + g->unknown)) {
        g->done = g->least;
        set_least(g, t, half * (g->total + g->unknown));
        look_at_all(f, g, sheet, a, n, o);
    }
    g->lost += g->skipped;
    for (size_t i = 0; i < n; i++)
        mem_free(a[i].weight);
    mem_free(t);
    mem_free(a);
}

/* What was seen and tried costs more to weigh than what was heard, and after that most works need not be
 * looked at any closer: false if there is nothing but rows, else `s` is left with them alone. */
static bool leave_rows(struct sheet *s)
{
    bool more = !word_set_empty(&s->seen) || !word_set_empty(&s->seen_not) || s->trieds;
    memset(&s->seen, 0, sizeof s->seen);
    memset(&s->seen_not, 0, sizeof s->seen_not);
    s->trieds = 0;
    return more && s->heards;
}

/* Weigh the rows first, unless a shorter report has been remembered. */
static const struct recalled *look_first(struct finder *f, const struct gathering *all, const struct sheet *sheet,
                                         const double *share, const struct belief_options *o)
{
    const struct recalled *was = recall_find(f->recall, sheet, o->ear);
    struct belief out = {0};
    struct sheet less = *sheet;
    struct gathering g = {.out = &out, .omit = all->omit, .unknown = all->unknown, .tilt = all->tilt, .sheet = all->sheet,
                          .heard_only = true, .alone = all->alone};
    if (was || !leave_rows(&less))
        return was;
    g.now = recall_begin(f->recall, &less, o->ear, NULL);
    look_at_clocks(f, &g, &less, share, o);
    belief_release(&out);
    return recall_find(f->recall, sheet, o->ear);
}

bool belief_find_told(struct finder *f, const struct sheet *sheet,
                      const struct belief_options *options, struct belief *out)
{
    struct belief_options o = options_of(options);
    struct gathering g = {.out = out, .sheet = sheet, .omit = BELIEF_OMIT * (o.pairs ? PAIRS_KEEP : 1)};
    double *weight = mem_alloc(f->count * sizeof *weight), sum = 0;
    double *share = mem_alloc(f->count * sizeof *share);
    memset(out, 0, sizeof *out);
    finder_give_back(f);
    out->ear = o.ear;
    out->minutes = o.minutes;
    out->minutes_with = o.minutes_with;
    for (size_t i = 0; i < f->count; i++) {
        const struct clock *c = library_clock(f->lib, i);
        weight[i] = c->share * hint_fit(sheet, c);
        if (sheet->clock[0] && strcmp(sheet->clock, c->id) == 0)
            weight[i] = 1; /* a clock of the user's own may have no share */
        sum += weight[i];
    }
    if (sum <= 0) {
        mem_free(share);
        mem_free(weight);
        return false;
    }
    for (size_t i = 0; i < f->count; i++) {
        share[i] = weight[i] / sum;
        if (o.pairs && f->made[i] && f->fit[i] && f->kase[i].pairs > BELIEF_PAIRED * PAIRS_MOST)
            clock_case_drop_pairs(&f->kase[i]);
    }
    make_cases(f, share);
    g.tilt = prior_tilts(f->lib, sheet);
    for (size_t i = 0; i < f->count; i++)
        if (share[i] > UNKNOWN_CLOCK && finder_case_at(f, i))
            g.unknown += o.prior_unknown * share[i] * prior_mean_tilt(f->lib, &g, &f->kase[i]) *
                         unknown_chance(sheet, &f->kase[i], o.ear);
    g.alone = mem_alloc(f->count * sizeof *g.alone);
    g.was = look_first(f, &g, sheet, share, &o);
    g.now = recall_begin(f->recall, sheet, o.ear, g.was);
    look_at_clocks(f, &g, sheet, share, &o);
    g.omit = BELIEF_OMIT;
    if (o.pairs)
        look_at_pairs(f, &g, sheet, share, &o);
    for (size_t i = 0; i < f->count; i++)
        mem_free(g.alone[i]);
    mem_free(g.alone);
    mem_free(g.tilt);
    mem_free(share);
    mem_free(weight);
    belief_sum_up(f, &g);
    belief_put_in_order(out);
    return true;
}
