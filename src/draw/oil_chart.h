/* oil_chart.h - where oil goes in a movement and where it does not, from the parts it has.
 *
 * Each row is a place of this clock.  Sources for what is oiled: enough to fill the space
 * between pivot and hole, none down the plate; not on train teeth and pinions (M. Passmore,
 * "Repairing Your Own Clocks", Lubrication, https://www.m-p.co.uk/muk/ryoc/doc_page33.shtml;
 * http://listoy.com/Clocks/Oil-Clock-4.htm; E. Beckett, Clocks, Watches and Bells, 8th ed., f.289).
 * They disagree about levers that move by their own weight: Passmore oils them lightly, the second
 * source and http://roofwaterharvesting.org/blog/levers-count-arms-lift-levers keep them dry, since
 * an oiled lever drops late some months on.  Such rows are OIL_DISPUTED and say so.
 */
#ifndef LETOFF_DRAW_OIL_CHART_H
#define LETOFF_DRAW_OIL_CHART_H

#include <stddef.h>
#include "draw/plate_parts.h"
#include "movement/clock.h"

enum oil { OIL_CLOCK, OIL_GREASE, OIL_DRY, OIL_DISPUTED, OILS };
struct oil_row {
    char place[64];
    int count;         /* how many such places */
    enum oil oil;
    enum plate_part part;
    const char *note;
};
#define OIL_ROWS 64
/* Rows of this clock in order of work; returns how many. */
size_t oil_chart(const struct clock *clock, struct oil_row row[OIL_ROWS]);
const char *oil_name(enum oil oil); /* "clock oil", "grease", "dry", "sources differ" */

#endif
