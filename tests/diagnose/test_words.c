#include "suite.h"

#include <string.h>

#include "diagnose/words.h"
#include "err.h"
#include "movement/library.h"

static void the_vocabulary_loads_and_is_rich(void **state)
{
    (void)state;
    struct err e = {0};
    struct words *w = words_load("chimes/words.yaml", &e);
    err_print(&e, stderr);
    assert_non_null(w);
    assert_int_equal(e.count, 0);
    size_t all = 0;
    for (int k = 0; k < WORD_KINDS; k++) {
        assert_true(words_count(w, (enum word_kind)k) > 0);
        all += words_count(w, (enum word_kind)k);
    }
    assert_true(all >= 300);
    words_free(w);
}

static void every_word_can_be_asked_and_explained(void **state)
{
    (void)state;
    struct words *w = words_load("chimes/words.yaml", NULL);
    for (int k = 0; k < WORD_KINDS; k++)
        for (size_t i = 0; i < words_count(w, (enum word_kind)k); i++) {
            const struct word *word = words_at(w, (enum word_kind)k, i);
            assert_true(strlen(word->ask) > 10 && strlen(word->explain) > 3);
            assert_true(strlen(word->picture) > 1);
            assert_int_equal(word->ordinal[k], i);
            assert_ptr_equal(words_find(w, (enum word_kind)k, word->id), word);
            assert_true(word->minutes >= 0 && word->minutes <= 10);
            assert_true((k == WORD_DO) == (word->hazard != NULL));
            assert_true(k != WORD_HINT || word->values || word->low < word->high);
        }
    assert_null(words_at(w, WORD_SEEN, 5000));
    words_free(w);
}

static void words_are_found_by_id_and_near_miss(void **state)
{
    (void)state;
    struct words *w = words_load("chimes/words.yaml", NULL);
    assert_non_null(words_find(w, WORD_HISTORY, "moved_house"));
    assert_non_null(words_find(w, WORD_AFTER, "moved_house")); /* of both kinds */
    assert_null(words_find(w, WORD_SEEN, "moved_house"));
    assert_int_equal(words_ordinal(w, WORD_HOW, "no_such_word"), -1);
    assert_string_equal(words_nearest(w, WORD_SEEN, "hammer_free"), "hammers_free");
    assert_null(words_nearest(w, WORD_SEEN, "zzzzzzzz"));
    const struct word *count = words_find(w, WORD_HINT, "count");
    assert_int_equal(word_value_of(count, "rack"), 0);
    assert_int_equal(word_value_of(count, "racks"), -1);
    for (int k = 0; k < WORD_KINDS; k++)
        assert_int_equal(word_kind_of(word_kind_name((enum word_kind)k)), k);
    assert_int_equal(word_kind_of("smell"), -1);
    words_free(w);
}

static void words_that_exclude_each_other_clash_both_ways(void **state)
{
    (void)state;
    struct words *w = words_load("chimes/words.yaml", NULL);
    const struct word *on = words_find(w, WORD_SEEN, "pendulum_on");
    const struct word *off = words_find(w, WORD_SEEN, "pendulum_stopped");
    const struct word *even = words_find(w, WORD_SEEN, "beat_even");
    assert_true(words_clash(on, off) && words_clash(off, on));
    assert_false(words_clash(on, even));
    words_free(w);
}

static void sets_hold_words(void **state)
{
    (void)state;
    struct word_set set = {{0}};
    assert_true(word_set_empty(&set));
    word_set_add(&set, 0);
    word_set_add(&set, 200);
    word_set_add(&set, -1);
    word_set_add(&set, WORDS_PER_KIND);
    assert_int_equal(word_set_count(&set), 2);
    assert_true(word_set_has(&set, 200));
    assert_false(word_set_has(&set, 199));
    assert_false(word_set_has(&set, -1));
    word_set_remove(&set, 200);
    word_set_remove(&set, 0);
    assert_true(word_set_empty(&set));
}

#define ROW "{id: a, kind: seen, minutes: 1, picture: ear, ask: q, explain: x"

