#include "diagnose/next_step.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "diagnose/belief_priv.h"
#include "diagnose/forecast.h"
#include "mem.h"

#define HELD_MOST 300     /* hypotheses that questions are weighed over ... */
#define HELD_MASS 0.995   /* ... or fewer, once they make up so much */
#define ANSWERS FORECAST_COUNTS
#define BILLS_MOST 96

const char *next_kind_name(enum next_kind k)
{
    static const char *const name[] = {"question", "owner", "leave", "visit", "bench"};
    return name[k];
}

/* ---- orders of repair ---- */

void repair_order(const double *p, const double *cost, size_t n, size_t *order)
{
    for (size_t i = 0; i < n; i++) {
        size_t at = i;
        /* insertion keeps ties in their order; p cost compares c/p without dividing */
        while (at > 0 && cost[i] * p[order[at - 1]] < cost[order[at - 1]] * p[i] - 1e-15) {
            order[at] = order[at - 1];
            at--;
        }
        order[at] = i;
    }
}

double repair_cost(const double *p, const double *cost, size_t n, const size_t *order)
{
    double left = 1, sum = 0;
    for (size_t i = 0; i < n; i++) {
        sum += cost[order[i]] * left;
        left -= p[order[i]];
    }
    return sum;
}

/* ---- what each cause costs ---- */

enum tier { TIER_OWNER, TIER_VISIT, TIER_BENCH };

/* One cure, or one way of doing nothing. */
struct bill {
    const struct cure *cure; /* NULL: leave alone, or the unknown */
    const char *id;
    enum tier tier;
    double minutes;
    bool leave;
};

struct ledger {
    struct bill bill[BILLS_MOST];
    size_t bills;
    size_t of_cause[1024]; /* bill of each cause of the belief */
    size_t oil;            /* clean and oil in the house; BILLS_MOST: nothing is merely dry */
    size_t oil_bench;      /* the same work at the bench */
    bool dry[1024];        /* causes that this cures in OIL_WORKS of their cases */
    size_t causes;
};

/* What the shop's own jobs say of the minutes, else as shipped. */
static double cure_minutes(const struct belief *b, const char *id, double shipped)
{
    return b->minutes ? b->minutes(b->minutes_with, id, shipped) : shipped;
}

static struct bill bill_of(const struct belief *b, const struct belief_cause *c)
{
    if (c->cure) {
        const char *who = c->cure->who ? c->cure->who : "visit";
        bool leave = strcmp(c->class, "self_correcting_normal") == 0 || strcmp(c->class, "no_fault") == 0;
        return (struct bill){.cure = c->cure,
                             .id = c->cure->id,
                             .tier = strcmp(who, "owner") == 0   ? TIER_OWNER
                                     : strcmp(who, "bench") == 0 ? TIER_BENCH
                                                                 : TIER_VISIT,
                             .minutes = fmax(0.5, cure_minutes(b, c->cure->id, c->cure->minutes)),
                             .leave = leave};
    }
    if (strcmp(c->id, "none") == 0)
        return (struct bill){.id = "leave-alone", .tier = TIER_OWNER, .minutes = 1, .leave = true};
    return (struct bill){.id = "look-on-bench", .tier = TIER_BENCH,
                         .minutes = fmax(0.5, cure_minutes(b, "look-on-bench", UNKNOWN_MIN))};
}

static size_t ledger_add(struct ledger *l, struct bill bill)
{
    size_t k = 0;
    while (k < l->bills && (strcmp(l->bill[k].id, bill.id) != 0 || l->bill[k].leave != bill.leave ||
                            l->bill[k].tier != bill.tier))
        k++;
    if (k == l->bills && l->bills < BILLS_MOST)
        l->bill[l->bills++] = bill;
    return k < BILLS_MOST ? k : BILLS_MOST - 1;
}

static void ledger_init(struct ledger *l, const struct belief *b)
{
    memset(l, 0, sizeof *l);
    l->causes = b->causes < 1024 ? b->causes : 1024;
    l->oil = l->oil_bench = BILLS_MOST;
    for (size_t i = 0; i < l->causes; i++) {
        struct bill bill = bill_of(b, &b->cause[i]);
        l->of_cause[i] = ledger_add(l, bill);
        l->dry[i] = bill.tier == TIER_BENCH && strcmp(bill.id, "clean-and-oil") == 0;
        if (!l->dry[i])
            continue;
        l->oil_bench = l->of_cause[i];
        bill.tier = TIER_VISIT;
        bill.minutes = OIL_VISIT_MIN;
        l->oil = ledger_add(l, bill);
    }
}

/* Put the mass of a cause where it is cured. */
static void mass_add(const struct ledger *l, double *mass, size_t cause, double p)
{
    double house = l->dry[cause] ? OIL_WORKS : 0;
    mass[l->of_cause[cause]] += (1 - house) * p;
    if (house > 0)
        mass[l->oil] += house * p;
}

/* A plan for given masses by bill (they need not sum to 1). */
struct plan {
    double cost;
    size_t owner[BILLS_MOST], owners; /* owner's cures worth trying first, in order */
    bool bench;                       /* then the bench, else a visit */
    size_t first;                     /* what is done there first, a bill; BILLS_MOST: look */
    double going;                     /* cost without the owner's cures */
};

/* Going there for all that is not yet done. */
struct going {
    double cost;
    bool bench;
    size_t first;
};

/* Minutes, without the way there, of what has been found by looking.  What was found dry is cleaned
 * as the bench does it: oil in the house is for who has not looked. */
static double found_min(const struct ledger *l, size_t k, bool bench)
{
    const struct bill *b = &l->bill[k == l->oil ? l->oil_bench : k];
    return b->minutes + (b->tier == TIER_BENCH && !bench ? BENCH_MIN : 0);
}

/* What trying this bill first puts right: at the bench a clock is cleaned whether or not oil in the
 * house would have done. */
static double mass_cured(const struct ledger *l, const double *mass, size_t k, bool bench)
{
    return mass[k] + (bench && k == l->oil_bench && l->oil < l->bills ? mass[l->oil] : 0);
}

