/* Widgets: a press needs press and release in place, Tab walks them, fields take text. */
#include "suite.h"

#include <stdio.h>
#include <string.h>

#include "draw/type_case.h"
#include "mem.h"
#include "screen/ui.h"

struct stage {
    struct type_case *types;
    struct canvas c;
    struct ui ui;
    struct text text;
    int pressed[3], entered;
    char *clip;
};
static struct stage s;

static char *paste(void *with)
{
    (void)with;
    return mem_copy_text(s.clip);
}

static void copy(void *with, const char *text)
{
    (void)with;
    mem_free(s.clip);
    s.clip = mem_copy_text(text);
}

static int setup(void **state)
{
    struct ink ink = {0};
    (void)state;
    memset(&s, 0, sizeof s);
    s.types = type_case_new(NULL);
    canvas_init(&s.c, s.types, &ink, 600, 400);
    s.ui.paste = paste;
    s.ui.copy = copy;
    return 0;
}

static int teardown(void **state)
{
    (void)state;
    canvas_release(&s.c);
    type_case_free(s.types);
    text_release(&s.text);
    mem_free(s.clip);
    return 0;
}

/* Three buttons and a field. */
static void describe(struct ui_input *in)
{
    canvas_clear(&s.c);
    ui_begin(&s.ui, &s.c, in);
    for (int i = 0; i < 3; i++) {
        char name[8] = {'b', (char)('0' + i), 0};
        s.pressed[i] += ui_button(&s.ui, name, 10, 10 + 50 * i, 100, 30, name, i == 2 ? UI_OFF : 0);
    }
    s.entered += ui_field(&s.ui, "field", 200, 10, 200, &s.text, "hint");
    ui_end(&s.ui);
}

static void point(double x, double y, bool down, bool pressed, bool released)
{
    struct ui_input in = {.x = x, .y = y, .down = down, .pressed = pressed, .released = released};
    describe(&in);
}

static void click(double x, double y)
{
    point(x, y, false, false, false);
    point(x, y, true, true, false);
    point(x, y, false, false, true);
}

static void key(int code, unsigned mods)
{
    struct ui_input in = {.x = -1, .y = -1, .keys = 1};
    in.key[0] = (struct ui_key){code, mods, false};
    describe(&in);
}

static void type(const char *text)
{
    struct ui_input in = {.x = -1, .y = -1};
    snprintf(in.typed, sizeof in.typed, "%s", text);
    describe(&in);
}

static void a_click_presses_and_a_drag_away_does_not(void **state)
{
    (void)state;
    click(50, 20);
    assert_int_equal(s.pressed[0], 1);
    point(50, 20, true, true, false);
    point(50, 200, true, false, false);
    point(50, 200, false, false, true);
    assert_int_equal(s.pressed[0], 1);
    assert_int_equal(s.pressed[1], 0);
}

static void a_button_that_is_off_cannot_be_used(void **state)
{
    (void)state;
    click(50, 120);
    assert_int_equal(s.pressed[2], 0);
}

static void tab_walks_and_enter_presses(void **state)
{
    (void)state;
    key(UI_TAB, 0);
    assert_true(ui_has_focus(&s.ui, "b0"));
    key(UI_TAB, 0);
    assert_true(ui_has_focus(&s.ui, "b1"));
    key(UI_ENTER, 0);
    assert_int_equal(s.pressed[1], 1);
    key(UI_TAB, 0); /* b2 is off: the field comes next */
    assert_true(ui_has_focus(&s.ui, "field"));
    key(UI_TAB, UI_SHIFT);
    assert_true(ui_has_focus(&s.ui, "b1"));
}

static void focus_by_keyboard_is_seen_and_has_no_accent(void **state)
{
    (void)state;
    key(UI_TAB, 0);
    size_t before = s.c.marks;
    point(-1, -1, false, false, false);
    assert_true(s.c.marks > 0 && before > 0);
    size_t heavy = 0;
    for (size_t i = 0; i < s.c.marks; i++)
        heavy += s.c.mark[i].kind == MARK_STROKE && s.c.mark[i].width >= 1.9f && s.c.mark[i].tone == TONE_INK;
    assert_true(heavy >= 1);
    assert_int_equal(canvas_count_tone(&s.c, TONE_ACCENT), 0);
}

