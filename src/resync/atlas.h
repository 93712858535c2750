/* atlas.h - every stance that hands can bring a clock to, and how far each is from being in step.
 *
 * The search.  Nodes are stances, roads are deeds; the roads out of a node are what deeds_from
 * offers, simulated.  From the stances put in, all that can be reached is explored once; one
 * Dijkstra run backward from all goals (E. W. Dijkstra, "A note on two problems in connexion with
 * graphs", Numerische Mathematik 1, 1959) then gives the cost of the cheapest way from every
 * stance at once.  So one atlas serves a single plan, a belief over many states, and a sweep over all
 * states of a clock alike.  A clock has some hundreds to some ten thousands of stances.
 *
 * Cheapest is meant exactly: no way made of the deeds of deed.h costs less.
 */
#ifndef LETOFF_RESYNC_ATLAS_H
#define LETOFF_RESYNC_ATLAS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include "resync/deed.h"

struct road {
    struct done done;
    uint32_t to;
};

#define ATLAS_NONE UINT32_MAX
struct place {
    struct stance stance;
    uint32_t first, roads; /* in atlas.road */
    double cost;           /* of the cheapest way to a goal; INFINITY if there is none */
    double goal;           /* cost of stopping here; INFINITY if this is no goal */
    uint32_t best;         /* road to take; ATLAS_NONE to stop here */
};

struct atlas {
    struct reset *reset;
    struct place *place;
    size_t places, place_room;
    struct road *road;
    size_t roads, road_room;
    uint32_t *slot; /* hash table of places, 1 + index */
    size_t slots;
    size_t explored;
};

/* `reset` must outlive the atlas. */
void atlas_init(struct atlas *a, struct reset *reset);
void atlas_release(struct atlas *a);
/* Put a stance in (again is fine); returns its place. */
uint32_t atlas_put(struct atlas *a, const struct stance *s);
/* Explore from all that was put in, and find the cost of every place. */
void atlas_solve(struct atlas *a);

#endif
