/* The plate shows every clock's own parts where the simulation has them, and paints suspects. */
#include "suite.h"

#include <stdio.h>
#include <string.h>

#include "draw/plate.h"
#include "draw/type_case.h"
#include "movement/library.h"

struct bench {
    struct library *lib;
    struct type_case *types;
    struct canvas c;
    struct plate plate;
    struct works works;
};
static struct bench b;

static int setup(void **state)
{
    struct err e = {0};
    struct ink ink = {0};
    b.lib = library_load("chimes", &e);
    err_print(&e, stderr);
    b.types = type_case_new(NULL);
    canvas_init(&b.c, b.types, &ink, PLATE_W, PLATE_H);
    *state = &b;
    return b.lib ? 0 : -1;
}

static int teardown(void **state)
{
    (void)state;
    canvas_release(&b.c);
    type_case_free(b.types);
    library_free(b.lib);
    return 0;
}

/* Draw this clock at rest at a minute of the day. */
static void show(const struct clock *k, int work_min)
{
    struct moment m;
    works_init(&b.works, k, NULL, 0);
    moment_init(&m, &b.works, work_min);
    b.plate.clock = k;
    plate_pose_rest(&b.plate.pose, &b.works, &m);
    canvas_clear(&b.c);
    plate_draw(&b.plate, &b.c, 0, 0, 1);
}

static void trust_all(void)
{
    memset(&b.plate, 0, sizeof b.plate);
    b.plate.pointed = PART_NONE;
}

static void every_part_has_a_word_a_title_and_an_explanation(void **state)
{
    (void)state;
    for (int i = 0; i < PLATE_PARTS; i++) {
        const struct plate_part_row *r = plate_part_row((enum plate_part)i);
        assert_non_null(r);
        assert_true(r->word && r->word[0] && r->title[0] && r->does[0] && r->wrong[0]);
        assert_int_equal(plate_part_of(r->word), i);
    }
    assert_int_equal(plate_part_of("no such part"), PART_NONE);
}

static void a_sound_clock_shows_no_accent_anywhere(void **state)
{
    (void)state;
    trust_all();
    for (size_t i = 0; i < library_clocks(b.lib); i++) {
        show(library_clock(b.lib, i), 190);
        assert_true(b.c.marks > 100);
        assert_int_equal(canvas_count_tone(&b.c, TONE_ACCENT), 0);
        assert_int_equal(canvas_count_tone(&b.c, TONE_WASH), 0);
    }
}

static void what_is_drawn_stays_on_the_plate(void **state)
{
    (void)state;
    trust_all();
    for (size_t i = 0; i < library_clocks(b.lib); i++) {
        show(library_clock(b.lib, i), 190);
        for (size_t m = 0; m < b.c.marks; m++) {
            const struct mark *k = &b.c.mark[m];
            if (k->x < -30 || k->y < -30 || k->x + k->w > PLATE_W + 30 || k->y + k->h > PLATE_H + 30)
                fail_msg("%s: mark %zu lies off the plate at %.0f,%.0f %.0fx%.0f",
                         b.plate.clock->id, m, (double)k->x, (double)k->y, (double)k->w, (double)k->h);
        }
    }
}

static void parts_shown_follow_the_kind_of_clock(void **state)
{
    (void)state;
    double x, y;
    trust_all();
    for (size_t i = 0; i < library_clocks(b.lib); i++) {
        const struct clock *k = library_clock(b.lib, i);
        bool rack = k->train[TRAIN_STRIKE].control == CONTROL_RACK;
        bool count = k->train[TRAIN_STRIKE].control == CONTROL_COUNT_WHEEL;
        bool chime = k->train[TRAIN_CHIME].control != CONTROL_NONE;
        show(k, 190);
        assert_int_equal(plate_anchor(&b.plate, PART_SNAIL, &x, &y), rack);
        assert_int_equal(plate_anchor(&b.plate, PART_COUNT_WHEEL, &x, &y), count);
        assert_int_equal(plate_anchor(&b.plate, PART_CORRECTOR, &x, &y),
                         chime && k->train[TRAIN_CHIME].corrector);
        assert_true(plate_anchor(&b.plate, PART_HAMMER, &x, &y) || k->sounders == 0 ||
                    plate_anchor(&b.plate, PART_SOUNDER, &x, &y));
        assert_true(plate_anchor(&b.plate, PART_MINUTE_HAND, &x, &y));
    }
}

static void pointing_at_a_part_finds_it(void **state)
{
    (void)state;
    double x, y;
    trust_all();
    show(library_find_clock(b.lib, "longcase-rack"), 190);
    assert_int_equal(plate_part_at(&b.plate, b.plate.dial_x + 5000, 0), PART_NONE);
    assert_true(plate_anchor(&b.plate, PART_RACK_HOOK, &x, &y));
    assert_int_equal(plate_part_at(&b.plate, x, y), PART_RACK_HOOK);
    /* 3:10: the minute hand points to two o'clock's place */
    double a = 60 * M_PI / 180, r = b.plate.dial_r * 0.75;
    assert_int_equal(plate_part_at(&b.plate, b.plate.dial_x + r * sin(a), b.plate.dial_y - r * cos(a)),
                     PART_MINUTE_HAND);
}

