#include "screen/window.h"

#include <SDL.h>
#include <cairo.h>
#include <math.h>
#include <string.h>

#include "draw/paint.h"
#include "mem.h"

#define TILE 48 /* pixels; small enough for a hand, large enough for few clips */

struct window {
    SDL_Window *window;
    double zoom;
    int width, height; /* pixels */
    cairo_surface_t *image;
    uint64_t *tile;
    int across, down;
    double x, y;       /* pointer, points */
    bool held;
    char editing[64];
};

static uint32_t wake_event;

static double display_zoom(void)
{
    float dpi = 96;
    if (SDL_GetDisplayDPI(0, NULL, &dpi, NULL) != 0 || dpi < 60 || dpi > 500)
        return 1;
    double z = floor(dpi / 96 * 4 + 0.5) / 4;
    return z < 1 ? 1 : z > 4 ? 4 : z;
}

static bool take_size(struct window *w)
{
    int width, height;
    SDL_GetWindowSize(w->window, &width, &height);
    if (w->image && width == w->width && height == w->height)
        return false;
    w->width = width;
    w->height = height;
    w->across = (width + TILE - 1) / TILE;
    w->down = (height + TILE - 1) / TILE;
    mem_free(w->tile);
    w->tile = mem_alloc((size_t)w->across * (size_t)w->down * sizeof *w->tile);
    if (w->image)
        cairo_surface_destroy(w->image);
    w->image = cairo_image_surface_create(CAIRO_FORMAT_RGB24, width, height);
    return true;
}

/* Where the system has a surface of its own, that is lighter and quicker to open than a 3D context;
 * elsewhere (Wayland) the surface is a texture, and SDL must be free to make one. */
static void prefer_plain_surface(void)
{
    static const char *const plain[] = {"x11", "dummy", "offscreen", "windows"};
    const char *driver = SDL_GetCurrentVideoDriver();
    for (size_t i = 0; driver && i < sizeof plain / sizeof *plain; i++)
        if (strcmp(driver, plain[i]) == 0)
            SDL_SetHint(SDL_HINT_FRAMEBUFFER_ACCELERATION, "0");
}

/* Without a display SDL may take a driver that shows nothing; unless it was asked for, that is none. */
static bool is_blind(void)
{
    const char *driver = SDL_GetCurrentVideoDriver();
    return !SDL_getenv("SDL_VIDEODRIVER") && driver && (strcmp(driver, "offscreen") == 0 || strcmp(driver, "dummy") == 0);
}

struct window *window_new(int width, int height, double zoom, struct err *e)
{
    SDL_SetHint(SDL_HINT_VIDEO_ALLOW_SCREENSAVER, "1");
    SDL_SetHint(SDL_HINT_VIDEO_X11_NET_WM_BYPASS_COMPOSITOR, "0");
    if (SDL_Init(SDL_INIT_VIDEO) != 0) {
        err_device(e, "No window can be opened: %s.", SDL_GetError());
        return NULL;
    }
    if (is_blind()) {
        err_device(e, "No window can be opened: there is no display; letoff --help lists the verbs that need none.");
        SDL_QuitSubSystem(SDL_INIT_VIDEO);
        return NULL;
    }
    prefer_plain_surface();
    struct window *w = mem_alloc(sizeof *w);
    w->window = SDL_CreateWindow("letoff", SDL_WINDOWPOS_UNDEFINED, SDL_WINDOWPOS_UNDEFINED, width,
                                 height, SDL_WINDOW_RESIZABLE);
    if (!w->window) {
        err_device(e, "No window can be opened: %s.", SDL_GetError());
        window_free(w);
        return NULL;
    }
    SDL_SetWindowMinimumSize(w->window, 900, 600);
    SDL_EventState(SDL_DROPFILE, SDL_ENABLE);
    SDL_StartTextInput();
    w->zoom = zoom > 0 ? zoom : display_zoom();
    wake_event = SDL_RegisterEvents(1);
    take_size(w);
    return w;
}

void window_free(struct window *w)
{
    if (!w)
        return;
    if (w->image)
        cairo_surface_destroy(w->image);
    if (w->window)
        SDL_DestroyWindow(w->window);
    mem_free(w->tile);
    mem_free(w);
    SDL_QuitSubSystem(SDL_INIT_VIDEO);
}

