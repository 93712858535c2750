#include "draw/plate_pose.h"

#include <math.h>
#include <string.h>

/* Counts before entry `entry` of a count wheel. */
static double counts_before(const struct train *t, int entry)
{
    double sum = 0;
    for (int i = 0; i < entry && i < t->entries; i++)
        sum += t->entry[i];
    return sum;
}

static double share_wound(struct rest r, int train)
{
    static const double share[] = {[POWER_OUT] = 0, [POWER_LOW] = 0.2, [POWER_GOOD] = 0.65,
                                   [POWER_FULL] = 1};
    return share[rest_power(r, train)];
}

/* The lifting piece climbs during the minutes before a lobe and drops at it. */
static double lift_at(const struct clock *c, double work_min)
{
    int at = (int)floor(work_min), ahead = clock_next_lobe(c, at % 1440);
    double to_go = at + ahead - work_min, climb = c->warn_min + 5.0;
    return c->lobes == 0 || to_go > climb ? 0 : 1 - to_go / climb;
}

static void hands_show(struct plate_pose *p, const struct works *w, const struct moment *m,
                       double past_min)
{
    double shown = moment_shown(w, m) + past_min;
    p->minute_deg = fmod(shown, 60) * 6;
    p->hour_deg = fmod(shown, 720) * 0.5 + m->hour_off * 0.5;
    p->work_min = fmod(m->work_min + past_min, 1440);
}

void plate_pose_rest(struct plate_pose *p, const struct works *w, const struct moment *m)
{
    const struct clock *c = w->clock;
    const struct train *strike = &c->train[TRAIN_STRIKE], *chime = &c->train[TRAIN_CHIME];
    memset(p, 0, sizeof *p);
    hands_show(p, w, m, 0);
    p->lift[TRAIN_STRIKE] = p->lift[TRAIN_CHIME] = lift_at(c, p->work_min);
    p->rack = strike->control == CONTROL_RACK ? m->rest.left : 0;
    p->count = counts_before(strike, m->rest.count) - m->rest.left;
    p->count_lever = m->rest.left > 0 && strike->control == CONTROL_COUNT_WHEEL;
    p->quarter = counts_before(chime, m->rest.quarter);
    p->drum = m->rest.drum;
    p->corrector = (m->rest.flags & REST_CORRECTOR) != 0;
    p->silent_strike = (m->rest.flags & REST_SILENT_STRIKE) != 0;
    p->silent_chime = (m->rest.flags & REST_SILENT_CHIME) != 0;
    p->tune = m->rest.tune & 15;
    p->stuck = (enum stuck)m->rest.stuck;
    for (int t = 0; t < TRAINS; t++) {
        p->turned[t] = t == TRAIN_GOING ? m->work_min : m->used[t];
        p->wound[t] = share_wound(m->rest, t);
    }
}

/* ---- a stretch of time with events ---- */

#define NEVER (-1e9)

/* How one train ran: found by walking its events once. */
struct run {
    double warn_s, release_s, end_s, blow_s; /* of the let-off that t lies in; or NEVER */
    double next_s;                           /* next blow after t, or NEVER */
    int done, left, total;                   /* blows of that let-off before and after t */
    int before;                              /* blows of earlier let-offs in the list */
};

static bool is_end(const struct event *e)
{
    return e->kind == EVENT_LOCK || e->kind == EVENT_STALL || e->kind == EVENT_JAM ||
           e->kind == EVENT_POWER_OUT;
}

/* The let-off that is on at t: the last one of this train that has begun. */
static int letoff_on(const struct event_list *list, int train, double t_s)
{
    int on = EVENT_NO_LETOFF;
    for (size_t i = 0; i < list->count && list->at[i].t_s <= t_s; i++)
        if (list->at[i].train == train && list->at[i].letoff != EVENT_NO_LETOFF)
            on = list->at[i].letoff;
    return on;
}

/* Several hammers may fall in one count: count moments, not hammers. */
static bool same_count(const struct event *a, const struct event *b, double gap_s)
{
    return b && fabs(a->t_s - b->t_s) < gap_s;
}

static void run_take_blow(struct run *r, const struct event *e, double t_s)
{
    r->total++;
    if (e->t_s <= t_s) {
        r->done++;
        r->blow_s = e->t_s;
    } else {
        r->left++;
        if (r->next_s <= NEVER)
            r->next_s = e->t_s;
    }
}

static struct run run_of(const struct works *w, const struct event_list *list, int train,
                         double t_s)
{
    struct run r = {.warn_s = NEVER, .release_s = NEVER, .end_s = NEVER, .blow_s = NEVER,
                    .next_s = NEVER};
    int on = letoff_on(list, train, t_s);
    double gap_s = train == TRAIN_CHIME ? 0.02 : 0.45 * w->pace[train].interval_s[POWER_GOOD];
    const struct event *last = NULL;
    for (size_t i = 0; i < list->count; i++) {
        const struct event *e = &list->at[i];
        if (e->train != train)
            continue;
        bool counts = event_sounds(e) && !same_count(e, last, gap_s);
        if (event_sounds(e))
            last = counts ? e : last;
        if (e->letoff != on) {
            r.before += counts && e->t_s < t_s;
            continue;
        }
        if (counts)
            run_take_blow(&r, e, t_s);
        else if (e->kind == EVENT_WARN)
            r.warn_s = e->t_s;
        else if (e->kind == EVENT_RELEASE)
            r.release_s = e->t_s;
        else if (is_end(e))
            r.end_s = e->t_s;
    }
    return r;
}

