/* rack.c - rack and snail: the count is read from the hands' own work each time.
 *
 * Let off, the rack falls until its tail meets the snail; the gathering pallet lifts it back one
 * tooth a turn, and every turn is a blow; at the end the pallet's tail locks on the rack pin (or
 * the hook falls deep and locks).  (E. Beckett, Clocks, Watches and Bells, 8th ed., f.165-167.)
 *
 * Measured in teeth of the rack, for a snail step that gives S:
 *
 *     fall = S + 1/2 + tail_teeth + tail_len (S - 1)
 *
 * 1/2 because the hook is set to drop in the middle of a tooth; tail_teeth is an error of the
 * tail's angle, the same everywhere, and tail_len one of its length, which grows along the rack
 * (a wrong length grows, a wrong angle does not: 3.5 of the published notes on hook and tail,
 * mb.nawcc.org/threads/153978).  The whole part of the fall is counted.  Example: 0.6 short with
 * 0.013 a tooth: S = 8 falls 7.99 and counts 7; S = 9 falls 9.004 and counts 9; S = 1 falls 0.9,
 * which unlocks the pallet and counts 1.  Near a tooth's tip the hook may go either way: a fork.
 *
 * A tail that is off to one side passes the snail where the snail stands furthest from it; the
 * rack then falls to its stop.  What the hook lets slip and the pallet fails to carry is joined
 * into one law for the number of turns (turn_law), so that a strike is one fork and not twelve.
 */
#include "movement/passing_priv.h"

#include <math.h>

#define PI 3.14159265358979323846
#define UNLOCK_TEETH 0.4 /* a rack that falls less leaves the pallet locked (ours) */
#define HANG_MASK 0x3f

int rack_hanging(const struct moment *m, enum event_train role)
{
    return role == TRAIN_STRIKE ? m->rest.left : m->rest.quarter & HANG_MASK;
}

static void hang(struct passing *p, enum event_train role, int teeth)
{
    if (role == TRAIN_STRIKE)
        p->m->rest.left = (uint8_t)teeth;
    else
        p->m->rest.quarter = (uint8_t)teeth;
}

/* Minute of the snail's turn under the tail. */
static int snail_minute(const struct works *w, const struct snail *s, int min)
{
    int at = (min + (int)lround(works_par(w, PAR_snail_off_min))) % s->turn_min;
    return at < 0 ? at + s->turn_min : at;
}

/* Index of the step under the tail: the last one begun. */
static int snail_step(const struct works *w, const struct snail *s, int min)
{
    double part = (double)s->turn_min / s->steps, at = snail_minute(w, s, min);
    int best = s->steps - 1;
    double least = 1e9;
    for (int i = 0; i < s->steps; i++) {
        double since = fmod(at - ((i + 1) * part - s->lead_min + s->edge_min[i]), s->turn_min);
        if (since < 0)
            since += s->turn_min;
        if (since < least) {
            least = since;
            best = i;
        }
    }
    return best;
}

int rack_snail_teeth(const struct works *w, const struct train *t, const struct snail *s, int min)
{
    (void)t;
    return s->steps ? s->teeth[snail_step(w, s, min)] : 1;
}

/* How far the tail overlaps the snail, 1 = as made; below 0 it goes past. */
static double tail_engagement(const struct passing *p, const struct snail *s, int min)
{
    double away = par(p, PAR_snail_wobble_at) / 12 * s->turn_min;
    double angle = 2 * PI * (snail_minute(p->w, s, min) - away) / s->turn_min;
    return 1 - par(p, PAR_tail_side) - par(p, PAR_snail_wobble) * (1 + cos(angle)) / 2;
}

static bool tail_passes(struct passing *p, const struct snail *s, int min)
{
    double over = -tail_engagement(p, s, min), edge = 0.04;
    if (over <= -edge)
        return false;
    return chance_yes(p->chance, over >= edge ? 1 : (over + edge) / (2 * edge));
}

