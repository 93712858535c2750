/* round.h - one round of training: something hidden, questions and answers, a score.
 *
 * A round is a prompt, perhaps a sound, and a list of choices.  Choosing one changes the round:
 * something is heard or answered, minutes are spent, new choices stand there; until it is done.
 * Nothing in a round is written by hand: what is heard is the simulator's, what would have been
 * best is the fault finder's (questions) or the planner's (setting a clock in step).
 *
 *     struct round *r = round_new(room, ROUND_FAULT, 3);
 *     while (!r->done) { show r->prompt, r->choice; round_choose(r, i); }
 *     show r->score, r->review
 *     round_free(r);
 *
 * The window and the terminal use the same calls.
 */
#ifndef LETOFF_DRILL_ROUND_H
#define LETOFF_DRILL_ROUND_H

#include <stdbool.h>
#include <stddef.h>
#include "diagnose/belief.h"
#include "diagnose/words.h"
#include "event.h"
#include "movement/library.h"
#include "random.h"
#include "text.h"

#define ROUND_GOOD 70 /* score of a good round */

enum round_kind {
    ROUND_TIME,   /* what time does this sound belong to? */
    ROUND_CLOCK,  /* what kind of clock is this? */
    ROUND_OIL,    /* where does oil go? */
    ROUND_RESET,  /* set a clock in step */
    ROUND_DEFECT, /* which fault sounds like this? */
    ROUND_FAULT,  /* find the hidden fault by asking */
    ROUND_KINDS
};
const char *round_kind_name(enum round_kind k);
int round_kind_of(const char *name); /* -1 for none */

/* A place in a movement and what it wants, for ROUND_OIL. */
#define ROUND_OIL_MOST 64
struct oil_place {
    char place[64];
    const char *wants, *note; /* one of round_oil_words; note may be NULL */
};
extern const char *const round_oil_words[4];

/* What all rounds draw from.  Owned by the caller, outlives the rounds. */
struct training {
    const struct library *lib;
    const struct words *words;
    struct finder *finder;
    struct random random;
    const char *const *weak; /* parts that should come up again; may be NULL */
    size_t weaks;
    size_t (*oil)(const struct clock *c, struct oil_place *list, size_t room); /* NULL: no such rounds */
};

struct round_choice {
    char *text;
    double minutes; /* what it costs to choose it; 0 nothing or not said */
};

struct round {
    struct training *room;
    enum round_kind kind;
    int level;                /* 1 easy .. 5 */
    const struct clock *clock;/* the clock in question; hidden from the trainee in ROUND_CLOCK */
    char *prompt;             /* what is asked now */
    struct event_list events; /* to be played, if any */
    struct round_choice *choice;
    size_t choices, choice_room;
    char *came;               /* what came of the last choice; NULL before the first */
    double spent_min, best_min; /* 0 where minutes do not count */
    bool done, right;
    int score;                /* 0..100 when done */
    const char *part;         /* part it was about, for spaced repetition */
    char *review;             /* when done: what it was, and the best line */
    void *own;                /* of the kind of round */
};

/* NULL when this kind of round cannot be made (no oil function, no fault that fits). */
struct round *round_new(struct training *room, enum round_kind kind, int level);
void round_free(struct round *r);
/* False (nothing changes) for a choice that is not there or a round that is done. */
bool round_choose(struct round *r, size_t choice);
/* What an expert would choose now (a hint; nothing is changed); ROUND_NO_CHOICE if it is not among
 * the choices. */
#define ROUND_NO_CHOICE ((size_t)-1)
size_t round_best(const struct round *r);

#endif
