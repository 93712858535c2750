/* test_place.c - the order in which the program's own files and the user's are looked for. */
#include "suite.h"

#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "place.h"

/* A folder of its own for each test: HOME, XDG_DATA_HOME and the variables are set back after it. */
static char folder[] = "/tmp/letoff-place-XXXXXX";

static int make_folder(void **state)
{
    (void)state;
    return mkdtemp(folder) ? 0 : -1;
}

static int drop_folder(void **state)
{
    (void)state;
    return rmdir(folder);
}

static int clear_surroundings(void **state)
{
    (void)state;
    unsetenv("LETOFF_CHIMES");
    unsetenv("LETOFF_SOUNDS");
    unsetenv("XDG_DATA_HOME");
    unsetenv("HOME");
    return 0;
}

static bool ends_with(const char *s, const char *end)
{
    size_t a = strlen(s), b = strlen(end);
    return a >= b && !strcmp(s + a - b, end);
}

static void the_variable_comes_first(void **state)
{
    (void)state;
    for (int p = 0; p < PLACES; p++) {
        struct text found = {0};
        setenv(place_variable((enum place)p), folder, 1);
        assert_true(place_own((enum place)p, &found));
        assert_string_equal(text_cstr(&found), folder);
        text_release(&found);
    }
}

static void a_variable_that_names_no_folder_is_passed_over(void **state)
{
    (void)state;
    static const char *const wrong[] = {"", "/nonexistent/letoff", "/dev/null"};
    for (size_t i = 0; i < sizeof wrong / sizeof *wrong; i++) {
        struct text found = {0};
        setenv("LETOFF_CHIMES", wrong[i], 1);
        assert_true(place_own(PLACE_CHIMES, &found));
        assert_true(ends_with(text_cstr(&found), "/chimes"));
        text_release(&found);
    }
}

static void a_suite_in_the_build_tree_finds_the_source_tree(void **state)
{
    (void)state;
    for (int p = 0; p < PLACES; p++) {
        struct text found = {0};
        struct stat found_st, here;
        assert_true(place_own((enum place)p, &found));
        assert_int_equal(stat(text_cstr(&found), &found_st), 0);
        assert_int_equal(stat(place_name((enum place)p), &here),
                         0); /* suites run in the source tree */
        assert_true(found_st.st_ino == here.st_ino && found_st.st_dev == here.st_dev);
        text_release(&found);
    }
}

static void the_user_s_folder_hangs_on_the_data_home_and_else_on_the_home(void **state)
{
    (void)state;
    static const struct {
        const char *data, *home, *wanted;
    } rows[] = {
        {"/data", "/home/x", "/data/letoff/chimes"},
        {"", "/home/x", "/home/x/.local/share/letoff/chimes"},
        {NULL, "/home/x", "/home/x/.local/share/letoff/chimes"},
        {NULL, "", ""},
        {NULL, NULL, ""},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct text found = {0};
        clear_surroundings(NULL);
        if (rows[i].data)
            setenv("XDG_DATA_HOME", rows[i].data, 1);
        if (rows[i].home)
            setenv("HOME", rows[i].home, 1);
        assert_false(place_user(PLACE_CHIMES, &found)); /* none of them is there */
        assert_string_equal(text_cstr(&found), rows[i].wanted);
        text_release(&found);
    }
}

static void a_user_s_folder_that_is_there_is_found(void **state)
{
    (void)state;
    struct text letoff = {0}, sounds = {0}, found = {0};
    text_addf(&letoff, "%s/letoff", folder);
    text_addf(&sounds, "%s/letoff/sounds", folder);
    assert_int_equal(mkdir(text_cstr(&letoff), 0700) | mkdir(text_cstr(&sounds), 0700), 0);
    setenv("XDG_DATA_HOME", folder, 1);
    assert_true(place_user(PLACE_SOUNDS, &found));
    assert_string_equal(text_cstr(&found), text_cstr(&sounds));
    assert_int_equal(rmdir(text_cstr(&sounds)) | rmdir(text_cstr(&letoff)), 0);
    text_release(&letoff);
    text_release(&sounds);
    text_release(&found);
}

static void an_installed_file_lies_in_share_beside_the_folder_of_the_program(void **state)
{
    (void)state;
    struct text found = {0};
    assert_true(place_installed("letoff.tables", &found));
    assert_true(ends_with(text_cstr(&found), "/../share/letoff/letoff.tables"));
    assert_true(text_cstr(&found)[0] == '/');
    text_release(&found);
}

static void only_folders_are_folders(void **state)
{
    (void)state;
    assert_true(place_is_folder("/"));
    assert_false(place_is_folder(NULL));
    assert_false(place_is_folder(""));
    assert_false(place_is_folder("/dev/null"));
    assert_false(place_is_folder("/nonexistent"));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup(the_variable_comes_first, clear_surroundings),
        cmocka_unit_test_setup(a_variable_that_names_no_folder_is_passed_over, clear_surroundings),
        cmocka_unit_test_setup(a_suite_in_the_build_tree_finds_the_source_tree, clear_surroundings),
        cmocka_unit_test_setup(the_user_s_folder_hangs_on_the_data_home_and_else_on_the_home,
                               clear_surroundings),
        cmocka_unit_test_setup(a_user_s_folder_that_is_there_is_found, clear_surroundings),
        cmocka_unit_test(an_installed_file_lies_in_share_beside_the_folder_of_the_program),
        cmocka_unit_test(only_folders_are_folders),
    };
    return cmocka_run_group_tests(tests, make_folder, drop_folder);
}
