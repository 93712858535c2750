#include "suite.h"

#include <dirent.h>
#include <stdio.h>
#include <string.h>

#include "diagnose/sheet.h"
#include "diagnose/sheet_keys.h"
#include "diagnose/sheet_notice.h"
#include "err.h"
#include "event.h"
#include "mem.h"
#include "movement/fault.h"

static struct words *words;

static int load_words(void **state)
{
    (void)state;
    words = words_load("chimes/words.yaml", NULL);
    return words ? 0 : -1;
}

static int free_words(void **state)
{
    (void)state;
    words_free(words);
    return 0;
}

/* Read YAML that must be good. */
static void read_good(struct sheet *s, const char *text)
{
    struct err e = {0};
    sheet_init(s, words);
    if (!sheet_parse(s, "t.yaml", text, strlen(text), &e))
        fail_msg("%s\nin: %s", e.line[0], text);
    assert_int_equal(e.count, 0);
}

static void short_good(struct sheet *s, const char *text)
{
    struct err e = {0};
    sheet_init(s, words);
    if (!sheet_parse_shorthand(s, text, strlen(text), &e))
        fail_msg("%s\nin: %s", e.line[0], text);
    assert_int_equal(e.count, 0);
}

static void same_after_printing(const struct sheet *s)
{
    struct text yaml = {0}, again = {0};
    struct sheet back;
    sheet_print(s, &yaml);
    read_good(&back, text_cstr(&yaml));
    if (!sheet_same(s, &back))
        fail_msg("not the same: %s", text_cstr(&yaml));
    sheet_print(&back, &again);
    assert_string_equal(text_cstr(&yaml), text_cstr(&again));
    sheet_release(&back);
    text_release(&yaml);
    text_release(&again);
}

/* What shorthand can say comes back the same; texts are left out. */
static void same_after_shorthand(struct sheet *s)
{
    struct text line = {0};
    struct sheet back;
    bool whole = sheet_print_shorthand(s, &line);
    assert_true(whole == (!s->story && !s->source));
    short_good(&back, text_cstr(&line));
    mem_free(s->story);
    mem_free(s->source);
    s->story = s->source = NULL;
    if (!sheet_same(s, &back))
        fail_msg("not the same: %s", text_cstr(&line));
    same_after_printing(&back);
    sheet_release(&back);
    text_release(&line);
}

/* The example of the design of the call sheet, whole. */
static const char example[] =
    "clock: mantel-westminster-rack        # or hints below when the caller can't say\n"
    "hints: {winding_points: 3, power: weight, hands_back_ok: unknown, age: modern}\n"
    "history: [moved_house, hands_turned_back]\n"
    "seen: [left_weight_still, hammers_free]\n"
    "years_since_oil: 6\n"
    "heard:\n"
    "  - {at: \"3:00\", strike: 2}\n"
    "  - {at: \"3:15\", notes: \"3124\", how: slow}\n"
    "  - {at: \"3:30\", phrases: 2, strike: none}\n"
    "  - {at: \"4:00\", strike: runs_on}\n"
    "  - {at: \"5:07\", for: \"5:00\", strike: 5}       # late by the hand\n"
    "  - {at: every_hour, strike: 1}\n"
    "  - {at: every_hour, strike_error: -1}         # rules as callers say them\n"
    "  - {at: every_quarter, how: silent, except: hour}\n"
    "  - {at: every_hour, strike: {mostly: 1, sometimes: [2, 3, 4]}}\n"
    "  - {at: \"*:28\", stopped: hands}               # pendulum goes on\n"
    "  - {at: {after: \"8:10\", before: \"8:30\"}, stopped: clock, freed_by: hand_back}\n"
    "  - {at: \"6:00\", order: [gong, call], interval_s: 2.1, how: [slow, uneven]}\n"
    "tried:                                         # simulated as actions, in order\n"
    "  - {do: trip_by_hand, result: {strike: 4}}\n"
    "  - {do: pull_weight, train: strike, result: starts}\n"
    "since: {when: sudden, after: carriage}\n";

static void the_whole_example_is_understood(void **state)
{
    (void)state;
    struct sheet s;
    read_good(&s, example);
    assert_string_equal(s.clock, "mantel-westminster-rack");
    assert_int_equal(s.clock_line, 1);
    assert_int_equal(sheet_hint_number(&s, "winding_points", -1), 3);
    assert_string_equal(sheet_hint(&s, "power"), "weight");
    assert_string_equal(sheet_hint(&s, "age"), "modern");
    assert_null(sheet_hint(&s, "count"));
    assert_true(sheet_had(&s, "moved_house") && sheet_had(&s, "hands_turned_back"));
    assert_true(sheet_seen(&s, "left_weight_still") && !sheet_seen(&s, "right_weight_still"));
    assert_near(s.years_since_oil, 6, 0);
    assert_int_equal(s.heards, 12);
    const struct heard *h = s.heard;
    assert_int_equal(h[0].at.kind, AT_EXACT);
    assert_int_equal(h[0].at.min, 180);
    assert_int_equal(h[0].strike, HEARD_STRIKE_COUNT);
    assert_int_equal(h[0].value[0], 2);
    assert_int_equal(h[0].line, 7);
    assert_string_equal(h[1].notes, "3124");
    assert_true(heard_how(&h[1], words, "slow"));
    assert_int_equal(h[2].phrases, 2);
    assert_int_equal(h[2].strike, HEARD_STRIKE_NONE);
    assert_int_equal(h[3].strike, HEARD_STRIKE_RUNS_ON);
    assert_int_equal(h[4].at.min, 307);
    assert_true(h[4].has_for);
    assert_int_equal(h[4].due.min, 300);
    assert_int_equal(h[5].at.kind, AT_RULE);
    assert_int_equal(h[5].at.rule, RULE_HOUR);
    assert_int_equal(h[6].strike, HEARD_STRIKE_ERROR);
    assert_int_equal(h[6].value[0], -1);
    assert_int_equal(h[7].excepts, 1);
    assert_int_equal(h[8].strike, HEARD_STRIKE_SET);
    assert_true(h[8].mostly);
    assert_int_equal(h[8].values, 4);
    assert_int_equal(h[9].at.kind, AT_MINUTE);
    assert_int_equal(h[9].at.min, 28);
    assert_int_equal(h[9].stopped, STOPPED_HANDS);
    assert_int_equal(h[10].at.kind, AT_WINDOW);
    assert_int_equal(h[10].at.end_min, 510);
    assert_string_equal(words_at(words, WORD_FREED_BY, (size_t)h[10].freed_by)->id, "hand_back");
    assert_int_equal(h[11].orders, 2);
    assert_int_equal(h[11].order[0], ORDER_GONG);
    assert_near(h[11].interval_s, 2.1, 0);
    assert_int_equal(word_set_count(&h[11].how), 2);
    assert_int_equal(s.trieds, 2);
    assert_true(s.tried[0].has_row);
    assert_int_equal(s.tried[0].row.value[0], 4);
    assert_int_equal(s.tried[1].train, TRAIN_STRIKE);
    assert_string_equal(words_at(words, WORD_RESULT, (size_t)s.tried[1].result)->id, "starts");
    assert_string_equal(words_at(words, WORD_WHEN, (size_t)s.since_when)->id, "sudden");
    assert_true(words_has(words, WORD_AFTER, &s.since_after, "carriage"));
    same_after_printing(&s);
    same_after_shorthand(&s);
    sheet_release(&s);
}

