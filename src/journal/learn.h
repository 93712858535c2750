/* learn.h - closed jobs make the shop's own priors.
 *
 * The finder is shipped with p0(fault | clock, history).  A shop's customers are not the average:
 * one lives by the river and sees rust, the next inherits a predecessor's bent tails.  Each
 * closed job names the fault that was found, and counts of these move the priors.  Nothing is
 * stored but the jobs: the lessons are counted anew each time, so leaving out a job undoes exactly
 * what it taught.
 *
 * A tree of three levels; each job sits in exactly one leaf, (clock, history):
 *
 *   shop             factor of fault f, Gamma-Poisson:   g_f = (a + n_f) / (a + E_f)
 *                    q1 ~ p0(f|c,h) g_f, scaled to sum 1
 *   clock            Dirichlet of weight K1 around q1:   q2 = (K1 q1 + n_cf) / (K1 + n_c)
 *   clock + history  Dirichlet of weight K2 around q2:   q3 = (K2 q2 + n_chf) / (K2 + n_ch)
 *
 * n counts jobs; E_f is how many finds of f the shipped priors expected in these jobs, the sum of
 * p0(f | clock and history of the job).  Gamma(a,a) is conjugate to the Poisson count n_f of
 * exposure E_f, the Dirichlet to the counts of a leaf (Gelman et al., "Bayesian Data Analysis",
 * 3rd ed., 2.6 and 3.4).  No job is counted twice on its way down: the shop factor of
 * clock c leaves out the jobs of c, and the counts of (c,h) leave the clock level of that leaf.
 *
 * Histories of one clock may be shipped with different p0 (a clock that was moved has other faults).
 * Their jobs then meet at the clock level not as bare counts but against what was expected of them,
 * q2 ~ q1 (K1 q1 + n_cf) / (K1 q1 + E_cf), E_cf the sum of q1 over the jobs; where all histories are
 * shipped alike E_cf = n_c q1 and this is the Dirichlet line above.
 *
 * Example with one clock, faults A and B shipped at 0.8 and 0.2, K1 = K2 = 10, and 10 jobs without
 * history, all B: no other clock, so q1 = p0; the clock level for the leaf sees no other leaf, so
 * q2 = p0; q3(B) = (10 x 0.2 + 10) / 20 = 0.6; the factor handed to the finder is 0.6/0.2 = 3.
 *
 * Clocks, faults, actions and words are plain ids here.  Where it stops working: jobs are taken as
 * independent and the found fault as certain; a shop that only writes down its surprises teaches
 * them too well.
 */
#ifndef LETOFF_LEARN_H
#define LETOFF_LEARN_H

#include <stdbool.h>
#include <stddef.h>

/* What the finder multiplies its prior of `fault` by, for a clock, and a history if it is not
 * NULL (that row then stands instead of the clock's row without history).  Strings belong to
 * the `learn` they came from. */
struct prior_tilt {
    const char *clock;
    const char *fault;
    double factor;
    const char *history; /* words sorted, separated by one blank; NULL = any not listed */
};

/* One row of the shipped priors.  history NULL: for all histories without rows of their own. */
struct shipped_prior {
    const char *clock, *history, *fault;
    double p;
};

struct learn;

struct learn_weights {
    double shop;  /* a: finds of a fault that weigh as much as the shipped belief */
    double clock; /* K1: jobs of a clock that do */
    double leaf;  /* K2 */
};
/* 2, 50, 40: near the best for shops whose rates differ from the shipped ones by a factor of about two
 * (tests/journal/test_learn_shops.c); the scores are flat around it. */
extern const struct learn_weights learn_standard_weights;

/* Copies the rows; each (clock, history) is scaled to sum 1, rows with p <= 0 are left out.
 * `w` NULL: the standard weights. */
struct learn *learn_new(const struct shipped_prior *rows, size_t count,
                        const struct learn_weights *w);
void learn_free(struct learn *l);  /* NULL is fine */
void learn_clear(struct learn *l); /* forget the jobs, keep the shipped rows */

/* One job.  Several faults found share the job equally.  A fault without a shipped row for this
 * clock is not learned from (false if that left nothing); the job counts as unplaced then.
 * history: words in any order, NULL or "" for none. */
bool learn_job(struct learn *l, const char *clock, const char *history, const char *const *faults,
               size_t count);

size_t learn_jobs(const struct learn *l);
size_t learn_unplaced(const struct learn *l);

/* The probability now; 0 for a fault or clock without shipped rows.  history NULL: any. */
double learn_p(struct learn *l, const char *clock, const char *history, const char *fault);
double learn_shipped_p(const struct learn *l, const char *clock, const char *history,
                       const char *fault);

/* learn_p over learn_shipped_p; 1 where nothing is known. */
double learn_factor(struct learn *l, const char *clock, const char *history, const char *fault);

/* All factors that are not 1, sorted by clock, history, fault.  The array belongs to `l` and lives
 * until the next call that changes it. */
const struct prior_tilt *learn_tilts(struct learn *l, size_t *count);

/* What is shown openly: one row a fault of a leaf or clock. */
struct learned {
    const char *clock, *history, *fault; /* history NULL: any */
    double before, after;
    double found; /* how often it was found here (shared jobs count in parts) */
    double jobs;  /* in how many jobs of this clock (and history) */
};
const struct learned *learn_show(struct learn *l, size_t *count);

/* ---- how far callers can be trusted --------------------------------------------------------- */

/* Probability that a statement of one kind is wrong: Beta(wrong, right) pseudo-counts. */
struct error_rate {
    double wrong, right;
};
/* The shipped rate with the weight of `trials` statements. */
struct error_rate error_rate_of(double p, double trials);
void error_rate_learn(struct error_rate *r, long trials, long wrong);
double error_rate_mean(const struct error_rate *r);

/* ---- minutes an action takes ---------------------------------------------------------------- */

/* Running mean and variance (Welford 1962, "Note on a method for calculating corrected sums of
 * squares and products", Technometrics 4). */
struct running {
    double count, mean, squares; /* squares: sum of squared deviations */
};
void running_add(struct running *r, double x);
double running_variance(const struct running *r); /* of the sample, n-1; 0 below two */

/* Normal with unknown mean and variance, conjugate normal-inverse-gamma prior (Gelman et al.,
 * 3.3): the shipped minutes with the weight of `weight` jobs. */
struct minutes {
    double mean, weight; /* of the mean */
    double shape, scale; /* of the variance; its mean is scale / (shape - 1) */
};
struct minutes minutes_of(double mean_min, double deviation_min, double weight);
/* Shipped minutes after the jobs in `r`. */
struct minutes minutes_learned(struct minutes shipped, const struct running *r);
double minutes_deviation(const struct minutes *m); /* root of the mean variance */

#endif
