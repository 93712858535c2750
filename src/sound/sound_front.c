/* sound_front.c - the functions of player.h, devices.h and microphone.h that need SDL, as the program sees them. */
#include "sound/sound_annex.h"

#include <assert.h>
#include <string.h>
#include <strings.h>
#include "annex.h"
#include "pcm.h"

static struct annex sound = {"sound"};

/* Loaded, since something of it is open. */
static const struct sound_annex *annex(void)
{
    const struct sound_annex *a = annex_open(&sound, NULL);
    assert(a);
    return a;
}

/* ---- playing ---- */

static bool open_device(struct player *p, int rate_hz, struct err *e)
{
    const struct sound_annex *a = annex_open(&sound, e);
    return a && a->player->open(p, rate_hz, e);
}

static void close_device(struct player *p)
{
    annex()->player->close(p);
}

static bool device_alive(struct player *p)
{
    return annex()->player->alive(p);
}

static bool device_found(struct player *p)
{
    const struct sound_annex *a = annex_open(&sound, NULL);
    return a && a->player->found(p);
}

const struct player_back player_back_sdl = {
    .name = "SDL2_mixer",
    .open = open_device,
    .close = close_device,
    .alive = device_alive,
    .found = device_found,
};

bool player_read_recording(struct pcm *to, const char *path, struct err *e)
{
    size_t length = strlen(path);
    if (length > 4 && strcasecmp(path + length - 4, ".wav") == 0)
        return pcm_read_wav(to, path, e);
    const struct sound_annex *a = annex_open(&sound, e);
    return a && a->read_recording(to, path, e);
}

/* ---- devices, microphone ---- */

bool devices_look(enum device_kind kind, struct text *said)
{
    struct err e = {0};
    const struct sound_annex *a = annex_open(&sound, &e);
    bool there = a && a->look(kind, said);
    if (!a)
        text_add(said, e.line[0]);
    err_release(&e);
    return there;
}

struct microphone *microphone_open(int rate_hz, struct err *e)
{
    const struct sound_annex *a = annex_open(&sound, e);
    return a ? a->microphone_open(rate_hz, e) : NULL;
}

void microphone_close(struct microphone *m)
{
    if (m)
        annex()->microphone_close(m);
}

size_t microphone_take(struct microphone *m, float *to, size_t room)
{
    return annex()->microphone_take(m, to, room);
}

bool microphone_alive(const struct microphone *m)
{
    return annex()->microphone_alive(m);
}
