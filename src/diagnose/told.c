#include "diagnose/told.h"

#include <math.h>
#include <string.h>
#include "mem.h"

#define DAYS_OFTEN 4      /* days a caller has listened to who says "now and then" of one hour */
#define HEARD_WRONGLY 0.4 /* chance of an answer among those that may be given wrongly */

/* What is known of the outcomes of one step, by their numbers: where its lanes lie + 1. */
struct by_outcome {
    uint32_t *at;
    size_t room;
};
#define RUNS_OUT 0x80000000u /* set there if a train has run for so long that its power may be out */

struct way {
    uint32_t first, ends; /* ends: behind its last + 1; 0: not yet known */
};
/* Ways by number: rows that one works gives have numbers close together, so they share pages. */
#define PAGE 32
struct way_page {
    struct way way[PAGE];
};
struct by_number {
    uint32_t *page; /* + 1; 0: none of it is known */
    size_t room;
};

struct told {
    size_t lanes, steps;
    double closing[TOLD_LANES_MOST];
    struct by_outcome *step; /* of steps that are the first of their like */
    double *lane;            /* of outcomes, in the order they were asked for */
    size_t outcomes, lane_room;
    uint64_t *key; /* (look, outcome) -> chance, for looks that are weighed row by row */
    double *chance;
    size_t slots, known;
    struct by_number *rows, *stands; /* by the first step of its like: by row; by state in which the hands stand */
    struct way_page *page;
    size_t pages, page_room;
    uint32_t *state; /* of all ways, end to end */
    double *part;
    size_t goals, state_room, part_room;
};

static double missing(const struct filter_plan *p, int mark)
{
    return p->need >> mark & 1 ? TOLD_NEED_MISSING : p->wish >> mark & 1 ? TOLD_WISH_MISSING : 1;
}

struct told *told_new(const struct filter_plan *p)
{
    struct told *t = mem_alloc(sizeof *t);
    t->lanes = (size_t)1 << p->marks;
    t->steps = p->steps;
    t->step = mem_alloc((p->steps + 1) * sizeof *t->step);
    t->rows = mem_alloc((p->steps + 1) * sizeof *t->rows);
    t->stands = mem_alloc((p->steps + 1) * sizeof *t->stands);
    for (size_t s = 0; s < t->lanes; s++) {
        t->closing[s] = 1;
        for (int mark = 0; mark < p->marks; mark++)
            t->closing[s] *= s >> mark & 1 ? missing(p, mark) - 1 : 1;
    }
    return t;
}

void told_free(struct told *t)
{
    if (!t)
        return;
    for (size_t i = 0; i < t->steps; i++) {
        mem_free(t->step[i].at);
        mem_free(t->rows[i].page);
        mem_free(t->stands[i].page);
    }
    mem_free(t->rows);
    mem_free(t->stands);
    mem_free(t->page);
    mem_free(t->step);
    mem_free(t->lane);
    mem_free(t->key);
    mem_free(t->chance);
    mem_free(t->state);
    mem_free(t->part);
    mem_free(t);
}

double told_closing(const struct filter_plan *p, const double *lane)
{
    const struct told *t = p->told;
    double sum = 0;
    for (size_t s = 0; s < t->lanes; s++)
        sum += t->closing[s] * lane[s];
    return fmax(0, sum); /* below 0 by rounding only */
}

/* ---- chances of single looks ---- */

static double look_chance(const struct filter_plan *p, const struct filter_step *s, size_t look,
                          const struct heard *row, uint32_t outcome)
{
    struct ear_at at = p->ear;
    at.sound = sounding_at(at.pool, outcome);
    at.due = sounding_at(at.pool, s->due);
    at.lobe = p->classes->lobe[s->letoff];
    at.dial_min = s->dial_min;
    at.shown_min = s->shown_min;
    if (p->look[look].kind == FILTER_STAND)
        return ear_stopped(&at, row);
    double told = ear_row(&at, row);
    return heard_how(row, at.words, HOW_BY_HAND) ? told + FILTER_MISHEARD * (HEARD_WRONGLY - told) : told;
}

