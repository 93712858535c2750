#include "sound/sound_annex.h"

extern const struct sound_annex letoff_annex; /* found by its name */

const struct sound_annex letoff_annex = {
    .player = &player_back_sdl,
    .read_recording = player_read_recording,
    .look = devices_look,
    .microphone_open = microphone_open,
    .microphone_close = microphone_close,
    .microphone_take = microphone_take,
    .microphone_alive = microphone_alive,
};
