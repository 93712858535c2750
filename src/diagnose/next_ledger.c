#include "diagnose/next_step_priv.h"

#include <math.h>
#include <string.h>

/* What the shop's own jobs say of the minutes, else as shipped. */
static double cure_minutes(const struct belief *b, const char *id, double shipped)
{
    return b->minutes ? b->minutes(b->minutes_with, id, shipped) : shipped;
}

static struct bill bill_of(const struct belief *b, const struct belief_cause *c)
{
    if (c->cure) {
        const char *who = c->cure->who ? c->cure->who : "visit";
        bool leave = strcmp(c->class, "self_correcting_normal") == 0 || strcmp(c->class, "no_fault") == 0;
        return (struct bill){.cure = c->cure,
                             .id = c->cure->id,
                             .tier = strcmp(who, "owner") == 0   ? TIER_OWNER
                                     : strcmp(who, "bench") == 0 ? TIER_BENCH
                                                                 : TIER_VISIT,
                             .minutes = fmax(0.5, cure_minutes(b, c->cure->id, c->cure->minutes)),
                             .leave = leave};
    }
    if (strcmp(c->id, "none") == 0)
        return (struct bill){.id = "leave-alone", .tier = TIER_OWNER, .minutes = 1, .leave = true};
    return (struct bill){.id = "look-on-bench", .tier = TIER_BENCH,
                         .minutes = fmax(0.5, cure_minutes(b, "look-on-bench", UNKNOWN_MIN))};
}

static size_t ledger_add(struct ledger *l, struct bill bill)
{
    size_t k = 0;
    while (k < l->bills && (strcmp(l->bill[k].id, bill.id) != 0 || l->bill[k].leave != bill.leave ||
                            l->bill[k].tier != bill.tier))
        k++;
    if (k == l->bills && l->bills < BILLS_MOST)
        l->bill[l->bills++] = bill;
    return k < BILLS_MOST ? k : BILLS_MOST - 1;
}

void ledger_init(struct ledger *l, const struct belief *b)
{
    memset(l, 0, sizeof *l);
    l->causes = b->causes < 1024 ? b->causes : 1024;
    l->oil = l->oil_bench = BILLS_MOST;
    for (size_t i = 0; i < l->causes; i++) {
        struct bill bill = bill_of(b, &b->cause[i]);
        l->of_cause[i] = ledger_add(l, bill);
        l->dry[i] = bill.tier == TIER_BENCH && strcmp(bill.id, "clean-and-oil") == 0;
        if (!l->dry[i])
            continue;
        l->oil_bench = l->of_cause[i];
        bill.tier = TIER_VISIT;
        bill.minutes = OIL_VISIT_MIN;
        l->oil = ledger_add(l, bill);
    }
}

void ledger_mass_add(const struct ledger *l, double *mass, size_t cause, double p)
{
    double house = l->dry[cause] ? OIL_WORKS : 0;
    mass[l->of_cause[cause]] += (1 - house) * p;
    if (house > 0)
        mass[l->oil] += house * p;
}

/* Going there for all that is not yet done. */
struct going {
    double cost;
    bool bench;
    size_t first;
};

/* Minutes, without the way there, of what has been found by looking.  What was found dry is cleaned
 * as the bench does it: oil in the house is for who has not looked. */
static double found_min(const struct ledger *l, size_t k, bool bench)
{
    const struct bill *b = &l->bill[k == l->oil ? l->oil_bench : k];
    return b->minutes + (b->tier == TIER_BENCH && !bench ? BENCH_MIN : 0);
}

/* What trying this bill first puts right: at the bench a clock is cleaned whether or not oil in the
 * house would have done. */
static double mass_cured(const struct ledger *l, const double *mass, size_t k, bool bench)
{
    return mass[k] + (bench && k == l->oil_bench && l->oil < l->bills ? mass[l->oil] : 0);
}

/* Bills that are not yet done and have mass: the others add nothing. */
struct open_bills {
    size_t at[BILLS_MOST], count;
};

