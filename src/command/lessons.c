#include "command/lessons.h"

#include <unistd.h>

#include "mem.h"

struct learn *lessons_shipped(const struct library *lib)
{
    struct shipped_prior *rows = NULL;
    size_t count = 0, room = 0;
    for (size_t c = 0; c < library_clocks(lib); c++)
        for (size_t f = 0; f < library_faults(lib); f++) {
            const struct clock *clock = library_clock(lib, c);
            const struct fault *fault = library_fault(lib, f);
            if (!fault_applies(fault, clock))
                continue;
            rows = mem_grow(rows, &room, count + 1, sizeof *rows);
            rows[count++] = (struct shipped_prior){clock->id, NULL, fault->id, fault->prior};
        }
    struct learn *l = learn_new(rows, count, NULL);
    mem_free(rows);
    return l;
}

static bool nothing_yet(const char *where)
{
    char *standard = where ? NULL : journal_default_path();
    bool nothing = !where && (!standard || access(standard, F_OK) != 0);
    mem_free(standard);
    return nothing;
}

struct learn *lessons_learned(const struct library *lib, const char *where, struct lessons *got,
                              struct err *e)
{
    struct journal_options reader = {.read_only = true};
    struct learn *l = lessons_shipped(lib);
    *got = (struct lessons){0};
    if (nothing_yet(where))
        return l;
    struct journal *j = journal_open(where, &reader, e);
    bool ok = j && journal_teach(j, l, got, e);
    journal_close(j);
    if (ok)
        return l;
    learn_free(l);
    return NULL;
}
