/* letoff.c - from the lobe to the released train: lift, warning, release.
 *
 * The minute arbor carries a lobe under the lifting piece.  Lifted far enough it lets the train
 * run up to the warning; lifted fully, and dropped, it lets it go.  In units of the lift as made:
 *
 *     WARN_NEED     the train runs up to the warning
 *     RELEASE_NEED  it is let go when the lever drops
 *     FREE_NEED     the corrector is thrown off; only the taller hour lobe (TALL) reaches it
 *
 * Lifting is work for the going train, given through the friction of the cannon tube.  If that is
 * too little the hands stall under the lift while pendulum or balance goes on; if the going
 * train itself is too weak the clock stops.  All shares here are ours.
 *
 * Warning: the warning wheel runs a part of a turn and is caught.  A run too short gives the
 * train too little way to start from (more is wanted when the corrector or a hammer on the rise
 * loads it), and shorter still the pin lands on the lever's edge and wedges both trains; a run
 * too long brings the pin past before the lever is up, and the train goes at the warning.  What
 * the lifting piece then still holds up (a count lever, the hook of a rack that falls at the
 * warning) cannot lock, so the train strikes on and on until the piece drops at the hour.
 *
 * A train that was put together so that it locks with the hammer nearly at the top of its lift
 * drops it in the run up to the warning: one blow some minutes before, and one less at the hour.
 */
#include "movement/passing_priv.h"

#include <math.h>
#include "movement/power.h"

#define WARN_NEED 0.55
#define RELEASE_NEED 0.85
#define FREE_NEED 1.1
#define TALL 0.2
#define LIFT_SHARE 0.35      /* load of the lift against the cannon friction, as made */
#define GOING_SHARE 0.55     /* and against what the going train can give */
#define STALL_LEAD_MIN 2     /* the load is worst so long before the warning */
#define HAND_MINUTE_S 0.5

double passing_minute_s(const struct passing *p)
{
    return p->by == BY_TIME ? 60 : HAND_MINUTE_S;
}

void passing_emit(struct passing *p, enum event_kind kind, enum event_train role, int sounder,
                  unsigned quality, double strength)
{
    if (!p->out)
        return;
    int shown = moment_shown(p->w, p->m) +
                (int)floor((p->t_s - p->base_s) / passing_minute_s(p) + 1e-6);
    struct event e = {.t_s = p->t_s, .kind = (uint8_t)kind, .train = (uint8_t)role};
    e.hand_min = (int16_t)(((shown % 1440) + 1440) % 1440);
    e.letoff = (int16_t)p->m->letoff;
    e.sounder = sounder < 0 ? EVENT_NO_SOUNDER : (uint8_t)sounder;
    e.quality = (uint8_t)quality;
    e.strength = (float)strength;
    event_list_add(p->out, e);
}

static enum event_train power_source(const struct clock *c, enum event_train role)
{
    int shared = c->train[role].shares;
    return shared > 0 && shared < TRAINS ? (enum event_train)shared : role;
}

enum power_level passing_power(const struct passing *p, enum event_train role)
{
    if (par_train(p, PAR_dead, role) > 0.5)
        return POWER_OUT;
    return rest_power(p->m->rest, power_source(p->c, role));
}

void passing_power_out(struct passing *p, enum event_train role)
{
    passing_emit(p, EVENT_RUN_ON, role, -1, 0, 0);
    passing_emit(p, EVENT_POWER_OUT, role, -1, 0, 0);
    rest_set_power(&p->m->rest, power_source(p->c, role), POWER_OUT);
}

void passing_spent(struct passing *p, enum event_train role)
{
    passing_emit(p, EVENT_STALL, role, -1, 0, 0);
    passing_emit(p, EVENT_POWER_OUT, role, -1, 0, 0);
    rest_set_power(&p->m->rest, power_source(p->c, role), POWER_OUT);
}

/* --- lift ------------------------------------------------------------------------------ */

