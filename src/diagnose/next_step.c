#include "diagnose/next_step_priv.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "mem.h"

#define HELD_MOST 300     /* hypotheses that questions are weighed over ... */
#define HELD_MASS 0.995   /* ... or fewer, once they make up so much */

const char *next_kind_name(enum next_kind k)
{
    static const char *const name[] = {"question", "owner", "leave", "visit", "bench"};
    return name[k];
}

/* ---- orders of repair ---- */

void repair_order(const double *p, const double *cost, size_t n, size_t *order)
{
    for (size_t i = 0; i < n; i++) {
        size_t at = i;
        /* insertion keeps ties in their order; p cost compares c/p without dividing */
        while (at > 0 && cost[i] * p[order[at - 1]] < cost[order[at - 1]] * p[i] - 1e-15) {
            order[at] = order[at - 1];
            at--;
        }
        order[at] = i;
    }
}

double repair_cost(const double *p, const double *cost, size_t n, const size_t *order)
{
    double left = 1, sum = 0;
    for (size_t i = 0; i < n; i++) {
        sum += cost[order[i]] * left;
        left -= p[order[i]];
    }
    return sum;
}

double next_plan_cost(struct finder *f, const struct belief *b)
{
    struct ledger l;
    double mass[BILLS_MOST];
    (void)f;
    ledger_init(&l, b);
    ledger_masses(&l, b, mass);
    return ledger_plan(&l, mass).cost;
}

static size_t plan_add(const struct ledger *l, const double *mass, size_t k, enum next_kind place,
                       struct plan_step *out, size_t n, size_t room)
{
    if (n < room)
        out[n++] = (struct plan_step){l->bill[k].id, place, l->bill[k].minutes, mass[k]};
    return n;
}

size_t next_plan(const struct belief *b, struct plan_step *out, size_t room)
{
    struct ledger l;
    double mass[BILLS_MOST], cost[BILLS_MOST] = {0};
    size_t order[BILLS_MOST], n = 0;
    bool done[BILLS_MOST] = {false};
    ledger_init(&l, b);
    ledger_masses(&l, b, mass);
    for (size_t k = 0; k < l.bills; k++)
        cost[k] = l.bill[k].minutes;
    repair_order(mass, cost, l.bills, order);
    struct plan plan = ledger_plan(&l, mass);
    for (size_t i = 0; i < plan.owners; i++) {
        done[plan.owner[i]] = true;
        n = plan_add(&l, mass, plan.owner[i], NEXT_OWNER, out, n, room);
    }
    enum next_kind there = plan.bench ? NEXT_BENCH : NEXT_VISIT;
    if (plan.first == BILLS_MOST && n < room)
        out[n++] = (struct plan_step){.cure = plan.bench ? "look-on-bench" : "look", .place = there,
                                      .minutes = plan.bench ? LOOK_BENCH_MIN : LOOK_VISIT_MIN};
    else if (plan.first < BILLS_MOST) {
        done[plan.first] = true;
        n = plan_add(&l, mass, plan.first, there, out, n, room);
    }
    for (int bench = plan.bench; bench < 2; bench++) /* on a visit what the house allows comes first */
        for (size_t i = 0; i < l.bills; i++) {
            size_t k = order[i];
            if (done[k] || mass[k] <= 0 || (!bench && l.bill[k].tier == TIER_BENCH))
                continue;
            done[k] = true;
            n = plan_add(&l, mass, k, bench ? NEXT_BENCH : NEXT_VISIT, out, n, room);
        }
    return n;
}

/* ---- what a question is worth ---- */

