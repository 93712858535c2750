#include "diagnose/outcome_table.h"

#include <assert.h>
#include <stdlib.h>
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

/* No snail is read when this lobe lets off, by any train. */
static bool reads_no_snail(const struct clock *c, int lobe)
{
    for (int i = 0; i < TRAINS; i++)
        if (c->train[i].control != CONTROL_NONE && c->train[i].use[lobe].read == READ_SNAIL)
            return false;
    return true;
}

static int class_like(struct letoff_classes *k, const int *class, int i, int repeat)
{
    for (int j = 0; j < i; j++)
        if (k->lobe[j] == k->lobe[i] && (k->minute[i] - k->minute[j]) % repeat == 0)
            return class[j];
    return -1;
}

bool letoff_classes_init(struct letoff_classes *k, const struct clock *c)
{
    memset(k, 0, sizeof *k);
    k->clock = c;
    k->letoffs = clock_letoffs(c);
    k->racks_chime = c->train[TRAIN_CHIME].control == CONTROL_RACK;
    k->hanging = rest_key((struct rest){.left = 0xff, .quarter = k->racks_chime ? 0xff : 0});
    if (k->letoffs <= 0 || k->letoffs > LETOFFS_MOST)
        return false;
    int repeat = repeat_min(c), hours = c->lobe_period_min > 0 ? c->lobe_period_min : 60;
    bool night = c->night_from_min != c->night_to_min;
    for (int i = 0; i < k->letoffs; i++) {
        k->minute[i] = clock_letoff_min(c, i);
        k->lobe[i] = clock_lobe_at(c, k->minute[i]);
        k->class_of[i] = class_like(k, k->class_of, i, repeat);
        if (k->class_of[i] < 0) {
            k->representative[k->classes] = i;
            k->class_of[i] = k->classes++;
        }
        k->free_class[i] = k->class_of[i];
        if (!night && reads_no_snail(c, k->lobe[i])) {
            int alike = class_like(k, k->free_class, i, hours);
            k->free_class[i] = alike < 0 ? k->class_of[i] : alike;
        }
    }
    return true;
}

static inline bool hangs(const struct letoff_classes *k, struct rest r)
{
    return rest_key(r) & k->hanging || r.stuck == STUCK_TAIL;
}

