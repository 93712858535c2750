/* round_priv.h - what the kinds of rounds share.  To add a kind: 1. its enum and name in round.h and
 * round.c; 2. a file with its struct round_way; 3. the row in round.c. */
#ifndef LETOFF_DRILL_ROUND_PRIV_H
#define LETOFF_DRILL_ROUND_PRIV_H

#include "drill/round.h"
#include "movement/move.h"

struct round_way {
    bool (*make)(struct round *r);
    void (*choose)(struct round *r, size_t choice);
    void (*release)(struct round *r);
    size_t (*best)(const struct round *r);
};
extern const struct round_way round_time_way, round_clock_way, round_oil_way, round_reset_way,
    round_defect_way, round_fault_way;

void round_prompt(struct round *r, const char *fmt, ...) __attribute__((format(printf, 2, 3)));
void round_came(struct round *r, const char *fmt, ...) __attribute__((format(printf, 2, 3)));
void round_review(struct round *r, const char *fmt, ...) __attribute__((format(printf, 2, 3)));
void round_offer(struct round *r, double minutes, const char *fmt, ...) __attribute__((format(printf, 3, 4)));
void round_clear_choices(struct round *r);
void round_finish(struct round *r, bool right, int score);
/* Score of a way that took so many minutes against the best. */
int round_score(double best_min, double spent_min);

/* A clock that suits the level: easy ones are simple clocks. */
const struct clock *round_draw_clock(struct round *r, bool (*suits)(const struct clock *c));
/* True if the part is one the trainee should meet again. */
bool round_weak(const struct round *r, const char *part);
/* One choice among n of which the first is right: puts it at a random place; returns that place. */
size_t round_shuffle(struct round *r);

/* Everything an ear gets of some events, in words: "1234, strikes 3, one blow weak, then it stands".
 * Equal words, equal sounds. */
void round_say_events(const struct clock *c, const struct event_list *events, bool sounders, struct text *out);
/* Let `works` run from `from_min` for `span_min` by time, sound and in step at the beginning. */
void round_run(const struct works *w, struct moment *m, int span_min, struct random *random, struct event_list *out);

#endif
