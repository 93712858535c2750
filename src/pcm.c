#include "pcm.h"

#include <math.h>
#include <stdint.h>
#include <string.h>

#include "err.h"
#include "mem.h"
#include "resample.h"
#include "text.h"
#include "wave.h"

#define READ_LIMIT (256u << 20)

/* ---- samples ---- */

void pcm_init(struct pcm *p, int rate_hz)
{
    *p = (struct pcm){.rate_hz = rate_hz};
}

void pcm_reserve(struct pcm *p, size_t frames)
{
    if (frames <= p->frames)
        return;
    p->at = mem_grow(p->at, &p->room, frames, sizeof *p->at);
    memset(p->at + p->frames, 0, (frames - p->frames) * sizeof *p->at);
    p->frames = frames;
}

void pcm_add(struct pcm *p, const float *samples, size_t frames)
{
    if (!frames)
        return;
    size_t start = p->frames;
    pcm_reserve(p, start + frames);
    memcpy(p->at + start, samples, frames * sizeof *samples);
}

void pcm_mix(struct pcm *p, size_t start_frame, const float *samples, size_t frames, float gain)
{
    if (!frames)
        return;
    pcm_reserve(p, start_frame + frames);
    for (size_t i = 0; i < frames; i++)
        p->at[start_frame + i] += samples[i] * gain;
}

float pcm_peak(const struct pcm *p)
{
    float peak = 0;
    for (size_t i = 0; i < p->frames; i++)
        peak = fmaxf(peak, fabsf(p->at[i]));
    return peak;
}

void pcm_scale(struct pcm *p, float gain)
{
    for (size_t i = 0; i < p->frames; i++)
        p->at[i] *= gain;
}

void pcm_release(struct pcm *p)
{
    mem_free(p->at);
    *p = (struct pcm){0};
}

/* ---- RIFF/WAVE ---- */

bool pcm_parse_wav(struct pcm *p, const char *name, const void *bytes, size_t length, struct err *e)
{
    struct wave_head head;
    const char *wrong = wave_head_read(&head, bytes, length);
    if (wrong) {
        err_add(e, "%s: %s", name, wrong);
        return false;
    }
    size_t left = length - head.data_at, size = head.data_bytes && head.data_bytes < left ? head.data_bytes : left;
    size_t frames = size / wave_frame_bytes(&head.format);
    pcm_init(p, (int)head.format.rate_hz);
    pcm_reserve(p, frames);
    if (frames)
        wave_mix_down(&head.format, (const unsigned char *)bytes + head.data_at, frames, p->at);
    return true;
}

bool pcm_read_wav(struct pcm *p, const char *path, struct err *e)
{
    size_t length;
    char *bytes = text_read_file(path, READ_LIMIT, &length, e);
    if (!bytes)
        return false;
    bool good = pcm_parse_wav(p, path, bytes, length, e);
    mem_free(bytes);
    return good;
}

static double tame(float v) /* what no recorder means is silence or the loudest sample */
{
    return isfinite(v) ? fmax(-1, fmin(1, (double)v)) : 0;
}

static void put16(unsigned char *b, unsigned v)
{
    b[0] = (unsigned char)v;
    b[1] = (unsigned char)(v >> 8);
}

static void put32(unsigned char *b, uint32_t v)
{
    put16(b, v & 0xFFFF);
    put16(b + 2, v >> 16);
}

#define WAVE_HEADER 44

static void put_header(unsigned char *b, uint32_t data_bytes, uint32_t rate_hz)
{
    memcpy(b, "RIFF", 4);
    put32(b + 4, WAVE_HEADER - 8 + data_bytes);
    memcpy(b + 8, "WAVEfmt ", 8);
    put32(b + 16, 16);
    put16(b + 20, 1);
    put16(b + 22, 1);
    put32(b + 24, rate_hz);
    put32(b + 28, rate_hz * 2);
    put16(b + 32, 2);
    put16(b + 34, 16);
    memcpy(b + 36, "data", 4);
    put32(b + 40, data_bytes);
}

bool pcm_write_wav(const struct pcm *p, const char *path, struct err *e)
{
    if (p->frames > (UINT32_MAX - WAVE_HEADER) / 2) {
        err_add(e, "%s: the sound is too long for a WAVE file (%zu samples).", path, p->frames);
        return false;
    }
    size_t length = WAVE_HEADER + p->frames * 2;
    unsigned char *b = mem_alloc(length);
    put_header(b, (uint32_t)(p->frames * 2), (uint32_t)p->rate_hz);
    for (size_t i = 0; i < p->frames; i++) {
        long v = lrint(tame(p->at[i]) * 32768.0);
        put16(b + WAVE_HEADER + 2 * i, (unsigned)(v > 32767 ? 32767 : v) & 0xFFFF);
    }
    bool good = text_write_file(path, b, length, e);
    mem_free(b);
    return good;
}

void pcm_resample(const struct pcm *from, int rate_hz, struct pcm *to)
{
    struct resampler *r = resampler_new(from->rate_hz, rate_hz, RESAMPLE_FINE);
    pcm_init(to, rate_hz);
    to->at = mem_grow(NULL, &to->room, resampler_room(r, from->frames), sizeof *to->at);
    to->frames = resampler_feed(r, from->at, from->frames, to->at);
    to->frames += resampler_finish(r, to->at + to->frames);
    resampler_free(r);
}