/* Bills that are not yet done and have mass: the others add nothing. */
struct open_bills {
    size_t at[BILLS_MOST], count;
};

static struct open_bills open_of(const struct ledger *l, const double *mass, const bool *done)
{
    struct open_bills open;
    open.count = 0;
    for (size_t k = 0; k < l->bills; k++)
        if (!done[k] && mass[k] > 0)
            open.at[open.count++] = k;
    return open;
}

/* Of looking at once and each cure tried first, the cheapest. */
static void best_first(const struct ledger *l, const double *mass, const struct open_bills *open, bool bench,
                       double left, struct going *best)
{
    double look = bench ? LOOK_BENCH_MIN : LOOK_VISIT_MIN, way = (bench ? BENCH_MIN : VISIT_MIN) * left;
    double wanted = 0;
    for (size_t i = 0; i < open->count; i++)
        wanted += mass[open->at[i]] * found_min(l, open->at[i], bench);
    if (way + look * left + wanted < best->cost)
        *best = (struct going){way + look * left + wanted, bench, BILLS_MOST};
    for (size_t i = 0; i < open->count; i++) {
        size_t k = open->at[i];
        bool there = bench ? k != l->oil : l->bill[k].tier != TIER_BENCH;
        if (!there)
            continue;
        double cured = mass_cured(l, mass, k, bench);
        double cost = way + l->bill[k].minutes * left + look * fmax(0, left - cured) + wanted -
                      cured * found_min(l, k, bench);
        if (cost < best->cost)
            *best = (struct going){cost, bench, k};
    }
}

static struct going going_of(const struct ledger *l, const double *mass, const bool *done)
{
    struct going best = {.cost = INFINITY, .first = BILLS_MOST};
    struct open_bills open = open_of(l, mass, done);
    double left = 0;
    for (size_t i = 0; i < open.count; i++)
        left += mass[open.at[i]];
    best_first(l, mass, &open, false, left, &best);
    best_first(l, mass, &open, true, left, &best);
    return best;
}

/* What the owner may try, cheapest for its chance first; returns how many. */
static size_t owners_order(const struct ledger *l, const double *mass, size_t *out)
{
    double p[BILLS_MOST] = {0}, cost[BILLS_MOST] = {0};
    size_t bill[BILLS_MOST], order[BILLS_MOST], n = 0;
    for (size_t k = 0; k < l->bills; k++)
        if (l->bill[k].tier == TIER_OWNER && mass[k] > 0) {
            p[n] = mass[k];
            cost[n] = l->bill[k].minutes;
            bill[n++] = k;
        }
    repair_order(p, cost, n, order);
    for (size_t i = 0; i < n; i++)
        out[i] = bill[order[i]];
    return n;
}

static struct plan plan_of(const struct ledger *l, const double *mass)
{
    size_t order[BILLS_MOST], n = owners_order(l, mass, order);
    double left = 0, tried = 0;
    bool done[BILLS_MOST] = {false};
    struct plan best;
    for (size_t k = 0; k < l->bills; k++)
        left += mass[k];
    struct going going = going_of(l, mass, done);
    best.owners = 0;
    best.going = best.cost = going.cost;
    best.bench = going.bench;
    best.first = going.first;
    for (size_t i = 0; i < n; i++) {
        size_t k = order[i];
        tried += l->bill[k].minutes * left;
        left -= mass[k];
        done[k] = true;
        if (tried >= best.cost)
            break; /* the minutes tried only grow */
        if (tried + fmin(VISIT_MIN, BENCH_MIN) * left >= best.cost)
            continue; /* the way alone costs too much */
        going = going_of(l, mass, done);
        if (tried + going.cost < best.cost) {
            best.cost = tried + going.cost;
            best.bench = going.bench;
            best.first = going.first;
            best.owners = i + 1;
        }
    }
    memcpy(best.owner, order, best.owners * sizeof *order);
    return best;
}

static void masses(const struct ledger *l, const struct belief *b, double *mass)
{
    memset(mass, 0, BILLS_MOST * sizeof *mass);
    for (size_t i = 0; i < l->causes; i++)
        mass_add(l, mass, i, b->cause[i].p);
}

double next_plan_cost(struct finder *f, const struct belief *b)
{
    struct ledger l;
    double mass[BILLS_MOST];
    (void)f;
    ledger_init(&l, b);
    masses(&l, b, mass);
    return plan_of(&l, mass).cost;
}

static size_t plan_add(const struct ledger *l, const double *mass, size_t k, enum next_kind place,
                       struct plan_step *out, size_t n, size_t room)
{
    if (n < room)
        out[n++] = (struct plan_step){l->bill[k].id, place, l->bill[k].minutes, mass[k]};
    return n;
}

size_t next_plan(const struct belief *b, struct plan_step *out, size_t room)
{
    struct ledger l;
    double mass[BILLS_MOST], cost[BILLS_MOST] = {0};
    size_t order[BILLS_MOST], n = 0;
    bool done[BILLS_MOST] = {false};
    ledger_init(&l, b);
    masses(&l, b, mass);
    for (size_t k = 0; k < l.bills; k++)
        cost[k] = l.bill[k].minutes;
    repair_order(mass, cost, l.bills, order);
    struct plan plan = plan_of(&l, mass);
    for (size_t i = 0; i < plan.owners; i++) {
        done[plan.owner[i]] = true;
        n = plan_add(&l, mass, plan.owner[i], NEXT_OWNER, out, n, room);
    }
    enum next_kind there = plan.bench ? NEXT_BENCH : NEXT_VISIT;
    if (plan.first == BILLS_MOST && n < room)
        out[n++] = (struct plan_step){.cure = plan.bench ? "look-on-bench" : "look", .place = there,
                                      .minutes = plan.bench ? LOOK_BENCH_MIN : LOOK_VISIT_MIN};
    else if (plan.first < BILLS_MOST) {
        done[plan.first] = true;
        n = plan_add(&l, mass, plan.first, there, out, n, room);
    }
    for (int bench = plan.bench; bench < 2; bench++) /* on a visit what the house allows comes first */
        for (size_t i = 0; i < l.bills; i++) {
            size_t k = order[i];
            if (done[k] || mass[k] <= 0 || (!bench && l.bill[k].tier == TIER_BENCH))
                continue;
            done[k] = true;
            n = plan_add(&l, mass, k, bench ? NEXT_BENCH : NEXT_VISIT, out, n, room);
        }
    return n;
}

