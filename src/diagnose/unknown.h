/* unknown.h - what a report comes to when the fault is one that no row describes, and that the
 * mechanism cannot show either (what it can is the business of sweep.h; `unknown` is both).
 *
 * A fault we lack still shows in one of a few manners: counts are right, silent, off by the same
 * number, off now and then, any number, one and the same number; the quarters likewise; what comes
 * late comes late alike; one odd quality is there all the time.  Which manner it is was drawn once
 * for the clock, and then each row is as likely as the ear makes it:
 *
 *     P(report | unknown) = product over what is spoken of (strike, quarters, time, quality, stands)
 *                           of  sum over manners of  share * product over rows of P(row | manner)
 *
 * so an error that has been heard once is likelier to be heard again, and rows that all tell the
 * same cost little more than one.  Row chances are on the scale of ear_row.  The shares are what
 * the faults we do have come to, fitted to simulated calls (evaluate's from 100000 on, which are
 * not the judged ones): a fault that is missing will sound like its kin.
 *
 * Words of `seen` are so as often as they are at all; the history tilts it as it tilts the mean of
 * the faults we have (belief.c does that).
 */
#ifndef LETOFF_DIAGNOSE_UNKNOWN_H
#define LETOFF_DIAGNOSE_UNKNOWN_H

#include "diagnose/ear.h"
#include "diagnose/hypothesis.h"
#include "diagnose/tuned.h"

#define UNKNOWN_SEEN TUNED(unknown_seen, 0.16) /* a word of `seen` is told unasked, against 1 for nothing told */
#define UNKNOWN_SEEN_YES 0.35 /* the same word asked for is answered with yes */

/* Probability of the report on this clock when its fault is none of ours. */
double unknown_chance(const struct sheet *s, struct clock_case *k, const struct ear_model *ear);

/* For fitting the shares: the chances of the report's rows under each manner of one kind (strike,
 * quarters, time, quality, stands), in the order of the table in unknown.c; returns how many. */
#define UNKNOWN_KINDS 5
#define UNKNOWN_MANNERS 64
size_t unknown_manners(const struct sheet *s, struct clock_case *k, const struct ear_model *ear,
                       int kind, double chance[UNKNOWN_MANNERS], double share[UNKNOWN_MANNERS]);

#endif
