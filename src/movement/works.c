#include "movement/works.h"

#include "movement/power.h"

void works_settle(struct works *w)
{
    for (int t = TRAIN_STRIKE; t < TRAINS; t++) {
        w->pace[t] = (struct pace){0};
        if (clock_train(w->clock, (enum event_train)t))
            w->pace[t] = power_pace(w, (enum event_train)t);
    }
}

void works_init(struct works *w, const struct clock *c, const struct change *change, size_t changes)
{
    *w = (struct works){.clock = c};
    par_defaults(w->par);
    for (size_t i = 0; i < changes; i++)
        par_change(w->par, change[i].par, change[i].value);
    works_settle(w);
}
