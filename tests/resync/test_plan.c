/* Plans: the published worked example, hands in a tin, states found out on the way. */
#include "bench_clock.h"

#include <string.h>

#include "resync/step_text.h"

static struct plan *plan_told(struct bench_clock *b, const struct told *told)
{
    struct stance_chance *may_be;
    struct stance s[2000];
    double p[2000];
    size_t n = presume(&b->r, told, &may_be);
    assert_in_range(n, 1, 2000);
    for (size_t i = 0; i < n; i++) {
        s[i] = may_be[i].stance;
        p[i] = may_be[i].p;
    }
    mem_free(may_be);
    return plan_find(&b->r, s, p, n);
}

/* E. Beckett, Clocks, Watches and Bells, 8th ed., f.172, as worked in print: a count wheel that strikes one
 * too many is struck on through eleven hours. */
static void a_count_wheel_one_too_many_is_struck_on_eleven_times(void **state)
{
    struct bench_clock b;
    struct told told = told_nothing();
    (void)state;
    bench_put(&b, "longcase-countwheel-78", 5 * 60 + 5);
    told.hands_min = 5 * 60 + 5;
    told.struck = 6;
    struct plan *p = plan_told(&b, &told);
    assert_true(p->found && p->optimal);
    assert_int_equal(p->steps, 11);
    for (size_t i = 0; i < p->steps; i++) {
        assert_int_equal(p->step[i].deed, DEED_TRIP_STRIKE);
        assert_int_equal(p->step[i].heard.blows, (6 + (int)i) % 12 + 1);
    }
    assert_int_equal((int)p->blows, 78 - 6);
    assert_string_equal(p->proof, "At 6:00 it must sound: strikes 6.");
    plan_free(p);
    reset_release(&b.r);
}

/* Striking one too few is put right with one let-off, and on a rack by the hour hand alone. */
static void a_rack_wrong_by_a_constant_needs_the_hour_hand(void **state)
{
    struct bench_clock b;
    struct told told = told_nothing();
    (void)state;
    bench_put(&b, "longcase-rack", 3 * 60 + 2);
    told.hands_min = 3 * 60 + 2;
    told.struck = 3;
    struct plan *p = plan_told(&b, &told);
    assert_int_equal(p->steps, 0);
    plan_free(p);
    told.struck = 5; /* the snail stands at five, the hand shows three */
    p = plan_told(&b, &told);
    assert_true(p->found);
    assert_int_equal(p->step[0].deed, DEED_HOUR_HAND);
    assert_int_equal(p->step[0].amount, 120);
    assert_int_equal(stance_shown(&b.w, &p->step[p->steps - 1].after), 3 * 60 + 2);
    plan_free(p);
    reset_release(&b.r);
}

/* A minute hand that stands eight minutes short when the hour goes off, on its bush. */
static void a_minute_hand_beside_its_letoff_is_turned_on_its_bush(void **state)
{
    struct bench_clock b;
    struct told told = told_nothing();
    (void)state;
    bench_put(&b, "mantel-rack-half", 3 * 60);
    told.hands_min = told.at_min = 2 * 60 + 52;
    told.struck = 3;
    struct plan *p = plan_told(&b, &told);
    bool turned = false;
    assert_true(p->found);
    for (size_t i = 0; i < p->steps; i++)
        turned = turned || (p->step[i].deed == DEED_MINUTE_BUSH && p->step[i].amount == 8);
    assert_true(turned);
    plan_free(p);
    reset_release(&b.r);
    bench_put(&b, "countwheel-78", 3 * 60); /* neither bush nor square: the bench must do it */
    p = plan_told(&b, &told);
    assert_false(p->found);
    assert_non_null(strstr(p->why, "bench"));
    plan_free(p);
    reset_release(&b.r);
}

