#include "diagnose/told.h"

#include <math.h>
#include <string.h>
#include "mem.h"

#define DAYS_OFTEN 4      /* days a caller has listened to who says "now and then" of one hour */
#define HEARD_WRONGLY 0.4 /* chance of an answer among those that may be given wrongly */

/* An outcome at the steps of one like. */
struct judged {
    uint64_t key; /* (like, outcome) + 1; 0: free */
    double told;  /* one lane: the lane; else where its lanes lie.  Below 0, be it -0: a train has run for so long
                     that its power may be out */
};

struct told {
    size_t lanes;
    double closing[TOLD_LANES_MOST];
    struct judged *judged;
    size_t judged_slots, outcomes;
    double *lane; /* of outcomes, in the order they were asked for; unused where there is one */
    size_t lanes_used, lane_room;
    uint64_t *key; /* what is weighed row by row: (look, outcome) or (like, row) -> chance */
    double *chance;
    size_t slots, known;
};

static inline size_t judged_place(const struct judged *of, size_t slots, uint64_t key)
{
    size_t at = (size_t)(key * 0x9e3779b97f4a7c15ull >> 40) & (slots - 1);
    while (of[at].key != key && of[at].key)
        at = (at + 1) & (slots - 1);
    return at;
}

static void judged_grow(struct told *t)
{
    size_t old = t->judged_slots;
    struct judged *of = t->judged;
    t->judged_slots = old ? 4 * old : 64;
    t->judged = mem_alloc(t->judged_slots * sizeof *t->judged);
    for (size_t i = 0; i < old; i++)
        if (of[i].key)
            t->judged[judged_place(t->judged, t->judged_slots, of[i].key)] = of[i];
    mem_free(of);
}

static double missing(const struct filter_plan *p, int mark)
{
    return p->need >> mark & 1 ? TOLD_NEED_MISSING : p->wish >> mark & 1 ? TOLD_WISH_MISSING : 1;
}

