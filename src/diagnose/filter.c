#include "diagnose/filter.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>
#include "mem.h"

#define NEED_MISSING 0.01
#define WISH_MISSING 0.25
#define DAYS_OFTEN 4         /* days a caller has listened to who says "now and then" of one hour */
#define PLACE_MOST 25        /* minutes a told time may be from when it sounds */
#define PLACE_EXACT 7        /* the same when a full quarter is told */
#define PLACE_SILENT 14      /* silence told of a minute speaks of so many minutes round it */
#define HEARD_WRONGLY 0.4    /* chance of an answer among those that may be given wrongly */

/* ---- laying the report along the let-offs ---- */

static int round_hour(int minutes)
{
    return (int)lround(minutes / 60.0) * 60;
}

static int wrap(int m, int turn)
{
    return ((m % turn) + turn) % turn;
}

static int apart(int a, int b, int turn)
{
    int d = wrap(a - b, turn);
    return d > turn / 2 ? turn - d : d;
}

static int shown_of(const struct filter_setting *set, int work_min)
{
    return work_min + set->minute_off + round_hour(set->hour_off);
}

static int dial_of(const struct filter_setting *set, int work_min)
{
    return work_min + round_hour(set->hour_off);
}

static bool due_covers(const struct letoff_classes *k, const struct sheet_at *at, int dial)
{
    return at_covers(at, wrap(dial, k->clock->cycle_min), k->clock->cycle_min);
}

static bool told_silent(const struct heard *h)
{
    bool sound = (h->strike != HEARD_STRIKE_UNSAID && h->strike != HEARD_STRIKE_NONE &&
                  h->strike != HEARD_STRIKE_UNNOTICED) ||
                 (h->chime != HEARD_CHIME_UNSAID && h->chime != HEARD_CHIME_NONE &&
                  h->chime != HEARD_CHIME_UNNOTICED) ||
                 h->notes[0] || h->phrases > 0 || h->quarter || h->quarter_shift;
    return !sound;
}

/* Some let-off of the clock is due so many minutes past an hour. */
static bool due_past_hour(const struct letoff_classes *k, int minute)
{
    for (int i = 0; i < k->letoffs; i++)
        if (k->minute[i] % 60 == minute % 60)
            return true;
    return false;
}

/* The let-off a told time belongs to; -1 none. */
static int place_exact(const struct letoff_classes *k, const struct filter_setting *set,
                       const struct heard *h)
{
    bool by_due = h->has_for && h->due.kind == AT_EXACT;
    int told = by_due ? h->due.min : h->at.min;
    bool day = (by_due ? h->due.known24 : h->at.known24) && k->clock->cycle_min == 1440;
    int turn = day ? 1440 : 720, best = -1, least = 1 << 20;
    for (int i = 0; i < k->letoffs; i++) {
        int at = by_due ? dial_of(set, k->minute[i]) : shown_of(set, k->minute[i]) + set->late;
        int off = apart(at, told, turn);
        if (h->has_for && !by_due && !due_covers(k, &h->due, dial_of(set, k->minute[i])))
            continue;
        if (off < least) {
            least = off;
            best = i;
        }
    }
    /* who names a let-off by its quarter means that one; where there is none, one that came late or early */
    bool quarter = told % 15 == 0 && !h->at.about && due_past_hour(k, told);
    int most = told_silent(h) ? PLACE_SILENT : quarter && !h->has_for ? PLACE_EXACT : PLACE_MOST;
    return least <= most ? best : -1;
}

/* Nearest lobe (in the minute it sounds) to a minute of any hour. */
static bool minute_fits(const struct letoff_classes *k, const struct filter_setting *set, int letoff,
                        int minute)
{
    int mine = apart(wrap(shown_of(set, k->minute[letoff]) + set->late, 60), minute, 60);
    if (mine > PLACE_MOST || (minute % 15 == 0 && mine > PLACE_EXACT))
        return false;
    for (int i = 0; i < k->letoffs; i++)
        if (apart(wrap(shown_of(set, k->minute[i]) + set->late, 60), minute, 60) < mine)
            return false;
    return true;
}

static bool excepted(const struct letoff_classes *k, const struct heard *h, int dial)
{
    for (size_t i = 0; i < h->excepts; i++)
        if (due_covers(k, &h->except[i], dial))
            return true;
    return false;
}

static bool covers(const struct letoff_classes *k, const struct filter_setting *set,
                   const struct heard *h, int letoff, int order)
{
    int dial = wrap(dial_of(set, k->minute[letoff]), 1440);
    if (h->at.kind == AT_MINUTE && !h->has_for)
        return minute_fits(k, set, letoff, h->at.min) && !excepted(k, h, dial);
    if (h->at.kind == AT_RULE && h->at.rule == RULE_OTHER_HOUR && !h->has_for)
        return dial % 60 == 0 && (dial / 60 + order + set->parity) % 2 == 0 && !excepted(k, h, dial);
    if (h->at.kind == AT_UNKNOWN && !h->has_for)
        return !excepted(k, h, dial);
    return heard_covers(h, wrap(dial, k->clock->cycle_min), k->clock->cycle_min);
}

static struct filter_look *look_add(struct filter_plan *p, struct filter_step *s)
{
    p->look = mem_grow(p->look, &p->look_room, p->looks + 1, sizeof *p->look);
    struct filter_look *l = &p->look[p->looks++];
    memset(l, 0, sizeof *l);
    s->count++;
    return l;
}

