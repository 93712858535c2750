#include "fuzz_folder.h"

#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/stat.h>
#include <unistd.h>

#include "fuzz_target.h"

static char folder[64];
static char path[160];

static void remove_folder(void)
{
    unlink(path);
    rmdir(folder);
}

static void make_folder(const char *file)
{
    struct stat st; /* in memory where that is to be had: a file is written for each input */
    const char *place =
        stat("/dev/shm", &st) == 0 && access("/dev/shm", W_OK) == 0 ? "/dev/shm" : "/tmp";
    snprintf(folder, sizeof folder, "%s/letoff-fuzz-XXXXXX", place);
    FUZZ_MUST(mkdtemp(folder));
    snprintf(path, sizeof path, "%s/%s", folder, file);
    atexit(remove_folder);
}

const char *fuzz_folder_with(const char *file, const void *bytes, size_t length)
{
    if (!folder[0])
        make_folder(file);
    int fd = open(path, O_WRONLY | O_CREAT | O_TRUNC, 0600);
    FUZZ_MUST(fd >= 0 && write(fd, bytes, length) == (ssize_t)length);
    close(fd);
    return folder;
}
