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

/* One let-off: `now` (by state) becomes `then`. */
static void step(struct closer *c, int letoff, const struct filter_state *now, size_t nows,
                 struct coming *out, struct filter_state **then, size_t *thens, size_t *room)
{
    *thens = 0;
    int dial = dial_of(c->variant, c->kase->classes.minute[letoff]);
    uint32_t due_id = due_at(c->kase, dial);
    for (size_t i = 0; i < nows; i++) {
        uint32_t state = now[i].state;
        if (outcome_holds_hands(c->kase->rows.state[state]))
            state = outcome_rows_freed(&c->kase->rows, state);
        size_t edges;
        const struct outcome_edge *e = outcome_table_edges(c->table, state, letoff, &edges);
        for (size_t j = 0; j < edges; j++) {
            double p = now[i].p * e[j].p;
            size_t at = 0;
            add_outcome(out, sounding_at(&c->kase->pool, e[j].outcome),
                        sounding_at(&c->kase->pool, due_id), p);
            while (at < *thens && (*then)[at].state != e[j].next)
                at++;
            if (at == *thens) {
                *then = mem_grow(*then, room, *thens + 1, sizeof **then);
                (*then)[(*thens)++] = (struct filter_state){e[j].next, 0};
            }
            (*then)[at].p += p;
        }
    }
    const struct sounding *due = sounding_at(&c->kase->pool, due_id);
    out->dial_min = dial % 720;
    out->due = due->train[TRAIN_STRIKE].count;
    out->chime_due = due->train[TRAIN_CHIME].falls > 0;
}

void forecast_init(struct forecast *f, struct closer *c, size_t letoffs)
{
    memset(f, 0, sizeof *f);
    size_t half = (size_t)(c->kase->classes.letoffs * 720 / c->kase->clock->cycle_min);
    size_t nows = 0, thens = 0, now_room = 0, then_room = 0;
    struct filter_state *now = NULL, *then = NULL;
    double total = 0;
    f->count = letoffs ? letoffs : half;
    if (f->count > FORECAST_MOST)
        f->count = FORECAST_MOST;
    for (size_t i = 0; i < c->space.ends; i++)
        total += c->space.end[i].p;
    for (size_t i = 0; i < c->space.ends && total > 0; i++) {
        if (c->space.end[i].p <= total * 1e-6)
            continue;
        now = mem_grow(now, &now_room, nows + 1, sizeof *now);
        now[nows++] = (struct filter_state){c->space.end[i].state, c->space.end[i].p / total};
    }
    for (size_t i = 0; i < f->count; i++) {
        int letoff = (c->next + (int)i) % c->kase->classes.letoffs;
        step(c, letoff, now, nows, &f->at[i], &then, &thens, &then_room);
        struct filter_state *swap = now;
        size_t room = now_room;
        now = then;
        nows = thens;
        now_room = then_room;
        then = swap;
        then_room = room;
    }
    mem_free(now);
    mem_free(then);
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
