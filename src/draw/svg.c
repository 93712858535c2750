#include "draw/svg.h"

#include <cairo.h>
#include <glib.h>
#include <math.h>
#include <string.h>

#include "draw/paint.h"
#include "draw/type_case.h"
#include "mem.h"

static void add_escaped(struct text *out, const char *s, size_t n)
{
    for (size_t i = 0; i < n; i++)
        switch (s[i]) {
        case '&': text_add(out, "&amp;"); break;
        case '<': text_add(out, "&lt;"); break;
        case '>': text_add(out, "&gt;"); break;
        case '"': text_add(out, "&quot;"); break;
        default: text_add_bytes(out, s + i, 1); break;
        }
}

static void add_tone(struct text *out, const struct canvas *c, enum tone tone)
{
    double v[3];
    ink_rgb(&c->ink, tone, v);
    text_addf(out, "#%02lx%02lx%02lx", lrint(255 * v[0]), lrint(255 * v[1]), lrint(255 * v[2]));
}

static void add_path(struct text *out, const struct canvas *c, const struct mark *m)
{
    text_add(out, " d=\"");
    for (uint32_t i = m->path; i < m->path_end; i++) {
        const struct path_piece *p = &c->piece[i];
        switch (p->op) {
        case PATH_MOVE: text_addf(out, "M%.2f %.2f", p->x, p->y); break;
        case PATH_LINE: text_addf(out, "L%.2f %.2f", p->x, p->y); break;
        case PATH_CURVE:
            text_addf(out, "C%.2f %.2f %.2f %.2f %.2f %.2f", p->ax, p->ay, p->bx, p->by, p->x,
                      p->y);
            break;
        default: text_add(out, "Z"); break;
        }
    }
    text_add(out, "\"");
}

static void add_fill(struct text *out, const struct canvas *c, const struct mark *m)
{
    text_add(out, "<path fill=\"");
    add_tone(out, c, m->tone);
    text_addf(out, "\" fill-opacity=\"%.3g\"", m->alpha);
    add_path(out, c, m);
    text_add(out, "/>\n");
}

static void add_stroke(struct text *out, const struct canvas *c, const struct mark *m)
{
    text_add(out, "<path fill=\"none\" stroke=\"");
    add_tone(out, c, m->tone);
    text_addf(out, "\" stroke-width=\"%.3g\"", m->width);
    if (m->dashed)
        text_addf(out, " stroke-dasharray=\"%.3g %.3g\"", m->width * 3.5, m->width * 3);
    add_path(out, c, m);
    text_add(out, "/>\n");
}

static void add_hatch(struct text *out, const struct canvas *c, const struct mark *m, size_t id)
{
    double a = m->angle_deg * (M_PI / 180), dx = cos(a), dy = sin(a);
    double cx = m->x + m->w / 2, cy = m->y + m->h / 2, reach = hypot(m->w, m->h) / 2 + m->gap;
    double along = cx * -dy + cy * dx, first = floor((along - reach) / m->gap) * m->gap;
    text_addf(out, "<clipPath id=\"h%zu\"><path", id);
    add_path(out, c, m);
    text_addf(out, "/></clipPath><path clip-path=\"url(#h%zu)\" fill=\"none\" stroke=\"", id);
    add_tone(out, c, m->tone);
    text_addf(out, "\" stroke-width=\"%.3g\" d=\"", m->width);
    for (double d = first; d < along + reach; d += m->gap) {
        double px = cx + (d - along) * -dy, py = cy + (d - along) * dx;
        text_addf(out, "M%.2f %.2fL%.2f %.2f", px - reach * dx, py - reach * dy, px + reach * dx,
                  py + reach * dy);
    }
    text_add(out, "\"/>\n");
}

static void text_open(struct text *out, const struct canvas *c, const struct mark *m)
{
    text_addf(out, "<text font-size=\"%.4g\" font-family=\"", m->size);
    add_escaped(out, ink_family(m->type), strlen(ink_family(m->type)));
    text_add(out, "\" fill=\"");
    add_tone(out, c, m->tone);
    text_add(out, "\"");
    if (ink_boldness(m->type) > 400)
        text_add(out, " font-weight=\"bold\"");
    if (ink_italic(m->type))
        text_add(out, " font-style=\"italic\"");
    if (ink_spacing(m->type) > 0)
        text_addf(out, " letter-spacing=\"%.3g\"", ink_spacing(m->type) * m->size);
    if (m->angle_deg != 0)
        text_addf(out, " transform=\"rotate(%.4g %.2f %.2f)\"", m->angle_deg, m->x + m->w / 2,
                  m->y + m->h / 2);
    text_add(out, ">");
}

