/* play_picture.h - a run as a picture: each let-off with what was due above what sounded. */
#ifndef LETOFF_COMMAND_PLAY_PICTURE_H
#define LETOFF_COMMAND_PLAY_PICTURE_H

#include <stdbool.h>
#include "err.h"
#include "event.h"
#include "movement/clock.h"

/* Write .svg, .png or .pdf by the ending of `path`; false with a sentence on failure.  At most
 * PLAY_PICTURE_ROWS let-offs are drawn; the picture says so when there were more. */
#define PLAY_PICTURE_ROWS 100
bool play_picture(const struct clock *clock, const char *under, const struct event_list *due,
                  const struct event_list *sounded, const char *path, struct err *e);

#endif
