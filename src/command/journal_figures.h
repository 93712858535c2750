/* journal_figures.h - the journal's figures drawn: faults by part over the year, whether promises
 * held, minutes spent and saved. */
#ifndef LETOFF_COMMAND_JOURNAL_FIGURES_H
#define LETOFF_COMMAND_JOURNAL_FIGURES_H

#include "draw/canvas.h"
#include "err.h"
#include "journal/stats.h"

/* All of them one below the other, or side by side where `width` allows.  Returns the height. */
double journal_figures_draw(struct canvas *c, double x, double y, double width,
                            const struct stats *s);
/* The same on a page of its own, by the ending of the path: .png, .svg or .pdf. */
bool journal_figures_write(const struct stats *s, const char *path, struct err *e);

#endif
