#include "suite.h"

#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "err.h"
#include "mem.h"
#include "text.h"

static void a_string_grows_and_is_never_null(void **state)
{
    (void)state;
    struct text t = {0};
    assert_string_equal(text_cstr(&t), "");
    text_add(&t, "rack");
    text_addf(&t, " %d/%.1f", 3, 0.5);
    text_add_bytes(&t, "!!!", 1);
    text_add(&t, NULL);
    assert_string_equal(text_cstr(&t), "rack 3/0.5!");
    assert_int_equal(t.length, 11);
    text_clear(&t);
    assert_string_equal(text_cstr(&t), "");
    text_release(&t);
    text_release(&t);
}

static void distance_counts_edits_and_swaps(void **state)
{
    (void)state;
    static const struct {
        const char *a, *b;
        int want;
    } rows[] = {
        {"", "", 0},           {"", "abc", 3},         {"rack", "rack", 0},
        {"rack", "rick", 1},   {"strike", "strke", 1}, {"strike", "srtike", 1},
        {"snail", "nails", 2}, {"ab", "ba", 1},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        assert_int_equal(text_distance(rows[i].a, rows[i].b), rows[i].want);
        assert_int_equal(text_distance(rows[i].b, rows[i].a), rows[i].want);
    }
    char long_word[80];
    memset(long_word, 'a', 79);
    long_word[79] = '\0';
    assert_int_equal(text_distance(long_word, "a"), 99);
    long_word[63] = '\0';
    assert_int_equal(text_distance(long_word, ""), 63);
}

static void only_a_near_word_is_suggested(void **state)
{
    (void)state;
    static const char *const words[] = {"strike", "notes", "phrases", "at", "how"};
    static const struct {
        const char *word, *want;
    } rows[] = {
        {"strikes", "strike"}, {"srtike", "strike"}, {"note", "notes"}, {"prases", "phrases"},
        {"a", NULL},           {"colour", NULL},     {"", NULL},        {"hwo", "how"},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        const char *got = text_nearest(rows[i].word, words, COUNT_OF(words));
        if (rows[i].want)
            assert_string_equal(got, rows[i].want);
        else
            assert_null(got);
    }
    assert_null(text_nearest("x", words, 0));
}

/* Well-formed and ill-formed sequences after RFC 3629, section 4. */
static void utf8_is_told_from_what_is_not(void **state)
{
    (void)state;
    static const struct {
        const char *bytes;
        size_t length;
        int bad; /* offset, or -1 for good */
    } rows[] = {
        {"", 0, -1},
        {"plain", 5, -1},
        {"\xC3\xA9t\xC3\xA9", 5, -1},
        {"\xE2\x99\xAA", 3, -1},
        {"\xF0\x9F\x95\x90", 4, -1},
        {"\xF4\x8F\xBF\xBF", 4, -1},
        {"a\xE9"
         "b",
         3, 1},             /* Latin-1 */
        {"ab\xC3", 3, 2},   /* cut off */
        {"\xC0\xAF", 2, 0}, /* longer than needed */
        {"\xE0\x80\xAF", 3, 0},
        {"\xED\xA0\x80", 3, 0},     /* surrogate */
        {"\xF4\x90\x80\x80", 4, 0}, /* past 10FFFF */
        {"\x80", 1, 0},
        {"a\0b", 3, 1},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        size_t bad = 77;
        bool good = text_is_utf8(rows[i].bytes, rows[i].length, &bad);
        assert_int_equal(good, rows[i].bad < 0);
        assert_int_equal(bad, good ? 77 : (size_t)rows[i].bad);
    }
}

