#include "draw/paint.h"

#include <cairo-pdf.h>
#include <math.h>
#include <pango/pangocairo.h>
#include <string.h>

#include "draw/type_case.h"
#include "mem.h"
#include "text.h"

static void set_tone(const struct canvas *c, cairo_t *cr, enum tone tone, double alpha)
{
    double rgb[3];
    ink_rgb(&c->ink, tone, rgb);
    cairo_set_source_rgba(cr, rgb[0], rgb[1], rgb[2], alpha);
}

static void trace(const struct canvas *c, cairo_t *cr, const struct mark *m)
{
    cairo_new_path(cr);
    for (uint32_t i = m->path; i < m->path_end; i++) {
        const struct path_piece *p = &c->piece[i];
        switch (p->op) {
        case PATH_MOVE: cairo_move_to(cr, p->x, p->y); break;
        case PATH_LINE: cairo_line_to(cr, p->x, p->y); break;
        case PATH_CURVE: cairo_curve_to(cr, p->ax, p->ay, p->bx, p->by, p->x, p->y); break;
        default: cairo_close_path(cr); break;
        }
    }
}

static void paint_stroke(const struct canvas *c, cairo_t *cr, const struct mark *m)
{
    trace(c, cr, m);
    set_tone(c, cr, m->tone, 1);
    cairo_set_line_width(cr, m->width);
    const double dash[2] = {m->width * 3.5, m->width * 3};
    cairo_set_dash(cr, dash, m->dashed ? 2 : 0, 0);
    cairo_stroke(cr);
}

/* Parallel lines across the shape, kept in step over the whole page so that neighbours agree. */
static void paint_hatch(const struct canvas *c, cairo_t *cr, const struct mark *m)
{
    double a = m->angle_deg * (M_PI / 180), dx = cos(a), dy = sin(a);
    double cx = m->x + m->w / 2, cy = m->y + m->h / 2, reach = hypot(m->w, m->h) / 2 + m->gap;
    double along = cx * -dy + cy * dx; /* distance of the middle from the page's origin */
    double first = floor((along - reach) / m->gap) * m->gap;
    cairo_save(cr);
    trace(c, cr, m);
    cairo_clip(cr);
    for (double d = first; d < along + reach; d += m->gap) {
        double px = cx + (d - along) * -dy, py = cy + (d - along) * dx;
        cairo_move_to(cr, px - reach * dx, py - reach * dy);
        cairo_line_to(cr, px + reach * dx, py + reach * dy);
    }
    set_tone(c, cr, m->tone, 1);
    cairo_set_line_width(cr, m->width);
    cairo_set_dash(cr, NULL, 0, 0);
    cairo_stroke(cr);
    cairo_restore(cr);
}

static PangoLayout *layout_of(const struct canvas *c, const struct mark *m)
{
    bool cut = m->alpha == 0;
    return type_case_layout(c->types, m->type, m->size, m->wrap || cut ? m->w : 0, m->wrap,
                            canvas_letters(c, m));
}

static void paint_text(const struct canvas *c, cairo_t *cr, const struct mark *m)
{
    static const PangoAlignment side[] = {PANGO_ALIGN_LEFT, PANGO_ALIGN_CENTER, PANGO_ALIGN_RIGHT};
    PangoLayout *layout = layout_of(c, m);
    set_tone(c, cr, m->tone, 1);
    if (m->wrap)
        pango_layout_set_alignment(layout, side[m->align]);
    cairo_save(cr);
    if (m->angle_deg != 0) {
        cairo_translate(cr, m->x + m->w / 2, m->y + m->h / 2);
        cairo_rotate(cr, m->angle_deg * (M_PI / 180));
        cairo_move_to(cr, -m->w / 2, -m->h / 2);
    } else {
        cairo_move_to(cr, m->x, m->y);
    }
    pango_cairo_show_layout(cr, layout);
    cairo_restore(cr);
}

static uint32_t between(const double low[3], const double high[3], double share)
{
    uint32_t v = 0xff000000u;
    for (int i = 0; i < 3; i++)
        v |= (uint32_t)lrint(255 * (low[i] + (high[i] - low[i]) * share)) << (16 - 8 * i);
    return v;
}

static void paint_image(const struct canvas *c, cairo_t *cr, const struct mark *m)
{
    const struct canvas_image *im = &c->image[m->image];
    double paper[3], ink[3];
    ink_rgb(&c->ink, TONE_CARD, paper);
    ink_rgb(&c->ink, TONE_INK, ink);
    cairo_surface_t *s = cairo_image_surface_create(CAIRO_FORMAT_RGB24, im->columns, im->rows);
    unsigned char *row = cairo_image_surface_get_data(s);
    for (int y = 0; row && y < im->rows; y++, row += cairo_image_surface_get_stride(s))
        for (int x = 0; x < im->columns; x++) {
            uint32_t v = between(paper, ink, im->grey[y * im->columns + x] / 255.0);
            memcpy(row + 4 * x, &v, 4);
        }
    cairo_surface_mark_dirty(s);
    cairo_save(cr);
    cairo_translate(cr, m->x, m->y);
    cairo_scale(cr, (double)m->w / im->columns, (double)m->h / im->rows);
    cairo_set_source_surface(cr, s, 0, 0);
    cairo_pattern_set_filter(cairo_get_source(cr), CAIRO_FILTER_BILINEAR);
    cairo_pattern_set_extend(cairo_get_source(cr), CAIRO_EXTEND_PAD);
    cairo_rectangle(cr, 0, 0, im->columns, im->rows);
    cairo_fill(cr);
    cairo_restore(cr);
    cairo_surface_destroy(s);
}

