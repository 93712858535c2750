/* The finder: the clocks it knows, made when first thought of and given back when they are too many (belief.h). */
#include "diagnose/belief_priv.h"

#include "crew.h"
#include "diagnose/table_file.h"
#include "mem.h"

struct finder *finder_new(const struct library *lib)
{
    struct finder *f = mem_alloc(sizeof *f);
    f->lib = lib;
    f->count = library_clocks(lib);
    f->kase = mem_alloc(f->count * sizeof *f->kase);
    f->made = mem_alloc(f->count * sizeof *f->made);
    f->fit = mem_alloc(f->count * sizeof *f->fit);
    f->used = mem_alloc(f->count * sizeof *f->used);
    f->keeps = FINDER_KEEPS;
    f->hands = crew_hands();
    f->recall = recall_new(f->count);
    char path[1024];
    for (size_t n = 0; !f->tables && table_file_place(lib, n, path, sizeof path); n++)
        f->tables = table_file_open(lib, path);
    return f;
}

void finder_free(struct finder *f)
{
    if (!f)
        return;
    for (size_t i = 0; i < f->count; i++)
        if (f->made[i] && f->fit[i])
            clock_case_release(&f->kase[i]);
    mem_free(f->kase);
    mem_free(f->made);
    mem_free(f->fit);
    mem_free(f->used);
    table_file_close(f->tables);
    for (size_t i = 0; i < CREW_MOST; i++)
        filter_space_release(&f->space[i]);
    recall_free(f->recall);
    mem_free(f);
}

const struct library *finder_library(const struct finder *f)
{
    return f->lib;
}

void finder_make_case(struct finder *f, size_t i)
{
    const struct clock *c = library_clock(f->lib, i);
    f->fit[i] = (f->tables && table_file_case(f->tables, &f->kase[i], f->lib, c)) ||
                clock_case_init(&f->kase[i], f->lib, c);
    f->made[i] = true;
}

struct clock_case *finder_case_at(struct finder *f, size_t i)
{
    if (!f->made[i])
        finder_make_case(f, i);
    f->used[i] = f->now;
    return f->fit[i] ? &f->kase[i] : NULL;
}

size_t finder_bytes(const struct finder *f)
{
    size_t sum = 0;
    for (size_t i = 0; i < f->count; i++)
        sum += f->made[i] && f->fit[i] ? clock_case_bytes(&f->kase[i]) : 0;
    return sum;
}

void finder_keep(struct finder *f, size_t bytes)
{
    f->keeps = bytes;
}

void finder_hands(struct finder *f, size_t hands)
{
    f->hands = hands < 1 ? 1 : hands > CREW_MOST ? CREW_MOST : hands;
}

/* Beliefs that are still about name clocks and variants, which are there anew at once. */
void finder_give_back(struct finder *f)
{
    size_t bytes = finder_bytes(f);
    f->now++;
    for (unsigned long round = 0; bytes > f->keeps && round < f->count; round++) {
        size_t oldest = f->count;
        for (size_t i = 0; i < f->count; i++)
            if (f->made[i] && f->fit[i] && !f->kase[i].pairs && f->used[i] < f->now &&
                (oldest == f->count || f->used[i] < f->used[oldest]))
                oldest = i;
        if (oldest == f->count)
            break;
        bytes -= clock_case_bytes(&f->kase[oldest]);
        clock_case_release(&f->kase[oldest]);
        finder_make_case(f, oldest);
        bytes += clock_case_bytes(&f->kase[oldest]);
        f->used[oldest] = f->now;
    }
}

struct clock_case *finder_case(struct finder *f, const struct clock *c)
{
    for (size_t i = 0; i < f->count; i++)
        if (library_clock(f->lib, i) == c)
            return finder_case_at(f, i);
    return NULL;
}
