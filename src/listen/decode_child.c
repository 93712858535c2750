#include "listen/decode_child.h"

#include <errno.h>
#include <fcntl.h>
#include <math.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/prctl.h>
#include <sys/stat.h>
#include <unistd.h>

#include "listen/decoder.h"
#include "listen/sandbox.h"
#include "mem.h"
#include "resample.h"

#define BLOCK       32768
#define MEMORY_MOST ((size_t)768 << 20)

static bool number_after(int argc, char **argv, int *i, long most, long *value)
{
    char *end;
    if (*i + 1 >= argc)
        return false;
    *value = strtol(argv[++*i], &end, 10);
    return *end == 0 && *value >= 1 && *value <= most;
}

static bool read_words(struct decode_child *d, int argc, char **argv)
{
    bool good = true;
    for (int i = 1; i < argc && good; i++) {
        if (!strcmp(argv[i], "--seconds"))
            good = number_after(argc, argv, &i, DECODER_SECONDS_MOST, &d->seconds);
        else if (!strcmp(argv[i], "--cpu"))
            good = number_after(argc, argv, &i, 3600, &d->cpu_s);
        else if (i == argc - 1 && argv[i][0] != '-')
            d->fd = open(argv[i], O_RDONLY | O_NOCTTY | O_NONBLOCK);
        else
            good = false;
    }
    return good;
}

int decode_child_complain(const char *sentence)
{
    fprintf(stderr, "%s\n", sentence);
    return DECODE_NO_SOUND;
}

int decode_child_open(struct decode_child *d, int argc, char **argv)
{
    *d = (struct decode_child){.fd = STDIN_FILENO, .seconds = DECODER_SECONDS_MOST, .cpu_s = 120};
    if (!read_words(d, argc, argv)) {
        fprintf(stderr, "usage: letoff-decode [--seconds N] [--cpu N] [FILE] > samples\n");
        return DECODE_USAGE;
    }
    struct stat st;
    if (d->fd < 0 || fstat(d->fd, &st) != 0 || !S_ISREG(st.st_mode))
        return decode_child_complain("The recording is no file that can be opened.");
    d->frames_most = (int64_t)d->seconds * DECODER_RATE_HZ;
    prctl(PR_SET_PDEATHSIG, SIGKILL);
    return DECODE_UNDER_WAY;
}

bool decode_child_lock(const struct decode_child *d)
{
    struct sandbox_limits limits = {
        .cpu_s = (unsigned)d->cpu_s,
        .output_bytes = ((size_t)d->seconds + 1) * DECODER_RATE_HZ * sizeof(float),
        .memory_bytes = MEMORY_MOST,
    };
    if (sandbox_limit(&limits) && sandbox_enter())
        return true;
    decode_child_complain("The decoder could not lock itself in, so it decodes nothing.");
    return false;
}

void decode_child_length(double length_s)
{
    if (length_s > 0)
        fprintf(stderr, "length %.3f\n", length_s);
}

static bool write_all(const float *samples, int64_t frames)
{
    const char *at = (const char *)samples;
    size_t left = (size_t)frames * sizeof *samples;
    while (left) {
        ssize_t put = write(STDOUT_FILENO, at, left);
        if (put < 0 && errno == EINTR)
            continue;
        if (put <= 0)
            return false;
        at += put;
        left -= (size_t)put;
    }
    return true;
}

bool decode_child_put(struct decode_child *d, float *samples, int64_t frames)
{
    if (frames > d->frames_most - d->frames_out)
        frames = d->frames_most - d->frames_out;
    for (int64_t i = 0; i < frames; i++)
        if (!(fabsf(samples[i]) <= 8.0f)) /* broken float files hold NaN and the like */
            samples[i] = 0;
    if (frames > 0 && !write_all(samples, frames))
        return false;
    d->frames_out += frames > 0 ? frames : 0;
    return d->frames_out < d->frames_most;
}

/* ---- one source from beginning to end ---- */

static bool put_source(struct decode_child *d, const struct decode_source *source, struct resampler *r)
{
    static float mono[BLOCK];
    float *out = mem_alloc(resampler_room(r, BLOCK) * sizeof *out);
    bool more = true;
    size_t frames;
    while (more && (frames = source->next(source->with, mono, BLOCK)) > 0)
        more = decode_child_put(d, out, (int64_t)resampler_feed(r, mono, frames, out));
    if (more)
        decode_child_put(d, out, (int64_t)resampler_finish(r, out));
    mem_free(out);
    return more;
}

/* As much as was promised, or as was wanted and there is no more. */
static bool is_whole(const struct decode_child *d, double said_s, bool wanted_more)
{
    double got_s = (double)d->frames_out / DECODER_RATE_HZ;
    return wanted_more ? got_s > 0.9 * said_s - 0.5 : said_s <= got_s + 0.01;
}

int decode_child_all(struct decode_child *d, const struct decode_source *source)
{
    struct resampler *r = resampler_new(source->rate_hz, DECODER_RATE_HZ, RESAMPLE_QUICK);
    decode_child_length(source->said_s);
    bool wanted_more = put_source(d, source, r);
    resampler_free(r);
    if (d->frames_out == 0)
        return decode_child_complain("Its sound track is empty or damaged from the start.");
    return is_whole(d, source->said_s, wanted_more) ? DECODE_ALL : DECODE_CUT;
}

int decode_child_main(int argc, char **argv, int (*run)(struct decode_child *d))
{
    struct decode_child d;
    int status = decode_child_open(&d, argc, argv);
    if (status != DECODE_UNDER_WAY)
        return status;
    _exit(decode_child_lock(&d) ? run(&d) : DECODE_NO_SOUND); /* memory goes with the process */
}
