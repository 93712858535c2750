/* Power and rhythm: what drives, what holds back, and the intervals that follow. */
#include "movement/known_clocks.h"

#include "movement/arbors.h"
#include "movement/power.h"

#define PI 3.14159265358979323846

static struct works works_of(const char *clock, enum par par, double value)
{
    struct works w;
    struct change change = {par, value};
    const struct clock *c = library_find_clock(lib, clock);
    assert_non_null(c);
    works_init(&w, c, &change, par < PAR_COUNT ? 1 : 0);
    return w;
}

static double settled(const struct works *w, enum event_train t)
{
    return w->pace[t].interval_s[POWER_GOOD];
}

static void doubling_the_torque_left_at_the_fly_runs_1_414_times_as_fast(void **state)
{
    (void)state;
    /* drag of a plate goes with the square of the speed: D = Cd rho V^2/2 A (NASA Glenn, "Shape
     * effects on drag"), so steady speed goes with the square root of the torque */
    struct works made = works_of("longcase-rack", PAR_COUNT, 0);
    struct balance b = power_balance(&made, TRAIN_STRIKE, POWER_GOOD);
    double through = 1 - b.lost_mj / b.drive_mj;
    double factor = (2 * b.fly_mj + b.hammers_mj) / (through * b.drive_mj);
    struct works more = works_of("longcase-rack", PAR_torque_strike, factor);
    assert_near(power_balance(&more, TRAIN_STRIKE, POWER_GOOD).fly_mj, 2 * b.fly_mj, 1e-9);
    assert_near(settled(&made, TRAIN_STRIKE) / settled(&more, TRAIN_STRIKE), sqrt(2), 1e-9);
}

static void doubling_the_weight_gives_more_since_hammers_and_their_work_stay_the_same(void **state)
{
    (void)state;
    struct works made = works_of("longcase-rack", PAR_COUNT, 0);
    struct works twice = works_of("longcase-rack", PAR_torque_strike, 2);
    struct balance b = power_balance(&made, TRAIN_STRIKE, POWER_GOOD);
    double faster = settled(&made, TRAIN_STRIKE) / settled(&twice, TRAIN_STRIKE);
    double due = sqrt((2 * (b.drive_mj - b.lost_mj) - b.hammers_mj) / b.fly_mj);
    assert_true(faster > sqrt(2));
    assert_near(faster, due, 1e-9);
}

static void the_arm_of_the_fly_tells_by_its_fourth_power_and_its_height_by_the_first(void **state)
{
    (void)state;
    /* "length tells more than width": E. Beckett, Clocks, Watches and Bells, 8th ed., f.194 */
    double k = power_fly_drag(0, 30, 20);
    assert_near(power_fly_drag(0, 60, 20) / k, 16, 1e-9);
    assert_near(power_fly_drag(0, 30, 40) / k, 2, 1e-9);
    struct works longer = works_of("longcase-rack", PAR_fly_drag_strike, 16);
    struct works made = works_of("longcase-rack", PAR_COUNT, 0);
    assert_near(settled(&longer, TRAIN_STRIKE) / settled(&made, TRAIN_STRIKE), 4, 1e-9);
}

static void gummed_oil_slows_and_thin_oil_quickens(void **state)
{
    (void)state;
    double fresh = 0, last = 0;
    static const double friction[] = {0.6, 1, 1.3, 1.6};
    for (size_t i = 0; i < 4; i++) {
        struct works w = works_of("mantel-westminster-rack", PAR_friction_chime, friction[i]);
        double s = settled(&w, TRAIN_CHIME);
        assert_true(s > last);
        last = s;
        fresh = i == 1 ? s : fresh;
    }
    assert_true(last > 1.1 * fresh);
}

static void a_spring_slows_as_it_runs_down_and_a_weight_does_not(void **state)
{
    (void)state;
    /* strongest wound, weaker as it runs down: E. Beckett, f.291 */
    struct works spring = works_of("mantel-countwheel-90", PAR_COUNT, 0);
    struct works weight = works_of("longcase-rack", PAR_COUNT, 0);
    const double *s = spring.pace[TRAIN_STRIKE].interval_s, *w = weight.pace[TRAIN_STRIKE].interval_s;
    assert_true(s[POWER_FULL] < s[POWER_GOOD] && s[POWER_GOOD] < s[POWER_LOW]);
    assert_near(w[POWER_FULL], w[POWER_LOW], 1e-12);
}

