/* forecast.h - what will be heard next, if this hypothesis is right.
 *
 * From where the report leaves the clock, the mechanism is run on over the coming let-offs, all
 * branches weighed.  For each let-off: the chances of the counts, and of the quarters being right,
 * wrong or silent.
 */
#ifndef LETOFF_DIAGNOSE_FORECAST_H
#define LETOFF_DIAGNOSE_FORECAST_H

#include <stdbool.h>
#include <stddef.h>
#include "diagnose/belief.h"

#define FORECAST_COUNTS 18  /* 0 = silent, 1..16, 17 = without end */
#define FORECAST_ENDLESS 17
#define FORECAST_MOST 64

struct coming {
    int dial_min;      /* dial time, 0..719 */
    int due;           /* blows due of the strike, 0 if none is due */
    bool chime_due;
    double count[FORECAST_COUNTS];
    double chime[3];   /* silent, right, wrong */
    double stands;     /* hands or clock have come to a stand by then */
};

struct forecast {
    struct coming at[FORECAST_MOST];
    size_t count;
};

/* Works in the closer's space, whose `end` stays.  The next `letoffs` let-offs (at most FORECAST_MOST; those of twelve hours if 0).  `c` has the
 * report laid along the hypothesis.  `led`: as hands led on by a finger hear it, else as time goes. */
void forecast_init(struct forecast *f, struct closer *c, size_t letoffs, bool led);
/* The likeliest count; -1 when none has more than half. */
int coming_count(const struct coming *c);
/* How differently two hypotheses will sound: largest difference of chances at any let-off, 0..1. */
double forecast_apart(const struct forecast *a, const struct forecast *b);

#endif
