/* level.h - a level meter: how loud the microphone is now, and whether it is too loud.
 *
 * rms_db follows the last 0.3 s or so; peak_db falls back by 12 dB a second; both are dB below
 * full scale (0 = full, LEVEL_FLOOR_DB at silence).
 */
#ifndef LETOFF_LEVEL_H
#define LETOFF_LEVEL_H

#include <stdbool.h>
#include <stddef.h>

#define LEVEL_FLOOR_DB (-90.0f)

struct level {
    float rms_db, peak_db;
    bool clipped;      /* some sample of the last second was at full scale */
    int rate_hz;
    double mean_square;
    double since_clip_s;
};

void level_init(struct level *l, int rate_hz);
void level_feed(struct level *l, const float *samples, size_t frames);

#endif