static void every_row_of_the_example_stands_alone(void **state)
{
    (void)state;
    char copy[sizeof example];
    strcpy(copy, example);
    size_t rows = 0;
    for (char *line = strtok(copy, "\n"); line; line = strtok(NULL, "\n")) {
        if (strncmp(line, "  - {at", 7))
            continue;
        char one[300];
        struct sheet s;
        snprintf(one, sizeof one, "heard:\n%s\n", line);
        read_good(&s, one);
        assert_int_equal(s.heards, 1);
        same_after_printing(&s);
        same_after_shorthand(&s);
        sheet_release(&s);
        rows++;
    }
    assert_int_equal(rows, 12);
}

static size_t read_cases_of(const char *folder)
{
    DIR *dir = opendir(folder);
    assert_non_null(dir);
    size_t cases = 0;
    for (struct dirent *d; (d = readdir(dir));) {
        if (!strstr(d->d_name, ".yaml"))
            continue;
        char path[300];
        struct err e = {0};
        struct sheet s;
        snprintf(path, sizeof path, "%s/%s", folder, d->d_name);
        sheet_init(&s, words);
        if (!sheet_load(&s, path, &e))
            fail_msg("%s", e.line[0]);
        assert_true(s.story || !strcmp(folder, "tests/cases_again")); /* whose stories stand in tests/cases */
        assert_non_null(s.source);
        assert_string_equal(s.file, path);
        same_after_printing(&s);
        same_after_shorthand(&s);
        sheet_release(&s);
        cases++;
    }
    closedir(dir);
    return cases;
}

static void every_case_is_read_and_survives_both_forms(void **state)
{
    (void)state;
    assert_true(read_cases_of("tests/cases") >= 49);
    assert_true(read_cases_of("tests/cases_again") >= 49);
    assert_true(read_cases_of("tests/made_cases/worked") >= 30);
    assert_true(read_cases_of("tests/made_cases/apart") >= 30);
    assert_true(read_cases_of("tests/made_cases/worked_later") >= 24);
    assert_true(read_cases_of("tests/made_cases/later") >= 24);
}

/* One line of answers: each word in quotes is a key, or a word of the list the last key is for. */
static void answer_names_known_words(char *line, const char *folder)
{
    bool inside = false;
    const char *key = "";
    int classes = 0, parts = 0;
    for (char *end, *at = line; (end = strchr(at, '"')); at = end + 1, inside = !inside) {
        *end = '\0';
        if (!inside)
            continue;
        if (end[1] == ':') {
            key = at;
        } else if (!strcmp(key, "classes")) {
            if (fault_class_of(at) < 0)
                fail_msg("%s: no class %s", folder, at);
            classes++;
        } else if (!strcmp(key, "parts")) {
            if (fault_part_of(at) < 0)
                fail_msg("%s: no part %s", folder, at);
            parts++;
        } else if (!strcmp(key, "id")) {
            char path[700];
            snprintf(path, sizeof path, "%s/%s.yaml", folder, at);
            FILE *sheet = fopen(path, "r");
            assert_non_null(sheet);
            fclose(sheet);
        }
    }
    assert_true(classes > 0 && parts > 0);
}

static size_t read_answers_of(const char *folder)
{
    char path[300], line[600];
    snprintf(path, sizeof path, "%s/answers.jsonl", folder);
    FILE *f = fopen(path, "r");
    assert_non_null(f);
    size_t answers = 0;
    for (; fgets(line, sizeof line, f); answers++)
        answer_names_known_words(line, folder);
    fclose(f);
    return answers;
}

static void every_invented_case_has_an_answer_in_known_words(void **state)
{
    (void)state;
    static const char *const folders[] = {"tests/made_cases/worked", "tests/made_cases/apart",
                                          "tests/made_cases/worked_later",
                                          "tests/made_cases/later"};
    for (size_t i = 0; i < COUNT_OF(folders); i++)
        assert_int_equal(read_answers_of(folders[i]), read_cases_of(folders[i]));
}

static void rows_can_say_everything_the_header_lists(void **state)
{
    (void)state;
    static const char *const rows[] = {
        "{at: \"~3:00\", strike: 2}",
        "{at: \"3:00 pm\", strike: 2}",
        "{at: \"12:05 am\", strike: 2}",
        "{at: \"15:00\", strike: 2}",
        "{at: \"3:00\", pm: yes, strike: 2}",
        "{at: \"3:00\", pm: no, strike: 2}",
        "{at: every_half, strike: hour_count}",
        "{at: every_other_hour, strike: none}",
        "{at: any, strike: right, except: [\"5:00\", \"7:00\", half, \"*:15\"]}",
        "{at: an_hour, strike: wrong}",
        "{at: a_half, strike: some}",
        "{at: a_quarter, chime: wrong}",
        "{at: unknown, strike: runs_on}",
        "{strike: runs_on}",
        "{at: {after: \"*:10\", before: \"*:15\"}, stopped: chime, how: jams}",
        "{at: {after: \"11:50\", before: \"12:10\"}, stopped: hands}",
        "{at: {after: \"8:10 pm\", before: \"8:30 pm\"}, stopped: train, train: music}",
        "{at: {from: \"3:00\", to: \"11:00\", every: half}, strike_error: 1}",
        "{at: {from: \"3:00\", to: \"11:00\"}, strike_error: -2}",
        "{at: \"*:50\", for: hour, strike: right}",
        "{at: \"*:05\", for: \"*:00\", strike: right}",
        "{at: every_hour, strike: [1, 2, none, runs_on]}",
        "{at: every_hour, strike: {mostly: none, sometimes: [runs_on]}}",
        "{at: every_hour, strike: {mostly: 3, sometimes: 4}}",
        "{at: every_hour, strike_error: {mostly: 0, sometimes: [-1, 1]}}",
        "{at: every_hour, strike_error: constant}",
        "{at: every_hour, strike_error: 0}",
        "{at: every_hour, strike_error: [-1, 1]}",
        "{at: \"3:00\", strike: 0}",
        "{at: \"3:00\", strike: unnoticed}",
        "{at: \"3:00\", notes: \"1234 3124-13.?\"}",
        "{at: \"3:00\", notes: \"abcdefg\"}",
        "{at: \"3:15\", quarter: 2}",
        "{at: every_quarter, quarter: next}",
        "{at: every_quarter, quarter: previous}",
        "{at: every_quarter, chime: silent}",
        "{at: every_quarter, chime: none, often: sometimes}",
        "{at: every_quarter, chime: right, often: maybe}",
        "{at: every_quarter, chime: runs_on, often: once}",
        "{at: every_quarter, chime: unnoticed, phrases: 0}",
        "{at: every_hour, hammers: both, how: on_both}",
        "{at: every_hour, order: [chime, strike], pause_s: 12.5}",
        "{at: \"9:00\", intervals_s: [1.5, 1.75, 2.0625]}",
        "{at: \"9:00\", intervals_s: [0.1]}",
        "{at: \"9:00\", interval_s: 0.3333333333333333}",
        "{at: \"9:00\", date: \"2026-10-25\", strike: 9}",
        "{at: \"9:00\", date: \"2024-02-29\", strike: 24}",
        "{stopped: clock, freed_by: pendulum}",
        "{at: \"5:07\", for: \"5:00\"}",
        "{at: \"*:50\", for: every_hour, strike: right}",
        "{at: [\"9:00\", \"12:00\", every_half], strike: wrong, said: \"wrong at nine\"}",
        "{at: [\"9:00\", \"3:00\"], pm: yes, strike: 3}",
        "{at: every_hour, strike: {mostly: right, sometimes: none}}",
        "{at: every_hour, strike: {mostly: none, sometimes: [right, 1, runs_on]}}",
        "{at: every_hour, strike: [right, some, hour_count, wrong, 3]}",
        "{at: every_quarter, chime: [none, wrong]}",
        "{at: every_quarter, chime: [wrong, none, runs_on]}",
        "{at: every_quarter, chime: {mostly: right, sometimes: [none, wrong]}}",
        "{at: every_hour, chime: {mostly: right, sometimes: none}, strike: {mostly: right, "
        "sometimes: none}}",
        "{at: \"3:07\", stopped: [strike, hands]}",
        "{at: \"3:07\", stopped: [hands, clock, chime], freed_by: tap}",
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        char one[300];
        struct sheet s;
        snprintf(one, sizeof one, "heard: [%s]", rows[i]);
        read_good(&s, one);
        same_after_printing(&s);
        for (size_t k = 0; k < s.heards; k++) { /* which has no shorthand */
            mem_free(s.heard[k].said);
            s.heard[k].said = NULL;
        }
        same_after_shorthand(&s);
        sheet_release(&s);
    }
}

