/* fit.h - which heard sounder is which hammer, and which of the things the clock could have
 * played was played.
 *
 * Candidates come from whoever knows the clock: sequences of hammers with rough times and prior
 * weights (the right one, one with the drum a change late, one with a dead hammer ...).  For each
 * candidate the best one-to-one naming of heard sounders and the best alignment are found
 * together: blows may be missing, extra or weak, times may be stretched.  The score is a log
 * likelihood, so candidates are comparable and their posterior is honest within the model.
 *
 * Method: dynamic programming over (expected blow, heard blow) with the naming fixed, the naming by
 * an assignment problem with the alignment fixed, in turn until neither changes (hard
 * expectation-maximisation) from several starts.  The pitch order enters as a weak prior only.
 */
#ifndef LETOFF_FIT_H
#define LETOFF_FIT_H

#include <stddef.h>
#include <stdint.h>
#include "hearing.h"

#define FIT_HAMMERS_MOST 16
#define FIT_UNNAMED 255

struct fit_blow {
    double t_s;      /* rough; from any origin */
    uint8_t hammer;  /* index of the clock's sounder */
    float strength;  /* 0 = expected silent (a dead hammer); 1 = as made */
};
struct fit_candidate {
    const struct fit_blow *blow;
    size_t count;
    double prior;    /* weight >= 0; need not sum to 1 */
};
struct fit_options {
    size_t hammers;               /* the clock's sounders, 1..FIT_HAMMERS_MOST */
    const double *pitch_hz;       /* their nominal pitches, or NULL; used for their order only */
    double stretch_sigma;         /* log of how far the pace may differ; 0 means 0.3 */
    double jitter_s;              /* scatter of an interval about the stretched one; 0 means 0.08 */
    double miss_p, extra_p;       /* of a blow; 0 means 0.02 and 0.02 */
};

struct fit_result {
    double *posterior;            /* one per candidate, sums to 1 with `none` */
    double none;                  /* nothing among the candidates explains what was heard */
    size_t best;
    double log_score;             /* of the best */
    uint8_t hammer_of[HEARING_SOUNDERS_MOST]; /* naming under the best; FIT_UNNAMED */
    /* For the best candidate: heard blow -> expected blow, or -1 for an extra one. */
    int *expected_of;
    size_t expected_room;
    /* Soft names: blow i is hammer h with hammer_p[i * FIT_HAMMERS_MOST + h], over all candidates. */
    float *hammer_p;
    size_t candidate_count, blow_count;
};

/* Fit blows first .. first+count-1 of h.  Candidates with prior 0 get 0.  r: a zeroed struct or
 * one used before. */
void fit_hearing(struct fit_result *r, const struct hearing *h, size_t first, size_t count,
                 const struct fit_candidate *candidate, size_t candidates,
                 const struct fit_options *options);
void fit_release(struct fit_result *r);

#endif
