/* round_reset.c - set a clock in step, each deed heard and paid for; marked against the planner.
 *
 * The trainee is told what the hands show and what has just been let off, no more.  The expert is the
 * planner with the same knowledge: it finds out on the way what was not told.  Its minutes with the
 * clock as it really stands are the mark, and a hint is its next deed; who goes another way gets
 * the hints of a new plan, made from all that was heard since.
 */
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
    struct stance at;       /* as it really stands */
    struct offered offer[OFFERED_MOST];
    size_t offers;
    enum deed last;
    int last_amount;
    int heard_at;           /* what the hands showed at the let-off told of */
    struct rung heard;      /* and what it sounded */
    struct text best;
    /* the expert: what the clock may be, the plan, where in it one is, and what is left of that step */
    struct stance_chance *may_be;
    size_t count;
    struct plan *plan;
    const struct plan *at_plan;
    size_t step;
    int left;
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
    char shown[8], time[8], then[8];
    struct text heard = {0};
    rung_say(&s->heard, r->clock, &heard);
    round_prompt(r, "%s. At the let-off of %s it %s%s. The hands show %s, the time is %s. Spent so far: %.1f minutes. What next?",
                 r->clock->name, text_dial(s->heard_at, then), s->heard.phrases ? "sounds " : "", text_cstr(&heard), text_dial(stance_shown(&s->w, &s->at), shown),
                 text_dial(s->reset.target_min, time), r->spent_min);
    text_release(&heard);
    offer_deeds(r);
}

/* --- the expert ---------------------------------------------------------------------------------- */

static void go_to(struct resetting *s, const struct plan *p, size_t step)
{
    s->at_plan = p;
    s->step = step;
    s->left = step < p->steps ? p->step[step].amount : 0;
}

static void plan_anew(struct resetting *s)
{
    struct stance *may_be = mem_alloc((s->count + 1) * sizeof *may_be);
    double *p = mem_alloc((s->count + 1) * sizeof *p);
    for (size_t i = 0; i < s->count; i++) {
        may_be[i] = s->may_be[i].stance;
        p[i] = s->may_be[i].p;
    }
    plan_free(s->plan);
    s->plan = plan_find(&s->reset, may_be, p, s->count);
    go_to(s, s->plan, 0);
    mem_free(may_be);
    mem_free(p);
}

static const struct plan *branch_heard(const struct plan *p, const struct rung *heard)
{
    struct noticed n = noticed_of(heard);
    return plan_branch_heard(p, &n);
}

/* The plan done to the clock as it really stands: minutes, and the steps in words. */
static double follow(struct resetting *s, const struct plan *p, struct stance at, size_t before, struct text *words)
{
    struct done d = {0};
    struct text heard = {0};
    double minutes = 0;
    for (size_t i = 0; i < p->steps; i++) {
        if (!plan_do(&s->reset, &at, p->step[i].deed, p->step[i].amount, &d))
            return INFINITY;
        text_clear(&heard);
        rung_say(&d.heard, s->w.clock, &heard);
        text_addf(words, "%s%zu. %s (%s)", before + i ? " " : "", before + i + 1, p->step[i].text, text_cstr(&heard));
        minutes += d.minutes;
        at = d.to;
    }
    text_release(&heard);
    if (!p->branches)
        return p->found ? minutes : INFINITY;
    const struct plan *then = branch_heard(p, &d.heard);
    return then ? minutes + follow(s, then, at, before + p->steps, words) : INFINITY;
}

/* Minutes of this step that one choice covers. */
static int part_of_step(const struct resetting *s, const struct step *step)
{
    const struct clock *c = s->w.clock;
    int ahead = stance_ahead(c, &s->at), back = stance_since(c, &s->at) + s->reset.lead_min;
    switch (step->deed) {
    case DEED_FORWARD:
    case DEED_QUICK:
        return ahead;
    case DEED_BACK:
        return s->left < back ? s->left : back;
    case DEED_HOUR_HAND:
        return s->left < 0 ? -60 : 60;
    default:
        return step->amount;
    }
}

/* The choice the plan would take now. */
static size_t expert_choice(const struct resetting *s)
{
    const struct step *step = s->step < s->at_plan->steps ? &s->at_plan->step[s->step] : NULL;
    enum deed deed = step ? step->deed : DEEDS;
    int part = step ? part_of_step(s, step) : 0;
    for (size_t i = 0; i < s->offers; i++)
        if (s->offer[i].deed == deed && (s->offer[i].amount == part || (deed == DEED_MINUTE_BUSH && part % 60 == -30)))
            return i;
    return ROUND_NO_CHOICE;
}

/* Everything that may be the case and sounds like this when it is done. */
static void learn(struct resetting *s, const struct offered *o, const struct rung *heard)
{
    struct stance_chance *to = mem_alloc((s->count + 1) * sizeof *to);
    struct noticed noticed = noticed_of(heard);
    size_t n = plan_heard(&s->reset, s->may_be, s->count, o->deed, o->amount, &noticed, to);
    if (!n) /* it was not as told; an expert would look */
        to[n++] = (struct stance_chance){s->at, 1};
    mem_free(s->may_be);
    s->may_be = to;
    s->count = n;
}