/* Other names and ways to write are read as the word or number they stand for, which is what is written. */
static void other_names_are_read_as_the_word_itself(void **state)
{
    (void)state;
    static const char *const same[][2] = {
        {"{case: hall}", "{case: tall}"},      {"{case: grandfather}", "{case: tall}"},
        {"{made: \"1980s\"}", "{made: 1985}"}, {"{made: \"~1980\"}", "{made: 1980}"},
        {"{made: ~1750s}", "{made: 1755}"},    {"{runs_days: \"~31\"}", "{runs_days: 31}"},
    };
    static const char *const bad[] = {"{made: \"1985s\"}",  "{made: \"~\"}",
                                      "{made: 0s}",         "{made: s}",
                                      "{made: \"~~1980\"}", "{runs_days: 30s}",
                                      "{made: \"2200s\"}",  "{made: 10000000000000000000000000}"};
    for (size_t i = 0; i < COUNT_OF(same); i++) {
        char text[2][80];
        struct sheet s[2];
        for (size_t k = 0; k < 2; k++) {
            snprintf(text[k], sizeof text[k], "seen: %s\nhints: %s", k ? "oil_dark" : "oil_dry",
                     same[i][k]);
            read_good(&s[k], text[k]);
        }
        if (!sheet_same(&s[0], &s[1]))
            fail_msg("%s is not %s", text[0], text[1]);
        same_after_printing(&s[0]);
        same_after_shorthand(&s[0]);
        sheet_release(&s[0]);
        sheet_release(&s[1]);
    }
    for (size_t i = 0; i < COUNT_OF(bad); i++) {
        char text[80];
        struct err e = {0};
        struct sheet s;
        sheet_init(&s, words);
        snprintf(text, sizeof text, "seen: oil_dark\nhints: %s", bad[i]);
        if (sheet_parse(&s, "t.yaml", text, strlen(text), &e))
            fail_msg("%s is read", text);
        err_release(&e);
        sheet_release(&s);
    }
}

static void a_list_of_times_is_a_row_for_each(void **state)
{
    (void)state;
    struct sheet list, rows;
    read_good(&list, "heard: [{at: [\"9:00\", \"1:00\", every_half], strike: wrong, said: \"so\"}, "
                     "{at: \"5:00\", strike: 5}]");
    read_good(&rows, "heard: [{at: \"9:00\", strike: wrong, said: \"so\"}, {at: \"1:00\", strike: "
                     "wrong, said: \"so\"},"
                     " {at: every_half, strike: wrong, said: \"so\"}, {at: \"5:00\", strike: 5}]");
    assert_true(sheet_same(&list, &rows));
    sheet_release(&list);
    sheet_release(&rows);
}

/* One of a list alone, and a list that says the same twice, say no more than the word. */
static void a_list_of_one_is_the_word_itself(void **state)
{
    (void)state;
    static const char *const same[][2] = {
        {"{at: any, chime: [none]}", "{at: any, chime: none}"},
        {"{at: any, chime: [none, silent]}", "{at: any, chime: none}"},
        {"{at: any, chime: {mostly: right, sometimes: right}}", "{at: any, chime: right}"},
        {"{at: any, strike: [right]}", "{at: any, strike: right}"},
        {"{at: any, strike: right, stopped: [hands, hands]}",
         "{at: any, strike: right, stopped: hands}"},
        {"{at: [\"3:00\"], strike: right}", "{at: \"3:00\", strike: right}"},
        {"{at: \"3:10\", for: every_half, strike: 1}", "{at: \"3:10\", for: half, strike: 1}"},
    };
    for (size_t i = 0; i < COUNT_OF(same); i++) {
        char text[2][120];
        struct sheet s[2];
        for (size_t k = 0; k < 2; k++) {
            snprintf(text[k], sizeof text[k], "heard: [%s]", same[i][k]);
            read_good(&s[k], text[k]);
        }
        if (!sheet_same(&s[0], &s[1]))
            fail_msg("%s is not %s", text[0], text[1]);
        sheet_release(&s[0]);
        sheet_release(&s[1]);
    }
}

static void one_count_or_another_is_the_list_of_both(void **state)
{
    (void)state;
    struct sheet said, list, brief;
    read_good(&said, "heard: [{at: \"5:00\", strike: \"5 or 6 or 0\"}]");
    read_good(&list, "heard: [{at: \"5:00\", strike: [5, 6, 0]}]");
    short_good(&brief, "5:00 s5/6/0");
    assert_int_equal(said.heard[0].strike, HEARD_STRIKE_SET);
    assert_true(sheet_same(&said, &list) && sheet_same(&said, &brief));
    same_after_printing(&said);
    sheet_release(&said);
    sheet_release(&list);
    sheet_release(&brief);
    static const char *const bad[] = {"5 or", "or 6", "5 or  6", "5 or 25", "5 or six", "5 or -1", "5 or 5000000000"};
    for (size_t i = 0; i < COUNT_OF(bad); i++) {
        char text[80];
        struct err e = {0};
        struct sheet s;
        sheet_init(&s, words);
        snprintf(text, sizeof text, "heard: [{at: \"5:00\", strike: \"%s\"}]", bad[i]);
        assert_false(sheet_parse(&s, "t.yaml", text, strlen(text), &e));
        assert_non_null(strstr(e.line[0], "t.yaml:1:30"));
        err_release(&e);
        sheet_release(&s);
    }
}

