/* events_file.h - YAML texts as the events libyaml makes of them, on disk.
 *
 * libyaml is not there for WebAssembly.  So the native suites are run first with yaml_record.c loaded in
 * front of libyaml: it writes, for every text they parse, the events that libyaml makes of it.  Under
 * WebAssembly yaml_play.c stands in for libyaml and gives the same events for the same text.
 *
 * A file is named by the text (FNV-1a, 64 bits) and holds one line an event,
 *
 *     TYPE LINE COLUMN STYLE PLAIN QUOTED VALUE ANCHOR TAG
 *
 * the last three being lengths in bytes (-1: there is none), followed by those bytes.  An error of the
 * parser is one line as well: TYPE -1, its number as STYLE, its offset as PLAIN, its context's line as
 * QUOTED, and problem and context as VALUE and ANCHOR.
 */
#ifndef LETOFF_EVENTS_FILE_H
#define LETOFF_EVENTS_FILE_H

#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>

#define EVENTS_ERROR (-1)

/* The file's path in `path`; false when no folder was named. */
static inline int events_path(const unsigned char *text, size_t size, char path[512])
{
    const char *folder = getenv("LETOFF_YAML_EVENTS");
    uint64_t h = 14695981039346656037u;
    for (size_t i = 0; i < size; i++)
        h = (h ^ text[i]) * 1099511628211u;
    if (folder)
        snprintf(path, 512, "%s/%016llx", folder, (unsigned long long)h);
    return folder != NULL;
}

#endif
