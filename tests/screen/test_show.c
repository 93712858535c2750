/* A clock let go in the window: its time runs with the wall's, silences are short, steps land on
 * events, and a seeded hand that pulls at everything breaks nothing. */
#include "suite.h"

#include <string.h>

#include "movement/library.h"
#include "screen/show.h"

static struct library *lib;
static struct show show;

static int setup(void **state)
{
    struct err e = {0};
    (void)state;
    lib = library_load("chimes", &e);
    show_init(&show, NULL, 5);
    show.mute = true;
    return lib ? 0 : -1;
}

static int teardown(void **state)
{
    (void)state;
    show_release(&show);
    library_free(lib);
    return 0;
}

static void a_letoff_is_played_to_its_end_in_real_time(void **state)
{
    (void)state;
    show_set(&show, library_find_clock(lib, "longcase-rack"), NULL, 0, 170);
    show_next_letoff(&show, 100);
    assert_true(show.playing);
    double t = 100;
    size_t ticks = 0;
    while (show_tick(&show, t) && ticks++ < 10000)
        t += 0.05;
    assert_false(show.playing);
    assert_near(t - 100, show.length_s, 0.11);
    assert_int_equal(show.now.work_min, 180);
    size_t blows = 0;
    for (size_t i = 0; i < show.events.count; i++)
        blows += show.events.at[i].kind == EVENT_BLOW;
    assert_int_equal(blows, 3);
}

/* Five minutes of warning are not sat out, but blows keep their own distance. */
static void silences_are_short_and_blows_keep_their_time(void **state)
{
    (void)state;
    show_set(&show, library_find_clock(lib, "longcase-rack"), NULL, 0, 170);
    show_next_letoff(&show, 0);
    const struct event *first = NULL, *second = NULL;
    for (size_t i = 0; i < show.events.count; i++)
        if (show.events.at[i].kind == EVENT_BLOW) {
            second = first ? (second ? second : &show.events.at[i]) : NULL;
            first = first ? first : &show.events.at[i];
        }
    assert_non_null(second);
    show_seek(&show, 0);
    show_step(&show, 1);
    assert_true(show.length_s < 30);
    double at[2];
    const struct event *want[2] = {first, second};
    for (int k = 0; k < 2; k++) {
        show_seek(&show, 0);
        for (int i = 0; i < 50 && show_event(&show) != want[k]; i++)
            show_step(&show, 1);
        at[k] = show.at_s;
        assert_near(show_run_s(&show), want[k]->t_s, 0.01);
    }
    assert_near(at[1] - at[0], second->t_s - first->t_s, 0.02);
}

static void slow_motion_takes_as_much_longer(void **state)
{
    (void)state;
    show_set(&show, library_find_clock(lib, "longcase-rack"), NULL, 0, 170);
    show.speed = 0.25;
    show_next_letoff(&show, 0);
    show_tick(&show, 4);
    assert_near(show.at_s, 1, 1e-6);
    show.speed = 1;
}

static void stepping_back_undoes_stepping_on(void **state)
{
    (void)state;
    show_set(&show, library_find_clock(lib, "longcase-rack"), NULL, 0, 170);
    show_next_letoff(&show, 0);
    show_seek(&show, 0);
    show_step(&show, 1);
    double once = show.at_s;
    show_step(&show, 1);
    assert_true(show.at_s > once);
    show_step(&show, -1);
    assert_near(show.at_s, once, 1e-9);
}

static void hands_go_back_and_forward_by_hand(void **state)
{
    (void)state;
    show_set(&show, library_find_clock(lib, "longcase-rack"), NULL, 0, 100);
    show_run(&show, -20, BY_HAND);
    assert_int_equal(show.now.work_min, 80);
    show_run(&show, 30, BY_HAND);
    assert_int_equal(show.now.work_min, 110);
}

static void a_wild_hand_does_no_harm(void **state)
{
    (void)state;
    struct random r;
    struct plate_pose pose;
    random_init(&r, 11);
    double t = 0;
    for (int i = 0; i < 400; i++, t += 0.3) {
        switch (random_below(&r, 8)) {
        case 0:
            show_set(&show, library_clock(lib, random_below(&r, (unsigned)library_clocks(lib))), NULL, 0,
                     (int)random_below(&r, 1440));
            break;
        case 1: show_next_letoff(&show, t); break;
        case 2: show_run(&show, (int)random_below(&r, 121) - 60, BY_HAND); break;
        case 3: show_step(&show, random_below(&r, 2) ? 1 : -1); break;
        case 4: show_seek(&show, random_unit(&r) * 60 - 10); break;
        case 5: show_play(&show, t); break;
        case 6: show_stop(&show); break;
        default: show_do(&show, (enum action)random_below(&r, ACTIONS), (int)random_below(&r, 3)); break;
        }
        show_tick(&show, t);
        show_pose(&show, &pose);
        assert_true(isfinite(pose.rack) && isfinite(pose.minute_deg) && isfinite(pose.count));
        assert_true(pose.rack >= -0.01 && pose.rack < 40);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_letoff_is_played_to_its_end_in_real_time),
        cmocka_unit_test(silences_are_short_and_blows_keep_their_time),
        cmocka_unit_test(slow_motion_takes_as_much_longer),
        cmocka_unit_test(stepping_back_undoes_stepping_on),
        cmocka_unit_test(hands_go_back_and_forward_by_hand),
        cmocka_unit_test(a_wild_hand_does_no_harm),
    };
    return cmocka_run_group_tests(tests, setup, teardown);
}
