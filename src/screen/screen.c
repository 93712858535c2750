#include "screen/screen.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "command/options.h"
#include "draw/paint.h"
#include "draw/svg.h"
#include "mem.h"
#include "screen/frame.h"
#include "screen/script.h"
#include "screen/window.h"

struct wishes {
    const char *screen, *call, *shot, *size, *contrast, *script, *clock, *journal;
    double zoom, text;
    bool places, fresh, silent;
};

/* ---- drawing to a file ---- */

static bool size_of(const char *size, int *w, int *h, struct err *e)
{
    if (!size)
        return true;
    if (sscanf(size, "%dx%d", w, h) == 2 && *w >= 900 && *h >= 600 && *w <= 8192 && *h <= 8192)
        return true;
    err_add(e, "--size %s: expected WIDTHxHEIGHT from 900x600 to 8192x8192.", size);
    return false;
}

static bool contrast_of(const char *name, int *contrast, struct err *e)
{
    if (!name)
        return true;
    for (int i = 0; i < CONTRASTS; i++)
        if (strcmp(name, ink_contrast_name((enum contrast)i)) == 0) {
            *contrast = i;
            return true;
        }
    err_add(e, "--contrast %s: expected plain, strong or night.", name);
    return false;
}

static bool apply(struct app *a, const struct wishes *w, struct err *e)
{
    if (w->screen && frame_page_of(w->screen) < 0)
        err_add(e, "--screen %s: there is no such screen.", w->screen);
    else if (w->screen)
        a->page = (enum page)frame_page_of(w->screen);
    contrast_of(w->contrast, &a->set.contrast, e);
    if (w->journal) {
        a->journal_place = w->journal;
        advisor_journal(a->advisor, w->journal);
    }
    if (w->text > 0)
        a->set.text = w->text;
    if (w->clock && !library_find_clock(a->lib, w->clock))
        err_add(e, "--clock %s: there is no such clock.", w->clock);
    if (w->call && e->count == 0)
        call_load(&a->call, w->call, e);
    if (w->clock && e->count == 0)
        call_set_clock(&a->call, w->clock);
    return e->count == 0;
}

static void print_places(const struct canvas *c)
{
    for (size_t i = 0; i < c->marks; i++)
        if (c->mark[i].kind == MARK_NAME)
            printf("%s\t%.0f\t%.0f\t%.0f\t%.0f\n", canvas_letters(c, &c->mark[i]), (double)c->mark[i].x,
                   (double)c->mark[i].y, (double)c->mark[i].w, (double)c->mark[i].h);
        else if (c->mark[i].kind == MARK_TEXT)
            printf("\"%s\"\t%.0f\t%.0f\t%.0f\t%.0f\n", canvas_letters(c, &c->mark[i]), (double)c->mark[i].x,
                   (double)c->mark[i].y, (double)c->mark[i].w, (double)c->mark[i].h);
}

static bool write_picture(const struct canvas *c, double zoom, const char *path, struct err *e)
{
    const char *dot = strrchr(path, '.');
    const struct canvas *page[1] = {c};
    if (dot && strcmp(dot, ".svg") == 0)
        return svg_file(c, "letoff", path, e);
    if (dot && strcmp(dot, ".pdf") == 0)
        return paint_pdf(page, 1, "letoff", path, e);
    return paint_png(c, zoom, path, e);
}

static int shot(struct app *a, const struct wishes *w, int width, int height, struct err *e)
{
    double zoom = w->zoom > 0 ? w->zoom : 1;
    struct ui_input in = {.x = -1, .y = -1};
    size_t uses = 0;
    a->width = width / zoom;
    a->height = height / zoom;
    if (!apply(a, w, e))
        return err_status(e);
    frame_tick(a, 0);
    if (w->script && !script_run(a, w->script, &uses, e))
        return err_status(e);
    in.now_s = a->now_s;
    frame_settle(a, &in);
    if (w->places)
        print_places(&a->canvas);
    if (w->shot && strcmp(w->shot, "-") != 0)
        write_picture(&a->canvas, zoom, w->shot, e);
    if (w->script)
        fprintf(stderr, "uses: %zu\n", uses);
    return err_status(e);
}

/* ---- the window ---- */

static void change_zoom(struct app *a, struct window *w)
{
    window_set_zoom(w, window_zoom(w) + 0.25 * a->zoom_by);
    a->zoom_by = 0;
    a->set.zoom = window_zoom(w);
    app_notice(a, "Size %.0f %%.", 100 * a->set.zoom);
    settings_save(&a->set);
}

static void show_now(struct app *a, struct window *w)
{
    struct ui_input still = {.x = -1, .y = -1};
    window_size(w, &a->width, &a->height);
    still.now_s = window_now_s();
    still.x = a->ui.in_x;
    still.y = a->ui.in_y;
    still.down = a->ui.in_down;
    frame_settle(a, &still);
    window_show(w, &a->canvas);
    if (a->ui.field_focused)
        window_text_at(w, a->ui.text_x, a->ui.text_y, a->ui.text_h);
}

