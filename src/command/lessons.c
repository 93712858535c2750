#include "command/lessons.h"

#include <math.h>
#include <string.h>
#include <unistd.h>

#include "diagnose/hypothesis.h"
#include "mem.h"

struct shipping {
    const struct library *lib;
    struct shipped_prior *rows;
    size_t count, room;
};

static bool has_word(const char *history, const char *word)
{
    size_t length = strlen(word);
    for (const char *h = history; *h;) {
        size_t here = strcspn(h, " ");
        if (here == length && memcmp(h, word, length) == 0)
            return true;
        h += here + (h[here] == ' ');
    }
    return false;
}

/* The odds of a history, kept within the finder's limits. */
static double tilt_of(const struct fault *f, const char *history)
{
    double odds = 1;
    for (size_t i = 0; history && i < f->tilts; i++)
        if (has_word(history, f->tilt[i].word))
            odds *= f->tilt[i].factor;
    return fmin(TILT_MOST, fmax(1 / TILT_MOST, odds));
}

static void ship_clock(struct shipping *s, const struct clock *clock, const char *history)
{
    for (size_t f = 0; f < library_faults(s->lib); f++) {
        const struct fault *fault = library_fault(s->lib, f);
        if (!fault_applies(fault, clock))
            continue;
        s->rows = mem_grow(s->rows, &s->room, s->count + 1, sizeof *s->rows);
        s->rows[s->count++] = (struct shipped_prior){clock->id, history, fault->id,
                                                     fault->prior * tilt_of(fault, history)};
    }
}

struct learn *lessons_shipped(const struct library *lib, const struct seen_histories *seen)
{
    struct shipping s = {.lib = lib};
    for (size_t c = 0; c < library_clocks(lib); c++)
        ship_clock(&s, library_clock(lib, c), NULL);
    for (size_t i = 0; seen && i < seen->count; i++) {
        const struct clock *clock = library_find_clock(lib, seen->at[i].movement);
        if (clock)
            ship_clock(&s, clock, seen->at[i].history);
    }
    struct learn *l = learn_new(s.rows, s.count, NULL);
    mem_free(s.rows);
    return l;
}

struct learn *lessons_of(const struct library *lib, struct journal *j, struct lessons *got,
                         struct err *e)
{
    struct seen_histories seen = {0};
    struct learn *l = NULL;
    if (journal_histories(j, &seen, e)) {
        l = lessons_shipped(lib, &seen);
        if (!journal_teach(j, l, got, e)) {
            learn_free(l);
            l = NULL;
        }
    }
    seen_histories_release(&seen);
    return l;
}

bool lessons_nothing_yet(const char *where, bool may_be_new)
{
    if (where)
        return may_be_new && !strstr(where, "://") && access(where, F_OK) != 0;
    char *standard = journal_default_path();
    bool nothing = !standard || access(standard, F_OK) != 0;
    mem_free(standard);
    return nothing;
}

struct learn *lessons_learned(const struct library *lib, const char *where, bool may_be_new,
                              struct lessons *got, struct err *e)
{
    struct journal_options reader = {.read_only = true};
    *got = (struct lessons){0};
    if (lessons_nothing_yet(where, may_be_new))
        return lessons_shipped(lib, NULL);
    struct journal *j = journal_open(where, &reader, e);
    struct learn *l = j ? lessons_of(lib, j, got, e) : NULL;
    journal_close(j);
    return l;
}

double lessons_factor(void *with, const char *clock, const char *fault)
{
    struct lessons_view *view = with;
    if (view->clock != clock || view->fault != fault) {
        view->factor = learn_factor(view->learn, clock, view->history, fault);
        view->clock = clock;
        view->fault = fault;
    }
    return view->factor;
}
