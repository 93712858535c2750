/* From every state of every clock: the plan ends in step, keeps the rules, and is never longer than
 * what is published.
 *
 * All hand positions at five minutes, all counts and all places of the chime are met in any run; with
 * LETOFF_LONG_S set (the long run) also every place of the hour hand at each of them, levers left at silent and
 * minute hands beside their let-offs, and no state is passed over in the comparisons. */
#include "bench_clock.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "resync/atlas.h"

#define GRAIN_MIN 5
#define TARGET_MIN (10 * 60 + 10)

struct sweep {
    struct bench_clock b;
    struct atlas atlas;
    uint32_t *start;
    size_t starts, room;
};

static void put(struct sweep *s, const struct stance *at)
{
    s->start = mem_grow(s->start, &s->room, s->starts + 1, sizeof *s->start);
    s->start[s->starts++] = atlas_put(&s->atlas, at);
}

static bool long_run(void)
{
    return getenv("LETOFF_LONG_S") != NULL;
}

/* How many states a comparison goes on by: a number prime to the rounds of a clock meets all kinds. */
static size_t stride(size_t quick)
{
    return long_run() ? 1 : quick;
}

static void put_hours(struct sweep *s, struct stance at)
{
    const struct clock *c = s->b.w.clock;
    if (c->hour_hand_keyed || !stance_hours_matter(c))
        return;
    for (int k = 1; k < 12; k++) {
        at.hour_off = (int16_t)stance_hour_off(c, 60 * k);
        put(s, &at);
    }
}

static void put_levers(struct sweep *s, struct stance at)
{
    const struct clock *c = s->b.w.clock;
    struct stance silent = at;
    silent.rest.flags |= (uint8_t)((c->silent_strike ? REST_SILENT_STRIKE : 0) | (c->silent_chime ? REST_SILENT_CHIME : 0));
    if (!stance_same(&silent, &at))
        put(s, &silent);
}

/* A minute hand out on its bush, or a quarter of a turn on its square. */
static void put_minutes(struct sweep *s, struct stance at)
{
    const struct clock *c = s->b.w.clock;
    for (int off = -30; off <= 30; off += c->minute_bush ? 12 : 15)
        if (off && (c->minute_bush || c->minute_square) && !c->hour_hand_keyed) {
            at.minute_off = (int16_t)off;
            put(s, &at);
        }
}

/* All states with the hands here; where hours can be out by the hour hand, that too. */
static void put_all_at(struct sweep *s, int shown_min)
{
    struct stance_chance *all;
    size_t n = presume_all(&s->b.w, shown_min, &all);
    for (size_t i = 0; i < n; i++) {
        put(s, &all[i].stance);
        if (shown_min % 60 == 20 || long_run())
            put_hours(s, all[i].stance);
        if (shown_min % 60 == 5 || long_run())
            put_levers(s, all[i].stance);
        if (shown_min % 60 == 35 && (shown_min < 60 || long_run()))
            put_minutes(s, all[i].stance);
    }
    mem_free(all);
}

/* One sweep a clock, made once for all tests. */
static struct sweep *made;

static void sweep_init(struct sweep *s, const struct clock *c)
{
    bench_take(&s->b, c, TARGET_MIN);
    atlas_init(&s->atlas, &s->b.r);
    for (int m = 0; m < c->cycle_min; m += GRAIN_MIN)
        put_all_at(s, m);
    atlas_solve(&s->atlas);
}

static int make_all(void **state)
{
    if (load(state))
        return -1;
    made = mem_alloc(library_clocks(lib) * sizeof *made);
    for (size_t i = 0; i < library_clocks(lib); i++)
        sweep_init(&made[i], library_clock(lib, i));
    return 0;
}

static int release_all(void **state)
{
    for (size_t i = 0; i < library_clocks(lib); i++) {
        mem_free(made[i].start);
        atlas_release(&made[i].atlas);
        reset_release(&made[i].b.r);
    }
    mem_free(made);
    return unload(state);
}

static struct sweep *sweep_of(const char *clock)
{
    for (size_t i = 0; i < library_clocks(lib); i++)
        if (!strcmp(library_clock(lib, i)->id, clock))
            return &made[i];
    fail_msg("no clock %s", clock);
    return NULL;
}

/* --- rules, checked here by another way than where they are kept ------------------------------- */

static bool in_warning_zone(const struct clock *c, int work_min)
{
    for (int k = 1; k <= c->warn_min; k++)
        if (clock_lobe_at(c, (work_min + k) % 1440) >= 0)
            return true;
    return false;
}

