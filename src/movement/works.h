/* works.h - one actual movement: a clock and what is out of order in it.
 *
 * works_init joins the fault changes into one parameter vector and works out what follows from
 * it once (power balance, intervals).  A struct works is a plain value, does not change while
 * the mechanism runs, and may be copied; it keeps a pointer to the clock.
 */
#ifndef LETOFF_MOVEMENT_WORKS_H
#define LETOFF_MOVEMENT_WORKS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include "movement/clock.h"
#include "movement/par.h"

/* One change of one parameter. */
struct change {
    enum par par;
    double value;
};

/* What the power balance gives for one train; see power.h. */
struct pace {
    double interval_s[4];  /* settled interval between blows by enum power_level; 0 = stalls */
    double settle_blows;   /* blows until the run-up has died away (fly inertia) */
    double first_s;        /* first interval after release at POWER_GOOD */
    double margin;         /* torque at the heaviest moment over torque wanted; < 1 stalls */
    double period_blows;   /* period of a bad arbor in blows (0 none) */
    double swing;          /* relative modulation of the interval by it */
    double rough;          /* random share of the interval */
    double clings;         /* share of the torque that is held back as a run goes on ... */
    double reach[4];       /* ... which takes so many times that share of the fly's work */
    double spare[4];       /* torque at the heaviest moment over torque wanted, at each power level */
    double seizes[4];      /* chance that uneven friction holds it in a mean run, at each power level */
};

struct works {
    const struct clock *clock;
    double par[PAR_COUNT];
    struct pace pace[TRAINS];
    uint64_t *touched; /* WORKS_TOUCHED words: a bit for each parameter that was read; NULL: none
                          kept.  What never reads a parameter does not depend on it. */
};
#define WORKS_TOUCHED ((PAR_COUNT + 63) / 64)

static inline void works_touch(const struct works *w, int which)
{
    if (w->touched)
        w->touched[which / 64] |= 1ull << (which % 64);
}
/* One parameter, for use while the mechanism runs. */
static inline double works_par(const struct works *w, int which)
{
    works_touch(w, which);
    return w->par[which];
}
/* The pace of a train, likewise; it follows from nine parameters. */
static inline const struct pace *works_pace(const struct works *w, int role)
{
    static const enum par from[] = {PAR_torque,   PAR_friction,  PAR_fly_drag, PAR_hammer_work,
                                    PAR_arbor_bad, PAR_arbor_drag, PAR_dead,    PAR_spring_rough,
                                    PAR_spring_clings};
    for (size_t i = 0; w->touched && i < sizeof from / sizeof *from; i++)
        works_touch(w, (int)from[i] + role);
    return &w->pace[role];
}

void works_init(struct works *w, const struct clock *c, const struct change *change, size_t changes);
/* Work out the paces anew after w->par was changed by hand. */
void works_settle(struct works *w);

#endif