static double clamp01(double v)
{
    return v < 0 ? 0 : v > 1 ? 1 : v;
}

/* Blows run so far, with the part between two blows. */
static double run_turned(const struct run *r, double t_s)
{
    double done = r->before + r->done;
    double from = r->done > 0 ? r->blow_s : r->release_s;
    if (r->next_s > from && from > NEVER && t_s >= from)
        return done + clamp01((t_s - from) / (r->next_s - from));
    if (r->warn_s > NEVER && t_s < r->release_s)
        return done + 0.12 * clamp01((t_s - r->warn_s) / 0.4);
    return done;
}

static bool run_is_on(const struct run *r, double t_s)
{
    return r->release_s > NEVER && t_s >= r->release_s && (r->end_s <= NEVER || t_s < r->end_s) &&
           (r->left > 0 || r->end_s > t_s);
}

static void pose_strike(struct plate_pose *p, const struct works *w, const struct event_list *list,
                        double t_s)
{
    const struct train *t = &w->clock->train[TRAIN_STRIKE];
    struct run r = run_of(w, list, TRAIN_STRIKE, t_s);
    double turned = run_turned(&r, t_s);
    bool on = run_is_on(&r, t_s);
    p->turned[TRAIN_STRIKE] += turned;
    if (t->control == CONTROL_RACK && r.total > 0 && r.release_s > NEVER) {
        double fell_s = r.warn_s > NEVER && t->fall == FALL_AT_WARNING ? r.warn_s : r.release_s;
        double most = r.total < t->rack_teeth ? r.total : t->rack_teeth;
        double depth = most - (r.total > most ? 0 : r.done);
        if (on && r.next_s > NEVER && r.blow_s > NEVER && r.next_s - t_s < 0.25 * (r.next_s - r.blow_s))
            depth -= r.total > most ? 0 : 1 - (r.next_s - t_s) / (0.25 * (r.next_s - r.blow_s));
        p->rack = t_s < fell_s ? p->rack : depth * clamp01((t_s - fell_s) / 0.18);
        p->hook = on ? 0.5 * fabs(sin(M_PI * turned)) : 0;
    }
    p->count += t->control == CONTROL_COUNT_WHEEL ? turned : 0;
    if (on)
        p->count_lever = 1;
    else if (r.end_s > NEVER && t_s >= r.end_s)
        p->count_lever = 0;
}

static void pose_chime(struct plate_pose *p, const struct works *w, const struct event_list *list,
                       double t_s)
{
    const struct train *t = &w->clock->train[TRAIN_CHIME];
    const struct tune *tune = t->tunes > 0 ? t->tune[p->tune < t->tunes ? p->tune : 0] : NULL;
    struct run r = run_of(w, list, TRAIN_CHIME, t_s);
    double turned = run_turned(&r, t_s), notes = 4;
    if (tune && tune->changes > 0)
        notes = (double)tune->notes / tune->changes;
    p->turned[TRAIN_CHIME] += turned;
    p->quarter += tune ? turned / notes : turned;
    p->drum += tune ? turned / notes : turned;
    p->quarter_lever = run_is_on(&r, t_s);
    if (r.release_s > NEVER && t_s > r.release_s)
        p->corrector = 0;
}

/* A hammer rises over the last 0.35 s before its blow and rings for some seconds after. */
static void pose_hammers(struct plate_pose *p, const struct event_list *list, double t_s)
{
    for (size_t i = 0; i < list->count; i++) {
        const struct event *e = &list->at[i];
        if (!event_sounds(e) || e->sounder >= CLOCK_SOUNDERS)
            continue;
        double ago = t_s - e->t_s;
        double *h = &p->hammer[e->sounder], *r = &p->ring[e->sounder];
        if (ago < 0 && ago > -0.35)
            *h = fmax(*h, 1 + ago / 0.35);
        else if (ago >= 0 && ago < 0.06)
            *h = fmax(*h, 1 - ago / 0.06);
        if (ago >= 0 && ago < 3)
            *r = fmax(*r, (double)e->strength * exp(-ago * 1.5));
    }
}

void plate_pose_at(struct plate_pose *p, const struct works *w, const struct moment *before,
                   const struct event_list *list, double t_s)
{
    plate_pose_rest(p, w, before);
    double past_min = (t_s - before->t_s) / 60;
    if (before->rest.stuck != STUCK_NOT)
        past_min = 0;
    hands_show(p, w, before, past_min);
    p->lift[TRAIN_STRIKE] = p->lift[TRAIN_CHIME] = lift_at(w->clock, p->work_min);
    p->turned[TRAIN_GOING] += past_min;
    p->swing = sin(M_PI * t_s);
    if (list) {
        pose_strike(p, w, list, t_s);
        pose_chime(p, w, list, t_s);
        pose_hammers(p, list, t_s);
    }
}
