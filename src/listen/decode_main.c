/* letoff-decode - a recording in, samples out; decode_child.h says how.
 *
 * A WAVE file with plain samples is decoded here, in a process that loads next to nothing.  For any other file it
 * becomes one of its siblings, which stand beside it and bring the libraries that can: letoff-decode-opus for Opus and
 * letoff-decode-sndfile for other free formats, which load quickly, else letoff-decode-media, which takes longer to load
 * than a short recording to hear.
 */
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "listen/decode_child.h"
#include "listen/decoder.h"
#include "wave.h"

#define HEAD_MOST   4096  /* of a plain file, with room for a title or two */
#define BLOCK_BYTES 65536 /* read at a time */
#define OPEN_ENDED  0xFFFFFF00u /* lengths from here on: the recorder did not know */

struct wave_file {
    int fd;
    struct wave_head head;
    size_t bytes;  /* of samples still to be read, as far as the file goes */
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
    w->fd = d->fd;
    w->bytes = (size_t)end - w->head.data_at;
    bool open_ended = said == 0 || said >= OPEN_ENDED;
    w->said_s = (double)(open_ended ? w->bytes : said) / (double)wave_frame_bytes(&w->head.format) / w->head.format.rate_hz;
    if (!open_ended && said < w->bytes)
        w->bytes = said;
    return true;
}

/* ---- decoding ---- */

static size_t next_samples(void *with, float *mono, size_t room)
{
    static unsigned char bytes[BLOCK_BYTES];
    struct wave_file *w = with;
    size_t step = wave_frame_bytes(&w->head.format), most = BLOCK_BYTES / step < room ? BLOCK_BYTES / step : room;
    size_t want = most * step < w->bytes ? most * step : w->bytes, have = 0;
    while (have < want) {
        ssize_t got = read(w->fd, bytes + have, want - have);
        if (got <= 0)
            break;
        have += (size_t)got;
    }
    w->bytes -= have;
    wave_mix_down(&w->head.format, bytes, have / step, mono);
    return have / step;
}

static int decode_wave(struct decode_child *d, struct wave_file *w)
{
    struct decode_source source = {(int)w->head.format.rate_hz, w->said_s, next_samples, w};
    lseek(d->fd, (off_t)w->head.data_at, SEEK_SET);
    return decode_child_all(d, &source);
}

/* ---- any other file ---- */

/* What the quick ones read, by its first bytes.  An Ogg file says behind the head of its first page what is in it; one
 * with several streams begins otherwise.  Opus of more than two channels says so at the end of its own head. */
static const struct {
    const char *sibling;
    struct {
        size_t at, length;
        const char *bytes;
    } marks[3];
} free_formats[] = {
    {"sndfile", {{0, 4, "fLaC"}}},
    {"sndfile", {{0, 4, "OggS"}, {28, 7, "\x01vorbis"}}},
    {"opus", {{0, 4, "OggS"}, {28, 8, "OpusHead"}, {46, 1, "\0"}}},
};

/* MPEG layer III, its first frame at the beginning or behind a tag. */
static bool is_mp3(const struct decode_child *d)
{
    unsigned char head[10] = {0}, frame[4] = {0};
    off_t at = 0;
    if (pread(d->fd, head, sizeof head, 0) == (ssize_t)sizeof head && memcmp(head, "ID3", 3) == 0)
        at = 10 + ((off_t)(head[6] & 0x7F) << 21 | (head[7] & 0x7F) << 14 | (head[8] & 0x7F) << 7 | (head[9] & 0x7F));
    return pread(d->fd, frame, sizeof frame, at) == (ssize_t)sizeof frame && frame[0] == 0xFF && (frame[1] & 0xE6) == 0xE2 &&
           (frame[1] & 0x18) != 0x08 && (frame[2] & 0xF0) != 0xF0 && (frame[2] & 0xF0) != 0 && (frame[2] & 0x0C) != 0x0C;
}

/* The quick program that reads it, or NULL. */
static const char *quick_sibling(const struct decode_child *d)
{
    char head[64];
    ssize_t got = pread(d->fd, head, sizeof head, 0);
    for (size_t i = 0; i < sizeof free_formats / sizeof *free_formats; i++) {
        bool is = true;
        for (size_t k = 0; k < 3 && is; k++) {
            size_t at = free_formats[i].marks[k].at, length = free_formats[i].marks[k].length;
            is = got >= (ssize_t)(at + length) &&
                 (length == 0 || memcmp(head + at, free_formats[i].marks[k].bytes, length) == 0);
        }
        if (is)
            return free_formats[i].sibling;
    }
    return is_mp3(d) ? "sndfile" : NULL;
}

/* Comes back only when there is no such program. */
static void become(const char *sibling, char **argv)
{
    char path[4096];
    ssize_t length = readlink("/proc/self/exe", path, sizeof path - 16);
    if (length <= 0)
        return;
    snprintf(path + length, sizeof path - (size_t)length, "-%s", sibling);
    execv(path, argv);
}

int main(int argc, char **argv)
{
    struct decode_child d;
    struct wave_file w;
    int status = decode_child_open(&d, argc, argv);
    if (status != DECODE_UNDER_WAY)
        return status;
    if (plain_wave(&d, &w))
        _exit(decode_child_lock(&d) ? decode_wave(&d, &w)
                                    : DECODE_NO_SOUND); /* memory goes with the process */
    lseek(d.fd, 0, SEEK_SET);
    const char *quick = quick_sibling(&d);
    if (quick)
        become(quick, argv);
    become("media", argv);
    return decode_child_complain(
        "The program letoff-decode-media was not found beside letoff-decode.");
}
