/* advisor.h - the fault finder beside the desk: works while the interview goes on.
 *
 * A sheet is handed over, worked on in a thread of its own, and the answer comes back as plain
 * values that nobody else touches.  A newer sheet replaces an older one that waits; an answer says
 * which version it belongs to.  Nothing on the screen ever waits for it.
 *
 * When the caller cannot say which clock it is, all kinds have to be weighed, which takes a while.
 * So a first answer is given for the kind that is taken for the likeliest (advice.rough), and the
 * whole one follows.
 */
#ifndef LETOFF_SCREEN_ADVISOR_H
#define LETOFF_SCREEN_ADVISOR_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include "diagnose/belief.h"
#include "diagnose/next_step.h"
#include "draw/plate.h"

#define ADVICE_CAUSES 8
#define ADVICE_LINES 4
#define ADVICE_LINE 260
#define ADVICE_ALIKE 1000 /* names of four causes and of the parts to look at */
#define ADVICE_CLOCKS 6

struct advice_cause {
    char id[64], name[128], part[48], class[48];
    double p, severity;
    bool owner_safe;
    char cure[400], who[16], hazard[24];
    char why[ADVICE_LINES][ADVICE_LINE];
    size_t whys;
    char then[ADVICE_LINES][ADVICE_LINE]; /* what it predicts */
    size_t thens;
    /* the likeliest works, to be played */
    char clock[64];
    struct change change[OUTCOME_CHANGES];
    size_t changes;
    struct rest rest;
    int next_min;            /* work minute of the let-off that comes next */
};

struct advice {
    uint64_t version;        /* of the call it was worked out for; 0 none yet */
    bool rough;              /* for one kind of clock only; the whole answer follows */
    bool fits;               /* some clock fits at all */
    struct advice_cause cause[ADVICE_CAUSES];
    size_t causes;
    double part[PLATE_PARTS];/* belief by part of the plate */
    struct plate_doubt doubt[PLATE_DOUBTS];
    size_t doubts;
    struct { char id[64]; double p; } clock[ADVICE_CLOCKS];
    size_t clocks;
    struct { char name[32]; double p; } class[12];
    size_t classes;
    struct next_step next;   /* its pointers name words of library and vocabulary */
    char first[ADVICE_LINES][ADVICE_LINE]; /* to see to first */
    size_t firsts;
    char note[ADVICE_LINES][ADVICE_LINE];
    size_t notes;
    char alike[ADVICE_LINES][ADVICE_ALIKE]; /* a group of causes that sound alike each, likeliest first */
    size_t alikes;
    int clash;               /* row of the sheet that clashes with the rest, -1 */
    size_t jobs;             /* closed jobs of the shop that this leans on */
    double omitted, took_s;
};

struct advisor;
/* `wake` is called from the thread when an answer is there; may be NULL. */
struct advisor *advisor_new(const struct library *lib, const struct words *words,
                            void (*wake)(void));
void advisor_free(struct advisor *a);
/* `guess`: id of the clock for the first answer, NULL for none. */
/* Where the journal is, as in journal_open; `place` must live as long as the advisor. */
void advisor_journal(struct advisor *a, const char *place);
/* The journal has changed: its lessons are read again before the next answer. */
void advisor_relearn(struct advisor *a);
void advisor_ask(struct advisor *a, const struct sheet *sheet, uint64_t version, const char *guess);
/* Take a new answer; false if there is none. */
bool advisor_take(struct advisor *a, struct advice *to);
bool advisor_busy(struct advisor *a);
/* Work it out here and now, for pictures and tests. */
void advisor_now(struct advisor *a, const struct sheet *sheet, uint64_t version, struct advice *to);

#endif
