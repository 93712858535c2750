/* hands_sheet.h - taking the hands off this clock and putting them on again, as numbered steps.
 *
 * The rules are few: bring the minute hand to the hour and let the strike finish before anything is
 * taken off; never in the warning; mark what can go on more than one way; with no hands fitted find
 * the let-off by ear; fit the hands to the let-off found; then put right hands, chime and strike
 * in this order; prove it.  What each step sounds, how many let-offs must be listened to before the
 * ear can be sure, and what goes with what was heard come from the simulator, for this clock.
 *
 * The knowledge that hands must be fitted to the let-off, and the order, is common practice; that an
 * hour hand on a friction pipe is moved to what was struck: class C in the notes on setting hands.
 */
#ifndef LETOFF_RESYNC_HANDS_SHEET_H
#define LETOFF_RESYNC_HANDS_SHEET_H

#include <stddef.h>
#include "resync/deed.h"

enum hands_part { HANDS_OFF, HANDS_FIND, HANDS_ON, HANDS_PROVE, HANDS_PARTS };
const char *hands_part_title(enum hands_part p);

struct hands_step {
    enum hands_part part;
    char *text, *hear, *caution; /* hear and caution may be NULL; owned */
    double minutes;
};

/* What was heard with the hands off, and which times of the dial it belongs to. */
#define HANDS_TIMES 48
struct hands_row {
    struct rung heard;
    int shown_min[HANDS_TIMES];
    size_t times; /* 1: sure; more: listen on */
};

struct hands_sheet {
    struct hands_step *step;
    size_t steps, room;
    struct hands_row *row;
    size_t rows, row_room;
    int listen;   /* let-offs at most until one is sure, a clock in step; 0: the ear alone never is */
};

/* The hands show `shown_min` at the beginning, all in step.  Release in any case. */
void hands_sheet_init(struct hands_sheet *s, const struct works *w, int shown_min);
void hands_sheet_release(struct hands_sheet *s);

#endif
