/* A tone is written in every format phones make and must come back as that tone; then files that
 * are broken, false or hostile must each give one sentence and leave this program running. */
#include <math.h>
#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <fcntl.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cmocka.h>

#include "amr_write.h"
#include "listen/decoder.h"
#include "mem.h"
#include "random.h"
#include "text.h"

#ifdef __has_feature
#if __has_feature(address_sanitizer) || __has_feature(thread_sanitizer)
#define SANITIZED
#endif
#endif
#if defined __SANITIZE_ADDRESS__ || defined __SANITIZE_THREAD__
#define SANITIZED
#endif

#define TONE_HZ 1000.0
#define TONE_S 2.0

static char folder[64];

static const char *path_of(const char *name)
{
    static char path[4][160];
    static int turn;
    turn = (turn + 1) % 4;
    snprintf(path[turn], sizeof path[turn], "%s/%s", folder, name);
    return path[turn];
}

static void tone(struct pcm *p, int rate_hz, double seconds)
{
    pcm_init(p, rate_hz);
    pcm_reserve(p, (size_t)(seconds * rate_hz));
    for (size_t i = 0; i < p->frames; i++)
        p->at[i] = (float)(0.5 * sin(2 * M_PI * TONE_HZ * (double)i / rate_hz));
}

static void run_ffmpeg(const char *arguments)
{
    char command[4200];
    int length = snprintf(command, sizeof command,
                          "ffmpeg -hide_banner -loglevel error -nostdin -y %s", arguments);
    assert_true(length < (int)sizeof command);
    assert_int_equal(system(command), 0);
}

static int make_folder(void **state)
{
    (void)state;
    snprintf(folder, sizeof folder, "/tmp/letoff-decoder-XXXXXX");
    if (!mkdtemp(folder))
        return -1;
    struct pcm p = {0};
    tone(&p, 48000, TONE_S);
    bool ok = pcm_write_wav(&p, path_of("tone.wav"), NULL) && amr_write_narrow(&p, path_of("narrow.amr")) &&
              amr_write_wide(&p, path_of("wide.amr"));
    pcm_release(&p);
    return ok ? 0 : -1;
}

static int remove_folder(void **state)
{
    (void)state;
    char command[96];
    snprintf(command, sizeof command, "rm -r %s", folder);
    return system(command);
}

/* Power of one frequency against the whole (Goertzel), 0..1. */
static double share_of_tone(const struct pcm *p, size_t from, size_t frames)
{
    double w = 2 * M_PI * TONE_HZ / p->rate_hz, s1 = 0, s2 = 0, all = 0;
    for (size_t i = from; i < from + frames; i++) {
        double s = p->at[i] + 2 * cos(w) * s1 - s2;
        s2 = s1;
        s1 = s;
        all += (double)p->at[i] * p->at[i];
    }
    double power = s1 * s1 + s2 * s2 - 2 * cos(w) * s1 * s2;
    return all > 0 ? power * 2 / ((double)frames * all) : 0;
}

/* What every phone and messenger makes: of which input, and how. */
enum made_of { READY, TONE, PICTURE, NARROW, WIDE, MADE_OF_COUNT };

static const char *const input_of[MADE_OF_COUNT] = {
    /* %s: the folder */
    [TONE] = "-i %s/tone.wav",
    [PICTURE] = "-f lavfi -i testsrc=size=64x48:rate=5:duration=2 -i %s/tone.wav",
    [NARROW] = "-i %s/narrow.amr",
    [WIDE] = "-i %s/wide.amr",
};

