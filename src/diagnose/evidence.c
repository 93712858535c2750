#include "diagnose/evidence.h"

#include <math.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>
#include "diagnose/same_fact.h"
#include "mem.h"

/* ---- the habit ---- */

#define ERROR_MOST 12

/* Sums that are only needed while a habit is made. */
struct making {
    double error[2 * ERROR_MOST + 1];
    double hours;
    double half_hours, half_as_hour, hour_as_half;
};

static void add_train(struct habit *h, int role, const struct train_sound *t,
                      const struct train_sound *due, double w)
{
    h->due[role] += due->falls ? w : 0;
    h->moved[role] += t->flags & SOUNDING_MOVED ? w : 0;
    h->sounded[role] += t->falls ? w : 0;
    h->stalled[role] += t->flags & (SOUNDING_STALLED | SOUNDING_JAMMED) ? w : 0;
    h->endless[role] += train_sound_endless(t) ? w : 0;
}

static size_t kinds_of_sounder(const struct sounding_pool *p, uint16_t sequence)
{
    size_t length, count = 0;
    const uint8_t *b = sounding_sequence(p, sequence, &length);
    bool used[256] = {false};
    for (size_t i = 0; i < length; i++) {
        count += !used[b[i]];
        used[b[i]] = true;
    }
    return count;
}

static void add_strike(struct habit *h, struct making *m, const struct sounding *s,
                       const struct sounding *due, int dial, double w)
{
    const struct train_sound *t = &s->train[TRAIN_STRIKE], *d = &due->train[TRAIN_STRIKE];
    bool right = t->count == d->count && !train_sound_endless(t);
    int hour = dial / 60 % 12;
    if (!d->falls)
        return;
    if (dial % 60 == 0) {
        h->hour_due[hour] += w;
        h->hour_right[hour] += right ? w : 0;
        h->hour_heard += t->falls ? w : 0;
        m->hours += w;
        m->hour_as_half += d->count > 1 && t->count == 1 ? w : 0;
        int error = (int)t->count - (int)d->count;
        if (t->falls && abs(error) <= ERROR_MOST)
            m->error[error + ERROR_MOST] += w;
    } else if (dial % 60 == 30) {
        h->half_due += w;
        h->half_right += right ? w : 0;
        m->half_as_hour += t->count > d->count + 1 ? w : 0;
        m->half_hours += w;
    }
}

static void add_quarters(struct habit *h, const struct sounding *s, const struct sounding *due,
                         int dial, double w)
{
    const struct train_sound *t = &s->train[TRAIN_CHIME], *d = &due->train[TRAIN_CHIME];
    if (!clock_train(h->clock, TRAIN_CHIME) || !d->falls)
        return;
    h->quarter_due += w;
    h->quarter_right += t->sequence == d->sequence && t->falls == d->falls ? w : 0;
    h->jumbled += t->falls && t->falls == d->falls && t->sequence != d->sequence ? w : 0;
    if (dial % 60)
        h->quarter_silent += t->falls ? 0 : w;
    h->quarter_heard += t->falls ? w : 0;
    h->overlong += t->falls > d->falls ? w : 0;
}

static void add_sound(struct habit *h, const struct sounding_pool *p, const struct sounding *s,
                      const struct sounding *due, int dial, int shown, double w)
{
    unsigned some = 0, flags = 0;
    int first = 1000;
    h->letoffs += w;
    for (int i = 0; i < TRAINS; i++) {
        const struct train_sound *t = &s->train[i];
        some |= t->some;
        flags |= t->flags;
        if (t->falls && t->minute < first)
            first = t->minute;
        if (t->falls > 1) {
            double fast = due->train[i].pace - t->pace;
            h->fast += fast >= 2 ? w : 0;
            h->slow += fast <= -2 ? w : 0;
            h->uneven += t->uneven > due->train[i].uneven + 2 ? w : 0;
            h->slowing += t->drag > due->train[i].drag + 1 ? w : 0;
        }
    }
    if (sounding_silent(s)) {
        h->silent += w;
        h->clicked += flags & (SOUNDING_CLICKED | SOUNDING_WARNED) ? w : 0;
        h->whirred += flags & SOUNDING_MOVED ? w : 0;
        h->warned += flags & SOUNDING_WARNED ? w : 0;
        return;
    }
    h->warned += flags & SOUNDING_WARNED ? w : 0;
    for (int b = 0; b < 8; b++)
        h->quality[b] += some >> b & 1 ? w : 0;
    int off = (shown - dial + first) % 60;
    off = off > 30 ? off - 60 : off < -30 ? off + 60 : off;
    h->late += off >= 2 ? w : 0;
    h->early += off <= -2 ? w : 0;
    h->both += kinds_of_sounder(p, s->train[TRAIN_STRIKE].sequence) >
                       kinds_of_sounder(p, due->train[TRAIN_STRIKE].sequence)
                   ? w
                   : 0;
}

