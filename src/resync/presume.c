#include "resync/presume.h"

#include <math.h>
#include <string.h>

#include "mem.h"

#define HAND_MOVED 0.02 /* an hour hand found moved, against one found right */

struct list {
    struct stance_chance *at;
    size_t count, room;
};

static void list_add(struct list *l, const struct stance *s, double p)
{
    for (size_t i = 0; i < l->count; i++)
        if (stance_same(&l->at[i].stance, s)) {
            l->at[i].p += p;
            return;
        }
    l->at = mem_grow(l->at, &l->room, l->count + 1, sizeof *l->at);
    l->at[l->count++] = (struct stance_chance){*s, p};
}

static size_t list_finish(struct list *l, struct stance_chance **out)
{
    double sum = 0;
    for (size_t i = 0; i < l->count; i++)
        sum += l->at[i].p;
    for (size_t i = 0; i < l->count; i++)
        l->at[i].p /= sum;
    *out = l->at;
    return l->count;
}

struct told told_nothing(void)
{
    return (struct told){TOLD_NOTHING, TOLD_NOTHING, TOLD_NOTHING, TOLD_NOTHING, false};
}

int told_target(const struct clock *c, int min, bool known)
{
    int other = (min + 720) % 1440;
    return !known && stance_by_night(c, min) && !stance_by_night(c, other) ? other : min;
}

int told_near(const struct clock *c, int min, bool known, int target_min)
{
    if (c->cycle_min < 1440 || known)
        return min;
    int far = (min - target_min + 2160) % 1440 - 720;
    return far > 360 || far < -360 ? (min + 720) % 1440 : min;
}

/* --- every state of the mechanism ------------------------------------------------------------- */

/* What is left open when the states are counted up. */
struct open {
    bool count, quarter;
};

static int entries_of(const struct clock *c, enum event_train role)
{
    const struct train *t = &c->train[role];
    return t->control == CONTROL_COUNT_WHEEL && t->entries > 0 ? t->entries : 1;
}

/* The chime at entry q, its drum with it and its corrector locked where it then is. */
static struct rest chime_at(const struct clock *c, struct rest rest, int q)
{
    const struct train *t = &c->train[TRAIN_CHIME];
    int sum = 0;
    if (t->control != CONTROL_COUNT_WHEEL)
        return rest;
    for (int i = 0; i < q; i++)
        sum += t->entry[i];
    rest.quarter = (uint8_t)q;
    rest.drum = (uint8_t)(t->tunes && t->tune[0]->changes ? sum % t->tune[0]->changes : 0);
    rest.flags = (uint8_t)(rest.flags & ~REST_CORRECTOR);
    if (t->corrector && q == t->entries - 1)
        rest.flags |= REST_CORRECTOR;
    return rest;
}

typedef void each_state(void *with, struct rest rest);

static void every_state(const struct works *w, struct rest due, struct open open, each_state *each, void *with)
{
    const struct clock *c = w->clock;
    int counts = open.count ? entries_of(c, TRAIN_STRIKE) : 1;
    int quarters = open.quarter ? entries_of(c, TRAIN_CHIME) : 1;
    for (int k = 0; k < counts; k++)
        for (int q = 0; q < quarters; q++) {
            struct rest rest = due;
            if (counts > 1)
                rest.count = (uint8_t)k;
            if (quarters > 1)
                rest = chime_at(c, rest, q);
            each(with, rest);
        }
}

/* --- for sweeps ---------------------------------------------------------------------------------- */

struct sweep {
    const struct works *w;
    struct list list;
    int work_min;
};

static void add_at_rest(struct sweep *s, struct rest rest)
{
    struct moment m = {.work_min = s->work_min, .rest = rest};
    struct chance chance;
    chance_script(&chance, 1e-9);
    movement_turn(s->w, &m, 0, BY_HAND, &chance, NULL); /* hands may stand in the warning */
    struct stance at = stance_of(s->w, &m);
    list_add(&s->list, &at, 1);
}

static void sweep_state(void *with, struct rest rest)
{
    struct sweep *s = with;
    add_at_rest(s, rest);
    if (s->w->clock->train[TRAIN_CHIME].corrector) { /* tripped or shaken off since */
        rest.flags ^= REST_CORRECTOR;
        add_at_rest(s, rest);
    }
}

size_t presume_all(const struct works *w, int shown_min, struct stance_chance **list)
{
    struct sweep s = {.w = w, .work_min = movement_work_at(w, shown_min)};
    every_state(w, rest_in_step(w, (s.work_min + 1) % 1440), (struct open){true, true}, sweep_state, &s);
    return list_finish(&s.list, list);
}

/* --- what fits what was told ------------------------------------------------------------------------ */

struct fitting {
    struct reset *r;
    const struct told *told;
    struct stance start; /* hands set back to before the let-off in question */
    int span_min, at_min;  /* minutes from there to now; shown at the let-off told of, or -1 */
    double weight;
    bool hands_off;
    struct list list;
};

/* Counts heard on the way to now: the last that sounded, or those at the let-off told of. */
static bool take_heard(const struct fitting *f, const struct rung *h, int shown, int *struck, int *phrases)
{
    bool told_of = f->at_min >= 0;
    if (told_of && shown != f->at_min)
        return false;
    if (h->blows || told_of || f->told->struck == 0)
        *struck = h->blows;
    if (h->phrases || told_of || f->told->phrases == 0)
        *phrases = h->phrases;
    return true;
}

