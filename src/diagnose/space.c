#include "diagnose/space.h"

#include <string.h>
#include "mem.h"

void filter_space_release(struct filter_space *f)
{
    mem_free(f->next);
    mem_free(f->next_list);
    mem_free(f->place);
    mem_free(f->row);
    mem_free(f->mass);
    mem_free(f->end);
    mem_free(f->by_step);
    memset(f, 0, sizeof *f);
}

void space_fit(struct filter_space *f, size_t states)
{
    if (states * f->lanes > f->next_room)
        f->next = mem_grow(f->next, &f->next_room, states * f->lanes, sizeof *f->next);
    if (states > f->list_room)
        f->next_list = mem_grow_bare(f->next_list, &f->list_room, states, sizeof *f->next_list);
}

size_t space_put_down(struct filter_space *f, size_t at, double crumb, double *lost)
{
    size_t n = 0, lanes = f->lanes;
    f->place = mem_grow_bare(f->place, &f->place_room, at + f->nexts + 1, sizeof *f->place);
    f->mass = mem_grow_bare(f->mass, &f->mass_room, (at + f->nexts + 1) * lanes, sizeof *f->mass);
    for (size_t i = 0; i < f->nexts; i++) {
        double *from = f->next + f->next_list[i] * lanes;
        if (from[0] > crumb) {
            f->place[at + n] = f->next_list[i];
            memcpy(f->mass + (at + n++) * lanes, from, lanes * sizeof *from);
        } else {
            *lost += from[0];
        }
        memset(from, 0, lanes * sizeof *from);
    }
    f->nexts = 0;
    return n;
}

double space_mass(const struct filter_space *f, size_t at, size_t n)
{
    double sum = 0;
    for (size_t i = at; i < at + n; i++)
        sum += f->mass[i * f->lanes];
    return sum;
}