/* A value of a key, as it is listed, can be read where it is listed, and comes back the same. */
static void listed_value_is_read(const struct sheet_key *k, const char *value)
{
    struct text shown = {0};
    struct sheet s;
    sheet_key_example(k, value, &shown);
    read_good(&s, text_cstr(&shown));
    same_after_printing(&s);
    if (strcmp(k->key, "said") != 0) /* it has no shorthand */
        same_after_shorthand(&s);
    sheet_release(&s);
    text_release(&shown);
}

static void listed_word_is_read(const struct sheet_key *k, const char *word)
{
    struct text value = {0};
    sheet_key_value(word, &value);
    if (strcmp(k->key, "order") != 0)
        listed_value_is_read(k, text_cstr(&value));
    text_release(&value);
}

static void every_key_is_listed_with_values_that_can_be_read(void **state)
{
    (void)state;
    for (size_t i = 0; i < sheet_keys(); i++) {
        struct sheet_key k = sheet_key_at(i);
        size_t values = 0;
        if (!k.help.about)
            fail_msg("%s.%s is listed without its meaning", k.map, k.key);
        for (const struct sheet_form *f = k.help.forms; f && f->form; f++, values++) {
            assert_non_null(f->about);
            listed_value_is_read(&k, f->form);
        }
        for (const struct yaml_word *w = k.help.words; w && w->name; w++, values++) {
            if (!w->about)
                fail_msg("%s of %s.%s has no meaning", w->name, k.map, k.key);
            listed_word_is_read(&k, w->name);
        }
        int kind = k.help.kind ? word_kind_of(k.help.kind) : -1;
        for (size_t j = 0; kind >= 0 && j < words_count(words, (enum word_kind)kind); j++, values++)
            listed_word_is_read(&k, words_at(words, (enum word_kind)kind, j)->id);
        if (!values)
            fail_msg("%s.%s is listed without a value", k.map, k.key);
    }
}

/* The keys that a refused key is compared with are those listed. */
static void a_key_that_is_not_listed_is_refused(void **state)
{
    (void)state;
    for (size_t i = 0; i < sheet_keys(); i++) {
        struct sheet_key k = sheet_key_at(i), other = k;
        struct text shown = {0};
        struct err e = {0};
        struct sheet s;
        char key[80];
        snprintf(key, sizeof key, "%sx", k.key);
        other.key = key;
        sheet_key_example(&other, "3", &shown);
        sheet_init(&s, words);
        assert_false(sheet_parse(&s, "t.yaml", text_cstr(&shown), shown.length, &e));
        assert_non_null(strstr(e.line[0], "unknown key"));
        sheet_release(&s);
        err_release(&e);
        text_release(&shown);
    }
}

static void a_doubled_key_is_told_of_once(void **state)
{
    (void)state;
    static const char *const texts[] = {
        "heard: [{at: \"3:00\", strike: 1, strike: 1}]",
        "seen: hammers_free\nseen: hammers_free",
        "seen: hammers_free\nhints: {power: weight, power: spring}",
        "heard: [{at: {after: \"3:00\", before: \"4:00\", before: \"5:00\"}, strike: 1}]",
    };
    for (size_t i = 0; i < COUNT_OF(texts); i++) {
        struct err e = {0};
        struct sheet s;
        sheet_init(&s, words);
        assert_false(sheet_parse(&s, "t.yaml", texts[i], strlen(texts[i]), &e));
        assert_int_equal(e.count, 1);
        assert_non_null(strstr(e.line[0], "a second time"));
        sheet_release(&s);
        err_release(&e);
    }
}

static void half_days_are_told_apart_only_when_said(void **state)
{
    (void)state;
    static const struct {
        const char *row;
        int min;
        bool known24;
    } rows[] = {
        {"{at: \"3:00\", strike: 2}", 180, false},
        {"{at: \"12:00\", strike: 2}", 0, false},
        {"{at: \"12:00 pm\", strike: 2}", 720, true},
        {"{at: \"12:00 am\", strike: 2}", 0, true},
        {"{at: \"15:30\", strike: 2}", 930, true},
        {"{at: \"3:00\", pm: yes, strike: 2}", 900, true},
        {"{pm: no, at: \"3:00\", strike: 2}", 180, true},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        char one[200];
        struct sheet s;
        snprintf(one, sizeof one, "heard: [%s]", rows[i].row);
        read_good(&s, one);
        assert_int_equal(s.heard[0].at.min, rows[i].min);
        assert_int_equal(s.heard[0].at.known24, rows[i].known24);
        sheet_release(&s);
    }
}

static void a_denied_word_is_kept_apart(void **state)
{
    (void)state;
    struct sheet s;
    read_good(&s, "seen: [hammers_free, not warning_click_heard]\nhistory: not moved_house\n"
                  "hands: \"12:10\"\n");
    assert_true(sheet_seen(&s, "hammers_free"));
    assert_false(sheet_seen(&s, "warning_click_heard"));
    assert_true(words_has(words, WORD_SEEN, &s.seen_not, "warning_click_heard"));
    assert_true(words_has(words, WORD_HISTORY, &s.history_not, "moved_house"));
    assert_int_equal(s.hands_min, 10);
    same_after_printing(&s);
    same_after_shorthand(&s);
    sheet_release(&s);
}

static void texts_keep_every_letter(void **state)
{
    (void)state;
    struct sheet s;
    read_good(&s, "story: \"it said \\\"bim\\\"\\n\\tand back\\\\ Glockenschl\\u00e4ge\"\n"
                  "heard: [{strike: 1, said: \"one, she thinks: 'dong'\"}]\n");
    assert_string_equal(s.story, "it said \"bim\"\n\tand back\\ Glockenschl\xc3\xa4ge");
    assert_string_equal(s.heard[0].said, "one, she thinks: 'dong'");
    same_after_printing(&s);
    struct text line = {0};
    assert_false(sheet_print_shorthand(&s, &line)); /* texts have no shorthand */
    assert_string_equal(text_cstr(&line), "? s1");
    text_release(&line);
    sheet_release(&s);
}