static const struct {
    const char *name;
    enum made_of of;
    const char *how;
} formats[] = {
    {"tone.wav", READY, ""},
    {"a.mp3", TONE, ""},
    {"a.ogg", TONE, "-c:a libvorbis"},
    {"a.opus", TONE, "-c:a libopus"},
    {"stereo.opus", TONE, "-ac 2 -c:a libopus -b:a 24k -frame_duration 60"},
    {"voice.opus", TONE, "-c:a libopus -b:a 12k -application voip"},
    {"surround.opus", TONE, "-ac 6 -c:a libopus"},
    {"a.flac", TONE, ""},
    {"aac.m4a", TONE, "-c:a aac"},
    {"alac.m4a", TONE, "-c:a alac"},
    {"a.aac", TONE, "-c:a aac"},
    {"a.mp4", PICTURE, "-c:v mpeg4 -c:a aac"},
    {"a.mov", PICTURE, "-c:v mpeg4 -c:a aac"},
    {"a.webm", TONE, "-c:a libopus"},
    {"narrow.amr", READY, ""},
    {"wide.amr", READY, ""},
    {"nb.3gp", NARROW, "-c copy"},
    {"wb.3gp", WIDE, "-c copy"},
    {"aac.3gp", TONE, "-c:a aac -ar 22050"},
    {"stereo.wav", TONE, "-ac 2 -ar 44100 -c:a pcm_s24le"},
    {"8bit.wav", TONE, "-ar 22050 -c:a pcm_u8"},
    {"mulaw.wav", TONE, "-ar 8000 -c:a pcm_mulaw"},
    {"adpcm.wav", TONE, "-ar 32000 -c:a adpcm_ima_wav"},
    {"titled.wav", TONE, "-ar 44100 -ac 2 -metadata title=Noon -c:a pcm_s32le"},
    {"float.wav", TONE, "-ar 11025 -c:a pcm_f32le"},
    {"surround.flac", TONE, "-ac 6"},
};
#define FORMATS (sizeof formats / sizeof *formats)

/* All that is made of one input by one run of ffmpeg, which takes longer to begin than to write two seconds. */
static void make_formats(enum made_of of)
{
    char arguments[4096];
    int at = snprintf(arguments, sizeof arguments, input_of[of], folder);
    for (size_t i = 0; i < FORMATS; i++)
        if (formats[i].of == of) {
            at += snprintf(arguments + at, sizeof arguments - (size_t)at, " %s %s/%s",
                           formats[i].how, folder, formats[i].name);
            assert_true(at < (int)sizeof arguments);
        }
    run_ffmpeg(arguments);
}

static void every_format_of_phones_gives_the_tone_back(void **state)
{
    (void)state;
    for (enum made_of of = TONE; of < MADE_OF_COUNT; of++)
        make_formats(of);
    for (size_t i = 0; i < FORMATS; i++) {
        struct pcm p = {0};
        struct err e = {0};
        if (!decoder_read(path_of(formats[i].name), &p, &e)) {
            err_print(&e, stderr);
            fail_msg("%s was not decoded", formats[i].name);
        }
        assert_int_equal(e.count, 0);
        assert_int_equal(p.rate_hz, 16000);
        double seconds = (double)p.frames / p.rate_hz;
        if (fabs(seconds - TONE_S) > 0.15) /* codecs pad to whole frames */
            fail_msg("%s: %.3f s", formats[i].name, seconds);
        double share = share_of_tone(&p, 8000, 8000); /* the middle, whole cycles */
        if (share < 0.9)
            fail_msg("%s: the tone has %.2f of the power", formats[i].name, share);
        pcm_release(&p);
        err_release(&e);
    }
}

static void write_bytes(const char *path, const void *bytes, size_t length)
{
    assert_true(text_write_file(path, bytes, length, NULL));
}

static size_t append_file(char *bytes, size_t at, size_t room, const char *name)
{
    size_t length;
    char *more = text_read_file(path_of(name), room - at, &length, NULL);
    assert_non_null(more);
    memcpy(bytes + at, more, length);
    mem_free(more);
    return at + length;
}

static bool add_block(void *with, const float *samples, size_t frames)
{
    pcm_add(with, samples, frames);
    return true;
}

