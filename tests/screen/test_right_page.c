/* Setting right in the window: what is told, the steps with what must be heard, and what happens when
 * something else is heard. */
#include "suite.h"

#include <stdio.h>
#include <string.h>

#include "opened_app.h"
#include "screen/script.h"

static int program(void **state)
{
    (void)state;
    setenv("XDG_DATA_HOME", "/tmp/letoff-right-has-no-journal", 1);
    return app_opened();
}

static int program_ends(void **state)
{
    (void)state;
    app_closed();
    return 0;
}

static void run(const char *script)
{
    struct err e = {0};
    if (!script_run(app, script, NULL, &e))
        fail_msg("%s", e.line[0]);
}

static bool shown(const char *text)
{
    return canvas_find_text(&app->canvas, text) != NULL;
}

static bool named(const char *name)
{
    return canvas_find_name(&app->canvas, name) != NULL;
}

/* A new page for this clock. */
static void begin(const char *clock)
{
    right_free(app->righting);
    app->righting = NULL;
    call_set_clock(&app->call, clock);
    app->page = PAGE_RIGHT;
    run("wait 0");
}

static int setup(void **state)
{
    (void)state;
    begin("countwheel-78");
    return 0;
}

static void the_rules_of_the_movement_stand_first(void **state)
{
    (void)state;
    assert_true(shown("RULES OF THIS MOVEMENT"));
    assert_true(shown("trained repairer"));
    assert_false(named("step"));
}

/* It showed ten past three and had struck 10: five trips, 11 12 1 2 3, bring it to 3. */
static void each_step_says_what_must_be_heard_until_it_is_in_step(void **state)
{
    (void)state;
    static const char *const heard[] = {"strikes 11", "strikes 12", "strikes 1", "strikes 2", "strikes 3"};
    run("click struck-10; click make-plan");
    assert_true(shown("there is no shorter way"));
    for (size_t i = 0; i < COUNT_OF(heard); i++) {
        assert_true(named("step"));
        assert_true(shown(heard[i]));
        assert_true(named("stands-now"));
        run("key y");
    }
    assert_true(named("in-step"));
    assert_true(shown("At 4:00 it must sound: strikes 4."));
}

static void a_wrong_answer_makes_a_new_plan_from_what_was_heard(void **state)
{
    (void)state;
    run("click struck-10; click make-plan; key y");
    run("click heard-else; type 5; key enter"); /* 12 was due */
    assert_true(shown("STEP 3"));
    assert_true(shown("strikes 6"));
    for (int i = 0; i < 12 && named("step"); i++)
        run("click heard-so");
    assert_true(named("in-step"));
}

static void nothing_that_is_no_number_is_taken_for_an_answer(void **state)
{
    (void)state;
    run("click struck-10; click make-plan; click heard-else; type many; key enter");
    assert_true(shown("STEP 1"));
    assert_true(app->notice[0]);
}

static void what_no_clock_in_order_can_sound_is_a_fault(void **state)
{
    (void)state;
    begin("longcase-rack");
    run("click struck-0; click make-plan");
    for (int i = 0; i < 6 && named("heard-else"); i++)
        run("click heard-else; type 47; key enter");
    assert_true(shown("It has a fault"));
}

static void a_chime_is_told_by_phrases_too(void **state)
{
    (void)state;
    begin("mantel-westminster-rack");
    run("click all-unknown; click make-plan");
    assert_true(named("step"));
    assert_true(named("heard-phrases"));
    begin("chime-no-corrector"); /* two phrases at the hour: the quarters are out, and can be set */
    run("click hands; key ctrl+a; type 3:05; click time; key ctrl+a; type 3:05; click phrases-2; click make-plan");
    assert_true(named("step"));
    for (int i = 0; i < 12 && named("step"); i++)
        run("click heard-so");
    assert_true(named("in-step"));
}

/* A minute hand beside its let-off on a clock without bush or square: the page says why, as the
 * command line does, and never claims that it is in step. */
static void a_way_that_hands_alone_do_not_have_says_why(void **state)
{
    (void)state;
    run("click hands; key ctrl+a; type 2:52; click time; key ctrl+a; type 3:00; click letoff; type 2:52");
    run("click struck-3; click make-plan");
    assert_true(named("why-not"));
    assert_true(shown("neither a bush nor a square"));
    assert_false(named("in-step"));
    begin("mantel-rack-half"); /* the same hand on its bush */
    run("click hands; key ctrl+a; type 2:52; click time; key ctrl+a; type 3:00; click letoff; type 2:52");
    run("click struck-3; click make-plan");
    assert_false(named("why-not"));
    assert_true(named("step"));
}

/* A bare arbor on a movement whose minute hand goes on one way only: where the plan parts by what is counted
 * and by where the loose hand points, a nod is no answer, and both must be told. */
static void where_the_plan_parts_it_asks_for_all_that_tells(void **state)
{
    (void)state;
    begin("comtoise");
    run("click hands-off; click all-unknown; click make-plan");
    assert_true(named("step"));
    assert_false(named("heard-so"));
    assert_true(shown("loose hand points"));
    run("click heard-else; type 1; key enter");
    assert_true(app->notice[0]);
    assert_true(shown("STEP 1"));
    run("click heard-points; type 30; key enter");
    assert_true(shown("STEP 2"));
    begin("longcase-countwheel-78");
    run("click hands-off; click all-unknown; click make-plan; click heard-else; type 7; key enter");
    assert_true(shown("Put the hands on"));
    for (int i = 0; i < 12 && named("step"); i++)
        run("click heard-so");
    assert_true(named("in-step"));
}

static void a_small_window_has_room_for_another_answer(void **state)
{
    (void)state;
    app->width = 900;
    app->height = 600;
    run("click struck-10; click make-plan");
    const struct mark *m = canvas_find_name(&app->canvas, "heard-that");
    assert_non_null(m);
    assert_true(m->x + m->w <= 900);
    app->width = 1280;
    app->height = 800;
}

static void no_step_wears_the_accent(void **state)
{
    (void)state;
    run("click struck-10; click make-plan");
    assert_int_equal(canvas_count_tone(&app->canvas, TONE_ACCENT), 0);
}

int main(void)
{
#define T(test) cmocka_unit_test_setup(test, setup)
    const struct CMUnitTest tests[] = {
        T(the_rules_of_the_movement_stand_first), T(each_step_says_what_must_be_heard_until_it_is_in_step),
        T(a_wrong_answer_makes_a_new_plan_from_what_was_heard), T(nothing_that_is_no_number_is_taken_for_an_answer),
        T(what_no_clock_in_order_can_sound_is_a_fault), T(a_chime_is_told_by_phrases_too),
        T(a_way_that_hands_alone_do_not_have_says_why), T(a_small_window_has_room_for_another_answer),
        T(where_the_plan_parts_it_asks_for_all_that_tells), T(no_step_wears_the_accent),
    };
    return cmocka_run_group_tests(tests, program, program_ends);
}
