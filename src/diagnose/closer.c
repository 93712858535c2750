/* One hypothesis looked at closer (belief.h). */
#include "diagnose/belief.h"

#include <math.h>
#include <string.h>
#include "diagnose/company.h"
#include "mem.h"

/* Rows are judged from the start that fits best: that the clock might have stood elsewhere is no
 * failing of the cause. */
static void steps_of_best_start(struct closer *c, const struct filter_state *start, size_t starts,
                                bool burn)
{
    double most = -1;
    c->by_step = mem_alloc((c->plan.steps + 1) * sizeof *c->by_step);
    for (size_t i = 0; i < starts; i++) {
        struct filter_state one = {start[i].state, 1};
        double chance = filter_run(&c->plan, c->table, &one, 1, burn, &c->space);
        if (chance > most && c->plan.steps)
            memcpy(c->by_step, c->space.by_step, c->plan.steps * sizeof *c->by_step);
        most = fmax(most, chance);
    }
    c->best_chance = fmax(0, most);
}

static void closer_of(struct closer *c, const struct held *h)
{
    c->kase = h->kase;
    c->variant = &h->kase->variant[h->variant];
    c->table = &h->kase->table[c->variant->acts];
    c->own = &h->kase->table[c->variant->table];
}

static double run_along(struct closer *c, struct filter_plan *plan)
{
    struct filter_state start[STARTS_MOST];
    bool burn = variant_burns(c->variant);
    size_t starts = variant_starts(c->kase, c->variant, filter_plan_start(plan, burn), start);
    return filter_run(plan, c->table, start, starts, burn, &c->space);
}

/* The likeliest of the ways in which the report may lie. */
static struct filter_setting best_way(struct closer *c, const struct held *h, struct plans *p)
{
    struct ways ways = ways_of(p->sheet, h->kase, h->variant);
    size_t best = 0;
    double most = -1;
    for (size_t w = 0; w < ways.count && ways.count > 1; w++) {
        double chance = ways.share[w] * run_along(c, plan_for(p, &ways.set[w]));
        if (chance > most) {
            most = chance;
            best = w;
        }
    }
    return ways.set[best];
}

void closer_place(struct closer *c, const struct held *h, struct plans *p)
{
    closer_of(c, h);
    struct filter_setting set = best_way(c, h, p);
    struct filter_plan *plan = plan_for(p, &set);
    c->chance = run_along(c, plan);
    c->next = filter_plan_next(plan);
}

void closer_init(struct closer *c, const struct held *h, const struct sheet *sheet,
                 const struct ear_model *ear)
{
    memset(c, 0, sizeof *c);
    struct plans p;
    struct filter_state start[STARTS_MOST];
    plans_init(&p, sheet, h->kase, ear ? ear : &ear_usual);
    closer_of(c, h);
    filter_plan_init(&c->plan, sheet, &p.ear, &h->kase->classes, h->kase->due, best_way(c, h, &p));
    bool burn = variant_burns(c->variant);
    size_t starts = variant_starts(h->kase, c->variant, filter_plan_start(&c->plan, burn), start);
    steps_of_best_start(c, start, starts, burn);
    c->chance = filter_run(&c->plan, c->table, start, starts, burn, &c->space);
    c->next = filter_plan_next(&c->plan);
    plans_release(&p);
}

void closer_release(struct closer *c)
{
    filter_plan_release(&c->plan);
    filter_space_release(&c->space);
    mem_free(c->by_step);
    memset(c, 0, sizeof *c);
}
