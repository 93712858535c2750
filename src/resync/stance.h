/* stance.h - where a clock stands for somebody who wants it back in step.
 *
 * A stance is all that a plan can change: where the motion work is, where the hands sit on their
 * pipes against it, and the rest state of the mechanism.  It is a plain value, canonical and
 * sixteen bytes, so equal situations are equal keys of the search (atlas.h).
 *
 * In step means: from here on the clock sounds what its hands show.  Three things must agree:
 *
 *     lobes    the minute hand may be off its pipe only by an amount that brings each lobe under one
 *              that does the same work (a two-lobe count wheel does not mind half a turn)
 *     snails   a snail reads the motion work, so hands and snail must agree over its turn; likewise
 *              the cam of the night
 *     counts   a count wheel keeps its own count, so it must stand at the entry due at the hands
 *
 * A position exactly on a lobe is one where that lobe has already passed and all is quiet.
 */
#ifndef LETOFF_RESYNC_STANCE_H
#define LETOFF_RESYNC_STANCE_H

#include <stdbool.h>
#include <stdint.h>
#include "movement/move.h"

struct stance {
    struct rest rest;
    int16_t work_min;             /* of the motion work, 0 .. cycle_min-1 */
    int16_t minute_off, hour_off; /* as in struct moment */
    uint8_t hands_off;            /* 1: the hands are in a tin */
    uint8_t zero;
};
_Static_assert(sizeof(struct stance) == 16, "stances are compared byte for byte");

bool stance_same(const struct stance *a, const struct stance *b);

/* Minutes folded into one cycle of the clock (720 or 1440), 0 .. cycle_min-1. */
int stance_fold(const struct clock *c, int min);
/* What the hands show, folded.  With the hands off: what they would show if put on straight. */
int stance_shown(const struct works *w, const struct stance *s);
/* Minutes since the last lobe (0: on it) and to the next (1..). */
int stance_since(const struct clock *c, const struct stance *s);
int stance_ahead(const struct clock *c, const struct stance *s);
/* Waiting in the warning, or where it would be. */
bool stance_warned(const struct clock *c, const struct stance *s);
/* Rack of the strike left down. */
bool stance_rack_down(const struct clock *c, const struct stance *s);

bool stance_lobes_agree(const struct works *w, const struct stance *s);
/* Lobes, and the snails that turn with the minute hand: where the minute hand sits is right. */
bool stance_minutes_agree(const struct works *w, const struct stance *s);
/* True if a cam of the night keeps it silent at this minute of the motion work. */
bool stance_by_night(const struct clock *c, int work_min);
/* True if some train reads a snail, or a cam rules the night: then the hours of the motion work
 * matter and not the hands alone. */
bool stance_hours_matter(const struct clock *c);
/* Lobes, snails and night agree; the counts are left out. */
bool stance_works_agree(const struct works *w, const struct stance *s);
bool stance_in_step(const struct works *w, const struct stance *s);

/* States that nobody could ever tell apart are one.  A wheel that holds its counts twice over is
 * kept to the first round; hours of the motion work that no snail or cam reads are given to the
 * hands (stance_of does both). */
struct rest stance_rest(const struct clock *c, struct rest rest);
/* Hour hands are told on the dial: -5 .. +6 hours on one of twelve. */
int stance_hour_off(const struct clock *c, int hour_off);

struct moment stance_moment(const struct stance *s);
struct stance stance_of(const struct works *w, const struct moment *m);

#endif
