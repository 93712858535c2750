/* The journal's figures as pictures: each kind of file is what it says, or nothing is written. */
#include "suite.h"

#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "command/journal_figures.h"
#include "mem.h"
#include "text.h"

static struct part_year part[] = {{.part = "rack tail", .month = {[3] = 2}, .all = 2}};
static const struct stats figures = {
    .year = 2026, .calls = 9, .open = 2, .closed = 7, .part = part, .parts = 1, .bin = {[8] = {0.85, 1, 4}},
    .judged = 4, .right = 3, .month = {[3] = {4, 2, 180, 200}}, .trip_min = 150, .trips = 5, .minutes_saved = 200};

static char *written(const char *path, size_t *length)
{
    struct err e = {0};
    char *bytes = text_read_file(path, 4000000, length, &e);
    unlink(path);
    assert_int_equal(e.count, 0);
    return bytes;
}

static void each_kind_of_file_begins_as_it_must(void **state)
{
    static const struct { const char *end, *begins; } rows[] = {
        {".png", "\x89PNG"}, {".svg", "<"}, {".pdf", "%PDF-"}};
    (void)state;
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        char path[64];
        size_t length = 0;
        struct err e = {0};
        snprintf(path, sizeof path, "/tmp/letoff-figures-%d%s", (int)getpid(), rows[i].end);
        assert_true(journal_figures_write(&figures, path, &e));
        char *bytes = written(path, &length);
        assert_memory_equal(bytes, rows[i].begins, strlen(rows[i].begins));
        if (i == 1) { /* text stays text */
            assert_non_null(strstr(bytes, "rack tail"));
            assert_non_null(strstr(bytes, "3 of 4 jobs"));
            assert_non_null(strstr(bytes, "150 min"));
        }
        mem_free(bytes);
    }
}

static void another_ending_is_refused_and_writes_nothing(void **state)
{
    char path[64];
    struct err e = {0};
    (void)state;
    snprintf(path, sizeof path, "/tmp/letoff-figures-%d.gif", (int)getpid());
    assert_false(journal_figures_write(&figures, path, &e));
    assert_int_equal(e.count, 1);
    assert_int_equal(err_status(&e), EXIT_BAD_INPUT);
    assert_int_not_equal(access(path, F_OK), 0);
    err_release(&e);
}

static void a_folder_that_is_not_there_is_told(void **state)
{
    struct err e = {0};
    (void)state;
    assert_false(journal_figures_write(&figures, "/tmp/letoff-no-such-folder/figures.png", &e));
    assert_int_equal(err_status(&e), EXIT_DEVICE);
    err_release(&e);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(each_kind_of_file_begins_as_it_must),
        cmocka_unit_test(another_ending_is_refused_and_writes_nothing),
        cmocka_unit_test(a_folder_that_is_not_there_is_told),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
