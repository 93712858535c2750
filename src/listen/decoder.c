#include "listen/decoder.h"

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#include "mem.h"

#define BLOCK_FRAMES 16384
#define TIME_LIMIT_S 120.0
#define WORDS_ROOM 512
enum { CHILD_ALL = 0, CHILD_NO_SOUND = 1, CHILD_CUT = 4, CHILD_NO_EXEC = 127 };

/* One decoding under way.  Pipes are -1 when closed; child is 0 when none is left to wait for. */
struct decoding {
    struct decoder_job job;
    pid_t child;
    int samples_fd, words_fd;
    double deadline_s, seconds_most;
    char words[WORDS_ROOM]; /* the child's standard error */
    size_t words_length;
    double whole_s;
    unsigned char block[BLOCK_FRAMES * sizeof(float)];
    size_t block_bytes;
    size_t frames;
    bool stopped; /* the caller wants no more */
    bool late;
    int status;
};

/* ---- finding the program ---- */

static const char *const places[] = {
    "../libexec/letoff/letoff-decode",
    "letoff-decode",
    "listen/letoff-decode",
    "src/listen/letoff-decode",
    "../listen/letoff-decode",
    "../src/listen/letoff-decode",
    "../../src/listen/letoff-decode",
    "../../../src/listen/letoff-decode",
};

bool decoder_program(char *path, size_t room)
{
    const char *told = getenv("LETOFF_DECODE");
    if (told && *told) {
        snprintf(path, room, "%s", told);
        return access(path, X_OK) == 0;
    }
    char self[4096];
    ssize_t length = readlink("/proc/self/exe", self, sizeof self - 1);
    if (length <= 0)
        return false;
    self[length] = 0;
    char *slash = strrchr(self, '/');
    if (!slash)
        return false;
    slash[1] = 0;
    for (size_t i = 0; i < sizeof places / sizeof *places; i++) {
        int need = snprintf(path, room, "%s%s", self, places[i]);
        if (need > 0 && (size_t)need < room && access(path, X_OK) == 0)
            return true;
    }
    return false;
}

/* ---- starting ---- */

