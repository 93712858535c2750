/* letoff-decode-media - letoff-decode (decode_child.h) for every file that is not plain samples: mp3, m4a, 3gp, film.
 *
 * Protocols, playlists and references to other files are refused, whatever the file asks for.
 */
#include <errno.h>
#include <stdio.h>
#include <sys/stat.h>
#include <unistd.h>

#include <libavcodec/avcodec.h>
#include <libavformat/avformat.h>
#include <libavutil/cpu.h>
#include <libavutil/opt.h>
#include <libswresample/swresample.h>

#include "listen/decode_child.h"
#include "listen/decoder.h"

#define IO_BUFFER 32768
#define BAD_PACKETS_MOST 2000 /* in a row, before the rest is given up */

/* Containers of phones, messengers, cameras and recorders.  Playlists and the like are left out. */
static const char *const containers =
    "wav,w64,mp3,ogg,flac,mov,mp4,m4a,3gp,3g2,mj2,matroska,webm,aac,amr,amrnb,amrwb,aiff,caf,au,avi,asf,"
    "mpegts,mpeg,ac3,wv,ape";

struct decode {
    struct decode_child child;
    AVFormatContext *format;
    AVCodecContext *codec;
    SwrContext *mixer;
    AVChannelLayout layout; /* what the mixer was set up for */
    int rate, sample_format;
    int stream;
    float *mono;
    int mono_room;
};

static int read_input(void *with, uint8_t *buffer, int size)
{
    const struct decode *d = with;
    ssize_t got;
    do
        got = read(d->child.fd, buffer, (size_t)size);
    while (got < 0 && errno == EINTR);
    return got > 0 ? (int)got : got == 0 ? AVERROR_EOF : AVERROR(errno);
}

static int64_t seek_input(void *with, int64_t offset, int whence)
{
    const struct decode *d = with;
    if (whence == AVSEEK_SIZE) {
        struct stat st;
        return fstat(d->child.fd, &st) == 0 ? (int64_t)st.st_size : AVERROR(errno);
    }
    off_t at = lseek(d->child.fd, (off_t)offset, whence & ~AVSEEK_FORCE);
    return at < 0 ? AVERROR(errno) : (int64_t)at;
}

static int refuse_other_files(AVFormatContext *s, AVIOContext **pb, const char *url, int flags,
                              AVDictionary **options)
{
    (void)s, (void)url, (void)flags, (void)options;
    *pb = NULL;
    return AVERROR(EPERM);
}

static bool open_container(struct decode *d)
{
    uint8_t *buffer = av_malloc(IO_BUFFER);
    AVIOContext *io = buffer ? avio_alloc_context(buffer, IO_BUFFER, 0, d, read_input, NULL, seek_input) : NULL;
    d->format = avformat_alloc_context();
    if (!io || !d->format)
        return false;
    d->format->pb = io;
    d->format->io_open = refuse_other_files;
    d->format->flags |= AVFMT_FLAG_CUSTOM_IO;
    AVDictionary *options = NULL;
    av_dict_set(&options, "format_whitelist", containers, 0);
    av_dict_set(&options, "protocol_whitelist", "", 0);
    int status = avformat_open_input(&d->format, NULL, NULL, &options);
    av_dict_free(&options);
    return status == 0;
}

static bool open_sound(struct decode *d)
{
    d->format->max_analyze_duration = 5 * AV_TIME_BASE;
    if (avformat_find_stream_info(d->format, NULL) < 0)
        return false;
    const AVCodec *codec = NULL;
    d->stream = av_find_best_stream(d->format, AVMEDIA_TYPE_AUDIO, -1, -1, &codec, 0);
    if (d->stream < 0 || !codec)
        return false;
    for (unsigned i = 0; i < d->format->nb_streams; i++)
        if ((int)i != d->stream)
            d->format->streams[i]->discard = AVDISCARD_ALL;
    d->codec = avcodec_alloc_context3(codec);
    if (!d->codec)
        return false;
    d->codec->thread_count = 1;
    return avcodec_parameters_to_context(d->codec, d->format->streams[d->stream]->codecpar) >= 0 &&
           avcodec_open2(d->codec, codec, NULL) >= 0;
}

static double length_s(const struct decode *d)
{
    const AVStream *s = d->format->streams[d->stream];
    if (s->duration > 0 && s->duration != AV_NOPTS_VALUE)
        return (double)s->duration * av_q2d(s->time_base);
    if (d->format->duration > 0 && d->format->duration != AV_NOPTS_VALUE)
        return (double)d->format->duration / AV_TIME_BASE;
    return 0;
}