static void reals_have_a_point_and_nothing_else(void **state)
{
    (void)state;
    static const struct {
        const char *s;
        bool good;
        double want;
    } rows[] = {
        {"21.5", true, 21.5}, {"-0.25", true, -0.25}, {"+3", true, 3},     {"1e3", true, 1000},
        {".5", true, 0.5},    {"5.", true, 5},        {"21,5", false, 0},  {"", false, 0},
        {"nan", false, 0},    {"inf", false, 0},      {"0x10", false, 0},  {"1 ", false, 0},
        {" 1", false, 0},     {"1e", false, 0},       {"1e999", false, 0}, {"5mm", false, 0},
        {".", false, 0},      {"-", false, 0},        {"--1", false, 0},   {"1.2.3", false, 0},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        double v = 99;
        assert_int_equal(text_real(rows[i].s, &v), rows[i].good);
        assert_near(v, rows[i].good ? rows[i].want : 99, 0);
    }
}

static void whole_numbers_are_whole(void **state)
{
    (void)state;
    static const struct {
        const char *s;
        bool good;
        long want;
    } rows[] = {
        {"12", true, 12},    {"-7", true, -7},
        {"+3", true, 3},     {"007", true, 7},
        {"1.0", false, 0},   {"", false, 0},
        {"1,000", false, 0}, {"99999999999999999999", false, 0},
        {"x", false, 0},     {"-", false, 0},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        long v = 99;
        assert_int_equal(text_int(rows[i].s, &v), rows[i].good);
        assert_int_equal(v, rows[i].good ? rows[i].want : 99);
    }
}

static void times_are_read_as_people_write_them(void **state)
{
    (void)state;
    static const struct {
        const char *s;
        int want; /* -1: no time */
        bool known24;
    } rows[] = {
        {"3:00", 180, false},    {"03:07", 187, false},  {"12:30", 750, false},
        {"0:30", 30, false},     {"14:50", 890, true},   {"24:00", 0, true},
        {"3:00 pm", 900, true},  {"3:00pm", 900, true},  {"12:05 am", 5, true},
        {"12:05 pm", 725, true}, {"3", -1, false},       {"3:0", -1, false},
        {"3:60", -1, false},     {"25:00", -1, false},   {"24:01", -1, false},
        {"13:00 pm", -1, false}, {"0:30 am", -1, false}, {"3:00 xm", -1, false},
        {"3:00  pm", -1, false}, {"-3:00", -1, false},   {"003:00", -1, false},
        {"3:000", -1, false},    {":30", -1, false},     {"", -1, false},
        {"3:00 ", -1, false},    {"3.00", -1, false},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        int minutes = -1;
        bool known24 = false;
        assert_int_equal(text_time(rows[i].s, &minutes, &known24), rows[i].want >= 0);
        assert_int_equal(minutes, rows[i].want);
        assert_int_equal(known24, rows[i].known24);
    }
    int minutes;
    assert_true(text_time("9:15", &minutes, NULL));
}

static void a_dial_has_twelve_hours(void **state)
{
    (void)state;
    static const struct {
        int minutes;
        const char *want;
    } rows[] = {{0, "12:00"},  {5, "12:05"},    {187, "3:07"}, {779, "12:59"},
                {780, "1:00"}, {1439, "11:59"}, {-1, "11:59"}, {1440, "12:00"}};
    char out[8];
    for (size_t i = 0; i < COUNT_OF(rows); i++)
        assert_string_equal(text_dial(rows[i].minutes, out), rows[i].want);
}

/* ---- files, in a folder of their own ---- */

static char folder[64];

static int make_folder(void **state)
{
    (void)state;
    strcpy(folder, "/tmp/letoff-text-XXXXXX");
    return mkdtemp(folder) ? 0 : -1;
}

static int remove_folder(void **state)
{
    (void)state;
    char command[100];
    snprintf(command, sizeof command, "rm -rf '%s'", folder);
    return system(command);
}

static const char *in_folder(const char *name)
{
    static char path[128];
    snprintf(path, sizeof path, "%s/%s", folder, name);
    return path;
}

