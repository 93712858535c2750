#include "diagnose/belief.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>
#include "diagnose/attempt.h"
#include "diagnose/pairs.h"
#include "diagnose/puzzle.h"
#include "diagnose/recall.h"
#include "diagnose/sweep.h"
#include "diagnose/table_file.h"
#include "diagnose/unknown.h"
#include "crew.h"
#include "mem.h"

/* ---- the finder ---- */

struct finder {
    const struct library *lib;
    struct clock_case *kase; /* by clock of the library */
    bool *made, *fit;
    unsigned long *used, now; /* when each was last thought of */
    size_t count, keeps;
    struct table_file *tables; /* NULL: rows are worked out when wanted */
    size_t hands;
    struct filter_space space[CREW_MOST]; /* of each hand */
    struct recall *recall;
};

struct finder *finder_new(const struct library *lib)
{
    struct finder *f = mem_alloc(sizeof *f);
    f->lib = lib;
    f->count = library_clocks(lib);
    f->kase = mem_alloc(f->count * sizeof *f->kase);
    f->made = mem_alloc(f->count * sizeof *f->made);
    f->fit = mem_alloc(f->count * sizeof *f->fit);
    f->used = mem_alloc(f->count * sizeof *f->used);
    f->keeps = FINDER_KEEPS;
    f->hands = crew_hands();
    f->recall = recall_new(f->count);
    char path[1024];
    for (size_t n = 0; !f->tables && table_file_place(lib, n, path, sizeof path); n++)
        f->tables = table_file_open(lib, path);
    return f;
}

void finder_free(struct finder *f)
{
    if (!f)
        return;
    for (size_t i = 0; i < f->count; i++)
        if (f->made[i] && f->fit[i])
            clock_case_release(&f->kase[i]);
    mem_free(f->kase);
    mem_free(f->made);
    mem_free(f->fit);
    mem_free(f->used);
    table_file_close(f->tables);
    for (size_t i = 0; i < CREW_MOST; i++)
        filter_space_release(&f->space[i]);
    recall_free(f->recall);
    mem_free(f);
}

const struct library *finder_library(const struct finder *f)
{
    return f->lib;
}

static void make_case(struct finder *f, size_t i)
{
    f->fit[i] = clock_case_init(&f->kase[i], f->lib, library_clock(f->lib, i));
    if (f->fit[i] && f->tables)
        table_file_fill(f->tables, &f->kase[i]);
    f->made[i] = true;
}

static struct clock_case *case_at(struct finder *f, size_t i)
{
    if (!f->made[i])
        make_case(f, i);
    f->used[i] = f->now;
    return f->fit[i] ? &f->kase[i] : NULL;
}

size_t finder_bytes(const struct finder *f)
{
    size_t sum = 0;
    for (size_t i = 0; i < f->count; i++)
        sum += f->made[i] && f->fit[i] ? clock_case_bytes(&f->kase[i]) : 0;
    return sum;
}

void finder_keep(struct finder *f, size_t bytes)
{
    f->keeps = bytes;
}

void finder_hands(struct finder *f, size_t hands)
{
    f->hands = hands < 1 ? 1 : hands > CREW_MOST ? CREW_MOST : hands;
}

/* Beliefs that are still about name clocks and variants, which are there anew at once. */
static void give_back(struct finder *f)
{
    size_t bytes = finder_bytes(f);
    f->now++;
    for (unsigned long round = 0; bytes > f->keeps && round < f->count; round++) {
        size_t oldest = f->count;
        for (size_t i = 0; i < f->count; i++)
            if (f->made[i] && f->fit[i] && !f->kase[i].pairs && f->used[i] < f->now &&
                (oldest == f->count || f->used[i] < f->used[oldest]))
                oldest = i;
        if (oldest == f->count)
            break;
        bytes -= clock_case_bytes(&f->kase[oldest]);
        clock_case_release(&f->kase[oldest]);
        make_case(f, oldest);
        bytes += clock_case_bytes(&f->kase[oldest]);
        f->used[oldest] = f->now;
    }
}

struct clock_case *finder_case(struct finder *f, const struct clock *c)
{
    for (size_t i = 0; i < f->count; i++)
        if (library_clock(f->lib, i) == c)
            return case_at(f, i);
    return NULL;
}

