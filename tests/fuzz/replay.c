/* replay.c - runs a fuzz target over kept inputs, where there is no libFuzzer.
 *
 *     fuzz_THING FILE-OR-FOLDER...
 *
 * Each file is given whole, and then cut short at several places: readers break at ends.  The bytes
 * stand alone in their allocation, so that a sanitizer sees a read past them.
 */
#include <dirent.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "err.h"
#include "fuzz_target.h"
#include "mem.h"
#include "text.h"

#define INPUT_LIMIT ((size_t)64 << 20)
#define CUTS        16

static void give(const char *bytes, size_t length)
{
    uint8_t *alone = malloc(length ? length : 1);
    if (!alone)
        exit(3);
    memcpy(alone, bytes, length);
    LLVMFuzzerTestOneInput(alone, length);
    free(alone);
}

static int replay_file(const char *path)
{
    struct err e = {0};
    size_t length;
    char *bytes = text_read_file(path, INPUT_LIMIT, &length, &e);
    if (!bytes) {
        err_print(&e, stderr);
        err_release(&e);
        return 0;
    }
    give(bytes, length);
    for (size_t i = 0; i < CUTS && i < length; i++)
        give(bytes, length * i / CUTS);
    mem_free(bytes);
    return 1;
}

static int replay_folder(const char *path)
{
    DIR *folder = opendir(path);
    if (!folder)
        return 0;
    int count = 0;
    for (struct dirent *entry; (entry = readdir(folder));) {
        if (entry->d_name[0] == '.')
            continue;
        struct text file = {0};
        text_addf(&file, "%s/%s", path, entry->d_name);
        count += replay_file(text_cstr(&file));
        text_release(&file);
    }
    closedir(folder);
    return count;
}

int main(int argc, char **argv)
{
    int count = 0;
    for (int i = 1; i < argc; i++) {
        struct stat st;
        bool is_folder = stat(argv[i], &st) == 0 && S_ISDIR(st.st_mode);
        count += is_folder ? replay_folder(argv[i]) : replay_file(argv[i]);
    }
    printf("%d inputs replayed\n", count);
    return count > 0 ? 0 : 1;
}
