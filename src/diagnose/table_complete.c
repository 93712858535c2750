#include <stdlib.h>
#include <string.h>
#include "diagnose/table_file.h"
#include "mem.h"

/* ---- following one works everywhere ---- */

/* States the clock may be found in at each let-off, by kind of fault. */
struct start_list {
    unsigned start;
    bool start_only;
    uint32_t *state;
    size_t *first; /* [letoffs + 1] */
    size_t count, room;
};

struct completing {
    struct clock_case *kase;
    struct start_list *list;
    size_t lists, list_room;
    uint32_t *seen; /* [state * letoffs + letoff]: last works that came there, from 1 */
    size_t seen_room;
    uint64_t *queue; /* state << 16 | letoff */
    size_t queued, queue_room;
    uint64_t *key; /* rows in which the works at hand differs */
    uint32_t *row;
    size_t keys, key_room, row_room;
};

#define STARTS_MOST 512

static const struct start_list *starts_for(struct completing *c, const struct variant *v)
{
    struct clock_case *k = c->kase;
    unsigned mask = v->start;
    bool only = v->start_only;
    const struct fault found = {.start = mask, .start_only = only};
    for (size_t i = 0; i < c->lists; i++)
        if (c->list[i].start == mask && c->list[i].start_only == only)
            return &c->list[i];
    c->list = mem_grow(c->list, &c->list_room, c->lists + 1, sizeof *c->list);
    struct start_list *l = &c->list[c->lists++];
    memset(l, 0, sizeof *l);
    l->start = mask;
    l->start_only = only;
    l->first = mem_alloc((size_t)(k->classes.letoffs + 1) * sizeof *l->first);
    const struct works *w = outcome_table_works(&k->table[0]);
    for (int i = 0; i < k->classes.letoffs; i++) {
        struct start start[STARTS_MOST];
        size_t n = fault_starts(&found, w, k->classes.minute[i], start, STARTS_MOST - 1);
        start[n++].rest = rest_in_step(w, k->classes.minute[i]);
        l->first[i] = l->count;
        l->state = mem_grow(l->state, &l->room, l->count + n, sizeof *l->state);
        for (size_t s = 0; s < n; s++)
            l->state[l->count++] = outcome_rows_state(&k->rows, start[s].rest);
    }
    l->first[k->classes.letoffs] = l->count;
    return l;
}

static void come_to(struct completing *c, uint32_t mark, uint32_t state, int letoff)
{
    size_t letoffs = (size_t)c->kase->classes.letoffs, at = state * letoffs + (size_t)letoff;
    size_t need = c->kase->rows.states * letoffs, old = c->seen_room;
    if (need > old) {
        c->seen = mem_grow(c->seen, &c->seen_room, need, sizeof *c->seen);
        memset(c->seen + old, 0, (c->seen_room - old) * sizeof *c->seen);
    }
    if (c->seen[at] == mark)
        return;
    c->seen[at] = mark;
    c->queue = mem_grow(c->queue, &c->queue_room, c->queued + 1, sizeof *c->queue);
    c->queue[c->queued++] = (uint64_t)state << 16 | (uint64_t)letoff;
}

static void note_difference(struct completing *c, struct outcome_table *t, uint32_t state,
                            int letoff, uint32_t row)
{
    struct outcome_table *sound = c->kase->rows.sound;
    if (t == sound || outcome_table_row(sound, state, letoff) == row)
        return;
    c->key = mem_grow(c->key, &c->key_room, c->keys + 1, sizeof *c->key);
    c->row = mem_grow(c->row, &c->row_room, c->keys + 1, sizeof *c->row);
    c->key[c->keys] = outcome_table_key(t, state, letoff);
    c->row[c->keys++] = row;
}

static void follow_everywhere(struct completing *c, const struct variant *v, uint32_t mark)
{
    struct clock_case *k = c->kase;
    struct outcome_table *t = &k->table[v->table];
    const struct start_list *starts = starts_for(c, v);
    c->queued = c->keys = 0;
    for (int i = 0; i < k->classes.letoffs; i++)
        for (size_t s = starts->first[i]; s < starts->first[i + 1]; s++)
            come_to(c, mark, starts->state[s], i);
    while (c->queued) {
        uint64_t at = c->queue[--c->queued];
        uint32_t state = (uint32_t)(at >> 16);
        int letoff = (int)(at & 0xffff), next = (letoff + 1) % k->classes.letoffs;
        if (outcome_holds_hands(k->rows.state[state])) {
            come_to(c, mark, outcome_rows_freed(&k->rows, state), letoff);
            come_to(c, mark, state, next);
            continue;
        }
        uint32_t row = outcome_table_row(t, state, letoff);
        note_difference(c, t, state, letoff, row);
        for (uint32_t e = 0; e < k->rows.row[row].count; e++) {
            struct outcome_edge edge = k->rows.edge[k->rows.row[row].first + e];
            come_to(c, mark, edge.next, next);
            come_to(c, mark, outcome_rows_rewound(&k->rows, edge.outcome, edge.next), next);
            come_to(c, mark, outcome_rows_wound(&k->rows, edge.next), next);
        }
    }
}

