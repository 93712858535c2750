/* next_step.h - the question or action worth most minutes.
 *
 * Troubleshooting under costs: every cause has a cure, every cure its minutes and its place (the
 * owner at home, a visit, the bench).  Of actions that each cure their cause for certain, tried one
 * after another, the order with the smallest expected cost of repair is by cost over probability,
 * smallest first, and
 *
 *     ECR = sum over i of c_i (1 - p_1 - ... - p_(i-1))
 *
 * (D. Heckerman, J. Breese, K. Rommelse, "Decision-theoretic troubleshooting", Comm. ACM 38(3),
 * 1995).  Example: p = .5 .3 .2, c = 4 1 2: order 2, 1, 3, ECR 4.2.
 *
 * Going there costs minutes once, however many cures are then tried: VISIT_MIN, BENCH_MIN.  A plan
 * is: owner's cures while they are worth it, then a visit or the bench, whichever is cheapest.
 * There either one looks at once, or does one cure first and looks when that has failed; having
 * found the cause one does what it wants, at the bench if need be.  What is merely dry gets going by
 * oil in the house in OIL_WORKS of its cases, if that is what is done first: who has looked and found
 * it dry has it cleaned at the bench.
 * A question is worth the expected cost now less the expected cost with its answer, less the
 * minutes of asking.  When no question is worth NEXT_LEAST minutes, the plan is the advice.
 */
#ifndef LETOFF_DIAGNOSE_NEXT_STEP_H
#define LETOFF_DIAGNOSE_NEXT_STEP_H

#include <stdbool.h>
#include <stddef.h>
#include "diagnose/belief.h"

#define VISIT_MIN 60.0   /* van to the house and back */
#define LOOK_VISIT_MIN 30.0 /* finding it with one's own eyes in the house (judgement) ... */
#define LOOK_BENCH_MIN 60.0 /* ... and at the bench */
#define OIL_VISIT_MIN 45.0  /* cleaning and oiling where it stands, and the part of what is merely */
#define OIL_WORKS 0.9       /* dry that it gets going (common practice, no source) */
#define BENCH_MIN 150.0  /* fetching, taking out of its case, bringing back and setting up */
#define UNKNOWN_MIN 60.0 /* finding on the bench what the model does not have */
#define NEXT_LEAST 1.0   /* a question must save so many minutes */
#define NEXT_BATCH 3
#define NEXT_KIT 16

/* ---- orders of repair ---- */

/* Order of trying, smallest cost over probability first (ties keep their order); zero probability
 * last.  Writes n indices. */
void repair_order(const double *p, const double *cost, size_t n, size_t *order);
/* Expected cost of an order. */
double repair_cost(const double *p, const double *cost, size_t n, const size_t *order);

/* ---- the next step ---- */

enum question_kind {
    QUESTION_SEEN,    /* a word of `seen`: yes or no */
    QUESTION_HISTORY, /* a word of `history`: yes or no */
    QUESTION_HINT,    /* a hint of the clock: one of its values */
    QUESTION_STRIKE,  /* what it strikes at dial_min */
    QUESTION_CHIME,   /* whether the quarters at dial_min are right, wrong or silent */
};
struct question {
    enum question_kind kind;
    char id[80];      /* "seen:left_weight_still", "strike:4:00" */
    char text[400];   /* to be read out */
    const char *word; /* of the vocabulary, NULL for what it strikes */
    int dial_min;
    double minutes, saves_min; /* net of the minutes */
    const char *picture;       /* key of the picture, or NULL */
};

enum next_kind { NEXT_QUESTION, NEXT_OWNER, NEXT_LEAVE, NEXT_VISIT, NEXT_BENCH };

struct next_step {
    enum next_kind kind;
    char id[80];          /* of the question or cure */
    char text[800];
    double minutes;       /* of this step */
    double saves_min;     /* against the best plan without it (a question), against going there
                             at once (an owner's cure), else 0 */
    const char *hazard;   /* of the action; "none" for a question */
    double p_cure;        /* chance that this step puts it right */
    double cost_min;      /* expected minutes until it is right, as things stand */
    const char *kit[NEXT_KIT]; /* for a visit */
    size_t kits;
    double oil_suffices;  /* a visit: chance that cleaning and oiling is enough */
    struct question batch[NEXT_BATCH]; /* questions worth asking together, best first */
    size_t questions;
    struct question apart; /* tells the first two causes apart best, worth its minutes or not */
    double apart_by;       /* how far the answers differ, 0..1; no such question below APART_LEAST */
};
#define APART_LEAST 0.4
const char *next_kind_name(enum next_kind k); /* question, owner, leave, visit, bench */

/* What to do next.  The belief must be of this sheet. */
void next_step_find(struct next_step *n, struct finder *f, const struct belief *b,
                    const struct sheet *sheet);
/* All questions that are worth more than `least` minutes, best first; at most `room`. */
size_t next_questions(struct finder *f, const struct belief *b, const struct sheet *sheet,
                      double least, struct question *out, size_t room);
/* Expected minutes until it is right, when nothing more is asked. */
double next_plan_cost(struct finder *f, const struct belief *b);

/* That plan, step by step: what the owner tries; what is done there first (a cure, or looking); then
 * the cures left, cheapest for its chance first. */
struct plan_step {
    const char *cure;     /* id of the cure, "leave-alone", "look" or "look-on-bench" */
    enum next_kind place; /* NEXT_OWNER, NEXT_VISIT, NEXT_BENCH */
    double minutes, p;    /* without the way; chance that this is what is wanted */
};
size_t next_plan(const struct belief *b, struct plan_step *out, size_t room);

/* Write an answer into the sheet.  seen, history: yes, no; hint: a value; strike: what stands
 * behind the time in shorthand ("s4", "4", "none", "runs on"); chime: right, wrong, silent.
 * "?", "unknown", "don't know" and the like are taken and leave the sheet alone but for a hint.
 * Capital letters and a full stop do not matter, nor what follows "yes, " or "no, ".  False with a
 * sentence if the answer is none of these. */
bool question_answer(const struct question *q, struct sheet *sheet, const char *answer,
                     struct err *e);

#endif