static void bad_vocabularies_are_refused_with_a_sentence(void **state)
{
    (void)state;
    static const struct {
        const char *text, *said;
    } rows[] = {
        {"", "empty"},
        {"words: {}", "no vocabulary"},
        {"words: []", "no vocabulary"},
        {"word: []", "no vocabulary"},
        {"words: [" ROW "}, " ROW "}]", "given twice"},
        {"words: [" ROW ", against: [b]}]", "no word of its kind"},
        {"words: [" ROW ", also: b}]", "not a list"},
        {"words: [" ROW ", also: {b: c}}]", "not a list"},
        {"words: [" ROW ", also: [b, c, d, e, f, g, h, i, j]}]", "at most 8"},
        {"words: [" ROW ", also: [[b]]}]", "expected another name"},
        {"words: [" ROW ", also: [a]}]", "which is a word of its kind"},
        {"words: [" ROW ", also: [b, b]}]", "which is a word of its kind"},
        {"words: [{id: a, kind: hint, minutes: 1, picture: ear, ask: q, explain: x, values: {v: "
         "t}, also: [v]}]",
         "not a map"},
        {"words: [{id: a, kind: hint, minutes: 1, picture: ear, ask: q, explain: x, values: {v: "
         "t}, also: {b: c}}]",
         "one of its values"},
        {"words: [{id: a, kind: hint, minutes: 1, picture: ear, ask: q, explain: x, values: {v: "
         "t}, also: {v: v}}]",
         "one of its values"},
        {"words: [" ROW ", told_by: [b]}]", "told by b, which is no word of kind how"},
        {"words: [{id: a, kind: how, minutes: 1, picture: ear, ask: q, explain: x, told_by: [a]}]",
         "only a word of kind seen"},
        {"words: [" ROW ", lasting: yes}]", "only a word of kind how"},
        {"words: [" ROW ", needs: [rak]}]",
         "key \"needs\" has \"rak\", which is none of its words; did you mean \"rack\"?"},
        {"words: [" ROW ", needs: rack}]", "wants a list of words"},
        {"words: [{id: a, kind: how, minutes: 1, picture: ear, ask: q, explain: x, needs: [rack]}]",
         "only a word of kind seen or history"},
        {"words: [" ROW ", values: {b: c}}]", "only a hint"},
        {"words: [{id: a, kind: smell, minutes: 1, picture: ear, ask: q, explain: x}]", "kind"},
        {"words: [{id: a, kind: [], minutes: 1, picture: ear, ask: q, explain: x}]", "empty list"},
        {"words: [{id: a, kind: do, minutes: 1, picture: ear, ask: q, explain: x}]", "who"},
        {"words: [{id: a, kind: hint, minutes: 1, picture: ear, ask: q, explain: x}]", "neither"},
        {"words: [{id: a, kind: seen, minutes: \"1,5\", picture: ear, ask: q, explain: x}]",
         "minutes"},
        {"words: [{id: a, kind: seen, minutes: 1, picture: ear, explain: x}]", "ask"},
        {"words: [" ROW ", colour: red}]", "colour"},
        {"words: [" ROW ", cures: {turn-bush: 0.1}}]", "of an action"},
        {"words: [{id: a, kind: do, minutes: 1, picture: ear, ask: q, explain: x, who: owner, "
         "hazard: none, cures: {b: 3}}]",
         "3"},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct err e = {0};
        assert_null(words_parse("w.yaml", rows[i].text, strlen(rows[i].text), &e));
        assert_true(e.count > 0);
        if (!strstr(e.line[0], rows[i].said))
            fail_msg("\"%s\" gave: %s", rows[i].text, e.line[0]);
        assert_int_equal(strncmp(e.line[0], "w.yaml", 6), 0);
        err_release(&e);
    }
    words_free(NULL);
}

static bool some_clock_is(const struct library *lib, const char *word, const char *value)
{
    for (size_t i = 0; i < library_clocks(lib); i++) {
        const struct clock *c = library_clock(lib, i);
        for (size_t h = 0; h < c->hints; h++)
            for (size_t v = 0; v < c->hint[h].values; v++)
                if (!strcmp(c->hint[h].word, word) && !strcmp(c->hint[h].value[v], value))
                    return true;
    }
    return false;
}

/* A look that no clock has would count against all clocks alike, and the caller had told nothing. */
static void every_look_a_caller_can_name_is_that_of_some_clock(void **state)
{
    (void)state;
    struct words *w = words_load("chimes/words.yaml", NULL);
    struct library *lib = library_load("chimes", NULL);
    static const char *const looks[] = {"case", "regulator", "sounder", "power", "chime", "music"};
    for (size_t i = 0; i < COUNT_OF(looks); i++) {
        const struct word *word = words_find(w, WORD_HINT, looks[i]);
        for (size_t v = 0; v < word->values; v++)
            if (strcmp(word->value[v], "unknown") && strcmp(word->value[v], "motor") &&
                !some_clock_is(lib, looks[i], word->value[v]))
                fail_msg("no clock has %s: %s", looks[i], word->value[v]);
    }
    library_free(lib);
    words_free(w);
}

