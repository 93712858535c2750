/* paint.h - painting a canvas: on an image, into a PNG, into a PDF of several pages.
 *
 * The same marks give the same picture everywhere; in PDF text stays text and can be selected.
 */
#ifndef LETOFF_DRAW_PAINT_H
#define LETOFF_DRAW_PAINT_H

#include <cairo.h>
#include <stdbool.h>
#include <stddef.h>
#include "draw/canvas.h"
#include "err.h"

/* Paint all marks that touch the clip of `cr`, in points (scale `cr` before). */
void paint_canvas(const struct canvas *c, cairo_t *cr);
/* PNG of the whole canvas at `zoom` pixels a point.  False with a sentence (device) on failure. */
bool paint_png(const struct canvas *c, double zoom, const char *path, struct err *e);
/* One page a canvas, each of its own size. */
bool paint_pdf(const struct canvas *const *page, size_t pages, const char *title,
               const char *path, struct err *e);

#endif
