/* The work of a desk: calls, visits, closing, search, figures, lessons, drills; on both databases. */
#include "suite.h"

#include <stdio.h>
#include <string.h>

#include "both_databases.h"
#include "journal/journal_calendar.h"
#include "journal/journal_jobs.h"
#include "journal/journal_learn.h"
#include "journal/spaced.h"
#include "journal/stats.h"
#include "journal_fixture.h"
#include "mem.h"

#define DAY_MS INT64_C(86400000)

static void take(struct journal *j, const char *customer, const char *movement, const char *story,
                 char id[33])
{
    struct err e = {0};
    struct new_call call = {.customer = customer,
                            .movement = movement,
                            .story = story,
                            .sheet = "heard: []\n",
                            .history = "moved_house",
                            .desk = "Heron"};
    assert_true(job_add(j, &call, id, &e));
    fixture_no_sentence(&e);
}

static void close_with(struct journal *j, const char *call, const char *fault, const char *part,
                       const char *outcome, double minutes)
{
    struct err e = {0};
    struct found_fault found = {fault, part, NULL};
    struct closing c = {
        .faults = &found, .fault_count = fault != NULL, .outcome = outcome, .minutes = minutes};
    assert_true(job_close(j, call, &c, &e));
    fixture_no_sentence(&e);
}

static void a_call_finds_its_customer_and_clock_again(void **state)
{
    struct places *p = *state;
    struct err e = {0};
    char first[33], second[33], third[33];
    struct journal *j = fixture_open(p->office);
    assert_true(journal_draft_save(j, "desk", "Mill Lane ...", &e));
    take(j, "Mill Lane", "longcase-rack", "strikes two at three", first);
    take(j, "mill lane", "longcase-rack", "again", second);
    take(j, "Mill Lane", "cuckoo-count", "the other one", third);
    assert_int_equal(fixture_count(j, RECORD_CUSTOMER), 1);
    assert_int_equal(fixture_count(j, RECORD_CLOCK), 2);
    struct new_call call = {.draft_slot = "desk", .taken_at = "2026-11-06T10:15"};
    char fourth[33];
    assert_true(job_add(j, &call, fourth, &e));
    assert_null(journal_draft_load(j, "desk", NULL, &e));
    /* a call that is refused keeps the draft */
    assert_true(journal_draft_save(j, "desk", "kept", &e));
    struct new_call bad = {.draft_slot = "desk", .customer = "Nobody", .taken_at = "tomorrow"};
    assert_false(job_add(j, &bad, fourth, &e));
    fixture_one_sentence(&e, "taken_at is \"tomorrow\"");
    char *draft = journal_draft_load(j, "desk", NULL, &e);
    assert_string_equal(draft, "kept");
    mem_free(draft);
    assert_int_equal(fixture_count(j, RECORD_CUSTOMER), 1);
    journal_close(j);
}

