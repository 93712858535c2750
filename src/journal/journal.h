/* journal.h - every call and job the shop takes, kept safe.
 *
 * One journal is one SQLite file or one PostgreSQL database; the records are those of
 * journal_record.h.  What always holds:
 *
 *   - Every change is one transaction: it is there whole or not at all, whenever the power or the
 *     process goes.  journal_begin/journal_commit put several changes into one.
 *   - Nothing is overwritten.  A record's fields show the newest value; the table `edit` keeps
 *     every value a field ever had, with its stamp.  Only journal_erase takes anything away.
 *   - The call in hand is saved at each keystroke (journal_draft_save), so a killed program loses
 *     the last keystroke at most.
 *
 * Who wrote last (the rules of a merge, of an import and of two desks on one server):
 *   1. Each edit of a field carries a stamp and an origin.  The stamp is the time in milliseconds,
 *      but always greater than any stamp the journal has seen, so an edit made after seeing
 *      another is newer even if the clock of the desk is slow.  The origin is 16 random hex digits
 *      drawn at every journal_open, so two copies of one file never write under one name.
 *   2. Fields are decided one by one: the greater stamp wins, then the greater origin.  Two desks
 *      that edit different fields of one call both win; on the same field the older value
 *      stays in `edit` (journal_history shows it).
 *   3. Ids are 128 random bits and never used again: the same id is the same record everywhere.
 *   4. Erasing wins over every edit, older or newer, and takes along the records that name
 *      the erased one.
 * Merging is therefore the union of all edits: in any order, any number of times, with one result.
 *
 * Erasing: in SQLite the bytes are overwritten (secure_delete, VACUUM, emptied log) and kept copies
 * are removed; if that is cut short or a reader is in the way, the next opening does it.  In
 * PostgreSQL tables are written anew; the server's own log and the backups its keeper makes are out
 * of our reach, and the shop must see to them.
 *
 * A journal is used from one thread at a time.  Running out of memory ends the program without
 * closing it, which is safe for the same reason as a power cut.
 */
#ifndef LETOFF_JOURNAL_H
#define LETOFF_JOURNAL_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include "err.h"
#include "journal/journal_record.h"

struct journal;

struct journal_options {
    int busy_ms;                   /* wait for somebody else's lock; 0 means 5000 */
    bool read_only;                /* never write; a file that is not there is an error */
    bool must_exist;               /* do not make a new one */
    int64_t (*now_ms)(void *with); /* NULL: the system's clock, milliseconds since 1970 */
    void *with;
};

/* `where` is a path or postgresql://...; NULL means journal_default_path.  Folders of the
 * default path are made (mode 0700); a new file is private to the user (0600).  `o` may be NULL.
 * NULL and one sentence if it is damaged, locked, no journal, or written by a newer letoff;
 * whatever was there is left as it was. */
struct journal *journal_open(const char *where, const struct journal_options *o, struct err *e);
void journal_close(struct journal *j); /* NULL is fine; an open transaction is rolled back */
/* $XDG_DATA_HOME/letoff/journal.db, else ~/.local/share/...; mem_free it.  NULL if neither
 * variable is set to an absolute path. */
char *journal_default_path(void);
const char *journal_name(const struct journal *j); /* for sentences; no password in it */
bool journal_read_only(const struct journal *j);
/* Reads all of it and looks for damage. */
bool journal_verify(struct journal *j, struct err *e);

/* Several changes in one: all are kept by the outermost commit, or none.  After a change failed
 * everything since the outermost begin is gone, and commit says so and returns false. */
bool journal_begin(struct journal *j, struct err *e);
bool journal_commit(struct journal *j, struct err *e);
void journal_rollback(struct journal *j);
/* Reads between begin and end see one moment. */
bool journal_read_begin(struct journal *j, struct err *e);
void journal_read_end(struct journal *j);

/* ---- records ------------------------------------------------------------------------------ */