/* ---- questions ---- */

/* One question with the chance of each answer under each hypothesis weighed. */
struct asking {
    struct question q;
    size_t answers;
    float *chance;      /* [hypothesis * answers + answer]; the unknown is the last hypothesis */
};

struct weighing {
    const struct belief *b;
    const struct sheet *sheet;
    struct finder *f;
    struct ledger ledger;
    size_t n;                 /* hypotheses weighed, the first n of the belief */
    struct clock_case **kase; /* clocks they are of, ... */
    size_t kases, *of_kase;   /* ... and by hypothesis which */
    struct forecast *forecast;/* by hypothesis */
    struct habit *habit;
    double unknown;           /* mass of the unknown */
    size_t unknown_bill;
    struct asking *asking;
    size_t askings, room;
};

static struct asking *ask_new(struct weighing *w, enum question_kind kind, size_t answers,
                              double minutes)
{
    w->asking = mem_grow(w->asking, &w->room, w->askings + 1, sizeof *w->asking);
    struct asking *a = &w->asking[w->askings++];
    memset(a, 0, sizeof *a);
    a->q.kind = kind;
    a->q.minutes = minutes;
    a->answers = answers;
    a->chance = mem_alloc((w->n + 1) * answers * sizeof *a->chance);
    return a;
}

static void yes_no(struct asking *a, size_t i, double yes)
{
    a->chance[2 * i] = (float)yes;
    a->chance[2 * i + 1] = (float)(1 - yes);
}

static bool starts_with(const char *s, const char *with)
{
    return strncmp(s, with, strlen(with)) == 0;
}

/* Words about parts that the likeliest clock does not have are not asked. */
static bool fits_clock(const char *word, const struct clock *c)
{
    bool weights = false, springs = false;
    for (int i = 0; i < TRAINS; i++) {
        weights |= c->train[i].power.drive == DRIVE_WEIGHT;
        springs |= c->train[i].power.drive == DRIVE_SPRING;
    }
    if (strstr(word, "weight"))
        return weights && (!strstr(word, "chime") || clock_train(c, TRAIN_CHIME)) &&
               (!strstr(word, "middle") || clock_train(c, TRAIN_CHIME));
    if (strstr(word, "spring") && !strstr(word, "suspension"))
        return springs;
    if (strstr(word, "silent_lever"))
        return c->silent_strike || c->silent_chime;
    if (strstr(word, "quarter") || strstr(word, "chime") || strstr(word, "tune") || strstr(word, "drum"))
        return clock_train(c, TRAIN_CHIME) != NULL;
    if (strstr(word, "music"))
        return clock_train(c, TRAIN_MUSIC) != NULL;
    if (strstr(word, "bird") || strstr(word, "door") || strstr(word, "bellows"))
        return c->family && strstr(c->family, "cuckoo");
    if (strstr(word, "snail") || starts_with(word, "rack"))
        return c->train[TRAIN_STRIKE].control == CONTROL_RACK;
    if (strstr(word, "night") || strstr(word, "silent_by_day") || strstr(word, "silent_hours"))
        return c->night_from_min != c->night_to_min;
    if (strstr(word, "half"))
        return c->lobes > 1;
    return true;
}

static void ask_seen(struct weighing *w)
{
    const struct words *v = w->sheet->words;
    const struct clock *c = w->n ? w->b->held[0].kase->clock : NULL;
    double *degree = mem_alloc((w->n + 1) * sizeof *degree);
    for (size_t i = 0; c && i < words_count(v, WORD_SEEN); i++) {
        const struct word *word = words_at(v, WORD_SEEN, i);
        if (!evidence_predicts(word->id) || word_set_has(&w->sheet->seen, (int)i) ||
            word_set_has(&w->sheet->seen_not, (int)i) || !fits_clock(word->id, c) ||
            evidence_told(w->sheet, word))
            continue;
        struct asking *a = ask_new(w, QUESTION_SEEN, 2, fmax(0.2, word->minutes));
        snprintf(a->q.id, sizeof a->q.id, "seen:%s", word->id);
        snprintf(a->q.text, sizeof a->q.text, "%s", word->ask);
        a->q.word = word->id;
        a->q.picture = word->picture;
        habit_degrees(w->habit, w->n, word->id, degree);
        for (size_t k = 0; k < w->n; k++)
            yes_no(a, k, seen_yes(degree[k]));
    }
    mem_free(degree);
}

static double tilt_of(const struct fault *f, const char *word)
{
    for (size_t i = 0; f && i < f->tilts; i++)
        if (strcmp(f->tilt[i].word, word) == 0)
            return f->tilt[i].factor;
    return 1;
}

/* By hypothesis: what the word makes of its fault's odds.  False if it makes nothing of any.  Those of one cause are
 * of one fault. */
static bool tilts_of(const struct weighing *w, const char *word, double *tilt)
{
    double *of_cause = mem_alloc((w->b->causes + 1) * sizeof *of_cause);
    bool tells = false;
    for (size_t k = 0; k < w->n; k++) {
        const struct held *h = &w->b->held[k];
        if (of_cause[h->cause] == 0)
            of_cause[h->cause] = tilt_of(h->kase->variant[h->variant].fault, word);
        tilt[k] = of_cause[h->cause];
        tells |= tilt[k] != 1;
    }
    mem_free(of_cause);
    return tells;
}

