#include "diagnose/sweep.h"

#include <math.h>
#include "movement/fault.h"

#define COUNT(a) (sizeof(a) / sizeof(a)[0])
#define LEAST_FACTOR 0.02
#define PER_SOUNDER  31 /* upper end of the range of what is chosen among hammers and sounders */

static size_t offsets(const struct par_row *r, double *value)
{
    static const double part[] = {0.04, 0.12, 0.35, 0.8};
    size_t n = 0;
    for (size_t i = 0; i < COUNT(part); i++) {
        if (r->high > r->sound)
            value[n++] = part[i] * (r->high - r->sound);
        if (r->low < r->sound)
            value[n++] = part[i] * (r->low - r->sound);
    }
    return n;
}

static size_t factors(const struct par_row *r, double *value)
{
    static const double part[] = {0.15, 0.4, 0.8};
    size_t n = 0;
    for (size_t i = 0; i < COUNT(part); i++) {
        value[n++] = pow(r->high / r->sound, part[i]);
        value[n++] = pow(fmax(r->low, LEAST_FACTOR) / r->sound, part[i]);
    }
    return n;
}

/* How many this clock has of what a choice counts: the ranges of par.h that go by the clock. */
static double top_of(const struct par_row *r, const struct clock *c)
{
    return r->high == PER_SOUNDER ? fmin(r->high, c->sounders - 1) : r->high;
}

static bool whole(double x)
{
    return x == floor(x);
}

static size_t choices(const struct par_row *r, const struct clock *c, double *value)
{
    static const double part[] = {0.1, 0.3, 0.7, 0.9};
    size_t n = 0;
    if (!whole(r->sound) || !whole(r->high)) {
        for (size_t i = 0; i < COUNT(part); i++)
            value[n++] = r->low + part[i] * (r->high - r->low);
        return n;
    }
    double top = top_of(r, c), step = fmax(1, ceil((top - r->low) / SWEEP_PLACES));
    for (double v = r->low; v <= top && n < SWEEP_PLACES; v += step)
        if (v != r->sound)
            value[n++] = v;
    return n;
}

size_t sweep_values(enum par p, const struct clock *c, double value[SWEEP_VALUES])
{
    static const double chance[] = {0.12, 0.4, 1};
    const struct par_row *r = par_row(p);
    switch (r->join) {
    case JOIN_ADD:
        return offsets(r, value);
    case JOIN_MUL:
        return factors(r, value);
    case JOIN_SET:
        return choices(r, c, value);
    case JOIN_MAX:
        break;
    }
    for (size_t i = 0; i < COUNT(chance); i++)
        value[i] = chance[i];
    return COUNT(chance);
}

#define PAR_ONE(name, ...)  PAR_##name,
#define PAR_FOUR(name, ...) PAR_##name, PAR_##name, PAR_##name, PAR_##name,
static const enum par kin[PAR_COUNT] = {PAR_TABLE(PAR_ONE, PAR_FOUR)};

enum par sweep_kin(enum par p)
{
    return kin[p];
}

/* In the order of par.h: the part of this parameter and of those after it. */
static const struct {
    enum par from;
    const char *part;
} parts[] = {
    {PAR_minute_off_min, "minute hand"}, {PAR_hour_off_min, "hour hand"},
    {PAR_minute_loose, "minute hand"},   {PAR_snail_off_min, "motion work"},
    {PAR_snail_slip, "snail"},           {PAR_night_off_min, "silent lever"},
    {PAR_cannon_grip, "motion work"},    {PAR_going_stop, "suspension/beat"},
    {PAR_lift_loss, "lifting piece"},    {PAR_trip_gum, "warning"},
    {PAR_warn_early_min, "lifting piece"}, {PAR_rise, "hammer"},
    {PAR_tail_teeth, "rack tail"},       {PAR_snail_wobble, "snail"},
    {PAR_rack_stick, "rack"},            {PAR_hook_zone, "rack hook"},
    {PAR_pallet_miss, "gathering pallet"}, {PAR_half_open, "lifting piece"},
    {PAR_quarter_rack_stick, "rack"},    {PAR_quarter_pallet_miss, "gathering pallet"},
    {PAR_quarter_hook_up, "rack hook"},
    {PAR_tail_rigid, "rack tail"},       {PAR_count_late, "count lever"},
    {PAR_count_slot, "count wheel"},     {PAR_corrector_no_lock, "self-correcting lever"},
    {PAR_chime_over, "chime count wheel"}, {PAR_handover_miss, "lifting piece"},
    {PAR_drum_changes, "chime drum"},    {PAR_music_early, "locking pin"},
    {PAR_hammer_dead, "hammer"},         {PAR_hammer_buzz, "sounder"},
    {PAR_hammer_tinny, "hammer"},        {PAR_hammers_loud, "sounder"},
    {PAR_hammers_weak, "hammer"},        {PAR_sounders_dull, "sounder"},
    {PAR_hammers_dead_strike, "hammer"}, {PAR_odd_blow, "lifting piece"},
    {PAR_order_swap, "hammer"},          {PAR_bellows_lost, "bellows/bird"},
    {PAR_silenced, "silent lever"},      {PAR_torque, "mainspring/weight"},
    {PAR_friction, "pivot holes"},       {PAR_fly_drag, "fly"},
    {PAR_hammer_work, "return spring"},  {PAR_stall, "pivot holes"},
    {PAR_dead, "mainspring/weight"},     {PAR_train_rattle, "pivot holes"},
    {PAR_spring_rough, "mainspring/weight"}, {PAR_spring_clings, "mainspring/weight"},
};

static const char *part_of_state(unsigned state)
{
    switch (state) {
    case START_COUNT_ANY:
    case START_COUNT_HALF:
    case START_LEFT_OVER:
        return "count wheel";
    case START_CHIME_ANY:
        return "chime count wheel";
    case START_HANGING:
        return "rack";
    case START_SILENT_STRIKE:
    case START_SILENT_CHIME:
        return "silent lever";
    case START_WARNED:
        return "warning";
    case START_CORRECTOR:
        return "self-correcting lever";
    case START_TUNE_ANY:
        return "selector";
    default:
        return "mainspring/weight";
    }
}

const char *sweep_part(int swept)
{
    size_t i = 0;
    if (swept >= PAR_COUNT)
        return part_of_state(1u << (swept - PAR_COUNT));
    while (i + 1 < COUNT(parts) && (int)parts[i + 1].from <= swept)
        i++;
    return parts[i].part;
}

bool sweep_state(int bit, const struct clock *c)
{
    const struct train *s = &c->train[TRAIN_STRIKE], *q = &c->train[TRAIN_CHIME];
    switch (1u << bit) {
    case START_COUNT_ANY:
    case START_COUNT_HALF:
    case START_LEFT_OVER:
        return s->control == CONTROL_COUNT_WHEEL;
    case START_CHIME_ANY:
        return q->control == CONTROL_COUNT_WHEEL;
    case START_HANGING:
        return s->control == CONTROL_RACK;
    case START_SILENT_STRIKE:
        return c->silent_strike;
    case START_SILENT_CHIME:
        return c->silent_chime;
    case START_STRIKE_OUT:
    case START_STRIKE_LOW:
        return s->control != CONTROL_NONE && s->shares < 0;
    case START_CHIME_OUT:
    case START_CHIME_LOW:
        return q->control != CONTROL_NONE && q->shares < 0;
    case START_CORRECTOR:
        return q->corrector;
    case START_TUNE_ANY:
        return q->tunes > 1 || c->hours_selector;
    case START_WARNED:
        return c->warn_min > 0;
    default:
        return false;
    }
}
