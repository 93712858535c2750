#include "diagnose/outcome_table.h"

#include <string.h>
#include "mem.h"
#include "movement/chance.h"
#include "movement/move.h"

static int gcd(int a, int b)
{
    return b ? gcd(b, a % b) : a;
}

/* Minutes after which the mechanism repeats apart from its own counts: the turns of all snails
 * that are read, the lobes, and the day where a night cam or a 24-hour wheel is at work. */
static int repeat_min(const struct clock *c)
{
    int repeat = c->lobe_period_min > 0 ? c->lobe_period_min : 60;
    for (int i = 0; i < TRAINS; i++)
        for (int s = 0; s < c->train[i].snails && c->train[i].control != CONTROL_NONE; s++) {
            int turn = c->train[i].snail[s].turn_min;
            if (turn > 0)
                repeat = repeat / gcd(repeat, turn) * turn;
        }
    if (c->night_from_min != c->night_to_min)
        repeat = 1440;
    return repeat;
}

bool letoff_classes_init(struct letoff_classes *k, const struct clock *c)
{
    memset(k, 0, sizeof *k);
    k->clock = c;
    k->letoffs = clock_letoffs(c);
    if (k->letoffs <= 0 || k->letoffs > LETOFFS_MOST)
        return false;
    int repeat = repeat_min(c);
    for (int i = 0; i < k->letoffs; i++) {
        k->minute[i] = clock_letoff_min(c, i);
        k->lobe[i] = clock_lobe_at(c, k->minute[i]);
        k->class_of[i] = -1;
        for (int j = 0; j < i && k->class_of[i] < 0; j++)
            if (k->lobe[j] == k->lobe[i] && (k->minute[i] - k->minute[j]) % repeat == 0)
                k->class_of[i] = k->class_of[j];
        if (k->class_of[i] < 0) {
            k->representative[k->classes] = i;
            k->class_of[i] = k->classes++;
        }
    }
    return true;
}

int letoff_from(const struct letoff_classes *k, int work_min)
{
    int cycle = k->clock->cycle_min;
    int m = ((work_min % cycle) + cycle) % cycle;
    for (int i = 0; i < k->letoffs; i++)
        if (k->minute[i] >= m)
            return i;
    return 0;
}

void outcome_table_init(struct outcome_table *t, const struct letoff_classes *k,
                        const struct change *change, size_t changes, struct sounding_pool *pool)
{
    memset(t, 0, sizeof *t);
    t->classes = k;
    t->pool = pool;
    t->changes = changes < OUTCOME_CHANGES ? changes : OUTCOME_CHANGES;
    if (t->changes)
        memcpy(t->change, change, t->changes * sizeof *change);
}

void outcome_table_release(struct outcome_table *t)
{
    mem_free(t->works);
    mem_free(t->state);
    mem_free(t->slot);
    mem_free(t->row);
    mem_free(t->freed);
    mem_free(t->edge);
    memset(t, 0, sizeof *t);
}

const struct works *outcome_table_works(struct outcome_table *t)
{
    if (!t->works) {
        t->works = mem_alloc(sizeof *t->works);
        works_init(t->works, t->classes->clock, t->change, t->changes);
    }
    return t->works;
}

static size_t slot_of(const struct outcome_table *t, uint64_t key)
{
    return (size_t)((key * 0x9e3779b97f4a7c15ull) >> 32) & (t->slots - 1);
}

static void slots_grow(struct outcome_table *t)
{
    mem_free(t->slot);
    t->slots = t->slots ? t->slots * 2 : 16;
    t->slot = mem_alloc(t->slots * sizeof *t->slot);
    for (size_t i = 0; i < t->states; i++) {
        size_t at = slot_of(t, rest_key(t->state[i]));
        while (t->slot[at])
            at = (at + 1) & (t->slots - 1);
        t->slot[at] = (uint32_t)i + 1;
    }
}

static uint32_t state_add(struct outcome_table *t, struct rest r)
{
    size_t classes = (size_t)t->classes->classes, i = t->states;
    t->state = mem_grow(t->state, &t->state_room, i + 1, sizeof *t->state);
    t->freed = mem_grow(t->freed, &t->freed_room, i + 1, sizeof *t->freed);
    t->row = mem_grow(t->row, &t->row_room, (i + 1) * classes, sizeof *t->row);
    t->state[i] = r;
    t->freed[i] = OUTCOME_NONE;
    for (size_t k = 0; k < classes; k++)
        t->row[i * classes + k] = (struct outcome_row){.first = OUTCOME_NONE};
    t->states++;
    return (uint32_t)i;
}

