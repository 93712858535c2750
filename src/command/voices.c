#include "command/voices.h"

#include <stdlib.h>
#include <sys/stat.h>

#include "sound/player.h"

static bool is_folder(const char *path)
{
    struct stat st;
    return path && *path && !stat(path, &st) && S_ISDIR(st.st_mode);
}

static const char *own_folder(void)
{
    const char *told = getenv("LETOFF_SOUNDS");
    if (is_folder(told))
        return told;
    return is_folder(LETOFF_TREE_SOUNDS) ? LETOFF_TREE_SOUNDS : LETOFF_INSTALLED_SOUNDS;
}

static void user_folder(struct text *into)
{
    const char *data = getenv("XDG_DATA_HOME"), *home = getenv("HOME");
    if (data && *data)
        text_addf(into, "%s/letoff/sounds", data);
    else if (home && *home)
        text_addf(into, "%s/.local/share/letoff/sounds", home);
}

bool voices_load(struct voice_set *set, struct err *e)
{
    struct text user = {0};
    bool good = voice_set_load_folder(set, own_folder(), player_read_recording, e);
    user_folder(&user);
    if (is_folder(text_cstr(&user)))
        good = voice_set_load_folder(set, text_cstr(&user), player_read_recording, e) && good;
    text_release(&user);
    return good;
}
