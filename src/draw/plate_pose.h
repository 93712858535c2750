/* plate_pose.h - where every part of a movement stands at one moment.
 *
 * A pose is worked out, not integrated: from the state before a stretch of time, what happened in
 * it (events) and a moment within.  The same moment always gives the same pose, so slow motion,
 * single step and going back are nothing special.
 */
#ifndef LETOFF_DRAW_PLATE_POSE_H
#define LETOFF_DRAW_PLATE_POSE_H

#include "event.h"
#include "movement/move.h"

struct plate_pose {
    double minute_deg, hour_deg; /* hands as shown, clockwise from 12 */
    double work_min;             /* motion work, 0..1440: snail and lobes */
    double lift[TRAINS];         /* lifting piece of strike and chime, 0 down .. 1 on the lobe */
    double rack;                 /* teeth the rack hangs down */
    double hook;                 /* rack hook, 0 in the teeth .. 1 raised */
    double turned[TRAINS];       /* blows (notes; minutes for going) each train has run */
    double count;                /* count wheel: counts past the start of entry 0 */
    double count_lever;          /* 0 in a slot .. 1 raised */
    double quarter;              /* quarter count wheel: changes past the start of entry 0 */
    double quarter_lever;        /* 0 in a slot .. 1 raised */
    double drum;                 /* changes past the first */
    double corrector;            /* 0 free .. 1 locking */
    double hammer[CLOCK_SOUNDERS]; /* 0 at rest .. 1 raised */
    double ring[CLOCK_SOUNDERS]; /* 1 just struck .. 0 silent */
    double wound[TRAINS];        /* 0 run down .. 1 wound */
    double swing;                /* pendulum or balance, -1 .. 1 */
    bool silent_strike, silent_chime;
    int tune;
    enum stuck stuck;
};

/* At rest in this state. */
void plate_pose_rest(struct plate_pose *p, const struct works *w, const struct moment *m);
/* `before` is the moment when the list began; t_s a moment on the list's time. */
void plate_pose_at(struct plate_pose *p, const struct works *w, const struct moment *before,
                   const struct event_list *list, double t_s);

#endif
