#include "movement/fault.h"

#include <assert.h>
#include <math.h>
#include <string.h>

static const char *const class_names[] = {
    "setting",
    "self_correcting_normal",
    "silent_lever",
    "out_of_adjustment",
    "dry_or_dirty_oil",
    "worn_part",
    "bent_or_broken_part",
    "assembly_error",
    "power",
    "installation",
    "no_fault",
};
static const char *const part_names[] = {
    "rack tail",
    "rack hook",
    "rack",
    "gathering pallet",
    "snail",
    "count lever",
    "count wheel",
    "warning",
    "lifting piece",
    "hammer",
    "chime drum",
    "chime count wheel",
    "self-correcting lever",
    "mainspring/weight",
    "pivot holes",
    "hour hand",
    "minute hand",
    "fly",
    "silent lever",
    "return spring",
    "locking pin",
    "motion work",
    "cable/chain",
    "sounder",
    "bellows/bird",
    "selector",
    "suspension/beat",
};
#define COUNT(a) ((int)(sizeof(a) / sizeof(a)[0]))

static int index_of(const char *word, const char *const *names, int n)
{
    for (int i = 0; i < n; i++)
        if (!strcmp(word, names[i]))
            return i;
    return -1;
}

int fault_class_of(const char *word)
{
    return index_of(word, class_names, COUNT(class_names));
}

const char *fault_class_name(int i)
{
    return i >= 0 && i < COUNT(class_names) ? class_names[i] : NULL;
}

int fault_part_of(const char *word)
{
    return index_of(word, part_names, COUNT(part_names));
}

const char *fault_part_name(int i)
{
    return i >= 0 && i < COUNT(part_names) ? part_names[i] : NULL;
}

/* --- where a fault can occur ---------------------------------------------------------------- */

static bool any_read(const struct clock *c, enum reading read)
{
    for (int i = 0; i < c->lobes; i++)
        if (c->lobe[i].minute != 0 && c->train[TRAIN_STRIKE].use[i].read == read)
            return true;
    return false;
}

static bool has_pipes(const struct clock *c)
{
    for (int i = 0; i < c->sounders; i++)
        if (clock_sounder_is_pipe(c, i))
            return true;
    return false;
}

static bool has_odd_blow(const struct clock *c)
{
    for (int i = 0; i < c->lobes; i++)
        if (c->train[TRAIN_STRIKE].use[i].odd_blow)
            return true;
    return false;
}

/* Two hammers in one count; a ship's bell strikes its pairs with one. */
static bool has_pairs(const struct train *t)
{
    for (int i = 0; i < t->patterns; i++)
        for (int k = 1; k < t->pattern[i].strokes; k++)
            if (t->pattern[i].stroke[k].sounder != t->pattern[i].stroke[0].sounder)
                return true;
    return false;
}

/* A clock whose hammer is worked by the motion work alone has no striking train. */
static bool only_passing(const struct clock *c)
{
    for (int i = 0; i < c->lobes; i++)
        if (c->train[TRAIN_STRIKE].use[i].read != READ_NOTHING &&
            c->train[TRAIN_STRIKE].use[i].read != READ_PASSING)
            return false;
    return true;
}

/* A hammer is shifted in or out between one let-off and another. */
static bool has_shift(const struct clock *c, const struct train *t)
{
    int first = -1;
    for (int i = 0; i < c->lobes; i++) {
        if (t->use[i].read == READ_NOTHING)
            continue;
        if (first >= 0 && t->use[i].pattern != first)
            return true;
        first = t->use[i].pattern;
    }
    return false;
}

static bool has_train(const struct train *t)
{
    return t->control == CONTROL_RACK || t->control == CONTROL_COUNT_WHEEL;
}

static bool warns(const struct clock *c, const struct train *t)
{
    return c->warn_min > 0 && has_train(t) && !t->flirt;
}

