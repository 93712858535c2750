/* fig_sounder.c - hammers and what they strike: rods, tubes, bells, gongs, pipes. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "draw/plate_priv.h"

enum shape { SHAPE_ROD, SHAPE_TUBE, SHAPE_BELL, SHAPE_GONG, SHAPE_PIPE, SHAPE_COMB };

static enum shape shape_of(const struct sounder *s)
{
    static const struct { const char *word; enum shape shape; } words[] = {
        {"tube", SHAPE_TUBE}, {"bell", SHAPE_BELL}, {"ting", SHAPE_BELL}, {"tang", SHAPE_BELL},
        {"gong", SHAPE_GONG}, {"cuckoo", SHAPE_PIPE}, {"flute", SHAPE_PIPE}, {"comb", SHAPE_COMB},
    };
    for (size_t i = 0; s->voice && i < sizeof words / sizeof *words; i++)
        if (strstr(s->voice, words[i].word))
            return words[i].shape;
    return SHAPE_ROD;
}

/* Low notes are long. */
static double length_share(const struct fig *f, int i)
{
    double hz = f->clock->sounder[i].hz, low = 1e9, high = 0;
    for (int k = 0; k < f->clock->sounders; k++) {
        double v = f->clock->sounder[k].hz;
        low = v < low ? v : low;
        high = v > high ? v : high;
    }
    return high > low * 1.001 && hz > 0 ? 1 - 0.42 * (log(hz / low) / log(high / low)) : 0.85;
}

static void bell(struct fig *f, double x, double y, double r)
{
    struct canvas *c = f->c;
    canvas_begin(c);
    canvas_move(c, x - r, y + r * 0.75);
    canvas_curve_to(c, x - r * 0.62, y + r * 0.4, x - r * 0.72, y - r * 0.62, x, y - r * 0.7);
    canvas_curve_to(c, x + r * 0.72, y - r * 0.62, x + r * 0.62, y + r * 0.4, x + r, y + r * 0.75);
    canvas_curve_to(c, x + r * 0.4, y + r * 0.9, x - r * 0.4, y + r * 0.9, x - r, y + r * 0.75);
    canvas_close(c);
    fig_solid(f, 0.35);
    fig_place(f, x, y, x, y, r);
    fig_pivot(f, x, y - r * 0.74, 4);
}

static void gong(struct fig *f, double x, double y, double r)
{
    canvas_begin(f->c);
    for (int i = 0; i <= 150; i++) {
        struct pt p = polar(x, y, r * (0.25 + 0.75 * i / 150.0), i * 7.2);
        canvas_line_to(f->c, p.x, p.y);
    }
    fig_line(f, WEIGHT_BOLD);
    fig_place(f, x, y, x, y, r);
    fig_disc(f, x, y, r * 0.2, 0.6);
}

static void pipe_and_bellows(struct fig *f, double x, double y, double h, double lift)
{
    fig_part(f, PART_SOUNDER);
    fig_bar(f, x - 11, y, 22, h * 0.6, 2, 0.25);
    fig_bar(f, x - 8, y + 12, 16, 7, 1, 0.9);
    fig_part(f, PART_BELLOWS);
    double open = 6 + 22 * lift, top = y + h * 0.66;
    for (int i = 0; i < 4; i++) {
        double yy = top + open * i / 3;
        canvas_begin(f->c);
        canvas_move(f->c, x - 22, yy);
        canvas_line_to(f->c, x + 22, yy);
        fig_line(f, WEIGHT_FINE);
    }
    fig_bar(f, x - 24, top - 4, 48, 5, 1, 0.4);
    fig_bar(f, x - 24, top + open, 48, 5, 1, 0.4);
}

/* Waves beside what rings. */
static void waves(struct fig *f, double x, double y, double ring)
{
    for (int i = 0; i < 3 && ring > 0.08 + i * 0.25; i++) {
        canvas_begin(f->c);
        canvas_arc(f->c, x - 6, y, 12 + i * 6, 60, 120);
        canvas_stroke(f->c, TONE_INK, WEIGHT_FINE);
    }
}

