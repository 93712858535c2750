/* Training rounds: made from the simulator, marked against finder and planner. */
#include "suite.h"

#include <string.h>

#include "diagnose/next_step.h"
#include "drill/drill.h"
#include "err.h"
#include "mem.h"

static struct library *lib;
static struct words *words;
static struct finder *finder;

static int load(void **state)
{
    struct err e = {0};
    (void)state;
    lib = library_load("chimes", &e);
    words = words_load("chimes/words.yaml", &e);
    err_print(&e, stderr);
    if (!lib || !words)
        return -1;
    finder = finder_new(lib);
    return 0;
}

static int unload(void **state)
{
    (void)state;
    finder_free(finder);
    words_free(words);
    library_free(lib);
    return 0;
}

static size_t two_places(const struct clock *c, struct oil_place *list, size_t room)
{
    (void)c;
    (void)room;
    list[0] = (struct oil_place){"Pivots", "clock oil", "Fill the space between pivot and hole."};
    list[1] = (struct oil_place){"Levers", "sources differ", NULL};
    return 2;
}

static struct training training(uint64_t seed)
{
    struct training t = {.lib = lib, .words = words, .finder = finder, .oil = two_places};
    random_init(&t.random, seed);
    return t;
}

static void check_choices(const struct round *r)
{
    assert_true(r->choices >= 2);
    for (size_t i = 0; i < r->choices; i++)
        for (size_t k = 0; k < i; k++)
            assert_string_not_equal(r->choice[i].text, r->choice[k].text);
}

/* Follow the expert to the end; returns the number of choices made. */
static int play_best(struct round *r)
{
    int n = 0;
    for (; !r->done && n < 200; n++) {
        size_t best = round_best(r);
        assert_true(best != ROUND_NO_CHOICE);
        assert_true(round_choose(r, best));
        assert_non_null(r->came);
    }
    assert_true(r->done);
    assert_non_null(r->review);
    return n;
}

static void the_expert_is_right_wherever_minutes_do_not_decide(void **state)
{
    static const enum round_kind kinds[] = {ROUND_TIME, ROUND_CLOCK, ROUND_OIL, ROUND_DEFECT};
    (void)state;
    for (size_t k = 0; k < COUNT_OF(kinds); k++)
        for (uint64_t seed = 1; seed <= 6; seed++) {
            struct training t = training(seed);
            struct round *r = round_new(&t, kinds[k], 3);
            assert_non_null(r);
            check_choices(r);
            play_best(r);
            assert_true(r->right);
            assert_int_equal(r->score, 100);
            round_free(r);
        }
}

static void only_one_name_is_right(void **state)
{
    static const enum round_kind kinds[] = {ROUND_TIME, ROUND_CLOCK, ROUND_DEFECT};
    (void)state;
    for (size_t k = 0; k < COUNT_OF(kinds); k++) {
        int right = 0;
        for (size_t choice = 0; choice < 4; choice++) {
            struct training t = training(11); /* the same round again */
            struct round *r = round_new(&t, kinds[k], 3);
            assert_int_equal(r->choices, 4);
            assert_true(round_choose(r, choice));
            right += r->right;
            assert_int_equal(r->score, r->right ? 100 : 0);
            assert_false(round_choose(r, 0)); /* it is over */
            round_free(r);
        }
        assert_int_equal(right, 1);
    }
}

static void who_follows_the_planner_sets_the_clock_in_step_in_just_its_minutes(void **state)
{
    (void)state;
    for (uint64_t seed = 1; seed <= 60; seed++) {
        struct training t = training(seed);
        struct round *r = round_new(&t, ROUND_RESET, 2 + (int)(seed % 4));
        assert_non_null(r);
        double best = r->best_min;
        assert_true(best > 0);
        play_best(r);
        assert_true(r->right);
        assert_near(r->spent_min, best, 1e-6);
        assert_int_equal(r->score, 100);
        round_free(r);
    }
}

static void saying_it_is_in_step_when_it_is_not_costs_minutes(void **state)
{
    (void)state;
    struct training t = training(3);
    struct round *r = round_new(&t, ROUND_RESET, 3);
    assert_non_null(strstr(r->choice[0].text, "in step"));
    round_choose(r, 0);
    assert_false(r->done);
    assert_near(r->spent_min, 10, 1e-9);
    play_best(r);
    assert_true(r->right);
    assert_true(r->score < 70);
    round_free(r);
}

/* A hint is the finder's next move, and the mark is what the finder took by the same rules. */
static void who_follows_the_finder_finds_the_fault_in_just_its_minutes(void **state)
{
    (void)state;
    for (uint64_t seed = 1; seed <= 8; seed++) {
        struct training t = training(seed);
        struct round *r = round_new(&t, ROUND_FAULT, 2 + (int)(seed % 4));
        assert_non_null(r);
        assert_true(r->best_min > 0);
        check_choices(r);
        play_best(r);
        assert_true(r->right);
        assert_near(r->spent_min, r->best_min, 1e-9);
        assert_int_equal(r->score, 100);
        round_free(r);
    }
}

/* A choice whose text begins so; ROUND_NO_CHOICE. */
static size_t choice_like(const struct round *r, const char *begins, size_t skip)
{
    for (size_t i = 0; i < r->choices; i++)
        if (!strncmp(r->choice[i].text, begins, strlen(begins)) && !skip--)
            return i;
    return ROUND_NO_CHOICE;
}

