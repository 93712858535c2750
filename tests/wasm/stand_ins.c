/* stand_ins.c - what the ground asks of the C library and WASI has not. */
#include <stdlib.h>
#include <string.h>

/* There are no links to follow in the folders a suite is given. */
char *realpath(const char *path, char *into);
char *realpath(const char *path, char *into)
{
    size_t room = strlen(path) + 1;
    char *to = into ? into : malloc(room);
    return to ? memcpy(to, path, room) : NULL;
}
