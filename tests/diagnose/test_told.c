/* What must have been heard at least once: the lanes of told.h against marks that are carried along one by
 * one, in every way they may be met. */
#include "diagnose/finder_desk.h"

#include <math.h>
#include <string.h>
#include "diagnose/told.h"

#define STATES 4000
#define MARKS  64

/* ---- the same by keeping what was met ---- */

struct kept {
    struct clock_case *k;
    struct filter_plan *plan;
    struct outcome_table *table;
    bool more; /* hands stand or a train is wound: more happens than is reckoned with here */
    double now[STATES][MARKS], next[STATES][MARKS];
};

static double chance_at(const struct kept *x, const struct filter_step *s, const struct heard *row, uint32_t outcome)
{
    struct ear_at at = x->plan->ear;
    at.sound = sounding_at(&x->k->pool, outcome);
    at.due = sounding_at(&x->k->pool, s->due);
    at.lobe = x->k->classes.lobe[s->letoff];
    at.dial_min = s->dial_min;
    at.shown_min = s->shown_min;
    return ear_row(&at, row);
}

/* The looks of a step from `look` on: unattended, heard so, heard otherwise. */
static void go_on(struct kept *x, const struct filter_step *s, size_t look, struct outcome_edge e, unsigned marks,
                  double p)
{
    if (look == s->first + s->count) {
        x->next[e.next][marks] += p;
        return;
    }
    const struct filter_look *l = &x->plan->look[look];
    double yes = chance_at(x, s, l->row, e.outcome);
    double no = l->kind == FILTER_MIX ? chance_at(x, s, l->other, e.outcome) : 1 - yes;
    go_on(x, s, look + 1, e, marks, p * (1 - FILTER_ATTEND));
    go_on(x, s, look + 1, e, marks | l->bit, p * FILTER_ATTEND * yes);
    go_on(x, s, look + 1, e, marks | l->bit2, p * FILTER_ATTEND * no);
}

static void one_step(struct kept *x, const struct filter_step *s)
{
    memset(x->next, 0, sizeof x->next);
    for (uint32_t state = 0; state < STATES; state++)
        for (unsigned m = 0; m < MARKS; m++) {
            size_t edges;
            if (x->now[state][m] <= 0)
                continue;
            const struct outcome_edge *e = outcome_table_edges(x->table, state, s->letoff, false, &edges);
            assert_true(x->k->rows.states <= STATES);
            x->more |= outcome_holds_hands(x->k->rows.state[state]);
            for (size_t i = 0; i < edges; i++)
                x->more |= outcome_rows_rewound(&x->k->rows, e[i].outcome, e[i].next) != e[i].next;
            for (size_t i = 0; i < edges; i++)
                go_on(x, s, s->first, e[i], m, x->now[state][m] * e[i].p);
        }
    memcpy(x->now, x->next, sizeof x->now);
}

static double worth(const struct filter_plan *p, unsigned marks)
{
    double factor = 1;
    for (int b = 0; b < p->marks; b++)
        if (!(marks >> b & 1))
            factor *= p->need >> b & 1 ? TOLD_NEED_MISSING : TOLD_WISH_MISSING;
    return factor;
}

static double by_marks(struct kept *x, struct filter_state start)
{
    double sum = 0;
    x->more = false;
    memset(x->now, 0, sizeof x->now);
    x->now[start.state][0] = start.p;
    for (size_t i = filter_plan_first(x->plan, false); i < x->plan->steps; i++)
        one_step(x, &x->plan->step[i]);
    for (size_t state = 0; state < STATES; state++)
        for (unsigned m = 0; m < MARKS; m++)
            sum += x->now[state][m] * worth(x->plan, m);
    return sum * x->plan->unplaced;
}

/* ---- held against each other ---- */

/* In step and wound, at the first let-off of the walk. */
static struct filter_state in_step(struct clock_case *k, const struct filter_plan *plan)
{
    struct start start[4];
    const struct fault sound = {.start = 0};
    int minute = k->classes.minute[filter_plan_start(plan, false)];
    assert_int_equal(fault_starts(&sound, outcome_table_works(&k->table[k->variant[0].table]), minute, start, 4), 1);
    return (struct filter_state){outcome_rows_state(&k->rows, start[0].rest), 1};
}

static size_t compare(struct desk *d, struct clock_case *k, const char *rows)
{
    static struct kept x;
    struct sheet s;
    struct err e = {0};
    struct filter_plan plan;
    struct filter_space space = {0};
    size_t compared = 0;
    sheet_init(&s, d->words);
    assert_true(sheet_parse_shorthand(&s, rows, strlen(rows), &e));
    struct ear_at at = {.model = &ear_usual, .words = d->words, .clock = k->clock, .pool = &k->pool};
    filter_plan_init(&plan, &s, &at, &k->classes, k->due, (struct filter_setting){0});
    assert_true(plan.marks > 0);
    for (size_t v = 0; v < k->listed; v += 19) {
        if (k->variant[v].start || k->variant[v].minute_off || k->variant[v].hour_off)
            continue;
        struct filter_state start = in_step(k, &plan);
        x.k = k;
        x.plan = &plan;
        x.table = &k->table[k->variant[v].table];
        double lanes = filter_run(&plan, x.table, &start, 1, false, &space), marks = by_marks(&x, start);
        compared += !x.more;
        if (!x.more && !(lanes >= 0 && fabs(lanes - marks) <= 1e-9 * marks + 1e-15))
            fail_msg("%s, variant %zu: %g by lanes, %g by marks", rows, v, lanes, marks);
    }
    filter_space_release(&space);
    filter_plan_release(&plan);
    sheet_release(&s);
    return compared;
}

static void lanes_come_to_what_marks_come_to(void **state)
{
    static const char *const rows[] = {
        "hours s+1 often=sometimes",
        "hours s0 often=sometimes, halves s0 often=sometimes",
        "hours s+1(-1), hours s= often=sometimes",
        "hours s-1 often=sometimes, hours s+1 often=sometimes, hours slow often=sometimes",
    };
    struct desk *d = *state;
    struct clock_case *k = finder_case(d->finder, library_find_clock(d->lib, "longcase-rack"));
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++)
        assert_true(compare(d, k, rows[i]) > 10);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(lanes_come_to_what_marks_come_to),
    };
    return cmocka_run_group_tests(tests, open_desk, close_desk);
}