/* How long to sleep: for ever at rest, a frame while something moves. */
static double sleep_s(struct app *a, bool moving)
{
    if (moving || a->show.playing)
        return 0.016;
    return show_rest(&a->show, window_now_s()) ? 1 : -1;
}

static void take_input(struct app *a, struct window *w, struct ui_input *in)
{
    window_size(w, &a->width, &a->height);
    a->ui.in_x = in->x;
    a->ui.in_y = in->y;
    a->ui.in_down = in->down;
    frame_pass(a, in);
    if (a->zoom_by != 0)
        change_zoom(a, w);
}

static void loop(struct app *a, struct window *w)
{
    bool moving = frame_tick(a, window_now_s());
    show_now(a, w);
    while (!a->quit) {
        struct ui_input in;
        char dropped[1024] = "";
        enum window_news news = window_next(w, sleep_s(a, moving), &in, dropped);
        bool again = news != WINDOW_QUIET;
        if (news == WINDOW_QUIT)
            break;
        if (news == WINDOW_DROP)
            frame_drop(a, dropped);
        if (news == WINDOW_INPUT)
            take_input(a, w, &in);
        moving = frame_tick(a, window_now_s());
        if ((again || moving) && !(window_pending() && news == WINDOW_INPUT))
            show_now(a, w);
    }
}

static int run_window(struct app *a, const struct wishes *w, struct err *e)
{
    int width = a->set.width, height = a->set.height;
    if (!size_of(w->size, &width, &height, e) || !apply(a, w, e))
        return err_status(e);
    struct window *win = window_new(width, height, w->zoom > 0 ? w->zoom : a->set.zoom, e);
    if (!win)
        return err_status(e);
    a->ui.paste = window_paste;
    a->ui.copy = window_copy;
    a->ui.clip_with = win;
    loop(a, win);
    window_pixels(win, &a->set.width, &a->set.height);
    if (!w->fresh)
        settings_save(&a->set);
    call_draft_save(&a->call);
    window_free(win);
    return EXIT_DONE;
}

int screen_main(int argc, char **argv)
{
    struct wishes w = {0};
    struct err e = {0};
    const struct option rows[] = {
        {"--screen", OPTION_TEXT, &w.screen, "NAME", "screen to begin with: desk, plate ...", 0, 0},
        {"--call", OPTION_TEXT, &w.call, "SHEET", "call sheet to take up", 0, 0},
        {"--clock", OPTION_TEXT, &w.clock, "CLOCK", "clock to show", 0, 0},
        {"--journal", OPTION_TEXT, &w.journal, "PLACE", "a file or postgresql://..., for calls and jobs", 0, 0},
        {"--shot", OPTION_TEXT, &w.shot, "FILE", "draw to FILE (.png, .svg, .pdf) and end; - draws nothing", 0, 0},
        {"--size", OPTION_TEXT, &w.size, "WxH", "pixels, from 900x600", 0, 0},
        {"--zoom", OPTION_REAL, &w.zoom, "Z", "pixels to a point", 0.5, 4},
        {"--text", OPTION_REAL, &w.text, "T", "text size, 1 as designed", 0.8, 2},
        {"--contrast", OPTION_TEXT, &w.contrast, "KIND", "plain, strong or night", 0, 0},
        {"--do", OPTION_TEXT, &w.script, "SCRIPT", "steps to do first, parted by ';'", 0, 0},
        {"--places", OPTION_FLAG, &w.places, NULL, "print the places and texts of the screen", 0, 0},
        {"--fresh", OPTION_FLAG, &w.fresh, NULL, "leave draft and settings alone", 0, 0},
    };
    const struct usage usage = {"letoff [options]", "Opens the window, or draws a screen to a file.", rows,
                                sizeof rows / sizeof *rows, 0, 0};
    size_t plains = 0;
    enum options_result got = options_read(&usage, argc, argv, NULL, &plains, &e);
    if (got == OPTIONS_HELP)
        return EXIT_DONE;
    int status = EXIT_BAD_INPUT, width = 1280, height = 800;
    bool headless = w.shot || w.places;
    struct app *a = mem_alloc(sizeof *a);
    if (got == OPTIONS_OK && size_of(w.size, &width, &height, &e) &&
        app_init(a, headless, !headless && !w.fresh, headless ? NULL : window_wake, &e))
        status = headless ? shot(a, &w, width, height, &e) : run_window(a, &w, &e);
    if (a->lib)
        app_release(a);
    mem_free(a);
    if (e.count > 0)
        status = err_status(&e);
    err_print(&e, stderr);
    err_release(&e);
    return status;
}
