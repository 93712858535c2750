/* journal_priv.h - the inside of a journal, for this folder only. */
#ifndef LETOFF_JOURNAL_PRIV_H
#define LETOFF_JOURNAL_PRIV_H

#include "journal/journal.h"
#include "journal/journal_store.h"

/* A record whose edits were taken in and whose present state is not yet in line with them. */
struct touched {
    enum record_kind kind;
    char id[RECORD_ID_LENGTH + 1];
};

struct journal {
    struct store store;
    struct journal_options options;
    char origin[17];    /* of this opening; rule 1 */
    int depth;          /* open journal_begin's */
    bool broken;        /* something since the outermost begin failed */
    bool reading;       /* between journal_read_begin and end */
    bool quick;         /* the store commits in the quick way just now */
    int64_t pressed_ms; /* when a draft was last pressed onto the disk */
    struct touched *touched;
    size_t touched_count, touched_room;
    int64_t newest_ms; /* greatest stamp taken in since journal_begin */
};

int64_t journal_now_ms(const struct journal *j);
bool journal_writable(struct journal *j, struct err *e); /* or a sentence */
/* Put the full or the quick way of committing into force. */
bool journal_hurry(struct journal *j, bool quick, struct err *e);
/* A stamp greater than all before; in PostgreSQL other writers wait from here on. */
bool journal_stamp(struct journal *j, int64_t *stamp_ms, struct err *e);
/* Is there such a record now? */
bool journal_exists(struct journal *j, enum record_kind kind, const char *id, bool *there,
                    struct err *e);
/* Write the record's present state from its edits. */
enum restated { RESTATED, RESTATE_FAILED, RESTATE_PARENT_ERASED, RESTATE_PARENT_UNKNOWN };
enum restated journal_restate(struct journal *j, enum record_kind kind, const char *id,
                              struct err *e);
bool journal_write_edit(struct journal *j, const struct edit *edit, bool *fresh, struct err *e);
/* Remove a record and what names it inside the open transaction; adds to *gone. */
bool journal_remove_all(struct journal *j, enum record_kind kind, const char *id, int64_t stamp_ms,
                        size_t *gone, struct err *e);
bool journal_scrub(struct journal *j, size_t *copies, struct err *e);
void journal_scrub_if_due(struct journal *j); /* tries; what cannot be done now stays due */

#endif
