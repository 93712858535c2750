/* hammer.c - hammers, what they fall on, and the running train that lifts them.
 *
 * A count is a pattern of strokes (one hammer; two for bim-bam; call and gong).  How a blow
 * sounds follows from the hammer and its sounder: dead, weak, bouncing (no check spring), resting
 * on the sounder (thud), rattling, hard-faced, exchanged with another.
 */
#include "movement/passing_priv.h"

#include <math.h>
#include "movement/power.h"

static bool is_hammer(const struct passing *p, enum par which, int sounder)
{
    return (int)lround(par(p, which)) == sounder;
}

static int exchanged(const struct passing *p, int sounder)
{
    int a = (int)lround(par(p, PAR_hammer_swap_a)), b = (int)lround(par(p, PAR_hammer_swap_b));
    if (a < 0 || b < 0 || (sounder != a && sounder != b))
        return sounder;
    return sounder == a ? b : a;
}

static unsigned quality_of(const struct passing *p, int sounder)
{
    static const struct {
        enum par par;
        unsigned bit;
    } marks[] = {
        {PAR_hammer_weak, QUALITY_WEAK},   {PAR_hammer_double, QUALITY_DOUBLE},
        {PAR_hammer_thud, QUALITY_THUD},   {PAR_hammer_buzz, QUALITY_BUZZ},
        {PAR_hammer_tinny, QUALITY_TINNY}, {PAR_bellows_lost, QUALITY_WEAK},
    };
    unsigned q = 0;
    for (size_t i = 0; i < sizeof marks / sizeof marks[0]; i++)
        if (is_hammer(p, marks[i].par, sounder))
            q |= marks[i].bit;
    if (par(p, PAR_hammers_loud) > 0.5)
        q |= QUALITY_LOUD;
    if (par(p, PAR_hammers_weak) > 0.5)
        q |= QUALITY_WEAK;
    if (par(p, PAR_sounders_dull) > 0.5)
        q |= QUALITY_THUD;
    return q;
}

bool hammer_lifts(const struct passing *p, int sounder)
{
    return !is_hammer(p, PAR_hammer_bound, sounder);
}

/* A pipe is blown by its bellows; the hammer work moves, and nothing is heard if there is no wind. */
static bool without_wind(const struct passing *p, int sounder)
{
    return par(p, PAR_pipes_mute) > 0.5 && clock_sounder_is_pipe(p->c, sounder);
}

void hammer_fall(struct passing *p, enum event_train role, int sounder, double strength)
{
    if (is_hammer(p, PAR_hammer_dead, sounder) || without_wind(p, sounder) ||
        (p->c->hush_hammers && passing_hushed(p, role)))
        return;
    int on = exchanged(p, sounder);
    unsigned q = quality_of(p, sounder);
    if (q & QUALITY_WEAK)
        strength *= 0.3;
    passing_emit(p, role == TRAIN_STRIKE ? EVENT_BLOW : EVENT_NOTE, role, on, q, strength);
}

/* Which pin of the hammer wheel comes next is not known from the hands: decided at first need. */
static bool pin_missing(struct passing *p, const struct train *t, int blow)
{
    int bad = (int)lround(par(p, PAR_star_pin)), pins = t->pins > 1 ? t->pins : 8;
    double even[CHANCE_WAYS];
    if (bad < 0)
        return false;
    if (pins > CHANCE_WAYS)
        pins = CHANCE_WAYS;
    for (int i = 0; i < pins; i++)
        even[i] = 1;
    if (p->phase < 0)
        p->phase = (int)chance_pick(p->chance, even, (unsigned)pins);
    return (p->phase + blow) % pins == bad % pins;
}

static const struct pattern *coupled(const struct passing *p, const struct train *t, int pattern)
{
    int stuck = (int)lround(par(p, PAR_shift_stuck));
    if (stuck && t->patterns > 1)
        pattern = stuck > 0 ? t->use[0].pattern : 1 - t->use[0].pattern;
    if (pattern < 0 || pattern >= t->patterns)
        pattern = 0;
    return &t->pattern[pattern];
}

static float last_at(const struct pattern *pt)
{
    float most = 0;
    for (int i = 0; i < pt->strokes; i++)
        if (pt->stroke[i].at > most)
            most = pt->stroke[i].at;
    return most;
}

/* The odd blow: a lever holds the last hammer of the last count off. */
static bool held_off(const struct passing *p, const struct run *r, int blow, int stroke,
                     int strokes)
{
    int lever = (int)lround(par(p, PAR_odd_blow));
    bool odd = lever ? lever < 0 : r->odd_blow != p->odd_slip;
    return odd && strokes > 1 && blow == r->blows - 1 && stroke == strokes - 1;
}

/* The strokes of one count in the order of time. */
static bool strokes_fall(struct passing *p, const struct run *r, const struct pattern *pt, int blow,
                         double interval_s)
{
    bool swapped = par(p, PAR_order_swap) > 0.5;
    double start = p->t_s, last = (double)last_at(pt);
    for (int i = 0; i < pt->strokes; i++) {
        int at = swapped ? pt->strokes - 1 - i : i;
        const struct stroke *s = &pt->stroke[at];
        double share = swapped ? last - (double)s->at : (double)s->at;
        if (!hammer_lifts(p, s->sounder))
            return false;
        p->t_s = start + share * interval_s;
        if (!held_off(p, r, blow, at, pt->strokes))
            hammer_fall(p, r->role, s->sounder, 1);
    }
    p->t_s = start;
    return true;
}

