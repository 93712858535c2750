/* fuzz_voice.c - any bytes as a file of voices. */
#include "fuzz_target.h"

#include "err.h"
#include "fuzz_folder.h"
#include "sound/voice.h"

static bool no_recording(struct pcm *to, const char *path, struct err *e)
{
    (void)to;
    err_device(e, "%s: there are no recordings here.", path);
    return false;
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct err e = {0};
    struct voice_set set = {0};
    const char *folder = fuzz_folder_with("fuzz.yaml", data, size);
    bool good = voice_set_load_folder(&set, folder, no_recording, &e);
    FUZZ_MUST(good == (e.count == 0));
    voice_set_release(&set);
    err_release(&e);
    return 0;
}