/* How a row that does not name one let-off is to be taken. */
static enum filter_kind kind_of(const struct heard *h)
{
    if (h->stopped != STOPPED_NOTHING)
        return FILTER_STAND;
    bool mix = h->mostly && h->values > 1 &&
               (h->strike == HEARD_STRIKE_SET || h->strike == HEARD_STRIKE_ERROR_SET);
    if (h->at.kind == AT_EXACT)
        return mix || h->often == OFTEN_SOMETIMES ? FILTER_ROW_OFTEN : FILTER_ROW;
    if (h->at.kind == AT_UNKNOWN || h->at.kind == AT_ONE || h->at.kind == AT_WINDOW)
        return FILTER_SOME_ONE;
    if (mix)
        return FILTER_MIX;
    switch (h->often) {
    case OFTEN_MOSTLY:
        return FILTER_USUAL;
    case OFTEN_SOMETIMES:
    case OFTEN_ONCE:
        return FILTER_NOW_THEN;
    default:
        return FILTER_RULE;
    }
}

static int marks_of(enum filter_kind kind)
{
    return kind == FILTER_NOW_THEN || kind == FILTER_MIX ? 2
           : kind == FILTER_SOME_ONE || kind == FILTER_STAND ? 1
                                                              : 0;
}

/* What is known of one row before it is laid out. */
struct placed {
    enum filter_kind kind;
    const struct heard *row, *other;
    int step;       /* FILTER_ROW, FILTER_ROW_OFTEN: which step; -1 none */
    uint8_t bit, bit2;
    int order;      /* among rows of every other hour */
    int covered;
    bool longer;    /* it means none of the first let-offs, so its speaker listened longer */
    bool loosely;   /* nor any later one, so it is held against all that it covers */
};

/* Rows of a mixture are parted into the usual value and the unusual ones. */
static void part_mix(struct filter_plan *p, struct placed *r)
{
    const struct heard *h = r->row;
    bool error = h->strike == HEARD_STRIKE_ERROR_SET;
    struct heard *usual = &p->own[p->owns++], *other = &p->own[p->owns++];
    *usual = *other = *h;
    usual->strike = error ? HEARD_STRIKE_ERROR : HEARD_STRIKE_COUNT;
    usual->values = 1;
    other->mostly = false;
    other->values = h->values - 1;
    memmove(other->value, h->value + 1, other->values * sizeof other->value[0]);
    if (h->value[0] >= HEARD_ENDLESS && !error)
        usual->strike = HEARD_STRIKE_RUNS_ON;
    r->row = usual;
    r->other = other;
}

static bool take_marks(struct filter_plan *p, struct placed *r)
{
    int wanted = marks_of(r->kind);
    if (p->marks + wanted > FILTER_MARKS)
        return false;
    if (wanted > 0) {
        r->bit = (uint8_t)(1u << p->marks++);
        p->need |= r->bit;
    }
    if (wanted > 1) {
        r->bit2 = (uint8_t)(1u << p->marks++);
        p->wish |= r->bit2;
    }
    return true;
}

/* A row of a let-off that this clock does not have: told of something else, which may have been anything. */
static double unplaced(const struct filter_plan *p, const struct heard *h)
{
    return told_silent(h) ? 1 : FILTER_UNPLACED * ear_blind(h, p->ear.words);
}

static size_t place_rows(struct filter_plan *p, const struct sheet *sheet, struct placed *r)
{
    int others = 0;
    size_t count = 0;
    p->own = mem_alloc((2 * sheet->heards + 1) * sizeof *p->own);
    for (size_t i = 0; i < sheet->heards; i++) {
        const struct heard *h = &sheet->heard[i];
        struct placed *q = &r[count++];
        memset(q, 0, sizeof *q);
        q->kind = kind_of(h);
        q->row = h;
        q->step = -1;
        if (h->at.kind == AT_RULE && h->at.rule == RULE_OTHER_HOUR)
            q->order = others++;
        if (h->stopped != STOPPED_NOTHING)
            p->stops_told = true;
        if (q->kind == FILTER_MIX || (q->kind == FILTER_ROW_OFTEN && h->mostly))
            part_mix(p, q);
        if (h->often == OFTEN_MAYBE || !take_marks(p, q))
            q->row = NULL; /* says nothing that can be held against a cause */
    }
    return count;
}

/* Where in the walk the rows of one let-off each lie, in order of hearing.  Positions count
 * let-offs from the first such row. */
static int lay_singles(struct filter_plan *p, const struct letoff_classes *k,
                       const struct filter_setting *set, struct placed *r, size_t rows, int *first)
{
    int at = -1, last = 0, half_turn = k->letoffs * 720 / k->clock->cycle_min;
    const struct heard *before = NULL;
    *first = -1;
    for (size_t i = 0; i < rows; i++) {
        if (!r[i].row || (r[i].kind != FILTER_ROW && r[i].kind != FILTER_ROW_OFTEN))
            continue;
        const struct heard *h = r[i].row;
        int letoff = place_exact(k, set, h);
        if (letoff < 0) {
            p->unplaced *= unplaced(p, h);
            continue;
        }
        bool known = h->at.known24 || k->clock->cycle_min != 1440;
        if (*first < 0) {
            *first = known ? letoff : (letoff + set->half * half_turn) % k->letoffs;
            at = 0;
        } else {
            int turn = known ? k->letoffs : half_turn;
            int ahead = wrap(letoff - (*first + last), turn);
            /* the same let-off again is one hearing unless two counts were told */
            bool again = ahead == 0 && before && before->strike != HEARD_STRIKE_UNSAID &&
                         h->strike != HEARD_STRIKE_UNSAID && r[i].kind == FILTER_ROW;
            at = last + ahead + (again ? turn : 0);
        }
        r[i].step = last = at;
        before = h;
    }
    return last;
}