static bool letter_falls(struct passing *p, const struct run *r, char letter)
{
    int sounder = letter - 'a';
    if (sounder < 0 || sounder >= p->c->sounders)
        return true;
    if (!hammer_lifts(p, sounder))
        return false;
    hammer_fall(p, r->role, sounder, 1);
    return true;
}

static bool blow_falls(struct passing *p, const struct run *r, const struct pattern *pt, int blow,
                       double interval_s, bool dead)
{
    const struct train *t = &p->c->train[r->role];
    if (dead || pin_missing(p, t, blow))
        return true;
    if (r->letters && r->letters[0]) {
        size_t n = strlen(r->letters);
        return letter_falls(p, r, r->letters[(size_t)blow < n ? (size_t)blow : n - 1]);
    }
    return strokes_fall(p, r, pt, blow, interval_s);
}

static void stalled(struct passing *p, enum event_train role, int left)
{
    static const uint8_t stuck[TRAINS] = {STUCK_GOING, STUCK_STRIKE, STUCK_CHIME, STUCK_MUSIC};
    passing_emit(p, EVENT_STALL, role, -1, 0, 0);
    p->m->rest.stuck = stuck[role];
    if (role == TRAIN_STRIKE)
        p->m->rest.left = (uint8_t)(left > 48 ? 48 : left);
}

double passing_seizing(const struct passing *p, enum event_train role)
{
    double uneven = works_pace(p->w, (int)role)->seizes[passing_power(p, role)];
    return 1 - (1 - par_train(p, PAR_stall, role)) * (1 - uneven);
}

int passing_seizes(struct passing *p, enum event_train role, double runs, int places)
{
    double goes_on = 1 - passing_seizing(p, role), at[CHANCE_WAYS];
    if (places < 1 || !chance_yes(p->chance, 1 - pow(goes_on, runs)))
        return -1;
    at[0] = 1;
    for (int i = 1; i < places; i++)
        at[i] = at[i - 1] * pow(goes_on, runs / places);
    return (int)chance_pick(p->chance, at, (unsigned)places);
}

#define MEAN_BLOWS 6.0 /* of an hour */
#define STALL_PLACES 6

/* The blow before which a failing train stops; past the end when it does not. */
static int stall_before(struct passing *p, const struct run *r, int blows)
{
    int places = blows < STALL_PLACES ? blows : STALL_PLACES;
    if (r->role == TRAIN_STRIKE && happens(p, PAR_bird_stuck))
        return 1;
    int at = passing_seizes(p, r->role, blows / MEAN_BLOWS, places);
    return at < 0 ? blows + 1 : at * blows / places;
}

/* The blow before which the last of the winding is spent; past the end when it lasts. */
static int spent_before(struct passing *p, const struct run *r, int blows)
{
    static const double even[] = {1, 1, 1, 1};
    unsigned ways = blows < 4 ? (unsigned)blows : 4;
    if (ways < 1 || !chance_yes(p->chance, par_train(p, PAR_runs_out, r->role)))
        return blows + 1;
    return (1 + (int)chance_pick(p->chance, even, ways)) * blows / (int)(ways + 1);
}

static void spent(struct passing *p, enum event_train role, int left)
{
    passing_spent(p, role);
    if (role == TRAIN_STRIKE)
        p->m->rest.left = (uint8_t)(left > 48 ? 48 : left);
}

#define UNCOUNTED_BLOWS 400 /* a train struck so long is not asked for more */

int hammer_blows_until(const struct passing *p, enum event_train role, double until_s)
{
    const struct pace *pace = works_pace(p->w, (int)role);
    enum power_level level = passing_power(p, role);
    double at_s = p->t_s;
    int blows = 0;
    for (; blows < UNCOUNTED_BLOWS; blows++) {
        double s = pace_interval(pace, level, blows);
        at_s += blows ? s : s / 2;
        if (s <= 0 || at_s >= until_s)
            break;
    }
    return blows;
}

bool hammer_run(struct passing *p, const struct run *r)
{
    const struct train *t = &p->c->train[r->role];
    const struct pattern *pt = coupled(p, t, r->pattern);
    enum power_level level = passing_power(p, r->role);
    int blows = r->run_on ? RUN_ON_BLOWS : r->blows, stop = stall_before(p, r, blows);
    int last = spent_before(p, r, blows);
    bool dead = r->role == TRAIN_STRIKE ? happens(p, PAR_hammers_dead_strike)
                                        : happens(p, PAR_hammers_dead_chime);
    p->odd_slip = r->role == TRAIN_STRIKE && happens(p, PAR_odd_blow_slip); /* as at the half or the hour before */
    for (int i = 0; i < blows; i++) {
        double s = pace_interval(works_pace(p->w, (int)r->role), level, i);
        if (i == last) {
            spent(p, r->role, blows - i);
            return false;
        }
        if (s <= 0 || i == stop) {
            stalled(p, r->role, blows - i);
            return false;
        }
        p->t_s += i ? s : s / 2;
        if (!blow_falls(p, r, pt, i, s, dead)) {
            stalled(p, r->role, blows - i);
            return false;
        }
    }
    p->m->used[r->role] += blows;
    if (r->run_on)
        passing_power_out(p, r->role);
    else if (blows)
        passing_emit(p, EVENT_LOCK, r->role, -1, 0, 0);
    return true;
}
