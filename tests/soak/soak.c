/* soak.c - days and days of every clock under every fault, and what must hold of every moment of them.
 *
 *     soak DAYS [SEED]          simulated days in all, spread over clocks, faults and conditions
 *
 * A round is one clock with one fault (or none), in one variant, from one of the states it may be found in,
 * for a few days; in between a person winds, trips, turns hands on and back, and frees what is stuck.  Checked after
 * each stretch of hands:
 *
 *   the state     every count lies on its wheel, the rack within its teeth, the tune among those pinned, unused
 *                 parts are 0: equal situations are equal states
 *   the events    times are finite (strokes of one blow may overlap the next), strengths lie in 0 .. 1, kinds and sounders exist, no
 *                 let-off sounds more than a wound train could
 *   the power     what was used is never negative, nor more than a winding holds (and one let-off beyond)
 *   the sums      a sound clock left alone strikes its published number of blows every day, and is in step
 *   the seed      the same round again gives the same state and the same events
 */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "movement/library.h"
#include "movement/move.h"
#include "movement/power.h"

#define DAYS_A_ROUND 4
#define SOUNDS_MOST                                                                                \
    4000 /* blows and notes of one let-off: a long tune, or a train that runs on to the end */

struct soak {
    const struct library *lib;
    const struct clock *clock;
    const struct fault *fault;
    struct works works;
    struct random random;
    struct event_list events;
    uint64_t seed, digest;
    double days;
    unsigned long rounds, letoffs, wrong;
};

/* ---- what must hold ---- */

static void wrong(struct soak *s, const char *what, double value)
{
    if (s->wrong++ < 20)
        fprintf(stderr, "%s with %s, seed %llu: %s (%g)\n", s->clock->id,
                s->fault ? s->fault->id : "nothing wrong", (unsigned long long)s->seed, what,
                value);
}

static void must(struct soak *s, bool holds, const char *what, double value)
{
    if (!holds)
        wrong(s, what, value);
}

static int teeth_most(const struct clock *c, enum event_train t)
{
    int most = 0;
    for (int i = 0; i < CLOCK_SNAILS; i++)
        for (int k = 0; k < CLOCK_STEPS; k++)
            most = c->train[t].snail[i].teeth[k] > most ? c->train[t].snail[i].teeth[k] : most;
    return most;
}

static void check_state(struct soak *s, const struct moment *m)
{
    const struct clock *c = s->clock;
    const struct rest *r = &m->rest;
    const struct train *strike = &c->train[TRAIN_STRIKE], *chime = &c->train[TRAIN_CHIME];
    must(s, r->count == 0 || r->count < strike->entries, "the strike count is off its wheel",
         r->count);
    must(s,
         r->quarter == 0 || r->quarter < chime->entries ||
             r->quarter <= teeth_most(c, TRAIN_CHIME) + 8,
         "the quarter count is off its wheel", r->quarter);
    must(s, r->left <= 64, "more is left over than a wheel holds", r->left);
    must(s, r->drum < TUNE_CHANGES, "the drum is off its turn", r->drum);
    must(s, r->stuck < STUCK_KINDS, "it is stuck in no known way", r->stuck);
    /* the place of the tune is also that of a sonnerie's selector */
    must(s, (r->tune & 15) < CLOCK_TUNES, "more tunes are selected than any clock has",
         r->tune & 15);
    must(s, m->work_min >= 0 && m->work_min < 1440, "the motion work is out of the day",
         m->work_min);
    if (chime->control == CONTROL_NONE)
        must(s,
             r->quarter == 0 && r->drum == 0 && !(r->flags & (REST_WARNED_CHIME | REST_CORRECTOR)),
             "a chime it has not is in some state", r->quarter + r->drum + r->flags);
}