static uint32_t due_of(const struct clock_case *k, int dial)
{
    int cycle = k->clock->cycle_min, at = ((dial % cycle) + cycle) % cycle;
    for (int i = 0; i < k->classes.letoffs; i++)
        if (k->classes.minute[i] == at)
            return k->due[i];
    return 0;
}

/* ---- what each outcome adds ---- */

/* All sums of a habit in the making, seen as slots of one double each. */
struct totals {
    struct habit h;
    struct making m;
};
#define SLOTS (sizeof(struct totals) / sizeof(double))
#define FIRST_SLOT (offsetof(struct totals, h.due) / sizeof(double))

/* An outcome at a let-off always adds to the same slots, each time its probability: they are kept for
 * the clock. */
struct habit_book {
    uint64_t *key;
    uint32_t *first; /* in `slot`: a count, then the slots */
    size_t keys, entries;
    uint16_t *slot;
    size_t slots, room;
};

#define BOOK_MOST 32768 /* entries; more than these are begun anew */

void habit_book_free(struct habit_book *b)
{
    if (!b)
        return;
    mem_free(b->key);
    mem_free(b->first);
    mem_free(b->slot);
    mem_free(b);
}

size_t habit_book_bytes(const struct habit_book *b)
{
    return b ? b->keys * (sizeof *b->key + sizeof *b->first) + b->room * sizeof *b->slot : 0;
}

static size_t book_place(const struct habit_book *b, uint64_t key)
{
    size_t at = (size_t)(key * 0x9e3779b97f4a7c15ull >> 40) & (b->keys - 1);
    while (b->key[at] && b->key[at] != key)
        at = (at + 1) & (b->keys - 1);
    return at;
}

static void book_grow(struct habit_book *b)
{
    uint64_t *key = b->key;
    uint32_t *first = b->first;
    size_t old = b->keys;
    b->keys = old ? 2 * old : 1024;
    b->key = mem_alloc(b->keys * sizeof *b->key);
    b->first = mem_alloc(b->keys * sizeof *b->first);
    for (size_t i = 0; i < old; i++)
        if (key[i]) {
            size_t at = book_place(b, key[i]);
            b->key[at] = key[i];
            b->first[at] = first[i];
        }
    mem_free(key);
    mem_free(first);
}

static void book_empty(struct habit_book *b)
{
    memset(b->key, 0, b->keys * sizeof *b->key);
    b->entries = b->slots = 0;
}

/* Twelve hours of works that act alike. */
struct habit_walk {
    struct clock_case *kase;
    int next, steps, minute_off, hour_off;
    struct filter_space *space; /* its stack holds the vectors, its next gathers them */
    habit_made *made;
    void *with;
};

static uint32_t going_on(struct clock_case *k, uint32_t state)
{
    return outcome_holds_hands(k->rows.state[state]) ? outcome_rows_freed(&k->rows, state) : state;
}

static void add_outcome(struct totals *t, const struct habit_walk *w, int letoff, uint32_t outcome)
{
    const struct clock_case *k = w->kase;
    int hours = (int)lround(w->hour_off / 60.0) * 60;
    int dial = (k->classes.minute[letoff] + hours + 2880) % 1440;
    int shown = k->classes.minute[letoff] + w->minute_off + hours;
    const struct sounding *due = sounding_at(&k->pool, due_of(k, dial));
    const struct sounding *s = sounding_at(&k->pool, outcome);
    for (int r = 0; r < TRAINS; r++)
        add_train(&t->h, r, &s->train[r], &due->train[r], 1);
    add_strike(&t->h, &t->m, s, due, dial, 1);
    add_quarters(&t->h, s, due, dial, 1);
    add_sound(&t->h, &k->pool, s, due, dial, shown, 1);
    t->h.halt[s->halt < STUCK_KINDS ? s->halt : 0] += 1;
}

/* The slots that an outcome adds to, the first number telling how many; one that takes it twice stands
 * twice. */
static const uint16_t *slots_of(const struct habit_walk *w, int letoff, uint32_t outcome)
{
    struct habit_book *b = w->kase->book;
    uint64_t key = (uint64_t)outcome << 32 | (uint64_t)letoff << 23 | (uint64_t)((w->minute_off + 4096) & 2047) << 12 |
                   (uint64_t)((w->hour_off + 4096) & 2047) << 1 | 1;
    size_t at = book_place(b, key);
    if (b->key[at])
        return b->slot + b->first[at];
    if (b->entries >= BOOK_MOST)
        book_empty(b);
    if (2 * (b->entries + 1) > b->keys)
        book_grow(b);
    struct totals t;
    double sum[SLOTS];
    memset(&t, 0, sizeof t);
    t.h.clock = w->kase->clock;
    add_outcome(&t, w, letoff, outcome);
    memcpy(sum, &t, sizeof t);
    b->slot = mem_grow(b->slot, &b->room, b->slots + 2 * SLOTS, sizeof *b->slot);
    uint16_t *slot = b->slot + b->slots, n = 0;
    for (size_t i = FIRST_SLOT; i < SLOTS; i++)
        for (int times = (int)sum[i]; times > 0; times--)
            slot[++n] = (uint16_t)i;
    slot[0] = n;
    at = book_place(b, key);
    b->key[at] = key;
    b->first[at] = (uint32_t)b->slots;
    b->slots += n + 1u;
    b->entries++;
    return slot;
}