static const char *broken_rule(const struct clock *c, const struct stance *at, const struct done *d)
{
    int to_letoff = clock_next_lobe(c, at->work_min);
    switch (d->deed) {
    case DEED_BACK:
        return c->back == BACK_NO ? "back where it is not allowed"
               : in_warning_zone(c, at->work_min) ? "back in the warning"
               : c->train[TRAIN_STRIKE].control == CONTROL_RACK && at->rest.left ? "back with the rack down" : NULL;
    case DEED_LEVER_CHIME:
    case DEED_LEVER_STRIKE:
        return to_letoff <= 5 ? "a lever within five minutes of a let-off" : NULL;
    case DEED_HOUR_HAND:
        return c->hour_hand_keyed ? "a keyed hour hand" : NULL;
    case DEED_DRUM:
        return "the drum away from the bench";
    case DEED_QUICK:
        if ((at->work_min + to_letoff) % 720 == 0 && strstr(c->id, "longcase-rack-rigid"))
            return "over twelve without waiting";
        return c->train[TRAIN_STRIKE].control == CONTROL_RACK ? NULL : "a count wheel hurried";
    case DEED_TRIP_STRIKE:
        return c->trip_strike ? NULL : "a wire that is not there";
    case DEED_TRIP_CHIME:
        return c->trip_chime ? NULL : "a lever that is not there";
    default:
        return d->to.rest.stuck ? "something stuck" : NULL;
    }
}

static bool silent_at(const struct clock *c, int min)
{
    int from = c->night_from_min, to = c->night_to_min;
    return from != to && (from < to ? min >= from && min < to : min >= from || min < to);
}

/* Twelve hours (or a day) from here on: every let-off must sound what the clock's data say is due
 * at what the hands show.  This is the meaning of "in step", by another way than stance_in_step. */
static void sounds_right_from(struct bench_clock *b, struct stance at)
{
    const struct clock *c = b->w.clock;
    for (int left = clock_letoffs(c); left > 0; left--) {
        struct done d;
        if (!c->hush_hammers && silent_at(c, (at.work_min + stance_ahead(c, &at)) % 1440))
            return; /* trains held all night start out of step in the morning, and may */
        if (!deed_do(&b->r, &at, DEED_FORWARD, stance_ahead(c, &at), &d))
            fail_msg("%s: the hands cannot go on", c->id);
        at = d.to;
        struct stance due = bench_stance(b, (stance_shown(&b->w, &at) + 1439) % 1440);
        due.rest.flags &= (uint8_t) ~(REST_WARNED_STRIKE | REST_WARNED_CHIME);
        struct done should;
        assert_true(deed_do(&b->r, &due, DEED_FORWARD, 1, &should));
        if (d.heard.blows != should.heard.blows || strcmp(d.heard.tune, should.heard.tune))
            fail_msg("%s: at %d:%02d sounds %d \"%s\" instead of %d \"%s\"", c->id, stance_shown(&b->w, &at) / 60,
                     stance_shown(&b->w, &at) % 60, d.heard.blows, d.heard.tune, should.heard.blows,
                     should.heard.tune);
    }
}

static void walk(struct sweep *s, uint32_t at, bool *proved)
{
    const struct clock *c = s->b.w.clock;
    int steps = 0;
    for (; s->atlas.place[at].best != ATLAS_NONE; steps++) {
        const struct place *here = &s->atlas.place[at];
        const struct road *road = &s->atlas.road[here->best];
        const char *wrong = broken_rule(c, &here->stance, &road->done);
        if (wrong)
            fail_msg("%s: %s at work minute %d", c->id, wrong, here->stance.work_min);
        assert_true(steps < 400);
        at = road->to;
    }
    if (!isfinite(s->atlas.place[at].cost))
        fail_msg("%s: no way from work minute %d, hands off by %d and %d, flags %x", c->id, s->atlas.place[at].stance.work_min,
                 s->atlas.place[at].stance.minute_off, s->atlas.place[at].stance.hour_off, s->atlas.place[at].stance.rest.flags);
    if (!proved[at])
        sounds_right_from(&s->b, s->atlas.place[at].stance);
    proved[at] = true;
}

static void from_every_state_of_every_clock_the_plan_ends_in_step(void **state)
{
    (void)state;
    for (size_t i = 0; i < library_clocks(lib); i++) {
        struct sweep *s = &made[i];
        bool *proved = mem_alloc(s->atlas.places);
        for (size_t k = 0; k < s->starts; k++)
            walk(s, s->start[k], proved);
        mem_free(proved);
    }
}