static void a_field_takes_utf8_moves_by_characters_and_erases_them_whole(void **state)
{
    (void)state;
    click(220, 20);
    type("Gr\xc3\xbc\xc3\x9f");
    key(UI_LEFT, 0);
    key(UI_BACKSPACE, 0);
    assert_string_equal(text_cstr(&s.text), "Gr\xc3\x9f");
    type("\xc3\xa4");
    assert_string_equal(text_cstr(&s.text), "Gr\xc3\xa4\xc3\x9f");
    key(UI_HOME, 0);
    key(UI_DELETE, 0);
    assert_string_equal(text_cstr(&s.text), "r\xc3\xa4\xc3\x9f");
    key(UI_ENTER, 0);
    assert_int_equal(s.entered, 1);
}

static void selecting_copying_and_pasting_work(void **state)
{
    (void)state;
    click(220, 20);
    type("strikes four");
    key('a', UI_CTRL);
    key('x', UI_CTRL);
    assert_string_equal(s.clip, "strikes four");
    assert_string_equal(text_cstr(&s.text), "");
    mem_free(s.clip);
    s.clip = mem_copy_text("one\ntwo");
    key('v', UI_CTRL);
    key('v', UI_CTRL);
    assert_string_equal(text_cstr(&s.text), "one twoone two");
}

static void a_long_text_message_is_pasted_whole(void **state)
{
    (void)state;
    char long_text[5000];
    for (size_t i = 0; i + 2 < sizeof long_text; i += 2)
        memcpy(long_text + i, "\xc3\xa9", 2);
    long_text[4998] = 0;
    click(220, 20);
    s.clip = mem_copy_text(long_text);
    key('v', UI_CTRL);
    assert_string_equal(text_cstr(&s.text), long_text);
}

static void a_field_takes_so_many_bytes_and_not_half_a_character_more(void **state)
{
    char text[UI_FIELD_MOST + 200];
    (void)state;
    memset(text, 'x', sizeof text);
    text[UI_FIELD_MOST - 3] = 0;
    click(220, 20);
    s.clip = mem_copy_text(text);
    key('v', UI_CTRL);
    type("\xc3\xa9");
    assert_int_equal(s.text.length, UI_FIELD_MOST - 1);
    type("\xc3\xa9"); /* of two bytes, and there is room for one */
    assert_int_equal(s.text.length, UI_FIELD_MOST - 1);
    type("y");
    assert_int_equal(s.text.length, UI_FIELD_MOST);
    type("z");
    key('v', UI_CTRL);
    assert_int_equal(s.text.length, UI_FIELD_MOST);
    assert_true(text_cstr(&s.text)[UI_FIELD_MOST - 1] == 'y');
    key(UI_BACKSPACE, 0);
    type("z");
    assert_true(text_cstr(&s.text)[UI_FIELD_MOST - 1] == 'z');
    key('a', UI_CTRL); /* what is chosen makes room */
    type("new");
    assert_string_equal(text_cstr(&s.text), "new");
}

static void letters_belong_to_a_field_that_has_the_focus(void **state)
{
    (void)state;
    click(220, 20);
    struct ui_input in = {.keys = 1};
    in.key[0] = (struct ui_key){'y', 0, false};
    canvas_clear(&s.c);
    ui_begin(&s.ui, &s.c, &in);
    bool taken = ui_letter(&s.ui, 'y');
    ui_field(&s.ui, "field", 200, 10, 200, &s.text, "hint");
    ui_end(&s.ui);
    assert_false(taken);
}

int main(void)
{
#define T(test) cmocka_unit_test_setup_teardown(test, setup, teardown)
    const struct CMUnitTest tests[] = {
        T(a_click_presses_and_a_drag_away_does_not), T(a_button_that_is_off_cannot_be_used),
        T(tab_walks_and_enter_presses), T(focus_by_keyboard_is_seen_and_has_no_accent),
        T(a_field_takes_utf8_moves_by_characters_and_erases_them_whole),
        T(selecting_copying_and_pasting_work), T(a_long_text_message_is_pasted_whole),
        T(a_field_takes_so_many_bytes_and_not_half_a_character_more),
        T(letters_belong_to_a_field_that_has_the_focus),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