static size_t hash_place(const uint64_t *keys, size_t slots, uint64_t key)
{
    size_t at = (size_t)(key * 0x9e3779b97f4a7c15ull >> 31) & (slots - 1);
    while (keys[at] && keys[at] != key)
        at = (at + 1) & (slots - 1);
    return at;
}

static void chances_grow(struct told *t)
{
    size_t old = t->slots;
    uint64_t *key = t->key;
    double *chance = t->chance;
    t->slots = old ? old * 2 : 64;
    t->key = mem_alloc(t->slots * sizeof *t->key);
    t->chance = mem_alloc(t->slots * sizeof *t->chance);
    for (size_t i = 0; i < old; i++)
        if (key[i]) {
            size_t at = hash_place(t->key, t->slots, key[i]);
            t->key[at] = key[i];
            t->chance[at] = chance[i];
        }
    mem_free(key);
    mem_free(chance);
}

/* The chance of a look, remembered; `other`: of its other values. */
static double chance_of(struct filter_plan *p, const struct filter_step *s, size_t look, bool other,
                        uint32_t outcome)
{
    struct told *t = p->told;
    uint64_t key = ((uint64_t)(look * 2 + other) << 32 | outcome) + 1;
    if (2 * (t->known + 1) > t->slots)
        chances_grow(t);
    size_t at = hash_place(t->key, t->slots, key);
    if (t->key[at])
        return t->chance[at];
    t->key[at] = key;
    t->known++;
    return t->chance[at] = look_chance(p, s, look, other ? p->look[look].other : p->look[look].row, outcome);
}

/* ---- what was told of an outcome ---- */

static double factor_one(const struct filter_look *l, double chance)
{
    double miss = l->best > 0 ? fmax(0, 1 - chance / l->best) : 0;
    switch (l->kind) {
    case FILTER_ROW:
        return chance;
    case FILTER_RULE:
    case FILTER_USUAL:
        return exp(-l->strict * l->share * miss);
    default:
        return 1;
    }
}

/* Chance that this is the one let-off meant.  A caller mishears the one let-off that is told of, not
 * each of those it may have been: what is no more than a slip is shared among all of them. */
static double meant(const struct filter_look *l, double chance)
{
    double fits = l->best > 0 ? fmin(1, chance / l->best) : 0;
    return FILTER_NOTICED * chance * (fits * fits + (1 - fits * fits) * l->share);
}

/* A look that may meet marks: its chance when it meets none, the first, the second. */
struct meets {
    double none, first, second;
};

static struct meets meets_of(const struct filter_plan *p, const struct filter_step *s, size_t look,
                             uint32_t outcome)
{
    const struct filter_look *l = &p->look[look];
    double yes = look_chance(p, s, look, l->row, outcome), here = meant(l, yes);
    switch (l->kind) {
    case FILTER_NOW_THEN:
        return (struct meets){1 - FILTER_ATTEND, FILTER_ATTEND * yes, FILTER_ATTEND * (1 - yes)};
    case FILTER_MIX:
        return (struct meets){1 - FILTER_ATTEND, FILTER_ATTEND * yes,
                              FILTER_ATTEND * look_chance(p, s, look, l->other, outcome)};
    case FILTER_SOME_ONE:
        return (struct meets){1 - here, here, 0};
    default: /* FILTER_STAND */
        return (struct meets){1 - yes, yes, 0};
    }
}

static void take_meets(const struct filter_look *l, struct meets m, double *lane, size_t lanes)
{
    for (size_t s = 0; s < lanes; s++)
        lane[s] *= m.none + (s & l->bit ? 0 : m.first) + (s & l->bit2 ? 0 : m.second);
}

/* The caller would have told of hands that stand. */
static double untold_stop(const struct filter_plan *p, const struct filter_step *s, uint32_t outcome)
{
    struct rest r = {.stuck = sounding_at(p->ear.pool, outcome)->halt};
    return outcome_holds_hands(r) && !p->stops_told && !s->led ? FILTER_UNTOLD_STOP : 1;
}