static void check_power(struct soak *s, const struct moment *m)
{
    for (int t = 0; t < TRAINS; t++) {
        double all = power_capacity(s->clock, (enum event_train)t);
        must(s, isfinite(m->used[t]) && m->used[t] >= 0, "power was given back", m->used[t]);
        must(s, !(all > 0) || m->used[t] <= all + SOUNDS_MOST, "more power was used than there is",
             m->used[t] - all);
    }
}

static void mix(struct soak *s, uint64_t v)
{
    s->digest = (s->digest ^ v) * 1099511628211u;
}

static void check_events(struct soak *s)
{
    int letoff = -1, sounds = 0;
    for (size_t i = 0; i < s->events.count; i++) {
        const struct event *e = &s->events.at[i];
        must(s, isfinite(e->t_s), "an event has no time", e->t_s);
        must(s, e->strength >= 0 && e->strength <= 1, "a strength lies out of 0 .. 1",
             (double)e->strength);
        must(s, e->kind < EVENT_KINDS && e->train < TRAINS, "an event is of no kind", e->kind);
        must(s, !event_sounds(e) || e->sounder < s->clock->sounders, "a blow falls on no sounder",
             e->sounder);
        must(s, e->hand_min >= 0 && e->hand_min < 1440, "the hands are out of the day",
             e->hand_min);
        if (e->letoff != letoff) {
            letoff = e->letoff;
            sounds = 0;
            s->letoffs++;
        }
        sounds += event_sounds(e);
        must(s, sounds <= SOUNDS_MOST, "a let-off does not end", sounds);
        mix(s, (uint64_t)e->kind << 24 | (uint64_t)e->sounder << 16 | (uint16_t)e->letoff);
    }
}

/* ---- rounds ---- */

static int blows_of(const struct event_list *events)
{
    int blows = 0;
    for (size_t i = 0; i < events->count; i++)
        blows += events->at[i].kind == EVENT_BLOW;
    return blows;
}

static void stretch(struct soak *s, struct moment *m, int minutes, enum turner by,
                    struct chance *chance)
{
    event_list_clear(&s->events);
    movement_turn(&s->works, m, minutes, by, chance, &s->events);
    check_events(s);
    check_state(s, m);
    check_power(s, m);
    mix(s, rest_key(m->rest));
}

/* Something a person does; what the clock does not allow changes nothing, and that is checked too. */
static void meddle(struct soak *s, struct moment *m, struct chance *chance)
{
    enum action a = (enum action)random_below(&s->random, ACTIONS);
    int amount = a == ACTION_WIND_TRAIN || a == ACTION_PULL_WEIGHT
                     ? (int)random_below(&s->random, TRAINS)
                 : a == ACTION_HOUR_HAND   ? 60
                 : a == ACTION_MINUTE_BUSH ? 15
                                           : (int)random_below(&s->random, 2);
    struct moment before = *m;
    event_list_clear(&s->events);
    bool done = movement_do(&s->works, m, a, amount, chance, &s->events);
    must(s, done || (rest_same(m->rest, before.rest) && m->work_min == before.work_min),
         "a refused action changed something", a);
    check_events(s);
    check_state(s, m);
    check_power(s, m);
    if (random_below(&s->random, 3) == 0)
        stretch(s, m, (int)random_below(&s->random, 90) + 1,
                random_below(&s->random, 2) ? BY_HAND : BY_HAND_QUICK, chance);
    if (random_below(&s->random, 4) == 0)
        stretch(s, m, -(int)random_below(&s->random, 70) - 1, BY_HAND, chance);
}

static struct rest found_as(struct soak *s, int min)
{
    struct start start[128];
    size_t n = s->fault ? fault_starts(s->fault, &s->works, min, start, 128) : 0;
    return n ? start[random_below(&s->random, (unsigned)n)].rest : rest_in_step(&s->works, min);
}

static void set_up(struct soak *s)
{
    struct change change[FAULT_SETS + FAULT_AXES + 1];
    double weight, severity;
    size_t variants = s->fault ? fault_variants(s->fault, s->clock) : 0, n = 0;
    if (variants)
        n = fault_variant(s->fault, s->clock, random_below(&s->random, (unsigned)variants), change,
                          &weight, &severity);
    works_init(&s->works, s->clock, change, n);
}

