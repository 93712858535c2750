#include "suite.h"

#include <stdbool.h>
#include <stdio.h>
#include <string.h>

#include "err.h"
#include "text.h"
#include "yaml_map.h"

static struct yaml_tree *parse(const char *text, struct err *e)
{
    return yaml_parse("a.yaml", text, strlen(text), e);
}

static void a_tree_keeps_shapes_texts_and_places(void **state)
{
    (void)state;
    struct err e = {0};
    struct yaml_tree *tree = parse("at: \"3:00\"\nheard:\n  - {strike: 2}\n  - slow\n", &e);
    assert_non_null(tree);
    assert_int_equal(e.count, 0);
    const struct yaml_node *root = yaml_root(tree), *heard = yaml_get(root, "heard");
    assert_int_equal(yaml_shape_of(root), YAML_MAP);
    assert_int_equal(yaml_count(root), 2);
    assert_string_equal(yaml_key_text(root, 1), "heard");
    assert_true(yaml_quoted(yaml_get(root, "at")));
    assert_int_equal(yaml_shape_of(heard), YAML_LIST);
    assert_int_equal(yaml_count(heard), 2);
    assert_null(yaml_item(heard, 2));
    assert_null(yaml_text(heard));
    const struct yaml_node *strike = yaml_get(yaml_item(heard, 0), "strike");
    assert_string_equal(yaml_text(strike), "2");
    assert_int_equal(yaml_line(strike), 3);
    assert_int_equal(yaml_column(strike), 14);
    assert_string_equal(yaml_file(strike), "a.yaml");
    assert_null(yaml_get(heard, "strike"));
    assert_null(yaml_get(root, "seen"));
    yaml_free(tree);
    yaml_free(NULL);
}

static void text_that_is_refused_says_where_and_why(void **state)
{
    (void)state;
    static const struct {
        const char *text, *want;
    } rows[] = {
        {"", "a.yaml:1:1: the file is empty"},
        {"# only a comment\n", "a.yaml:1:1: the file is empty"},
        {"a: [1, 2\nb: 3\n", "a.yaml:2:2: this is not well-formed YAML"},
        {"a: 1\n---\nb: 2\n", "a.yaml:2:1: a second document begins here"},
        {"a: caf\xE9\n", "a.yaml:1:7: the text is not UTF-8 from here on (byte E9)"},
        {"a: 1\nb: \xC3\xA9\xC3\n", "a.yaml:2:5: the text is not UTF-8 from here on (byte C3)"},
        {"a: 1\nb: x\x01\n", "a.yaml:2:5: a control character (byte 01)"},
        {"a: \"x\n", "this is not well-formed YAML"},
        {"a: b: c\n", "this is not well-formed YAML"},
        {"\tb: c\n", "this is not well-formed YAML"},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct err e = {0};
        assert_null(parse(rows[i].text, &e));
        assert_int_equal(e.count, 1);
        assert_non_null(strstr(e.line[0], rows[i].want));
        assert_int_equal(err_status(&e), EXIT_BAD_INPUT);
        err_release(&e);
    }
}

static void what_is_yaml_but_not_allowed_is_told_with_the_rest(void **state)
{
    (void)state;
    static const struct {
        const char *text, *want;
    } rows[] = {
        {"a: 1\nb: 2\na: 3\n", "a.yaml:3:1: key \"a\" stands here a second time; expected it once "
                               "(the first is at line 1)."},
        {"a: &x 1\n", "a.yaml:1:4: the anchor &x is not allowed"},
        {"a: *x\n", "a.yaml:1:4: the alias *x is not allowed"},
        {"a: !!int 1\n", "a.yaml:1:4: the tag tag:yaml.org,2002:int is not allowed"},
        {"? [1]\n: 2\n", "a.yaml:1:3: a key must be one word"},
        {"a: \"x\\0y\"\n", "a.yaml:1:4: the text holds a NUL character"},
        {"b: {c: 1, c: 2}\n", "a.yaml:1:11: key \"c\" stands here a second time"},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct err e = {0};
        struct yaml_tree *tree = parse(rows[i].text, &e);
        assert_non_null(tree);
        assert_int_equal(e.count, 1);
        assert_non_null(strstr(e.line[0], rows[i].want));
        assert_false(yaml_read_map(yaml_root(tree), "sheet", NULL, 0, NULL, NULL));
        yaml_free(tree);
        err_release(&e);
    }
}

static void a_byte_order_mark_and_windows_lines_are_read(void **state)
{
    (void)state;
    struct err e = {0};
    struct yaml_tree *tree = parse("\xEF\xBB\xBF"
                                   "a: 1\r\nb: 2\r\n",
                                   &e);
    assert_non_null(tree);
    assert_string_equal(yaml_text(yaml_get(yaml_root(tree), "a")), "1");
    assert_int_equal(yaml_line(yaml_get(yaml_root(tree), "b")), 2);
    yaml_free(tree);
}

/* ---- limits, each at the last good size and one past it ---- */

