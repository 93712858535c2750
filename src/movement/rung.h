/* rung.h - what a let-off, or one thing done by hand, is heard to sound, counted as people count.
 *
 * Two things can be told on the telephone or across a bench without an instrument: how many blows
 * were struck, and how many phrases (changes, quarters) were chimed; the bells of the chime are
 * kept for showing.  A ding-dong, or a call with its gong, counts once.
 */
#ifndef LETOFF_MOVEMENT_RUNG_H
#define LETOFF_MOVEMENT_RUNG_H

#include <stdbool.h>
#include "event.h"
#include "movement/clock.h"
#include "text.h"

#define RUNG_TUNE 72
struct rung {
    int blows;   /* of the strike */
    int phrases; /* of the chime: changes of a drum, or counts of a ting-tang */
    int notes, music;
    bool hour_first; /* the hour is struck before its quarters */
    bool clicked, trouble; /* a lever moved and nothing went; something ran on, stood or wedged */
    int pointed;          /* minute, 1..60, a loose minute hand points to that goes on one way only; 0 not seen */
    char tune[RUNG_TUNE]; /* bell numbers, 1 the highest; cut short if it is longer */
};

struct rung rung_of(const struct clock *c, const struct event_list *events);
/* Could the two be told apart by counting? */
bool rung_same(const struct rung *a, const struct rung *b);
/* "two phrases (3124 3213), strikes 3"; "nothing". */
void rung_say(const struct rung *h, const struct clock *c, struct text *out);

#endif