/* --- published recipes ----------------------------------------------------------------------------- */

struct trial {
    struct bench_clock *b;
    struct stance at;
    double cost;
    bool good;
};

static void try(struct trial *t, enum deed d, int amount)
{
    struct done done;
    t->good = t->good && deed_do(&t->b->r, &t->at, d, amount, &done);
    if (!t->good)
        return;
    t->at = done.to;
    t->cost += done.cost;
}

/* Forward, waiting at each let-off, to the time. */
static void forward_to_the_time(struct trial *t)
{
    const struct clock *c = t->b->w.clock;
    for (int guard = 0; t->good && guard < 200; guard++) {
        int on = stance_fold(c, t->b->r.target_min - stance_shown(&t->b->w, &t->at));
        int ahead = stance_ahead(c, &t->at);
        if (!on)
            return;
        try(t, on < ahead ? DEED_ON : DEED_FORWARD, on < ahead ? on : ahead);
    }
}

/* Count wheel (E. Beckett f.172): to the time, then raise the locking until the hour is right. */
static void recipe_strike_on(struct trial *t)
{
    forward_to_the_time(t);
    for (int n = 0; n < 60 && t->good && !reset_in_step(&t->b->r, &t->at); n++)
        try(t, DEED_TRIP_STRIKE, 0);
}

/* Rack with a friction-fitted hour hand (https://mb.nawcc.org/threads/22525 and the like, class C): at the
 * hour move the hour hand to what was struck, then on to the time. */
static void recipe_hour_hand(struct trial *t)
{
    const struct clock *c = t->b->w.clock;
    for (int n = 0; n < 5 && t->good && t->at.work_min % 60; n++)
        try(t, DEED_FORWARD, stance_ahead(c, &t->at));
    int move = stance_fold(c, t->at.work_min - stance_shown(&t->b->w, &t->at));
    if (move % 720)
        try(t, DEED_HOUR_HAND, move > 360 ? move - 720 : move);
    forward_to_the_time(t);
}

/* Corrector: let it work, at the next hour or the one after; then on to the time. */
static void recipe_wait_for_corrector(struct trial *t)
{
    for (int n = 0; n < 9 && t->good && !reset_in_step(&t->b->r, &t->at); n++)
        try(t, DEED_FORWARD, stance_ahead(t->b->w.clock, &t->at));
    forward_to_the_time(t);
}

/* Modern three-train (https://billsclockworks.com/merchandise/instruction-sheet.html/22): back to about two
 * hours before the time, then forward letting it strike. */
static void recipe_two_hours_back(struct trial *t)
{
    const struct clock *c = t->b->w.clock;
    for (int n = 0; n < 100 && t->good; n++) {
        if (stance_fold(c, t->b->r.target_min - stance_shown(&t->b->w, &t->at)) <= 135)
            break;
        try(t, DEED_BACK, stance_since(c, &t->at) + t->b->r.lead_min);
    }
    forward_to_the_time(t);
}

/* Chime without corrector: a quarter of an hour back and forward past it again, until it agrees. */
static void recipe_quarter_again(struct trial *t)
{
    const struct clock *c = t->b->w.clock;
    forward_to_the_time(t);
    for (int n = 0; n < 60 && t->good && !reset_in_step(&t->b->r, &t->at); n++) {
        try(t, DEED_BACK, stance_since(c, &t->at) + t->b->r.lead_min);
        forward_to_the_time(t);
    }
}

static void (*const recipes[])(struct trial *) = {
    forward_to_the_time, recipe_strike_on, recipe_hour_hand, recipe_wait_for_corrector, recipe_two_hours_back,
    recipe_quarter_again,
};

static void the_plan_is_never_longer_than_a_published_recipe(void **state)
{
    size_t won[COUNT_OF(recipes)] = {0};
    (void)state;
    for (size_t i = 0; i < library_clocks(lib); i++) {
        struct sweep *s = &made[i];
        for (size_t k = 0; k < s->starts; k += stride(7))
            for (size_t n = 0; n < COUNT_OF(recipes); n++) {
                const struct place *start = &s->atlas.place[s->start[k]];
                struct trial t = {&s->b, start->stance, 0, true};
                recipes[n](&t);
                if (!t.good || !reset_done(&s->b.r, &t.at))
                    continue;
                won[n]++;
                if (start->cost > t.cost + 1e-9)
                    fail_msg("%s: plan %.3f, recipe %zu %.3f", s->b.w.clock->id, start->cost, n, t.cost);
            }
    }
    for (size_t n = 0; n < COUNT_OF(recipes); n++)
        assert_true(won[n] > 20); /* each recipe was really tried where it works */
}

