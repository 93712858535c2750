/* cluster.h - how many different sounders there are, and which blow was on which.
 *
 * Nothing is known about the pitches.  Blows on the same sounder have like spectra (attack.h), so:
 * join the two likest groups of blows, again and again, until the likest two groups are less like
 * each other than blows of one sounder are (average linkage); that also decides how many sounders
 * there are.  Then a few rounds of expectation-maximisation on the unit sphere (a mixture of von
 * Mises-Fisher distributions: A. Banerjee et al., "Clustering on the unit hypersphere using von
 * Mises-Fisher distributions", Journal of Machine Learning Research 6, 2005) turn groups into
 * probabilities, blow by blow.
 *
 * Where it stops: two sounders with the same partials are one; a chord is a sounder of its own.
 */
#ifndef LETOFF_CLUSTER_H
#define LETOFF_CLUSTER_H

#include <stddef.h>
#include <stdint.h>
#include "listen/attack.h"

#define CLUSTERS_MOST 16

struct cluster {
    float spectrum[ATTACK_LINES]; /* unit length */
    double weight;                /* blows, as a sum of probabilities */
    double pitch_hz;
};
struct clustering {
    struct cluster at[CLUSTERS_MOST]; /* highest pitch first after cluster_order */
    size_t count;
    float (*p)[CLUSTERS_MOST];    /* one row a blow; sums to 1 over count */
    float *likeness;              /* of each blow to its likest cluster, itself left out of it; 0 if alone */
    size_t blows, room, likeness_room;
};

/* use (may be NULL): blows that form the clusters; the others only get probabilities.
 * c: a zeroed struct or one used before. */
void cluster_learn(struct clustering *c, const struct attack *a, const uint8_t *use, size_t blows);
/* Estimate pitches (likeness.h) and put the highest first; same attacks as learnt from. */
void cluster_order(struct clustering *c, const struct attack *a);
void cluster_release(struct clustering *c);

#endif
