#include "diagnose/tuned.h"

#include <math.h>

#define CHANCE_MOST 0.95

#define TUNED_ONE(name) .name = 1,
struct tuned_times tuned_times = {TUNED_TABLE(TUNED_ONE)};

double tuned_value(double value, double times)
{
    return times != 1 && value < 1 ? fmin(value * times, CHANCE_MOST) : value * times;
}
