/* What is said of a cause: rows explained, what will be heard next, what clashes, what to see to first. */
#include "diagnose/taken_down.h"

#include <stdio.h>
#include "diagnose/reasons.h"

struct told {
    struct taken taken;
    struct sentences said;
};

static void tell(struct told *t, struct desk *d, const char *line)
{
    memset(t, 0, sizeof *t);
    take_down(&t->taken, d, line);
}

static void forget(struct told *t)
{
    sentences_release(&t->said);
    taken_release(&t->taken);
}

static bool any_says(const struct sentences *s, const char *words)
{
    for (size_t i = 0; i < s->count; i++)
        if (strstr(s->at[i], words))
            return true;
    return false;
}

static size_t place_of(const struct belief *b, const char *id)
{
    const struct belief_cause *c = belief_cause_of(b, id);
    assert_non_null(c);
    return (size_t)(c - b->cause);
}

/* An hour hand moved by one makes all three counts; a sound clock makes none of them. */
static void rows_a_cause_makes_are_explained_and_others_are_not(void **state)
{
    struct told t;
    tell(&t, *state, "clock longcase-rack, 3:00 s4, 4:00 s5, 5:00 s5");
    reasons_of(&t.said, &t.taken.belief, place_of(&t.taken.belief, "hour-hand-moved"), &t.taken.sheet);
    assert_true(any_says(&t.said, "explains 4 at 3:00, 5 at 4:00"));
    assert_true(any_says(&t.said, "does not explain 5 at 5:00"));
    forget(&t);
}

static void history_that_makes_a_cause_likelier_is_named(void **state)
{
    struct told t;
    tell(&t, *state, "clock longcase-rack, 3:00 s4, had hour_hand_moved");
    reasons_of(&t.said, &t.taken.belief, place_of(&t.taken.belief, "hour-hand-moved"), &t.taken.sheet);
    assert_true(any_says(&t.said, "hour hand moved"));
    forget(&t);
}

/* The rest of the day is foretold by the mechanism: every hour one more, and no hour already told
 * is given out as news. */
static void what_will_be_heard_next_is_news(void **state)
{
    struct told t;
    tell(&t, *state, "clock longcase-rack, 3:00 s4, 4:00 s5, 5:00 s6");
    reasons_predicts(&t.said, &t.taken.belief, place_of(&t.taken.belief, "hour-hand-moved"), &t.taken.sheet, 9);
    assert_int_equal(t.said.count, 9);
    for (int hour = 6; hour < 12; hour++) {
        char want[40];
        snprintf(want, sizeof want, "will strike %d at %d:00", hour + 1, hour);
        assert_true(any_says(&t.said, want));
    }
    assert_false(any_says(&t.said, " at 3:00") || any_says(&t.said, " at 4:00") ||
                 any_says(&t.said, " at 5:00"));
    forget(&t);
}

/* When every hour is told, it is the told ones that are said. */
static void with_every_hour_told_there_is_still_something_to_say(void **state)
{
    struct told t;
    tell(&t, *state, "clock longcase-rack, 1:00 s2, 2:00 s3, 3:00 s4, 4:00 s5, 5:00 s6, 6:00 s7, "
                          "7:00 s8, 8:00 s9, 9:00 s10, 10:00 s11, 11:00 s12, 12:00 s1");
    reasons_predicts(&t.said, &t.taken.belief, place_of(&t.taken.belief, "hour-hand-moved"), &t.taken.sheet, 3);
    assert_int_equal(t.said.count, 3);
    forget(&t);
}

static void nothing_is_foretold_of_a_fault_nobody_has_described(void **state)
{
    struct told t;
    tell(&t, *state, "clock longcase-rack, 3:00 s4");
    reasons_predicts(&t.said, &t.taken.belief, place_of(&t.taken.belief, "unknown"), &t.taken.sheet, 3);
    assert_int_equal(t.said.count, 0);
    forget(&t);
}

/* Three hours say that the hour hand is six out, and one says something else. */
static void the_row_that_clashes_is_the_odd_one(void **state)
{
    struct desk *d = *state;
    struct told t;
    tell(&t, d, "clock longcase-rack, 3:00 s9, 4:00 s10, 5:00 s2, 6:00 s12");
    assert_int_equal(reasons_clash(&t.said, d->finder, &t.taken.belief, &t.taken.sheet), 2);
    assert_true(any_says(&t.said, "at 5:00 it struck 2; ask about it again"));
    forget(&t);
}

static void rows_that_agree_do_not_clash(void **state)
{
    struct desk *d = *state;
    struct told t;
    tell(&t, d, "clock longcase-rack, 3:00 s4, 4:00 s5, 5:00 s6");
    assert_int_equal(reasons_clash(&t.said, d->finder, &t.taken.belief, &t.taken.sheet), -1);
    assert_int_equal(t.said.count, 0);
    forget(&t);
}

static void words_that_cannot_both_be_so_are_named(void **state)
{
    struct desk *d = *state;
    struct told t;
    tell(&t, d, "clock floor-westminster-rack, seen quarters_right, seen quarters_wrong");
    reasons_clash(&t.said, d->finder, &t.taken.belief, &t.taken.sheet);
    assert_true(any_says(&t.said, "cannot both be so"));
    forget(&t);
}

static void a_clock_that_stands_or_leans_is_seen_to_first(void **state)
{
    struct told t;
    tell(&t, *state, "clock longcase-rack, 3:00 s0, seen not_level, seen weight_at_bottom");
    reasons_first(&t.said, &t.taken.belief, &t.taken.sheet);
    assert_int_equal(t.said.count, 2);
    assert_true(any_says(&t.said, "level it first") && any_says(&t.said, "wind it first"));
    forget(&t);
}

/* Either nothing is said, or the two parts to look at are those of the first two causes. */
static void causes_that_sound_alike_send_one_to_look_at_their_parts(void **state)
{
    static const char *reports[] = {"clock longcase-rack, 3:00 s0, 4:00 s0", "clock longcase-rack, 3:00 s4, 4:00 s5",
                                    "clock mantel-countwheel-90, 3:00 s4, 4:00 s5, 5:00 s6"};
    size_t alike = 0;
    for (size_t i = 0; i < COUNT_OF(reports); i++) {
        struct told t;
        tell(&t, *state, reports[i]);
        reasons_look(&t.said, &t.taken.belief, &t.taken.sheet);
        if (t.said.count) {
            assert_true(any_says(&t.said, t.taken.belief.cause[0].part) && any_says(&t.said, t.taken.belief.cause[1].part));
            assert_true(any_says(&t.said, "cannot be told apart by ear"));
        }
        alike += t.said.count;
        forget(&t);
    }
    assert_true(alike >= 1); /* a silent rack clock has many causes that are silent alike */
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(rows_a_cause_makes_are_explained_and_others_are_not),
        cmocka_unit_test(history_that_makes_a_cause_likelier_is_named),
        cmocka_unit_test(what_will_be_heard_next_is_news),
        cmocka_unit_test(with_every_hour_told_there_is_still_something_to_say),
        cmocka_unit_test(nothing_is_foretold_of_a_fault_nobody_has_described),
        cmocka_unit_test(the_row_that_clashes_is_the_odd_one),
        cmocka_unit_test(rows_that_agree_do_not_clash),
        cmocka_unit_test(words_that_cannot_both_be_so_are_named),
        cmocka_unit_test(a_clock_that_stands_or_leans_is_seen_to_first),
        cmocka_unit_test(causes_that_sound_alike_send_one_to_look_at_their_parts),
    };
    return cmocka_run_group_tests(tests, open_desk, close_desk);
}