static double lift_reached(struct passing *p)
{
    const struct lobe *lobe = &p->c->lobe[p->lobe];
    double lift = 1 - par(p, PAR_lift_loss) + (lobe->tall ? TALL : 0);
    double scatter = par(p, PAR_lift_scatter);
    lift -= p->lobe == 0 ? par(p, PAR_lift_loss_hour) : par(p, PAR_lift_loss_quarters);
    if ((int)lround(par(p, PAR_lobe_miss)) == p->lobe || happens(p, PAR_letoff_miss))
        return 0;
    if (scatter > 0)
        lift += scatter * ((int)chance_pick(p->chance, (double[]){1, 1, 1}, 3) - 1);
    return lift;
}

/* Hands or clock held under the lift: true when the lobe is not passed. */
static bool lift_stalls(struct passing *p)
{
    const struct lobe *lobe = &p->c->lobe[p->lobe];
    double load = par(p, PAR_lift_load) * (1 + (lobe->tall ? TALL : 0));
    double grip = par(p, PAR_cannon_grip);
    double going = par_train(p, PAR_torque, TRAIN_GOING) / sqrt(par_train(p, PAR_friction, TRAIN_GOING));
    bool hands = load * LIFT_SHARE > grip, clock = load * LIFT_SHARE > going / (2 * GOING_SHARE);
    if (p->by != BY_TIME || (!hands && !clock))
        return false;
    int jam = (int)lround(par(p, PAR_lift_stand_min));
    int lead = jam >= 0 ? jam : p->c->warn_min + STALL_LEAD_MIN;
    bool hold = hands && (!clock || grip <= going / (2 * GOING_SHARE));
    p->m->work_min = (p->m->work_min + 1440 - lead) % 1440;
    p->m->t_s -= lead * 60.0;
    p->base_s = p->t_s = p->m->t_s;
    passing_emit(p, hold ? EVENT_HAND_STALL : EVENT_STALL, TRAIN_GOING, -1, 0, 0);
    p->m->rest.stuck = hold ? STUCK_HANDS : STUCK_GOING;
    return true;
}

/* --- what keeps a train from going off at all ------------------------------------------- */

static bool by_night(const struct passing *p)
{
    int from = p->c->night_from_min, to = p->c->night_to_min;
    int at = (p->work_min + (int)lround(par(p, PAR_night_off_min)) + 1440) % 1440;
    if (from == to)
        return false;
    return from < to ? at >= from && at < to : at >= from || at < to;
}

bool passing_hushed(const struct passing *p, enum event_train role)
{
    int hidden = (int)lround(par(p, PAR_silenced));
    if (role == TRAIN_STRIKE)
        return (p->m->rest.flags & REST_SILENT_STRIKE) || (hidden & 1) || by_night(p);
    if (role == TRAIN_CHIME)
        return (p->m->rest.flags & REST_SILENT_CHIME) || (hidden & 2) || by_night(p);
    return false;
}

/* Silence that keeps the train itself from going; where it only holds the hammers off, the train
 * runs and the count goes on. */
static bool silenced(const struct passing *p, enum event_train role)
{
    return !p->c->hush_hammers && passing_hushed(p, role);
}

static bool held_stuck(const struct passing *p, enum event_train role)
{
    static const enum stuck own[TRAINS] = {STUCK_GOING, STUCK_STRIKE, STUCK_CHIME, STUCK_MUSIC};
    return p->m->rest.stuck == own[role];
}

#define HOLDS_ON 0.5 /* share of the pivots that seize and have not let go by the next let-off; a guess */

/* A pivot that seized for a moment may be free again when the train is next let off, and coils that
 * clung have crept after it; what lacks strength stays where it is. */
static bool stays_stuck(struct passing *p, enum event_train role)
{
    if (!held_stuck(p, role))
        return false;
    double seizes = passing_seizing(p, role);
    bool crept = seizes <= 0 && works_pace(p->w, (int)role)->clings > 0;
    if (!crept && (seizes <= 0 || chance_yes(p->chance, seizes < 1 ? seizes * HOLDS_ON : 1)))
        return true;
    p->m->rest.stuck = STUCK_NOT;
    return false;
}

