/* engrave.c - the strokes all figures are made of: solids with hatched shadow, wheels, levers. */
#include <math.h>
#include <stdio.h>

#include "draw/plate_priv.h"

struct pt polar(double x, double y, double r, double deg)
{
    double a = deg * (M_PI / 180);
    return (struct pt){x + r * sin(a), y - r * cos(a)};
}

struct pt turned(struct pt p, double x, double y, double deg)
{
    double a = deg * (M_PI / 180), dx = p.x - x, dy = p.y - y;
    return (struct pt){x + dx * cos(a) - dy * sin(a), y + dx * sin(a) + dy * cos(a)};
}

/* Is what is drawn here what this doubt is about?  Doubts about other parts do not matter. */
static bool concerns(const struct plate_doubt *d, const struct fig *f)
{
    if (d->part != f->part)
        return true;
    return (d->train < 0 || f->train < 0 || d->train == f->train) &&
           (d->sounder < 0 || f->sounder < 0 || d->sounder == f->sounder);
}

void fig_part(struct fig *f, enum plate_part part)
{
    f->part = part;
    f->belief = part == PART_NONE ? 0 : f->plate->belief[part];
    for (size_t i = 0; part != PART_NONE && i < f->plate->doubts; i++)
        if (!concerns(&f->plate->doubt[i], f))
            f->belief -= f->plate->doubt[i].p;
    f->belief = f->belief < 0 ? 0 : f->belief;
}

static bool suspect(const struct fig *f)
{
    return f->part != PART_NONE && f->belief >= PLATE_SUSPECT;
}

static bool pointed(const struct fig *f)
{
    return f->part != PART_NONE && f->part == f->plate->pointed;
}

void fig_line(struct fig *f, enum weight weight)
{
    int w = (int)weight + (suspect(f) ? 1 : 0) + (pointed(f) ? 1 : 0);
    canvas_stroke(f->c, suspect(f) ? TONE_ACCENT : TONE_INK,
                  w > WEIGHT_HEAVY ? WEIGHT_HEAVY : (enum weight)w);
}

/* Light falls from the upper left: deeper shapes carry closer lines.  A suspect's hatch is laid
 * the other way, in the accent, and closes up with belief. */
void fig_solid(struct fig *f, double depth)
{
    canvas_fill(f->c, TONE_CARD, 1);
    if (suspect(f)) {
        double gap = 6.5 - 4.5 * sqrt(f->belief);
        canvas_fill(f->c, TONE_WASH, 0.4 + 0.6 * sqrt(f->belief));
        canvas_hatch(f->c, TONE_ACCENT, f->belief > 0.3 ? WEIGHT_LINE : WEIGHT_FINE, 135,
                     gap < 2.2 ? 2.2 : gap);
    } else if (depth > 0) {
        canvas_hatch(f->c, TONE_INK, WEIGHT_HAIR, 45, 5.2 - 2.9 * depth);
        if (depth > 0.75)
            canvas_hatch(f->c, TONE_INK, WEIGHT_HAIR, 135, 4);
    }
    fig_line(f, WEIGHT_FINE);
}

void fig_place(struct fig *f, double x1, double y1, double x2, double y2, double r)
{
    struct plate *p = f->plate;
    if (f->part == PART_NONE || p->places >= PLATE_PLACES)
        return;
    double edge = r, zero = 0, edge_y = 0;
    canvas_to_page(f->c, &x1, &y1);
    canvas_to_page(f->c, &x2, &y2);
    canvas_to_page(f->c, &edge, &edge_y);
    double origin_y = 0;
    canvas_to_page(f->c, &zero, &origin_y);
    p->place[p->places++] = (struct plate_place){f->part,    (float)x1, (float)y1,
                                                 (float)x2, (float)y2, (float)(edge - zero),
                                                 (float)f->belief};
}

/* Text that is at least 11 points high however small the plate. */
static double readable(const struct fig *f, double size)
{
    double zero = 0, one = 1, y = 0;
    canvas_to_page(f->c, &zero, &y);
    y = 0;
    canvas_to_page(f->c, &one, &y);
    double scale = one - zero, least = 12 * (f->c->ink.text > 0 ? f->c->ink.text : 1);
    return size * scale < least ? least / scale : size;
}

void fig_caption(struct fig *f, double x, double y, const char *text)
{
    char full[96];
    f->number++;
    if (readable(f, 15) > 34) /* captions would run into each other */
        return;
    snprintf(full, sizeof full, "Fig. %d.  %s", f->number, text);
    canvas_text_turned(f->c, x, y, TYPE_ITALIC, readable(f, 15), TONE_SOFT, 0, full);
}