static bool wheels_fit(const struct fault_needs *n, const struct clock *c)
{
    const struct train *s = &c->train[TRAIN_STRIKE], *q = &c->train[TRAIN_CHIME];
    return (!n->strike_train || has_train(s)) &&
           (!n->strike_power || (has_train(s) && s->shares < 0)) &&
           (!n->strike_warning || warns(c, s)) && (!n->chime_warning || warns(c, q)) &&
           (!n->shift || has_shift(c, s));
}

static bool trains_fit(const struct fault_needs *n, const struct clock *c)
{
    const struct train *s = &c->train[TRAIN_STRIKE], *q = &c->train[TRAIN_CHIME];
    bool strike = s->control != CONTROL_NONE && !only_passing(c),
         chime = q->control != CONTROL_NONE;
    bool racks = s->control == CONTROL_RACK;
    return (n->strike == CONTROL_NONE || s->control == n->strike) && (!n->strike_any || strike) &&
           (!n->hammer || s->control != CONTROL_NONE) &&
           (!n->chime || chime) && (!n->music || c->train[TRAIN_MUSIC].control != CONTROL_NONE) &&
           (!n->drum || q->tunes > 0) && (!n->corrector || q->corrector) &&
           (!n->no_corrector || !q->corrector) &&
           (!n->no_count_wheel || s->control != CONTROL_COUNT_WHEEL) &&
           (!n->quarter_wheel || q->control == CONTROL_COUNT_WHEEL) &&
           (!n->quarter_rack || q->control == CONTROL_RACK) &&
           (!n->independent || (strike && chime && s->by == BY_LOBES)) &&
           (!n->from_chime || (strike && chime && s->by == BY_CHIME)) &&
           (n->lock < 0 || (racks && (int)s->lock == n->lock)) &&
           (n->fall < 0 || (racks && (int)s->fall == n->fall)) &&
           (!n->sprung_tail || (racks && s->sprung_tail)) &&
           (!n->rigid_tail || (racks && !s->sprung_tail)) &&
           (!n->twelve_steps || (racks && s->snails > 0 && s->snail[0].steps >= 12)) &&
           (!n->hour_snail || (racks && s->snails > 0 && s->snail[0].steps > 1)) &&
           (!n->many_tunes || q->tunes > 1) && (!n->pairs || has_pairs(s));
}

static bool hands_fit(const struct fault_needs *n, const struct clock *c)
{
    enum drive going = c->train[TRAIN_GOING].power.drive;
    enum drive strike = c->train[TRAIN_STRIKE].power.drive;
    bool driven = n->drive == DRIVE_NONE || n->drive == going || n->drive == strike;
    bool flirted = c->train[TRAIN_STRIKE].flirt || c->train[TRAIN_CHIME].flirt;
    return driven && (!n->half_short || any_read(c, READ_ONE)) &&
           (!n->half_passing || any_read(c, READ_PASSING)) &&
           (!n->half_count || any_read(c, READ_COUNT)) && (!n->warning || c->warn_min > 0) &&
           (!n->flirt || flirted || c->warn_min == 0) && (!n->pipes || has_pipes(c)) &&
           (!n->odd_blow || has_odd_blow(c)) &&
           (!n->night || c->night_from_min != c->night_to_min) && (!n->selector || c->selector) &&
           (!n->hours_selector || c->hours_selector) &&
           (!n->silent_strike || c->silent_strike) && (!n->silent_chime || c->silent_chime) &&
           (!n->silent_any || c->silent_strike || c->silent_chime) && (!n->half || c->lobes > 1) &&
           (!n->bush || c->minute_bush) && (!n->square || c->minute_square) &&
           (!n->friction_hour || !c->hour_hand_keyed) && (!n->twenty_four || c->cycle_min == 1440);
}

bool fault_needs_met(const struct fault_needs *n, const struct clock *c)
{
    return trains_fit(n, c) && wheels_fit(n, c) && hands_fit(n, c);
}