void window_size(const struct window *w, double *width, double *height)
{
    *width = w->width / w->zoom;
    *height = w->height / w->zoom;
}

double window_zoom(const struct window *w)
{
    return w->zoom;
}

void window_set_zoom(struct window *w, double zoom)
{
    w->zoom = zoom < 0.75 ? 0.75 : zoom > 4 ? 4 : zoom;
    memset(w->tile, 0, (size_t)w->across * (size_t)w->down * sizeof *w->tile);
}

void window_pixels(const struct window *w, int *width, int *height)
{
    *width = w->width;
    *height = w->height;
}

/* ---- input ---- */

static const struct { SDL_Keycode sdl; int code; } key_rows[] = {
    {SDLK_TAB, UI_TAB}, {SDLK_RETURN, UI_ENTER}, {SDLK_KP_ENTER, UI_ENTER},
    {SDLK_ESCAPE, UI_ESCAPE}, {SDLK_DELETE, UI_DELETE}, {SDLK_BACKSPACE, UI_BACKSPACE},
    {SDLK_LEFT, UI_LEFT}, {SDLK_RIGHT, UI_RIGHT}, {SDLK_UP, UI_UP}, {SDLK_DOWN, UI_DOWN},
    {SDLK_HOME, UI_HOME}, {SDLK_END, UI_END}, {SDLK_PAGEUP, UI_PAGE_UP},
    {SDLK_PAGEDOWN, UI_PAGE_DOWN}, {SDLK_F1, UI_F1}, {SDLK_F2, UI_F2}, {SDLK_F3, UI_F3},
    {SDLK_F4, UI_F4}, {SDLK_F5, UI_F5}, {SDLK_F6, UI_F6}, {SDLK_F7, UI_F7}, {SDLK_F8, UI_F8},
    {SDLK_F9, UI_F9}, {SDLK_F10, UI_F10}, {SDLK_F11, UI_F11}, {SDLK_F12, UI_F12},
    {SDLK_KP_0, '0'}, {SDLK_KP_1, '1'}, {SDLK_KP_2, '2'}, {SDLK_KP_3, '3'}, {SDLK_KP_4, '4'},
    {SDLK_KP_5, '5'}, {SDLK_KP_6, '6'}, {SDLK_KP_7, '7'}, {SDLK_KP_8, '8'}, {SDLK_KP_9, '9'},
    {SDLK_KP_MULTIPLY, '*'}, {SDLK_KP_PLUS, '+'}, {SDLK_KP_MINUS, '-'},
};

static int key_code(SDL_Keycode sdl)
{
    for (size_t i = 0; i < sizeof key_rows / sizeof *key_rows; i++)
        if (key_rows[i].sdl == sdl)
            return key_rows[i].code;
    return sdl >= 32 && sdl < 127 ? (int)sdl : 0;
}

static bool take_key(const SDL_KeyboardEvent *k, struct ui_input *in)
{
    int code = key_code(k->keysym.sym);
    if (!code || in->keys >= UI_KEYS)
        return false;
    unsigned mods = 0;
    mods |= k->keysym.mod & KMOD_SHIFT ? UI_SHIFT : 0;
    mods |= k->keysym.mod & KMOD_CTRL ? UI_CTRL : 0;
    mods |= k->keysym.mod & KMOD_ALT ? UI_ALT : 0;
    in->key[in->keys++] = (struct ui_key){code, mods, false};
    return true;
}

static void take_pointer(struct window *w, int x, int y, struct ui_input *in)
{
    w->x = in->x = x / w->zoom;
    w->y = in->y = y / w->zoom;
}