/* One Opus file behind another, and one that breaks off. */
static void opus_is_read_to_its_end_and_no_further(void **state)
{
    (void)state;
    enum { ROOM = 1 << 18 };
    char *bytes = mem_alloc(ROOM);
    size_t first = append_file(bytes, 0, ROOM, "a.opus"),
           both = append_file(bytes, first, ROOM, "voice.opus");
    const struct {
        const char *what;
        size_t length;
        double seconds, within;
        bool cut;
    } rows[] = {
        {"whole", first, TONE_S, 0.0001, false},
        {"one behind another", both, 2 * TONE_S, 0.0001, false},
        {"the end of the second missing", (first + both) / 2, 1.5 * TONE_S, 0.5 * TONE_S, false},
        {"nothing but heads", 200, 0, 0, false},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct pcm p;
        struct err e = {0};
        bool cut = false;
        pcm_init(&p, DECODER_RATE_HZ);
        write_bytes(path_of("part.opus"), bytes, rows[i].length);
        struct decoder_job job = {.path = path_of("part.opus"), .block = add_block, .with = &p};
        bool got = decoder_run(&job, &cut, &e);
        if (got != (rows[i].seconds > 0) || (got && cut != rows[i].cut) ||
            e.count != (got ? 0 : 1) ||
            fabs((double)p.frames / DECODER_RATE_HZ - rows[i].seconds) > rows[i].within)
            fail_msg("%s: %.4f s%s", rows[i].what, (double)p.frames / DECODER_RATE_HZ,
                     cut ? ", cut" : "");
        pcm_release(&p);
        err_release(&e);
    }
    mem_free(bytes);
}

/* Decode a file that should fail; the one sentence must hold `expected`. */
static void refused(const char *path, const char *expected, int status)
{
    struct pcm p = {0};
    struct err e = {0};
    assert_false(decoder_read(path, &p, &e));
    assert_int_equal(e.count, 1);
    assert_int_equal(err_status(&e), status);
    if (!strstr(e.line[0], expected))
        fail_msg("%s: \"%s\" should say \"%s\"", path, e.line[0], expected);
    size_t length = strlen(e.line[0]);
    assert_true(e.line[0][length - 1] == '.');
    assert_null(p.at);
    err_release(&e);
}

static void false_and_broken_files_give_one_sentence(void **state)
{
    (void)state;
    uint8_t junk[20000];
    struct random r;
    random_init(&r, 11);
    for (size_t i = 0; i < sizeof junk; i++)
        junk[i] = (uint8_t)random_bits(&r);
    write_bytes(path_of("empty.wav"), "", 0);
    write_bytes(path_of("text.wav"), "three o'clock, struck four\n", 27);
    write_bytes(path_of("junk.mp3"), junk, sizeof junk);
    write_bytes(path_of("list.m3u8"), "#EXTM3U\n#EXTINF:10,\nfile:///etc/passwd\n", 39);
    write_bytes(path_of("list.ffconcat"), "ffconcat version 1.0\nfile /etc/passwd\n", 38);
    refused(path_of("empty.wav"), "is empty", EXIT_BAD_INPUT);
    refused(path_of("text.wav"), "not a sound or video recording", EXIT_BAD_INPUT);
    refused(path_of("junk.mp3"), "recording", EXIT_BAD_INPUT);
    refused(path_of("list.m3u8"), "not a sound or video recording", EXIT_BAD_INPUT);
    refused(path_of("list.ffconcat"), "not a sound or video recording", EXIT_BAD_INPUT);
    refused(path_of("nowhere.wav"), "cannot be opened", EXIT_DEVICE);
    refused(folder, "is not a file", EXIT_BAD_INPUT);
    refused("/dev/zero", "is not a file", EXIT_BAD_INPUT);
}

static void a_film_without_sound_is_told_so(void **state)
{
    (void)state;
    char arguments[256];
    snprintf(arguments, sizeof arguments,
             "-f lavfi -i testsrc=size=64x48:rate=5:duration=1 -c:v mpeg4 %s/mute.mp4", folder);
    run_ffmpeg(arguments);
    refused(path_of("mute.mp4"), "no sound track", EXIT_BAD_INPUT);
}

static bool count_block(void *with, const float *samples, size_t frames)
{
    (void)samples;
    *(size_t *)with += frames;
    return true;
}

static void a_recording_that_breaks_off_gives_what_there_is(void **state)
{
    (void)state;
    size_t length, frames = 0;
    char *bytes = text_read_file(path_of("a.flac"), 1 << 20, &length, NULL);
    assert_non_null(bytes);
    write_bytes(path_of("cut.flac"), bytes, length / 2);
    mem_free(bytes);
    struct err e = {0};
    bool cut = false;
    struct decoder_job job = {.path = path_of("cut.flac"), .block = count_block, .with = &frames};
    assert_true(decoder_run(&job, &cut, &e));
    assert_true(cut);
    assert_true(fabs((double)frames / 16000 - TONE_S / 2) < 0.25);
    err_release(&e);
}

