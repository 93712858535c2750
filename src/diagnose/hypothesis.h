/* hypothesis.h - everything that may be the matter, with what it is worth before the report.
 *
 * A struct hypothesis is one clock with one variant of one fault (or none, or a pair).  Its weight
 * before the report is
 *
 *     share of the clock  x  fit of the hints  x  prior of the fault on this clock
 *                         x  share of the variant  x  tilt of the history
 *
 * Tilts are odds: "since it was moved house" makes a weight on the wrong hook several times
 * likelier than before.  Their product is kept within TILT_MOST either way, because words of a
 * history come together.  None and unknown have priors of their own.
 *
 * What a works does never depends on the sheet, so a struct clock_case (one clock's let-offs,
 * soundings and the tables of all its variants) is kept and used again for every call.
 */
#ifndef LETOFF_DIAGNOSE_HYPOTHESIS_H
#define LETOFF_DIAGNOSE_HYPOTHESIS_H

#include <stdbool.h>
#include <stddef.h>
#include "diagnose/outcome_table.h"
#include "diagnose/sheet.h"
#include "movement/fault.h"
#include "movement/library.h"

#define PRIOR_NONE 0.015    /* nothing wrong at all, although somebody asks */
/* A word told unasked counts by this power of its factor.  Judgement: of 1, 1.5, 2 and 3 it gave four sets of reports the
 * likeliest answers, or nearly (no source). */
#define TILT_UNASKED 1.5
#define HISTORY_BASE 0.1    /* how often a thing of the history is so for no reason */
#define ANSWER_WRONG 0.05   /* yes or no, asked for, is simply the wrong way round (judgement: one in
                               twenty; .07 is less well calibrated, also where callers get one in ten wrong) */
#define PRIOR_UNKNOWN 0.05  /* something that neither the rows nor the mechanism have: between a world in
                               which a tenth of the calls has a fault without a row and one that is all as
                               the model; the settings of sweep.h come on top */
#define PRIOR_UNKNOWN_PAIRED 0.03 /* the same when two faults at once are thought of: much of what one
                                     alone does not explain is that (judgement) */
#define TILT_MOST 60.0
#define HINT_UNTOLD 0.7     /* the clock's file does not say */

/* A change of the mechanism that no row describes: what variants of the sweep (sweep.h) are of. */
extern const struct fault fault_undescribed;

/* One variant of one fault on one clock. */
struct variant {
    const struct fault *fault; /* NULL: in step and sound */
    const struct fault *second;/* of a pair, or NULL */
    size_t one, two;           /* of a pair: the variants it is made of */
    double share;              /* among all variants of listed faults on the clock, which sum to 1; of the
                                  sweep, among those of its parameter */
    int swept;                 /* of the sweep: its parameter, or PAR_COUNT + the bit of its state */
    double severity;
    unsigned start;            /* states it may be found in: enum fault_start bits of either fault */
    bool start_only;
    int minute_off, hour_off;  /* how the hands stand against the work, minutes */
    int late;                  /* usual minutes from the lobe to the sound; VARIANT_LATE_NEW */
    size_t table;              /* in the case's tables: its own works */
    size_t acts;               /* the table its rows are read from; shared by variants that act alike
                                  once all is known (compile.h) */
};
#define VARIANT_LATE_NEW (-1000)

struct clock_case {
    const struct clock *clock;
    struct letoff_classes classes;
    struct sounding_pool pool;
    struct outcome_rows rows;
    size_t visits; /* states passed so far in summing up what works do (habit_group) */
    struct outcome_table *table;
    size_t tables, table_room;
    struct variant *variant;   /* variant[0] is the sound clock */
    size_t variants, variant_room;
    size_t listed;             /* of the variants: the sound clock and listed faults; then come those of the sweep */
    size_t pairs;              /* of the variants: those that are pairs; they come last */
    uint32_t *pair_slot;       /* which pairs there are: variant + 1, by hash of the two */
    size_t pair_slots;
    uint32_t *beside;          /* by single variant: table + 1 of its rows beside a fault that changes
                                  nothing in the works */
    struct habit_book *book;   /* of evidence.c; NULL until wanted */
    uint32_t *due;             /* by let-off: what a sound clock in step does */
    uint32_t *order;           /* all single variants as company_order_by_acts has them; NULL: not known */
    uint64_t heeded[WORKS_TOUCHED]; /* parameters that the sound works reads on its way round */
    struct change_block *changes; /* of all single variants */
};

/* False when the clock cannot be reasoned about (no let-offs).  Tables are numbered, not filled. */
bool clock_case_init(struct clock_case *k, const struct library *lib, const struct clock *c);
/* The same when it is known already what is heeded, without a let-off being gone through: `due` is left for the
 * caller to fill (table_file.h).  Room is made at once for as many variants as are expected. */
bool clock_case_list(struct clock_case *k, const struct library *lib, const struct clock *c,
                     const uint64_t heeded[WORKS_TOUCHED], size_t expected);
void clock_case_release(struct clock_case *k);
/* Memory it holds, about; what lies in a table file is not counted. */
size_t clock_case_bytes(const struct clock_case *k);
/* Minutes by which a variant usually sounds after the lobe, at the hour. */
int clock_case_late(struct clock_case *k, size_t variant);
/* Add the pair of two single variants; returns its number, that of before if it is there already.
 * Pairs live until they are dropped. */
size_t clock_case_pair(struct clock_case *k, size_t a, size_t b, double share);
/* Of the pairs from number `from` on drop those not marked in keep[number - from]; now[number - from]
 * tells the new number of the others.  No pair before `from` is touched. */
void clock_case_keep_pairs(struct clock_case *k, size_t from, const bool *keep, size_t *now);
void clock_case_drop_pairs(struct clock_case *k);

/* How well the clock fits the hints and the clock named in the sheet, 0..1. */
double hint_fit(const struct sheet *s, const struct clock *c);
/* Chance that a caller who is asked whether a thing of the history is so says yes: of a fault whose odds
 * it multiplies by `tilt` when told unasked (1: any other). */
double history_yes(double tilt);
/* Odds factor of history, since and those seen words that `predicted` does not claim. */
double fault_tilt(const struct sheet *s, const struct fault *f,
                  bool (*predicted)(const char *seen_word));

#endif
