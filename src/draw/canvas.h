/* canvas.h - what is to be seen, as a list of marks; painting is somewhere else (paint.h).
 *
 * Everything the program shows - window, print pages, pictures - is first put on a canvas: lines,
 * filled shapes, hatchings, text, images, and invisible names of places.  A canvas is plain data
 * in points: tests read it, paint.h paints it on an image or in a PDF, svg.h writes it as SVG, and
 * the window compares it with the one before to find what changed.
 *
 * A shape is built as a path and then marked, as often as wanted:
 *
 *     canvas_begin(c);
 *     canvas_arc(c, 100, 100, 40, 0, 360);
 *     canvas_fill(c, TONE_CARD, 1);
 *     canvas_hatch(c, TONE_INK, WEIGHT_HAIR, 45, 3);
 *     canvas_stroke(c, TONE_INK, WEIGHT_LINE);
 *
 * Coordinates go through the current frame (an offset and a scale, canvas_push/pop); angles are
 * degrees clockwise from 12 o'clock, as on a dial.  x to the right, y down.
 */
#ifndef LETOFF_DRAW_CANVAS_H
#define LETOFF_DRAW_CANVAS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include "draw/ink.h"

enum mark_kind { MARK_FILL, MARK_STROKE, MARK_HATCH, MARK_TEXT, MARK_IMAGE, MARK_CLIP,
                 MARK_UNCLIP, MARK_NAME };
enum align { ALIGN_LEFT, ALIGN_CENTRE, ALIGN_RIGHT };
enum path_op { PATH_MOVE, PATH_LINE, PATH_CURVE, PATH_CLOSE };

/* One mark.  x, y, w, h are its bounds on the page.  Members a kind does not use are 0. */
struct mark {
    uint8_t kind, tone, type, align;
    bool dashed, wrap;   /* stroke; text breaks at w */
    float x, y, w, h;
    float width;         /* of the stroke or the hatch lines */
    float alpha;         /* of a fill, 0..1 */
    float angle_deg;     /* of hatch lines, or text turned about its centre */
    float gap;           /* between hatch lines */
    float size;          /* text: em in points */
    uint32_t path, path_end; /* pieces of canvas.piece */
    uint32_t text;       /* offset in canvas.letters: text, or the name */
    uint32_t image;      /* index in canvas.image */
};

struct path_piece {
    uint8_t op;
    float x, y, ax, ay, bx, by; /* end point; the two control points of a curve */
};

/* Grey picture 0 (paper) .. 255 (ink), row by row from the top. */
struct canvas_image {
    uint8_t *grey;
    int columns, rows;
};

struct type_case; /* measures text; type_case.h */

#define CANVAS_FRAMES 16
struct canvas {
    struct ink ink;
    struct type_case *types; /* not owned */
    double width, height;
    struct mark *mark;
    size_t marks, mark_room;
    struct path_piece *piece;
    size_t pieces, piece_room;
    char *letters;
    size_t letter_count, letter_room;
    struct canvas_image *image;
    size_t images, image_room;
    size_t path;             /* where the current path begins */
    struct { double x, y, scale; } frame[CANVAS_FRAMES];
    int frames;
};

/* `types` must outlive the canvas. */
void canvas_init(struct canvas *c, struct type_case *types, const struct ink *ink, double width,
                 double height);
void canvas_clear(struct canvas *c); /* empty, keep memory and settings */
void canvas_release(struct canvas *c);

/* Draw into a frame whose origin lies at x, y of the current one, `scale` times as large. */
void canvas_push(struct canvas *c, double x, double y, double scale);
void canvas_pop(struct canvas *c);
/* From the current frame to the page. */
void canvas_to_page(const struct canvas *c, double *x, double *y);

/* Paths. */
void canvas_begin(struct canvas *c);
void canvas_move(struct canvas *c, double x, double y);
void canvas_line_to(struct canvas *c, double x, double y);
void canvas_curve_to(struct canvas *c, double ax, double ay, double bx, double by, double x,
                     double y);
void canvas_close(struct canvas *c);
/* An arc, joined by a line to what came before it in this path; a full turn is closed. */
void canvas_arc(struct canvas *c, double x, double y, double r, double from_deg, double to_deg);
void canvas_rect(struct canvas *c, double x, double y, double w, double h, double round);
void canvas_polygon(struct canvas *c, const double (*xy)[2], size_t n);

/* Marks of the current path. */
void canvas_fill(struct canvas *c, enum tone tone, double alpha);
void canvas_stroke(struct canvas *c, enum tone tone, enum weight weight);
void canvas_dash(struct canvas *c, enum tone tone, enum weight weight);
void canvas_hatch(struct canvas *c, enum tone tone, enum weight weight, double angle_deg,
                  double gap);
void canvas_clip(struct canvas *c);   /* until canvas_unclip; may be nested */
void canvas_unclip(struct canvas *c);

/* Shorthand for the commonest shapes. */
void canvas_rule(struct canvas *c, double x1, double y1, double x2, double y2, enum tone tone,
                 enum weight weight);
void canvas_box(struct canvas *c, double x, double y, double w, double h, double round,
                enum tone fill, enum tone edge, enum weight weight);
void canvas_disc(struct canvas *c, double x, double y, double r, enum tone fill, enum tone edge,
                 enum weight weight);

/* Text on one line from x (left, centre or right of it by `align`), y = top.  Returns its width. */
double canvas_text(struct canvas *c, double x, double y, enum type type, enum tone tone,
                   enum align align, const char *text);
/* Text broken at `width`, from x, y (top left of the column).  Returns the height taken. */
double canvas_paragraph(struct canvas *c, double x, double y, double width, enum type type,
                        enum tone tone, enum align align, const char *text);
/* One line cut with an ellipsis to fit `width`. */
void canvas_text_fit(struct canvas *c, double x, double y, double width, enum type type,
                     enum tone tone, enum align align, const char *text);
/* One line of em `size` centred at x, y and turned. */
void canvas_text_turned(struct canvas *c, double x, double y, enum type type, double size,
                        enum tone tone, double angle_deg, const char *text);
/* Sizes in the current frame.  width <= 0: one line. */
double canvas_text_width(struct canvas *c, enum type type, const char *text);
double canvas_text_height(struct canvas *c, enum type type, double width, const char *text);
double canvas_line_height(struct canvas *c, enum type type);

/* A copy of the picture, stretched to the box. */
void canvas_image(struct canvas *c, double x, double y, double w, double h, const uint8_t *grey,
                  int columns, int rows);
/* An invisible name for a place: widgets, parts.  Tests and hit lists read them. */
void canvas_name(struct canvas *c, double x, double y, double w, double h, const char *name);

/* Reading a canvas. */
const char *canvas_letters(const struct canvas *c, const struct mark *m);
/* First text mark that contains `part`, or NULL. */
const struct mark *canvas_find_text(const struct canvas *c, const char *part);
const struct mark *canvas_find_name(const struct canvas *c, const char *name);
/* Marks of that tone, for "only suspects wear the accent". */
size_t canvas_count_tone(const struct canvas *c, enum tone tone);
/* A number that differs when what the mark shows differs. */
uint64_t canvas_mark_key(const struct canvas *c, const struct mark *m);

#endif