static void one_letoff(struct totals *sums, const struct habit_walk *w, struct outcome_table *t, int letoff,
                       uint32_t state, double mass)
{
    struct clock_case *k = w->kase;
    size_t edges;
    const struct outcome_edge *e = outcome_table_edges(t, state, letoff, false, &edges);
    double same = 0, *sum = (double *)sums;
    for (size_t i = 0; i < edges; i++) {
        const uint16_t *slot = slots_of(w, letoff, e[i].outcome);
        double p = mass * e[i].p;
        same += e[i].p * e[i].p;
        for (uint16_t j = 1; j <= slot[0]; j++)
            sum[slot[j]] += p;
        space_fit(w->space, k->rows.states);
        space_add_even(w->space, e[i].next, p);
    }
    sums->h.varies += mass * (1 - same);
}

static void note_state(struct habit *h, struct rest r, double mass)
{
    for (int i = 0; i < TRAINS; i++)
        h->out[i] += (i == TRAIN_GOING || clock_train(h->clock, (enum event_train)i)) &&
                             rest_power(r, i) == POWER_OUT
                         ? mass
                         : 0;
    h->silent_flag[0] += r.flags & REST_SILENT_STRIKE ? mass : 0;
    h->silent_flag[1] += r.flags & REST_SILENT_CHIME ? mass : 0;
}

static double share(double part, double whole)
{
    return whole > 1e-9 ? fmin(1, part / whole) : 0;
}

static void close_habit(struct habit *h, const struct making *m, double steps)
{
    double best = 0;
    for (int i = 0; i <= 2 * ERROR_MOST; i++)
        if (m->error[i] > best) {
            best = m->error[i];
            h->error = i - ERROR_MOST;
        }
    h->error_same = share(best, m->hours);
    h->halves_as_hours = share(m->half_as_hour, m->half_hours);
    h->hours_as_halves = share(m->hour_as_half, m->hours);
    h->varies = share(h->varies, steps);
    for (int i = 0; i < TRAINS; i++)
        h->out[i] = share(h->out[i], steps);
    h->silent_flag[0] = share(h->silent_flag[0], steps);
    h->silent_flag[1] = share(h->silent_flag[1], steps);
}

static uint64_t sign_of(const struct habit_walk *w, struct outcome_table *t, int letoff, size_t at,
                        size_t n)
{
    uint64_t h = 1;
    for (size_t i = 0; i < n; i++) {
        uint32_t state = going_on(w->kase, w->space->place[at + i]);
        h = (h ^ outcome_table_row(t, state, letoff)) * 0x9e3779b97f4a7c15ull;
        h ^= h >> 29;
    }
    return h;
}

static int by_sign(const void *a, const void *b)
{
    uint64_t x = ((const struct habit_member *)a)->sign, y = ((const struct habit_member *)b)->sign;
    return x < y ? -1 : x > y;
}

static struct outcome_table *table_of(const struct habit_walk *w, const struct habit_member *m)
{
    return &w->kase->table[w->kase->variant[m->variant].acts];
}

static void hand_over(const struct habit_walk *w, struct habit h, const struct making *making,
                      const struct habit_member *m, size_t members)
{
    double par[PAR_COUNT];
    close_habit(&h, making, w->steps);
    h.par = par;
    for (size_t i = 0; i < members; i++) {
        outcome_table_par(&w->kase->table[w->kase->variant[m[i].variant].table], par);
        w->made(w->with, &h, m[i].tag);
    }
}

#define HABIT_LEAST 1e-9 /* branches below this are not followed further */