/* The corrector: true when the chime stays locked. */
static bool corrector_holds(struct passing *p)
{
    if (!(p->m->rest.flags & REST_CORRECTOR))
        return false;
    if (p->lift >= FREE_NEED && !happens(p, PAR_corrector_no_free)) {
        p->m->rest.flags &= (uint8_t)~REST_CORRECTOR;
        return false;
    }
    passing_emit(p, EVENT_CLICK, TRAIN_CHIME, -1, 0, 0);
    return true;
}

/* --- warning ----------------------------------------------------------------------------- */

static uint8_t warned_flag(enum event_train role)
{
    return role == TRAIN_CHIME ? REST_WARNED_CHIME : REST_WARNED_STRIKE;
}

/* Run of the warning wheel a train must make to be sure of starting. */
static double run_needed(const struct passing *p, enum event_train role)
{
    const struct train *t = &p->c->train[role];
    double need = 0.22 + (p->dropped ? 0 : 0.3 * par_train(p, PAR_rise, role));
    if (role == TRAIN_CHIME && t->corrector && p->c->lobe[p->lobe].tall)
        need += 0.2; /* the corrector lever rides on it too */
    return need;
}

static double ramp(double x)
{
    return x < 0 ? 0 : x > 1 ? 1 : x;
}

static bool wedges(struct passing *p, enum event_train role)
{
    double run = par_train(p, PAR_warn_run, role);
    return chance_yes(p->chance, 0.6 * ramp((0.15 - run) / 0.15));
}

static bool fails_to_start(struct passing *p, enum event_train role)
{
    double run = par_train(p, PAR_warn_run, role), need = run_needed(p, role);
    if (chance_yes(p->chance, par_train(p, PAR_trip_gum, role)))
        return true;
    return chance_yes(p->chance, ramp((need - run) / 0.12));
}

static bool runs_past_warning(struct passing *p, enum event_train role)
{
    double run = par_train(p, PAR_warn_run, role);
    return chance_yes(p->chance, ramp((run - 0.9) / 0.1)) ||
           chance_yes(p->chance, par_train(p, PAR_warn_miss, role));
}

static int warning_min(const struct passing *p)
{
    return p->c->warn_min + (int)lround(par(p, PAR_warn_early_min));
}

enum warning { WARN_DONE, WARN_NONE, WARN_WEDGED, WARN_RAN_PAST };

#define LIFT_OF_BLOW 0.67        /* of the time from blow to blow the hammer is on the lift (ours) */
#define WARNING_TURNS_A_BLOW 6.0 /* of the warning wheel, where the clock's file gives no wheels */

/* Share of a full lift that the run up to the warning works. */
static double lifted_in_warning(const struct passing *p, enum event_train role)
{
    const struct train *t = &p->c->train[role];
    double turns = t->warning_on >= 0 ? train_turns_per_blow(t, t->warning_on) : 0;
    double run = par_train(p, PAR_warn_run, role);
    return run / ((turns > 0 ? turns : WARNING_TURNS_A_BLOW) * LIFT_OF_BLOW);
}

/* The hammer stands so high when the train is locked that the run up to the warning lets it off its pin. */
static bool drops_at_warning(const struct passing *p, enum event_train role)
{
    double rise = par_train(p, PAR_rise, role);
    return role == TRAIN_STRIKE && rise > 0 && rise + lifted_in_warning(p, role) >= 1;
}

static void drop_hammer(struct passing *p, enum event_train role)
{
    const struct train *t = &p->c->train[role];
    const struct pattern *pt = &t->pattern[t->use[p->lobe].pattern];
    hammer_fall(p, role, pt->strokes ? pt->stroke[0].sounder : 0, 1);
    p->dropped = true;
}

/* Run up to the warning, at its time. */
static enum warning run_up(struct passing *p, enum event_train role)
{
    const struct train *t = &p->c->train[role];
    double now = p->t_s;
    int early = warning_min(p);
    enum warning done = WARN_DONE;
    p->t_s = p->base_s - early * passing_minute_s(p);
    if (t->control == CONTROL_RACK && t->fall == FALL_AT_WARNING)
        rack_fall(p, role, p->lobe, p->work_min - early);
    if (passing_power(p, role) == POWER_OUT) {
        done = WARN_NONE;
    } else {
        passing_emit(p, EVENT_WARN, role, -1, 0, 0);
        if (wedges(p, role))
            done = WARN_WEDGED;
        else if (runs_past_warning(p, role))
            done = WARN_RAN_PAST;
        else if (drops_at_warning(p, role))
            drop_hammer(p, role);
    }
    if (done != WARN_RAN_PAST)
        p->t_s = now;
    return done;
}