static void ask_history(struct weighing *w)
{
    const struct words *v = w->sheet->words;
    double *tilt = mem_alloc((w->n + 1) * sizeof *tilt);
    for (size_t i = 0; i < words_count(v, WORD_HISTORY); i++) {
        const struct word *word = words_at(v, WORD_HISTORY, i);
        if (word_set_has(&w->sheet->history, (int)i) || word_set_has(&w->sheet->history_not, (int)i) ||
            !tilts_of(w, word->id, tilt))
            continue;
        struct asking *a = ask_new(w, QUESTION_HISTORY, 2, fmax(0.2, word->minutes));
        snprintf(a->q.id, sizeof a->q.id, "history:%s", word->id);
        snprintf(a->q.text, sizeof a->q.text, "%s", word->ask);
        a->q.word = word->id;
        a->q.picture = word->picture;
        for (size_t k = 0; k < w->n; k++)
            yes_no(a, k, history_yes(tilt[k]));
    }
    mem_free(tilt);
}

static bool clock_value(const struct clock *c, const char *word, const char *value)
{
    for (size_t i = 0; i < c->hints; i++)
        if (strcmp(c->hint[i].word, word) == 0)
            for (size_t k = 0; k < c->hint[i].values; k++)
                if (strcmp(c->hint[i].value[k], value) == 0)
                    return true;
    return false;
}

#define HINT_OTHERS 0.03 /* so much of the belief must lie on clocks of another answer */

/* By clock and value of the word: whether the clock's file says so.  Owned by the caller. */
static bool *values_by_clock(const struct weighing *w, const struct word *word)
{
    bool *says = mem_alloc((w->kases * word->values + 1) * sizeof *says);
    for (size_t i = 0; i < w->kases; i++)
        for (size_t x = 0; x < word->values; x++)
            says[i * word->values + x] = clock_value(w->kase[i]->clock, word->id, word->value[x]);
    return says;
}

/* Clocks that are believed in give it different answers; one that does not say gives none. */
static bool parts_clocks(const struct weighing *w, const struct word *word, const bool *says)
{
    double said[WORD_VALUES] = {0}, all = 0;
    int answers = 0;
    for (size_t k = 0; k < w->n; k++)
        all += w->b->held[k].p;
    for (size_t x = 0; x < word->values; x++) {
        for (size_t k = 0; k < w->n; k++)
            said[x] += says[w->of_kase[k] * word->values + x] ? w->b->held[k].p : 0;
        answers += said[x] > HINT_OTHERS * all;
    }
    return answers > 1;
}

static void ask_hint(struct weighing *w, const struct word *word, const bool *says)
{
    struct asking *a = ask_new(w, QUESTION_HINT, word->values, fmax(0.2, word->minutes));
    snprintf(a->q.id, sizeof a->q.id, "hint:%s", word->id);
    snprintf(a->q.text, sizeof a->q.text, "%s", word->ask);
    a->q.word = word->id;
    a->q.picture = word->picture;
    for (size_t k = 0; k < w->n; k++) {
        const bool *mine = says + w->of_kase[k] * word->values;
        double sum = 0;
        for (size_t x = 0; x < word->values; x++)
            sum += mine[x] ? 1 : 0.06;
        for (size_t x = 0; x < word->values; x++)
            a->chance[k * word->values + x] = (float)((mine[x] ? 1 : 0.06) / sum);
    }
}

static void ask_hints(struct weighing *w)
{
    const struct words *v = w->sheet->words;
    if (w->sheet->clock[0] || !w->b->clocks || w->b->clock[0].p > 0.97)
        return;
    for (size_t i = 0; i < words_count(v, WORD_HINT); i++) {
        const struct word *word = words_at(v, WORD_HINT, i);
        if (w->sheet->hint[i] != HINT_UNSAID || word->values < 2 || word->values > ANSWERS)
            continue;
        bool *says = values_by_clock(w, word);
        if (parts_clocks(w, word, says))
            ask_hint(w, word, says);
        mem_free(says);
    }
}

static const struct coming *coming_at(const struct forecast *f, int dial)
{
    for (size_t i = 0; i < f->count; i++)
        if (f->at[i].dial_min == dial)
            return &f->at[i];
    return NULL;
}

/* Chances of what is counted, by what was made. */
struct ear_counts {
    double heard[FORECAST_COUNTS][FORECAST_COUNTS]; /* [made][heard] */
};

static void ear_counts_init(struct ear_counts *e, const struct ear_model *ear)
{
    for (int made = 0; made < FORECAST_COUNTS; made++)
        for (int heard = 0; heard < FORECAST_COUNTS; heard++)
            e->heard[made][heard] = ear_count(ear, made == FORECAST_ENDLESS ? HEARD_ENDLESS : made,
                                              heard == FORECAST_ENDLESS ? HEARD_ENDLESS : heard);
}

/* Counts as they will be told: through the ear. */
static void told_counts(const struct ear_counts *e, const struct coming *c, float *out)
{
    double sum = 0, told[FORECAST_COUNTS];
    for (int heard = 0; heard < FORECAST_COUNTS; heard++)
        told[heard] = 1e-3;
    for (int made = 0; made < FORECAST_COUNTS; made++)
        for (int heard = 0; heard < FORECAST_COUNTS && c->count[made] > 1e-6; heard++)
            told[heard] += c->count[made] * e->heard[made][heard];
    for (int heard = 0; heard < FORECAST_COUNTS; heard++)
        sum += told[heard];
    for (int heard = 0; heard < FORECAST_COUNTS; heard++)
        out[heard] = (float)((1 - FILTER_MISHEARD) * told[heard] / sum + FILTER_MISHEARD / FORECAST_COUNTS);
}

/* The let-off that was heard last is only met again when the hands have gone all the way round. */
static bool heard_last(const struct sheet *s, int dial_min)
{
    const struct heard *h = s->heards ? &s->heard[s->heards - 1] : NULL;
    return h && h->at.kind == AT_EXACT && h->at.min % 720 == dial_min % 720;
}

/* Minutes to lead the hands on to that let-off, letting each strike out on the way. */
static double minutes_to(const struct coming *c, const struct forecast *f)
{
    return 1.5 + 0.35 * (double)(c - f->at);
}

