/* rhythm.h - what the times between blows tell: slow, fast, dragging, uneven, and in which period.
 *
 * A sound train runs at an even pace set by its fly.  A train short of power runs slow, one that
 * is gummed drags: slower and slower along the run.  A bad arbor (bent, dry, a damaged tooth) holds
 * the train back once every turn of its own, so the intervals swing with that period, counted in
 * blows: 1/turns-per-blow.  Arbors that turn whole numbers per blow swing alike in every interval
 * and cannot be told this way.  The honest result is the set of periods that fit.
 *
 * Method: log intervals = level + slope * index + a cos + b sin (2 pi index / period), least
 * squares per candidate period (the Lomb-Scargle idea: J. D. Scargle, "Studies in astronomical time
 * series analysis II", Astrophysical Journal 263, 1982), weighed against no period by Schwarz's
 * criterion; candidates share the prior evenly.
 *
 * Where it stops: a period under two blows looks like a longer one (1.25 like 5: both are in the set
 * only if the caller asks for both), and a change of step within the run looks like a long period.
 */
#ifndef LETOFF_RHYTHM_H
#define LETOFF_RHYTHM_H

#include <stdbool.h>
#include <stddef.h>

#define RHYTHM_PERIODS_MOST 16

struct rhythm_period {
    double blows;     /* period, in blows; 2.0 = every second interval alike */
    double swing;     /* amplitude as a share of the mean interval */
    double p;         /* share of belief among `none` and all periods that were tried, 0..1 */
};
struct rhythm {
    size_t intervals;
    double mean_s;        /* median interval */
    double spread;        /* scatter about the trend, as a share of the interval */
    double drag;          /* growth of the interval per blow, as a share (0.02 = 2 % a blow) */
    double drag_sigma;    /* its standard error */
    bool slow, fast;      /* against `usual_s`; false when usual_s is 0 */
    bool dragging;        /* slows along the run, beyond chance */
    bool uneven;          /* scatter beyond what the clock and the measurement explain */
    double p_none;        /* belief that no period is there */
    struct rhythm_period period[RHYTHM_PERIODS_MOST]; /* those that fit, most likely first */
    size_t period_count;
};

/* blow_s: times of blows in order.  skip (may be NULL): skip[i] true leaves the interval that ends at blow i
 * out (a pause between changes).  usual_s: the interval this clock should have, or 0.  jitter_s: how
 * well times are known (0.005 for sound, 0.03 for taps).  periods: candidate periods in blows, or
 * NULL for all from 2 to two thirds of the run.  Fewer than 3 intervals give speed only, fewer
 * than 6 no periods. */
void rhythm_of(struct rhythm *r, const double *blow_s, const bool *skip, size_t count,
               double usual_s, double jitter_s, const double *periods, size_t period_count);

#endif
