/* The call in hand: cells, words, undo and redo, and a draft that outlives the program. */
#include "suite.h"

#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "screen/call.h"

static struct library *lib;
static struct words *words;
static struct call call;
static char draft[64];

static int group_setup(void **state)
{
    struct err e = {0};
    (void)state;
    lib = library_load("chimes", &e);
    words = words_load("chimes/words.yaml", &e);
    snprintf(draft, sizeof draft, "/tmp/letoff-draft-%d.yaml", (int)getpid());
    return lib && words ? 0 : -1;
}

static int group_teardown(void **state)
{
    (void)state;
    unlink(draft);
    words_free(words);
    library_free(lib);
    return 0;
}

static int setup(void **state)
{
    (void)state;
    unlink(draft);
    call_init(&call, words, draft);
    return 0;
}

static int teardown(void **state)
{
    (void)state;
    call_release(&call);
    return 0;
}

static void cells_take_counts_signs_and_notes(void **state)
{
    (void)state;
    static const struct {
        int min;
        const char *typed;
        bool strikes, chimes, good;
        const char *shown;
    } rows[] = {
        {180, "2", true, false, true, "2"},        {240, "12", true, false, true, "12"},
        {300, "0", true, false, true, "0"},        {360, "*", true, false, true, "*"},
        {420, "=", true, false, true, "\xe2\x9c\x93"}, {195, "3124", false, true, true, "3124"},
        {210, "2", false, true, true, "2 ph"},     {225, "0", false, true, true, "0"},
        {480, "x", true, false, false, ""},        {540, "99", true, false, false, ""},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        char shown[12] = "";
        assert_int_equal(call_set_cell(&call, rows[i].min, rows[i].typed, rows[i].strikes, rows[i].chimes),
                         rows[i].good);
        const struct heard *h = call_heard_at(&call, rows[i].min);
        assert_int_equal(h != NULL, rows[i].good);
        if (h)
            call_cell_text(h, shown);
        assert_string_equal(shown, rows[i].shown);
    }
}

static void typing_again_replaces_in_place_and_clearing_takes_away(void **state)
{
    (void)state;
    call_set_cell(&call, 60, "1", true, false);
    call_set_cell(&call, 120, "2", true, false);
    call_set_cell(&call, 60, "4", true, false);
    assert_int_equal(call.sheet.heards, 2);
    assert_int_equal(call.sheet.heard[0].at.min, 60);
    assert_int_equal(call.sheet.heard[0].value[0], 4);
    call_set_cell(&call, 60, "", true, false);
    assert_int_equal(call.sheet.heards, 1);
    assert_int_equal(call.sheet.heard[0].at.min, 120);
}

static void undo_and_redo_walk_through_all_changes(void **state)
{
    (void)state;
    call_set_cell(&call, 60, "1", true, false);
    call_toggle(&call, WORD_HISTORY, "moved_house");
    call_set_clock(&call, "longcase-rack");
    assert_true(call_undo(&call));
    assert_string_equal(call.sheet.clock, "");
    assert_true(call_has(&call, WORD_HISTORY, "moved_house"));
    assert_true(call_undo(&call));
    assert_false(call_has(&call, WORD_HISTORY, "moved_house"));
    assert_true(call_undo(&call));
    assert_true(sheet_empty(&call.sheet));
    assert_false(call_undo(&call));
    while (call_redo(&call))
        ;
    assert_string_equal(call.sheet.clock, "longcase-rack");
    assert_non_null(call_heard_at(&call, 60));
}

static void a_clock_alone_can_be_come_back_to(void **state)
{
    (void)state;
    call_set_clock(&call, "longcase-rack");
    call_set_hint(&call, "power", "weight");
    call_set_cell(&call, 60, "1", true, false);
    assert_true(call_undo(&call));
    assert_null(call_heard_at(&call, 60));
    assert_string_equal(call.sheet.clock, "longcase-rack");
    assert_null(call.sheet.story);
    assert_true(call_undo(&call));
    assert_null(sheet_hint(&call.sheet, "power"));
    assert_string_equal(call.sheet.clock, "longcase-rack");
    assert_true(call_undo(&call));
    assert_string_equal(call.sheet.clock, "");
}