/* ---- how the report lies along the works of one clock ---- */

#define STARTS_MOST 512
#define UNKNOWN_CLOCK 1e-3 /* on less likely clocks the unknown cause is not thought of */
#define PAIRS_KEEP 1e-9 /* a single fault that explains little may still be half of a pair */

/* States the clock may be found in do not depend on what is wrong with the works, only on the
 * kind of fault and the hour. */
static size_t starts_of(struct clock_case *k, const struct variant *v, int letoff,
                        struct filter_state *out)
{
    struct start start[STARTS_MOST];
    const struct fault found = {.start = v->start, .start_only = v->start_only}, *f = &found;
    const struct works *w = outcome_table_works(&k->table[k->variant[0].table]);
    size_t n = fault_starts(f, w, k->classes.minute[letoff], start, STARTS_MOST);
    for (size_t i = 0; i < n; i++)
        out[i] = (struct filter_state){outcome_rows_state(&k->rows, start[i].rest), start[i].p};
    return n;
}

/* A fault that is a state is there as it is found; what a works does by itself is led in by an
 * hour unheard. */
static bool burns(const struct variant *v)
{
    return !v->start;
}

/* Ways in which the report may lie: which half of the day, which of the other hours, how long the
 * rules were listened to. */
struct ways {
    struct filter_setting set[8];
    double share[8];
    size_t count;
};

static bool names_rule(const struct sheet *s, bool other_hours)
{
    for (size_t i = 0; i < s->heards; i++) {
        const struct sheet_at *at = &s->heard[i].at;
        if ((at->kind == AT_RULE || at->kind == AT_MINUTE) &&
            (!other_hours || at->rule == RULE_OTHER_HOUR))
            return true;
    }
    return false;
}

static struct ways ways_of(const struct sheet *sheet, struct clock_case *k, size_t variant)
{
    struct ways w = {.count = 0};
    int halves = k->clock->cycle_min == 1440 ? 2 : 1, parities = names_rule(sheet, true) ? 2 : 1;
    int lengths = names_rule(sheet, false) ? 2 : 1;
    for (int h = 0; h < halves; h++)
        for (int p = 0; p < parities; p++)
            for (int b = 0; b < lengths; b++) {
                w.set[w.count] = (struct filter_setting){.minute_off = k->variant[variant].minute_off,
                                                         .hour_off = k->variant[variant].hour_off,
                                                         .late = clock_case_late(k, variant),
                                                         .half = h,
                                                         .parity = p,
                                                         .brief = b};
                w.share[w.count++] = (lengths == 1 ? 1 : b ? FILTER_BRIEF : 1 - FILTER_BRIEF) /
                                     (halves * parities);
            }
    return w;
}

/* Plans of one clock for one sheet, made when a setting is first met. */
struct plans {
    const struct sheet *sheet;
    struct clock_case *kase;
    struct ear_at ear;
    bool heard_only; /* leave aside what was seen and tried */
    struct planned {
        struct filter_setting set;
        struct filter_plan plan;
    } **at;
    size_t count, room;
};

static bool same_setting(const struct filter_setting *a, const struct filter_setting *b)
{
    return a->minute_off == b->minute_off && a->hour_off == b->hour_off && a->late == b->late &&
           a->half == b->half && a->parity == b->parity && a->brief == b->brief;
}

static struct filter_plan *plan_for(struct plans *p, const struct filter_setting *set)
{
    for (size_t i = 0; i < p->count; i++)
        if (same_setting(&p->at[i]->set, set))
            return &p->at[i]->plan;
    p->at = mem_grow(p->at, &p->room, p->count + 1, sizeof *p->at);
    struct planned *q = p->at[p->count++] = mem_alloc(sizeof *q);
    q->set = *set;
    filter_plan_init(&q->plan, p->sheet, &p->ear, &p->kase->classes, p->kase->due, *set);
    return &q->plan;
}

static void plans_init(struct plans *p, const struct sheet *sheet, struct clock_case *k,
                       const struct ear_model *ear)
{
    memset(p, 0, sizeof *p);
    p->sheet = sheet;
    p->kase = k;
    p->ear = (struct ear_at){.model = ear, .words = sheet->words, .clock = k->clock,
                             .pool = &k->pool};
}