static void shorthand_of_the_phone_is_understood(void **state)
{
    (void)state;
    static const struct {
        const char *line, *yaml;
    } rows[] = {
        {"3:00 s2, 3:15 n3124 slow, 3:30 p2 s0, 4:00 s*",
         "heard: [{at: \"3:00\", strike: 2}, {at: \"3:15\", notes: \"3124\", how: slow}, "
         "{at: \"3:30\", phrases: 2, strike: none}, {at: \"4:00\", strike: runs_on}]"},
        {"hours s-1", "heard: [{at: every_hour, strike_error: -1}]"},
        {"hour s-1", "heard: [{at: every_hour, strike_error: -1}]"},
        {"quarters silent not=hour", "heard: [{at: every_quarter, how: silent, except: hour}]"},
        {"hours s1(2/3/4)", "heard: [{at: every_hour, strike: {mostly: 1, sometimes: [2, 3, 4]}}]"},
        {"*:28 stop=hands", "heard: [{at: \"*:28\", stopped: hands}]"},
        {"8:10..8:30 stop=clock freed=hand_back",
         "heard: [{at: {after: \"8:10\", before: \"8:30\"}, stopped: clock, freed_by: hand_back}]"},
        {"6:00 order=gong>call i2.1 slow uneven",
         "heard: [{at: \"6:00\", order: [gong, call], interval_s: 2.1, how: [slow, uneven]}]"},
        {"5:07 for=5:00 s5", "heard: [{at: \"5:07\", for: \"5:00\", strike: 5}]"},
        {"3:00-11:00/hours s+1",
         "heard: [{at: {from: \"3:00\", to: \"11:00\", every: hour}, strike_error: 1}]"},
        {"~3:00pm s3; 4:00 s4\n5:00 s5,,",
         "heard: [{at: \"~3:00 pm\", strike: 3}, {at: \"4:00\", strike: 4}, {at: \"5:00\", strike: "
         "5}]"},
        {"clock longcase-rack, hint power=weight made=1750, had moved_house, not-had dropped, "
         "asked-had carriage, seen hammers_free, not-seen hand_rubs, asked-seen rust, oil 2.5, hands 3:10, since sudden carriage, "
         "did pull_weight:strike@3:00 -> starts, did trip_by_hand -> s4, did nothing",
         "clock: longcase-rack\nhints: {power: weight, made: 1750}\n"
         "history: [moved_house, asked carriage, not dropped]\n"
         "seen: [hammers_free, asked rust, not hand_rubs]\n"
         "years_since_oil: 2.5\nhands: \"3:10\"\nsince: {when: sudden, after: carriage}\n"
         "tried: [{do: pull_weight, train: strike, at: \"3:00\", result: starts}, "
         "{do: trip_by_hand, result: {strike: 4}}, {do: nothing}]"},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct sheet a, b;
        short_good(&a, rows[i].line);
        read_good(&b, rows[i].yaml);
        if (!sheet_same(&a, &b))
            fail_msg("not the same: %s", rows[i].line);
        same_after_shorthand(&a);
        sheet_release(&a);
        sheet_release(&b);
    }
}

static void bad_sheets_are_refused_with_place_and_advice(void **state)
{
    (void)state;
    static const struct {
        const char *text, *place, *said;
    } rows[] = {
        {"", "t.yaml", "empty"},
        {"[]", "t.yaml:1:1", "no map"},
        {"clock: longcase-rack", "t.yaml:1:1", "tells nothing"},
        {"heard: []", "t.yaml:1:1", "tells nothing"},
        {"heart: []", "t.yaml:1:1", "did you mean heard?"},
        {"seen: [hammer_free]", "t.yaml:1:8", "did you mean hammers_free?"},
        {"seen: {a: b}", "t.yaml:1:7", "map"},
        {"seen: [hammers_free, hammers_free]", "t.yaml:1:22", "twice"},
        {"seen: [hammers_free, not hammers_free]", "t.yaml:1:22", "twice"},
        {"seen: hammers_free\nseen: hammers_free", "t.yaml:2:1", "seen"},
        {"seen: hammers_free\nclock: [a]", "t.yaml:2:8", "id of a clock"},
        {"seen: hammers_free\nclock: 'a b'", "t.yaml:2:8", "id of a clock"},
        {"seen: hammers_free\nhints: {powr: weight}", "t.yaml:2:9", "did you mean power?"},
        {"seen: hammers_free\nhints: {power: steam}", "t.yaml:2:16", "weight, spring"},
        {"seen: hammers_free\nhints: {power: wieght}", "t.yaml:2:16", "did you mean weight?"},
        {"seen: hammers_free\nhints: {made: 99}", "t.yaml:2:15", "1300 to 2200"},
        {"seen: hammers_free\nyears_since_oil: 2,5", "t.yaml:2:18", "years_since_oil"},
        {"seen: hammers_free\nhands: \"13:70\"", "t.yaml:2:8", "time"},
        {"seen: hammers_free\nsince: {when: suddn}", "t.yaml:2:15", "did you mean sudden?"},
        {"seen: hammers_free\ntried: [{train: strike}]", "t.yaml:2:9", "no do"},
        {"seen: hammers_free\ntried: [{do: wound}]", "t.yaml:2:14", "did you mean wind?"},
        {"seen: hammers_free\ntried: [{do: wind, result: {}}]", "t.yaml:2:28", "tells nothing"},
        {"heard: [{at: \"25:00\", strike: 1}]", "t.yaml:1:14", "25:00"},
        {"heard: [{at: \"3:60\", strike: 1}]", "t.yaml:1:14", "3:60"},
        {"heard: [{at: \"*:60\", strike: 1}]", "t.yaml:1:14", "*:60"},
        {"heard: [{at: 3, strike: 1}]", "t.yaml:1:14", "expected a time"},
        {"heard: [{at: {after: \"3:00\"}, strike: 1}]", "t.yaml:1:14", "before"},
        {"heard: [{at: {after: \"3:00\", before: \"*:10\"}, strike: 1}]", "t.yaml:1:14",
         "one kind"},
        {"heard: [{at: {from: \"3:00\", to: every_hour}, strike: 1}]", "t.yaml:1:33", "time"},
        {"heard: [{at: \"3:00\"}]", "t.yaml:1:9", "tells nothing"},
        {"heard: [{at: \"3:00\", strike: 25}]", "t.yaml:1:30", "0 to 24"},
        {"heard: [{at: \"3:00\", strike: -1}]", "t.yaml:1:30", "0 to 24"},
        {"heard: [{at: \"3:00\", strike: 2.5}]", "t.yaml:1:30", "0 to 24"},
        {"heard: [{at: \"3:00\", strike: []}]", "t.yaml:1:30", "empty list"},
        {"heard: [{at: \"3:00\", strike: {mostly: 1}}]", "t.yaml:1:30", "sometimes"},
        {"heard: [{at: \"3:00\", strike: 1, strike_error: 1}]", "t.yaml:1:47", "one of them"},
        {"heard: [{at: \"3:00\", strike_error: 25}]", "t.yaml:1:36", "-24 to 24"},
        {"heard: [{at: \"3:00\", strike: 1, strke: 1}]", "t.yaml:1:33", "did you mean strike?"},
        {"heard: [{at: \"3:00\", notes: \"3129x\"}]", "t.yaml:1:29", "notes"},
        {"heard: [{at: \"3:00\", phrases: many}]", "t.yaml:1:31", "0 to 24"},
        {"heard: [{at: \"3:00\", quarter: 5}]", "t.yaml:1:31", "previous"},
        {"heard: [{at: \"3:00\", how: slwo}]", "t.yaml:1:27", "did you mean slow?"},
        {"heard: [{at: \"3:00\", chime: riht}]", "t.yaml:1:29", "right"},
        {"heard: [{at: \"3:00\", order: [gong]}]", "t.yaml:1:29", "two to six"},
        {"heard: [{at: \"3:00\", interval_s: \"2,1\"}]", "t.yaml:1:34", "interval_s"},
        {"heard: [{at: \"3:00\", interval_s: 0}]", "t.yaml:1:34", "interval_s"},
        {"heard: [{at: \"3:00\", strike: 1, date: \"2026-02-29\"}]", "t.yaml:1:39", "calendar"},
        {"heard: [{at: every_hour, strike: 1, pm: yes}]", "t.yaml:1:41", "pm"},
        {"heard: [{at: \"3:00\", strike: 1, except: hour}]", "t.yaml:1:9", "without a rule"},
        {"heard: [{at: \"3:00\", how: slow, freed_by: tap}]", "t.yaml:1:9", "without stopped"},
        {"heard: [{at: any, strike: constant}]", "t.yaml:1:27", "runs_on"},
        {"heard: [{at: any, strike_error: constnt}]", "t.yaml:1:33", "-24 to 24, constant"},
        {"heard: [{at: any, strike_error: [constant]}]", "t.yaml:1:34", "-24 to 24"},
        {"heard: [{at: [], strike: 1}]", "t.yaml:1:14", "a list of these"},
        {"heard: [{at: [\"3:00\", \"25:00\"], strike: 1}]", "t.yaml:1:23", "25:00"},
        {"heard: [{at: [[\"3:00\"]], strike: 1}]", "t.yaml:1:15", "list"},
        {"heard: [{at: [every_hour, \"3:00\"], strike: 1, except: half}]", "t.yaml:1:9",
         "without a rule"},
        {"heard: [{at: every_hour, strike: 1, except: bogus}]", "t.yaml:1:45", "a list of these"},
        {"heard: [{at: \"3:00\", strike: [unnoticed, 1]}]", "t.yaml:1:31", "hour_count"},
        {"heard: [{at: \"3:00\", chime: []}]", "t.yaml:1:29", "at least one"},
        {"heard: [{at: \"3:00\", chime: [none, unnoticed]}]", "t.yaml:1:36", "beside others"},
        {"heard: [{at: \"3:00\", chime: {mostly: right}}]", "t.yaml:1:29", "sometimes"},
        {"heard: [{at: \"3:00\", stopped: []}]", "t.yaml:1:31", "at least one"},
        {"heard: [{at: \"3:00\", stopped: [hands, feet]}]", "t.yaml:1:39", "feet"},
        {"seen: hammers_free\ntried: [{do: wind, at: [\"3:00\"]}]", "t.yaml:2:24", "list"},
        {"heard: {at: \"3:00\"}", "t.yaml:1:8", "list of rows"},
        {"heard: [3]", "t.yaml:1:9", "no map"},
        {"heard: [{at: \"3:00\", strike: 1", "t.yaml", ""},
        {"story: \"\xff\xfe\"", "t.yaml", "UTF-8"},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct err e = {0};
        struct sheet s;
        sheet_init(&s, words);
        assert_false(sheet_parse(&s, "t.yaml", rows[i].text, strlen(rows[i].text), &e));
        assert_true(e.count > 0);
        assert_int_equal(err_status(&e), EXIT_BAD_INPUT);
        if (strncmp(e.line[0], rows[i].place, strlen(rows[i].place)) ||
            !strstr(e.line[0], rows[i].said))
            fail_msg("\"%s\" gave: %s", rows[i].text, e.line[0]);
        assert_true(sheet_empty(&s)); /* refused input leaves nothing behind */
        assert_string_equal(s.clock, "");
        sheet_release(&s);
        err_release(&e);
    }
}

