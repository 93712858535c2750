/* bench_screen.c - what a frame costs: describing a screen, finding what changed, painting it.
 *
 * The first pass lays all text; later ones find it in the type case.  "Moving" is the plate while a
 * let-off plays, painted whole and painted only where it changed (squares of 48 pixels, as the
 * window does).
 */
#include <cairo.h>
#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "draw/paint.h"
#include "mem.h"
#include "screen/frame.h"

#define W 1280
#define H 800
#define TILE 48
#define ACROSS ((W + TILE - 1) / TILE)
#define DOWN ((H + TILE - 1) / TILE)

/* Time of this program alone, whatever else the machine does. */
static double spent_s(void)
{
    struct timespec t;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
    return (double)t.tv_sec + (double)t.tv_nsec * 1e-9;
}

static uint64_t before[ACROSS * DOWN];

static void describe(struct app *a)
{
    struct ui_input in = {.x = -1, .y = -1, .now_s = a->now_s};
    frame_pass(a, &in);
}

static void numbers(const struct canvas *c, uint64_t *tile)
{
    memset(tile, 0, sizeof before);
    for (size_t i = 0; i < c->marks; i++) {
        const struct mark *m = &c->mark[i];
        if (m->kind >= MARK_CLIP)
            continue;
        uint64_t key = canvas_mark_key(c, m);
        int x0 = (int)(m->x - 3) / TILE, x1 = (int)(m->x + m->w + 3) / TILE;
        int y0 = (int)(m->y - 3) / TILE, y1 = (int)(m->y + m->h + 3) / TILE;
        for (int y = y0 < 0 ? 0 : y0; y <= y1 && y < DOWN; y++)
            for (int x = x0 < 0 ? 0 : x0; x <= x1 && x < ACROSS; x++)
                tile[y * ACROSS + x] = (tile[y * ACROSS + x] ^ key) * 0x9E3779B97F4A7C15u + 1;
    }
}

static int paint(const struct canvas *c, cairo_surface_t *s, bool whole)
{
    uint64_t now[ACROSS * DOWN];
    int squares = 0;
    cairo_t *cr = cairo_create(s);
    numbers(c, now);
    for (int i = 0; i < ACROSS * DOWN; i++)
        if (whole || now[i] != before[i]) {
            cairo_rectangle(cr, i % ACROSS * TILE, i / ACROSS * TILE, TILE, TILE);
            squares++;
        }
    if (squares > 0) {
        cairo_clip(cr);
        cairo_set_source_rgb(cr, 0.9, 0.9, 0.9);
        cairo_paint(cr);
        paint_canvas(c, cr);
    }
    cairo_destroy(cr);
    memcpy(before, now, sizeof before);
    return squares;
}

static void bench_page(struct app *a, enum page page, cairo_surface_t *s)
{
    const int rounds = 20;
    a->page = page;
    double t0 = spent_s();
    describe(a);
    paint(&a->canvas, s, true);
    double first = spent_s() - t0;
    t0 = spent_s();
    for (int i = 0; i < rounds; i++)
        describe(a);
    double again = (spent_s() - t0) / rounds;
    t0 = spent_s();
    for (int i = 0; i < rounds; i++)
        paint(&a->canvas, s, true);
    printf("%-8s first %5.1f ms, described in %4.1f ms (%zu marks), painted whole in %4.1f ms\n",
           frame_page_name(page), 1e3 * first, 1e3 * again, a->canvas.marks, 1e3 * (spent_s() - t0) / rounds);
}

static void bench_moving(struct app *a, cairo_surface_t *s)
{
    double spent = 0, worst = 0;
    int frames = 0, squares = 0;
    a->page = PAGE_PLATE;
    show_next_letoff(&a->show, a->now_s = 100);
    while (show_tick(&a->show, a->now_s)) {
        double t0 = spent_s();
        describe(a);
        squares += paint(&a->canvas, s, frames == 0);
        double took = spent_s() - t0;
        spent += took;
        worst = took > worst && frames > 0 ? took : worst;
        frames++;
        a->now_s += 0.033;
    }
    printf("moving   %d frames, %4.1f ms each, %4.1f ms at worst, %d of %d squares\n", frames, 1e3 * spent / frames,
           1e3 * worst, squares / frames, ACROSS * DOWN);
}

int main(void)
{
    struct err e = {0};
    struct app *a = mem_alloc(sizeof *a);
    double t0 = spent_s();
    if (!app_init(a, true, false, NULL, &e)) {
        err_print(&e, stderr);
        return 1;
    }
    setenv("XDG_DATA_HOME", "/tmp/letoff-bench-has-no-journal", 1);
    a->width = W;
    a->height = H;
    call_set_clock(&a->call, "floor-westminster-rack");
    printf("data and voices loaded in %.0f ms\n", 1e3 * (spent_s() - t0));
    cairo_surface_t *s = cairo_image_surface_create(CAIRO_FORMAT_RGB24, W, H);
    for (int page = 0; page < PAGES; page++)
        if (frame_page_of(frame_page_name((enum page)page)) >= 0)
            bench_page(a, (enum page)page, s);
    bench_moving(a, s);
    cairo_surface_destroy(s);
    app_release(a);
    mem_free(a);
    return 0;
}
