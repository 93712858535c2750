#include "suite.h"

#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#include "mem.h"

static void fresh_memory_is_zero_and_never_null(void **state)
{
    (void)state;
    char *p = mem_alloc(100);
    for (int i = 0; i < 100; i++)
        assert_int_equal(p[i], 0);
    mem_free(p);
    p = mem_alloc(0);
    assert_non_null(p);
    mem_free(p);
    mem_free(NULL);
}

static void growing_keeps_the_old_part_and_clears_the_new(void **state)
{
    (void)state;
    size_t room = 0;
    int *p = mem_grow(NULL, &room, 1, sizeof *p);
    assert_true(room >= 1);
    for (size_t i = 0; i < room; i++)
        p[i] = 7;
    size_t old = room;
    p = mem_grow(p, &room, old + 1, sizeof *p);
    assert_true(room >= 2 * old);
    assert_int_equal(p[old - 1], 7);
    for (size_t i = old; i < room; i++)
        assert_int_equal(p[i], 0);
    mem_free(p);
}

static void memory_in_large_pages_is_as_any_other(void **state)
{
    (void)state;
    const size_t bytes = 3u << 20;
    char *kept = mem_copy_text("from before");
    mem_in_large_pages();
    mem_in_large_pages(); /* again is no harm */
    for (int round = 0; round < 3; round++) {
        char *p = mem_alloc(bytes);
        for (size_t i = 0; i < bytes; i += 512)
            assert_int_equal(p[i], 0);
        memset(p, 7, bytes);
        mem_free(p);
    }
    assert_string_equal(kept, "from before");
    mem_free(kept);
}

static void what_is_lent_is_copied_before_it_grows(void **state)
{
    (void)state;
    const int theirs[3] = {1, 2, 3};
    size_t room = 0;
    int *p = mem_grow_lent((void *)(uintptr_t)theirs, 3, &room, 4, sizeof *p);
    assert_true(room >= 4 && p != theirs);
    for (int i = 0; i < 3; i++)
        assert_int_equal(p[i], theirs[i]);
    p[3] = 4;
    p = mem_grow_lent(p, 4, &room, room + 1, sizeof *p); /* its own by now */
    assert_int_equal(p[3], 4);
    mem_free(p);
    room = 0;
    p = mem_grow_lent((void *)(uintptr_t)theirs, 0, &room, 1, sizeof *p); /* nothing of what was lent is wanted */
    assert_true(room >= 1 && p != theirs);
    mem_free(p);
}

static void copies_end_with_nul(void **state)
{
    (void)state;
    char *a = mem_copy_text("rack"), *b = mem_copy_bytes("snail", 3);
    assert_string_equal(a, "rack");
    assert_string_equal(b, "sna");
    assert_null(mem_copy_text(NULL));
    mem_free(a);
    mem_free(b);
}

/* ---- running out: the end is watched from outside, in a child ---- */

struct ending {
    int status;
    char said[512];
};

static struct ending run_child(void (*body)(void))
{
    struct ending end = {.status = -1};
    int pipe_ends[2];
    assert_int_equal(pipe(pipe_ends), 0);
    fflush(NULL);
    pid_t child = fork();
    if (child == 0) {
        dup2(pipe_ends[1], STDERR_FILENO);
        close(pipe_ends[0]);
        body();
        _exit(0);
    }
    close(pipe_ends[1]);
    size_t length = 0;
    ssize_t got;
    while ((got = read(pipe_ends[0], end.said + length, sizeof end.said - 1 - length)) > 0)
        length += (size_t)got;
    close(pipe_ends[0]);
    int raw;
    waitpid(child, &raw, 0);
    if (WIFEXITED(raw))
        end.status = WEXITSTATUS(raw);
    return end;
}

static void say_hook(void *with)
{
    fprintf(stderr, "hook %s\n", (const char *)with);
}

static void greedy_hook(void *with)
{
    (void)with;
    mem_exhausted(1);
}

static void ask_too_much(void)
{
    mem_on_exhausted(say_hook, "first");
    mem_on_exhausted(say_hook, "last");
    volatile size_t most = SIZE_MAX / 2;
    mem_alloc(most);
}

static void ask_again_in_the_hook(void)
{
    mem_on_exhausted(greedy_hook, NULL);
    mem_exhausted(1);
}

static void grow_past_all_numbers(void)
{
    size_t room = 0;
    mem_grow(NULL, &room, SIZE_MAX / 4, 8);
}

static void running_out_ends_with_one_sentence_and_the_hooks(void **state)
{
    (void)state;
    struct ending end = run_child(ask_too_much);
    assert_int_equal(end.status, 3);
    assert_non_null(strstr(end.said, "letoff: There is not enough memory"));
    char *last = strstr(end.said, "hook last"), *first = strstr(end.said, "hook first");
    assert_non_null(last);
    assert_true(last < first);
}

static void a_hook_that_runs_out_too_cannot_loop(void **state)
{
    (void)state;
    assert_int_equal(run_child(ask_again_in_the_hook).status, 3);
}

static void a_size_past_all_numbers_is_no_memory(void **state)
{
    (void)state;
    assert_int_equal(run_child(grow_past_all_numbers).status, 3);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(fresh_memory_is_zero_and_never_null),
        cmocka_unit_test(growing_keeps_the_old_part_and_clears_the_new),
        cmocka_unit_test(memory_in_large_pages_is_as_any_other),
        cmocka_unit_test(what_is_lent_is_copied_before_it_grows),
        cmocka_unit_test(copies_end_with_nul),
        cmocka_unit_test(running_out_ends_with_one_sentence_and_the_hooks),
        cmocka_unit_test(a_hook_that_runs_out_too_cannot_loop),
        cmocka_unit_test(a_size_past_all_numbers_is_no_memory),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
