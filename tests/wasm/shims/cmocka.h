/* cmocka.h - the part of cmocka that the core's suites use, for WebAssembly: the first check that does not
 * hold ends the suite, since there is no setjmp to go on from. */
#ifndef LETOFF_SHIM_CMOCKA_H
#define LETOFF_SHIM_CMOCKA_H

#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

struct CMUnitTest {
    const char *name;
    void (*test)(void **state);
    int (*setup)(void **state);
    int (*teardown)(void **state);
};
#define cmocka_unit_test(f)                                                                        \
    {                                                                                              \
#f, f, NULL, NULL                                                                          \
    }
#define cmocka_unit_test_setup(f, setup)                                                           \
    {                                                                                              \
#f, f, setup, NULL                                                                         \
    }
#define cmocka_unit_test_teardown(f, teardown)                                                     \
    {                                                                                              \
#f, f, NULL, teardown                                                                      \
    }
#define cmocka_unit_test_setup_teardown(f, setup, after)                                           \
    {                                                                                              \
#f, f, setup, after                                                                        \
    }

#define fail_msg(...)                                                                              \
    do {                                                                                           \
        fprintf(stderr, "%s:%d: ", __FILE__, __LINE__);                                            \
        fprintf(stderr, __VA_ARGS__);                                                              \
        fputc('\n', stderr);                                                                       \
        exit(1);                                                                                   \
    } while (0)
#define fail() fail_msg("it must not come here")
#define must_(what, holds)                                                                         \
    do {                                                                                           \
        if (!(holds))                                                                              \
            fail_msg("%s does not hold", what);                                                    \
    } while (0)
#define print_message printf
#define skip()                                                                                     \
    do {                                                                                           \
        puts("left out");                                                                          \
        return;                                                                                    \
    } while (0)

#define assert_true(a)         must_(#a, (a))
#define assert_false(a)        must_("not " #a, !(a))
#define assert_null(a)         must_(#a " is NULL", (a) == NULL)
#define assert_non_null(a)     must_(#a " is not NULL", (a) != NULL)
#define assert_ptr_equal(a, b) must_(#a " is " #b, (const void *)(a) == (const void *)(b))
#define assert_int_equal(a, b)                                                                     \
    do {                                                                                           \
        long long a_ = (long long)(a), b_ = (long long)(b);                                        \
        if (a_ != b_)                                                                              \
            fail_msg("%s is %lld, expected %lld", #a, a_, b_);                                     \
    } while (0)
#define assert_int_not_equal(a, b) must_(#a " is not " #b, (long long)(a) != (long long)(b))
#define assert_in_range(a, low, high)                                                              \
    must_(#a " lies in its range",                                                                 \
          (long long)(a) >= (long long)(low) && (long long)(a) <= (long long)(high))
#define assert_string_equal(a, b)                                                                  \
    do {                                                                                           \
        const char *a_ = (a), *b_ = (b);                                                           \
        if (strcmp(a_, b_) != 0)                                                                   \
            fail_msg("\"%s\" is not \"%s\"", a_, b_);                                              \
    } while (0)
#define assert_string_not_equal(a, b)   must_(#a " is not " #b, strcmp(a, b) != 0)
#define assert_memory_equal(a, b, size) must_(#a " holds " #b, memcmp(a, b, size) == 0)

static inline int run_tests_(const struct CMUnitTest *test, size_t count, int (*setup)(void **),
                             int (*teardown)(void **))
{
    void *group = NULL;
    if (setup && setup(&group) != 0)
        fail_msg("the suite could not be set up");
    for (size_t i = 0; i < count; i++) {
        void *state = group;
        if (test[i].setup && test[i].setup(&state) != 0)
            fail_msg("%s could not be set up", test[i].name);
        test[i].test(&state);
        if (test[i].teardown)
            test[i].teardown(&state);
        printf("ok: %s\n", test[i].name);
    }
    if (teardown)
        teardown(&group);
    return 0;
}
#define cmocka_run_group_tests(tests, setup, teardown)                                             \
    run_tests_(tests, sizeof(tests) / sizeof((tests)[0]), setup, teardown)

#endif