/* The let-offs that the hands were led over: from the row before to the one asked for. */
static void mark_led(struct filter_plan *p, const struct placed *r, size_t rows, int burn)
{
    int before = -1;
    for (size_t i = 0; i < rows; i++) {
        if (!r[i].row || r[i].step < 0)
            continue;
        bool led = heard_how(r[i].row, p->ear.words, HOW_BY_HAND);
        for (int s = before < 0 ? r[i].step : before + 1; led && s <= r[i].step; s++)
            p->step[burn + s].led = true;
        before = r[i].step;
    }
}

static uint32_t due_at(const struct letoff_classes *k, const uint32_t *due, int dial)
{
    for (int i = 0; i < k->letoffs; i++)
        if (k->minute[i] == wrap(dial, k->clock->cycle_min))
            return due[i];
    return 0;
}

/* A rule said after a short while concerns only the first let-offs. */
static bool past_brief(const struct filter_plan *p, const struct filter_setting *set,
                       const struct placed *r, int position)
{
    int lobes = p->classes->clock->lobes;
    bool hours = r->row->at.kind == AT_RULE &&
                 (r->row->at.rule == RULE_HOUR || r->row->at.rule == RULE_OTHER_HOUR);
    return set->brief && !r->longer && (r->kind == FILTER_RULE || r->kind == FILTER_USUAL) &&
           position >= (hours ? FILTER_BRIEF_H * lobes : FILTER_BRIEF_H * lobes / 3);
}

/* The row speaks of this let-off, which comes `position` steps into the walk. */
static bool speaks_of(const struct filter_plan *p, const struct filter_setting *set, const uint32_t *due,
                      const struct placed *r, int letoff, int position)
{
    if (past_brief(p, set, r, position) || !covers(p->classes, set, r->row, letoff, r->order))
        return false;
    struct ear_at at = p->ear;
    at.sound = NULL;
    at.due = sounding_at(at.pool, due_at(p->classes, due, wrap(dial_of(set, p->classes->minute[letoff]), 1440)));
    return r->loosely || ear_means(&at, r->row);
}

static int covered_by(const struct filter_plan *p, const struct filter_setting *set, const uint32_t *due,
                      const struct placed *r, int first, int span)
{
    int covered = 0;
    for (int s = 0; r->row && s < span; s++)
        covered += speaks_of(p, set, due, r, (first + s) % p->classes->letoffs, s);
    return covered;
}

static void count_covered(struct filter_plan *p, const struct filter_setting *set, const uint32_t *due,
                          struct placed *r, size_t rows, int first, int span)
{
    for (size_t i = 0; i < rows; i++) {
        bool *const wider[] = {&r[i].longer, &r[i].loosely};
        r[i].covered = covered_by(p, set, due, &r[i], first, span);
        for (int k = 0; k < 2 && !r[i].covered; k++) {
            *wider[k] = true;
            r[i].covered = covered_by(p, set, due, &r[i], first, span);
        }
    }
}

static void add_looks(struct filter_plan *p, const struct filter_setting *set, const uint32_t *due, struct placed *r,
                      size_t rows, struct filter_step *s, int position, bool ruled)
{
    s->first = p->looks;
    for (size_t i = 0; i < rows; i++) {
        bool one = r[i].kind == FILTER_ROW || r[i].kind == FILTER_ROW_OFTEN;
        if (!r[i].row || (one && r[i].step != position))
            continue;
        bool anywhere = r[i].kind == FILTER_STAND || one;
        if (!one && !ruled)
            continue;
        if (!anywhere && !speaks_of(p, set, due, &r[i], s->letoff, position))
            continue;
        struct filter_look *l = look_add(p, s);
        l->kind = r[i].kind;
        l->row = r[i].row;
        l->other = r[i].other;
        l->row_index = i;
        l->bit = r[i].bit;
        l->bit2 = r[i].bit2;
        if (l->kind == FILTER_RULE || l->kind == FILTER_USUAL || l->kind == FILTER_SOME_ONE) {
            l->share = 1.0 / r[i].covered;
            l->best = ear_best(&p->ear, l->row);
        }
        if (l->kind == FILTER_RULE || l->kind == FILTER_USUAL) {
            p->unplaced *= pow(l->best, l->share); /* once in all */
        }
    }
}

/* ---- steps that are alike ---- */

/* It is told by the clock's dial, so that it means one hour and not another. */
static bool names_hour(const struct heard *h)
{
    return h->at.kind == AT_EXACT || (h->at.kind == AT_WINDOW && !h->at.any_hour);
}

static bool same_look(const struct filter_look *a, const struct filter_look *b)
{
    return a->kind == b->kind && a->row == b->row && a->other == b->other && a->share == b->share &&
           a->best == b->best && a->bit == b->bit && a->bit2 == b->bit2;
}

/* An outcome is told of alike at both: the ear goes by what is due, by the lobe, by how far it is from
 * its time and, unless an hour is named, by the minute of any hour. */
static bool steps_alike(const struct filter_plan *p, const struct filter_step *a, const struct filter_step *b)
{
    if (a->burn != b->burn || a->led != b->led || a->count != b->count)
        return false;
    if (a->burn)
        return true;
    if (a->due != b->due || p->classes->lobe[a->letoff] != p->classes->lobe[b->letoff] ||
        (a->dial_min - b->dial_min) % 60 != 0 || wrap(a->shown_min - b->shown_min - a->dial_min + b->dial_min, 720))
        return false;
    for (size_t i = 0; i < a->count; i++)
        if (!same_look(&p->look[a->first + i], &p->look[b->first + i]) ||
            (names_hour(p->look[a->first + i].row) && wrap(a->dial_min - b->dial_min, 720)))
            return false;
    return true;
}

