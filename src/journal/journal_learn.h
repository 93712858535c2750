/* journal_learn.h - lessons out of the journal: closed jobs into learn.h.
 *
 * A job teaches if it is closed, its clock has a movement, a fault was found, and nobody said
 * that it must not (field `lesson` of the call).  The whole shop can be taken back to the shipped
 * priors and forth again with journal_learning; the jobs stay. */
#ifndef LETOFF_JOURNAL_LEARN_H
#define LETOFF_JOURNAL_LEARN_H

#include "journal/journal.h"
#include "journal/learn.h"

struct lessons {
    size_t jobs;     /* taught */
    size_t left_out; /* closed, but told not to teach */
    size_t unplaced; /* closed, without clock or finding the shipped rows know */
    bool off;        /* the shop has learning switched off: nothing was taught */
};
/* Forgets what `l` knew and teaches it all jobs of the journal. */
bool journal_teach(struct journal *j, struct learn *l, struct lessons *lessons, struct err *e);
/* The clocks and histories that closed jobs have, each pair once; the shipped priors of these
 * histories are wanted for learning from them. */
struct seen_history {
    char *movement, *history;
};
struct seen_histories {
    struct seen_history *at;
    size_t count, room;
};
bool journal_histories(struct journal *j, struct seen_histories *seen, struct err *e);
void seen_histories_release(struct seen_histories *seen);

bool journal_learning(struct journal *j, bool on, struct err *e); /* on unless switched off */

/* Counts of statements checked, one row a kind of statement.  mem_free the array with
 * heard_counts_release. */
struct heard_count {
    char *what;
    long trials, wrong;
};
struct heard_counts {
    struct heard_count *at;
    size_t count, room;
};
bool journal_heard(struct journal *j, struct heard_counts *counts, struct err *e);
void heard_counts_release(struct heard_counts *counts);

/* Minutes each action took, one row an action. */
struct action_time {
    char *action;
    struct running minutes;
};
struct action_times {
    struct action_time *at;
    size_t count, room;
};
bool journal_action_times(struct journal *j, struct action_times *times, struct err *e);
void action_times_release(struct action_times *times);

#endif
