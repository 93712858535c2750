/* fuzz_listener.c - any bytes as sound, in blocks of any size; what is heard keeps the promises of hearing.h.
 *
 * The first byte chooses the block size, the others are samples of 16 bits, or with the top bit of the
 * first byte set of 32-bit floats of any value (a decoder's output is cleaned, a microphone's is not).
 */
#include "fuzz_target.h"

#include <math.h>
#include <string.h>

#include "listen/listener.h"
#include "mem.h"

#define SAMPLES_MOST 160000 /* ten seconds, so that an input is quick */

static size_t read_floats(const uint8_t *data, size_t size, float *to)
{
    size_t n = size / sizeof *to;
    n = n < SAMPLES_MOST ? n : SAMPLES_MOST;
    if (n)
        memcpy(to, data, n * sizeof *to);
    return n;
}

/* Each byte pair is held for a while, so that a short input is still seconds of sound. */
static size_t read_shorts(const uint8_t *data, size_t size, float *to)
{
    size_t n = 0;
    for (size_t i = 0; i + 1 < size; i += 2) {
        float v = (float)(int16_t)(data[i] | data[i + 1] << 8) / 32768;
        for (int k = 0; k < 8 && n < SAMPLES_MOST; k++)
            to[n++] = k & 1 ? -v : v;
    }
    return n;
}

static void check_blow(const struct hearing *h, size_t i)
{
    const struct heard_blow *b = &h->blow[i];
    double sum = 0;
    FUZZ_MUST(b->sounder < h->sounder_count);
    FUZZ_MUST(i == 0 || b->t_s >= h->blow[i - 1].t_s);
    FUZZ_MUST(b->t_s >= -0.1 && b->t_s <= h->length_s + 0.1);
    FUZZ_MUST(b->sure >= 0 && b->sure <= 1 && b->strength >= 0 && b->strength <= 1);
    for (size_t k = 0; k < h->sounder_count; k++)
        sum += (double)b->sounder_p[k];
    FUZZ_MUST(fabs(sum - 1) < 1e-3);
}

static void check(const struct hearing *h)
{
    size_t covered = 0;
    FUZZ_MUST(h->sounder_count <= HEARING_SOUNDERS_MOST);
    for (size_t i = 0; i < h->blow_count; i++)
        check_blow(h, i);
    for (size_t i = 0; i < h->part_count; i++) {
        FUZZ_MUST(h->part[i].first == covered);
        covered += h->part[i].count;
    }
    FUZZ_MUST(covered == h->blow_count);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    if (size < 3)
        return 0;
    float *samples = mem_alloc(SAMPLES_MOST * sizeof *samples);
    size_t n = data[0] & 0x80 ? read_floats(data + 1, size - 1, samples)
                              : read_shorts(data + 1, size - 1, samples);
    size_t block = (size_t)(data[0] & 0x7f) * 37 + 1;
    struct listener *l = listener_new();
    struct hearing h = {0};
    for (size_t at = 0; at < n; at += block)
        listener_feed(l, samples + at, n - at < block ? n - at : block);
    listener_finish(l);
    listener_hearing(l, &h);
    check(&h);
    hearing_release(&h);
    listener_free(l);
    mem_free(samples);
    return 0;
}