static void ask_strikes(struct weighing *w)
{
    const struct forecast *lead = w->n ? &w->forecast[0] : NULL;
    struct ear_counts ear;
    ear_counts_init(&ear, w->b->ear ? w->b->ear : &ear_usual);
    for (size_t i = 0; lead && i < lead->count; i++) {
        const struct coming *c = &lead->at[i];
        char dial[8];
        if (!c->due || heard_last(w->sheet, c->dial_min))
            continue;
        text_dial(c->dial_min, dial);
        struct asking *a = ask_new(w, QUESTION_STRIKE, ANSWERS, minutes_to(c, lead));
        snprintf(a->q.id, sizeof a->q.id, "strike:%s", dial);
        snprintf(a->q.text, sizeof a->q.text,
                 "Lead the minute hand slowly on to %s, letting each strike finish: how many does it "
                 "strike there?", dial);
        a->q.dial_min = c->dial_min;
        a->q.picture = "hand_forward";
        for (size_t k = 0; k < w->n; k++) {
            const struct coming *mine = coming_at(&w->forecast[k], c->dial_min);
            for (size_t x = 0; x < ANSWERS && !mine; x++)
                a->chance[k * ANSWERS + x] = 1.0f / ANSWERS;
            if (mine)
                told_counts(&ear, mine, a->chance + k * ANSWERS);
        }
    }
}

static void ask_chimes(struct weighing *w)
{
    const struct forecast *lead = w->n ? &w->forecast[0] : NULL;
    for (size_t i = 0; lead && i < lead->count && i < 8; i++) {
        const struct coming *c = &lead->at[i];
        char dial[8];
        if (!c->chime_due || heard_last(w->sheet, c->dial_min))
            continue;
        text_dial(c->dial_min, dial);
        struct asking *a = ask_new(w, QUESTION_CHIME, 3, minutes_to(c, lead));
        snprintf(a->q.id, sizeof a->q.id, "chime:%s", dial);
        snprintf(a->q.text, sizeof a->q.text,
                 "Lead the minute hand slowly on to %s: is the chime there right, wrong or silent?",
                 dial);
        a->q.dial_min = c->dial_min;
        a->q.picture = "ear";
        for (size_t k = 0; k < w->n; k++) {
            const struct coming *mine = coming_at(&w->forecast[k], c->dial_min);
            for (size_t x = 0; x < 3; x++)
                a->chance[k * 3 + x] = (float)(mine ? 0.03 + 0.91 * mine->chime[x] : 1.0 / 3);
        }
    }
}

/* ---- what a question is worth ---- */

/* A fault we lack answers half as those in play do, half anyhow. */
static void answer_unknown(const struct weighing *w, struct asking *a)
{
    double all = 0;
    for (size_t k = 0; k < w->n; k++)
        all += w->b->held[k].p;
    for (size_t x = 0; x < a->answers; x++) {
        double sum = 0;
        for (size_t k = 0; k < w->n; k++)
            sum += w->b->held[k].p * a->chance[k * a->answers + x];
        a->chance[w->n * a->answers + x] =
            (float)(0.5 / (double)a->answers + (all > 0 ? 0.5 * sum / all : 0.5 / (double)a->answers));
    }
}

/* Expected cost when `a` is asked in a branch where hypothesis k has weight p[k] (unknown: p[n]). */
static double cost_asked(const struct weighing *w, const struct asking *a, const double *p)
{
    double by_answer[BILLS_MOST + 1][ANSWERS] = {{0}}, sum = 0; /* the last is of no bill */
    const struct ledger *l = &w->ledger;
    for (size_t k = 0; k < w->n; k++) {
        size_t cause = w->b->held[k].cause;
        const float *chance = a->chance + k * a->answers;
        double house = l->dry[cause] ? OIL_WORKS : 0;
        double *mass = by_answer[l->of_cause[cause]], *oil = by_answer[l->dry[cause] ? l->oil : BILLS_MOST];
        for (size_t x = 0; x < a->answers; x++) {
            mass[x] += (1 - house) * (p[k] * chance[x]);
            oil[x] += house * (p[k] * chance[x]);
        }
    }
    for (size_t x = 0; x < a->answers; x++) {
        double mass[BILLS_MOST], all = 0;
        by_answer[w->unknown_bill][x] += p[w->n] * a->chance[w->n * a->answers + x];
        for (size_t k = 0; k < l->bills; k++)
            all += mass[k] = by_answer[k][x];
        if (all > 1e-9)
            sum += plan_of(l, mass).cost;
    }
    return sum;
}

static double cost_unasked(const struct weighing *w, const double *p)
{
    double mass[BILLS_MOST] = {0};
    for (size_t k = 0; k < w->n; k++)
        mass_add(&w->ledger, mass, w->b->held[k].cause, p[k]);
    mass[w->unknown_bill] += p[w->n];
    return plan_of(&w->ledger, mass).cost;
}

static void list_clocks(struct weighing *w)
{
    w->kase = mem_alloc((w->n + 1) * sizeof *w->kase);
    w->of_kase = mem_alloc((w->n + 1) * sizeof *w->of_kase);
    for (size_t k = 0; k < w->n; k++) {
        size_t i = 0;
        while (i < w->kases && w->kase[i] != w->b->held[k].kase)
            i++;
        if (i == w->kases)
            w->kase[w->kases++] = w->b->held[k].kase;
        w->of_kase[k] = i;
    }
}

/* What the hypotheses of one clock will do and do by habit. */
static void look_on(void *with, size_t i, size_t hand)
{
    struct weighing *w = with;
    struct plans plans;
    struct closer c = {0};
    (void)hand;
    plans_init(&plans, w->sheet, w->kase[i], w->b->ear ? w->b->ear : &ear_usual);
    for (size_t k = 0; k < w->n; k++) {
        if (w->of_kase[k] != i)
            continue;
        closer_place(&c, &w->b->held[k], &plans);
        forecast_init(&w->forecast[k], &c, 0, true);
        habit_init(&w->habit[k], c.kase, c.variant, c.next, c.space.end, c.space.ends);
    }
    closer_release(&c);
    plans_release(&plans);
}

