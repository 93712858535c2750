/* Causes that sound alike in what was heard: who belongs together, and what would part them. */
#include "diagnose/taken_down.h"

#include <math.h>
#include "diagnose/alike.h"

struct told {
    struct taken taken;
    struct alike alike;
};

static void tell(struct told *t, struct desk *d, const char *line)
{
    memset(t, 0, sizeof *t);
    take_down(&t->taken, d, line);
    alike_find(&t->alike, &t->taken.belief, &t->taken.sheet, ALIKE_CAUSES, 1e-4);
}

static void forget(struct told *t)
{
    taken_release(&t->taken);
}

/* The group that a fault is in; NULL: none. */
static struct alike_group *group_of(struct told *t, const char *id)
{
    for (size_t g = 0; g < t->alike.groups; g++)
        for (size_t i = 0; i < t->alike.group[g].causes; i++)
            if (strcmp(t->taken.belief.cause[t->alike.group[g].cause[i]].id, id) == 0)
                return &t->alike.group[g];
    return NULL;
}

static void every_cause_is_in_one_group_and_the_shares_add_up(void **state)
{
    static const char *const lines[] = {
        "clock longcase-rack, 4:00 s5, 5:00 s6",
        "clock mantel-westminster-rack, 3:30 n1234",
        "clock longcase-countwheel-78, 3:00 s4, 4:00 s5, 5:00 s6",
    };
    for (size_t l = 0; l < COUNT_OF(lines); l++) {
        struct told t;
        double sum = 0, all = 0;
        size_t met[ALIKE_CAUSES] = {0}, causes = 0;
        tell(&t, *state, lines[l]);
        assert_true(t.alike.groups > 1);
        for (size_t g = 0; g < t.alike.groups; g++) {
            assert_true(g == 0 || t.alike.group[g].p <= t.alike.group[g - 1].p);
            sum += t.alike.group[g].p;
            for (size_t i = 0; i < t.alike.group[g].causes; i++) {
                size_t c = t.alike.group[g].cause[i];
                assert_true(i == 0 || c > t.alike.group[g].cause[i - 1]);
                met[c]++;
                causes++;
                all += t.taken.belief.cause[c].p;
            }
        }
        for (size_t c = 0; c < causes; c++)
            assert_int_equal(met[c], 1);
        assert_near(sum, all, 1e-9);
        forget(&t);
    }
}

/* On clocks that suit a cause alike its chances differ by rounding only, which must not choose between them. */
static void rounding_parts_no_clocks(void **state)
{
    static const char *const lines[] = {"3:00 s4, 4:00 s5, 5:00 s6", "3:00 s7, 4:00 s8", "9:00 s10, 10:00 s11"};
    for (size_t l = 0; l < COUNT_OF(lines); l++) {
        struct told t;
        struct alike before;
        tell(&t, *state, lines[l]);
        struct belief *b = &t.taken.belief;
        for (size_t g = 0; g < t.alike.groups; g++)
            alike_apart(&t.alike.group[g], b, &t.taken.sheet);
        before = t.alike;
        for (size_t i = 0; i < b->helds; i++)
            b->held[i].chance *= 1 + ((double)(i * 7 % 5) - 2) * 1e-13;
        alike_find(&t.alike, b, &t.taken.sheet, ALIKE_CAUSES, 1e-4);
        assert_int_equal(t.alike.groups, before.groups);
        for (size_t g = 0; g < t.alike.groups; g++) {
            alike_apart(&t.alike.group[g], b, &t.taken.sheet);
            assert_int_equal(t.alike.group[g].hear_min, before.group[g].hear_min);
        }
        forget(&t);
    }
}

/* The hour hand moved by an hour and a rack that falls a step too far both strike one more at four and at
 * five.  At twelve the one goes on to one, and the other has no step left. */
static void one_more_at_each_hour_is_one_group_that_other_hours_part(void **state)
{
    struct told t;
    tell(&t, *state, "clock longcase-rack, 4:00 s5, 5:00 s6");
    struct alike_group *g = group_of(&t, "hour-hand-moved");
    assert_non_null(g);
    assert_true(g == group_of(&t, "tail-angle-deep"));
    alike_apart(g, &t.taken.belief, &t.taken.sheet);
    assert_true(g->hear_min >= 0 && g->parted > 0.1);
    struct text say = {0};
    alike_say(g, &t.taken.belief, &say);
    assert_non_null(strstr(text_cstr(&say), ", or look at the hour hand"));
    text_release(&say);
    forget(&t);
    tell(&t, *state, "clock longcase-rack, 4:00 s5, 5:00 s6, 12:00 s1");
    assert_true(group_of(&t, "hour-hand-moved") != group_of(&t, "tail-angle-deep"));
    forget(&t);
}

/* A cause that makes a row only now and then is none that always makes it. */
static void what_happens_now_and_then_is_parted_from_what_always_does(void **state)
{
    struct told t;
    tell(&t, *state, "clock floor-westminster-rack, 3:00 s0 c=, 4:00 s0 c=");
    const struct alike_group *always = group_of(&t, "silent-lever-strike"), *now_and_then = group_of(&t, "handover-sometimes");
    assert_non_null(always);
    assert_non_null(now_and_then);
    assert_true(always != now_and_then);
    forget(&t);
}

static void without_rows_there_is_nothing_to_sound_alike(void **state)
{
    struct told t;
    tell(&t, *state, "clock longcase-rack, had moved_house");
    assert_int_equal(t.alike.groups, 0);
    forget(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_cause_is_in_one_group_and_the_shares_add_up),
        cmocka_unit_test(rounding_parts_no_clocks),
        cmocka_unit_test(one_more_at_each_hour_is_one_group_that_other_hours_part),
        cmocka_unit_test(what_happens_now_and_then_is_parted_from_what_always_does),
        cmocka_unit_test(without_rows_there_is_nothing_to_sound_alike),
    };
    return cmocka_run_group_tests(tests, open_desk, close_desk);
}