static void find_alike(struct filter_plan *p)
{
    for (size_t i = 0; i < p->steps; i++) {
        size_t like = 0;
        while (like < i && (p->step[like].like != like || !steps_alike(p, &p->step[like], &p->step[i])))
            like++;
        p->step[i].like = like;
    }
}

static double rewound_after(const struct sheet *sheet)
{
    for (size_t i = 0; i < sheet->heards; i++) {
        const struct heard *h = &sheet->heard[i];
        bool rule = h->at.kind == AT_RULE || h->at.kind == AT_MINUTE;
        if (rule && (h->strike == HEARD_STRIKE_RUNS_ON || h->chime == HEARD_CHIME_RUNS_ON))
            return 1;
    }
    return FILTER_REWOUND;
}

void filter_plan_init(struct filter_plan *p, const struct sheet *sheet, const struct ear_at *at,
                      const struct letoff_classes *k, const uint32_t *due, struct filter_setting set)
{
    memset(p, 0, sizeof *p);
    p->classes = k;
    p->ear = *at;
    p->unplaced = 1;
    p->rewound = rewound_after(sheet);
    struct placed *r = mem_alloc((sheet->heards + 1) * sizeof *r);
    size_t rows = place_rows(p, sheet, r);
    int first, last = lay_singles(p, k, &set, r, rows, &first);
    bool any = first >= 0, ruled = false;
    p->begun = true;
    for (size_t i = 0; i < rows && !any; i++)
        p->begun &= r[i].kind != FILTER_ROW && r[i].kind != FILTER_ROW_OFTEN;
    for (size_t i = 0; i < rows; i++)
        ruled |= r[i].row && r[i].kind != FILTER_ROW && r[i].kind != FILTER_ROW_OFTEN;
    if (first < 0)
        first = letoff_from(k, 60);
    bool whole_day = k->clock->night_from_min != k->clock->night_to_min;
    int span = whole_day ? k->letoffs : k->letoffs * 720 / k->clock->cycle_min;
    int burn = k->clock->lobes, steps = ruled && last < span - 1 ? span : any ? last + 1 : 0;
    count_covered(p, &set, due, r, rows, first, span);
    for (size_t i = 0; i < rows; i++) {
        bool placed = r[i].kind == FILTER_ROW || r[i].kind == FILTER_ROW_OFTEN || r[i].kind == FILTER_STAND;
        if (r[i].row && !placed && !r[i].covered)
            p->unplaced *= unplaced(p, r[i].row);
    }
    p->step = mem_grow(NULL, &p->step_room, (size_t)(burn + steps + 1), sizeof *p->step);
    for (int i = -burn; i < steps; i++) {
        struct filter_step *s = &p->step[p->steps++];
        memset(s, 0, sizeof *s);
        s->letoff = wrap(first + i, k->letoffs);
        s->dial_min = wrap(dial_of(&set, k->minute[s->letoff]), 1440);
        s->shown_min = shown_of(&set, k->minute[s->letoff]);
        s->due = due_at(k, due, s->dial_min);
        s->burn = i < 0;
        if (!s->burn)
            add_looks(p, &set, due, r, rows, s, i, i < span);
    }
    mark_led(p, r, rows, burn);
    find_alike(p);
    mem_free(r);
}

void filter_plan_release(struct filter_plan *p)
{
    mem_free(p->step);
    mem_free(p->look);
    mem_free(p->own);
    mem_free(p->memo_key);
    mem_free(p->memo);
    mem_free(p->way_key);
    mem_free(p->way);
    mem_free(p->goal);
    memset(p, 0, sizeof *p);
}

static size_t first_step(const struct filter_plan *p, bool burn)
{
    size_t i = 0;
    while (!burn && i < p->steps && p->step[i].burn)
        i++;
    return i;
}

int filter_plan_start(const struct filter_plan *p, bool burn)
{
    size_t i = first_step(p, burn);
    return i < p->steps ? p->step[i].letoff : filter_plan_next(p);
}

int filter_plan_next(const struct filter_plan *p)
{
    return (p->step[p->steps - 1].letoff + 1) % p->classes->letoffs;
}

/* ---- chances of rows, remembered ---- */

static double look_chance(struct filter_plan *p, const struct filter_step *s,
                          const struct filter_look *l, const struct heard *row, uint32_t outcome)
{
    struct ear_at at = p->ear;
    at.sound = sounding_at(at.pool, outcome);
    at.due = sounding_at(at.pool, s->due);
    at.lobe = p->classes->lobe[s->letoff];
    at.dial_min = s->dial_min;
    at.shown_min = s->shown_min;
    if (l->kind == FILTER_STAND)
        return ear_stopped(&at, row);
    double told = ear_row(&at, row);
    return heard_how(row, at.words, HOW_BY_HAND) ? told + FILTER_MISHEARD * (HEARD_WRONGLY - told) : told;
}