static void all_errors_come_at_once(void **state)
{
    (void)state;
    static const char text[] = "clck: x\nhistory: [mooved_house, dropt]\nheard:\n"
                               "  - {at: \"26:00\", strike: 99, hw: slow}\n  - {at: \"3:00\"}\n";
    struct err e = {0};
    struct sheet s;
    sheet_init(&s, words);
    assert_false(sheet_parse(&s, "t.yaml", text, strlen(text), &e));
    assert_int_equal(e.count, 7);
    err_release(&e);
    sheet_release(&s);
}

static void bad_shorthand_is_refused_and_changes_nothing(void **state)
{
    (void)state;
    static const struct {
        const char *text, *place, *said;
    } rows[] = {
        {"3:00", "shorthand:1:1", "nothing is told"},
        {"3:00 s2, 26:00 s1", "shorthand:1:10", "no time"},
        {"3:00 slwo", "shorthand:1:6", "did you mean slow?"},
        {"3:00 s2 s3", "shorthand:1:9", "not understood"},
        {"3:00 s", "shorthand:1:6", "not understood"},
        {"3:00 s1(2", "shorthand:1:6", "not understood"},
        {"3:00 s25", "shorthand:1:6", "not understood"},
        {"3:00 n9z", "shorthand:1:6", "notes"},
        {"3:00 q9", "shorthand:1:6", "q1"},
        {"3:00 i2x", "shorthand:1:6", "i2.1"},
        {"3:00 slow slow", "shorthand:1:11", "twice"},
        {"quarters c0/", "shorthand:1:10", ""},
        {"quarters c=(", "shorthand:1:10", ""},
        {"quarters c=()", "shorthand:1:10", ""},
        {"quarters c=(0", "shorthand:1:10", ""},
        {"quarters c0!", "shorthand:1:10", ""},
        {"quarters c0/?", "shorthand:1:10", ""},
        {"3:00 s1(~)", "shorthand:1:6", ""},
        {"3:00 s=(?)", "shorthand:1:6", ""},
        {"3:00 stop=hands/", "shorthand:1:6", ""},
        {"3:00 stop=moon", "shorthand:1:6", "stop=hands"},
        {"3:00 s1 not=hour", "shorthand:1:9", "beside a rule"},
        {"3:00 s1 colour=red", "shorthand:1:9", "no known key"},
        {"3:00 s1 freed=tap", "shorthand:1:1", "both"},
        {"seen hammer_free", "shorthand:1:6", "did you mean hammers_free?"},
        {"seen", "shorthand:1:1", "no word"},
        {"had dropped dropped", "shorthand:1:13", "twice"},
        {"clock", "shorthand:1:1", "one id"},
        {"hint powr=weight", "shorthand:1:6", "power"},
        {"hint power=steam", "shorthand:1:6", "no value"},
        {"oil many", "shorthand:1:1", "0 to 500"},
        {"hands 3", "shorthand:1:1", "3:10"},
        {"since whenever", "shorthand:1:7", "no word"},
        {"did jump", "shorthand:1:5", "no action"},
        {"did wind -> ", "shorthand:1:10", "what came of it"},
        {"did wind@99:00", "shorthand:1:5", "no time"},
        {"\xff", "shorthand:1:1", "UTF-8"},
    };
    struct sheet s, before;
    short_good(&s, "1:00 s1, seen hammers_free");
    short_good(&before, "1:00 s1, seen hammers_free");
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct err e = {0};
        assert_false(sheet_parse_shorthand(&s, rows[i].text, strlen(rows[i].text), &e));
        assert_true(e.count > 0);
        if (strncmp(e.line[0], rows[i].place, strlen(rows[i].place)) ||
            !strstr(e.line[0], rows[i].said))
            fail_msg("\"%s\" gave: %s", rows[i].text, e.line[0]);
        assert_true(sheet_same(&s, &before));
        err_release(&e);
    }
    sheet_release(&s);
    sheet_release(&before);
    struct err e = {0};
    sheet_init(&s, words);
    assert_false(sheet_parse_shorthand(&s, " , ", 3, &e));
    assert_int_equal(e.count, 1);
    err_release(&e);
}

