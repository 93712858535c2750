/* clock_fit.c - does a finished clock fit together?  Count wheels that add up to the published
 * sum, wheels that come round with the hands, gears that close, bells that have hammers. */
#include "movement/clock_parts.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#define WHOLE 1e-9

struct fit {
    const struct clock_draft *draft;
    const struct clock *clock;
    struct err *e;
    bool good;
};

__attribute__((format(printf, 3, 4))) static void unless(struct fit *f, bool right, const char *fmt,
                                                         ...)
{
    if (right)
        return;
    char line[400];
    va_list args;
    va_start(args, fmt);
    vsnprintf(line, sizeof line, fmt, args);
    va_end(args);
    yaml_complain(f->draft->row, f->e, "clock \"%s\": %s", f->clock->id, line);
    f->good = false;
}

static void fit_periods(struct fit *f)
{
    const struct clock *c = f->clock;
    unless(f, c->cycle_min == 720 || c->cycle_min == 1440,
           "cycle_min is %d; 720 or 1440 is expected.", c->cycle_min);
    unless(f, c->cycle_min % c->lobe_period_min == 0,
           "lobe_period_min %d does not divide cycle_min %d.", c->lobe_period_min, c->cycle_min);
}

static void fit_rack(struct fit *f, const struct train *t)
{
    const char *role = event_train_name(t->role);
    unless(f, t->snails > 0, "the %s train has a rack but no \"snails\".", role);
    unless(f, t->rack_teeth > 0, "the %s train has a rack but no \"rack_teeth\".", role);
    for (int i = 0; i < t->snails; i++) {
        const struct snail *s = &t->snail[i];
        unless(f, s->turn_min % 60 == 0 && f->clock->cycle_min % s->turn_min == 0,
               "snail %d turns in %d minutes, which does not divide the cycle of %d.", i,
               s->turn_min, f->clock->cycle_min);
        unless(f, s->lead_min < s->turn_min / s->steps,
               "the lead of snail %d is longer than one of its steps.", i);
        for (int k = 0; k < s->steps; k++)
            unless(f, s->teeth[k] <= t->rack_teeth,
                   "step %d of snail %d is %d teeth deep, but the rack has %d.", k, i, s->teeth[k],
                   t->rack_teeth);
    }
    for (int i = 0; i < f->clock->lobes; i++)
        unless(f, t->use[i].read != READ_SNAIL || t->use[i].snail < t->snails,
               "the %s train reads snail %d, but has %d.", role, t->use[i].snail, t->snails);
}

static int wheel_lobes(const struct clock *c, const struct train *t)
{
    int n = 0;
    for (int i = 0; i < c->lobes; i++)
        n += t->use[i].read == READ_COUNT;
    return n * (c->cycle_min / c->lobe_period_min);
}

static void fit_count_wheel(struct fit *f, const struct train *t, const struct train_draft *d)
{
    const char *role = event_train_name(t->role);
    int sum = 0;
    for (int i = 0; i < t->entries; i++)
        sum += t->entry[i];
    unless(f, t->entries > 0, "the %s train has a count wheel but no \"entries\".", role);
    unless(f, !d->wheel_blows || d->wheel_blows == sum,
           "the entries of the %s train add up to %d, not to the %d stated as wheel_blows.", role,
           sum, d->wheel_blows);
    if (t->by == BY_LOBES && t->entries)
        unless(f, wheel_lobes(f->clock, t) % t->entries == 0,
               "the count wheel of the %s train has %d entries and is let off %d times a cycle, so "
               "it does not come round with the hands.",
               role, t->entries, wheel_lobes(f->clock, t));
}

static void fit_patterns(struct fit *f, const struct train *t)
{
    bool blows = false;
    for (int i = 0; i < f->clock->lobes; i++) {
        blows = blows || t->use[i].read != READ_NOTHING;
        unless(f, t->use[i].read == READ_NOTHING || t->tunes || t->use[i].pattern < t->patterns,
               "the %s train uses pattern %d at minute %d, but has %d.", event_train_name(t->role),
               t->use[i].pattern, f->clock->lobe[i].minute, t->patterns);
    }
    unless(f, blows || t->role == TRAIN_GOING, "no lobe lets the %s train off; give it a \"use\".",
           event_train_name(t->role));
}

/* What the clock's quarters let off must be what the tune gives them: the k-th lobe after the
 * hour is the tune's k-th quarter, the hour's lobe its last. */
static void fit_quarters(struct fit *f, const struct train *t, const struct tune *tune)
{
    const struct clock *c = f->clock;
    int off = c->lobes == 4 && tune->quarters == 3 ? 3 : c->lobes;
    unless(f, tune->quarters == off,
           "tune \"%s\" has %d quarters, but the clock lets the chime off %d times an hour.",
           tune->id, tune->quarters, off);
    for (int k = 0; f->good && k < c->lobes; k++) {
        int minute = clock_letoff_min(c, k + 1);
        int want = k < tune->quarters ? tune->quarter[k] : 0;
        int have = train_counts_at(c, TRAIN_CHIME, minute);
        unless(f, want == have || t->control != CONTROL_COUNT_WHEEL,
               "at minute %d the count wheel gives %d changes, but tune \"%s\" has %d there.",
               minute % c->lobe_period_min, have, tune->id, want);
    }
}

static int hammers_of(const struct train_draft *d)
{
    return d->hammers ? (int)yaml_count(d->hammers) : 0;
}

