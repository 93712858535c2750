/* window.h - the one window: SDL events in, a canvas out.
 *
 * Painting follows the canvas: the page is divided into squares, each gets a number made of the
 * marks that touch it, and only squares whose number changed are painted and shown.  At rest
 * nothing is painted and the program sleeps in the system.
 */
#ifndef LETOFF_SCREEN_WINDOW_H
#define LETOFF_SCREEN_WINDOW_H

#include <stdbool.h>
#include "draw/canvas.h"
#include "err.h"
#include "screen/ui.h"

struct window;

/* Sizes in pixels; zoom 0: after the display's resolution.  NULL with a sentence (device). */
struct window *window_new(int width, int height, double zoom, struct err *e);
void window_free(struct window *w);
/* Size in points of the page, and pixels a point. */
void window_size(const struct window *w, double *width, double *height);
double window_zoom(const struct window *w);
void window_set_zoom(struct window *w, double zoom);
void window_pixels(const struct window *w, int *width, int *height);

enum window_news {
    WINDOW_QUIET,  /* time is up, nothing happened */
    WINDOW_INPUT,  /* `in` holds something */
    WINDOW_SHOW,   /* uncovered or resized: describe and show again */
    WINDOW_DROP,   /* a file was dropped; its path in `dropped` */
    WINDOW_WOKEN,  /* window_wake was called from another thread */
    WINDOW_QUIT
};
/* Wait for one thing to happen, at most `wait_s` (< 0: for ever).  Motion is gathered; presses,
 * keys and typed text come one by one. */
enum window_news window_next(struct window *w, double wait_s, struct ui_input *in,
                             char dropped[1024]);
bool window_pending(void); /* more waits already */
void window_wake(void);    /* any thread */

/* Paint what changed against the canvas shown before; returns the squares painted. */
size_t window_show(struct window *w, const struct canvas *c);
/* Where text is being typed, for input methods; points. */
void window_text_at(struct window *w, double x, double y, double h);
char *window_paste(void *w);                   /* mem_free it; NULL */
void window_copy(void *w, const char *text);
double window_now_s(void);

#endif