static void a_job_shows_all_that_hangs_on_it(void **state)
{
    struct places *p = *state;
    struct err e = {0};
    struct job job;
    char call[33];
    struct journal *j = fixture_open(p->office);
    take(j, "Mill Lane", "longcase-rack", "strikes two at three", call);
    const struct belief_row beliefs[] = {
        {"tail_bent", "rack tail", 0.7}, {"hook_worn", NULL, 0.2}, {"other", NULL, 0.0001}};
    assert_true(job_believe(j, call, beliefs, 3, 0.01, &e));
    assert_true(job_advise(j, call, "hear_four", "Listen at four.", 12, &e));
    assert_true(
        job_plan_visit(j, call, "2026-11-09T14:30", 45, "Heron", "let-down key\ntail pin", &e));
    const struct used_part part = {"taper pin", 2};
    const struct done_work work[] = {{"bend_tail", 10}, {"travel", 25}};
    const struct heard_check check = {"count", 5, 1};
    const struct found_fault found = {"tail_bent", "rack tail", "bent_or_broken_part"};
    struct closing c = {&found, 1, &part, 1, work, 2, &check, 1, NULL, -1, "tight pin"};
    assert_true(job_close(j, call, &c, &e));
    fixture_no_sentence(&e);
    assert_true(job_read(j, call, &job, &e));
    assert_string_equal(record_text(&job.call, "state"), "closed");
    assert_string_equal(record_text(&job.call, "closed_at"), "2026-11-06T09:00:00");
    assert_string_equal(record_text(&job.call, "outcome"), "visit"); /* one was planned */
    assert_string_equal(record_text(&job.call, "minutes"), "35");    /* the sum of the work */
    assert_string_equal(record_text(&job.customer, "label"), "Mill Lane");
    assert_string_equal(record_text(&job.clock, "movement"), "longcase-rack");
    assert_int_equal(job.of[RECORD_BELIEF].count, 2);
    assert_int_equal(job.of[RECORD_ADVICE].count, 1);
    assert_string_equal(record_text(&job.of[RECORD_VISIT].at[0], "done"), "yes");
    assert_string_equal(record_text(&job.of[RECORD_FINDING].at[0], "fault"), "tail_bent");
    assert_string_equal(record_text(&job.of[RECORD_PART].at[0], "count"), "2");
    assert_int_equal(job.of[RECORD_WORK].count, 2);
    assert_int_equal(job.of[RECORD_HEARING].count, 1);
    job_release(&job);

    assert_false(job_close(j, call, &c, &e));
    fixture_one_sentence(&e, "is closed already");
    assert_true(job_reopen(j, call, &e));
    assert_false(job_reopen(j, call, &e));
    fixture_one_sentence(&e, "is open already");
    assert_false(job_read(j, "00112233445566778899aabbccddeeff", &job, &e));
    fixture_one_sentence(&e, "There is no call");
    journal_close(j);
}

static void a_refused_close_leaves_the_job_open_and_bare(void **state)
{
    struct places *p = *state;
    struct err e = {0};
    struct job job;
    char call[33];
    struct journal *j = fixture_open(p->office);
    take(j, "Mill Lane", "longcase-rack", "x", call);
    const struct found_fault found = {"tail_bent", NULL, NULL};
    const struct heard_check check = {"count", 2, 3};
    struct closing c = {.faults = &found, .fault_count = 1, .checks = &check, .check_count = 1};
    assert_false(job_close(j, call, &c, &e));
    fixture_one_sentence(&e, "3 of 2 statements were wrong");
    assert_true(job_read(j, call, &job, &e));
    assert_string_equal(record_text(&job.call, "state"), "open");
    assert_int_equal(job.of[RECORD_FINDING].count, 0);
    job_release(&job);
    journal_close(j);
}

static void lists_and_search_find_the_right_jobs(void **state)
{
    struct places *p = *state;
    static const struct {
        const char *words;
        size_t hits;
    } rows[] = {
        {"mill", 2},       {"MILL strikes", 1}, {"strikes", 1},
        {"tail_bent", 1},  {"taper quay", 0},   {"100%", 1},
        {"%", 1},          {"_x", 0},           {"cuckoo-count", 1},
        {"", 3},           {"heron", 3},        {"!", 0},
        {"2026-11-09", 1},
    };
    struct err e = {0};
    char a[33], b[33], c[33];
    struct journal *j = fixture_open(p->office);
    take(j, "Mill Lane", "longcase-rack", "Strikes two at three", a);
    take(j, "Mill Lane", "cuckoo-count", "silent 100% of the time", b);
    take(j, "Quay 3", "longcase-rack", "runs on", c);
    assert_true(job_plan_visit(j, b, "2026-11-09T10:00", 0, NULL, NULL, &e));
    close_with(j, c, "tail_bent", "rack tail", "phone", 5);
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct job_rows found = {0};
        assert_true(job_find(j, rows[i].words, &found, &e));
        if (found.count != rows[i].hits)
            fail_msg("\"%s\": %zu jobs, expected %zu", rows[i].words, found.count, rows[i].hits);
        job_rows_release(&found);
    }
    struct job_rows list = {0};
    assert_true(job_list(j, JOBS_OPEN, 0, &list, &e));
    assert_int_equal(list.count, 2);
    job_rows_release(&list);
    assert_true(job_list(j, JOBS_CLOSED, 0, &list, &e));
    assert_int_equal(list.count, 1);
    assert_string_equal(list.at[0].found, "tail_bent");
    assert_string_equal(list.at[0].customer, "Quay 3");
    job_rows_release(&list);
    assert_true(job_list(j, JOBS_ALL, 2, &list, &e));
    assert_int_equal(list.count, 2);
    job_rows_release(&list);
    fixture_no_sentence(&e);
    journal_close(j);
}