static inline int class_in(const struct letoff_classes *k, struct rest r, int letoff)
{
    return hangs(k, r) ? k->class_of[letoff] : k->free_class[letoff];
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

/* ---- what all works of one clock share ---- */

void outcome_rows_init(struct outcome_rows *r, const struct letoff_classes *k,
                       struct sounding_pool *pool)
{
    memset(r, 0, sizeof *r);
    r->classes = k;
    r->pool = pool;
}

void outcome_rows_release(struct outcome_rows *r)
{
    mem_free(r->state_slot);
    mem_free(r->row_slot);
    if (r->state_room)
        mem_free(r->state);
    if (r->row_room)
        mem_free(r->row);
    if (r->edge_room)
        mem_free(r->edge);
    if (r->read_room)
        mem_free(r->read);
    memset(r, 0, sizeof *r);
}

static uint64_t mix(uint64_t h)
{
    h *= 0x9e3779b97f4a7c15ull;
    return h ^ (h >> 32);
}

static void states_grow(struct outcome_rows *r)
{
    mem_free(r->state_slot);
    do
        r->state_slots = r->state_slots ? r->state_slots * 2 : 64;
    while (2 * (r->states + 1) > r->state_slots);
    r->state_slot = mem_alloc(r->state_slots * sizeof *r->state_slot);
    for (size_t i = 0; i < r->states; i++) {
        size_t at = mix(rest_key(r->state[i])) & (r->state_slots - 1);
        while (r->state_slot[at])
            at = (at + 1) & (r->state_slots - 1);
        r->state_slot[at] = (uint32_t)i + 1;
    }
}

uint32_t outcome_rows_state(struct outcome_rows *r, struct rest state)
{
    if (2 * (r->states + 1) > r->state_slots)
        states_grow(r);
    size_t at = mix(rest_key(state)) & (r->state_slots - 1);
    while (r->state_slot[at]) {
        if (rest_same(r->state[r->state_slot[at] - 1], state))
            return r->state_slot[at] - 1;
        at = (at + 1) & (r->state_slots - 1);
    }
    r->state = mem_grow_lent(r->state, r->states, &r->state_room, r->states + 1, sizeof *r->state);
    r->state[r->states] = state;
    r->state_slot[at] = (uint32_t)++r->states;
    return (uint32_t)r->states - 1;
}

uint32_t outcome_rows_freed(struct outcome_rows *r, uint32_t state)
{
    struct rest freed = r->state[state];
    freed.stuck = STUCK_NOT;
    return outcome_rows_state(r, freed);
}

uint32_t outcome_rows_rewound(struct outcome_rows *r, uint32_t outcome, uint32_t next)
{
    struct rest state = r->state[next];
    for (int i = TRAIN_STRIKE; i < TRAINS; i++)
        if (train_sound_endless(&sounding_at(r->pool, outcome)->train[i]) &&
            rest_power(state, i) == POWER_OUT)
            rest_set_power(&state, i, POWER_GOOD);
    return rest_same(state, r->state[next]) ? next : outcome_rows_state(r, state);
}

uint32_t outcome_rows_wound(struct outcome_rows *r, uint32_t state)
{
    struct rest wound = r->state[state];
    for (int i = TRAIN_STRIKE; i < TRAINS; i++)
        if (clock_train(r->classes->clock, (enum event_train)i) && rest_power(wound, i) == POWER_OUT)
            rest_set_power(&wound, i, POWER_GOOD);
    return rest_same(wound, r->state[state]) ? state : outcome_rows_state(r, wound);
}

uint32_t outcome_rows_standing(struct outcome_rows *r, uint8_t stuck)
{
    if (!r->standing[stuck]) {
        struct sounding s;
        memset(&s, 0, sizeof s);
        s.halt = stuck;
        r->standing[stuck] = sounding_intern(r->pool, &s) + 1;
    }
    return r->standing[stuck] - 1;
}

static uint64_t row_hash(const struct outcome_edge *e, size_t count)
{
    uint64_t h = count;
    for (size_t i = 0; i < count; i++) {
        uint32_t p;
        memcpy(&p, &e[i].p, sizeof p);
        h = mix(h ^ p);
        h = mix(h ^ ((uint64_t)e[i].outcome << 32 | e[i].next));
    }
    return h;
}

static void row_slots_grow(struct outcome_rows *r)
{
    mem_free(r->row_slot);
    do
        r->row_slots = r->row_slots ? r->row_slots * 2 : 64;
    while (2 * (r->rows + 1) > r->row_slots);
    r->row_slot = mem_alloc(r->row_slots * sizeof *r->row_slot);
    for (size_t i = 0; i < r->rows; i++) {
        size_t at = row_hash(r->edge + r->row[i].first, r->row[i].count) & (r->row_slots - 1);
        while (r->row_slot[at])
            at = (at + 1) & (r->row_slots - 1);
        r->row_slot[at] = (uint32_t)i + 1;
    }
}

/* The edges from `first` on are a new row, unless there is an equal one: then they are dropped. */
static uint32_t row_intern(struct outcome_rows *r, size_t first)
{
    size_t count = r->edges - first;
    if (2 * (r->rows + 1) > r->row_slots)
        row_slots_grow(r);
    size_t at = row_hash(r->edge + first, count) & (r->row_slots - 1);
    while (r->row_slot[at]) {
        const struct outcome_row *row = &r->row[r->row_slot[at] - 1];
        if (row->count == count &&
            memcmp(r->edge + row->first, r->edge + first, count * sizeof *r->edge) == 0) {
            r->edges = first;
            return r->row_slot[at] - 1;
        }
        at = (at + 1) & (r->row_slots - 1);
    }
    r->row = mem_grow_lent(r->row, r->rows, &r->row_room, r->rows + 1, sizeof *r->row);
    r->row[r->rows] = (struct outcome_row){(uint32_t)first, (uint32_t)count};
    r->row_slot[at] = (uint32_t)++r->rows;
    return (uint32_t)r->rows - 1;
}

void outcome_rows_reorder(struct outcome_rows *r, const uint32_t *order, size_t count)
{
    struct outcome_row *row = mem_alloc((count + 1) * sizeof *row);
    struct outcome_edge *edge = mem_alloc((r->edges + 1) * sizeof *edge);
    size_t edges = 0;
    for (size_t i = 0; i < count; i++) {
        struct outcome_row was = r->row[order[i]];
        row[i] = (struct outcome_row){(uint32_t)edges, was.count};
        memcpy(edge + edges, r->edge + was.first, was.count * sizeof *edge);
        edges += was.count;
    }
    mem_free(r->row);
    mem_free(r->edge);
    mem_free(r->row_slot);
    r->row = row;
    r->rows = count;
    r->row_room = count + 1;
    r->edge_room = r->edges + 1;
    r->edge = edge;
    r->edges = edges;
    r->row_slot = NULL;
    r->row_slots = 0;
}

/* Add a branch to the row that begins at edge `first`; equal results are one edge. */
static void edge_add(struct outcome_rows *r, size_t first, double p, uint32_t outcome,
                     uint32_t next)
{
    for (size_t i = first; i < r->edges; i++)
        if (r->edge[i].outcome == outcome && r->edge[i].next == next) {
            r->edge[i].p += (float)p;
            return;
        }
    r->edge = mem_grow_lent(r->edge, r->edges, &r->edge_room, r->edges + 1, sizeof *r->edge);
    r->edge[r->edges++] = (struct outcome_edge){.p = (float)p, .outcome = outcome, .next = next};
}

static void row_scale(struct outcome_rows *r, size_t first)
{
    double sum = 0;
    for (size_t i = first; i < r->edges; i++)
        sum += r->edge[i].p;
    for (size_t i = first; i < r->edges && sum > 0; i++)
        r->edge[i].p = (float)(r->edge[i].p / sum);
    if (1 - sum > r->lost)
        r->lost = 1 - sum;
}

/* ---- one works ---- */

/* How the hands stand on their pipes is no part of a row: it is reckoned in where the report is
 * laid out. */
static void find_changed(const struct outcome_table *t, uint64_t changed[WORKS_TOUCHED])
{
    double sound[PAR_COUNT], mine[PAR_COUNT];
    par_defaults(sound);
    outcome_table_par(t, mine);
    for (int i = 0; i < PAR_COUNT; i++)
        if (mine[i] != sound[i] && i != PAR_minute_off_min && i != PAR_hour_off_min)
            changed[i / 64] |= 1ull << (i % 64);
}

static struct outcome_rare *rare_of(struct outcome_table *t)
{
    if (!t->rare) {
        t->rare = mem_alloc(sizeof *t->rare);
        find_changed(t, t->rare->changed);
    }
    return t->rare;
}

void outcome_table_init(struct outcome_table *t, struct outcome_rows *rows,
                        const struct change *change, size_t changes)
{
    outcome_table_init_lent(t, rows, NULL, changes);
    t->change_lent = false;
    if (!t->changes)
        return;
    t->change = mem_alloc(t->changes * sizeof *t->change);
    memcpy(t->change, change, t->changes * sizeof *change);
}

void outcome_table_init_lent(struct outcome_table *t, struct outcome_rows *rows, struct change *change, size_t changes)
{
    memset(t, 0, sizeof *t);
    t->rows = rows;
    t->change = change;
    t->changes = (uint32_t)(changes < OUTCOME_CHANGES ? changes : OUTCOME_CHANGES);
    t->change_lent = true;
}

static void drop_kept(struct outcome_table *t)
{
    mem_free(t->slot);
    if (!t->mapped) {
        mem_free((void *)(uintptr_t)t->kept);
        mem_free((void *)(uintptr_t)t->first);
    }
    if (t->touched_room)
        mem_free(t->touched);
    t->slot = NULL;
    t->kept = NULL;
    t->first = NULL;
    t->touched = NULL;
    t->mapped = false;
    t->slots = t->known = t->touched_room = 0;
}

/* Most tables, of tens of thousands, are lent all they have. */
static bool owns_nothing(const struct outcome_table *t)
{
    return t->change_lent && !t->works && !t->rare && !t->slot && !t->touched_room &&
           (t->mapped || !t->kept);
}

void outcome_table_release(struct outcome_table *t)
{
    if (owns_nothing(t))
        return;
    outcome_table_forget(t);
    if (!t->change_lent)
        mem_free(t->change);
    if (t->rare) {
        mem_free(t->rare->led_key);
        mem_free(t->rare->led_row);
        mem_free(t->rare);
    }
    drop_kept(t);
    memset(t, 0, sizeof *t);
}

size_t outcome_table_bytes(const struct outcome_table *t)
{
    const struct outcome_rare *rare = t->rare;
    size_t kept =
        t->slots * sizeof *t->slot + (t->mapped ? 0 : outcome_table_kepts(t) * sizeof *t->kept);
    size_t led =
        rare ? sizeof *rare + rare->led_slots * (sizeof *rare->led_key + sizeof *rare->led_row) : 0;
    return kept + led + t->touched_room * sizeof *t->touched + t->changes * sizeof *t->change +
           (t->works ? sizeof *t->works : 0);
}

const struct works *outcome_table_works(struct outcome_table *t)
{
    if (!t->works) {
        t->works = mem_alloc(sizeof *t->works);
        t->rows->works++;
        works_init(t->works, t->rows->classes->clock, t->change, t->changes);
    }
    return t->works;
}

void outcome_table_forget(struct outcome_table *t)
{
    if (!t->works)
        return;
    mem_free(t->works);
    t->works = NULL;
    t->rows->works--;
}

void outcome_table_par(const struct outcome_table *t, double par[PAR_COUNT])
{
    par_defaults(par);
    for (size_t i = 0; i < t->changes; i++)
        par_change(par, t->change[i].par, t->change[i].value);
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
static uint32_t row_walk(struct outcome_table *t, uint32_t state, int class, enum turner by,
                         uint64_t touched[WORKS_TOUCHED])
{
    struct outcome_rows *r = t->rows;
    const struct letoff_classes *k = r->classes;
    outcome_table_works(t);
    struct works *w = t->works;
    int letoff = k->representative[class], gap = minutes_before(k, letoff);
    /* as moment_init would fill it, but for the state in step that is not wanted */
    const struct moment from = {.work_min = (k->minute[letoff] - gap + 1440) % 1440,
                                .t_s = by == BY_TIME ? -60.0 * gap : -0.5 * gap,
                                .rest = r->state[state]};
    struct event_list events = {0};
    struct chance chance;
    size_t first = r->edges;
    r->walked++;
    w->touched = touched;
    chance_script(&chance, OUTCOME_LEAST);
    do {
        r->branches++;
        chance_rewind(&chance);
        event_list_clear(&events);
        struct moment m = from;
        movement_turn(w, &m, gap, by, &chance, &events);
        uint32_t outcome = sounding_digest(r->pool, k->clock, k->lobe[letoff], &events, m.rest);
        edge_add(r, first, chance.weight, outcome, outcome_rows_state(r, m.rest));
    } while (chance_next(&chance));
    w->touched = NULL;
    event_list_release(&events);
    row_scale(r, first);
    return row_intern(r, first);
}

/* Slot of a key; an empty one where it is not kept.  There must be room. */
static inline size_t slot_of(const struct outcome_table *t, uint64_t key)
{
    size_t at = mix(key) & (t->slots - 1);
    while (t->slot[at].key && t->slot[at].key != key)
        at = (at + 1) & (t->slots - 1);
    return at;
}

static void slots_to(struct outcome_table *t, size_t slots)
{
    struct outcome_slot *old = t->slot;
    size_t olds = t->slots;
    t->slots = slots;
    t->slot = mem_alloc(slots * sizeof *t->slot);
    for (size_t i = 0; i < olds; i++)
        if (old[i].key)
            t->slot[slot_of(t, old[i].key)] = old[i];
    mem_free(old);
}

static size_t keep(struct outcome_table *t, uint64_t key, uint32_t row)
{
    if (2 * (t->known + 1) > t->slots)
        slots_to(t, t->slots ? t->slots * 2 : 16);
    size_t at = slot_of(t, key);
    t->slot[at] = (struct outcome_slot){key, row, (uint32_t)(outcome_table_kepts(t) + t->known++)};
    return at;
}

static inline uint32_t slot_row(const struct outcome_table *t, uint64_t key)
{
    size_t at = slot_of(t, key);
    return t->slot[at].key ? t->slot[at].row : OUTCOME_NONE;
}

/* Of one class where the row of a state is kept, or OUTCOME_NONE.  States ascend and none stands twice, so that one which is so many above the first
 * lies no further from it, and likewise from the last: mostly that tells the place; else it is found by halves. */
static inline uint32_t kept_place(const struct outcome_table *t, uint32_t class, uint32_t state)
{
    uint32_t from = t->first[class], to = t->first[class + 1];
    if (from == to || state < t->kept[from].state)
        return OUTCOME_NONE;
    if (state - t->kept[from].state < to - from)
        to = from + (state - t->kept[from].state) + 1;
    if (state > t->kept[to - 1].state)
        return OUTCOME_NONE;
    if (t->kept[to - 1].state - state < to - from)
        from = to - 1 - (t->kept[to - 1].state - state);
    while (to - from > 1) {
        uint32_t half = from + (to - from) / 2;
        if (t->kept[half].state <= state)
            from = half;
        else
            to = half;
    }
    return t->kept[from].state == state ? from : OUTCOME_NONE;
}

static inline uint32_t kept_of(const struct outcome_table *t, uint32_t class, uint32_t state)
{
    uint32_t at = kept_place(t, class, state);
    return at != OUTCOME_NONE ? t->kept[at].row : OUTCOME_NONE;
}

uint32_t outcome_table_kept(const struct outcome_table *t, uint64_t key)
{
    if (t->complete)
        return t->first ? kept_of(t, (uint32_t)((key - 1) & 0xffff), (uint32_t)((key - 1) >> 16)) : OUTCOME_NONE;
    return t->slots ? slot_row(t, key) : OUTCOME_NONE;
}

size_t outcome_table_kepts(const struct outcome_table *t)
{
    return t->first ? t->first[t->rows->classes->classes] - t->first[0] : 0;
}

/* Keys ascend by state, so that those of one class do too. */
void outcome_table_complete(struct outcome_table *t, const uint64_t *key, const uint32_t *row,
                            size_t count)
{
    drop_kept(t);
    t->complete = true;
    if (!count)
        return;
    size_t classes = (size_t)t->rows->classes->classes;
    struct outcome_kept *kept = mem_alloc(count * sizeof *kept);
    uint32_t *first = mem_alloc((classes + 1) * sizeof *first), n = 0;
    for (size_t c = 0; c < classes; c++) {
        first[c] = n;
        for (size_t i = 0; i < count; i++)
            if (((key[i] - 1) & 0xffff) == c)
                kept[n++] = (struct outcome_kept){(uint32_t)((key[i] - 1) >> 16), row[i]};
    }
    first[classes] = n;
    t->kept = kept;
    t->first = first;
}

static int by_class(const void *a, const void *b)
{
    uint64_t x = ((const struct outcome_slot *)a)->key - 1;
    uint64_t y = ((const struct outcome_slot *)b)->key - 1;
    uint64_t m = (x & 0xffff) << 48 | x >> 16, n = (y & 0xffff) << 48 | y >> 16;
    return m < n ? -1 : m > n;
}

/* All that is kept either way, by class and then by state; the caller frees it. */
static struct outcome_slot *all_by_class(const struct outcome_table *t, size_t *count)
{
    size_t classes = t->first ? (size_t)t->rows->classes->classes : 0, n = 0;
    struct outcome_slot *all = mem_alloc((outcome_table_kepts(t) + t->known + 1) * sizeof *all);
    for (uint32_t c = 0; c < classes; c++)
        for (uint32_t i = t->first[c]; i < t->first[c + 1]; i++)
            all[n++] = (struct outcome_slot){((uint64_t)t->kept[i].state << 16 | c) + 1,
                                             t->kept[i].row, i};
    for (size_t i = 0; i < t->slots; i++)
        if (t->slot[i].key)
            all[n++] = t->slot[i];
    if (n)
        qsort(all, n, sizeof *all, by_class);
    *count = n;
    return all;
}

void outcome_table_settle(struct outcome_table *t)
{
    size_t count, classes = (size_t)t->rows->classes->classes, n = 0;
    struct outcome_slot *all = all_by_class(t, &count);
    struct outcome_kept *kept = mem_alloc((count + 1) * sizeof *kept);
    uint32_t *first = mem_alloc((classes + 1) * sizeof *first);
    uint32_t *touched = mem_alloc((count + 1) * sizeof *touched);
    for (size_t c = 0; c < classes; c++) {
        first[c] = (uint32_t)n;
        for (; n < count && ((all[n].key - 1) & 0xffff) == c; n++) {
            kept[n] = (struct outcome_kept){(uint32_t)((all[n].key - 1) >> 16), all[n].row};
            touched[n] = t->touched[all[n].at];
        }
    }
    first[classes] = (uint32_t)n;
    drop_kept(t);
    t->kept = kept;
    t->first = first;
    t->touched = touched;
    t->touched_room = count + 1;
    mem_free(all);
}

static inline uint64_t key_of(uint32_t state, int class)
{
    return ((uint64_t)state << 16 | (uint64_t)class) + 1;
}

uint64_t outcome_table_key(const struct outcome_table *t, uint32_t state, int letoff)
{
    return key_of(state, class_in(t->rows->classes, t->rows->state[state], letoff));
}

/* The number of a set of parameters; the last ones are the likeliest. */
static uint32_t reads_intern(struct outcome_rows *r, const uint64_t touched[WORKS_TOUCHED])
{
    for (size_t i = r->reads; i-- > 0;)
        if (memcmp(r->read[i], touched, sizeof r->read[i]) == 0)
            return (uint32_t)i;
    r->read = mem_grow_lent(r->read, r->reads, &r->read_room, r->reads + 1, sizeof *r->read);
    memcpy(r->read[r->reads], touched, sizeof *r->read);
    return (uint32_t)r->reads++;
}

/* The sound works: every row is walked once, and what it read is noted. */
static struct outcome_slot sound_row(struct outcome_table *t, uint32_t state, uint64_t key)
{
    uint32_t class = (uint32_t)((key - 1) & 0xffff);
    uint32_t settled = t->first ? kept_place(t, class, state) : OUTCOME_NONE;
    if (settled != OUTCOME_NONE)
        return (struct outcome_slot){key, t->kept[settled].row, settled};
    size_t at = t->slots ? slot_of(t, key) : 0, all = outcome_table_kepts(t) + t->known;
    if (t->slots && t->slot[at].key)
        return t->slot[at];
    uint64_t touched[WORKS_TOUCHED] = {0};
    uint32_t row = row_walk(t, state, (int)class, BY_TIME, touched);
    t->touched = mem_grow_lent(t->touched, all, &t->touched_room, all + 1, sizeof *t->touched);
    t->touched[all] = reads_intern(t->rows, touched);
    at = keep(t, key, row);
    return t->slot[at];
}

bool outcome_table_plain(struct outcome_table *t)
{
    const struct outcome_rare *rare = rare_of(t);
    for (int i = 0; i < WORKS_TOUCHED; i++)
        if (rare->changed[i])
            return false;
    return true;
}

static bool reads_changed(struct outcome_table *t, const uint64_t touched[WORKS_TOUCHED])
{
    const struct outcome_rare *rare = rare_of(t);
    for (int i = 0; i < WORKS_TOUCHED; i++)
        if (touched[i] & rare->changed[i])
            return true;
    return false;
}

static uint32_t row_of_class(struct outcome_table *t, uint32_t state, int class)
{
    struct outcome_table *sound = t->rows->sound;
    uint64_t key = key_of(state, class);
    uint32_t row = t == sound ? OUTCOME_NONE : outcome_table_kept(t, key);
    if (row != OUTCOME_NONE)
        return row;
    if (sound) {
        struct outcome_slot base = sound_row(sound, state, key);
        if (t == sound || t->complete || !reads_changed(t, t->rows->read[sound->touched[base.at]]))
            return base.row;
    }
    row = row_walk(t, state, class, BY_TIME, NULL);
    keep(t, key, row);
    return row;
}

/* Of a works of which all is known; OUTCOME_NONE if it is not yet so of the sound one. */
static inline uint32_t known_row(const struct outcome_table *t, uint32_t state, int class)
{
    const struct outcome_table *sound = t->rows->sound;
    uint32_t row = t->first ? kept_of(t, (uint32_t)class, state) : OUTCOME_NONE;
    if (row == OUTCOME_NONE && sound->first)
        row = kept_of(sound, (uint32_t)class, state);
    return row != OUTCOME_NONE || !sound->slots ? row : slot_row(sound, key_of(state, class));
}

uint32_t outcome_table_row(struct outcome_table *t, uint32_t state, int letoff)
{
    const struct outcome_rows *r = t->rows;
    int class = class_in(r->classes, r->state[state], letoff);
    uint32_t row = t->complete ? known_row(t, state, class) : OUTCOME_NONE;
    return row != OUTCOME_NONE ? row : row_of_class(t, state, class);
}

void outcome_table_rows(struct outcome_table *t, const uint32_t *state, size_t n, int letoff, uint32_t *row)
{
    const struct outcome_rows *r = t->rows;
    int class = r->classes->class_of[letoff], free_class = r->classes->free_class[letoff];
    for (size_t i = 0; i < n; i++) {
        struct rest rest = r->state[state[i]];
        int mine = hangs(r->classes, rest) ? class : free_class;
        row[i] = OUTCOME_NONE;
        if (outcome_holds_hands(rest))
            continue;
        if (t->complete)
            row[i] = known_row(t, state[i], mine);
        if (row[i] == OUTCOME_NONE)
            row[i] = row_of_class(t, state[i], mine);
        __builtin_prefetch(&r->row[row[i]]);
    }
}

static size_t led_slot(const struct outcome_rare *t, uint64_t key)
{
    size_t at = mix(key) & (t->led_slots - 1);
    while (t->led_key[at] && t->led_key[at] != key)
        at = (at + 1) & (t->led_slots - 1);
    return at;
}

static void led_grow(struct outcome_rare *t)
{
    uint64_t *key = t->led_key;
    uint32_t *row = t->led_row;
    size_t old = t->led_slots;
    t->led_slots = old ? old * 2 : 16;
    t->led_key = mem_alloc(t->led_slots * sizeof *t->led_key);
    t->led_row = mem_alloc(t->led_slots * sizeof *t->led_row);
    for (size_t i = 0; i < old; i++)
        if (key[i]) {
            size_t at = led_slot(t, key[i]);
            t->led_key[at] = key[i];
            t->led_row[at] = row[i];
        }
    mem_free(key);
    mem_free(row);
}

/* Time and a finger part only where the hands come to a stand. */
static bool row_holds(const struct outcome_rows *r, uint32_t row)
{
    const struct outcome_row *at = &r->row[row];
    for (uint32_t i = at->first; i < at->first + at->count; i++)
        if (outcome_holds_hands(r->state[r->edge[i].next]))
            return true;
    return false;
}

uint32_t outcome_table_led_row(struct outcome_table *t, uint32_t state, int letoff)
{
    uint32_t row = outcome_table_row(t, state, letoff);
    if (!row_holds(t->rows, row))
        return row;
    uint64_t key = outcome_table_key(t, state, letoff);
    struct outcome_rare *rare = rare_of(t);
    if (2 * (rare->leds + 1) > rare->led_slots)
        led_grow(rare);
    size_t at = led_slot(rare, key);
    if (rare->led_key[at])
        return rare->led_row[at];
    rare->leds++;
    rare->led_key[at] = key;
    return rare->led_row[at] = row_walk(t, state, (int)((key - 1) & 0xffff), BY_HAND, NULL);
}

size_t outcome_table_eased(struct outcome_table *t, uint32_t state, int letoff,
                           struct eased out[EASED_MOST])
{
    size_t count, n = 0;
    double sum = 0;
    const struct outcome_edge *e =
        outcome_table_edges(t, outcome_rows_freed(t->rows, state), letoff, true, &count);
    for (; n < count && n < EASED_MOST; n++) {
        out[n] = (struct eased){e[n].next, e[n].p};
        sum += e[n].p;
    }
    for (size_t i = 0; i < n; i++) {
        out[i].p /= sum;
        if (outcome_holds_hands(t->rows->state[out[i].state]))
            out[i].state = outcome_rows_freed(t->rows, out[i].state);
    }
    return n;
}

const struct outcome_edge *outcome_table_edges(struct outcome_table *t, uint32_t state, int letoff,
                                               bool led, size_t *count)
{
    /* may move what is read next */
    uint32_t number = led ? outcome_table_led_row(t, state, letoff) : outcome_table_row(t, state, letoff);
    const struct outcome_row *row = &t->rows->row[number];
    *count = row->count;
    return t->rows->edge + row->first;
}
