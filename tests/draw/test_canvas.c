/* What is put on a canvas can be read back, measured, and written as PNG, PDF and SVG. */
#include "suite.h"

#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "draw/canvas.h"
#include "draw/paint.h"
#include "draw/svg.h"
#include "draw/type_case.h"

struct desk {
    struct type_case *types;
    struct canvas c;
};

static int setup(void **state)
{
    static struct desk d;
    struct ink ink = {0};
    d.types = type_case_new(NULL);
    canvas_init(&d.c, d.types, &ink, 400, 300);
    *state = &d;
    return 0;
}

static int teardown(void **state)
{
    struct desk *d = *state;
    canvas_release(&d->c);
    type_case_free(d->types);
    return 0;
}

static void frames_shift_and_scale_what_is_drawn(void **state)
{
    struct canvas *c = &((struct desk *)*state)->c;
    canvas_push(c, 100, 50, 2);
    canvas_begin(c);
    canvas_rect(c, 10, 10, 20, 5, 0);
    canvas_fill(c, TONE_INK, 1);
    canvas_pop(c);
    assert_int_equal(c->marks, 1);
    assert_near(c->mark[0].x, 120, 1e-4);
    assert_near(c->mark[0].y, 70, 1e-4);
    assert_near(c->mark[0].w, 40, 1e-4);
    assert_near(c->mark[0].h, 10, 1e-4);
}

static void a_full_circle_fills_its_square(void **state)
{
    struct canvas *c = &((struct desk *)*state)->c;
    canvas_begin(c);
    canvas_arc(c, 200, 150, 40, 0, 360);
    canvas_stroke(c, TONE_INK, WEIGHT_HAIR);
    for (uint32_t i = c->mark[0].path; i < c->mark[0].path_end; i++) {
        double r = hypot(c->piece[i].x - 200, c->piece[i].y - 150);
        if (c->piece[i].op != PATH_CLOSE)
            assert_near(r, 40, 1e-3);
    }
}

static void an_empty_path_leaves_no_mark(void **state)
{
    struct canvas *c = &((struct desk *)*state)->c;
    canvas_begin(c);
    canvas_fill(c, TONE_INK, 1);
    canvas_stroke(c, TONE_INK, WEIGHT_LINE);
    assert_int_equal(c->marks, 0);
}

static void text_is_measured_as_it_is_placed(void **state)
{
    struct canvas *c = &((struct desk *)*state)->c;
    double w = canvas_text(c, 390, 10, TYPE_BODY, TONE_INK, ALIGN_RIGHT, "gathering pallet");
    const struct mark *m = canvas_find_text(c, "pallet");
    assert_non_null(m);
    assert_near(m->x + m->w, 390, 0.01);
    assert_near(w, canvas_text_width(c, TYPE_BODY, "gathering pallet"), 1e-6);
    double one = canvas_text_height(c, TYPE_BODY, 0, "one line of it");
    double many = canvas_paragraph(c, 0, 0, 60, TYPE_BODY, TONE_INK, ALIGN_LEFT,
                                   "a paragraph that has to break several times");
    assert_true(many > 2.5 * one);
}

static void names_mark_places_and_are_not_seen(void **state)
{
    struct canvas *c = &((struct desk *)*state)->c;
    canvas_name(c, 5, 6, 70, 8, "cell-3:00");
    const struct mark *m = canvas_find_name(c, "cell-3:00");
    assert_non_null(m);
    assert_near(m->w, 70, 1e-6);
    assert_null(canvas_find_name(c, "cell-3:15"));
    assert_null(canvas_find_text(c, "cell"));
}

static void marks_that_look_different_have_different_keys(void **state)
{
    struct canvas *c = &((struct desk *)*state)->c;
    canvas_text(c, 0, 0, TYPE_BODY, TONE_INK, ALIGN_LEFT, "3");
    canvas_text(c, 0, 0, TYPE_BODY, TONE_INK, ALIGN_LEFT, "8");
    canvas_text(c, 0, 0, TYPE_BODY, TONE_INK, ALIGN_LEFT, "3");
    assert_true(canvas_mark_key(c, &c->mark[0]) != canvas_mark_key(c, &c->mark[1]));
    assert_true(canvas_mark_key(c, &c->mark[0]) == canvas_mark_key(c, &c->mark[2]));
}