static void visits_come_by_day_with_their_kit(void **state)
{
    struct places *p = *state;
    struct err e = {0};
    struct visit_rows rows = {0};
    char call[33];
    struct journal *j = fixture_open(p->office);
    take(j, "Mill Lane", "longcase-rack", "x", call);
    assert_true(job_plan_visit(j, call, "2026-11-09T14:30", 45, "Heron", "tail pin", &e));
    assert_true(job_plan_visit(j, call, "2026-11-09T08:00", 0, "Kingfisher", NULL, &e));
    assert_true(job_plan_visit(j, call, "2026-11-10", 0, NULL, NULL, &e));
    assert_true(job_visits(j, "2026-11-09", &rows, &e));
    assert_int_equal(rows.count, 2);
    assert_string_equal(rows.at[0].van, "Kingfisher");
    assert_string_equal(rows.at[1].kit, "tail pin");
    assert_string_equal(rows.at[1].customer, "Mill Lane");
    assert_near(rows.at[1].minutes, 45, 0);
    visit_rows_release(&rows);
    assert_true(job_visits(j, NULL, &rows, &e));
    assert_int_equal(rows.count, 3);
    visit_rows_release(&rows);
    assert_false(job_visits(j, "%", &rows, &e));
    fixture_one_sentence(&e, "is no day");
    close_with(j, call, NULL, NULL, NULL, 10);
    assert_true(job_visits(j, NULL, &rows, &e));
    assert_int_equal(rows.count, 0);
    journal_close(j);
}

/* RFC 5545: lines of at most 75 bytes ended by CRLF, folded by CRLF and a blank (3.1); backslash,
 * semicolon, comma and line break escaped in text (3.3.11); UID, DTSTAMP needed (3.6.1). */
static void planned_visits_make_a_calendar(void **state)
{
    struct places *p = *state;
    struct err e = {0};
    struct text out = {0};
    size_t visits;
    char call[33];
    struct journal *j = fixture_open(p->office);
    take(j,
         "Mill Lane; caf\xC3\xA9, 2\\3 \xC3\xA9\xC3\xA9\xC3\xA9\xC3\xA9\xC3\xA9\xC3\xA9\xC3\xA9"
         "\xC3\xA9\xC3\xA9\xC3\xA9\xC3\xA9\xC3\xA9\xC3\xA9\xC3\xA9\xC3\xA9\xC3\xA9\xC3\xA9\xC3\xA9"
         "\xC3\xA9\xC3\xA9\xC3\xA9\xC3\xA9\xC3\xA9\xC3\xA9",
         "longcase-rack", "x", call);
    assert_true(job_plan_visit(j, call, "2026-11-09T14:30", 45, "Heron", "key\npin", &e));
    assert_true(job_plan_visit(j, call, "2026-11-10", 0, NULL, NULL, &e));
    assert_true(job_plan_visit(j, call, "2026-11-01T08:00", 0, NULL, NULL, &e));
    assert_true(journal_calendar(j, "2026-11-09", &out, &visits, &e));
    assert_int_equal(visits, 2);
    const char *text = text_cstr(&out);
    static const char *const lines[] = {
        "BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:",
        "BEGIN:VEVENT\r\nUID:",
        "@letoff\r\n",
        "DTSTAMP:20261106T0",
        "DTSTART:20261109T143000\r\nDURATION:PT45M\r\n",
        "DTSTART;VALUE=DATE:20261110\r\n",
        "SUMMARY:Mill Lane\\; caf\xC3\xA9\\, 2\\\\3 ",
        "DESCRIPTION:Kit:\\nkey\\npin\\n\r\n",
        "RESOURCES:Heron\r\n",
        "END:VEVENT\r\nEND:VCALENDAR\r\n",
    };
    for (size_t i = 0; i < COUNT_OF(lines); i++)
        if (!strstr(text, lines[i]))
            fail_msg("no \"%s\" in:\n%s", lines[i], text);
    for (const char *line = text; *line;) {
        const char *end = strstr(line, "\r\n");
        assert_non_null(end);
        assert_in_range(end - line, 1, 75);
        assert_int_not_equal((unsigned char)line[line[0] == ' '] & 0xC0,
                             0x80); /* no cut character */
        line = end + 2;
    }
    text_release(&out);
    journal_close(j);
}

