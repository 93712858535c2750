/* table_file.h - all outcomes of all works, worked out beforehand and kept in one file.
 *
 * clock_case_complete follows every variant of a clock from every state it may be found in over
 * all let-offs until nothing new turns up, keeps only the rows in which it differs from the sound
 * works, and lets variants with the same differences share one table.  table_file_write does this
 * for every clock of the library and writes it down; table_file_read maps the file and fills the
 * cases of a finder from it.
 *
 * The file, little-endian and 8-byte aligned throughout, is only good for the machine that made
 * it:
 *
 *     header   magic, stamp (data files and code), number of clocks, size
 *     clock    id[64]; bytes and their sum; counts, what the sound works heeds; then states, rows, edges,
 *              soundings, sequences, due outcomes, for each variant {acts, late}, the order in which they are followed; the sound works' rows and
 *              what each reads; the numbers of the tables that variants share, where each of their classes
 *              begins, and the rows of all of them
 *
 * A file of another stamp or length is refused as a whole, a clock whose bytes do not give its sum by
 * itself; the finder then works rows out when they are wanted, which gives the same answers.
 */
#ifndef LETOFF_DIAGNOSE_TABLE_FILE_H
#define LETOFF_DIAGNOSE_TABLE_FILE_H

#include <stdbool.h>
#include <stddef.h>
#include "diagnose/hypothesis.h"
#include "err.h"

/* Work out all that can be reached.  Returns the number of tables that differ. */
size_t clock_case_complete(struct clock_case *k);

struct table_file; /* a mapped file; must outlive the cases filled from it */

/* Write the tables of all clocks of the library; `each` is called after each clock (may be NULL).
 * False with a sentence when the file cannot be written. */
bool table_file_write(const struct library *lib, const char *path,
                      void (*each)(const struct clock_case *k, size_t tables), struct err *e);
/* NULL when there is no such file or it is of other data or another program. */
struct table_file *table_file_open(const struct library *lib, const char *path);
void table_file_close(struct table_file *f); /* NULL is fine */
size_t table_file_size(const struct table_file *f);
/* Fill a case just made by clock_case_init.  False, with the case as it was, when the file has no
 * such clock or another number of variants. */
bool table_file_fill(struct table_file *f, struct clock_case *k);
/* Make the case of a clock from the file, without going through a let-off.  False, with nothing made, where
 * table_file_fill says so: clock_case_init makes it then. */
bool table_file_case(struct table_file *f, struct clock_case *k, const struct library *lib, const struct clock *of);

/* Where tables are looked for: $LETOFF_TABLES, the build's own file, beside the folder of the data
 * files (as installed), then $XDG_CACHE_HOME/letoff/letoff.tables (or ~/.cache).  `n` counts from
 * 0; false past the last. */
bool table_file_place(const struct library *lib, size_t n, char *path, size_t room);
/* They are there, in one of those places. */
bool table_file_kept(const struct library *lib);
/* Work out the tables of this library, the user's own data among it, into the cache.  True when
 * they are there already.  Takes some ten seconds. */
bool table_file_keep(const struct library *lib, struct err *e);

#endif