/* The hands are in a tin and the strike has just let off seven at two in the afternoon. */
static void hands_from_the_tin_go_on_at_what_was_struck(void **state)
{
    struct bench_clock b;
    struct told told = told_nothing();
    (void)state;
    bench_put(&b, "longcase-countwheel-78", 2 * 60 + 5);
    told.struck = 7;
    struct plan *p = plan_told(&b, &told);
    assert_true(p->found && p->optimal);
    size_t fitted = 99;
    for (size_t i = 0; i < p->steps; i++)
        if (p->step[i].deed == DEED_FIT)
            fitted = i;
    assert_in_range(fitted, 0, p->steps - 1);
    struct stance end = p->step[p->steps - 1].after;
    assert_true(reset_done(&b.r, &end));
    /* never dearer than fitting them to the seven at once and carrying them on letting it strike */
    assert_true(p->minutes < 12);
    plan_free(p);
    reset_release(&b.r);
}

/* --- finding out ----------------------------------------------------------------------------------- */

/* Do the plan to a clock that really stands so, choosing branches by what can be told. */
static double do_plan(struct bench_clock *b, const struct plan *p, struct stance at)
{
    struct done d = {0};
    double minutes = 0;
    for (size_t i = 0; i < p->steps; i++) {
        if (!plan_do(&b->r, &at, p->step[i].deed, p->step[i].amount, &d))
            fail_msg("%s: step %zu cannot be done: %s", b->w.clock->id, i + 1, p->step[i].text);
        at = d.to;
        minutes += d.minutes;
    }
    struct noticed noticed = noticed_of(&d.heard);
    const struct plan *then = plan_branch_heard(p, &noticed);
    if (then)
        return minutes + do_plan(b, then, at);
    assert_int_equal(p->branches, 0);
    if (!reset_done(&b->r, &at) && !(p->steps && p->step[p->steps - 1].deed == DEED_WAIT))
        fail_msg("%s: ends out of step", b->w.clock->id);
    return minutes;
}

static void find_out(int hands_min)
{
    for (size_t i = 0; i < library_clocks(lib); i++) {
        struct bench_clock b;
        struct told told = told_nothing();
        struct stance_chance *may_be;
        bench_take(&b, library_clock(lib, i), 16 * 60 + 10);
        told.hands_min = hands_min;
        told.unknown = true;
        struct plan *p = plan_told(&b, &told);
        size_t n = presume(&b.r, &told, &may_be);
        double mean = 0;
        if (!p->found)
            fail_msg("%s: no way was found", b.w.clock->id);
        for (size_t k = 0; k < n; k++) {
            double minutes = do_plan(&b, p, may_be[k].stance);
            if (minutes > p->worst_min + 1e-6)
                fail_msg("%s: took %.3f, at worst it was to be %.3f", b.w.clock->id, minutes, p->worst_min);
            mean += may_be[k].p * minutes;
        }
        assert_near(mean, p->minutes, 1e-6);
        mem_free(may_be);
        plan_free(p);
        reset_release(&b.r);
    }
}

static void an_unknown_state_is_found_out_while_it_is_corrected(void **state)
{
    (void)state;
    find_out(15 * 60 + 20);
}

static void hands_from_the_tin_find_their_let_off(void **state)
{
    (void)state;
    find_out(TOLD_NOTHING);
}

/* What was heard decides what may be the case: a strike of four at three o'clock on a wheel of 78. */
static void what_was_heard_leaves_only_what_fits(void **state)
{
    struct bench_clock b;
    struct told told = told_nothing();
    struct stance_chance *may_be, then[64];
    (void)state;
    bench_put(&b, "longcase-countwheel-78", 610);
    told.hands_min = 2 * 60 + 30;
    told.unknown = true;
    size_t n = presume(&b.r, &told, &may_be);
    assert_int_equal(n, 12);
    assert_int_equal(plan_heard(&b.r, may_be, n, DEED_FORWARD, 30, &(struct noticed){4, -1, -1, -1}, then), 1);
    assert_int_equal(then[0].stance.rest.count, 4); /* five comes next: entries count from nought */
    assert_int_equal(plan_heard(&b.r, may_be, n, DEED_FORWARD, 30, &(struct noticed){13, -1, -1, -1}, then), 0);
    mem_free(may_be);
    told.hands_min = 3 * 60 + 1;
    told.struck = 13; /* no sound clock of this kind strikes thirteen */
    assert_int_equal(presume(&b.r, &told, &may_be), 0);
    mem_free(may_be);
    reset_release(&b.r);
}

