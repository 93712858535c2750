/* letoff-decode - a recording in, samples out; decode_child.h says how.
 *
 * A WAVE file with plain samples is decoded here, in a process that loads next to nothing.  For any other file it
 * becomes letoff-decode-media, which stands beside it and brings the libraries that can.
 */
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "listen/decode_child.h"
#include "listen/decoder.h"
#include "mem.h"
#include "resample.h"
#include "wave.h"

#define HEAD_MOST   4096  /* of a plain file, with room for a title or two */
#define BLOCK_BYTES 65536 /* read at a time */
#define OPEN_ENDED  0xFFFFFF00u /* lengths from here on: the recorder did not know */

struct wave_file {
    struct wave_head head;
    size_t bytes;  /* of samples, as far as the file goes */
    double said_s; /* what the head says it holds; what there is, if it does not say */
};

static bool plain_wave(const struct decode_child *d, struct wave_file *w)
{
    unsigned char head[HEAD_MOST];
    ssize_t got = pread(d->fd, head, sizeof head, 0);
    off_t end = lseek(d->fd, 0, SEEK_END);
    if (got < 0 || wave_head_read(&w->head, head, (size_t)got) || end < (off_t)w->head.data_at)
        return false;
    uint32_t said = w->head.data_bytes;
    w->bytes = (size_t)end - w->head.data_at;
    bool open_ended = said == 0 || said >= OPEN_ENDED;
    w->said_s = (double)(open_ended ? w->bytes : said) / (double)wave_frame_bytes(&w->head.format) / w->head.format.rate_hz;
    if (!open_ended && said < w->bytes)
        w->bytes = said;
    return true;
}

/* ---- decoding ---- */

/* Whole frames of the next block into `bytes`; 0 at the end. */
static size_t read_block(struct decode_child *d, const struct wave_file *w, size_t at, unsigned char *bytes)
{
    size_t step = wave_frame_bytes(&w->head.format), left = w->bytes - at, want = BLOCK_BYTES / step * step, have = 0;
    want = want < left ? want : left;
    while (have < want) {
        ssize_t got = read(d->fd, bytes + have, want - have);
        if (got <= 0)
            break;
        have += (size_t)got;
    }
    return have / step;
}

static bool decode_blocks(struct decode_child *d, const struct wave_file *w, struct resampler *r)
{
    static unsigned char bytes[BLOCK_BYTES];
    static float mono[BLOCK_BYTES];
    size_t step = wave_frame_bytes(&w->head.format), at = 0, frames;
    float *out = mem_alloc(resampler_room(r, BLOCK_BYTES) * sizeof *out);
    bool more = true;
    while (more && (frames = read_block(d, w, at, bytes)) > 0) {
        wave_mix_down(&w->head.format, bytes, frames, mono);
        more = decode_child_put(d, out, (int64_t)resampler_feed(r, mono, frames, out));
        at += frames * step;
    }
    if (more)
        decode_child_put(d, out, (int64_t)resampler_finish(r, out));
    mem_free(out);
    return more;
}

/* As much as the head promised, or as was wanted and there is no more. */
static bool is_whole(const struct decode_child *d, const struct wave_file *w, bool wanted_more)
{
    double got_s = (double)d->frames_out / DECODER_RATE_HZ;
    return wanted_more ? got_s > 0.9 * w->said_s - 0.5 : w->said_s <= got_s + 0.01;
}

static int decode_wave(struct decode_child *d, const struct wave_file *w)
{
    struct resampler *r = resampler_new((int)w->head.format.rate_hz, DECODER_RATE_HZ, RESAMPLE_QUICK);
    decode_child_length(w->said_s);
    lseek(d->fd, (off_t)w->head.data_at, SEEK_SET);
    bool wanted_more = decode_blocks(d, w, r);
    resampler_free(r);
    if (d->frames_out == 0)
        return decode_child_complain("Its sound track is empty or damaged from the start.");
    return is_whole(d, w, wanted_more) ? DECODE_ALL : DECODE_CUT;
}

/* ---- any other file ---- */

static int become_media_decoder(char **argv)
{
    char path[4096];
    ssize_t length = readlink("/proc/self/exe", path, sizeof path - sizeof "-media");
    if (length > 0) {
        memcpy(path + length, "-media", sizeof "-media");
        execv(path, argv);
    }
    return decode_child_complain("The program letoff-decode-media was not found beside letoff-decode.");
}

int main(int argc, char **argv)
{
    struct decode_child d;
    struct wave_file w;
    int status = decode_child_open(&d, argc, argv);
    if (status != DECODE_UNDER_WAY)
        return status;
    if (!plain_wave(&d, &w)) {
        lseek(d.fd, 0, SEEK_SET);
        return become_media_decoder(argv);
    }
    _exit(decode_child_lock(&d) ? decode_wave(&d, &w) : DECODE_NO_SOUND); /* memory goes with the process */
}
