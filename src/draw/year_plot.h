/* year_plot.h - faults found, by part and month: one line a part, one column a month.
 *
 * In each cell stands a hatched disc whose area goes with the number found there, and the number
 * itself beside the line's total.  Nothing here wears the accent: it is what was, not what is
 * suspected.
 */
#ifndef LETOFF_DRAW_YEAR_PLOT_H
#define LETOFF_DRAW_YEAR_PLOT_H

#include "draw/canvas.h"

#define YEAR_MONTHS 12
#define YEAR_LINES 10 /* parts that get a line of their own; the rest are added up in one more */

struct year_part {
    const char *name; /* "" = no part was written down */
    unsigned month[YEAR_MONTHS], all;
};

/* Parts in the order given, most frequent first.  Returns the height taken. */
double year_plot_draw(struct canvas *c, double x, double y, double width,
                      const struct year_part *part, size_t parts);

#endif