/* --- exhaustive search ------------------------------------------------------------------------------ */

/* Every deed with every sensible amount, in every order, without the shortcuts of deeds_from. */
static void search_all(struct reset *r, const struct stance *at, double spent, double *best)
{
    const struct clock *c = r->w->clock;
    int shown = stance_shown(r->w, at), wait = reset_wait(r, at);
    struct { enum deed deed; int amount; } way[64];
    int n = 0;
    if (reset_done(r, at)) {
        *best = spent < *best ? spent : *best;
        return;
    }
    if (wait)
        way[n].deed = DEED_WAIT, way[n++].amount = wait;
    way[n].deed = DEED_FORWARD, way[n++].amount = stance_ahead(c, at);
    way[n].deed = DEED_QUICK, way[n++].amount = stance_ahead(c, at);
    way[n].deed = DEED_ON, way[n++].amount = stance_fold(c, r->target_min - shown);
    way[n].deed = DEED_BACK, way[n++].amount = stance_since(c, at) + r->lead_min;
    way[n].deed = DEED_BACK, way[n++].amount = stance_fold(c, shown - r->target_min);
    way[n].deed = DEED_TRIP_STRIKE, way[n++].amount = 0;
    way[n].deed = DEED_TRIP_CHIME, way[n++].amount = 0;
    for (int on = 0; on < 2; on++) {
        way[n].deed = DEED_LEVER_STRIKE, way[n++].amount = on;
        way[n].deed = DEED_LEVER_CHIME, way[n++].amount = on;
    }
    for (int k = -5; k <= 6; k++)
        way[n].deed = DEED_HOUR_HAND, way[n++].amount = 60 * k;
    for (int i = 0; i < n; i++) {
        struct done d;
        if ((way[i].deed == DEED_BACK && way[i].amount >= stance_since(c, at) && way[i].amount != stance_since(c, at) + r->lead_min) || !deed_do(r, at, way[i].deed, way[i].amount, &d) ||
            stance_same(&d.to, at) || spent + d.cost >= *best)
            if (way[i].deed != DEED_WAIT)
                continue;
        if (way[i].deed == DEED_WAIT)
            *best = spent + d.cost < *best ? spent + d.cost : *best;
        else
            search_all(r, &d.to, spent + d.cost, best);
    }
}

static void no_order_of_deeds_is_cheaper_on_small_cases(void **state)
{
    static const char *const clocks[] = {"longcase-rack", "longcase-rack-rigid", "longcase-countwheel-78",
                                         "mantel-rack-half", "cuckoo-countwheel", "italian-six",
                                         "floor-westminster-rack", "chime-no-corrector", "vienna-petite"};
    size_t tried = 0;
    (void)state;
    for (size_t i = 0; i < COUNT_OF(clocks); i++) {
        struct sweep *s = sweep_of(clocks[i]);
        for (size_t k = 0; k < s->starts; k += stride(3)) {
            const struct place *start = &s->atlas.place[s->start[k]];
            double best = start->cost + 1e-6; /* nothing cheaper than the plan, and the plan itself */
            if (start->cost > 0.85)
                continue;
            search_all(&s->b.r, &start->stance, 0, &best);
            assert_near(best, start->cost, 1e-9);
            tried++;
        }
    }
    assert_true(tried > 60);
}

/* --- the same for what is not known ------------------------------------------------------------------- */

#define BELIEF_MOST 4
struct some {
    uint32_t place[BELIEF_MOST];
    double p[BELIEF_MOST]; /* of the whole */
    size_t count;
};

static const struct road *road_same(const struct atlas *a, uint32_t place, const struct done *d)
{
    const struct place *p = &a->place[place];
    for (uint32_t i = 0; i < p->roads; i++)
        if (a->road[p->first + i].done.deed == d->deed && a->road[p->first + i].done.amount == d->amount)
            return &a->road[p->first + i];
    return NULL;
}

static double search_some(const struct atlas *a, const struct some *b, int depth);