/* A journey and a cure for the wrong cause are paid for, and the fault is still to be found. */
static void naming_the_wrong_cause_costs_its_cure_and_the_way(void **state)
{
    int vain = 0;
    (void)state;
    for (size_t pick = 0; pick < 6; pick++) {
        struct training t = training(2);
        struct round *r = round_new(&t, ROUND_FAULT, 3);
        size_t name = choice_like(r, "It is: ", pick);
        if (name == ROUND_NO_CHOICE) {
            round_free(r);
            break;
        }
        double minutes = r->choice[name].minutes;
        round_choose(r, name);
        assert_near(r->spent_min, minutes, 1e-9);
        if (!r->done) {
            assert_non_null(strstr(r->came, "for nothing"));
            play_best(r);
            assert_true(r->spent_min > minutes);
            assert_true(!r->right || r->score == 100);
            vain++;
        }
        round_free(r);
    }
    assert_true(vain > 0);
}

/* Looking always finds it: from the telephone that is the way, the look and what it then wants. */
static void looking_finds_it_whatever_it_is(void **state)
{
    (void)state;
    for (uint64_t seed = 1; seed <= 3; seed++) {
        struct training t = training(seed);
        struct round *r = round_new(&t, ROUND_FAULT, 4);
        size_t look = choice_like(r, "Go there and look", 0);
        assert_true(look != ROUND_NO_CHOICE);
        assert_near(r->choice[look].minutes, VISIT_MIN + LOOK_VISIT_MIN, 1e-9);
        round_choose(r, look);
        assert_true(r->done);
        assert_true(r->spent_min >= VISIT_MIN + LOOK_VISIT_MIN);
        assert_non_null(strstr(r->came, "Looking finds it"));
        round_free(r);
    }
}

static void the_same_seed_gives_the_same_session(void **state)
{
    struct training a = training(42), b = training(42);
    struct drill one, two;
    (void)state;
    drill_init(&one, &a, 1);
    drill_init(&two, &b, 1);
    for (int i = 0; i < 8; i++) {
        struct round *r = drill_next(&one), *s = drill_next(&two);
        assert_string_equal(r->prompt, s->prompt);
        play_best(r);
        play_best(s);
        drill_take(&one, r);
        drill_take(&two, s);
        assert_int_equal(r->score, s->score);
        round_free(r);
        round_free(s);
    }
    drill_release(&one);
    drill_release(&two);
}

static void good_rounds_raise_the_level_and_bad_ones_lower_it(void **state)
{
    struct training t = training(1);
    struct drill d;
    struct round good = {.score = 100, .right = true, .part = "rack"}, bad = {.score = 0, .part = "rack", .prompt = "p", .review = "r"};
    (void)state;
    drill_init(&d, &t, 1);
    for (int i = 0; i < 3; i++)
        drill_take(&d, &good);
    assert_int_equal(d.level, 2);
    drill_take(&d, &bad);
    assert_int_equal(d.level, 2);
    drill_take(&d, &bad);
    assert_int_equal(d.level, 1);
    assert_int_equal(d.misses, 2);
    assert_string_equal(d.miss[0].review, "r");
    assert_near(drill_score(&d), 60, 1e-9);
    for (int i = 0; i < 40; i++)
        drill_take(&d, &good);
    assert_int_equal(d.level, 5);
    drill_release(&d);
}

/* Weak parts come up again: more of the drawn faults sit in them. */
static void weak_parts_come_up_more_often(void **state)
{
    static const char *const weak[] = {"hammer"};
    int with = 0, without = 0;
    (void)state;
    for (uint64_t seed = 1; seed <= 24; seed++) {
        struct training t = training(seed), u = training(seed);
        t.weak = weak;
        t.weaks = 1;
        struct round *r = round_new(&t, ROUND_DEFECT, 3), *s = round_new(&u, ROUND_DEFECT, 3);
        with += r && !strcmp(r->part, "hammer");
        without += s && !strcmp(s->part, "hammer");
        round_free(r);
        round_free(s);
    }
    assert_true(with > without);
}

static void where_sources_differ_keeping_it_dry_is_no_mistake(void **state)
{
    (void)state;
    struct training t = training(9);
    struct round *r = round_new(&t, ROUND_OIL, 1);
    while (!r->done) /* two places: oil the pivots, keep the levers dry */
        round_choose(r, strstr(r->prompt, "Pivots") ? 0 : 2);
    assert_true(r->right);
    round_free(r);
    t.oil = NULL;
    assert_null(round_new(&t, ROUND_OIL, 1));
}

static void kinds_are_named(void **state)
{
    (void)state;
    for (int k = 0; k < ROUND_KINDS; k++)
        assert_int_equal(round_kind_of(round_kind_name((enum round_kind)k)), k);
    assert_int_equal(round_kind_of("tea"), -1);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_expert_is_right_wherever_minutes_do_not_decide),
        cmocka_unit_test(only_one_name_is_right),
        cmocka_unit_test(who_follows_the_planner_sets_the_clock_in_step_in_just_its_minutes),
        cmocka_unit_test(saying_it_is_in_step_when_it_is_not_costs_minutes),
        cmocka_unit_test(who_follows_the_finder_finds_the_fault_in_just_its_minutes),
        cmocka_unit_test(naming_the_wrong_cause_costs_its_cure_and_the_way),
        cmocka_unit_test(looking_finds_it_whatever_it_is),
        cmocka_unit_test(the_same_seed_gives_the_same_session),
        cmocka_unit_test(good_rounds_raise_the_level_and_bad_ones_lower_it),
        cmocka_unit_test(weak_parts_come_up_more_often),
        cmocka_unit_test(where_sources_differ_keeping_it_dry_is_no_mistake),
        cmocka_unit_test(kinds_are_named),
    };
    return cmocka_run_group_tests(tests, load, unload);
}
