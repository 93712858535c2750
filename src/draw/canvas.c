#include "draw/canvas.h"

#include <assert.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "draw/type_case.h"
#include "mem.h"

void canvas_init(struct canvas *c, struct type_case *types, const struct ink *ink, double width,
                 double height)
{
    memset(c, 0, sizeof *c);
    c->types = types;
    c->ink = *ink;
    c->width = width;
    c->height = height;
    c->frame[0].scale = 1;
}

static void drop_images(struct canvas *c)
{
    for (size_t i = 0; i < c->images; i++)
        mem_free(c->image[i].grey);
    c->images = 0;
}

void canvas_clear(struct canvas *c)
{
    drop_images(c);
    c->marks = c->pieces = c->letter_count = c->path = 0;
    c->frames = 0;
}

void canvas_release(struct canvas *c)
{
    drop_images(c);
    mem_free(c->mark);
    mem_free(c->piece);
    mem_free(c->letters);
    mem_free(c->image);
    memset(c, 0, sizeof *c);
}

/* ---- frames ---- */

void canvas_push(struct canvas *c, double x, double y, double scale)
{
    assert(c->frames + 1 < CANVAS_FRAMES);
    double s = c->frame[c->frames].scale, fx = c->frame[c->frames].x, fy = c->frame[c->frames].y;
    c->frames++;
    c->frame[c->frames].x = fx + x * s;
    c->frame[c->frames].y = fy + y * s;
    c->frame[c->frames].scale = s * scale;
}

void canvas_pop(struct canvas *c)
{
    assert(c->frames > 0);
    c->frames--;
}

static double scale_of(const struct canvas *c)
{
    return c->frame[c->frames].scale;
}

void canvas_to_page(const struct canvas *c, double *x, double *y)
{
    *x = c->frame[c->frames].x + *x * scale_of(c);
    *y = c->frame[c->frames].y + *y * scale_of(c);
}

/* ---- paths ---- */

static struct path_piece *piece_add(struct canvas *c, enum path_op op, double x, double y)
{
    canvas_to_page(c, &x, &y);
    c->piece = mem_grow(c->piece, &c->piece_room, c->pieces + 1, sizeof *c->piece);
    struct path_piece *p = &c->piece[c->pieces++];
    memset(p, 0, sizeof *p);
    p->op = (uint8_t)op;
    p->x = (float)x;
    p->y = (float)y;
    return p;
}

void canvas_begin(struct canvas *c)
{
    c->path = c->pieces;
}

void canvas_move(struct canvas *c, double x, double y)
{
    piece_add(c, PATH_MOVE, x, y);
}

void canvas_line_to(struct canvas *c, double x, double y)
{
    piece_add(c, c->pieces == c->path ? PATH_MOVE : PATH_LINE, x, y);
}

void canvas_curve_to(struct canvas *c, double ax, double ay, double bx, double by, double x,
                     double y)
{
    canvas_to_page(c, &ax, &ay);
    canvas_to_page(c, &bx, &by);
    struct path_piece *p = piece_add(c, PATH_CURVE, x, y);
    p->ax = (float)ax;
    p->ay = (float)ay;
    p->bx = (float)bx;
    p->by = (float)by;
}

void canvas_close(struct canvas *c)
{
    if (c->pieces > c->path)
        c->piece = mem_grow(c->piece, &c->piece_room, c->pieces + 1, sizeof *c->piece),
        c->piece[c->pieces] = c->piece[c->pieces - 1], c->piece[c->pieces++].op = PATH_CLOSE;
}

/* Angles as on a dial to a point. */
static void dial_point(double x, double y, double r, double deg, double *px, double *py)
{
    double a = deg * (M_PI / 180);
    *px = x + r * sin(a);
    *py = y - r * cos(a);
}

/* A circular arc of at most 90 degrees as one curve; the handle length 4/3 tan(a/4) keeps the
 * error under 0.03 % of the radius. */
static void arc_piece(struct canvas *c, double x, double y, double r, double a, double b)
{
    double k = 4.0 / 3.0 * tan((b - a) * (M_PI / 180) / 4) * r;
    double ax, ay, bx, by, ra = a * (M_PI / 180), rb = b * (M_PI / 180);
    dial_point(x, y, r, a, &ax, &ay);
    dial_point(x, y, r, b, &bx, &by);
    canvas_curve_to(c, ax + k * cos(ra), ay + k * sin(ra), bx - k * cos(rb), by - k * sin(rb), bx,
                    by);
}

