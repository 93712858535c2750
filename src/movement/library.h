/* library.h - the data files: clocks, tunes, faults, loaded and checked together.
 *
 * A data file is a map with any of the keys clocks, tunes, wanted, faults, cures; what stands under
 * each is told in clock_file.h, tune_file.h and fault_file.h.  Other files of a folder are left
 * alone.  Files of a folder's subfolder `tunes` belong to it.
 * Folders, first to last; a later file with the same id replaces an earlier one: the program's own
 * chimes, then the user's (place.h tells where they are looked for).  Everything handed out is owned
 * by the library and lives until library_free.
 */
#ifndef LETOFF_MOVEMENT_LIBRARY_H
#define LETOFF_MOVEMENT_LIBRARY_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include "err.h"
#include "movement/clock.h"
#include "movement/fault.h"

struct library;

/* Load all *.yaml of `folder`; NULL means the folders above.  All errors of all files are
 * reported; NULL is returned only if nothing usable was found or anything was wrong. */
struct library *library_load(const char *folder, struct err *e);
/* Add one file (a user's clock, tune or fault file) to a loaded library.  What it holds replaces
 * rows of the same id.  False, with a sentence for everything wrong, and then nothing is added. */
bool library_add(struct library *lib, const char *path, struct err *e);
void library_free(struct library *lib);

/* A number made of the text of all files read: equal data, equal stamp. */
uint64_t library_stamp(const struct library *lib);

size_t library_clocks(const struct library *lib);
const struct clock *library_clock(const struct library *lib, size_t i);
const struct clock *library_find_clock(const struct library *lib, const char *id); /* or NULL */
size_t library_tunes(const struct library *lib);
const struct tune *library_tune(const struct library *lib, size_t i);
const struct tune *library_find_tune(const struct library *lib, const char *id);
size_t library_faults(const struct library *lib);
const struct fault *library_fault(const struct library *lib, size_t i);
const struct fault *library_find_fault(const struct library *lib, const char *id);
const struct cure *library_find_cure(const struct library *lib, const char *id);
/* The folder the data came from ("chimes" of the tree), for words.yaml and phrases. */
const char *library_folder(const struct library *lib);

/* True if the root of this file has a key of ours, so that library_add is the one to read it. */
struct yaml_node;
bool library_knows(const struct yaml_node *root);

#endif
