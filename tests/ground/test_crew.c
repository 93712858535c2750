/* Every piece is done once, whoever does it. */
#include "suite.h"

#include <stdatomic.h>
#include "crew.h"
#include "mem.h"

struct pieces {
    atomic_int *done;
    atomic_int by_hand[CREW_MOST];
};

static void one(void *with, size_t i, size_t hand)
{
    struct pieces *p = with;
    assert_true(hand < CREW_MOST);
    atomic_fetch_add(&p->done[i], 1);
    atomic_fetch_add(&p->by_hand[hand], 1);
}

static void each_piece_is_done_once(void **state)
{
    static const size_t counts[] = {0, 1, 2, 7, 1000}, hands[] = {0, 1, 2, CREW_MOST, CREW_MOST + 90};
    (void)state;
    for (size_t c = 0; c < sizeof counts / sizeof *counts; c++)
        for (size_t h = 0; h < sizeof hands / sizeof *hands; h++) {
            struct pieces p = {.done = mem_alloc((counts[c] + 1) * sizeof *p.done)};
            int sum = 0;
            crew_run(counts[c], hands[h], one, &p);
            for (size_t i = 0; i < counts[c]; i++)
                assert_int_equal(atomic_load(&p.done[i]), 1);
            for (size_t i = 0; i < CREW_MOST; i++)
                sum += atomic_load(&p.by_hand[i]);
            assert_int_equal(sum, (int)counts[c]);
            if (hands[h] <= 1)
                assert_int_equal(atomic_load(&p.by_hand[0]), (int)counts[c]);
            mem_free(p.done);
        }
}

static void there_is_at_least_one_processor(void **state)
{
    (void)state;
    assert_in_range(crew_hands(), 1, CREW_MOST);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(each_piece_is_done_once),
        cmocka_unit_test(there_is_at_least_one_processor),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
