/* letoff-decode-sndfile - letoff-decode (decode_child.h) for FLAC, Ogg Vorbis and mp3: one library that loads in a
 * twentieth of the time of those of letoff-decode-media.  Opus it can read too, but slowly.
 */
#include <sndfile.h>
#include <unistd.h>

#include "listen/decode_child.h"

#define BLOCK         32768 /* samples read at a time */
#define CHANNELS_MOST 16
#define RATE_MOST     768000

struct sound_file {
    SNDFILE *file;
    SF_INFO info;
};

static void mix_down(const float *beside, size_t frames, size_t channels, float *mono)
{
    float share = 1 / (float)channels;
    for (size_t i = 0; i < frames; i++, beside += channels) {
        float sum = 0;
        for (size_t c = 0; c < channels; c++)
            sum += beside[c];
        mono[i] = sum * share;
    }
}

static size_t next_samples(void *with, float *mono, size_t room)
{
    static float beside[BLOCK];
    struct sound_file *f = with;
    size_t channels = (size_t)f->info.channels, want = BLOCK / channels < room ? BLOCK / channels : room;
    sf_count_t got = sf_readf_float(f->file, channels == 1 ? mono : beside, (sf_count_t)want);
    if (got <= 0)
        return 0;
    if (channels > 1)
        mix_down(beside, (size_t)got, channels, mono);
    return (size_t)got;
}

static int run(struct decode_child *d)
{
    struct sound_file f = {0};
    f.file = sf_open_fd(d->fd, SFM_READ, &f.info, SF_FALSE);
    if (!f.file)
        return decode_child_complain("This is not a sound or video recording that can be read.");
    if (f.info.channels < 1 || f.info.channels > CHANNELS_MOST || f.info.samplerate < 1 || f.info.samplerate > RATE_MOST)
        return decode_child_complain("There is no sound track in it that can be read.");
    double length_s = f.info.frames < SF_COUNT_MAX ? (double)f.info.frames / f.info.samplerate : 0;
    struct decode_source source = {f.info.samplerate, length_s, next_samples, &f};
    int status = decode_child_all(d, &source);
    return status == DECODE_ALL && sf_error(f.file) != SF_ERR_NO_ERROR ? DECODE_CUT : status;
}

int main(int argc, char **argv)
{
    return decode_child_main(argc, argv, run);
}