static void fit_tunes(struct fit *f, const struct train *t, const struct train_draft *d)
{
    for (int i = 0; i < t->tunes; i++) {
        const struct tune *tune = t->tune[i];
        unless(f, tune->bells <= hammers_of(d),
               "tune \"%s\" wants %d bells, but the %s train has %d hammers.", tune->id,
               tune->bells, event_train_name(t->role), hammers_of(d));
        unless(f, tune->changes == t->tune[0]->changes,
               "tunes \"%s\" and \"%s\" have %d and %d changes and cannot be pinned on one drum.",
               tune->id, t->tune[0]->id, tune->changes, t->tune[0]->changes);
        unless(f, tune->music == (t->role == TRAIN_MUSIC), "tune \"%s\" is %s.", tune->id,
               tune->music ? "music, not quarters" : "for quarters, not for a musical train");
        if (t->role == TRAIN_CHIME)
            fit_quarters(f, t, tune);
    }
    unless(f, t->tunes < 2 || f->clock->selector || t->role == TRAIN_MUSIC,
           "several tunes want `selector: yes`.");
}

/* Arbors that have to stop at the same place after every blow turn whole numbers of times. */
static void fit_gears(struct fit *f, const struct train *t)
{
    for (int i = 0; i < t->arbors; i++) {
        const char *name = t->arbor[i].name;
        double turns = train_turns_per_blow(t, i);
        if (turns == 0)
            continue;
        bool pallet = !strcmp(name, "pallet");
        unless(f, !pallet || fabs(turns - 1) < WHOLE,
               "the pallet arbor of the %s train turns %.6g times a blow; it must be exactly once.",
               event_train_name(t->role), turns);
        bool warning = i == t->warning_on && t->control == CONTROL_RACK && !t->tunes;
        unless(f, !warning || fabs(turns - round(turns)) < WHOLE,
               "the warning arbor of the %s train turns %.6g times a blow; a whole number is "
               "expected.",
               event_train_name(t->role), turns);
        bool fly = !strcmp(name, "fly") && t->power.fly_turns > 0;
        unless(f, !fly || fabs(turns / t->power.fly_turns - 1) < 0.02,
               "the fly of the %s train turns %.6g times a blow by its gears, but fly_turns says "
               "%.6g.",
               event_train_name(t->role), turns, t->power.fly_turns);
    }
}

/* Blows that the train itself makes; a passing hammer is none of its work. */
static double sounds_a_day(const struct clock *c, const struct train *t)
{
    if (!t->tunes) {
        int passing = 0;
        for (int i = 0; i < c->lobes; i++)
            passing += t->use[i].read == READ_PASSING;
        return train_counts_a_day(c, t->role) - passing * 1440.0 / c->lobe_period_min;
    }
    const struct tune *tune = t->tune[0];
    int an_hour = 0;
    for (int i = 0; i < tune->quarters; i++)
        an_hour += tune->quarter[i];
    double turns = tune->music ? train_counts_a_day(c, t->role) : 24.0 * an_hour / tune->changes;
    return turns * tune->notes;
}

/* The winding must last as long as it is said to. */
static void fit_run(struct fit *f, const struct train *t)
{
    double barrel = t->arbors ? train_turns_per_blow(t, 0) : 0;
    const struct power *p = &t->power;
    double a_day = t->role == TRAIN_GOING || t->shares >= 0 ? 0 : sounds_a_day(f->clock, t);
    if (barrel <= 0 || p->turns <= 0 || p->days <= 0 || a_day <= 0)
        return;
    double days = p->turns / barrel / a_day;
    unless(f, days >= p->days * 0.99 && days <= p->days * 1.6,
           "by its gears the %s train runs %.1f days on one winding, but days says %.1f.",
           event_train_name(t->role), days, p->days);
}

static void fit_train(struct fit *f, const struct train *t, const struct train_draft *d)
{
    if (t->control == CONTROL_NONE)
        return;
    if (t->control == CONTROL_RACK)
        fit_rack(f, t);
    if (t->control == CONTROL_COUNT_WHEEL)
        fit_count_wheel(f, t, d);
    if (t->role != TRAIN_GOING)
        fit_patterns(f, t);
    unless(f, t->shares < 0 || f->clock->train[t->shares].control != CONTROL_NONE,
           "the %s train shares the wheels of a train that is not there.",
           event_train_name(t->role));
    unless(f, t->by != BY_CHIME || f->clock->train[TRAIN_CHIME].control != CONTROL_NONE,
           "the %s train is let off by a chime that is not there.", event_train_name(t->role));
    unless(f, t->by != BY_STRIKE || f->clock->train[TRAIN_STRIKE].control != CONTROL_NONE,
           "the %s train is let off by a strike that is not there.", event_train_name(t->role));
    if (!f->good)
        return; /* what follows walks the count */
    fit_tunes(f, t, d);
    fit_gears(f, t);
    fit_run(f, t);
}

static void fit_corrector(struct fit *f)
{
    bool tall = false;
    for (int i = 0; i < f->clock->lobes; i++)
        tall = tall || f->clock->lobe[i].tall;
    unless(f, tall || !f->clock->train[TRAIN_CHIME].corrector,
           "a corrector wants one lobe with `tall: yes`.");
}

static void fit_day(struct fit *f)
{
    int said = f->draft->day_blows;
    int sum = f->good && said ? train_counts_a_day(f->clock, TRAIN_STRIKE) : said;
    unless(f, sum == said, "the strike counts %d in 24 hours, not the %d stated as day_blows.", sum,
           said);
}

bool clock_parts_fit(const struct clock_draft *d, struct err *e)
{
    struct fit f = {.draft = d, .clock = &d->clock, .e = e, .good = true};
    fit_periods(&f);
    for (int i = 0; f.good && i < TRAINS; i++)
        fit_train(&f, &d->clock.train[i], &d->train[i]);
    fit_corrector(&f);
    fit_day(&f);
    return f.good;
}
