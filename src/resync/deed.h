/* deed.h - what hands may do to a clock, what it costs, and what comes of it.
 *
 * A deed is one thing a person does and then waits until all is quiet.  What comes of it is never
 * written down here: it is the simulator's answer.  Here stands only what is allowed.
 *
 * Rules, with the notes they rest on (they disagree; the kind of movement decides, so the first
 * four are facts of each clock file):
 *
 *   forward, waiting at each let-off        always; what antique count wheels want
 *   forward without waiting                 only where every train counts by a rack, and not over the
 *                                           twelve, unless snail and tail are sloped (E. Beckett,
 *                                           Clocks, Watches and Bells, 8th ed., f.167)
 *   backward                                where the clock file says so, and never in the warning nor
 *                                           with the rack down (Beckett f.167 allows it for racks;
 *                                           trade advice says forward only, a maker's sheet says
 *                                           about two hours back for modern three-train clocks:
 *                                           https://billsclockworks.com/merchandise/instruction-sheet.html/22)
 *   hour hand on its pipe                   not when keyed
 *   levers and selectors                    not within five minutes before a let-off, nor while striking
 *   tripping                                where there is a wire or lever (Beckett f.172: raise the
 *                                           locking and let it strike on to the right hour)
 *   slipping the drum                       on the bench only
 *
 * What is stuck is freed, what has run down is wound, before anything else.
 *
 * Costs are minutes: the hands and the sound by the simulator's own clock, and for the rest the
 * table of deeds (ours).  Blows and notes cost a little each, for the run of the spring and the
 * neighbours; risk is paid in minutes too.
 */
#ifndef LETOFF_RESYNC_DEED_H
#define LETOFF_RESYNC_DEED_H

#include <stdbool.h>
#include <stddef.h>
#include "movement/rung.h"
#include "resync/stance.h"

enum deed {
    DEED_FREE,         /* ease the hands and free what is stuck */
    DEED_WIND,
    DEED_HELP,         /* help the strike by hand to gather a rack left down */
    DEED_LEVER_STRIKE, /* amount 1 silent, 0 strike */
    DEED_LEVER_CHIME,
    DEED_FORWARD,      /* to the next let-off, waiting; amount minutes, 0 while the hands are off */
    DEED_QUICK,        /* over the next let-off without waiting */
    DEED_ON,           /* to the time wanted, no let-off between */
    DEED_BACK,         /* to just before the let-off last passed, or to the time wanted */
    DEED_TRIP_STRIKE,
    DEED_TRIP_CHIME,
    DEED_HOUR_HAND,    /* amount minutes of the dial, 60 an hour */
    DEED_MINUTE_BUSH,  /* amount minutes */
    DEED_FIT,          /* hands on, so that they show `amount` minutes */
    DEED_WAIT,         /* stop the clock until the time has caught up; amount minutes */
    DEED_DRUM,         /* bench: amount changes */
    DEED_TUNE,         /* selector to tune `amount` */
    DEEDS
};

struct deed_row {
    const char *word;   /* as in the JSON output */
    double minutes;     /* beside turning and sounding */
    double risk_min;    /* what may go wrong, in minutes */
    const char *hazard; /* none, pinch, weight, spring ... as in the cures */
};
const struct deed_row *deed_row(enum deed d);

/* What the asker minds, beside minutes. */
struct minds {
    double blow_min, note_min; /* a blow or note is worth so many minutes of work */
    double wait_min;           /* a minute of the clock standing stopped */
    bool bench;                /* the movement is on the bench: the drum can be slipped */
    bool no_trip, no_hands_off_pipe; /* leave out tripping; leave out moving hands on pipes */
    bool no_levers;
};
struct minds minds_by_day(void);
struct minds minds_by_night(void);

/* One clock to be set: what never changes while a plan is made. */
struct reset {
    const struct works *w;
    int target_min;   /* what the hands must show in the end, folded */
    struct minds minds;
    bool any_time;    /* in step is enough, whatever the hands show */
    int want_tune;    /* the selector must stand at this tune in the end; -1 (from reset_init) any */
    int lead_min;     /* "just before" a let-off is so many minutes before it */
    bool quick;       /* all trains count by racks: no need to wait */
    struct rest due[1440]; /* state in which the next let-off after this minute is right */
    struct event_list events; /* of the deed in hand */
};
void reset_init(struct reset *r, const struct works *w, int target_min, const struct minds *minds);
void reset_release(struct reset *r);

bool reset_in_step(const struct reset *r, const struct stance *s);
/* In step, showing the time wanted, and no lever at silent. */
bool reset_done(const struct reset *r, const struct stance *s);
/* Minutes the clock need only be stopped for to be done; 0 if that would not do. */
int reset_wait(const struct reset *r, const struct stance *s);

/* A deed, done. */
struct done {
    enum deed deed;
    int amount;
    struct stance to;
    double minutes, cost;
    struct rung heard;
};

/* Changes the drum must be slipped by (on the bench) to agree with its count wheel; 0 if it does. */
int deed_drum_error(const struct clock *c, struct rest r);

/* Do it.  False if this clock or this moment does not allow it, or if something would wedge. */
bool deed_do(struct reset *r, const struct stance *from, enum deed d, int amount, struct done *out);

/* All that may be done from here and changes something, at most DEEDS_MOST; returns how many. */
#define DEEDS_MOST 64
size_t deeds_from(struct reset *r, const struct stance *from, struct done list[DEEDS_MOST]);

#endif