static void plans_release(struct plans *p)
{
    for (size_t i = 0; i < p->count; i++) {
        filter_plan_release(&p->at[i]->plan);
        mem_free(p->at[i]);
    }
    mem_free(p->at);
}

/* ---- gathering ---- */

/* What the rows alone came to for one variant: its chance, and what was given up of it. */
struct rows_alone {
    double chance, dropped;
    bool known;
};

struct gathering {
    struct belief *out;
    size_t held_room;
    double total, lost, count;  /* of joint weights; number of hypotheses that are followed */
    double total_before;        /* of clocks looked at before, when this gathers a part */
    double skipped;             /* bounds of those that are not, summed */
    double least, done;         /* follow those whose bound is above `least` and not above `done` */
    double unknown;             /* joint weight of the unknown cause */
    double omit;                /* most that one belief may give up, as a share of everything */
    double each;                /* share of everything for which one hypothesis may be given up */
    bool pairing;               /* of pairs, those that come to no more are not held either */
    double untried, about;      /* bounds of pairs that were not tried, summed; what they may come to */
    bool heard_only;            /* a first look, at the rows alone */
    struct rows_alone **alone;  /* by clock and single variant, left by a first look; NULL if there was none */
    double *tilt;               /* by fault of the library: what the history does to it */
    const struct sheet *sheet;
    const struct recalled *was; /* a shorter report, and what is remembered of this one */
    struct recalled *now;
    float *bound;               /* of the clock at hand, in `now`; NULL: not remembered */
    struct rows_alone *mine;    /* of the clock at hand, in `alone`; NULL: none */
};

/* What is known by now of all joint weights. */
static double everything(const struct gathering *g)
{
    return g->total_before + g->total + g->unknown;
}

static size_t fault_number(const struct library *lib, const struct fault *f, size_t from)
{
    size_t n = library_faults(lib);
    while (from < n && library_fault(lib, from) != f)
        from++;
    return from;
}

/* The history tilts a fault that we lack as it does the mean of those we have. */
static double mean_tilt(const struct library *lib, const struct gathering *g, const struct clock_case *k)
{
    double tilt = 0, all = 0;
    size_t number = 0;
    for (size_t i = 1; i < k->listed; i++) {
        number = fault_number(lib, k->variant[i].fault, number);
        tilt += k->variant[i].share * g->tilt[number];
        all += k->variant[i].share;
    }
    return all > 0 ? tilt / all : 1;
}

static void hold(struct gathering *g, struct clock_case *k, size_t variant, double joint,
                 double chance)
{
    struct belief *b = g->out;
    b->held = mem_grow(b->held, &g->held_room, b->helds + 1, sizeof *b->held);
    b->held[b->helds++] =
        (struct held){.kase = k, .variant = variant, .p = joint, .chance = chance};
    g->total += joint;
}

/* Variants of one clock that can be followed together: the hands stand alike against the work and
 * the clock may be found in the same states. */
struct company {
    size_t variant;
    double weight, bound, chance, dropped;
    int minute_off, hour_off, late;
    unsigned start;
    bool start_only;
    size_t acts;
    bool begun; /* some row told of one let-off of this clock, or none of any */
};

static int by_company(const void *a, const void *b)
{
    const struct company *x = a, *y = b;
    int d = x->start != y->start ? (x->start < y->start ? -1 : 1) : 0;
    d = d ? d : (int)x->start_only - (int)y->start_only;
    d = d ? d : x->minute_off - y->minute_off;
    d = d ? d : x->hour_off - y->hour_off;
    return d ? d : x->late - y->late;
}

static int by_acts(const void *a, const void *b)
{
    const struct company *x = a, *y = b;
    int d = by_company(a, b);
    return d ? d : x->acts < y->acts ? -1 : x->acts > y->acts;
}

/* What is done with works that came through the report alike. */
struct arrival {
    struct plans *plans;
    struct filter_plan *plan;
    struct company *company;
    const size_t *run; /* first of each run of the company that acts alike; [runs] is the end */
    double share;
};

