/* long_resync - random clocks, states and times for LETOFF_LONG_S seconds: every plan, done with
 * the simulator, ends in step and takes the minutes it said; every belief is found out. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

#include "err.h"
#include "mem.h"
#include "movement/library.h"
#include "random.h"
#include "resync/presume.h"

static int failures;

/* Do the plan to a clock that really stands so; minutes taken, below 0 when it goes wrong. */
static double carry_out(struct reset *r, const struct plan *p, struct stance at)
{
    struct done d = {0};
    double minutes = 0;
    for (size_t i = 0; i < p->steps; i++) {
        if (!plan_do(r, &at, p->step[i].deed, p->step[i].amount, &d))
            return -1;
        at = d.to;
        minutes += d.minutes;
    }
    for (size_t i = 0; i < p->branches; i++)
        if (rung_same(&p->branch[i].heard, &d.heard)) {
            double rest = carry_out(r, p->branch[i].then, at);
            return rest < 0 ? rest : minutes + rest;
        }
    bool waited = p->steps && p->step[p->steps - 1].deed == DEED_WAIT;
    return !p->branches && (waited || reset_done(r, &at)) ? minutes : -1;
}

static void check(struct reset *r, const struct stance_chance *may_be, size_t count, const char *what)
{
    struct stance *s = mem_alloc((count + 1) * sizeof *s);
    double *p = mem_alloc((count + 1) * sizeof *p), mean = 0;
    for (size_t i = 0; i < count; i++) {
        s[i] = may_be[i].stance;
        p[i] = may_be[i].p;
    }
    struct plan *plan = plan_find(r, s, p, count);
    bool good = plan->found;
    for (size_t i = 0; i < count && good; i++) {
        double minutes = carry_out(r, plan, s[i]);
        mean += p[i] * minutes;
        good = minutes >= 0 && minutes <= plan->worst_min + 1e-6;
        if (!good)
            printf("state %zu work %d off %d,%d count %d quarter %d flags %x: %.3f minutes, worst %.3f, shown %d\n", i, s[i].work_min, s[i].minute_off, s[i].hour_off,
                   s[i].rest.count, s[i].rest.quarter, s[i].rest.flags, minutes, plan->worst_min, stance_shown(r->w, &s[i]));
    }
    if (!good || fabs(mean - plan->minutes) > 1e-6) {
        failures++;
        printf("%s: %s, target %d, %zu states: found %d, %.3f minutes said, %.3f taken%s%s\n", r->w->clock->id, what, r->target_min,
               count, plan->found, plan->minutes, mean, plan->why ? "; " : "", plan->why ? plan->why : "");
        printf("    work %d off %d,%d count %d quarter %d flags %x levers %d trip %d\n", s[0].work_min, s[0].minute_off, s[0].hour_off,
               s[0].rest.count, s[0].rest.quarter, s[0].rest.flags, !r->minds.no_levers, !r->minds.no_trip);
    }
    plan_free(plan);
    mem_free(s);
    mem_free(p);
}

/* Out in other ways too: the hour hand, a lever at silent, the minute hand where it has a bush or a square. */
static struct stance put_out(const struct clock *c, struct random *random, struct stance at)
{
    if (!c->hour_hand_keyed && stance_hours_matter(c) && random_below(random, 2))
        at.hour_off = (int16_t)stance_hour_off(c, 60 * (int)random_below(random, 12));
    if (!c->hour_hand_keyed && (c->minute_bush || c->minute_square) && random_below(random, 4) == 0)
        at.minute_off = (int16_t)(c->minute_bush ? (int)random_below(random, 61) - 30 : 15 * ((int)random_below(random, 5) - 2));
    if (c->silent_chime && random_below(random, 4) == 0)
        at.rest.flags |= REST_SILENT_CHIME;
    if (c->silent_strike && random_below(random, 4) == 0)
        at.rest.flags |= REST_SILENT_STRIKE;
    return at;
}

static void one_case(const struct library *lib, struct random *random)
{
    const struct clock *c = library_clock(lib, random_below(random, (unsigned)library_clocks(lib)));
    struct minds minds = random_below(random, 2) ? minds_by_day() : minds_by_night();
    struct works w;
    struct reset r;
    struct stance_chance *may_be;
    minds.no_trip = random_below(random, 4) == 0;
    minds.no_levers = random_below(random, 4) == 0;
    minds.bench = random_below(random, 4) == 0;
    works_init(&w, c, NULL, 0);
    reset_init(&r, &w, (int)random_below(random, 1440), &minds);
    int hands = (int)random_below(random, 1440);
    size_t n = presume_all(&w, hands, &may_be);
    struct stance_chance one = {put_out(c, random, may_be[random_below(random, (unsigned)n)].stance), 1};
    check(&r, &one, 1, "one state");
    mem_free(may_be);
    struct told told = told_nothing();
    told.hands_min = hands;
    told.unknown = true;
    n = presume(&r, &told, &may_be);
    check(&r, may_be, n, "unknown");
    mem_free(may_be);
    told.hands_min = TOLD_NOTHING;
    r.any_time = random_below(random, 2);
    n = presume(&r, &told, &may_be);
    check(&r, may_be, n, "hands in a tin");
    mem_free(may_be);
    reset_release(&r);
}

int main(void)
{
    struct err e = {0};
    struct random random;
    struct library *lib = library_load("chimes", &e);
    const char *seconds = getenv("LETOFF_LONG_S");
    time_t end = time(NULL) + (seconds ? atoi(seconds) : 10);
    long cases = 0;
    err_print(&e, stderr);
    if (!lib)
        return 1;
    random_init(&random, (uint64_t)time(NULL));
    for (; time(NULL) < end && failures < 10; cases++)
        one_case(lib, &random);
    printf("%ld cases, %d failures\n", cases, failures);
    library_free(lib);
    return failures > 0;
}