/* `sums` is used up. */
static void follow(const struct habit_walk *w, int step, size_t at, size_t n, struct totals *sums,
                   struct habit_member *m, size_t members)
{
    if (step == w->steps) {
        hand_over(w, sums->h, &sums->m, m, members);
        return;
    }
    double none = 0;
    int letoff = (w->next + step) % w->kase->classes.letoffs;
    if (members > 1) {
        bool part = false;
        for (size_t i = 0; i < members; i++) {
            m[i].sign = sign_of(w, table_of(w, &m[i]), letoff, at, n);
            part |= m[i].sign != m[0].sign;
        }
        if (part)
            qsort(m, members, sizeof *m, by_sign);
    }
    for (size_t first = 0, last; first < members; first = last) {
        struct totals own, *mine = sums;
        last = first + 1;
        while (last < members && m[last].sign == m[first].sign)
            last++;
        if (last < members) {
            own = *sums;
            mine = &own;
        }
        for (size_t i = 0; i < n; i++) {
            struct filter_state from = {w->space->place[at + i], w->space->mass[at + i]};
            if (from.p < HABIT_LEAST)
                continue;
            w->kase->visits++;
            note_state(&mine->h, w->kase->rows.state[from.state], from.p);
            one_letoff(mine, w, table_of(w, &m[first]), letoff, going_on(w->kase, from.state), from.p);
        }
        size_t now = space_put_down(w->space, at + n, 0, &none).count;
        follow(w, step + 1, at + n, now, mine, m + first, last - first);
    }
}

void habit_group(struct clock_case *k, struct habit_member *m, size_t members, int next,
                 const struct filter_state *from, size_t froms, struct filter_space *space,
                 habit_made *made, void *with)
{
    if (!members)
        return;
    const struct variant *v = &k->variant[m[0].variant];
    struct habit_walk w = {.kase = k,
                           .next = next,
                           .steps = k->classes.letoffs * 720 / k->clock->cycle_min,
                           .minute_off = v->minute_off,
                           .hour_off = v->hour_off,
                           .space = space,
                           .made = made,
                           .with = with};
    struct totals sums;
    memset(&sums, 0, sizeof sums);
    sums.h.clock = k->clock;
    sums.h.minute_off = v->minute_off;
    sums.h.hour_off = v->hour_off;
    if (!k->book) {
        k->book = mem_alloc(sizeof *k->book);
        book_grow(k->book);
    }
    double total = 0, none = 0;
    space->lanes = 1;
    space_fit(space, k->rows.states);
    for (size_t i = 0; i < froms; i++)
        total += from[i].p;
    for (size_t i = 0; i < froms && total > 0; i++)
        space_add_even(space, from[i].state, from[i].p / total);
    size_t n = space_put_down(space, 0, 0, &none).count;
    follow(&w, 0, 0, n, &sums, m, members);
}

static void keep_habit(void *with, const struct habit *h, size_t tag)
{
    (void)tag;
    *(struct habit *)with = *h;
}

void habit_init(struct habit *h, struct clock_case *k, const struct variant *v, int next,
                const struct filter_state *from, size_t froms)
{
    struct habit_member m = {.variant = (size_t)(v - k->variant)};
    struct filter_space space = {0};
    memset(h, 0, sizeof *h);
    habit_group(k, &m, 1, next, from, froms, &space, keep_habit, h);
    h->par = outcome_table_works(&k->table[v->table])->par;
    filter_space_release(&space);
}

/* ---- words ---- */

static double ramp(double x, double low, double high)
{
    return x <= low ? 0 : x >= high ? 1 : (x - low) / (high - low);
}

static double par(const struct habit *h, int p)
{
    return h->par[p];
}

static double stands(const struct habit *h)
{
    return fmin(1, h->halt[STUCK_TAIL] + h->halt[STUCK_WARNING] + h->halt[STUCK_GOING]);
}

static double train_still(const struct habit *h, int role)
{
    return clock_train(h->clock, (enum event_train)role) ? 1 - share(h->moved[role], h->due[role] / 4)
                                                         : 0.2;
}

static double train_runs(const struct habit *h, int role)
{
    return clock_train(h->clock, (enum event_train)role) ? share(h->moved[role], h->due[role] / 2)
                                                         : 0.2;
}

/* Weights seen from the front: left strike, middle going, right chime on three trains; left strike
 * and right going on two. */
static int role_of_side(const struct habit *h, int side)
{
    bool three = clock_train(h->clock, TRAIN_CHIME) || clock_train(h->clock, TRAIN_MUSIC);
    int third = clock_train(h->clock, TRAIN_CHIME) ? TRAIN_CHIME : TRAIN_MUSIC;
    return side == 0 ? TRAIN_STRIKE : side == 1 || !three ? TRAIN_GOING : third;
}

/* "It does not move" is said of a weight that hangs there; one on the floor, or none on the hook,
 * would be told as that. */
static double weight_still(const struct habit *h, int role)
{
    bool weight = h->clock->train[role].power.drive == DRIVE_WEIGHT;
    double gone = weight ? fmax(h->out[role], par(h, PAR_dead + role)) : 0;
    return train_still(h, role) * (1 - 0.7 * fmin(1, gone));
}

static double side_still(const struct habit *h, int side)
{
    int role = role_of_side(h, side);
    return role == TRAIN_GOING ? stands(h) : weight_still(h, role);
}