/* The tooth the hook takes for a fall of `x` teeth. */
static int hook_takes(struct passing *p, double x)
{
    double zone = par(p, PAR_hook_zone), whole = floor(x + 0.5), off = x - whole;
    if (zone > 0 && fabs(off) < zone)
        return (int)whole - (chance_yes(p->chance, 0.5 + off / (2 * zone)) ? 0 : 1);
    return (int)floor(x);
}

static int within_rack(const struct train *t, double teeth)
{
    int most = t->rack_teeth > 0 ? t->rack_teeth : 12;
    return teeth < 0 ? 0 : teeth > most ? most : (int)teeth;
}

/* How far into a high spot the snail stands, in minutes; -1 when none is under the tail. */
static int into_burr(const struct passing *p, const struct snail *s, int min)
{
    int from = (int)lround(par(p, PAR_snail_burr_at_min)), len = (int)lround(par(p, PAR_snail_burr_min));
    if (from < 0 || !s->steps)
        return -1;
    int into = (snail_minute(p->w, s, min) - from + s->turn_min) % s->turn_min;
    return into < len ? into : -1;
}

#define SNAIL_LAGS 2 /* a snail loose on its pipe hangs behind by more than one step at times */

static double fall_teeth(struct passing *p, const struct snail *s, int read_min)
{
    int step = snail_step(p->w, s, read_min);
    for (int lag = 0; lag < SNAIL_LAGS && happens(p, PAR_snail_slip); lag++)
        step = (step + s->steps - 1) % s->steps;
    double teeth = s->teeth[step];
    double x = teeth + 0.5 + par(p, PAR_tail_teeth) + par(p, PAR_tail_len) * (teeth - 1);
    double loose = par(p, PAR_tail_scatter);
    if (loose > 0)
        x += loose * ((int)chance_pick(p->chance, (double[]){1, 1, 1}, 3) - 1);
    if (s->teeth[step] > 0 && (int)lround(par(p, PAR_snail_worn_step)) == step + 1)
        x += par(p, PAR_snail_worn_teeth);
    if (teeth > 1 && into_burr(p, s, read_min) >= 0)
        x -= 1; /* the tail rests on the high spot, about a tooth higher (ours) */
    return x;
}

/* Teeth the rack falls onto the snail. */
static int fall_to_snail(struct passing *p, const struct train *t, const struct snail *s, int min)
{
    if (tail_passes(p, s, min) || happens(p, PAR_rack_over))
        return within_rack(t, 99);
    double x = fall_teeth(p, s, min);
    if (x < 1)
        return x >= UNLOCK_TEETH ? 1 : 0;
    int n = within_rack(t, hook_takes(p, x));
    if (n < 1)
        n = 1;
    if (n > 3 && chance_yes(p->chance, par(p, PAR_rack_rebound) * n / 12))
        n -= 1 + n / 8; /* the harder it lands the further it bounces */
    return n;
}

/* A rack that sticks on its way stops anywhere short of the snail. */
static int fall_part(struct passing *p, int full)
{
    double even[CHANCE_WAYS];
    unsigned ways = full > CHANCE_WAYS ? CHANCE_WAYS : (unsigned)full;
    for (unsigned i = 0; i < ways; i++)
        even[i] = 1;
    return full < 2 ? full : 1 + (int)chance_pick(p->chance, even, ways);
}

#define QUICK_TEETH 3 /* a fall of so many is done in time, however slow the rack (judgement) */

/* A slow rack is caught on its way down: the longer the fall, the more may be wanting. */
static int fall_slow(struct passing *p, int full)
{
    static const double even[] = {1, 1, 1};
    int most = (full - QUICK_TEETH + 2) / 3;
    if (full <= QUICK_TEETH || !happens(p, PAR_rack_slow))
        return full;
    return full - 1 - (int)chance_pick(p->chance, even, (unsigned)(most < 3 ? most : 3));
}

