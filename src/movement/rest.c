#include "movement/rest.h"

#include "movement/passing_priv.h"

void rest_set_power(struct rest *r, int train, enum power_level level)
{
    r->power = (uint8_t)((r->power & ~(3 << (2 * train))) | ((int)level << (2 * train)));
}

/* By night a train that is held does not count on: it waits for the first let-off of the morning. */
static bool held_by_night(const struct clock *c, int min)
{
    int from = c->night_from_min, to = c->night_to_min;
    if (from == to || c->hush_hammers)
        return false;
    return from < to ? min >= from && min < to : min >= from || min < to;
}

/* Next work minute, from `work_min` on, at which a lobe lets `role` off; -1 if none does. */
static int next_use(const struct clock *c, enum event_train role, int work_min)
{
    const struct train *t = &c->train[role];
    int m = work_min;
    for (int step = 0; step < 1440;) {
        int lobe = clock_lobe_at(c, m), ahead = clock_next_lobe(c, m);
        if (lobe >= 0 && t->use[lobe].read != READ_NOTHING && !held_by_night(c, m))
            return m;
        step += ahead;
        m = (m + ahead) % 1440;
    }
    return -1;
}

static void chime_in_step(struct rest *r, const struct clock *c, int work_min)
{
    const struct train *t = &c->train[TRAIN_CHIME];
    int next = next_use(c, TRAIN_CHIME, work_min), sum = 0;
    if (t->control != CONTROL_COUNT_WHEEL || next < 0)
        return;
    r->quarter = (uint8_t)count_due(c, t, next);
    for (int i = 0; i < r->quarter; i++)
        sum += t->entry[i];
    if (t->tunes && t->tune[0]->changes)
        r->drum = (uint8_t)(sum % t->tune[0]->changes);
    if (t->corrector && r->quarter == t->entries - 1)
        r->flags |= REST_CORRECTOR;
}

struct rest rest_in_step(const struct works *w, int work_min)
{
    const struct clock *c = w->clock;
    const struct train *t = &c->train[TRAIN_STRIKE];
    struct rest r = {0};
    for (int i = 0; i < TRAINS; i++)
        if (i == TRAIN_GOING || clock_train(c, (enum event_train)i))
            rest_set_power(&r, i, POWER_GOOD);
    if (t->control == CONTROL_COUNT_WHEEL) {
        int next = next_use(c, TRAIN_STRIKE, work_min);
        if (next >= 0)
            r.count = (uint8_t)count_due(c, t, next);
    }
    chime_in_step(&r, c, work_min);
    return r;
}

bool rest_is_in_step(const struct works *w, struct rest r, int work_min)
{
    return rest_agrees(w, r, rest_in_step(w, work_min));
}

bool rest_agrees(const struct works *w, struct rest r, struct rest due)
{
    for (int i = TRAIN_STRIKE; i < TRAINS; i++)
        if (clock_train(w->clock, (enum event_train)i) && rest_power(r, i) == POWER_OUT)
            return false;
    return r.count == due.count && r.quarter == due.quarter && r.drum == due.drum &&
           r.left == due.left && !r.stuck && !(r.tune >> 4) &&
           !((r.flags ^ due.flags) & (REST_CORRECTOR | REST_RACK_LOST));
}
