/* round_reset.c - set a clock in step, each deed heard and paid for; marked against the planner. */
#include <math.h>
#include <string.h>

#include "drill/round_priv.h"
#include "mem.h"
#include "resync/presume.h"
#include "resync/step_text.h"

#define FORBIDDEN_MIN 5.0 /* what a deed that this clock does not allow costs the trainee */
#define WRONG_MIN 10.0    /* and saying it is in step when it is not */

struct offered {
    enum deed deed;
    int amount;
};
#define OFFERED_MOST 24

struct resetting {
    struct works w;
    struct reset reset;
    struct stance at;
    struct offered offer[OFFERED_MOST];
    size_t offers;
    enum deed last;
    struct text best;
};

static bool can_be_out(const struct clock *c)
{
    return c->train[TRAIN_STRIKE].control == CONTROL_COUNT_WHEEL || c->train[TRAIN_CHIME].control == CONTROL_COUNT_WHEEL ||
           (c->train[TRAIN_STRIKE].control == CONTROL_RACK && !c->hour_hand_keyed);
}

static void offer(struct round *r, enum deed d, int amount, const char *words)
{
    struct resetting *s = r->own;
    if (s->offers == OFFERED_MOST)
        return;
    s->offer[s->offers++] = (struct offered){d, amount};
    round_offer(r, 0, "%s", words);
}

static void offer_deeds(struct round *r)
{
    struct resetting *s = r->own;
    const struct clock *c = r->clock;
    int shown = stance_shown(&s->w, &s->at), on = stance_fold(c, s->reset.target_min - shown);
    s->offers = 0;
    round_clear_choices(r);
    offer(r, DEEDS, 0, "It is in step and shows the time");
    offer(r, DEED_FORWARD, stance_ahead(c, &s->at), "Carry the minute hand on to the next let-off and wait");
    if (s->reset.quick)
        offer(r, DEED_QUICK, stance_ahead(c, &s->at), "Carry the minute hand on over the next let-off without waiting");
    if (on && on < stance_ahead(c, &s->at))
        offer(r, DEED_ON, on, "Carry the minute hand on to the time");
    offer(r, DEED_BACK, stance_since(c, &s->at) + s->reset.lead_min, "Take the minute hand back to before the last let-off");
    int back = stance_fold(c, shown - s->reset.target_min);
    if (back && back < stance_since(c, &s->at))
        offer(r, DEED_BACK, back, "Take the minute hand back to the time");
    offer(r, DEED_TRIP_STRIKE, 0, "Trip the strike by its wire or lever");
    if (clock_train(c, TRAIN_CHIME))
        offer(r, DEED_TRIP_CHIME, 0, "Trip the chime by its lever");
    offer(r, DEED_HOUR_HAND, 60, "Turn the hour hand on by one hour on its pipe");
    offer(r, DEED_HOUR_HAND, -60, "Turn the hour hand back by one hour on its pipe");
    if (c->minute_bush || c->minute_square) {
        offer(r, DEED_MINUTE_BUSH, 30, "Put the minute hand half a turn on");
        offer(r, DEED_MINUTE_BUSH, -30, "Put the minute hand half a turn back");
    }
    if (c->silent_strike)
        offer(r, DEED_LEVER_STRIKE, !(s->at.rest.flags & REST_SILENT_STRIKE), "Move the strike's silent lever over");
    if (c->silent_chime)
        offer(r, DEED_LEVER_CHIME, !(s->at.rest.flags & REST_SILENT_CHIME), "Move the chime's silent lever over");
    int wait = stance_fold(c, shown - s->reset.target_min);
    if (wait && wait <= 240)
        offer(r, DEED_WAIT, wait, "Stop the clock until the time has caught up");
}

static void ask(struct round *r)
{
    struct resetting *s = r->own;
    char shown[8], time[8];
    round_prompt(r, "%s. The hands show %s, the time is %s. Spent so far: %.1f minutes. What next?", r->clock->name,
                 text_dial(stance_shown(&s->w, &s->at), shown), text_dial(s->reset.target_min, time), r->spent_min);
    offer_deeds(r);
}

/* Minutes and words of the best plan from here. */
static double best_plan(struct resetting *s, struct text *words)
{
    struct plan *p = plan_find(&s->reset, &s->at, NULL, 1);
    double minutes = p->found ? p->minutes : INFINITY;
    for (size_t i = 0; i < p->steps; i++)
        text_addf(words, "%s%zu. %s (%s)", i ? " " : "", i + 1, p->step[i].text, p->step[i].hear);
    plan_free(p);
    return minutes;
}

