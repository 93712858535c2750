#include "resync/deed.h"

#include <math.h>
#include <string.h>

#define WAIT_MOST_MIN 240 /* nobody waits longer for a clock to be caught up (ours) */
#define LEVER_CLEAR_MIN 5

static const struct deed_row rows[DEEDS] = {
    [DEED_FREE] = {"free", 2, 0.5, "pinch"},
    [DEED_WIND] = {"wind", 2, 0, "none"},
    [DEED_HELP] = {"pull_weight", 0.5, 0.2, "pinch"},
    [DEED_LEVER_STRIKE] = {"silent_strike", 0.2, 0, "none"},
    [DEED_LEVER_CHIME] = {"silent_chime", 0.2, 0, "none"},
    [DEED_FORWARD] = {"forward", 0.1, 0, "none"},
    [DEED_QUICK] = {"forward_quick", 0.02, 0, "none"},
    [DEED_ON] = {"on", 0.1, 0, "none"},
    [DEED_BACK] = {"back", 0.02, 0.03, "none"},
    [DEED_TRIP_STRIKE] = {"trip_strike", 0.1, 0, "none"},
    [DEED_TRIP_CHIME] = {"trip_chime", 0.1, 0, "none"},
    [DEED_HOUR_HAND] = {"hour_hand", 1, 0.3, "none"},
    [DEED_MINUTE_BUSH] = {"minute_bush", 4, 1, "none"},
    [DEED_FIT] = {"fit_hands", 3, 0, "none"},
    [DEED_WAIT] = {"wait", 0.2, 0, "none"},
    [DEED_DRUM] = {"drum", 30, 15, "spring"},
    [DEED_TUNE] = {"tune", 0.2, 0, "none"},
};

const struct deed_row *deed_row(enum deed d)
{
    return &rows[d];
}

struct minds minds_by_day(void)
{
    return (struct minds){.blow_min = 0.01, .note_min = 0.002, .wait_min = 1};
}

struct minds minds_by_night(void)
{
    return (struct minds){.blow_min = 0.3, .note_min = 0.08, .wait_min = 1};
}

/* --- the clock to be set ------------------------------------------------------------------- */

static int least_gap(const struct clock *c)
{
    int least = c->lobe_period_min;
    for (int m = 0; m < c->lobe_period_min; m++)
        if (clock_lobe_at(c, m) >= 0 && clock_next_lobe(c, m) < least)
            least = clock_next_lobe(c, m);
    return least;
}

/* Ten to fifteen minutes back is what is advised; always clear of the warning. */
static int lead_of(const struct clock *c)
{
    int lead = c->warn_min + 5 > 10 ? c->warn_min + 5 : 10, gap = least_gap(c);
    return lead < gap ? lead : gap - 2 > c->warn_min ? gap - 2 : gap - 1;
}

static bool racks_only(const struct clock *c)
{
    bool rack = false;
    for (int i = TRAIN_STRIKE; i < TRAINS; i++) {
        rack = rack || c->train[i].control == CONTROL_RACK;
        if (c->train[i].control == CONTROL_COUNT_WHEEL || (c->train[i].control && c->train[i].by != BY_LOBES))
            return false;
    }
    return rack;
}

void reset_init(struct reset *r, const struct works *w, int target_min, const struct minds *minds)
{
    *r = (struct reset){.w = w, .minds = minds ? *minds : minds_by_day(), .want_tune = -1};
    r->target_min = stance_fold(w->clock, target_min);
    r->lead_min = lead_of(w->clock);
    r->quick = racks_only(w->clock) && w->clock->back != BACK_NO;
    for (int m = 0; m < 1440;) { /* nothing changes between two lobes */
        struct rest due = stance_rest(w->clock, rest_in_step(w, (m + 1) % 1440));
        int next = m + clock_next_lobe(w->clock, m);
        for (; m < next && m < 1440; m++)
            r->due[m] = due;
    }
}

void reset_release(struct reset *r)
{
    event_list_release(&r->events);
}

