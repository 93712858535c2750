/* power.h - what drives a train, what holds it back, and the rhythm that follows.
 *
 * Energy balance of one blow (all of it at the barrel):
 *
 *     drive = hammers + losses + fly
 *
 * drive    weight: m g r x angle of the barrel a blow; spring: its torque x that angle
 * losses   each of the n meshes and its pivots takes the share l x friction of what reaches it;
 *          l follows from the loss of the freshly oiled train: 1 - (1 - loss)^(1/n)
 * hammers  work to lift them
 * fly      what is left heats air: drag torque = k omega^2, so the work of one blow is
 *          k omega^2 x 2 pi x turns, and the interval 2 pi turns / omega goes as
 *          sqrt(k / fly work): doubling the torque LEFT at the fly gives x 1.414 in speed
 *          (drag of a flat plate: D = Cd rho V^2/2 A, Cd 1.28, NASA Glenn, "Shape effects on
 *          drag"; two vanes r1..r2, height h: T = 2 Cd rho/2 h omega^2 (r2^4 - r1^4)/4, strip
 *          theory).
 * run-up   the fly's energy E obeys dE/dangle = T - 2 k E / I, an exponential: its length in
 *          blows goes as 1/k, so too small a fly is still gaining speed after the first blows
 *          (E. Beckett, Clocks, Watches and Bells, 8th ed., f.194).
 * coils    of a dry mainspring cling to each other: as a run goes on they let go of less torque than
 *          they hold, and creep after it while the train rests (common practice, no source; the
 *          length of a run in power.c is judgement).  The strike slows, and may stop in a long hour.
 * stall    when what reaches the hammers at the heaviest moment is less than their lift.  Gum and dry
 *          pivots hold unevenly: where little is left to spare, some place of a long run holds the
 *          train now and then (common practice, no source; the spread in power.c is judgement).
 */
#ifndef LETOFF_MOVEMENT_POWER_H
#define LETOFF_MOVEMENT_POWER_H

#include "movement/clock.h"
#include "movement/rest.h"
#include "movement/works.h"

/* Blows (notes for a chime, days for the going train) that one winding lasts. */
double power_capacity(const struct clock *c, enum event_train role);
/* Blows (notes) a day of this train in a sound clock. */
double power_daily(const struct clock *c, enum event_train role);

/* The balance of one blow, in millijoules, for inspection and tests. */
struct balance {
    double drive_mj, lost_mj, hammers_mj, fly_mj;
    double efficiency; /* hammers / drive */
};
struct balance power_balance(const struct works *w, enum event_train role, enum power_level level);

/* Fill the pace of one train from the parameters. */
struct pace power_pace(const struct works *w, enum event_train role);

/* Drag factor k of two vanes reaching from r1_mm to r2_mm, height h_mm, in N m s^2 (air 1.2 kg/m3). */
double power_fly_drag(double r1_mm, double r2_mm, double h_mm);

/* Interval in seconds before blow `blow` (0 = first) of a run at this power level; 0 = stalls. */
double pace_interval(const struct pace *p, enum power_level level, int blow);

#endif