/* On along the plan, or a new one when this was not its way. */
static void expert_goes_on(struct resetting *s, const struct offered *o, const struct rung *heard, bool as_planned)
{
    const struct plan *p = s->at_plan;
    if (!as_planned) {
        plan_anew(s);
        return;
    }
    s->left -= o->amount;
    bool more = (o->deed == DEED_FORWARD || o->deed == DEED_QUICK || o->deed == DEED_BACK || o->deed == DEED_HOUR_HAND) && s->left;
    const struct plan *then = !more && s->step + 1 == p->steps ? branch_heard(p, heard) : NULL;
    if (more)
        return;
    if (then)
        go_to(s, then, 0);
    else if (s->step + 1 == p->steps && p->branches)
        plan_anew(s);
    else
        go_to(s, p, s->step + 1);
}

/* --- the round ------------------------------------------------------------------------------------ */

/* A state out of step, with the hands at the let-off that tells of it. */
static bool draw_state(struct round *r)
{
    struct resetting *s = r->own;
    struct random *random = &r->room->random;
    struct stance_chance *all;
    struct done d;
    int shown = 60 * (int)random_below(random, 12) + 5 * (int)random_below(random, 12);
    size_t n = presume_all(&s->w, shown, &all);
    s->at = all[random_below(random, (unsigned)n)].stance;
    mem_free(all);
    if (!r->clock->hour_hand_keyed && stance_hours_matter(r->clock) && random_below(random, 2)) {
        struct moment m = stance_moment(&s->at);
        m.hour_off = 60 * (1 + (int)random_below(random, 3));
        s->at = stance_of(&s->w, &m);
    }
    if (!deed_do(&s->reset, &s->at, DEED_FORWARD, stance_ahead(r->clock, &s->at), &d))
        return false;
    s->at = d.to;
    s->heard = d.heard;
    s->heard_at = stance_shown(&s->w, &s->at);
    return !reset_in_step(&s->reset, &s->at) && (d.heard.blows || d.heard.phrases);
}

/* What may be the case by what is told; false if the truth is not among it. */
static bool presume_told(struct resetting *s)
{
    struct told told = {.hands_min = s->heard_at, .struck = s->heard.blows, .phrases = s->heard.phrases, .at_min = s->heard_at};
    if (!clock_train(s->w.clock, TRAIN_CHIME))
        told.phrases = TOLD_NOTHING;
    mem_free(s->may_be);
    s->may_be = NULL;
    s->count = presume(&s->reset, &told, &s->may_be);
    for (size_t i = 0; i < s->count; i++)
        if (stance_same(&s->may_be[i].stance, &s->at))
            return true;
    return false;
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
        if (!draw_state(r) || !presume_told(s))
            continue;
        text_clear(&s->best);
        plan_anew(s);
        r->best_min = follow(s, s->plan, s->at, 0, &s->best);
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

/* An hour hand goes hour by hour here; turned on while it is in the fingers it costs no more. */
static double price(struct resetting *s, const struct offered *o, const struct done *d)
{
    bool on = o->deed == DEED_HOUR_HAND && s->last == o->deed && s->last_amount == o->amount;
    s->last = o->deed;
    s->last_amount = o->amount;
    return on ? 0 : d->minutes;
}

static void do_deed(struct round *r, const struct offered *o, bool as_planned)
{
    struct resetting *s = r->own;
    struct done d;
    struct text heard = {0};
    if (!deed_do(&s->reset, &s->at, o->deed, o->amount, &d)) {
        r->spent_min += FORBIDDEN_MIN;
        round_came(r, "This clock does not allow that here, or it does not help; %.0f minutes lost.", FORBIDDEN_MIN);
        return;
    }
    r->spent_min += price(s, o, &d);
    s->at = d.to;
    rung_say(&d.heard, r->clock, &heard);
    round_came(r, "Heard: %s.", text_cstr(&heard));
    text_release(&heard);
    learn(s, o, &d.heard);
    expert_goes_on(s, o, &d.heard, as_planned);
    if (o->deed == DEED_WAIT)
        finish(r, true);
}

static void reset_choose(struct round *r, size_t choice)
{
    struct resetting *s = r->own;
    struct offered o = s->offer[choice];
    if (o.deed == DEEDS) {
        declare(r);
        return;
    }
    do_deed(r, &o, choice == expert_choice(s));
    if (r->done)
        return;
    if (r->spent_min > 120)
        finish(r, false);
    else
        ask(r);
}

static void reset_free(struct round *r)
{
    struct resetting *s = r->own;
    plan_free(s->plan);
    mem_free(s->may_be);
    reset_release(&s->reset);
    text_release(&s->best);
}

static size_t reset_best(const struct round *r)
{
    return expert_choice(r->own);
}

const struct round_way round_reset_way = {reset_make, reset_choose, reset_free, reset_best};
