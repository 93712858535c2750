/* Learning against sums worked by hand.  Conjugate updates: Gelman et al., "Bayesian Data
 * Analysis", 3rd ed., 2.4 (Beta), 2.6 (Gamma-Poisson), 3.3 (normal), 3.4 (Dirichlet). */
#include "suite.h"

#include <stdio.h>
#include <string.h>

#include "journal/learn.h"
#include "random.h"

#define EXACT 1e-12 /* a few dozen additions of numbers near 1 */

static const struct learn_weights ten = {.shop = 4, .clock = 10, .leaf = 10};

static bool teach(struct learn *l, const char *clock, const char *history, const char *fault,
                  int jobs)
{
    bool placed = true;
    for (int i = 0; i < jobs; i++)
        placed = learn_job(l, clock, history, &fault, 1) && placed;
    return placed;
}

static void without_jobs_the_shipped_priors_stand(void **state)
{
    static const struct shipped_prior rows[] = {
        {"rack", NULL, "tail", 3},
        {"rack", NULL, "hook", 1},
        {"rack", NULL, "never", 0},
        {"count", NULL, "lever", 0.25},
    };
    struct learn *l = learn_new(rows, COUNT_OF(rows), &ten);
    size_t count;
    (void)state;
    assert_near(learn_p(l, "rack", NULL, "tail"), 0.75, EXACT); /* scaled to sum 1 */
    assert_near(learn_p(l, "rack", "moved_house", "hook"), 0.25, EXACT);
    assert_near(learn_p(l, "count", NULL, "lever"), 1, EXACT);
    assert_near(learn_p(l, "rack", NULL, "never"), 0, 0);
    assert_near(learn_p(l, "sundial", NULL, "tail"), 0, 0);
    learn_tilts(l, &count);
    assert_int_equal(count, 0);
    learn_free(l);
}

/* The example of learn.h. */
static void one_clock_is_a_dirichlet_update(void **state)
{
    static const struct shipped_prior rows[] = {{"rack", NULL, "a", 0.8}, {"rack", NULL, "b", 0.2}};
    struct learn *l = learn_new(rows, COUNT_OF(rows), &ten);
    size_t count;
    (void)state;
    assert_true(teach(l, "rack", NULL, "b", 10));
    /* leaf without history words: (10 x 0.2 + 10) / (10 + 10) */
    assert_near(learn_p(l, "rack", "", "b"), 0.6, EXACT);
    /* any other history: the clock level, the same sum */
    assert_near(learn_p(l, "rack", NULL, "b"), 0.6, EXACT);
    assert_near(learn_p(l, "rack", "ran_down", "a"), 0.4, EXACT);
    const struct prior_tilt *tilt = learn_tilts(l, &count);
    assert_int_equal(count, 4); /* two faults, for any history and for none */
    assert_string_equal(tilt[1].fault, "b");
    assert_null(tilt[1].history);
    assert_near(tilt[1].factor, 3, EXACT);
    assert_near(tilt[0].factor, 0.5, EXACT);
    learn_free(l);
}

static void a_history_is_a_leaf_of_its_own_around_the_clock(void **state)
{
    static const struct shipped_prior rows[] = {{"rack", NULL, "a", 0.8}, {"rack", NULL, "b", 0.2}};
    struct learn *l = learn_new(rows, COUNT_OF(rows), &ten);
    (void)state;
    teach(l, "rack", "moved_house", "b", 10);
    teach(l, "rack", "", "a", 6);
    teach(l, "rack", "", "b", 4);
    /* leaf moved_house: the clock level sees only the ten others: (2 + 4) / 20 = 0.3;
     * then (10 x 0.3 + 10) / 20 */
    assert_near(learn_p(l, "rack", "moved_house", "b"), 0.65, EXACT);
    /* leaf without words: clock level (2 + 10) / 20 = 0.6; then (6 + 4) / 20 */
    assert_near(learn_p(l, "rack", "", "b"), 0.5, EXACT);
    /* a history never seen: all twenty jobs at the clock level: (2 + 14) / 30 */
    assert_near(learn_p(l, "rack", "stood_for_years", "b"), 16.0 / 30, EXACT);
    learn_free(l);
}

static void other_clocks_teach_through_the_shops_factor(void **state)
{
    static const struct shipped_prior rows[] = {
        {"rack", NULL, "oil", 0.5},
        {"rack", NULL, "tail", 0.5},
        {"count", NULL, "oil", 0.25},
        {"count", NULL, "lever", 0.75},
    };
    struct learn *l = learn_new(rows, COUNT_OF(rows), &ten);
    (void)state;
    teach(l, "rack", NULL, "oil", 12);
    teach(l, "rack", NULL, "tail", 4);
    /* seen from the count wheel clock: 12 found where 16 x 0.5 = 8 were expected, factor
     * (4 + 12) / (4 + 8) = 4/3; the lever was never in question there: factor 1.
     * q1(oil) = 0.25 x 4/3 / (0.25 x 4/3 + 0.75) = 4/13 */
    assert_near(learn_p(l, "count", NULL, "oil"), 4.0 / 13, EXACT);
    /* the rack clock itself is not moved by its own jobs twice: (10 x 0.5 + 12) / 26 */
    assert_near(learn_p(l, "rack", NULL, "oil"), 17.0 / 26, EXACT);
    learn_free(l);
}

