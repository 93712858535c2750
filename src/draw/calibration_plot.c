#include "draw/calibration_plot.h"

#include <math.h>
#include <stdio.h>

#define Z_90 1.645 /* 5 % on either side of a normal */

void calibration_interval(const struct calibration_point *p, double *low, double *high)
{
    double n = p->count, k = n * p->held, z2 = Z_90 * Z_90;
    double half = n > 0 ? Z_90 * sqrt(k * (n - k) / n + z2 / 4) : z2 / 2;
    *low = fmax(0, (k + z2 / 2 - half) / (n + z2));
    *high = fmin(1, (k + z2 / 2 + half) / (n + z2));
}

struct square {
    double x, y, size; /* of the field inside the axes */
};

static double across(const struct square *s, double share)
{
    return s->x + share * s->size;
}

static double up(const struct square *s, double share)
{
    return s->y + (1 - share) * s->size;
}

static void axes(struct canvas *c, const struct square *s)
{
    double line = canvas_line_height(c, TYPE_LABEL);
    canvas_box(c, s->x, s->y, s->size, s->size, 0, TONE_CARD, TONE_INK, WEIGHT_LINE);
    for (int i = 0; i <= 4; i++) {
        char n[8];
        double share = i / 4.0;
        snprintf(n, sizeof n, "%d", i * 25);
        if (i > 0 && i < 4) {
            canvas_rule(c, across(s, share), s->y, across(s, share), s->y + s->size, TONE_FAINT, WEIGHT_HAIR);
            canvas_rule(c, s->x, up(s, share), s->x + s->size, up(s, share), TONE_FAINT, WEIGHT_HAIR);
        }
        canvas_text(c, across(s, share), s->y + s->size + 4, TYPE_LABEL, TONE_SOFT, ALIGN_CENTRE, n);
        canvas_text(c, s->x - 5, up(s, share) - line / 2, TYPE_LABEL, TONE_SOFT, ALIGN_RIGHT, n);
    }
    canvas_begin(c);
    canvas_move(c, s->x, s->y + s->size);
    canvas_line_to(c, s->x + s->size, s->y);
    canvas_dash(c, TONE_SOFT, WEIGHT_FINE);
}

static void point_draw(struct canvas *c, const struct square *s, const struct calibration_point *p, unsigned most)
{
    double low, high, x = across(s, p->said), r = 3 + 6 * sqrt((double)p->count / most);
    calibration_interval(p, &low, &high);
    canvas_rule(c, x, up(s, low), x, up(s, high), TONE_INK, WEIGHT_LINE);
    canvas_rule(c, x - 3, up(s, low), x + 3, up(s, low), TONE_INK, WEIGHT_LINE);
    canvas_rule(c, x - 3, up(s, high), x + 3, up(s, high), TONE_INK, WEIGHT_LINE);
    canvas_begin(c);
    canvas_arc(c, x, up(s, p->held), r, 0, 360);
    canvas_fill(c, TONE_CARD, 1);
    canvas_hatch(c, TONE_INK, WEIGHT_FINE, 45, 2.6);
    canvas_stroke(c, TONE_INK, WEIGHT_LINE);
}

void calibration_plot_draw(struct canvas *c, double x, double y, double size,
                           const struct calibration_point *point, size_t points)
{
    double line = canvas_line_height(c, TYPE_LABEL), left = canvas_text_width(c, TYPE_LABEL, "100") + 8;
    double foot = 2 * line + 8;
    unsigned most = 1;
    struct square s = {x + left, y + line + 4, size - fmax(left, foot) - line - 4};
    canvas_text(c, x, y, TYPE_LABEL, TONE_SOFT, ALIGN_LEFT, "FOUND, %");
    axes(c, &s);
    canvas_text(c, s.x + s.size, s.y + s.size + 6 + line, TYPE_LABEL, TONE_SOFT, ALIGN_RIGHT, "PROMISED, %");
    for (size_t i = 0; i < points; i++)
        most = point[i].count > most ? point[i].count : most;
    for (size_t i = 0; i < points; i++)
        if (point[i].count > 0)
            point_draw(c, &s, &point[i], most);
}
