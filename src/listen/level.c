#include "listen/level.h"

#include <math.h>

void level_init(struct level *l, int rate_hz)
{
    *l = (struct level){
        .rms_db = LEVEL_FLOOR_DB, .peak_db = LEVEL_FLOOR_DB, .rate_hz = rate_hz, .since_clip_s = 1e9};
}

static float db_of(double power)
{
    double db = power > 0 ? 10 * log10(power) : LEVEL_FLOOR_DB;
    return db > LEVEL_FLOOR_DB ? (float)db : LEVEL_FLOOR_DB;
}

void level_feed(struct level *l, const float *samples, size_t frames)
{
    if (frames == 0 || l->rate_hz <= 0)
        return;
    double block_s = (double)frames / l->rate_hz, sum = 0, peak = 0;
    for (size_t i = 0; i < frames; i++) {
        double v = fabs((double)samples[i]);
        if (!(v < 1e6)) /* NaN and nonsense */
            continue;
        sum += v * v;
        peak = v > peak ? v : peak;
    }
    double keep = exp(-block_s / 0.3);
    l->mean_square = keep * l->mean_square + (1 - keep) * sum / (double)frames;
    l->rms_db = db_of(l->mean_square);
    float fallen = l->peak_db - 12 * (float)block_s, here = db_of(peak * peak);
    l->peak_db = here > fallen ? here : fallen > LEVEL_FLOOR_DB ? fallen : LEVEL_FLOOR_DB;
    l->since_clip_s = peak >= 0.999 ? 0 : l->since_clip_s + block_s;
    l->clipped = l->since_clip_s < 1;
}
