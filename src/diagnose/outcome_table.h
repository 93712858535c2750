/* outcome_table.h - what each let-off comes to in one works, from every state it is found in.
 *
 * A works is a little machine: (rest state, let-off) -> a row of (probability, outcome, next
 * state).  Rows are filled by walking every branch of chance through the mechanism, once for each
 * pair and only when asked for.  Two let-offs that the mechanism cannot tell apart (every hour is
 * alike to a count wheel) are one class and share a row.
 *
 * Most faults change little: at most let-offs a works does what the sound one does.  So states and
 * rows are numbered for the whole clock in a struct outcome_rows, equal rows are one row, and a
 * table only says which row is meant.  Works that give the same rows along a report need be
 * followed only once (filter.h).  A works of which all is known keeps its rows by class, since a report
 * asks for one class after another, and so what is asked for together lies together.
 *
 * States and rows are numbers of the clock; outcomes are numbers of its sounding pool.
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
#define LETOFFS_MOST 400

/* Which let-offs of a clock act alike, and where the hands of sound clocks stand at them. */
struct letoff_classes {
    const struct clock *clock;
    int letoffs, classes;
    int class_of[LETOFFS_MOST];      /* by let-off of the cycle */
    int free_class[LETOFFS_MOST];    /* the same while no rack hangs: let-offs that read no snail
                                        are then alike at every hour */
    bool racks_chime;                /* the chime counts by a rack, which may hang too */
    uint64_t hanging;                /* bytes of a rest state (rest_key) of which any tells that a rack hangs */
    int minute[LETOFFS_MOST];        /* work minute of each let-off */
    int lobe[LETOFFS_MOST];
    int representative[LETOFFS_MOST];/* by class: a let-off of that class */
};
/* False if the clock has more let-offs in a cycle than LETOFFS_MOST. */
bool letoff_classes_init(struct letoff_classes *k, const struct clock *c);
/* First let-off of the cycle at or after this work minute (taken round the cycle). */
int letoff_from(const struct letoff_classes *k, int work_min);

/* ---- what all works of one clock share ---- */

struct outcome_edge {
    float p;
    uint32_t outcome; /* number of a sounding */
    uint32_t next;    /* state */
};
/* Edges first .. first + count - 1; their probabilities sum to 1 (branches not walked are shared
 * out in proportion). */
struct outcome_row {
    uint32_t first, count;
};

struct outcome_rows {
    const struct letoff_classes *classes;
    struct sounding_pool *pool;  /* not owned */
    struct rest *state;          /* what has a room is lent by a table file while that is 0 */
    size_t states, state_room;
    uint32_t *state_slot;
    size_t state_slots;
    struct outcome_row *row;
    size_t rows, row_room;
    uint32_t *row_slot;
    size_t row_slots;
    struct outcome_edge *edge;
    size_t edges, edge_room;
    uint64_t (*read)[WORKS_TOUCHED]; /* parameters that some row of the sound works reads: few sets */
    size_t reads, read_room;
    uint32_t standing[STUCK_KINDS]; /* outcome_rows_standing + 1; 0: not yet known */
    double lost;                 /* largest share of branches not walked in any row */
    struct outcome_table *sound; /* the sound works; a row of its that reads none of the parameters
                                    another works has changed is that works' row too */
    size_t walked, branches;     /* rows that were walked, and branches of chance on the way */
    size_t works;                /* of tables, that stand made at present */
};
void outcome_rows_init(struct outcome_rows *r, const struct letoff_classes *k,
                       struct sounding_pool *pool);
void outcome_rows_release(struct outcome_rows *r);
/* Number of a state; new states get the next number. */
uint32_t outcome_rows_state(struct outcome_rows *r, struct rest state);
/* The state after someone has set the hands or the clock going again. */
uint32_t outcome_rows_freed(struct outcome_rows *r, uint32_t state);
/* When a train has just run out to the end of its power: the state after someone winds it again.
 * Otherwise `next` itself. */
uint32_t outcome_rows_rewound(struct outcome_rows *r, uint32_t outcome, uint32_t next);
/* The state with every struck train that has run out wound again. */
uint32_t outcome_rows_wound(struct outcome_rows *r, uint32_t state);
/* The outcome of a let-off to which the hands do not come, because they stand so. */
uint32_t outcome_rows_standing(struct outcome_rows *r, uint8_t stuck);
/* Number the rows anew: row i is what order[i] was, rows that do not stand there are gone.  Only for rows that are
 * not lent; tables must be told. */
void outcome_rows_reorder(struct outcome_rows *r, const uint32_t *order, size_t count);
/* True if in this state time does not bring the hands to the next let-off. */
static inline bool outcome_holds_hands(struct rest r)
{
    return r.stuck == STUCK_HANDS || r.stuck == STUCK_TAIL || r.stuck == STUCK_WARNING || r.stuck == STUCK_GOING;
}

