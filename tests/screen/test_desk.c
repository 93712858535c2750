/* A whole call, as a hand takes it: by clicks, by keyboard alone, and by chance. */
#include "suite.h"

#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "opened_app.h"
#include "screen/script.h"

static int setup(void **state)
{
    (void)state;
    return app_opened();
}

static int teardown(void **state)
{
    (void)state;
    app_closed();
    return 0;
}

static size_t run(const char *script)
{
    struct err e = {0};
    size_t uses = 0;
    if (!script_run(app, script, &uses, &e))
        fail_msg("%s", e.line[0]);
    return uses;
}

static void look(void)
{
    struct ui_input in = {.x = -1, .y = -1, .now_s = app->now_s};
    frame_tick(app, app->now_s);
    frame_settle(app, &in);
}

static void assert_shown(const char *text)
{
    if (!canvas_find_text(&app->canvas, text))
        fail_msg("\"%s\" is not on the screen", text);
}

/* A longcase that strikes one too few from two to eight, right from nine to one. */
static void a_call_goes_from_start_to_advice_in_fifteen_uses(void **state)
{
    (void)state;
    size_t uses = run("click choose-clock; click clock-longcase-rack; click cell-12:00;"
                      "key =; key =; key 1; key right; key 2; key 3; key 4; key 5; key right; key right; key =");
    look();
    assert_true(uses <= 15);
    assert_int_equal(app->call.sheet.heards, 8);
    assert_true(app->advice.causes > 1);
    assert_string_equal(app->advice.cause[0].part, "rack tail");
    assert_shown("LIKELY CAUSES");
    assert_shown(app->advice.cause[0].name);
    assert_true(canvas_find_name(&app->canvas, "question") || canvas_find_name(&app->canvas, "advice"));
    assert_true(canvas_count_tone(&app->canvas, TONE_ACCENT) > 0);
    /* and the plate shows why */
    run("key f2");
    look();
    assert_int_equal(app->page, PAGE_PLATE);
    assert_true(app->view.plate.belief[PART_RACK_TAIL] > 0.3);
    assert_true(canvas_count_tone(&app->canvas, TONE_ACCENT) > 0);
}

static void the_same_call_needs_no_pointer(void **state)
{
    (void)state;
    run("key tab");
    for (int i = 0; i < 90 && !ui_has_focus(&app->ui, "quick"); i++)
        run("key tab");
    assert_true(ui_has_focus(&app->ui, "quick"));
    run("type clock longcase-rack, 12:00 s12, 1:00 s1, 2:00 s1, 3:00 s2, 4:00 s3; key enter");
    look();
    assert_int_equal(app->call.sheet.heards, 5);
    assert_string_equal(app->call.sheet.clock, "longcase-rack");
    assert_true(app->advice.causes > 1);
    for (int i = 0; i < 90 && !ui_has_focus(&app->ui, "hours"); i++)
        run("key tab");
    run("key left; key left; key 8"); /* from twelve back to ten */
    assert_non_null(call_heard_at(&app->call, 600));
    run("key ctrl+z");
    assert_null(call_heard_at(&app->call, 600));
}

static void the_question_is_answered_by_one_key_and_can_be_changed(void **state)
{
    (void)state;
    run("click choose-clock; click clock-longcase-rack; click cell-3:00; key 2; key tab; key tab");
    look();
    uint64_t before = app->call.version;
    const struct next_step *n = &app->advice.next;
    const struct question *q = n->questions > 0 ? &n->batch[0] : &n->apart;
    assert_true(n->questions > 0 || n->apart_by >= APART_LEAST);
    bool count = q->kind == QUESTION_STRIKE;
    run(count ? "key 3" : q->kind == QUESTION_CHIME ? "key r" : q->kind == QUESTION_HINT ? "key 1" : "key y");
    assert_true(app->call.version > before);
    run("key ctrl+z");
    assert_int_equal(app->call.sheet.heards, 1);
}

