/* clock.h - what one kind of clock is made of: the description read from chimes/<id>.yaml.
 *
 * A clock has a going train that turns the motion work; lobes on the motion work let off trains;
 * each train counts by a rack and snail, by a count wheel or by a fixed run, and works hammers.
 * Nothing here changes after loading; what is out of order is in struct works (works.h) and what
 * moves is in struct rest (rest.h).
 *
 * All times of the motion work are whole minutes.  A sound clock has the snail step, count wheel
 * slot and drum place that belong to the time shown: "in step".
 */
#ifndef LETOFF_MOVEMENT_CLOCK_H
#define LETOFF_MOVEMENT_CLOCK_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include "event.h"

#define CLOCK_LOBES    4
#define CLOCK_SOUNDERS 16
#define CLOCK_ENTRIES  48
#define CLOCK_STEPS    48
#define CLOCK_SNAILS   3
#define CLOCK_ARBORS   8
#define CLOCK_STROKES  4
#define CLOCK_PATTERNS 4
#define CLOCK_TUNES    6
#define TUNE_CHANGES   48  /* changes on one turn of a drum */
#define TUNE_NOTES     400 /* notes on one turn of a drum */

enum drive { DRIVE_NONE, DRIVE_WEIGHT, DRIVE_SPRING };
enum control {
    CONTROL_NONE,        /* no such train */
    CONTROL_RACK,        /* rack and snail: reads the time, keeps no count */
    CONTROL_COUNT_WHEEL, /* count wheel (locking plate): keeps its own count */
    CONTROL_RUN,         /* a fixed run each time (music, passing strike) */
};
enum let_off_by { BY_LOBES, BY_CHIME, BY_STRIKE }; /* what lets the train go */
enum rack_lock {
    LOCK_PALLET,
    LOCK_HOOK
}; /* pallet tail on rack pin: unfallen rack is silent;
                                               hook: the train runs one blow */
enum rack_fall { FALL_AT_WARNING, FALL_AT_RELEASE };

/* What a train does at one lobe. */
enum reading {
    READ_NOTHING, /* this lobe does not let the train off */
    READ_SNAIL,   /* rack falls to the snail numbered `snail` */
    READ_ONE,     /* short lift: the rack falls one tooth whatever the snail */
    READ_COUNT,   /* count wheel moves on to its next slot (or a fixed run is made) */
    READ_PASSING, /* a hammer is lifted and dropped by the motion work itself, no train */
};

/* One count: up to CLOCK_STROKES hammers, each `at` a share of the blow interval. */
struct stroke {
    uint8_t sounder;
    float at; /* 0..1 */
};
struct pattern {
    struct stroke stroke[CLOCK_STROKES];
    int strokes;
};

/* A stepped cam.  teeth[i] are read from work minute (i + 1) * turn_min / steps - lead_min +
 * edge_min[i] until the next step begins: an hour snail has {1, 2 ... 12}. */
struct snail {
    int teeth[CLOCK_STEPS];       /* how far the rack falls */
    double edge_min[CLOCK_STEPS]; /* where this step begins against an even division, minutes */
    int steps;
    int turn_min;  /* one turn in minutes: 720, 1440, 240, 60 */
    int lead_min;  /* the step for a time begins so many minutes before it */
    bool bevelled; /* the steep side is sloped, so that a sprung tail can climb it */
};

struct lobe {
    int minute; /* within the lobe period */
    bool tall;  /* the only one that frees the corrector */
};
struct lobe_use {
    enum reading read;
    int snail;     /* READ_SNAIL */
    int pattern;   /* which pattern of the train is coupled at this lobe */
    bool odd_blow; /* the last stroke is suppressed (ship's odd bell) */
};

struct arbor {
    const char *name;
    int wheel,
        pinion; /* teeth of the wheel it carries, leaves of the pinion it is driven by; 0 none */
};

struct power {
    enum drive drive;
    double weight_kg, barrel_mm, turns; /* pull on the line (half of a weight hung in a
                                                    pulley); barrel's diameter; turns fully wound */
    double spring_full_nmm, spring_mid_nmm, spring_low_nmm; /* torque at the barrel */
    double hammer_mj;           /* work to lift the hammers of one blow (or note), millijoules */
    double heavy;               /* heaviest moment against the mean: several hammers at once */
    double fly_mm, fly_high_mm; /* length and height of one vane */
    double fly_turns;           /* turns of the fly a blow */
    double loss;                /* share of the work lost in a freshly oiled train, 0..1 */
    double interval_s;          /* between blows (or notes) as made, half wound */
    double days;                /* run of one winding */
};

struct tune {
    const char *id, *name, *source, *status; /* status: published, derived ... as the file says */
    int bells;                               /* highest number used; bell 1 is the highest */
    int note[TUNE_NOTES];            /* one turn of the drum, bell numbers from 1; 0 is a rest */
    int change_at[TUNE_CHANGES + 1]; /* first note of each change; [changes] = notes */
    int changes, notes;
    int quarter[CLOCK_LOBES], quarters; /* changes at 1st, half, 3rd, hour */
    double gap; /* from the last note of a change to the next, in note gaps */
    const char *pitch[CLOCK_SOUNDERS]; /* of bells 1.. as printed, may be NULL */
    bool music;                        /* a tune for a musical train, not for quarters */
};