/* ---- sharing tables ---- */

struct pair {
    uint64_t key;
    uint32_t row;
};

static int by_key(const void *a, const void *b)
{
    uint64_t x = ((const struct pair *)a)->key, y = ((const struct pair *)b)->key;
    return x < y ? -1 : x > y;
}

/* Ascending, each key once (let-offs of one class share a key). */
static void put_in_order(struct completing *c)
{
    struct pair *p = mem_alloc((c->keys + 1) * sizeof *p);
    size_t n = 0;
    for (size_t i = 0; i < c->keys; i++)
        p[i] = (struct pair){c->key[i], c->row[i]};
    if (c->keys)
        qsort(p, c->keys, sizeof *p, by_key);
    for (size_t i = 0; i < c->keys; i++)
        if (i == 0 || p[i].key != p[i - 1].key) {
            c->key[n] = p[i].key;
            c->row[n++] = p[i].row;
        }
    c->keys = n;
    mem_free(p);
}

static uint64_t content_of(const struct completing *c)
{
    uint64_t h = c->keys;
    for (size_t i = 0; i < c->keys; i++) {
        h = (h ^ c->key[i]) * 0x9e3779b97f4a7c15ull;
        h = (h ^ (h >> 31) ^ c->row[i]) * 0x9e3779b97f4a7c15ull;
    }
    return h ^ (h >> 29);
}

static bool same_content(const struct completing *c, const struct outcome_table *t)
{
    if (outcome_table_kepts(t) != c->keys)
        return false;
    for (size_t i = 0; i < c->keys; i++)
        if (outcome_table_kept(t, c->key[i]) != c->row[i])
            return false;
    return true;
}

static void completing_release(struct completing *c)
{
    for (size_t i = 0; i < c->lists; i++) {
        mem_free(c->list[i].state);
        mem_free(c->list[i].first);
    }
    mem_free(c->list);
    mem_free(c->seen);
    mem_free(c->queue);
    mem_free(c->key);
    mem_free(c->row);
}

/* ---- rows in the order they are asked for ---- */

struct ordering {
    struct clock_case *kase;
    uint32_t *now, *order; /* by old number: the new one + 1; by new number: the old one */
    size_t count;
};

static void take_row(struct ordering *o, uint32_t row)
{
    if (o->now[row])
        return;
    o->order[o->count++] = row;
    o->now[row] = (uint32_t)o->count;
}

static void renumber(const struct ordering *o, struct outcome_table *t)
{
    struct outcome_kept *kept = (struct outcome_kept *)(uintptr_t)t->kept;
    for (size_t i = 0; i < outcome_table_kepts(t); i++)
        kept[i].row = o->now[kept[i].row] - 1;
}

/* A report asks a works for one class after another: rows lie as the tables have them, and those of one works
 * together. */
static void order_rows(struct clock_case *k)
{
    struct ordering o = {.kase = k};
    o.now = mem_alloc((k->rows.rows + 1) * sizeof *o.now);
    o.order = mem_alloc((k->rows.rows + 1) * sizeof *o.order);
    for (size_t i = 0; i < k->tables; i++)
        for (size_t e = 0; e < outcome_table_kepts(&k->table[i]); e++)
            take_row(&o, k->table[i].kept[e].row);
    outcome_rows_reorder(&k->rows, o.order, o.count);
    for (size_t i = 0; i < k->tables; i++)
        renumber(&o, &k->table[i]);
    mem_free(o.now);
    mem_free(o.order);
}

size_t clock_case_complete(struct clock_case *k)
{
    struct completing c = {.kase = k};
    uint64_t *content = mem_alloc((k->variants + 1) * sizeof *content);
    size_t tables = 1;
    for (size_t i = 0; i < k->variants; i++) {
        struct variant *v = &k->variant[i];
        struct outcome_table *t = &k->table[v->table];
        if (v->second)
            continue;
        clock_case_late(k, i);
        follow_everywhere(&c, v, (uint32_t)i + 1);
        outcome_table_forget(t);
        if (t == k->rows.sound)
            continue;
        put_in_order(&c);
        content[i] = content_of(&c);
        v->acts = c.keys ? v->table : k->variant[0].table; /* no difference: as the sound works */
        for (size_t j = 1; c.keys && j < i && v->acts == v->table; j++)
            if (content[j] == content[i] && k->variant[j].acts == k->variant[j].table &&
                same_content(&c, &k->table[k->variant[j].acts]))
                v->acts = k->variant[j].acts;
        outcome_table_complete(t, c.key, c.row, v->acts == v->table ? c.keys : 0);
        tables += v->acts == v->table;
    }
    for (uint8_t stuck = 0; stuck < STUCK_KINDS; stuck++)
        outcome_rows_standing(&k->rows, stuck);
    outcome_table_settle(k->rows.sound);
    order_rows(k);
    outcome_table_forget(k->rows.sound);
    mem_free(content);
    completing_release(&c);
    return tables;
}