/* ---- figures --------------------------------------------------------------------------------- */

static void figures_are_those_counted_by_hand(void **state)
{
    struct places *p = *state;
    struct err e = {0};
    struct stats s;
    char call[33];
    struct journal *j = fixture_open(p->office);
    const struct belief_row sure[] = {{"tail_bent", NULL, 0.8}, {"hook_worn", NULL, 0.2}};
    const struct belief_row first[] = {{"tail_bent", NULL, 0.1}, {"hook_worn", NULL, 0.9}};
    /* five visits of 60 minutes in November, one with two sets of beliefs of which the last counts */
    for (int i = 0; i < 5; i++) {
        take(j, NULL, "longcase-rack", "x", call);
        if (i == 0) {
            assert_true(job_believe(j, call, first, 2, 0, &e));
            fixture_now_ms += 60000;
        }
        assert_true(job_believe(j, call, sure, 2, 0, &e));
        close_with(j, call, i < 4 ? "tail_bent" : "hook_worn", i < 4 ? "rack tail" : "rack hook",
                   "visit", 60);
    }
    /* two on the telephone in December, 10 and 20 minutes, with advice that promised 30 each */
    fixture_now_ms += 30 * DAY_MS;
    for (int i = 0; i < 2; i++) {
        take(j, NULL, "longcase-rack", "x", call);
        assert_true(job_advise(j, call, "move_hour_hand", "Move the hour hand.", 30, &e));
        close_with(j, call, "hour_hand_off", "hour hand", "phone", 10 + 10 * i);
    }
    take(j, NULL, "longcase-rack", "still open", call);
    assert_true(stats_read(j, 2026, &s, &e));
    fixture_no_sentence(&e);
    assert_int_equal(s.calls, 8);
    assert_int_equal(s.open, 1);
    assert_int_equal(s.parts, 3);
    assert_string_equal(s.part[0].part, "rack tail");
    assert_int_equal(s.part[0].month[10], 4);
    assert_int_equal(s.part[0].all, 4);
    assert_string_equal(s.part[1].part, "hour hand");
    assert_int_equal(s.part[1].month[11], 2);
    assert_int_equal(s.judged, 5);
    assert_int_equal(s.right, 4);
    assert_int_equal(s.bin[8].count, 5);
    assert_near(s.bin[8].said, 0.8, 1e-12);
    assert_near(s.bin[8].held, 0.8, 1e-12);
    assert_int_equal(s.bin[9].count, 0);
    /* four times 0.2^2 + 0.2^2, once 0.8^2 + 0.8^2, by five */
    assert_near(s.brier, (4 * 0.08 + 1.28) / 5, 1e-12);
    assert_near(s.trip_min, 60, 1e-12);
    assert_near(s.minutes_saved, 50 + 40, 1e-12);
    assert_near(s.month[11].saved, 90, 1e-12);
    assert_int_equal(s.month[11].by_phone, 2);
    assert_near(s.month[10].minutes, 300, 1e-12);
    assert_int_equal(s.advices, 1);
    assert_int_equal(s.advice[0].given, 2);
    assert_near(s.promised_min, 60, 1e-12);
    stats_release(&s);
    assert_true(stats_read(j, 2019, &s, &e));
    assert_int_equal(s.closed, 0);
    stats_release(&s);
    journal_close(j);
}