/* The head of a WAVE file may promise more than came, or nothing. */
static void a_wave_file_that_breaks_off_gives_what_there_is(void **state)
{
    static const struct {
        size_t bytes;
        unsigned char said; /* each byte of the length; 1: as it was */
        double seconds;
        bool cut;
    } rows[] = {
        {44 + 96000, 1, 1, true}, {44 + 192000, 0, TONE_S, false}, {44 + 192000, 0xFF, TONE_S, false}, {44 + 96001, 0, 1, false},
    };
    (void)state;
    size_t length;
    char *bytes = text_read_file(path_of("tone.wav"), 1 << 20, &length, NULL);
    assert_int_equal(length, 44 + 192000);
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct err e = {0};
        bool cut = !rows[i].cut;
        size_t frames = 0;
        struct decoder_job job = {.path = path_of("cut.wav"), .block = count_block, .with = &frames};
        if (rows[i].said != 1)
            memset(bytes + 40, rows[i].said, 4);
        write_bytes(job.path, bytes, rows[i].bytes);
        assert_true(decoder_run(&job, &cut, &e));
        assert_int_equal(cut, rows[i].cut);
        assert_int_equal(frames, lround(rows[i].seconds * DECODER_RATE_HZ));
        err_release(&e);
    }
    mem_free(bytes);
}

/* Without the libraries beside it plain samples are still read, and the rest is refused with a sentence. */
static void a_lonely_decoder_reads_plain_samples_only(void **state)
{
    (void)state;
    char command[512];
    struct err e = {0};
    size_t frames = 0;
    struct decoder_job job = {.path = path_of("tone.wav"), .program = path_of("lonely"), .block = count_block, .with = &frames};
    snprintf(command, sizeof command, "cp %s %s", getenv("LETOFF_DECODE"), job.program);
    assert_int_equal(system(command), 0);
    assert_true(decoder_run(&job, NULL, &e));
    assert_int_equal(frames, lround(TONE_S * DECODER_RATE_HZ));
    job.path = path_of("a.flac");
    frames = 0;
    assert_false(decoder_run(&job, NULL, &e));
    assert_int_equal(e.count, 1);
    assert_non_null(strstr(e.line[0], "letoff-decode-media was not found"));
    err_release(&e);
}

/* Every format cut short and with bytes turned over: a sentence or some sound, never a crash here. */
static void damaged_files_never_take_the_program_down(void **state)
{
    (void)state;
    static const char *const names[] = {"a.mp3",  "a.ogg",   "a.opus",   "voice.opus",
                                        "a.flac", "aac.m4a", "a.mp4",    "a.webm",
                                        "nb.3gp", "wb.3gp",  "tone.wav", "float.wav"};
    struct random r;
    random_init(&r, 5);
    for (size_t i = 0; i < sizeof names / sizeof *names; i++)
        for (int turn = 0; turn < 4; turn++) {
            size_t length, frames = 0;
            char *bytes = text_read_file(path_of(names[i]), 1 << 20, &length, NULL);
            assert_non_null(bytes);
            for (int k = 0; k < 40; k++)
                bytes[random_below(&r, (unsigned)length)] = (char)random_bits(&r);
            write_bytes(path_of("hurt"), bytes, turn % 2 ? length : 1 + random_below(&r, (unsigned)length));
            mem_free(bytes);
            struct err e = {0};
            struct decoder_job job = {.path = path_of("hurt"), .block = count_block, .with = &frames, .time_limit_s = 20};
            bool ok = decoder_run(&job, NULL, &e);
            assert_true(ok ? frames > 0 && e.count == 0 : frames == 0 && e.count == 1);
            err_release(&e);
        }
}

static bool stop_at_once(void *with, const float *samples, size_t frames)
{
    count_block(with, samples, frames);
    return false;
}

static double progress_whole_s;
static void note_progress(void *with, double done_s, double whole_s)
{
    (void)with;
    assert_true(done_s > 0);
    progress_whole_s = whole_s;
}

