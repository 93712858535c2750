/* habits.h - what closed jobs say of a shop's callers and of its own pace.
 *
 * When a job is closed somebody may write down how many statements of a kind were checked and how
 * many turned out wrong (`letoff journal close --heard count=1/5`), and how long an action took
 * (`--work oil=35`).  The first moves the ear model, the second the minutes of the cures:
 *
 *   count     blows miscounted: the shipped rate at HABITS_BLOWS blows is a Beta of weight
 *             HABITS_TRIALS, the whole line (so much, and so much per blow) is scaled with it
 *   silence   a strike that came was told as silence
 *   words     a quality told that was not there
 *   noticing  a quality that was there went untold
 *   tune      a tune with wrong notes was called right
 *
 * Other kinds are kept in the journal and move nothing here: the times callers tell are judged by a
 * table of their own (ear_minute), which has no rate.
 *
 * Example: 40 counts checked, 8 wrong.  The shipped rate at six blows is 0.01 + 6 x 0.006 = 0.046, so
 * the mean is (100 x 0.046 + 8) / 140 = 0.09: both terms are multiplied by 1.96.
 */
#ifndef LETOFF_COMMAND_HABITS_H
#define LETOFF_COMMAND_HABITS_H

#include "diagnose/belief.h"
#include "diagnose/ear.h"
#include "journal/journal_learn.h"

#define HABITS_TRIALS 100.0   /* statements that weigh as much as the shipped rate */
#define HABITS_BLOWS 6
#define HABITS_RATE_MOST 0.45 /* no rate is learned beyond this: a caller is never worse than chance */
#define HABITS_JOBS 4.0       /* jobs that weigh as much as the shipped minutes */
#define HABITS_SPREAD 0.5     /* shipped deviation of minutes, as a share of them */

struct habits {
    struct ear_model ear;
    bool ear_learned;
    struct action_times times;
};

void habits_init(struct habits *h); /* the shipped ones */
void habits_release(struct habits *h);
/* False and a sentence if the journal cannot be read; the habits are then those before. */
bool habits_read(struct habits *h, const char *where, struct err *e);
/* One kind of statement. */
void habits_hear(struct habits *h, const char *what, long trials, long wrong);
/* Minutes of a cure after the shop's own jobs; `with` is a struct habits. */
double habits_minutes(void *with, const char *cure, double shipped);
/* Into the finder's options; `h` must outlive finding and report. */
void habits_teach(struct habits *h, struct belief_options *o);

#endif
