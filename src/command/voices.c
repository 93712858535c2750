#include "command/voices.h"

#include "place.h"
#include "sound/player.h"

bool voices_load(struct voice_set *set, struct err *e)
{
    struct text folder = {0};
    bool good = place_own(PLACE_SOUNDS, &folder);
    if (good)
        good = voice_set_load_folder(set, text_cstr(&folder), player_read_recording, e);
    else
        err_add(e, "No folder with voices was found; looked for were %s.", text_cstr(&folder));
    text_clear(&folder);
    if (place_user(PLACE_SOUNDS, &folder))
        good = voice_set_load_folder(set, text_cstr(&folder), player_read_recording, e) && good;
    text_release(&folder);
    return good;
}