static void too_small_a_fly_is_still_gaining_speed_after_the_first_blows(void **state)
{
    (void)state;
    /* E. Beckett, f.194: with a small fly the speed rises after the first few blows */
    struct works made = works_of("longcase-rack", PAR_COUNT, 0);
    struct works small = works_of("longcase-rack", PAR_fly_drag_strike, 0.1);
    const struct pace *m = &made.pace[TRAIN_STRIKE], *p = &small.pace[TRAIN_STRIKE];
    double steady = pace_interval(m, POWER_GOOD, 1) / pace_interval(m, POWER_GOOD, 6);
    double gaining = pace_interval(p, POWER_GOOD, 1) / pace_interval(p, POWER_GOOD, 6);
    assert_true(steady < 1.01);
    assert_true(gaining > 1.15);
    assert_true(settled(&small, TRAIN_STRIKE) < settled(&made, TRAIN_STRIKE));
}

static void friction_stalls_the_heaviest_moment_first_and_low_power_before_good(void **state)
{
    (void)state;
    bool low_only = false, both = false;
    for (double f = 1; f < 12; f += 0.05) {
        struct works w = works_of("mantel-westminster-rack", PAR_friction_chime, f);
        const double *s = w.pace[TRAIN_CHIME].interval_s;
        if (s[POWER_GOOD] > 0 && s[POWER_LOW] <= 0)
            low_only = true;
        if (s[POWER_GOOD] <= 0) {
            both = true;
            struct balance b = power_balance(&w, TRAIN_CHIME, POWER_GOOD);
            assert_true(low_only); /* the weak end of the spring fails first */
            /* the mean work would still do: it is the heavy lift that stops it */
            assert_true(b.drive_mj - b.lost_mj > 0);
            break;
        }
    }
    assert_true(both);
}

static void efficiency_lies_in_the_published_range(void **state)
{
    (void)state;
    /* E. Beckett, f.201 and f.285: weight x fall is 2 to 4 times the hammer work, at best a
     * little more than 1/4 is lost: hammers take 0.25 .. 0.75 */
    for (size_t i = 0; i < library_clocks(lib); i++) {
        struct works w;
        const struct clock *c = library_clock(lib, i);
        works_init(&w, c, NULL, 0);
        if (!clock_train(c, TRAIN_STRIKE) || c->train[TRAIN_STRIKE].power.drive == DRIVE_NONE)
            continue;
        double share = power_balance(&w, TRAIN_STRIKE, POWER_GOOD).efficiency;
        if (share < 0.2 || share > 0.76)
            fail_msg("%s: hammers take %.2f of the drive", c->id, share);
        assert_true(settled(&w, TRAIN_STRIKE) > 0);
    }
}

static void an_eight_day_striker_gives_1248_blows_to_sixteen_turns(void **state)
{
    (void)state;
    /* E. Beckett, f.165: great wheel 78, pinion 8, 8 pins: one turn in twelve hours */
    const struct clock *c = library_find_clock(lib, "longcase-rack");
    assert_near(power_daily(c, TRAIN_STRIKE), 156, 1e-9);
    assert_near(power_capacity(c, TRAIN_STRIKE), 1248, 1e-9);
    assert_near(train_turns_per_blow(&c->train[TRAIN_STRIKE], 0) * 1248, 16, 1e-9);
}

static void a_clock_runs_its_days_and_then_stands(void **state)
{
    (void)state;
    struct works w = works_of("longcase-rack", PAR_COUNT, 0);
    struct moment m;
    struct chance chance;
    struct random r;
    random_init(&r, 1);
    chance_draw(&chance, &r);
    moment_init(&m, &w, 0);
    int days = 0;
    while (days < 20 && movement_turn(&w, &m, 1440, BY_TIME, &chance, NULL) == 1440)
        days++;
    assert_in_range(days, 7, 8);
    assert_int_equal(m.rest.stuck, STUCK_GOING);
}

/* --- arbors ------------------------------------------------------------------------------------ */

static size_t beats_of(const struct train *t, int bad, double swing, size_t n, struct beat *beat,
                       struct random *r)
{
    double turns = train_turns_per_blow(t, bad);
    for (size_t i = 0; i < n; i++) {
        beat[i].blow = (double)i;
        beat[i].interval_s = 1.7 * (1 + swing * sin(2 * PI * turns * (double)i + 0.7)) +
                             0.01 * random_normal(r);
    }
    return n;
}

