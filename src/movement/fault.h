/* fault.h - one fault: which parameters change, over which range, and where it can occur.
 *
 * A row of chimes/faults.yaml.  The rows say what is changed in the mechanism, never what is
 * heard.  A row stands for many hypotheses: each axis of `vary` is swept (severity first), and
 * `start` says in which states the clock may be found (a setting fault is often nothing else).
 */
#ifndef LETOFF_MOVEMENT_FAULT_H
#define LETOFF_MOVEMENT_FAULT_H

#include <stdbool.h>
#include <stddef.h>
#include "movement/clock.h"
#include "movement/move.h"
#include "movement/par.h"

#define FAULT_SETS 8
#define FAULT_AXES 3
#define FAULT_VALUES 64
#define FAULT_TILTS 24
#define FAULT_CLASS_TILTS 8 /* beside those of the row: what is told of faults of its class alike */

/* One axis: the parameter and the values it takes (evenly likely unless weighted). */
struct fault_axis {
    enum par par;
    double value[FAULT_VALUES];
    double weight[FAULT_VALUES];
    int values;
    bool known_by_clock; /* values come from the clock: hammers, teeth, steps, entries, arbors */
    int domain;          /* enum fault_domain then */
};
enum fault_domain {
    DOMAIN_NONE, DOMAIN_STRIKE_HAMMERS, DOMAIN_CHIME_HAMMERS, DOMAIN_HAMMERS, DOMAIN_TEETH,
    DOMAIN_STEPS, DOMAIN_ENTRIES, DOMAIN_STRIKE_ARBORS, DOMAIN_CHIME_ARBORS, DOMAIN_DRUM_NOTES,
    DOMAIN_PINS, DOMAIN_LOBES, DOMAIN_HAMMER_PAIRS
};

/* States in which a clock with this fault may be found, beside "in step". */
enum fault_start {
    START_COUNT_ANY = 1,     /* count wheel at any other entry */
    START_COUNT_HALF = 2,    /* one entry out: hours at the half */
    START_CHIME_ANY = 4,     /* quarter wheel at any other entry, drum with it */
    START_HANGING = 8,       /* rack left down */
    START_SILENT_STRIKE = 16,
    START_SILENT_CHIME = 32,
    START_STRIKE_OUT = 64,   /* strike weight down / spring run down */
    START_CHIME_OUT = 128,
    START_GOING_OUT = 256,
    START_STRIKE_LOW = 512,
    START_CHIME_LOW = 1024,
    START_WARNED = 2048,     /* stopped or moved while in warning */
    START_CORRECTOR = 4096,  /* corrector locked */
    START_NIGHT = 8192,
    START_LEFT_OVER = 16384, /* count interrupted part way */
    START_TUNE_ANY = 32768,
};

/* Preconditions on the clock. */
struct fault_needs {
    enum control strike;       /* CONTROL_NONE = any */
    bool hammer;               /* an hour hammer, if only one that the motion work lifts in passing */
    bool strike_any, chime, music, drum, corrector, independent; /* has such a train or part */
    int lock;                  /* enum rack_lock, -1 any */
    int fall;                  /* enum rack_fall, -1 any */
    enum drive drive;          /* of the train in question; DRIVE_NONE = any */
    bool half_short, half_passing, half_count, warning, flirt, sprung_tail, rigid_tail, pipes,
        odd_blow, shift, night, selector, hours_selector, silent_strike, silent_chime,
        silent_any,     /* a lever that silences strike or chime */
        half,           /* is let off between the hours too */
        many_tunes, pairs, bush,
        square, friction_hour, twenty_four, hour_snail, from_chime,
        no_corrector, twelve_steps, no_count_wheel, quarter_wheel, quarter_rack,
        strike_train,   /* the strike has wheels of its own or shared, no mere passing blow */
        strike_power,   /* and a weight or spring of its own */
        strike_warning, /* and is let off with a warning, by the motion work or the chime */
        chime_warning;  /* the chime is */
};
#define FAULT_NEEDS_NOTHING {.lock = -1, .fall = -1}
/* True if the clock has all of it. */
bool fault_needs_met(const struct fault_needs *n, const struct clock *c);

struct fault_tilt {
    const char *word; /* history, since or seen word */
    double factor;    /* prior odds are multiplied by it when the word is in the sheet */
};

/* What puts it right; several faults share one cure. */
struct cure {
    const char *id, *text, *who;  /* who: owner, visit, bench */
    double minutes, parts_cost;
    const char *hazard;           /* none, pinch, weight, spring, glass, heavy */
    const char *kit[8];
    size_t kits;
};
/* What to mind, a sentence to be printed beside the step; NULL for "none" and for NULL. */
const char *hazard_caution(const char *hazard);

struct fault {
    const char *id, *name, *part, *class, *about;
    double prior;                 /* relative weight among faults of a clock */
    struct fault_needs needs;
    struct change set[FAULT_SETS];
    int sets;
    struct fault_axis axis[FAULT_AXES];
    int axes;
    unsigned start;               /* enum fault_start bits */
    bool start_only;              /* never found in step */
    struct fault_tilt tilt[FAULT_TILTS + FAULT_CLASS_TILTS];
    size_t tilts;
    const char *cure;             /* id of a struct cure */
    const char *source;           /* where the fault is described, or "common practice, no source" */
    const char *wakes;            /* condition that brings a latent fault out, or NULL */
};

/* True if the fault can occur on this clock. */
bool fault_applies(const struct fault *f, const struct clock *c);
/* Number of variants (points of the product of its axes) on this clock. */
size_t fault_variants(const struct fault *f, const struct clock *c);
/* The changes of variant v, written to change[FAULT_SETS + FAULT_AXES + 1]; returns how many.
 * *weight is the share of this variant among all (they sum to 1); *severity 0..1 along the
 * first axis (0 if it has none). */
size_t fault_variant(const struct fault *f, const struct clock *c, size_t v, struct change *change,
                     double *weight, double *severity);

/* The states the clock may be found in at `work_min`, with probabilities that sum to 1.
 * Writes at most `room`; returns how many. */
struct start {
    struct rest rest;
    double p;
};
size_t fault_starts(const struct fault *f, const struct works *w, int work_min, struct start *start,
                    size_t room);

/* What the history says of every fault of a class.  Strings belong to the file. */
struct fault_class {
    const char *id;
    struct fault_tilt tilt[FAULT_CLASS_TILTS];
    size_t tilts;
};

/* Add what the history says of its class, but for the words the row names itself.  Once for each fault. */
void fault_tilt_by_class(struct fault *f, const struct fault_class *c);

/* Class and part words (fixed keys); -1 for an unknown word, NULL past the last. */
int fault_class_of(const char *word);
const char *fault_class_name(int i);
int fault_part_of(const char *word);
const char *fault_part_name(int i);

#endif
