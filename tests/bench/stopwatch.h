/* stopwatch.h - how long something took, for benches. */
#ifndef LETOFF_STOPWATCH_H
#define LETOFF_STOPWATCH_H

#include <time.h>

static inline double stopwatch_s(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + (double)t.tv_nsec * 1e-9;
}

#endif
