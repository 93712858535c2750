/* outcome_table.h - what each let-off comes to in one works, from every state it is found in.
 *
 * A works is a little machine: (rest state, let-off) -> a handful of (probability, outcome, next
 * state).  The table holds these rows as flat arrays.  It is filled by walking every branch of
 * chance through the mechanism, once for each pair and only when asked for, so that twelve heard
 * rows and hundreds of starting states share one run of each let-off.  Two let-offs that the
 * mechanism cannot tell apart (every hour is alike to a count wheel) share a row.
 *
 * States and rows are numbered within the table; outcomes are numbers of the sounding pool.
 */
#ifndef LETOFF_DIAGNOSE_OUTCOME_TABLE_H
#define LETOFF_DIAGNOSE_OUTCOME_TABLE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include "diagnose/sounding.h"
#include "movement/works.h"

#define OUTCOME_LEAST 1e-6   /* branches of chance below this are not walked */
#define OUTCOME_CHANGES 28   /* parameter changes of a works: those of two faults */
#define OUTCOME_NONE 0xffffffffu

struct outcome_edge {
    float p;
    uint32_t outcome; /* number of a sounding */
    uint32_t next;    /* state of this table */
};

/* Row of a state and let-off class: edges first .. first+count-1; first = OUTCOME_NONE: not yet
 * walked. */
struct outcome_row {
    uint32_t first, count;
};

/* Which let-offs of a clock act alike, and where the hands of sound clocks stand at them. */
struct letoff_classes {
    const struct clock *clock;
    int letoffs, classes;
    int class_of[400];      /* by let-off of the cycle */
    int minute[400];        /* work minute of each let-off */
    int lobe[400];
    int representative[400];/* by class: a let-off of that class */
};
#define LETOFFS_MOST 400

struct outcome_table {
    const struct letoff_classes *classes;
    struct change change[OUTCOME_CHANGES];
    size_t changes;
    struct works *works;         /* made when first needed */
    struct sounding_pool *pool;  /* not owned */
    struct rest *state;
    size_t states, state_room;
    uint32_t *slot;              /* hash of states */
    size_t slots;
    struct outcome_row *row;     /* [state * classes + class] */
    size_t row_room;
    uint32_t *freed;             /* by state: the state after someone frees it; OUTCOME_NONE not
                                    yet known */
    size_t freed_room;
    struct outcome_edge *edge;
    size_t edges, edge_room;
    double lost;                 /* largest share of branches not walked in any row */
};

/* False if the clock has more let-offs in a cycle than LETOFFS_MOST. */
bool letoff_classes_init(struct letoff_classes *k, const struct clock *c);
/* First let-off of the cycle at or after this work minute (taken round the cycle). */
int letoff_from(const struct letoff_classes *k, int work_min);

void outcome_table_init(struct outcome_table *t, const struct letoff_classes *k,
                        const struct change *change, size_t changes, struct sounding_pool *pool);
void outcome_table_release(struct outcome_table *t);
/* The works the table is of; valid until the table is released. */
const struct works *outcome_table_works(struct outcome_table *t);
/* Number of a state; new states get the next number. */
uint32_t outcome_table_state(struct outcome_table *t, struct rest r);
/* What let-off `letoff` (of the cycle) comes to from a state.  The pointer is good until the next
 * call.  Probabilities sum to 1 (branches not walked are shared out in proportion). */
const struct outcome_edge *outcome_table_edges(struct outcome_table *t, uint32_t state, int letoff,
                                               size_t *count);
/* The state after someone has set the hands or the clock going again. */
uint32_t outcome_table_freed(struct outcome_table *t, uint32_t state);
/* True if in this state time does not bring the hands to the next let-off. */
bool outcome_holds_hands(struct rest r);

#endif
