#include "diagnose/filter.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>
#include "diagnose/told.h"
#include "mem.h"

/* ---- following several works at once ---- */

struct walk {
    struct filter_plan *plan;
    struct outcome_rows *rows;
    const struct filter_state *start;
    size_t starts;
    struct filter_space *space;
    filter_arrived *arrived;
    void *with;
};

static void step_from(struct walk *w, const struct filter_step *s, struct outcome_table *t, uint32_t state,
                      const double *lane, double times)
{
    uint32_t row = outcome_table_row(t, state, s->letoff);
    uint32_t led = s->led ? outcome_table_led_row(t, state, s->letoff) : row;
    double stood[TOLD_LANES_MOST];
    if (led != row) {
        told_stood(w->plan, s, row, stood);
        for (size_t k = 0; k < w->space->lanes; k++)
            stood[k] *= lane[k];
        lane = stood;
    }
    told_row(w->plan, s, led, lane, times, w->space);
}

static int letoff_before(const struct filter_plan *p, const struct filter_step *s)
{
    return (s->letoff + p->classes->letoffs - 1) % p->classes->letoffs;
}

/* Hands that stand do not come to the let-off by themselves: either someone sets them going, or
 * the let-off is silence. */
static void step_state(struct walk *w, const struct filter_step *s, struct outcome_table *t, uint32_t state,
                       const double *lane)
{
    if (!outcome_holds_hands(w->rows->state[state])) {
        step_from(w, s, t, state, lane, 1);
        return;
    }
    if (s->burn) {
        space_add(w->space, state, lane, 1);
        return;
    }
    if (s->led) {
        struct eased eased[EASED_MOST];
        size_t n = outcome_table_eased(t, state, letoff_before(w->plan, s), eased);
        for (size_t i = 0; i < n; i++)
            step_from(w, s, t, eased[i].state, lane, eased[i].p);
        return;
    }
    uint32_t freed = outcome_rows_freed(w->rows, state);
    told_standing(w->plan, s, state, lane, 1 - FILTER_FREED, w->space);
    step_from(w, s, t, freed, lane, FILTER_FREED);
}

static uint64_t mix(uint64_t h, uint64_t x)
{
    h = (h ^ x) * 0x9e3779b97f4a7c15ull;
    return h ^ (h >> 29);
}

static uint64_t mix_rows(uint64_t h, const struct filter_step *s, struct outcome_table *t, uint32_t state)
{
    h = mix(mix(h, state), outcome_table_row(t, state, s->letoff));
    return s->led ? mix(h, outcome_table_led_row(t, state, s->letoff)) : h;
}

/* What the works does from every place the clock may be in now, as one number. */
static uint64_t sign_of(const struct walk *w, const struct filter_step *s, struct outcome_table *t,
                        size_t at, size_t n)
{
    uint64_t h = 1;
    struct eased eased[EASED_MOST];
    for (size_t i = 0; i < n; i++) {
        uint32_t state = w->space->place[at + i];
        if (outcome_holds_hands(w->rows->state[state])) {
            if (s->burn)
                continue;
            size_t k = s->led ? outcome_table_eased(t, state, letoff_before(w->plan, s), eased) : 0;
            for (size_t j = 0; j < k; j++)
                h = mix_rows(mix(h, (uint64_t)(eased[j].p * 1e9)), s, t, eased[j].state);
            if (s->led)
                continue;
            state = outcome_rows_freed(w->rows, state);
        }
        h = mix_rows(h, s, t, state);
    }
    return h;
}

static int by_sign(const void *a, const void *b)
{
    uint64_t x = ((const struct filter_member *)a)->sign, y = ((const struct filter_member *)b)->sign;
    return x < y ? -1 : x > y;
}

static void put_start(struct walk *w, double mass)
{
    for (size_t i = 0; i < w->starts; i++)
        space_add_even(w->space, w->start[i].state, w->start[i].p * mass);
}

static void add_wound(struct walk *w, uint32_t state, const double *lane, double times)
{
    uint32_t wound = outcome_rows_wound(w->rows, state);
    space_fit(w->space, w->rows->states);
    if (wound != state) {
        space_add(w->space, wound, lane, times * FILTER_REWOUND);
        times *= 1 - FILTER_REWOUND;
    }
    space_add(w->space, state, lane, times);
}

