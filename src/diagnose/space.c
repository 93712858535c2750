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

void space_widen(struct filter_space *f, size_t states)
{
    if (states * f->lanes > f->next_room)
        f->next = mem_grow(f->next, &f->next_room, states * f->lanes, sizeof *f->next);
    if (states > f->list_room)
        f->next_list = mem_grow_bare(f->next_list, &f->list_room, states, sizeof *f->next_list);
}

static struct space_put put_down_one_lane(struct filter_space *f, size_t at, double crumb, double *lost)
{
    uint32_t *place = f->place + at;
    double *mass = f->mass + at;
    struct space_put put = {0, 0};
    for (size_t i = 0; i < f->nexts; i++) {
        uint32_t state = f->next_list[i];
        double m = f->next[state];
        f->next[state] = 0;
        if (m > crumb) {
            place[put.count] = state;
            mass[put.count++] = m;
            put.mass += m;
        } else {
            *lost += m;
        }
    }
    return put;
}

static struct space_put put_down_lanes(struct filter_space *f, size_t at, double crumb, double *lost)
{
    size_t lanes = f->lanes;
    struct space_put put = {0, 0};
    for (size_t i = 0; i < f->nexts; i++) {
        double *from = f->next + f->next_list[i] * lanes;
        if (from[0] > crumb) {
            f->place[at + put.count] = f->next_list[i];
            memcpy(f->mass + (at + put.count++) * lanes, from, lanes * sizeof *from);
            put.mass += from[0];
        } else {
            *lost += from[0];
        }
        memset(from, 0, lanes * sizeof *from);
    }
    return put;
}

struct space_put space_put_down(struct filter_space *f, size_t at, double crumb, double *lost)
{
    size_t room = at + f->nexts + 1;
    if (room > f->place_room || room * f->lanes > f->mass_room) {
        f->place = mem_grow_bare(f->place, &f->place_room, room, sizeof *f->place);
        f->mass = mem_grow_bare(f->mass, &f->mass_room, room * f->lanes, sizeof *f->mass);
    }
    struct space_put put =
        f->lanes == 1 ? put_down_one_lane(f, at, crumb, lost) : put_down_lanes(f, at, crumb, lost);
    f->nexts = 0;
    return put;
}
