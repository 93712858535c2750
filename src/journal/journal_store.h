/* journal_store.h - the two databases behind the journal, as a struct of functions.
 *
 * SQLite (one file, the default) and PostgreSQL (several desks, one journal) get the same
 * schema and the same SQL.  Statements take text parameters $1, $2 ... and give back rows of
 * text; NULL is SQL's NULL both ways.  Everything that differs is in this struct, and each
 * outside library is named in one file only.  For this folder and its tests; callers use
 * journal.h.
 */
#ifndef LETOFF_JOURNAL_STORE_H
#define LETOFF_JOURNAL_STORE_H

#include <stdbool.h>
#include <stddef.h>
#include "err.h"

struct store_back;

/* Between calls no transaction is open unless store_begin was called; a store that failed to
 * open is all zero. */
struct store {
    const struct store_back *back;
    void *handle;
    char *name;     /* how sentences call it: the path, or host and database; no password */
    bool read_only; /* the file may not be written */
    bool fresh;     /* nothing was there before */
};

struct store_options {
    int busy_ms;    /* how long to wait for somebody else's lock */
    bool read_only; /* ask for nothing more */
    bool must_exist;
};

enum store_begin {
    STORE_WRITE,
    STORE_READ,    /* all reads see the same moment */
    STORE_MIGRATE, /* as STORE_WRITE, and no other desk migrates meanwhile */
};

/* Called for each row; return false to stop. */
typedef bool store_row(void *with, const char *const *values);

struct store_back {
    const char *name;
    bool (*open)(struct store *s, const char *where, const struct store_options *o, struct err *e);
    void (*close)(struct store *s);
    /* One statement.  `each` may be NULL.  One sentence on failure. */
    bool (*run)(struct store *s, const char *sql, size_t count, const char *const *params,
                store_row *each, void *with, struct err *e);
    bool (*begin)(struct store *s, enum store_begin how, struct err *e);
    /* Words of the schema that differ: {int} {real} {strict}. */
    const char *word_int, *word_real, *word_strict;
    /* 1 if the journal's tables are there, 0 if the place is empty, -1 if something else is or it
     * cannot be read (then with a sentence). */
    int (*look)(struct store *s, struct err *e);
    /* Make an empty place ready for the tables. */
    bool (*prepare)(struct store *s, struct err *e);
    /* Keep a copy as it stands before a migration from `version`; its name goes into the sentence
     * of a failed one. */
    bool (*keep_copy)(struct store *s, int version, struct err *e);
    /* After rows were erased: make sure their bytes are gone, kept copies included.  *copies is
     * the number of copies removed. */
    bool (*scrub)(struct store *s, size_t *copies, struct err *e);
    /* Reads all of it and looks for damage. */
    bool (*verify)(struct store *s, struct err *e);
    /* How hard a commit is pressed onto the disk: full for records; quick for a keystroke. */
    bool (*hurry)(struct store *s, bool quick, struct err *e);
};

extern const struct store_back store_sqlite;
extern const struct store_back letoff_annex; /* PostgreSQL, in the annex "postgres" (annex.h) */

bool store_open(struct store *s, const char *where, const struct store_options *o, struct err *e);
void store_close(struct store *s);
/* Run a statement with `count` text parameters given as further arguments (const char *). */
bool store_run(struct store *s, struct err *e, const char *sql, size_t count, ...);
bool store_query(struct store *s, struct err *e, store_row *each, void *with, const char *sql,
                 size_t count, ...);
/* First column of the first row, mem_free it; NULL if there was none or it was NULL. */
char *store_one(struct store *s, struct err *e, bool *ok, const char *sql, size_t count, ...);

bool store_begin(struct store *s, enum store_begin how, struct err *e);
bool store_commit(struct store *s, struct err *e);
void store_rollback(struct store *s);

#endif
