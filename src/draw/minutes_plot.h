/* minutes_plot.h - minutes spent and minutes saved, month by month.
 *
 * Two columns a month: spent, hatched; saved, open.  Months that cost more than they saved hang
 * below the line.
 */
#ifndef LETOFF_DRAW_MINUTES_PLOT_H
#define LETOFF_DRAW_MINUTES_PLOT_H

#include "draw/canvas.h"

#define MINUTES_MONTHS 12
struct minutes_month {
    double spent, saved; /* saved may be negative */
};

void minutes_plot_draw(struct canvas *c, double x, double y, double w, double h,
                       const struct minutes_month month[MINUTES_MONTHS]);

#endif
