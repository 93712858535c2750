#include "suite.h"

#include <stdio.h>
#include <string.h>

#include "err.h"

static void a_sentence_names_its_file_line_and_column(void **state)
{
    (void)state;
    static const struct {
        size_t line, column;
        const char *want;
    } rows[] = {
        {3, 7, "a.yaml:3:7: met 5."},
        {3, 0, "a.yaml:3: met 5."},
        {0, 0, "a.yaml: met 5."},
        {0, 9, "a.yaml: met 5."},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct err e = {0};
        err_at(&e, "a.yaml", rows[i].line, rows[i].column, "met %d.", 5);
        assert_int_equal(e.count, 1);
        assert_string_equal(e.line[0], rows[i].want);
        err_release(&e);
    }
}

static void the_status_follows_the_worst_problem(void **state)
{
    (void)state;
    struct err e = {0};
    assert_int_equal(err_status(&e), EXIT_DONE);
    err_add(&e, "bad input.");
    assert_int_equal(err_status(&e), EXIT_BAD_INPUT);
    err_device(&e, "no sound card.");
    assert_int_equal(err_status(&e), EXIT_DEVICE);
    err_release(&e);
    assert_int_equal(err_status(&e), EXIT_DONE);
}

static void more_problems_than_room_are_counted(void **state)
{
    (void)state;
    struct err e = {0};
    for (int i = 0; i < ERR_MOST + 7; i++)
        err_add(&e, "problem %d.", i);
    assert_int_equal(e.count, ERR_MOST + 7);
    assert_string_equal(e.line[ERR_MOST - 1], "problem 99.");
    char *out = NULL;
    size_t length;
    FILE *f = open_memstream(&out, &length);
    err_print(&e, f);
    fclose(f);
    assert_non_null(strstr(out, "\n7 more problems"));
    free(out);
    err_release(&e);
}

static void moving_keeps_the_order_and_empties_the_source(void **state)
{
    (void)state;
    struct err a = {0}, b = {0};
    err_add(&a, "one.");
    err_device(&b, "two.");
    err_move(&a, &b);
    assert_int_equal(a.count, 2);
    assert_string_equal(a.line[1], "two.");
    assert_true(a.device);
    assert_int_equal(b.count, 0);
    for (int i = 0; i < ERR_MOST + 5; i++)
        err_add(&b, "x.");
    err_move(&a, &b);
    assert_int_equal(a.count, ERR_MOST + 7);
    err_release(&a);
}

static void no_list_drops_the_sentences(void **state)
{
    (void)state;
    struct err e = {0};
    err_add(NULL, "a.");
    err_at(NULL, "f", 1, 1, "b.");
    err_device(NULL, "c.");
    err_add(&e, "d.");
    err_move(NULL, &e);
    assert_int_equal(e.count, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_sentence_names_its_file_line_and_column),
        cmocka_unit_test(the_status_follows_the_worst_problem),
        cmocka_unit_test(more_problems_than_room_are_counted),
        cmocka_unit_test(moving_keeps_the_order_and_empties_the_source),
        cmocka_unit_test(no_list_drops_the_sentences),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
