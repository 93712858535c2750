#include "ceiling.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>
#include "diagnose/evidence.h"
#include "mem.h"

#define HYPOTHESES 500  /* weighed, the likeliest; the others keep no weight ... */
#define LEAST      1e-5 /* ... nor those below this */
#define DRAWS      6    /* clocks that are led on for each */

/* Clocks under one hypothesis, from where the report leaves them. */
struct crowd {
    struct pretend_world hearing; /* the world, but answers are made without mishearing */
    struct pretend_call one[DRAWS];
    double weight[DRAWS];
    double misheard;
    struct habit habit;
    bool habit_known;
};

static uint32_t draw_state(struct random *r, const struct filter_state *at, size_t n)
{
    double sum = 0;
    for (size_t i = 0; i < n; i++)
        sum += at[i].p;
    double u = random_unit(r) * sum;
    for (size_t i = 0; i + 1 < n; i++) {
        u -= at[i].p;
        if (u < 0)
            return at[i].state;
    }
    return n ? at[n - 1].state : 0;
}

static void crowd_init(struct crowd *c, struct pretend_desk *d, const struct pretend_world *w,
                       const struct world_row *clear, const struct held *h,
                       const struct sheet *report)
{
    struct closer closer;
    struct random r;
    random_init(&r, 17);
    closer_init(&closer, h, report, &w->ear);
    c->hearing = *w;
    c->hearing.row = clear;
    c->misheard = w->row->misheard;
    c->habit_known = false;
    for (int i = 0; i < DRAWS; i++) {
        struct rest rest = h->kase->rows.state[draw_state(&r, closer.space.end, closer.space.ends)];
        pretend_call_stand(&c->one[i], d, &c->hearing, h->kase, h->variant, closer.next, rest,
                           (uint64_t)i);
        c->weight[i] = 1.0 / DRAWS;
    }
    closer_release(&closer);
}

static double total(const struct crowd *c)
{
    double sum = 0;
    for (int i = 0; i < DRAWS; i++)
        sum += c->weight[i];
    return sum;
}

/* Answers that are led to: each clock of the crowd is led on and may agree or not. */
static void weigh_led(struct crowd *c, const struct answered *a)
{
    c->habit_known = false;
    for (int i = 0; i < DRAWS; i++) {
        char answer[64];
        pretend_call_answer(&c->one[i], &a->q, answer);
        bool near = abs(atoi(answer) - atoi(a->answer)) == 1 || a->q.kind == QUESTION_CHIME;
        c->weight[i] *=
            strcmp(answer, a->answer) == 0 ? 1 - c->misheard : c->misheard * (near ? 0.5 : 0.02);
    }
}

static double seen_degree(struct crowd *c, const char *word)
{
    struct filter_state now[DRAWS];
    struct pretend_call *one = &c->one[0];
    double all = total(c);
    for (int i = 0; i < DRAWS; i++)
        now[i] = (struct filter_state){outcome_rows_state(&one->kase->rows, c->one[i].now.rest),
                                       all > 0 ? c->weight[i] / all : 1.0 / DRAWS};
    if (!c->habit_known)
        habit_init(&c->habit, one->kase, &one->kase->variant[one->variant], one->next, now, DRAWS);
    c->habit_known = true;
    return fmax(0, habit_degree(&c->habit, word));
}

static double hint_chance(const struct crowd *c, const struct answered *a)
{
    const struct clock *clock = c->one[0].clock;
    const struct word *w = words_find(c->one[0].desk->words, WORD_HINT, a->q.word);
    double blind = w && w->values ? 1.0 / (double)w->values : 1;
    for (size_t i = 0; i < clock->hints; i++)
        if (strcmp(clock->hint[i].word, a->q.word) == 0 && clock->hint[i].values) {
            double mine = 0;
            for (size_t k = 0; k < clock->hint[i].values; k++)
                mine += strcmp(clock->hint[i].value[k], a->answer) == 0;
            return (1 - c->misheard) * mine / (double)clock->hint[i].values + c->misheard * blind;
        }
    return strcmp(a->answer, "unknown") == 0 ? 1 - c->misheard : c->misheard * blind;
}

static void weigh(struct crowd *c, const struct answered *a)
{
    double yes = 0.5, p = 1;
    switch (a->q.kind) {
    case QUESTION_STRIKE:
    case QUESTION_CHIME:
        weigh_led(c, a);
        return;
    case QUESTION_HINT:
        p = hint_chance(c, a);
        break;
    case QUESTION_SEEN:
        yes = seen_degree(c, a->q.word);
        break;
    case QUESTION_HISTORY:
        yes = pretend_history(c->one[0].fault, a->q.word);
        break;
    }
    if (a->q.kind != QUESTION_HINT) {
        yes = c->misheard + (1 - 2 * c->misheard) * yes;
        p = strcmp(a->answer, "yes") == 0 ? yes : 1 - yes;
    }
    for (int i = 0; i < DRAWS; i++)
        c->weight[i] *= p;
}

/* ---- the belief anew ---- */

static int by_p_cause(const void *a, const void *b)
{
    double x = ((const struct belief_cause *)a)->p, y = ((const struct belief_cause *)b)->p;
    return x < y ? 1 : x > y ? -1 : 0;
}

static int by_p_share(const void *a, const void *b)
{
    double x = ((const struct belief_share *)a)->p, y = ((const struct belief_share *)b)->p;
    return x < y ? 1 : x > y ? -1 : 0;
}

static void add_share(struct belief_share *s, size_t n, const char *name, double p)
{
    for (size_t i = 0; i < n; i++)
        s[i].p += strcmp(s[i].name, name) == 0 ? p : 0;
}

static void sum_up(struct belief *b)
{
    double all = 0;
    for (size_t i = 0; i < b->causes; i++)
        b->cause[i].p = 0;
    for (size_t i = 0; i < b->classes; i++)
        b->by_class[i].p = 0;
    for (size_t i = 0; i < b->parts; i++)
        b->by_part[i].p = 0;
    for (size_t i = 0; i < b->helds; i++)
        all += b->held[i].p;
    for (size_t i = 0; i < b->helds && all > 0; i++)
        b->cause[b->held[i].cause].p += b->held[i].p / all;
    for (size_t i = 0; i < b->causes; i++) {
        add_share(b->by_class, b->classes, b->cause[i].class, b->cause[i].p);
        add_share(b->by_part, b->parts, b->cause[i].part, b->cause[i].p);
    }
    qsort(b->cause, b->causes, sizeof *b->cause, by_p_cause);
    qsort(b->by_class, b->classes, sizeof *b->by_class, by_p_share);
    qsort(b->by_part, b->parts, sizeof *b->by_part, by_p_share);
}

bool ceiling_find(struct finder *f, struct pretend_desk *d, struct pretend_world *w,
                  const struct sheet *report, const struct answered *answered, size_t count,
                  struct belief *out)
{
    struct belief_options full = {
        .ear = &w->ear, .prior_unknown = 1e-12, .shop = pretend_true, .shop_with = w};
    struct world_row clear = *w->row;
    struct crowd *c = mem_alloc(sizeof *c);
    clear.misheard = 0;
    bool found = belief_find(f, report, &full, out);
    for (size_t i = 0; i < out->helds && count; i++) {
        struct held *h = &out->held[i];
        if (i >= HYPOTHESES || h->p < LEAST) {
            h->p = 0;
            continue;
        }
        crowd_init(c, d, w, &clear, h, report);
        for (size_t k = 0; k < count; k++)
            weigh(c, &answered[k]);
        h->p *= total(c);
    }
    if (found && count)
        sum_up(out);
    mem_free(c);
    return found;
}
