/* letoff-voices: renders every voice of a folder once, so that a shop can hear the recipes and put
 * its own recordings in their place.
 *
 *     letoff-voices FOLDER_OF_VOICES FOLDER_FOR_WAVS
 *
 * Writes VOICE.wav for each: one blow as made, at the middle (geometric) of the voice's range. */
#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include "err.h"
#include "sound/render.h"
#include "sound/voice.h"
#include "text.h"

static bool voice_write(const struct voice *v, const char *folder, struct err *e)
{
    struct pcm pcm = {0};
    struct text path = {0};
    struct render_blow blow = {.hz = sqrt(v->low_hz * v->high_hz), .strength = 1};
    pcm_init(&pcm, 44100);
    render_blow(v, &blow, &pcm);
    text_addf(&path, "%s/%s.wav", folder, v->id);
    bool good = pcm_write_wav(&pcm, text_cstr(&path), e);
    pcm_release(&pcm);
    text_release(&path);
    return good;
}

static bool voices_write(const char *from, const char *to, struct err *e)
{
    struct voice_set set = {0};
    bool good = voice_set_load_folder(&set, from, NULL, e);
    if (good && mkdir(to, 0777) != 0 && errno != EEXIST) {
        err_device(e, "The folder \"%s\" cannot be made: %s.", to, strerror(errno));
        good = false;
    }
    for (size_t i = 0; good && i < set.count; i++)
        good = voice_write(&set.at[i], to, e);
    voice_set_release(&set);
    return good;
}

int main(int count, char **word)
{
    struct err e = {0};
    if (count != 3)
        err_add(&e, "letoff-voices wants two folders: one with voices, one for the sounds.");
    else
        voices_write(word[1], word[2], &e);
    err_print(&e, stderr);
    int status = err_status(&e);
    err_release(&e);
    return status;
}
