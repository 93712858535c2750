#include "onset_match.h"

#include <math.h>

struct onset_score onset_score_of(size_t matches, size_t truths, size_t founds)
{
    struct onset_score s = {.matches = matches};
    s.precision = founds ? (double)matches / (double)founds : 0;
    s.recall = truths ? (double)matches / (double)truths : 0;
    s.f = matches ? 2 * s.precision * s.recall / (s.precision + s.recall) : 0;
    return s;
}

/* With one window for all, taking pairs from the left leaves none out that another choice would
 * have made: of two that could be paired with the same onset the earlier has less to choose from. */
struct onset_score onset_match(const double *truth, size_t truths, const double *found, size_t founds,
                               double window_s, int *pair)
{
    size_t i = 0, j = 0, matches = 0;
    for (size_t k = 0; pair && k < founds; k++)
        pair[k] = -1;
    while (i < truths && j < founds) {
        double apart = found[j] - truth[i];
        if (fabs(apart) <= window_s) {
            if (pair)
                pair[j] = (int)i;
            matches++;
            i++;
            j++;
        } else if (apart < 0) {
            j++;
        } else {
            i++;
        }
    }
    return onset_score_of(matches, truths, founds);
}