static void weighing_init(struct weighing *w, struct finder *f, const struct belief *b,
                          const struct sheet *sheet)
{
    memset(w, 0, sizeof *w);
    w->f = f;
    w->b = b;
    w->sheet = sheet;
    ledger_init(&w->ledger, b);
    double mass = 0;
    while (w->n < b->helds && w->n < HELD_MOST && mass < HELD_MASS) {
        if (b->held[w->n].cause >= w->ledger.causes)
            break;
        mass += b->held[w->n++].p;
    }
    const struct belief_cause *u = belief_cause_of(b, "unknown");
    w->unknown = u ? u->p : 0; /* less what is simulated */
    for (size_t k = 0; k < b->helds && u; k++)
        w->unknown -= b->held[k].cause == (size_t)(u - b->cause) ? b->held[k].p : 0;
    w->unknown = fmax(0, w->unknown);
    w->unknown_bill = u && (size_t)(u - b->cause) < w->ledger.causes
                          ? w->ledger.of_cause[u - b->cause]
                          : 0;
    list_clocks(w);
    w->forecast = mem_alloc((w->n + 1) * sizeof *w->forecast);
    w->habit = mem_alloc((w->n + 1) * sizeof *w->habit);
    crew_run(w->kases, f->hands, look_on, w);
    ask_seen(w);
    ask_history(w);
    ask_hints(w);
    ask_strikes(w);
    ask_chimes(w);
    for (size_t i = 0; i < w->askings; i++)
        answer_unknown(w, &w->asking[i]);
}

static void weighing_release(struct weighing *w)
{
    for (size_t i = 0; i < w->askings; i++)
        mem_free(w->asking[i].chance);
    mem_free(w->asking);
    mem_free(w->kase);
    mem_free(w->of_kase);
    mem_free(w->forecast);
    mem_free(w->habit);
}

static double *weights_of(const struct weighing *w)
{
    double *p = mem_alloc((w->n + 1) * sizeof *p);
    for (size_t k = 0; k < w->n; k++)
        p[k] = w->b->held[k].p;
    p[w->n] = w->unknown;
    return p;
}

/* All questions against asking none. */
struct weighing_all {
    struct weighing *w;
    const double *p;
    double plain;
};

static void weigh_one(void *with, size_t i, size_t hand)
{
    const struct weighing_all *all = with;
    struct asking *a = &all->w->asking[i];
    (void)hand;
    a->q.saves_min = all->plain - cost_asked(all->w, a, all->p) - a->q.minutes;
}

static void weigh_all(struct weighing *w)
{
    double *p = weights_of(w);
    struct weighing_all all = {w, p, cost_unasked(w, p)};
    crew_run(w->askings, w->f->hands, weigh_one, &all);
    mem_free(p);
}

static int by_saving(const void *a, const void *b)
{
    double x = ((const struct asking *)a)->q.saves_min, y = ((const struct asking *)b)->q.saves_min;
    return x < y ? 1 : x > y ? -1 : 0;
}

/* The answers to one question: what the hypotheses weigh after each, and what is expected of it then. */
struct branches {
    double *p; /* [answer * (n + 1) + hypothesis] */
    double *cost;
    bool *may_be;
    size_t answers;
};

static void branches_init(struct branches *b, const struct weighing *w, const struct asking *first, const double *p)
{
    b->answers = first->answers;
    b->p = mem_alloc(b->answers * (w->n + 1) * sizeof *b->p);
    b->cost = mem_alloc(b->answers * sizeof *b->cost);
    b->may_be = mem_alloc(b->answers * sizeof *b->may_be);
    for (size_t x = 0; x < b->answers; x++) {
        double *q = b->p + x * (w->n + 1), all = 0;
        for (size_t k = 0; k <= w->n; k++)
            all += q[k] = p[k] * first->chance[k * first->answers + x];
        b->may_be[x] = all > 1e-6;
        b->cost[x] = b->may_be[x] ? cost_unasked(w, q) : 0;
    }
}

static void branches_release(struct branches *b)
{
    mem_free(b->p);
    mem_free(b->cost);
    mem_free(b->may_be);
}

#define BATCH_LOOK 16 /* best single questions that the others of a batch are chosen from */

/* Choosing the questions of a batch: what each still saves beside those that are taken. */
struct batching {
    const struct weighing *w;
    struct branches after; /* of the one taken last */
    double saves[BATCH_LOOK];
};

static void saves_besides(void *with, size_t i, size_t hand)
{
    struct batching *c = with;
    const struct asking *second = &c->w->asking[i];
    double sum = 0;
    (void)hand;
    if (second->q.saves_min <= 0)
        return;
    for (size_t x = 0; x < c->after.answers; x++)
        if (c->after.may_be[x])
            sum += c->after.cost[x] - cost_asked(c->w, second, c->after.p + x * (c->w->n + 1));
    c->saves[i] = fmin(c->saves[i], sum - second->q.minutes);
}

static size_t best_besides(const struct batching *c, size_t look, size_t taken)
{
    double best = NEXT_LEAST / 2;
    size_t which = 0;
    for (size_t i = 1; i < look; i++)
        if (i != taken && c->w->asking[i].q.saves_min > 0 && c->saves[i] > best) {
            best = c->saves[i];
            which = i;
        }
    return which;
}

/* Up to three questions worth asking together: each next is worth most after those before. */
static size_t choose_batch(struct weighing *w, struct question *out)
{
    struct batching c = {.w = w};
    size_t n = 0, taken = 0, look = w->askings < BATCH_LOOK ? w->askings : BATCH_LOOK;
    if (!w->askings || w->asking[0].q.saves_min < NEXT_LEAST)
        return 0;
    double *p = weights_of(w);
    for (size_t i = 0; i < look; i++)
        c.saves[i] = INFINITY;
    out[n++] = w->asking[0].q;
    while (n < NEXT_BATCH) {
        branches_init(&c.after, w, &w->asking[taken], p);
        crew_run(look, w->f->hands, saves_besides, &c);
        branches_release(&c.after);
        taken = best_besides(&c, look, taken);
        if (!taken)
            break;
        out[n++] = w->asking[taken].q;
    }
    mem_free(p);
    return n;
}

