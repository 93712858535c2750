/* What hands may do to a clock, and what they may not.  Rules and their sources: deed.h. */
#include "bench_clock.h"

struct rule {
    const char *name, *clock;
    int shown_min;
    enum deed deed;
    int amount;
    bool allowed;
};

static const struct rule rules[] = {
    {"back over the hour on a rack clock", "longcase-rack", 3 * 60 + 10, DEED_BACK, 20, true},
    {"back in the warning of a rack clock", "longcase-rack", 2 * 60 + 57, DEED_BACK, 20, false},
    {"back on a cuckoo with count wheel", "cuckoo-countwheel", 3 * 60 + 10, DEED_BACK, 20, false},
    {"back within the interval on a cuckoo with count wheel", "cuckoo-countwheel", 3 * 60 + 20, DEED_BACK, 5, false},
    {"back on a modern chiming clock", "floor-westminster-rack", 3 * 60 + 20, DEED_BACK, 20, true},
    {"back in the warning of a modern chiming clock", "floor-westminster-rack", 3 * 60 + 13, DEED_BACK, 20, false},
    {"on over three without waiting, rigid tail", "longcase-rack-rigid", 2 * 60 + 30, DEED_QUICK, 30, true},
    {"on over twelve without waiting, rigid tail", "longcase-rack-rigid", 11 * 60 + 30, DEED_QUICK, 30, false},
    {"on over twelve waiting, rigid tail", "longcase-rack-rigid", 11 * 60 + 30, DEED_FORWARD, 30, true},
    {"on without waiting, count wheel", "longcase-countwheel-78", 2 * 60 + 30, DEED_QUICK, 30, false},
    {"on without waiting, chime count wheel", "floor-westminster-rack", 2 * 60 + 5, DEED_QUICK, 10, false},
    {"hour hand of a longcase", "longcase-rack", 3 * 60 + 10, DEED_HOUR_HAND, 60, true},
    {"hour hand keyed on a tower clock", "turret-countwheel", 10 * 60 + 10, DEED_HOUR_HAND, 60, false},
    {"lever six minutes before a let-off", "floor-westminster-rack", 3 * 60 + 9, DEED_LEVER_CHIME, 1, true},
    {"lever five minutes before a let-off", "floor-westminster-rack", 3 * 60 + 10, DEED_LEVER_CHIME, 1, false},
    {"lever in the warning", "floor-westminster-rack", 3 * 60 + 13, DEED_LEVER_CHIME, 1, false},
    {"tune selector four minutes before a let-off", "floor-triple-chime", 10 * 60 + 11, DEED_TUNE, 1, false},
    {"tune selector six minutes before a let-off", "floor-triple-chime", 10 * 60 + 9, DEED_TUNE, 1, true},
    {"tune selector that is not there", "floor-westminster-rack", 10 * 60 + 9, DEED_TUNE, 0, false},
    {"lever that is not there", "longcase-rack", 3 * 60 + 10, DEED_LEVER_STRIKE, 1, false},
    {"trip without a wire", "longcase-rack", 3 * 60 + 10, DEED_TRIP_STRIKE, 0, false},
    {"trip by its wire", "longcase-countwheel-78", 3 * 60 + 10, DEED_TRIP_STRIKE, 0, true},
    {"trip in the warning", "longcase-countwheel-78", 2 * 60 + 57, DEED_TRIP_STRIKE, 0, false},
    {"quarter turn on a square", "longcase-rack", 3 * 60 + 10, DEED_MINUTE_BUSH, 15, true},
    {"eighth of a turn on a square", "longcase-rack", 3 * 60 + 10, DEED_MINUTE_BUSH, 7, false},
    {"eighth of a turn on a bush", "mantel-rack-half", 3 * 60 + 10, DEED_MINUTE_BUSH, 7, true},
    {"drum on the customer's shelf", "floor-westminster-rack", 3 * 60 + 5, DEED_DRUM, 1, false},
};

static void rules_of_each_movement_are_kept(void **state)
{
    (void)state;
    for (size_t i = 0; i < COUNT_OF(rules); i++) {
        struct bench_clock b;
        struct done done;
        bench_put(&b, rules[i].clock, 610);
        struct stance s = bench_stance(&b, rules[i].shown_min);
        if (deed_do(&b.r, &s, rules[i].deed, rules[i].amount, &done) != rules[i].allowed)
            fail_msg("%s: must be %s", rules[i].name, rules[i].allowed ? "allowed" : "refused");
        reset_release(&b.r);
    }
}

