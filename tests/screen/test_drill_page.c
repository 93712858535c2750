/* Training in the window: rounds by clicks and keys, marked, kept, and due again. */
#include "suite.h"

#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "drill/round.h"
#include "journal/spaced.h"
#include "opened_app.h"
#include "screen/script.h"

static char home[80];

static int program(void **state)
{
    struct err e = {0};
    (void)state;
    snprintf(home, sizeof home, "/tmp/letoff-drill-%d", (int)getpid());
    setenv("XDG_DATA_HOME", home, 1);
    struct journal *j = journal_open(NULL, NULL, &e); /* answers are kept where a journal is */
    journal_close(j);
    err_print(&e, stderr);
    err_release(&e);
    if (app_opened())
        return -1;
    app->page = PAGE_DRILL;
    return 0;
}

static int program_ends(void **state)
{
    char line[120];
    (void)state;
    app_closed();
    snprintf(line, sizeof line, "rm -rf '%s'", home);
    return system(line);
}

static size_t run(const char *script)
{
    struct err e = {0};
    size_t uses = 0;
    if (!script_run(app, script, &uses, &e))
        fail_msg("%s", e.line[0]);
    return uses;
}

static bool shown(const char *text)
{
    return canvas_find_text(&app->canvas, text) != NULL;
}

static size_t choices(void)
{
    size_t n = 0;
    char name[32];
    do
        snprintf(name, sizeof name, "choice-%zu", n + 1);
    while (canvas_find_name(&app->canvas, name) && ++n);
    return n;
}

/* Always the first choice, until the round is over. */
static void to_the_end(void)
{
    for (int i = 0; i < 60 && choices() > 0; i++)
        run("click choice-1");
    assert_true(canvas_find_name(&app->canvas, "next-round"));
    assert_true(shown(" of 100"));
}

static void it_says_what_it_is_before_anything_begins(void **state)
{
    (void)state;
    run("wait 0");
    assert_true(shown("Rounds that grow harder"));
    assert_non_null(canvas_find_name(&app->canvas, "begin-drill"));
}

static void each_kind_of_round_goes_to_its_end(void **state)
{
    (void)state;
    static const struct { const char *kind, *title; } rows[] = {
        {"time", "NAME THE TIME"}, {"clock", "NAME THE CLOCK"}, {"oil", "WHERE DOES OIL GO"},
        {"defect", "NAME THE DEFECT"}, {"fault", "FIND THE HIDDEN FAULT"},
    };
    run("key n");
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        char script[64];
        snprintf(script, sizeof script, "click kind-%s", rows[i].kind);
        run(script);
        assert_true(shown(rows[i].title));
        assert_true(choices() >= 2);
        assert_int_equal(canvas_count_tone(&app->canvas, TONE_ACCENT), 0); /* nothing is given away */
        to_the_end();
    }
    assert_true(shown("after 5 rounds"));
}

static void hints_followed_bring_the_clock_in_step(void **state)
{
    (void)state;
    run("click level-1; click kind-reset");
    assert_true(shown("SET IT IN STEP"));
    for (int i = 0; i < 60 && choices() > 0; i++) {
        run("key f8");
        assert_non_null(canvas_find_name(&app->canvas, "hinted"));
        run("click hinted");
    }
    assert_true(shown("Right.  "));
    assert_true(shown("The shortest way took"));
}

static void answers_are_kept_by_part_and_come_up_again(void **state)
{
    struct due_parts due = {0};
    struct err e = {0};
    (void)state;
    run("click kind-defect");
    to_the_end();
    struct journal *j = journal_open(NULL, NULL, &e);
    assert_non_null(j);
    assert_true(drill_due(j, NULL, &due, &e));
    assert_true(due.count >= 1);
    assert_true(shown("PARTS, WHEN THEY COME UP AGAIN"));
    assert_true(shown(due.at[0].part));
    due_parts_release(&due);
    journal_close(j);
}

static void what_was_sounded_can_be_heard_and_read(void **state)
{
    (void)state;
    run("click kind-time; key f7");
    assert_true(app->show.events.count > 0);
    assert_true(app->show.playing);
    run("key n; click index-plate; click index-drill"); /* and nothing is lost by looking elsewhere */
    assert_true(shown("NAME THE TIME"));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(it_says_what_it_is_before_anything_begins),
        cmocka_unit_test(each_kind_of_round_goes_to_its_end),
        cmocka_unit_test(hints_followed_bring_the_clock_in_step),
        cmocka_unit_test(answers_are_kept_by_part_and_come_up_again),
        cmocka_unit_test(what_was_sounded_can_be_heard_and_read),
    };
    return cmocka_run_group_tests(tests, program, program_ends);
}