static void wedged(struct passing *p, enum event_train role)
{
    int early = warning_min(p);
    p->m->work_min = (p->m->work_min + 1440 - early) % 1440;
    p->m->t_s -= early * passing_minute_s(p);
    p->t_s = p->base_s = p->m->t_s;
    passing_emit(p, EVENT_JAM, role, -1, 0, 0);
    p->m->rest.stuck = STUCK_WARNING;
}

/* --- release ----------------------------------------------------------------------------- */

static void run_strike(struct passing *p, enum event_train role, int lobe)
{
    const struct train *t = &p->c->train[role];
    struct run run = {.role = role, .blows = 1, .pattern = t->use[lobe].pattern};
    if (t->control == CONTROL_RACK)
        run = rack_gather(p, role, lobe);
    else if (t->control == CONTROL_COUNT_WHEEL)
        run = count_run(p, role, lobe);
    if (happens(p, PAR_stick_up))
        run.run_on = true;
    if (!run.blows && !run.run_on && !p->held_blows) {
        passing_emit(p, EVENT_CLICK, role, -1, 0, 0);
        return;
    }
    run.blows += p->held_blows - (p->dropped && run.blows ? 1 : 0);
    passing_emit(p, EVENT_RELEASE, role, -1, 0, 0);
    hammer_run(p, &run);
}

/* The lifting piece keeps count lever or hook up until it drops. */
static bool held_till_drop(const struct train *t)
{
    return t->role == TRAIN_STRIKE && (t->control == CONTROL_COUNT_WHEEL ||
                                       (t->control == CONTROL_RACK && t->fall == FALL_AT_WARNING));
}

/* Past its warning: off at once, and nothing can lock it before the lifting piece drops. */
static void strike_from_warning(struct passing *p, enum event_train role)
{
    const struct train *t = &p->c->train[role];
    double drop_s = p->base_s + p->late_min * passing_minute_s(p);
    if (held_till_drop(t))
        p->held_blows = hammer_blows_until(p, role, drop_s);
    passing_release(p, role, p->lobe);
    p->held_blows = 0;
}

/* The train let off by another runs up to its warning while that one is running, and is let go at
 * its end.  Past its warning it starts at once, in the midst of the other. */
static void handed_on(struct passing *p, enum event_train role, int lobe)
{
    uint8_t flag = warned_flag(role);
    bool waiting = p->m->rest.flags & flag;
    double end_s = p->t_s;
    if (!waiting && wedges(p, role)) {
        passing_emit(p, EVENT_JAM, role, -1, 0, 0);
        p->m->rest.stuck = p->c->train[role].by == BY_CHIME ? STUCK_CHIME : STUCK_STRIKE;
        return;
    }
    if (!waiting && runs_past_warning(p, role)) {
        p->t_s = p->run_from_s + 1;
    } else if (!waiting && fails_to_start(p, role)) {
        passing_emit(p, EVENT_CLICK, role, -1, 0, 0);
        p->m->rest.flags |= flag;
        return;
    } else {
        p->t_s += 1.5;
    }
    p->m->rest.flags &= (uint8_t)~flag;
    passing_release(p, role, lobe);
    p->t_s = p->t_s > end_s ? p->t_s : end_s;
}

/* A grande sonnerie set to petite: the hours are struck at the hour only. */
static bool left_out(const struct passing *p, enum event_train role, int lobe)
{
    return role == TRAIN_STRIKE && p->c->hours_selector && (p->m->rest.tune & 15) && lobe != 0;
}

