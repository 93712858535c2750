/* paint_annex.h - what the annex "paint" (annex.h) offers: all that Cairo and Pango are needed for.
 *
 * Its functions are those of paint.h, type_case.h and svg.h, one to one.
 */
#ifndef LETOFF_DRAW_PAINT_ANNEX_H
#define LETOFF_DRAW_PAINT_ANNEX_H

#include "draw/paint.h"
#include "draw/svg.h"
#include "draw/type_case.h"

struct paint_annex {
    struct type_case *(*types_new)(struct err *e);
    void (*types_free)(struct type_case *t);
    void (*measure)(struct type_case *t, enum type type, double em, double width, bool wrap, const char *text, double *w,
                    double *h);
    double (*x_of)(struct type_case *t, enum type type, double em, const char *text, int index);
    int (*index_at)(struct type_case *t, enum type type, double em, const char *text, double x);
    bool (*face)(struct type_case *t, enum type type, struct text *into);
    void (*canvas)(const struct canvas *c, cairo_t *cr);
    bool (*png)(const struct canvas *c, double zoom, const char *path, struct err *e);
    bool (*pdf)(const struct canvas *const *page, size_t pages, const char *title, const char *path, struct err *e);
    void (*svg)(const struct canvas *c, const char *title, struct text *out);
    bool (*svg_file)(const struct canvas *c, const char *title, const char *path, struct err *e);
};

#endif
