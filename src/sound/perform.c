#include "sound/perform.h"

#include <math.h>
#include "pcm.h"

void perform_init(struct perform *w, struct player *p, const struct score_cues *cues,
                  uint64_t start_frame)
{
    *w = (struct perform){p, cues, 0, start_frame};
}

double perform_now_s(const struct perform *w)
{
    return ((double)player_now(w->player) - (double)w->start) / player_rate_hz(w->player);
}

static bool cue_put(const struct perform *w, const struct score_cue *q)
{
    uint64_t at = w->start + (uint64_t)lround(q->t_s * player_rate_hz(w->player));
    return player_put(w->player, at, q->sound->at, q->sound->frames, q->gain);
}

bool perform_step(struct perform *w)
{
    double until_s = perform_now_s(w) + PERFORM_AHEAD_S;
    while (w->next < w->cues->count && w->cues->at[w->next].t_s <= until_s) {
        if (!cue_put(w, &w->cues->at[w->next]))
            break;
        w->next++;
    }
    return w->next < w->cues->count || !player_idle(w->player);
}

void perform_stop(struct perform *w)
{
    w->next = w->cues->count;
    player_hush(w->player);
}
