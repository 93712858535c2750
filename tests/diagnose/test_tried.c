/* test_tried.c - what was tried is done to every clock that is thought of, and tells them apart. */
#include "suite.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "diagnose/belief.h"

static struct library *lib;
static struct words *words;
static struct finder *finder;

static int open_desk(void **state)
{
    struct err e = {0};
    (void)state;
    lib = library_load("chimes", &e);
    words = words_load("chimes/words.yaml", &e);
    err_print(&e, stderr);
    err_release(&e);
    finder = lib ? finder_new(lib) : NULL;
    return lib && words ? 0 : -1;
}

static int close_desk(void **state)
{
    (void)state;
    finder_free(finder);
    words_free(words);
    library_free(lib);
    return 0;
}

/* The belief after a sheet; fails when it is refused. */
static struct belief believe(const char *yaml)
{
    struct sheet s;
    struct belief b;
    struct err e = {0};
    sheet_init(&s, words);
    if (!sheet_parse(&s, "test", yaml, strlen(yaml), &e)) {
        err_print(&e, stderr);
        fail_msg("the sheet is refused: %s", yaml);
    }
    assert_true(belief_find(finder, &s, NULL, &b));
    sheet_release(&s);
    err_release(&e);
    return b;
}

static double sum_of(const struct belief *b)
{
    double sum = 0;
    for (size_t i = 0; i < b->causes; i++) {
        assert_true(isfinite(b->cause[i].p) && b->cause[i].p >= 0);
        sum += b->cause[i].p;
    }
    return sum;
}

/* Belief in a fault, or in a class ("class:power"). */
static double belief_in(const struct belief *b, const char *what)
{
    if (!strncmp(what, "class:", 6)) {
        for (size_t i = 0; i < b->classes; i++)
            if (!strcmp(b->by_class[i].name, what + 6))
                return b->by_class[i].p;
        return 0;
    }
    const struct belief_cause *c = belief_cause_of(b, what);
    return c ? c->p : 0;
}

/* The same report with two results of the same action: the first speaks for the cause, the second against. */
static const struct {
    const char *name, *report, *speaks_for, *speaks_against, *what;
} rows[] = {
    {"a count wheel goes on with its own count when tripped",
     "clock: longcase-countwheel-78\nheard: [{at: \"3:00\", strike: 5}]\n",
     "{do: trip_by_hand, result: {strike: 6}}", "{do: trip_by_hand, result: {strike: 5}}",
     "count-out-of-step"},
    {"a lever at silent lets it strike again when pushed back",
     "clock: floor-westminster-rack\nheard: [{at: every_hour, strike: none}]\n",
     "{do: push_silent_lever, result: starts}", "{do: push_silent_lever, result: nothing}",
     "class:silent_lever"},
    {"what winding starts had run down",
     "clock: longcase-rack\nheard: [{at: \"3:00\", strike: none}, {at: \"4:00\", strike: none}]\n",
     "{do: wind, train: strike, result: starts}", "{do: wind, train: strike, result: nothing}",
     "class:power"},
    {"a key that goes round fifteen times tells of a spring that had run down",
     "clock: mantel-countwheel-90\nheard: [{at: every_hour, strike: none}]\n",
     "{do: wind, result: took_turns}", "{do: wind, result: took_none}", "strike-run-down"},
    {"a hammer that was bent to its rod without help was not out of its place",
     "clock: floor-westminster-rack\nheard: [{at: every_quarter, how: one_note_missing}]\n",
     "{do: bend_hammer, result: cured}", "{do: bend_hammer, result: nothing}", "chime-hammer-misses"},
    {"what another cure than its own did not help is the likelier",
     "clock: floor-westminster-rack\nheard: [{at: every_quarter, how: one_note_missing}]\n",
     "{do: bend_hammer, result: nothing}", "{do: bend_hammer, result: cured}", "chime-hammer-spring-broken"},
    {"a case set upright in vain does not lean",
     "clock: longcase-rack\nheard: [{at: any, stopped: clock}]\n",
     "{do: level_clock, result: works}", "{do: level_clock, result: nothing}", "out-of-beat"},
};

static void a_result_speaks_for_the_causes_under_which_the_mechanism_gives_it(void **state)
{
    (void)state;
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        char yaml[512];
        snprintf(yaml, sizeof yaml, "%stried: [%s]\n", rows[i].report, rows[i].speaks_for);
        struct belief with = believe(yaml);
        snprintf(yaml, sizeof yaml, "%stried: [%s]\n", rows[i].report, rows[i].speaks_against);
        struct belief against = believe(yaml);
        if (!(belief_in(&with, rows[i].what) > belief_in(&against, rows[i].what)))
            fail_msg("%s: %s is %.4f and %.4f", rows[i].name, rows[i].what,
                     belief_in(&with, rows[i].what), belief_in(&against, rows[i].what));
        belief_release(&with);
        belief_release(&against);
    }
}

/* Every action with every result, on clocks of each kind of locking: probabilities stay probabilities. */
static void every_action_with_every_result_leaves_probabilities(void **state)
{
    static const char *const clocks[] = {"longcase-rack", "cuckoo-countwheel"};
    (void)state;
    for (size_t k = 0; k < COUNT_OF(clocks); k++)
        for (size_t d = 0; d < words_count(words, WORD_DO); d++)
            for (size_t r = d % 3; r < words_count(words, WORD_RESULT);
                 r += 3) { /* each pair on its turn */
                char yaml[512];
                snprintf(yaml, sizeof yaml,
                         "clock: %s\nheard: [{at: \"3:00\", strike: none}]\ntried: [{do: %s, "
                         "result: %s}]\n",
                         clocks[k], words_at(words, WORD_DO, d)->id,
                         words_at(words, WORD_RESULT, r)->id);
                struct belief b = believe(yaml);
                assert_near(sum_of(&b), 1, 1e-6);
                belief_release(&b);
            }
}

static void actions_are_done_one_after_the_other(void **state)
{
    (void)state;
    struct belief b = believe("clock: longcase-countwheel-78\nheard: [{at: \"3:00\", strike: 5}]\n"
                              "tried: [{do: trip_by_hand, result: {strike: 6}}, {do: trip_by_hand, "
                              "result: {strike: 7}}]\n");
    struct belief c = believe("clock: longcase-countwheel-78\nheard: [{at: \"3:00\", strike: 5}]\n"
                              "tried: [{do: trip_by_hand, result: {strike: 6}}, {do: trip_by_hand, "
                              "result: {strike: 6}}]\n");
    assert_true(belief_in(&b, "count-out-of-step") > belief_in(&c, "count-out-of-step"));
    belief_release(&b);
    belief_release(&c);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_result_speaks_for_the_causes_under_which_the_mechanism_gives_it),
        cmocka_unit_test(every_action_with_every_result_leaves_probabilities),
        cmocka_unit_test(actions_are_done_one_after_the_other),
    };
    return cmocka_run_group_tests(tests, open_desk, close_desk);
}
