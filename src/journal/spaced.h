/* spaced.h - which parts a trainee should meet again, and when.
 *
 * Spaced repetition: what was found is asked again after a growing time, what was missed the next
 * day (the idea goes back to Ebbinghaus 1885 and Landauer and Bjork 1978, "Optimum rehearsal
 * patterns and name learning"; the numbers are ours):
 *
 *   first time right   3 days
 *   right again        the last interval x 2.5, at most 180 days
 *   wrong              1 day, whatever the interval was
 */
#ifndef LETOFF_SPACED_H
#define LETOFF_SPACED_H

#include "journal/journal.h"

/* last_days: the interval before, 0 if there was none. */
double spaced_next_days(double last_days, bool right);
/* The day (YYYY-MM-DD) `days` after the day a time begins with; false if it is no time. */
bool spaced_day_after(const char *time, double days, char out[11]);

struct drill_answer {
    const char *part;
    bool right;
    const char *round; /* kind of round; may be NULL */
    int score;         /* 0..100 */
    const char *note;  /* what was missed and what would have been right; NULL: nothing */
};
/* Keep an answer, with interval and due day from the trainee's last answer on this part.
 * trainee "" or NULL is the only trainee there is. */
bool drill_keep(struct journal *j, const char *trainee, const struct drill_answer *answer, struct err *e);

struct due_part {
    char *part;
    char due_at[20];
    size_t asked, right;
};
struct due_parts {
    struct due_part *at;
    size_t count, room;
};
/* Each part the trainee has met, the one that is due longest first. */
bool drill_due(struct journal *j, const char *trainee, struct due_parts *parts, struct err *e);
void due_parts_release(struct due_parts *parts);

/* What was missed and not yet answered right since, the latest first, at most `most` records of
 * RECORD_DRILL that have a note.  Release the list. */
bool drill_missed(struct journal *j, const char *trainee, size_t most, struct record_list *missed, struct err *e);

#endif
