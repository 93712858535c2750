#include "diagnose/finder_desk.h"

#include <math.h>
#include <string.h>
#include "diagnose/evidence.h"
#include "diagnose/puzzle.h"
#include "diagnose/sweep.h"
#include "diagnose/tuned.h"
#include "diagnose/unknown.h"

#define ONE_MEMBER(name) &tuned_times.name,
static double *const times[] = {TUNED_TABLE(ONE_MEMBER)};

static void take_all(double so_many)
{
    for (size_t i = 0; i < COUNT_OF(times); i++)
        *times[i] = so_many;
}

static void numbers_are_as_written_until_they_are_taken_otherwise(void **state)
{
    (void)state;
    assert_near(SEEN_HIT, 0.6, 1e-12);
    assert_near(FILTER_STRICT, 6, 1e-12);
    take_all(0.5);
    assert_near(SEEN_HIT, 0.3, 1e-12);
    assert_near(SEEN_FALSE, 0.025, 1e-12);
    assert_near(FILTER_STRICT, 3, 1e-12);
    assert_near(PUZZLED, 10, 1e-12);
    take_all(2);
    assert_near(SWEEP_GAP, 0.6, 1e-12);
    assert_near(UNKNOWN_SEEN, 0.32, 1e-12);
    assert_near(SEEN_HIT, 0.95, 1e-12); /* a chance stays one */
    take_all(1);
    assert_near(SEEN_HIT, 0.6, 1e-12);
}

/* Of the unknown cause, which all others are weighed against. */
static double unknown_with(struct desk *d, double *number, double so_many, const char *told)
{
    struct finder *f = finder_new(d->lib);
    struct sheet s;
    struct belief b = {0};
    sheet_init(&s, d->words);
    assert_true(sheet_parse(&s, "call", told, strlen(told), NULL));
    *number = so_many;
    assert_true(belief_find(f, &s, NULL, &b));
    *number = 1;
    double p = belief_cause_of(&b, "unknown")->p;
    belief_release(&b);
    sheet_release(&s);
    finder_free(f);
    return p;
}

static void what_is_taken_otherwise_moves_the_belief(void **state)
{
    struct desk *d = *state;
    static const char told[] = "clock: longcase-rack\nhistory: [hands_turned_back]\nseen: [rack_sticks]\n"
                               "heard:\n  - {at: \"3:00\", strike: 2}\n  - {at: \"4:00\", strike: 3}\n";
    static const struct {
        const char *name;
        double *number;
    } rows[] = {
        {"tilt_strength", &tuned_times.tilt_strength},
        {"seen_hit", &tuned_times.seen_hit},
        {"unknown_seen", &tuned_times.unknown_seen},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        double usual = unknown_with(d, rows[i].number, 1, told);
        if (fabs(unknown_with(d, rows[i].number, 0.5, told) - usual) < 1e-4)
            fail_msg("half of %s changes nothing", rows[i].name);
        assert_near(unknown_with(d, rows[i].number, 1, told), usual, 1e-12);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(numbers_are_as_written_until_they_are_taken_otherwise),
        cmocka_unit_test(what_is_taken_otherwise_moves_the_belief),
    };
    return cmocka_run_group_tests(tests, open_desk, close_desk);
}