bool reset_in_step(const struct reset *r, const struct stance *s)
{
    return stance_works_agree(r->w, s) && rest_agrees(r->w, s->rest, r->due[stance_shown(r->w, s)]);
}

static bool sounding(const struct stance *s)
{
    return !(s->rest.flags & (REST_SILENT_STRIKE | REST_SILENT_CHIME));
}

/* Levers and selector as they should be left. */
static bool left_well(const struct reset *r, const struct stance *s)
{
    return sounding(s) && (r->want_tune < 0 || (s->rest.tune & 15) == r->want_tune);
}

bool reset_done(const struct reset *r, const struct stance *s)
{
    return left_well(r, s) && !s->hands_off && (r->any_time || stance_shown(r->w, s) == r->target_min) && reset_in_step(r, s);
}

int reset_wait(const struct reset *r, const struct stance *s)
{
    int early = stance_fold(r->w->clock, stance_shown(r->w, s) - r->target_min);
    if (early == 0 || early > WAIT_MOST_MIN || !left_well(r, s) || stance_warned(r->w->clock, s))
        return 0;
    return reset_in_step(r, s) ? early : 0;
}

/* --- what is allowed ------------------------------------------------------------------------ */

static bool any_out(const struct clock *c, struct rest r)
{
    if (rest_power(r, TRAIN_GOING) == POWER_OUT)
        return true;
    for (int i = TRAIN_STRIKE; i < TRAINS; i++)
        if (clock_train(c, (enum event_train)i) && c->train[i].control && c->train[i].power.drive &&
            c->train[i].shares < 0 && rest_power(r, i) == POWER_OUT)
            return true;
    return false;
}

/* A lever that was set to silent in the warning holds the train there for good: set back to sound, well
 * before the next let-off, it lets it go. */
static bool lever_clear(const struct clock *c, const struct stance *s, bool to_silent)
{
    return stance_ahead(c, s) > LEVER_CLEAR_MIN && stance_ahead(c, s) > c->warn_min && !(to_silent && stance_warned(c, s));
}

static bool back_allowed(const struct clock *c, const struct stance *s)
{
    return c->back != BACK_NO && !stance_warned(c, s) && !stance_rack_down(c, s);
}

static const struct snail *snail_of_lobe(const struct clock *c, int lobe)
{
    const struct train *t = &c->train[TRAIN_STRIKE];
    return t->control == CONTROL_RACK && lobe >= 0 && t->use[lobe].read == READ_SNAIL
               ? &t->snail[t->use[lobe].snail] : NULL;
}

/* The let-off after which the steep face comes round: twelve, on an hour snail. */
static bool before_face(const struct clock *c, int lobe_min)
{
    const struct snail *s = snail_of_lobe(c, clock_lobe_at(c, lobe_min));
    if (!s || (s->bevelled && c->train[TRAIN_STRIKE].sprung_tail))
        return false;
    int here = s->teeth[snail_step_at(s, lobe_min)];
    int then = s->teeth[snail_step_at(s, lobe_min + c->lobe_period_min)];
    return then < here - 2;
}

static bool quick_allowed(const struct reset *r, const struct stance *s)
{
    const struct clock *c = r->w->clock;
    return r->quick && !stance_rack_down(c, s) && !stance_warned(c, s) &&
           !before_face(c, (s->work_min + stance_ahead(c, s)) % 1440);
}

static bool bush_allows(const struct clock *c, int amount)
{
    return c->minute_bush || (c->minute_square && amount % 15 == 0);
}

static int entry_change(const struct train *t, int quarter)
{
    int sum = 0;
    for (int i = 0; i < quarter; i++)
        sum += t->entry[i];
    return t->tunes && t->tune[0]->changes ? sum % t->tune[0]->changes : 0;
}

int deed_drum_error(const struct clock *c, struct rest r)
{
    const struct train *t = &c->train[TRAIN_CHIME];
    if (t->control != CONTROL_COUNT_WHEEL || !t->tunes || !t->tune[0]->changes)
        return 0;
    int n = t->tune[0]->changes;
    return (entry_change(t, r.quarter) - r.drum + n) % n;
}