static double side_moves(const struct habit *h, int side)
{
    int role = role_of_side(h, side);
    return role == TRAIN_GOING ? 1 - 0.8 * stands(h) : train_runs(h, role);
}

static double hours_right(const struct habit *h)
{
    double right = 0, due = 0;
    for (int i = 0; i < 12; i++) {
        right += h->hour_right[i];
        due += h->hour_due[i];
    }
    return share(right, due);
}

static double quarters_right(const struct habit *h)
{
    return clock_train(h->clock, TRAIN_CHIME) ? share(h->quarter_right, h->quarter_due)
                                              : h->half_due > 0 ? share(h->half_right, h->half_due)
                                                                : 1;
}

/* Some hours always right and others always wrong. */
static double only_some(const struct habit *h)
{
    int good = 0, bad = 0;
    for (int i = 0; i < 12; i++) {
        double r = h->hour_due[i] > 0.01 ? h->hour_right[i] / h->hour_due[i] : 1;
        good += r > 0.7;
        bad += r < 0.3;
    }
    double half = h->half_due > 0 ? h->half_right / h->half_due : 1;
    if (good == 12 && half > 0.5 && half < 0.97)
        return 1;
    return good >= 2 && bad >= 1 ? 1 : h->late > 0.02 && h->late < 0.5 * h->letoffs ? 0.8 : 0.1;
}

#define WORD(name, expression)                                                                     \
    static double name(const struct habit *h)                                                     \
    {                                                                                              \
        return (expression);                                                                       \
    }
#define WRONG(h) (1 - hours_right(h))

WORD(w_left_still, side_still(h, 0))
WORD(w_left_moves, side_moves(h, 0))
WORD(w_middle_still, side_still(h, 1))
WORD(w_middle_moves, side_moves(h, 1))
WORD(w_right_still, side_still(h, 2))
WORD(w_right_moves, side_moves(h, 2))
WORD(w_strike_still, weight_still(h, TRAIN_STRIKE))
WORD(w_strike_moves, train_runs(h, TRAIN_STRIKE))
WORD(w_chime_still, weight_still(h, TRAIN_CHIME))
WORD(w_chime_moves, train_runs(h, TRAIN_CHIME))

/* A weight comes down to the floor of the case by itself, and is then wound: of a sound clock that is seen for
 * about a quarter of a day in each winding (judgement), which of a thirty-hour clock is nothing odd. */
static double due_for_winding(const struct habit *h)
{
    double most = 0;
    for (int i = 0; i < TRAINS; i++) {
        const struct power *w = &h->clock->train[i].power;
        if (clock_train(h->clock, (enum event_train)i) && w->drive == DRIVE_WEIGHT && w->days > 0)
            most = fmax(most, 0.25 / w->days);
    }
    return fmin(most, 0.25);
}

WORD(w_bottom, fmax(due_for_winding(h), fmax(fmax(h->out[TRAIN_GOING], h->out[TRAIN_STRIKE]),
                                             fmax(h->out[TRAIN_CHIME], h->out[TRAIN_MUSIC]))))
WORD(w_stopped, ramp(stands(h), 0, 0.7))
WORD(w_going, 1 - ramp(stands(h), 0, 0.7))
WORD(w_before_hour, ramp(h->halt[STUCK_TAIL] + h->halt[STUCK_WARNING] + h->halt[STUCK_HANDS], 0, 0.7))
WORD(w_hands_stall, ramp(h->halt[STUCK_HANDS], 0, 0.7))
WORD(w_near_twelve, ramp(h->halt[STUCK_TAIL], 0, 0.7))
/* Hands that merely stay behind under the lift can be moved by a finger; wedged ones cannot. */
WORD(w_resistance, ramp(h->halt[STUCK_TAIL] + h->halt[STUCK_WARNING], 0, 0.7))
WORD(w_same_place, ramp(h->halt[STUCK_TAIL] + h->halt[STUCK_WARNING] + h->halt[STUCK_HANDS], 0, 0.7))
WORD(w_time_right, (1 - ramp(stands(h) + h->halt[STUCK_HANDS], 0, 1)) *
                       (abs(h->hour_off) > 20 ? 0.3 : 1) * (abs(h->minute_off) > 2 ? 0.6 : 1) *
                       (fabs(par(h, PAR_going_slow) - 1) > 0.01 ? 0.05 : 1))
