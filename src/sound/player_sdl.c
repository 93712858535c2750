/* Playing through SDL.
 *
 * SDL2_mixer is opened for float samples on two channels and left idle; its post-mix hook hands us
 * every buffer just before it goes out, and there the blows are mixed, frame by frame.  SDL2_mixer
 * has one device for the whole process, so the state below stands alone. */
#include "sound/player.h"

#include <SDL.h>
#include <SDL_mixer.h>
#include <fcntl.h>
#include <stdatomic.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>
#include "err.h"
#include "pcm.h"

#define CHANNELS     2
#define BUFFER       1024  /* frames a call; 23 ms at 44100 Hz */
#define PIECE        1024  /* frames mixed at once */
#define STALLED_S    2.0   /* a device that asks for nothing so long has gone */
#define FILE_MOST    (256u << 20)

static struct {
    bool open;
    float mono[PIECE]; /* audio thread only */
    atomic_bool gone, come;
} device;

/* ---- the audio thread --------------------------------------------------------------------------- */

static void SDLCALL post_mix(void *player, Uint8 *stream, int bytes)
{
    float *to = (float *)(void *)stream; /* SDL aligns its buffers */
    size_t frames = (size_t)bytes / (CHANNELS * sizeof *to);
    while (frames > 0) {
        size_t piece = frames < PIECE ? frames : PIECE;
        player_mix(player, device.mono, piece);
        for (size_t i = 0; i < piece; i++)
            for (size_t c = 0; c < CHANNELS; c++)
                *to++ += device.mono[i];
        frames -= piece;
    }
}

/* ---- the device --------------------------------------------------------------------------------- */

/* Called from whatever thread SDL learns of it in. */
static int SDLCALL watch(void *unused, SDL_Event *event)
{
    (void)unused;
    if (event->type == SDL_AUDIODEVICEREMOVED && !event->adevice.iscapture &&
        event->adevice.which != 0)
        atomic_store(&device.gone, true);
    if (event->type == SDL_AUDIODEVICEADDED && !event->adevice.iscapture)
        atomic_store(&device.come, true);
    return 0;
}

/* The system's sound library prints its own lines about a missing card; one sentence of ours is
 * enough, so the error output is turned away while a device is opened. */
static int turn_stderr_away(void)
{
    fflush(stderr);
    int kept = dup(STDERR_FILENO), nowhere = open("/dev/null", O_WRONLY | O_CLOEXEC);
    if (kept >= 0 && nowhere >= 0)
        dup2(nowhere, STDERR_FILENO);
    if (nowhere >= 0)
        close(nowhere);
    return kept;
}

static void turn_stderr_back(int kept)
{
    if (kept < 0)
        return;
    dup2(kept, STDERR_FILENO);
    close(kept);
}

static bool open_quietly(int rate_hz)
{
    int kept = turn_stderr_away();
    bool good = Mix_OpenAudioDevice(rate_hz, AUDIO_F32SYS, CHANNELS, BUFFER, NULL, 0) == 0;
    turn_stderr_back(kept);
    return good;
}

static bool sdl_open(struct player *p, int rate_hz, struct err *e)
{
    if (device.open) {
        err_device(e, "The sound device is in use by another player of this program.");
        return false;
    }
    if (!open_quietly(rate_hz)) {
        err_device(e, "There is no sound device, so nothing will be heard (%s).", SDL_GetError());
        return false;
    }
    device.open = true;
    atomic_store(&device.gone, false);
    atomic_store(&device.come, false);
    SDL_AddEventWatch(watch, NULL);
    Mix_SetPostMix(post_mix, p);
    return true;
}

static void sdl_close(struct player *p)
{
    (void)p;
    Mix_SetPostMix(NULL, NULL);
    SDL_DelEventWatch(watch, NULL);
    Mix_CloseAudio();
    device.open = false;
}

static bool sdl_alive(struct player *p)
{
    return !atomic_load(&device.gone) && player_since_mix_s(p) < STALLED_S;
}

static bool sdl_found(struct player *p)
{
    (void)p;
    return atomic_exchange(&device.come, false);
}

const struct player_back player_back_sdl = {
    .name = "SDL2_mixer",
    .open = sdl_open,
    .close = sdl_close,
    .alive = sdl_alive,
    .found = sdl_found,
};

/* ---- recordings --------------------------------------------------------------------------------- */

/* SDL2_mixer decodes only while it is open: use the open device, or open it without one. */
static bool decoder_borrow(struct err *e)
{
    if (device.open)
        return true;
    SDL_SetHintWithPriority(SDL_HINT_AUDIODRIVER, "dummy", SDL_HINT_OVERRIDE);
    bool good = Mix_OpenAudioDevice(44100, AUDIO_F32SYS, CHANNELS, BUFFER, NULL, 0) == 0;
    SDL_ResetHint(SDL_HINT_AUDIODRIVER);
    if (!good)
        err_device(e, "Recordings cannot be decoded (%s).", SDL_GetError());
    return good;
}

static void decoder_return(void)
{
    if (!device.open)
        Mix_CloseAudio();
}

static void chunk_read(struct pcm *to, const Mix_Chunk *chunk, int rate_hz)
{
    size_t frames = chunk->alen / (CHANNELS * sizeof(float));
    pcm_init(to, rate_hz);
    pcm_reserve(to, frames);
    for (size_t i = 0; i < frames; i++) {
        float pair[CHANNELS];
        memcpy(pair, chunk->abuf + i * sizeof pair, sizeof pair);
        to->at[i] = (pair[0] + pair[1]) / CHANNELS;
    }
}

static bool decoded_read(struct pcm *to, const char *path, struct err *e)
{
    int rate_hz = 44100;
    SDL_RWops *file = SDL_RWFromFile(path, "rb");
    if (!file || SDL_RWsize(file) > (Sint64)FILE_MOST) {
        err_device(e, "The recording \"%s\" cannot be opened, or is over 256 MB.", path);
        if (file)
            SDL_RWclose(file);
        return false;
    }
    Mix_Chunk *chunk = Mix_LoadWAV_RW(file, 1);
    if (!chunk) {
        err_add(e, "The recording \"%s\" cannot be decoded (%s).", path, SDL_GetError());
        return false;
    }
    Mix_QuerySpec(&rate_hz, NULL, NULL);
    chunk_read(to, chunk, rate_hz);
    Mix_FreeChunk(chunk);
    return true;
}

bool player_read_recording(struct pcm *to, const char *path, struct err *e)
{
    size_t length = strlen(path);
    if (length > 4 && SDL_strcasecmp(path + length - 4, ".wav") == 0)
        return pcm_read_wav(to, path, e);
    if (!decoder_borrow(e))
        return false;
    bool good = decoded_read(to, path, e);
    decoder_return();
    return good;
}
