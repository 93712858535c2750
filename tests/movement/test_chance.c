/* A fork is walked whole: weights of all branches and what was lost sum to one, and the same code
 * drawn many times agrees with the exact weights. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>

#include "movement/chance.h"

#define assert_near(a, b, eps) assert_true(fabs((a) - (b)) <= (eps))

/* A small tree: a coin; heads leads to a die of three, tails to nothing. */
static int leaf(struct chance *c)
{
    if (!chance_yes(c, 0.3))
        return 0;
    return 1 + (int)chance_pick(c, (double[]){1, 0, 3}, 3);
}

static void walking_every_branch_gives_exact_weights(void **state)
{
    (void)state;
    struct chance c;
    double p[4] = {0};
    chance_script(&c, 0);
    do {
        chance_rewind(&c);
        int at = leaf(&c);
        p[at] += c.weight;
    } while (chance_next(&c));
    assert_near(p[0], 0.7, 1e-6);
    assert_near(p[1], 0.075, 1e-6);
    assert_near(p[2], 0, 1e-9);
    assert_near(p[3], 0.225, 1e-6);
}

static void what_is_too_light_to_walk_is_counted_as_lost(void **state)
{
    (void)state;
    struct chance c;
    double sum = 0;
    chance_script(&c, 0.1);
    do {
        chance_rewind(&c);
        leaf(&c);
        sum += c.weight;
    } while (chance_next(&c));
    assert_near(sum + c.lost, 1, 1e-6);
    assert_near(c.lost, 0.075, 1e-6);
}

static void drawing_agrees_with_walking(void **state)
{
    (void)state;
    struct random r;
    struct chance c;
    int n[4] = {0};
    random_init(&r, 7);
    for (int i = 0; i < 20000; i++) {
        chance_draw(&c, &r);
        n[leaf(&c)]++;
    }
    assert_near(n[0] / 20000.0, 0.7, 0.012); /* four standard errors */
    assert_near(n[3] / 20000.0, 0.225, 0.012);
    assert_int_equal(n[2], 0);
}

static void certain_and_impossible_things_are_no_forks(void **state)
{
    (void)state;
    struct chance c;
    chance_script(&c, 0);
    chance_rewind(&c);
    assert_true(chance_yes(&c, 1));
    assert_false(chance_yes(&c, 0));
    assert_int_equal(c.length, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(walking_every_branch_gives_exact_weights),
        cmocka_unit_test(what_is_too_light_to_walk_is_counted_as_lost),
        cmocka_unit_test(drawing_agrees_with_walking),
        cmocka_unit_test(certain_and_impossible_things_are_no_forks),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