static bool as_told(int told, int heard)
{
    return told == TOLD_NOTHING || told == heard;
}

static void try_state(void *with, struct rest rest)
{
    struct fitting *f = with;
    const struct clock *c = f->r->w->clock;
    struct stance s = f->start;
    int left = f->span_min, struck = 0, phrases = 0;
    s.rest = stance_rest(c, rest);
    while (left > 0) {
        struct done done;
        int ahead = stance_ahead(c, &s), go = ahead <= left ? ahead : left;
        struct stance on = s;
        on.hands_off = 0;
        if (go < ahead) { /* no let-off any more: only the hands go on */
            struct moment m = stance_moment(&on);
            struct chance chance;
            chance_script(&chance, 1e-9);
            movement_turn(f->r->w, &m, go, BY_HAND, &chance, NULL);
            s = stance_of(f->r->w, &m);
        } else {
            if (!deed_do(f->r, &on, DEED_FORWARD, go, &done))
                return;
            s = done.to;
            take_heard(f, &done.heard, stance_shown(f->r->w, &s), &struck, &phrases);
        }
        left -= go;
    }
    if (!as_told(f->told->struck, struck) || !as_told(f->told->phrases, phrases))
        return;
    s.hands_off = f->hands_off;
    list_add(&f->list, &s, f->weight);
}

/* Minutes back from `shown` to before the let-off told of, or over a whole round of lobes. */
static int span_back(const struct fitting *f, int shown)
{
    const struct clock *c = f->r->w->clock;
    if (f->told->at_min == TOLD_NOTHING)
        return c->lobe_period_min;
    return stance_fold(c, shown - f->told->at_min) + f->r->lead_min;
}

/* All states with the hands sitting on their pipes like this. */
static void try_hands(struct fitting *f, int minute_off, int hours, double weight, struct open open)
{
    const struct works *w = f->r->w;
    const struct clock *c = w->clock;
    struct stance now = {.minute_off = (int16_t)minute_off, .hour_off = (int16_t)stance_hour_off(c, 60 * hours)};
    f->span_min = span_back(f, f->told->hands_min);
    f->at_min = f->told->at_min == TOLD_NOTHING ? -1 : stance_fold(c, f->told->at_min);
    int ahead = stance_shown(w, &now); /* of the hands against the work, which is at 0 */
    now.work_min = (int16_t)stance_fold(c, f->told->hands_min - ahead - f->span_min);
    struct moment m = stance_moment(&now);
    f->start = now = stance_of(w, &m);
    f->weight = weight;
    /* what is not open is in step with what the hands show, as far as lobes allow */
    int shown = stance_fold(c, f->told->hands_min - f->span_min);
    every_state(w, f->r->due[stance_lobes_agree(w, &now) ? shown : now.work_min], open, try_state, f);
}

/* Minute hands beside their let-offs: only when it was told that it let off elsewhere. */
static void try_minutes(struct fitting *f, int hours, double weight, struct open open)
{
    const struct clock *c = f->r->w->clock;
    int at = f->told->at_min;
    if (at == TOLD_NOTHING || clock_lobe_at(c, at) >= 0) {
        try_hands(f, 0, hours, weight, open);
        return;
    }
    for (int off = -30; off <= 30; off++)
        if (clock_lobe_at(c, (at - off + 1440) % 1440) >= 0)
            try_hands(f, off, hours, weight * exp(-fabs((double)off) / 10), open);
}

static void try_hours(struct fitting *f, struct open open, bool moved)
{
    const struct clock *c = f->r->w->clock;
    int hours = moved && !c->hour_hand_keyed && stance_hours_matter(c) ? (c->dials_24 ? 24 : 12) : 1;
    for (int k = 0; k < hours; k++)
        try_minutes(f, k, k ? HAND_MOVED : 1, open);
}

/* Hands in a tin: the work stands just behind some let-off. */
static void try_arbor(struct fitting *f, struct open open)
{
    const struct works *w = f->r->w;
    const struct clock *c = w->clock;
    int round = stance_hours_matter(c) ? c->cycle_min : c->lobe_period_min;
    f->hands_off = true;
    f->weight = 1;
    f->at_min = -1;
    f->span_min = f->r->lead_min;
    for (int m = 0; m < round; m++) {
        if (clock_lobe_at(c, m) < 0)
            continue;
        f->start = (struct stance){.work_min = (int16_t)stance_fold(c, m - f->span_min)};
        every_state(w, f->r->due[f->start.work_min], open, try_state, f);
    }
}

size_t presume(struct reset *r, const struct told *told, struct stance_chance **list)
{
    struct fitting f = {.r = r, .told = told};
    bool struck = told->struck != TOLD_NOTHING, chimed = told->phrases != TOLD_NOTHING;
    struct open open = {told->unknown || struck, told->unknown || chimed};
    if (told->hands_min == TOLD_NOTHING) {
        try_arbor(&f, (struct open){true, told->unknown || chimed});
        if (!f.list.count)
            try_arbor(&f, (struct open){true, true});
        return list_finish(&f.list, list);
    }
    try_hours(&f, open, told->unknown || struck);
    if (!f.list.count)
        try_hours(&f, (struct open){true, true}, true);
    return list_finish(&f.list, list);
}
