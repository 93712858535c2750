/* escaping_decoder - stands in for letoff-decode where decoder_suite tries the lock: it locks itself in as that
 * program does, then does what the recording (its standard input) says in one word.
 *
 * Exit status 7: it could be done.
 */
#include <limits.h>
#include <fcntl.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <unistd.h>

#include "listen/sandbox.h"

static bool open_a_file(void)
{
    return open("/etc/passwd", O_RDONLY) >= 0;
}

static bool make_a_file(void)
{
    return open("made", O_WRONLY | O_CREAT, 0600) >= 0;
}

static bool ask_for_a_path(void)
{
    struct stat st;
    return stat("/etc/passwd", &st) == 0;
}

static bool open_a_socket(void)
{
    return socket(AF_INET, SOCK_STREAM, 0) >= 0;
}

static bool open_a_local_socket(void)
{
    int pair[2];
    return socketpair(AF_UNIX, SOCK_STREAM, 0, pair) == 0;
}

static bool start_a_program(void)
{
    return execl("/bin/true", "true", (char *)NULL) == 0;
}

static bool become_two(void)
{
    return fork() >= 0;
}

static bool signal_another(void)
{
    return kill(1, 0) == 0;
}

static bool make_code(void)
{
    return mmap(NULL, 4096, PROT_READ | PROT_WRITE | PROT_EXEC, MAP_PRIVATE | MAP_ANONYMOUS, -1, 0) != MAP_FAILED;
}

static bool spin(void)
{
    for (volatile unsigned long n = 0; n < ULONG_MAX; n++)
        ;
    return true;
}

static bool swallow_memory(void)
{
    for (int i = 0; i < 64; i++)
        if (mmap(NULL, (size_t)64 << 20, PROT_READ | PROT_WRITE, MAP_PRIVATE | MAP_ANONYMOUS, -1, 0) == MAP_FAILED)
            return false;
    return true;
}

static const struct {
    const char *word;
    bool (*act)(void);
} acts[] = {
    {"open", open_a_file},     {"make", make_a_file},     {"stat", ask_for_a_path}, {"socket", open_a_socket},
    {"pair", open_a_local_socket}, {"exec", start_a_program}, {"fork", become_two},   {"kill", signal_another},
    {"code", make_code},       {"spin", spin},            {"memory", swallow_memory},
};

int main(void)
{
    char word[32] = "";
    struct sandbox_limits limits = {.cpu_s = 1, .output_bytes = 4096, .memory_bytes = (size_t)256 << 20};
    if (!fgets(word, sizeof word, stdin) || !sandbox_limit(&limits) || !sandbox_enter())
        _exit(99);
    for (size_t i = 0; i < sizeof acts / sizeof *acts; i++)
        if (!strcmp(word, acts[i].word))
            _exit(acts[i].act() ? 7 : 1);
    _exit(99);
}