/* End of the silent hour before: half of what stands was set going again, as it was found.  A clock
 * found out of step may as well have been put out just before it was listened to: half of that is
 * heard from its very start (a chime that corrects itself would else always be right by now).  A train
 * that ran out in the hour unheard is found out and wound, so that the next run is the one told of. */
static struct space_put burnt_in(struct walk *w, size_t at, size_t n, double crumb, double *lost)
{
    struct filter_space *f = w->space;
    double again = 0; /* nothing was told yet: all lanes are alike */
    for (size_t i = at; i < at + n; i++) {
        const double *lane = f->mass + i * f->lanes;
        double stays = w->starts > 1 ? 1 - FILTER_JUST_NOW : 1;
        if (w->rows->state[f->place[i]].stuck != STUCK_NOT)
            stays /= 2;
        again += lane[0] * (1 - stays);
        add_wound(w, f->place[i], lane, stays);
    }
    put_start(w, again);
    return space_put_down(f, at, crumb, lost);
}

/* Members whose bound the mass no longer passes are given up, with what was lost of them before;
 * returns how many stay. */
static size_t keep_alive(struct filter_member *m, size_t members, double mass, double lost)
{
    size_t kept = 0;
    for (size_t i = 0; i < members; i++) {
        if (mass <= m[i].bound) {
            m[i].dropped = mass + lost;
            m[i].chance = 0;
            continue;
        }
        struct filter_member swap = m[kept];
        m[kept++] = m[i];
        m[i] = swap;
    }
    return kept;
}

static void arrive(struct walk *w, size_t at, size_t n, double lost, struct filter_member *m, size_t members)
{
    const struct filter_plan *p = w->plan;
    struct filter_space *f = w->space;
    double sum = 0;
    f->end = mem_grow(f->end, &f->end_room, n + 1, sizeof *f->end);
    for (f->ends = 0; f->ends < n; f->ends++) {
        size_t i = at + f->ends;
        double mass = p->unplaced * told_closing(p, f->mass + i * f->lanes);
        f->end[f->ends] = (struct filter_state){f->place[i], mass};
        sum += mass;
    }
    for (size_t i = 0; i < members; i++) {
        m[i].chance = sum;
        m[i].dropped = lost * p->unplaced;
    }
    w->arrived(w->with, m, members, f);
}

/* Rows lie far apart in memory: all are asked for before any is followed, so that none waits for another. */
static void find_rows(struct walk *w, const struct filter_step *s, struct outcome_table *t, size_t from, size_t n)
{
    struct filter_space *f = w->space;
    if (n > f->row_room)
        f->row = mem_grow_bare(f->row, &f->row_room, n, sizeof *f->row);
    if (s->led)
        for (size_t i = 0; i < n; i++)
            f->row[i] = OUTCOME_NONE;
    else
        outcome_table_rows(t, f->place + from, n, s->letoff, f->row);
}

static void step_all(struct walk *w, const struct filter_step *s, struct outcome_table *t, size_t from, size_t n)
{
    struct filter_space *f = w->space;
    find_rows(w, s, t, from, n);
    for (size_t i = 0, last; i < n; i = last) {
        last = i + 1;
        if (f->row[i] == OUTCOME_NONE) {
            step_state(w, s, t, f->place[from + i], f->mass + (from + i) * f->lanes);
            continue;
        }
        while (last < n && f->row[last] != OUTCOME_NONE)
            last++;
        told_rows(w->plan, s, f->row + i, last - i, f->mass + (from + i) * f->lanes, f);
    }
}

/* One step of works that all give the same rows here, put down at `at`; states of no more than `crumb` are added
 * to `lost`. */
static struct space_put advance(struct walk *w, size_t step, struct outcome_table *t, size_t from, size_t n,
                                size_t at, double crumb, double *lost)
{
    const struct filter_plan *p = w->plan;
    const struct filter_step *s = &p->step[step];
    step_all(w, s, t, from, n);
    struct space_put put = space_put_down(w->space, at, crumb, lost);
    if (s->burn && (step + 1 == p->steps || !p->step[step + 1].burn))
        put = burnt_in(w, at, put.count, crumb, lost);
    return put;
}