static double now_s(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

/* O_NONBLOCK: opening a pipe or a device by mistake must not hang. */
static int open_recording(const char *path, struct err *e)
{
    int fd = open(path, O_RDONLY | O_CLOEXEC | O_NOCTTY | O_NONBLOCK);
    struct stat st;
    if (fd < 0 || fstat(fd, &st) != 0) {
        err_device(e, "The recording %s cannot be opened: %s.", path, strerror(errno));
    } else if (!S_ISREG(st.st_mode)) {
        err_add(e, "The recording %s is not a file.", path);
    } else if (st.st_size == 0) {
        err_add(e, "The recording %s is empty.", path);
    } else {
        return fd;
    }
    if (fd >= 0)
        close(fd);
    return -1;
}

static void close_fd(int *fd)
{
    if (*fd >= 0)
        close(*fd);
    *fd = -1;
}

static bool pipe_of(int fd[2])
{
    if (pipe(fd) != 0) {
        fd[0] = fd[1] = -1;
        return false;
    }
    for (int i = 0; i < 2; i++)
        fcntl(fd[i], F_SETFD, FD_CLOEXEC);
    return true;
}

/* Between fork and exec only calls that are safe after fork in a program with threads.  The three
 * descriptors are first moved out of the way of 0..2, so that none is overwritten before its turn. */
static void become_decoder(const char *program, char *const argv[], const int fd[3])
{
    static char *const surroundings[] = {(char *)"LC_ALL=C", NULL};
    int high[3];
    for (int i = 0; i < 3; i++)
        high[i] = fcntl(fd[i], F_DUPFD, 3);
    for (int i = 0; i < 3; i++)
        if (high[i] < 0 || dup2(high[i], i) < 0)
            _exit(CHILD_NO_EXEC);
    for (int i = 3; i < 1024; i++)
        close(i);
    execve(program, argv, surroundings);
    _exit(CHILD_NO_EXEC);
}

static bool start(struct decoding *d, const char *program, int recording, struct err *e)
{
    char seconds[32], cpu[32];
    snprintf(seconds, sizeof seconds, "%.0f", d->seconds_most);
    snprintf(cpu, sizeof cpu, "%.0f", d->deadline_s - now_s() + 1);
    char *argv[] = {(char *)"letoff-decode", (char *)"--seconds", seconds, (char *)"--cpu", cpu, NULL};
    int samples[2], words[2] = {-1, -1};
    bool ok = pipe_of(samples) && pipe_of(words);
    if (ok)
        d->child = fork();
    if (ok && d->child == 0)
        become_decoder(program, argv, (const int[3]){recording, samples[1], words[1]});
    if (!ok || d->child < 0) {
        err_device(e, "The decoder cannot be started: %s.", strerror(errno));
        d->child = 0;
        close_fd(&samples[0]);
        close_fd(&words[0]);
    }
    close_fd(&samples[1]);
    close_fd(&words[1]);
    d->samples_fd = samples[0];
    d->words_fd = words[0];
    return d->child > 0;
}

/* ---- listening to the child ---- */

static void take_length(struct decoding *d)
{
    if (d->whole_s <= 0 && strncmp(d->words, "length ", 7) == 0 && strchr(d->words, '\n')) {
        double s = strtod(d->words + 7, NULL);
        d->whole_s = s > 0 && s < 1e7 ? s : 0;
    }
}

static void take_words(struct decoding *d)
{
    char spare[256];
    size_t room = WORDS_ROOM - 1 - d->words_length;
    ssize_t got = room ? read(d->words_fd, d->words + d->words_length, room) : read(d->words_fd, spare, sizeof spare);
    if (got > 0 && room)
        d->words_length += (size_t)got;
    else if (got == 0 || (got < 0 && errno != EINTR && errno != EAGAIN))
        close_fd(&d->words_fd);
    take_length(d);
}

static void hand_over(struct decoding *d)
{
    size_t frames = d->block_bytes / sizeof(float);
    if (!frames)
        return;
    float samples[BLOCK_FRAMES];
    memcpy(samples, d->block, frames * sizeof *samples);
    for (size_t i = 0; i < frames; i++)
        if (!(samples[i] >= -8 && samples[i] <= 8)) /* nothing from the child is trusted */
            samples[i] = 0;
    d->frames += frames;
    d->block_bytes -= frames * sizeof(float);
    memmove(d->block, d->block + frames * sizeof(float), d->block_bytes);
    if (!d->job.block(d->job.with, samples, frames))
        d->stopped = true;
    double done = (double)d->frames / DECODER_RATE_HZ;
    if (d->job.progress)
        d->job.progress(d->job.with, done, d->whole_s);
    if (done > d->seconds_most) /* the child ends by itself before that, and says whether there is more */
        d->stopped = true;
}

static void take_samples(struct decoding *d)
{
    ssize_t got = read(d->samples_fd, d->block + d->block_bytes, sizeof d->block - d->block_bytes);
    if (got > 0)
        d->block_bytes += (size_t)got;
    else if (got == 0 || (errno != EINTR && errno != EAGAIN))
        close_fd(&d->samples_fd);
    if (d->block_bytes == sizeof d->block || d->samples_fd < 0)
        hand_over(d);
}

static void follow(struct decoding *d)
{
    while ((d->samples_fd >= 0 || d->words_fd >= 0) && !d->stopped && !d->late) {
        double left = d->deadline_s - now_s();
        if (left <= 0) {
            d->late = true;
            break;
        }
        struct pollfd p[2] = {{.fd = d->samples_fd, .events = POLLIN}, {.fd = d->words_fd, .events = POLLIN}};
        int ready = poll(p, 2, left < 1 ? (int)(left * 1000) + 1 : 1000);
        if (ready < 0 && errno != EINTR)
            break;
        if (ready > 0 && p[0].revents)
            take_samples(d);
        if (ready > 0 && p[1].revents)
            take_words(d);
    }
}

/* A child that was not let finish, or that closed its pipes and lingers, is ended. */
static void finish(struct decoding *d)
{
    bool natural = d->samples_fd < 0 && d->words_fd < 0;
    close_fd(&d->samples_fd);
    close_fd(&d->words_fd);
    if (!natural)
        kill(d->child, SIGKILL);
    for (int tries = 0;; tries++) {
        pid_t done = waitpid(d->child, &d->status, natural && tries < 100 ? WNOHANG : 0);
        if (done == d->child || (done < 0 && errno != EINTR))
            break;
        if (done == 0 && tries == 99)
            kill(d->child, SIGKILL);
        if (done == 0)
            nanosleep(&(struct timespec){.tv_nsec = 10000000}, NULL);
    }
    d->child = 0;
}

/* ---- what became of it ---- */

/* The child's own sentence, if it sent one: printable characters only. */
static const char *child_sentence(struct decoding *d)
{
    d->words[d->words_length] = 0;
    char *line = d->words;
    if (strncmp(line, "length ", 7) == 0) {
        line = strchr(line, '\n');
        line = line ? line + 1 : d->words + d->words_length;
    }
    line[strcspn(line, "\n")] = 0;
    for (char *c = line; *c; c++)
        if (*c < ' ' || *c > '~')
            *c = '?';
    return *line ? line : NULL;
}

static bool judge(struct decoding *d, const char *path, bool *cut, struct err *e)
{
    int exit_status = WIFEXITED(d->status) ? WEXITSTATUS(d->status) : -1;
    bool fine = d->stopped || exit_status == CHILD_ALL;
    if (cut)
        *cut = !fine;
    if (d->frames > 0)
        return true;
    const char *own = child_sentence(d);
    if (d->stopped)
        err_add(e, "Decoding %s was stopped before any sound came.", path);
    else if (d->late)
        err_add(e, "Decoding %s took longer than allowed and was stopped.", path);
    else if (exit_status == CHILD_NO_EXEC)
        err_device(e, "The decoder program letoff-decode cannot be run.");
    else if (exit_status < 0)
        err_add(e, "The recording %s made the decoder fail (signal %d); it is damaged or no recording.", path,
                WIFSIGNALED(d->status) ? WTERMSIG(d->status) : 0);
    else if (own && exit_status == CHILD_NO_SOUND)
        err_add(e, "The recording %s cannot be used. %s", path, own);
    else
        err_add(e, "No sound could be read from the recording %s.", path);
    return false;
}

struct decoding *decoder_begin(const struct decoder_job *job, struct err *e)
{
    char found[4096];
    int recording = open_recording(job->path, e);
    if (recording < 0)
        return NULL;
    if (!job->program && !decoder_program(found, sizeof found)) {
        close(recording);
        err_device(e, "The decoder program letoff-decode was not found beside the running program.");
        return NULL;
    }
    struct decoding *d = mem_alloc(sizeof *d);
    d->job = *job;
    d->samples_fd = d->words_fd = -1;
    d->seconds_most = job->seconds_most > 0 && job->seconds_most < DECODER_SECONDS_MOST ? job->seconds_most
                                                                                       : DECODER_SECONDS_MOST;
    d->deadline_s = now_s() + (job->time_limit_s > 0 ? job->time_limit_s : TIME_LIMIT_S);
    bool ok = start(d, job->program ? job->program : found, recording, e);
    close(recording);
    if (ok)
        return d;
    mem_free(d);
    return NULL;
}

bool decoder_end(struct decoding *d, bool *cut, struct err *e)
{
    follow(d);
    finish(d);
    bool ok = judge(d, d->job.path, cut, e);
    mem_free(d);
    return ok;
}

void decoder_drop(struct decoding *d)
{
    if (!d)
        return;
    finish(d);
    mem_free(d);
}

bool decoder_run(const struct decoder_job *job, bool *cut, struct err *e)
{
    if (cut)
        *cut = false;
    struct decoding *d = decoder_begin(job, e);
    return d && decoder_end(d, cut, e);
}

static bool append(void *with, const float *samples, size_t frames)
{
    pcm_add(with, samples, frames);
    return true;
}

bool decoder_read(const char *path, struct pcm *p, struct err *e)
{
    pcm_init(p, DECODER_RATE_HZ);
    struct decoder_job job = {.path = path, .block = append, .with = p};
    bool ok = decoder_run(&job, NULL, e);
    if (!ok)
        pcm_release(p);
    return ok;
}