static void arrived(void *with, struct filter_member *m, size_t members,
                    const struct filter_space *space)
{
    struct arrival *a = with;
    struct clock_case *k = a->plans->kase;
    for (size_t i = 0; i < members; i++)
        for (size_t r = a->run[m[i].tag]; r < a->run[m[i].tag + 1]; r++) {
            struct company *c = &a->company[r];
            double chance = m[i].chance;
            if (a->plans->sheet->trieds && !a->plans->heard_only && chance > c->bound)
                chance *= attempt_chance(a->plans->sheet, k, &k->variant[c->variant], a->plan, space,
                                         a->plans->ear.model);
            c->chance += a->share * chance;
        }
}

struct judged {
    const struct sheet *sheet;
    struct company *company;
};

static void judge(void *with, const struct habit *h, size_t tag)
{
    struct judged *j = with;
    j->company[tag].chance *= evidence_chance(h, j->sheet);
}

/* What was seen, for those that what was heard has left. */
static void look_at_habits(struct plans *p, struct company *c, size_t n, int letoff,
                           const struct filter_state *start, size_t starts,
                           struct filter_space *space)
{
    struct clock_case *k = p->kase;
    struct habit_member *m = mem_alloc((n + 1) * sizeof *m);
    struct judged with = {p->sheet, c};
    size_t left = 0;
    for (size_t i = 0; i < n; i++)
        if (c[i].chance > 0)
            m[left++] = (struct habit_member){.variant = c[i].variant, .tag = i};
    habit_group(k, m, left, letoff, start, starts, space, judge, &with);
    mem_free(m);
}

/* Variants that act alike everywhere are one member: runs of equal tables. */
static size_t find_runs(const struct company *c, size_t n, size_t *run)
{
    size_t runs = 0;
    for (size_t i = 0; i < n; i++)
        if (i == 0 || c[i].acts != c[i - 1].acts)
            run[runs++] = i;
    run[runs] = n;
    return runs;
}

static double loosest_bound(const struct company *c, size_t n)
{
    double least = c[0].bound;
    for (size_t i = 1; i < n; i++)
        least = fmin(least, c[i].bound);
    return least;
}

/* Follow those of a company through the rows. */
static void hear_company(struct plans *p, struct company *c, size_t n, struct filter_space *space)
{
    struct clock_case *k = p->kase;
    const struct variant *v = &k->variant[c[0].variant];
    size_t *run = mem_alloc((n + 1) * sizeof *run), runs = find_runs(c, n, run);
    struct filter_member *m = mem_alloc(runs * sizeof *m);
    struct filter_state start[STARTS_MOST];
    struct ways ways = ways_of(p->sheet, k, c[0].variant);
    bool burn = burns(v);
    for (size_t w = 0; w < ways.count; w++) {
        struct filter_plan *plan = plan_for(p, &ways.set[w]);
        struct arrival with = {
            .plans = p, .plan = plan, .company = c, .run = run, .share = ways.share[w]};
        size_t starts = starts_of(k, v, filter_plan_start(plan, burn), start);
        for (size_t i = 0; i < runs; i++)
            m[i] = (struct filter_member){.table = &k->table[c[run[i]].acts],
                                          .bound = loosest_bound(c + run[i], run[i + 1] - run[i]),
                                          .tag = i};
        filter_group(plan, m, runs, start, starts, burn, space, arrived, &with);
        for (size_t i = 0; i < runs; i++)
            for (size_t r = run[m[i].tag]; r < run[m[i].tag + 1]; r++)
                c[r].dropped += ways.share[w] * m[i].dropped;
    }
    mem_free(m);
    mem_free(run);
}

/* Those whose rows a first look has weighed already, with no more given up than may be; they are put
 * behind the others, in their order.  Returns how many are left to be followed. */
static size_t part_weighed(const struct rows_alone *alone, struct company *c, size_t n)
{
    struct company *behind = mem_alloc((n + 1) * sizeof *behind);
    size_t left = 0, weighed = 0;
    for (size_t i = 0; i < n; i++) {
        const struct rows_alone *a = &alone[c[i].variant];
        if (a->known && a->dropped <= c[i].bound) {
            behind[weighed] = c[i];
            behind[weighed].chance = a->chance;
            behind[weighed++].dropped = a->dropped;
        } else {
            c[left++] = c[i];
        }
    }
    memcpy(c + left, behind, weighed * sizeof *c);
    mem_free(behind);
    return left;
}