void canvas_arc(struct canvas *c, double x, double y, double r, double from_deg, double to_deg)
{
    double px, py, span = to_deg - from_deg;
    int n = (int)ceil(fabs(span) / 90 - 1e-9);
    bool whole = fabs(span) >= 359.999;
    dial_point(x, y, r, from_deg, &px, &py);
    if (whole)
        canvas_move(c, px, py);
    else
        canvas_line_to(c, px, py);
    for (int i = 0; i < n; i++)
        arc_piece(c, x, y, r, from_deg + span * i / n, from_deg + span * (i + 1) / n);
    if (whole)
        canvas_close(c);
}

void canvas_rect(struct canvas *c, double x, double y, double w, double h, double round)
{
    double r = round * 2 > w ? w / 2 : round;
    r = r * 2 > h ? h / 2 : r;
    if (r <= 0) {
        canvas_move(c, x, y);
        canvas_line_to(c, x + w, y);
        canvas_line_to(c, x + w, y + h);
        canvas_line_to(c, x, y + h);
    } else {
        canvas_move(c, x + r, y);
        canvas_arc(c, x + w - r, y + r, r, 0, 90);
        canvas_arc(c, x + w - r, y + h - r, r, 90, 180);
        canvas_arc(c, x + r, y + h - r, r, 180, 270);
        canvas_arc(c, x + r, y + r, r, 270, 360);
    }
    canvas_close(c);
}

void canvas_polygon(struct canvas *c, const double (*xy)[2], size_t n)
{
    for (size_t i = 0; i < n; i++)
        if (i == 0)
            canvas_move(c, xy[i][0], xy[i][1]);
        else
            canvas_line_to(c, xy[i][0], xy[i][1]);
    canvas_close(c);
}

/* ---- marks ---- */

static struct mark *mark_add(struct canvas *c, enum mark_kind kind)
{
    c->mark = mem_grow(c->mark, &c->mark_room, c->marks + 1, sizeof *c->mark);
    struct mark *m = &c->mark[c->marks++];
    memset(m, 0, sizeof *m);
    m->kind = (uint8_t)kind;
    m->alpha = 1;
    return m;
}

static void bounds_take(float *low, float *high, float v)
{
    *low = v < *low ? v : *low;
    *high = v > *high ? v : *high;
}

static void path_bounds(const struct canvas *c, struct mark *m, float margin)
{
    float x0 = 1e9f, x1 = -1e9f, y0 = 1e9f, y1 = -1e9f;
    for (uint32_t i = m->path; i < m->path_end; i++) {
        const struct path_piece *p = &c->piece[i];
        bounds_take(&x0, &x1, p->x);
        bounds_take(&y0, &y1, p->y);
        if (p->op != PATH_CURVE)
            continue;
        bounds_take(&x0, &x1, p->ax);
        bounds_take(&x0, &x1, p->bx);
        bounds_take(&y0, &y1, p->ay);
        bounds_take(&y0, &y1, p->by);
    }
    m->x = x0 - margin;
    m->y = y0 - margin;
    m->w = x1 - x0 + 2 * margin;
    m->h = y1 - y0 + 2 * margin;
}

static struct mark *path_mark(struct canvas *c, enum mark_kind kind, enum tone tone, double width)
{
    if (c->pieces == c->path)
        return NULL;
    struct mark *m = mark_add(c, kind);
    m->tone = (uint8_t)tone;
    m->path = (uint32_t)c->path;
    m->path_end = (uint32_t)c->pieces;
    m->width = (float)width;
    path_bounds(c, m, kind == MARK_STROKE ? (float)width : 0);
    return m;
}

/* Lines grow with a frame, but less than it does, as a draughtsman would have it. */
static double line_width(const struct canvas *c, enum weight weight)
{
    return ink_width(&c->ink, weight) * sqrt(scale_of(c));
}

void canvas_fill(struct canvas *c, enum tone tone, double alpha)
{
    struct mark *m = path_mark(c, MARK_FILL, tone, 0);
    if (m)
        m->alpha = (float)alpha;
}

void canvas_stroke(struct canvas *c, enum tone tone, enum weight weight)
{
    path_mark(c, MARK_STROKE, tone, line_width(c, weight));
}

void canvas_dash(struct canvas *c, enum tone tone, enum weight weight)
{
    struct mark *m = path_mark(c, MARK_STROKE, tone, line_width(c, weight));
    if (m)
        m->dashed = true;
}

