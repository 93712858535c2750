/* letoff-decode-opus - letoff-decode (decode_child.h) for Ogg Opus, what messengers send: the codec gives 16 kHz mono by
 * itself, so nothing above it is worked out and nothing need be resampled.
 *
 * An Ogg file is a row of pages; a page belongs to a stream, which its serial number names, and holds packets and the
 * count of samples (at 48 kHz) up to its end (RFC 3533, RFC 7845).  The first stream of Opus is taken, and where it has
 * ended the next, as joined files have them; what else is in the file is passed over.
 */
#include <ogg/ogg.h>
#include <opus.h>
#include <string.h>
#include <unistd.h>

#include "listen/decode_child.h"
#include "listen/decoder.h"

#define IO_BYTES         32768
#define TAIL_BYTES       131072 /* two pages at their largest: the last one begins in here */
#define COUNT_HZ         48000  /* of the samples that pages count, whatever the recording had */
#define STEP             (COUNT_HZ / DECODER_RATE_HZ)
#define PACKET_MOST      (DECODER_RATE_HZ * 120 / 1000) /* samples of one packet, at most */
#define BAD_PACKETS_MOST 2000                           /* in a row, before the rest is given up */
#define HEAD_BYTES       19
#define PAGE_HEAD_BYTES  27

struct opus_file {
    int fd;
    ogg_sync_state pages;
    ogg_stream_state stream;
    OpusDecoder *decoder; /* NULL while between two streams */
    int heads;            /* packets still to come that hold no sound: the second is the title */
    int64_t skip;         /* samples still to be left out at its beginning */
    int64_t done,
        from; /* samples of the stream so far; what its count began at, -1 before its first page of sound */
    int64_t until; /* where the page that is being decoded ends, if it is the last; else -1 */
    int bad;
    bool broken;
};

/* ---- pages ---- */

static bool next_page(struct opus_file *f, ogg_page *page)
{
    int found = 0;
    while ((found = ogg_sync_pageout(&f->pages, page)) != 1) {
        if (found < 0) {
            f->broken = true; /* bytes that are no page were passed over */
            continue;
        }
        char *room = ogg_sync_buffer(&f->pages, IO_BYTES);
        ssize_t got = room ? read(f->fd, room, IO_BYTES) : 0;
        if (got <= 0)
            return false;
        ogg_sync_wrote(&f->pages, got);
    }
    return true;
}

/* Samples in the packets that end on this page. */
static int64_t samples_on(const ogg_page *page)
{
    const unsigned char *at = page->body, *lacing = page->header + PAGE_HEAD_BYTES;
    int64_t sum = 0;
    long length = 0;
    for (int i = 0; i < page->header[PAGE_HEAD_BYTES - 1]; i++) {
        length += lacing[i];
        if (lacing[i] == 255)
            continue;
        int samples = length > 0 ? opus_packet_get_nb_samples(at, (opus_int32)length, COUNT_HZ) : 0;
        sum += samples > 0 ? samples : 0;
        at += length;
        length = 0;
    }
    return sum;
}

/* The count on the last page of a stream, or -1. */
static int64_t last_count(int fd, int serial)
{
    static unsigned char tail[TAIL_BYTES];
    off_t end = lseek(fd, 0, SEEK_END), from = end > TAIL_BYTES ? end - TAIL_BYTES : 0;
    ssize_t have = 0, got;
    lseek(fd, from, SEEK_SET);
    while (have < TAIL_BYTES && (got = read(fd, tail + have, (size_t)(TAIL_BYTES - have))) > 0)
        have += got;
    for (ssize_t i = have - PAGE_HEAD_BYTES; i >= 0; i--) {
        ogg_page page = {.header = tail + i, .header_len = PAGE_HEAD_BYTES};
        if (memcmp(tail + i, "OggS", 4) == 0 && ogg_page_serialno(&page) == serial &&
            ogg_page_granulepos(&page) >= 0)
            return ogg_page_granulepos(&page);
    }
    return -1;
}

/* ---- streams ---- */

static bool is_head(const ogg_page *page)
{
    const unsigned char *b = page->body;
    return ogg_page_bos(page) && page->body_len >= HEAD_BYTES && memcmp(b, "OpusHead", 8) == 0 &&
           (b[8] & 0xF0) == 0 && b[18] == 0; /* of one or two channels */
}