/* Doing it to all of them, and the best after each thing that may be heard. */
static double search_deed(const struct atlas *a, const struct some *b, const struct done *d, int depth)
{
    const struct road *road[BELIEF_MOST];
    double cost = 0;
    for (size_t i = 0; i < b->count; i++) {
        road[i] = road_same(a, b->place[i], d);
        if (!road[i])
            return INFINITY;
        cost += b->p[i] * road[i]->done.cost;
    }
    bool taken[BELIEF_MOST] = {false};
    for (size_t i = 0; i < b->count; i++) {
        struct some part = {.count = 0};
        for (size_t k = i; k < b->count; k++) {
            if (taken[k] || !rung_same(&road[k]->done.heard, &road[i]->done.heard))
                continue;
            size_t at = 0;
            while (at < part.count && part.place[at] != road[k]->to)
                at++;
            part.place[at] = road[k]->to;
            part.p[at] += b->p[k];
            part.count += at == part.count;
            taken[k] = true;
        }
        cost += part.count ? search_some(a, &part, depth - 1) : 0;
    }
    return cost;
}

/* The least expected cost of all plans that find it out within so many deeds; no bounds, no order. */
static double search_some(const struct atlas *a, const struct some *b, int depth)
{
    double best = 0;
    if (b->count == 1)
        return b->p[0] * a->place[b->place[0]].cost;
    for (size_t i = 0; i < b->count; i++)
        best += b->p[i] * a->place[b->place[i]].goal;
    const struct place *first = &a->place[b->place[0]];
    for (uint32_t i = 0; i < first->roads && depth > 0; i++) {
        const struct done *d = &a->road[first->first + i].done;
        if ((d->deed == DEED_LEVER_STRIKE || d->deed == DEED_LEVER_CHIME) && d->amount)
            continue; /* plan.h: no lever to silent while there is something to listen for */
        double cost = search_deed(a, b, d, depth);
        best = cost < best ? cost : best;
    }
    return best;
}

/* Some states with the same hands that need not sound alike. */
static struct some draw_some(const struct sweep *s, size_t at, size_t count)
{
    struct some b = {.count = 0};
    const struct place *first = &s->atlas.place[s->start[at]];
    for (size_t k = at; k < s->starts && b.count < count; k++) {
        const struct stance *x = &s->atlas.place[s->start[k]].stance;
        bool twice = false;
        for (size_t i = 0; i < b.count; i++)
            twice = twice || b.place[i] == s->start[k];
        if (!twice && stance_shown(&s->b.w, x) == stance_shown(&s->b.w, &first->stance) &&
            isfinite(s->atlas.place[s->start[k]].cost))
            b.place[b.count++] = s->start[k];
    }
    for (size_t i = 0; i < b.count; i++)
        b.p[i] = (double)(i + 1) / (double)(b.count * (b.count + 1) / 2);
    return b;
}

static void no_plan_that_finds_out_is_cheaper_on_small_cases(void **state)
{
    static const struct { const char *clock; size_t states; int depth; } rows[] = {
        {"italian-six", 4, 3},        {"longcase-countwheel-78", 4, 3}, {"longcase-rack", 3, 3}, {"mantel-countwheel-90", 4, 3},
        {"chime-no-corrector", 3, 2}, {"floor-westminster-rack", 3, 2}, {"ships-bell", 3, 3},    {"countwheel-double", 4, 3},
    };
    size_t same = 0, tried = 0;
    (void)state;
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct sweep *s = sweep_of(rows[i].clock);
        for (size_t k = 0; k + 8 < s->starts; k += s->starts / (long_run() ? 60 : 12) + 1) {
            struct some b = draw_some(s, k, rows[i].states);
            struct stance may_be[BELIEF_MOST];
            if (b.count < 2)
                continue;
            for (size_t m = 0; m < b.count; m++)
                may_be[m] = s->atlas.place[b.place[m]].stance;
            struct plan *p = plan_find(&s->b.r, may_be, b.p, b.count);
            double best = search_some(&s->atlas, &b, rows[i].depth);
            if (p->found && p->optimal && p->cost > best + 1e-6)
                fail_msg("%s: plan %.4f, exhaustive search %.4f", rows[i].clock, p->cost, best);
            tried += p->optimal;
            same += fabs(p->cost - best) < 1e-6;
            plan_free(p);
        }
    }
    assert_true(tried > 60);
    assert_true(same > tried / 2); /* the others take more deeds than were searched */
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(from_every_state_of_every_clock_the_plan_ends_in_step),
        cmocka_unit_test(the_plan_is_never_longer_than_a_published_recipe),
        cmocka_unit_test(no_order_of_deeds_is_cheaper_on_small_cases),
        cmocka_unit_test(no_plan_that_finds_out_is_cheaper_on_small_cases),
    };
    return cmocka_run_group_tests(tests, make_all, release_all);
}
