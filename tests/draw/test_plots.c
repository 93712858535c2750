/* The journal's figures by their marks: what is drawn, where, and in which tones. */
#include "suite.h"

#include <string.h>

#include "draw/calibration_plot.h"
#include "draw/minutes_plot.h"
#include "draw/type_case.h"
#include "draw/year_plot.h"

static struct type_case *types;
static struct canvas canvas;

static int setup(void **state)
{
    (void)state;
    types = type_case_new(NULL);
    canvas_init(&canvas, types, &(struct ink){CONTRAST_PLAIN, 1}, 700, 700);
    return 0;
}

static int teardown(void **state)
{
    (void)state;
    canvas_release(&canvas);
    type_case_free(types);
    return 0;
}

static void assert_inside(double x, double y, double w, double h)
{
    for (size_t i = 0; i < canvas.marks; i++) {
        const struct mark *m = &canvas.mark[i];
        assert_true(m->x >= x - 2 && m->y >= y - 2);
        assert_true(m->x + m->w <= x + w + 3 && m->y + m->h <= y + h + 3);
    }
    assert_int_equal(canvas_count_tone(&canvas, TONE_ACCENT), 0);
    assert_int_equal(canvas_count_tone(&canvas, TONE_WASH), 0);
}

/* Widest hatched mark: the disc of the month with most. */
static const struct mark *widest_hatch(void)
{
    const struct mark *best = NULL;
    for (size_t i = 0; i < canvas.marks; i++)
        if (canvas.mark[i].kind == MARK_HATCH && (!best || canvas.mark[i].w > best->w))
            best = &canvas.mark[i];
    return best;
}

static void a_year_gives_each_part_a_line_and_each_find_a_disc(void **state)
{
    (void)state;
    const struct year_part part[] = {
        {"rack tail", {[2] = 4, [9] = 16}, 20},
        {"", {[0] = 1}, 1},
    };
    double h = year_plot_draw(&canvas, 20, 30, 600, part, COUNT_OF(part));
    assert_non_null(canvas_find_text(&canvas, "rack tail"));
    assert_non_null(canvas_find_text(&canvas, "no part written down"));
    assert_non_null(canvas_find_text(&canvas, "20"));
    assert_inside(20, 30, 600, h);
    /* areas go with numbers: 16 finds have a disc twice as wide as 4 */
    const struct mark *most = widest_hatch();
    double other = 0;
    for (size_t i = 0; i < canvas.marks; i++) {
        const struct mark *m = &canvas.mark[i];
        if (m->kind == MARK_HATCH && m != most && (double)m->w > other)
            other = (double)m->w;
    }
    assert_near(other / (double)most->w, 0.5, 0.02);
}

static void parts_beyond_the_lines_are_added_up(void **state)
{
    (void)state;
    struct year_part part[YEAR_LINES + 3];
    for (size_t i = 0; i < COUNT_OF(part); i++)
        part[i] = (struct year_part){"fly", {[3] = 1}, 1};
    year_plot_draw(&canvas, 0, 0, 600, part, COUNT_OF(part));
    assert_non_null(canvas_find_text(&canvas, "all other parts"));
    assert_non_null(canvas_find_text(&canvas, "3"));
}

static void a_year_without_finds_says_so(void **state)
{
    (void)state;
    assert_true(year_plot_draw(&canvas, 0, 0, 600, NULL, 0) > 0);
    assert_non_null(canvas_find_text(&canvas, "No fault was found"));
}

/* Worked from the formula in the header: n = 10, k = 7, z = 1.645, z^2 = 2.706; the middle is
 * (7 + 1.353) / 12.706 = 0.6574, the half width 1.645 sqrt(2.1 + 0.6765) / 12.706 = 0.2157. */
static void the_interval_of_a_share_is_the_score_interval(void **state)
{
    static const struct { unsigned n; double held, low, high; } rows[] = {
        {10, 0.7, 0.4417, 0.8731},
        {0, 0, 0, 1},
        {5, 1.0, 5 / (5 + 2.706025), 1},
        {5, 0.0, 0, 2.706025 / (5 + 2.706025)},
    };
    (void)state;
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        double low, high;
        calibration_interval(&(struct calibration_point){0.5, rows[i].held, rows[i].n}, &low, &high);
        assert_near(low, rows[i].low, 2e-4);
        assert_near(high, rows[i].high, 2e-4);
    }
}

static void points_lie_where_promise_and_find_meet(void **state)
{
    (void)state;
    const struct calibration_point point[] = {{0.1, 0.1, 40}, {0.9, 0.9, 40}, {0.5, 0.5, 0}};
    calibration_plot_draw(&canvas, 10, 10, 300, point, COUNT_OF(point));
    double low_x = 1e9, high_x = 0, low_y = 0, high_y = 0;
    size_t discs = 0;
    for (size_t i = 0; i < canvas.marks; i++) {
        const struct mark *m = &canvas.mark[i];
        if (m->kind != MARK_HATCH)
            continue;
        double x = (double)(m->x + m->w / 2), y = (double)(m->y + m->h / 2);
        discs++;
        if (x < low_x)
            low_x = x, low_y = y;
        if (x > high_x)
            high_x = x, high_y = y;
    }
    assert_int_equal(discs, 2); /* a bin without beliefs has no point */
    assert_near(high_x - low_x, low_y - high_y, 1.0); /* both on the diagonal of a square */
    assert_inside(10, 10, 300, 300);
}

static void months_that_cost_more_than_they_saved_hang_below_the_line(void **state)
{
    struct minutes_month month[MINUTES_MONTHS] = {{120, 300}, [5] = {400, -150}};
    (void)state;
    minutes_plot_draw(&canvas, 0, 0, 500, 220, month);
    const struct mark *zero = NULL;
    float lowest = 0;
    for (size_t i = 0; i < canvas.marks; i++) {
        const struct mark *m = &canvas.mark[i];
        if (m->kind == MARK_STROKE && m->tone == TONE_INK && m->w > 300)
            zero = m;
        if (m->kind == MARK_FILL && m->y + m->h > lowest)
            lowest = m->y + m->h;
    }
    assert_non_null(zero);
    assert_true(lowest > zero->y + 10);
    assert_non_null(canvas_find_text(&canvas, "500"));
    assert_non_null(canvas_find_text(&canvas, "-200"));
    assert_inside(0, 0, 500, 220);
}

int main(void)
{
#define T(test) cmocka_unit_test_setup_teardown(test, setup, teardown)
    const struct CMUnitTest tests[] = {
        T(a_year_gives_each_part_a_line_and_each_find_a_disc), T(parts_beyond_the_lines_are_added_up),
        T(a_year_without_finds_says_so), T(the_interval_of_a_share_is_the_score_interval),
        T(points_lie_where_promise_and_find_meet), T(months_that_cost_more_than_they_saved_hang_below_the_line),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
