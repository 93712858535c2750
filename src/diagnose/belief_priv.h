/* belief_priv.h - what the parts of the belief know of each other: finder.c keeps the clocks, prior.c says what is
 * likely before the report, company.c follows it, belief.c decides what is followed and gathers, belief_sum.c
 * sums up.
 */
#ifndef LETOFF_DIAGNOSE_BELIEF_PRIV_H
#define LETOFF_DIAGNOSE_BELIEF_PRIV_H

#include "crew.h"
#include "diagnose/belief.h"
#include "diagnose/company.h"
#include "diagnose/recall.h"

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
/* The case of clock number i, made when first wanted; NULL if it has no let-offs. */
struct clock_case *finder_case_at(struct finder *f, size_t i);
void finder_make_case(struct finder *f, size_t i);
/* Before a new belief: what is too much is begun anew. */
void finder_give_back(struct finder *f);

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
static inline double everything(const struct gathering *g)
{
    return g->total_before + g->total + g->unknown;
}

/* ---- what is likely before the report (prior.c) ---- */

/* By fault of the library: what the history does to it.  Owned by the caller. */
double *prior_tilts(const struct library *lib, const struct sheet *sheet);
/* The history tilts a fault that we lack as it does the mean of those we have. */
double prior_mean_tilt(const struct library *lib, const struct gathering *g, const struct clock_case *k);
/* Weights of all single variants of a clock. */
void prior_weights(const struct gathering *g, const struct library *lib, struct clock_case *k,
                   double clock_weight, const struct belief_options *o, double *weight);

/* ---- summing up (belief_sum.c) ---- */

/* Causes, classes, parts and clocks from what was gathered. */
void belief_sum_up(struct finder *f, struct gathering *g);
/* The likeliest first. */
void belief_put_in_order(struct belief *b);

/* belief_find for a sheet without a row of HEARD_STRIKE_SAME_ERROR (same_error.c). */
bool belief_find_told(struct finder *f, const struct sheet *sheet,
                      const struct belief_options *options, struct belief *out);

#endif
