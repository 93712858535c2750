/* random.h - a small seeded generator, passed in wherever chance is wanted.
 *
 * The same seed gives the same numbers on every machine.  One stream serves the model and
 * another the ornament, so drawing more ornament never changes what the model does.
 * Algorithm: xorshift64* (S. Vigna, "An experimental exploration of Marsaglia's xorshift
 * generators, scrambled", 2016), seeded through splitmix64.
 */
#ifndef LETOFF_RANDOM_H
#define LETOFF_RANDOM_H

#include <stdint.h>

struct random {
    uint64_t state; /* never 0 after random_init */
};

void random_init(struct random *r, uint64_t seed); /* any seed, 0 too */
uint64_t random_bits(struct random *r);
double random_unit(struct random *r);                /* 0 <= x < 1 */
unsigned random_below(struct random *r, unsigned n); /* 0 .. n-1; n >= 1 */
double random_normal(struct random *r);              /* mean 0, deviation 1 */

#endif
