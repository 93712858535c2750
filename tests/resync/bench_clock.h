/* bench_clock.h - a clock in order on the bench, for the suites of this folder. */
#ifndef LETOFF_TESTS_BENCH_CLOCK_H
#define LETOFF_TESTS_BENCH_CLOCK_H

#include "movement/known_clocks.h"

#include "mem.h"
#include "resync/presume.h"

struct bench_clock {
    struct works w;
    struct reset r;
};

static inline void bench_take(struct bench_clock *b, const struct clock *c, int target_min)
{
    assert_non_null(c);
    works_init(&b->w, c, NULL, 0);
    reset_init(&b->r, &b->w, target_min, NULL);
}

static inline void bench_put(struct bench_clock *b, const char *clock, int target_min)
{
    bench_take(b, library_find_clock(lib, clock), target_min);
}

/* Hands at `shown_min`, everything in step. */
static inline struct stance bench_stance(const struct bench_clock *b, int shown_min)
{
    struct moment m = {.work_min = movement_work_at(&b->w, shown_min)};
    struct chance chance;
    m.rest = rest_in_step(&b->w, (m.work_min + 1) % 1440);
    chance_script(&chance, 1e-9);
    movement_turn(&b->w, &m, 0, BY_HAND, &chance, NULL);
    return stance_of(&b->w, &m);
}

#endif