static void follow_company(struct plans *p, struct rows_alone *alone, struct company *c, size_t n,
                           struct filter_space *space)
{
    struct clock_case *k = p->kase;
    const struct variant *v = &k->variant[c[0].variant];
    struct ways ways = ways_of(p->sheet, k, c[0].variant);
    bool begun = true, again = alone && !p->heard_only && !p->sheet->trieds;
    int letoff = 0;
    size_t left = again ? part_weighed(alone, c, n) : n;
    if (left)
        hear_company(p, c, left, space);
    for (size_t w = 0; w < ways.count; w++) {
        const struct filter_plan *plan = plan_for(p, &ways.set[w]);
        begun &= plan->begun;
        letoff = filter_plan_start(plan, burns(v));
    }
    for (size_t i = 0; i < n; i++) {
        c[i].begun = begun;
        if (alone && p->heard_only)
            alone[c[i].variant] = (struct rows_alone){c[i].chance, c[i].dropped, true};
    }
    if (evidence_wanted(p->sheet) && !p->heard_only) {
        struct filter_state start[STARTS_MOST];
        look_at_habits(p, c, n, letoff, start, starts_of(k, v, letoff, start), space);
    }
}

static double shop_factor(const struct belief_options *o, const struct clock *c,
                          const struct fault *f)
{
    return o->shop ? o->shop(o->shop_with, c->id, f->id) : 1;
}

/* Weights of the sound clock and of all variants of listed faults, before the report. */
static void weigh_listed(const struct gathering *g, const struct library *lib, const struct clock_case *k,
                         double clock_weight, const struct belief_options *o, double *weight)
{
    double tilt = 1, none = o->prior_none * puzzle_tilt(g->sheet, k, o->ear);
    size_t fault = 0;
    for (size_t i = 0; i < k->listed; i++) {
        const struct variant *v = &k->variant[i];
        if (v->fault && (i == 0 || v->fault != k->variant[i - 1].fault)) {
            while (library_fault(lib, fault) != v->fault)
                fault++;
            tilt = g->tilt[fault] * shop_factor(o, k->clock, v->fault);
        }
        weight[i] = clock_weight * (v->fault ? (1 - o->prior_none - o->prior_unknown) * v->share * tilt
                                             : none);
    }
}

/* What the faults that the finder was given change, and the states they are found in. */
struct covered {
    bool par[PAR_COUNT]; /* as it is named, and for all trains where one is */
    bool any_train[PAR_COUNT];
    bool state[SWEEP_STATES];
};

static void cover(struct covered *c, enum par p)
{
    c->par[p] = true;
    c->any_train[sweep_kin(p)] = true;
}

static void cover_fault(struct covered *c, const struct fault *f)
{
    for (int i = 0; i < f->sets; i++)
        cover(c, f->set[i].par);
    for (int i = 0; i < f->axes; i++)
        cover(c, f->axis[i].par);
    for (int bit = 0; bit < SWEEP_STATES; bit++)
        c->state[bit] |= f->start >> bit & 1;
}

/* Share of one parameter or state of those that the faults of this clock change, on average. */
static double mean_covered(const struct clock_case *k, const struct belief_options *o)
{
    struct covered c = {{0}};
    double share = 0, shop = 0, all = 0;
    for (size_t i = 1; i < k->listed; i++) {
        const struct variant *v = &k->variant[i];
        bool fresh = v->fault != k->variant[i - 1].fault;
        shop = fresh ? shop_factor(o, k->clock, v->fault) : shop;
        if (fresh && shop > 0)
            cover_fault(&c, v->fault);
        share += shop > 0 ? v->share : 0;
    }
    for (int p = 0; p < PAR_COUNT; p++)
        all += c.par[p];
    for (int bit = 0; bit < SWEEP_STATES; bit++)
        all += c.state[bit];
    return all > 0 ? share / all : 0;
}

static bool is_covered(const struct covered *c, int swept)
{
    return swept < PAR_COUNT ? c->any_train[sweep_kin((enum par)swept)] : c->state[swept - PAR_COUNT];
}

