/* plan.h - the steps that bring hands, strike and chime into step, and what each must sound.
 *
 * plan_find takes what may be the case (one stance, or several with their chances) and gives the
 * cheapest plan.  With one stance it is a list of steps.  With several the plan first goes the same
 * way for all of them and listens: where what is heard tells them apart it branches, and each
 * branch goes on with what is then known.  So the state is found out while it is being corrected.
 *
 * The choice is exact: the expected cost is minimised over all deeds that all the stances still
 * possible allow (but no lever is set to silent while there is still something to listen for),
 * bounded from below by what it would cost if the state were known (the atlas); if the search is
 * cut short after PLAN_LOOKS looks the plan is still good and `optimal` is false.
 *
 *     struct reset r;
 *     reset_init(&r, works, target_min, NULL);
 *     struct plan *p = plan_find(&r, stance, NULL, 1);
 *     ...
 *     plan_free(p);
 *     reset_release(&r);
 *
 * A wrong answer at a step is no harm: plan_heard says which stances fit what was really heard, and
 * plan_find goes on from there.  If none fits, the clock has a fault and is not merely out of step.
 */
#ifndef LETOFF_RESYNC_PLAN_H
#define LETOFF_RESYNC_PLAN_H

#include <stdbool.h>
#include <stddef.h>
#include "resync/deed.h"

#define PLAN_LOOKS 40000

struct step {
    enum deed deed;
    int amount;
    int from_min, to_min;  /* what the hands show before and after, folded; -1 hands off */
    double minutes, cost;
    struct rung heard;    /* as it must be; where the plan branches: of the likeliest */
    struct stance before, after; /* likewise */
    char *text, *hear;     /* whole sentences; owned */
    const char *hazard;
};

struct plan;
struct plan_branch {
    struct rung heard;
    double p;            /* chance of going this way */
    struct plan *then;
};

struct plan {
    struct step *step;
    size_t steps, step_room;
    struct plan_branch *branch; /* what comes after the last step, by what it sounded; or none */
    size_t branches, branch_room;
    bool found;                 /* false: hands alone cannot bring it into step; see `why` */
    bool optimal;
    double minutes, worst_min;  /* expected, and at worst */
    double blows, cost;         /* expected */
    char *proof;                /* what must be heard at the next let-off when done; owned or NULL */
    const char *why;
};

/* `p` NULL: all alike.  Never NULL; free with plan_free. */
struct plan *plan_find(struct reset *r, const struct stance *may_be, const double *p, size_t count);
void plan_free(struct plan *p);

/* Do a whole step of a plan: those joined for reading are done let-off by let-off.  `out->heard` is
 * what its last part sounded, minutes and cost are of all.  False as deed_do. */
bool plan_do(struct reset *r, const struct stance *from, enum deed deed, int amount, struct done *out);

/* What a person can tell of a step; each -1 when it was not noticed. */
struct noticed {
    int blows, phrases;
    int pointed; /* minute a loose hand points to, 1..60 (rung.h); 0 and -1: not noticed */
    int music;   /* 1 it played, 0 it did not */
};
struct noticed noticed_of(const struct rung *h);
/* Where a plan branches: the way that sounds so, or NULL. */
const struct plan *plan_branch_heard(const struct plan *p, const struct noticed *n);
/* True if its branches differ by where a loose hand points; by whether music played. */
bool plan_asks_pointed(const struct plan *p);
bool plan_asks_music(const struct plan *p);

/* The stances the clock may be in after `deed` was done and so much was noticed.  Writes at most `count` to `to` with their chances; returns how many. */
struct stance_chance {
    struct stance stance;
    double p;
};
size_t plan_heard(struct reset *r, const struct stance_chance *may_be, size_t count, enum deed deed,
                  int amount, const struct noticed *noticed, struct stance_chance *to);

#endif
