/* passing_priv.h - one lobe passing the lifting piece: what the mechanism files share.
 *
 * A struct passing lives only inside movement_letoff.  The files of this folder take it in turn:
 * letoff.c (lift, warning, release), rack.c, count.c, chime.c (how far a train runs), hammer.c
 * (what falls on what), and each leaves its mark in p->m->rest and in the events.
 */
#ifndef LETOFF_MOVEMENT_PASSING_PRIV_H
#define LETOFF_MOVEMENT_PASSING_PRIV_H

#include "movement/move.h"

#define RUN_ON_BLOWS 30 /* blows written down of a train that runs to the end of its power */

struct passing {
    const struct works *w;
    const struct clock *c;
    struct moment *m;
    struct chance *chance;
    struct event_list *out;
    int lobe;
    enum turner by;
    int work_min;   /* of the lobe */
    int late_min;   /* release against the lobe */
    double base_s;  /* nominal moment of the lobe */
    double t_s;     /* now */
    double lift;    /* what the lifting piece reached, 1 = as made */
    double run_from_s; /* when the train began that may let off another */
    int phase;      /* place of the hammer star, -1 not decided yet */
    int held_blows; /* of a train past its warning, struck while the lifting piece still holds its lock up */
    bool odd_slip;  /* the lever of the odd blow stayed where it was */
    bool dropped;   /* the hammer fell in the run up to the warning */
};

/* What one train is to do. */
struct run {
    enum event_train role;
    int blows;
    bool run_on;             /* does not lock: runs to the end of its power */
    int pattern;
    bool odd_blow;           /* last stroke held off */
    const char *letters;     /* hammers by letter for each blow, or NULL */
};

static inline double par(const struct passing *p, enum par which)
{
    return works_par(p->w, (int)which);
}
static inline double par_train(const struct passing *p, enum par which, enum event_train role)
{
    return works_par(p->w, (int)which + (int)role);
}
static inline bool happens(struct passing *p, enum par which)
{
    return chance_yes(p->chance, works_par(p->w, (int)which));
}

/* Seconds that a minute of the hands takes: by time, or under a finger. */
double passing_minute_s(const struct passing *p);
void passing_emit(struct passing *p, enum event_kind kind, enum event_train role, int sounder,
                  unsigned quality, double strength);
enum power_level passing_power(const struct passing *p, enum event_train role);
void passing_power_out(struct passing *p, enum event_train role);
/* It stands in mid-run because no power is left; nothing holds it but that. */
void passing_spent(struct passing *p, enum event_train role);

/* letoff.c: silent by a lever or by the night's cam. */
bool passing_hushed(const struct passing *p, enum event_train role);
/* letoff.c: let a train go at once (by another train, or by hand); `lobe` chooses its use. */
void passing_release(struct passing *p, enum event_train role, int lobe);
/* letoff.c: a train that has run lets off those that wait for it (`by`), at the lobe's use. */
void passing_hand_over(struct passing *p, enum let_off_by by, int lobe);

/* rack.c: let the rack fall at work minute `read_min`; teeth it hangs down are left in the state.
 * Then gather it: the run that follows. */
void rack_fall(struct passing *p, enum event_train role, int lobe, int read_min);
struct run rack_gather(struct passing *p, enum event_train role, int lobe);
/* Minutes by which a high spot under the tail holds the rack up at this reading. */
int rack_held_min(struct passing *p, enum event_train role, int lobe);
/* Teeth the snail would give at this work minute. */
int rack_snail_teeth(const struct works *w, const struct train *t, const struct snail *s, int min);
int rack_hanging(const struct moment *m, enum event_train role);

/* count.c */
struct run count_run(struct passing *p, enum event_train role, int lobe);
int count_due(const struct clock *c, const struct train *t, int work_min);

/* chime.c: quarters by a count wheel and a drum; a fixed run of music. */
void chime_run(struct passing *p);
void music_run(struct passing *p);

/* hammer.c: work the hammers of a run; false if the train stalled on the way. */
bool hammer_run(struct passing *p, const struct run *r);
/* Chance that the train seizes in a mean run, by a pivot of its own or by friction that leaves little. */
double passing_seizing(const struct passing *p, enum event_train role);
/* Where a train that seizes now and then stops in a run as long as `runs` mean ones: 0 to places - 1
 * (places <= CHANCE_WAYS), -1 when it gets through.  Any part of the way is as likely to hold it, so
 * that of n mean runs (1 - p)^n pass, by the rule for independent chances. */
int passing_seizes(struct passing *p, enum event_train role, double runs, int places);
/* One hammer falls now. */
void hammer_fall(struct passing *p, enum event_train role, int sounder, double strength);
/* Blows a train makes from now on until `until_s`. */
int hammer_blows_until(const struct passing *p, enum event_train role, double until_s);
/* False if the train cannot lift this hammer. */
bool hammer_lifts(const struct passing *p, int sounder);

#endif