struct told *told_new(const struct filter_plan *p)
{
    struct told *t = mem_alloc(sizeof *t);
    t->lanes = (size_t)1 << p->marks;
    judged_grow(t);
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
    mem_free(t->judged);
    mem_free(t->lane);
    mem_free(t->key);
    mem_free(t->chance);
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

/* Where a chance is remembered; *known tells whether it is there already. */
static double *chance_at(struct told *t, uint64_t key, bool *known)
{
    if (2 * (t->known + 1) > t->slots)
        chances_grow(t);
    size_t at = hash_place(t->key, t->slots, key);
    *known = t->key[at] != 0;
    t->known += !*known;
    t->key[at] = key;
    return &t->chance[at];
}

/* The chance of a look, remembered; `other`: of its other values. */
static double chance_of(struct filter_plan *p, const struct filter_step *s, size_t look, bool other,
                        uint32_t outcome)
{
    bool known;
    double *chance = chance_at(p->told, ((uint64_t)(look * 2 + other) << 32 | outcome) + 1, &known);
    if (!known)
        *chance = look_chance(p, s, look, other ? p->look[look].other : p->look[look].row, outcome);
    return *chance;
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

/* ... and of half hours that strike like hours. */
static double untold_count(const struct filter_plan *p, const struct filter_step *s, uint32_t outcome)
{
    if (s->untold <= 0)
        return 1;
    const struct train_sound *made = &sounding_at(p->ear.pool, outcome)->train[TRAIN_STRIKE];
    return made->falls > 1 || train_sound_endless(made) ? pow(FILTER_UNTOLD_COUNT, s->untold) : 1;
}

static void outcome_lanes(const struct filter_plan *p, const struct filter_step *s, uint32_t outcome,
                          double *lane, size_t lanes)
{
    double factor = s->burn ? 1 : untold_stop(p, s, outcome) * untold_count(p, s, outcome);
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

static double judge(struct filter_plan *p, const struct filter_step *s, uint32_t outcome)
{
    struct told *t = p->told;
    double one, at;
    if (t->lanes == 1) {
        outcome_lanes(p, s, outcome, &one, 1);
        return runs_out(p, s, outcome) ? -one : one;
    }
    size_t first = t->lanes_used;
    t->lanes_used += t->lanes;
    t->lane = mem_grow_bare(t->lane, &t->lane_room, t->lanes_used, sizeof *t->lane);
    outcome_lanes(p, s, outcome, t->lane + first, t->lanes);
    at = (double)first;
    return runs_out(p, s, outcome) ? -at : at;
}

static inline uint64_t judged_key(size_t like, uint32_t outcome)
{
    return ((uint64_t)like << 32 | outcome) + 1;
}

/* What was told of an outcome (judged.told); `like`: the number of a step that is the first of its like. */
static double judged_of(struct filter_plan *p, size_t like, uint32_t outcome)
{
    struct told *t = p->told;
    uint64_t key = judged_key(like, outcome);
    size_t at = judged_place(t->judged, t->judged_slots, key);
    if (t->judged[at].key)
        return t->judged[at].told;
    if (2 * ++t->outcomes > t->judged_slots)
        judged_grow(t);
    at = judged_place(t->judged, t->judged_slots, key);
    t->judged[at] = (struct judged){key, judge(p, &p->step[like], outcome)};
    return t->judged[at].told;
}

/* ---- where a row leads ---- */

/* Rows of one hour heard on several days: of four days it was so at least once and, if a usual
 * value was told, that too. */
static double often_row(struct filter_plan *p, const struct filter_step *s, const struct outcome_row *r)
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

__attribute__((noinline)) /* rare, and would crowd told_row */
static double often_factor(struct filter_plan *p, const struct filter_step *s, uint32_t row)
{
    bool known;
    uint64_t key = ((uint64_t)(2 * p->looks + (size_t)(s - p->step)) << 32 | row) + 1;
    double *kept = chance_at(p->told, key, &known);
    if (known)
        return *kept;
    double factor = often_row(p, s, &p->rows->row[row]);
    return *chance_at(p->told, key, &known) = factor; /* which may have moved */
}

/* One outcome that a row comes to with this chance.  What has run out is mostly wound before the next let-off. */
static void add_outcome(struct filter_plan *p, size_t like, uint32_t outcome, uint32_t next,
                        double chance, const double *lane, double times, struct filter_space *to)
{
    double told = judged_of(p, like, outcome), one = fabs(told);
    const double *by = to->lanes == 1 ? &one : p->told->lane + (size_t)one;
    uint32_t wound = signbit(told) ? outcome_rows_rewound(p->rows, outcome, next) : next;
    space_fit(to, p->rows->states);
    if (wound != next) {
        space_add_by_lane(to, wound, lane, times, by, chance * p->rewound);
        chance *= 1 - p->rewound;
    }
    space_add_by_lane(to, next, lane, times, by, chance);
}

static void row_unheard(const struct filter_plan *p, struct outcome_row r, const double *lane, double times,
                        struct filter_space *to)
{
    for (uint32_t i = r.first; i < r.first + r.count; i++)
        space_add(to, p->rows->edge[i].next, lane, times * p->rows->edge[i].p);
}

/* The usual case by itself: nothing must have been heard at least once. */
static void rows_of_one_lane(struct filter_plan *p, size_t like, const uint32_t *row, size_t n, double often,
                             const double *mass, struct filter_space *to)
{
    const struct judged *of = p->told->judged;
    size_t slots = p->told->judged_slots, nexts = to->nexts;
    double *next = to->next;
    for (size_t i = 0; i < n; i++) {
        const struct outcome_row r = p->rows->row[row[i]];
        const struct outcome_edge *e = p->rows->edge + r.first, *end = e + r.count;
        for (; e < end; e++) {
            const struct judged *j = &of[judged_place(of, slots, judged_key(like, e->outcome))];
            double more = mass[i] * (often * e->p * j->told);
            if (more > 0) {
                if (next[e->next] == 0)
                    to->next_list[nexts++] = e->next;
                next[e->next] += more;
            } else if (!j->key || signbit(j->told)) {
                to->nexts = nexts;
                add_outcome(p, like, e->outcome, e->next, often * e->p, &mass[i], 1, to);
                nexts = to->nexts;
                of = p->told->judged; /* which may all have moved */
                slots = p->told->judged_slots;
                next = to->next;
            }
        }
    }
    to->nexts = nexts;
}

static void row_of_lanes(struct filter_plan *p, size_t like, struct outcome_row r, double often, const double *lane,
                         double times, struct filter_space *to)
{
    for (uint32_t i = r.first; i < r.first + r.count; i++) {
        const struct outcome_edge e = p->rows->edge[i];
        add_outcome(p, like, e.outcome, e.next, often * e.p, lane, times, to);
    }
}

void told_row(struct filter_plan *p, const struct filter_step *s, uint32_t row, const double *lane, double times,
              struct filter_space *to)
{
    const struct outcome_row r = p->rows->row[row];
    size_t like = s->like;
    space_fit(to, p->rows->states);
    if (s->burn) {
        row_unheard(p, r, lane, times, to);
        return;
    }
    double often = s->often ? often_factor(p, &p->step[like], row) : 1;
    if (to->lanes == 1) {
        double mass = lane[0] * times;
        rows_of_one_lane(p, like, &row, 1, often, &mass, to);
        return;
    }
    row_of_lanes(p, like, r, often, lane, times, to);
}

void told_rows(struct filter_plan *p, const struct filter_step *s, const uint32_t *row, size_t n, const double *lane,
               struct filter_space *to)
{
    space_fit(to, p->rows->states);
    if (!s->burn && !s->often && to->lanes == 1) {
        rows_of_one_lane(p, s->like, row, n, 1, lane, to);
        return;
    }
    for (size_t i = 0; i < n; i++)
        told_row(p, s, row[i], lane + i * to->lanes, 1, to);
}

void told_standing(struct filter_plan *p, const struct filter_step *s, uint32_t state, const double *lane, double times,
                   struct filter_space *to)
{
    uint32_t outcome = outcome_rows_standing(p->rows, p->rows->state[state].stuck);
    add_outcome(p, s->like, outcome, state, 1, lane, times, to);
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