#define CRUMB 0.005 /* a state of so small a part of what a member is given up for is not followed */

/* What no member of them would miss; less than nothing where all is to be followed. */
static double crumb_of(const struct filter_member *m, size_t members)
{
    double least = m[0].bound;
    for (size_t i = 1; i < members; i++)
        least = fmin(least, m[i].bound);
    return CRUMB * least;
}

/* Where a walk is: before this step, with so much mass in the states from `at` on, and so much lost. */
struct standing {
    size_t step, at;
    struct space_put put;
    double lost;
};

/* One member, or several that act alike here, through one step; `members` becomes how many are still followed. */
static struct standing go_on(struct walk *w, struct standing now, struct filter_member *m, size_t *members)
{
    const struct filter_plan *p = w->plan;
    struct standing then = {.step = now.step + 1, .at = now.at + now.put.count, .lost = now.lost};
    then.put = advance(w, now.step, m[0].table, now.at, now.put.count, then.at, crumb_of(m, *members), &then.lost);
    w->space->by_step[now.step] = now.put.mass > 0 ? then.put.mass / now.put.mass : 0;
    *members = keep_alive(m, *members, then.put.mass * p->unplaced, then.lost * p->unplaced);
    return then;
}

static void follow_alone(struct walk *w, struct standing now, struct filter_member *m)
{
    size_t alive = 1;
    while (now.step < w->plan->steps && alive)
        now = go_on(w, now, m, &alive);
    if (alive)
        arrive(w, now.at, now.put.count, now.lost, m, 1);
}

/* Those that give the same rows here come to stand together. */
static void part_by_rows(struct walk *w, struct standing now, struct filter_member *m, size_t members)
{
    bool part = false;
    for (size_t i = 0; i < members; i++) {
        m[i].sign = sign_of(w, &w->plan->step[now.step], m[i].table, now.at, now.put.count);
        part |= m[i].sign != m[0].sign;
    }
    if (part)
        qsort(m, members, sizeof *m, by_sign);
}

static void follow(struct walk *w, struct standing now, struct filter_member *m, size_t members)
{
    if (members == 1) {
        follow_alone(w, now, m);
        return;
    }
    if (now.step == w->plan->steps) {
        arrive(w, now.at, now.put.count, now.lost, m, members);
        return;
    }
    part_by_rows(w, now, m, members);
    for (size_t first = 0, last; first < members; first = last) {
        last = first + 1;
        while (last < members && m[last].sign == m[first].sign)
            last++;
        size_t alive = last - first;
        struct standing then = go_on(w, now, m + first, &alive);
        if (alive)
            follow(w, then, m + first, alive);
    }
}

void filter_group(struct filter_plan *p, struct filter_member *m, size_t members,
                  const struct filter_state *start, size_t starts, bool burn,
                  struct filter_space *space, filter_arrived *arrived, void *with)
{
    if (!members)
        return;
    p->rows = m[0].table->rows;
    struct walk w = {.plan = p, .rows = m[0].table->rows, .start = start, .starts = starts,
                     .space = space, .arrived = arrived, .with = with};
    space->lanes = (size_t)1 << p->marks;
    space_fit(space, w.rows->states);
    space->by_step = mem_grow(space->by_step, &space->by_step_room, p->steps + 1,
                              sizeof *space->by_step);
    memset(space->by_step, 0, (p->steps + 1) * sizeof *space->by_step);
    put_start(&w, 1);
    struct standing now = {.step = filter_plan_first(p, burn)};
    now.put = space_put_down(space, 0, 0, &now.lost);
    follow(&w, now, m, members);
}

static void arrived_alone(void *with, struct filter_member *m, size_t members,
                          const struct filter_space *space)
{
    (void)m, (void)members, (void)space;
    *(bool *)with = true;
}

double filter_run(struct filter_plan *p, struct outcome_table *t, const struct filter_state *start,
                  size_t starts, bool burn, struct filter_space *space)
{
    struct filter_member m = {.table = t, .bound = -1};
    bool came = false;
    space->ends = 0;
    filter_group(p, &m, 1, start, starts, burn, space, arrived_alone, &came);
    return came ? m.chance : 0;
}
