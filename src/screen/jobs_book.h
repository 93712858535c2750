/* jobs_book.h - the journal as the window holds it: what is listed, which job is open, and what is
 * done to it.
 *
 * The book reads the journal when its page comes up and after each thing it writes; between these
 * the lists are plain values.  Nothing is made by looking: a journal that is not there yet begins
 * with the first call that is kept.  What cannot be done leaves one sentence in the app's notice and
 * everything as it was.
 */
#ifndef LETOFF_SCREEN_JOBS_BOOK_H
#define LETOFF_SCREEN_JOBS_BOOK_H

#include "journal/journal_jobs.h"
#include "journal/journal_learn.h"
#include "journal/stats.h"
#include "screen/app.h"

enum job_list { LIST_TODAY, LIST_OPEN, LIST_CLOSED, LIST_FOUND, JOB_LISTS };
#define BOOK_CLOSED 12  /* closed jobs listed when nothing is searched for */
#define BOOK_TAUGHT 6
#define BOOK_BELIEFS 60 /* beliefs of one call that are looked at */
#define BOOK_STALE_S 2  /* the journal is read again when it was out of sight for so long */

struct journaling {
    struct journal *j;
    bool missing;             /* there is no journal yet */
    char trouble[300];        /* why it cannot be read; "" */
    double seen_s;            /* when the page was last described */
    bool read;                /* lists are filled */
    char day[11];             /* today, the shop's own */
    struct job_rows rows[JOB_LISTS]; /* LIST_TODAY is in `today` */
    struct visit_rows today;
    char searched[200];       /* rows[LIST_FOUND] are for this */
    char chosen[RECORD_ID_LENGTH + 1];
    struct job job;
    bool job_there;
    struct sheet sheet;       /* of the job */
    struct stats stats;
    bool stats_there, figures;
    int year;                 /* of the figures, 0 all */
    struct taught_row {
        char clock[64], fault[64];
        double before, after, found, jobs;
    } taught[BOOK_TAUGHT];    /* what the jobs moved most */
    size_t taughts;
    struct lessons lessons;
    uint64_t kept;            /* version of the call in hand that was kept last */
    /* typed */
    struct text search, other, when, van, minutes;
};

struct journaling *book_of(struct app *a);
/* The open journal, for others who keep something in it; NULL if there is none (may_begin: if it
 * cannot be made either). */
struct journal *book_journal(struct app *a, bool may_begin);
/* Called at each description of the page. */
void book_look(struct app *a);
/* Read everything again. */
void book_read(struct app *a);
/* Rows for what stands in the search field. */
void book_search(struct app *a);
void book_choose(struct app *a, const char *call);
void book_figures(struct app *a, int year);

/* What was believed last of the job, likeliest first; returns how many. */
size_t book_beliefs(const struct journaling *b, const struct record **row, size_t room);

/* Bring the sheet of the job back to the desk as the call in hand. */
void book_take_up(struct app *a);
/* Close the open job with this fault, or add it to those found in a closed one, or take it away
 * again.  `none` and `unknown` are faults too. */
bool book_found(struct app *a, const char *fault);
bool book_is_found(const struct journaling *b, const char *fault);
bool book_is_open(const struct journaling *b);
bool book_reopen(struct app *a);
/* Whether the finder may learn from the job in hand, and from jobs at all. */
bool book_teaches(struct app *a, bool may);
bool book_learning(struct app *a, bool on);
/* Set one field of the call, of an advice ... */
bool book_set(struct app *a, enum record_kind kind, const char *id, const char *field,
              const char *value);
/* A visit; the kit is what the cures of the likely faults need. */
bool book_plan(struct app *a, const char *when, const char *van);
/* Names of things of that kit, at most `room`. */
size_t book_kit(const struct app *a, const struct journaling *b, const char **kit, size_t room,
                double *minutes);
/* The plan of the visit on paper, beside the journal. */
void book_visit_page(struct app *a);

#endif