/* A half-hour wheel that struck one: it may be any half, or one o'clock. */
static void one_blow_on_a_half_hour_wheel_leaves_thirteen_states(void **state)
{
    struct bench_clock b;
    struct told told = told_nothing();
    struct stance_chance *may_be;
    (void)state;
    bench_put(&b, "mantel-countwheel-90", 610);
    told.hands_min = 3 * 60 + 35;
    told.struck = 1;
    assert_int_equal(presume(&b.r, &told, &may_be), 13);
    mem_free(may_be);
    reset_release(&b.r);
}

/* Published (trade sources): a corrected chime is right at the next hour or the following one. */
static void the_corrector_is_right_at_the_second_hour_at_latest(void **state)
{
    static const char *const clocks[] = {"floor-westminster-rack", "mantel-westminster-rack", "two-train-chime"};
    (void)state;
    for (size_t i = 0; i < COUNT_OF(clocks); i++) {
        struct bench_clock b;
        struct stance_chance *all;
        bench_put(&b, clocks[i], 610);
        size_t n = presume_all(&b.w, 14 * 60 + 20, &all);
        for (size_t k = 0; k < n; k++) {
            struct stance at = all[k].stance;
            struct done d;
            for (int q = 0; q < 7; q++, at = d.to)
                assert_true(deed_do(&b.r, &at, DEED_FORWARD, stance_ahead(b.w.clock, &at), &d));
            assert_true(reset_in_step(&b.r, &at));
        }
        mem_free(all);
        reset_release(&b.r);
    }
}

/* Neighbours weigh: at night fewer blows, for more minutes if need be. */
static void by_night_the_plan_is_not_louder(void **state)
{
    (void)state;
    for (size_t i = 0; i < library_clocks(lib); i++) {
        struct bench_clock day;
        struct reset night;
        struct minds minds = minds_by_night();
        bench_take(&day, library_clock(lib, i), 16 * 60 + 10);
        reset_init(&night, &day.w, 16 * 60 + 10, &minds);
        struct stance s = bench_stance(&day, 15 * 60 + 20);
        int entries = day.w.clock->train[TRAIN_STRIKE].entries;
        if (day.w.clock->train[TRAIN_STRIKE].control == CONTROL_COUNT_WHEEL)
            s.rest.count = (uint8_t)((s.rest.count + entries / 2) % entries);
        struct plan *a = plan_find(&day.r, &s, NULL, 1), *b = plan_find(&night, &s, NULL, 1);
        assert_true(a->found && b->found);
        assert_true(b->blows <= a->blows + 1e-9 || b->minutes <= a->minutes + 1e-9);
        assert_true(a->minutes <= b->minutes + 2.5); /* risk and blows are worth no more by day */
        plan_free(a);
        plan_free(b);
        reset_release(&night);
        reset_release(&day.r);
    }
}

/* A drum out of phase with its count wheel is for the bench: the house is told so, the bench gets the step. */
static void a_drum_out_against_its_count_wheel_is_for_the_bench(void **state)
{
    struct bench_clock b;
    (void)state;
    bench_put(&b, "floor-westminster-rack", 15 * 60 + 21);
    struct stance s = bench_stance(&b, 15 * 60 + 20);
    s.rest.drum = (uint8_t)((s.rest.drum + 3) % 5);
    struct plan *p = plan_find(&b.r, &s, NULL, 1);
    assert_false(p->found);
    assert_non_null(strstr(p->why, "drum"));
    assert_non_null(strstr(p->why, "bench"));
    plan_free(p);
    b.r.minds.bench = true;
    p = plan_find(&b.r, &s, NULL, 1);
    assert_true(p->found);
    assert_int_equal(p->step[0].deed, DEED_DRUM);
    assert_int_equal(p->step[0].amount, 2); /* five changes make a turn of the drum */
    plan_free(p);
    reset_release(&b.r);
}

