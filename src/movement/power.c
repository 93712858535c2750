#include "movement/power.h"

#include <math.h>

#define PI 3.14159265358979323846
#define GRAVITY 9.81
#define AIR_KG_M3 1.2
#define PLATE_CD 1.28
#define HAMMER_SHARE 0.35 /* of the drive, where a clock file gives no weight or spring (ours) */

static int strokes_of(const struct train *t, int lobe)
{
    return t->patterns ? t->pattern[t->use[lobe].pattern].strokes : 1;
}

static double wheel_total(const struct train *t)
{
    double sum = 0;
    for (int i = 0; i < t->entries; i++)
        sum += t->entry[i];
    return sum;
}

/* Counts made in one day at one lobe by a train that reads a snail. */
static double snail_daily(const struct clock *c, const struct train *t, int lobe)
{
    const struct snail *s = &t->snail[t->use[lobe].snail];
    double sum = 0, n = 1440.0 / c->lobe_period_min;
    for (int i = 0; i < s->steps; i++)
        sum += s->teeth[i];
    return s->steps ? sum / s->steps * n : n;
}

static double lobe_daily(const struct clock *c, const struct train *t, int lobe)
{
    double n = 1440.0 / c->lobe_period_min;
    switch (t->use[lobe].read) {
    case READ_SNAIL:
        return snail_daily(c, t, lobe);
    case READ_ONE:
        return n;
    case READ_COUNT:
        return t->entries ? wheel_total(t) / t->entries * n : n;
    case READ_NOTHING:
    case READ_PASSING:
        break;
    }
    return 0;
}

static double notes_a_change(const struct train *t)
{
    const struct tune *u = t->tunes ? t->tune[0] : NULL;
    return u && u->changes ? (double)u->notes / u->changes : 1;
}

double power_daily(const struct clock *c, enum event_train role)
{
    const struct train *t = clock_train(c, role);
    double sum = 0;
    if (role == TRAIN_GOING)
        return 1;
    if (!t)
        return 0;
    for (int i = 0; i < c->lobes; i++)
        sum += lobe_daily(c, t, i) * (t->control == CONTROL_RUN ? 1 : strokes_of(t, i));
    if (t->tunes)
        sum *= t->control == CONTROL_RUN ? t->tune[0]->notes : notes_a_change(t);
    return sum > 0 ? sum : 24;
}

double power_capacity(const struct clock *c, enum event_train role)
{
    double days = c->train[role].power.days;
    if (days <= 0)
        days = 8;
    return days * power_daily(c, role);
}

/* Torque against half wound. */
static double level_factor(const struct power *p, enum power_level level)
{
    if (p->drive != DRIVE_SPRING || p->spring_mid_nmm <= 0)
        return 1;
    if (level == POWER_FULL)
        return p->spring_full_nmm / p->spring_mid_nmm;
    return level == POWER_LOW ? p->spring_low_nmm / p->spring_mid_nmm : 1;
}

/* Work of one blow at the barrel as made, half wound, millijoules. */
static double drive_as_made(const struct clock *c, enum event_train role)
{
    const struct power *p = &c->train[role].power;
    double turns = p->turns * 2 * PI, blows = power_capacity(c, role), torque_nmm = 0;
    if (p->drive == DRIVE_WEIGHT)
        torque_nmm = p->weight_kg * GRAVITY * p->barrel_mm / 2;
    else
        torque_nmm = p->spring_mid_nmm;
    double mj = blows > 0 ? torque_nmm * turns / blows : 0;
    double hammers = p->hammer_mj > 0 ? p->hammer_mj : 1;
    double least = hammers * 1.5 / (1 - p->loss); /* a clock file that cannot run is no clock */
    return mj > least ? mj : mj > 0 ? least : hammers / HAMMER_SHARE;
}

static int meshes(const struct train *t)
{
    return t->arbors > 2 ? t->arbors - 1 : 4;
}

struct balance power_balance(const struct works *w, enum event_train role, enum power_level level)
{
    const struct train *t = &w->clock->train[role];
    const struct power *p = &t->power;
    double loss = p->loss > 0 ? p->loss : 0.3;
    double each = (1 - pow(1 - loss, 1.0 / meshes(t))) * works_par(w, (int)PAR_friction + (int)role);
    double through = each < 1 ? pow(1 - each, meshes(t)) : 0;
    struct balance b = {0};
    b.drive_mj = drive_as_made(w->clock, role) * level_factor(p, level) * works_par(w, (int)PAR_torque + (int)role);
    if (works_par(w, (int)PAR_dead + (int)role) > 0.5 || level == POWER_OUT)
        b.drive_mj = 0;
    b.hammers_mj = (p->hammer_mj > 0 ? p->hammer_mj : 1) * works_par(w, (int)PAR_hammer_work + (int)role);
    b.lost_mj = b.drive_mj * (1 - through);
    b.fly_mj = b.drive_mj - b.lost_mj - b.hammers_mj;
    b.efficiency = b.drive_mj > 0 ? b.hammers_mj / b.drive_mj : 0;
    return b;
}

