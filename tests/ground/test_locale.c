#include "suite.h"

#include <locale.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>

#include "err.h"
#include "text.h"
#include "yaml_map.h"

/* A library or a host program may switch the locale behind our back. */
static int enter_comma_locale(void **state)
{
    (void)state;
    setlocale(LC_ALL, "de_DE.UTF-8"); /* without it the tests are skipped, see below */
    return 0;
}

static void need_commas(void)
{
    if (strcmp(localeconv()->decimal_point, ",") != 0) {
        print_message("no locale with decimal commas on this system\n");
        skip();
    }
}

static void the_locale_does_write_commas(void **state)
{
    (void)state;
    need_commas();
    char out[16];
    snprintf(out, sizeof out, "%.1f", 21.5);
    assert_string_equal(out, "21,5");
}

static void numbers_are_read_with_a_point_all_the_same(void **state)
{
    (void)state;
    need_commas();
    double v = 0;
    assert_true(text_real("21.5", &v));
    assert_near(v, 21.5, 0);
    assert_false(text_real("21,5", &v));
    assert_near(v, 21.5, 0);
}

static void numbers_are_written_with_a_point_all_the_same(void **state)
{
    (void)state;
    need_commas();
    struct text t = {0};
    struct err e = {0};
    text_addf(&t, "%.2f %g", 0.25, 1.5);
    assert_string_equal(text_cstr(&t), "0.25 1.5");
    err_at(&e, "a", 1, 2, "met %g.", 1.5);
    assert_string_equal(e.line[0], "a:1:2: met 1.5.");
    err_release(&e);
    text_release(&t);
}

static void the_locale_of_the_process_is_left_as_it_was(void **state)
{
    (void)state;
    need_commas();
    double v;
    text_real("1.5", &v);
    assert_string_equal(localeconv()->decimal_point, ",");
}

static void a_data_file_reads_the_same(void **state)
{
    (void)state;
    need_commas();
    static const char text[] = "a: 1.5\nb: 21,5\n";
    struct err e = {0};
    struct yaml_tree *tree = yaml_parse("f", text, strlen(text), &e);
    const struct yaml_node *root = yaml_root(tree);
    double v = 0;
    assert_true(yaml_real(yaml_get(root, "a"), "a", 0.5, 2, &v, &e));
    assert_near(v, 1.5, 0);
    assert_false(yaml_real(yaml_get(root, "b"), "b", 0.5, 2, &v, &e));
    assert_string_equal(e.line[0],
                        "f:2:4: key \"b\": met \"21,5\", expected a number from 0.5 to 2 "
                        "written with a decimal point: 21.5.");
    yaml_free(tree);
    err_release(&e);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_locale_does_write_commas),
        cmocka_unit_test(numbers_are_read_with_a_point_all_the_same),
        cmocka_unit_test(numbers_are_written_with_a_point_all_the_same),
        cmocka_unit_test(the_locale_of_the_process_is_left_as_it_was),
        cmocka_unit_test(a_data_file_reads_the_same),
    };
    return cmocka_run_group_tests(tests, enter_comma_locale, NULL);
}
