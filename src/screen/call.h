/* call.h - the call in hand: a call sheet that can be changed, undone, and never lost.
 *
 * The sheet is the truth; the screen shows it and changes it only through here.  Each change is
 * kept as the sheet's own text, which is what undo, redo and the draft on disk work with: the
 * draft is written whole after every change, so a killed program loses at most the key in the air.
 */
#ifndef LETOFF_SCREEN_CALL_H
#define LETOFF_SCREEN_CALL_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include "diagnose/sheet.h"
#include "err.h"
#include "movement/library.h"
#include "text.h"

#define CALL_UNDO 200

struct call {
    struct sheet sheet;
    const struct words *words;
    struct text entry;       /* what stands in the quick line */
    char *step[CALL_UNDO];   /* printed sheets, oldest first */
    size_t steps, at;        /* at: the one shown */
    uint64_t version;        /* grows with every change */
    struct text draft_path;  /* empty: no draft is kept */
    uint64_t drafted;        /* hash of what was written last */
};

void call_init(struct call *c, const struct words *words, const char *draft_path);
void call_release(struct call *c);
/* A new call; the one before can still be brought back by undo. */
void call_clear(struct call *c);
/* Tell that the sheet was changed by hand: keep it for undo. */
void call_touch(struct call *c);
bool call_undo(struct call *c);
bool call_redo(struct call *c);
/* Replace by a sheet in text or file; on errors nothing is changed. */
bool call_read(struct call *c, const char *name, const char *text, struct err *e);
bool call_load(struct call *c, const char *path, struct err *e);
bool call_save(const struct call *c, const char *path, struct err *e);
/* The draft: write when changed; take up what was left by the last run.  False: there was none. */
void call_draft_save(struct call *c);
bool call_draft_load(struct call *c);

/* Add rows in shorthand. */
bool call_add(struct call *c, const char *shorthand, struct err *e);
void call_remove_heard(struct call *c, size_t row);

/* ---- the twelve hours ---- */

/* The row heard exactly at this dial minute (0..719), or NULL. */
const struct heard *call_heard_at(const struct call *c, int dial_min);
/* What was typed into a cell: a count, "0" none, "*" runs on, "=" right, "!" wrong, "?" not
 * noticed, notes "3124", "" untold.  `strikes` and `chimes` say what is due there.  False if it is
 * none of these; nothing is changed then. */
bool call_set_cell(struct call *c, int dial_min, const char *typed, bool strikes, bool chimes);
/* What a row says, short: "3", "0", "*", "=", "2 ph". */
void call_cell_text(const struct heard *h, char out[12]);

/* ---- words and clock ---- */

/* Turn a word of this kind on or off.  For WORD_WHEN the one chosen; for WORD_AFTER a set. */
void call_toggle(struct call *c, enum word_kind kind, const char *id);
bool call_has(const struct call *c, enum word_kind kind, const char *id);
/* Asked, and the answer was no (history and seen only). */
bool call_has_not(const struct call *c, enum word_kind kind, const char *id);
void call_forget_not(struct call *c, enum word_kind kind, const char *id);
/* How the let-off at this minute sounded; a row must be there. */
bool call_sounded(const struct call *c, int dial_min, const char *how);
void call_toggle_how(struct call *c, int dial_min, const char *how);
void call_set_clock(struct call *c, const char *id); /* "" not known */
void call_set_hint(struct call *c, const char *key, const char *value); /* again: unsaid */
/* Does the clock agree with all hints told? */
bool call_clock_fits(const struct call *c, const struct clock *k);
/* The clock told, or the only or commonest one that fits; NULL if none fits. */
const struct clock *call_clock(const struct call *c, const struct library *lib, size_t *fits);

#endif
