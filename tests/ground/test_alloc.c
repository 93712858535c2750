/* Every allocation of a walk through the ground is made to fail once, each in a process of its own
 * (this program started again), and the end is watched from outside. */
#include "suite.h"

#include <fcntl.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#include "err.h"
#include "event.h"
#include "mem.h"
#include "pcm.h"
#include "text.h"
#include "yaml_map.h"

#define OLD_TEXT "what stood here before"
#define NEW_TEXT "what is written by the walk"

/* ---- the walk ---- */

struct row {
    const char *name;
    int teeth[4];
    size_t count;
};

static void walk_yaml(struct err *e)
{
    static const char text[] = "name: a\nnmae: b\nteeth: [8, 8, x]\npower: steam\nname: &c d\n";
    static const struct yaml_word words[] = {{"weight", 0}, {NULL, 0}};
    static const struct yaml_key keys[] = {
        {"name", YAML_K_TEXT, offsetof(struct row, name)},
        {"teeth", YAML_K_INTS, offsetof(struct row, teeth), .room = 4,
         .count_offset = offsetof(struct row, count)},
        {"power", YAML_K_WORD, offsetof(struct row, count), .words = words},
    };
    struct row row = {0};
    struct yaml_tree *tree = yaml_parse("walk", text, sizeof text - 1, e);
    if (tree)
        yaml_read_map(yaml_root(tree), "row", keys, COUNT_OF(keys), &row, e);
    yaml_free(tree);
}

static void walk_samples(const char *path, struct err *e)
{
    struct pcm p, to, back = {0};
    pcm_init(&p, 8000);
    pcm_reserve(&p, 100);
    pcm_resample(&p, 16000, &to);
    struct text wav = {0};
    text_addf(&wav, "%s.wav", path);
    pcm_write_wav(&to, text_cstr(&wav), e);
    pcm_read_wav(&back, text_cstr(&wav), e);
    text_release(&wav);
    pcm_release(&p);
    pcm_release(&to);
    pcm_release(&back);
}

static int walk(const char *path)
{
    struct err e = {0}, more = {0};
    struct event_list list = {0};
    for (int i = 0; i < 20; i++)
        event_list_add(&list, (struct event){.t_s = i});
    event_list_release(&list);
    walk_yaml(&e);
    walk_samples(path, &more);
    text_write_file(path, NEW_TEXT, strlen(NEW_TEXT), &more);
    err_move(&e, &more);
    int problems = (int)e.count;
    err_release(&e);
    return problems == 5 ? 0 : 1;
}

/* ---- watching it ---- */

static char folder[] = "/tmp/letoff-alloc-XXXXXX";

static const char *in_folder(const char *name)
{
    static char path[128];
    snprintf(path, sizeof path, "%s/%s", folder, name);
    return path;
}

static int make_folder(void **state)
{
    (void)state;
    return mkdtemp(folder) ? 0 : -1;
}

static int remove_folder(void **state)
{
    (void)state;
    char command[100];
    snprintf(command, sizeof command, "rm -rf '%s'", folder);
    return system(command);
}

/* Starts the walk with its `nth` allocation failing; its exit status, and what it said. */
static int walk_failing(int nth, char *said, size_t room)
{
    char number[16];
    snprintf(number, sizeof number, "%d", nth);
    fflush(NULL);
    pid_t child = fork();
    if (child == 0) {
        int out = open(in_folder("said"), O_WRONLY | O_CREAT | O_TRUNC, 0600);
        dup2(out, STDERR_FILENO);
        setenv("LETOFF_FAIL_ALLOC", number, 1);
        execl("/proc/self/exe", "test_alloc", "walk", in_folder("file"), (char *)NULL);
        _exit(99);
    }
    int raw;
    waitpid(child, &raw, 0);
    char *text = text_read_file(in_folder("said"), 100000, NULL, NULL);
    snprintf(said, room, "%s", text ? text : "?");
    mem_free(text);
    return WIFEXITED(raw) ? WEXITSTATUS(raw) : 100 + WTERMSIG(raw);
}

static void each_failed_allocation_is_a_clean_end(void **state)
{
    (void)state;
    int status = EXIT_DEVICE, nth = 0;
    struct err e = {0};
    while (status == EXIT_DEVICE && nth < 2000) {
        char said[2000];
        assert_true(text_write_file(in_folder("file"), OLD_TEXT, strlen(OLD_TEXT), &e));
        status = walk_failing(++nth, said, sizeof said);
        char *now = text_read_file(in_folder("file"), 1000, NULL, &e);
        if (status == EXIT_DEVICE) { /* one sentence, no leak report, the file whole */
            assert_ptr_equal(strstr(said, "letoff: There is not enough memory"), said);
            assert_ptr_equal(strchr(said, '\n'), said + strlen(said) - 1);
            assert_true(strcmp(now, OLD_TEXT) == 0 || strcmp(now, NEW_TEXT) == 0);
        } else { /* the walk has fewer allocations than that */
            assert_string_equal(said, "");
            assert_int_equal(status, 0);
            assert_string_equal(now, NEW_TEXT);
        }
        mem_free(now);
    }
    assert_in_range(nth, 50, 1999); /* the walk does allocate */
    assert_int_equal(e.count, 0);
}

int main(int argc, char **argv)
{
    if (argc == 3 && strcmp(argv[1], "walk") == 0)
        return walk(argv[2]);
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(each_failed_allocation_is_a_clean_end),
    };
    return cmocka_run_group_tests(tests, make_folder, remove_folder);
}
