#include "listen/ticking.h"

#include <math.h>
#include <string.h>

#define KEEP_MOST   0.06f /* a tick is gone after a tenth of a second */
#define TICKS_LEAST 6
#define SHORTEST_S  0.15
#define LONGEST_S   2.2 /* both beats of a seconds pendulum */
#define BIN_S       0.01
#define BINS        220 /* LONGEST_S / BIN_S */
#define NEAR_S      0.012
#define NEARLY      0.6f /* the shortest interval that is met nearly as often as the commonest */

static bool is_tick(const struct attack *a)
{
    return a->keep < KEEP_MOST;
}

double ticking_period_s(const struct attack *a, size_t count)
{
    float met[BINS + 2] = {0}, most = 0;
    double sum[BINS + 2] = {0};
    size_t ticks = 0;
    for (size_t i = 0; i < count; i++) {
        if (!is_tick(&a[i]))
            continue;
        ticks++;
        for (size_t j = i + 1; j < count && a[j].t_s - a[i].t_s < LONGEST_S; j++) {
            double d = a[j].t_s - a[i].t_s;
            if (!is_tick(&a[j]) || d < SHORTEST_S)
                continue;
            met[(size_t)(d / BIN_S)]++;
            sum[(size_t)(d / BIN_S)] += d;
        }
    }
    for (size_t b = 0; b < BINS; b++)
        most = met[b] + met[b + 1] > most ? met[b] + met[b + 1] : most;
    if (ticks < TICKS_LEAST || most < 0.3f * (float)ticks)
        return 0;
    for (size_t b = 0; b < BINS; b++)
        if (met[b] + met[b + 1] >= NEARLY * most)
            return (sum[b] + sum[b + 1]) / (double)(met[b] + met[b + 1]);
    return 0;
}

static bool onset_near(const struct attack *a, size_t count, double t_s)
{
    size_t low = 0, high = count;
    while (low < high) {
        size_t middle = (low + high) / 2;
        if (a[middle].t_s < t_s - NEAR_S)
            low = middle + 1;
        else
            high = middle;
    }
    return low < count && a[low].t_s < t_s + NEAR_S;
}

void ticking_mark(const struct attack *a, size_t count, double period_s, float *on)
{
    for (size_t i = 0; i < count; i++) {
        on[i] = 0;
        for (int k = -3; k <= 3 && period_s > 0; k++)
            if (k != 0 && onset_near(a, count, a[i].t_s + k * period_s))
                on[i] += 1.0f / 6;
    }
}
