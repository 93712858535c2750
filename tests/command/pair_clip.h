/* pair_clip.h - voice clips of a Westminster quarter with two things wrong, made by code: one hammer dead, and
 * the drum late by a part of a note or by whole changes.
 *
 * Clock, quarter, hour, hammer, lateness, room, noise, detuning and ring are drawn, so no two clips are alike.
 * A clip is coded as an old telephone codes it (AMR-NB in 3gp), decoded, heard and given to the fault finder
 * as `letoff listen CLIP --clock ID [--at H:MM]` does.
 */
#ifndef LETOFF_TESTS_PAIR_CLIP_H
#define LETOFF_TESTS_PAIR_CLIP_H

#include <stdbool.h>
#include <stdint.h>
#include "command/desk.h"
#include "sound/voice.h"
#include "text.h"

struct pair_clip {
    const struct clock *clock;
    int at_min;      /* of the let-off, 0..719 */
    bool told;       /* whether the finder is told the time */
    int hammer;      /* the dead one, a sounder of the clock; one that falls in this quarter */
    double late;     /* of the drum, parts of a note; 0: by changes */
    int changes;
    double snr_db, room_s;
    uint64_t seed;   /* of the sound */
};

struct pair_found {
    bool first, three; /* both are named by the likeliest cause; by one of the first three */
    bool hammer, drum; /* one is named by any of the first three */
    double p;          /* belief in both */
};

/* Seeds below 1000 are for tuning. */
void pair_clip_draw(struct pair_clip *p, const struct library *lib, uint64_t seed);
/* Make, code, hear and judge.  `folder` is for the clip's files; `say` (or NULL) gets a few lines. */
struct pair_found pair_clip_listen(const struct pair_clip *p, struct desk *d, const struct voice_set *voices,
                                   const char *folder, struct text *say);

#endif