void passing_hand_over(struct passing *p, enum let_off_by by, int lobe)
{
    for (int i = TRAIN_STRIKE; i < TRAINS; i++) {
        const struct train *t = clock_train(p->c, (enum event_train)i);
        if (!t || t->by != by || t->use[lobe].read == READ_NOTHING || left_out(p, (enum event_train)i, lobe))
            continue;
        if (happens(p, PAR_handover_miss))
            passing_emit(p, EVENT_CLICK, (enum event_train)i, -1, 0, 0);
        else if (!silenced(p, (enum event_train)i) && !stays_stuck(p, (enum event_train)i))
            handed_on(p, (enum event_train)i, lobe);
    }
}

static void train_goes(struct passing *p, enum event_train role, int lobe)
{
    const struct train *t = &p->c->train[role];
    p->run_from_s = p->t_s;
    if (role == TRAIN_MUSIC) {
        passing_emit(p, EVENT_RELEASE, role, -1, 0, 0);
        music_run(p);
    } else if (role == TRAIN_CHIME && t->control == CONTROL_COUNT_WHEEL && t->tunes) {
        passing_emit(p, EVENT_RELEASE, role, -1, 0, 0);
        chime_run(p); /* hands over by its own count wheel */
    } else {
        run_strike(p, role, lobe);
        if (!p->m->rest.stuck)
            passing_hand_over(p, role == TRAIN_STRIKE ? BY_STRIKE : BY_CHIME, lobe);
        return;
    }
    if (role == TRAIN_STRIKE && !p->m->rest.stuck)
        passing_hand_over(p, BY_STRIKE, lobe);
}

void passing_release(struct passing *p, enum event_train role, int lobe)
{
    const struct train *t = &p->c->train[role];
    if (silenced(p, role) || held_stuck(p, role))
        return;
    bool fallen = t->by == BY_LOBES && t->fall == FALL_AT_WARNING && !t->flirt && p->c->warn_min > 0;
    if (t->control == CONTROL_RACK && !fallen)
        rack_fall(p, role, lobe, p->work_min + p->late_min);
    if (passing_power(p, role) == POWER_OUT) {
        passing_emit(p, EVENT_CLICK, role, -1, 0, 0);
        return;
    }
    train_goes(p, role, lobe);
}

static void passing_blow(struct passing *p, enum event_train role)
{
    const struct train *t = &p->c->train[role];
    const struct pattern *pt = &t->pattern[t->use[p->lobe].pattern];
    if (silenced(p, role) || happens(p, PAR_passing_lost) || happens(p, PAR_hammers_dead_strike))
        return;
    for (int i = 0; i < (pt->strokes ? pt->strokes : 1); i++)
        hammer_fall(p, role, pt->strokes ? pt->stroke[i].sounder : 0, 1);
}

/* The lever drops on the wedge of chances and settings of this lobe. */
static void find_lateness(struct passing *p)
{
    int scatter = (int)lround(par(p, PAR_letoff_scatter_min));
    p->late_min = (int)lround(par(p, PAR_letoff_late_min));
    if (scatter > 0)
        p->late_min += scatter * ((int)chance_pick(p->chance, (double[]){1, 1, 1}, 3) - 1);
}

/* One train let off by the lobe itself: warning, then release. */
static void lobe_lets_off(struct passing *p, enum event_train role)
{
    const struct train *t = &p->c->train[role];
    uint8_t flag = warned_flag(role);
    bool warning = p->c->warn_min > 0 && !t->flirt;
    if (silenced(p, role) || stays_stuck(p, role))
        return;
    uint8_t locked = role == TRAIN_CHIME ? p->m->rest.flags & REST_CORRECTOR : 0;
    if (role == TRAIN_CHIME && corrector_holds(p))
        return;
    if (t->use[p->lobe].read == READ_ONE && happens(p, PAR_half_lost))
        return; /* the short lift does not raise the hook at all */
    bool waiting = p->m->rest.flags & flag;
    if (warning && !waiting) {
        enum warning w = run_up(p, role);
        if (w == WARN_WEDGED) {
            wedged(p, role);
            return;
        }
        p->m->rest.flags |= flag;
        if (w == WARN_RAN_PAST) {
            strike_from_warning(p, role);
            p->m->rest.flags &= (uint8_t)~flag;
            return;
        }
    }
    if (waiting && t->control == CONTROL_RACK && t->fall == FALL_AT_WARNING)
        rack_fall(p, role, p->lobe, p->work_min - warning_min(p)); /* the hook is raised again */
    if (p->lift < RELEASE_NEED || (!waiting && fails_to_start(p, role))) {
        passing_emit(p, EVENT_CLICK, role, -1, 0, 0);
        p->m->rest.flags |= locked; /* the corrector falls back with the lever */
        if (passing_power(p, role) == POWER_OUT || !warning || p->lift < RELEASE_NEED)
            p->m->rest.flags &= (uint8_t)~flag;
        return;
    }
    p->late_min += rack_held_min(p, role, p->lobe);
    p->t_s = p->base_s + p->late_min * passing_minute_s(p);
    passing_release(p, role, p->lobe);
    p->m->rest.flags &= (uint8_t)~flag;
}

