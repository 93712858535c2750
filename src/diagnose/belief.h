/* belief.h - from a call sheet to ranked causes: the fault finder's front door.
 *
 *     struct finder *f = finder_new(library);
 *     struct belief b;
 *     belief_find(f, &sheet, NULL, &b);       // b.cause[0] is the likeliest
 *     belief_release(&b);
 *     finder_free(f);
 *
 * A finder keeps what it has worked out of the clocks (outcome tables) from call to call, and what the
 * last reports bound (recall.h); the belief depends on the sheet alone, but for what is given up.  p of all causes sums to 1 with `none` and `unknown` among
 * them.  Hypotheses are given up only when an upper bound of what they could come to is too small
 * to matter; the sum of those bounds is `omitted`.
 */
#ifndef LETOFF_DIAGNOSE_BELIEF_H
#define LETOFF_DIAGNOSE_BELIEF_H

#include <stdbool.h>
#include <stddef.h>
#include "diagnose/evidence.h"
#include "diagnose/hypothesis.h"
#include "diagnose/sheet.h"

#define BELIEF_OMIT 5e-5 /* most that may be given up, as a share of everything */

/* Pairs of faults (pairs.h puts them in order) are tried on every clock with a twentieth of the belief; a
 * second fault is there with odds BELIEF_SECOND of its prior.  Trying ends when what is left can come to no
 * more than half of BELIEF_OMIT, or when BELIEF_PAIR_WALKS let-offs were walked anew, or as much was done in summing up (most of a second's work;
 * the clocks share them as they share the belief).  What the pairs left out come to at most is
 * pairs_untried; what they come to if they explain as much, weight for weight, as those that were tried
 * for their weight alone is pairs_about. */
#define BELIEF_SECOND 0.3
#define BELIEF_PAIR_CLOCK 0.05
#define BELIEF_PAIR_WALKS 100000
#define BELIEF_PAIRED 8

/* What a finder keeps of the clocks may come to so many bytes between two beliefs: the clock not thought
 * of for longest is then begun anew.  Clocks of which pairs are kept stay. */
#define FINDER_KEEPS ((size_t)256 << 20)

/* ---- the finder ---- */

struct finder;
struct finder *finder_new(const struct library *lib); /* the library must outlive it */
void finder_free(struct finder *f);
const struct library *finder_library(const struct finder *f);
/* The case of a clock, worked out when first wanted; NULL if it has no let-offs.  It stays where it is,
 * but numbers of states, rows and soundings are good only until the next belief_find. */
struct clock_case *finder_case(struct finder *f, const struct clock *c);
size_t finder_bytes(const struct finder *f);                    /* about what it keeps */
void finder_keep(struct finder *f, size_t bytes);               /* another limit than FINDER_KEEPS */
/* Processors it may use, at least 1; all there are if this is not called.  No answer depends on it. */
void finder_hands(struct finder *f, size_t hands);

/* ---- the belief ---- */

struct belief_options {
    bool pairs;               /* two faults at once too; a belief with pairs is good for the next
                                 BELIEF_PAIRED ones with pairs from the same finder */
    size_t pair_walks;        /* 0 = BELIEF_PAIR_WALKS */
    const struct ear_model *ear; /* NULL = ear_usual */
    double prior_none, prior_unknown; /* 0 = the usual ones */
    /* What a shop has learned: the prior of a fault on a clock is multiplied by this.  NULL = 1. */
    double (*shop)(void *with, const char *clock, const char *fault);
    void *shop_with;
    /* Minutes a cure, or "look-on-bench", takes in this shop; NULL = as shipped. */
    double (*minutes)(void *with, const char *cure, double shipped);
    void *minutes_with;
};

/* One hypothesis that is still in play. */
struct held {
    struct clock_case *kase;
    size_t variant;   /* of the case */
    double p;         /* after the report; all p and p_unknown sum to 1 */
    double chance;    /* of the report under it */
    size_t cause;     /* in the belief */
};

struct belief_cause {
    const struct fault *fault, *second; /* NULL: none or unknown */
    const char *id;           /* fault's id, "none" or "unknown" */
    const char *part, *class; /* words of design; "none"/"no_fault", "unknown"/"unknown" */
    const struct cure *cure;  /* NULL for none and unknown */
    double p;
    double severity_mean, severity_low, severity_high; /* middle 80 % */
    bool owner_safe;
    size_t best;              /* its likeliest hypothesis, index into held; (size_t)-1 unknown */
};

struct belief_share {
    const char *name;
    double p;
};

struct belief {
    struct belief_cause *cause; /* likeliest first */
    size_t causes;
    /* likeliest first; of the unknown cause by_part has what was followed at the part it changes */
    struct belief_share *by_class, *by_part, *clock;
    size_t classes, parts, clocks;
    struct held *held;        /* likeliest first */
    size_t helds;
    double omitted;           /* bound on what was given up */
    size_t pairs_tried;
    double pairs_untried, pairs_about; /* what those not tried come to at most, and about, on the
                                          clocks on which pairs were thought of; 0 without pairs */
    double evidence;          /* log of the probability of the report over all hypotheses */
    size_t hypotheses;        /* looked at */
    /* kept from the options for what is worked out later; must live as long */
    const struct ear_model *ear;
    double (*minutes)(void *with, const char *cure, double shipped);
    void *minutes_with;
};

/* Work out the belief.  False only when no clock fits at all (unknown clock id): `out` is empty
 * then. */
bool belief_find(struct finder *f, const struct sheet *sheet, const struct belief_options *options,
                 struct belief *out);
void belief_release(struct belief *b); /* a zeroed struct is fine */

/* Two readings of one report: b becomes (1 - share) b + share other.  Both must come from one
 * finder.  A hypothesis that both hold stands twice. */
void belief_mix(struct belief *b, const struct belief *other, double share);

/* The cause of this fault id ("none", "unknown" too) or NULL. */
const struct belief_cause *belief_cause_of(const struct belief *b, const char *id);

/* ---- looking closer at one hypothesis ---- */

/* A report laid along one hypothesis again: where the clock may be now, and how each step fared. */
struct closer {
    struct filter_plan plan;
    struct filter_space space;
    struct outcome_table *table; /* what it does */
    struct outcome_table *own;   /* what is changed in it (outcome_table.change) */
    const struct variant *variant;
    struct clock_case *kase;
    double chance;
    int next;      /* let-off that comes next */
    double *by_step; /* factor of each step of the plan, from the start that fits best */
    double best_chance; /* of the report from that start */
};
void closer_init(struct closer *c, const struct held *h, const struct sheet *sheet,
                 const struct ear_model *ear);
/* Only where the clock may be now, for many hypotheses of one clock after another: `c` is zeroed before the first
 * and released after the last; its plan and steps stay empty.  `p` (company.h) is of that clock. */
struct plans;
void closer_place(struct closer *c, const struct held *h, struct plans *p);
void closer_release(struct closer *c);

#endif
