/* practice.h - made-up runs of clocks to practise listening on: events, and how they sound.
 *
 * Every kind draws its pace, pitches, voice, stretch, detuning and ring from the generator, so that
 * no two clocks are alike.  Sounders are numbered 0 = highest.  The tunes are the Cambridge
 * (Westminster) changes 1234 3124 3213 1324 4213 and the eight-bell Whittington of 1905's tradition.
 */
#ifndef LETOFF_PRACTICE_H
#define LETOFF_PRACTICE_H

#include <stdbool.h>
#include <stddef.h>
#include "event.h"
#include "pcm.h"
#include "random.h"
#include "sound/voice.h"

enum practice_kind {
    PRACTICE_QUARTER,   /* first, half or third quarter */
    PRACTICE_FULL_HOUR, /* fourth quarter, then the hour */
    PRACTICE_HOUR,      /* the hour alone, one sounder */
    PRACTICE_HALF,      /* one blow */
    PRACTICE_TING_TANG, /* one to three pairs */
    PRACTICE_BIM_BAM,   /* the hour on two rods */
    PRACTICE_EIGHT,     /* a quarter on eight rods */
    PRACTICE_CUCKOO,    /* the hour: gong and call */
    PRACTICE_KINDS
};

struct practice_run {
    enum practice_kind kind;
    struct event_list events; /* in order of time, silent kinds too */
    size_t blows;             /* events that sound */
    int strikes;              /* 0 when no hour is struck */
    size_t sounders;          /* that sounded */
    struct pcm pcm;           /* 16 kHz, peak 0.5 */
};

/* faults: now and then weak, double, buzzing or dull blows. */
void practice_make(struct practice_run *run, enum practice_kind kind, bool faults, const struct voice_set *voices,
                   struct random *r);
void practice_release(struct practice_run *run);
const char *practice_name(enum practice_kind kind);

#endif
