/* tally.h - what sounded at one let-off, gathered from the events for showing. */
#ifndef LETOFF_COMMAND_TALLY_H
#define LETOFF_COMMAND_TALLY_H

#include <stdbool.h>
#include "event.h"
#include "movement/clock.h"
#include "text.h"

struct tally {
    int letoff, hand_min;   /* serial number; what the hands showed at the first sound */
    int blows;              /* counts of the strike (a pair counts once) */
    int notes, music;       /* of the chime; of a musical train */
    int before;             /* sounder of the last blow, -1 none */
    struct text chime;      /* bell numbers of the chime's notes; "?" for a sounder without number */
    bool run_on, stall, jam, hand_stall, power_out, clicked;
    unsigned quality;       /* all quality bits met */
    double first_s, last_s; /* of the strike's blows */
};

/* Gather the events of one serial number from events[from..]; returns the index behind them.
 * Events without a let-off are taken along.  Release with tally_release. */
size_t tally_take(struct tally *t, const struct clock *c, const struct event_list *events,
                  size_t from);
/* In words: "strikes 3", "chimes 1234, strikes 1", "silent (click)", "strikes on without end". */
void tally_say(const struct tally *t, struct text *out);
bool tally_same(const struct tally *a, const struct tally *b); /* sounds alike */
void tally_release(struct tally *t);

/* True if a stroke on `sounder` goes on with the count begun by the one on `before` (tang after
 * ting, gong after call); before -1: no stroke yet. */
bool tally_continues(const struct clock *c, int before, int sounder);

#endif
