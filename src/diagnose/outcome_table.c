#include "diagnose/outcome_table.h"

#include <assert.h>
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

static int class_in(const struct letoff_classes *k, struct rest r, int letoff)
{
    bool hangs = r.left || (k->racks_chime && r.quarter) || r.stuck == STUCK_TAIL;
    return hangs ? k->class_of[letoff] : k->free_class[letoff];
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

bool outcome_holds_hands(struct rest r)
{
    return r.stuck == STUCK_HANDS || r.stuck == STUCK_TAIL || r.stuck == STUCK_WARNING ||
           r.stuck == STUCK_GOING;
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
static void find_changed(struct outcome_table *t)
{
    double sound[PAR_COUNT], mine[PAR_COUNT];
    par_defaults(sound);
    outcome_table_par(t, mine);
    for (int i = 0; i < PAR_COUNT; i++)
        if (mine[i] != sound[i] && i != PAR_minute_off_min && i != PAR_hour_off_min)
            t->changed[i / 64] |= 1ull << (i % 64);
    t->changed_known = true;
}

void outcome_table_init(struct outcome_table *t, struct outcome_rows *rows,
                        const struct change *change, size_t changes)
{
    memset(t, 0, sizeof *t);
    t->rows = rows;
    t->changes = changes < OUTCOME_CHANGES ? changes : OUTCOME_CHANGES;
    if (!t->changes)
        return;
    t->change = mem_alloc(t->changes * sizeof *t->change);
    memcpy(t->change, change, t->changes * sizeof *change);
}

static void drop_kept(struct outcome_table *t)
{
    if (!t->mapped) {
        mem_free(t->key);
        mem_free(t->row);
        mem_free(t->touched);
    }
    t->key = NULL;
    t->row = NULL;
    t->touched = NULL;
    t->mapped = false;
    t->slots = t->known = 0;
}

void outcome_table_release(struct outcome_table *t)
{
    mem_free(t->works);
    mem_free(t->change);
    mem_free(t->led_key);
    mem_free(t->led_row);
    drop_kept(t);
    memset(t, 0, sizeof *t);
}

const struct works *outcome_table_works(struct outcome_table *t)
{
    if (!t->works) {
        t->works = mem_alloc(sizeof *t->works);
        works_init(t->works, t->rows->classes->clock, t->change, t->changes);
    }
    return t->works;
}

void outcome_table_forget(struct outcome_table *t)
{
    mem_free(t->works);
    t->works = NULL;
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
static size_t slot_of(const struct outcome_table *t, uint64_t key)
{
    size_t at = mix(key) & (t->slots - 1);
    while (t->key[at] && t->key[at] != key)
        at = (at + 1) & (t->slots - 1);
    return at;
}

static void known_grow(struct outcome_table *t, size_t slots)
{
    struct outcome_table old = *t;
    bool sound = t == t->rows->sound;
    t->slots = slots;
    t->key = mem_alloc(slots * sizeof *t->key);
    t->row = mem_alloc(slots * sizeof *t->row);
    t->touched = sound ? mem_alloc(slots * sizeof *t->touched) : NULL;
    t->mapped = false;
    for (size_t i = 0; i < old.slots; i++) {
        if (!old.key[i])
            continue;
        size_t at = slot_of(t, old.key[i]);
        t->key[at] = old.key[i];
        t->row[at] = old.row[i];
        if (sound)
            memcpy(t->touched[at], old.touched[i], sizeof *t->touched);
    }
    old.slots = 0;
    drop_kept(&old);
}

static size_t keep(struct outcome_table *t, uint64_t key, uint32_t row)
{
    if (2 * (t->known + 1) > t->slots)
        known_grow(t, t->slots ? t->slots * 2 : 16);
    size_t at = slot_of(t, key);
    t->key[at] = key;
    t->row[at] = row;
    t->known++;
    return at;
}

uint32_t outcome_table_kept(const struct outcome_table *t, uint64_t key)
{
    size_t at = t->slots ? slot_of(t, key) : 0;
    return t->slots && t->key[at] ? t->row[at] : OUTCOME_NONE;
}

void outcome_table_complete(struct outcome_table *t, const uint64_t *key, const uint32_t *row,
                            size_t count)
{
    drop_kept(t);
    for (size_t i = 0; i < count; i++)
        keep(t, key[i], row[i]);
    t->complete = true;
}

uint64_t outcome_table_key(const struct outcome_table *t, uint32_t state, int letoff)
{
    int class = class_in(t->rows->classes, t->rows->state[state], letoff);
    return ((uint64_t)state << 16 | (uint64_t)class) + 1;
}

/* The sound works: every row is walked once, and what it read is noted. */
static size_t sound_slot(struct outcome_table *t, uint32_t state, uint64_t key)
{
    size_t at = t->slots ? slot_of(t, key) : 0;
    if (t->slots && t->key[at])
        return at;
    uint64_t touched[WORKS_TOUCHED] = {0};
    uint32_t row = row_walk(t, state, (int)((key - 1) & 0xffff), BY_TIME, touched);
    at = keep(t, key, row);
    assert(t->touched); /* one for every slot */
    memcpy(t->touched[at], touched, sizeof touched);
    return at;
}

bool outcome_table_plain(struct outcome_table *t)
{
    if (!t->changed_known)
        find_changed(t);
    for (int i = 0; i < WORKS_TOUCHED; i++)
        if (t->changed[i])
            return false;
    return true;
}

static bool reads_changed(struct outcome_table *t, const uint64_t touched[WORKS_TOUCHED])
{
    if (!t->changed_known)
        find_changed(t);
    for (int i = 0; i < WORKS_TOUCHED; i++)
        if (touched[i] & t->changed[i])
            return true;
    return false;
}

uint32_t outcome_table_row(struct outcome_table *t, uint32_t state, int letoff)
{
    struct outcome_table *sound = t->rows->sound;
    uint64_t key = outcome_table_key(t, state, letoff);
    uint32_t row = t == sound ? OUTCOME_NONE : outcome_table_kept(t, key);
    if (row != OUTCOME_NONE)
        return row;
    if (sound) {
        size_t base = sound_slot(sound, state, key);
        if (t == sound || t->complete || !reads_changed(t, sound->touched[base]))
            return sound->row[base];
    }
    row = row_walk(t, state, (int)((key - 1) & 0xffff), BY_TIME, NULL);
    keep(t, key, row);
    return row;
}

static size_t led_slot(const struct outcome_table *t, uint64_t key)
{
    size_t at = mix(key) & (t->led_slots - 1);
    while (t->led_key[at] && t->led_key[at] != key)
        at = (at + 1) & (t->led_slots - 1);
    return at;
}

static void led_grow(struct outcome_table *t)
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
    if (2 * (t->leds + 1) > t->led_slots)
        led_grow(t);
    size_t at = led_slot(t, key);
    if (t->led_key[at])
        return t->led_row[at];
    t->leds++;
    t->led_key[at] = key;
    return t->led_row[at] = row_walk(t, state, (int)((key - 1) & 0xffff), BY_HAND, NULL);
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
