/* Every screen can be drawn without a display, at every size, text size and contrast, and what is
 * on it lies on it. */
#include "suite.h"

#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "draw/paint.h"
#include "draw/vignette.h"
#include "mem.h"
#include "screen/frame.h"
#include "screen/screen.h"

static struct app *app;

static int setup(void **state)
{
    struct err e = {0};
    (void)state;
    setenv("XDG_DATA_HOME", "/tmp/letoff-shots-has-no-journal", 1);
    app = mem_alloc(sizeof *app);
    bool good = app_init(app, true, false, NULL, &e);
    call_set_clock(&app->call, "floor-westminster-rack");
    call_set_cell(&app->call, 180, "2", true, true);
    call_set_cell(&app->call, 195, "3124", false, true);
    frame_tick(app, 0);
    return good ? 0 : -1;
}

static int teardown(void **state)
{
    (void)state;
    app_release(app);
    mem_free(app);
    return 0;
}

static void draw(double w, double h)
{
    struct ui_input in = {.x = -1, .y = -1};
    app->width = w;
    app->height = h;
    frame_settle(app, &in);
}

static void all_screens_draw_at_all_sizes(void **state)
{
    (void)state;
    static const double size[][2] = {{900, 600}, {1280, 800}, {1920, 1080}, {3840, 2160}};
    for (int page = 0; page < PAGES; page++) {
        if (frame_page_of(frame_page_name((enum page)page)) < 0)
            continue;
        app->page = (enum page)page;
        for (size_t i = 0; i < COUNT_OF(size); i++)
            for (int k = 0; k < CONTRASTS; k++) {
                app->set.contrast = k;
                app->set.text = k == CONTRAST_STRONG ? 1.4 : 1;
                draw(size[i][0], size[i][1]);
                assert_true(app->canvas.marks > 20);
            }
    }
    app->set.contrast = CONTRAST_PLAIN;
    app->set.text = 1;
}

/* Texts of the frame and the fixed parts do not leave the window, and no two buttons overlap. */
static void nothing_named_leaves_the_window_or_covers_another(void **state)
{
    (void)state;
    app->page = PAGE_DESK;
    draw(1280, 800);
    const struct canvas *c = &app->canvas;
    for (size_t i = 0; i < c->marks; i++) {
        const struct mark *a = &c->mark[i];
        if (a->kind != MARK_NAME || strncmp(canvas_letters(c, a), "answer", 6) != 0)
            continue;
        assert_true(a->x >= 0 && a->x + a->w <= 1280.5f && a->y >= 0 && a->y + a->h <= 800.5f);
        for (size_t k = i + 1; k < c->marks; k++) {
            const struct mark *b = &c->mark[k];
            if (b->kind != MARK_NAME || strncmp(canvas_letters(c, b), "answer", 6) != 0)
                continue;
            bool apart = a->x + a->w <= b->x + 0.5f || b->x + b->w <= a->x + 0.5f || a->y + a->h <= b->y + 0.5f ||
                         b->y + b->h <= a->y + 0.5f;
            if (!apart)
                fail_msg("%s covers %s", canvas_letters(c, a), canvas_letters(c, b));
        }
    }
}

static void drawing_twice_gives_the_same_marks(void **state)
{
    (void)state;
    for (int page = 0; page <= PAGE_PLATE; page++) {
        app->page = (enum page)page;
        draw(1280, 800);
        size_t n = app->canvas.marks;
        uint64_t key = 0;
        for (size_t i = 0; i < n; i++)
            key = key * 31 + canvas_mark_key(&app->canvas, &app->canvas.mark[i]);
        draw(1280, 800);
        uint64_t again = 0;
        assert_int_equal(app->canvas.marks, n);
        for (size_t i = 0; i < n; i++)
            again = again * 31 + canvas_mark_key(&app->canvas, &app->canvas.mark[i]);
        assert_true(key == again);
    }
}

/* The accent means "heard differs from expected" or "suspect", so where nothing was told there is none. */
static void where_nothing_was_told_nothing_wears_the_accent(void **state)
{
    (void)state;
    call_clear(&app->call);
    frame_tick(app, app->now_s);
    for (int page = 0; page < PAGES; page++) {
        if (frame_page_of(frame_page_name((enum page)page)) < 0)
            continue;
        app->page = (enum page)page;
        draw(1280, 800);
        if (canvas_count_tone(&app->canvas, TONE_ACCENT) + canvas_count_tone(&app->canvas, TONE_WASH) > 0)
            fail_msg("%s wears the accent for nothing", frame_page_name((enum page)page));
    }
    call_undo(&app->call);
    frame_tick(app, app->now_s);
}

static void every_picture_of_the_vocabulary_is_drawn(void **state)
{
    (void)state;
    for (int kind = 0; kind < WORD_KINDS; kind++)
        for (size_t i = 0; i < words_count(app->words, (enum word_kind)kind); i++) {
            const struct word *w = words_at(app->words, (enum word_kind)kind, i);
            if (w->picture && !vignette_has(w->picture))
                fail_msg("%s: there is no picture \"%s\"", w->id, w->picture);
        }
    canvas_clear(&app->canvas);
    assert_true(vignette_draw(&app->canvas, "weights", 10, 20, 50));
    for (size_t i = 0; i < app->canvas.marks; i++) {
        const struct mark *m = &app->canvas.mark[i];
        assert_true(m->x > 5 && m->y > 15 && m->x + m->w < 65 && m->y + m->h < 75);
    }
    assert_false(vignette_draw(&app->canvas, "no such thing", 0, 0, 50));
    assert_false(vignette_draw(&app->canvas, NULL, 0, 0, 50));
}

static int shot(const char *path, const char *screen, const char *size)
{
    char *argv[] = {"letoff", "--shot", (char *)(size_t)path, "--screen", (char *)(size_t)screen, "--size",
                    (char *)(size_t)size, "--clock", "longcase-rack", NULL};
    return screen_main(9, argv);
}

static void shots_come_out_as_png_svg_and_pdf(void **state)
{
    (void)state;
    static const char *const ends[] = {"png", "svg", "pdf"};
    for (size_t i = 0; i < COUNT_OF(ends); i++) {
        char path[64];
        snprintf(path, sizeof path, "/tmp/letoff-shot-%d.%s", (int)getpid(), ends[i]);
        assert_int_equal(shot(path, "plate", "1000x700"), 0);
        assert_int_equal(access(path, R_OK), 0);
        unlink(path);
    }
}

static void wrong_wishes_are_refused_with_two(void **state)
{
    (void)state;
    assert_int_equal(shot("/tmp/letoff-never.png", "nowhere", "1000x700"), 2);
    assert_int_equal(shot("/tmp/letoff-never.png", "desk", "10x7"), 2);
    assert_int_equal(shot("/nowhere-at-all/x.png", "plate", "1000x700"), 3);
    assert_int_not_equal(access("/tmp/letoff-never.png", R_OK), 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(all_screens_draw_at_all_sizes),
        cmocka_unit_test(nothing_named_leaves_the_window_or_covers_another),
        cmocka_unit_test(drawing_twice_gives_the_same_marks),
        cmocka_unit_test(where_nothing_was_told_nothing_wears_the_accent),
        cmocka_unit_test(every_picture_of_the_vocabulary_is_drawn),
        cmocka_unit_test(shots_come_out_as_png_svg_and_pdf),
        cmocka_unit_test(wrong_wishes_are_refused_with_two),
    };
    return cmocka_run_group_tests(tests, setup, teardown);
}