double fig_lettering_width(const struct fig *f, const char *text)
{
    return canvas_text_width(f->c, TYPE_ITALIC, text) * readable(f, 12) / ink_size(&f->c->ink, TYPE_ITALIC);
}

void fig_lettering(struct fig *f, double x, double y, enum align align, const char *text)
{
    double size = readable(f, 12), w = fig_lettering_width(f, text);
    if (size > 24) /* the plate is too small for its lettering */
        return;
    double cx = align == ALIGN_LEFT ? x + w / 2 : align == ALIGN_RIGHT ? x - w / 2 : x;
    canvas_text_turned(f->c, cx, y, TYPE_ITALIC, size, TONE_SOFT, 0, text);
}

/* ---- wheels ---- */

static void trace_teeth(struct canvas *c, double x, double y, double root, double tip, int teeth,
                        double turn_deg)
{
    double pitch = 360.0 / teeth;
    for (int i = 0; i < teeth; i++) {
        double a = turn_deg + i * pitch;
        static const double at[4] = {-0.30, -0.14, 0.14, 0.30};
        for (int k = 0; k < 4; k++) {
            struct pt p = polar(x, y, k == 0 || k == 3 ? root : tip, a + at[k] * pitch);
            canvas_line_to(c, p.x, p.y);
        }
    }
    canvas_close(c);
}

static void spoke(struct fig *f, double x, double y, double r0, double r1, double deg, double w)
{
    struct pt a = polar(x, y, r0, deg), b = polar(x, y, r1, deg);
    struct pt n = polar(0, 0, w / 2, deg + 90);
    canvas_begin(f->c);
    canvas_move(f->c, a.x + n.x, a.y + n.y);
    canvas_line_to(f->c, b.x + n.x * 0.8, b.y + n.y * 0.8);
    canvas_line_to(f->c, b.x - n.x * 0.8, b.y - n.y * 0.8);
    canvas_line_to(f->c, a.x - n.x, a.y - n.y);
    canvas_fill(f->c, TONE_CARD, 1);
    fig_line(f, WEIGHT_HAIR);
}

/* The shaded lower right of a rim. */
void fig_shadow(struct fig *f, double x, double y, double inner, double outer)
{
    if (suspect(f))
        return;
    canvas_begin(f->c);
    canvas_arc(f->c, x, y, outer, 75, 215);
    canvas_arc(f->c, x, y, inner, 215, 75);
    canvas_close(f->c);
    canvas_hatch(f->c, TONE_INK, WEIGHT_HAIR, 45, 2.6);
}

void fig_wheel(struct fig *f, double x, double y, double r, int teeth, double turn_deg, int spokes)
{
    struct canvas *c = f->c;
    double tooth = r > 30 ? 4.5 : 3.2, rim = r > 30 ? 7 : 5;
    int n = teeth > 0 ? teeth : (int)(r * 1.6);
    n = n > (int)(r * 2.2) ? (int)(r * 2.2) : n;
    canvas_begin(c);
    trace_teeth(c, x, y, r - tooth, r, n < 8 ? 8 : n, turn_deg);
    fig_solid(f, 0);
    fig_shadow(f, x, y, r - tooth - rim, r - tooth);
    if (spokes > 0) {
        canvas_begin(c);
        canvas_arc(c, x, y, r - tooth - rim, 0, 360);
        canvas_fill(c, TONE_PAPER, 1);
        fig_line(f, WEIGHT_HAIR);
        for (int i = 0; i < spokes; i++)
            spoke(f, x, y, 3, r - tooth - rim + 0.6, turn_deg + i * 360.0 / spokes, r * 0.13 + 2);
    }
    fig_disc(f, x, y, r * 0.16 + 2, 0);
    fig_place(f, x, y, x, y, r);
}

void fig_pinion(struct fig *f, double x, double y, double r, int leaves, double turn_deg)
{
    canvas_begin(f->c);
    trace_teeth(f->c, x, y, r * 0.62, r, leaves > 4 ? leaves : 7, turn_deg);
    fig_solid(f, 0.6);
    fig_place(f, x, y, x, y, r);
}

void fig_disc(struct fig *f, double x, double y, double r, double depth)
{
    canvas_begin(f->c);
    canvas_arc(f->c, x, y, r, 0, 360);
    fig_solid(f, depth);
    fig_place(f, x, y, x, y, r);
}

