/* Every fault on every clock it can occur on: it must change what is heard or seen somewhere, or be
 * latent and be woken by one of the conditions below (power low, strike run down first, hands
 * turned back ...).  Faults whose whole behaviour is the same on a clock cannot be told apart by
 * any report of it: they are printed, and count as one. */
#include "movement/known_clocks.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "mem.h"
#include "movement/move.h"

/* --- how a run went, as one number ------------------------------------------------------------ */

static uint64_t mixed(uint64_t h, uint64_t x)
{
    h ^= x + 0x9e3779b97f4a7c15u + (h << 6) + (h >> 2);
    return h * 0xff51afd7ed558ccdu;
}

static uint64_t event_number(const struct event *e, double since_s)
{
    uint64_t tempo = since_s < 30 ? (uint64_t)llround(since_s * 20) : 999;
    return (uint64_t)e->kind | (uint64_t)e->train << 8 | (uint64_t)e->sounder << 16 |
           (uint64_t)e->quality << 24 | (uint64_t)(uint16_t)e->hand_min << 32 | tempo << 48 |
           (uint64_t)(e->strength * 10) << 58;
}

static uint64_t signature(const struct event_list *events, const struct moment *m, const struct works *w)
{
    uint64_t h = 1;
    double last = 0;
    for (size_t i = 0; i < events->count; i++) {
        h = mixed(h, event_number(&events->at[i], events->at[i].t_s - last));
        last = events->at[i].t_s;
    }
    h = mixed(h, (uint64_t)m->rest.stuck);
    h = mixed(h, (uint64_t)(w->par[PAR_going_slow] * 64)); /* seen, not heard */
    return mixed(h, (uint64_t)(w->par[PAR_hour_loose] * 8));
}

/* --- conditions ------------------------------------------------------------------------------------ */

enum wake { AS_IT_IS, POWER_IS_LOW, RUN_DOWN_FIRST, TURNED_BACK, NIGHT_PASSES, WAKES };
static const char *const wake_names[WAKES] = {"as it is", "power low", "strike run down first",
                                              "hands turned back", "a day and a night"};

static void all_low(struct moment *m, const struct clock *c)
{
    for (int t = TRAIN_STRIKE; t < TRAINS; t++)
        if (clock_train(c, (enum event_train)t))
            rest_set_power(&m->rest, t, POWER_LOW);
}

/* Strike out of power from eleven to three, then wound; hands go on meanwhile. */
static void run_down(const struct works *w, struct moment *m, struct chance *c, struct event_list *out)
{
    if (!clock_train(w->clock, TRAIN_STRIKE))
        return;
    rest_set_power(&m->rest, TRAIN_STRIKE, POWER_OUT);
    movement_turn(w, m, 4 * 60, BY_TIME, c, out);
    movement_do(w, m, ACTION_WIND, 0, c, out);
}

static uint64_t run_once(const struct works *w, struct rest start, int min, enum wake wake, uint64_t seed)
{
    struct event_list events = {0};
    struct moment m;
    struct chance chance;
    struct random r;
    random_init(&r, seed);
    chance_draw(&chance, &r);
    moment_init(&m, w, min);
    m.rest = start;
    if (wake == POWER_IS_LOW)
        all_low(&m, w->clock);
    if (wake == RUN_DOWN_FIRST)
        run_down(w, &m, &chance, &events);
    if (wake == TURNED_BACK) {
        movement_turn(w, &m, 57, BY_HAND, &chance, &events);
        movement_turn(w, &m, -90, BY_HAND, &chance, &events);
    }
    movement_turn(w, &m, wake == NIGHT_PASSES || w->clock->cycle_min == 1440 ? 1440 : 725, BY_TIME, &chance, &events);
    uint64_t h = signature(&events, &m, w);
    event_list_release(&events);
    return h;
}

#define SEEDS 3
#define MOST 8 /* variants looked at for telling faults apart */
#define BEGIN_MIN (10 * 60 + 40)

struct behaviour {
    uint64_t seen[512];
    size_t count;
};

static void behaviour_add(struct behaviour *b, uint64_t h)
{
    for (size_t i = 0; i < b->count; i++)
        if (b->seen[i] == h)
            return;
    if (b->count < 512)
        b->seen[b->count++] = h;
}

/* Everything the variants of a fault do on a clock under one condition (every variant where there are
 * few, an even choice of them where there are many). */
static void behave(const struct fault *f, const struct clock *c, enum wake wake, struct behaviour *b)
{
    struct change change[FAULT_SETS + FAULT_AXES + 1];
    struct start start[128];
    double weight, severity;
    size_t n = fault_variants(f, c), step = n > MOST ? n / MOST : 1;
    for (size_t v = 0; v < n; v += step) {
        struct works w;
        works_init(&w, c, change, fault_variant(f, c, v, change, &weight, &severity));
        size_t starts = fault_starts(f, &w, BEGIN_MIN, start, 128);
        for (size_t i = 0; i < starts; i++)
            for (uint64_t seed = 1; seed <= 2; seed++)
                behaviour_add(b, run_once(&w, start[i].rest, BEGIN_MIN, wake, seed));
    }
}

