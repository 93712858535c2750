/* move.h - the mechanism at work: hands go round, let-offs happen, trains run and lock.
 *
 * movement_letoff is the heart: one lobe passing the lifting piece, from warning to lock.  It is
 * pure: the next state and the events depend only on the works, the state, the lobe and the
 * chance passed in.  movement_turn carries hands over any stretch, forward or back, and calls it
 * at each lobe; actions are what a person can do to a clock.
 */
#ifndef LETOFF_MOVEMENT_MOVE_H
#define LETOFF_MOVEMENT_MOVE_H

#include <stdbool.h>
#include <stdint.h>
#include "event.h"
#include "movement/chance.h"
#include "movement/rest.h"
#include "movement/works.h"

/* Who turns the minute arbor. */
enum turner {
    BY_TIME,       /* the going train, through the cannon friction */
    BY_HAND,       /* a finger on the minute hand, waiting at each let-off until all is quiet */
    BY_HAND_QUICK, /* the same without waiting: trains may still be running at the next lobe */
};

/* A clock at one moment.  Zeroed and filled by moment_init. */
struct moment {
    double t_s;        /* seconds since the start */
    int work_min;      /* where the motion work stands, 0..1439 (midnight 0) */
    struct rest rest;
    int letoff;        /* let-offs met so far: serial number for events */
    double used[TRAINS];/* blows (notes; days for going) since each train was wound */
    int minute_off, hour_off; /* hands moved on their pipes by a person, minutes, beside the fault's */
};

void moment_init(struct moment *m, const struct works *w, int work_min);
/* What the hands show, minutes 0..1439. */
int moment_shown(const struct works *w, const struct moment *m);
/* The work minute at which sound hands show `shown` (inverse of moment_shown). */
int movement_work_at(const struct works *w, int shown_min);

/* One let-off: the lobe at `work_min` passes.  Appends events (t_s counted from m->t_s, which is
 * the nominal moment of the lobe) and advances m->rest, m->letoff, m->used.  `out` may be NULL.
 * Returns the minutes by which release came after (+) or before (-) the lobe. */
int movement_letoff(const struct works *w, struct moment *m, int lobe, enum turner by,
                    struct chance *chance, struct event_list *out);

/* Turn the hands `minutes` forward (positive) or back (negative).  Stops early when something
 * holds the hands; returns the minutes really turned. */
int movement_turn(const struct works *w, struct moment *m, int minutes, enum turner by,
                  struct chance *chance, struct event_list *out);

/* What a person may do to the clock. */
enum action {
    ACTION_TRIP_STRIKE,   /* raise the locking by wire or lever, let it strike once */
    ACTION_TRIP_CHIME,
    ACTION_WIND,          /* wind all trains */
    ACTION_WIND_TRAIN,    /* wind one: amount = enum event_train */
    ACTION_PULL_WEIGHT,   /* help a train by hand: amount = enum event_train */
    ACTION_FREE,          /* ease the hands back a little and free what is stuck */
    ACTION_HOUR_HAND,     /* move the hour hand on its pipe: amount minutes of the dial */
    ACTION_MINUTE_BUSH,   /* turn the minute hand on its bush: amount minutes */
    ACTION_SILENT_STRIKE, /* lever: amount 1 silent, 0 strike */
    ACTION_SILENT_CHIME,
    ACTION_TUNE,          /* selector: amount = tune index */
    ACTION_DRUM,          /* slip the drum wheel (bench): amount changes */
    ACTIONS
};
const char *action_name(enum action a);
int action_of(const char *name); /* -1 for no action */
/* False if this clock does not allow it (nothing is changed then). */
bool movement_do(const struct works *w, struct moment *m, enum action a, int amount,
                 struct chance *chance, struct event_list *out);

#endif