static void the_caller_may_stop_and_sees_progress(void **state)
{
    (void)state;
    size_t frames = 0;
    struct err e = {0};
    struct decoder_job job = {
        .path = path_of("a.flac"), .block = stop_at_once, .progress = note_progress, .with = &frames};
    assert_true(decoder_run(&job, NULL, &e));
    assert_true(frames > 0 && frames <= 16384);
    assert_true(fabs(progress_whole_s - TONE_S) < 0.1);
    frames = 0;
    job = (struct decoder_job){.path = path_of("a.flac"), .block = count_block, .with = &frames, .seconds_most = 1};
    assert_true(decoder_run(&job, NULL, &e));
    assert_true(frames <= 16000 + 16384);
    assert_int_equal(e.count, 0);
}

static void decoding_can_begin_early_and_be_dropped(void **state)
{
    (void)state;
    size_t frames = 0;
    struct decoder_job job = {.path = path_of("tone.wav"), .block = count_block, .with = &frames};
    struct err e = {0};
    struct decoding *d = decoder_begin(&job, &e);
    assert_non_null(d);
    assert_int_equal(frames, 0); /* no sample before it is asked for */
    assert_true(decoder_end(d, NULL, &e));
    assert_true(fabs((double)frames - TONE_S * DECODER_RATE_HZ) < 200);
    frames = 0;
    decoder_drop(decoder_begin(&job, &e));
    decoder_drop(NULL);
    assert_int_equal(frames, 0);
    assert_int_equal(waitpid(-1, NULL, WNOHANG), -1); /* and no child is left */
    assert_int_equal(e.count, 0);
    job.path = path_of("nothing.wav");
    assert_null(decoder_begin(&job, &e));
    assert_int_equal(e.count, 1);
    err_release(&e);
}

/* A silent WAVE file of so many seconds, 8 bits at the rate that is wanted; a file with a hole takes no room. */
static void write_silence(const char *path, uint32_t seconds)
{
    uint32_t frames = seconds * DECODER_RATE_HZ;
    unsigned char head[44] = "RIFF    WAVEfmt \x10\0\0\0\1\0\1\0\x80\x3e\0\0\x80\x3e\0\0\1\0\x8\0"
                             "data    ";
    for (int i = 0; i < 4; i++) {
        head[4 + i] = (unsigned char)((frames + 36) >> 8 * i);
        head[40 + i] = (unsigned char)(frames >> 8 * i);
    }
    write_bytes(path, head, sizeof head);
    assert_int_equal(truncate(path, (off_t)frames + 44), 0);
}

static void the_longest_recording_is_taken_whole_and_a_longer_one_is_cut_and_said_to_be(void **state)
{
    static const struct {
        uint32_t seconds;
        double most;
        bool cut;
    } rows[] = {
        {3, 3, false},
        {4, 3, true},
        {DECODER_SECONDS_MOST, 0, false},
        {DECODER_SECONDS_MOST + 1, 1e9, true},
    };
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct err e = {0};
        size_t frames = 0;
        bool cut = !rows[i].cut;
        struct decoder_job job = {.path = path_of("long.wav"), .block = count_block, .with = &frames, .seconds_most = rows[i].most};
        write_silence(job.path, rows[i].seconds);
        assert_true(decoder_run(&job, &cut, &e));
        assert_int_equal(cut, rows[i].cut);
        assert_int_equal(frames, (rows[i].seconds - rows[i].cut) * (size_t)DECODER_RATE_HZ);
        assert_int_equal(e.count, 0);
    }
}

