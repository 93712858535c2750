/* Laying a report along the let-offs of a clock (filter.h). */
#include "diagnose/filter.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>
#include "diagnose/told.h"
#include "mem.h"

#define PLACE_MOST 25        /* minutes a told time may be from when it sounds */
#define PLACE_EXACT 7        /* the same when a full quarter is told */
#define PLACE_SILENT 14      /* silence told of a minute speaks of so many minutes round it */

/* ---- laying the report along the let-offs ---- */

static int round_hour(int minutes)
{
    return (minutes + (minutes < 0 ? -30 : 30)) / 60 * 60;
}

static int wrap(int m, int turn)
{
    m %= turn;
    return m < 0 ? m + turn : m;
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

static bool told_silent(const struct heard *h, const struct words *words)
{
    bool sound = (h->strike != HEARD_STRIKE_UNSAID && h->strike != HEARD_STRIKE_NONE &&
                  h->strike != HEARD_STRIKE_UNNOTICED) ||
                 (h->chime != HEARD_CHIME_UNSAID && h->chime != HEARD_CHIME_NONE &&
                  h->chime != HEARD_CHIME_UNNOTICED) ||
                 h->notes[0] || h->phrases > 0 || h->quarter || h->quarter_shift || ear_tells_sound(h, words);
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

/* The let-off a told time belongs to; -1 none.  A question names it by when it is due, and so does the answer. */
static int place_exact(const struct letoff_classes *k, const struct filter_setting *set,
                       const struct heard *h, const struct words *words)
{
    bool answer = heard_how(h, words, HOW_BY_HAND) && due_past_hour(k, h->at.min);
    bool by_due = answer || (h->has_for && h->due.kind == AT_EXACT);
    const struct sheet_at *named = by_due && !answer ? &h->due : &h->at;
    int told = named->min;
    bool day = named->known24 && k->clock->cycle_min == 1440;
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
    int most = told_silent(h, words) ? PLACE_SILENT : quarter && !h->has_for ? PLACE_EXACT : PLACE_MOST;
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

/* A usual count and others. */
static bool strike_mixes(const struct heard *h)
{
    return h->mostly && h->values > 1 &&
           (h->strike == HEARD_STRIKE_SET || h->strike == HEARD_STRIKE_ERROR_SET);
}

/* How a row that does not name one let-off is to be taken. */
static enum filter_kind kind_of(const struct heard *h)
{
    if (h->stopped != STOPPED_NOTHING)
        return FILTER_STAND;
    bool mix = strike_mixes(h) || h->chime_mostly;
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

int filter_marks(enum filter_kind kind)
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
    bool again;     /* an hour's count told of besides the hour's own: another let-off than that */
    bool longer;    /* it means none of the first let-offs, so its speaker listened longer */
    bool loosely;   /* nor any later one, so it is held against all that it covers */
};

/* "It strikes the hour, and at two past once more": not the hour's own let-off, heard late. */
static bool counts_again(const struct sheet *sheet, const struct heard *h)
{
    if (h->at.kind != AT_MINUTE || h->has_for || (h->strike != HEARD_STRIKE_HOURS && h->strike != HEARD_STRIKE_RIGHT))
        return false;
    for (size_t i = 0; i < sheet->heards; i++) {
        const struct heard *other = &sheet->heard[i];
        if (other->at.kind == AT_RULE && other->at.rule == RULE_HOUR && other->strike != HEARD_STRIKE_UNSAID &&
            other->strike != HEARD_STRIKE_NONE && other->strike != HEARD_STRIKE_UNNOTICED)
            return true;
    }
    return false;
}

/* Of one let-off, wherever that lies. */
static bool tells_one(const struct placed *r)
{
    return r->kind == FILTER_ROW || r->kind == FILTER_ROW_OFTEN;
}

static void part_strike(const struct heard *h, struct heard *usual, struct heard *other)
{
    bool error = h->strike == HEARD_STRIKE_ERROR_SET;
    usual->strike = error ? HEARD_STRIKE_ERROR : HEARD_STRIKE_COUNT;
    usual->values = 1;
    other->mostly = false;
    other->values = h->values - 1;
    memmove(other->value, h->value + 1, other->values * sizeof other->value[0]);
    if (h->value[0] >= HEARD_ENDLESS && !error)
        usual->strike = HEARD_STRIKE_RUNS_ON;
    if (h->value[0] < 0 && !error)
        usual->strike = (enum heard_strike) - h->value[0];
}

static void part_chime(const struct heard *h, struct heard *usual, struct heard *other)
{
    int first = 0;
    while (!(h->chime_also >> first & 1))
        first++;
    usual->chime_also = 0;
    other->chime = (enum heard_chime)first;
    other->chime_also = h->chime_also & ~(1u << first);
    usual->chime_mostly = other->chime_mostly = false;
}

/* Rows of a mixture are parted into what is usual and what is not. */
static void part_mix(struct filter_plan *p, struct placed *r)
{
    const struct heard *h = r->row;
    if (!p->own)
        p->own = mem_alloc(p->own_room * sizeof *p->own);
    struct heard *usual = &p->own[p->owns++], *other = &p->own[p->owns++];
    *usual = *other = *h;
    if (strike_mixes(h))
        part_strike(h, usual, other);
    if (h->chime_mostly)
        part_chime(h, usual, other);
    r->row = usual;
    r->other = other;
}

static bool take_marks(struct filter_plan *p, struct placed *r)
{
    int wanted = filter_marks(r->kind);
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
    return told_silent(h, p->ear.words) ? 1 : FILTER_UNPLACED * ear_blind(h, p->ear.words);
}

static size_t place_rows(struct filter_plan *p, const struct sheet *sheet, struct placed *r)
{
    int others = 0;
    size_t count = 0;
    p->own_room = 2 * sheet->heards;
    for (size_t i = 0; i < sheet->heards; i++) {
        const struct heard *h = &sheet->heard[i];
        struct placed *q = &r[count++];
        memset(q, 0, sizeof *q);
        q->kind = kind_of(h);
        q->row = h;
        q->step = -1;
        q->again = counts_again(sheet, h);
        if (h->at.kind == AT_RULE && h->at.rule == RULE_OTHER_HOUR)
            q->order = others++;
        if (h->stopped != STOPPED_NOTHING)
            p->stops_told = true;
        if (q->kind == FILTER_MIX ||
            (q->kind == FILTER_ROW_OFTEN && (h->mostly || h->chime_mostly)))
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
        if (!r[i].row || !tells_one(&r[i]))
            continue;
        const struct heard *h = r[i].row;
        int letoff = place_exact(k, set, h, p->ear.words);
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

/* The row speaks of this let-off, which comes `position` steps into the walk.  What is said of every hour is
 * said of those at which something is due: a clock that keeps silent at night is not right by that. */
static bool speaks_of(const struct filter_plan *p, const struct filter_setting *set, const uint32_t *due,
                      const struct placed *r, int letoff, int position)
{
    if (past_brief(p, set, r, position) || !covers(p->classes, set, r->row, letoff, r->order))
        return false;
    if (r->again && dial_of(set, p->classes->minute[letoff]) % 60 == 0)
        return false;
    struct ear_at at = p->ear;
    at.sound = NULL;
    at.due = sounding_at(at.pool, due_at(p->classes, due, wrap(dial_of(set, p->classes->minute[letoff]), 1440)));
    bool rule = r->kind == FILTER_RULE || r->kind == FILTER_USUAL;
    return r->loosely || (!(rule && sounding_silent(at.due)) && ear_means(&at, r->row));
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
        if (tells_one(&r[i]))
            continue;
        r[i].covered = covered_by(p, set, due, &r[i], first, span);
        for (int k = 0; k < 2 && !r[i].covered; k++) {
            *wider[k] = true;
            r[i].covered = covered_by(p, set, due, &r[i], first, span);
        }
    }
}

#define MINUTE_TOLD 0.1 /* it was told at which minute it comes, and that it is due at another */

double filter_strict(const struct heard *h, const struct words *words)
{
    double blind = ear_blind(h, words) * (h->has_for && h->at.kind == AT_MINUTE ? MINUTE_TOLD : 1);
    double base = h->often == OFTEN_MOSTLY ? FILTER_STRICT_USUAL : FILTER_STRICT;
    return base - FILTER_DETAIL * log(blind);
}

static void add_looks(struct filter_plan *p, const struct filter_setting *set, const uint32_t *due, struct placed *r,
                      size_t rows, struct filter_step *s, int position, bool ruled)
{
    s->first = p->looks;
    for (size_t i = 0; i < rows; i++) {
        bool one = tells_one(&r[i]);
        if (!r[i].row || (one && r[i].step != position))
            continue;
        bool anywhere = r[i].kind == FILTER_STAND || one;
        if (!one && !ruled)
            continue;
        if (!anywhere && !speaks_of(p, set, due, &r[i], s->letoff, position))
            continue;
        struct filter_look *l = look_add(p, s);
        l->kind = r[i].kind;
        s->often |= l->kind == FILTER_ROW_OFTEN;
        l->row = r[i].row;
        l->other = r[i].other;
        l->row_index = i;
        l->bit = r[i].bit;
        l->bit2 = r[i].bit2;
        if (l->kind == FILTER_RULE || l->kind == FILTER_USUAL || l->kind == FILTER_SOME_ONE) {
            l->share = 1.0 / r[i].covered;
            l->best = ear_best(&p->ear, l->row);
            l->strict = filter_strict(l->row, p->ear.words);
        }
        if (l->kind == FILTER_RULE || l->kind == FILTER_USUAL) {
            p->unplaced *= pow(l->best, l->share); /* once in all */
        }
    }
}

/* Every hour is told of by its count. */
static bool sums_up_hours(const struct sheet *sheet)
{
    for (size_t i = 0; i < sheet->heards; i++) {
        const struct heard *h = &sheet->heard[i];
        if (h->at.kind == AT_RULE && h->at.rule == RULE_HOUR && h->strike != HEARD_STRIKE_UNSAID && h->often == OFTEN_ALWAYS)
            return true;
    }
    return false;
}

/* A half hour of which no row speaks, where one blow or none is due. */
static bool half_untold(const struct filter_plan *p, const struct filter_step *s)
{
    return s->dial_min % 60 == 30 && !s->burn && !s->led && !s->count &&
           sounding_at(p->ear.pool, s->due)->train[TRAIN_STRIKE].falls <= 1;
}

static void mark_untold(struct filter_plan *p, const struct sheet *sheet)
{
    size_t count = 0;
    if (!sums_up_hours(sheet))
        return;
    for (size_t i = 0; i < p->steps; i++)
        count += half_untold(p, &p->step[i]);
    for (size_t i = 0; i < p->steps; i++)
        p->step[i].untold = half_untold(p, &p->step[i]) ? 1.0 / (double)count : 0;
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
    if (a->untold != b->untold)
        return false;
    if (a->burn || (!a->count && a->untold == 0)) /* nothing is told of either */
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
        p->begun &= !tells_one(&r[i]);
    for (size_t i = 0; i < rows; i++)
        ruled |= r[i].row && !tells_one(&r[i]);
    if (first < 0)
        first = letoff_from(k, 60);
    bool whole_day = k->clock->night_from_min != k->clock->night_to_min;
    int span = whole_day ? k->letoffs : k->letoffs * 720 / k->clock->cycle_min;
    int burn = k->clock->lobes, steps = ruled && last < span - 1 ? span : any ? last + 1 : 0;
    count_covered(p, &set, due, r, rows, first, span);
    for (size_t i = 0; i < rows; i++) {
        bool placed = tells_one(&r[i]) || r[i].kind == FILTER_STAND;
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
    mark_untold(p, sheet);
    find_alike(p);
    p->told = told_new(p);
    mem_free(r);
}

void filter_plan_release(struct filter_plan *p)
{
    mem_free(p->step);
    mem_free(p->look);
    mem_free(p->own);
    told_free(p->told);
    memset(p, 0, sizeof *p);
}

size_t filter_plan_first(const struct filter_plan *p, bool burn)
{
    size_t i = 0;
    while (!burn && i < p->steps && p->step[i].burn)
        i++;
    return i;
}

int filter_plan_start(const struct filter_plan *p, bool burn)
{
    size_t i = filter_plan_first(p, burn);
    return i < p->steps ? p->step[i].letoff : filter_plan_next(p);
}

int filter_plan_next(const struct filter_plan *p)
{
    return (p->step[p->steps - 1].letoff + 1) % p->classes->letoffs;
}