/* A rack left down (its weight was off at noon) meets the steep face with a rigid tail: 1883
 * handbook, E. Beckett f.167, the one hour at which waiting matters. */
static void a_rack_left_down_is_not_carried_over_the_face(void **state)
{
    struct bench_clock b;
    struct done done;
    (void)state;
    bench_put(&b, "longcase-rack-rigid", 610);
    struct stance s = bench_stance(&b, 12 * 60 + 5);
    s.rest.left = 12;
    assert_false(deed_do(&b.r, &s, DEED_FORWARD, 55, &done));
    assert_false(deed_do(&b.r, &s, DEED_QUICK, 55, &done));
    assert_false(deed_do(&b.r, &s, DEED_BACK, 15, &done));
    assert_true(deed_do(&b.r, &s, DEED_HELP, 0, &done));
    assert_int_equal(done.to.rest.left, 0);
    assert_int_equal(done.heard.blows, 12);
    assert_true(deed_do(&b.r, &done.to, DEED_FORWARD, 55, &done));
    assert_int_equal(done.heard.blows, 1);
    reset_release(&b.r);
}

static void a_refused_deed_leaves_its_result_alone(void **state)
{
    struct bench_clock b;
    struct done done = {.amount = 77};
    (void)state;
    bench_put(&b, "cuckoo-countwheel", 610);
    struct stance s = bench_stance(&b, 190);
    assert_false(deed_do(&b.r, &s, DEED_BACK, 20, &done));
    assert_int_equal(done.amount, 77);
    reset_release(&b.r);
}

static void every_deed_has_a_filled_row(void **state)
{
    (void)state;
    for (int d = 0; d < DEEDS; d++) {
        assert_non_null(deed_row((enum deed)d)->word);
        assert_non_null(deed_row((enum deed)d)->hazard);
        assert_true(deed_row((enum deed)d)->minutes > 0);
    }
}

/* A minute hand half a turn out does no harm where both lobes do the same work, and is wrong where
 * the lobes differ. */
static void half_a_turn_of_the_minute_hand_depends_on_the_lobes(void **state)
{
    struct bench_clock b;
    (void)state;
    bench_put(&b, "mantel-countwheel-90", 610);
    struct stance s = bench_stance(&b, 190);
    s.minute_off = 30;
    assert_true(stance_lobes_agree(&b.w, &s));
    s.minute_off = 15;
    assert_false(stance_lobes_agree(&b.w, &s));
    reset_release(&b.r);
    bench_put(&b, "mantel-rack-half", 610);
    s = bench_stance(&b, 190);
    s.minute_off = 30;
    assert_false(stance_lobes_agree(&b.w, &s));
    reset_release(&b.r);
}

/* The counts of the strike are 1..12 and the quarters 1..4, whatever the sounders. */
static void what_is_heard_is_counted_as_people_count(void **state)
{
    static const struct {
        const char *clock;
        int from_min, forward_min, blows, phrases;
    } rows[] = {
        {"longcase-rack", 6 * 60 + 30, 30, 7, 0},
        {"bimbam-rack", 6 * 60 + 40, 20, 7, 0},       /* two hammers a count */
        {"cuckoo-rack", 6 * 60 + 40, 20, 7, 0},       /* two pipes and a gong a count */
        {"floor-westminster-rack", 6 * 60 + 50, 10, 7, 4},
        {"floor-westminster-rack", 6 * 60 + 20, 10, 0, 2},
        {"ships-bell", 3 * 60 + 40, 20, 8, 0},        /* eight bells at four */
        {"ships-bell", 1 * 60 + 10, 20, 3, 0},        /* three at half past one */
    };
    (void)state;
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct bench_clock b;
        struct done done;
        bench_put(&b, rows[i].clock, 610);
        struct stance s = bench_stance(&b, rows[i].from_min);
        assert_true(deed_do(&b.r, &s, DEED_FORWARD, rows[i].forward_min, &done));
        assert_int_equal(done.heard.blows, rows[i].blows);
        assert_int_equal(done.heard.phrases, rows[i].phrases);
        reset_release(&b.r);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(rules_of_each_movement_are_kept),
        cmocka_unit_test(a_rack_left_down_is_not_carried_over_the_face),
        cmocka_unit_test(a_refused_deed_leaves_its_result_alone),
        cmocka_unit_test(every_deed_has_a_filled_row),
        cmocka_unit_test(half_a_turn_of_the_minute_hand_depends_on_the_lobes),
        cmocka_unit_test(what_is_heard_is_counted_as_people_count),
    };
    return cmocka_run_group_tests(tests, load, unload);
}