/* Weights of the sweep; see sweep.h. */
static void weigh_sweep(const struct gathering *g, const struct library *lib, const struct clock_case *k,
                        double clock_weight, const struct belief_options *o, double *weight)
{
    struct covered c = {{0}};
    for (size_t i = 0; i < library_faults(lib); i++) /* of other kinds of clocks too: they are no gaps */
        if (shop_factor(o, k->clock, library_fault(lib, i)) > 0)
            cover_fault(&c, library_fault(lib, i));
    double each = mean_covered(k, o) * mean_tilt(lib, g, k) * clock_weight * o->prior_unknown / PRIOR_UNKNOWN;
    for (size_t i = k->listed; i < k->variants - k->pairs; i++) {
        const struct variant *v = &k->variant[i];
        weight[i] = each * v->share * (is_covered(&c, v->swept) ? SWEEP_COVERED : SWEEP_GAP);
    }
}

/* Weights of all single variants of a clock, before the report. */
static void weigh_variants(const struct gathering *g, const struct library *lib, const struct clock_case *k,
                           double clock_weight, const struct belief_options *o, double *weight)
{
    weigh_listed(g, lib, k, clock_weight, o, weight);
    weigh_sweep(g, lib, k, clock_weight, o, weight);
}

/* All variants of the clock that are to be followed now. */
static size_t gather_company(struct gathering *g, size_t clock, struct clock_case *k, const double *weight,
                             struct company *c)
{
    double allowed = g->each * everything(g);
    size_t n = 0;
    for (size_t i = 0; i < k->variants - k->pairs; i++) {
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

/* Follow all, company by company, and hold what is left of each. */
static void follow_all(struct gathering *g, struct plans *plans, struct company *c, size_t n,
                       struct filter_space *space)
{
    if (n)
        qsort(c, n, sizeof *c, by_acts);
    for (size_t first = 0, last; first < n; first = last) {
        last = first + 1;
        while (last < n && by_company(&c[first], &c[last]) == 0)
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
    for (size_t i = 0; i < plans->kase->tables; i++)
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

#define PAIRS_BATCH 128

/* Trying the pairs of one clock. */
struct pairing {
    struct plans plans;
    double times; /* weight of a pair for the product of its members' weights: the clock counts once */
    double left;  /* what those not tried weigh */
    size_t walks, begun; /* may be walked; were walked before */
};

static bool tired(const struct pairing *p)
{
    return p->plans.kase->rows.branches - p->begun >= p->walks;
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

/* False when it is enough. */
static bool try_pairs(struct finder *f, struct gathering *g, struct pairing *p, const struct pair_choice *choice,
                      size_t pairs)
{
    struct clock_case *k = p->plans.kase;
    for (size_t i = 0; i < pairs && (!i || !tired(p)); i += PAIRS_BATCH) { /* one batch in any case */
        size_t from = k->variants, helds = g->out->helds, n = pairs - i < PAIRS_BATCH ? pairs - i : PAIRS_BATCH;
        follow_pairs(f, g, p, choice + i, n);
        keep_held_pairs(g, k, from, helds);
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
    p->begun = k->rows.branches;
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
    weigh_variants(g, f->lib, k, clock_weight, o, weight);
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

/* ---- marginals ---- */

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

/* Severity over the hypotheses of one cause: mean and the middle four fifths. */
static void severity(const struct belief *b, size_t cause, struct belief_cause *c)
{
    double bin[101] = {0}, sum = 0, mean = 0, run = 0;
    for (size_t i = 0; i < b->helds; i++)
        if (b->held[i].cause == cause) {
            double s = b->held[i].kase->variant[b->held[i].variant].severity;
            bin[(int)lround(fmax(0, fmin(1, s)) * 100)] += b->held[i].p;
            sum += b->held[i].p;
            mean += b->held[i].p * s;
        }
    c->severity_mean = sum > 0 ? mean / sum : 0;
    for (int i = 0; i <= 100; i++) {
        double before = run;
        run += sum > 0 ? bin[i] / sum : 0;
        if (before < 0.1 && run >= 0.1)
            c->severity_low = i / 100.0;
        if (before < 0.9 && run >= 0.9)
            c->severity_high = i / 100.0;
    }
}

static void sum_up(struct finder *f, struct gathering *g)
{
    struct belief *b = g->out;
    size_t room = 0;
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
        share_add(&b->clock, &b->clocks, h->kase->clock->id, h->p);
    }
    for (size_t i = 0; i < b->causes; i++)
        severity(b, i, &b->cause[i]);
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
static void put_in_order(struct belief *b)
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

static double *tilts_of(const struct library *lib, const struct sheet *sheet)
{
    double *tilt = mem_alloc((library_faults(lib) + 1) * sizeof *tilt);
    for (size_t i = 0; i < library_faults(lib); i++)
        tilt[i] = fault_tilt(sheet, library_fault(lib, i), evidence_predicts);
    return tilt;
}

struct unmade {
    struct finder *finder;
    size_t *clock;
};

static void make_one(void *with, size_t i, size_t hand)
{
    const struct unmade *u = with;
    (void)hand;
    make_case(u->finder, u->clock[i]);
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
        struct clock_case *k = share[i] > 0 ? case_at(f, i) : NULL;
        if (!k)
            continue;
        size_t singles = k->variants - k->pairs;
        a[n] = (struct candidate){.clock = i, .weight = mem_alloc(singles * sizeof(double))};
        weigh_variants(g, f->lib, k, share[i], o, a[n].weight);
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

bool belief_find(struct finder *f, const struct sheet *sheet, const struct belief_options *options,
                 struct belief *out)
{
    struct belief_options o = options_of(options);
    struct gathering g = {.out = out, .sheet = sheet, .omit = BELIEF_OMIT * (o.pairs ? PAIRS_KEEP : 1)};
    double *weight = mem_alloc(f->count * sizeof *weight), sum = 0;
    double *share = mem_alloc(f->count * sizeof *share);
    memset(out, 0, sizeof *out);
    give_back(f);
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
    g.tilt = tilts_of(f->lib, sheet);
    for (size_t i = 0; i < f->count; i++)
        if (share[i] > UNKNOWN_CLOCK && case_at(f, i))
            g.unknown += o.prior_unknown * share[i] * mean_tilt(f->lib, &g, &f->kase[i]) *
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
    sum_up(f, &g);
    put_in_order(out);
    return true;
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
    put_in_order(b);
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

/* ---- looking closer ---- */

/* Rows are judged from the start that fits best: that the clock might have stood elsewhere is no
 * failing of the cause. */
static void steps_of_best_start(struct closer *c, const struct filter_state *start, size_t starts,
                                bool burn)
{
    double most = -1;
    c->by_step = mem_alloc((c->plan.steps + 1) * sizeof *c->by_step);
    for (size_t i = 0; i < starts; i++) {
        struct filter_state one = {start[i].state, 1};
        double chance = filter_run(&c->plan, c->table, &one, 1, burn, &c->space);
        if (chance > most && c->plan.steps)
            memcpy(c->by_step, c->space.by_step, c->plan.steps * sizeof *c->by_step);
        most = fmax(most, chance);
    }
    c->best_chance = fmax(0, most);
}

void closer_init(struct closer *c, const struct held *h, const struct sheet *sheet,
                 const struct ear_model *ear)
{
    memset(c, 0, sizeof *c);
    c->kase = h->kase;
    c->variant = &h->kase->variant[h->variant];
    c->table = &h->kase->table[c->variant->acts];
    c->own = &h->kase->table[c->variant->table];
    struct plans p;
    plans_init(&p, sheet, h->kase, ear ? ear : &ear_usual);
    struct ways ways = ways_of(sheet, h->kase, h->variant);
    struct filter_state start[STARTS_MOST];
    bool burn = burns(c->variant);
    size_t best = 0;
    double most = -1;
    for (size_t w = 0; w < ways.count; w++) {
        struct filter_plan *plan = plan_for(&p, &ways.set[w]);
        size_t starts = starts_of(h->kase, c->variant, filter_plan_start(plan, burn), start);
        double chance = ways.share[w] * filter_run(plan, c->table, start, starts, burn, &c->space);
        if (chance > most) {
            most = chance;
            best = w;
        }
    }
    filter_plan_init(&c->plan, sheet, &p.ear, &h->kase->classes, h->kase->due, ways.set[best]);
    size_t starts = starts_of(h->kase, c->variant, filter_plan_start(&c->plan, burn), start);
    steps_of_best_start(c, start, starts, burn);
    c->chance = filter_run(&c->plan, c->table, start, starts, burn, &c->space);
    c->next = filter_plan_next(&c->plan);
    plans_release(&p);
}

void closer_release(struct closer *c)
{
    filter_plan_release(&c->plan);
    filter_space_release(&c->space);
    mem_free(c->by_step);
    memset(c, 0, sizeof *c);
}