static void levers_at_silent_are_set_back_and_run_down_trains_wound(void **state)
{
    struct bench_clock b;
    (void)state;
    bench_put(&b, "floor-westminster-rack", 15 * 60 + 21);
    struct stance s = bench_stance(&b, 15 * 60 + 20);
    s.rest.flags |= REST_SILENT_CHIME;
    struct plan *p = plan_find(&b.r, &s, NULL, 1);
    assert_true(p->found);
    assert_int_equal(p->step[0].deed == DEED_LEVER_CHIME || p->step[1].deed == DEED_LEVER_CHIME, 1);
    plan_free(p);
    s = bench_stance(&b, 15 * 60 + 20);
    rest_set_power(&s.rest, TRAIN_STRIKE, POWER_OUT);
    s.rest.left = 3;
    p = plan_find(&b.r, &s, NULL, 1);
    assert_true(p->found);
    assert_int_equal(p->step[0].deed, DEED_WIND);
    assert_int_equal(p->step[0].heard.blows, 3); /* the rack that hung down is gathered */
    plan_free(p);
    reset_release(&b.r);
}

/* Published (two makers' sheets): no selector within five minutes before a release point. */
static void the_selector_is_moved_where_nothing_is_about_to_sound(void **state)
{
    struct bench_clock b;
    (void)state;
    bench_put(&b, "mantel-triple-chime", 16 * 60 + 12);
    b.r.want_tune = 1;
    struct stance s = bench_stance(&b, 16 * 60 + 11); /* four minutes before a quarter */
    struct plan *p = plan_find(&b.r, &s, NULL, 1);
    assert_true(p->found);
    bool moved = false;
    for (size_t i = 0; i < p->steps; i++)
        if (p->step[i].deed == DEED_TUNE) {
            moved = true;
            assert_true(stance_ahead(b.w.clock, &p->step[i].before) > 5);
        }
    assert_true(moved);
    assert_int_equal(p->step[p->steps - 1].after.rest.tune & 15, 1);
    plan_free(p);
    reset_release(&b.r);
}

static void every_step_says_what_to_do_and_what_must_be_heard(void **state)
{
    (void)state;
    for (size_t i = 0; i < library_clocks(lib); i++) {
        struct bench_clock b;
        const char *rule[RULES_MOST];
        bench_take(&b, library_clock(lib, i), 16 * 60 + 10);
        struct stance s = bench_stance(&b, 13 * 60 + 20);
        struct plan *p = plan_find(&b.r, &s, NULL, 1);
        assert_true(p->steps > 0);
        for (size_t k = 0; k < p->steps; k++) {
            assert_true(strlen(p->step[k].text) > 10);
            assert_true(strlen(p->step[k].hear) > 3);
        }
        assert_non_null(p->proof);
        assert_in_range(step_text_rules(b.w.clock, rule), 1, RULES_MOST);
        plan_free(p);
        reset_release(&b.r);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_count_wheel_one_too_many_is_struck_on_eleven_times),
        cmocka_unit_test(a_rack_wrong_by_a_constant_needs_the_hour_hand),
        cmocka_unit_test(a_minute_hand_beside_its_letoff_is_turned_on_its_bush),
        cmocka_unit_test(hands_from_the_tin_go_on_at_what_was_struck),
        cmocka_unit_test(an_unknown_state_is_found_out_while_it_is_corrected),
        cmocka_unit_test(hands_from_the_tin_find_their_let_off),
        cmocka_unit_test(what_was_heard_leaves_only_what_fits),
        cmocka_unit_test(one_blow_on_a_half_hour_wheel_leaves_thirteen_states),
        cmocka_unit_test(the_corrector_is_right_at_the_second_hour_at_latest),
        cmocka_unit_test(by_night_the_plan_is_not_louder),
        cmocka_unit_test(a_drum_out_against_its_count_wheel_is_for_the_bench),
        cmocka_unit_test(levers_at_silent_are_set_back_and_run_down_trains_wound),
        cmocka_unit_test(the_selector_is_moved_where_nothing_is_about_to_sound),
        cmocka_unit_test(every_step_says_what_to_do_and_what_must_be_heard),
    };
    return cmocka_run_group_tests(tests, load, unload);
}
