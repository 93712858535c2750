/* evidence.h - what a clock with this cause shows besides its blows.
 *
 * A works is run twelve hours from where it may stand, all branches weighed, and summed up in a
 * struct habit: which trains ran, at which hours the count was right, what stood still, whether it
 * does the same each time.  The words of `seen` are then predictions: each has a degree 0..1 read
 * from the habit, and telling the word has probability SEEN_FALSE where it is not so and SEEN_HIT
 * where it is.  Words that no simulation shows (a scored cam) have no degree and act only through
 * the tilts of the fault rows.
 *
 * To add a word: a row in the table of evidence.c with a function of the habit.
 */
#ifndef LETOFF_DIAGNOSE_EVIDENCE_H
#define LETOFF_DIAGNOSE_EVIDENCE_H

#include <stdbool.h>
#include "diagnose/filter.h"
#include "diagnose/hypothesis.h"
#include "diagnose/tuned.h"

#define SEEN_HIT TUNED(seen_hit, 0.6)
#define SEEN_FALSE TUNED(seen_false, 0.05)
/* What was found with finger or eye on the part is seldom told wrongly. */
#define SEEN_FALSE_FELT TUNED(seen_false_felt, 0.005)
/* A word that was asked for is answered, yes or no, and seldom wrongly.  Who denies a word has been
 * asked for it. */
#define SEEN_ASKED_HIT 0.92
#define SEEN_ASKED_FALSE 0.08

/* Expected amounts over twelve hours. */
struct habit {
    const struct clock *clock;
    const double *par;       /* parameters of the works; of habit_group good during the call, of
                                habit_init as long as the works */
    int minute_off, hour_off;
    double due[TRAINS], moved[TRAINS], sounded[TRAINS]; /* let-offs at which the train should run,
                                                            did run, was heard */
    double clicked, warned, whirred;  /* silent let-offs with a click, a warning, a run */
    double silent, letoffs;
    double stalled[TRAINS], endless[TRAINS], out[TRAINS];
    double hour_right[12];   /* by hour due (0 = twelve) */
    double hour_due[12];
    double half_right, half_due, quarter_right, quarter_due, quarter_silent, quarter_heard;
    double hour_heard;
    double error_same;       /* largest share of hours that have one and the same error ... */
    int error;               /* ... which is this, blows */
    double halves_as_hours, hours_as_halves;
    double varies;           /* chance that the same let-off from the same state comes otherwise */
    double late, early;      /* share of sounding let-offs late or early by two minutes and more */
    double halt[STUCK_KINDS];/* how often it comes to stand so */
    double quality[8];       /* share of sounding let-offs with each enum event_quality bit */
    double fast, slow, uneven, slowing;
    double both, silent_flag[2]; /* several sounders where one is due; levers at silent */
    double jumbled, overlong;
};

struct habit_book; /* what outcomes add to a habit, kept in a clock_case */
void habit_book_free(struct habit_book *b);
size_t habit_book_bytes(const struct habit_book *b); /* NULL is fine */

/* Run twelve hours from `from` (let-off `next` comes first). */
void habit_init(struct habit *h, struct clock_case *k, const struct variant *v, int next,
                const struct filter_state *from, size_t froms);

/* The same for several variants whose hands stand alike, followed together while they act alike. */
struct habit_member {
    size_t variant, tag;
    uint64_t sign;
};
typedef void habit_made(void *with, const struct habit *h, size_t tag);
void habit_group(struct clock_case *k, struct habit_member *m, size_t members, int next,
                 const struct filter_state *from, size_t froms, struct filter_space *space,
                 habit_made *made, void *with);
/* 0..1; -1 when the word is not shown by the mechanism. */
double habit_degree(const struct habit *h, const char *seen_word);
/* The same for many habits, one after another. */
void habit_degrees(const struct habit *h, size_t habits, const char *seen_word, double *degree);
/* Chance that who is asked for a word of this degree says yes. */
double seen_yes(double degree);
bool evidence_predicts(const char *seen_word);
/* True if a row tells already what this word of `seen` would ("early" that the strike comes early by the hand): it need not be
 * asked for. */
bool evidence_told(const struct sheet *s, const struct word *seen);
/* Probability of all predicted words of the sheet (seen and not seen, and `how` words about many
 * let-offs such as irregular). */
double evidence_chance(const struct habit *h, const struct sheet *s);
/* True if the sheet has any word that needs a habit. */
bool evidence_wanted(const struct sheet *s);

#endif
