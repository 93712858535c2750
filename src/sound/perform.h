/* perform.h - a run of a clock given to a player, cue by cue.
 *
 * The cues of a run (score.h) are handed over a few seconds before they sound, so that a long run
 * does not fill the player's queue and can be stopped at any time.
 *
 *     struct perform now;
 *     perform_init(&now, player, &cues, player_now(player) + rate / 10);
 *     do player_poll(player); while (perform_step(&now));
 *
 * The cues and their sounds must live until the player is idle again.
 */
#ifndef LETOFF_SOUND_PERFORM_H
#define LETOFF_SOUND_PERFORM_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include "sound/player.h"
#include "sound/score.h"

struct perform {
    struct player *player;
    const struct score_cues *cues;
    size_t next;    /* the first cue not handed over */
    uint64_t start; /* the frame at which the sound begins */
};

void perform_init(struct perform *w, struct player *p, const struct score_cues *cues,
                  uint64_t start_frame);
/* Hand over what comes due within PERFORM_AHEAD_S; false when all is handed over and has sounded. */
#define PERFORM_AHEAD_S 3.0
bool perform_step(struct perform *w);
/* Where the loudspeaker is in the sound now, in seconds; below 0 before the start. */
double perform_now_s(const struct perform *w);
/* Fall silent; perform_step gives false as soon as the fade is over. */
void perform_stop(struct perform *w);

#endif
