/* test_annex.c - every annex loads and offers something; one that is not there is one sentence. */
#include "suite.h"

#include <stdatomic.h>
#include <string.h>

#include "annex.h"

static void every_annex_loads_and_asking_again_gives_the_same(void **state)
{
    static struct annex all[] = {{"paint"}, {"sound"}, {"window"}, {"postgres"}};
    (void)state;
    for (size_t i = 0; i < COUNT_OF(all); i++) {
        struct err e = {0};
        const void *offered = annex_open(&all[i], &e);
        err_print(&e, stderr);
        assert_int_equal(e.count, 0);
        assert_non_null(offered);
        assert_ptr_equal(annex_open(&all[i], &e), offered);
        err_release(&e);
    }
}

static void a_missing_annex_is_one_sentence_that_names_it(void **state)
{
    static struct annex none = {"no-such-thing"};
    struct err e = {0};
    (void)state;
    assert_null(annex_open(&none, &e));
    assert_int_equal(e.count, 1);
    assert_true(e.device);
    assert_non_null(strstr(e.line[0], "letoff-no-such-thing.so was not found"));
    err_release(&e);
    assert_null(annex_open(&none, NULL));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_annex_loads_and_asking_again_gives_the_same),
        cmocka_unit_test(a_missing_annex_is_one_sentence_that_names_it),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
