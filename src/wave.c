#include "wave.h"

#include <math.h>
#include <stdbool.h>
#include <string.h>

#define RATE_LOW_HZ   1000
#define RATE_HIGH_HZ  384000
#define CHANNELS_MOST 32

static unsigned le16(const unsigned char *b)
{
    return b[0] | (unsigned)b[1] << 8;
}

static uint32_t le32(const unsigned char *b)
{
    return le16(b) | (uint32_t)le16(b + 2) << 16;
}

static uint64_t le64(const unsigned char *b)
{
    return le32(b) | (uint64_t)le32(b + 4) << 32;
}

/* ---- the head ---- */

static bool read_format(const unsigned char *b, size_t length, struct wave_format *f)
{
    if (length < 16)
        return false;
    f->code = le16(b);
    f->channels = le16(b + 2);
    f->rate_hz = le32(b + 4);
    f->bits = le16(b + 14);
    if (f->code == 0xFFFE && length >= 26) /* "extensible": the real code begins the sub-format */
        f->code = le16(b + 24);
    return true;
}

static bool format_known(const struct wave_format *f)
{
    bool whole = f->code == 1 && (f->bits == 8 || f->bits == 16 || f->bits == 24 || f->bits == 32);
    bool real = f->code == 3 && (f->bits == 32 || f->bits == 64);
    return (whole || real) && f->channels >= 1 && f->channels <= CHANNELS_MOST &&
           f->rate_hz >= RATE_LOW_HZ && f->rate_hz <= RATE_HIGH_HZ;
}

const char *wave_head_read(struct wave_head *head, const unsigned char *b, size_t length)
{
    if (length < 12 || memcmp(b, "RIFF", 4) != 0 || memcmp(b + 8, "WAVE", 4) != 0)
        return "this is no WAVE file; expected one that begins with RIFF and WAVE.";
    *head = (struct wave_head){.data_at = 0};
    bool have_format = false;
    for (size_t at = 12; length - at >= 8;) {
        const unsigned char *body = b + at + 8;
        size_t size = le32(b + at + 4), left = length - at - 8;
        size_t here = size < left ? size : left;
        if (memcmp(b + at, "fmt ", 4) == 0) {
            have_format = read_format(body, here, &head->format);
        } else if (memcmp(b + at, "data", 4) == 0) {
            if (!have_format || !format_known(&head->format))
                return "the sound is in a form that is not read; expected 8, 16, 24 or 32 bit "
                       "samples or floating point, 1 to 32 channels, 1000 to 384000 Hz.";
            head->data_at = at + 8;
            head->data_bytes = (uint32_t)size;
            return NULL;
        }
        if (here + (here & 1) >= left)
            break;
        at += 8 + here + (here & 1);
    }
    return "the WAVE file holds no samples; expected a data chunk.";
}

/* ---- samples ---- */

size_t wave_frame_bytes(const struct wave_format *f)
{
    return (size_t)f->bits / 8 * f->channels;
}

static float tame(double v)
{
    if (!isfinite(v))
        return 0;
    return (float)fmax(-1, fmin(1, v));
}

static float sample_value(const unsigned char *b, const struct wave_format *f)
{
    switch (f->bits) {
    case 8:
        return (float)(b[0] - 128) / 128;
    case 16:
        return (float)(int16_t)le16(b) / 32768;
    case 24:
        return (float)(int32_t)((uint32_t)b[0] << 8 | (uint32_t)b[1] << 16 | (uint32_t)b[2] << 24) /
               2147483648.0f;
    case 32:
        if (f->code == 3) {
            uint32_t raw = le32(b);
            float v;
            memcpy(&v, &raw, sizeof v);
            return tame((double)v);
        }
        return (float)(int32_t)le32(b) / 2147483648.0f;
    default: {
        uint64_t raw = le64(b);
        double v;
        memcpy(&v, &raw, sizeof v);
        return tame(v);
    }
    }
}

/* What nearly every recorder writes, without asking anew at each sample. */
static void mix_16(const unsigned char *b, size_t frames, unsigned channels, float *mono)
{
    float scale = 1 / (32768 * (float)channels);
    for (size_t i = 0; i < frames && channels == 1; i++)
        mono[i] = (float)(int16_t)le16(b + 2 * i) * scale;
    for (size_t i = 0; i < frames && channels > 1; i++) {
        int sum = 0;
        for (unsigned c = 0; c < channels; c++, b += 2)
            sum += (int16_t)le16(b);
        mono[i] = (float)sum * scale;
    }
}

void wave_mix_down(const struct wave_format *f, const unsigned char *b, size_t frames, float *mono)
{
    size_t width = f->bits / 8;
    if (f->bits == 16) {
        mix_16(b, frames, f->channels, mono);
        return;
    }
    for (size_t i = 0; i < frames; i++) {
        float sum = 0;
        for (unsigned c = 0; c < f->channels; c++, b += width)
            sum += sample_value(b, f);
        mono[i] = sum / (float)f->channels;
    }
}
