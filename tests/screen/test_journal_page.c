/* The journal's page by its draw list: what stands on it, and what clicks and keys do to the journal. */
#include "suite.h"

#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "journal/journal_jobs.h"
#include "opened_app.h"
#include "screen/jobs_book.h"
#include "screen/script.h"

static char home[80];
static char call[2][RECORD_ID_LENGTH + 1];

/* Two open calls, one of them with a visit today; the likeliest fault of both is the first. */
static bool fill(struct journal *j, struct err *e)
{
    static const struct belief_row rows[] = {
        {"hour-hand-moved", "hour hand", 0.2}, {"rack-falls-partly", "rack", 0.6}, {"unknown", NULL, 0.1}};
    static const struct new_call calls[] = {
        {.customer = "Mill Lane 3", .movement = "longcase-rack", .sheet = "heard:\n  - {at: \"3:00\", strike: 2}\n"},
        {.customer = "Weir Street 9", .movement = "longcase-rack", .story = "It struck two at three."}};
    char now[20], at[20];
    journal_now(j, now);
    snprintf(at, sizeof at, "%.10sT09:30", now);
    for (int i = 0; i < 2; i++)
        if (!(job_add(j, &calls[i], call[i], e) && job_believe(j, call[i], rows, COUNT_OF(rows), 0.001, e) &&
              job_advise(j, call[i], "oil", "Wind it fully and listen at the next hour.", 20, e)))
            return false;
    return job_plan_visit(j, call[1], at, 60, "Heron", "clock oil\nbroaches", e);
}

static int program(void **state)
{
    (void)state;
    snprintf(home, sizeof home, "/tmp/letoff-page-%d", (int)getpid());
    setenv("XDG_DATA_HOME", home, 1);
    return app_opened();
}

static int program_ends(void **state)
{
    (void)state;
    app_closed();
    return 0;
}

static int setup(void **state)
{
    struct err e = {0};
    (void)state;
    struct journal *j = journal_open(NULL, NULL, &e);
    bool good = j && fill(j, &e);
    journal_close(j);
    err_print(&e, stderr);
    app->page = PAGE_JOURNAL;
    return good ? 0 : -1;
}

