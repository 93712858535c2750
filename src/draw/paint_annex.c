#include "draw/paint_annex.h"

extern const struct paint_annex letoff_annex; /* found by its name */

const struct paint_annex letoff_annex = {
    .types_new = type_case_new,
    .types_free = type_case_free,
    .measure = type_case_measure,
    .x_of = type_case_x_of,
    .index_at = type_case_index_at,
    .face = type_case_face,
    .canvas = paint_canvas,
    .png = paint_png,
    .pdf = paint_pdf,
    .svg = svg_write,
    .svg_file = svg_file,
};