static size_t errors_of(const struct text *t)
{
    struct err e = {0};
    struct yaml_tree *tree = yaml_parse("big", text_cstr(t), t->length, &e);
    size_t count = e.count;
    assert_int_equal(tree == NULL, count > 0);
    yaml_free(tree);
    err_release(&e);
    return count;
}

static void repeat(struct text *t, const char *s, size_t times)
{
    for (size_t i = 0; i < times; i++)
        text_add(t, s);
}

static void depth_is_limited(void **state)
{
    (void)state;
    for (size_t depth = 64; depth <= 65; depth++) {
        struct text t = {0};
        repeat(&t, "[", depth);
        repeat(&t, "]", depth);
        assert_int_equal(errors_of(&t), depth == 65);
        text_release(&t);
    }
}

static void the_number_of_values_is_limited(void **state)
{
    (void)state;
    for (size_t items = 199999; items <= 200000; items++) {
        struct text t = {0};
        repeat(&t, "- 1\n", items);
        assert_int_equal(errors_of(&t), items + 1 > 200000); /* the list is a value too */
        text_release(&t);
    }
}

static void the_length_is_limited(void **state)
{
    (void)state;
    for (size_t over = 0; over <= 1; over++) {
        struct text t = {0};
        text_add(&t, "a: ");
        repeat(&t, "x", ((size_t)4 << 20) - 3 + over);
        assert_int_equal(errors_of(&t), over);
        text_release(&t);
    }
}

/* Four megabytes of one and the same thing: refused or read, but soon. */
static void monotonous_files_end_soon(void **state)
{
    (void)state;
    static const char *const rows[] = {"[",  "{",  "- ",  "? ",  "a:",     "&a ", "*a ",
                                       "\"", "'",  "|\n", "#",   "\n",     " ",   "!",
                                       "%",  "[,", "{a,", "-\n", "a: b\n", ": "};
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct text t = {0};
        repeat(&t, rows[i], ((size_t)4 << 20) / strlen(rows[i]));
        struct err e = {0};
        struct yaml_tree *tree = yaml_parse("big", text_cstr(&t), t.length, &e);
        assert_true(tree != NULL || e.count > 0);
        yaml_free(tree);
        err_release(&e);
        text_release(&t);
    }
}

/* ---- rows of keys ---- */

enum power { POWER_WEIGHT, POWER_SPRING };
static const struct yaml_word power_words[] = {
    {"weight", POWER_WEIGHT},
    {"spring", POWER_SPRING},
    {NULL, 0},
};

struct clock_row {
    const char *id, *name;
    int trains, power;
    double beat_s;
    bool bell;
    int teeth[4];
    double ratio[2];
    const char *hooks[2];
    size_t teeth_count, ratio_count, hook_count;
    const struct yaml_node *more;
};
#define MEMBER(m) offsetof(struct clock_row, m)
static const struct yaml_key clock_keys[] = {
    {"id", YAML_K_ID, MEMBER(id), .needed = true},
    {"name", YAML_K_TEXT, MEMBER(name)},
    {"trains", YAML_K_INT, MEMBER(trains), .low = 1, .high = 4},
    {"power", YAML_K_WORD, MEMBER(power), .words = power_words},
    {"beat_s", YAML_K_REAL, MEMBER(beat_s), .low = 0.1, .high = 2},
    {"bell", YAML_K_BOOL, MEMBER(bell)},
    {"teeth", YAML_K_INTS, MEMBER(teeth), .low = 6, .high = 200, .room = 4,
     .count_offset = MEMBER(teeth_count)},
    {"ratio", YAML_K_REALS, MEMBER(ratio), .room = 2, .count_offset = MEMBER(ratio_count)},
    {"hooks", YAML_K_TEXTS, MEMBER(hooks), .room = 2, .count_offset = MEMBER(hook_count)},
    {"more", YAML_K_NODE, MEMBER(more)},
};

static bool read_clock(const char *text, struct clock_row *c, struct err *e)
{
    static struct yaml_tree *tree; /* the strings in `c` live until the next call */
    yaml_free(tree);
    tree = text ? parse(text, e) : NULL;
    return tree && yaml_read_map(yaml_root(tree), "clock", clock_keys, COUNT_OF(clock_keys), c, e);
}

static void a_map_fills_its_struct(void **state)
{
    (void)state;
    struct err e = {0};
    struct clock_row c = {.trains = 9};
    assert_true(
        read_clock("id: mantel-1\nname: \"Mantel, oak\"\npower: spring\nbeat_s: 0.5\n"
                   "bell: yes\nteeth: [78, 8]\nratio: 7.5\nhooks: [a, \"\"]\nmore: {x: 1}\n",
                   &c, &e));
    assert_int_equal(e.count, 0);
    assert_string_equal(c.id, "mantel-1");
    assert_string_equal(c.name, "Mantel, oak");
    assert_int_equal(c.trains, 9); /* absent: left as it was */
    assert_int_equal(c.power, POWER_SPRING);
    assert_near(c.beat_s, 0.5, 0);
    assert_true(c.bell);
    assert_int_equal(c.teeth_count, 2);
    assert_int_equal(c.teeth[0], 78);
    assert_int_equal(c.ratio_count, 1);
    assert_near(c.ratio[0], 7.5, 0);
    assert_int_equal(c.hook_count, 2);
    assert_string_equal(c.hooks[1], "");
    assert_string_equal(yaml_text(yaml_get(c.more, "x")), "1");
    read_clock(NULL, NULL, NULL);
}