/* ---- lessons --------------------------------------------------------------------------------- */

static void closed_jobs_teach_and_can_be_taken_back(void **state)
{
    struct places *p = *state;
    static const struct shipped_prior rows[] = {{"longcase-rack", NULL, "a", 0.8},
                                                {"longcase-rack", NULL, "b", 0.2}};
    static const struct learn_weights ten = {4, 10, 10};
    struct err e = {0};
    struct lessons got;
    char call[33];
    struct journal *j = fixture_open(p->office);
    struct learn *l = learn_new(rows, 2, &ten);
    for (int i = 0; i < 10; i++) {
        take(j, NULL, "longcase-rack", "x", call);
        close_with(j, call, "b", NULL, "visit", 30);
    }
    take(j, NULL, "longcase-rack", "open jobs do not teach", call);
    fixture_finding(j, call, "a", NULL);
    take(j, NULL, "sundial", "x", call);
    close_with(j, call, "a", NULL, "visit", 30);
    take(j, NULL, "longcase-rack", "x", call);
    close_with(j, call, "a", NULL, "visit", 30);
    assert_true(job_teaches(j, call, false, &e));
    assert_true(journal_teach(j, l, &got, &e));
    assert_int_equal(got.jobs, 10);
    assert_int_equal(got.left_out, 1);
    assert_int_equal(got.unplaced, 1);
    assert_near(learn_p(l, "longcase-rack", "moved_house", "b"), 0.6, 1e-12); /* as in learn.h */
    assert_true(job_teaches(j, call, true, &e));
    assert_true(journal_teach(j, l, &got, &e));
    assert_near(learn_p(l, "longcase-rack", "moved_house", "b"), 12.0 / 21, 1e-12);
    assert_true(journal_learning(j, false, &e));
    assert_true(journal_teach(j, l, &got, &e));
    assert_true(got.off);
    assert_near(learn_p(l, "longcase-rack", "moved_house", "b"), 0.2, 1e-12);
    assert_true(journal_learning(j, true, &e));
    assert_true(journal_teach(j, l, &got, &e));
    assert_near(learn_p(l, "longcase-rack", "moved_house", "b"), 12.0 / 21, 1e-12);
    assert_false(job_teaches(j, "00112233445566778899aabbccddeeff", false, &e));
    fixture_one_sentence(&e, "There is no call");
    learn_free(l);
    journal_close(j);
}

static void checks_of_callers_and_minutes_of_actions_are_counted(void **state)
{
    struct places *p = *state;
    struct err e = {0};
    char call[33];
    struct journal *j = fixture_open(p->office);
    static const double minutes[] = {2, 4, 4, 4, 5, 5, 7, 9};
    for (size_t i = 0; i < COUNT_OF(minutes); i++) {
        take(j, NULL, NULL, "x", call);
        const struct done_work work[] = {{"bend_tail", minutes[i]}, {"travel", 20}};
        const struct heard_check checks[] = {{"count", 3, i == 0}, {"time", 1, 1}};
        struct closing c = {
            .work = work, .work_count = 2, .checks = checks, .check_count = 2, .minutes = -1};
        assert_true(job_close(j, call, &c, &e));
    }
    struct heard_counts heard = {0};
    struct action_times times = {0};
    assert_true(journal_heard(j, &heard, &e) && journal_action_times(j, &times, &e));
    fixture_no_sentence(&e);
    assert_int_equal(heard.count, 2);
    assert_string_equal(heard.at[0].what, "count");
    assert_int_equal(heard.at[0].trials, 24);
    assert_int_equal(heard.at[0].wrong, 1);
    assert_int_equal(times.count, 2);
    assert_near(times.at[0].minutes.mean, 5, 1e-12);
    assert_near(running_variance(&times.at[0].minutes), 32.0 / 7, 1e-12);
    assert_near(running_variance(&times.at[1].minutes), 0, 1e-12);
    heard_counts_release(&heard);
    action_times_release(&times);
    journal_close(j);
}