static void hammer(struct fig *f, double x, double y, double reach, double lift)
{
    const struct pt stud = {x - 22, y + reach};
    double deg = -3 - lift * 17;
    struct pt head = turned((struct pt){x - 5, y}, stud.x, stud.y, deg);
    struct pt tail = turned((struct pt){stud.x + 2, stud.y + 20}, stud.x, stud.y, deg);
    struct pt back = turned((struct pt){x - 22, y}, stud.x, stud.y, deg);
    fig_part(f, PART_RETURN_SPRING);
    fig_spring(f, stud.x + 3, stud.y + 17, stud.x + 17, stud.y + 26, 4, 2.4);
    fig_part(f, PART_HAMMER);
    fig_lever(f, stud.x, stud.y, 7, (head.x + back.x) / 2, (head.y + back.y) / 2, 4);
    fig_lever(f, stud.x, stud.y, 7, tail.x, tail.y, 5);
    fig_lever(f, back.x, back.y, 11, head.x, head.y, 13);
    fig_pivot(f, stud.x, stud.y, 3.6);
}

static void sounder(struct fig *f, int i, double x, double h, double each, bool stagger)
{
    enum shape shape = shape_of(&f->clock->sounder[i]);
    f->sounder = i;
    double share = length_share(f, i), long_h = (h - 70) * share, hit = h * 0.42;
    double r = 24 + 14 * share;
    r = r > each * 0.33 ? each * 0.33 : r;
    fig_part(f, PART_SOUNDER);
    switch (shape) {
    case SHAPE_ROD: fig_bar(f, x + 6, 16, 5, long_h, 2, 0.5); break;
    case SHAPE_TUBE: fig_bar(f, x + 4, 16, 13, long_h, 2, 0.35); break;
    case SHAPE_BELL: bell(f, x + r - 4, hit - 8, r); break;
    case SHAPE_GONG: gong(f, x + 26, hit, 34); break;
    case SHAPE_PIPE: pipe_and_bellows(f, x, 24 + 40 * (1 - share), h - 60, f->pose->hammer[i]); break;
    default: fig_bar(f, x + 4, 30, 6, long_h * 0.5, 1, 0.3); break;
    }
    if (shape != SHAPE_PIPE && shape != SHAPE_COMB)
        hammer(f, x + (shape == SHAPE_BELL ? -8 : shape == SHAPE_GONG ? -3 : 4), hit, h * 0.36,
               f->pose->hammer[i]);
    waves(f, x + 16, hit - 26, f->pose->ring[i]);
    const char *name = f->clock->sounder[i].name ? f->clock->sounder[i].name : "";
    f->sounder = -1;
    fig_lettering(f, x - 2, h - (stagger && i % 2 ? -4 : 10), ALIGN_CENTRE, name);
}

void fig_sounders(struct fig *f, double w, double h)
{
    int n = f->clock->sounders;
    if (n < 1)
        return;
    double each = w / (n + 0.6);
    each = each > 100 ? 100 : each;
    double left = (w - each * n) / 2 + each * 0.55;
    if (shape_of(&f->clock->sounder[0]) == SHAPE_ROD || shape_of(&f->clock->sounder[0]) == SHAPE_TUBE) {
        fig_part(f, PART_SOUNDER);
        fig_bar(f, left - 12, 2, each * (n - 1) + 34, 16, 2, 0.7);
    }
    double widest = 0;
    for (int i = 0; i < n; i++) {
        double text = f->clock->sounder[i].name ? fig_lettering_width(f, f->clock->sounder[i].name) : 0;
        widest = text > widest ? text : widest;
    }
    for (int i = 0; i < n; i++)
        sounder(f, i, left + each * i, h, each, widest > each - 4);
}