static void a_new_call_can_be_undone(void **state)
{
    (void)state;
    call_set_cell(&call, 60, "1", true, false);
    call_clear(&call);
    assert_true(sheet_empty(&call.sheet));
    assert_true(call_undo(&call));
    assert_non_null(call_heard_at(&call, 60));
}

static void a_word_puts_out_those_it_clashes_with(void **state)
{
    (void)state;
    call_toggle(&call, WORD_SEEN, "beat_even");
    call_toggle(&call, WORD_SEEN, "beat_uneven");
    assert_true(call_has(&call, WORD_SEEN, "beat_uneven"));
    const struct word *a = words_find(words, WORD_SEEN, "beat_even");
    const struct word *b = words_find(words, WORD_SEEN, "beat_uneven");
    assert_int_equal(call_has(&call, WORD_SEEN, "beat_even"), !words_clash(a, b));
    call_toggle(&call, WORD_WHEN, "sudden");
    call_toggle(&call, WORD_WHEN, "gradual");
    assert_false(call_has(&call, WORD_WHEN, "sudden"));
    call_toggle(&call, WORD_WHEN, "gradual");
    assert_int_equal(call.sheet.since_when, -1);
}

static void hints_narrow_the_kinds_of_clock(void **state)
{
    (void)state;
    size_t all, some;
    call_clock(&call, lib, &all);
    call_set_hint(&call, "winding_points", "3");
    const struct clock *k = call_clock(&call, lib, &some);
    assert_true(some > 0 && some < all);
    assert_int_equal(k->winding_points, 3);
    call_set_hint(&call, "winding_points", "3"); /* again: unsaid */
    call_clock(&call, lib, &some);
    assert_int_equal(some, all);
}

/* What a killed program leaves behind is taken up by the next one. */
static void the_draft_on_disk_holds_everything_at_every_moment(void **state)
{
    (void)state;
    struct call next;
    call_set_cell(&call, 180, "4", true, false);
    text_add(&call.entry, "half past t");
    call_draft_save(&call);
    call_init(&next, words, draft);
    assert_true(call_draft_load(&next));
    assert_true(sheet_same(&next.sheet, &call.sheet));
    assert_string_equal(text_cstr(&next.entry), "half past t");
    call_release(&next);
}

static void a_spoilt_draft_is_left_alone(void **state)
{
    (void)state;
    struct err e = {0};
    text_write_file(draft, "# entry: \n{{{", 13, &e);
    assert_false(call_draft_load(&call));
    assert_true(sheet_empty(&call.sheet));
    err_release(&e);
}

static void a_bad_sheet_changes_nothing(void **state)
{
    (void)state;
    struct err e = {0};
    call_set_cell(&call, 180, "4", true, false);
    assert_false(call_read(&call, "t", "heard: [{at: \"3:00\", strik: 2}]", &e));
    assert_true(e.count > 0);
    assert_non_null(call_heard_at(&call, 180));
    err_release(&e);
}

int main(void)
{
#define T(test) cmocka_unit_test_setup_teardown(test, setup, teardown)
    const struct CMUnitTest tests[] = {
        T(cells_take_counts_signs_and_notes), T(typing_again_replaces_in_place_and_clearing_takes_away),
        T(undo_and_redo_walk_through_all_changes), T(a_clock_alone_can_be_come_back_to), T(a_new_call_can_be_undone),
        T(a_word_puts_out_those_it_clashes_with), T(hints_narrow_the_kinds_of_clock),
        T(the_draft_on_disk_holds_everything_at_every_moment), T(a_spoilt_draft_is_left_alone),
        T(a_bad_sheet_changes_nothing),
    };
    return cmocka_run_group_tests(tests, group_setup, group_teardown);
}
