/* sweep.h - settings of the mechanism as such, whatever the rows of faults say.
 *
 * A fault that no row describes is still something changed in the movement.  par.h lists all that can
 * be out of order; here each of its parameters that this clock heeds is set, alone, to a few values
 * that follow from its own row (how changes join, sound value, range) and from nothing else, and each
 * state of fault.h a clock may be found in is taken alone.  The cause `unknown` is a mixture of these
 * (belief.c), each followed through the report like any fault, and of the manners of unknown.h.
 *
 *     chances          0.12, 0.4, 1
 *     offsets          4, 12, 35 and 80 % of the way to either end of the range
 *     factors          the same on a scale of ratios: 15, 40 and 80 % of the way (0 counts as 1/50)
 *     whole choices    one after another, as many as the clock has of what is counted, SWEEP_PLACES at most
 *     other choices    10, 30, 70 and 90 % of the range
 *
 * How likely each is before the report, against the mean of what the faults the finder was given
 * change: a parameter that none of them changes, in any train, and a state in which none of them is
 * found is a gap and SWEEP_GAP times as likely; any other may still go wrong in a way no row has,
 * SWEEP_COVERED.  The shipped rows leave hardly a gap, so gaps count where rows are lacking: in a
 * user's own folder, after a parameter was added, and in the evaluation's second world.  There they
 * flatter: the parameter of a row that was withheld is still in the mechanism, while what nobody has
 * thought of has none.  The values are never taken from rows.
 */
#ifndef LETOFF_DIAGNOSE_SWEEP_H
#define LETOFF_DIAGNOSE_SWEEP_H

#include <stddef.h>
#include "diagnose/tuned.h"
#include "movement/clock.h"
#include "movement/par.h"

#define SWEEP_VALUES 12
#define SWEEP_PLACES 12
#define SWEEP_GAP TUNED(sweep_gap, 0.3) /* both: evaluate's calls from 100000 in worlds of other seeds */
#define SWEEP_COVERED 0.04
#define SWEEP_STATES 16 /* enum fault_start bits, numbered behind the parameters */
#define SWEEP_KINDS (PAR_COUNT + SWEEP_STATES)

/* Values a parameter is set to on this clock; 0 if alone it says nothing. */
size_t sweep_values(enum par p, const struct clock *c, double value[SWEEP_VALUES]);
/* The parameter that stands for all trains' parameters of this name. */
enum par sweep_kin(enum par p);
/* The part of the movement that a parameter, or PAR_COUNT + a state, is of. */
const char *sweep_part(int swept);
/* True if a clock like this can be found in that state (a bit of enum fault_start). */
bool sweep_state(int bit, const struct clock *c);

#endif