static int domain_values(int domain, const struct clock *c, double *value);

/* A drum of one change is the same however it is turned. */
static bool drum_can_tell(const struct fault *f, const struct clock *c)
{
    const struct train *t = &c->train[TRAIN_CHIME];
    bool turned = false;
    for (int i = 0; i < f->sets; i++)
        turned = turned || f->set[i].par == PAR_drum_changes || f->set[i].par == PAR_drum_slip;
    for (int i = 0; i < f->axes; i++)
        turned = turned || f->axis[i].par == PAR_drum_changes || f->axis[i].par == PAR_drum_slip;
    return !turned || (t->tunes && t->tune[0]->changes > 1);
}

bool fault_applies(const struct fault *f, const struct clock *c)
{
    double unused[FAULT_VALUES];
    if (!drum_can_tell(f, c) || !fault_needs_met(&f->needs, c))
        return false;
    for (int i = 0; i < f->axes; i++)
        if (f->axis[i].known_by_clock && !domain_values(f->axis[i].domain, c, unused))
            return false;
    return true;
}

/* --- variants --------------------------------------------------------------------------------- */

static int add_once(double *value, int n, int sounder)
{
    for (int i = 0; i < n; i++)
        if ((int)value[i] == sounder)
            return n;
    value[n] = sounder;
    return n + 1;
}

static int train_hammers(const struct train *t, double *value, int n)
{
    for (int i = 0; i < t->patterns; i++)
        for (int k = 0; k < t->pattern[i].strokes; k++)
            n = add_once(value, n, t->pattern[i].stroke[k].sounder);
    for (int e = 0; e < t->entries; e++)
        for (const char *s = t->entry_hammers[e]; s && *s; s++)
            n = add_once(value, n, *s - 'a');
    for (int i = 0; t->tunes && i < t->tune[0]->bells && i < CLOCK_SOUNDERS; i++)
        n = add_once(value, n, t->hammer[i]);
    return n;
}

static int counted(double *value, int from, int n)
{
    if (n > FAULT_VALUES)
        n = FAULT_VALUES;
    for (int i = 0; i < n; i++)
        value[i] = from + i;
    return n > 0 ? n : 0;
}

/* Values an axis takes on this clock. */
static int domain_values(int domain, const struct clock *c, double *value)
{
    const struct train *s = &c->train[TRAIN_STRIKE], *q = &c->train[TRAIN_CHIME];
    int n = 0;
    switch ((enum fault_domain)domain) {
    case DOMAIN_STRIKE_HAMMERS:
        return s->control ? train_hammers(s, value, 0) : 0;
    case DOMAIN_CHIME_HAMMERS:
        return q->control ? train_hammers(q, value, 0) : 0;
    case DOMAIN_HAMMERS:
        n = s->control ? train_hammers(s, value, 0) : 0;
        return q->control ? train_hammers(q, value, n) : n;
    case DOMAIN_HAMMER_PAIRS: /* the first of two neighbours; the second follows */
        n = q->control ? train_hammers(q, value, 0) : s->control ? train_hammers(s, value, 0) : 0;
        return n > 1 ? n - 1 : 0;
    case DOMAIN_TEETH:
    case DOMAIN_STEPS:
        return s->control == CONTROL_RACK
                   ? counted(value, 1, s->rack_teeth < 12 ? s->rack_teeth : 12)
                   : 0;
    case DOMAIN_ENTRIES:
        return s->control == CONTROL_COUNT_WHEEL ? counted(value, 0, s->entries) : 0;
    case DOMAIN_STRIKE_ARBORS:
        return s->control ? counted(value, 0, s->arbors) : 0;
    case DOMAIN_CHIME_ARBORS:
        return q->control ? counted(value, 0, q->arbors) : 0;
    case DOMAIN_DRUM_NOTES:
        return q->tunes ? counted(value, 0, q->tune[0]->notes) : 0;
    case DOMAIN_PINS:
        return s->pins > 1 ? 1 : 0; /* which pin it is cannot be told: one stands for all */
    case DOMAIN_LOBES:
        return counted(value, 0, c->lobes);
    case DOMAIN_NONE:
        break;
    }
    return 0;
}