void fig_pivot(struct fig *f, double x, double y, double r)
{
    canvas_disc(f->c, x, y, r, TONE_CARD, TONE_INK, WEIGHT_FINE);
    canvas_rule(f->c, x - r * 0.62, y + r * 0.62, x + r * 0.62, y - r * 0.62, TONE_INK,
                WEIGHT_LINE);
}

/* ---- levers and bars ---- */

void fig_lever(struct fig *f, double x1, double y1, double w1, double x2, double y2, double w2)
{
    double deg = atan2(x2 - x1, -(y2 - y1)) * (180 / M_PI);
    canvas_begin(f->c);
    canvas_arc(f->c, x1, y1, w1 / 2, deg + 90, deg + 270);
    canvas_arc(f->c, x2, y2, w2 / 2, deg + 270, deg + 450);
    canvas_close(f->c);
    fig_solid(f, 0.25);
    fig_place(f, x1, y1, x2, y2, (w1 > w2 ? w1 : w2) / 2 + 1.5);
}

void fig_bar(struct fig *f, double x, double y, double w, double h, double round, double depth)
{
    canvas_begin(f->c);
    canvas_rect(f->c, x, y, w, h, round);
    fig_solid(f, depth);
    if (w < h)
        fig_place(f, x + w / 2, y + w / 2, x + w / 2, y + h - w / 2, w / 2 + 1);
    else
        fig_place(f, x + h / 2, y + h / 2, x + w - h / 2, y + h / 2, h / 2 + 1);
}

void fig_spring(struct fig *f, double x1, double y1, double x2, double y2, int turns, double wide)
{
    double dx = x2 - x1, dy = y2 - y1, n = hypot(dx, dy);
    if (n < 1e-6)
        return;
    double px = -dy / n * wide, py = dx / n * wide;
    canvas_begin(f->c);
    canvas_move(f->c, x1, y1);
    for (int i = 0; i < turns * 2; i++) {
        double s = (i + 0.5) / (turns * 2), side = i % 2 ? 1 : -1;
        canvas_line_to(f->c, x1 + dx * s + px * side, y1 + dy * s + py * side);
    }
    canvas_line_to(f->c, x2, y2);
    fig_line(f, WEIGHT_FINE);
    fig_place(f, x1, y1, x2, y2, wide + 2);
}

/* A brass weight: shading closes towards both edges. */
void fig_weight(struct fig *f, double x, double y, double w, double h)
{
    canvas_begin(f->c);
    canvas_rect(f->c, x - w / 2, y, w, h, 3);
    fig_solid(f, 0);
    if (!suspect(f))
        for (int i = 0; i < 9; i++) {
            double s = (double)i / 9, e = w / 2 * (1 - s * s * 0.55);
            canvas_rule(f->c, x + e - 1.2, y + 3, x + e - 1.2, y + h - 3, TONE_INK, WEIGHT_HAIR);
            if (i < 4)
                canvas_rule(f->c, x - e + 1.2, y + 3, x - e + 1.2, y + h - 3, TONE_INK,
                            WEIGHT_HAIR);
        }
    for (int i = 0; i < 2; i++) {
        double yy = i ? y + h - 6 : y + 6;
        canvas_rule(f->c, x - w / 2, yy, x + w / 2, yy, TONE_INK, WEIGHT_FINE);
    }
    fig_place(f, x, y + w / 2, x, y + h - w / 2, w / 2);
}

/* A spring barrel with its lid off: coils lie at the arbor when wound, at the wall when down. */
void fig_barrel(struct fig *f, double x, double y, double r, double wound)
{
    const int coils = 7;
    double wall = r - 5, heart = r * 0.2;
    fig_wheel(f, x, y, r, 0, 0, 0);
    canvas_begin(f->c);
    canvas_arc(f->c, x, y, wall - 4, 0, 360);
    canvas_fill(f->c, TONE_PAPER, 1);
    fig_line(f, WEIGHT_HAIR);
    canvas_begin(f->c);
    for (int i = 0; i <= coils * 24; i++) {
        double s = (double)i / (coils * 24);
        double bend = pow(s, 0.35 + 1.9 * wound);
        struct pt p = polar(x, y, heart + (wall - 5 - heart) * bend, s * coils * 360);
        canvas_line_to(f->c, p.x, p.y);
    }
    fig_line(f, WEIGHT_FINE);
    fig_disc(f, x, y, heart, 0.5);
}