static void outcome_lanes(const struct filter_plan *p, const struct filter_step *s, uint32_t outcome,
                          double *lane, size_t lanes)
{
    double factor = s->burn ? 1 : untold_stop(p, s, outcome);
    for (size_t i = s->first; i < s->first + s->count; i++) {
        const struct filter_look *l = &p->look[i];
        if (l->kind != FILTER_ROW_OFTEN && !filter_marks(l->kind))
            factor *= factor_one(l, look_chance(p, s, i, l->row, outcome));
    }
    for (size_t k = 0; k < lanes; k++)
        lane[k] = factor;
    for (size_t i = s->first; lanes > 1 && i < s->first + s->count; i++)
        if (filter_marks(p->look[i].kind))
            take_meets(&p->look[i], meets_of(p, s, i, outcome), lane, lanes);
}

static bool runs_out(const struct filter_plan *p, const struct filter_step *s, uint32_t outcome)
{
    const struct sounding *made = sounding_at(p->ear.pool, outcome);
    bool endless = false;
    for (int i = TRAIN_STRIKE; i < TRAINS; i++)
        endless |= train_sound_endless(&made->train[i]);
    return endless && !s->burn;
}

/* Where the lanes of an outcome lie, with RUNS_OUT. */
static uint32_t outcome_at(struct filter_plan *p, const struct filter_step *s, uint32_t outcome)
{
    struct told *t = p->told;
    struct by_outcome *b = &t->step[s - p->step];
    if (outcome >= b->room)
        b->at = mem_grow(b->at, &b->room, outcome + 1, sizeof *b->at);
    if (!b->at[outcome]) {
        size_t at = t->outcomes++;
        t->lane = mem_grow_bare(t->lane, &t->lane_room, t->outcomes * t->lanes, sizeof *t->lane);
        outcome_lanes(p, s, outcome, t->lane + at * t->lanes, t->lanes);
        b->at[outcome] = ((uint32_t)at + 1) | (runs_out(p, s, outcome) ? RUNS_OUT : 0);
    }
    return b->at[outcome];
}

/* ---- where a row leads ---- */

/* Room for so many more goals. */
static void goals_fit(struct told *t, size_t more)
{
    t->state = mem_grow_bare(t->state, &t->state_room, t->goals + more, sizeof *t->state);
    t->part = mem_grow_bare(t->part, &t->part_room, (t->goals + more) * t->lanes, sizeof *t->part);
}

/* A state may come more than once: looking for it would cost more than carrying it along. */
static void goal_add(struct told *t, uint32_t state, const double *lane, double weight)
{
    if (weight * lane[0] <= 0)
        return;
    double *part = t->part + t->goals * t->lanes;
    t->state[t->goals++] = state;
    for (size_t k = 0; k < t->lanes; k++)
        part[k] = weight * lane[k];
}

/* At most two goals, for which there must be room. */
static void goal_by_outcome(struct filter_plan *p, const struct filter_step *s, uint32_t outcome, double weight,
                            uint32_t next)
{
    struct told *t = p->told;
    uint32_t at = outcome_at(p, s, outcome), wound = next;
    const double *lane = t->lane + ((at & ~RUNS_OUT) - 1) * t->lanes;
    if (at & RUNS_OUT)
        wound = outcome_rows_rewound(p->rows, outcome, next);
    if (wound != next) {
        goal_add(t, wound, lane, weight * p->rewound);
        weight *= 1 - p->rewound;
    }
    goal_add(t, next, lane, weight);
}

/* Rows of one hour heard on several days: of four days it was so at least once and, if a usual
 * value was told, that too. */