static void a_file_is_replaced_whole_and_read_back(void **state)
{
    (void)state;
    struct err e = {0};
    static const char *const rows[] = {"first\n", "", "a longer second text"};
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        assert_true(text_write_file(in_folder("a"), rows[i], strlen(rows[i]), &e));
        size_t length = 99;
        char *back = text_read_file(in_folder("a"), 100, &length, &e);
        assert_string_equal(back, rows[i]);
        assert_int_equal(length, strlen(rows[i]));
        mem_free(back);
    }
    assert_int_equal(e.count, 0);
}

static void a_link_stays_a_link_and_the_mode_is_kept(void **state)
{
    (void)state;
    struct err e = {0};
    assert_true(text_write_file(in_folder("target"), "x", 1, &e));
    assert_int_equal(chmod(in_folder("target"), 0640), 0);
    assert_int_equal(symlink("target", in_folder("link")), 0);
    assert_true(text_write_file(in_folder("link"), "yz", 2, &e));
    struct stat st;
    assert_int_equal(lstat(in_folder("link"), &st), 0);
    assert_true(S_ISLNK(st.st_mode));
    assert_int_equal(stat(in_folder("target"), &st), 0);
    assert_int_equal(st.st_size, 2);
    assert_int_equal(st.st_mode & 0777, 0640);
}

static void a_file_that_fails_is_a_sentence_and_status_three(void **state)
{
    (void)state;
    struct err e = {0};
    assert_null(text_read_file(in_folder("missing"), 10, NULL, &e));
    assert_null(text_read_file(folder, 10, NULL, &e));
    assert_false(text_write_file(in_folder("no/such/folder"), "x", 1, &e));
    assert_false(text_write_file("/dev/full", "x", 1, &e));
    assert_int_equal(e.count, 4);
    assert_non_null(strstr(e.line[0], "missing: the file cannot be opened: No such file"));
    assert_int_equal(err_status(&e), EXIT_DEVICE);
    err_release(&e);
}

static void the_limit_is_the_last_length_that_is_read(void **state)
{
    (void)state;
    struct err e = {0};
    assert_true(text_write_file(in_folder("ten"), "0123456789", 10, &e));
    char *ten = text_read_file(in_folder("ten"), 10, NULL, &e);
    assert_non_null(ten);
    mem_free(ten);
    assert_int_equal(e.count, 0);
    assert_null(text_read_file(in_folder("ten"), 9, NULL, &e));
    assert_null(text_read_file("/dev/zero", 100000, NULL, &e));
    assert_int_equal(err_status(&e), EXIT_BAD_INPUT);
    err_release(&e);
}

static void nothing_is_left_beside_a_file_that_could_not_be_replaced(void **state)
{
    (void)state;
    struct err e = {0};
    assert_int_equal(mkdir(in_folder("dir"), 0755), 0);
    assert_int_equal(mkdir(in_folder("dir/inside"), 0755), 0);
    assert_false(text_write_file(in_folder("dir/inside"), "x", 1, &e));
    assert_int_equal(rmdir(in_folder("dir/inside")), 0);
    assert_int_equal(rmdir(in_folder("dir")), 0); /* fails if a part file was left */
    err_release(&e);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_string_grows_and_is_never_null),
        cmocka_unit_test(distance_counts_edits_and_swaps),
        cmocka_unit_test(only_a_near_word_is_suggested),
        cmocka_unit_test(utf8_is_told_from_what_is_not),
        cmocka_unit_test(reals_have_a_point_and_nothing_else),
        cmocka_unit_test(whole_numbers_are_whole),
        cmocka_unit_test(times_are_read_as_people_write_them),
        cmocka_unit_test(a_dial_has_twelve_hours),
        cmocka_unit_test(a_file_is_replaced_whole_and_read_back),
        cmocka_unit_test(a_link_stays_a_link_and_the_mode_is_kept),
        cmocka_unit_test(a_file_that_fails_is_a_sentence_and_status_three),
        cmocka_unit_test(the_limit_is_the_last_length_that_is_read),
        cmocka_unit_test(nothing_is_left_beside_a_file_that_could_not_be_replaced),
    };
    return cmocka_run_group_tests(tests, make_folder, remove_folder);
}
