/* type_case.h - type: laying out and measuring text with Pango.
 *
 * Text is measured by the very layouts it is painted with.  Layouts are kept and found again by
 * style, size, width and text, since a page shows the same words many times; after
 * TYPE_CASE_MOST of them all are dropped.  Metrics are not hinted, so a page measures the same at
 * every scale, on paper and on the screen.
 */
#ifndef LETOFF_DRAW_TYPE_CASE_H
#define LETOFF_DRAW_TYPE_CASE_H

#include <pango/pango.h>
#include <stdbool.h>
#include "draw/ink.h"

#define TYPE_CASE_MOST 1500

struct type_case;
struct err;
/* NULL with a sentence (device) when what draws is not there. */
struct type_case *type_case_new(struct err *e);
void type_case_free(struct type_case *t);

/* Size of `text` in the units of `em`.  width > 0 is the column: text breaks there if `wrap`,
 * otherwise it is cut with an ellipsis. */
void type_case_measure(struct type_case *t, enum type type, double em, double width, bool wrap,
                       const char *text, double *w, double *h);
/* The layout itself; owned by the case and valid until the next call. */
PangoLayout *type_case_layout(struct type_case *t, enum type type, double em, double width,
                              bool wrap, const char *text);
/* Offset of the left edge of byte `index` of a single line, and the byte nearest to offset x. */
double type_case_x_of(struct type_case *t, enum type type, double em, const char *text, int index);
int type_case_index_at(struct type_case *t, enum type type, double em, const char *text, double x);

/* Append the family that is really used for a type: the first of ink_family that is installed, or
 * what the system puts in its place.  False when there is no font at all. */
struct text;
bool type_case_face(struct type_case *t, enum type type, struct text *into);

#endif
