/* hear_cause.h - why it sounded so: what was heard given to the fault finder, with its doubts.
 *
 * A let-off may be read in several ways (hear.h).  The belief is worked out for the likeliest
 * readings and mixed by their shares: soft evidence.  When the time is not known but the clock is,
 * every let-off of its dial is a reading, weighed by how well what was heard can come about there.
 * When no single fault explains what was heard, two at once are thought of.
 */
#ifndef LETOFF_COMMAND_HEAR_CAUSE_H
#define LETOFF_COMMAND_HEAR_CAUSE_H

#include "command/desk.h"
#include "command/hear.h"
#include "diagnose/report.h"

#define HEAR_CAUSE_READINGS 6

struct heard_cause {
    struct sheet sheet[HEAR_CAUSE_READINGS]; /* [0] is the likeliest reading */
    double share[HEAR_CAUSE_READINGS];
    int at_min[HEAR_CAUSE_READINGS]; /* of the first let-off, -1 unknown */
    size_t readings;
    bool pairs;           /* two faults at once were thought of */
    struct report report;
};

/* The desk's sheet is what was known before (clock, hints); rows are added to copies of it.
 * at_min as in hear_rows.  False when no clock fits.  Release in any case. */
bool heard_cause_init(struct heard_cause *c, struct desk *d, struct heard_clock *heard, const struct clock *clock,
                      const struct hearing *h, int at_min);
/* The belief alone, in report.belief: no reasons, no next step. */
bool heard_cause_believe(struct heard_cause *c, struct desk *d, struct heard_clock *heard, const struct clock *clock,
                         const struct hearing *h, int at_min);
void heard_cause_release(struct heard_cause *c);

#endif
