/* story_facts.h - what a story tells besides what was heard: hints, history, what is seen and what was tried, put
 * to what the sheet holds.  For story.c only. */
#ifndef LETOFF_DIAGNOSE_STORY_FACTS_H
#define LETOFF_DIAGNOSE_STORY_FACTS_H

#include <stdbool.h>
#include "diagnose/phrases.h"
#include "diagnose/sheet.h"

/* The facts of `more` to the sheet, turned round if `denied`.  A hint that says more exactly what the sheet has takes
 * its place (phrases_narrow).  False if any clashes with what the sheet holds or cannot be denied. */
bool story_join_facts(const struct phrases *p, struct sheet *to, const struct sheet *more,
                      bool denied);

/* Does `more`, of which words only hint, tell something of which the sheet has nothing yet, neither as told nor the
 * other way round?  Of what was heard: nothing of the count where it tells of that, of the chime likewise, nothing of
 * any sound where it tells of silence, and not the same manner of sounding. */
bool story_tells_news(const struct sheet *sheet, const struct sheet *more);

#endif