size_t next_questions(struct finder *f, const struct belief *b, const struct sheet *sheet,
                      double least, struct question *out, size_t room)
{
    struct weighing w;
    size_t n = 0;
    weighing_init(&w, f, b, sheet);
    weigh_all(&w);
    if (w.askings)
        qsort(w.asking, w.askings, sizeof *w.asking, by_saving);
    for (size_t i = 0; i < w.askings && n < room && w.asking[i].q.saves_min >= least; i++)
        out[n++] = w.asking[i].q;
    weighing_release(&w);
    return n;
}

/* ---- advice ---- */

static void add_kit(struct next_step *n, const char *tool)
{
    for (size_t i = 0; i < n->kits; i++)
        if (strcmp(n->kit[i], tool) == 0)
            return;
    if (n->kits < NEXT_KIT)
        n->kit[n->kits++] = tool;
}

/* Tools for the likeliest causes that can be put right in the house. */
static void pack_kit(struct next_step *n, const struct belief *b)
{
    double covered = 0;
    for (size_t i = 0; i < b->causes && covered < 0.9; i++) {
        const struct cure *c = b->cause[i].cure;
        covered += b->cause[i].p;
        if (!c || b->cause[i].p < 0.02 || (c->who && strcmp(c->who, "bench") == 0))
            continue;
        for (size_t k = 0; k < c->kits; k++)
            add_kit(n, c->kit[k]);
    }
    for (size_t i = 0; i < b->causes; i++)
        if (strcmp(b->cause[i].class, "dry_or_dirty_oil") == 0)
            n->oil_suffices += OIL_WORKS * b->cause[i].p;
}

static const struct belief_cause *cause_of_bill(const struct ledger *l, const struct belief *b,
                                                size_t bill)
{
    for (size_t i = 0; i < l->causes; i++)
        if (l->of_cause[i] == bill)
            return &b->cause[i];
    return &b->cause[0];
}

static void advise_owner(struct next_step *n, const struct ledger *l, const struct belief *b,
                         const struct plan *plan, const double *mass)
{
    size_t best = plan->owner[0]; /* the order is by cost; what is said is what is likeliest to be it */
    for (size_t i = 1; i < plan->owners; i++)
        best = mass[plan->owner[i]] > mass[best] ? plan->owner[i] : best;
    const struct bill *bill = &l->bill[best];
    const struct belief_cause *c = cause_of_bill(l, b, best);
    n->kind = bill->leave ? NEXT_LEAVE : NEXT_OWNER;
    snprintf(n->id, sizeof n->id, "%s", bill->id);
    n->minutes = bill->minutes;
    n->p_cure = mass[best];
    n->saves_min = plan->going - plan->cost;
    n->hazard = bill->cure && bill->cure->hazard ? bill->cure->hazard : "none";
    if (bill->cure)
        snprintf(n->text, sizeof n->text, "%s", bill->cure->text);
    else
        snprintf(n->text, sizeof n->text,
                 "Leave it alone: %s.", strcmp(c->id, "none") == 0 ? "it does what such a clock should"
                                                                   : "it will come right by itself");
}

static void advise_going(struct next_step *n, const struct ledger *l, const struct belief *b,
                         const struct plan *plan, const double *mass)
{
    const struct belief_cause *c = &b->cause[0];
    n->kind = plan->bench ? NEXT_BENCH : NEXT_VISIT;
    n->minutes = plan->bench ? BENCH_MIN : VISIT_MIN;
    n->hazard = c->cure && c->cure->hazard ? c->cure->hazard : "none";
    snprintf(n->id, sizeof n->id, "%s", c->cure ? c->cure->id : "look-on-bench");
    for (size_t k = 0; k < l->bills; k++)
        n->p_cure += plan->bench || l->bill[k].tier != TIER_BENCH ? mass[k] : 0;
    pack_kit(n, b);
    const char *what = c->cure ? c->cure->text : "the report fits nothing known: look with own eyes";
    if (plan->bench)
        snprintf(n->text, sizeof n->text, "Take it to the bench. Likeliest work: %s", what);
    else if (plan->first == BILLS_MOST)
        snprintf(n->text, sizeof n->text, "Visit, and look before anything is done. Likeliest work: %s",
                 what);
    else if (plan->first == l->oil)
        snprintf(n->text, sizeof n->text,
                 "Visit; clean and oil first (%.0f in 100 that it suffices). Likeliest work: %s",
                 100 * n->oil_suffices, what);
    else
        snprintf(n->text, sizeof n->text, "Visit. Likeliest work: %s", what);
}

static void advise_question(struct next_step *n)
{
    const struct question *q = &n->batch[0];
    n->kind = NEXT_QUESTION;
    snprintf(n->id, sizeof n->id, "%s", q->id);
    snprintf(n->text, sizeof n->text, "%s", q->text);
    n->minutes = q->minutes;
    n->saves_min = q->saves_min;
    n->hazard = "none";
}

/* Chances of the answers under one cause. */
static void answers_under(const struct weighing *w, const struct asking *a, size_t cause, double *out)
{
    double all = 0;
    memset(out, 0, a->answers * sizeof *out);
    for (size_t k = 0; k < w->n; k++) {
        if (w->b->held[k].cause != cause)
            continue;
        all += w->b->held[k].p;
        for (size_t x = 0; x < a->answers; x++)
            out[x] += w->b->held[k].p * a->chance[k * a->answers + x];
    }
    for (size_t x = 0; x < a->answers && all > 0; x++)
        out[x] /= all;
}

/* The question whose answers differ most between the first two causes; a cheaper one wins when
 * they differ nearly as much. */