static int axis_values(const struct fault_axis *a, const struct clock *c, double *value,
                       double *weight)
{
    int n = a->values;
    if (a->known_by_clock) {
        n = domain_values(a->domain, c, value);
        if (a->domain == DOMAIN_PINS && n)
            value[0] = 0;
        for (int i = 0; i < n; i++)
            weight[i] = 1;
        return n;
    }
    memcpy(value, a->value, sizeof a->value[0] * (size_t)n);
    memcpy(weight, a->weight, sizeof a->weight[0] * (size_t)n);
    return n;
}

size_t fault_variants(const struct fault *f, const struct clock *c)
{
    double value[FAULT_VALUES], weight[FAULT_VALUES];
    size_t n = 1;
    for (int i = 0; i < f->axes; i++)
        n *= (size_t)axis_values(&f->axis[i], c, value, weight);
    return n;
}

static double share_of(const double *weight, int n, int at)
{
    double sum = 0;
    for (int i = 0; i < n; i++)
        sum += weight[i];
    return sum > 0 ? weight[at] / sum : 1.0 / n;
}

/* The neighbour a hammer or rod may be exchanged with: the next one of the list. */
static double neighbour(const struct clock *c, double value)
{
    double list[FAULT_VALUES];
    const struct train *q = &c->train[TRAIN_CHIME], *s = &c->train[TRAIN_STRIKE];
    int n = train_hammers(q->control ? q : s, list, 0);
    for (int i = 0; i + 1 < n; i++)
        if ((int)list[i] == (int)value)
            return list[i + 1];
    return value;
}

size_t fault_variant(const struct fault *f, const struct clock *c, size_t v, struct change *change,
                     double *weight, double *severity)
{
    double value[FAULT_VALUES], w[FAULT_VALUES];
    size_t n = 0;
    *weight = 1;
    *severity = 0;
    for (int i = 0; i < f->sets; i++)
        change[n++] = f->set[i];
    for (int i = 0; i < f->axes; i++) {
        const struct fault_axis *a = &f->axis[i];
        int values = axis_values(a, c, value, w);
        assert(values > 0); /* an axis that has no values on a clock makes the fault none of it */
        int at = (int)(v % (size_t)values);
        v /= (size_t)values;
        *weight *= share_of(w, values, at);
        if (i == 0 && values > 1)
            *severity = (double)at / (values - 1);
        change[n++] = (struct change){a->par, value[at]};
        if (a->known_by_clock && a->domain == DOMAIN_HAMMER_PAIRS)
            change[n++] = (struct change){PAR_hammer_swap_b, neighbour(c, value[at])};
    }
    return n;
}

/* --- states the clock may be found in ------------------------------------------------------------ */

struct starts {
    struct start *at;
    size_t n, room;
};

static void add_start(struct starts *s, struct rest r, double p)
{
    for (size_t i = 0; i < s->n; i++)
        if (rest_same(s->at[i].rest, r)) {
            s->at[i].p += p;
            return;
        }
    if (s->n < s->room && p > 0)
        s->at[s->n++] = (struct start){r, p};
}

/* A count wheel found out is most often out by little: a strike missed or made twice, or hands
 * turned an hour, which is two let-offs where the halves are counted; else anywhere (ours). */
static double count_weight(int off, int entries, int an_hour)
{
    int near = off < entries - off ? off : entries - off;
    return near == an_hour ? 8 : near == 1 ? 3 : near == 2 * an_hour ? 3 : near % an_hour ? 0.5 : 1;
}

