/* hours_grid.h - twelve hours by the let-offs in each, and what was heard at them.
 *
 * Columns are hours from twelve on, the first row the hour, the rows below it the quarters (only
 * those at which this clock sounds).  A cell shows what was heard, small what was due; where the
 * two differ it wears the accent, a hatch and a corner mark.
 */
#ifndef LETOFF_DRAW_HOURS_GRID_H
#define LETOFF_DRAW_HOURS_GRID_H

#include <stdbool.h>
#include "draw/canvas.h"

enum cell_state { CELL_UNTOLD, CELL_RIGHT, CELL_DIFFERS };

struct hours_cell {
    bool sounds;        /* a let-off falls here */
    enum cell_state state;
    char heard[12];     /* "3", "0", "*" ... ; "" untold */
    char due[12];
    bool pointed, focused;
};

#define GRID_ROWS 4 /* minutes 0, 15, 30, 45 */
struct hours_grid {
    struct hours_cell cell[12][GRID_ROWS]; /* [hour 0 = twelve][quarter] */
    /* where it lies, filled by hours_grid_place */
    double x, y, column_w, row_h[GRID_ROWS], label_w;
};

/* Rows without any let-off take no room.  Returns the height. */
double hours_grid_place(struct hours_grid *g, struct canvas *c, double x, double y, double width);
/* Rectangle of one cell in the frame it was placed in; false if its row is not there. */
bool hours_grid_cell(const struct hours_grid *g, int hour, int quarter, double box[4]);
/* Cell under a point of that frame; false if none. */
bool hours_grid_at(const struct hours_grid *g, double x, double y, int *hour, int *quarter);
void hours_grid_draw(const struct hours_grid *g, struct canvas *c);

#endif