/* ---- one works ---- */

/* A row found by hash. */
struct outcome_slot {
    uint64_t key;     /* (state, class) + 1; 0: free */
    uint32_t row, at; /* at: how many were kept before it */
};
/* A row of one class in which a works that is complete differs from the sound one. */
struct outcome_kept {
    uint32_t state, row;
};

/* What few tables have: most of them are only ever read (there are tens of thousands). */
struct outcome_rare {
    uint64_t changed[WORKS_TOUCHED]; /* parameters that are not as in a sound works */
    uint64_t *led_key; /* rows by hash for hands led over the lobe, where they differ */
    uint32_t *led_row;
    size_t led_slots, leds;
};

struct outcome_table {
    struct outcome_rows *rows;   /* not owned */
    struct change *change;
    uint32_t changes;
    bool change_lent;            /* the changes belong to somebody else */
    bool mapped;                 /* kept rows and what was touched lie in a table file */
    bool complete;               /* all that can be reached is known: a row that is not here is as in
                                    the sound works */
    struct works *works;         /* made when first needed */
    /* complete: class c differs in kept[first[c]] to kept[first[c + 1] - 1], by ascending states; NULL: in nothing */
    const struct outcome_kept *kept;
    const uint32_t *first;
    /* else rows by hash, where they differ from the sound works; of the sound works those found since it was settled */
    struct outcome_slot *slot;
    size_t slots, known;
    uint32_t *touched; /* of the sound works: what each row depends on, a number of rows->read;
                          those by class come first */
    size_t touched_room;
    struct outcome_rare *rare; /* made when first needed */
};
void outcome_table_init(struct outcome_table *t, struct outcome_rows *rows,
                        const struct change *change, size_t changes);
/* The same without a copy of the changes, which must outlive it. */
void outcome_table_init_lent(struct outcome_table *t, struct outcome_rows *rows, struct change *change, size_t changes);
void outcome_table_release(struct outcome_table *t);
/* The works the table is of; valid until outcome_table_forget or release. */
const struct works *outcome_table_works(struct outcome_table *t);
/* Memory it holds, about; what lies in a table file is not counted. */
size_t outcome_table_bytes(const struct outcome_table *t);
/* Give back the works (a few kilobytes); it is made again when needed. */
void outcome_table_forget(struct outcome_table *t);
/* No parameter is other than in a sound works, but for how the hands stand on their pipes. */
bool outcome_table_plain(struct outcome_table *t);
/* Its parameters alone, without the work of making a works. */
void outcome_table_par(const struct outcome_table *t, double par[PAR_COUNT]);
/* Where a row is kept: the same for let-offs that act alike in this state. */
uint64_t outcome_table_key(const struct outcome_table *t, uint32_t state, int letoff);
/* Keep only these rows (ascending keys), all others are as in the sound works from now on. */
void outcome_table_complete(struct outcome_table *t, const uint64_t *key, const uint32_t *row,
                            size_t count);
/* Of the sound works: keep what is known by now by class as well.  What is found later stands by hash beside it. */
void outcome_table_settle(struct outcome_table *t);
/* Rows kept by class. */
size_t outcome_table_kepts(const struct outcome_table *t);
/* The row kept under a key, or OUTCOME_NONE. */
uint32_t outcome_table_kept(const struct outcome_table *t, uint64_t key);
/* Row of what let-off `letoff` (of the cycle) comes to from a state. */
uint32_t outcome_table_row(struct outcome_table *t, uint32_t state, int letoff);
/* The same for several states; OUTCOME_NONE where the hands stand. */
void outcome_table_rows(struct outcome_table *t, const uint32_t *state, size_t n, int letoff, uint32_t *row);
/* The same when a finger leads the hands over the lobe: nothing that only time's turning lacks
 * (friction of the hands, going power) keeps them from it. */
uint32_t outcome_table_led_row(struct outcome_table *t, uint32_t state, int letoff);
/* A clock that came to a stand at `letoff` is eased and led past it by a finger: the states it may then
 * be in, with chances that sum to 1.  At most EASED_MOST; returns how many. */
#define EASED_MOST 16
struct eased {
    uint32_t state;
    double p;
};
size_t outcome_table_eased(struct outcome_table *t, uint32_t state, int letoff,
                           struct eased out[EASED_MOST]);
/* Edges of either row; the pointer is good until the next row is walked. */
const struct outcome_edge *outcome_table_edges(struct outcome_table *t, uint32_t state, int letoff,
                                               bool led, size_t *count);

#endif
