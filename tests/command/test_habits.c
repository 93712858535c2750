/* What closed jobs say of callers and pace, against updates worked by hand. */
#include "suite.h"

#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "command/habits.h"
#include "command/shop.h"
#include "diagnose/next_step.h"
#include "journal/journal_jobs.h"

static char place[64];

static int setup(void **state)
{
    (void)state;
    snprintf(place, sizeof place, "/tmp/letoff-habits-%d.db", (int)getpid());
    return 0;
}

static int teardown(void **state)
{
    static const char *const end[] = {"", "-wal", "-shm"};
    (void)state;
    for (size_t i = 0; i < COUNT_OF(end); i++) {
        char path[80];
        snprintf(path, sizeof path, "%s%s", place, end[i]);
        unlink(path);
    }
    return 0;
}

static void counts_scale_the_whole_line(void **state)
{
    struct habits h;
    (void)state;
    habits_init(&h);
    habits_hear(&h, "count", 40, 8);
    /* shipped 0.046 at six blows weighs 100 statements: (4.6 + 8) / 140 = 0.09 */
    double factor = 0.09 / 0.046;
    assert_near(h.ear.miscount, ear_usual.miscount * factor, 1e-12);
    assert_near(h.ear.miscount_each, ear_usual.miscount_each * factor, 1e-12);
    assert_true(h.ear_learned);
    habits_release(&h);
}

static void each_kind_moves_its_own_rate(void **state)
{
    struct habits h;
    (void)state;
    habits_init(&h);
    habits_hear(&h, "tune", 50, 0);
    assert_near(h.ear.tune_missed, 100 * ear_usual.tune_missed / 150, 1e-12);
    assert_near(h.ear.miscount, ear_usual.miscount, 0);
    habits_hear(&h, "noticing", 100, 90);
    assert_near(h.ear.unnoticed, 0.5, 1e-12); /* never taken beyond the shipped rate or 0.45 */
    habits_hear(&h, "silence", 100, 1);
    assert_near(h.ear.asleep, (1 + 1) / 200.0, 1e-12);
    habits_release(&h);
}

static void unknown_kinds_and_impossible_counts_move_nothing(void **state)
{
    struct habits h;
    (void)state;
    habits_init(&h);
    habits_hear(&h, "time", 10, 9);
    habits_hear(&h, "count", 0, 0);
    habits_hear(&h, "count", 3, 4);
    assert_false(h.ear_learned);
    assert_memory_equal(&h.ear, &ear_usual, sizeof h.ear);
    habits_release(&h);
}

/* Two closed jobs with 60 and 40 minutes of one cure; the shipped 20 weigh four jobs. */
static void minutes_of_the_shop_move_the_minutes_of_the_cure(void **state)
{
    struct err e = {0};
    struct journal *j = journal_open(place, NULL, &e);
    (void)state;
    assert_non_null(j);
    for (int i = 0; i < 2; i++) {
        char id[RECORD_ID_LENGTH + 1];
        struct done_work work = {"clean-and-oil", i ? 40 : 60};
        struct heard_check check = {"count", 20, 4};
        struct closing c = {.work = &work, .work_count = 1, .checks = &check, .check_count = 1, .minutes = -1};
        assert_true(job_add(j, &(struct new_call){.customer = "Mill Lane"}, id, &e));
        assert_true(job_close(j, id, &c, &e));
    }
    journal_close(j);
    struct habits h;
    habits_init(&h);
    assert_true(habits_read(&h, place, &e));
    assert_near(habits_minutes(&h, "clean-and-oil", 20), (4 * 20 + 60 + 40) / 6.0, 1e-9);
    assert_near(habits_minutes(&h, "something-else", 20), 20, 0);
    assert_near(h.ear.miscount, ear_usual.miscount * 0.09 / 0.046, 1e-12);
    struct belief_options o = {.pairs = false};
    habits_teach(&h, &o);
    assert_ptr_equal(o.ear, &h.ear);
    assert_near(o.minutes(o.minutes_with, "clean-and-oil", 20), 30, 1e-9);
    habits_release(&h);
}

static double twice(void *with, const char *cure, double shipped)
{
    (void)cure;
    ++*(int *)with;
    return 2 * shipped;
}

/* The finder reckons with them: dearer cures, dearer plan; deafer callers, a flatter belief. */
static void the_finder_reckons_with_both(void **state)
{
    struct err e = {0};
    struct desk d = {0};
    struct belief plain, slow, deaf;
    struct habits h;
    const char *heard = "1:00 s1, 6:00 s5, 9:00 s8";
    int asked = 0;
    (void)state;
    assert_true(desk_open(&d, &e));
    assert_true(desk_clock(&d, "longcase-rack", &e));
    assert_true(sheet_parse_shorthand(&d.sheet, heard, strlen(heard), &e));
    assert_true(belief_find(d.finder, &d.sheet, NULL, &plain));
    assert_true(belief_find(d.finder, &d.sheet, &(struct belief_options){.minutes = twice, .minutes_with = &asked}, &slow));
    assert_true(next_plan_cost(d.finder, &slow) > next_plan_cost(d.finder, &plain));
    assert_true(asked > 0);
    habits_init(&h);
    habits_hear(&h, "count", 400, 160);
    struct belief_options o = {.pairs = false};
    habits_teach(&h, &o);
    assert_true(belief_find(d.finder, &d.sheet, &o, &deaf));
    assert_true(deaf.cause[0].p < plain.cause[0].p);
    belief_release(&plain);
    belief_release(&slow);
    belief_release(&deaf);
    habits_release(&h);
    desk_close(&d);
}

static void a_journal_that_is_not_there_leaves_the_shipped_habits(void **state)
{
    struct err e = {0};
    struct habits h;
    struct belief_options o = {.pairs = false};
    (void)state;
    habits_init(&h);
    assert_false(habits_read(&h, "/tmp/letoff-there-is-no-such.db", &e));
    assert_int_equal(e.count, 1);
    habits_teach(&h, &o);
    assert_null(o.ear);
    assert_null(o.minutes);
    habits_release(&h);
    err_release(&e);
}

int main(void)
{
#define T(test) cmocka_unit_test_setup_teardown(test, setup, teardown)
    const struct CMUnitTest tests[] = {
        T(counts_scale_the_whole_line), T(each_kind_moves_its_own_rate),
        T(unknown_kinds_and_impossible_counts_move_nothing), T(minutes_of_the_shop_move_the_minutes_of_the_cure),
        T(the_finder_reckons_with_both), T(a_journal_that_is_not_there_leaves_the_shipped_habits),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
