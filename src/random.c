#include "random.h"

#include <assert.h>
#include <math.h>

static const double two_pi = 6.283185307179586;

/* splitmix64: spreads neighbouring seeds far apart. */
static uint64_t spread(uint64_t x)
{
    x += 0x9E3779B97F4A7C15u;
    x = (x ^ (x >> 30)) * 0xBF58476D1CE4E5B9u;
    x = (x ^ (x >> 27)) * 0x94D049BB133111EBu;
    return x ^ (x >> 31);
}

void random_init(struct random *r, uint64_t seed)
{
    r->state = spread(seed);
    if (!r->state) /* xorshift never leaves zero */
        r->state = 0x9E3779B97F4A7C15u;
}

uint64_t random_bits(struct random *r)
{
    uint64_t x = r->state;
    x ^= x >> 12;
    x ^= x << 25;
    x ^= x >> 27;
    r->state = x;
    return x * 0x2545F4914F6CDD1Du;
}

double random_unit(struct random *r)
{
    return (double)(random_bits(r) >> 11) * 0x1.0p-53;
}

unsigned random_below(struct random *r, unsigned n)
{
    assert(n >= 1);
    /* Multiply-shift on the high 32 bits; the bias is below n / 2^32, far under any use here. */
    return (unsigned)(((random_bits(r) >> 32) * (uint64_t)n) >> 32);
}

double random_normal(struct random *r)
{
    double u = 1.0 - random_unit(r); /* (0, 1]: log stays finite */
    double v = random_unit(r);
    return sqrt(-2.0 * log(u)) * cos(two_pi * v);
}
