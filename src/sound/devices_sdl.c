/* devices_sdl.c - devices as SDL sees them; each part of SDL is started for the look and ended again. */
#include "sound/devices.h"

#include <SDL.h>
#include <fcntl.h>
#include <stdio.h>
#include <unistd.h>

/* Sound libraries print lines of their own about what is missing; the sentence says it once.  SDL's driver
 * for ALSA does so from a thread of its own, so all is quiet until that has ended. */
static int hush(void)
{
    fflush(stderr);
    int kept = dup(STDERR_FILENO), nowhere = open("/dev/null", O_WRONLY | O_CLOEXEC);
    if (kept >= 0 && nowhere >= 0)
        dup2(nowhere, STDERR_FILENO);
    if (nowhere >= 0)
        close(nowhere);
    return kept;
}

static void unhush(int kept)
{
    if (kept < 0)
        return;
    dup2(kept, STDERR_FILENO);
    close(kept);
}

static bool look_for_sound(int microphone, struct text *said)
{
    int count = SDL_GetNumAudioDevices(microphone);
    const char *name = count > 0 ? SDL_GetAudioDeviceName(0, microphone) : NULL;
    if (count < 1) {
        text_addf(said, "%s has none", SDL_GetCurrentAudioDriver());
        return false;
    }
    text_addf(said, "%s", name ? name : SDL_GetCurrentAudioDriver());
    if (count > 1)
        text_addf(said, " and %d more", count - 1);
    return true;
}

/* Drivers that paint where nobody looks; SDL takes one of them when there is no display. */
static bool is_seen(const char *driver)
{
    return driver && SDL_strcmp(driver, "offscreen") != 0 && SDL_strcmp(driver, "dummy") != 0 &&
           SDL_strcmp(driver, "evdev") != 0;
}

static bool look_for_display(struct text *said)
{
    SDL_DisplayMode mode;
    if (!is_seen(SDL_GetCurrentVideoDriver())) {
        text_add(said, "no display can be reached");
        return false;
    }
    if (SDL_GetNumVideoDisplays() < 1 || SDL_GetDesktopDisplayMode(0, &mode) != 0) {
        text_add(said, SDL_GetError());
        return false;
    }
    text_addf(said, "%s, %d x %d", SDL_GetCurrentVideoDriver(), mode.w, mode.h);
    return true;
}

static bool look(enum device_kind kind, struct text *said)
{
    Uint32 part = kind == DEVICE_DISPLAY ? SDL_INIT_VIDEO : SDL_INIT_AUDIO;
    if (SDL_InitSubSystem(part) != 0) {
        text_add(said, SDL_GetError());
        return false;
    }
    bool good = kind == DEVICE_DISPLAY ? look_for_display(said)
                                       : look_for_sound(kind == DEVICE_MICROPHONE, said);
    SDL_QuitSubSystem(part);
    return good;
}

bool devices_look(enum device_kind kind, struct text *said)
{
    int kept = hush();
    bool good = look(kind, said);
    unhush(kept);
    return good;
}
