#include "command/journal_figures.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "draw/calibration_plot.h"
#include "draw/minutes_plot.h"
#include "draw/paint.h"
#include "draw/svg.h"
#include "draw/type_case.h"
#include "draw/year_plot.h"
#include "mem.h"

_Static_assert(YEAR_MONTHS == STATS_MONTHS && MINUTES_MONTHS == STATS_MONTHS, "months are twelve");

static double caption(struct canvas *c, double x, double y, double w, const char *label)
{
    double lw = canvas_text(c, x, y, TYPE_LABEL, TONE_SOFT, ALIGN_LEFT, label);
    double mid = y + canvas_line_height(c, TYPE_LABEL) / 2;
    canvas_rule(c, x + lw + 10, mid, x + w, mid, TONE_FAINT, WEIGHT_HAIR);
    return canvas_line_height(c, TYPE_LABEL) + 8;
}

static double parts_figure(struct canvas *c, double x, double y, double w, const struct stats *s)
{
    struct year_part *part = mem_alloc((s->parts + 1) * sizeof *part);
    for (size_t i = 0; i < s->parts; i++) {
        part[i].name = s->part[i].part;
        part[i].all = s->part[i].all;
        memcpy(part[i].month, s->part[i].month, sizeof part[i].month);
    }
    double top = y;
    y += caption(c, x, y, w, "FAULTS FOUND, BY PART AND MONTH");
    y += year_plot_draw(c, x, y, w, part, s->parts);
    mem_free(part);
    return y - top;
}

static double promise_figure(struct canvas *c, double x, double y, double w, const struct stats *s)
{
    struct calibration_point point[STATS_BINS];
    char line[160];
    double top = y, size = fmin(w, 300);
    for (int b = 0; b < STATS_BINS; b++)
        point[b] = (struct calibration_point){s->bin[b].said, s->bin[b].held, s->bin[b].count};
    y += caption(c, x, y, w, "DO PROMISES HOLD");
    calibration_plot_draw(c, x, y, size, point, STATS_BINS);
    y += size + 4;
    if (s->judged)
        snprintf(line, sizeof line, "The likeliest fault was the right one in %u of %u jobs.", s->right, s->judged);
    else
        snprintf(line, sizeof line, "No closed job has both a belief and a finding yet.");
    y += canvas_paragraph(c, x, y, w, TYPE_ITALIC, TONE_INK, ALIGN_LEFT, line);
    return y - top;
}

static double minutes_figure(struct canvas *c, double x, double y, double w, const struct stats *s)
{
    struct minutes_month month[STATS_MONTHS];
    char line[200];
    double top = y, h = 220;
    for (int m = 0; m < STATS_MONTHS; m++)
        month[m] = (struct minutes_month){s->month[m].minutes, s->month[m].saved};
    y += caption(c, x, y, w, "MINUTES");
    minutes_plot_draw(c, x, y, w, h, month);
    y += h + 8;
    if (s->trips >= STATS_TRIPS_LEAST)
        snprintf(line, sizeof line, "A job with a visit or on the bench took %.0f min; the telephone saved %.0f min.",
                 s->trip_min, s->minutes_saved);
    else
        snprintf(line, sizeof line, "What the telephone saves is told once %d jobs have needed a visit.",
                 STATS_TRIPS_LEAST);
    y += canvas_paragraph(c, x, y, w, TYPE_ITALIC, TONE_INK, ALIGN_LEFT, line);
    return y - top;
}

double journal_figures_draw(struct canvas *c, double x, double y, double width, const struct stats *s)
{
    double top = y, gap = 32, half = (width - gap) / 2;
    y += parts_figure(c, x, y, width, s) + 22;
    if (width < 560) {
        y += promise_figure(c, x, y, width, s) + 22;
        return y + minutes_figure(c, x, y, width, s) - top;
    }
    double a = promise_figure(c, x, y, half, s), b = minutes_figure(c, x + half + gap, y, half, s);
    return y + fmax(a, b) - top;
}

/* ---- a page of its own ---- */

#define PAGE_W 760.0
#define MARGIN 36.0

static bool write_page(const struct canvas *c, const char *path, struct err *e)
{
    const char *dot = strrchr(path, '.');
    const struct canvas *page[1] = {c};
    if (dot && strcmp(dot, ".svg") == 0)
        return svg_file(c, "Figures of the journal", path, e);
    if (dot && strcmp(dot, ".pdf") == 0)
        return paint_pdf(page, 1, "Figures of the journal", path, e);
    if (dot && strcmp(dot, ".png") == 0)
        return paint_png(c, 2, path, e);
    err_add(e, "%s: expected a name that ends in .png, .svg or .pdf.", path);
    return false;
}

bool journal_figures_write(const struct stats *s, const char *path, struct err *e)
{
    struct type_case *types = type_case_new(e);
    struct ink ink = {CONTRAST_PLAIN, 1};
    struct canvas c;
    char under[120];
    if (!types)
        return false;
    canvas_init(&c, types, &ink, PAGE_W, PAGE_W);
    canvas_text(&c, MARGIN, MARGIN, TYPE_TITLE, TONE_INK, ALIGN_LEFT, "Figures of the journal");
    double y = MARGIN + canvas_line_height(&c, TYPE_TITLE) + 2;
    if (s->year)
        snprintf(under, sizeof under, "Jobs closed in %d. %u calls, %u open, %u closed.", s->year, s->calls, s->open,
                 s->closed);
    else
        snprintf(under, sizeof under, "All years. %u calls, %u open, %u closed.", s->calls, s->open, s->closed);
    canvas_text(&c, MARGIN, y, TYPE_ITALIC, TONE_SOFT, ALIGN_LEFT, under);
    y += canvas_line_height(&c, TYPE_ITALIC) + 18;
    c.height = y + journal_figures_draw(&c, MARGIN, y, PAGE_W - 2 * MARGIN, s) + MARGIN;
    bool ok = write_page(&c, path, e);
    canvas_release(&c);
    type_case_free(types);
    return ok;
}
