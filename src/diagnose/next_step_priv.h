/* next_step_priv.h - what the files of the next step share: what the causes of a belief cost (next_ledger.c), and the
 * questions that may be asked, with the chance of each answer (next_ask.c).  For this folder only.
 */
#ifndef LETOFF_DIAGNOSE_NEXT_STEP_PRIV_H
#define LETOFF_DIAGNOSE_NEXT_STEP_PRIV_H

#include "diagnose/belief_priv.h"
#include "diagnose/forecast.h"
#include "diagnose/next_step.h"

#define BILLS_MOST 96
#define ANSWERS FORECAST_COUNTS

/* ---- what each cause costs ---- */

enum tier { TIER_OWNER, TIER_VISIT, TIER_BENCH };

/* One cure, or one way of doing nothing. */
struct bill {
    const struct cure *cure; /* NULL: leave alone, or the unknown */
    const char *id;
    enum tier tier;
    double minutes;
    bool leave;
};

struct ledger {
    struct bill bill[BILLS_MOST];
    size_t bills;
    size_t of_cause[1024]; /* bill of each cause of the belief */
    size_t oil;            /* clean and oil in the house; BILLS_MOST: nothing is merely dry */
    size_t oil_bench;      /* the same work at the bench */
    bool dry[1024];        /* causes that this cures in OIL_WORKS of their cases */
    size_t causes;
};

/* A plan for given masses by bill (they need not sum to 1). */
struct plan {
    double cost;
    size_t owner[BILLS_MOST], owners; /* owner's cures worth trying first, in order */
    bool bench;                       /* then the bench, else a visit */
    size_t first;                     /* what is done there first, a bill; BILLS_MOST: look */
    double going;                     /* cost without the owner's cures */
};

/* Bills of all causes of the belief. */
void ledger_init(struct ledger *l, const struct belief *b);
/* Put the mass of a cause where it is cured; mass: by bill, BILLS_MOST of them. */
void ledger_mass_add(const struct ledger *l, double *mass, size_t cause, double p);
/* The masses of the belief by bill. */
void ledger_masses(const struct ledger *l, const struct belief *b, double *mass);
/* The cheapest way for these masses. */
struct plan ledger_plan(const struct ledger *l, const double *mass);

/* ---- questions ---- */

/* One question with the chance of each answer under each hypothesis weighed. */
struct asking {
    struct question q;
    size_t answers;
    float *chance;      /* [hypothesis * answers + answer]; the unknown is the last hypothesis */
};

struct weighing {
    const struct belief *b;
    const struct sheet *sheet;
    struct finder *f;
    struct ledger ledger;
    size_t n;                 /* hypotheses weighed, the first n of the belief */
    struct clock_case **kase; /* clocks they are of, ... */
    size_t kases, *of_kase;   /* ... and by hypothesis which */
    struct forecast *forecast;/* by hypothesis */
    struct habit *habit;
    double unknown;           /* mass of the unknown */
    size_t unknown_bill;
    struct asking *asking;
    size_t askings, room;
};

/* All questions that may be asked of what is weighed, into w->asking; forecasts and habits must be there. */
void weighing_ask(struct weighing *w);

#endif
