/* decoder.h - somebody's recording, turned into plain samples by a separate process.
 *
 * Customers send whatever their phone makes: wav, mp3, ogg, opus, flac, m4a, mp4, mov, 3gp, webm.
 * A decoder is a large program fed with a stranger's file, so it does not run inside ours: the
 * small program `letoff-decode` opens the file, gives up the right to open anything else, and
 * writes mono 16 kHz float samples down a pipe (plain samples by itself; for all else it turns into
 * `letoff-decode-opus`, `letoff-decode-sndfile` or `letoff-decode-media`).  It has a limit on time, memory and output.  If it
 * crashes, hangs or is stopped by its limits, that is one sentence here and nothing more.
 *
 * Samples arrive in blocks, so a recording of any length needs little memory.
 */
#ifndef LETOFF_DECODER_H
#define LETOFF_DECODER_H

#include <stdbool.h>
#include <stddef.h>
#include "err.h"
#include "pcm.h"

#define DECODER_RATE_HZ 16000
#define DECODER_SECONDS_MOST (2 * 3600) /* longer recordings are cut here, and said to be */

struct decoder_job {
    const char *path;        /* the recording */
    const char *program;     /* letoff-decode; NULL looks for it (see decoder_program) */
    double time_limit_s;     /* wall clock; 0 means 120 s */
    double seconds_most;     /* of sound; 0 means DECODER_SECONDS_MOST */
    /* Each block of samples as it comes, 1..16384 frames; return false to stop early (no error). */
    bool (*block)(void *with, const float *samples, size_t frames);
    /* Now and then: seconds decoded, and the recording's length or 0 if the file does not tell. */
    void (*progress)(void *with, double done_s, double whole_s); /* may be NULL */
    void *with;
};

/* Decode; true when at least one sample came and the file was read to its end (or to
 * seconds_most, or until `block` said stop).  Otherwise false and one sentence in `e`, which is a
 * device error only when the file cannot be opened or the decoder program cannot be started.
 * A file that breaks off half-way, or goes on after seconds_most, gives the samples up to there and
 * true, with *cut set.
 * cut may be NULL.  Blocks the caller; never leaves a child behind. */
bool decoder_run(const struct decoder_job *job, bool *cut, struct err *e);

/* The same in two steps, for a caller who has something else to do while the child loads its libraries: begin starts it
 * and comes back (NULL and a sentence when it cannot), end takes the samples and frees `d`, drop ends the child instead.
 * Both are once for each begin; drop does nothing with NULL.  What `job` points to must last until then. */
struct decoding;
struct decoding *decoder_begin(const struct decoder_job *job, struct err *e);
bool decoder_end(struct decoding *d, bool *cut, struct err *e);
void decoder_drop(struct decoding *d);

/* All of a recording into `p` (16 kHz).  As decoder_run; p is left empty on failure. */
bool decoder_read(const char *path, struct pcm *p, struct err *e);

/* Where letoff-decode is: LETOFF_DECODE from the environment, else libexec/letoff/ beside the bin/ of
 * the running program, else beside the program itself, else src/listen/ of the build tree it runs
 * from.  False when none of them can be run. */
bool decoder_program(char *path, size_t room);

#endif