static void histories_shipped_differently_meet_against_what_was_expected(void **state)
{
    static const struct shipped_prior rows[] = {
        {"rack", NULL, "a", 0.8},
        {"rack", NULL, "b", 0.2},
        {"rack", "moved_house", "a", 0.2},
        {"rack", "moved_house", "b", 0.8},
    };
    struct learn *l = learn_new(rows, COUNT_OF(rows), &ten);
    (void)state;
    teach(l, "rack", "", "a", 5);
    teach(l, "rack", "", "b", 5);
    /* 5 a and 5 b where 8 and 2 were expected; around 0.2 and 0.8 with the weight of 10 jobs:
     * a ~ 0.2 (2 + 5)/(2 + 8) = 0.14, b ~ 0.8 (8 + 5)/(8 + 2) = 1.04 */
    assert_near(learn_p(l, "rack", "moved_house", "a"), 0.14 / 1.18, EXACT);
    assert_near(learn_factor(l, "rack", "moved_house", "a"), 0.14 / 1.18 / 0.2, EXACT);
    learn_free(l);
}

static void probabilities_always_sum_to_one(void **state)
{
    static const struct shipped_prior rows[] = {
        {"rack", NULL, "a", 0.5},    {"rack", NULL, "b", 0.3},    {"rack", NULL, "c", 0.2},
        {"rack", "moved", "a", 0.1}, {"rack", "moved", "b", 0.1}, {"rack", "moved", "c", 0.8},
        {"bell", NULL, "a", 0.6},    {"bell", NULL, "d", 0.4},
    };
    static const char *const clocks[] = {"rack", "bell"}, *const words[] = {"", "moved",
                                                                            "dry moved"};
    static const char *const faults[] = {"a", "b", "c", "d"};
    struct learn *l = learn_new(rows, COUNT_OF(rows), NULL);
    struct random chance;
    (void)state;
    random_init(&chance, 5);
    for (int job = 0; job < 200; job++) {
        const char *found[2] = {faults[random_below(&chance, 4)], faults[random_below(&chance, 4)]};
        learn_job(l, clocks[random_below(&chance, 2)], words[random_below(&chance, 3)], found,
                  1 + random_below(&chance, 2));
        for (size_t c = 0; c < 2; c++)
            for (size_t w = 0; w < 3; w++) {
                double sum = 0;
                for (size_t f = 0; f < 4; f++)
                    sum += learn_p(l, clocks[c], words[w], faults[f]);
                assert_near(sum, 1, EXACT);
            }
    }
    assert_int_equal(learn_jobs(l) + learn_unplaced(l), 200);
    learn_free(l);
}

static void two_faults_of_one_job_share_it(void **state)
{
    static const struct shipped_prior rows[] = {{"rack", NULL, "a", 0.8}, {"rack", NULL, "b", 0.2}};
    static const char *const both[] = {"a", "b", "not shipped"};
    struct learn *l = learn_new(rows, COUNT_OF(rows), &ten);
    (void)state;
    assert_true(learn_job(l, "rack", NULL, both, 3));
    assert_near(learn_p(l, "rack", NULL, "b"), 2.5 / 11, EXACT); /* (10 x 0.2 + 1/2) / 11 */
    assert_false(learn_job(l, "rack", NULL, both + 2, 1));
    assert_false(learn_job(l, "sundial", NULL, both, 2));
    assert_int_equal(learn_unplaced(l), 2);
    assert_int_equal(learn_jobs(l), 1);
    learn_free(l);
}

static void the_order_of_history_words_does_not_matter(void **state)
{
    static const struct shipped_prior rows[] = {{"rack", NULL, "a", 0.8}, {"rack", NULL, "b", 0.2}};
    struct learn *l = learn_new(rows, COUNT_OF(rows), &ten);
    (void)state;
    teach(l, "rack", "moved_house ran_down", "b", 3);
    teach(l, "rack", " ran_down  moved_house ran_down", "b", 3);
    assert_near(learn_p(l, "rack", "ran_down moved_house", "b"), 8.0 / 16, EXACT);
    learn_free(l);
}

