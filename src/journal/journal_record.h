/* journal_record.h - what the journal keeps, as one table of kinds and fields.
 *
 * A record is an id, a kind and some fields; every value is text at this level (a number is
 * text in canonical form, an absent value is NULL).  One row of the table below serves the
 * database, the check of a value, CSV and JSON Lines in both directions, the merge and the
 * help text, so:
 *
 *   to add a field:  1. add its row in journal_record.c, 2. add a migration in journal_schema.c
 *                    with the column.  A test compares the two.
 *                    The names kind, id, updated_ms and stamps are taken.
 *   to add a kind:   the same, with the parent kinds before it (a record names only earlier
 *                    kinds), and raise RECORD_KINDS.
 *
 * What is kept of a customer is a label of the shop's own choosing and a note: no address book.
 */
#ifndef LETOFF_JOURNAL_RECORD_H
#define LETOFF_JOURNAL_RECORD_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include "err.h"

enum record_kind {
    RECORD_CUSTOMER,
    RECORD_CLOCK,
    RECORD_CALL,   /* a call is the job: it stays open until somebody closes it */
    RECORD_BELIEF, /* one fault and its probability, as believed at the time */
    RECORD_ADVICE, /* what the caller was told, and whether it helped */
    RECORD_VISIT,
    RECORD_FINDING,   /* the fault that was really found */
    RECORD_PART,      /* a part that was used */
    RECORD_WORK,      /* minutes spent on one action */
    RECORD_HEARING,   /* what a caller's report was worth, seen afterwards */
    RECORD_RECORDING, /* a sound file, by reference */
    RECORD_DRILL,     /* one answer of a trainee */
    RECORD_KINDS
};

enum field_type {
    FIELD_TEXT,
    FIELD_WORD, /* one of `words`, separated by spaces */
    FIELD_INT,  /* low..high */
    FIELD_REAL, /* low..high, kept to 15 significant digits */
    FIELD_TIME, /* YYYY-MM-DD or YYYY-MM-DDTHH:MM[:SS], the shop's own time */
    FIELD_REF,  /* id of a record of kind `refers` */
};

struct field {
    const char *name;
    enum field_type type;
    bool must;               /* a record without it is refused */
    double low, high;        /* numbers */
    const char *words;       /* FIELD_WORD */
    enum record_kind refers; /* FIELD_REF */
    const char *about;
};

#define RECORD_FIELDS_MOST 16
#define RECORD_ID_LENGTH   32      /* 128 random bits as lower-case hex */
#define RECORD_TEXT_MOST   1000000 /* bytes of one value */

struct record_shape {
    const char *name; /* table name, CSV file name, "kind" of a JSON line */
    const char *about;
    struct field field[RECORD_FIELDS_MOST + 1]; /* ends with a NULL name */
};

const struct record_shape *record_shape(enum record_kind kind);
int record_kind_of(const char *name);                         /* -1 for a word that is no kind */
int record_field_of(enum record_kind kind, const char *name); /* -1 likewise */
size_t record_field_count(enum record_kind kind);

/* One record.  record_init for a new one, record_release when done; a zeroed struct is an
 * empty customer. */
struct record {
    enum record_kind kind;
    char id[RECORD_ID_LENGTH + 1];   /* "" until it is stored for the first time */
    int64_t updated_ms;              /* stamp of the newest edit; 0 if never stored */
    char *value[RECORD_FIELDS_MOST]; /* owned; NULL = not there (when writing: leave alone) */
};

void record_init(struct record *r, enum record_kind kind);
void record_release(struct record *r);
/* Sets a field to a copy of `value`; NULL takes it away, "" asks the journal to clear it.
 * The name must be one of the kind's own (asserted). */
void record_set(struct record *r, const char *field, const char *value);
void record_set_real(struct record *r, const char *field, double value);
void record_set_int(struct record *r, const char *field, long value);
const char *record_get(const struct record *r, const char *field);  /* or NULL */
const char *record_text(const struct record *r, const char *field); /* "" if not there */
double record_real(const struct record *r, const char *field, double absent);

/* A growable list that owns its records.  A zeroed struct is an empty list. */
struct record_list {
    struct record *at;
    size_t count, room;
};
struct record *record_list_add(struct record_list *list, enum record_kind kind);
void record_list_release(struct record_list *list);

/* Checks one value and gives its canonical form (mem_free it): numbers to 15 significant
 * digits, so that both databases and both text formats give back the same bytes.  NULL and one
 * sentence if the value is not what the field takes.  "" is always fine and gives "". */
char *record_canonical(enum record_kind kind, size_t field, const char *value, struct err *e);
/* All values canonical and nothing missing that must be there; `fresh` = no stored record
 * stands behind this one. */
bool record_check(struct record *r, bool fresh, struct err *e);

bool record_id_ok(const char *id);                 /* 32 lower-case hex digits */
void record_id_new(char id[RECORD_ID_LENGTH + 1]); /* from the system's generator */

#endif
