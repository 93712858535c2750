/* event.h - the shared currency: what a clock did, and when.
 *
 * The movement makes events, sound renders them, listen recovers them from a
 * recording, diagnose compares them, draw shows them and the journal keeps them.
 * An event is a plain value; a list of them owns its memory and nothing else.
 */
#ifndef LETOFF_EVENT_H
#define LETOFF_EVENT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* What happened.  The order is the order of the names in event_kind_name. */
enum event_kind {
    EVENT_BLOW,       /* a hammer of an hour, ship's or half-hour strike fell */
    EVENT_NOTE,       /* a hammer of a quarter chime or a note of music */
    EVENT_WARN,       /* the train ran up to the warning (a soft click and a whirr) */
    EVENT_RELEASE,    /* the train was let go */
    EVENT_CLICK,      /* a lever moved but no train was let go */
    EVENT_LOCK,       /* the train came to rest where it should */
    EVENT_STALL,      /* a train that should be running stood still */
    EVENT_JAM,        /* a part wedged; nothing moves until it is freed */
    EVENT_HAND_STALL, /* the hands stopped although pendulum or balance goes on */
    EVENT_RUN_ON,     /* the train ran past where it should have locked */
    EVENT_POWER_OUT,  /* weight on the floor or spring run down */
    EVENT_KINDS
};

enum event_train { TRAIN_GOING, TRAIN_STRIKE, TRAIN_CHIME, TRAIN_MUSIC, TRAINS };

/* How a blow sounded; bits of struct event.quality. */
enum event_quality {
    QUALITY_WEAK = 1,   /* clearly softer than its neighbours */
    QUALITY_DOUBLE = 2, /* the hammer bounced and struck twice */
    QUALITY_BUZZ = 4,   /* something rattled against the sounder */
    QUALITY_THUD = 8,   /* the hammer stayed on the sounder: no ring */
    QUALITY_TINNY = 16, /* hard or worn hammer face: harsh, too many high partials */
    QUALITY_LOUD = 32,  /* louder than its neighbours */
};

#define EVENT_NO_SOUNDER 255
#define EVENT_NO_LETOFF  (-1)

struct event {
    double t_s;       /* seconds since the start of the run */
    int16_t hand_min; /* what the hands show, minutes after midnight, 0..1439 */
    int16_t letoff;   /* serial number of the let-off of this run, or EVENT_NO_LETOFF */
    uint8_t kind;     /* enum event_kind */
    uint8_t train;    /* enum event_train */
    uint8_t sounder;  /* index into the clock's sounders, or EVENT_NO_SOUNDER */
    uint8_t quality;  /* enum event_quality bits */
    float strength;   /* 0 (inaudible) .. 1 (as made); 0 for silent kinds */
};

/* A growable list.  A zeroed struct is an empty list. */
struct event_list {
    struct event *at;
    size_t count, room;
};

void event_list_add(struct event_list *list, struct event e);
void event_list_clear(struct event_list *list);   /* empty it, keep the memory */
void event_list_release(struct event_list *list); /* free the memory; list is empty after */

/* True for the kinds that make a musical sound (BLOW and NOTE). */
bool event_sounds(const struct event *e);

/* Names as they stand in the JSON output ("blow", "hand_stall", "strike" ...).
 * event_kind_of and event_train_of return -1 for a word that is no name. */
const char *event_kind_name(enum event_kind kind);
const char *event_train_name(enum event_train train);
int event_kind_of(const char *name);
int event_train_of(const char *name);

#endif