static void leaving_a_job_out_takes_back_exactly_what_it_taught(void **state)
{
    static const struct shipped_prior rows[] = {{"rack", NULL, "a", 0.7}, {"rack", NULL, "b", 0.3}};
    struct learn *l = learn_new(rows, COUNT_OF(rows), NULL);
    (void)state;
    teach(l, "rack", NULL, "a", 17);
    double before = learn_p(l, "rack", NULL, "b");
    teach(l, "rack", NULL, "b", 1);
    assert_true(learn_p(l, "rack", NULL, "b") > before);
    learn_clear(l);
    assert_near(learn_p(l, "rack", NULL, "b"), 0.3, EXACT);
    teach(l, "rack", NULL, "a", 17);
    assert_true(learn_p(l, "rack", NULL, "b") == before); /* the same sums, bit for bit */
    learn_free(l);
}

static void what_was_learned_is_shown_with_before_after_and_jobs(void **state)
{
    static const struct shipped_prior rows[] = {{"rack", NULL, "a", 0.8}, {"rack", NULL, "b", 0.2}};
    struct learn *l = learn_new(rows, COUNT_OF(rows), &ten);
    size_t count;
    (void)state;
    teach(l, "rack", "moved_house", "b", 10);
    const struct learned *row = learn_show(l, &count);
    assert_int_equal(count, 4);
    assert_null(row[1].history);
    assert_string_equal(row[3].history, "moved_house");
    for (size_t i = 1; i < 4; i += 2) {
        assert_string_equal(row[i].fault, "b");
        assert_near(row[i].before, 0.2, EXACT);
        assert_near(row[i].found, 10, 0);
        assert_near(row[i].jobs, 10, 0);
        assert_near(row[i].after, 0.6, EXACT);
    }
    learn_free(l);
}

static void a_callers_error_rate_is_a_beta_update(void **state)
{
    struct error_rate r = error_rate_of(0.1, 20); /* Beta(2, 18) */
    (void)state;
    assert_near(error_rate_mean(&r), 0.1, EXACT);
    error_rate_learn(&r, 10, 4); /* Beta(6, 24) */
    assert_near(error_rate_mean(&r), 0.2, EXACT);
    error_rate_learn(&r, 3, 4); /* more wrong than said: not counted */
    error_rate_learn(&r, -1, 0);
    assert_near(error_rate_mean(&r), 0.2, EXACT);
}

static void minutes_run_to_the_mean_and_variance_of_the_sample(void **state)
{
    /* 2 4 4 4 5 5 7 9: mean 5, sum of squared deviations 32, variance 32/7 */
    static const double x[] = {2, 4, 4, 4, 5, 5, 7, 9};
    struct running r = {0}, far = {0};
    (void)state;
    assert_near(running_variance(&r), 0, 0);
    for (size_t i = 0; i < COUNT_OF(x); i++) {
        running_add(&r, x[i]);
        running_add(&far, x[i] + 1e9); /* squares of these would swallow the digits */
    }
    assert_near(r.mean, 5, EXACT);
    assert_near(running_variance(&r), 32.0 / 7, EXACT);
    assert_near(running_variance(&far), 32.0 / 7, 1e-6);

    /* shipped 8 min +- 3 with the weight of 4 jobs: shape 3, scale 9 x 2 = 18.
     * mean (4 x 8 + 8 x 5) / 12 = 6; shape 3 + 4 = 7;
     * scale 18 + 32/2 + 4 x 8 x 9 / (2 x 12) = 18 + 16 + 12 = 46; deviation sqrt(46/6) */
    struct minutes m = minutes_learned(minutes_of(8, 3, 4), &r);
    assert_near(m.mean, 6, EXACT);
    assert_near(m.weight, 12, EXACT);
    assert_near(m.shape, 7, EXACT);
    assert_near(m.scale, 46, EXACT);
    assert_near(minutes_deviation(&m), sqrt(46.0 / 6), EXACT);
    struct minutes same = minutes_learned(minutes_of(8, 3, 4), &(struct running){0});
    assert_near(same.mean, 8, 0);
    assert_near(minutes_deviation(&same), 3, EXACT);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(without_jobs_the_shipped_priors_stand),
        cmocka_unit_test(one_clock_is_a_dirichlet_update),
        cmocka_unit_test(a_history_is_a_leaf_of_its_own_around_the_clock),
        cmocka_unit_test(other_clocks_teach_through_the_shops_factor),
        cmocka_unit_test(histories_shipped_differently_meet_against_what_was_expected),
        cmocka_unit_test(probabilities_always_sum_to_one),
        cmocka_unit_test(two_faults_of_one_job_share_it),
        cmocka_unit_test(the_order_of_history_words_does_not_matter),
        cmocka_unit_test(leaving_a_job_out_takes_back_exactly_what_it_taught),
        cmocka_unit_test(what_was_learned_is_shown_with_before_after_and_jobs),
        cmocka_unit_test(a_callers_error_rate_is_a_beta_update),
        cmocka_unit_test(minutes_run_to_the_mean_and_variance_of_the_sample),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
