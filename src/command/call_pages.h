/* call_pages.h - the call report for the customer and the visit plan for the van, on paper. */
#ifndef LETOFF_COMMAND_CALL_PAGES_H
#define LETOFF_COMMAND_CALL_PAGES_H

#include "command/desk.h"
#include "diagnose/report.h"
#include "draw/pages.h"

/* Who and when, as printed at the head; any may be NULL. */
struct call_head {
    const char *number, *when, *customer, *van;
};

/* How soon it may come back where old oil is not all out; what the owner may do meanwhile. */
extern const char call_back_again[];
const char *call_owner_advice(const struct next_step *next);
/* Heading of what is done there; NULL for a question. */
const char *call_place_title(enum next_kind place);

/* `report` must be of the desk's sheet. */
void call_pages_report(struct pages *p, const struct desk *d, const struct report *report, const struct call_head *head);
void call_pages_visit(struct pages *p, const struct desk *d, const struct report *report, const struct call_head *head);
/* The plan for the van in words, a line each: likely causes, kit, time, oil, steps. */
void call_visit_text(const struct report *report, struct text *out);

#endif
