/* hear.h - from a hearing to a call sheet: the listener's soft evidence laid against what a clock
 * could have played.
 *
 * Absolute pitch is not to be trusted, so which heard sounder is which hammer is decided by the
 * best joint fit with everything the clock could play, in order or under any fault: the mechanism is
 * let run through half a day for each fault, every different sequence of one let-off becomes a
 * candidate with its prior weight (candidates.h keeps them), and fit.h names the sounders and aligns
 * the blows.  The sheet then says notes by bell number, strikes by count, and how they sounded.
 */
#ifndef LETOFF_COMMAND_HEAR_H
#define LETOFF_COMMAND_HEAR_H

#include <stdbool.h>
#include <stddef.h>
#include "diagnose/sheet.h"
#include "listen/fit.h"
#include "listen/hearing.h"
#include "movement/library.h"

#define HEAR_LETOFFS_MOST 64

/* One way to read a let-off: blows may be a count of one hammer or notes of another, sounders may be
 * named otherwise.  Readings that come to the same words are one. */
#define HEAR_READINGS_MOST 4
struct heard_reading {
    double p;              /* posterior of the candidates that read so */
    int strikes;
    double strike_interval_s;
    char notes[HEARING_NOTES_MOST];
};

/* One let-off of the recording, named. */
struct heard_letoff {
    size_t first, count;   /* blows of the hearing */
    double t_s;
    int strikes;
    char notes[HEARING_NOTES_MOST];
    double note_interval_s, strike_interval_s;
    unsigned note_how, strike_how; /* enum part_how */
    double explained;      /* probability that some candidate was played, 0..1; 0 without a clock */
    struct heard_reading reading[HEAR_READINGS_MOST]; /* likeliest first; the members above say the first */
    size_t readings;
};

/* What a blow was, as far as the best reading tells. */
enum heard_role { HEARD_NOTE, HEARD_COUNT, HEARD_STROKE, HEARD_MUSIC };

struct heard_clock {
    struct heard_letoff letoff[HEAR_LETOFFS_MOST];
    size_t letoffs;
    uint8_t *hammer;       /* per blow: the clock's sounder, or FIT_UNNAMED; NULL without a clock */
    float *hammer_p;       /* per blow: how sure that is */
    uint8_t *role;         /* per blow: enum heard_role; COUNT is the first stroke of each count */
};

/* Name the sounders.  `clock` may be NULL: then heard sounders keep their own numbers.  Release. */
void hear_name(struct heard_clock *out, const struct library *lib, const struct clock *clock,
               const struct hearing *h);
void heard_clock_release(struct heard_clock *c);

/* Take another reading of a let-off for the true one. */
void heard_clock_read(struct heard_clock *c, size_t letoff, size_t reading);

/* What the hands showed at a let-off of the recording, when at the first they showed at_min: as much later as it
 * came, or the lobe that follows when it came sooner than by itself (the hands were led on).  -1 unknown; may be
 * above 720. */
int hear_shown_at(const struct heard_clock *c, const struct clock *clock, size_t letoff, int at_min);
/* Append the rows to the sheet.  at_min: what the hands showed at the first let-off, -1 unknown.  With a clock and a
 * time, let-offs that were due while it was recorded and stayed silent are rows too. */
void hear_rows(const struct heard_clock *c, const struct clock *clock, const struct hearing *h, int at_min,
               struct sheet *sheet);

#endif