/* A state out of step, with the hands at some minute past a let-off that told of it. */
static bool draw_state(struct round *r)
{
    struct resetting *s = r->own;
    struct random *random = &r->room->random;
    struct stance_chance *all;
    int shown = 60 * (int)random_below(random, 12) + 5 * (int)random_below(random, 12);
    size_t n = presume_all(&s->w, shown, &all);
    s->at = all[random_below(random, (unsigned)n)].stance;
    mem_free(all);
    if (!r->clock->hour_hand_keyed && stance_hours_matter(r->clock) && random_below(random, 2)) {
        struct moment m = stance_moment(&s->at);
        m.hour_off = 60 * (1 + (int)random_below(random, 3));
        s->at = stance_of(&s->w, &m);
    }
    return !reset_in_step(&s->reset, &s->at);
}

static bool reset_make(struct round *r)
{
    r->clock = round_draw_clock(r, can_be_out);
    if (!r->clock)
        return false;
    struct resetting *s = r->own = mem_alloc(sizeof *s);
    works_init(&s->w, r->clock, NULL, 0);
    reset_init(&s->reset, &s->w, 60 * (int)random_below(&r->room->random, 12) + 10, NULL);
    for (int tries = 0; tries < 60; tries++) {
        if (!draw_state(r))
            continue;
        text_clear(&s->best);
        r->best_min = best_plan(s, &s->best);
        if (isfinite(r->best_min) && r->best_min < 4 + 2 * r->level) {
            r->part = r->clock->train[TRAIN_CHIME].control == CONTROL_COUNT_WHEEL ? "chime count wheel"
                      : r->clock->train[TRAIN_STRIKE].control == CONTROL_RACK    ? "hour hand" : "count wheel";
            ask(r);
            return true;
        }
    }
    return false;
}

static void finish(struct round *r, bool right)
{
    struct resetting *s = r->own;
    round_review(r, "The shortest way took %.1f minutes: %s", r->best_min, text_cstr(&s->best));
    round_finish(r, right, right ? round_score(r->best_min, r->spent_min) : 0);
}

static void declare(struct round *r)
{
    struct resetting *s = r->own;
    bool right = reset_done(&s->reset, &s->at);
    if (right) {
        round_came(r, "It is.");
        finish(r, true);
        return;
    }
    r->spent_min += WRONG_MIN;
    round_came(r, "It is not; %s.", reset_in_step(&s->reset, &s->at) ? "it does not show the time" : "its sound does not agree with its hands");
    if (r->spent_min > 60)
        finish(r, false);
    else
        ask(r);
}

static void reset_choose(struct round *r, size_t choice)
{
    struct resetting *s = r->own;
    struct offered o = s->offer[choice];
    struct done d;
    struct text heard = {0};
    if (o.deed == DEEDS) {
        declare(r);
        return;
    }
    if (deed_do(&s->reset, &s->at, o.deed, o.amount, &d)) {
        s->at = d.to;
        /* turned on further while it is in the fingers, an hour hand costs hardly more */
        r->spent_min += o.deed == DEED_HOUR_HAND && s->last == o.deed ? 0.1 : d.minutes;
        s->last = o.deed;
        rung_say(&d.heard, r->clock, &heard);
        round_came(r, "Heard: %s.", text_cstr(&heard));
        text_release(&heard);
        if (o.deed == DEED_WAIT) {
            finish(r, true);
            return;
        }
    } else {
        r->spent_min += FORBIDDEN_MIN;
        round_came(r, "This clock does not allow that here, or it does not help; %.0f minutes lost.", FORBIDDEN_MIN);
    }
    if (r->spent_min > 120)
        finish(r, false);
    else
        ask(r);
}

static void reset_free(struct round *r)
{
    struct resetting *s = r->own;
    reset_release(&s->reset);
    text_release(&s->best);
}

/* The offered deed that the best plan begins with; an hour hand goes hour by hour here. */
static size_t reset_best(const struct round *r)
{
    struct resetting *s = r->own;
    size_t best = ROUND_NO_CHOICE;
    struct plan *p = plan_find(&s->reset, &s->at, NULL, 1);
    for (size_t i = 0; i < s->offers && p->found; i++) {
        const struct step *step = p->steps ? &p->step[0] : NULL;
        enum deed d = step ? step->deed : DEEDS;
        bool side = (d != DEED_HOUR_HAND && d != DEED_MINUTE_BUSH) || (s->offer[i].amount > 0) == (step->amount > 0);
        bool short_back = d != DEED_BACK || s->offer[i].amount <= step->amount;
        if (s->offer[i].deed == d && side && short_back)
            best = i;
    }
    plan_free(p);
    return best;
}

const struct round_way round_reset_way = {reset_make, reset_choose, reset_free, reset_best};