static int lets_off_an_hour(const struct clock *c, const struct train *t)
{
    int n = 0;
    for (int i = 0; i < c->lobes; i++)
        n += t->use[i].read == READ_COUNT;
    return n > 0 ? n : 1;
}

static void count_starts(struct starts *s, const struct clock *c, struct rest due)
{
    const struct train *t = &c->train[TRAIN_STRIKE];
    for (int off = 1; t->control == CONTROL_COUNT_WHEEL && off < t->entries; off++) {
        struct rest r = due;
        r.count = (uint8_t)((due.count + off) % t->entries);
        add_start(s, r, count_weight(off, t->entries, lets_off_an_hour(c, t)));
    }
}

/* Half a step out: the wheel is one let-off ahead or behind, hours come at the half. */
static void half_starts(struct starts *s, const struct clock *c, struct rest due)
{
    const struct train *t = &c->train[TRAIN_STRIKE];
    for (int off = -1; t->control == CONTROL_COUNT_WHEEL && off <= 1; off += 2) {
        struct rest r = due;
        r.count = (uint8_t)((due.count + t->entries + off) % t->entries);
        add_start(s, r, 2);
    }
}

static int changes_before(const struct train *t, int quarter)
{
    int sum = 0;
    for (int i = 0; i < quarter; i++)
        sum += t->entry[i];
    return t->tunes && t->tune[0]->changes ? sum % t->tune[0]->changes : 0;
}

static void chime_starts(struct starts *s, const struct clock *c, struct rest due)
{
    const struct train *t = &c->train[TRAIN_CHIME];
    for (int off = 1; t->control == CONTROL_COUNT_WHEEL && off < t->entries; off++) {
        struct rest r = due;
        r.quarter = (uint8_t)((due.quarter + off) % t->entries);
        r.drum = (uint8_t)changes_before(t, r.quarter);
        r.flags &= (uint8_t)~REST_CORRECTOR;
        if (t->corrector && r.quarter == t->entries - 1)
            r.flags |= REST_CORRECTOR;
        add_start(s, r, 1);
    }
}

static void power_start(struct starts *s, struct rest due, int train, enum power_level level)
{
    rest_set_power(&due, train, level);
    add_start(s, due, 1);
}

static void flag_start(struct starts *s, struct rest due, unsigned flag)
{
    due.flags |= (uint8_t)flag;
    add_start(s, due, 1);
}

/* A rack left down that has swung past the pallet is lost to it. */
static unsigned lost_flag(const struct works *w)
{
    return w->par[PAR_rack_reach] > 0.5 ? REST_RACK_LOST : 0;
}

static void odd_starts(struct starts *s, const struct fault *f, const struct works *w,
                       struct rest due)
{
    const struct clock *c = w->clock;
    const struct train *t = &c->train[TRAIN_STRIKE];
    if (f->start & START_HANGING)
        for (int down = 1; down <= 12 && t->control == CONTROL_RACK; down++) {
            struct rest r = due;
            r.left = (uint8_t)down;
            r.flags |= (uint8_t)lost_flag(w);
            add_start(s, r, 1);
        }
    if (f->start & START_LEFT_OVER)
        for (int left = 1; left < 12 && t->control == CONTROL_COUNT_WHEEL; left++) {
            struct rest r = due;
            r.left = (uint8_t)left;
            add_start(s, r, 1);
        }
    if (f->start & START_TUNE_ANY)
        for (int i = 1; i < (c->hours_selector ? 2 : c->train[TRAIN_CHIME].tunes); i++) {
            struct rest r = due;
            r.tune = (uint8_t)((r.tune & 0xf0) | i);
            add_start(s, r, 1);
        }
}

/* A train that uses another's wheels has that one's power. */
static int driven_by(const struct clock *c, int train)
{
    int shared = c->train[train].shares;
    return train != TRAIN_GOING && shared > 0 && shared < TRAINS ? shared : train;
}

