#include "draw/spectro.h"

#include <math.h>
#include <stdio.h>

#include "mem.h"

static void picture(struct canvas *c, double x, double y, double w, double h,
                    const struct spectro *s)
{
    uint8_t *grey = mem_alloc((size_t)s->columns * (size_t)s->rows);
    double floor_db = s->floor_db < -1 ? s->floor_db : -60;
    for (int col = 0; col < s->columns; col++)
        for (int row = 0; row < s->rows; row++) {
            double v = 1 - (double)s->db[col * s->rows + row] / floor_db;
            v = v < 0 ? 0 : v > 1 ? 1 : v;
            grey[(s->rows - 1 - row) * s->columns + col] = (uint8_t)lrint(255 * v * v * 0.9);
        }
    canvas_image(c, x, y, w, h, grey, s->columns, s->rows);
    mem_free(grey);
}

static double nice_step(double span, int most)
{
    static const double steps[] = {0.5, 1, 2, 5, 10, 20, 30, 60, 120, 300, 600, 1800};
    for (size_t i = 0; i < sizeof steps / sizeof *steps; i++)
        if (span / steps[i] <= most)
            return steps[i];
    return 3600;
}

static void time_axis(struct canvas *c, double x, double y, double w, double length_s)
{
    double step = nice_step(length_s, (int)(w / 70) > 1 ? (int)(w / 70) : 1);
    for (double t = 0; t <= length_s; t += step) {
        char n[24];
        double tx = x + w * t / length_s;
        snprintf(n, sizeof n, step < 1 ? "%.1f s" : "%.0f s", t);
        canvas_rule(c, tx, y, tx, y + 4, TONE_SOFT, WEIGHT_FINE);
        canvas_text(c, tx + 2, y + 4, TYPE_SMALL, TONE_SOFT, ALIGN_LEFT, n);
    }
}

static void pitch_axis(struct canvas *c, double x, double y, double h, double high_hz)
{
    double step = high_hz > 5000 ? 2000 : high_hz > 2000 ? 1000 : 500;
    for (double f = step; f < high_hz; f += step) {
        char n[24];
        double fy = y + h * (1 - f / high_hz);
        snprintf(n, sizeof n, "%.0f Hz", f);
        canvas_rule(c, x, fy, x + 5, fy, TONE_SOFT, WEIGHT_FINE);
        canvas_text(c, x + 8, fy - 8, TYPE_SMALL, TONE_SOFT, ALIGN_LEFT, n);
    }
}

/* `written`: there is room for its name. */
static void name_blow(struct canvas *c, double x, double y, double h, const struct spectro_blow *b, bool written)
{
    double th = canvas_line_height(c, TYPE_UI_BOLD);
    canvas_begin(c);
    canvas_move(c, x, y);
    canvas_line_to(c, x, y + h);
    if (b->sure < 0.6)
        canvas_dash(c, b->suspect ? TONE_ACCENT : TONE_INK, WEIGHT_FINE);
    else
        canvas_stroke(c, b->suspect ? TONE_ACCENT : TONE_INK,
                      b->suspect ? WEIGHT_LINE : WEIGHT_HAIR);
    if (written)
        canvas_text(c, x, y - th - (b->suspect ? 6 : 2), TYPE_UI_BOLD,
                    b->suspect ? TONE_ACCENT : TONE_INK, ALIGN_CENTRE, b->name);
    if (b->suspect)
        canvas_rule(c, x - 5, y - 4, x + 5, y - 4, TONE_ACCENT, WEIGHT_HEAVY);
}

void spectro_draw(struct canvas *c, double x, double y, double w, double h,
                  const struct spectro *s)
{
    double top = canvas_line_height(c, TYPE_UI_BOLD) + 8, foot = 24, inner = h - top - foot;
    double length_s = s->columns * s->column_s;
    canvas_box(c, x, y + top, w, inner, 0, TONE_CARD, TONE_FAINT, WEIGHT_FINE);
    if (s->columns < 1 || s->rows < 1 || length_s <= 0)
        return;
    picture(c, x, y + top, w, inner, s);
    canvas_begin(c);
    canvas_rect(c, x, y + top, w, inner, 0);
    canvas_stroke(c, TONE_INK, WEIGHT_FINE);
    time_axis(c, x, y + top + inner, w, length_s);
    pitch_axis(c, x, y + top, inner, s->rows * s->row_hz);
    double free_from = x - w; /* names do not run into each other; what is suspect is named all the same */
    for (size_t i = 0; i < s->blows; i++) {
        double at = x + w * s->blow[i].t_s / length_s, half = canvas_text_width(c, TYPE_UI_BOLD, s->blow[i].name) / 2;
        bool written = s->blow[i].suspect || at - half >= free_from;
        name_blow(c, at, y + top, inner, &s->blow[i], written);
        free_from = written ? at + half : free_from;
    }
}

void spectro_level(struct canvas *c, double x, double y, double w, double h, double rms_db,
                   double peak_db, bool clipped)
{
    double rms = 1 + fmax(rms_db, -60) / 60, peak = 1 + fmax(peak_db, -60) / 60;
    canvas_box(c, x, y, w, h, 2, TONE_CARD, TONE_INK, WEIGHT_FINE);
    canvas_begin(c);
    canvas_rect(c, x + 2, y + 2, (w - 4) * (rms < 0 ? 0 : rms), h - 4, 1);
    canvas_hatch(c, TONE_INK, WEIGHT_LINE, 45, 3);
    double px = x + 2 + (w - 4) * (peak < 0 ? 0 : peak > 1 ? 1 : peak);
    canvas_rule(c, px, y + 1, px, y + h - 1, TONE_INK, WEIGHT_BOLD);
    if (clipped)
        canvas_text(c, x + w + 8, y + h / 2 - canvas_line_height(c, TYPE_UI_BOLD) / 2, TYPE_UI_BOLD,
                    TONE_INK, ALIGN_LEFT, "too loud");
}