static void memo_grow(struct filter_plan *p)
{
    size_t old = p->memo_slots, slots = old ? old * 2 : 64;
    uint64_t *key = p->memo_key;
    double *value = p->memo;
    p->memo_key = mem_alloc(slots * sizeof *p->memo_key);
    p->memo = mem_alloc(slots * sizeof *p->memo);
    p->memo_slots = slots;
    for (size_t i = 0; i < old; i++)
        if (key[i]) {
            size_t at = (size_t)(key[i] * 0x9e3779b97f4a7c15ull >> 33) & (slots - 1);
            while (p->memo_key[at])
                at = (at + 1) & (slots - 1);
            p->memo_key[at] = key[i];
            p->memo[at] = value[i];
        }
    mem_free(key);
    mem_free(value);
}

/* Where a key is or may be put; there is room for it. */
static size_t memo_place(struct filter_plan *p, uint64_t key)
{
    if (2 * (p->memo_count + 1) > p->memo_slots)
        memo_grow(p);
    size_t at = (size_t)(key * 0x9e3779b97f4a7c15ull >> 33) & (p->memo_slots - 1);
    while (p->memo_key[at] && p->memo_key[at] != key)
        at = (at + 1) & (p->memo_slots - 1);
    return at;
}

/* `which` 0: the row; 1: its other values. */
static double chance_of(struct filter_plan *p, const struct filter_step *s, size_t look, int which,
                        uint32_t outcome)
{
    uint64_t key = ((uint64_t)(look * 2 + (size_t)which) << 32 | outcome) + 1;
    size_t at = memo_place(p, key);
    if (p->memo_key[at])
        return p->memo[at];
    const struct filter_look *l = &p->look[look];
    p->memo_key[at] = key;
    p->memo[at] = look_chance(p, s, l, which ? l->other : l->row, outcome);
    p->memo_count++;
    return p->memo[at];
}

/* ---- the filter ---- */

static void space_fit(struct filter_space *f, size_t nodes)
{
    if (nodes <= f->room)
        return;
    size_t old = f->room, room = old;
    f->next = mem_grow(f->next, &room, nodes, sizeof *f->next);
    memset(f->next + old, 0, (room - old) * sizeof *f->next);
    room = old;
    f->next_list = mem_grow(f->next_list, &room, nodes, sizeof *f->next_list);
    f->room = room;
}

static void node_add(struct filter_space *f, uint32_t node, double p)
{
    if (p <= 0)
        return;
    if (f->next[node] == 0)
        f->next_list[f->nexts++] = node;
    f->next[node] += p;
}

/* Put what has gathered on the stack at `at`, but for nodes of no more than `crumb`, whose mass is
 * added to `lost`; returns how many nodes. */
static size_t put_down(struct filter_space *f, size_t at, double crumb, double *lost)
{
    size_t n = 0;
    f->stack = mem_grow(f->stack, &f->stack_room, at + f->nexts + 1, sizeof *f->stack);
    for (size_t i = 0; i < f->nexts; i++) {
        uint32_t node = f->next_list[i];
        if (f->next[node] > crumb)
            f->stack[at + n++] = (struct filter_state){node, f->next[node]};
        else
            *lost += f->next[node];
        f->next[node] = 0;
    }
    f->nexts = 0;
    return n;
}

void filter_space_release(struct filter_space *f)
{
    mem_free(f->next);
    mem_free(f->next_list);
    mem_free(f->stack);
    mem_free(f->end);
    mem_free(f->by_step);
    memset(f, 0, sizeof *f);
}

/* Ways in which marks may be set at one let-off, with their weights. */
struct branch {
    uint8_t marks;
    double p;
};
#define BRANCHES (1 << FILTER_MARKS)

static int branch_add(struct branch *b, int n, uint8_t marks, double p)
{
    for (int i = 0; i < n; i++)
        if (b[i].marks == marks) {
            b[i].p += p;
            return n;
        }
    b[n] = (struct branch){marks, p};
    return n + 1;
}

