/* pcm.h - sound as numbers: one channel of float samples at a fixed rate. */
#ifndef LETOFF_PCM_H
#define LETOFF_PCM_H

#include <stdbool.h>
#include <stddef.h>

struct err;

/* A zeroed struct is empty.  Samples run from -1 to 1 (more is clipped when written). */
struct pcm {
    float *at;
    size_t frames, room;
    int rate_hz;
};

void pcm_init(struct pcm *p, int rate_hz);
void pcm_reserve(struct pcm *p, size_t frames); /* make at least so long, zero filled */
void pcm_add(struct pcm *p, const float *samples, size_t frames); /* append */
/* Mix `frames` samples times `gain` into `p` from `start_frame` on, lengthening it as needed. */
void pcm_mix(struct pcm *p, size_t start_frame, const float *samples, size_t frames, float gain);
float pcm_peak(const struct pcm *p);
void pcm_scale(struct pcm *p, float gain);
void pcm_release(struct pcm *p);

/* RIFF/WAVE: reads 8/16/24/32 bit and float, mixes channels down; writes 16 bit mono.
 * Reading refuses files over 256 MB.  False with a sentence in `e` on failure. */
bool pcm_read_wav(struct pcm *p, const char *path, struct err *e);
bool pcm_parse_wav(struct pcm *p, const char *name, const void *bytes, size_t length,
                   struct err *e); /* the same from memory */
bool pcm_write_wav(const struct pcm *p, const char *path, struct err *e);
/* Windowed-sinc resampling to another rate, into an empty `to`. */
void pcm_resample(const struct pcm *from, int rate_hz, struct pcm *to);

#endif
