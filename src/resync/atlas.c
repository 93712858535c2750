#include "resync/atlas.h"

#include <math.h>
#include <string.h>

#include "mem.h"

void atlas_init(struct atlas *a, struct reset *reset)
{
    *a = (struct atlas){.reset = reset, .slots = 1024};
    a->slot = mem_alloc(a->slots * sizeof *a->slot);
}

void atlas_release(struct atlas *a)
{
    mem_free(a->place);
    mem_free(a->road);
    mem_free(a->slot);
    *a = (struct atlas){0};
}

/* --- places ----------------------------------------------------------------------------------- */

static size_t hash(const struct stance *s)
{
    uint64_t h = 1469598103934665603u; /* FNV-1a */
    const unsigned char *byte = (const unsigned char *)s;
    for (size_t i = 0; i < sizeof *s; i++)
        h = (h ^ byte[i]) * 1099511628211u;
    return (size_t)(h ^ h >> 32);
}

static uint32_t *find_slot(const struct atlas *a, const struct stance *s)
{
    size_t i = hash(s) & (a->slots - 1);
    while (a->slot[i] && !stance_same(&a->place[a->slot[i] - 1].stance, s))
        i = (i + 1) & (a->slots - 1);
    return &a->slot[i];
}

static void grow_slots(struct atlas *a)
{
    mem_free(a->slot);
    a->slots *= 2;
    a->slot = mem_alloc(a->slots * sizeof *a->slot);
    for (size_t i = 0; i < a->places; i++)
        *find_slot(a, &a->place[i].stance) = (uint32_t)i + 1;
}

static double goal_of(const struct atlas *a, const struct stance *s)
{
    struct done wait;
    if (reset_done(a->reset, s))
        return 0;
    int minutes = reset_wait(a->reset, s);
    if (minutes && deed_do(a->reset, s, DEED_WAIT, minutes, &wait))
        return wait.cost;
    return INFINITY;
}

uint32_t atlas_put(struct atlas *a, const struct stance *s)
{
    uint32_t *slot = find_slot(a, s);
    if (*slot)
        return *slot - 1;
    a->place = mem_grow(a->place, &a->place_room, a->places + 1, sizeof *a->place);
    a->place[a->places] = (struct place){.stance = *s, .cost = INFINITY, .goal = goal_of(a, s),
                                         .best = ATLAS_NONE};
    *slot = (uint32_t)++a->places;
    if (a->places * 2 > a->slots)
        grow_slots(a);
    return (uint32_t)a->places - 1;
}

static void explore(struct atlas *a)
{
    struct done list[DEEDS_MOST];
    for (; a->explored < a->places; a->explored++) {
        struct stance from = a->place[a->explored].stance;
        size_t n = deeds_from(a->reset, &from, list);
        a->place[a->explored].first = (uint32_t)a->roads;
        a->place[a->explored].roads = (uint32_t)n;
        a->road = mem_grow(a->road, &a->road_room, a->roads + n + 1, sizeof *a->road);
        for (size_t i = 0; i < n; i++) {
            uint32_t to = atlas_put(a, &list[i].to);
            a->road[a->roads++] = (struct road){list[i], to};
        }
    }
}

/* --- the backward search ------------------------------------------------------------------------ */

/* Roads sorted by where they lead: into[head[p]..head[p+1]) are the roads that end at p. */
struct inward {
    uint32_t *head, *into, *from; /* from[road] is where it begins */
};

static struct inward inward_of(const struct atlas *a)
{
    struct inward in = {mem_alloc((a->places + 2) * sizeof *in.head),
                        mem_alloc((a->roads + 1) * sizeof *in.into),
                        mem_alloc((a->roads + 1) * sizeof *in.from)};
    for (size_t p = 0; p < a->places; p++)
        for (uint32_t i = 0; i < a->place[p].roads; i++)
            in.from[a->place[p].first + i] = (uint32_t)p;
    for (size_t i = 0; i < a->roads; i++)
        in.head[a->road[i].to + 2]++;
    for (size_t p = 2; p < a->places + 2; p++)
        in.head[p] += in.head[p - 1];
    for (size_t i = 0; i < a->roads; i++)
        in.into[in.head[a->road[i].to + 1]++] = (uint32_t)i;
    return in;
}

struct queued {
    double cost;
    uint32_t place;
};
struct heap {
    struct queued *at;
    size_t count, room;
};

static void heap_push(struct heap *h, double cost, uint32_t place)
{
    h->at = mem_grow(h->at, &h->room, h->count + 1, sizeof *h->at);
    size_t i = h->count++;
    for (; i && h->at[(i - 1) / 2].cost > cost; i = (i - 1) / 2)
        h->at[i] = h->at[(i - 1) / 2];
    h->at[i] = (struct queued){cost, place};
}

static struct queued heap_pop(struct heap *h)
{
    struct queued top = h->at[0], last = h->at[--h->count];
    size_t i = 0;
    for (;;) {
        size_t child = 2 * i + 1;
        if (child >= h->count)
            break;
        if (child + 1 < h->count && h->at[child + 1].cost < h->at[child].cost)
            child++;
        if (h->at[child].cost >= last.cost)
            break;
        h->at[i] = h->at[child];
        i = child;
    }
    h->at[i] = last;
    return top;
}

static void settle_roads_into(struct atlas *a, const struct inward *in, struct heap *h, uint32_t p)
{
    for (uint32_t k = in->head[p]; k < in->head[p + 1]; k++) {
        uint32_t road = in->into[k], from = in->from[road];
        double cost = a->road[road].done.cost + a->place[p].cost;
        if (cost < a->place[from].cost - 1e-12) {
            a->place[from].cost = cost;
            a->place[from].best = road;
            heap_push(h, cost, from);
        }
    }
}

void atlas_solve(struct atlas *a)
{
    struct heap heap = {0};
    explore(a);
    struct inward in = inward_of(a);
    for (size_t p = 0; p < a->places; p++) {
        a->place[p].cost = a->place[p].goal;
        a->place[p].best = ATLAS_NONE;
        if (a->place[p].goal < INFINITY)
            heap_push(&heap, a->place[p].goal, (uint32_t)p);
    }
    while (heap.count) {
        struct queued q = heap_pop(&heap);
        if (q.cost <= a->place[q.place].cost)
            settle_roads_into(a, &in, &heap, q.place);
    }
    mem_free(heap.at);
    mem_free(in.head);
    mem_free(in.into);
    mem_free(in.from);
}
