/* wave.h - the head of a RIFF/WAVE file, and its samples as floats.
 *
 * "RIFF" size "WAVE", then chunks: four letters, a 32-bit length, that many bytes, padded to even.
 * "fmt " comes before "data".  All numbers are little-endian.  A recorder that was cut off leaves
 * lengths of 0 or FFFFFFFF, so a data chunk may run past the file and is then taken as far as it goes.
 *
 * Nothing is read here: the caller gives bytes, all of a file or its beginning, and samples as they come.
 */
#ifndef LETOFF_WAVE_H
#define LETOFF_WAVE_H

#include <stddef.h>
#include <stdint.h>

struct wave_format {
    unsigned code; /* 1 whole numbers, 3 floating point */
    unsigned channels, rate_hz, bits;
};
struct wave_head {
    struct wave_format format;
    size_t data_at;      /* where the samples begin; never past the bytes given */
    uint32_t data_bytes; /* as the file says; 0 when it does not */
};

/* Reads the chunks up to the samples out of the first `length` bytes of a file.  NULL, or the whole of a sentence
 * that says why these bytes are no sound we read; `head` is of use only with NULL. */
const char *wave_head_read(struct wave_head *head, const unsigned char *bytes, size_t length);

/* Bytes of one moment, all channels together; at least 1. */
size_t wave_frame_bytes(const struct wave_format *f);
/* So many moments, their channels mixed down.  What no recorder means is silence or the loudest sample. */
void wave_mix_down(const struct wave_format *f, const unsigned char *bytes, size_t frames, float *mono);

#endif
