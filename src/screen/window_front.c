/* window_front.c - the functions of window.h as the program sees them; the annex is loaded with the window. */
#include "screen/window_annex.h"

#include <assert.h>
#include <stdatomic.h>
#include "annex.h"

static struct annex window = {"window"};

static const struct window_annex *annex(void)
{
    const struct window_annex *a = annex_open(&window, NULL);
    assert(a);
    return a;
}

struct window *window_new(int width, int height, double zoom, struct err *e)
{
    const struct window_annex *a = annex_open(&window, e);
    return a ? a->open(width, height, zoom, e) : NULL;
}

void window_free(struct window *w)
{
    if (w)
        annex()->close(w);
}

void window_size(const struct window *w, double *width, double *height)
{
    annex()->size(w, width, height);
}

double window_zoom(const struct window *w)
{
    return annex()->zoom(w);
}

void window_set_zoom(struct window *w, double zoom)
{
    annex()->set_zoom(w, zoom);
}

void window_pixels(const struct window *w, int *width, int *height)
{
    annex()->pixels(w, width, height);
}

enum window_news window_next(struct window *w, double wait_s, struct ui_input *in, char dropped[1024])
{
    return annex()->next(w, wait_s, in, dropped);
}

bool window_pending(void)
{
    return annex()->pending();
}

/* Another thread may have something to tell before there is a window, and then nobody sleeps. */
void window_wake(void)
{
    const struct window_annex *a = atomic_load(&window.offered);
    if (a)
        a->wake();
}

size_t window_show(struct window *w, const struct canvas *c)
{
    return annex()->show(w, c);
}

void window_text_at(struct window *w, double x, double y, double h)
{
    annex()->text_at(w, x, y, h);
}

char *window_paste(void *w)
{
    return annex()->paste(w);
}

void window_copy(void *w, const char *text)
{
    annex()->copy(w, text);
}

double window_now_s(void)
{
    return annex()->now_s();
}