/* Expected cost when `a` is asked in a branch where hypothesis k has weight p[k] (unknown: p[n]). */
static double cost_asked(const struct weighing *w, const struct asking *a, const double *p)
{
    double by_answer[BILLS_MOST + 1][ANSWERS] = {{0}}, sum = 0; /* the last is of no bill */
    const struct ledger *l = &w->ledger;
    for (size_t k = 0; k < w->n; k++) {
        size_t cause = w->b->held[k].cause;
        const float *chance = a->chance + k * a->answers;
        double house = l->dry[cause] ? OIL_WORKS : 0;
        double *mass = by_answer[l->of_cause[cause]], *oil = by_answer[l->dry[cause] ? l->oil : BILLS_MOST];
        for (size_t x = 0; x < a->answers; x++) {
            mass[x] += (1 - house) * (p[k] * chance[x]);
            oil[x] += house * (p[k] * chance[x]);
        }
    }
    for (size_t x = 0; x < a->answers; x++) {
        double mass[BILLS_MOST], all = 0;
        by_answer[w->unknown_bill][x] += p[w->n] * a->chance[w->n * a->answers + x];
        for (size_t k = 0; k < l->bills; k++)
            all += mass[k] = by_answer[k][x];
        if (all > 1e-9)
            sum += ledger_plan(l, mass).cost;
    }
    return sum;
}

static double cost_unasked(const struct weighing *w, const double *p)
{
    double mass[BILLS_MOST] = {0};
    for (size_t k = 0; k < w->n; k++)
        ledger_mass_add(&w->ledger, mass, w->b->held[k].cause, p[k]);
    mass[w->unknown_bill] += p[w->n];
    return ledger_plan(&w->ledger, mass).cost;
}

static void list_clocks(struct weighing *w)
{
    w->kase = mem_alloc((w->n + 1) * sizeof *w->kase);
    w->of_kase = mem_alloc((w->n + 1) * sizeof *w->of_kase);
    for (size_t k = 0; k < w->n; k++) {
        size_t i = 0;
        while (i < w->kases && w->kase[i] != w->b->held[k].kase)
            i++;
        if (i == w->kases)
            w->kase[w->kases++] = w->b->held[k].kase;
        w->of_kase[k] = i;
    }
}

/* What the hypotheses of one clock will do and do by habit. */
static void look_on(void *with, size_t i, size_t hand)
{
    struct weighing *w = with;
    struct plans plans;
    struct closer c = {0};
    (void)hand;
    plans_init(&plans, w->sheet, w->kase[i], w->b->ear ? w->b->ear : &ear_usual);
    for (size_t k = 0; k < w->n; k++) {
        if (w->of_kase[k] != i)
            continue;
        closer_place(&c, &w->b->held[k], &plans);
        forecast_init(&w->forecast[k], &c, 0, true);
        habit_init(&w->habit[k], c.kase, c.variant, c.next, c.space.end, c.space.ends);
    }
    closer_release(&c);
    plans_release(&plans);
}

static void weighing_init(struct weighing *w, struct finder *f, const struct belief *b,
                          const struct sheet *sheet)
{
    memset(w, 0, sizeof *w);
    w->f = f;
    w->b = b;
    w->sheet = sheet;
    ledger_init(&w->ledger, b);
    double mass = 0;
    while (w->n < b->helds && w->n < HELD_MOST && mass < HELD_MASS) {
        if (b->held[w->n].cause >= w->ledger.causes)
            break;
        mass += b->held[w->n++].p;
    }
    const struct belief_cause *u = belief_cause_of(b, "unknown");
    w->unknown = u ? u->p : 0; /* less what is simulated */
    for (size_t k = 0; k < b->helds && u; k++)
        w->unknown -= b->held[k].cause == (size_t)(u - b->cause) ? b->held[k].p : 0;
    w->unknown = fmax(0, w->unknown);
    w->unknown_bill = u && (size_t)(u - b->cause) < w->ledger.causes
                          ? w->ledger.of_cause[u - b->cause]
                          : 0;
    list_clocks(w);
    size_t room = 0;
    w->forecast = mem_grow_bare(NULL, &room, w->n + 1, sizeof *w->forecast); /* megabytes, mostly of no let-off */
    w->habit = mem_alloc((w->n + 1) * sizeof *w->habit);
    crew_run(w->kases, f->hands, look_on, w);
    weighing_ask(w);
}

