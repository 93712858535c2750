/* space.h - probabilities of states on their way from let-off to let-off.
 *
 * The states of the let-offs that are being followed lie one let-off upon the other, each state once
 * in its let-off, with one number or several (lanes; told.h).  What goes to the next let-off is
 * gathered by state and then put down on top.
 */
#ifndef LETOFF_DIAGNOSE_SPACE_H
#define LETOFF_DIAGNOSE_SPACE_H

#include <stddef.h>
#include <stdint.h>

/* A probability for a state of the clock. */
struct filter_state {
    uint32_t state;
    double p;
};

/* Working memory, reused from run to run.  Zeroed is empty. */
struct filter_space {
    size_t lanes;             /* of each state; set by who uses it, while nothing is gathered */
    double *next;             /* by state: its lanes, one after another; 0 where nothing has gathered */
    uint32_t *next_list;      /* states that have */
    size_t nexts, next_room, list_room;
    uint32_t *place;          /* states put down */
    double *mass;             /* and the lanes of each */
    size_t place_room, mass_room;
    uint32_t *row;            /* of the states that are being followed, one each */
    size_t row_room;
    double *by_step;          /* factor that each step put to the probability, along the path */
    size_t by_step_room;
    struct filter_state *end; /* of the last run: where the clock may be now; sums to the chance */
    size_t ends, end_room;
};
void filter_space_release(struct filter_space *f);
void space_widen(struct filter_space *f, size_t states);
/* Before states below `states` are gathered. */
static inline void space_fit(struct filter_space *f, size_t states)
{
    if (states * f->lanes > f->next_room || states > f->list_room)
        space_widen(f, states);
}
/* What was put down: states and the sum of their first lanes. */
struct space_put {
    size_t count;
    double mass;
};
/* Put what has gathered at `at`, but for states whose first lane is no more than `crumb`: that is added
 * to *lost. */
struct space_put space_put_down(struct filter_space *f, size_t at, double crumb, double *lost);

/* The first lane is the largest: where it is 0, all are. */
static inline double *space_gather(struct filter_space *f, uint32_t state)
{
    double *to = f->next + state * f->lanes;
    if (*to == 0)
        f->next_list[f->nexts++] = state;
    return to;
}

/* All lanes of a state times one number. */
static inline void space_add(struct filter_space *f, uint32_t state, const double *lane, double times)
{
    if (lane[0] * times <= 0)
        return;
    double *to = space_gather(f, state);
    for (size_t k = 0; k < f->lanes; k++)
        to[k] += lane[k] * times;
}

/* All lanes of a state times one number, and each by its own of `by` times another. */
static inline void space_add_by_lane(struct filter_space *f, uint32_t state, const double *lane, double times,
                                     const double *by, double chance)
{
    if (lane[0] * times * (chance * by[0]) <= 0)
        return;
    double *to = space_gather(f, state);
    for (size_t k = 0; k < f->lanes; k++)
        to[k] += lane[k] * times * (chance * by[k]);
}

/* The same number in all lanes. */
static inline void space_add_even(struct filter_space *f, uint32_t state, double p)
{
    if (p <= 0)
        return;
    double *to = space_gather(f, state);
    for (size_t k = 0; k < f->lanes; k++)
        to[k] += p;
}

#endif