static double factor_one(const struct filter_look *l, double chance)
{
    double miss = l->best > 0 ? fmax(0, 1 - chance / l->best) : 0;
    switch (l->kind) {
    case FILTER_ROW:
        return chance;
    case FILTER_RULE:
        return exp(-FILTER_STRICT * l->share * miss);
    case FILTER_USUAL:
        return exp(-FILTER_STRICT_USUAL * l->share * miss);
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

/* A look that may set marks parts each branch in two or three. */
static int split(struct filter_plan *p, const struct filter_step *s, size_t look, uint32_t outcome,
                 struct branch *b, int n)
{
    const struct filter_look *l = &p->look[look];
    double yes = chance_of(p, s, look, 0, outcome), no, here, un = 1 - FILTER_ATTEND;
    struct branch out[BRANCHES];
    int count = 0;
    for (int i = 0; i < n; i++) {
        uint8_t m = b[i].marks, with = (uint8_t)(m | l->bit), with2 = (uint8_t)(m | l->bit2);
        double w = b[i].p;
        switch (l->kind) {
        case FILTER_NOW_THEN:
            count = branch_add(out, count, m, w * un);
            count = branch_add(out, count, with, w * FILTER_ATTEND * yes);
            count = branch_add(out, count, with2, w * FILTER_ATTEND * (1 - yes));
            break;
        case FILTER_MIX:
            no = chance_of(p, s, look, 1, outcome);
            count = branch_add(out, count, m, w * un);
            count = branch_add(out, count, with, w * FILTER_ATTEND * yes);
            count = branch_add(out, count, with2, w * FILTER_ATTEND * no);
            break;
        case FILTER_SOME_ONE:
            here = meant(l, yes);
            count = branch_add(out, count, with, w * here);
            count = branch_add(out, count, m, w * (1 - here));
            break;
        default: /* FILTER_STAND */
            count = branch_add(out, count, with, w * yes);
            count = branch_add(out, count, m, w * (1 - yes));
            break;
        }
    }
    memcpy(b, out, (size_t)count * sizeof *b);
    return count;
}

/* The caller would have told of hands that stand. */
static double untold_stop(const struct filter_plan *p, const struct filter_step *s, uint32_t outcome)
{
    uint8_t halt = sounding_at(p->ear.pool, outcome)->halt;
    struct rest r = {.stuck = halt};
    return outcome_holds_hands(r) && !p->stops_told && !s->led ? FILTER_UNTOLD_STOP : 1;
}

static void goal_add(struct filter_plan *p, size_t first, uint32_t node, double weight)
{
    if (weight <= 0)
        return;
    for (size_t i = first; i < p->goals; i++)
        if (p->goal[i].node == node) {
            p->goal[i].p += weight;
            return;
        }
    p->goal = mem_grow(p->goal, &p->goal_room, p->goals + 1, sizeof *p->goal);
    p->goal[p->goals++] = (struct filter_goal){node, weight};
}

/* What was told of an outcome at a step, but for what sets marks. */
static double plain_factor(struct filter_plan *p, const struct filter_step *s, uint32_t outcome)
{
    double factor = untold_stop(p, s, outcome);
    for (size_t i = s->first; i < s->first + s->count; i++) {
        const struct filter_look *l = &p->look[i];
        if (l->kind != FILTER_ROW_OFTEN && !marks_of(l->kind))
            factor *= factor_one(l, chance_of(p, s, i, 0, outcome));
    }
    return factor;
}

static double factor_of(struct filter_plan *p, const struct filter_step *s, uint32_t outcome)
{
    if (s->burn)
        return 1;
    /* remembered behind the looks, as if the step were one */
    uint64_t key = ((uint64_t)(p->looks + (size_t)(s - p->step)) << 33 | outcome) + 1;
    size_t at = memo_place(p, key);
    if (p->memo_key[at])
        return p->memo[at];
    double factor = plain_factor(p, s, outcome);
    at = memo_place(p, key);
    p->memo_key[at] = key;
    p->memo_count++;
    return p->memo[at] = factor;
}

/* One outcome at one step: what was told of it, and where it leads.  Marks are only ever added, so the
 * node of a goal names those that are. */
static void weigh(struct filter_plan *p, const struct filter_step *s, uint32_t outcome, double weight,
                  uint32_t next, size_t first)
{
    struct branch b[BRANCHES] = {{0, weight * factor_of(p, s, outcome)}};
    int n = 1;
    for (size_t i = s->first; p->marks && i < s->first + s->count; i++)
        if (marks_of(p->look[i].kind))
            n = split(p, s, i, outcome, b, n);
    uint32_t wound = s->burn ? next : outcome_rows_rewound(p->rows, outcome, next);
    for (int i = 0; i < n && wound != next; i++)
        goal_add(p, first, wound << p->marks | b[i].marks, b[i].p * p->rewound);
    for (int i = 0; i < n; i++)
        goal_add(p, first, next << p->marks | b[i].marks, b[i].p * (wound == next ? 1 : 1 - p->rewound));
}

/* Rows of one hour heard on several days: of four days it was so at least once and, if a usual
 * value was told, that too. */
static double often_factor(struct filter_plan *p, const struct filter_step *s,
                           const struct outcome_edge *e, size_t edges)
{
    double factor = 1;
    for (size_t i = s->first; i < s->first + s->count; i++) {
        if (p->look[i].kind != FILTER_ROW_OFTEN)
            continue;
        double yes = 0, other = 0;
        for (size_t k = 0; k < edges; k++) {
            yes += e[k].p * chance_of(p, s, i, 0, e[k].outcome);
            if (p->look[i].other)
                other += e[k].p * chance_of(p, s, i, 1, e[k].outcome);
        }
        double never = pow(1 - yes, DAYS_OFTEN), always = pow(yes, DAYS_OFTEN);
        if (p->look[i].other)
            factor *= (1 - never) * (1 - pow(1 - fmin(1, other), DAYS_OFTEN));
        else
            factor *= (1 - never) * (1 - 0.6 * always);
    }
    return factor;
}

static size_t way_slot(const struct filter_plan *p, uint64_t key)
{
    size_t at = (size_t)(key * 0x9e3779b97f4a7c15ull >> 31) & (p->way_slots - 1);
    while (p->way_key[at] && p->way_key[at] != key)
        at = (at + 1) & (p->way_slots - 1);
    return at;
}

static void ways_grow(struct filter_plan *p)
{
    size_t old = p->way_slots;
    uint64_t *key = p->way_key;
    struct filter_way *way = p->way;
    p->way_slots = old ? old * 2 : 64;
    p->way_key = mem_alloc(p->way_slots * sizeof *p->way_key);
    p->way = mem_alloc(p->way_slots * sizeof *p->way);
    for (size_t i = 0; i < old; i++)
        if (key[i]) {
            size_t at = way_slot(p, key[i]);
            p->way_key[at] = key[i];
            p->way[at] = way[i];
        }
    mem_free(key);
    mem_free(way);
}

/* Where a unit of mass goes from a row at a step: the same for all works that give this row. */
static void ways_of_row(struct filter_plan *p, const struct filter_step *s, uint32_t row, size_t first)
{
    const struct outcome_row *r = &p->rows->row[row];
    double often = often_factor(p, s, p->rows->edge + r->first, r->count);
    for (size_t k = 0; k < r->count; k++) {
        const struct outcome_edge e = p->rows->edge[r->first + k];
        weigh(p, s, e.outcome, often * e.p, e.next, first);
    }
}

static uint32_t standing(struct sounding_pool *pool, uint8_t stuck)
{
    struct sounding s;
    memset(&s, 0, sizeof s);
    s.halt = stuck;
    return sounding_intern(pool, &s);
}

#define STANDS 0x80000000u /* in place of a row: the hands stand in this state, and it is silent */

static struct filter_way way_of(struct filter_plan *p, const struct filter_step *s, uint32_t row)
{
    uint64_t key = ((uint64_t)s->like << 32 | row) + 1;
    s = &p->step[s->like];
    if (2 * (p->way_count + 1) > p->way_slots)
        ways_grow(p);
    size_t at = way_slot(p, key), first = p->goals;
    if (p->way_key[at])
        return p->way[at];
    uint32_t state = row & ~STANDS;
    if (row & STANDS)
        weigh(p, s, standing(p->rows->pool, p->rows->state[state].stuck), 1, state, first);
    else
        ways_of_row(p, s, row, first);
    p->way_key[at] = key;
    p->way_count++;
    return p->way[at] = (struct filter_way){(uint32_t)first, (uint32_t)(p->goals - first)};
}

static void step_by(struct filter_plan *p, const struct filter_step *s, uint32_t row, uint8_t marks,
                    double mass, struct filter_space *f)
{
    struct filter_way w = way_of(p, s, row);
    const struct filter_goal *g = p->goal + w.first;
    space_fit(f, p->rows->states << p->marks);
    for (size_t i = 0; i < w.count; i++)
        node_add(f, g[i].node | marks, mass * g[i].p);
}

/* It came to a stand there as time went, was told of, and then a finger helped it over. */
static int stood_there(struct filter_plan *p, const struct filter_step *s, const struct outcome_rows *r,
                       uint32_t row, struct branch *b, int n)
{
    s = &p->step[s->like];
    for (size_t i = s->first; i < s->first + s->count; i++) {
        const struct filter_look *l = &p->look[i];
        double yes = 0;
        if (l->kind != FILTER_STAND)
            continue;
        for (uint32_t k = 0; k < r->row[row].count; k++) {
            const struct outcome_edge *e = &r->edge[r->row[row].first + k];
            yes += e->p * chance_of(p, s, i, 0, e->outcome);
        }
        struct branch out[BRANCHES];
        int count = 0;
        for (int k = 0; k < n; k++) {
            count = branch_add(out, count, (uint8_t)(b[k].marks | l->bit), b[k].p * yes);
            count = branch_add(out, count, b[k].marks, b[k].p * (1 - yes));
        }
        memcpy(b, out, (size_t)count * sizeof *b);
        n = count;
    }
    return n;
}

static void step_from(struct filter_plan *p, const struct filter_step *s, struct outcome_table *t,
                      uint32_t state, uint8_t marks, double mass, struct filter_space *f)
{
    uint32_t row = outcome_table_row(t, state, s->letoff);
    uint32_t led = s->led ? outcome_table_led_row(t, state, s->letoff) : row;
    struct branch b[BRANCHES] = {{marks, mass}};
    int n = led == row ? 1 : stood_there(p, s, t->rows, row, b, 1);
    for (int i = 0; i < n; i++)
        step_by(p, s, led, b[i].marks, b[i].p, f);
}

static int letoff_before(const struct filter_plan *p, const struct filter_step *s)
{
    return (s->letoff + p->classes->letoffs - 1) % p->classes->letoffs;
}

/* Hands that stand do not come to the let-off by themselves: either someone sets them going, or
 * the let-off is silence. */
static void step_node(struct filter_plan *p, const struct filter_step *s, struct outcome_table *t,
                      uint32_t node, double mass, struct filter_space *f)
{
    struct outcome_rows *r = t->rows;
    uint32_t state = node >> p->marks;
    uint8_t marks = (uint8_t)(node & ((1u << p->marks) - 1));
    if (!outcome_holds_hands(r->state[state])) {
        step_from(p, s, t, state, marks, mass, f);
        return;
    }
    if (s->burn) {
        node_add(f, node, mass);
        return;
    }
    uint32_t freed = outcome_rows_freed(r, state);
    if (s->led) {
        struct eased eased[EASED_MOST];
        size_t n = outcome_table_eased(t, state, letoff_before(p, s), eased);
        for (size_t i = 0; i < n; i++)
            step_from(p, s, t, eased[i].state, marks, mass * eased[i].p, f);
        return;
    }
    step_by(p, s, state | STANDS, marks, mass * (1 - FILTER_FREED), f);
    step_from(p, s, t, freed, marks, mass * FILTER_FREED, f);
}

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
    uint32_t before = OUTCOME_NONE;
    struct eased eased[EASED_MOST];
    for (size_t i = 0; i < n; i++) {
        uint32_t state = w->space->stack[at + i].state >> w->plan->marks;
        if (state == before)
            continue;
        before = state;
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
        node_add(w->space, w->start[i].state << w->plan->marks, w->start[i].p * mass);
}

static void add_wound(struct walk *w, uint32_t node, double mass)
{
    int marks = w->plan->marks;
    uint32_t state = node >> marks, wound = outcome_rows_wound(w->rows, state);
    if (wound == state) {
        node_add(w->space, node, mass);
        return;
    }
    space_fit(w->space, w->rows->states << marks);
    node_add(w->space, wound << marks | (node & ((1u << marks) - 1)), mass * FILTER_REWOUND);
    node_add(w->space, node, mass * (1 - FILTER_REWOUND));
}

/* End of the silent hour before: half of what stands was set going again, as it was found.  A clock
 * found out of step may as well have been put out just before it was listened to: half of that is
 * heard from its very start (a chime that corrects itself would else always be right by now).  A train
 * that ran out in the hour unheard is found out and wound, so that the next run is the one told of. */
static size_t burnt_in(struct walk *w, size_t at, size_t n, double crumb, double *lost)
{
    struct filter_space *f = w->space;
    double again = 0;
    for (size_t i = 0; i < n; i++) {
        uint32_t node = f->stack[at + i].state;
        double mass = f->stack[at + i].p;
        if (w->starts > 1) {
            again += mass * FILTER_JUST_NOW;
            mass *= 1 - FILTER_JUST_NOW;
        }
        if (w->rows->state[node >> w->plan->marks].stuck != STUCK_NOT) {
            again += mass / 2;
            mass /= 2;
        }
        add_wound(w, node, mass);
    }
    put_start(w, again);
    return put_down(f, at, crumb, lost);
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

/* Marks that should be set and are not. */
static double closing(const struct filter_plan *p, uint8_t marks)
{
    double factor = 1;
    for (int b = 0; b < p->marks; b++) {
        uint8_t bit = (uint8_t)(1u << b);
        if (!(marks & bit))
            factor *= p->need & bit ? NEED_MISSING : WISH_MISSING;
    }
    return factor;
}

static void arrive(struct walk *w, size_t at, size_t n, double lost, struct filter_member *m, size_t members)
{
    const struct filter_plan *p = w->plan;
    struct filter_space *f = w->space;
    double sum = 0;
    f->ends = 0;
    f->end = mem_grow(f->end, &f->end_room, n + 1, sizeof *f->end);
    for (size_t i = 0; i < n; i++) {
        uint32_t node = f->stack[at + i].state;
        double mass = f->stack[at + i].p * p->unplaced *
                      closing(p, (uint8_t)(node & ((1u << p->marks) - 1)));
        size_t k = 0;
        while (k < f->ends && f->end[k].state != node >> p->marks)
            k++;
        if (k == f->ends)
            f->end[f->ends++] = (struct filter_state){node >> p->marks, 0};
        f->end[k].p += mass;
        sum += mass;
    }
    for (size_t i = 0; i < members; i++) {
        m[i].chance = sum;
        m[i].dropped = lost * p->unplaced;
    }
    w->arrived(w->with, m, members, f);
}

/* One step of works that all give the same rows here.  Returns the number of nodes now at `at`; those
 * of no more than `crumb` are added to `lost`. */
static size_t advance(struct walk *w, size_t step, struct outcome_table *t, size_t from, size_t n,
                      size_t at, double crumb, double *lost)
{
    struct filter_plan *p = w->plan;
    const struct filter_step *s = &p->step[step];
    for (size_t i = 0; i < n; i++) {
        struct filter_state node = w->space->stack[from + i];
        step_node(p, s, t, node.state, node.p, w->space);
    }
    size_t now = put_down(w->space, at, crumb, lost);
    if (s->burn && (step + 1 == p->steps || !p->step[step + 1].burn))
        now = burnt_in(w, at, now, crumb, lost);
    return now;
}

static double mass_of(const struct filter_space *f, size_t at, size_t n)
{
    double sum = 0;
    for (size_t i = 0; i < n; i++)
        sum += f->stack[at + i].p;
    return sum;
}

#define CRUMB 0.005 /* a node of so small a part of what a member is given up for is not followed */

/* What no member of them would miss; less than nothing where all is to be followed. */
static double crumb_of(const struct filter_member *m, size_t members)
{
    double least = m[0].bound;
    for (size_t i = 1; i < members; i++)
        least = fmin(least, m[i].bound);
    return CRUMB * least;
}

static void follow(struct walk *w, size_t step, size_t at, size_t n, double lost, struct filter_member *m,
                   size_t members)
{
    const struct filter_plan *p = w->plan;
    if (step == p->steps) {
        arrive(w, at, n, lost, m, members);
        return;
    }
    if (members > 1) {
        bool part = false;
        for (size_t i = 0; i < members; i++) {
            m[i].sign = sign_of(w, &p->step[step], m[i].table, at, n);
            part |= m[i].sign != m[0].sign;
        }
        if (part)
            qsort(m, members, sizeof *m, by_sign);
    }
    double before = mass_of(w->space, at, n);
    for (size_t first = 0, last; first < members; first = last) {
        last = first + 1;
        while (last < members && m[last].sign == m[first].sign)
            last++;
        double gone = lost;
        size_t now = advance(w, step, m[first].table, at, n, at + n, crumb_of(m + first, last - first), &gone);
        double mass = mass_of(w->space, at + n, now);
        w->space->by_step[step] = before > 0 ? mass / before : 0;
        size_t alive = keep_alive(m + first, last - first, mass * p->unplaced, gone * p->unplaced);
        if (alive)
            follow(w, step + 1, at + n, now, gone, m + first, alive);
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
    space_fit(space, w.rows->states << p->marks);
    space->by_step = mem_grow(space->by_step, &space->by_step_room, p->steps + 1,
                              sizeof *space->by_step);
    memset(space->by_step, 0, (p->steps + 1) * sizeof *space->by_step);
    put_start(&w, 1);
    double lost = 0;
    size_t n = put_down(space, 0, 0, &lost);
    follow(&w, first_step(p, burn), 0, n, lost, m, members);
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
