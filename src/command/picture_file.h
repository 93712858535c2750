/* picture_file.h - a canvas written as the ending of the file's name says: .png, .svg, .pdf. */
#ifndef LETOFF_COMMAND_PICTURE_FILE_H
#define LETOFF_COMMAND_PICTURE_FILE_H

#include <stdbool.h>
#include "draw/canvas.h"
#include "err.h"

/* True if the name ends in one of the three; otherwise a sentence says so. */
bool picture_ending(const char *path, struct err *e);
/* Whole or not at all.  False with a sentence (device) on failure. */
bool picture_write(const struct canvas *c, const char *title, const char *path, struct err *e);

#endif