/* How the hands sit when they are put on so that they show `shown_min`. */
struct seat {
    int minute_off, hour_off;
};

static struct seat seat_of(const struct clock *c, const struct stance *s, int shown_min)
{
    int error = stance_fold(c, shown_min - s->work_min), minute = (error + 30) % 60 - 30;
    return (struct seat){minute, stance_hour_off(c, error - minute)};
}

/* Nobody puts hands on unless the clock waits just behind a let-off. */
static bool fit_allowed(const struct reset *r, const struct stance *s, int shown_min)
{
    const struct clock *c = r->w->clock;
    struct seat seat = seat_of(c, s, shown_min);
    return s->hands_off && stance_since(c, s) == 0 && (!seat.minute_off || bush_allows(c, seat.minute_off)) &&
           (!seat.hour_off || !c->hour_hand_keyed);
}

static bool allowed(const struct reset *r, const struct stance *s, enum deed d, int amount)
{
    const struct clock *c = r->w->clock;
    switch (d) {
    case DEED_FREE:
        return s->rest.stuck != STUCK_NOT;
    case DEED_WIND:
        return any_out(c, s->rest);
    case DEED_HELP:
        return stance_rack_down(c, s) && !s->rest.stuck;
    case DEED_LEVER_STRIKE:
        return c->silent_strike && lever_clear(c, s, amount);
    case DEED_LEVER_CHIME:
        return c->silent_chime && lever_clear(c, s, amount);
    case DEED_FORWARD:
        return amount == (s->hands_off ? 0 : stance_ahead(c, s));
    case DEED_QUICK:
        return amount == stance_ahead(c, s) && quick_allowed(r, s);
    case DEED_ON:
        return amount > 0 && amount < stance_ahead(c, s) && !s->hands_off;
    case DEED_BACK:
        return amount > 0 && back_allowed(c, s) && !s->hands_off;
    case DEED_TRIP_STRIKE:
        return c->trip_strike && !r->minds.no_trip && !stance_warned(c, s);
    case DEED_TRIP_CHIME:
        return c->trip_chime && !r->minds.no_trip && !stance_warned(c, s);
    case DEED_HOUR_HAND:
        return !c->hour_hand_keyed && !r->minds.no_hands_off_pipe && !s->hands_off && !stance_warned(c, s);
    case DEED_MINUTE_BUSH:
        return bush_allows(c, amount) && !r->minds.no_hands_off_pipe && !s->hands_off &&
               !stance_warned(c, s) && (!c->hour_hand_keyed || (amount < 15 && amount > -15));
    case DEED_FIT:
        return fit_allowed(r, s, amount);
    case DEED_DRUM:
        return r->minds.bench && deed_drum_error(c, s->rest) == amount && amount;
    case DEED_TUNE:
        return c->selector && lever_clear(c, s, true);
    case DEED_WAIT:
        return amount > 0 && amount == reset_wait(r, s);
    case DEEDS:
        break;
    }
    return false;
}

/* --- doing it --------------------------------------------------------------------------------- */

static bool turned(struct reset *r, struct moment *m, int minutes, enum turner by, struct chance *chance)
{
    return movement_turn(r->w, m, minutes, by, chance, &r->events) == minutes && !m->rest.stuck;
}

