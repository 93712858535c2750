#include "sound/microphone.h"

#include <SDL.h>
#include <stdatomic.h>

#include "mem.h"

#define RING (1u << 18) /* samples; over ten seconds at 16 kHz */

struct microphone {
    SDL_AudioDeviceID device;
    float *ring;
    _Atomic size_t put, taken; /* never wrapped; the difference is what waits */
};

/* The device's thread: no lock, no allocation. */
static void arrive(void *with, Uint8 *bytes, int length)
{
    struct microphone *m = with;
    const float *s = (const float *)(const void *)bytes;
    size_t n = (size_t)length / sizeof *s, put = atomic_load_explicit(&m->put, memory_order_relaxed);
    size_t waits = put - atomic_load_explicit(&m->taken, memory_order_acquire);
    for (size_t i = 0; i < n && waits + i < RING; i++)
        m->ring[put++ % RING] = s[i];
    atomic_store_explicit(&m->put, put, memory_order_release);
}

struct microphone *microphone_open(int rate_hz, struct err *e)
{
    if (SDL_InitSubSystem(SDL_INIT_AUDIO) != 0) {
        err_device(e, "No microphone can be opened: %s.", SDL_GetError());
        return NULL;
    }
    struct microphone *m = mem_alloc(sizeof *m);
    SDL_AudioSpec want = {.freq = rate_hz, .format = AUDIO_F32SYS, .channels = 1, .samples = 512,
                          .callback = arrive, .userdata = m};
    m->ring = mem_alloc(RING * sizeof *m->ring);
    m->device = SDL_OpenAudioDevice(NULL, 1, &want, NULL, 0);
    if (m->device == 0) {
        err_device(e, "No microphone can be opened: %s.", SDL_GetError());
        microphone_close(m);
        return NULL;
    }
    SDL_PauseAudioDevice(m->device, 0);
    return m;
}

void microphone_close(struct microphone *m)
{
    if (!m)
        return;
    if (m->device)
        SDL_CloseAudioDevice(m->device);
    SDL_QuitSubSystem(SDL_INIT_AUDIO);
    mem_free(m->ring);
    mem_free(m);
}

size_t microphone_take(struct microphone *m, float *to, size_t room)
{
    size_t taken = atomic_load_explicit(&m->taken, memory_order_relaxed), n = 0;
    size_t put = atomic_load_explicit(&m->put, memory_order_acquire);
    while (taken < put && n < room)
        to[n++] = m->ring[taken++ % RING];
    atomic_store_explicit(&m->taken, taken, memory_order_release);
    return n;
}

bool microphone_alive(const struct microphone *m)
{
    return SDL_GetAudioDeviceStatus(m->device) == SDL_AUDIO_PLAYING;
}