/* Programs that stand in for a decoder that hangs, crashes, lies or is missing. */
static void a_decoder_gone_wrong_is_one_sentence(void **state)
{
    (void)state;
    static const struct {
        const char *script, *expected;
        int status;
    } rows[] = {
        {"exec sleep 60\n", "took longer than allowed", EXIT_BAD_INPUT},
        {"exec 1>&- 2>&-; exec sleep 60\n", "made the decoder fail", EXIT_BAD_INPUT},
        {"kill -SEGV $$\n", "made the decoder fail (signal 11)", EXIT_BAD_INPUT},
        {"kill -SYS $$\n", "made the decoder fail", EXIT_BAD_INPUT},
        {"exit 0\n", "No sound could be read", EXIT_BAD_INPUT},
        {"printf 'abc'; exit 1\n", "No sound could be read", EXIT_BAD_INPUT},
        {"printf 'A sentence of its own.' 1>&2; exit 1\n", "A sentence of its own.", EXIT_BAD_INPUT},
        {"i=0; while [ $i -lt 5000 ]; do echo length nan of many words 1>&2; i=$((i+1)); done; exit 3\n",
         "No sound could be read", EXIT_BAD_INPUT},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        char text[256];
        size_t frames = 0;
        struct err e = {0};
        snprintf(text, sizeof text, "#!/bin/sh\n%s", rows[i].script);
        write_bytes(path_of("stand-in"), text, strlen(text));
        chmod(path_of("stand-in"), 0700);
        struct decoder_job job = {.path = path_of("tone.wav"), .program = path_of("stand-in"), .block = count_block,
                                  .with = &frames, .time_limit_s = 0.5};
        if (i == 7)
            job.time_limit_s = 10;
        assert_false(decoder_run(&job, NULL, &e));
        assert_int_equal(e.count, 1);
        assert_int_equal(err_status(&e), rows[i].status);
        if (!strstr(e.line[0], rows[i].expected))
            fail_msg("\"%s\" should say \"%s\"", e.line[0], rows[i].expected);
        err_release(&e);
    }
    struct err e = {0};
    size_t frames = 0;
    struct decoder_job job = {.path = path_of("tone.wav"), .program = "/nowhere/letoff-decode", .block = count_block,
                              .with = &frames};
    assert_false(decoder_run(&job, NULL, &e));
    assert_int_equal(err_status(&e), EXIT_DEVICE);
    err_release(&e);
    assert_int_equal(waitpid(-1, NULL, WNOHANG), -1); /* nobody was left behind */
}

/* What was locked in cannot get out (escaping_decoder.c): it is ended, and that is one sentence here. */
static void the_lock_lets_nothing_out(void **state)
{
    static const struct {
        const char *word, *says;
    } rows[] = {
        {"open", "(signal 31)"}, {"make", "(signal 31)"},   {"stat", "(signal 31)"}, {"socket", "(signal 31)"},
        {"pair", "(signal 31)"}, {"exec", "(signal 31)"},   {"fork", "(signal 31)"}, {"kill", "(signal 31)"},
        {"code", "(signal 31)"}, {"spin", "(signal 9)"},
#ifndef SANITIZED /* address space is not limited then */
        {"memory", "No sound could be read"},
#endif
    };
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        size_t frames = 0;
        struct err e = {0};
        struct decoder_job job = {.path = path_of("word"), .program = getenv("ESCAPING_DECODER"), .block = count_block, .with = &frames};
        assert_non_null(job.program);
        write_bytes(job.path, rows[i].word, strlen(rows[i].word));
        assert_false(decoder_run(&job, NULL, &e));
        assert_int_equal(e.count, 1);
        assert_int_equal(err_status(&e), EXIT_BAD_INPUT);
        if (!strstr(e.line[0], rows[i].says))
            fail_msg("%s: \"%s\" should say \"%s\"", rows[i].word, e.line[0], rows[i].says);
        err_release(&e);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_format_of_phones_gives_the_tone_back),
        cmocka_unit_test(opus_is_read_to_its_end_and_no_further),
        cmocka_unit_test(false_and_broken_files_give_one_sentence),
        cmocka_unit_test(a_film_without_sound_is_told_so),
        cmocka_unit_test(a_recording_that_breaks_off_gives_what_there_is),
        cmocka_unit_test(a_wave_file_that_breaks_off_gives_what_there_is),
        cmocka_unit_test(a_lonely_decoder_reads_plain_samples_only),
        cmocka_unit_test(damaged_files_never_take_the_program_down),
        cmocka_unit_test(the_caller_may_stop_and_sees_progress),
        cmocka_unit_test(decoding_can_begin_early_and_be_dropped),
        cmocka_unit_test(the_longest_recording_is_taken_whole_and_a_longer_one_is_cut_and_said_to_be),
        cmocka_unit_test(a_decoder_gone_wrong_is_one_sentence),
        cmocka_unit_test(the_lock_lets_nothing_out),
    };
    return cmocka_run_group_tests(tests, make_folder, remove_folder);
}
