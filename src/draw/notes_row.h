/* notes_row.h - what was due above what was heard, as notes, with the differences marked.
 *
 * Two strips of lines, one line a bell, the highest on top.  Due notes are hollow, heard ones
 * filled.  The two are matched by the fewest changes (edit distance); a note that was left out,
 * added or changed wears the accent, a cross below (missing), a plus (added) or a bar (changed).
 * Blows of the hour follow as upright strokes in fives, so that they can be counted by eye.
 */
#ifndef LETOFF_DRAW_NOTES_ROW_H
#define LETOFF_DRAW_NOTES_ROW_H

#include <stdbool.h>
#include "draw/canvas.h"
#include "event.h"
#include "movement/clock.h"

#define NOTES_MOST 96
#define NOTES_RUN_ON 1000

struct notes {
    unsigned char bell[NOTES_MOST]; /* 1 = highest; 0 = a note, no matter which */
    int count;
    int blows;         /* NOTES_RUN_ON: without end */
    bool chime_unsaid, strike_unsaid; /* nothing known: not compared */
};

/* What the events of one let-off sounded. */
void notes_of_events(struct notes *n, const struct clock *clock, const struct event_list *list,
                     int letoff);

/* How each note of the two was matched. */
enum note_fate { NOTE_SAME, NOTE_MISSING, NOTE_ADDED, NOTE_CHANGED };
struct note_match {
    int due, heard; /* indices, -1 none */
    enum note_fate fate;
};
/* At most 2 * NOTES_MOST matches in order; returns how many. */
size_t notes_match(const struct notes *due, const struct notes *heard, struct note_match *match);
/* True if anything that was told differs. */
bool notes_differ(const struct notes *due, const struct notes *heard);

/* Draw both rows at x, y in the width given; returns the height taken.  heard may be NULL. */
double notes_row_draw(struct canvas *c, double x, double y, double width, int bells,
                      const struct notes *due, const struct notes *heard);

#endif