static struct open_bills open_of(const struct ledger *l, const double *mass, const bool *done)
{
    struct open_bills open;
    open.count = 0;
    for (size_t k = 0; k < l->bills; k++)
        if (!done[k] && mass[k] > 0)
            open.at[open.count++] = k;
    return open;
}

/* Of looking at once and each cure tried first, the cheapest. */
static void best_first(const struct ledger *l, const double *mass, const struct open_bills *open, bool bench,
                       double left, struct going *best)
{
    double look = bench ? LOOK_BENCH_MIN : LOOK_VISIT_MIN, way = (bench ? BENCH_MIN : VISIT_MIN) * left;
    double wanted = 0;
    for (size_t i = 0; i < open->count; i++)
        wanted += mass[open->at[i]] * found_min(l, open->at[i], bench);
    if (way + look * left + wanted < best->cost)
        *best = (struct going){way + look * left + wanted, bench, BILLS_MOST};
    for (size_t i = 0; i < open->count; i++) {
        size_t k = open->at[i];
        bool there = bench ? k != l->oil : l->bill[k].tier != TIER_BENCH;
        if (!there)
            continue;
        double cured = mass_cured(l, mass, k, bench);
        double cost = way + l->bill[k].minutes * left + look * fmax(0, left - cured) + wanted -
                      cured * found_min(l, k, bench);
        if (cost < best->cost)
            *best = (struct going){cost, bench, k};
    }
}

static struct going going_of(const struct ledger *l, const double *mass, const bool *done)
{
    struct going best = {.cost = INFINITY, .first = BILLS_MOST};
    struct open_bills open = open_of(l, mass, done);
    double left = 0;
    for (size_t i = 0; i < open.count; i++)
        left += mass[open.at[i]];
    best_first(l, mass, &open, false, left, &best);
    best_first(l, mass, &open, true, left, &best);
    return best;
}

/* What the owner may try, cheapest for its chance first; returns how many. */
static size_t owners_order(const struct ledger *l, const double *mass, size_t *out)
{
    double p[BILLS_MOST] = {0}, cost[BILLS_MOST] = {0};
    size_t bill[BILLS_MOST], order[BILLS_MOST], n = 0;
    for (size_t k = 0; k < l->bills; k++)
        if (l->bill[k].tier == TIER_OWNER && mass[k] > 0) {
            p[n] = mass[k];
            cost[n] = l->bill[k].minutes;
            bill[n++] = k;
        }
    repair_order(p, cost, n, order);
    for (size_t i = 0; i < n; i++)
        out[i] = bill[order[i]];
    return n;
}

struct plan ledger_plan(const struct ledger *l, const double *mass)
{
    size_t order[BILLS_MOST], n = owners_order(l, mass, order);
    double left = 0, tried = 0;
    bool done[BILLS_MOST] = {false};
    struct plan best;
    for (size_t k = 0; k < l->bills; k++)
        left += mass[k];
    struct going going = going_of(l, mass, done);
    best.owners = 0;
    best.going = best.cost = going.cost;
    best.bench = going.bench;
    best.first = going.first;
    for (size_t i = 0; i < n; i++) {
        size_t k = order[i];
        tried += l->bill[k].minutes * left;
        left -= mass[k];
        done[k] = true;
        if (tried >= best.cost)
            break; /* the minutes tried only grow */
        if (tried + fmin(VISIT_MIN, BENCH_MIN) * left >= best.cost)
            continue; /* the way alone costs too much */
        going = going_of(l, mass, done);
        if (tried + going.cost < best.cost) {
            best.cost = tried + going.cost;
            best.bench = going.bench;
            best.first = going.first;
            best.owners = i + 1;
        }
    }
    memcpy(best.owner, order, best.owners * sizeof *order);
    return best;
}

void ledger_masses(const struct ledger *l, const struct belief *b, double *mass)
{
    memset(mass, 0, BILLS_MOST * sizeof *mass);
    for (size_t i = 0; i < l->causes; i++)
        ledger_mass_add(l, mass, i, b->cause[i].p);
}