static void plain_words_fill_the_sheet_and_what_was_not_understood_is_said(void **state)
{
    (void)state;
    run("click quick; type it strikes four at three since we moved house and hums a madrigal; key enter");
    assert_non_null(call_heard_at(&app->call, 180));
    assert_true(call_has(&app->call, WORD_HISTORY, "moved_house"));
    assert_shown("Not understood");
}

/* The minute hand, taken at the tip and carried round, forward over the hour and back again. */
static void the_minute_hand_can_be_dragged_both_ways(void **state)
{
    (void)state;
    call_set_clock(&app->call, "longcase-rack");
    run("key f2");
    const struct plate *p = &app->view.plate;
    double r = p->dial_r * 0.7;
    char script[120];
    int before = app->show.now.work_min, from = before % 60;
    for (int by = 6; by >= -6; by -= 12) {
        double a = (app->show.now.work_min % 60) * 6 * M_PI / 180, b = a + by * 6 * M_PI / 180;
        snprintf(script, sizeof script, "drag %.1f %.1f %.1f %.1f", p->dial_x + r * sin(a), p->dial_y - r * cos(a),
                 p->dial_x + r * sin(b), p->dial_y - r * cos(b));
        run(script);
        assert_int_equal(app->show.now.work_min, by > 0 ? before + 6 : before);
    }
    assert_int_equal(app->show.now.work_min % 60, from);
    run("key right; key shift+left");
    assert_int_equal(app->show.now.work_min, before + 1 - 5);
    run("key down; key down");
    assert_true(app->view.focus != PART_NONE);
    assert_shown(plate_part_row((enum plate_part)app->view.focus)->title);
}

static void focus_by_tab_is_always_in_sight(void **state)
{
    (void)state;
    app->width = 900;
    app->height = 600;
    call_set_clock(&app->call, "longcase-rack");
    call_set_cell(&app->call, 180, "4", true, false);
    look();
    for (int i = 0; i < 70; i++) {
        run("key tab; wheel 0");
        for (size_t k = 0; k < app->canvas.marks; k++) {
            const struct mark *m = &app->canvas.mark[k];
            if (m->kind == MARK_NAME && ui_id(canvas_letters(&app->canvas, m)) == app->ui.focus && m->h < 300)
                if (m->y < -2 || m->y + m->h > 602)
                    fail_msg("%s has the focus at %.0f..%.0f, out of sight", canvas_letters(&app->canvas, m),
                             (double)m->y, (double)(m->y + m->h));
        }
    }
}

static void a_drill_round_is_played_to_its_score(void **state)
{
    (void)state;
    static const char *const kinds[] = {"time", "oil", "reset"};
    for (size_t i = 0; i < COUNT_OF(kinds); i++) {
        char script[80];
        snprintf(script, sizeof script, "key f5; click kind-%s; key n", kinds[i]);
        run(script);
        look();
        assert_non_null(canvas_find_name(&app->canvas, "choice-1"));
        for (int k = 0; k < 60 && !canvas_find_name(&app->canvas, "next-round"); k++) {
            run(kinds[i][0] == 'r' ? "click hint; click choice-1" : "key 1");
            look();
        }
        assert_shown("of 100");
    }
    run("key f1");
}

static void help_and_contrast_are_a_key_away(void **state)
{
    (void)state;
    run("key f12");
    assert_shown("Keys");
    run("key escape");
    assert_null(canvas_find_text(&app->canvas, "plain, strong or night contrast; sound"));
    run("key f10");
    assert_int_equal(app->canvas.ink.contrast, CONTRAST_STRONG);
}

