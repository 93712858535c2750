#include "movement/clock.h"

#include <math.h>
#include <string.h>

const struct train *clock_train(const struct clock *c, enum event_train role)
{
    const struct train *t = &c->train[role];
    return t->control == CONTROL_NONE ? NULL : t;
}

bool clock_sounder_is_pipe(const struct clock *c, int sounder)
{
    return sounder >= 0 && sounder < c->sounders && c->sounder[sounder].voice &&
           strncmp(c->sounder[sounder].voice, "cuckoo", 6) == 0;
}

static int wrap(int minutes, int period)
{
    int m = minutes % period;
    return m < 0 ? m + period : m;
}

int clock_lobe_at(const struct clock *c, int work_min)
{
    int at = wrap(work_min, c->lobe_period_min);
    for (int i = 0; i < c->lobes; i++)
        if (c->lobe[i].minute == at)
            return i;
    return -1;
}

int clock_next_lobe(const struct clock *c, int work_min)
{
    int at = wrap(work_min, c->lobe_period_min);
    int least = c->lobe_period_min;
    for (int i = 0; i < c->lobes; i++) {
        int ahead = wrap(c->lobe[i].minute - at - 1, c->lobe_period_min) + 1;
        if (ahead < least)
            least = ahead;
    }
    return least;
}

int clock_letoffs(const struct clock *c)
{
    return c->lobes * (c->cycle_min / c->lobe_period_min);
}

/* Lobes stand in the file in any order (the hour's is lobe 0); in time they go by minute. */
int clock_letoff_min(const struct clock *c, int i)
{
    int nth = i % c->lobes;
    for (int k = 0; k < c->lobes; k++) {
        int before = 0;
        for (int j = 0; j < c->lobes; j++)
            before += c->lobe[j].minute < c->lobe[k].minute;
        if (before == nth)
            return i / c->lobes * c->lobe_period_min + c->lobe[k].minute;
    }
    return 0;
}

/* Each arbor turns (teeth of the wheel before it) / (its own leaves) times as fast. */
double train_turns_per_blow(const struct train *t, int i)
{
    if (i < 0 || i >= t->arbors || t->pins < 1 || t->pins_on < 0 || t->pins_on >= t->arbors)
        return 0;
    double turns = 1.0 / t->pins;
    for (int k = t->pins_on + 1; k <= i; k++) {
        if (!t->arbor[k - 1].wheel || !t->arbor[k].pinion)
            return 0;
        turns *= (double)t->arbor[k - 1].wheel / t->arbor[k].pinion;
    }
    for (int k = t->pins_on; k > i; k--) {
        if (!t->arbor[k - 1].wheel || !t->arbor[k].pinion)
            return 0;
        turns *= (double)t->arbor[k].pinion / t->arbor[k - 1].wheel;
    }
    return turns;
}

int snail_step_at(const struct snail *s, double work_min)
{
    double each = (double)s->turn_min / s->steps, least = s->turn_min;
    int step = 0;
    for (int i = 0; i < s->steps; i++) {
        double since =
            fmod(work_min - ((i + 1) * each - s->lead_min + s->edge_min[i]), s->turn_min);
        if (since < 0)
            since += s->turn_min;
        if (since < least) {
            least = since;
            step = i;
        }
    }
    return step;
}

int train_entry_at(const struct clock *c, const struct train *t, int work_min)
{
    int passed = 0; /* lobes that move the wheel on between the phase and this minute */
    int ahead = wrap(work_min - t->entry_phase_min, c->cycle_min);
    for (int m = 0; m < ahead; m += clock_next_lobe(c, t->entry_phase_min + m)) {
        int lobe = clock_lobe_at(c, t->entry_phase_min + m);
        passed += lobe >= 0 && t->use[lobe].read == READ_COUNT;
    }
    return t->entries ? passed % t->entries : 0;
}

int train_counts_at(const struct clock *c, enum event_train role, int work_min)
{
    const struct train *t = clock_train(c, role);
    int lobe = clock_lobe_at(c, work_min);
    if (!t || lobe < 0)
        return 0;
    const struct lobe_use *use = &t->use[lobe];
    switch (use->read) {
    case READ_NOTHING:
        return 0;
    case READ_SNAIL:
        return t->snail[use->snail].teeth[snail_step_at(&t->snail[use->snail], work_min)];
    case READ_ONE:
    case READ_PASSING:
        return 1;
    case READ_COUNT:
        break;
    }
    return t->entries ? t->entry[train_entry_at(c, t, work_min)] : 1;
}

int train_counts_a_day(const struct clock *c, enum event_train role)
{
    int sum = 0;
    for (int m = 0; m < 1440; m++)
        sum += train_counts_at(c, role, m);
    return sum;
}
