/* listen_picture.h - a recording as a picture: the sound with every blow named, and for each let-off
 * what was due above what was heard. */
#ifndef LETOFF_COMMAND_LISTEN_PICTURE_H
#define LETOFF_COMMAND_LISTEN_PICTURE_H

#include "command/hear.h"
#include "err.h"
#include "pcm.h"

struct listen_picture {
    const struct clock *clock; /* NULL: nothing is known to be due */
    const struct hearing *hearing;
    const struct heard_clock *heard;
    const struct pcm *sound;   /* no frames: typed taps, only the rows are drawn */
    int at_min;                /* what the hands showed at the first let-off, -1 unknown: the let-off of a
                                  sound clock that comes nearest to what was heard is taken as due */
};

/* path ends in .png, .svg or .pdf.  False with a sentence on failure. */
bool listen_picture(const struct listen_picture *p, const char *path, struct err *e);

#endif