/* What a caller did is judged as a cure, so the cure must be some fault's. */
static void actions_name_cures_that_faults_have(void **state)
{
    (void)state;
    struct words *w = words_load("chimes/words.yaml", NULL);
    struct library *lib = library_load("chimes", NULL);
    size_t named = 0;
    for (size_t i = 0; i < words_count(w, WORD_DO); i++) {
        const struct word *action = words_at(w, WORD_DO, i);
        for (size_t c = 0; c < action->cures; c++, named++) {
            bool used = false;
            for (size_t f = 0; f < library_faults(lib); f++)
                used |= !strcmp(library_fault(lib, f)->cure, action->cure[c]);
            if (!used)
                fail_msg("%s is %s, which cures no fault", action->id, action->cure[c]);
        }
    }
    assert_true(named >= 20);
    library_free(lib);
    words_free(w);
}

/* By the picture that goes with it.  Words that ask whether the part is there are for any clock, and so are the few that
 * only borrow the picture. */
static void words_of_parts_that_some_clocks_lack_say_so(void **state)
{
    (void)state;
    struct words *w = words_load("chimes/words.yaml", NULL);
    static const char *const part[] = {"weights", "spring", "silent_lever", "selector", "moon", "countwheel", "rack",
                                       "snail", "drum", "fly", "cuckoo", "bellows", "music"};
    static const char *const any[] = {"no_silent_lever", "count_wheel_seen", "snail_seen", "trip_wire_seen", "lift_wire_bent",
                                      "lever_stays_up", "strike_slower_when_low", "children_touched"};
    static const enum word_kind kind[] = {WORD_SEEN, WORD_HISTORY};
    for (size_t k = 0; k < COUNT_OF(kind); k++)
        for (size_t i = 0; i < words_count(w, kind[k]); i++) {
            const struct word *word = words_at(w, kind[k], i);
            bool shows = false, free = false;
            for (size_t p = 0; p < COUNT_OF(part); p++)
                shows |= !strcmp(word->picture, part[p]);
            for (size_t p = 0; p < COUNT_OF(any); p++)
                free |= !strcmp(word->id, any[p]);
            if (shows && !free && !word->needs)
                fail_msg("%s shows %s, which not every clock has, and needs nothing", word->id, word->picture);
        }
    words_free(w);
}

static void words_are_asked_of_clocks_that_have_the_part(void **state)
{
    (void)state;
    struct words *w = words_load("chimes/words.yaml", NULL);
    struct library *lib = library_load("chimes", NULL);
    static const struct {
        const char *word, *clock;
        bool asked;
    } rows[] = {
        {"rack_sticks", "longcase-rack", true},          {"rack_sticks", "mantel-countwheel-90", false},
        {"bird_stuck", "cuckoo-countwheel", true},             {"bird_stuck", "longcase-rack", false},
        {"chime_weight_still", "longcase-rack", false},  {"left_weight_still", "longcase-rack", true},
        {"left_weight_still", "mantel-countwheel-90", false},  {"strike_spring_full", "mantel-countwheel-90", true},
        {"hours_at_half", "mantel-countwheel-90", true},       {"hours_at_half", "longcase-rack", false},
        {"fan_still", "longcase-rack", true},            {"pendulum_on", "cuckoo-countwheel", true},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        const struct word *word = words_find(w, WORD_SEEN, rows[i].word);
        const struct clock *c = library_find_clock(lib, rows[i].clock);
        if (!word || !c)
            fail_msg("no word %s or clock %s", rows[i].word, rows[i].clock);
        if (word_fits(word, c) != rows[i].asked)
            fail_msg("%s of %s: expected %d", rows[i].word, rows[i].clock, rows[i].asked);
    }
    library_free(lib);
    words_free(w);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_vocabulary_loads_and_is_rich),
        cmocka_unit_test(every_word_can_be_asked_and_explained),
        cmocka_unit_test(every_look_a_caller_can_name_is_that_of_some_clock),
        cmocka_unit_test(actions_name_cures_that_faults_have),
        cmocka_unit_test(words_of_parts_that_some_clocks_lack_say_so),
        cmocka_unit_test(words_are_asked_of_clocks_that_have_the_part),
        cmocka_unit_test(words_are_found_by_id_and_near_miss),
        cmocka_unit_test(words_that_exclude_each_other_clash_both_ways),
        cmocka_unit_test(sets_hold_words),
        cmocka_unit_test(bad_vocabularies_are_refused_with_a_sentence),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