static void find_apart(struct next_step *n, const struct weighing *w)
{
    double best = 0;
    if (w->b->causes < 2 || w->b->cause[0].best == (size_t)-1 || w->b->cause[1].best == (size_t)-1)
        return;
    for (size_t i = 0; i < w->askings; i++) {
        const struct asking *a = &w->asking[i];
        double one[ANSWERS + 1], two[ANSWERS + 1], apart = 0;
        answers_under(w, a, 0, one);
        answers_under(w, a, 1, two);
        for (size_t x = 0; x < a->answers; x++)
            apart += fabs(one[x] - two[x]) / 2;
        if (apart - 0.03 * a->q.minutes > best) {
            best = apart - 0.03 * a->q.minutes;
            n->apart = a->q;
            n->apart_by = apart;
        }
    }
}

void next_step_find(struct next_step *n, struct finder *f, const struct belief *b,
                    const struct sheet *sheet)
{
    struct weighing w;
    double mass[BILLS_MOST];
    memset(n, 0, sizeof *n);
    n->hazard = "none";
    weighing_init(&w, f, b, sheet);
    masses(&w.ledger, b, mass);
    struct plan plan = plan_of(&w.ledger, mass);
    n->cost_min = plan.cost;
    weigh_all(&w);
    if (w.askings)
        qsort(w.asking, w.askings, sizeof *w.asking, by_saving);
    n->questions = choose_batch(&w, n->batch);
    find_apart(n, &w);
    if (n->questions)
        advise_question(n);
    else if (plan.owners)
        advise_owner(n, &w.ledger, b, &plan, mass);
    else
        advise_going(n, &w.ledger, b, &plan, mass);
    weighing_release(&w);
}

/* ---- answers ---- */

#define ANSWER_MOST 200

static bool is_one_of(const char *s, const char *a, const char *b, const char *c)
{
    return strcmp(s, a) == 0 || strcmp(s, b) == 0 || strcmp(s, c) == 0;
}

static bool answer_word(const struct question *q, struct sheet *s, const char *answer, struct err *e)
{
    bool seen = q->kind == QUESTION_SEEN;
    int i = words_ordinal(s->words, seen ? WORD_SEEN : WORD_HISTORY, q->word);
    if (is_one_of(answer, "yes", "y", "true")) {
        word_set_add(seen ? &s->seen : &s->history, i);
        word_set_add(seen ? &s->seen_asked : &s->history_asked, i);
    } else if (is_one_of(answer, "no", "n", "false"))
        word_set_add(seen ? &s->seen_not : &s->history_not, i);
    else {
        err_add(e, "the answer \"%s\" is neither yes nor no (? for not known)", answer);
        return false;
    }
    return true;
}

static bool answer_row(const struct question *q, struct sheet *s, const char *answer, struct err *e)
{
    static const struct {
        const char *said, *short_hand;
    } meaning[] = {
        {"none", "s0"},   {"silent", "s0"}, {"nothing", "s0"}, {"runs on", "s*"}, {"runs_on", "s*"},
        {"right", "s="},  {"wrong", "s!"},
    }, chimes[] = {
        {"silent", "c0"}, {"none", "c0"},   {"nothing", "c0"}, {"runs on", "c*"}, {"runs_on", "c*"},
        {"right", "c="},  {"wrong", "c!"},
    };
    char line[256], dial[8];
    const char *item = answer;
    for (size_t i = 0; i < sizeof meaning / sizeof *meaning; i++) {
        bool chime = q->kind == QUESTION_CHIME;
        if (strcmp(answer, chime ? chimes[i].said : meaning[i].said) == 0)
            item = chime ? chimes[i].short_hand : meaning[i].short_hand;
    }
    bool number = item[0] >= '0' && item[0] <= '9';
    text_dial(q->dial_min, dial);
    snprintf(line, sizeof line, "%s %s%s " HOW_BY_HAND, dial, number ? "s" : "", item);
    if (sheet_parse_shorthand(s, line, strlen(line), NULL))
        return true;
    err_add(e,
            "the answer \"%s\" does not tell what was heard; expected a number of blows, right, wrong, "
            "none, runs on or shorthand such as s3 (? for not known)",
            answer);
    return false;
}

static bool not_known(const char *answer)
{
    static const char *const said[] = {"", "?", "unknown", "not known", "don't know", "dont know",
                                       "do not know", "no idea", "dk", "skip"};
    for (size_t i = 0; i < sizeof said / sizeof *said; i++)
        if (strcmp(answer, said[i]) == 0)
            return true;
    return false;
}

/* Small letters without blanks or a full stop around them; of "yes, it does" the first word. */
static void plain_answer(const char *answer, char plain[], size_t room)
{
    size_t n = 0;
    while (*answer == ' ' || *answer == '\t')
        answer++;
    for (; *answer && n + 1 < room; answer++)
        plain[n++] = (char)(*answer >= 'A' && *answer <= 'Z' ? *answer - 'A' + 'a' : *answer);
    while (n && strchr(" \t.!", plain[n - 1]))
        n--;
    plain[n] = '\0';
    size_t first = strcspn(plain, " ,.;");
    bool yes = first == 3 && strncmp(plain, "yes", 3) == 0;
    bool no = first == 2 && strncmp(plain, "no", 2) == 0 && plain[first] != ' '; /* "no idea" */
    if (yes || no)
        plain[first] = '\0';
}

bool question_answer(const struct question *q, struct sheet *sheet, const char *said,
                     struct err *e)
{
    char answer[ANSWER_MOST];
    plain_answer(said, answer, sizeof answer);
    if (not_known(answer)) {
        if (q->kind == QUESTION_HINT) /* not every hint can be said to be unknown */
            sheet_set_hint(sheet, q->word, "unknown");
        return true;
    }
    switch (q->kind) {
    case QUESTION_SEEN:
    case QUESTION_HISTORY:
        return answer_word(q, sheet, answer, e);
    case QUESTION_HINT:
        if (sheet_set_hint(sheet, q->word, answer))
            return true;
        err_add(e, "\"%s\" is no value of the hint %s", answer, q->word);
        return false;
    default:
        return answer_row(q, sheet, answer, e);
    }
}
