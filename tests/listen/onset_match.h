/* onset_match.h - the scorer: which detected onsets are right.
 *
 * A detection is right if it lies within the window about a true onset; pairs are one to one and as
 * many as can be.  P = right / detected, R = right / true, F = 2PR / (P + R); empty lists give 0
 * (the reading of mir_eval's onset module, and of MIREX Audio Onset Detection).
 */
#ifndef LETOFF_ONSET_MATCH_H
#define LETOFF_ONSET_MATCH_H

#include <stddef.h>

#define ONSET_WINDOW_S 0.05

struct onset_score {
    double precision, recall, f;
    size_t matches;
};

/* Lists in order of time.  pair (may be NULL): for each found onset the true one, or -1. */
struct onset_score onset_match(const double *truth, size_t truths, const double *found, size_t founds,
                               double window_s, int *pair);
struct onset_score onset_score_of(size_t matches, size_t truths, size_t founds);

#endif