/* At the small strike the quarters that follow the hour are let off without it. */
static void quarters_alone(struct passing *p)
{
    p->run_from_s = p->t_s;
    passing_hand_over(p, BY_STRIKE, p->lobe);
}

static void all_trains(struct passing *p)
{
    static const enum event_train order[] = {TRAIN_CHIME, TRAIN_STRIKE, TRAIN_MUSIC};
    double quiet = p->t_s;
    for (size_t i = 0; i < sizeof order / sizeof order[0]; i++) {
        const struct train *t = clock_train(p->c, order[i]);
        enum reading read = t ? t->use[p->lobe].read : READ_NOTHING;
        if (read == READ_NOTHING || t->by != BY_LOBES || p->m->rest.stuck == STUCK_WARNING)
            continue;
        p->t_s = quiet;
        if (read == READ_PASSING)
            passing_blow(p, order[i]);
        else if (left_out(p, order[i], p->lobe))
            quarters_alone(p);
        else
            lobe_lets_off(p, order[i]);
        quiet = p->t_s > quiet ? p->t_s + 3 : quiet;
    }
}

/* Trains may sound at once: put the events of this let-off in order of time. */
static void in_order(struct event_list *out, size_t from)
{
    for (size_t i = from + 1; out && i < out->count; i++)
        for (size_t k = i; k > from && out->at[k].t_s < out->at[k - 1].t_s; k--) {
            struct event swap = out->at[k];
            out->at[k] = out->at[k - 1];
            out->at[k - 1] = swap;
        }
}

/* A going part that fails stops where it will: a quarter of the times under the load of the lift, else anywhere
 * since the let-off before (shares ours). */
static void stop_somewhere(struct passing *p)
{
    static const double share[] = {4, 3, 3, 3, 3};
    int behind = 1;
    while (behind < p->c->lobe_period_min && clock_lobe_at(p->c, (p->work_min + 1440 - behind) % 1440) < 0)
        behind++;
    int back = (int)chance_pick(p->chance, share, 5) * behind / 5;
    p->m->work_min = (p->m->work_min + 1440 - back) % 1440;
    p->m->t_s -= back * 60.0;
    p->base_s = p->t_s = p->m->t_s;
    passing_emit(p, EVENT_STALL, TRAIN_GOING, -1, 0, 0);
    p->m->rest.stuck = STUCK_GOING;
}

int movement_letoff(const struct works *w, struct moment *m, int lobe, enum turner by,
                    struct chance *chance, struct event_list *out)
{
    struct passing p = {.w = w, .c = w->clock, .m = m, .chance = chance, .out = out,
                        .lobe = lobe, .by = by, .work_min = m->work_min, .base_s = m->t_s,
                        .t_s = m->t_s, .phase = -1};
    if (lift_stalls(&p))
        return 0;
    if (by == BY_TIME && happens(&p, PAR_going_stop)) {
        stop_somewhere(&p);
        return 0;
    }
    p.lift = lift_reached(&p);
    find_lateness(&p);
    p.t_s = p.base_s + p.late_min * passing_minute_s(&p);
    size_t before = out ? out->count : 0;
    if (p.lift >= WARN_NEED)
        all_trains(&p);
    in_order(out, before);
    m->letoff++;
    if (happens(&p, PAR_minute_loose))
        m->minute_off -= 3; /* the hand lags under the lift */
    return p.late_min;
}