static enum window_news take_event(struct window *w, const SDL_Event *e, struct ui_input *in,
                                   char dropped[1024])
{
    switch (e->type) {
    case SDL_QUIT: return WINDOW_QUIT;
    case SDL_MOUSEMOTION: take_pointer(w, e->motion.x, e->motion.y, in); return WINDOW_INPUT;
    case SDL_MOUSEBUTTONDOWN:
    case SDL_MOUSEBUTTONUP:
        if (e->button.button != SDL_BUTTON_LEFT)
            return WINDOW_QUIET;
        take_pointer(w, e->button.x, e->button.y, in);
        w->held = e->type == SDL_MOUSEBUTTONDOWN;
        in->down = w->held;
        in->pressed = w->held;
        in->released = !w->held;
        return WINDOW_INPUT;
    case SDL_MOUSEWHEEL: in->wheel = e->wheel.y; return WINDOW_INPUT;
    case SDL_KEYDOWN: return take_key(&e->key, in) ? WINDOW_INPUT : WINDOW_QUIET;
    case SDL_TEXTINPUT:
        snprintf(in->typed, sizeof in->typed, "%s", e->text.text);
        w->editing[0] = in->editing[0] = 0;
        return WINDOW_INPUT;
    case SDL_TEXTEDITING:
        snprintf(w->editing, sizeof w->editing, "%s", e->edit.text);
        memcpy(in->editing, w->editing, sizeof in->editing);
        return WINDOW_INPUT;
    case SDL_DROPFILE:
        snprintf(dropped, 1024, "%s", e->drop.file);
        SDL_free(e->drop.file);
        return WINDOW_DROP;
    case SDL_WINDOWEVENT:
        if (e->window.event == SDL_WINDOWEVENT_EXPOSED || e->window.event == SDL_WINDOWEVENT_SIZE_CHANGED) {
            if (!take_size(w))
                memset(w->tile, 0, (size_t)w->across * (size_t)w->down * sizeof *w->tile);
            return WINDOW_SHOW;
        }
        if (e->window.event == SDL_WINDOWEVENT_LEAVE) {
            in->x = w->x = in->y = w->y = -1;
            return WINDOW_INPUT;
        }
        return WINDOW_QUIET;
    default: return e->type == wake_event ? WINDOW_WOKEN : WINDOW_QUIET;
    }
}

static void input_fresh(const struct window *w, struct ui_input *in)
{
    memset(in, 0, sizeof *in);
    in->x = w->x;
    in->y = w->y;
    in->down = w->held;
    memcpy(in->editing, w->editing, sizeof in->editing);
    in->now_s = window_now_s();
}

enum window_news window_next(struct window *w, double wait_s, struct ui_input *in,
                             char dropped[1024])
{
    SDL_Event e;
    input_fresh(w, in);
    bool got = wait_s < 0 ? SDL_WaitEvent(&e) : SDL_WaitEventTimeout(&e, (int)lrint(wait_s * 1000));
    if (!got)
        return WINDOW_QUIET;
    if (e.type == SDL_MOUSEMOTION)
        for (SDL_Event next; SDL_PeepEvents(&next, 1, SDL_PEEKEVENT, SDL_FIRSTEVENT, SDL_LASTEVENT) > 0 &&
                             next.type == SDL_MOUSEMOTION;)
            SDL_PollEvent(&e);
    in->now_s = window_now_s();
    return take_event(w, &e, in, dropped);
}

bool window_pending(void)
{
    return SDL_PollEvent(NULL) > 0;
}

void window_wake(void)
{
    SDL_Event e = {.type = wake_event};
    SDL_PushEvent(&e);
}

/* ---- output ---- */

/* Each mark is mixed into the numbers of all squares it may touch. */
static void mix_mark(const struct window *w, const struct canvas *c, const struct mark *m,
                     uint64_t *tile)
{
    double slack = m->kind == MARK_TEXT ? m->h * 0.4 + (m->angle_deg != 0 ? m->w * 0.5 : 0) : 2;
    double s = w->zoom / TILE;
    int x0 = (int)floor((m->x - slack) * s), x1 = (int)floor((m->x + m->w + slack) * s);
    int y0 = (int)floor((m->y - slack) * s), y1 = (int)floor((m->y + m->h + slack) * s);
    uint64_t key = canvas_mark_key(c, m);
    x0 = x0 < 0 ? 0 : x0;
    y0 = y0 < 0 ? 0 : y0;
    x1 = x1 >= w->across ? w->across - 1 : x1;
    y1 = y1 >= w->down ? w->down - 1 : y1;
    for (int y = y0; y <= y1; y++)
        for (int x = x0; x <= x1; x++) {
            uint64_t *t = &tile[y * w->across + x];
            *t = (*t ^ key) * 0x9E3779B97F4A7C15u + 1;
        }
}