static double often_factor(struct filter_plan *p, const struct filter_step *s, const struct outcome_row *r)
{
    double factor = 1;
    for (size_t i = s->first; i < s->first + s->count; i++) {
        if (p->look[i].kind != FILTER_ROW_OFTEN)
            continue;
        double yes = 0, other = 0;
        for (size_t k = r->first; k < r->first + r->count; k++) {
            struct outcome_edge e = p->rows->edge[k];
            yes += e.p * chance_of(p, s, i, false, e.outcome);
            if (p->look[i].other)
                other += e.p * chance_of(p, s, i, true, e.outcome);
        }
        double never = pow(1 - yes, DAYS_OFTEN), always = pow(yes, DAYS_OFTEN);
        if (p->look[i].other)
            factor *= (1 - never) * (1 - pow(1 - fmin(1, other), DAYS_OFTEN));
        else
            factor *= (1 - never) * (1 - 0.6 * always);
    }
    return factor;
}

static void goals_of_row(struct filter_plan *p, const struct filter_step *s, uint32_t row)
{
    const struct outcome_row r = p->rows->row[row];
    double often = often_factor(p, s, &r);
    goals_fit(p->told, 2 * r.count);
    for (size_t k = r.first; k < r.first + r.count; k++) {
        struct outcome_edge e = p->rows->edge[k];
        goal_by_outcome(p, s, e.outcome, often * e.p, e.next);
    }
}

static uint32_t standing(struct sounding_pool *pool, uint8_t stuck)
{
    struct sounding s;
    memset(&s, 0, sizeof s);
    s.halt = stuck;
    return sounding_intern(pool, &s);
}

/* Where a way is or will be kept. */
static struct way *way_at(struct told *t, struct by_number *b, uint32_t number)
{
    size_t page = number / PAGE;
    if (page >= b->room)
        b->page = mem_grow(b->page, &b->room, page + 1, sizeof *b->page);
    if (!b->page[page]) {
        t->page = mem_grow_bare(t->page, &t->page_room, ++t->pages, sizeof *t->page);
        memset(&t->page[t->pages - 1], 0, sizeof *t->page);
        b->page[page] = (uint32_t)t->pages;
    }
    return &t->page[b->page[page] - 1].way[number % PAGE];
}

static struct told_way way_to(const struct told *t, struct way w)
{
    return (struct told_way){t->state + w.first, t->part + w.first * t->lanes, w.ends - 1 - w.first};
}

struct told_way told_row(struct filter_plan *p, const struct filter_step *s, uint32_t row)
{
    struct told *t = p->told;
    struct way *w = way_at(t, &t->rows[s->like], row);
    if (!w->ends) {
        size_t first = t->goals;
        goals_of_row(p, &p->step[s->like], row);
        *w = (struct way){(uint32_t)first, (uint32_t)t->goals + 1};
    }
    return way_to(t, *w);
}

struct told_way told_standing(struct filter_plan *p, const struct filter_step *s, uint32_t state)
{
    struct told *t = p->told;
    struct way *w = way_at(t, &t->stands[s->like], state);
    if (!w->ends) {
        size_t first = t->goals;
        uint32_t outcome = standing(p->rows->pool, p->rows->state[state].stuck);
        goals_fit(t, 2);
        goal_by_outcome(p, &p->step[s->like], outcome, 1, state);
        *w = (struct way){(uint32_t)first, (uint32_t)t->goals + 1};
    }
    return way_to(t, *w);
}

void told_stood(struct filter_plan *p, const struct filter_step *s, uint32_t row, double *lane)
{
    const struct outcome_row r = p->rows->row[row];
    s = &p->step[s->like];
    for (size_t k = 0; k < p->told->lanes; k++)
        lane[k] = 1;
    for (size_t i = s->first; i < s->first + s->count; i++) {
        const struct filter_look *l = &p->look[i];
        double yes = 0;
        if (l->kind != FILTER_STAND)
            continue;
        for (size_t k = r.first; k < r.first + r.count; k++)
            yes += p->rows->edge[k].p * chance_of(p, s, i, false, p->rows->edge[k].outcome);
        take_meets(l, (struct meets){1 - yes, yes, 0}, lane, p->told->lanes);
    }
}