void canvas_hatch(struct canvas *c, enum tone tone, enum weight weight, double angle_deg,
                  double gap)
{
    struct mark *m = path_mark(c, MARK_HATCH, tone, line_width(c, weight));
    if (!m)
        return;
    m->angle_deg = (float)angle_deg;
    m->gap = (float)(gap * sqrt(scale_of(c)));
}

void canvas_clip(struct canvas *c)
{
    if (c->pieces == c->path) { /* an empty path clips everything away */
        canvas_rect(c, -1, -1, 0, 0, 0);
    }
    path_mark(c, MARK_CLIP, TONE_INK, 0);
}

void canvas_unclip(struct canvas *c)
{
    mark_add(c, MARK_UNCLIP);
}

void canvas_rule(struct canvas *c, double x1, double y1, double x2, double y2, enum tone tone,
                 enum weight weight)
{
    canvas_begin(c);
    canvas_move(c, x1, y1);
    canvas_line_to(c, x2, y2);
    canvas_stroke(c, tone, weight);
}

void canvas_box(struct canvas *c, double x, double y, double w, double h, double round,
                enum tone fill, enum tone edge, enum weight weight)
{
    canvas_begin(c);
    canvas_rect(c, x, y, w, h, round);
    canvas_fill(c, fill, 1);
    canvas_stroke(c, edge, weight);
}

void canvas_disc(struct canvas *c, double x, double y, double r, enum tone fill, enum tone edge,
                 enum weight weight)
{
    canvas_begin(c);
    canvas_arc(c, x, y, r, 0, 360);
    canvas_fill(c, fill, 1);
    canvas_stroke(c, edge, weight);
}

/* ---- text ---- */

static uint32_t keep_letters(struct canvas *c, const char *text)
{
    size_t n = strlen(text) + 1;
    c->letters = mem_grow(c->letters, &c->letter_room, c->letter_count + n, 1);
    memcpy(c->letters + c->letter_count, text, n);
    c->letter_count += n;
    return (uint32_t)(c->letter_count - n);
}

static double em_of(const struct canvas *c, enum type type)
{
    return ink_size(&c->ink, type) * scale_of(c);
}

static struct mark *text_mark(struct canvas *c, double x, double y, enum type type,
                              enum tone tone, enum align align, const char *text)
{
    canvas_to_page(c, &x, &y);
    struct mark *m = mark_add(c, MARK_TEXT);
    m->tone = (uint8_t)tone;
    m->type = (uint8_t)type;
    m->align = (uint8_t)align;
    m->size = (float)em_of(c, type);
    m->text = keep_letters(c, text);
    m->x = (float)x;
    m->y = (float)y;
    return m;
}

double canvas_text(struct canvas *c, double x, double y, enum type type, enum tone tone,
                   enum align align, const char *text)
{
    struct mark *m = text_mark(c, x, y, type, tone, align, text);
    double w, h;
    type_case_measure(c->types, type, m->size, 0, false, text, &w, &h);
    m->w = (float)w;
    m->h = (float)h;
    m->x -= align == ALIGN_CENTRE ? m->w / 2 : align == ALIGN_RIGHT ? m->w : 0;
    return w / scale_of(c);
}

double canvas_paragraph(struct canvas *c, double x, double y, double width, enum type type,
                        enum tone tone, enum align align, const char *text)
{
    struct mark *m = text_mark(c, x, y, type, tone, align, text);
    double w, h, column = width * scale_of(c);
    type_case_measure(c->types, type, m->size, column, true, text, &w, &h);
    m->w = (float)column;
    m->h = (float)h;
    m->wrap = true;
    return h / scale_of(c);
}

void canvas_text_fit(struct canvas *c, double x, double y, double width, enum type type,
                     enum tone tone, enum align align, const char *text)
{
    if (canvas_text_width(c, type, text) <= width) {
        canvas_text(c, x, y, type, tone, align, text);
        return;
    }
    double left = align == ALIGN_CENTRE ? x - width / 2 : align == ALIGN_RIGHT ? x - width : x;
    struct mark *m = text_mark(c, left, y, type, tone, ALIGN_LEFT, text);
    double w, h;
    m->w = (float)(width * scale_of(c));
    type_case_measure(c->types, type, m->size, m->w, false, text, &w, &h);
    m->h = (float)h;
    m->alpha = 0; /* cut, not broken: see paint.c */
}