static int strike_fall(struct passing *p, const struct train *t, const struct lobe_use *use,
                       int min)
{
    if (happens(p, PAR_pallet_bind) || happens(p, PAR_rack_stick))
        return 0;
    bool open = use->read == READ_ONE && happens(p, PAR_half_open);
    if (use->read == READ_ONE && !open)
        return 1;
    int n = fall_slow(p, fall_to_snail(p, t, &t->snail[use->snail], min));
    return happens(p, PAR_rack_part) ? fall_part(p, n) : n;
}

void rack_fall(struct passing *p, enum event_train role, int lobe, int read_min)
{
    const struct train *t = &p->c->train[role];
    const struct lobe_use *use = &t->use[lobe];
    int old = rack_hanging(p->m, role), n;
    if (role == TRAIN_STRIKE)
        n = strike_fall(p, t, use, read_min);
    else if (happens(p, PAR_quarter_rack_stick))
        n = 0;
    else
        n = use->read == READ_ONE ? 1 : rack_snail_teeth(p->w, t, &t->snail[use->snail], read_min);
    hang(p, role, n > old ? n : old);
}

/* Only a fall of one tooth is held up whole: until the high spot has passed the rack cannot fall at
 * all.  Such a fall touches the snail on its highest step only. */
int rack_held_min(struct passing *p, enum event_train role, int lobe)
{
    const struct train *t = &p->c->train[role];
    const struct snail *s = &t->snail[t->use[lobe].read == READ_SNAIL ? t->use[lobe].snail : 0];
    int into = role == TRAIN_STRIKE && t->control == CONTROL_RACK ? into_burr(p, s, p->work_min) : -1;
    if (into < 0 || rack_snail_teeth(p->w, t, s, p->work_min) > 1)
        return 0;
    return (int)lround(par(p, PAR_snail_burr_min)) - into;
}

/* --- gathering ------------------------------------------------------------------------- */

/* What may go wrong in one turn, by the teeth still to gather. */
#define LAW_TEETH 25
#define LAW_TURNS 26
struct turn_chances {
    double slip[LAW_TEETH + 1]; /* the hook lets the rack slip back a tooth when it should hold there */
    double none[LAW_TEETH + 1]; /* no tooth is carried in a turn that starts there */
    double two;                 /* two are, of the turns that carry any */
};

static struct turn_chances turn_chances_of(const struct passing *p)
{
    struct turn_chances c = {.two = par(p, PAR_pallet_two)};
    double any = par(p, PAR_hook_slip_any), miss = par(p, PAR_pallet_miss);
    int tooth = (int)lround(par(p, PAR_hook_tooth)), bent = (int)lround(par(p, PAR_rack_bent_tooth));
    for (int i = 1; i <= LAW_TEETH; i++) {
        c.slip[i] = i == tooth ? 1 - (1 - any) * (1 - par(p, PAR_hook_slip)) : any;
        c.none[i] = i == bent ? 1 : miss;
    }
    return c;
}

/* turns[t] = probability that gathering `teeth` takes t turns; the rest of 1 never ends. */
static void turn_law(const struct passing *p, int teeth, double turns[LAW_TURNS])
{
    struct turn_chances c = turn_chances_of(p);
    double at[LAW_TEETH + 2] = {0};
    at[teeth] = 1;
    for (int t = 1; t < LAW_TURNS; t++) {
        double next[LAW_TEETH + 2] = {0};
        for (int down = 1; down <= teeth; down++) {
            double miss = c.none[down], two = c.two * (1 - miss);
            int low = down >= 2 ? down - 2 : 0;
            double one = 1 - miss - two, s1 = c.slip[down - 1], s2 = c.slip[low];
            next[down] += at[down] * (miss + one * s1);
            next[down - 1] += at[down] * (one * (1 - s1) + two * s2);
            next[low] += at[down] * two * (1 - s2);
        }
        turns[t] = next[0];
        next[0] = 0;
        for (int i = 0; i <= teeth; i++)
            at[i] = next[i];
    }
}