/* Left alone, a sound clock strikes the same number each day, and stays in step. */
static void sound_days(struct soak *s, struct moment *m, struct chance *chance)
{
    int first = -1;
    for (int day = 0; day < DAYS_A_ROUND; day++) {
        movement_do(&s->works, m, ACTION_WIND, 0, chance, NULL);
        stretch(s, m, 1440, BY_TIME, chance);
        int blows = blows_of(&s->events);
        first = first < 0 ? blows : first;
        must(s, blows == first, "a sound clock struck another number of blows than the day before",
             blows - first);
        /* on a lobe the let-off has passed, and the state due "at or after" is that before it */
        must(s,
             clock_lobe_at(s->clock, m->work_min) >= 0 ||
                 rest_is_in_step(&s->works, m->rest, m->work_min),
             "a sound clock is out of step", m->work_min);
    }
}

static void faulty_days(struct soak *s, struct moment *m, struct chance *chance)
{
    for (int day = 0; day < DAYS_A_ROUND; day++) {
        int part = (int)random_below(&s->random, 1440);
        stretch(s, m, part, BY_TIME, chance);
        if (random_below(&s->random, 2))
            meddle(s, m, chance);
        stretch(s, m, 1440 - part, BY_TIME, chance);
    }
}

static uint64_t round_once(struct soak *s, uint64_t seed)
{
    struct chance chance;
    struct moment m;
    s->seed = seed;
    s->digest = 14695981039346656037u;
    random_init(&s->random, seed);
    chance_draw(&chance, &s->random);
    set_up(s);
    int min = (int)random_below(&s->random, 1440);
    min += clock_lobe_at(s->clock, min) >= 0; /* beginning between lobes, for the same reason */
    moment_init(&m, &s->works, min);
    m.rest = found_as(s, min);
    check_state(s, &m);
    if (s->fault)
        faulty_days(s, &m, &chance);
    else
        sound_days(s, &m, &chance);
    s->days += DAYS_A_ROUND;
    s->rounds++;
    return s->digest;
}

/* Every clock with every fault it can have, again and again with other seeds. */
static bool sweep(struct soak *s, double days, uint64_t *seed)
{
    for (size_t k = 0; k < library_clocks(s->lib); k++)
        for (size_t i = 0; i <= library_faults(s->lib); i++) {
            s->clock = library_clock(s->lib, k);
            s->fault = i < library_faults(s->lib) ? library_fault(s->lib, i) : NULL;
            if (s->fault && !fault_applies(s->fault, s->clock))
                continue;
            uint64_t digest = round_once(s, ++*seed);
            if (*seed % 64 == 0)
                must(s, round_once(s, *seed) == digest, "the same seed went another way", 0);
            if (s->days >= days)
                return false;
        }
    return true;
}

int main(int argc, char **argv)
{
    const char *told = argc > 1 ? argv[1] : getenv("LETOFF_SOAK_DAYS");
    double days = told ? strtod(told, NULL) : 1e7;
    uint64_t seed = argc > 2 ? strtoull(argv[2], NULL, 10) : 0;
    struct err e = {0};
    struct library *lib = library_load("chimes", &e);
    if (!lib) {
        err_print(&e, stderr);
        return err_status(&e);
    }
    struct soak s = {.lib = lib};
    clock_t began = clock();
    while (sweep(&s, days, &seed) && !s.wrong) {
    }
    double took = (double)(clock() - began) / CLOCKS_PER_SEC;
    printf("%.0f days, %lu rounds, %lu let-offs, %.0f days a second, %lu wrong\n", s.days, s.rounds,
           s.letoffs, s.days / took, s.wrong);
    event_list_release(&s.events);
    library_free(lib);
    return s.wrong ? 1 : 0;
}