static void the_arbor_that_swings_is_in_the_set_that_fits(void **state)
{
    (void)state;
    const struct train *t = &library_find_clock(lib, "longcase-rack")->train[TRAIN_STRIKE];
    struct beat beat[80];
    struct arbor_fit fit[CLOCK_ARBORS];
    struct random r;
    random_init(&r, 3);
    /* the pin wheel: 1/8 turn a blow */
    size_t n = arbors_fit(t, beat, beats_of(t, 1, 0.1, 78, beat, &r), 0, fit);
    assert_true(n > 3);
    assert_true(fit[1].fits);
    assert_near(fit[1].period_blows, 8, 1e-9);
    assert_near(fit[1].swing, 0.1, 0.02);
    assert_false(fit[0].fits); /* the great wheel turns once in 78 blows */
}

static void arbors_that_turn_whole_times_a_blow_cannot_be_heard(void **state)
{
    (void)state;
    const struct train *t = &library_find_clock(lib, "longcase-rack")->train[TRAIN_STRIKE];
    struct beat beat[80];
    struct arbor_fit fit[CLOCK_ARBORS];
    struct random r;
    random_init(&r, 4);
    arbors_fit(t, beat, beats_of(t, 2, 0.2, 78, beat, &r), 0, fit); /* the pallet arbor: 1 a blow */
    assert_true(fit[2].unheard);
    assert_true(fit[3].unheard); /* warning arbor, 6 a blow */
    for (size_t i = 0; i < 4; i++)
        assert_false(fit[i].fits);
}

static void notes_of_a_chime_tell_more_and_more_blows_part_the_rest(void **state)
{
    (void)state;
    const struct train *t = &library_find_clock(lib, "floor-westminster-rack")->train[TRAIN_CHIME];
    struct arbor_fit fit[CLOCK_ARBORS];
    struct beat beat[240];
    struct random r;
    int heard = 0;
    random_init(&r, 5);
    for (int bad = 0; bad < t->arbors; bad++) {
        arbors_fit(t, beat, beats_of(t, bad, 0.15, 240, beat, &r), 0, fit);
        if (fit[bad].unheard || fit[bad].seen_cycles * 240 < 1)
            continue;
        heard++;
        assert_true(fit[bad].fits);
        assert_true(fit[bad].blows_wanted >= 0);
    }
    assert_true(heard >= 2);
}

static void even_intervals_accuse_no_arbor(void **state)
{
    (void)state;
    const struct train *t = &library_find_clock(lib, "longcase-rack")->train[TRAIN_STRIKE];
    struct beat beat[60];
    struct arbor_fit fit[CLOCK_ARBORS];
    struct random r;
    int accused = 0;
    for (uint64_t seed = 0; seed < 40; seed++) {
        random_init(&r, seed);
        arbors_fit(t, beat, beats_of(t, 1, 0, 60, beat, &r), 0, fit);
        for (int i = 0; i < t->arbors; i++)
            accused += fit[i].fits;
    }
    assert_in_range(accused, 0, 3); /* about 1 in 100 for each of two arbors that can be heard */
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(doubling_the_torque_left_at_the_fly_runs_1_414_times_as_fast),
        cmocka_unit_test(doubling_the_weight_gives_more_since_hammers_and_their_work_stay_the_same),
        cmocka_unit_test(the_arm_of_the_fly_tells_by_its_fourth_power_and_its_height_by_the_first),
        cmocka_unit_test(gummed_oil_slows_and_thin_oil_quickens),
        cmocka_unit_test(a_spring_slows_as_it_runs_down_and_a_weight_does_not),
        cmocka_unit_test(too_small_a_fly_is_still_gaining_speed_after_the_first_blows),
        cmocka_unit_test(friction_stalls_the_heaviest_moment_first_and_low_power_before_good),
        cmocka_unit_test(efficiency_lies_in_the_published_range),
        cmocka_unit_test(an_eight_day_striker_gives_1248_blows_to_sixteen_turns),
        cmocka_unit_test(a_clock_runs_its_days_and_then_stands),
        cmocka_unit_test(the_arbor_that_swings_is_in_the_set_that_fits),
        cmocka_unit_test(arbors_that_turn_whole_times_a_blow_cannot_be_heard),
        cmocka_unit_test(notes_of_a_chime_tell_more_and_more_blows_part_the_rest),
        cmocka_unit_test(even_intervals_accuse_no_arbor),
    };
    return cmocka_run_group_tests(tests, load, unload);
}