/* Each line of the layout is placed where Pango put it. */
static void add_text(struct text *out, const struct canvas *c, const struct mark *m)
{
    const char *letters = canvas_letters(c, m);
    bool cut = m->alpha == 0;
    PangoLayout *l = type_case_layout(c->types, m->type, m->size, m->wrap || cut ? m->w : 0,
                                      m->wrap, letters);
    if (m->wrap)
        pango_layout_set_alignment(l, m->align == ALIGN_RIGHT    ? PANGO_ALIGN_RIGHT
                                      : m->align == ALIGN_CENTRE ? PANGO_ALIGN_CENTER
                                                                 : PANGO_ALIGN_LEFT);
    PangoLayoutIter *it = pango_layout_get_iter(l);
    text_open(out, c, m);
    do {
        PangoRectangle r;
        PangoLayoutLine *line = pango_layout_iter_get_line_readonly(it);
        pango_layout_iter_get_line_extents(it, NULL, &r);
        text_addf(out, "<tspan x=\"%.2f\" y=\"%.2f\">", m->x + (double)r.x / PANGO_SCALE,
                  m->y + (double)pango_layout_iter_get_baseline(it) / PANGO_SCALE);
        add_escaped(out, letters + line->start_index, (size_t)line->length);
        text_add(out, "</tspan>");
    } while (pango_layout_iter_next_line(it));
    pango_layout_iter_free(it);
    text_add(out, "</text>\n");
}

static cairo_status_t take(void *to, const unsigned char *data, unsigned int length)
{
    text_add_bytes(to, (const char *)data, length);
    return CAIRO_STATUS_SUCCESS;
}

/* An embedded PNG of just this image. */
static void add_image(struct text *out, const struct canvas *c, const struct mark *m)
{
    const struct canvas_image *im = &c->image[m->image];
    struct text png = {0};
    cairo_surface_t *s = cairo_image_surface_create(CAIRO_FORMAT_RGB24, im->columns, im->rows);
    unsigned char *row = cairo_image_surface_get_data(s);
    for (int y = 0; row && y < im->rows; y++, row += cairo_image_surface_get_stride(s))
        for (int x = 0; x < im->columns; x++) {
            uint32_t v = 0x010101u * (255u - im->grey[y * im->columns + x]);
            memcpy(row + 4 * x, &v, 4);
        }
    cairo_surface_mark_dirty(s);
    if (cairo_surface_write_to_png_stream(s, take, &png) == CAIRO_STATUS_SUCCESS) {
        char *b64 = g_base64_encode((const guchar *)text_cstr(&png), png.length);
        text_addf(out, "<image preserveAspectRatio=\"none\" x=\"%.2f\" y=\"%.2f\" width=\"%.2f\""
                  " height=\"%.2f\" href=\"data:image/png;base64,", m->x, m->y, m->w, m->h);
        text_add(out, b64);
        text_add(out, "\"/>\n");
        g_free(b64);
    }
    cairo_surface_destroy(s);
    text_release(&png);
}

static void add_clip(struct text *out, const struct canvas *c, const struct mark *m, size_t id)
{
    text_addf(out, "<clipPath id=\"c%zu\"><path", id);
    add_path(out, c, m);
    text_addf(out, "/></clipPath><g clip-path=\"url(#c%zu)\">\n", id);
}

static void add_mark(struct text *out, const struct canvas *c, size_t i, int *depth)
{
    const struct mark *m = &c->mark[i];
    switch (m->kind) {
    case MARK_FILL: add_fill(out, c, m); break;
    case MARK_STROKE: add_stroke(out, c, m); break;
    case MARK_HATCH: add_hatch(out, c, m, i); break;
    case MARK_TEXT: add_text(out, c, m); break;
    case MARK_IMAGE: add_image(out, c, m); break;
    case MARK_CLIP:
        add_clip(out, c, m, i);
        ++*depth;
        break;
    case MARK_UNCLIP:
        if (*depth > 0) {
            text_add(out, "</g>\n");
            --*depth;
        }
        break;
    default: break;
    }
}

void svg_write(const struct canvas *c, const char *title, struct text *out)
{
    int depth = 0;
    text_addf(out, "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 %.4g %.4g\""
              " width=\"%.4gpt\" height=\"%.4gpt\" stroke-linejoin=\"round\""
              " stroke-linecap=\"round\">\n<title>", c->width, c->height, c->width, c->height);
    add_escaped(out, title, strlen(title));
    text_add(out, "</title>\n<rect width=\"100%\" height=\"100%\" fill=\"");
    add_tone(out, c, TONE_PAPER);
    text_add(out, "\"/>\n");
    for (size_t i = 0; i < c->marks; i++)
        add_mark(out, c, i, &depth);
    while (depth-- > 0)
        text_add(out, "</g>\n");
    text_add(out, "</svg>\n");
}

bool svg_file(const struct canvas *c, const char *title, const char *path, struct err *e)
{
    struct text out = {0};
    svg_write(c, title, &out);
    bool good = text_write_file(path, text_cstr(&out), out.length, e);
    text_release(&out);
    return good;
}