struct train {
    enum event_train role;
    enum control control;
    enum let_off_by by;
    struct lobe_use use[CLOCK_LOBES]; /* by lobe; for BY_CHIME and BY_STRIKE after the other train
                                         has done its work of that lobe, normally the hour's alone */
    struct pattern pattern[CLOCK_PATTERNS];
    int patterns;
    /* rack */
    struct snail snail[CLOCK_SNAILS];
    int snails;
    int rack_teeth; /* most it can fall before it meets its stop */
    enum rack_lock lock;
    enum rack_fall fall;
    bool sprung_tail;
    /* count wheel; also the quarter count wheel of a chime, then in changes */
    int entry[CLOCK_ENTRIES];
    const char *entry_hammers[CLOCK_ENTRIES]; /* a letter per blow: a = sounder 0; or NULL */
    int entries;
    int entry_phase_min; /* entry 0 belongs to this work minute (of clock.cycle_min) */
    /* drum */
    const struct tune *tune[CLOCK_TUNES];
    int tunes;
    uint8_t hammer[CLOCK_SOUNDERS]; /* sounder of bell 1, 2 ... */
    bool corrector;
    bool flirt; /* let off by a flirt: no warning */
    struct power power;
    int shares; /* enum event_train whose wheels it uses, or -1 */
    struct arbor arbor[CLOCK_ARBORS];
    int arbors;
    int pins_on, pins; /* arbor that carries the hammer pins or star, and how many (blows or
                             notes a turn; where a drum is driven from it, notes of its turns) */
    int warning_on;    /* arbor of the warning wheel, -1 none */
};

struct sounder {
    const char *name, *voice, *pitch;
    double hz, gain;
};

/* What a caller may say of such a clock: a hint word of words.yaml and the values that fit. */
#define CLOCK_HINTS 20
struct clock_hint {
    const char *word, *value[6];
    size_t values;
};

/* What the hands and levers of this movement allow; see check values 5.1, which disagree. */
enum hands_back { BACK_YES, BACK_NO, BACK_UNLESS_WARNED };

struct clock {
    const char *id, *name, *about, *family, *source;
    const char *count, *half, *chime, *age, *housing; /* words of the hints, for choosing a clock */
    struct clock_hint hint[CLOCK_HINTS];              /* all hints, those five among them */
    size_t hints;
    int winding_points;
    double share;        /* how common among calls, relative */
    int cycle_min;       /* 720 or 1440: after so many minutes everything repeats */
    int lobe_period_min; /* 60, or 120 for clocks that sound every second hour */
    struct lobe lobe[CLOCK_LOBES];
    int lobes;
    int warn_min;               /* lead of the warning, minutes; 0 none */
    struct train train[TRAINS]; /* by role; control NONE where there is none */
    struct sounder sounder[CLOCK_SOUNDERS];
    int sounders;
    enum hands_back back;
    bool back_counts; /* going back over a let-off and forward again sounds again (true for most) */
    bool hour_hand_keyed;             /* cannot be moved on its pipe */
    bool minute_bush;                 /* minute hand on a bush that can be turned */
    bool minute_square;               /* minute hand on a square: quarter turns only */
    bool trip_strike, trip_chime;     /* wire or lever to trip by hand */
    bool silent_strike, silent_chime; /* levers */
    int night_from_min, night_to_min; /* silent by a 24 h cam; equal: none */
    bool hush_hammers; /* levers and cam only hold the hammers off: trains run, counts go on */
    bool selector;     /* tune selector */
    bool
        hours_selector; /* lever of a grande sonnerie: hours at each quarter (tune 0) or at the hour only
                            (tune 1, petite sonnerie) */
    bool dials_24;      /* shows or needs 24 hours */
};

/* The train of that role, or NULL if the clock has none. */
const struct train *clock_train(const struct clock *c, enum event_train role);
bool clock_sounder_is_pipe(const struct clock *c,
                           int sounder); /* blown by a bellows; false out of range */
/* Index of the lobe at this work minute, or -1. */
int clock_lobe_at(const struct clock *c, int work_min);
/* Minutes from `work_min` (exclusive) to the next lobe forward, 1.. */
int clock_next_lobe(const struct clock *c, int work_min);
/* Let-offs in one cycle, and the work minute of the i-th. */
int clock_letoffs(const struct clock *c);
int clock_letoff_min(const struct clock *c, int i);
/* What a sound clock does.  Step of the snail that belongs to this minute; entry of the count
 * wheel that the lobe at this work minute uses; counts (blows, pairs, changes) of the train at
 * this work minute, 0 where no lobe lets it off; and the sum of those counts over 24 hours. */
int snail_step_at(const struct snail *s, double work_min);
int train_entry_at(const struct clock *c, const struct train *t, int work_min);
int train_counts_at(const struct clock *c, enum event_train role, int work_min);
int train_counts_a_day(const struct clock *c, enum event_train role);
/* Turns of arbor `i` of the train for one blow (note, for a chime), from the gear counts;
 * 0 when the counts are not given. */
double train_turns_per_blow(const struct train *t, int i);

#endif