/* Store a new record (id "") or the fields of an old one that are not NULL; "" clears a field.
 * Values are checked and made canonical in place; id and updated_ms are filled in.  A field that
 * already has the value makes no edit.  With an id nobody has, the record is made under it. */
bool journal_put(struct journal *j, struct record *r, struct err *e);
/* False and a sentence if there is none.  `r` is initialised either way and must be released. */
bool journal_get(struct journal *j, enum record_kind kind, const char *id, struct record *r,
                 struct err *e);
/* All records of a kind where `field` = `value` (field NULL: all), ordered by `order` (NULL: by
 * time of the newest edit) and then id. */
bool journal_list(struct journal *j, enum record_kind kind, const char *field, const char *value,
                  const char *order, struct record_list *list, struct err *e);
/* The id that begins with `prefix` (at least 4 digits); a sentence if there is none or several. */
bool journal_id(struct journal *j, enum record_kind kind, const char *prefix,
                char id[RECORD_ID_LENGTH + 1], struct err *e);
bool journal_count(struct journal *j, enum record_kind kind, size_t *count, struct err *e);

struct edit {
    char record[RECORD_ID_LENGTH + 1];
    int kind;  /* enum record_kind */
    int field; /* index into the kind's fields */
    int64_t stamp_ms;
    char origin[17];
    const char *value; /* "" = cleared; valid during the call */
};
typedef void edit_seen(void *with, const struct edit *edit);
/* Every edit of a record (id NULL: of all), oldest first. */
bool journal_history(struct journal *j, const char *id, edit_seen *each, void *with, struct err *e);

/* Remove a record and all that name it, for good.  *gone counts records, *copies the kept copies
 * that had to go too; either may be NULL.  Inside a transaction it is refused. */
bool journal_erase(struct journal *j, enum record_kind kind, const char *id, size_t *gone,
                   size_t *copies, struct err *e);

/* ---- the call in hand --------------------------------------------------------------------- */

/* Save the text as it stands; meant for each keystroke.  `slot` names the desk or window.  It is
 * on its way to the disk when this returns, and pressed onto it at least once a second. */
bool journal_draft_save(struct journal *j, const char *slot, const char *body, struct err *e);
/* NULL if there is none; mem_free it.  *ok (may be NULL) is false if it could not be read. */
char *journal_draft_load(struct journal *j, const char *slot, bool *ok, struct err *e);
bool journal_draft_drop(struct journal *j, const char *slot, struct err *e);
typedef void draft_seen(void *with, const char *slot, const char *body, int64_t saved_ms);
bool journal_drafts(struct journal *j, draft_seen *each, void *with, struct err *e);

/* ---- settings of this shop ---------------------------------------------------------------- */

char *journal_setting(struct journal *j, const char *key, struct err *e); /* NULL if not set */
bool journal_set(struct journal *j, const char *key, const char *value, struct err *e);

/* ---- for the merge and the import --------------------------------------------------------- */

/* Take in an edit made elsewhere.  *fresh tells whether it was new here.  Needs journal_begin
 * before and journal_settle before the commit. */
bool journal_take_edit(struct journal *j, const struct edit *edit, bool *fresh, struct err *e);
/* Take in an erasure made elsewhere (the record need not be known here). */
bool journal_take_erased(struct journal *j, enum record_kind kind, const char *id, int64_t stamp_ms,
                         bool *fresh, struct err *e);
/* Bring the present state in line with the edits taken in since journal_begin.  Records that name
 * one that is not there are erased by rule 4; *dropped (may be NULL) counts them. */
bool journal_settle(struct journal *j, size_t *dropped, struct err *e);
bool journal_is_erased(struct journal *j, const char *id, bool *erased, struct err *e);
typedef void erased_seen(void *with, enum record_kind kind, const char *id, int64_t stamp_ms);
bool journal_each_erased(struct journal *j, erased_seen *each, void *with, struct err *e);

/* The time as the journal sees it, as FIELD_TIME text in the desk's own zone. */
void journal_now(struct journal *j, char out[20]);

#endif
