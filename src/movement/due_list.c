#include "movement/due_list.h"

#include <stdio.h>
#include <stdlib.h>

static int by_minute(const void *a, const void *b)
{
    const struct due *x = a, *y = b;
    return x->shown_min - y->shown_min;
}

static bool by_night(const struct clock *c, int min)
{
    int from = c->night_from_min, to = c->night_to_min;
    if (from == to)
        return false;
    return from < to ? min >= from && min < to : min >= from || min < to;
}

size_t due_list(const struct clock *c, struct due *out, size_t room)
{
    struct works w;
    struct moment m;
    struct chance chance;
    struct event_list events = {0};
    size_t n = 0;
    works_init(&w, c, NULL, 0);
    moment_init(&m, &w, 9 * 60 + 50 + c->warn_min); /* by day, clear of a warning */
    for (int left = clock_letoffs(c); left > 0 && n < room; left--) {
        event_list_clear(&events);
        chance_script(&chance, 1e-9);
        movement_turn(&w, &m, clock_next_lobe(c, m.work_min), BY_HAND, &chance, &events);
        int shown = moment_shown(&w, &m) % (c->cycle_min > 0 ? c->cycle_min : 720);
        out[n++] = (struct due){shown, rung_of(c, &events), by_night(c, shown)};
    }
    event_list_release(&events);
    qsort(out, n, sizeof *out, by_minute);
    return n;
}

const char *due_time(const struct clock *c, int shown_min, char out[8])
{
    if (c->cycle_min <= 720 && !c->dials_24)
        return text_dial(shown_min, out);
    snprintf(out, 8, "%d:%02d", shown_min / 60 % 24, shown_min % 60);
    return out;
}