uint32_t outcome_table_state(struct outcome_table *t, struct rest r)
{
    if (2 * (t->states + 1) > t->slots)
        slots_grow(t);
    uint64_t key = rest_key(r);
    size_t at = slot_of(t, key);
    while (t->slot[at]) {
        if (rest_key(t->state[t->slot[at] - 1]) == key)
            return t->slot[at] - 1;
        at = (at + 1) & (t->slots - 1);
    }
    uint32_t state = state_add(t, r);
    t->slot[at] = state + 1;
    return state;
}

/* Add a branch to the row that begins at edge `first`; equal results are one edge. */
static void edge_add(struct outcome_table *t, size_t first, double p, uint32_t outcome,
                     uint32_t next)
{
    for (size_t i = first; i < t->edges; i++)
        if (t->edge[i].outcome == outcome && t->edge[i].next == next) {
            t->edge[i].p += (float)p;
            return;
        }
    t->edge = mem_grow(t->edge, &t->edge_room, t->edges + 1, sizeof *t->edge);
    t->edge[t->edges++] = (struct outcome_edge){.p = (float)p, .outcome = outcome, .next = next};
}

static void row_scale(struct outcome_table *t, size_t first)
{
    double sum = 0;
    for (size_t i = first; i < t->edges; i++)
        sum += t->edge[i].p;
    for (size_t i = first; i < t->edges && sum > 0; i++)
        t->edge[i].p = (float)(t->edge[i].p / sum);
    if (1 - sum > t->lost)
        t->lost = 1 - sum;
}

/* Minutes from the let-off before. */
static int minutes_before(const struct letoff_classes *k, int letoff)
{
    int before = k->minute[letoff ? letoff - 1 : k->letoffs - 1];
    int gap = (k->minute[letoff] - before + k->clock->cycle_min) % k->clock->cycle_min;
    return gap ? gap : k->clock->cycle_min;
}

/* The hands are carried from the lobe before over this one, so that what is met on the way (the
 * tail on the steep face of the snail) belongs to this let-off; the lobe passes at t = 0. */
static void row_walk(struct outcome_table *t, uint32_t state, int class)
{
    const struct letoff_classes *k = t->classes;
    const struct works *w = outcome_table_works(t);
    int letoff = k->representative[class], gap = minutes_before(k, letoff);
    struct rest from = t->state[state];
    struct event_list events = {0};
    struct chance chance;
    size_t first = t->edges;
    chance_script(&chance, OUTCOME_LEAST);
    do {
        chance_rewind(&chance);
        event_list_clear(&events);
        struct moment m;
        moment_init(&m, w, (k->minute[letoff] - gap + 1440) % 1440);
        m.rest = from;
        m.t_s = -60.0 * gap;
        movement_turn(w, &m, gap, BY_TIME, &chance, &events);
        uint32_t outcome = sounding_digest(t->pool, k->clock, k->lobe[letoff], &events, m.rest);
        edge_add(t, first, chance.weight, outcome, outcome_table_state(t, m.rest));
    } while (chance_next(&chance));
    event_list_release(&events);
    row_scale(t, first);
    t->row[state * (size_t)k->classes + (size_t)class] =
        (struct outcome_row){.first = (uint32_t)first, .count = (uint32_t)(t->edges - first)};
}

const struct outcome_edge *outcome_table_edges(struct outcome_table *t, uint32_t state, int letoff,
                                               size_t *count)
{
    int class = t->classes->class_of[letoff];
    size_t at = state * (size_t)t->classes->classes + (size_t)class;
    if (t->row[at].first == OUTCOME_NONE)
        row_walk(t, state, class);
    *count = t->row[at].count;
    return t->edge + t->row[at].first;
}

uint32_t outcome_table_freed(struct outcome_table *t, uint32_t state)
{
    if (t->freed[state] != OUTCOME_NONE)
        return t->freed[state];
    const struct works *w = outcome_table_works(t);
    struct chance chance;
    chance_script(&chance, 0.5); /* freeing leaves nothing to chance worth following */
    chance_rewind(&chance);
    struct moment m;
    moment_init(&m, w, t->classes->minute[0]);
    m.rest = t->state[state];
    movement_do(w, &m, ACTION_FREE, 0, &chance, NULL);
    m.rest.stuck = STUCK_NOT;
    uint32_t next = outcome_table_state(t, m.rest);
    t->freed[state] = next;
    return next;
}

bool outcome_holds_hands(struct rest r)
{
    return r.stuck == STUCK_HANDS || r.stuck == STUCK_TAIL || r.stuck == STUCK_WARNING ||
           r.stuck == STUCK_GOING;
}