/* True as soon as one variant from one start goes otherwise than the sound clock. */
static bool wakes_by(const struct fault *f, const struct clock *c, enum wake wake)
{
    struct change change[FAULT_SETS + FAULT_AXES + 1];
    struct start start[128];
    struct works sound, w;
    double weight, severity;
    works_init(&sound, c, NULL, 0);
    uint64_t due = run_once(&sound, rest_in_step(&sound, BEGIN_MIN), BEGIN_MIN, wake, 1);
    size_t n = fault_variants(f, c);
    for (size_t v = n; v-- > 0;) {
        works_init(&w, c, change, fault_variant(f, c, v, change, &weight, &severity));
        size_t starts = fault_starts(f, &w, BEGIN_MIN, start, 128);
        for (size_t i = starts; i-- > 0;)
            for (uint64_t seed = 1; seed <= SEEDS; seed++)
                if (run_once(&w, start[i].rest, BEGIN_MIN, wake, seed) != due)
                    return true;
    }
    return false;
}

static int woken_by(const struct fault *f, const struct clock *c)
{
    for (int wake = 0; wake < WAKES; wake++)
        if (wakes_by(f, c, (enum wake)wake))
            return wake;
    return -1;
}

static void every_fault_changes_what_is_heard_or_seen_or_is_woken(void **state)
{
    int dead = 0;
    (void)state;
    for (size_t i = 0; i < library_faults(lib); i++) {
        const struct fault *f = library_fault(lib, i);
        bool somewhere = false;
        for (size_t k = 0; k < library_clocks(lib); k++) {
            const struct clock *c = library_clock(lib, k);
            if (!fault_applies(f, c))
                continue;
            somewhere = true;
            int wake = woken_by(f, c);
            if (wake < 0) {
                print_message("dead: %s on %s\n", f->id, c->id);
                dead++;
            } else if (wake != AS_IT_IS && !f->wakes) {
                print_message("latent without saying so: %s on %s wakes by: %s\n", f->id, c->id, wake_names[wake]);
                dead++;
            }
        }
        if (!somewhere) {
            print_message("occurs on no clock: %s\n", f->id);
            dead++;
        }
    }
    assert_int_equal(dead, 0);
}

/* --- which faults cannot be told apart ---------------------------------------------------------------- */

static int by_value(const void *a, const void *b)
{
    uint64_t x = *(const uint64_t *)a, y = *(const uint64_t *)b;
    return x < y ? -1 : x > y;
}

/* One number for all a fault does on a clock; 0 where it cannot occur. */
static uint64_t whole_behaviour(const struct fault *f, const struct clock *c)
{
    struct behaviour b = {.count = 0};
    uint64_t h = 7;
    if (!fault_applies(f, c))
        return 0;
    behave(f, c, AS_IT_IS, &b);
    behave(f, c, RUN_DOWN_FIRST, &b);
    qsort(b.seen, b.count, sizeof b.seen[0], by_value);
    for (size_t i = 0; i < b.count; i++)
        h = mixed(h, b.seen[i]);
    return h ? h : 1;
}

static void say_class(const struct clock *c, const uint64_t *of, size_t faults, size_t first)
{
    bool more = false;
    for (size_t i = first + 1; i < faults; i++)
        if (of[i] == of[first]) {
            print_message("%s%s%s", more ? "" : c->id, more ? " = " : ": ", more ? "" : library_fault(lib, first)->id);
            print_message("%s%s", more ? "" : " = ", library_fault(lib, i)->id);
            more = true;
        }
    if (more)
        print_message("\n");
}

static bool seen_before(const uint64_t *of, size_t i)
{
    for (size_t k = 0; k < i; k++)
        if (of[k] == of[i])
            return true;
    return false;
}

static void at_least_130_faults_can_be_told_apart_somewhere(void **state)
{
    size_t faults = library_faults(lib), apart = 0;
    uint64_t *all = mem_alloc((faults + 1) * sizeof *all), *of = mem_alloc((faults + 1) * sizeof *of);
    (void)state;
    for (size_t k = 0; k < library_clocks(lib); k++) {
        const struct clock *c = library_clock(lib, k);
        for (size_t i = 0; i < faults; i++) {
            of[i] = whole_behaviour(library_fault(lib, i), c);
            all[i] = mixed(all[i], of[i]);
        }
        for (size_t i = 0; i < faults; i++)
            if (of[i] && !seen_before(of, i))
                say_class(c, of, faults, i);
    }
    for (size_t i = 0; i < faults; i++)
        apart += !seen_before(all, i);
    print_message("%zu faults, %zu of them unlike all others on some clock\n", faults, apart);
    assert_true(apart >= 130);
    mem_free(all);
    mem_free(of);
}

static void every_parameter_is_changed_by_some_fault(void **state)
{
    int idle = 0;
    (void)state;
    for (int p = 0; p < PAR_COUNT; p++) {
        bool used = false;
        for (size_t i = 0; i < library_faults(lib); i++) {
            const struct fault *f = library_fault(lib, i);
            for (int k = 0; k < f->sets; k++)
                used = used || f->set[k].par == (enum par)p;
            for (int k = 0; k < f->axes; k++)
                used = used || f->axis[k].par == (enum par)p;
        }
        const char *name = par_row((enum par)p)->name;
        /* rows of four stand for all trains; some trains have no use for some of them */
        bool of_four = strstr(name, "_going") || strstr(name, "_music") || strstr(name, "_chime") || strstr(name, "_strike");
        if (!used && !of_four && strcmp(name, "hammer_swap_b")) {
            print_message("no fault changes %s\n", name);
            idle++;
        }
    }
    assert_int_equal(idle, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_fault_changes_what_is_heard_or_seen_or_is_woken),
        cmocka_unit_test(at_least_130_faults_can_be_told_apart_somewhere),
        cmocka_unit_test(every_parameter_is_changed_by_some_fault),
    };
    return cmocka_run_group_tests(tests, load, unload);
}