static void weighing_release(struct weighing *w)
{
    for (size_t i = 0; i < w->askings; i++)
        mem_free(w->asking[i].chance);
    mem_free(w->asking);
    mem_free(w->kase);
    mem_free(w->of_kase);
    mem_free(w->forecast);
    mem_free(w->habit);
}

static double *weights_of(const struct weighing *w)
{
    double *p = mem_alloc((w->n + 1) * sizeof *p);
    for (size_t k = 0; k < w->n; k++)
        p[k] = w->b->held[k].p;
    p[w->n] = w->unknown;
    return p;
}

/* All questions against asking none. */
struct weighing_all {
    struct weighing *w;
    const double *p;
    double plain;
};

static void weigh_one(void *with, size_t i, size_t hand)
{
    const struct weighing_all *all = with;
    struct asking *a = &all->w->asking[i];
    (void)hand;
    a->q.saves_min = all->plain - cost_asked(all->w, a, all->p) - a->q.minutes;
}

static void weigh_all(struct weighing *w)
{
    double *p = weights_of(w);
    struct weighing_all all = {w, p, cost_unasked(w, p)};
    crew_run(w->askings, w->f->hands, weigh_one, &all);
    mem_free(p);
}

static int by_saving(const void *a, const void *b)
{
    double x = ((const struct asking *)a)->q.saves_min, y = ((const struct asking *)b)->q.saves_min;
    return x < y ? 1 : x > y ? -1 : 0;
}

/* The answers to one question: what the hypotheses weigh after each, and what is expected of it then. */
struct branches {
    double *p; /* [answer * (n + 1) + hypothesis] */
    double *cost;
    bool *may_be;
    size_t answers;
};

static void branches_init(struct branches *b, const struct weighing *w, const struct asking *first, const double *p)
{
    b->answers = first->answers;
    b->p = mem_alloc(b->answers * (w->n + 1) * sizeof *b->p);
    b->cost = mem_alloc(b->answers * sizeof *b->cost);
    b->may_be = mem_alloc(b->answers * sizeof *b->may_be);
    for (size_t x = 0; x < b->answers; x++) {
        double *q = b->p + x * (w->n + 1), all = 0;
        for (size_t k = 0; k <= w->n; k++)
            all += q[k] = p[k] * first->chance[k * first->answers + x];
        b->may_be[x] = all > 1e-6;
        b->cost[x] = b->may_be[x] ? cost_unasked(w, q) : 0;
    }
}

static void branches_release(struct branches *b)
{
    mem_free(b->p);
    mem_free(b->cost);
    mem_free(b->may_be);
}

#define BATCH_LOOK 16 /* best single questions that the others of a batch are chosen from */

/* Choosing the questions of a batch: what each still saves beside those that are taken. */
struct batching {
    const struct weighing *w;
    struct branches after; /* of the one taken last */
    double saves[BATCH_LOOK];
};

static void saves_besides(void *with, size_t i, size_t hand)
{
    struct batching *c = with;
    const struct asking *second = &c->w->asking[i];
    double sum = 0;
    (void)hand;
    if (second->q.saves_min <= 0)
        return;
    for (size_t x = 0; x < c->after.answers; x++)
        if (c->after.may_be[x])
            sum += c->after.cost[x] - cost_asked(c->w, second, c->after.p + x * (c->w->n + 1));
    c->saves[i] = fmin(c->saves[i], sum - second->q.minutes);
}

static size_t best_besides(const struct batching *c, size_t look, size_t taken)
{
    double best = NEXT_LEAST / 2;
    size_t which = 0;
    for (size_t i = 1; i < look; i++)
        if (i != taken && c->w->asking[i].q.saves_min > 0 && c->saves[i] > best) {
            best = c->saves[i];
            which = i;
        }
    return which;
}