WORD(w_loses, par(h, PAR_going_slow) < 0.99 ? 1 : 0.3 * stands(h) + 0.3 * h->halt[STUCK_HANDS])
WORD(w_gains, par(h, PAR_going_slow) > 1.01)
WORD(w_hour_hand_loose, par(h, PAR_hour_loose))
WORD(w_minute_hand_loose, par(h, PAR_minute_loose) > 0)
WORD(w_minute_hand_tight, par(h, PAR_minute_loose) > 0 ? 0 : 0.8)
WORD(w_points_off, abs(h->minute_off) >= 3)
WORD(w_late, share(h->late, 0.3 * (h->letoffs - h->silent)))
WORD(w_early, share(h->early, 0.3 * (h->letoffs - h->silent)))
WORD(w_hand_disagrees, fmax(abs(h->hour_off) >= 15 || par(h, PAR_hour_loose) > 0.3,
                            0.9 * ramp(WRONG(h), 0, 0.5)))
WORD(w_hammers_free, par(h, PAR_hammer_bound) < 0 && par(h, PAR_hammers_dead_strike) < 0.5 &&
                         par(h, PAR_hammers_dead_chime) < 0.5)
WORD(w_hammer_stuck, par(h, PAR_hammer_bound) >= 0 || par(h, PAR_hammers_dead_strike) > 0.5)
WORD(w_move_silently, share(h->whirred, 0.3 * h->letoffs))
WORD(w_hammers_still, h->silent > 0.9 * h->letoffs && h->whirred < 0.1 * h->letoffs)
WORD(w_both, share(h->both, 0.2 * h->letoffs))
WORD(w_one_still, par(h, PAR_hammer_dead) >= 0)
WORD(w_rests, par(h, PAR_hammer_thud) >= 0)
WORD(w_lever_silent, fmax(h->silent_flag[0], h->silent_flag[1]))
WORD(w_lever_strike, 1 - fmax(h->silent_flag[0], h->silent_flag[1]))
WORD(w_no_effect, h->silent > 0.8 * h->letoffs
                      ? 1 - fmax(h->silent_flag[0], h->silent_flag[1])
                      : 0.1)
WORD(w_night, fabs(par(h, PAR_night_off_min)) > 30)
WORD(w_night_only, h->clock->night_from_min != h->clock->night_to_min && fabs(par(h, PAR_night_off_min)) <= 30 &&
                       h->silent < 0.9 * h->letoffs)
WORD(w_warns, share(h->warned, 0.5 * h->letoffs))
WORD(w_no_warn, 1 - share(h->warned, 0.5 * h->letoffs))
WORD(w_click, share(h->clicked, 0.3 * h->letoffs))
WORD(w_whirr, share(h->whirred, 0.3 * h->letoffs))
WORD(w_fan_fast, share(h->fast, 0.3 * h->letoffs))
WORD(w_fan_still, h->silent > 0.9 * h->letoffs && h->whirred < 0.05 * h->letoffs)
WORD(w_until_hour, share(h->quarter_silent, 0.5 * h->quarter_due) * share(h->hour_heard, 6))
WORD(w_after_hour, ramp(1 - quarters_right(h), 0, 0.05) * ramp(quarters_right(h), 0.3, 0.8))
WORD(w_corrects, ramp(1 - quarters_right(h), 0, 0.02) * ramp(quarters_right(h), 0.5, 0.9))
WORD(w_never_corrects, ramp(1 - quarters_right(h), 0.4, 0.9))
WORD(w_some_hours, only_some(h))
WORD(w_same_hours, only_some(h) * (1 - ramp(h->varies, 0.02, 0.2)))
WORD(w_varies, ramp(h->varies, 0.003, 0.06))
WORD(w_in_order, WRONG(h) > 0.3 ? ramp(h->error_same, 0.5, 0.8) : 0.4)
WORD(w_behind, h->error < 0 ? ramp(h->error_same, 0.3, 0.7) : h->error == 0 ? 0.3 * WRONG(h) : 0.05)
WORD(w_ahead, h->error > 0 ? ramp(h->error_same, 0.3, 0.7) : h->error == 0 ? 0.3 * WRONG(h) : 0.05)
WORD(w_half_on_hour, h->hours_as_halves)
WORD(w_hours_at_half, h->halves_as_hours)
WORD(w_hour_right, ramp(hours_right(h), 0.6, 0.95))
WORD(w_hour_wrong, ramp(WRONG(h), 0, 0.3))
WORD(w_quarters_right, ramp(quarters_right(h), 0.6, 0.95))
WORD(w_quarters_wrong, ramp(1 - quarters_right(h), 0, 0.3))
WORD(w_jumbled, share(h->jumbled, 0.3 * h->quarter_due))
WORD(w_midway, share(h->stalled[TRAIN_STRIKE] + h->stalled[TRAIN_CHIME], 0.5))
WORD(w_resumes, share(h->stalled[TRAIN_STRIKE] + h->stalled[TRAIN_CHIME], 0.5) *
                    share(h->hour_heard, 6))