static void tile_numbers(const struct window *w, const struct canvas *c, uint64_t *tile)
{
    size_t n = (size_t)w->across * (size_t)w->down;
    for (size_t i = 0; i < n; i++)
        tile[i] = 0x51ED270B7F4A7C15u + c->ink.contrast;
    for (size_t i = 0; i < c->marks; i++)
        if (c->mark[i].kind < MARK_CLIP)
            mix_mark(w, c, &c->mark[i], tile);
}

static void paint_squares(struct window *w, const struct canvas *c, const SDL_Rect *r, size_t n)
{
    double rgb[3];
    cairo_t *cr = cairo_create(w->image);
    for (size_t i = 0; i < n; i++)
        cairo_rectangle(cr, r[i].x, r[i].y, r[i].w, r[i].h);
    cairo_clip(cr);
    ink_rgb(&c->ink, TONE_PAPER, rgb);
    cairo_set_source_rgb(cr, rgb[0], rgb[1], rgb[2]);
    cairo_paint(cr);
    cairo_scale(cr, w->zoom, w->zoom);
    paint_canvas(c, cr);
    cairo_destroy(cr);
    cairo_surface_flush(w->image);
}

static void to_screen(struct window *w, SDL_Rect *r, size_t n)
{
    SDL_Surface *to = SDL_GetWindowSurface(w->window);
    SDL_Surface *from = SDL_CreateRGBSurfaceWithFormatFrom(
        cairo_image_surface_get_data(w->image), w->width, w->height, 32,
        cairo_image_surface_get_stride(w->image), SDL_PIXELFORMAT_RGB888);
    for (size_t i = 0; from && to && i < n; i++) {
        SDL_Rect at = r[i];
        SDL_BlitSurface(from, &r[i], to, &at);
    }
    SDL_FreeSurface(from);
    if (to)
        SDL_UpdateWindowSurfaceRects(w->window, r, (int)n);
}

/* Changed squares, neighbours in a row joined. */
static size_t changed_squares(struct window *w, const uint64_t *now, SDL_Rect *r)
{
    size_t n = 0;
    for (int y = 0; y < w->down; y++)
        for (int x = 0; x < w->across; x++) {
            int i = y * w->across + x, from = x;
            if (now[i] == w->tile[i])
                continue;
            while (x + 1 < w->across && now[y * w->across + x + 1] != w->tile[y * w->across + x + 1])
                x++;
            int right = (x + 1) * TILE > w->width ? w->width : (x + 1) * TILE;
            int low = (y + 1) * TILE > w->height ? w->height : (y + 1) * TILE;
            r[n++] = (SDL_Rect){from * TILE, y * TILE, right - from * TILE, low - y * TILE};
        }
    return n;
}

size_t window_show(struct window *w, const struct canvas *c)
{
    size_t all = (size_t)w->across * (size_t)w->down;
    uint64_t *now = mem_alloc(all * sizeof *now);
    SDL_Rect *r = mem_alloc(all * sizeof *r);
    tile_numbers(w, c, now);
    size_t n = changed_squares(w, now, r);
    if (n > 0) {
        paint_squares(w, c, r, n);
        to_screen(w, r, n);
    }
    memcpy(w->tile, now, all * sizeof *now);
    mem_free(r);
    mem_free(now);
    return n;
}

void window_text_at(struct window *w, double x, double y, double h)
{
    SDL_Rect r = {(int)(x * w->zoom), (int)(y * w->zoom), 2, (int)(h * w->zoom)};
    SDL_SetTextInputRect(&r);
}

char *window_paste(void *w)
{
    (void)w;
    char *sdl = SDL_GetClipboardText(), *text = NULL;
    size_t bad;
    if (sdl && sdl[0] && text_is_utf8(sdl, strlen(sdl), &bad))
        text = mem_copy_text(sdl);
    SDL_free(sdl);
    return text;
}

void window_copy(void *w, const char *text)
{
    (void)w;
    SDL_SetClipboardText(text);
}

double window_now_s(void)
{
    return (double)SDL_GetPerformanceCounter() / (double)SDL_GetPerformanceFrequency();
}
