/* filter.h - how likely a whole report is under one works: exact forward filtering.
 *
 * A struct filter_plan lays the report along the let-offs of a clock: which let-off each row
 * speaks of (by what the hands show), which let-offs lie between unobserved, and how rules ("every
 * hour", "now and then") hang over all of them.  It depends on the clock, on how the hands stand
 * against the work, and on nothing else, so hypotheses share it.
 *
 * filter_run carries a probability for every rest state from let-off to let-off through the outcome
 * table, with lanes beside it for what must have been heard at least once ("sometimes 2"; told.h).
 * Each let-off multiplies by the chance of what was told of it.  The sum left at the end is the
 * probability of the report; nothing is sampled.  States that come to a small part of what their members
 * would be given up for are not followed; their mass is told with what was given up.
 *
 * Rules: "every hour" is one utterance, a generalisation.  What counts is the share of the
 * let-offs it speaks of that fit:
 *
 *     P(rule) = best * exp(-strict * (1 - mean over let-offs of L / best))
 *     strict  = FILTER_STRICT - FILTER_DETAIL * ln(chance of the row where nothing is known)
 *
 * where L is the chance of the row at one let-off and best what a perfect fit gives.  Of a plain count all
 * fit: 1; two thirds: 0.09; none: 0.0007.  Who says of every let-off what none does has made it up, and
 * the more it tells the less likely just that was made up.  As a product over the let-offs it needs no
 * memory, so filtering stays exact.  A rule speaks of let-offs at which something is due, if there are any.  With chance FILTER_BRIEF the caller spoke after a short while only.  A rule that tells of
 * nothing but pace (slow, uneven) speaks of let-offs with blows enough for one (ear_means), and its
 * caller has listened until such a one came.
 *
 * Before the first row the clock is run for one period of the lobes without being heard, so that
 * what one let-off leaves to the next is there; of what came to a stand in that time, half is
 * taken to have been set going again, and what ran down is wound with FILTER_REWOUND.  Of a clock found out of step FILTER_JUST_NOW is heard from
 * the start.
 *
 * Who sums up the hours ("one at every hour") and says nothing of the half hours has heard nothing there that stands
 * out: where they strike many instead of one, that was left untold with FILTER_UNTOLD_COUNT only.
 *
 * A row with the word `by_hand` answers a question: the hands were led from the row before to that
 * let-off.  On the way nothing stalls that only time's turning lacks the strength for, whoever leads
 * frees what stands, and of such answers FILTER_MISHEARD are wrong in a way no count tells.
 */
#ifndef LETOFF_DIAGNOSE_FILTER_H
#define LETOFF_DIAGNOSE_FILTER_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include "diagnose/ear.h"
#include "diagnose/outcome_table.h"
#include "diagnose/space.h"
#include "diagnose/tuned.h"

#define FILTER_STRICT TUNED(filter_strict, 6.0) /* rules */
#define FILTER_STRICT_USUAL 2.0 /* "mostly" */
#define FILTER_DETAIL TUNED(filter_detail, 0.5) /* by so much of a row's own surprise a rule is stricter */
#define FILTER_ATTEND 0.5     /* chance that a let-off was attended to, for "now and then" */
#define FILTER_BRIEF 0.5      /* chance that "every" was said after listening for a short while */
#define FILTER_BRIEF_H 3      /* so long, in hours; rules of quarters and halves a third of it */
#define FILTER_JUST_NOW TUNED(filter_just_now, 0.5) /* the report begins where the clock was put out of step */
#define FILTER_MARKS 6        /* bits of marks; rows beyond them are taken as plain rules */
#define FILTER_FREED 0.6      /* someone sets a standing clock going and does not say so */
#define FILTER_REWOUND 0.85   /* who heard a train run out winds it before the next let-off */
#define FILTER_UNPLACED 0.01  /* a row that this clock has no let-off for; what it tells then is as likely as blindly */
#define FILTER_NOTICED 0.7    /* what is told of an unknown hour is noticed when it happens */
#define FILTER_MISHEARD 0.05  /* an answer asked for is simply wrong (judgement; no source) */
#define FILTER_UNTOLD_STOP 0.2 /* a stand of the hands goes untold */
#define FILTER_UNTOLD_COUNT 0.3 /* all half hours strike many, and who tells of every hour does not say so */

enum filter_kind {
    FILTER_ROW,       /* the row tells of this let-off */
    FILTER_ROW_OFTEN, /* the row tells of this let-off on some of several days */
    FILTER_RULE,      /* the row tells of every let-off it covers */
    FILTER_USUAL,     /* of most of them */
    FILTER_NOW_THEN,  /* marks: it was so at least once (bit 1), and once not so (bit 2) */
    FILTER_MIX,       /* marks: the usual value once (bit 1), another once (bit 2) */
    FILTER_SOME_ONE,  /* it was so at one of the covered let-offs (bit 1) */
    FILTER_STAND,     /* it came to a stand as told (bit 1) */
};

