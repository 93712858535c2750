#include "draw/year_plot.h"

#include <math.h>
#include <stdio.h>

static const char *const initial[YEAR_MONTHS] = {"J", "F", "M", "A", "M", "J",
                                                 "J", "A", "S", "O", "N", "D"};

struct frame {
    double x, y, label_w, column_w, total_w, line_h;
    unsigned most; /* in one cell */
};

static double middle_of(const struct frame *f, int month)
{
    return f->x + f->label_w + (month + 0.5) * f->column_w;
}

/* A disc for the number; discs of one plate compare by area. */
static void cell(struct canvas *c, const struct frame *f, int month, double y, unsigned count)
{
    double room = fmin(f->column_w, f->line_h) / 2 - 1, mid = y + f->line_h / 2;
    if (count == 0) {
        canvas_disc(c, middle_of(f, month), mid, 1, TONE_FAINT, TONE_FAINT, WEIGHT_HAIR);
        return;
    }
    double r = fmax(2.5, room * sqrt((double)count / f->most));
    canvas_begin(c);
    canvas_arc(c, middle_of(f, month), mid, r, 0, 360);
    canvas_fill(c, TONE_CARD, 1);
    canvas_hatch(c, TONE_INK, WEIGHT_FINE, 45, 3);
    canvas_stroke(c, TONE_INK, WEIGHT_FINE);
}

static void line(struct canvas *c, const struct frame *f, double y, const struct year_part *p)
{
    char all[16];
    double text = y + (f->line_h - canvas_line_height(c, TYPE_SMALL)) / 2;
    snprintf(all, sizeof all, "%u", p->all);
    canvas_rule(c, f->x, y + f->line_h, f->x + f->label_w + 12 * f->column_w + f->total_w, y + f->line_h,
                TONE_FAINT, WEIGHT_HAIR);
    canvas_text_fit(c, f->x, text, f->label_w - 10, TYPE_SMALL, TONE_INK, ALIGN_LEFT,
                    p->name[0] ? p->name : "no part written down");
    for (int m = 0; m < YEAR_MONTHS; m++)
        cell(c, f, m, y, p->month[m]);
    canvas_text(c, f->x + f->label_w + 12 * f->column_w + f->total_w, text, TYPE_NUMERAL, TONE_INK,
                ALIGN_RIGHT, all);
}

static struct year_part rest_of(const struct year_part *part, size_t parts)
{
    struct year_part rest = {.name = "all other parts"};
    for (size_t i = YEAR_LINES; i < parts; i++) {
        for (int m = 0; m < YEAR_MONTHS; m++)
            rest.month[m] += part[i].month[m];
        rest.all += part[i].all;
    }
    return rest;
}

static unsigned most_of(const struct year_part *part, size_t lines, const struct year_part *rest)
{
    unsigned most = 1;
    for (int m = 0; m < YEAR_MONTHS; m++) {
        for (size_t i = 0; i < lines; i++)
            most = part[i].month[m] > most ? part[i].month[m] : most;
        most = rest->month[m] > most ? rest->month[m] : most;
    }
    return most;
}

double year_plot_draw(struct canvas *c, double x, double y, double width,
                      const struct year_part *part, size_t parts)
{
    size_t lines = parts < YEAR_LINES ? parts : YEAR_LINES;
    struct year_part rest = rest_of(part, parts);
    struct frame f = {.x = x, .y = y, .most = most_of(part, lines, &rest)};
    double small = canvas_line_height(c, TYPE_LABEL), top = y;
    f.total_w = canvas_text_width(c, TYPE_NUMERAL, "0000") + 6;
    f.label_w = fmin(width * 0.34, canvas_text_width(c, TYPE_SMALL, "self-correcting lever") + 16);
    f.column_w = (width - f.label_w - f.total_w) / YEAR_MONTHS;
    f.line_h = canvas_line_height(c, TYPE_SMALL) + 8;
    for (int m = 0; m < YEAR_MONTHS; m++)
        canvas_text(c, middle_of(&f, m), y, TYPE_LABEL, TONE_SOFT, ALIGN_CENTRE, initial[m]);
    canvas_text(c, x + width, y, TYPE_LABEL, TONE_SOFT, ALIGN_RIGHT, "ALL");
    y += small + 4;
    canvas_rule(c, x, y, x + width, y, TONE_INK, WEIGHT_FINE);
    for (size_t i = 0; i < lines; i++, y += f.line_h)
        line(c, &f, y, &part[i]);
    if (parts > YEAR_LINES) {
        line(c, &f, y, &rest);
        y += f.line_h;
    }
    if (parts == 0) {
        canvas_text(c, x, y + 6, TYPE_ITALIC, TONE_SOFT, ALIGN_LEFT, "No fault was found in a closed job yet.");
        y += f.line_h;
    }
    return y - top;
}
