/* setup.h - a clock set up for a run: which clock, what is wrong with it, where it stands.
 *
 * Shared by the verbs that let a clock go: play, chart, resync, drill.
 */
#ifndef LETOFF_COMMAND_SETUP_H
#define LETOFF_COMMAND_SETUP_H

#include "err.h"
#include "movement/library.h"
#include "movement/move.h"
#include "random.h"
#include "sound/score.h"

#define SETUP_FAULTS 8

struct setup {
    const struct clock *clock;
    const struct fault *fault[SETUP_FAULTS];
    double severity[SETUP_FAULTS];
    size_t faults;
    struct works works;   /* with the faults */
    struct works sound;   /* the same clock in order */
    struct moment moment; /* where it stands at the start */
};

/* Find a clock by id; a sentence with the nearest id when there is none. */
const struct clock *setup_clock(const struct library *lib, const char *id, struct err *e);

/* Set `s` up: `faults` are words "ID" or "ID=SEVERITY" (0..1).  Without a severity one variant is
 * drawn with `random` after its share; a fault that begins in a state out of step begins there.
 * The hands show `shown_min`. */
bool setup_init(struct setup *s, const struct library *lib, const struct clock *clock,
                const char *const *faults, size_t count, int shown_min, struct random *random,
                struct err *e);

/* Change where it stands: words parted by commas, e.g. "count=3,quarter=2,strike=out,chime=low,
 * silent=strike,tune=1,hung=5".  See setup.c for the table of words. */
bool setup_state(struct setup *s, const char *words, struct err *e);

/* The clock's sounders as the sound library wants them; room for CLOCK_SOUNDERS. */
size_t setup_sounders(const struct clock *c, struct score_sounder *to);

#endif
