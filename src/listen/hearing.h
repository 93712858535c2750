/* hearing.h - what was heard: which hammers fell, when, how, and what that makes as a strike.
 *
 * The listener cannot know the clock's pitches (rods are stretched, out of tune, and half their
 * sound lies below the telephone band), so it does not try.  It learns from the recording how many
 * different sounders there are and gives every blow a probability for each of them: soft evidence.
 * Which sounder is which hammer is found later, by the best joint fit with what the clock could
 * have played (fit.h).  Sounders are numbered by estimated pitch, 0 = highest, and that order is
 * a hint, not a fact.
 *
 * Invariants: blows are in order of time; parts cover all blows, in order, without overlap; the
 * sounder_p of a blow sum to 1 over hearing.sounder_count; a zeroed struct is silence.
 */
#ifndef LETOFF_HEARING_H
#define LETOFF_HEARING_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include "event.h"
#include "pcm.h"
#include "text.h"

#define HEARING_SOUNDERS_MOST 16

struct heard_blow {
    double t_s;         /* from the start of the recording */
    uint8_t sounder;    /* the most probable one, an index into hearing.sounder */
    uint8_t quality;    /* enum event_quality bits */
    float p;            /* probability of that sounder */
    float sure;         /* probability that this was a blow at all, 0..1 */
    float strength;     /* loudness against the loudest blow of its sounder, 0..1 */
    float ring_s;       /* time to fall by 20 dB; 0 when it could not be measured */
    float tonality;     /* share of the new sound that lies in ringing partials, 0..1 */
    float noise_share;  /* share that is rattle: steady noise while the sounder rings, 0..1 */
    float sounder_p[HEARING_SOUNDERS_MOST];
};

struct heard_sounder {
    double pitch_hz;    /* a number to order sounders by; not the musical pitch */
    size_t blows;
    float ring_s;       /* median over its blows */
    float strength;     /* its typical loudness against the loudest sounder, 0..1 */
    bool tapped;        /* comes from typed taps, not from sound */
};

/* A stretch of blows that belong together. */
enum part_kind {
    PART_CHIME,  /* quarters or a tune: several sounders in some order */
    PART_STRIKE, /* the hour or half: one sounder (or one pair, or one chord) again and again */
};
enum part_how {  /* bits; the words are those of the call sheet's `how` */
    PART_SLOW = 1, PART_FAST = 2, PART_DRAGGING = 4, PART_UNEVEN = 8, PART_WEAK = 16,
    PART_BUZZ = 32, PART_THUD = 64, PART_DOUBLE = 128,
};
struct heard_part {
    uint8_t kind;       /* enum part_kind */
    bool pairs; /* a strike on two sounders in turn: `strikes` counts the pairs, of which one in
                           four may lack a stroke or have something heard beside it; or on three in
                           turn (gong and call of a cuckoo): `strikes` counts the rounds, all whole */
    uint8_t how;        /* bits */
    int letoff;         /* parts with the same number sounded in one go */
    size_t first, count;/* blows */
    int strikes;        /* PART_STRIKE: the number struck */
    float strikes_p;    /* PART_STRIKE: probability that the number is exact */
    double interval_s;  /* median time between blows; 0 for a single blow */
    double gap_s;       /* silence before it within the same let-off; 0 for the first part */
};

struct hearing {
    struct heard_blow *blow;
    size_t blow_count, blow_room;
    struct heard_sounder sounder[HEARING_SOUNDERS_MOST];
    size_t sounder_count;
    struct heard_part *part;
    size_t part_count, part_room;
    double length_s;    /* of the recording */
    float noise_db;     /* level of the background below the loudest blow, dB (negative) */
};

void hearing_clear(struct hearing *h);
void hearing_release(struct hearing *h);

/* Hear a whole recording (any rate; resampled to 16 kHz).  h is cleared first.  Never fails:
 * silence gives no blows. */
void hearing_from_pcm(struct hearing *h, const struct pcm *p);

/* Hear a recording file, block by block (decoder.h): memory stays small however long it is.  progress (may be
 * NULL) is told the seconds done and the whole length, 0 if unknown.  cut (may be NULL): the file
 * broke off early.  False with one sentence in `e` when no sound could be read; h is then empty. */
struct err;
bool hearing_from_file(struct hearing *h, const char *path,
                       void (*progress)(void *with, double done_s, double whole_s), void *with, bool *cut,
                       struct err *e);

/* The same as events: kind NOTE in chimes, BLOW in strikes, sounder = index of the heard sounder. */
void hearing_to_events(const struct hearing *h, struct event_list *events);

/* Divide the blows into let-offs and parts, and count the strikes.  Called by everything that
 * fills a hearing; call it again after changing blows or sounders (fit.h does). */
void hearing_divide(struct hearing *h);

/* Of a strike in pairs: this blow, one of its own, is the second of its pair (or the third of its round). */
bool hearing_second_stroke(const struct hearing *h, const struct heard_part *part, size_t blow);

/* One let-off as a row of the call sheet wants it. */
#define HEARING_NOTES_MOST 128
struct heard_row {
    double t_s, until_s;
    char notes[HEARING_NOTES_MOST]; /* sounders of the chime, 1 = highest, "" if no chime; at most
                                       nine sounders are written, others as '?'.  A strike in pairs
                                       is written here too: it may have been ting-tang quarters */
    int strike;                     /* number struck, 0 = no strike part */
    float strike_p;
    double note_interval_s, strike_interval_s, gap_s;
    unsigned note_how, strike_how;  /* enum part_how bits */
};
/* At most `most` rows; returns how many let-offs there are. */
size_t hearing_rows(const struct hearing *h, struct heard_row *rows, size_t most);

/* Words for the bits, in order, separated by ", " ("slow, uneven"); nothing for 0. */
void hearing_how_words(unsigned how, struct text *t);

/* A sentence or two for people: "Four sounders, 16 notes; then one lower sounder nine times." */
void hearing_summary(const struct hearing *h, struct text *t);

#endif
