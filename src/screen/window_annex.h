/* window_annex.h - what the annex "window" (annex.h) offers: all that SDL2 is needed for here.
 *
 * Its functions are those of window.h, one to one.
 */
#ifndef LETOFF_SCREEN_WINDOW_ANNEX_H
#define LETOFF_SCREEN_WINDOW_ANNEX_H

#include "screen/window.h"

struct window_annex {
    struct window *(*open)(int width, int height, double zoom, struct err *e);
    void (*close)(struct window *w);
    void (*size)(const struct window *w, double *width, double *height);
    double (*zoom)(const struct window *w);
    void (*set_zoom)(struct window *w, double zoom);
    void (*pixels)(const struct window *w, int *width, int *height);
    enum window_news (*next)(struct window *w, double wait_s, struct ui_input *in, char dropped[1024]);
    bool (*pending)(void);
    void (*wake)(void);
    size_t (*show)(struct window *w, const struct canvas *c);
    void (*text_at)(struct window *w, double x, double y, double h);
    char *(*paste)(void *w);
    void (*copy)(void *w, const char *text);
    double (*now_s)(void);
};

#endif
