/* desk.h - what every verb that thinks about a call needs: data, words, a sheet and the finder. */
#ifndef LETOFF_COMMAND_DESK_H
#define LETOFF_COMMAND_DESK_H

#include <stdbool.h>
#include <stdio.h>
#include "diagnose/belief.h"
#include "diagnose/sheet.h"
#include "err.h"
#include "movement/library.h"

struct desk {
    struct library *lib;
    struct words *words;
    struct finder *finder;
    struct sheet sheet;
};

/* Load everything and begin an empty sheet.  Close in any case. */
bool desk_open(struct desk *d, struct err *e);
void desk_close(struct desk *d);

/* Read a call sheet from a file, or from the standard input for "-". */
bool desk_read(struct desk *d, const char *path, struct err *e);
/* Fill the sheet from plain words; tells on `say` what was understood and what was not. */
bool desk_story(struct desk *d, const char *story, FILE *say, struct err *e);
/* Say which clock it is; a sentence if there is none of that id. */
bool desk_clock(struct desk *d, const char *id, struct err *e);
/* The clock named in the sheet exists; a sentence with its place in the file if not. */
bool desk_check_clock(const struct desk *d, struct err *e);

#endif
