/* decode_child.h - what the decoder programs have in common: words of the command line, the lock, and samples out.
 *
 *     letoff-decode [--seconds N] [--cpu N] [FILE]      (FILE left out: standard input, seekable)
 *
 * Standard output: samples, 32-bit float, mono 16 kHz, this machine's byte order, nothing else.
 * Standard error: first a line "length S" when the file tells its length in seconds, later at most
 * one sentence saying what is wrong.
 * Exit status: 0 all read; 1 no sound can be got from it; 2 bad usage; 4 sound up to a break, or up to N
 * seconds of more.
 *
 * The file is opened before the sandbox closes; from then on the process can only read it, compute and write.
 */
#ifndef LETOFF_LISTEN_DECODE_CHILD_H
#define LETOFF_LISTEN_DECODE_CHILD_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum { DECODE_ALL = 0, DECODE_NO_SOUND = 1, DECODE_USAGE = 2, DECODE_CUT = 4, DECODE_UNDER_WAY = -1 };

struct decode_child {
    int fd;
    int64_t frames_most, frames_out;
    long seconds, cpu_s;
};

/* Reads the words and opens the recording; DECODE_UNDER_WAY, or the status to end with. */
int decode_child_open(struct decode_child *d, int argc, char **argv);
/* Closes the door; false, with its sentence said, when the kernel refuses. */
bool decode_child_lock(const struct decode_child *d);
/* The whole of a program that does nothing else: opens, closes the door and ends with what `run` gives. */
int decode_child_main(int argc, char **argv, int (*run)(struct decode_child *d));
/* Says the sentence; DECODE_NO_SOUND. */
int decode_child_complain(const char *sentence);
/* Says the length in seconds, if it is known. */
void decode_child_length(double length_s);
/* Writes samples, silence for what is no number, as far as they are wanted.  False when no more are. */
bool decode_child_put(struct decode_child *d, float *samples, int64_t frames);

/* All sound of a file at `rate_hz` that says it lasts said_s: `next` gives up to `room` samples of one channel,
 * 0 at the end.  Says the length; the status to end with. */
struct decode_source {
    int rate_hz;
    double said_s;
    size_t (*next)(void *with, float *mono, size_t room);
    void *with;
};
int decode_child_all(struct decode_child *d, const struct decode_source *source);

#endif
