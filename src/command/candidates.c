#include "command/candidates.h"

#include <stdint.h>

#include "command/tally.h"
#include "mem.h"
#include "movement/move.h"

#define VARIANTS_MOST 6
#define STARTS_MOST 8
#define HALF_DAY_MIN 722
#define BLOWS_MOST 120   /* of one let-off: more is a run to the end of the power */
#define NO_FAULT_WEIGHT 0.3
#define DEAD_SHARE 0.01
#define DEAD_LEAST 1e-6
#define CHORD_S 0.03

static unsigned long long mixed(unsigned long long h, unsigned long long x)
{
    h ^= x + 0x9e3779b97f4a7c15ull + (h << 6) + (h >> 2);
    return h * 0xff51afd7ed558ccdull;
}

/* The slot of this key, or the empty one where it belongs. */
static size_t *slot_of(struct candidates *c, unsigned long long key)
{
    if (2 * (c->count + 1) > c->slots) { /* grow, and put all keys in again */
        mem_free(c->slot);
        c->slots = c->slots ? 2 * c->slots : 1024;
        c->slot = mem_alloc(c->slots * sizeof *c->slot);
        for (size_t i = 0; i < c->count; i++)
            *slot_of(c, c->key[i]) = i + 1;
    }
    size_t i = (size_t)key & (c->slots - 1);
    while (c->slot[i] && c->key[c->slot[i] - 1] != key)
        i = (i + 1) & (c->slots - 1);
    return &c->slot[i];
}

/* Hammers that fall together are heard as one blow, which goes by the first of them. */
static bool falls_with(const struct event *e, double last_s)
{
    return last_s >= 0 && e->t_s - last_s < CHORD_S;
}

/* Length and key of one let-off's sequence. */
static size_t sequence(const struct event_list *e, size_t from, size_t to, unsigned long long *key)
{
    size_t n = 0;
    double last_s = -1;
    *key = 1;
    for (size_t i = from; i < to && n < BLOWS_MOST; i++)
        if (event_sounds(&e->at[i]) && !falls_with(&e->at[i], last_s)) {
            *key = mixed(*key, (unsigned long long)e->at[i].sounder + 1);
            last_s = e->at[i].t_s;
            n++;
        }
    return n;
}

static void add_blows(struct candidates *c, const struct event_list *e, size_t from, size_t to, size_t n)
{
    int before = -1;
    double start = -1, last_s = -1;
    size_t until = c->blows + n;
    for (size_t i = from; i < to; i++) {
        const struct event *at = &e->at[i];
        if (!event_sounds(at))
            continue;
        if (falls_with(at, last_s)) {
            c->tag[c->blows - 1] |= TAG_CHORD;
            continue;
        }
        if (c->blows == until)
            break;
        bool strike = at->train == TRAIN_STRIKE;
        bool begins = strike && !tally_continues(c->clock, before, at->sounder);
        start = start < 0 ? at->t_s : start;
        last_s = at->t_s;
        before = strike ? at->sounder : -1;
        c->tag[c->blows] = (unsigned char)((strike ? TAG_STRIKE : 0) | (begins ? TAG_COUNT : 0) |
                                           (at->train == TRAIN_MUSIC ? TAG_MUSIC : 0));
        c->blow[c->blows++] = (struct fit_blow){at->t_s - start, at->sounder, at->strength};
    }
}

/* One let-off's sounding events, events[from..to). */
static void add(struct candidates *c, const struct event_list *e, size_t from, size_t to,
                double weight)
{
    unsigned long long key;
    size_t n = sequence(e, from, to, &key);
    if (!n)
        return;
    size_t *slot = slot_of(c, key);
    if (*slot) {
        c->at[*slot - 1].prior += weight;
        return;
    }
    *slot = c->count + 1;
    c->at = mem_grow(c->at, &c->room, c->count + 1, sizeof *c->at);
    c->first = mem_grow(c->first, &c->first_room, c->count + 1, sizeof *c->first);
    c->key = mem_grow(c->key, &c->key_room, c->count + 1, sizeof *c->key);
    c->blow = mem_grow(c->blow, &c->blow_room, c->blows + n, sizeof *c->blow);
    c->tag = mem_grow(c->tag, &c->tag_room, c->blows + n, sizeof *c->tag);
    c->first[c->count] = c->blows;
    c->key[c->count] = key;
    c->at[c->count++] = (struct fit_candidate){NULL, n, weight};
    add_blows(c, e, from, to, n);
}