static void limits_are_kept_and_told(void **state)
{
    (void)state;
    struct text yaml = {0}, line = {0};
    text_add(&yaml, "heard:\n");
    for (int i = 0; i < SHEET_ROWS; i++) {
        text_addf(&yaml, "  - {at: \"%d:00\", strike: 1}\n", i % 12 + 1);
        text_addf(&line, "%d:00 s1,", i % 12 + 1);
    }
    struct sheet s;
    read_good(&s, text_cstr(&yaml));
    assert_int_equal(s.heards, SHEET_ROWS);
    same_after_shorthand(&s);
    assert_null(sheet_add_heard(&s));
    sheet_release(&s);
    text_add(&yaml, "  - {at: \"1:00\", strike: 1}\n");
    text_add(&line, "1:00 s1");
    struct err e = {0};
    sheet_init(&s, words);
    assert_false(sheet_parse(&s, "t.yaml", text_cstr(&yaml), yaml.length, &e));
    assert_non_null(strstr(e.line[0], "at most 500"));
    assert_false(sheet_parse_shorthand(&s, text_cstr(&line), line.length, &e));
    assert_non_null(strstr(e.line[1], "500 rows"));
    err_release(&e);

    text_clear(&yaml);
    text_add(&yaml, "story: ");
    for (int i = 0; i <= SHEET_TEXT; i++)
        text_add(&yaml, "x");
    assert_false(sheet_parse(&s, "t.yaml", text_cstr(&yaml), yaml.length, &e));
    assert_non_null(strstr(e.line[0], "at most 20000"));
    err_release(&e);

    text_clear(&line);
    text_add(&line, "3:00 s");
    for (int i = 0; i < 5000; i++)
        text_add(&line, "1");
    assert_false(sheet_parse_shorthand(&s, text_cstr(&line), line.length, &e));
    assert_non_null(strstr(e.line[0], "bytes long"));
    err_release(&e);
    sheet_release(&s);
    text_release(&yaml);
    text_release(&line);
}

static void ten_megabytes_are_refused_in_one_sentence(void **state)
{
    (void)state;
    size_t length = 10u << 20;
    char *text = mem_alloc(length);
    memset(text, 'a', length);
    struct err e = {0};
    struct sheet s;
    sheet_init(&s, words);
    assert_false(sheet_parse(&s, "big.yaml", text, length, &e));
    assert_int_equal(e.count, 1);
    err_release(&e);
    assert_false(sheet_parse_shorthand(&s, text, length, &e));
    assert_true(e.count >= 1);
    err_release(&e);
    sheet_release(&s);
    mem_free(text);
}

static void a_time_covers_the_let_offs_it_speaks_of(void **state)
{
    (void)state;
    static const struct {
        const char *row;
        int due, cycle;
        bool covers;
    } rows[] = {
        {"{at: \"3:00\", strike: 1}", 180, 720, true},
        {"{at: \"3:00\", strike: 1}", 900, 1440, true},
        {"{at: \"3:00 pm\", strike: 1}", 180, 1440, false},
        {"{at: \"3:00 pm\", strike: 1}", 900, 1440, true},
        {"{at: \"3:00 pm\", strike: 1}", 180, 720, true},
        {"{at: \"~3:04\", strike: 1}", 180, 720, true},
        {"{at: \"~11:58\", strike: 1}", 0, 720, true},
        {"{at: \"3:04\", strike: 1}", 180, 720, false},
        {"{at: every_hour, strike: 1}", 180, 720, true},
        {"{at: every_hour, strike: 1}", 195, 720, false},
        {"{at: every_half, strike: 1}", 210, 720, true},
        {"{at: every_quarter, strike: 1}", 180, 720, true},
        {"{at: every_quarter, strike: 1, except: hour}", 180, 720, false},
        {"{at: any, strike: 1, except: [\"5:00\", half]}", 300, 720, false},
        {"{at: any, strike: 1, except: [\"5:00\", half]}", 270, 720, false},
        {"{at: any, strike: 1, except: [\"5:00\", half]}", 285, 720, true},
        {"{at: {from: \"10:00\", to: \"2:00\", every: hour}, strike: 1}", 0, 720, true},
        {"{at: {from: \"10:00\", to: \"2:00\", every: hour}, strike: 1}", 180, 720, false},
        {"{at: {after: \"11:50\", before: \"12:10\"}, strike: 1}", 0, 720, true},
        {"{at: {after: \"*:10\", before: \"*:20\"}, strike: 1}", 135, 720, true},
        {"{at: \"*:15\", strike: 1}", 135, 720, true},
        {"{at: \"*:50\", for: hour, strike: 1}", 180, 720, true},
        {"{at: \"*:50\", for: hour, strike: 1}", 170, 720, false},
        {"{at: \"5:07\", for: \"5:00\", strike: 1}", 300, 720, true},
        {"{strike: 1}", 333, 720, true},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        char one[200];
        struct sheet s;
        snprintf(one, sizeof one, "heard: [%s]", rows[i].row);
        read_good(&s, one);
        if (heard_covers(&s.heard[0], rows[i].due, rows[i].cycle) != rows[i].covers)
            fail_msg("%s and %d", rows[i].row, rows[i].due);
        sheet_release(&s);
    }
}

static void a_row_is_said_in_plain_words(void **state)
{
    (void)state;
    static const struct {
        const char *line, *said;
    } rows[] = {
        {"3:00 s2 slow", "at 3:00 it struck 2, slow"},
        {"5:07 for=5:00 s5", "at 5:07, for 5:00, it struck 5"},
        {"hours s-1", "at every hour it struck 1 too few"},
        {"hours s1(2/3)", "at every hour it mostly struck 1, at times 2 or 3"},
        {"quarters c0 not=hour", "at every quarter it did not chime, but not at the hour"},
        {"*:28 stop=hands freed=hand_back",
         "at 28 minutes past each hour the hands stopped (freed by: hand_back)"},
        {"? s*", "once, it is not known when, it struck without end"},
        {"? call_fails", "once, it is not known when, call fails"},
        {"? hammers=both slow", "once, it is not known when, hammers heard: both, slow"},
        {"8:10..8:30 stop=clock", "somewhere between 8:10 and 8:30 the clock stopped"},
        {"quarters q+1 often=sometimes",
         "at every quarter it was the tune of the next quarter (sometimes)"},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct sheet s;
        struct text said = {0};
        short_good(&s, rows[i].line);
        heard_say(&s.heard[0], words, &said);
        assert_string_equal(text_cstr(&said), rows[i].said);
        text_release(&said);
        sheet_release(&s);
    }
}

