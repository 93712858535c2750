/* svg.h - writing a canvas as SVG, with text as text: it can be selected, searched and edited. */
#ifndef LETOFF_DRAW_SVG_H
#define LETOFF_DRAW_SVG_H

#include <stdbool.h>
#include "draw/canvas.h"
#include "err.h"
#include "text.h"

void svg_write(const struct canvas *c, const char *title, struct text *out);
bool svg_file(const struct canvas *c, const char *title, const char *path, struct err *e);

#endif