static void each_wrong_value_is_one_sentence(void **state)
{
    (void)state;
    static const struct {
        const char *line, *want;
    } rows[] = {
        {"trains: 5", "2:9: key \"trains\": met \"5\", expected a whole number from 1 to 4."},
        {"trains: 2.0", "met \"2.0\", expected a whole number from 1 to 4."},
        {"trains: [2]", "met a list of 1, expected a whole number from 1 to 4."},
        {"trains:", "2:8: key \"trains\": met nothing, expected a whole number"},
        {"beat_s: 21,5",
         "met \"21,5\", expected a number from 0.1 to 2 written with a decimal point: 21.5."},
        {"beat_s: nan", "met \"nan\", expected a number"},
        {"power: wieght", "met \"wieght\"; did you mean \"weight\"?"},
        {"power: steam", "met \"steam\", expected one of weight, spring."},
        {"power: {a: b}", "met a map of 1, expected one of weight, spring."},
        {"bell: 1", "met \"1\", expected one of yes, no, true, false."},
        {"teeth: [8, 5, x]",
         "2:12: key \"teeth\": met \"5\", expected a whole number from 6 to 200."},
        {"teeth: [8, 8, 8, 8, 8]", "key \"teeth\": met a list of 5, expected at most 4."},
        {"hooks: [[a]]", "met a list of 1, expected a text."},
        {"name:", "met nothing, expected a text."},
        {"trians: 2", "2:1: key \"trians\" is not known in a clock; did you mean \"trains\"?"},
        {"zzz: 2", "key \"zzz\" is not known in a clock; expected one of id, name, trains,"},
        {"\"a\\nb\": 2", "key \"a b\" is not known in a clock"},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct err e = {0};
        struct clock_row c, before;
        memset(&c, 5, sizeof c);
        before = c;
        char text[100];
        snprintf(text, sizeof text, "id: a\n%s\n", rows[i].line);
        assert_false(read_clock(text, &c, &e));
        assert_true(e.count >= 1);
        assert_non_null(strstr(e.line[0], rows[i].want));
        c.id = before.id;
        assert_memory_equal(&c, &before, sizeof c); /* refused input changed nothing */
        err_release(&e);
    }
    read_clock(NULL, NULL, NULL);
}

static void all_problems_of_a_map_come_out_together(void **state)
{
    (void)state;
    struct err e = {0};
    struct clock_row c = {0};
    assert_false(read_clock("trains: 7\ncolour: red\nbell: maybe\nbell: no\n", &c, &e));
    static const char *const want[] = {
        "a.yaml:4:1: key \"bell\" stands here a second time",
        "a.yaml:1:9: key \"trains\"",
        "a.yaml:2:1: key \"colour\" is not known",
        "a.yaml:3:7: key \"bell\": met \"maybe\"",
        "a.yaml:1:1: key \"id\" is missing; a clock must have it.",
    };
    assert_int_equal(e.count, COUNT_OF(want));
    for (size_t i = 0; i < COUNT_OF(want); i++)
        assert_non_null(strstr(e.line[i], want[i]));
    err_release(&e);
    assert_false(read_clock("- 1\n", &c, &e));
    assert_non_null(strstr(e.line[0], "key \"clock\": met a list of 1, expected a map"));
    err_release(&e);
    read_clock(NULL, NULL, NULL);
}

static void a_long_value_is_cut_between_characters(void **state)
{
    (void)state;
    struct err e = {0};
    struct clock_row c = {0};
    struct text t = {0};
    text_add(&t, "id: a\ntrains: x");
    repeat(&t, "\xC3\xA9", 40); /* the 40th byte falls inside a character */
    assert_false(read_clock(text_cstr(&t), &c, &e));
    const char *told = e.count ? e.line[0] : "";
    assert_true(text_is_utf8(told, strlen(told), NULL));
    assert_non_null(strstr(told, "...\", expected"));
    err_release(&e);
    text_release(&t);
    read_clock(NULL, NULL, NULL);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_tree_keeps_shapes_texts_and_places),
        cmocka_unit_test(text_that_is_refused_says_where_and_why),
        cmocka_unit_test(what_is_yaml_but_not_allowed_is_told_with_the_rest),
        cmocka_unit_test(a_byte_order_mark_and_windows_lines_are_read),
        cmocka_unit_test(depth_is_limited),
        cmocka_unit_test(the_number_of_values_is_limited),
        cmocka_unit_test(the_length_is_limited),
        cmocka_unit_test(monotonous_files_end_soon),
        cmocka_unit_test(a_map_fills_its_struct),
        cmocka_unit_test(each_wrong_value_is_one_sentence),
        cmocka_unit_test(all_problems_of_a_map_come_out_together),
        cmocka_unit_test(a_long_value_is_cut_between_characters),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