/* Draw the number of turns; -1 when the rack is never gathered. */
static int turns_taken(struct passing *p, int teeth)
{
    double law[LAW_TURNS] = {0}, ways[CHANCE_WAYS], sum = 0;
    int first = teeth > 4 ? teeth - 4 : 1, n = CHANCE_WAYS - 1;
    turn_law(p, teeth, law);
    for (int i = 0; i < n; i++) {
        ways[i] = first + i < LAW_TURNS ? law[first + i] : 0;
        sum += ways[i];
    }
    ways[n] = sum < 1 - 1e-9 ? 1 - sum : 0;
    int way = (int)chance_pick(p->chance, ways, CHANCE_WAYS);
    return way == n ? -1 : first + way;
}

static bool gathers_plainly(const struct passing *p)
{
    return par(p, PAR_hook_slip_any) <= 0 && par(p, PAR_hook_tooth) <= 0 &&
           par(p, PAR_pallet_miss) <= 0 && par(p, PAR_pallet_two) <= 0 &&
           par(p, PAR_rack_bent_tooth) <= 0;
}

/* Extra turns when the locking at the end fails now and then; -1 for ever. */
static int turns_past_lock(struct passing *p)
{
    double q = par(p, PAR_pallet_lock_miss), ways[8], left = 1;
    if (q <= 0)
        return 0;
    for (int i = 0; i < 7; i++) {
        ways[i] = left * (1 - q);
        left *= q;
    }
    ways[7] = left;
    int way = (int)chance_pick(p->chance, ways, 8);
    return way == 7 ? -1 : way;
}

static int strike_turns(struct passing *p, int teeth)
{
    if (happens(p, PAR_hook_up) || (p->m->rest.flags & REST_RACK_LOST))
        return -1;
    int turns = gathers_plainly(p) ? teeth : turns_taken(p, teeth);
    int more = turns < 0 ? -1 : turns_past_lock(p);
    return more < 0 ? -1 : turns + more;
}

#define QUARTER_WAYS 6

/* Turns of the pallet of a quarter rack; -1 for ever.  Every turn that carries nothing adds one. */
static int quarter_turns(struct passing *p, int teeth)
{
    double miss = par(p, PAR_quarter_pallet_miss), ways[QUARTER_WAYS], left = 1, at = 1;
    if (happens(p, PAR_quarter_hook_up))
        return -1;
    if (miss <= 0)
        return teeth;
    at = pow(1 - miss, teeth);
    for (int i = 0; i < QUARTER_WAYS - 1; i++) { /* negative binomial: i misses before the last tooth */
        ways[i] = at;
        left -= at;
        at *= miss * (teeth + i) / (i + 1);
    }
    ways[QUARTER_WAYS - 1] = left > 0 ? left : 0;
    int way = (int)chance_pick(p->chance, ways, QUARTER_WAYS);
    return way == QUARTER_WAYS - 1 ? -1 : teeth + way;
}

struct run rack_gather(struct passing *p, enum event_train role, int lobe)
{
    const struct train *t = &p->c->train[role];
    struct run run = {.role = role, .pattern = t->use[lobe].pattern};
    int teeth = rack_hanging(p->m, role);
    run.odd_blow = t->use[lobe].odd_blow;
    if (!teeth) /* the pallet stays locked on the rack pin; a hook that locks gives one turn */
        teeth = t->lock == LOCK_HOOK ? 1 : 0;
    run.blows = teeth;
    if (teeth) {
        int turns = role == TRAIN_STRIKE ? strike_turns(p, teeth) : quarter_turns(p, teeth);
        run.run_on = turns < 0;
        run.blows = turns < 0 ? 0 : turns;
    }
    hang(p, role, 0);
    return run;
}