static void paint_mark(const struct canvas *c, cairo_t *cr, const struct mark *m)
{
    switch (m->kind) {
    case MARK_FILL:
        trace(c, cr, m);
        set_tone(c, cr, m->tone, m->alpha);
        cairo_fill(cr);
        break;
    case MARK_STROKE: paint_stroke(c, cr, m); break;
    case MARK_HATCH: paint_hatch(c, cr, m); break;
    case MARK_TEXT: paint_text(c, cr, m); break;
    case MARK_IMAGE: paint_image(c, cr, m); break;
    default: break;
    }
}

/* What the clip lets through, as rectangles; a clip of another shape counts as its bounds. */
static cairo_rectangle_list_t *clip_rectangles(cairo_t *cr, cairo_rectangle_t *bounds, const cairo_rectangle_t **r,
                                               int *n)
{
    cairo_rectangle_list_t *list = cairo_copy_clip_rectangle_list(cr);
    double x1, y1;
    if (list->status == CAIRO_STATUS_SUCCESS) {
        *r = list->rectangles;
        *n = list->num_rectangles;
        return list;
    }
    cairo_clip_extents(cr, &bounds->x, &bounds->y, &x1, &y1);
    bounds->width = x1 - bounds->x;
    bounds->height = y1 - bounds->y;
    *r = bounds;
    *n = 1;
    return list;
}

static bool touches(const struct mark *m, const cairo_rectangle_t *r, int n)
{
    double slack = m->kind == MARK_TEXT ? m->h / 2 + (m->angle_deg != 0 ? m->w : 0) : 2;
    for (int i = 0; i < n; i++)
        if (m->x - slack < r[i].x + r[i].width && m->x + m->w + slack > r[i].x && m->y - slack < r[i].y + r[i].height &&
            m->y + m->h + slack > r[i].y)
            return true;
    return false;
}

void paint_canvas(const struct canvas *c, cairo_t *cr)
{
    cairo_rectangle_t bounds;
    const cairo_rectangle_t *r;
    int n, depth = 0;
    cairo_rectangle_list_t *list = clip_rectangles(cr, &bounds, &r, &n);
    cairo_set_tolerance(cr, 0.25); /* pixels; curves stay smooth at any zoom */
    cairo_set_line_join(cr, CAIRO_LINE_JOIN_ROUND);
    cairo_set_line_cap(cr, CAIRO_LINE_CAP_ROUND);
    for (size_t i = 0; i < c->marks; i++) {
        const struct mark *m = &c->mark[i];
        if (m->kind == MARK_CLIP) {
            cairo_save(cr);
            trace(c, cr, m);
            cairo_clip(cr);
            depth++;
        } else if (m->kind == MARK_UNCLIP && depth > 0) {
            cairo_restore(cr);
            depth--;
        } else if (touches(m, r, n)) {
            paint_mark(c, cr, m);
        }
    }
    while (depth-- > 0)
        cairo_restore(cr);
    cairo_rectangle_list_destroy(list);
}

static void paint_ground(const struct canvas *c, cairo_t *cr)
{
    set_tone(c, cr, TONE_PAPER, 1);
    cairo_paint(cr);
    paint_canvas(c, cr);
}


static cairo_status_t take(void *to, const unsigned char *data, unsigned int length)
{
    struct text *t = to;
    text_add_bytes(t, (const char *)data, length);
    return CAIRO_STATUS_SUCCESS;
}

static bool keep_bytes(struct text *bytes, cairo_status_t status, const char *path, struct err *e)
{
    bool good = false;
    if (status != CAIRO_STATUS_SUCCESS)
        err_device(e, "%s: the picture could not be drawn: %s.", path,
                   cairo_status_to_string(status));
    else
        good = text_write_file(path, text_cstr(bytes), bytes->length, e);
    text_release(bytes);
    return good;
}

bool paint_png(const struct canvas *c, double zoom, const char *path, struct err *e)
{
    struct text bytes = {0};
    cairo_surface_t *s =
        cairo_image_surface_create(CAIRO_FORMAT_RGB24, (int)lrint(c->width * zoom),
                                   (int)lrint(c->height * zoom));
    cairo_t *cr = cairo_create(s);
    cairo_scale(cr, zoom, zoom);
    paint_ground(c, cr);
    cairo_status_t status = cairo_status(cr);
    cairo_destroy(cr);
    if (status == CAIRO_STATUS_SUCCESS)
        status = cairo_surface_write_to_png_stream(s, take, &bytes);
    cairo_surface_destroy(s);
    return keep_bytes(&bytes, status, path, e);
}

bool paint_pdf(const struct canvas *const *page, size_t pages, const char *title,
               const char *path, struct err *e)
{
    struct text bytes = {0};
    cairo_surface_t *s = cairo_pdf_surface_create_for_stream(take, &bytes, 595, 842);
    cairo_pdf_surface_set_metadata(s, CAIRO_PDF_METADATA_TITLE, title);
    cairo_pdf_surface_set_metadata(s, CAIRO_PDF_METADATA_CREATOR, "letoff");
    cairo_t *cr = cairo_create(s);
    for (size_t i = 0; i < pages; i++) {
        cairo_pdf_surface_set_size(s, page[i]->width, page[i]->height);
        paint_canvas(page[i], cr);
        cairo_show_page(cr);
    }
    cairo_status_t status = cairo_status(cr);
    cairo_destroy(cr);
    cairo_surface_finish(s);
    if (status == CAIRO_STATUS_SUCCESS)
        status = cairo_surface_status(s);
    cairo_surface_destroy(s);
    return keep_bytes(&bytes, status, path, e);
}
