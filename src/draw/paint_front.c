/* paint_front.c - the functions of paint.h, type_case.h and svg.h as the program sees them.  The annex is loaded
 * with the first type case, without which there is no canvas that could be measured, painted or written. */
#include "draw/paint_annex.h"

#include <assert.h>
#include "annex.h"

static struct annex paint = {"paint"};

static const struct paint_annex *annex(void)
{
    const struct paint_annex *a = annex_open(&paint, NULL);
    assert(a);
    return a;
}

struct type_case *type_case_new(struct err *e)
{
    const struct paint_annex *a = annex_open(&paint, e);
    return a ? a->types_new(e) : NULL;
}

void type_case_free(struct type_case *t)
{
    if (t)
        annex()->types_free(t);
}

void type_case_measure(struct type_case *t, enum type type, double em, double width, bool wrap, const char *text, double *w,
                       double *h)
{
    annex()->measure(t, type, em, width, wrap, text, w, h);
}

double type_case_x_of(struct type_case *t, enum type type, double em, const char *text, int index)
{
    return annex()->x_of(t, type, em, text, index);
}

int type_case_index_at(struct type_case *t, enum type type, double em, const char *text, double x)
{
    return annex()->index_at(t, type, em, text, x);
}

bool type_case_face(struct type_case *t, enum type type, struct text *into)
{
    return annex()->face(t, type, into);
}

void paint_canvas(const struct canvas *c, cairo_t *cr)
{
    annex()->canvas(c, cr);
}

bool paint_png(const struct canvas *c, double zoom, const char *path, struct err *e)
{
    return annex()->png(c, zoom, path, e);
}

bool paint_pdf(const struct canvas *const *page, size_t pages, const char *title, const char *path, struct err *e)
{
    return annex()->pdf(page, pages, title, path, e);
}

void svg_write(const struct canvas *c, const char *title, struct text *out)
{
    annex()->svg(c, title, out);
}

bool svg_file(const struct canvas *c, const char *title, const char *path, struct err *e)
{
    return annex()->svg_file(c, title, path, e);
}