/* ---- drills ---------------------------------------------------------------------------------- */

static void drills_come_back_later_the_better_they_go(void **state)
{
    struct places *p = *state;
    static const struct {
        double last;
        bool right;
        double next;
    } rows[] = {{0, true, 3},   {3, true, 7.5}, {100, true, 180}, {180, true, 180},
                {50, false, 1}, {0, false, 1},  {1, true, 3}};
    struct err e = {0};
    struct due_parts due = {0};
    char day[11];
    for (size_t i = 0; i < COUNT_OF(rows); i++)
        assert_near(spaced_next_days(rows[i].last, rows[i].right), rows[i].next, 1e-12);
    assert_true(spaced_day_after("2024-02-27T23:30", 3, day));
    assert_string_equal(day, "2024-03-01"); /* 2024 is a leap year */
    assert_false(spaced_day_after("soon", 3, day));
    struct journal *j = fixture_open(p->office);
    const struct drill_answer tail = {.part = "rack tail", .right = true, .score = 100}, snail = {.part = "snail", .right = true},
                              warning = {"warning", false, "fault", 30, "It struck early. It was: warning too long."};
    assert_true(drill_keep(j, "Aldo", &tail, &e));
    fixture_now_ms += 3 * DAY_MS;
    assert_true(drill_keep(j, "Aldo", &tail, &e));
    assert_true(drill_keep(j, "Aldo", &warning, &e));
    assert_true(drill_keep(j, NULL, &snail, &e));
    assert_true(drill_due(j, "Aldo", &due, &e));
    fixture_no_sentence(&e);
    assert_int_equal(due.count, 2);
    assert_string_equal(due.at[0].part, "warning");
    assert_string_equal(due.at[0].due_at, "2026-11-10");
    assert_string_equal(due.at[1].due_at, "2026-11-17"); /* 7.5 days, rounded up */
    assert_int_equal(due.at[1].asked, 2);
    assert_int_equal(due.at[1].right, 2);
    due_parts_release(&due);
    struct record_list missed = {0};
    assert_true(drill_missed(j, "Aldo", 9, &missed, &e));
    assert_int_equal(missed.count, 1);
    assert_string_equal(record_text(&missed.at[0], "round"), "fault");
    assert_non_null(strstr(record_text(&missed.at[0], "note"), "warning too long"));
    record_list_release(&missed);
    fixture_now_ms += DAY_MS; /* answered right since: no longer to be looked at */
    assert_true(drill_keep(j, "Aldo", &(struct drill_answer){.part = "warning", .right = true}, &e));
    assert_true(drill_missed(j, "Aldo", 9, &missed, &e));
    assert_int_equal(missed.count, 0);
    fixture_no_sentence(&e);
    journal_close(j);
}

static const struct CMUnitTest tests[] = {
    ON_PLACES(a_call_finds_its_customer_and_clock_again),
    ON_PLACES(a_job_shows_all_that_hangs_on_it),
    ON_PLACES(a_refused_close_leaves_the_job_open_and_bare),
    ON_PLACES(lists_and_search_find_the_right_jobs),
    ON_PLACES(visits_come_by_day_with_their_kit),
    ON_PLACES(planned_visits_make_a_calendar),
    ON_PLACES(figures_are_those_counted_by_hand),
    ON_PLACES(closed_jobs_teach_and_can_be_taken_back),
    ON_PLACES(checks_of_callers_and_minutes_of_actions_are_counted),
    ON_PLACES(drills_come_back_later_the_better_they_go),
};

int main(void)
{
    setenv("TZ", "UTC", 1);
    int failed = both_run(tests, COUNT_OF(tests));
    both_end();
    return failed;
}