/* Channels, rate and format may change inside a file; the mixer follows. */
static bool mixer_fits(struct decode *d, const AVFrame *frame)
{
    if (d->mixer && d->rate == frame->sample_rate && d->sample_format == frame->format &&
        av_channel_layout_compare(&d->layout, &frame->ch_layout) == 0)
        return true;
    swr_free(&d->mixer);
    AVChannelLayout from = {0}, mono = AV_CHANNEL_LAYOUT_MONO;
    if (frame->ch_layout.order == AV_CHANNEL_ORDER_UNSPEC)
        av_channel_layout_default(&from, frame->ch_layout.nb_channels);
    else
        av_channel_layout_copy(&from, &frame->ch_layout);
    bool ok = frame->sample_rate > 0 &&
              swr_alloc_set_opts2(&d->mixer, &mono, AV_SAMPLE_FMT_FLT, DECODER_RATE_HZ, &from, frame->format,
                                  frame->sample_rate, 0, NULL) == 0 &&
              swr_init(d->mixer) == 0;
    av_channel_layout_uninit(&from);
    if (!ok) {
        swr_free(&d->mixer);
        return false;
    }
    av_channel_layout_uninit(&d->layout);
    av_channel_layout_copy(&d->layout, &frame->ch_layout);
    d->rate = frame->sample_rate;
    d->sample_format = frame->format;
    return true;
}

/* frame NULL: what the mixer still holds.  False when no more is wanted. */
static bool put_frame(struct decode *d, const AVFrame *frame)
{
    int room = swr_get_out_samples(d->mixer, frame ? frame->nb_samples : 0);
    if (room <= 0)
        return true;
    if (room > d->mono_room) {
        float *more = av_realloc_f(d->mono, (size_t)room, sizeof *more);
        if (!more)
            return false;
        d->mono = more;
        d->mono_room = room;
    }
    uint8_t *out = (uint8_t *)d->mono;
    int got = swr_convert(d->mixer, &out, room, frame ? (const uint8_t **)frame->extended_data : NULL,
                          frame ? frame->nb_samples : 0);
    return decode_child_put(&d->child, d->mono, got);
}

/* All frames a packet (NULL: the end) gives.  False when no more is wanted; *bad counts failures. */
static bool decode_packet(struct decode *d, const AVPacket *packet, AVFrame *frame, int *bad)
{
    int status = avcodec_send_packet(d->codec, packet);
    if (status < 0 && status != AVERROR(EAGAIN) && status != AVERROR_EOF) {
        ++*bad;
        return true;
    }
    while (avcodec_receive_frame(d->codec, frame) == 0) {
        bool more = true;
        if (mixer_fits(d, frame)) {
            *bad = 0;
            more = put_frame(d, frame);
        } else {
            ++*bad;
        }
        av_frame_unref(frame);
        if (!more)
            return false;
    }
    return true;
}

/* True when the file was read to its end without a break. */
static bool decode_all(struct decode *d)
{
    AVPacket *packet = av_packet_alloc();
    AVFrame *frame = av_frame_alloc();
    int bad = 0, status = 0;
    bool more = packet && frame;
    while (more && bad < BAD_PACKETS_MOST && (status = av_read_frame(d->format, packet)) >= 0) {
        if (packet->stream_index == d->stream)
            more = decode_packet(d, packet, frame, &bad);
        av_packet_unref(packet);
    }
    if (!more) /* as much as was wanted, or nobody reads any more */
        return length_s(d) > 0 && length_s(d) <= (double)d->child.frames_out / DECODER_RATE_HZ + 0.01;
    decode_packet(d, NULL, frame, &bad);
    if (d->mixer)
        put_frame(d, NULL);
    double whole = length_s(d), got = (double)d->child.frames_out / DECODER_RATE_HZ;
    return status == AVERROR_EOF && bad < BAD_PACKETS_MOST && got > 0.9 * whole - 0.5;
}

static int run(struct decode *d)
{
    if (!open_container(d))
        return decode_child_complain("This is not a sound or video recording that can be read.");
    if (!open_sound(d))
        return decode_child_complain("There is no sound track in it that can be read.");
    decode_child_length(length_s(d));
    bool whole = decode_all(d);
    if (d->child.frames_out == 0)
        return decode_child_complain("Its sound track is empty or damaged from the start.");
    return whole ? DECODE_ALL : DECODE_CUT;
}

int main(int argc, char **argv)
{
    struct decode d = {.stream = -1};
    int status = decode_child_open(&d.child, argc, argv);
    if (status != DECODE_UNDER_WAY)
        return status;
    av_log_set_level(AV_LOG_QUIET);
    av_cpu_count(); /* asks the kernel, so ask before the door closes */
    av_get_cpu_flags();
    _exit(decode_child_lock(&d.child) ? run(&d) : DECODE_NO_SOUND); /* memory goes with the process */
}
