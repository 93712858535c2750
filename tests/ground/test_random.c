#include "suite.h"

#include <math.h>

#include "random.h"

static void the_same_seed_gives_the_same_numbers(void **state)
{
    (void)state;
    struct random a, b;
    random_init(&a, 42);
    random_init(&b, 42);
    for (int i = 0; i < 100; i++)
        assert_true(random_bits(&a) == random_bits(&b));
    random_init(&b, 43);
    assert_true(random_bits(&a) != random_bits(&b));
}

static void any_seed_leaves_a_living_generator(void **state)
{
    (void)state;
    static const uint64_t seeds[] = {0, 1, UINT64_MAX, 0x61C8864680B583EBu};
    for (size_t i = 0; i < COUNT_OF(seeds); i++) {
        struct random r;
        random_init(&r, seeds[i]);
        assert_true(r.state != 0);
        assert_true(random_bits(&r) != random_bits(&r));
    }
}

/* xorshift64* from state 1: shifts 12, 25, 27 give 0x2000001, times the multiplier of the paper
 * named in random.h, worked by hand modulo 2^64. */
static void one_step_is_the_published_algorithm(void **state)
{
    (void)state;
    struct random r = {1};
    uint64_t bits = random_bits(&r);
    assert_true(r.state == 0x2000001u);
    assert_true(bits == 0x2000001u * 0x2545F4914F6CDD1Du);
}

static void units_and_bounded_numbers_stay_in_range_and_fill_it(void **state)
{
    (void)state;
    struct random r;
    random_init(&r, 7);
    int seen[6] = {0};
    double sum = 0;
    for (int i = 0; i < 60000; i++) {
        double u = random_unit(&r);
        assert_true(u >= 0 && u < 1);
        sum += u;
        unsigned n = random_below(&r, 6);
        assert_true(n < 6);
        seen[n]++;
        assert_int_equal(random_below(&r, 1), 0);
    }
    assert_near(sum / 60000, 0.5, 0.006); /* five deviations: 5 * 0.2887 / sqrt(60000) */
    for (int i = 0; i < 6; i++)
        assert_in_range(seen[i], 10000 - 460, 10000 + 460); /* five deviations of 91 */
}

static void normal_numbers_have_mean_zero_and_deviation_one(void **state)
{
    (void)state;
    struct random r;
    random_init(&r, 11);
    double sum = 0, squares = 0;
    int n = 40000;
    for (int i = 0; i < n; i++) {
        double x = random_normal(&r);
        assert_true(isfinite(x));
        sum += x;
        squares += x * x;
    }
    assert_near(sum / n, 0, 5 / sqrt(n));
    assert_near(squares / n, 1, 5 * sqrt(2.0 / n));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_same_seed_gives_the_same_numbers),
        cmocka_unit_test(any_seed_leaves_a_living_generator),
        cmocka_unit_test(one_step_is_the_published_algorithm),
        cmocka_unit_test(units_and_bounded_numbers_stay_in_range_and_fill_it),
        cmocka_unit_test(normal_numbers_have_mean_zero_and_deviation_one),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
