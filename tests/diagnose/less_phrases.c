#include "less_phrases.h"

#include <string.h>

#include "mem.h"
#include "random.h"
#include "text.h"

#define FILE_MOST 4000000

static bool begins(const char *line, const char *with)
{
    return strncmp(line, with, strlen(with)) == 0;
}

/* A row goes on over the lines that do not begin another, a remark or another key of the file. */
static void leave_out(const char *all, double share, uint64_t lot, struct text *out)
{
    struct random r;
    bool rows = false, kept = true;
    random_init(&r, lot);
    for (const char *line = all; *line;) {
        size_t length = strcspn(line, "\n");
        length += line[length] == '\n';
        if (*line >= 'a' && *line <= 'z') {
            rows = begins(line, "phrases:") || begins(line, "clauses:");
            kept = true;
        } else if (rows && begins(line, "  - ")) {
            kept = random_unit(&r) >= share;
        } else if (rows && begins(line, "  #")) {
            kept = true;
        }
        if (kept)
            text_add_bytes(out, line, length);
        line += length;
    }
}

struct phrases *less_phrases(const char *path, const char *cues, const struct words *words,
                             double share, uint64_t lot, struct err *e)
{
    struct text less = {0};
    char *all = text_read_file(path, FILE_MOST, NULL, e);
    struct phrases *p = NULL;
    if (all) {
        leave_out(all, share, lot, &less);
        p = phrases_parse(path, text_cstr(&less), less.length, words, e);
    }
    if (p && cues && !phrases_take_cues(p, cues, e)) {
        phrases_free(p);
        p = NULL;
    }
    mem_free(all);
    text_release(&less);
    return p;
}
