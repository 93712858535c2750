#include "resync/stance.h"

#include <string.h>

bool stance_same(const struct stance *a, const struct stance *b)
{
    return !memcmp(a, b, sizeof *a);
}

int stance_fold(const struct clock *c, int min)
{
    int cycle = c->cycle_min > 0 ? c->cycle_min : 720;
    return ((min % cycle) + cycle) % cycle;
}

struct moment stance_moment(const struct stance *s)
{
    return (struct moment){.work_min = s->work_min, .rest = s->rest, .minute_off = s->minute_off,
                           .hour_off = s->hour_off};
}

/* Entries after which the wheel repeats itself. */
static int round_of(const struct train *t)
{
    for (int p = 1; p < t->entries; p++) {
        bool same = t->entries % p == 0;
        for (int i = 0; same && i < t->entries; i++) {
            const char *a = t->entry_hammers[i], *b = t->entry_hammers[(i + p) % t->entries];
            same = t->entry[i] == t->entry[(i + p) % t->entries] && (!a == !b) && (!a || !strcmp(a, b));
        }
        if (same)
            return p;
    }
    return t->entries;
}

struct rest stance_rest(const struct clock *c, struct rest rest)
{
    const struct train *t = &c->train[TRAIN_STRIKE];
    if (t->control == CONTROL_COUNT_WHEEL && t->entries > 1)
        rest.count = (uint8_t)(rest.count % round_of(t));
    return rest;
}

int stance_hour_off(const struct clock *c, int hour_off)
{
    int round = c->dials_24 ? 1440 : 720, most = round / 2;
    hour_off = ((hour_off % round) + round) % round;
    return hour_off > most ? hour_off - round : hour_off;
}

static bool reads_snail(const struct train *t, const struct clock *c, int snail)
{
    for (int i = 0; i < c->lobes; i++)
        if (t->use[i].read == READ_SNAIL && t->use[i].snail == snail)
            return true;
    return false;
}

static int common_multiple(int a, int b)
{
    int x = a, y = b;
    while (y) {
        int rest = x % y;
        x = y;
        y = rest;
    }
    return x ? a / x * b : 0;
}

/* Minutes after which nothing in the motion work differs. */
static int work_round(const struct clock *c)
{
    int round = c->lobe_period_min;
    for (int i = TRAIN_STRIKE; i < TRAINS; i++)
        for (int k = 0; c->train[i].control == CONTROL_RACK && k < c->train[i].snails; k++)
            if (reads_snail(&c->train[i], c, k))
                round = common_multiple(round, c->train[i].snail[k].turn_min);
    return c->night_from_min == c->night_to_min ? round : common_multiple(round, 1440);
}

struct stance stance_of(const struct works *w, const struct moment *m)
{
    const struct clock *c = w->clock;
    struct stance s = {.rest = stance_rest(c, m->rest)};
    int round = work_round(c), hour_off = stance_hour_off(c, m->hour_off), spare = 0;
    if (hour_off % 60 == 0 && c->cycle_min % round == 0) {
        int own = ((hour_off % round) + round) % round;
        own = own > round / 2 ? own - round : own;
        spare = hour_off - own;
    }
    s.work_min = (int16_t)stance_fold(c, m->work_min + spare);
    s.minute_off = (int16_t)m->minute_off;
    s.hour_off = (int16_t)(hour_off - spare);
    return s;
}

int stance_shown(const struct works *w, const struct stance *s)
{
    struct moment m = stance_moment(s);
    return stance_fold(w->clock, moment_shown(w, &m));
}

int stance_since(const struct clock *c, const struct stance *s)
{
    for (int back = 0; back < c->lobe_period_min; back++)
        if (clock_lobe_at(c, (s->work_min - back + 1440) % 1440) >= 0)
            return back;
    return c->lobe_period_min;
}

int stance_ahead(const struct clock *c, const struct stance *s)
{
    return clock_next_lobe(c, s->work_min);
}

bool stance_warned(const struct clock *c, const struct stance *s)
{
    return (s->rest.flags & (REST_WARNED_STRIKE | REST_WARNED_CHIME)) ||
           stance_ahead(c, s) <= c->warn_min;
}

bool stance_rack_down(const struct clock *c, const struct stance *s)
{
    return c->train[TRAIN_STRIKE].control == CONTROL_RACK && s->rest.left > 0;
}

/* --- in step ------------------------------------------------------------------------------- */

static bool use_same(const struct lobe_use *a, const struct lobe_use *b)
{
    return a->read == b->read && a->snail == b->snail && a->pattern == b->pattern &&
           a->odd_blow == b->odd_blow;
}

static bool lobe_does_same(const struct clock *c, int a, int b)
{
    if (b < 0 || c->lobe[a].tall != c->lobe[b].tall)
        return false;
    for (int t = TRAIN_STRIKE; t < TRAINS; t++)
        if (c->train[t].control != CONTROL_NONE &&
            !use_same(&c->train[t].use[a], &c->train[t].use[b]))
            return false;
    return true;
}

bool stance_lobes_agree(const struct works *w, const struct stance *s)
{
    const struct clock *c = w->clock;
    int error = stance_shown(w, s) - s->work_min + 1440;
    for (int i = 0; i < c->lobes; i++)
        if (!lobe_does_same(c, i, clock_lobe_at(c, (c->lobe[i].minute + error) % 1440)))
            return false;
    return true;
}

/* Of the snails that turn once in at most so many minutes. */
static bool snails_agree(const struct works *w, const struct stance *s, int turn_most_min)
{
    const struct clock *c = w->clock;
    int error = stance_shown(w, s) - s->work_min;
    for (int i = TRAIN_STRIKE; i < TRAINS; i++) {
        const struct train *t = &c->train[i];
        for (int k = 0; t->control == CONTROL_RACK && k < t->snails; k++)
            if (t->snail[k].turn_min <= turn_most_min && reads_snail(t, c, k) && error % t->snail[k].turn_min)
                return false;
    }
    return true;
}

bool stance_minutes_agree(const struct works *w, const struct stance *s)
{
    return stance_lobes_agree(w, s) && snails_agree(w, s, 60);
}

static bool night_agrees(const struct works *w, const struct stance *s)
{
    const struct clock *c = w->clock;
    return c->night_from_min == c->night_to_min || (stance_shown(w, s) - s->work_min) % 1440 == 0;
}

bool stance_by_night(const struct clock *c, int work_min)
{
    int from = c->night_from_min, to = c->night_to_min;
    if (from == to)
        return false;
    return from < to ? work_min >= from && work_min < to : work_min >= from || work_min < to;
}

bool stance_hours_matter(const struct clock *c)
{
    return work_round(c) > c->lobe_period_min;
}

bool stance_works_agree(const struct works *w, const struct stance *s)
{
    return !s->hands_off && stance_lobes_agree(w, s) && snails_agree(w, s, 1440) && night_agrees(w, s);
}

bool stance_in_step(const struct works *w, const struct stance *s)
{
    return stance_works_agree(w, s) && rest_is_in_step(w, s->rest, (stance_shown(w, s) + 1) % 1440);
}
