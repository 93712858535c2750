#include "diagnose/forecast.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>
#include "mem.h"

static int dial_of(const struct variant *v, int work_min)
{
    return (work_min + (int)lround(v->hour_off / 60.0) * 60 + 2880) % 1440;
}

static uint32_t due_at(const struct clock_case *k, int dial)
{
    for (int i = 0; i < k->classes.letoffs; i++)
        if (k->classes.minute[i] == dial % k->clock->cycle_min)
            return k->due[i];
    return 0;
}

static int bucket(const struct train_sound *t)
{
    if (train_sound_endless(t))
        return FORECAST_ENDLESS;
    return t->count < FORECAST_ENDLESS ? t->count : FORECAST_ENDLESS - 1;
}

static void add_outcome(struct coming *c, const struct sounding *s, const struct sounding *due,
                        double p)
{
    const struct train_sound *made = &s->train[TRAIN_CHIME], *right = &due->train[TRAIN_CHIME];
    c->count[bucket(&s->train[TRAIN_STRIKE])] += p;
    int which = !made->falls ? 0 : made->sequence == right->sequence && made->falls == right->falls ? 1 : 2;
    c->chime[which] += p;
    c->stands += outcome_holds_hands((struct rest){.stuck = s->halt}) ? p : 0;
}

/* What stands is set going again; a finger that leads on takes it past where it stood. */
static size_t set_going(struct closer *c, int letoff, bool led, uint32_t state,
                        struct eased out[EASED_MOST])
{
    int letoffs = c->kase->classes.letoffs;
    out[0] = (struct eased){state, 1};
    if (!outcome_holds_hands(c->kase->rows.state[state]))
        return 1;
    if (led)
        return outcome_table_eased(c->table, state, (letoff + letoffs - 1) % letoffs, out);
    out[0].state = outcome_rows_freed(&c->kase->rows, state);
    return 1;
}

/* One let-off from the `n` states that lie in `now`; those it leads to take their place.  Returns how many. */
static size_t step(struct closer *c, int letoff, bool led, struct filter_space *now, size_t n, struct coming *out)
{
    int dial = dial_of(c->variant, c->kase->classes.minute[letoff]);
    uint32_t due_id = due_at(c->kase, dial);
    const struct sounding *due;
    double none = 0;
    for (size_t i = 0; i < n; i++) {
        struct eased from[EASED_MOST];
        size_t easeds = set_going(c, letoff, led, now->place[i], from), edges;
        for (size_t k = 0; k < easeds; k++) {
            const struct outcome_edge *e =
                outcome_table_edges(c->table, from[k].state, letoff, led, &edges);
            space_fit(now, c->kase->rows.states);
            for (size_t j = 0; j < edges; j++) {
                double p = now->mass[i] * from[k].p * e[j].p;
                add_outcome(out, sounding_at(&c->kase->pool, e[j].outcome),
                            sounding_at(&c->kase->pool, due_id), p);
                space_add_even(now, e[j].next, p);
            }
        }
    }
    due = sounding_at(&c->kase->pool, due_id);
    out->dial_min = dial % 720;
    out->due = due->train[TRAIN_STRIKE].count;
    out->chime_due = due->train[TRAIN_CHIME].falls > 0;
    return space_put_down(now, 0, 0, &none).count;
}

void forecast_init(struct forecast *f, struct closer *c, size_t letoffs, bool led)
{
    size_t half = (size_t)(c->kase->classes.letoffs * 720 / c->kase->clock->cycle_min);
    struct filter_space *now = &c->space; /* where it ended stands apart from where it works */
    double total = 0, none = 0;
    f->count = letoffs ? letoffs : half;
    if (f->count > FORECAST_MOST)
        f->count = FORECAST_MOST;
    memset(f->at, 0, f->count * sizeof f->at[0]);
    for (size_t i = 0; i < c->space.ends; i++)
        total += c->space.end[i].p;
    now->lanes = 1;
    space_fit(now, c->kase->rows.states);
    for (size_t i = 0; i < c->space.ends && total > 0; i++)
        if (c->space.end[i].p > total * 1e-6)
            space_add_even(now, c->space.end[i].state, c->space.end[i].p / total);
    size_t n = space_put_down(now, 0, 0, &none).count;
    for (size_t i = 0; i < f->count; i++)
        n = step(c, (c->next + (int)i) % c->kase->classes.letoffs, led, now, n, &f->at[i]);
}

int coming_count(const struct coming *c)
{
    for (int i = 0; i < FORECAST_COUNTS; i++)
        if (c->count[i] > 0.5)
            return i;
    return -1;
}

double forecast_apart(const struct forecast *a, const struct forecast *b)
{
    double most = 0;
    for (size_t i = 0; i < a->count; i++)
        for (size_t k = 0; k < b->count; k++) {
            if (a->at[i].dial_min != b->at[k].dial_min)
                continue;
            for (int n = 0; n < FORECAST_COUNTS; n++)
                most = fmax(most, fabs(a->at[i].count[n] - b->at[k].count[n]));
            for (int n = 0; n < 3; n++)
                most = fmax(most, fabs(a->at[i].chime[n] - b->at[k].chime[n]));
        }
    return most;
}
