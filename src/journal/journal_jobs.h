/* journal_jobs.h - what a desk does with the journal: take a call, look things up, close a job.
 *
 * Each function that writes is one transaction.  Structs that come back own their text and have a
 * release function; a zeroed one is empty. */
#ifndef LETOFF_JOURNAL_JOBS_H
#define LETOFF_JOURNAL_JOBS_H

#include "journal/journal.h"

/* ---- taking a call ------------------------------------------------------------------------ */

/* Members may be NULL.  `customer` is a label: the customer who has it (in any case) or a new
 * one; NULL: the call belongs to nobody.  `movement` (the clock's id or words) likewise names
 * a clock of this customer. */
struct new_call {
    const char *customer, *movement;
    const char *sheet, *story, *history, *desk;
    const char *taken_at;   /* NULL: now */
    const char *draft_slot; /* the draft that this call was; dropped in the same transaction */
};
bool job_add(struct journal *j, const struct new_call *call, char id[RECORD_ID_LENGTH + 1],
             struct err *e);

struct belief_row {
    const char *fault, *part; /* part may be NULL */
    double p;
};
/* What is believed now; rows below `least` are left out. */
bool job_believe(struct journal *j, const char *call, const struct belief_row *rows, size_t count,
                 double least, struct err *e);
/* saves_min: minutes it is expected to save; action (an id) may be NULL. */
bool job_advise(struct journal *j, const char *call, const char *action, const char *text,
                double saves_min, struct err *e);
/* kit: one thing a line; van and kit may be NULL; minutes 0 = not planned. */
bool job_plan_visit(struct journal *j, const char *call, const char *planned_at, double minutes,
                    const char *van, const char *kit, struct err *e);

/* ---- closing ------------------------------------------------------------------------------ */

struct found_fault {
    const char *fault, *part, *class; /* the last two may be NULL */
};
struct used_part {
    const char *name;
    long count;
};
struct done_work {
    const char *action;
    double minutes;
};
struct heard_check {
    const char *what;
    long trials, wrong;
};
struct closing {
    const struct found_fault *faults;
    size_t fault_count;
    const struct used_part *parts;
    size_t part_count;
    const struct done_work *work;
    size_t work_count;
    const struct heard_check *checks;
    size_t check_count;
    const char *outcome; /* phone, visit, bench, declined, no_fault; NULL: visit if one was planned,
                            else phone */
    double minutes;      /* < 0: not known; then the sum of the work if there is any */
    const char *note;    /* NULL: none */
};
/* Refused if it is closed already.  Its planned visits count as made. */
bool job_close(struct journal *j, const char *call, const struct closing *c, struct err *e);
bool job_reopen(struct journal *j, const char *call, struct err *e);
/* Whether the finder may learn from the job (it may unless told otherwise). */
bool job_teaches(struct journal *j, const char *call, bool may, struct err *e);

/* ---- reading ------------------------------------------------------------------------------ */

struct job {
    struct record call, customer, clock; /* id "" if there is none */
    struct record_list of[RECORD_KINDS]; /* RECORD_BELIEF .. RECORD_RECORDING */
};
bool job_read(struct journal *j, const char *call, struct job *job, struct err *e);
void job_release(struct job *job);

/* A line of a list; texts are "" when absent. */
struct job_row {
    char call[RECORD_ID_LENGTH + 1];
    char *taken_at, *state, *customer, *movement, *outcome, *story;
    char *found;      /* faults found, separated by blanks */
    char *next_visit; /* earliest visit not made yet */
};
struct job_rows {
    struct job_row *at;
    size_t count, room;
};
enum job_which { JOBS_OPEN, JOBS_CLOSED, JOBS_ALL };
/* Newest call first; most 0 = all. */
bool job_list(struct journal *j, enum job_which which, size_t most, struct job_rows *rows,
              struct err *e);
/* Jobs in which every word of `words` occurs somewhere: the call, its customer, clock, findings,
 * parts, advice ...  Case does not matter for a-z. */
bool job_find(struct journal *j, const char *words, struct job_rows *rows, struct err *e);
void job_rows_release(struct job_rows *rows);

struct visit_row {
    char visit[RECORD_ID_LENGTH + 1], call[RECORD_ID_LENGTH + 1];
    char *planned_at, *van, *customer, *movement, *kit, *note;
    double minutes;
    bool done;
};
struct visit_rows {
    struct visit_row *at;
    size_t count, room;
};
/* Visits of one day (YYYY-MM-DD), or all that are not made yet (NULL), earliest first. */
bool job_visits(struct journal *j, const char *day, struct visit_rows *rows, struct err *e);
void visit_rows_release(struct visit_rows *rows);

#endif