static void named_starts(struct starts *s, const struct fault *f, const struct works *w,
                         struct rest due)
{
    const struct clock *c = w->clock;
    static const struct {
        unsigned start;
        int train;
        enum power_level level;
    } power[] = {
        {START_STRIKE_OUT, TRAIN_STRIKE, POWER_OUT}, {START_CHIME_OUT, TRAIN_CHIME, POWER_OUT},
        {START_GOING_OUT, TRAIN_GOING, POWER_OUT},   {START_STRIKE_LOW, TRAIN_STRIKE, POWER_LOW},
        {START_CHIME_LOW, TRAIN_CHIME, POWER_LOW},
    };
    static const struct {
        unsigned start, flag;
    } flags[] = {
        {START_SILENT_STRIKE, REST_SILENT_STRIKE},
        {START_SILENT_CHIME, REST_SILENT_CHIME},
        {START_CORRECTOR, REST_CORRECTOR},
    };
    for (int i = 0; i < COUNT(power); i++)
        if (f->start & power[i].start)
            power_start(s, due, driven_by(c, power[i].train), power[i].level);
    for (int i = 0; i < COUNT(flags); i++)
        if (f->start & flags[i].start)
            flag_start(s, due, flags[i].flag);
    if (f->start & START_WARNED) /* the train the hands themselves let off */
        flag_start(s, due,
                   c->train[TRAIN_STRIKE].by == BY_LOBES ? REST_WARNED_STRIKE : REST_WARNED_CHIME);
    odd_starts(s, f, w, due);
}

static size_t even_out(struct starts *s)
{
    double sum = 0;
    for (size_t i = 0; i < s->n; i++)
        sum += s->at[i].p;
    for (size_t i = 0; i < s->n; i++)
        s->at[i].p /= sum;
    return s->n;
}

size_t fault_starts(const struct fault *f, const struct works *w, int work_min, struct start *start,
                    size_t room)
{
    struct starts s = {start, 0, room};
    struct rest due = rest_in_step(w, work_min);
    unsigned listed = f ? f->start : 0;
    if (!f || !f->start_only)
        add_start(&s, due, listed ? 2 : 1);
    if (listed & START_COUNT_ANY)
        count_starts(&s, w->clock, due);
    if (listed & START_COUNT_HALF)
        half_starts(&s, w->clock, due);
    if (listed & START_CHIME_ANY)
        chime_starts(&s, w->clock, due);
    if (f)
        named_starts(&s, f, w, due);
    if (!s.n)
        add_start(&s, due, 1);
    return even_out(&s);
}

/* ---- what the history says of a class ---- */

static bool tilts_by(const struct fault *f, const char *word)
{
    for (size_t i = 0; i < f->tilts; i++)
        if (strcmp(f->tilt[i].word, word) == 0)
            return true;
    return false;
}

void fault_tilt_by_class(struct fault *f, const struct fault_class *c)
{
    for (size_t i = 0; i < c->tilts; i++)
        if (!tilts_by(f, c->tilt[i].word))
            f->tilt[f->tilts++] = c->tilt[i];
}

/* ---- what to mind ---- */

const char *hazard_caution(const char *hazard)
{
    static const struct {
        const char *hazard, *says;
    } rows[] = {
        {"pinch", "Keep fingers clear of wheels, fly and hammers."},
        {"weight", "A weight that falls or a line that runs out hurts: take the weight off or hold "
                   "it first."},
        {"spring", "Let the power down first: weights off, springs with the proper tool and only "
                   "if trained to; a spring breaks fingers."},
        {"glass", "Glass breaks and cuts: lift it with both hands and lay it flat."},
        {"heavy", "Heavy: two people lift it."},
    };
    for (size_t i = 0; hazard && i < sizeof rows / sizeof *rows; i++)
        if (!strcmp(rows[i].hazard, hazard))
            return rows[i].says;
    return NULL;
}
