/* pretend_caller.h - calls whose cause is known, made by running the mechanism.
 *
 * A call is drawn: clock by its share, cause by its prior on that clock (or none), variant by its
 * weight, state it is found in.  The mechanism is then run on by drawing at each fork (the finder
 * enumerates them), and a caller tells what was heard at some let-offs, through the ear of ear.h.
 * Calls in which nothing odd is told are kept one time in ten only: few ring about a sound clock.
 * Since that goes by the report alone, what a right finder believes is not changed by it.
 *
 *     struct pretend_desk desk;               // library, words, works of the truth
 *     struct pretend_world world;             // how the world differs from the model
 *     struct pretend_call call;
 *     pretend_call_init(&call, &desk, &world, number);
 *     ... call.sheet goes to the finder; pretend_call_answer answers its questions ...
 *     pretend_call_release(&call);
 *
 * The same number gives the same call.
 */
#ifndef LETOFF_TESTS_PRETEND_CALLER_H
#define LETOFF_TESTS_PRETEND_CALLER_H

#include "diagnose/next_step.h"
#include "random.h"
#include "repair_minutes.h"

struct pretend_desk {
    const struct library *lib;
    const struct words *words;
    const struct minutes_table *table;
    struct clock_case **kase; /* by clock of the library, made when first drawn */
    const char *clocks;       /* only clocks named in this list, parted by commas; NULL = all */
    bool always_named;        /* the caller always knows what kind of clock it is */
};
void pretend_desk_init(struct pretend_desk *d, const struct library *lib, const struct words *words,
                       const struct minutes_table *table);
void pretend_desk_release(struct pretend_desk *d);

struct pretend_world {
    const struct world_row *row;
    const struct library *lib;
    struct ear_model ear;
    double *factor;       /* by fault of the library: true prior over that of its row */
    bool *lacking;        /* by fault: the finder is not given it */
    double lacking_share; /* of all calls, as drawn */
};
void pretend_world_init(struct pretend_world *w, struct pretend_desk *d,
                        const struct world_row *row);
void pretend_world_release(struct pretend_world *w);
/* For belief_options.shop: `with` is a world.  What the finder is given: 0 for faults it lacks. */
double pretend_given(void *with, const char *clock, const char *fault);
bool pretend_lacks(const struct pretend_world *w, const struct fault *f);
/* What is true in that world. */
double pretend_true(void *with, const char *clock, const char *fault);

struct pretend_call {
    struct pretend_desk *desk;
    const struct pretend_world *world;
    const struct clock *clock;
    const struct fault *fault; /* NULL: nothing is wrong */
    bool lacking;              /* the finder was not given this fault */
    struct clock_case *kase;
    size_t variant;            /* of the case: the works of the truth */
    const struct works *works; /* its works, the table's own */
    struct moment now;
    int next; /* let-off of the cycle that comes next */
    struct random random;
    struct sheet sheet;
    bool odd; /* something that is not as it should be was told */
    int redrawn;
};
void pretend_call_init(struct pretend_call *c, struct pretend_desk *d,
                       const struct pretend_world *w, unsigned number);
void pretend_call_release(struct pretend_call *c);
/* Answer as the owner of that clock would; answers that lead the hands on change the clock.
 * Returns the let-offs led over. */
int pretend_call_answer(struct pretend_call *c, const struct question *q, char answer[64]);
/* A call of a clock that stands in a known state with its let-off `next` to come, to be asked things.
 * It has no sheet; nothing to release.  The case may be a finder's. */
void pretend_call_stand(struct pretend_call *c, struct pretend_desk *d,
                        const struct pretend_world *w, struct clock_case *k, size_t variant,
                        int next, struct rest rest, uint64_t seed);
/* Chance that a word of the history, asked for, is so under this fault (NULL none). */
double pretend_history(const struct fault *f, const char *word);
/* The symptom a fixed chart would go by. */
enum symptom pretend_symptom(const struct pretend_call *c);

#endif
