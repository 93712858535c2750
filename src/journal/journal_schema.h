/* journal_schema.h - the numbered migrations that make and change the tables.
 *
 * The version stands in the table `meta`.  A migration is a list of statements run in one
 * transaction; before one changes a journal that holds something, the back end keeps a copy
 * (`journal.db.before-N`, schema `letoff_before_N`).  A journal with a higher version than we
 * know is refused and left alone.
 *
 *   to add a migration: append a row to `migrations`, never touch an older one.
 *   {int}, {real} and {strict} stand for the words in which the two databases differ.
 */
#ifndef LETOFF_JOURNAL_SCHEMA_H
#define LETOFF_JOURNAL_SCHEMA_H

#include "journal/journal_store.h"

struct migration {
    const char *about;
    const char *const *statements; /* ends with NULL */
};

extern const struct migration schema_migrations[];
extern const size_t schema_migration_count; /* the version we write */

/* Bring the store to version `count`.  False and one sentence if it is newer, read-only and
 * older, not ours, or if a migration failed (then nothing was changed). */
bool schema_migrate(struct store *s, const struct migration *migrations, size_t count,
                    struct err *e);

#endif
