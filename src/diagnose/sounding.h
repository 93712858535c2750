/* sounding.h - what one let-off came to, as a small canonical value.
 *
 * The mechanism answers a let-off with a list of events at exact times.  A listener never hears
 * that much: a count, notes in an order, soft or quick or dragging, how late by the hands, what
 * stood still.  A struct sounding keeps just this, rounded so that what no listener could tell
 * apart is equal byte for byte.  Soundings are interned in a pool: the rest of the fault finder
 * deals in their numbers (outcome ids) and compares them with ==.
 *
 * Example: Westminster at 3:00 gives chime notes = 16, sequence "1234 3124 3213 1324" read off the
 * hammers, strike count = 3, and the numbers of pace near 0 (as made).
 */
#ifndef LETOFF_DIAGNOSE_SOUNDING_H
#define LETOFF_DIAGNOSE_SOUNDING_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include "event.h"
#include "movement/clock.h"
#include "movement/rest.h"

#define SOUNDING_SEQUENCE 64 /* falls kept in order; further ones are only counted */
#define EARLY_GAP_S 45       /* so long a pause inside one let-off makes two soundings of it */
#define SOUNDING_ENDLESS 48  /* from so many falls on a listener says "it does not stop" */

enum sounding_flag {
    SOUNDING_MOVED = 1,    /* the train ran: its weight went down, its hammers were worked */
    SOUNDING_WARNED = 2,   /* a soft click and a whirr some minutes before */
    SOUNDING_CLICKED = 4,  /* a lever moved and no train was let go */
    SOUNDING_RUN_ON = 8,   /* ran past where it should have locked */
    SOUNDING_STALLED = 16, /* stood still in mid-run */
    SOUNDING_JAMMED = 32,  /* a part wedged */
    SOUNDING_OUT = 64,     /* weight on the floor or spring run down at the end */
    SOUNDING_LOCKED = 128, /* came to rest where it should */
};

struct train_sound {
    uint16_t falls;    /* hammer falls that can be heard */
    uint16_t count;    /* as people count them: a ding-dong or a call with its gong is one */
    uint16_t sequence; /* number in the pool of the order of sounders; 0 = nothing */
    uint8_t flags;     /* enum sounding_flag */
    uint8_t some, all; /* enum event_quality bits of any fall; of every fall */
    int8_t minute;     /* first fall (else release, else warning) after the lobe, minutes */
    int8_t pace;       /* 8 * log2(mean interval / interval as made): 8 = twice as slow */
    uint8_t uneven;    /* spread of the intervals about their mean, in twentieths of it */
    int8_t drag;       /* 8 * log2(intervals at the end / at the beginning) */
    uint8_t gap;       /* mean interval between falls, in twentieths of a second, at most 255 */
};

struct sounding {
    struct train_sound train[TRAINS];
    uint8_t halt;     /* enum stuck in the end */
    int8_t halt_min;  /* when hands or clock came to stand, minutes after the lobe */
    uint8_t pause;    /* from the last note to the first blow, tenths of a second, at most 255 */
    uint8_t early;    /* of the strike: falls that came by themselves, EARLY_GAP_S and more before the others */
};
_Static_assert(sizeof(struct sounding) == 60, "soundings are compared byte for byte");

/* Numbers for soundings and sequences.  Number 0 of either is silence.  A zeroed struct is not
 * yet a pool; sounding_at stays valid only until the next sounding is put in.  Arrays whose room is 0 are lent by a
 * table file. */
struct sounding_pool {
    struct sounding *at;
    size_t count, room;
    uint32_t *slot;
    size_t slots;
    uint8_t *byte;         /* all sequences, end to end */
    size_t bytes, byte_room;
    uint32_t *sequence;    /* offset of each in `byte`; [sequences] is the end */
    size_t sequences, sequence_room;
    uint32_t *sequence_slot;
    size_t sequence_slots;
};

void sounding_pool_init(struct sounding_pool *p);
void sounding_pool_release(struct sounding_pool *p);

/* The number of the sounding these events of one let-off come to.  `lobe` is the lobe that let
 * off, `after` the state it ended in; times count from the nominal moment of the lobe. */
uint32_t sounding_digest(struct sounding_pool *p, const struct clock *c, int lobe,
                         const struct event_list *events, struct rest after);
/* The number of this very sounding. */
uint32_t sounding_intern(struct sounding_pool *p, const struct sounding *s);
static inline const struct sounding *sounding_at(const struct sounding_pool *p, uint32_t id)
{
    return &p->at[id];
}
/* The order of sounders (a strike) or of bells from 1 (a chime): *length bytes. */
const uint8_t *sounding_sequence(const struct sounding_pool *p, uint32_t sequence, size_t *length);
/* The number of a sequence given as bytes. */
uint16_t sounding_sequence_of(struct sounding_pool *p, const uint8_t *byte, size_t length);

/* Nothing at all was to be heard of hammers. */
bool sounding_silent(const struct sounding *s);
/* The train goes on for longer than anyone counts. */
bool train_sound_endless(const struct train_sound *t);

#endif