WORD(w_slows, share(h->slowing, 0.2 * h->letoffs))
WORD(w_dead, train_still(h, TRAIN_STRIKE))
WORD(w_loud, share(h->quality[5], 0.3 * h->letoffs))
WORD(w_soft, share(h->quality[0], 0.3 * h->letoffs))
WORD(w_music_fine, train_runs(h, TRAIN_MUSIC))
WORD(w_music_silent, train_still(h, TRAIN_MUSIC))
WORD(w_bird_stuck, par(h, PAR_bird_stuck) > 0.3)
WORD(w_bird_fine, par(h, PAR_bird_stuck) > 0.3 ? 0 : 0.8)
WORD(w_bellows, par(h, PAR_bellows_lost) >= 0)
WORD(w_stays_up, fmax(par(h, PAR_stick_up), par(h, PAR_hook_up)) > 0.1)
#define RACK_HELD(h) fmax(par(h, PAR_rack_slow), fmax(par(h, PAR_rack_stick), par(h, PAR_rack_part)))
WORD(w_rack_free, RACK_HELD(h) > 0.1 ? 0.05 : 0.9)
WORD(w_rack_sticks, RACK_HELD(h) > 0.1)
WORD(w_snail_loose, par(h, PAR_snail_slip) > 0)
WORD(w_drum_loose, par(h, PAR_drum_slip) > 0)
WORD(w_rattle, fmax(fmax(par(h, PAR_train_rattle + TRAIN_STRIKE), par(h, PAR_train_rattle + TRAIN_CHIME)),
                    par(h, PAR_hammer_buzz) >= 0))
WORD(w_scatter, par(h, PAR_lift_scatter) > 0.02 || par(h, PAR_letoff_scatter_min) > 0)

#define ON_THE_PART true
static const struct shown {
    const char *word;
    double (*degree)(const struct habit *h);
    bool felt; /* with finger or eye on the part: SEEN_FALSE_FELT */
} shown[] = {
    {"left_weight_still", w_left_still},
    {"left_weight_moves", w_left_moves},
    {"middle_weight_still", w_middle_still},
    {"middle_weight_moves", w_middle_moves},
    {"right_weight_still", w_right_still},
    {"right_weight_moves", w_right_moves},
    {"strike_weight_still", w_strike_still},
    {"strike_weight_moves", w_strike_moves},
    {"chime_weight_still", w_chime_still},
    {"chime_weight_moves", w_chime_moves},
    {"weight_at_bottom", w_bottom, ON_THE_PART},
    {"pendulum_stopped", w_stopped},
    {"pendulum_on", w_going},
    {"clock_stops", w_stopped},
    {"stops_before_hour", w_before_hour},
    {"stops_near_twelve", w_near_twelve},
    {"hands_stall", w_hands_stall},
    {"hand_meets_resistance", w_resistance},
    {"hand_back_frees", w_resistance},
    {"stops_same_place", w_same_place},
    {"time_right", w_time_right},
    {"loses_time", w_loses},
    {"gains_time", w_gains},
    {"hour_hand_loose", w_hour_hand_loose, ON_THE_PART},
    {"minute_hand_loose", w_minute_hand_loose, ON_THE_PART},
    {"minute_hand_tight", w_minute_hand_tight},
    {"minute_hand_points_off", w_points_off},
    {"strike_late_by_hand", w_late},
    {"strike_early_by_hand", w_early},
    {"hour_hand_disagrees", w_hand_disagrees},
    {"hammers_free", w_hammers_free},
    {"hammer_stuck", w_hammer_stuck},
    {"hammers_move_silently", w_move_silently},
    {"hammers_still", w_hammers_still},
    {"both_hammers_move", w_both},
    {"one_hammer_still", w_one_still},
    {"hammer_rests", w_rests, ON_THE_PART},
    {"silent_lever_at_silent", w_lever_silent, ON_THE_PART},
    {"silent_lever_at_strike", w_lever_strike},
    {"silent_lever_no_effect", w_no_effect},
    {"silent_at_night_only", w_night_only, ON_THE_PART},
    {"silent_by_day", w_night, ON_THE_PART},
    {"silent_hours_wrong", w_night, ON_THE_PART},
    {"warning_click_heard", w_warns},
    {"whirr_before_hour", w_warns},
    {"no_warning_click", w_no_warn},
    {"click_at_hour", w_click},
    {"click_no_strike", w_click},
    {"whirr_no_blows", w_whirr},
    {"fan_spins_fast", w_fan_fast},
    {"fan_still", w_fan_still},
    {"silent_until_hour", w_until_hour},
    {"right_after_hour", w_after_hour},
    {"chime_corrects_itself", w_corrects},
    {"chime_never_corrects", w_never_corrects},
    {"only_some_hours", w_some_hours},
    {"same_hours_each_day", w_same_hours},
    {"not_repeatable", w_varies},
    {"count_in_order", w_in_order},
    {"count_behind", w_behind},
    {"count_ahead", w_ahead},
    {"half_hour_on_hour", w_half_on_hour},
    {"hours_at_half", w_hours_at_half},
    {"hour_count_right", w_hour_right},
    {"hour_count_wrong", w_hour_wrong},
    {"quarters_right", w_quarters_right},
    {"quarters_wrong", w_quarters_wrong},
    {"tune_jumbled", w_jumbled},
    {"strike_stops_midway", w_midway},
    {"strike_resumes_later", w_resumes},
    {"strike_slows_down", w_slows},
    {"strike_dead", w_dead},
    {"too_loud", w_loud},
    {"too_soft", w_soft},
    {"music_fine", w_music_fine},
    {"music_silent", w_music_silent},
    {"bird_stuck", w_bird_stuck, ON_THE_PART},
    {"bird_fine", w_bird_fine},
    {"door_fine", w_bird_fine},
    {"bellows_torn", w_bellows, ON_THE_PART},
    {"lever_stays_up", w_stays_up},
    {"rack_falls_free", w_rack_free},
    {"rack_sticks", w_rack_sticks, ON_THE_PART},
    {"snail_loose", w_snail_loose, ON_THE_PART},
    {"drum_screw_loose", w_drum_loose, ON_THE_PART},
    {"rattle", w_rattle},
    {"lifting_lever_loose", w_scatter, ON_THE_PART},
};
#define SHOWN (sizeof shown / sizeof *shown)