/* WCAG 2.1: 4.5 to 1 for text, 3 to 1 for lines that carry meaning. */
static void every_text_tone_can_be_read_on_every_ground(void **state)
{
    (void)state;
    static const enum tone text[] = {TONE_INK, TONE_SOFT, TONE_ACCENT};
    static const enum tone ground[] = {TONE_PAPER, TONE_CARD, TONE_WASH};
    for (int k = 0; k < CONTRASTS; k++) {
        struct ink ink = {(enum contrast)k, 1};
        for (size_t i = 0; i < COUNT_OF(text); i++)
            for (size_t g = 0; g < COUNT_OF(ground); g++)
                if (ink_ratio(&ink, text[i], ground[g]) < 4.2)
                    fail_msg("%s: tone %d on %d has only %.2f", ink_contrast_name(ink.contrast),
                             text[i], ground[g], ink_ratio(&ink, text[i], ground[g]));
        assert_true(ink_ratio(&ink, TONE_INK, TONE_SHADE) >= 4.5);
    }
}

/* Black on white is 21:1 by the definition of the ratio. */
static void the_contrast_ratio_is_that_of_the_definition(void **state)
{
    (void)state;
    struct ink strong = {CONTRAST_STRONG, 1};
    assert_near(ink_ratio(&strong, TONE_INK, TONE_PAPER), 21, 1e-9);
    assert_near(ink_ratio(&strong, TONE_INK, TONE_INK), 1, 1e-9);
}

static void draw_some(struct canvas *c)
{
    const uint8_t grey[4] = {0, 80, 160, 255};
    canvas_begin(c);
    canvas_rect(c, 20, 20, 100, 60, 8);
    canvas_clip(c);
    canvas_hatch(c, TONE_INK, WEIGHT_HAIR, 45, 3);
    canvas_unclip(c);
    canvas_text(c, 20, 100, TYPE_HEAD, TONE_INK, ALIGN_LEFT, "Rack & snail <1>");
    canvas_text_turned(c, 200, 200, TYPE_ROMAN, 22, TONE_INK, 30, "VII");
    canvas_image(c, 250, 20, 40, 40, grey, 2, 2);
}

static void svg_keeps_text_as_text_and_escapes_it(void **state)
{
    struct canvas *c = &((struct desk *)*state)->c;
    struct text out = {0};
    draw_some(c);
    svg_write(c, "A & B", &out);
    assert_non_null(strstr(text_cstr(&out), "Rack &amp; snail &lt;1&gt;"));
    assert_non_null(strstr(text_cstr(&out), "<title>A &amp; B</title>"));
    assert_non_null(strstr(text_cstr(&out), "data:image/png;base64,"));
    size_t opened = 0, closed = 0;
    for (const char *p = text_cstr(&out); (p = strstr(p, "<g ")) != NULL; p++)
        opened++;
    for (const char *p = text_cstr(&out); (p = strstr(p, "</g>")) != NULL; p++)
        closed++;
    assert_int_equal(opened, closed);
    text_release(&out);
}

static bool begins_with(const char *path, const char *magic, size_t n)
{
    char head[16] = {0};
    FILE *f = fopen(path, "rb");
    assert_non_null(f);
    size_t got = fread(head, 1, n, f);
    fclose(f);
    unlink(path);
    return got == n && memcmp(head, magic, n) == 0;
}

static void png_and_pdf_are_written_whole(void **state)
{
    struct canvas *c = &((struct desk *)*state)->c;
    const struct canvas *pages[1] = {c};
    struct err e = {0};
    char png[64], pdf[64];
    snprintf(png, sizeof png, "/tmp/letoff-canvas-%d.png", (int)getpid());
    snprintf(pdf, sizeof pdf, "/tmp/letoff-canvas-%d.pdf", (int)getpid());
    draw_some(c);
    assert_true(paint_png(c, 1, png, &e));
    assert_true(paint_pdf(pages, 1, "test", pdf, &e));
    assert_int_equal(e.count, 0);
    assert_true(begins_with(png, "\x89PNG", 4));
    assert_true(begins_with(pdf, "%PDF", 4));
}

static void a_folder_that_is_not_there_is_a_device_error(void **state)
{
    struct canvas *c = &((struct desk *)*state)->c;
    struct err e = {0};
    assert_false(paint_png(c, 1, "/nowhere-at-all/x.png", &e));
    assert_int_equal(err_status(&e), EXIT_DEVICE);
    err_release(&e);
}

int main(void)
{
#define T(test) cmocka_unit_test_setup_teardown(test, setup, teardown)
    const struct CMUnitTest tests[] = {
        T(frames_shift_and_scale_what_is_drawn), T(a_full_circle_fills_its_square),
        T(an_empty_path_leaves_no_mark), T(text_is_measured_as_it_is_placed),
        T(names_mark_places_and_are_not_seen), T(marks_that_look_different_have_different_keys),
        T(every_text_tone_can_be_read_on_every_ground),
        T(the_contrast_ratio_is_that_of_the_definition), T(svg_keeps_text_as_text_and_escapes_it),
        T(png_and_pdf_are_written_whole), T(a_folder_that_is_not_there_is_a_device_error),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