/* Up to three questions worth asking together: each next is worth most after those before. */
static size_t choose_batch(struct weighing *w, struct question *out)
{
    struct batching c = {.w = w};
    size_t n = 0, taken = 0, look = w->askings < BATCH_LOOK ? w->askings : BATCH_LOOK;
    if (!w->askings || w->asking[0].q.saves_min < NEXT_LEAST)
        return 0;
    double *p = weights_of(w);
    for (size_t i = 0; i < look; i++)
        c.saves[i] = INFINITY;
    out[n++] = w->asking[0].q;
    while (n < NEXT_BATCH) {
        branches_init(&c.after, w, &w->asking[taken], p);
        crew_run(look, w->f->hands, saves_besides, &c);
        branches_release(&c.after);
        taken = best_besides(&c, look, taken);
        if (!taken)
            break;
        out[n++] = w->asking[taken].q;
    }
    mem_free(p);
    return n;
}

size_t next_questions(struct finder *f, const struct belief *b, const struct sheet *sheet,
                      double least, struct question *out, size_t room)
{
    struct weighing w;
    size_t n = 0;
    weighing_init(&w, f, b, sheet);
    weigh_all(&w);
    if (w.askings)
        qsort(w.asking, w.askings, sizeof *w.asking, by_saving);
    for (size_t i = 0; i < w.askings && n < room && w.asking[i].q.saves_min >= least; i++)
        out[n++] = w.asking[i].q;
    weighing_release(&w);
    return n;
}

/* ---- advice ---- */

static void add_kit(struct next_step *n, const char *tool)
{
    for (size_t i = 0; i < n->kits; i++)
        if (strcmp(n->kit[i], tool) == 0)
            return;
    if (n->kits < NEXT_KIT)
        n->kit[n->kits++] = tool;
}

/* Tools for the likeliest causes that can be put right in the house. */
static void pack_kit(struct next_step *n, const struct belief *b)
{
    double covered = 0;
    for (size_t i = 0; i < b->causes && covered < 0.9; i++) {
        const struct cure *c = b->cause[i].cure;
        covered += b->cause[i].p;
        if (!c || b->cause[i].p < 0.02 || (c->who && strcmp(c->who, "bench") == 0))
            continue;
        for (size_t k = 0; k < c->kits; k++)
            add_kit(n, c->kit[k]);
    }
    for (size_t i = 0; i < b->causes; i++)
        if (strcmp(b->cause[i].class, "dry_or_dirty_oil") == 0)
            n->oil_suffices += OIL_WORKS * b->cause[i].p;
}

static const struct belief_cause *cause_of_bill(const struct ledger *l, const struct belief *b,
                                                size_t bill)
{
    for (size_t i = 0; i < l->causes; i++)
        if (l->of_cause[i] == bill)
            return &b->cause[i];
    return &b->cause[0];
}

static void advise_owner(struct next_step *n, const struct ledger *l, const struct belief *b,
                         const struct plan *plan, const double *mass)
{
    size_t best = plan->owner[0]; /* the order is by cost; what is said is what is likeliest to be it */
    for (size_t i = 1; i < plan->owners; i++)
        best = mass[plan->owner[i]] > mass[best] ? plan->owner[i] : best;
    const struct bill *bill = &l->bill[best];
    const struct belief_cause *c = cause_of_bill(l, b, best);
    n->kind = bill->leave ? NEXT_LEAVE : NEXT_OWNER;
    snprintf(n->id, sizeof n->id, "%s", bill->id);
    n->minutes = bill->minutes;
    n->p_cure = mass[best];
    n->saves_min = plan->going - plan->cost;
    n->hazard = bill->cure && bill->cure->hazard ? bill->cure->hazard : "none";
    if (bill->cure)
        snprintf(n->text, sizeof n->text, "%s", bill->cure->text);
    else
        snprintf(n->text, sizeof n->text,
                 "Leave it alone: %s.", strcmp(c->id, "none") == 0 ? "it does what such a clock should"
                                                                   : "it will come right by itself");
}