static const struct shown *shown_by(const char *word)
{
    for (size_t i = 0; i < SHOWN; i++)
        if (shown[i].word[0] == word[0] && strcmp(shown[i].word, word) == 0)
            return &shown[i];
    return NULL;
}

void habit_degrees(const struct habit *h, size_t habits, const char *word, double *degree)
{
    const struct shown *s = shown_by(word);
    for (size_t i = 0; i < habits; i++)
        degree[i] = s ? fmax(0, fmin(1, s->degree(&h[i]))) : -1;
}

double habit_degree(const struct habit *h, const char *word)
{
    double degree;
    habit_degrees(h, 1, word, &degree);
    return degree;
}

static double false_rate(const char *word)
{
    const struct shown *s = shown_by(word);
    return s && s->felt ? SEEN_FALSE_FELT : SEEN_FALSE;
}

bool evidence_predicts(const char *word)
{
    return shown_by(word) != NULL;
}

bool evidence_told(const struct sheet *s, const struct word *seen)
{
    for (size_t i = 0; i < seen->told_bys; i++)
        for (size_t r = 0; r < s->heards; r++)
            if (heard_how(&s->heard[r], s->words, seen->told_by[i]))
                return true;
    return false;
}

/* `how` words that speak of many let-offs. */
static double how_chance(const struct habit *h, const struct sheet *s)
{
    double vary = ramp(h->varies, 0.003, 0.06);
    for (size_t i = 0; i < s->heards; i++)
        if (heard_how(&s->heard[i], s->words, "irregular") ||
            heard_how(&s->heard[i], s->words, "unreliable") ||
            heard_how(&s->heard[i], s->words, "varying_time"))
            return 0.15 + 0.6 * vary;
    return 1;
}

double seen_yes(double degree)
{
    return SEEN_ASKED_FALSE + (SEEN_ASKED_HIT - SEEN_ASKED_FALSE) * fmax(0, degree);
}

static double seen_chance(const struct habit *h, const struct sheet *s, const struct word_set *set,
                          bool so)
{
    double p = 1;
    for (size_t i = 0; i < words_count(s->words, WORD_SEEN); i++) {
        if (!word_set_has(set, (int)i))
            continue;
        double d = habit_degree(h, words_at(s->words, WORD_SEEN, i)->id);
        if (d < 0 || (so && same_fact_told(s, i)))
            continue;
        double wrong = false_rate(words_at(s->words, WORD_SEEN, i)->id);
        if (!so)
            p *= 1 - seen_yes(d);
        else if (word_set_has(&s->seen_asked, (int)i))
            p *= seen_yes(d);
        else
            p *= wrong + (SEEN_HIT - wrong) * d;
    }
    return p;
}

double evidence_chance(const struct habit *h, const struct sheet *s)
{
    return seen_chance(h, s, &s->seen, true) * seen_chance(h, s, &s->seen_not, false) *
           how_chance(h, s);
}

bool evidence_wanted(const struct sheet *s)
{
    if (!word_set_empty(&s->seen) || !word_set_empty(&s->seen_not))
        return true;
    for (size_t i = 0; i < s->heards; i++)
        if (heard_how(&s->heard[i], s->words, "irregular") ||
            heard_how(&s->heard[i], s->words, "unreliable") ||
            heard_how(&s->heard[i], s->words, "varying_time"))
            return true;
    return false;
}
