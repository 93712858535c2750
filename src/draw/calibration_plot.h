/* calibration_plot.h - whether promises hold: how likely faults were said to be, against how often
 * they were then found.
 *
 * A point stands for all beliefs of one tenth; its disc grows with their number, its whisker is the
 * 90 % score interval of a share (E. B. Wilson, "Probable inference, the law of succession, and
 * statistical inference", J. Am. Stat. Assoc. 22, 1927): with z = 1.645, k of n,
 *
 *     (k + z^2/2 +- z sqrt(k (n-k) / n + z^2/4)) / (n + z^2)
 *
 * On the diagonal a promise of 70 % came true seven times in ten; below it too much was promised.
 */
#ifndef LETOFF_DRAW_CALIBRATION_PLOT_H
#define LETOFF_DRAW_CALIBRATION_PLOT_H

#include "draw/canvas.h"

struct calibration_point {
    double said, held; /* 0..1 */
    unsigned count;
};

/* Points without a count are left out.  A square of `size` with its axes. */
void calibration_plot_draw(struct canvas *c, double x, double y, double size,
                           const struct calibration_point *point, size_t points);
/* The interval above; count 0 gives 0..1. */
void calibration_interval(const struct calibration_point *p, double *low, double *high);

#endif
