/* The helpers of the evaluation: what a repair is charged, and that calls are what they are said to be. */
#include "suite.h"

#include <string.h>
#include "pretend_caller.h"

struct room {
    struct library *lib;
    struct words *words;
    struct minutes_table table;
    struct pretend_desk desk;
};

static int open_room(void **state)
{
    static struct room r;
    struct err e = {0};
    r.lib = library_load("chimes", &e);
    r.words = words_load("chimes/words.yaml", &e);
    bool ok = minutes_table_load(&r.table, "tests/diagnose/evaluate-costs.yaml", &e);
    err_print(&e, stderr);
    err_release(&e);
    if (!r.lib || !r.words || !ok)
        return -1;
    pretend_desk_init(&r.desk, r.lib, r.words, &r.table);
    r.desk.clocks = "longcase-rack,mantel-countwheel-90";
    *state = &r;
    return 0;
}

static int close_room(void **state)
{
    struct room *r = *state;
    pretend_desk_release(&r->desk);
    minutes_table_release(&r->table);
    words_free(r->words);
    library_free(r->lib);
    return 0;
}

/* Worked by hand from evaluate-costs.yaml: way 60 and 150, looking 30 and 60. */
static const struct {
    const char *name, *want;
    bool oil_does;
    const char *step[3];
    enum next_kind place[3];
    double minutes;
} plans[] = {
    {"the owner does it", "move-hour-hand", false, {"move-hour-hand"}, {NEXT_OWNER}, 4},
    {"the owner tries in vain, the visit is right",
     "turn-bush",
     false,
     {"move-hour-hand", "turn-bush"},
     {NEXT_OWNER, NEXT_VISIT},
     4 + 60 + 12},
    {"the first cure in the house is not it",
     "free-rack",
     false,
     {"turn-bush", "free-rack"},
     {NEXT_VISIT, NEXT_VISIT},
     60 + 12 + 30 + 30},
    {"the house was the wrong place",
     "bend-tail",
     false,
     {"turn-bush"},
     {NEXT_VISIT},
     60 + 12 + 30 + 150 + 35},
    {"the bench was not needed",
     "turn-bush",
     false,
     {"bend-tail"},
     {NEXT_BENCH},
     150 + 35 + 60 + 12},
    {"nothing is known: look", "bend-tail", false, {"look-on-bench"}, {NEXT_BENCH}, 150 + 60 + 35},
    {"no plan at all: go and look", "turn-bush", false, {NULL}, {NEXT_VISIT}, 60 + 30 + 12},
    {"oil in the house does", "clean-and-oil", true, {"clean-and-oil"}, {NEXT_VISIT}, 60 + 45},
    {"oil in the house does not",
     "clean-and-oil",
     false,
     {"clean-and-oil"},
     {NEXT_VISIT},
     60 + 45 + 30 + 150 + 240},
};

static void a_plan_costs_what_the_table_says(void **state)
{
    struct room *r = *state;
    for (size_t i = 0; i < COUNT_OF(plans); i++) {
        struct plan_step step[3];
        size_t n = 0;
        for (; n < 3 && plans[i].step[n]; n++)
            step[n] = (struct plan_step){.cure = plans[i].step[n], .place = plans[i].place[n]};
        struct want want = {minutes_of_cure(&r->table, plans[i].want, NULL), plans[i].oil_does};
        struct spent spent = minutes_of_plan(&r->table, want, step, n);
        assert_near(minutes_spent(&spent), plans[i].minutes, 1e-9);
        struct spent best = minutes_at_best(&r->table, want);
        assert_true(minutes_spent(&best) <= plans[i].minutes + 1e-9);
    }
}

static void the_chart_names_only_cures_that_the_clock_may_want(void **state)
{
    struct room *r = *state;
    const struct clock *rack = library_find_clock(r->lib, "longcase-rack");
    for (int s = 0; s < SYMPTOMS; s++) {
        struct plan_step step[8];
        size_t n = minutes_of_chart(&r->table, (enum symptom)s, r->lib, rack, step, 8);
        assert_true(n > 0 || s == SYMPTOM_CHIME_SILENT || s == SYMPTOM_CHIME_WRONG);
        for (size_t i = 0; i < n; i++)
            assert_string_not_equal(step[i].cure, "set-count-lever");
    }
}

static void the_same_number_gives_the_same_call(void **state)
{
    struct room *r = *state;
    struct pretend_world w;
    pretend_world_init(&w, &r->desk, &r->table.world[1]);
    for (unsigned i = 0; i < 20; i++) {
        struct pretend_call one, two;
        pretend_call_init(&one, &r->desk, &w, i);
        pretend_call_init(&two, &r->desk, &w, i);
        assert_true(sheet_same(&one.sheet, &two.sheet) && one.fault == two.fault);
        assert_true(one.sheet.heards >= 1 && one.sheet.heards <= (size_t)r->table.rows);
        pretend_call_release(&one);
        pretend_call_release(&two);
    }
    pretend_world_release(&w);
}

static void the_world_that_differs_keeps_a_tenth_of_the_calls_from_the_finder(void **state)
{
    struct room *r = *state;
    struct pretend_world same, other;
    int lacking = 0, calls = 400;
    pretend_world_init(&same, &r->desk, &r->table.world[0]);
    pretend_world_init(&other, &r->desk, &r->table.world[1]);
    assert_near(same.lacking_share, 0, 1e-12);
    assert_near(other.lacking_share, 0.1, 0.02);
    for (int i = 0; i < calls; i++) {
        struct pretend_call c;
        pretend_call_init(&c, &r->desk, &other, (unsigned)i);
        lacking += c.lacking;
        assert_true(!c.lacking || pretend_given(&other, c.clock->id, c.fault->id) <= 0);
        pretend_call_release(&c);
    }
    assert_near((double)lacking / calls, 0.1, 0.06); /* four standard errors: 0.015 each */
    pretend_world_release(&same);
    pretend_world_release(&other);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_plan_costs_what_the_table_says),
        cmocka_unit_test(the_chart_names_only_cures_that_the_clock_may_want),
        cmocka_unit_test(the_same_number_gives_the_same_call),
        cmocka_unit_test(the_world_that_differs_keeps_a_tenth_of_the_calls_from_the_finder),
    };
    return cmocka_run_group_tests(tests, open_room, close_room);
}
