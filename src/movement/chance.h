/* chance.h - where the mechanism may go either way.
 *
 * The model never draws a number itself: at each fork it asks the struct chance it was given.
 * One kind draws from a generator (simulation).  The other replays a script of branches and
 * stops at the next undecided fork by taking its first branch and writing it down, so that
 * chance_next can walk every branch in turn (exact enumeration):
 *
 *     struct chance c;
 *     chance_script(&c, 1e-9);
 *     do {
 *         chance_rewind(&c);
 *         ... run the model with &c ...
 *         ... this outcome has probability c.weight ...
 *     } while (chance_next(&c));
 *
 * Branches whose weight would fall under `least` are not walked; their sum is kept in
 * `lost`, so that the walked weights and `lost` add up to 1.
 */
#ifndef LETOFF_MOVEMENT_CHANCE_H
#define LETOFF_MOVEMENT_CHANCE_H

#include <stdbool.h>
#include "random.h"

#define CHANCE_DEPTH 96 /* forks met in one run; further ones take the likeliest branch */
#define CHANCE_WAYS 16

struct chance {
    struct random *draw; /* drawing; NULL for replaying */
    double weight;       /* replaying: probability of the branches taken so far */
    double least, lost;
    int used, length;
    struct {
        unsigned char taken, ways;
        float p[CHANCE_WAYS];
    } fork[CHANCE_DEPTH];
};

void chance_draw(struct chance *c, struct random *r);
void chance_script(struct chance *c, double least);
void chance_rewind(struct chance *c);
bool chance_next(struct chance *c); /* false when every branch has been walked */

/* Which of `ways` branches (weights need not be normalised; zero weight is never taken). */
unsigned chance_pick(struct chance *c, const double *p, unsigned ways);
/* True with probability p; no fork is made when p <= 0 or p >= 1. */
bool chance_yes(struct chance *c, double p);

#endif
