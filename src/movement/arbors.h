/* arbors.h - which arbor of a train makes its blows uneven.
 *
 * A worn pivot or a bent tooth holds the train back once in a turn of its arbor, so the intervals
 * between blows swell and shrink with the period of that arbor.  The listener only has one
 * interval a blow: a sample.  An arbor that turns r times a blow is seen at the frequency r less
 * its nearest whole number (cycles a blow); one that turns whole times a blow is seen as nothing,
 * and arbors that fall on one frequency cannot be told apart by any number of blows.  So the
 * honest answer is the set that fits, and how many blows would be needed to part the rest.
 *
 * Method: least squares of mean, cosine and sine at each arbor's frequency over the serial numbers of the
 * blows (which run on from one hour to the next, since the train stops where it is); the
 * share of the variance explained is tested against what noise would explain,
 * F = (explained / 2) / (left / (n - 3)).  Two frequencies are parted after about 1/|f - g| blows.
 */
#ifndef LETOFF_MOVEMENT_ARBORS_H
#define LETOFF_MOVEMENT_ARBORS_H

#include <stdbool.h>
#include <stddef.h>
#include "movement/clock.h"

/* One interval: before blow number `blow` of the train, counted on through all hours heard. */
struct beat {
    double blow, interval_s;
};

struct arbor_fit {
    int arbor;            /* index in the train, from the barrel */
    double period_blows;  /* 0 if its turns a blow are not known */
    double seen_cycles;   /* cycles a blow as seen, 0..0.5; 0 cannot be heard at all */
    double explained;     /* share of the variance of the intervals, 0..1 */
    double swing;         /* amplitude against the mean interval */
    bool fits;            /* belongs to the set that fits */
    bool unheard;         /* turns whole times a blow: nothing can be said */
    int alike;            /* first arbor it cannot be told from by these blows, or itself */
    double blows_wanted;  /* blows that would part it from its nearest rival; 0: never, or alone */
};

/* Fit every arbor of the train; `fit` has room for CLOCK_ARBORS.  Returns how many arbors the train
 * has; with fewer than 6 intervals nothing fits.  `needed_f` is the F below which an arbor does
 * not fit (0 takes 6, about 1 % by chance for 20 intervals and more). */
size_t arbors_fit(const struct train *t, const struct beat *beat, size_t beats, double needed_f,
                  struct arbor_fit *fit);

#endif
