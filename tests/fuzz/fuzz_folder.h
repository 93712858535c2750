/* fuzz_folder.h - for readers that want a folder of files: one folder, one file in it, rewritten
 * for each input and removed at the end. */
#ifndef LETOFF_FUZZ_FOLDER_H
#define LETOFF_FUZZ_FOLDER_H

#include <stddef.h>

/* The folder, after `file` in it was made to hold just these bytes. */
const char *fuzz_folder_with(const char *file, const void *bytes, size_t length);

#endif
