/* hear_rhythm.h - what the times between blows tell of the trains of a heard clock.
 *
 * The hour blows of all let-offs follow one another on one train, which stops where it is and
 * goes on from there: they are one run with its pauses left out.  The notes of the chime likewise.
 * Each run is judged by rhythm.h against the interval of the clock as made, and laid beside its
 * arbors by arbors.h.
 */
#ifndef LETOFF_COMMAND_HEAR_RHYTHM_H
#define LETOFF_COMMAND_HEAR_RHYTHM_H

#include "command/hear.h"
#include "listen/rhythm.h"
#include "movement/arbors.h"

struct heard_rhythm {
    const struct train *train; /* NULL without a clock */
    bool chime;                /* notes; else blows of the hour */
    size_t blows;
    double usual_s;            /* 0 without a clock */
    struct rhythm rhythm;
    struct arbor_fit arbor[CLOCK_ARBORS];
    size_t arbors;             /* 0 unless uneven */
};

#define HEAR_RHYTHMS 2
/* One for the strike, one for the chime, those of which two intervals and more were heard; returns
 * how many.  jitter_s: how well times are known (0.005 sound, 0.03 taps). */
size_t hear_rhythm(const struct heard_clock *c, const struct clock *clock, const struct hearing *h,
                   double jitter_s, struct heard_rhythm to[HEAR_RHYTHMS]);
/* A few lines for people. */
void hear_rhythm_say(const struct heard_rhythm *r, struct text *t);

/* The rhythm of one let-off's notes alone, rests left out; false with fewer than three steps. */
bool hear_note_rhythm(const struct heard_clock *c, size_t letoff, const struct hearing *h, struct rhythm *to);

/* Times between the blows of one let-off that count (or its notes, if it struck none), for the call
 * sheet; at most `most`, returns how many. */
size_t hear_intervals(const struct heard_clock *c, size_t letoff, const struct hearing *h, double *to, size_t most);

#endif
