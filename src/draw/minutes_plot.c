#include "draw/minutes_plot.h"

#include <math.h>
#include <stdio.h>

static const char *const initial[MINUTES_MONTHS] = {"J", "F", "M", "A", "M", "J",
                                                    "J", "A", "S", "O", "N", "D"};

/* 1, 2 or 5 times a power of ten, at least `x`. */
static double round_up(double x)
{
    double power = pow(10, floor(log10(fmax(x, 1)))), lead = x / power;
    return (lead <= 1 ? 1 : lead <= 2 ? 2 : lead <= 5 ? 5 : 10) * power;
}

struct scale {
    double zero_y, per_min;
};

static void column(struct canvas *c, const struct scale *s, double x, double w, double minutes, bool hatched)
{
    double h = minutes * s->per_min;
    if (fabs(h) < 0.5)
        return;
    canvas_begin(c);
    canvas_rect(c, x, h > 0 ? s->zero_y - h : s->zero_y, w, fabs(h), 0);
    canvas_fill(c, TONE_CARD, 1);
    if (hatched)
        canvas_hatch(c, TONE_INK, WEIGHT_FINE, 45, 3);
    canvas_stroke(c, TONE_INK, WEIGHT_FINE);
}

static void guide(struct canvas *c, const struct scale *s, double left, double right, double minutes)
{
    char n[24];
    double y = s->zero_y - minutes * s->per_min;
    snprintf(n, sizeof n, "%.0f", minutes);
    canvas_rule(c, left, y, right, y, TONE_FAINT, WEIGHT_HAIR);
    canvas_text(c, left - 5, y - canvas_line_height(c, TYPE_LABEL) / 2, TYPE_LABEL, TONE_SOFT, ALIGN_RIGHT, n);
}

static void key(struct canvas *c, double x, double y)
{
    double line = canvas_line_height(c, TYPE_LABEL);
    struct scale s = {y + line - 2, 1};
    column(c, &s, x, 10, line - 4, true);
    x += 15 + canvas_text(c, x + 15, y, TYPE_LABEL, TONE_SOFT, ALIGN_LEFT, "SPENT") + 16;
    column(c, &s, x, 10, line - 4, false);
    canvas_text(c, x + 15, y, TYPE_LABEL, TONE_SOFT, ALIGN_LEFT, "SAVED");
}

void minutes_plot_draw(struct canvas *c, double x, double y, double w, double h,
                       const struct minutes_month month[MINUTES_MONTHS])
{
    double most = 10, least = 0, line = canvas_line_height(c, TYPE_LABEL);
    for (int m = 0; m < MINUTES_MONTHS; m++) {
        most = fmax(most, fmax(month[m].spent, month[m].saved));
        least = fmin(least, month[m].saved);
    }
    most = round_up(most);
    least = least < 0 ? -round_up(-least) : 0;
    double top = y + line + 8, foot = line + 6, left = x + canvas_text_width(c, TYPE_LABEL, "00000") + 6;
    struct scale s = {.per_min = (y + h - foot - top) / (most - least)};
    s.zero_y = top + most * s.per_min;
    key(c, left, y);
    guide(c, &s, left, x + w, most);
    guide(c, &s, left, x + w, most / 2);
    if (least < 0)
        guide(c, &s, left, x + w, least);
    double each = (x + w - left) / MINUTES_MONTHS, bar = each * 0.34;
    for (int m = 0; m < MINUTES_MONTHS; m++) {
        double mid = left + (m + 0.5) * each;
        column(c, &s, mid - bar - 1, bar, month[m].spent, true);
        column(c, &s, mid + 1, bar, month[m].saved, false);
        canvas_text(c, mid, y + h - line, TYPE_LABEL, TONE_SOFT, ALIGN_CENTRE, initial[m]);
    }
    canvas_rule(c, left, s.zero_y, x + w, s.zero_y, TONE_INK, WEIGHT_LINE);
}