void canvas_text_turned(struct canvas *c, double x, double y, enum type type, double size,
                        enum tone tone, double angle_deg, const char *text)
{
    struct mark *m = text_mark(c, x, y, type, tone, ALIGN_LEFT, text);
    double w, h;
    m->size = (float)(size * scale_of(c));
    type_case_measure(c->types, type, m->size, 0, false, text, &w, &h);
    m->w = (float)w;
    m->h = (float)h;
    m->x -= m->w / 2;
    m->y -= m->h / 2;
    m->angle_deg = (float)angle_deg;
}

double canvas_text_width(struct canvas *c, enum type type, const char *text)
{
    double w, h;
    type_case_measure(c->types, type, em_of(c, type), 0, false, text, &w, &h);
    return w / scale_of(c);
}

double canvas_text_height(struct canvas *c, enum type type, double width, const char *text)
{
    double w, h;
    type_case_measure(c->types, type, em_of(c, type), width > 0 ? width * scale_of(c) : 0,
                      width > 0, text, &w, &h);
    return h / scale_of(c);
}

double canvas_line_height(struct canvas *c, enum type type)
{
    return canvas_text_height(c, type, 0, "Xg");
}

/* ---- images and names ---- */

void canvas_image(struct canvas *c, double x, double y, double w, double h, const uint8_t *grey,
                  int columns, int rows)
{
    double s = scale_of(c);
    size_t bytes = (size_t)columns * (size_t)rows;
    canvas_to_page(c, &x, &y);
    c->image = mem_grow(c->image, &c->image_room, c->images + 1, sizeof *c->image);
    struct canvas_image *i = &c->image[c->images];
    i->grey = mem_alloc(bytes);
    memcpy(i->grey, grey, bytes);
    i->columns = columns;
    i->rows = rows;
    struct mark *m = mark_add(c, MARK_IMAGE);
    m->image = (uint32_t)c->images++;
    m->x = (float)x;
    m->y = (float)y;
    m->w = (float)(w * s);
    m->h = (float)(h * s);
}

void canvas_name(struct canvas *c, double x, double y, double w, double h, const char *name)
{
    double s = scale_of(c);
    canvas_to_page(c, &x, &y);
    struct mark *m = mark_add(c, MARK_NAME);
    m->text = keep_letters(c, name);
    m->x = (float)x;
    m->y = (float)y;
    m->w = (float)(w * s);
    m->h = (float)(h * s);
}

/* ---- reading ---- */

const char *canvas_letters(const struct canvas *c, const struct mark *m)
{
    return m->kind == MARK_TEXT || m->kind == MARK_NAME ? c->letters + m->text : "";
}

const struct mark *canvas_find_text(const struct canvas *c, const char *part)
{
    for (size_t i = 0; i < c->marks; i++)
        if (c->mark[i].kind == MARK_TEXT && strstr(canvas_letters(c, &c->mark[i]), part))
            return &c->mark[i];
    return NULL;
}

const struct mark *canvas_find_name(const struct canvas *c, const char *name)
{
    for (size_t i = 0; i < c->marks; i++)
        if (c->mark[i].kind == MARK_NAME && strcmp(canvas_letters(c, &c->mark[i]), name) == 0)
            return &c->mark[i];
    return NULL;
}

size_t canvas_count_tone(const struct canvas *c, enum tone tone)
{
    size_t n = 0;
    for (size_t i = 0; i < c->marks; i++)
        n += c->mark[i].kind <= MARK_TEXT && c->mark[i].tone == tone;
    return n;
}

/* FNV-1a, the 64 bit variant (Fowler, Noll, Vo). */
static uint64_t stir(uint64_t h, const void *bytes, size_t n)
{
    const unsigned char *b = bytes;
    for (size_t i = 0; i < n; i++)
        h = (h ^ b[i]) * 1099511628211u;
    return h;
}

uint64_t canvas_mark_key(const struct canvas *c, const struct mark *m)
{
    struct mark shown = *m;
    shown.path = shown.path_end = shown.text = shown.image = 0;
    uint64_t h = stir(14695981039346656037u, &shown, sizeof shown);
    if (m->path_end > m->path)
        h = stir(h, c->piece + m->path, (m->path_end - m->path) * sizeof *c->piece);
    if (m->kind == MARK_TEXT) {
        const char *t = canvas_letters(c, m);
        h = stir(h, t, strlen(t));
    }
    if (m->kind == MARK_IMAGE) {
        const struct canvas_image *i = &c->image[m->image];
        h = stir(h, i->grey, (size_t)i->columns * (size_t)i->rows);
    }
    return h;
}
