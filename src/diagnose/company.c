#include "diagnose/company.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>
#include "diagnose/attempt.h"
#include "diagnose/evidence.h"
#include "mem.h"

/* States the clock may be found in do not depend on what is wrong with the works, only on the
 * kind of fault and the hour. */
size_t variant_starts(struct clock_case *k, const struct variant *v, int letoff,
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
bool variant_burns(const struct variant *v)
{
    return !v->start;
}

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

struct ways ways_of(const struct sheet *sheet, struct clock_case *k, size_t variant)
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

static bool same_setting(const struct filter_setting *a, const struct filter_setting *b)
{
    return a->minute_off == b->minute_off && a->hour_off == b->hour_off && a->late == b->late &&
           a->half == b->half && a->parity == b->parity && a->brief == b->brief;
}

struct filter_plan *plan_for(struct plans *p, const struct filter_setting *set)
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

void plans_init(struct plans *p, const struct sheet *sheet, struct clock_case *k,
                       const struct ear_model *ear)
{
    memset(p, 0, sizeof *p);
    p->sheet = sheet;
    p->kase = k;
    p->ear = (struct ear_at){.model = ear, .words = sheet->words, .clock = k->clock,
                             .pool = &k->pool};
}

void plans_release(struct plans *p)
{
    for (size_t i = 0; i < p->count; i++) {
        filter_plan_release(&p->at[i]->plan);
        mem_free(p->at[i]);
    }
    mem_free(p->at);
}

int company_order(const void *a, const void *b)
{
    const struct company *x = a, *y = b;
    int d = x->start != y->start ? (x->start < y->start ? -1 : 1) : 0;
    d = d ? d : (int)x->start_only - (int)y->start_only;
    d = d ? d : x->minute_off - y->minute_off;
    d = d ? d : x->hour_off - y->hour_off;
    return d ? d : x->late - y->late;
}

int company_order_by_acts(const void *a, const void *b)
{
    const struct company *x = a, *y = b;
    int d = company_order(a, b);
    return d ? d : x->acts < y->acts ? -1 : x->acts > y->acts;
}

/* Found in one of many states, each of which shows the same thing all day long (three behind at every hour): which of
 * them it was, the rows tell, and what was seen is judged in each by itself, not in all of them mixed. */
static bool seen_by_state(const struct plans *p, const struct variant *v)
{
    const struct train *chime = clock_train(p->kase->clock, TRAIN_CHIME);
    unsigned lasting = START_COUNT_ANY | START_COUNT_HALF | START_TUNE_ANY;
    if (chime && !chime->corrector) /* which brings the quarters in at the hour */
        lasting |= START_CHIME_ANY;
    return (v->start & lasting) && evidence_wanted(p->sheet);
}

struct sighting {
    const struct sheet *sheet;
    double chance;
};

static void see(void *with, const struct habit *h, size_t tag)
{
    struct sighting *s = with;
    (void)tag;
    s->chance = evidence_chance(h, s->sheet);
}

/* Chance of what was seen, over the states the rows leave. */
static double seen_after(struct plans *p, size_t variant, const struct filter_plan *plan,
                         const struct filter_space *space)
{
    struct filter_space own = {0};
    struct sighting s = {p->sheet, 1};
    double sum = 0, all = 0;
    for (size_t i = 0; i < space->ends; i++) {
        struct habit_member m = {.variant = variant};
        struct filter_state from = {space->end[i].state, 1};
        if (space->end[i].p <= 0)
            continue;
        habit_group(p->kase, &m, 1, filter_plan_next(plan), &from, 1, &own, see, &s);
        sum += space->end[i].p * s.chance;
        all += space->end[i].p;
    }
    filter_space_release(&own);
    return all > 0 ? sum / all : 1;
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
            if (!a->plans->heard_only && chance > c->bound &&
                seen_by_state(a->plans, &k->variant[c->variant]))
                chance *= seen_after(a->plans, c->variant, a->plan, space);
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
        if (c[i].chance > 0 && !seen_by_state(p, &k->variant[c[i].variant]))
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
    bool burn = variant_burns(v);
    for (size_t w = 0; w < ways.count; w++) {
        struct filter_plan *plan = plan_for(p, &ways.set[w]);
        struct arrival with = {
            .plans = p, .plan = plan, .company = c, .run = run, .share = ways.share[w]};
        size_t starts = variant_starts(k, v, filter_plan_start(plan, burn), start);
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
static size_t part_weighed(const struct plans *p, const struct rows_alone *alone, struct company *c,
                           size_t n)
{
    struct company *behind = mem_alloc((n + 1) * sizeof *behind);
    size_t left = 0, weighed = 0;
    for (size_t i = 0; i < n; i++) {
        const struct rows_alone *a = &alone[c[i].variant];
        if (a->known && a->dropped <= c[i].bound &&
            !seen_by_state(p, &p->kase->variant[c[i].variant])) {
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

void follow_company(struct plans *p, struct rows_alone *alone, struct company *c, size_t n,
                    struct filter_space *space)
{
    struct clock_case *k = p->kase;
    const struct variant *v = &k->variant[c[0].variant];
    struct ways ways = ways_of(p->sheet, k, c[0].variant);
    bool begun = true, again = alone && !p->heard_only && !p->sheet->trieds;
    int letoff = 0;
    size_t left = again ? part_weighed(p, alone, c, n) : n;
    if (left)
        hear_company(p, c, left, space);
    for (size_t w = 0; w < ways.count; w++) {
        const struct filter_plan *plan = plan_for(p, &ways.set[w]);
        begun &= plan->begun;
        letoff = filter_plan_start(plan, variant_burns(v));
    }
    for (size_t i = 0; i < n; i++) {
        c[i].begun = begun;
        if (alone && p->heard_only)
            alone[c[i].variant] = (struct rows_alone){c[i].chance, c[i].dropped, true};
    }
    if (evidence_wanted(p->sheet) && !p->heard_only) {
        struct filter_state start[STARTS_MOST];
        look_at_habits(p, c, n, letoff, start, variant_starts(k, v, letoff, start), space);
    }
}