static bool run(struct reset *r, struct moment *m, enum deed d, int amount, struct chance *chance)
{
    static const enum action action[DEEDS] = {
        [DEED_FREE] = ACTION_FREE,           [DEED_WIND] = ACTION_WIND,
        [DEED_HELP] = ACTION_PULL_WEIGHT,    [DEED_LEVER_STRIKE] = ACTION_SILENT_STRIKE,
        [DEED_LEVER_CHIME] = ACTION_SILENT_CHIME, [DEED_TRIP_STRIKE] = ACTION_TRIP_STRIKE,
        [DEED_TRIP_CHIME] = ACTION_TRIP_CHIME,    [DEED_HOUR_HAND] = ACTION_HOUR_HAND,
        [DEED_MINUTE_BUSH] = ACTION_MINUTE_BUSH,  [DEED_DRUM] = ACTION_DRUM,
        [DEED_TUNE] = ACTION_TUNE,
    };
    switch (d) {
    case DEED_FORWARD:
        return turned(r, m, clock_next_lobe(r->w->clock, m->work_min), BY_HAND, chance);
    case DEED_ON:
        return turned(r, m, amount, BY_HAND, chance);
    case DEED_QUICK:
        return turned(r, m, amount, BY_HAND_QUICK, chance);
    case DEED_BACK:
        return turned(r, m, -amount, BY_HAND, chance);
    case DEED_HELP:
        return movement_do(r->w, m, ACTION_PULL_WEIGHT, TRAIN_STRIKE, chance, &r->events);
    case DEED_WAIT:
    case DEED_FIT:
        return true;
    default:
        return movement_do(r->w, m, action[d], amount, chance, &r->events);
    }
}

static double last_s(const struct event_list *events, double t_s)
{
    for (size_t i = 0; i < events->count; i++)
        t_s = events->at[i].t_s > t_s ? events->at[i].t_s : t_s;
    return t_s;
}

static double seconds(const struct reset *r, const struct moment *m, enum deed d)
{
    if (d == DEED_QUICK)
        return m->t_s;
    return last_s(&r->events, m->t_s);
}

static void fit(struct moment *m, const struct reset *r, const struct stance *from, int shown_min)
{
    struct seat seat = seat_of(r->w->clock, from, shown_min);
    m->minute_off = seat.minute_off - (int)lround(r->w->par[PAR_minute_off_min]);
    m->hour_off = seat.hour_off - (int)lround(r->w->par[PAR_hour_off_min]);
}

bool deed_do(struct reset *r, const struct stance *from, enum deed d, int amount, struct done *out)
{
    struct chance chance;
    struct moment m = stance_moment(from);
    if (!allowed(r, from, d, amount))
        return false;
    chance_script(&chance, 1e-9);
    event_list_clear(&r->events);
    if (!run(r, &m, d, amount, &chance))
        return false;
    if (d == DEED_FIT)
        fit(&m, r, from, amount);
    *out = (struct done){.deed = d, .amount = amount, .to = stance_of(r->w, &m)};
    out->to.hands_off = d == DEED_FIT ? 0 : from->hands_off;
    out->heard = rung_of(r->w->clock, &r->events);
    if (d == DEED_FORWARD && from->hands_off && !r->w->clock->minute_bush && !r->w->clock->minute_square)
        out->heard.pointed = (out->to.work_min + 59) % 60 + 1;
    out->minutes = rows[d].minutes + (d == DEED_WAIT ? amount : seconds(r, &m, d) / 60);
    out->cost = rows[d].minutes + rows[d].risk_min +
                (d == DEED_WAIT ? amount * r->minds.wait_min : seconds(r, &m, d) / 60) +
                out->heard.blows * r->minds.blow_min +
                (out->heard.notes + out->heard.music) * r->minds.note_min;
    return true;
}

/* --- all that may be done ----------------------------------------------------------------------- */

struct gather {
    struct reset *r;
    const struct stance *from;
    struct done *list;
    size_t n;
};

static struct done *offer(struct gather *g, enum deed d, int amount)
{
    if (g->n == DEEDS_MOST || !deed_do(g->r, g->from, d, amount, &g->list[g->n]))
        return NULL;
    if (stance_same(&g->list[g->n].to, g->from))
        return NULL;
    return &g->list[g->n++];
}

static void offer_turning(struct gather *g)
{
    const struct stance *s = g->from;
    const struct clock *c = g->r->w->clock;
    int ahead = stance_ahead(c, s), since = stance_since(c, s);
    int shown = stance_shown(g->r->w, s);
    int on = stance_fold(c, g->r->target_min - shown), back = stance_fold(c, shown - g->r->target_min);
    if (on > 0 && on < ahead && !s->hands_off)
        offer(g, DEED_ON, on);
    offer(g, DEED_FORWARD, s->hands_off ? 0 : ahead);
    if (s->hands_off)
        return;
    offer(g, DEED_QUICK, ahead);
    if (back > 0 && back < since)
        offer(g, DEED_BACK, back);
    offer(g, DEED_BACK, since + g->r->lead_min);
}