static void a_likelier_suspect_wears_more_of_the_accent_and_a_flag(void **state)
{
    (void)state;
    size_t before = 0;
    static const double belief[] = {0.1, 0.5, 0.95};
    for (size_t i = 0; i < COUNT_OF(belief); i++) {
        trust_all();
        b.plate.belief[PART_RACK_TAIL] = belief[i];
        show(library_find_clock(b.lib, "longcase-rack"), 190);
        double gap = 0;
        for (size_t m = 0; m < b.c.marks; m++)
            if (b.c.mark[m].kind == MARK_HATCH && b.c.mark[m].tone == TONE_ACCENT)
                gap = b.c.mark[m].gap;
        assert_true(gap > 0 && (before == 0 || gap * 1000 < (double)before));
        before = (size_t)(gap * 1000);
        assert_non_null(canvas_find_text(&b.c, "1"));
    }
}

static size_t accents(void)
{
    return canvas_count_tone(&b.c, TONE_ACCENT);
}

static void a_doubt_about_one_train_or_hammer_is_painted_there_only(void **state)
{
    (void)state;
    const struct clock *k = library_find_clock(b.lib, "floor-westminster-rack");
    double x, y;
    trust_all();
    b.plate.belief[PART_PIVOTS] = b.plate.belief[PART_HAMMER] = 0.5;
    show(k, 190);
    size_t all = accents();
    b.plate.doubt[0] = (struct plate_doubt){PART_PIVOTS, TRAIN_CHIME, -1, 0.5};
    b.plate.doubt[1] = (struct plate_doubt){PART_HAMMER, -1, 2, 0.5};
    b.plate.doubts = 2;
    show(k, 190);
    assert_true(accents() > 0 && accents() < all / 2);
    assert_true(plate_anchor(&b.plate, PART_HAMMER, &x, &y));
    b.plate.doubts = 0;
    trust_all();
}

/* At rest after h hours the tail tip, carried down h teeth, stands on the edge of the snail's step:
 * the first blow's fall shows the number that will be struck. */
static void the_rack_falls_by_as_many_teeth_as_will_be_struck(void **state)
{
    (void)state;
    const struct clock *k = library_find_clock(b.lib, "longcase-rack");
    for (int hour = 1; hour <= 12; hour++) {
        struct moment m, before;
        struct random r;
        struct chance chance;
        struct event_list list = {0};
        double deepest = 0;
        random_init(&r, 7);
        chance_draw(&chance, &r);
        works_init(&b.works, k, NULL, 0);
        moment_init(&m, &b.works, hour % 12 * 60 - 1 + (hour % 12 == 0 ? 720 : 0));
        before = m;
        movement_turn(&b.works, &m, 2, BY_TIME, &chance, &list);
        assert_true(list.count > 0);
        double end_s = list.at[list.count - 1].t_s;
        for (double t = 0; t < end_s; t += 0.02) {
            plate_pose_at(&b.plate.pose, &b.works, &before, &list, t);
            deepest = fmax(deepest, b.plate.pose.rack);
        }
        assert_near(deepest, hour, 0.35);
        plate_pose_at(&b.plate.pose, &b.works, &before, &list, end_s + 1);
        assert_near(b.plate.pose.rack, 0, 1e-9);
        event_list_release(&list);
    }
}

static void a_hammer_is_up_before_its_blow_and_down_after(void **state)
{
    (void)state;
    const struct clock *k = library_find_clock(b.lib, "longcase-rack");
    struct moment m;
    struct plate_pose p;
    struct event list_at = {.t_s = 10, .kind = EVENT_BLOW, .train = TRAIN_STRIKE, .strength = 1};
    struct event_list list = {&list_at, 1, 1};
    works_init(&b.works, k, NULL, 0);
    moment_init(&m, &b.works, 100);
    plate_pose_at(&p, &b.works, &m, &list, 9.99);
    assert_true(p.hammer[0] > 0.9 && p.ring[0] == 0);
    plate_pose_at(&p, &b.works, &m, &list, 10.2);
    assert_true(p.hammer[0] == 0 && p.ring[0] > 0.5);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_part_has_a_word_a_title_and_an_explanation),
        cmocka_unit_test(a_sound_clock_shows_no_accent_anywhere),
        cmocka_unit_test(what_is_drawn_stays_on_the_plate),
        cmocka_unit_test(parts_shown_follow_the_kind_of_clock),
        cmocka_unit_test(pointing_at_a_part_finds_it),
        cmocka_unit_test(a_likelier_suspect_wears_more_of_the_accent_and_a_flag),
        cmocka_unit_test(a_doubt_about_one_train_or_hammer_is_painted_there_only),
        cmocka_unit_test(the_rack_falls_by_as_many_teeth_as_will_be_struck),
        cmocka_unit_test(a_hammer_is_up_before_its_blow_and_down_after),
    };
    return cmocka_run_group_tests(tests, setup, teardown);
}
