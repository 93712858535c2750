/* A folder of data with files of others in it. */
#include "suite.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "err.h"
#include "movement/library.h"
#include "text.h"

/* What stands in the folder for others is theirs to read, however it is written; what may be ours is not passed over. */
static void other_files_of_the_folder_are_left_alone(void **state)
{
    (void)state;
    static const struct {
        const char *text, *want; /* NULL: left alone */
    } rows[] = {
        {"# of the shop\nwords: [}\n", NULL},
        {"phrases:\n  clocks: [a, b]\nunder:\n- a\n", NULL},
        {"clocks: 3\n", "key \"clocks\" wants a list"},
        {"clocks : 3\n", "key \"clocks\" wants a list"},
        {"\"clocks\": 3\n", "key \"clocks\" wants a list"},
        {"? clocks\n: 3\n", "key \"clocks\" wants a list"},
        {"{clocks: 3}\n", "key \"clocks\" wants a list"},
        {"  clocks: 3\n", "key \"clocks\" wants a list"},
        {"---\nclocks: 3\n", "key \"clocks\" wants a list"},
        {"", "the file is empty"},
        {"# nothing yet\n", "the file is empty"},
    };
    char folder[] = "/tmp/letoff-library-XXXXXX", command[96], path[96];
    assert_non_null(mkdtemp(folder));
    snprintf(command, sizeof command, "cp -r chimes/. %s", folder);
    assert_int_equal(system(command), 0);
    snprintf(path, sizeof path, "%s/another.yaml", folder);
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct err e = {0};
        assert_true(text_write_file(path, rows[i].text, strlen(rows[i].text), NULL));
        struct library *l = library_load(folder, &e);
        assert_int_equal(l != NULL, rows[i].want == NULL);
        if (rows[i].want && !strstr(e.line[0], rows[i].want))
            fail_msg("row %zu: \"%s\" should say \"%s\"", i, e.line[0], rows[i].want);
        library_free(l);
        err_release(&e);
    }
    snprintf(command, sizeof command, "rm -r %s", folder);
    assert_int_equal(system(command), 0);
}

/* Files are read side by side; their mistakes come by name and line all the same, every time. */
static void mistakes_of_several_files_come_in_the_order_of_their_names(void **state)
{
    static const char *const name[] = {"c.yaml", "a.yaml", "d.yaml", "b.yaml"};
    char folder[] = "/tmp/letoff-library-XXXXXX", path[80];
    (void)state;
    assert_non_null(mkdtemp(folder));
    for (size_t i = 0; i < 4; i++) {
        snprintf(path, sizeof path, "%s/%s", folder, name[i]);
        FILE *f = fopen(path, "w");
        assert_non_null(f);
        fputs("clocks:\n  - {id: [one}\n", f);
        assert_int_equal(fclose(f), 0);
    }
    for (int turn = 0; turn < 8; turn++) {
        struct err e = {0};
        assert_null(library_load(folder, &e));
        assert_true(e.count >= 4);
        for (size_t i = 0; i < 4; i++) {
            snprintf(path, sizeof path, "%s/%c.yaml:", folder, (char)('a' + i));
            assert_non_null(strstr(e.line[i], path));
        }
        err_release(&e);
    }
    for (size_t i = 0; i < 4; i++) {
        snprintf(path, sizeof path, "%s/%s", folder, name[i]);
        remove(path);
    }
    rmdir(folder);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(mistakes_of_several_files_come_in_the_order_of_their_names),
        cmocka_unit_test(other_files_of_the_folder_are_left_alone),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