static void advise_going(struct next_step *n, const struct ledger *l, const struct belief *b,
                         const struct plan *plan, const double *mass)
{
    const struct belief_cause *c = &b->cause[0];
    n->kind = plan->bench ? NEXT_BENCH : NEXT_VISIT;
    n->minutes = plan->bench ? BENCH_MIN : VISIT_MIN;
    n->hazard = c->cure && c->cure->hazard ? c->cure->hazard : "none";
    snprintf(n->id, sizeof n->id, "%s", c->cure ? c->cure->id : "look-on-bench");
    for (size_t k = 0; k < l->bills; k++)
        n->p_cure += plan->bench || l->bill[k].tier != TIER_BENCH ? mass[k] : 0;
    pack_kit(n, b);
    const char *what = c->cure ? c->cure->text : "the report fits nothing known: look with own eyes";
    if (plan->bench)
        snprintf(n->text, sizeof n->text, "Take it to the bench. Likeliest work: %s", what);
    else if (plan->first == BILLS_MOST)
        snprintf(n->text, sizeof n->text, "Visit, and look before anything is done. Likeliest work: %s",
                 what);
    else if (plan->first == l->oil)
        snprintf(n->text, sizeof n->text,
                 "Visit; clean and oil first (%.0f in 100 that it suffices). Likeliest work: %s",
                 100 * n->oil_suffices, what);
    else
        snprintf(n->text, sizeof n->text, "Visit. Likeliest work: %s", what);
}

static void advise_question(struct next_step *n)
{
    const struct question *q = &n->batch[0];
    n->kind = NEXT_QUESTION;
    snprintf(n->id, sizeof n->id, "%s", q->id);
    snprintf(n->text, sizeof n->text, "%s", q->text);
    n->minutes = q->minutes;
    n->saves_min = q->saves_min;
    n->hazard = "none";
}

/* Chances of the answers under one cause. */
static void answers_under(const struct weighing *w, const struct asking *a, size_t cause, double *out)
{
    double all = 0;
    memset(out, 0, a->answers * sizeof *out);
    for (size_t k = 0; k < w->n; k++) {
        if (w->b->held[k].cause != cause)
            continue;
        all += w->b->held[k].p;
        for (size_t x = 0; x < a->answers; x++)
            out[x] += w->b->held[k].p * a->chance[k * a->answers + x];
    }
    for (size_t x = 0; x < a->answers && all > 0; x++)
        out[x] /= all;
}

/* The question whose answers differ most between the first two causes; a cheaper one wins when
 * they differ nearly as much. */
static void find_apart(struct next_step *n, const struct weighing *w)
{
    double best = 0;
    if (w->b->causes < 2 || w->b->cause[0].best == (size_t)-1 || w->b->cause[1].best == (size_t)-1)
        return;
    for (size_t i = 0; i < w->askings; i++) {
        const struct asking *a = &w->asking[i];
        double one[ANSWERS + 1], two[ANSWERS + 1], apart = 0;
        answers_under(w, a, 0, one);
        answers_under(w, a, 1, two);
        for (size_t x = 0; x < a->answers; x++)
            apart += fabs(one[x] - two[x]) / 2;
        if (apart - 0.03 * a->q.minutes > best) {
            best = apart - 0.03 * a->q.minutes;
            n->apart = a->q;
            n->apart_by = apart;
        }
    }
}

void next_step_find(struct next_step *n, struct finder *f, const struct belief *b,
                    const struct sheet *sheet)
{
    struct weighing w;
    double mass[BILLS_MOST];
    memset(n, 0, sizeof *n);
    n->hazard = "none";
    weighing_init(&w, f, b, sheet);
    ledger_masses(&w.ledger, b, mass);
    struct plan plan = ledger_plan(&w.ledger, mass);
    n->cost_min = plan.cost;
    weigh_all(&w);
    if (w.askings)
        qsort(w.asking, w.askings, sizeof *w.asking, by_saving);
    n->questions = choose_batch(&w, n->batch);
    find_apart(n, &w);
    if (n->questions)
        advise_question(n);
    else if (plan.owners)
        advise_owner(n, &w.ledger, b, &plan, mass);
    else
        advise_going(n, &w.ledger, b, &plan, mass);
    weighing_release(&w);
}