static void run(struct candidates *c, const struct works *w, struct rest start, double weight)
{
    struct event_list events = {0};
    struct moment m;
    struct chance chance;
    struct random random;
    random_init(&random, 5);
    chance_draw(&chance, &random);
    moment_init(&m, w, 1);
    m.rest = start;
    movement_turn(w, &m, HALF_DAY_MIN, BY_TIME, &chance, &events);
    for (size_t i = 0; i < events.count;) {
        size_t to = i + 1;
        while (to < events.count && events.at[to].letoff == events.at[i].letoff)
            to++;
        add(c, &events, i, to, weight / clock_letoffs(w->clock));
        i = to;
    }
    event_list_release(&events);
}

static void run_fault(struct candidates *c, const struct fault *f, const struct clock *clock,
                      double weight)
{
    struct change change[FAULT_SETS + FAULT_AXES + 1];
    struct start start[64];
    double share, severity;
    size_t n = fault_variants(f, clock), step = n > VARIANTS_MOST ? n / VARIANTS_MOST : 1;
    for (size_t v = 0; v < n; v += step) {
        struct works w;
        works_init(&w, clock, change, fault_variant(f, clock, v, change, &share, &severity));
        size_t starts = fault_starts(f, &w, 1, start, 64);
        for (size_t i = 0; i < starts && i < STARTS_MOST; i++)
            run(c, &w, start[i].rest, weight * share * (double)step * start[i].p);
    }
}

/* Two faults at once are rare, but a dead hammer goes with any other and changes nothing else: each
 * of the weightier sequences is also taken without one of its sounders. */
static uint8_t train_of(unsigned tag)
{
    return tag & TAG_STRIKE ? TRAIN_STRIKE : tag & TAG_MUSIC ? TRAIN_MUSIC : TRAIN_CHIME;
}

static void without_one(struct candidates *c, size_t of, uint8_t sounder, double weight)
{
    struct event_list e = {0};
    for (size_t i = 0; i < c->at[of].count; i++) {
        const struct fit_blow *b = &c->blow[c->first[of] + i];
        if (b->hammer != sounder || c->tag[c->first[of] + i] & TAG_CHORD) /* the others of a chord are left */
            event_list_add(&e, (struct event){.t_s = b->t_s, .sounder = b->hammer, .strength = b->strength,
                                              .train = train_of(c->tag[c->first[of] + i]),
                                              .kind = EVENT_NOTE});
    }
    if (e.count && e.count < c->at[of].count)
        add(c, &e, 0, e.count, weight);
    event_list_release(&e);
}

static void with_a_dead_hammer(struct candidates *c, const struct clock *clock)
{
    size_t singles = c->count;
    for (size_t i = 0; i < singles; i++)
        for (int k = 0; c->at[i].prior > DEAD_LEAST && k < clock->sounders; k++)
            without_one(c, i, (uint8_t)k, c->at[i].prior * DEAD_SHARE);
}

static void point_at_blows(struct candidates *c)
{
    for (size_t i = 0; i < c->count; i++)
        c->at[i].blow = c->blow + c->first[i];
}

void candidates_make(struct candidates *c, const struct library *lib, const struct clock *clock)
{
    struct works sound;
    double sum = 0;
    *c = (struct candidates){.clock = clock};
    for (size_t i = 0; i < library_faults(lib); i++)
        if (fault_applies(library_fault(lib, i), clock))
            sum += library_fault(lib, i)->prior;
    works_init(&sound, clock, NULL, 0);
    run(c, &sound, rest_in_step(&sound, 1), NO_FAULT_WEIGHT);
    for (size_t i = 0; i < library_faults(lib); i++) {
        const struct fault *f = library_fault(lib, i);
        if (fault_applies(f, clock))
            run_fault(c, f, clock, (1 - NO_FAULT_WEIGHT) * f->prior / (sum > 0 ? sum : 1));
    }
    with_a_dead_hammer(c, clock);
    point_at_blows(c);
}

void candidates_release(struct candidates *c)
{
    mem_free(c->at);
    mem_free(c->blow);
    mem_free(c->tag);
    mem_free(c->first);
    mem_free(c->key);
    mem_free(c->slot);
    *c = (struct candidates){0};
}

const unsigned char *candidates_tags(const struct candidates *c, const struct fit_candidate *of)
{
    return c->tag + (of->blow - c->blow);
}
