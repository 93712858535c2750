/* The listening page: a recording dropped on the window is heard, named and taken into the call; one
 * that is none is one sentence. */
#include "suite.h"

#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "command/setup.h"
#include "pcm.h"
#include "opened_app.h"
#include "screen/script.h"
#include "sound/score.h"

static char wav[64];

/* Four o'clock of this clock, as it would be recorded; `change` may be NULL. */
static bool record_four(const char *id, const struct change *change)
{
    struct err e = {0};
    const struct clock *k = library_find_clock(app->lib, id);
    struct works w;
    struct moment m;
    struct random r;
    struct chance chance;
    struct event_list list = {0};
    struct score_sounder sounder[CLOCK_SOUNDERS];
    struct score_style style = {.lead_s = 0.5};
    struct pcm sound = {0};
    random_init(&r, 3);
    chance_draw(&chance, &r);
    works_init(&w, k, change, change ? 1 : 0);
    moment_init(&m, &w, 239);
    movement_turn(&w, &m, 2, BY_TIME, &chance, &list);
    double first_s = -1; /* the blows alone */
    size_t kept = 0;
    for (size_t i = 0; i < list.count; i++)
        if (event_sounds(&list.at[i])) {
            first_s = first_s < 0 ? list.at[i].t_s : first_s;
            list.at[kept] = list.at[i];
            list.at[kept++].t_s -= first_s;
        }
    list.count = kept;
    bool good = score_render(&list, sounder, setup_sounders(k, sounder), &app->voices, &style, &sound, &e) &&
                pcm_write_wav(&sound, wav, &e);
    err_print(&e, stderr);
    pcm_release(&sound);
    event_list_release(&list);
    return good;
}

static int setup(void **state)
{
    (void)state;
    setenv("XDG_DATA_HOME", "/tmp/letoff-listen-has-no-journal", 1);
    snprintf(wav, sizeof wav, "/tmp/letoff-listen-%d.wav", (int)getpid());
    return app_opened();
}

static int teardown(void **state)
{
    (void)state;
    unlink(wav);
    app_closed();
    return 0;
}

static void run(const char *script)
{
    struct err e = {0};
    if (!script_run(app, script, NULL, &e))
        fail_msg("%s", e.line[0]);
}

static void a_dropped_recording_is_heard_named_and_taken_into_the_call(void **state)
{
    (void)state;
    char script[120];
    call_set_clock(&app->call, "longcase-rack");
    assert_true(record_four("longcase-rack", NULL));
    snprintf(script, sizeof script, "drop %s", wav);
    run(script);
    assert_int_equal(app->page, PAGE_LISTEN);
    size_t images = 0;
    for (size_t i = 0; i < app->canvas.marks; i++)
        images += app->canvas.mark[i].kind == MARK_IMAGE;
    assert_int_equal(images, 1);
    assert_non_null(canvas_find_text(&app->canvas, "struck 4"));
    assert_non_null(canvas_find_text(&app->canvas, "4:00"));
    run("click take-1");
    const struct heard *h = call_heard_at(&app->call, 240);
    if (!h)
        fail_msg("not taken: %s", app->notice);
    assert_int_equal(h->strike, HEARD_STRIKE_COUNT);
    assert_int_equal(h->value[0], 4);
    run("key ctrl+z");
    assert_null(call_heard_at(&app->call, 240));
}

/* All that was heard goes into the call, in its own words, and the page says what it comes to: which causes, and
 * which of them sound alike. */
static void what_was_heard_is_taken_whole_and_told_for_what_it_is(void **state)
{
    (void)state;
    struct change thud = {PAR_hammer_thud, 0};
    char script[120];
    call_set_clock(&app->call, "longcase-rack");
    thud.value = library_find_clock(app->lib, "longcase-rack")->train[TRAIN_STRIKE].pattern[0].stroke[0].sounder;
    assert_true(record_four("longcase-rack", &thud));
    snprintf(script, sizeof script, "drop %s; click take-1; wait 3", wav);
    run(script);
    const struct heard *h = call_heard_at(&app->call, 240);
    if (!h)
        fail_msg("not taken: %s", app->notice);
    assert_true(word_set_has(&h->how, words_ordinal(app->words, WORD_HOW, "thud")));
    assert_int_equal(h->intervals, 3);
    assert_non_null(canvas_find_text(&app->canvas, "LIKELY CAUSES OF WHAT IS IN THE CALL"));
    assert_non_null(canvas_find_text(&app->canvas, "Hammer rests on its sounder"));
    assert_non_null(canvas_find_text(&app->canvas, "sound alike"));
    run("key f1");
    assert_non_null(canvas_find_text(&app->canvas, "sound alike"));
    run("key ctrl+z");
}

static void what_is_no_recording_is_one_sentence(void **state)
{
    (void)state;
    size_t rows = app->call.sheet.heards;
    run("drop README.md");
    assert_int_equal(app->page, PAGE_LISTEN);
    assert_null(canvas_find_name(&app->canvas, "take-1"));
    assert_non_null(canvas_find_text(&app->canvas, "README.md"));
    run("drop /nowhere/at/all.wav");
    assert_non_null(canvas_find_text(&app->canvas, "all.wav"));
    assert_int_equal(app->call.sheet.heards, rows);
}

static void a_dropped_call_sheet_goes_to_the_desk_and_a_bad_one_changes_nothing(void **state)
{
    (void)state;
    run("drop chimes/calls/demo-call.yaml");
    assert_int_equal(app->page, PAGE_DESK);
    assert_int_equal(app->call.sheet.heards, 8);
    run("drop chimes/longcase.yaml");
    assert_int_equal(app->call.sheet.heards, 8);
    assert_true(app->notice[0] != 0);
}

static void without_a_microphone_that_is_said(void **state)
{
    (void)state;
    run("key f3; click microphone");
    assert_non_null(canvas_find_text(&app->canvas, "no microphone"));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_dropped_recording_is_heard_named_and_taken_into_the_call),
        cmocka_unit_test(what_was_heard_is_taken_whole_and_told_for_what_it_is),
        cmocka_unit_test(what_is_no_recording_is_one_sentence),
        cmocka_unit_test(a_dropped_call_sheet_goes_to_the_desk_and_a_bad_one_changes_nothing),
        cmocka_unit_test(without_a_microphone_that_is_said),
    };
    return cmocka_run_group_tests(tests, setup, teardown);
}