double power_fly_drag(double r1_mm, double r2_mm, double h_mm)
{
    double r1 = r1_mm / 1000, r2 = r2_mm / 1000, h = h_mm / 1000;
    return 2 * PLATE_CD * AIR_KG_M3 / 2 * h * (pow(r2, 4) - pow(r1, 4)) / 4;
}

static double fly_work_as_made(const struct works *w, enum event_train role)
{
    struct works made = {.clock = w->clock};
    par_defaults(made.par);
    return power_balance(&made, role, POWER_GOOD).fly_mj;
}

/* What reaches the hammers at the heaviest moment over what lifting them wants. */
static double heavy_margin(const struct works *w, enum event_train role, enum power_level level)
{
    struct balance b = power_balance(w, role, level);
    double heavy = w->clock->train[role].power.heavy;
    double want = b.hammers_mj * (heavy > 1 ? heavy : 1);
    return want > 0 ? (b.drive_mj - b.lost_mj) / want : 9;
}

static void add_bad_arbor(struct pace *p, const struct works *w, enum event_train role,
                          double fly_share)
{
    int bad = (int)lround(works_par(w, (int)PAR_arbor_bad + (int)role));
    const struct train *t = &w->clock->train[role];
    double turns = bad >= 0 && bad < t->arbors ? train_turns_per_blow(t, bad) : 0;
    if (bad < 0)
        return;
    p->period_blows = turns > 0 ? 1 / turns : 1;
    p->swing = 0.5 * works_par(w, (int)PAR_arbor_drag + (int)role) / (fly_share > 0.1 ? fly_share : 0.1);
    if (p->swing > 0.9)
        p->swing = 0.9;
    p->margin *= 1 - works_par(w, (int)PAR_arbor_drag + (int)role);
}

#define UNEVEN 0.1 /* of the torque at the heaviest moment, where friction is half as much again (judgement) */

/* Chance that a gummed train with so little to spare meets a place in a mean run which it does not pass. */
static double seizes_at(double spare, double friction)
{
    double uneven = UNEVEN * fmin(1, 2 * (friction - 1));
    if (uneven <= 0 || spare >= 1 + uneven)
        return 0;
    return spare > 1 ? (1 + uneven - spare) / uneven : 1;
}

struct pace power_pace(const struct works *w, enum event_train role)
{
    const struct power *p = &w->clock->train[role].power;
    struct pace out = {0};
    double made = fly_work_as_made(w, role), drag = works_par(w, (int)PAR_fly_drag + (int)role);
    double interval = p->interval_s > 0 ? p->interval_s : 1.5;
    out.margin = heavy_margin(w, role, POWER_GOOD);
    struct balance b = power_balance(w, role, POWER_GOOD);
    add_bad_arbor(&out, w, role, b.drive_mj > 0 ? b.fly_mj / b.drive_mj : 0);
    for (int level = POWER_LOW; level <= POWER_FULL; level++) {
        struct balance at = power_balance(w, role, (enum power_level)level);
        out.spare[level] = heavy_margin(w, role, (enum power_level)level);
        out.seizes[level] = seizes_at(out.spare[level], works_par(w, (int)PAR_friction + (int)role));
        if (at.fly_mj <= 0 || out.spare[level] < 1)
            continue;
        out.interval_s[level] = interval * sqrt(drag * made / at.fly_mj);
        out.reach[level] = (at.drive_mj - at.lost_mj) / at.fly_mj;
    }
    out.settle_blows = drag > 0 ? 0.4 / drag : 40;
    out.rough = works_par(w, (int)PAR_spring_rough + (int)role) * 0.3;
    if (p->drive == DRIVE_SPRING)
        out.clings = works_par(w, (int)PAR_spring_clings + (int)role);
    out.first_s = pace_interval(&out, POWER_GOOD, 0);
    return out;
}

#define CLING_BLOWS 5.0 /* a run of so many blows wants most of what clinging coils hold back (judgement) */

/* Share of the settled speed that is left when coils cling; 0: what comes no longer lifts the hammers. */
static double held_back(const struct pace *p, enum power_level level, int blow)
{
    double lost = p->clings * (1 - exp(-blow / CLING_BLOWS)), left = 1 - lost * p->reach[level];
    return p->spare[level] * (1 - lost) < 1 || left <= 0 ? 0 : sqrt(left);
}

double pace_interval(const struct pace *p, enum power_level level, int blow)
{
    double settled = p->interval_s[level];
    double reached = 1 - exp(-(blow + 1) / p->settle_blows);
    double s = settled / sqrt(reached > 0.02 ? reached : 0.02);
    if (p->clings > 0 && settled > 0) {
        double speed = held_back(p, level, blow);
        s = speed > 0 ? s / speed : 0;
    }
    if (p->period_blows > 0)
        s *= 1 + p->swing * sin(2 * PI * blow / p->period_blows);
    if (p->rough > 0) /* a dry spring lets go in jerks: uneven, with no period of its own */
        s *= 1 + p->rough * sin(7.3 * blow * blow + 1.1);
    return s;
}
