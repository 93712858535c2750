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

void closer_init(struct closer *c, const struct held *h, const struct sheet *sheet,
                 const struct ear_model *ear)
{
    memset(c, 0, sizeof *c);
    c->kase = h->kase;
    c->variant = &h->kase->variant[h->variant];
    c->table = &h->kase->table[c->variant->acts];
    c->own = &h->kase->table[c->variant->table];
    struct plans p;
    plans_init(&p, sheet, h->kase, ear ? ear : &ear_usual);
    struct ways ways = ways_of(sheet, h->kase, h->variant);
    struct filter_state start[STARTS_MOST];
    bool burn = variant_burns(c->variant);
    size_t best = 0;
    double most = -1;
    for (size_t w = 0; w < ways.count; w++) {
        struct filter_plan *plan = plan_for(&p, &ways.set[w]);
        size_t starts = variant_starts(h->kase, c->variant, filter_plan_start(plan, burn), start);
        double chance = ways.share[w] * filter_run(plan, c->table, start, starts, burn, &c->space);
        if (chance > most) {
            most = chance;
            best = w;
        }
    }
    filter_plan_init(&c->plan, sheet, &p.ear, &h->kase->classes, h->kase->due, ways.set[best]);
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
