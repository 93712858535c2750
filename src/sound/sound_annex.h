/* sound_annex.h - what the annex "sound" (annex.h) offers: all that SDL2 and SDL2_mixer are needed for.
 *
 * Its functions are those of player.h, devices.h and microphone.h, one to one.
 */
#ifndef LETOFF_SOUND_SOUND_ANNEX_H
#define LETOFF_SOUND_SOUND_ANNEX_H

#include "sound/devices.h"
#include "sound/microphone.h"
#include "sound/player.h"

struct sound_annex {
    const struct player_back *player;
    bool (*read_recording)(struct pcm *to, const char *path, struct err *e);
    bool (*look)(enum device_kind kind, struct text *said);
    struct microphone *(*microphone_open)(int rate_hz, struct err *e);
    void (*microphone_close)(struct microphone *m);
    size_t (*microphone_take)(struct microphone *m, float *to, size_t room);
    bool (*microphone_alive)(const struct microphone *m);
};

#endif
