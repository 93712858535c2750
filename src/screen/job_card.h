/* job_card.h - one job on the journal's page: who and what, what was believed, and closing it.
 *
 * The likely faults stand as rows to press, with the keys 1..9.  Pressing one closes an open job
 * with that fault found, so that a job in the list is closed in two clicks; how it was put right,
 * the minutes and further faults can be set afterwards, and Reopen takes it back.
 */
#ifndef LETOFF_SCREEN_JOB_CARD_H
#define LETOFF_SCREEN_JOB_CARD_H

#include "screen/jobs_book.h"

/* Returns the height of what was drawn. */
double job_card(struct app *a, double x, double y, double w);

/* A label with a rule behind it; returns the height. */
double leaf_section(struct canvas *c, double x, double y, double w, const char *label);
/* "24 Nov 14:15" of YYYY-MM-DDTHH:MM; with_year "24 Nov 2026". */
const char *leaf_day(const char *time, bool with_year, char out[24]);
/* The clock's name, or the words it was kept under. */
const char *leaf_clock(const struct app *a, const char *movement);

#endif
