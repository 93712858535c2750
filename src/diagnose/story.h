/* story.h - free words to a call sheet, through a phrase table (phrases.h).
 *
 * The text is read from left to right; at each word the best phrase of the table is taken.  What
 * it gives goes to the sheet: facts at once; times, how often and what was heard are put together
 * within their sentence ("at four, five and six it strikes twelve" gives three rows; "slow at the
 * quarters" one).  A negator shortly before a fact turns it round ("was not moved": asked, and the
 * answer is no); before anything else it undoes it.  What was so once, may be so, is asked, is told
 * of another clock or is still to come is accounted for, but does not go to the sheet, nor does what a speaker takes back.  Nothing is ever
 * guessed: what no phrase covers is handed back as not understood, and so is a time at which nothing was
 * heard and a single word in a clause that is otherwise not understood.
 *
 * What no phrase takes is read again clause by clause, as things said in any order ("the weight on the
 * left has not moved an inch"), and times with counts one after another are read as pairs ("6 = 7, 7 =
 * 8").  Such a reading gives way to what a phrase said.  Counts told in steps go on as bare numbers ("two at
 * half past twelve, four at half past one, six, eight"), and what was heard last may be the same at another
 * time ("half past is the same").
 *
 * The result always goes back to the technician for correction: every part says which words of
 * the text gave what, and each heard row carries the words it came from (`said`).
 */
#ifndef LETOFF_DIAGNOSE_STORY_H
#define LETOFF_DIAGNOSE_STORY_H

#include <stdbool.h>
#include <stddef.h>
#include "diagnose/phrases.h"
#include "diagnose/sheet.h"
#include "err.h"
#include "text.h"

enum story_kind {
    STORY_UNDERSTOOD, /* `gives` went to the sheet */
    STORY_PERHAPS,    /* so did this, but only words near each other say so (cues.h) */
    STORY_UNUSED,     /* understood, but of no use: a time without anything heard, a clash, doubt */
    STORY_UNKNOWN,    /* no phrase covers these words */
};

struct story_part {
    size_t from, to;       /* bytes of the text */
    enum story_kind kind;
    char *gives;           /* owned; what it gave, in shorthand; NULL for STORY_UNKNOWN */
    const char *say;       /* the pattern of the table, or NULL */
};

/* A zeroed struct is empty. */
struct story {
    struct story_part *part; /* in order of the text */
    size_t parts, room;
    size_t *cue; /* rows of the cue table that held and told news, sure enough to be read or not */
    size_t cues, cue_room;
};

/* Read the text into the sheet (which may already hold something; its `story` is set if it has
 * none) and account for it in `story`, which must be empty.  False with a sentence if the text is
 * no well-formed UTF-8 or longer than SHEET_TEXT; then nothing is changed. */
bool story_read(const struct phrases *p, const char *text, size_t length, struct sheet *sheet,
                struct story *story, struct err *e);
void story_release(struct story *story);

size_t story_count(const struct story *story, enum story_kind kind);
/* One line a part: `"strikes one too many" -> hours s+1`, `not understood: "..."`. */
void story_print(const struct story *story, const char *text, struct text *out);

#endif