static void rows_can_be_taken_out(void **state)
{
    (void)state;
    struct sheet s;
    short_good(&s, "1:00 s1, 2:00 s2, 3:00 s3");
    sheet_remove_heard(&s, 1);
    sheet_remove_heard(&s, 7);
    assert_int_equal(s.heards, 2);
    assert_int_equal(s.heard[1].value[0], 3);
    assert_true(sheet_set_hint(&s, "trains", "3"));
    assert_false(sheet_set_hint(&s, "trains", "9"));
    assert_false(sheet_set_hint(&s, "colour", "red"));
    assert_true(sheet_set_hint(&s, "made", "1750"));
    assert_int_equal(sheet_hint_number(&s, "made", 0), 1750);
    sheet_clear(&s);
    assert_true(sheet_empty(&s));
    assert_int_equal(sheet_hint_number(&s, "made", 7), 7);
    sheet_release(&s);
    sheet_release(&s);
}

/* Cut anything anywhere: no crash, and never both good and silent about being bad. */
/* YAML takes these only escaped, or ends a line at them. */
static void characters_that_cannot_stand_in_yaml_are_read_again(void **state)
{
    static const char *const rows[] = {
        "it\x01struck", "it\x7fstruck", "it\xc2\x92struck", "it\xc2\x85struck", "it\xe2\x80\xa8struck",
        "it\xe2\x80\xa9struck", "\xef\xbb\xbfit struck", "it\xef\xbf\xbfstruck", "it \"struck\" \\n\n", "\xe2\x80\x94 \xc3\xa9 \xf0\x9f\x95\xb0",
    };
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct sheet s;
        sheet_init(&s, words);
        s.story = mem_copy_text(rows[i]);
        same_after_printing(&s);
        sheet_release(&s);
    }
}

static void broken_texts_never_bring_the_readers_down(void **state)
{
    (void)state;
    static const char line[] = "3:00 s1(2/3) n31.? i2.1/2, hours s+0(-1) order=gong>call, "
                               "did wind:strike@3:00 -> s4, since sudden, hint power=weight";
    for (size_t cut = 0; cut < sizeof example; cut++) {
        struct err e = {0};
        struct sheet s;
        sheet_init(&s, words);
        bool good = sheet_parse(&s, "t.yaml", example, cut, &e);
        assert_true(good == (e.count == 0));
        sheet_release(&s);
        err_release(&e);
    }
    for (size_t from = 0; from < sizeof line; from++)
        for (size_t to = from; to < sizeof line; to += 3) {
            struct err e = {0};
            struct sheet s;
            sheet_init(&s, words);
            bool good = sheet_parse_shorthand(&s, line + from, to - from, &e);
            assert_true(good == (e.count == 0));
            sheet_release(&s);
            err_release(&e);
        }
}

static void count_notice(void *with, size_t line, const char *said)
{
    (void)line;
    assert_true(strlen(said) > 20);
    ++*(size_t *)with;
}

static void what_was_perhaps_not_meant_so_is_told(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        size_t notices;
    } rows[] = {
        {"heard: [{at: \"3:00\", strike: none, how: runs_on}]", 1},
        {"heard: [{at: \"3:15\", chime: none, how: slow}]", 1},
        {"heard: [{at: \"3:00\", strike: none, chime: runs_on, how: runs_on}]", 0},
        {"heard: [{at: \"3:00\", strike: none, how: [silent, click_only]}]", 0},
        {"heard: [{at: \"3:00\", strike: 3, chime: none, how: slow}]", 0},
        {"heard: [{at: \"1:30\", strike: none}, {at: \"1:36\", for: \"1:30\", strike: 1}]", 1},
        {"heard: [{at: \"3:00\", strike: 3}, {at: \"3:00\", strike: 4}]", 1},
        {"heard: [{at: \"3:00\", strike: 3}, {at: \"3:00\", strike: 3}]", 0},
        {"heard: [{at: \"3:00\", strike: 3}, {at: \"3:00\", chime: none}]", 0},
        {"heard: [{at: \"3:00\", strike: 3, date: \"2026-10-25\"}, {at: \"3:00\", strike: 4, date: "
         "\"2026-10-26\"}]",
         0},
        {"heard: [{at: \"3:00\", strike: 3}, {at: \"3:00\", strike: 4, often: sometimes}]", 0},
        {"heard: [{at: every_hour, strike: right}, {at: every_hour, strike: wrong}]", 1},
        {"heard: [{at: every_quarter, chime: right}, {at: every_quarter, chime: none}]", 1},
        {"heard: [{at: every_quarter, chime: right, except: hour}, {at: every_quarter, chime: "
         "none}]",
         0},
        {"heard: [{strike: 3}, {strike: 4}]", 0},
        {"history: [moved_house]", 1},
        {"story: \"strikes wrong\"", 1},
        {"tried: [{do: wind, result: starts}]", 0},
        {"seen: [not hammers_free]", 0},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct sheet s;
        size_t notices = 0;
        read_good(&s, rows[i].text);
        sheet_notice(&s, count_notice, &notices);
        if (notices != rows[i].notices)
            fail_msg("%s: %zu notices", rows[i].text, notices);
        sheet_release(&s);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_whole_example_is_understood),
        cmocka_unit_test(every_row_of_the_example_stands_alone),
        cmocka_unit_test(every_case_is_read_and_survives_both_forms),
        cmocka_unit_test(every_invented_case_has_an_answer_in_known_words),
        cmocka_unit_test(rows_can_say_everything_the_header_lists),
        cmocka_unit_test(one_count_or_another_is_the_list_of_both),
        cmocka_unit_test(other_names_are_read_as_the_word_itself),
        cmocka_unit_test(a_list_of_times_is_a_row_for_each),
        cmocka_unit_test(a_list_of_one_is_the_word_itself),
        cmocka_unit_test(every_key_is_listed_with_values_that_can_be_read),
        cmocka_unit_test(a_key_that_is_not_listed_is_refused),
        cmocka_unit_test(a_doubled_key_is_told_of_once),
        cmocka_unit_test(half_days_are_told_apart_only_when_said),
        cmocka_unit_test(a_denied_word_is_kept_apart),
        cmocka_unit_test(texts_keep_every_letter),
        cmocka_unit_test(shorthand_of_the_phone_is_understood),
        cmocka_unit_test(bad_sheets_are_refused_with_place_and_advice),
        cmocka_unit_test(all_errors_come_at_once),
        cmocka_unit_test(bad_shorthand_is_refused_and_changes_nothing),
        cmocka_unit_test(limits_are_kept_and_told),
        cmocka_unit_test(ten_megabytes_are_refused_in_one_sentence),
        cmocka_unit_test(a_time_covers_the_let_offs_it_speaks_of),
        cmocka_unit_test(what_was_perhaps_not_meant_so_is_told),
        cmocka_unit_test(a_row_is_said_in_plain_words),
        cmocka_unit_test(rows_can_be_taken_out),
        cmocka_unit_test(characters_that_cannot_stand_in_yaml_are_read_again),
        cmocka_unit_test(broken_texts_never_bring_the_readers_down),
    };
    return cmocka_run_group_tests(tests, load_words, free_words);
}