static void offer_levers(struct gather *g)
{
    unsigned flags = g->from->rest.flags;
    bool strike = flags & REST_SILENT_STRIKE, chime = flags & REST_SILENT_CHIME;
    if (strike || !g->r->minds.no_levers)
        offer(g, DEED_LEVER_STRIKE, !strike);
    if (chime || !g->r->minds.no_levers)
        offer(g, DEED_LEVER_CHIME, !chime);
}

/* Moving a hand on its pipe changes nothing in the mechanism, so it may as well be done last:
 * only moves that leave the clock in step are offered. */
static void offer_hour_hand(struct gather *g)
{
    const struct clock *c = g->r->w->clock;
    int hours = c->dials_24 ? 24 : 12;
    for (int k = 1; k < hours; k++) {
        int amount = 60 * (k > hours / 2 ? k - hours : k);
        struct done *d = offer(g, DEED_HOUR_HAND, amount);
        if (d && !reset_in_step(g->r, &d->to))
            g->n--;
    }
}

static void offer_minute_hand(struct gather *g)
{
    const struct clock *c = g->r->w->clock;
    bool wrong = !stance_minutes_agree(g->r->w, g->from);
    if (!c->minute_bush && !c->minute_square)
        return;
    for (int amount = -30; amount <= 30; amount++) {
        struct stance then = *g->from;
        then.minute_off = (int16_t)(then.minute_off + amount);
        if (!amount || then.minute_off < -30 || then.minute_off > 30 || !stance_minutes_agree(g->r->w, &then) ||
            (!wrong && amount != 30 && amount != -30))
            continue;
        offer(g, DEED_MINUTE_BUSH, amount);
    }
}

/* Hands out of the tin, all ways they go on; `in_step`: only those that leave it in step, else those
 * that agree with motion work and snail though a count is still out. */
static void offer_fits(struct gather *g, bool in_step)
{
    const struct clock *c = g->r->w->clock;
    int hours = c->cycle_min > 720 ? 24 : 12;
    for (int minute = -30; minute < 30; minute++)
        for (int k = 0; k < hours; k++) {
            struct done *d;
            if ((minute && !bush_allows(c, minute)) ||
                !(d = offer(g, DEED_FIT, stance_fold(c, g->from->work_min + minute + 60 * k))))
                continue;
            if (!c->hour_hand_keyed && !(in_step ? reset_in_step(g->r, &d->to) : stance_works_agree(g->r->w, &d->to)))
                g->n--;
        }
}

/* They go on so that they agree with what was just let off; where they cannot, they go on straight, and
 * the counts are brought to them afterwards. */
static void offer_fit(struct gather *g)
{
    size_t before = g->n;
    offer_fits(g, true);
    if (g->n == before)
        offer_fits(g, false);
}

size_t deeds_from(struct reset *r, const struct stance *from, struct done list[DEEDS_MOST])
{
    struct gather g = {r, from, list, 0};
    if (from->rest.stuck || any_out(r->w->clock, from->rest)) {
        offer(&g, DEED_WIND, 0);
        offer(&g, DEED_FREE, 0);
        return g.n;
    }
    offer(&g, DEED_HELP, 0);
    offer_turning(&g);
    offer_levers(&g);
    if (r->want_tune >= 0)
        offer(&g, DEED_TUNE, r->want_tune);
    offer(&g, DEED_TRIP_STRIKE, 0);
    offer(&g, DEED_TRIP_CHIME, 0);
    offer(&g, DEED_DRUM, deed_drum_error(r->w->clock, from->rest));
    if (from->hands_off) {
        offer_fit(&g);
        return g.n;
    }
    offer_hour_hand(&g);
    offer_minute_hand(&g);
    return g.n;
}
