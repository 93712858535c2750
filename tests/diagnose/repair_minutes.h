/* repair_minutes.h - what a repair really takes, by the table tests/diagnose/evaluate-costs.yaml.
 *
 * The table says what is charged, how the worlds of the evaluation differ, and holds the fixed
 * symptom chart that the finder is measured against.  It was committed before the first run.
 */
#ifndef LETOFF_TESTS_REPAIR_MINUTES_H
#define LETOFF_TESTS_REPAIR_MINUTES_H

#include "diagnose/next_step.h"
#include "yaml_map.h"

enum place { PLACE_OWNER, PLACE_VISIT, PLACE_BENCH, PLACES };

/* What a fixed chart goes by; the order of the words in the table. */
enum symptom {
    SYMPTOM_STANDS,
    SYMPTOM_RUNS_ON,
    SYMPTOM_STRIKE_SILENT,
    SYMPTOM_CHIME_SILENT,
    SYMPTOM_SOMETIMES_SILENT,
    SYMPTOM_CHIME_WRONG,
    SYMPTOM_ONE_ERROR,
    SYMPTOM_COUNTS_WRONG,
    SYMPTOM_OFF_TIME,
    SYMPTOM_PACE,
    SYMPTOM_TONE,
    SYMPTOM_NOTHING,
    SYMPTOMS
};

struct charge {
    const char *id;
    int who; /* enum place */
    double minutes;
};
struct chart_row {
    int symptom;
    const char *cure[6];
    size_t cures;
};
/* How a world differs from the model. */
struct world_row {
    const char *name;
    int seed;
    double misheard; /* answers told wrong */
    double ear;      /* errors of the listener's ear, times the usual */
    double priors;   /* spread of the log of each fault's prior */
    bool off_grid;   /* severities between the swept ones */
    double lacking;  /* share of calls with a fault that the model is not given */
};

struct minutes_table {
    struct yaml_tree *tree;
    double travel[PLACES], look[PLACES], unlisted[PLACES];
    double oil_min, oil_works;
    double ask[3], ask_sound, each_letoff; /* seen, history, hint */
    int questions, rows;
    struct charge *cure;
    size_t cures, cure_room;
    struct chart_row chart[SYMPTOMS];
    size_t chart_rows;
    struct world_row world[4];
    size_t worlds;
};
/* False with sentences when the table cannot be read. */
bool minutes_table_load(struct minutes_table *t, const char *path, struct err *e);
void minutes_table_release(struct minutes_table *t); /* a zeroed struct is fine */

/* What puts a cause right: the cure's id, where, and how long; "leave-alone" for none. */
struct charge minutes_of_cure(const struct minutes_table *t, const char *id, const struct cure *c);
/* Minutes of one question, when `letoffs` had to be led over. */
double minutes_of_question(const struct minutes_table *t, enum question_kind kind, int letoffs);
/* What a clock wants: its cure, and whether clean and oil in the house would do as well. */
struct want {
    struct charge cure;
    bool oil_does;
};
/* Minutes until it is right, by what they were spent on. */
struct spent {
    double owner; /* cures tried over the telephone */
    double way, look;
    double in_vain; /* cures done there that were not it */
    double cure;    /* the right one */
};
double minutes_spent(const struct spent *s);
/* When a repairer goes by the plan.  The step clean-and-oil on a visit is clean and oil in the house. */
struct spent minutes_of_plan(const struct minutes_table *t, struct want want,
                             const struct plan_step *step, size_t steps);
/* The same for a visit with clean and oil whatever is told. */
struct spent minutes_of_oil_visit(const struct minutes_table *t, struct want want);
/* The same when the cause is known beforehand: nothing can be quicker. */
struct spent minutes_at_best(const struct minutes_table *t, struct want want);
/* The steps the chart gives for a symptom, and how many; `has` says whether the clock can have
 * faults that this cure is for. */
size_t minutes_of_chart(const struct minutes_table *t, enum symptom s, const struct library *lib,
                        const struct clock *clock, struct plan_step *out, size_t room);

#endif