/* 1,000 seeded events on every screen: nothing breaks, nothing hangs. */
static void a_thousand_events_at_random_do_no_harm(void **state)
{
    (void)state;
    struct random r;
    random_init(&r, 20260115);
    call_set_clock(&app->call, "longcase-rack"); /* one clock: quick to think about */
    static const int codes[] = {UI_TAB, UI_ENTER, UI_ESCAPE, UI_BACKSPACE, UI_DELETE, UI_LEFT, UI_RIGHT, UI_UP,
                                UI_DOWN, UI_HOME, UI_END, UI_F1, UI_F2, UI_F3, UI_F4, UI_F5, UI_F6, UI_F7, UI_F8,
                                UI_F9, UI_F10, UI_F12, '0', '1', '3', '9', '=', '*', 'y', 'n', 'u', ',', '.'};
    static const char *const typed[] = {"3", "x", "\xc3\xa9", "s2", "3:00 s", ", ", "moved", "\xf0\x9f\x95\xb0"};
    bool down = false;
    call_set_cell(&app->call, 180, "2", true, false);
    frame_tick(app, 0);
    for (int i = 0; i < 1000; i++) {
        struct ui_input in = {.x = random_unit(&r) * 1300 - 10, .y = random_unit(&r) * 820 - 10, .down = down};
        unsigned what = random_below(&r, 10);
        if (what < 4) {
            down = !down;
            in.pressed = down;
            in.released = !down;
            in.down = down;
        } else if (what < 8) {
            unsigned mods = random_below(&r, 6) == 0 ? UI_CTRL : random_below(&r, 6) == 0 ? UI_SHIFT : 0;
            int code = mods == UI_CTRL ? "zyvacx"[random_below(&r, 6)] : codes[random_below(&r, COUNT_OF(codes))];
            in.keys = 1;
            in.key[0] = (struct ui_key){code, mods, false};
        } else if (what < 9) {
            snprintf(in.typed, sizeof in.typed, "%s", typed[random_below(&r, COUNT_OF(typed))]);
        } else {
            in.wheel = random_normal(&r) * 3;
        }
        in.now_s = app->now_s += 0.04;
        if (i % 100 == 0) {
            app->width = 900 + random_below(&r, 900);
            app->height = 600 + random_below(&r, 500);
        }
        frame_settle(app, &in);
        show_tick(&app->show, app->now_s);
        assert_true(app->canvas.marks > 20);
    }
}

/* What is kept while testing goes to a folder of its own. */
static char home[64];

static int own_home(void **state)
{
    (void)state;
    snprintf(home, sizeof home, "/tmp/letoff-desk-%d", (int)getpid());
    setenv("XDG_DATA_HOME", home, 1);
    return 0;
}

static int no_home(void **state)
{
    char line[96];
    (void)state;
    snprintf(line, sizeof line, "rm -rf '%s'", home);
    return system(line);
}

static void a_kept_call_stands_in_the_journal_and_can_be_closed(void **state)
{
    (void)state;
    run("click choose-clock; click clock-longcase-rack; click cell-3:00; key 4");
    look();
    for (int i = 0; i < 60 && !ui_has_focus(&app->ui, "customer"); i++)
        run("key tab");
    run("type Mill Lane; key enter; key f6");
    assert_shown("Mill Lane");
    run("click open-1");
    assert_shown("WHAT WAS IT?");
    run("click fault-none; click outcome-phone; click minutes; type 12; key enter");
    assert_shown("Reopen");
    run("click take-up");
    assert_int_equal(app->page, PAGE_DESK);
    assert_non_null(call_heard_at(&app->call, 180));
}

int main(void)
{
#define T(test) cmocka_unit_test_setup_teardown(test, setup, teardown)
    const struct CMUnitTest tests[] = {
        T(a_call_goes_from_start_to_advice_in_fifteen_uses), T(the_same_call_needs_no_pointer),
        T(the_question_is_answered_by_one_key_and_can_be_changed),
        T(plain_words_fill_the_sheet_and_what_was_not_understood_is_said),
        T(help_and_contrast_are_a_key_away), T(the_minute_hand_can_be_dragged_both_ways),
        T(focus_by_tab_is_always_in_sight), T(a_drill_round_is_played_to_its_score),
        T(a_kept_call_stands_in_the_journal_and_can_be_closed),
        T(a_thousand_events_at_random_do_no_harm),
    };
    return cmocka_run_group_tests(tests, own_home, no_home);
}
