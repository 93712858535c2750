/* How likely each variant of a clock is before the report (belief_priv.h). */
#include "diagnose/belief_priv.h"

#include <math.h>
#include <string.h>
#include "diagnose/puzzle.h"
#include "diagnose/sweep.h"
#include "diagnose/tuned.h"
#include "mem.h"

static size_t fault_number(const struct library *lib, const struct fault *f, size_t from)
{
    size_t n = library_faults(lib);
    while (from < n && library_fault(lib, from) != f)
        from++;
    return from;
}

/* The history tilts a fault that we lack as it does the mean of those we have. */
double prior_mean_tilt(const struct library *lib, const struct gathering *g, const struct clock_case *k)
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

static double shop_factor(const struct belief_options *o, const struct clock *c,
                          const struct fault *f)
{
    return o->shop ? o->shop(o->shop_with, c->id, f->id) : 1;
}

/* Weights of the sound clock and of all variants of listed faults, before the report. */
static void weigh_listed(const struct gathering *g, const struct library *lib, struct clock_case *k,
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
    double each = mean_covered(k, o) * prior_mean_tilt(lib, g, k) * clock_weight * o->prior_unknown / PRIOR_UNKNOWN;
    for (size_t i = k->listed; i < k->variants - k->pairs; i++) {
        const struct variant *v = &k->variant[i];
        weight[i] = each * v->share * (is_covered(&c, v->swept) ? SWEEP_COVERED : SWEEP_GAP);
    }
}

/* Weights of all single variants of a clock, before the report. */
void prior_weights(const struct gathering *g, const struct library *lib, struct clock_case *k,
                   double clock_weight, const struct belief_options *o, double *weight)
{
    weigh_listed(g, lib, k, clock_weight, o, weight);
    weigh_sweep(g, lib, k, clock_weight, o, weight);
}

/* By this power the history speaks as strongly as the rows of faults and classes say. */
#define TILT_STRENGTH TUNED(tilt_strength, 1.0)

double *prior_tilts(const struct library *lib, const struct sheet *sheet)
{
    double *tilt = mem_alloc((library_faults(lib) + 1) * sizeof *tilt);
    for (size_t i = 0; i < library_faults(lib); i++)
        tilt[i] = pow(fault_tilt(sheet, library_fault(lib, i), evidence_predicts), TILT_STRENGTH);
    return tilt;
}
