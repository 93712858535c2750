/* Hands off and on again: what the sheet says must be what the clock does. */
#include "bench_clock.h"

#include <string.h>

#include "resync/hands_sheet.h"

static void take(struct bench_clock *b, struct hands_sheet *s, const char *clock)
{
    bench_put(b, clock, 610);
    hands_sheet_init(s, &b->w, 14 * 60 + 20);
}

static void leave(struct bench_clock *b, struct hands_sheet *s)
{
    hands_sheet_release(s);
    reset_release(&b->r);
}

/* The strike finishes before anything comes off, and the sheet says what it finishes with. */
static void hands_come_off_after_the_hour_has_finished(void **state)
{
    (void)state;
    for (size_t i = 0; i < library_clocks(lib); i++) {
        struct bench_clock b;
        struct hands_sheet s;
        take(&b, &s, library_clock(lib, i)->id);
        assert_true(s.steps >= 8);
        assert_int_equal(s.step[0].part, HANDS_OFF);
        assert_non_null(strstr(s.step[0].text, "let it finish"));
        assert_non_null(strstr(s.step[0].hear, "strikes"));
        assert_non_null(s.step[0].caution);
        for (size_t k = 1; k < s.steps; k++)
            assert_true(s.step[k].part >= s.step[k - 1].part);
        assert_int_equal(s.step[s.steps - 1].part, HANDS_PROVE);
        leave(&b, &s);
    }
}

struct certain {
    const char *clock;
    int listen;
};

/* How many let-offs must be counted before it is certain where the work stands.  A wheel of 78 or an hour
 * rack tells at once.  With single halves "one" may be 12:30, 1:00 or 1:30: three in a row part them.
 * A passing strike gives one blow always and never tells. */
static const struct certain certain[] = {
    {"longcase-rack", 1},       {"longcase-countwheel-78", 1}, {"mantel-rack-half", 3},
    {"mantel-countwheel-90", 3}, {"passing-strike", 0},
};

static void the_ear_is_sure_after_so_many_letoffs(void **state)
{
    (void)state;
    for (size_t i = 0; i < COUNT_OF(certain); i++) {
        struct bench_clock b;
        struct hands_sheet s;
        take(&b, &s, certain[i].clock);
        assert_int_equal(s.listen, certain[i].listen);
        leave(&b, &s);
    }
}

static void what_was_heard_points_to_the_times_it_belongs_to(void **state)
{
    struct bench_clock b;
    struct hands_sheet s;
    (void)state;
    take(&b, &s, "mantel-rack-half");
    assert_int_equal(s.rows, 12);
    for (size_t i = 0; i < s.rows; i++) {
        if (s.row[i].heard.blows == 1) { /* twelve halves and one o'clock */
            assert_int_equal(s.row[i].times, 13);
        } else {
            assert_int_equal(s.row[i].times, 1);
            assert_int_equal(s.row[i].shown_min[0], s.row[i].heard.blows % 12 * 60);
        }
    }
    leave(&b, &s);
}

static bool some_step_has(const struct hands_sheet *s, const char *words)
{
    for (size_t i = 0; i < s->steps; i++)
        if (strstr(s->step[i].text, words))
            return true;
    return false;
}

static void each_clock_gets_the_steps_of_its_own_parts(void **state)
{
    static const struct {
        const char *clock, *words;
        bool there;
    } rows[] = {
        {"longcase-rack", "square", true},           {"mantel-rack-half", "bush", true},
        {"turret-countwheel", "keyed", true},        {"longcase-rack", "keyed", false},
        {"floor-westminster-rack", "corrector", true}, {"chime-no-corrector", "raise its lever", true},
        {"longcase-rack", "Chime:", false},          {"longcase-countwheel-78", "raise its wire", true},
        {"french-countwheel-90", "forward past it again", true}, {"longcase-rack", "stands in warning", true},
    };
    (void)state;
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct bench_clock b;
        struct hands_sheet s;
        take(&b, &s, rows[i].clock);
        if (some_step_has(&s, rows[i].words) != rows[i].there)
            fail_msg("%s: \"%s\" %s", rows[i].clock, rows[i].words, rows[i].there ? "is missing" : "does not belong");
        leave(&b, &s);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(hands_come_off_after_the_hour_has_finished),
        cmocka_unit_test(the_ear_is_sure_after_so_many_letoffs),
        cmocka_unit_test(what_was_heard_points_to_the_times_it_belongs_to),
        cmocka_unit_test(each_clock_gets_the_steps_of_its_own_parts),
    };
    return cmocka_run_group_tests(tests, load, unload);
}
