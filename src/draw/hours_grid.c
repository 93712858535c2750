#include "draw/hours_grid.h"

#include <stdio.h>

static bool row_sounds(const struct hours_grid *g, int q)
{
    for (int h = 0; h < 12; h++)
        if (g->cell[h][q].sounds)
            return true;
    return false;
}

double hours_grid_place(struct hours_grid *g, struct canvas *c, double x, double y, double width)
{
    double text = canvas_line_height(c, TYPE_UI_BOLD), small = canvas_line_height(c, TYPE_LABEL);
    double sum = canvas_line_height(c, TYPE_NUMERAL) + 8; /* names of the hours, below */
    g->label_w = canvas_text_width(c, TYPE_NUMERAL, ":45") + 12;
    g->x = x;
    g->y = y;
    g->column_w = (width - g->label_w) / 12;
    for (int q = 0; q < GRID_ROWS; q++) {
        bool there = q == 0 || row_sounds(g, q);
        g->row_h[q] = !there ? 0 : q == 0 ? text + small + 14 : text + 10;
        sum += g->row_h[q];
    }
    return sum;
}

static double top_of(const struct hours_grid *g, int quarter)
{
    double y = g->y;
    for (int q = 0; q < quarter; q++)
        y += g->row_h[q];
    return y;
}

bool hours_grid_cell(const struct hours_grid *g, int hour, int quarter, double box[4])
{
    if (g->row_h[quarter] <= 0)
        return false;
    box[0] = g->x + g->label_w + hour * g->column_w;
    box[1] = top_of(g, quarter);
    box[2] = g->column_w;
    box[3] = g->row_h[quarter];
    return true;
}

bool hours_grid_at(const struct hours_grid *g, double x, double y, int *hour, int *quarter)
{
    for (int h = 0; h < 12; h++)
        for (int q = 0; q < GRID_ROWS; q++) {
            double b[4];
            if (hours_grid_cell(g, h, q, b) && x >= b[0] && x < b[0] + b[2] && y >= b[1] &&
                y < b[1] + b[3]) {
                *hour = h;
                *quarter = q;
                return true;
            }
        }
    return false;
}

static void corner_mark(struct canvas *c, const double b[4])
{
    const double t[3][2] = {{b[0] + b[2] - 10, b[1] + 1}, {b[0] + b[2] - 1, b[1] + 1},
                            {b[0] + b[2] - 1, b[1] + 10}};
    canvas_begin(c);
    canvas_polygon(c, t, 3);
    canvas_fill(c, TONE_ACCENT, 1);
}

static void cell_ground(struct canvas *c, const struct hours_cell *k, const double b[4])
{
    canvas_begin(c);
    canvas_rect(c, b[0] + 1, b[1] + 1, b[2] - 2, b[3] - 2, 2);
    if (!k->sounds) {
        canvas_hatch(c, TONE_FAINT, WEIGHT_HAIR, 45, 5);
        return;
    }
    canvas_fill(c, k->state == CELL_DIFFERS ? TONE_WASH : k->pointed ? TONE_SHADE : TONE_CARD, 1);
    if (k->state == CELL_DIFFERS)
        canvas_hatch(c, TONE_ACCENT, WEIGHT_HAIR, 135, 5);
    canvas_stroke(c, k->state == CELL_DIFFERS ? TONE_ACCENT : TONE_FAINT,
                  k->state == CELL_DIFFERS ? WEIGHT_LINE : WEIGHT_FINE);
    if (k->state == CELL_DIFFERS)
        corner_mark(c, b);
}

static void focus_ring(struct canvas *c, const double b[4])
{
    canvas_begin(c);
    canvas_rect(c, b[0] - 1, b[1] - 1, b[2] + 2, b[3] + 2, 4);
    canvas_stroke(c, TONE_INK, WEIGHT_BOLD);
}

static void cell_draw(struct canvas *c, const struct hours_cell *k, const double b[4], bool hour)
{
    double big = canvas_line_height(c, TYPE_UI_BOLD), small = canvas_line_height(c, TYPE_LABEL);
    double mid = b[0] + b[2] / 2, y = hour ? b[1] + 5 : b[1] + (b[3] - big) / 2;
    cell_ground(c, k, b);
    if (!k->sounds)
        return;
    bool narrow = canvas_text_width(c, TYPE_UI_BOLD, k->heard) > b[2] - 4;
    if (narrow)
        canvas_text_fit(c, mid, y + 2, b[2] - 4, TYPE_LABEL, k->state == CELL_DIFFERS ? TONE_ACCENT : TONE_INK,
                        ALIGN_CENTRE, k->heard);
    else if (k->heard[0])
        canvas_text(c, mid, y, TYPE_UI_BOLD, k->state == CELL_DIFFERS ? TONE_ACCENT : TONE_INK,
                    ALIGN_CENTRE, k->heard);
    else if (!hour)
        canvas_text(c, mid, y, TYPE_SMALL, TONE_SOFT, ALIGN_CENTRE, k->due);
    if (hour && k->due[0])
        canvas_text(c, mid, b[1] + b[3] - small - 4, TYPE_LABEL, TONE_SOFT, ALIGN_CENTRE, k->due);
    if (k->focused)
        focus_ring(c, b);
}

void hours_grid_draw(const struct hours_grid *g, struct canvas *c)
{
    static const char *const minute[GRID_ROWS] = {":00", ":15", ":30", ":45"};
    double b[4] = {0}, num = canvas_line_height(c, TYPE_NUMERAL);
    for (int q = 0; q < GRID_ROWS; q++) {
        for (int h = 0; h < 12 && g->row_h[q] > 0; h++) {
            char name[32];
            hours_grid_cell(g, h, q, b);
            cell_draw(c, &g->cell[h][q], b, q == 0);
            snprintf(name, sizeof name, "cell-%d:%02d", h ? h : 12, q * 15);
            canvas_name(c, b[0], b[1], b[2], b[3], name);
        }
        if (g->row_h[q] > 0)
            canvas_text(c, g->x + g->label_w - 8, top_of(g, q) + (g->row_h[q] - num) / 2, TYPE_NUMERAL,
                        TONE_SOFT, ALIGN_RIGHT, minute[q]);
    }
    for (int h = 0; h < 12; h++) {
        char n[12];
        snprintf(n, sizeof n, "%d", h ? h : 12);
        hours_grid_cell(g, h, 0, b);
        canvas_text(c, b[0] + b[2] / 2, top_of(g, GRID_ROWS) + 4, TYPE_NUMERAL, TONE_SOFT,
                    ALIGN_CENTRE, n);
    }
}