/* One row at one step of the walk. */
struct filter_look {
    enum filter_kind kind;
    const struct heard *row, *other; /* other: the unusual values of a mix */
    size_t row_index;                /* in the sheet */
    double share;                    /* rules: part of this let-off in the whole */
    double best;                     /* rules: chance of the row at a let-off that fits it */
    double strict;                   /* rules: what it costs that none fits, as a logarithm */
    uint8_t bit, bit2;               /* marks, as masks */
};
struct filter_step {
    int letoff;          /* of the cycle */
    int dial_min;        /* for which it is due: what right hands show */
    int shown_min;       /* what these hands show at the lobe */
    uint32_t due;        /* outcome of a sound clock at this dial time */
    size_t first, count; /* looks */
    bool burn;           /* before the report */
    bool led;            /* the hands were led over it by hand */
    bool often;          /* some look tells of several days */
    double untold;       /* part of this let-off in those of which many blows would have been told; 0 none */
    size_t like;         /* the first step of the walk at which the same is told of the same thing due: what
                            an outcome comes to there it comes to here */
};

struct told;
struct filter_plan {
    const struct letoff_classes *classes;
    struct outcome_rows *rows;       /* set by filter_group */
    struct ear_at ear;               /* with the parts that do not change filled in */
    struct filter_step *step;
    size_t steps, step_room;
    struct filter_look *look;
    size_t looks, look_room;
    struct heard *own;               /* rows made of parts of rows (mixtures) */
    size_t owns, own_room;
    uint8_t need, wish;              /* marks that must be set in the end; that should be */
    int marks;                       /* bits used */
    double unplaced;                 /* factor of rows that fit no let-off of this clock */
    double rewound;                  /* FILTER_REWOUND; 1 if a rule says that it runs on: they wound it each time */
    bool stops_told;
    bool begun;                      /* the walk begins where a row says, or none names one let-off */
    struct told *told;               /* what outcomes and rows come to at each step; told.h */
};

/* How the report lies along the let-offs. */
struct filter_setting {
    int minute_off, hour_off; /* hands ahead of the work, minutes */
    int late;                 /* minutes by which this works usually sounds after the lobe */
    int half;                 /* 24-hour clocks: 0 or 1, which half of the day the first row is in */
    int parity;               /* for "every other hour": 0 or 1 */
    bool brief;               /* rules were heard for FILTER_BRIEF_H hours only, not all round */
};

/* `due`: by let-off of the cycle, outcome of the sound clock in step.  Sheet, words, classes, pool
 * must outlive the plan; `at` gives model, words, clock and pool. */
void filter_plan_init(struct filter_plan *p, const struct sheet *sheet, const struct ear_at *at,
                      const struct letoff_classes *k, const uint32_t *due,
                      struct filter_setting set);
void filter_plan_release(struct filter_plan *p);
/* The strictness of a row that is a rule, above. */
double filter_strict(const struct heard *h, const struct words *words);
/* Marks that a look of this kind may meet: 0, 1 or 2. */
int filter_marks(enum filter_kind kind);
/* Step at which the walk starts; behind the last if it has none. */
size_t filter_plan_first(const struct filter_plan *p, bool burn);
/* Let-off (of the cycle) at which the walk starts: with the silent hour before, or without. */
int filter_plan_start(const struct filter_plan *p, bool burn);
/* Let-off (of the cycle) that comes next after the walk. */
int filter_plan_next(const struct filter_plan *p);

/* One of several works that are followed together. */
struct filter_member {
    struct outcome_table *table;
    double bound;    /* given up once the mass still alive is no more than this; below 0: never, nor any crumb */
    double dropped;  /* out: the mass given up on the way, by which the chance may be larger */
    double chance;   /* out: probability of the report */
    size_t tag;      /* the caller's */
    uint64_t sign;   /* of the rows it gives at the present step */
};

/* Called for works that came through the report alike: `end` (sums to the chance, as does each
 * member's) and `by_step` are theirs all. */
typedef void filter_arrived(void *with, struct filter_member *m, size_t members,
                            const struct filter_space *space);

/* Follow all members through the report from the same start.  They are parted wherever they give
 * different rows, so works that act alike along the report cost no more than one.  All tables must
 * be of the plan's clock.  `burn`: run the silent hour before the report. */
void filter_group(struct filter_plan *p, struct filter_member *m, size_t members,
                  const struct filter_state *start, size_t starts, bool burn,
                  struct filter_space *space, filter_arrived *arrived, void *with);
/* Probability of the report under one works; space->end and ->by_step tell more. */
double filter_run(struct filter_plan *p, struct outcome_table *t, const struct filter_state *start,
                  size_t starts, bool burn, struct filter_space *space);

#endif
