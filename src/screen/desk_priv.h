/* desk_priv.h - the parts of the desk; for this folder only. */
#ifndef LETOFF_SCREEN_DESK_PRIV_H
#define LETOFF_SCREEN_DESK_PRIV_H

#include "screen/app.h"

/* Each draws from x, y in width w and returns the height taken. */
double desk_clock_part(struct app *a, double x, double y, double w);
double desk_quick_line(struct app *a, double x, double y, double w);
/* The right column. */
void desk_answer_part(struct app *a, double x, double y, double w, double h);
/* Which of the likely causes sound alike in what was heard, and what would tell them apart: so many groups at most.
 * Returns the height; 0 when each sounds otherwise. */
double desk_alike_part(struct app *a, double x, double y, double w, size_t most);
/* All clocks that fit, to choose from; lies over the left column. */
void desk_choose_card(struct app *a, double x, double y, double w, double h);

/* Call report and, where a van is sent, the visit plan, as a PDF beside the journal. */
void desk_print(struct app *a);
/* Hints that are asked by pictures. */
bool desk_is_pictured(const char *hint);
bool desk_row_differs(const struct heard *h, int due, int changes);

#endif