static int teardown(void **state)
{
    char line[120];
    (void)state;
    journal_free(app->journaling);
    app->journaling = NULL;
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

/* What the journal itself says, read by somebody else. */
static void read_call(int i, struct job *job)
{
    struct err e = {0};
    struct journal_options reader = {.read_only = true};
    struct journal *j = journal_open(NULL, &reader, &e);
    assert_non_null(j);
    assert_true(job_read(j, call[i], job, &e));
    journal_close(j);
}

static void todays_visit_stands_with_its_kit_and_open_calls_below(void **state)
{
    (void)state;
    run("wait 0");
    assert_true(shown("TODAY"));
    assert_true(shown("09:30"));
    assert_true(shown("Heron. Kit: clock oil, broaches"));
    assert_true(shown("OPEN CALLS \xc2\xb7 2"));
    assert_true(shown("Mill Lane 3, "));
    assert_false(shown("CLOSED LATELY"));
}

static void a_job_is_closed_with_its_fault_in_two_clicks(void **state)
{
    struct job job;
    (void)state;
    run("wait 0");
    const struct job_rows *open = &app->journaling->rows[LIST_OPEN];
    bool first = strcmp(open->at[0].call, call[0]) == 0;
    assert_int_equal(run(first ? "click open-1; click fault-1" : "click open-2; click fault-1"), 2);
    read_call(0, &job);
    assert_string_equal(record_text(&job.call, "state"), "closed");
    assert_string_equal(record_text(&job.call, "outcome"), "phone");
    assert_int_equal(job.of[RECORD_FINDING].count, 1);
    /* the likeliest stands first, whatever order it was kept in */
    assert_string_equal(record_text(&job.of[RECORD_FINDING].at[0], "fault"), "rack-falls-partly");
    assert_string_equal(record_text(&job.of[RECORD_FINDING].at[0], "part"), "rack");
    job_release(&job);
    assert_true(shown("OPEN CALLS \xc2\xb7 1"));
    assert_true(shown("CLOSED LATELY"));
}

static void keys_alone_close_amend_and_reopen_it(void **state)
{
    struct job job;
    (void)state;
    run("wait 0");
    int chosen = strcmp(app->journaling->chosen, call[0]) == 0 ? 0 : 1;
    assert_int_equal(run("key 2"), 1);
    read_call(chosen, &job);
    assert_string_equal(record_text(&job.of[RECORD_FINDING].at[0], "fault"), "hour-hand-moved");
    job_release(&job);
    run("key 1; key 2"); /* the other fault too; the first was none after all */
    run("click outcome-bench; click minutes; key ctrl+a; type 45; key enter");
    read_call(chosen, &job);
    assert_int_equal(job.of[RECORD_FINDING].count, 1);
    assert_string_equal(record_text(&job.of[RECORD_FINDING].at[0], "fault"), "rack-falls-partly");
    assert_string_equal(record_text(&job.call, "outcome"), "bench");
    assert_near(record_real(&job.call, "minutes", 0), 45, 0);
    job_release(&job);
    run("click reopen");
    read_call(chosen, &job);
    assert_string_equal(record_text(&job.call, "state"), "open");
    job_release(&job);
}

static void a_fault_nobody_thought_of_is_found_by_its_words(void **state)
{
    struct job job;
    (void)state;
    run("wait 0");
    int chosen = strcmp(app->journaling->chosen, call[0]) == 0 ? 0 : 1;
    run("click other-fault; type fly; key enter");
    read_call(chosen, &job);
    assert_int_equal(job.of[RECORD_FINDING].count, 1);
    assert_string_equal(record_text(&job.of[RECORD_FINDING].at[0], "part"), "fly");
    job_release(&job);
}

static void what_came_of_advice_is_one_click(void **state)
{
    struct job job;
    (void)state;
    run("click open-1; click advice-1-followed-yes; click advice-1-helped-no");
    int chosen = strcmp(app->journaling->chosen, call[0]) == 0 ? 0 : 1;
    read_call(chosen, &job);
    assert_string_equal(record_text(&job.of[RECORD_ADVICE].at[0], "followed"), "yes");
    assert_string_equal(record_text(&job.of[RECORD_ADVICE].at[0], "helped"), "no");
    job_release(&job);
}

static void a_visit_is_planned_with_the_kit_of_the_likely_cures(void **state)
{
    struct job job;
    (void)state;
    run("click open-1; click visit-when; type 2031-03-04T10:15; click visit-van; type Kingfisher; key enter");
    int chosen = strcmp(app->journaling->chosen, call[0]) == 0 ? 0 : 1;
    read_call(chosen, &job);
    const struct record_list *visits = &job.of[RECORD_VISIT];
    const struct record *v = NULL;
    for (size_t i = 0; i < visits->count; i++)
        if (strcmp(record_text(&visits->at[i], "planned_at"), "2031-03-04T10:15") == 0)
            v = &visits->at[i];
    assert_non_null(v);
    assert_string_equal(record_text(v, "van"), "Kingfisher");
    const struct fault *f = library_find_fault(app->lib, "rack-falls-partly");
    const struct cure *cure = library_find_cure(app->lib, f->cure);
    for (size_t i = 0; i < cure->kits; i++)
        assert_non_null(strstr(record_text(v, "kit"), cure->kit[i]));
    job_release(&job);
}

static void a_day_that_is_none_is_refused_and_nothing_is_planned(void **state)
{
    (void)state;
    run("click open-1; click visit-when; type some day; key enter");
    assert_true(app->notice[0]);
    assert_true(shown("some day")); /* still there to be put right */
}

static void search_finds_by_any_word(void **state)
{
    (void)state;
    run("key ctrl+f; type weir");
    assert_true(shown("FOUND \xc2\xb7 1"));
    assert_false(shown("OPEN CALLS"));
    run("click found-1");
    assert_string_equal(app->journaling->chosen, call[1]);
}

static void figures_wear_no_accent_since_nobody_is_suspected(void **state)
{
    (void)state;
    run("click open-1; click fault-1; key g");
    assert_true(shown("FAULTS FOUND, BY PART AND MONTH"));
    assert_true(shown("DO PROMISES HOLD"));
    assert_true(shown("MINUTES"));
    assert_true(shown("rack"));
    assert_int_equal(canvas_count_tone(&app->canvas, TONE_ACCENT), 0);
}

static void what_jobs_taught_is_shown_and_can_be_taken_back(void **state)
{
    struct job job;
    (void)state;
    run("click open-1; click fault-1; key g");
    assert_true(shown("WHAT THE JOBS TAUGHT THE FINDER"));
    assert_true(shown("1 jobs taught, 0 were told not to"));
    assert_true(shown("1 of 1 jobs"));
    int chosen = strcmp(app->journaling->chosen, call[0]) == 0 ? 0 : 1;
    run("click closed-1; click teaches; key g");
    assert_true(shown("0 jobs taught, 1 were told not to"));
    read_call(chosen, &job);
    assert_string_equal(record_text(&job.call, "lesson"), "no");
    job_release(&job);
}

static void the_desk_leans_on_what_the_jobs_taught(void **state)
{
    (void)state;
    call_set_clock(&app->call, "longcase-rack");
    call_set_cell(&app->call, 180, "2", true, false);
    run("wait 0");
    assert_int_equal(app->advice.jobs, 0);
    run("click open-1; click fault-1; wait 0.1");
    assert_int_equal(app->advice.jobs, 1);
    run("click reopen; wait 0.1");
    assert_int_equal(app->advice.jobs, 0);
}

static void a_call_is_kept_once(void **state)
{
    size_t count = 0;
    struct err e = {0};
    (void)state;
    call_set_clock(&app->call, "longcase-rack");
    call_set_cell(&app->call, 180, "2", true, false);
    run("wait 0");
    assert_true(app_keep(app));
    assert_false(app_keep(app)); /* unchanged since */
    struct journal *j = book_journal(app, false);
    assert_true(journal_count(j, RECORD_CALL, &count, &e));
    assert_int_equal(count, 3);
}

static void a_damaged_journal_is_told_in_one_sentence(void **state)
{
    char path[140];
    (void)state;
    snprintf(path, sizeof path, "%s/letoff/journal.db", home);
    FILE *f = fopen(path, "r+b");
    assert_non_null(f);
    fputs("this is no journal at all", f);
    fclose(f);
    run("wait 0");
    assert_true(app->journaling->trouble[0]);
    run("click search; type x; key f1; key f6"); /* and harms nothing */
}

int main(void)
{
#define T(test) cmocka_unit_test_setup_teardown(test, setup, teardown)
    const struct CMUnitTest tests[] = {
        T(todays_visit_stands_with_its_kit_and_open_calls_below), T(a_job_is_closed_with_its_fault_in_two_clicks),
        T(keys_alone_close_amend_and_reopen_it), T(a_fault_nobody_thought_of_is_found_by_its_words),
        T(what_came_of_advice_is_one_click), T(a_visit_is_planned_with_the_kit_of_the_likely_cures),
        T(a_day_that_is_none_is_refused_and_nothing_is_planned), T(search_finds_by_any_word),
        T(figures_wear_no_accent_since_nobody_is_suspected), T(what_jobs_taught_is_shown_and_can_be_taken_back),
        T(the_desk_leans_on_what_the_jobs_taught), T(a_call_is_kept_once), T(a_damaged_journal_is_told_in_one_sentence),
    };
    return cmocka_run_group_tests(tests, program, program_ends);
}