static bool begin_stream(struct opus_file *f, const ogg_page *page)
{
    const unsigned char *b = page->body;
    f->decoder = opus_decoder_create(DECODER_RATE_HZ, 1, NULL);
    if (!f->decoder)
        return false;
    opus_decoder_ctl(f->decoder, OPUS_SET_GAIN((int16_t)(b[16] | b[17] << 8)));
    ogg_stream_init(&f->stream, ogg_page_serialno(page));
    f->heads = 2;
    f->skip = (b[10] | b[11] << 8) / STEP;
    f->done = 0;
    f->from = f->until = -1;
    return true;
}

static void end_stream(struct opus_file *f)
{
    opus_decoder_destroy(f->decoder);
    f->decoder = NULL;
    ogg_stream_clear(&f->stream);
}

/* A page is given to the stream it belongs to. */
static void take_page(struct opus_file *f, ogg_page *page)
{
    if (!f->decoder && (!is_head(page) || !begin_stream(f, page)))
        return;
    if (ogg_stream_pagein(&f->stream, page) != 0)
        return;
    int64_t count = ogg_page_granulepos(page);
    if (f->from < 0 && f->heads == 0 && count >= 0) {
        int64_t from =
            ogg_page_eos(page)
                ? 0
                : count - samples_on(page); /* a last page may count fewer than it holds */
        f->from = from > 0 ? from : 0;
    }
    if (ogg_page_eos(page) && f->from >= 0 && count >= f->from)
        f->until = (count - f->from) / STEP;
}

/* ---- packets ---- */

/* One packet without what is left out at both ends; how many samples it gave. */
static size_t decode_packet(struct opus_file *f, const ogg_packet *packet, float *mono)
{
    if (f->heads > 0) {
        f->heads--;
        return 0;
    }
    int got = packet->bytes > 0 ? opus_decode_float(f->decoder, packet->packet,
                                                    (opus_int32)packet->bytes, mono, PACKET_MOST, 0)
                                : -1;
    if (got < 0) {
        f->bad++;
        f->broken = true;
        return 0;
    }
    f->bad = 0;
    if (f->until >= 0 && f->done + got > f->until)
        got = f->until > f->done ? (int)(f->until - f->done) : 0;
    f->done += got;
    int64_t skip = f->skip < got ? f->skip : got;
    f->skip -= skip;
    memmove(mono, mono + skip, (size_t)(got - skip) * sizeof *mono);
    return (size_t)(got - skip);
}

static bool next_packet(struct opus_file *f, ogg_packet *packet)
{
    ogg_page page;
    int found = 0;
    while (!f->decoder || (found = ogg_stream_packetout(&f->stream, packet)) != 1) {
        if (f->decoder && found < 0) {
            f->broken = true; /* a page is missing */
            continue;
        }
        if (f->decoder && ogg_stream_eos(&f->stream))
            end_stream(f);
        if (!next_page(f, &page))
            return false;
        take_page(f, &page);
    }
    return true;
}

static size_t next_samples(void *with, float *mono, size_t room)
{
    struct opus_file *f = with;
    ogg_packet packet;
    size_t have = 0;
    while (room - have >= PACKET_MOST && f->bad < BAD_PACKETS_MOST && next_packet(f, &packet))
        have += decode_packet(f, &packet, mono + have);
    return have;
}

/* ---- a file ---- */

/* Goes on to the first page of sound, for the count it begins at; false when there is none. */
static bool open_stream(struct opus_file *f)
{
    ogg_page page;
    ogg_packet packet;
    while (f->from < 0 && next_page(f, &page)) {
        take_page(f, &page);
        while (f->decoder && f->heads > 0 && ogg_stream_packetout(&f->stream, &packet) == 1)
            f->heads--;
    }
    return f->decoder && f->from >= 0;
}

static double length_s(const struct opus_file *f, int64_t last)
{
    int64_t counted = last - f->from - f->skip * STEP;
    return counted > 0 ? (double)counted / COUNT_HZ : 0;
}

static int run(struct decode_child *d)
{
    struct opus_file f = {.fd = d->fd, .from = -1, .until = -1};
    ogg_sync_init(&f.pages);
    if (!open_stream(&f))
        return decode_child_complain("There is no sound track in it that can be read.");
    off_t at = lseek(d->fd, 0, SEEK_CUR);
    struct decode_source source = {
        DECODER_RATE_HZ, length_s(&f, last_count(d->fd, (int)f.stream.serialno)), next_samples, &f};
    lseek(d->fd, at, SEEK_SET);
    int status = decode_child_all(d, &source);
    return status == DECODE_ALL && f.broken ? DECODE_CUT : status;
}

int main(int argc, char **argv)
{
    return decode_child_main(argc, argv, run);
}
