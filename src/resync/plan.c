#include "resync/plan.h"

#include <math.h>
#include <string.h>

#include "mem.h"
#include "resync/atlas.h"
#include "resync/step_text.h"


/* Places that may be the case. */
struct belief {
    uint32_t *place;
    double *p; /* sums to what is believed of the whole: the root's is 1 */
    size_t count;
};

struct finder {
    struct atlas atlas;
    long looks, looks_most; /* at the step in hand */
    bool cut;
};
#define LOOK_WIDE 8    /* so many places more weighed at once count as one look more */
#define LOOKS_LEAST 300 /* at the least likely branch */

static struct belief belief_new(size_t room)
{
    return (struct belief){mem_alloc((room + 1) * sizeof(uint32_t)), mem_alloc((room + 1) * sizeof(double)), 0};
}

static void belief_release(struct belief *b)
{
    mem_free(b->place);
    mem_free(b->p);
    *b = (struct belief){0};
}

static void belief_add(struct belief *b, uint32_t place, double p)
{
    for (size_t i = 0; i < b->count; i++)
        if (b->place[i] == place) {
            b->p[i] += p;
            return;
        }
    b->place[b->count] = place;
    b->p[b->count++] = p;
}

static double belief_sum(const struct belief *b)
{
    double sum = 0;
    for (size_t i = 0; i < b->count; i++)
        sum += b->p[i];
    return sum;
}

/* --- one deed done to all that may be the case -------------------------------------------------- */

static const struct road *road_like(const struct atlas *a, uint32_t place, enum deed d, int amount)
{
    const struct place *p = &a->place[place];
    for (uint32_t i = 0; i < p->roads; i++)
        if (a->road[p->first + i].done.deed == d && a->road[p->first + i].done.amount == amount)
            return &a->road[p->first + i];
    return NULL;
}

/* Cost of the deed for all, plus what would be left if all were known then: a lower bound.
 * INFINITY if some cannot do it. */
static double bound_of(const struct atlas *a, const struct belief *b, enum deed d, int amount)
{
    double sum = 0;
    for (size_t i = 0; i < b->count; i++) {
        const struct road *road = road_like(a, b->place[i], d, amount);
        if (!road)
            return INFINITY;
        sum += b->p[i] * (road->done.cost + a->place[road->to].cost);
    }
    return sum;
}

/* Those of `b` that sound like its member `like` when the deed is done; `out` has room. */
static void sounding_like(const struct atlas *a, const struct belief *b, const struct road *const *road,
                          size_t like, struct belief *out)
{
    (void)a;
    out->count = 0;
    for (size_t i = 0; i < b->count; i++)
        if (rung_same(&road[i]->done.heard, &road[like]->done.heard))
            belief_add(out, road[i]->to, b->p[i]);
}

static bool first_of_its_sound(const struct road *const *road, size_t i)
{
    for (size_t k = 0; k < i; k++)
        if (rung_same(&road[k]->done.heard, &road[i]->done.heard))
            return false;
    return true;
}

struct choice {
    enum deed deed;
    int amount;
    double value;
    bool stop; /* all may stop here: whichever it is, it is in step */
};

static double value_of_stopping(const struct finder *f, const struct belief *b)
{
    double sum = 0;
    for (size_t i = 0; i < b->count; i++)
        sum += b->p[i] * f->atlas.place[b->place[i]].goal;
    return sum;
}

static struct choice choose(struct finder *f, const struct belief *b, int depth, double limit);

static double value_of(struct finder *f, const struct belief *b, int depth, double limit)
{
    if (b->count == 1)
        return b->p[0] * f->atlas.place[b->place[0]].cost;
    return choose(f, b, depth, limit).value;
}

/* Expected cost of a deed and of the best that can follow; anything >= limit when it is no use. */
static double value_of_deed(struct finder *f, const struct belief *b, enum deed d, int amount,
                            int depth, double limit)
{
    const struct atlas *a = &f->atlas;
    const struct road **road = mem_alloc(b->count * sizeof *road);
    struct belief part = belief_new(b->count);
    double value = bound_of(a, b, d, amount);
    for (size_t i = 0; i < b->count && value < limit; i++)
        road[i] = road_like(a, b->place[i], d, amount);
    for (size_t i = 0; i < b->count && value < limit; i++) {
        if (!first_of_its_sound(road, i))
            continue;
        sounding_like(a, b, road, i, &part);
        double known = 0;
        for (size_t k = 0; k < part.count; k++)
            known += part.p[k] * a->place[part.place[k]].cost;
        value += value_of(f, &part, depth + 1, limit - value + known) - known;
    }
    belief_release(&part);
    mem_free(road);
    return value;
}

#define DEPTH_FREE 7 /* deeper than this one goes on by ear */

static bool lever(const struct done *d)
{
    return d->deed == DEED_LEVER_STRIKE || d->deed == DEED_LEVER_CHIME;
}

static bool thought_enough(const struct finder *f)
{
    return f->looks >= f->looks_most;
}

/* Let-offs after which nothing new can be heard: what a clock sounds over its cycle comes round again. */
static int ear_depth(const struct finder *f)
{
    return DEPTH_FREE + 2 * clock_letoffs(f->atlas.reset->w->clock) + 8;
}

/* How one goes on without thinking: levers back to sound, then from let-off to let-off, until what is
 * heard tells.  This ends: two stances that any let-off tells apart are told apart within a cycle. */
static bool deed_by_ear(const struct atlas *a, const struct belief *b, enum deed *deed, int *amount)
{
    static const enum deed order[] = {DEED_LEVER_STRIKE, DEED_LEVER_CHIME, DEED_FORWARD};
    const struct place *p = &a->place[b->place[0]];
    for (size_t k = 0; k < sizeof order / sizeof *order; k++)
        for (uint32_t i = 0; i < p->roads; i++) {
            const struct done *d = &a->road[p->first + i].done;
            if (d->deed != order[k] || (lever(d) && d->amount) || !isfinite(bound_of(a, b, d->deed, d->amount)))
                continue;
            *deed = d->deed;
            *amount = d->amount;
            return true;
        }
    return false;
}

/* The road all of them would take if they were known; NULL if they would part. */
static const struct road *road_of_all(const struct finder *f, const struct belief *b)
{
    const struct road *first = NULL;
    for (size_t i = 0; i < b->count; i++) {
        uint32_t best = f->atlas.place[b->place[i]].best;
        const struct road *road = best == ATLAS_NONE ? NULL : &f->atlas.road[best];
        if (!road || (first && (first->done.deed != road->done.deed || first->done.amount != road->done.amount)))
            return NULL;
        first = first ? first : road;
    }
    return first;
}

static double value_if_known(const struct finder *f, const struct belief *b)
{
    double sum = 0;
    for (size_t i = 0; i < b->count; i++)
        sum += b->p[i] * f->atlas.place[b->place[i]].cost;
    return sum;
}

static void take_better(struct choice *best, const struct done *d, double value)
{
    if (value < best->value - 1e-12)
        *best = (struct choice){d->deed, d->amount, value, false};
}

/* True if some deed not looked into could still be better. */
static bool left_untried(const struct finder *f, const struct belief *b, double than)
{
    const struct place *p = &f->atlas.place[b->place[0]];
    for (uint32_t i = 0; i < p->roads; i++) {
        const struct done *d = &f->atlas.road[p->first + i].done;
        if (!(lever(d) && d->amount) && bound_of(&f->atlas, b, d->deed, d->amount) < than)
            return true;
    }
    return false;
}

static struct choice go_by_ear(struct finder *f, const struct belief *b, int depth, struct choice best)
{
    struct done d = {.deed = DEED_FORWARD};
    if (depth > ear_depth(f) || !deed_by_ear(&f->atlas, b, &d.deed, &d.amount))
        return best;
    take_better(&best, &d, value_of_deed(f, b, d.deed, d.amount, depth, best.value));
    f->cut = f->cut || left_untried(f, b, best.value);
    return best;
}

/* The deed with the least expected cost; value >= limit if none is below it. */
static struct choice choose(struct finder *f, const struct belief *b, int depth, double limit)
{
    const struct place *p = &f->atlas.place[b->place[0]];
    struct choice best = {DEED_FORWARD, 0, limit, false};
    double stopping = value_of_stopping(f, b);
    f->looks += 1 + (long)b->count / LOOK_WIDE;
    if (stopping < limit)
        best = (struct choice){DEED_WAIT, 0, stopping, true};
    if (thought_enough(f))
        return go_by_ear(f, b, depth, best);
    const struct road *all = road_of_all(f, b);
    if (all) { /* what they do not need to be told apart for costs no depth */
        double value = value_of_deed(f, b, all->done.deed, all->done.amount, depth - 1, best.value);
        take_better(&best, &all->done, value);
        if (value <= value_if_known(f, b) + 1e-9)
            return best;
    }
    if (depth >= DEPTH_FREE)
        return go_by_ear(f, b, depth, best);
    for (int pass = 0; pass < 2; pass++) /* carrying on first: it gives a good limit */
        for (uint32_t i = 0; i < p->roads; i++) {
            const struct done *d = &f->atlas.road[p->first + i].done;
            if ((d->deed == DEED_FORWARD) != (pass == 0) || (lever(d) && d->amount))
                continue; /* nobody listens to a silent clock */
            take_better(&best, d, value_of_deed(f, b, d->deed, d->amount, depth, best.value));
        }
    return best;
}

/* --- writing the plan ------------------------------------------------------------------------------ */

static struct plan *plan_new(void)
{
    struct plan *p = mem_alloc(sizeof *p);
    p->found = p->optimal = true;
    return p;
}

void plan_free(struct plan *p)
{
    if (!p)
        return;
    for (size_t i = 0; i < p->steps; i++) {
        mem_free(p->step[i].text);
        mem_free(p->step[i].hear);
    }
    for (size_t i = 0; i < p->branches; i++)
        plan_free(p->branch[i].then);
    mem_free(p->step);
    mem_free(p->branch);
    mem_free(p->proof);
    mem_free(p);
}

static int shown_or_off(const struct works *w, const struct stance *s)
{
    return s->hands_off ? -1 : stance_shown(w, s);
}

static bool silenced(const struct stance *s, const struct rung *h)
{
    return (s->rest.flags & (REST_SILENT_STRIKE | REST_SILENT_CHIME)) && !h->blows && !h->phrases;
}

/* Going back over several let-offs, on without waiting, or on with the levers at silent, is one
 * step to whoever does it. */
static bool joins(const struct step *last, const struct stance *from, const struct done *d)
{
    if (last->deed != d->deed || from->hands_off) /* each let-off of a bare arbor is turned to by itself */
        return false;
    if (d->deed == DEED_FORWARD)
        return silenced(&last->before, &last->heard) && silenced(from, &d->heard);
    return d->deed == DEED_BACK || d->deed == DEED_QUICK;
}

static struct step *add_step(struct plan *p, const struct reset *r, const struct stance *from,
                             const struct done *done)
{
    struct step *last = p->steps ? &p->step[p->steps - 1] : NULL;
    if (!last || !joins(last, from, done)) {
        p->step = mem_grow(p->step, &p->step_room, p->steps + 1, sizeof *p->step);
        last = &p->step[p->steps++];
        *last = (struct step){.deed = done->deed, .before = *from,
                              .from_min = shown_or_off(r->w, from), .hazard = deed_row(done->deed)->hazard};
    }
    last->amount += done->amount;
    last->minutes += done->minutes;
    last->cost += done->cost;
    last->heard = done->heard;
    last->after = done->to;
    last->to_min = shown_or_off(r->w, &done->to);
    p->minutes += done->minutes;
    p->worst_min += done->minutes;
    p->blows += done->heard.blows;
    p->cost += done->cost;
    return last;
}

/* In step: nothing more, or only until the time has caught up. */
static void stop_here(struct finder *f, struct plan *p, uint32_t at)
{
    struct reset *r = f->atlas.reset;
    const struct place *end = &f->atlas.place[at];
    struct done wait;
    int minutes = reset_done(r, &end->stance) ? 0 : reset_wait(r, &end->stance);
    if (minutes && deed_do(r, &end->stance, DEED_WAIT, minutes, &wait))
        add_step(p, r, &end->stance, &wait);
    p->proof = step_text_proof(r, &end->stance);
}

static void walk(struct finder *f, struct plan *p, uint32_t at)
{
    struct reset *r = f->atlas.reset;
    for (; f->atlas.place[at].best != ATLAS_NONE;) {
        const struct road *road = &f->atlas.road[f->atlas.place[at].best];
        add_step(p, r, &f->atlas.place[at].stance, &road->done);
        at = road->to;
    }
    const struct place *end = &f->atlas.place[at];
    if (!isfinite(end->cost)) {
        p->found = false;
        p->why = step_text_no_way(r, &end->stance);
        return;
    }
    stop_here(f, p, at);
}

static void go_on(struct finder *f, struct plan *p, const struct belief *b, int alike);

static void add_branch(struct finder *f, struct plan *p, const struct rung *heard, const struct belief *part,
                       double whole)
{
    p->branch = mem_grow(p->branch, &p->branch_room, p->branches + 1, sizeof *p->branch);
    struct plan_branch *branch = &p->branch[p->branches++];
    *branch = (struct plan_branch){*heard, belief_sum(part) / whole, plan_new()};
    go_on(f, branch->then, part, 0);
}

static int branch_order(const struct plan_branch *a, const struct plan_branch *b)
{
    int by_p = (a->p < b->p - 1e-9) - (a->p > b->p + 1e-9);
    return by_p ? by_p : a->heard.blows != b->heard.blows ? a->heard.blows - b->heard.blows
                                                          : a->heard.phrases - b->heard.phrases;
}

static void sort_branches(struct plan *p)
{
    for (size_t i = 1; i < p->branches; i++)
        for (size_t k = i; k > 0 && branch_order(&p->branch[k - 1], &p->branch[k]) > 0; k--) {
            struct plan_branch swap = p->branch[k];
            p->branch[k] = p->branch[k - 1];
            p->branch[k - 1] = swap;
        }
}

/* Sum the branches up into their plan. */
static void sum_branches(struct plan *p)
{
    double worst = 0;
    for (size_t i = 0; i < p->branches; i++) {
        const struct plan *then = p->branch[i].then;
        p->minutes += p->branch[i].p * then->minutes;
        p->blows += p->branch[i].p * then->blows;
        p->cost += p->branch[i].p * then->cost;
        p->found = p->found && then->found;
        p->why = then->found ? p->why : then->why;
        worst = then->worst_min > worst ? then->worst_min : worst;
    }
    p->worst_min += worst;
}

/* The step in the plan stands for the likeliest; the sums are to be those of all. */
static void even_out(struct plan *p, const struct belief *b, const struct road *const *road, const struct done *shown)
{
    double whole = belief_sum(b), minutes = 0, cost = 0, blows = 0, most = 0;
    for (size_t i = 0; i < b->count; i++) {
        double share = b->p[i] / whole;
        minutes += share * road[i]->done.minutes;
        cost += share * road[i]->done.cost;
        blows += share * road[i]->done.heard.blows;
        most = road[i]->done.minutes > most ? road[i]->done.minutes : most;
    }
    p->minutes += minutes - shown->minutes;
    p->cost += cost - shown->cost;
    p->blows += blows - shown->heard.blows;
    p->worst_min += most - shown->minutes;
}

/* Do the chosen deed to all and part them by what is heard. */
static void part_ways(struct finder *f, struct plan *p, const struct belief *b, struct choice c, int alike)
{
    const struct road **road = mem_alloc(b->count * sizeof *road);
    struct belief part = belief_new(b->count);
    size_t sounds = 0, likeliest = 0;
    double whole = belief_sum(b);
    for (size_t i = 0; i < b->count; i++) {
        road[i] = road_like(&f->atlas, b->place[i], c.deed, c.amount);
        likeliest = b->p[i] > b->p[likeliest] ? i : likeliest;
    }
    for (size_t i = 0; i < b->count; i++)
        sounds += first_of_its_sound(road, i);
    add_step(p, f->atlas.reset, &f->atlas.place[b->place[likeliest]].stance, &road[likeliest]->done);
    even_out(p, b, road, &road[likeliest]->done);
    for (size_t i = 0; i < b->count; i++) {
        if (!first_of_its_sound(road, i))
            continue;
        sounding_like(&f->atlas, b, road, i, &part);
        if (sounds == 1)
            go_on(f, p, &part, alike + 1);
        else
            add_branch(f, p, &road[i]->done.heard, &part, whole);
    }
    belief_release(&part);
    mem_free(road);
    if (sounds > 1) {
        sort_branches(p);
        sum_branches(p);
    }
}

/* Nothing tells them apart any more (or ever): go by the likeliest. */
static uint32_t likeliest(const struct belief *b)
{
    size_t best = 0;
    for (size_t i = 1; i < b->count; i++)
        best = b->p[i] > b->p[best] ? i : best;
    return b->place[best];
}

#define ALIKE_MOST 14 /* steps in a row that told nothing */

/* The best deed here.  A search that was cut short may think better of it at every step and never
 * arrive; after some steps that told nothing one goes on by ear, which does. */
static struct choice decide(struct finder *f, const struct belief *b, int alike)
{
    bool cut = f->cut;
    f->looks = 0;
    f->looks_most = LOOKS_LEAST + (long)(belief_sum(b) * PLAN_LOOKS);
    f->cut = false;
    struct choice c = choose(f, b, 0, INFINITY);
    if (f->cut && !c.stop && alike > ALIKE_MOST) {
        f->looks_most = 0;
        c = choose(f, b, 0, INFINITY);
    }
    f->cut = f->cut || cut;
    return c;
}

/* `alike`: steps since anything was told apart. */
static void go_on(struct finder *f, struct plan *p, const struct belief *b, int alike)
{
    if (b->count == 1) {
        walk(f, p, b->place[0]);
        return;
    }
    struct choice c = decide(f, b, alike);
    if (isfinite(c.value) && c.stop) {
        stop_here(f, p, likeliest(b));
    } else if (isfinite(c.value)) {
        part_ways(f, p, b, c, alike);
    } else {
        f->cut = true;
        walk(f, p, likeliest(b));
        p->found = false;
        p->why = step_text_alike(f->atlas.reset);
    }
}

static void say_steps(const struct reset *r, struct plan *p, bool optimal)
{
    p->optimal = optimal;
    for (size_t i = 0; i < p->steps; i++) {
        bool parts = i + 1 == p->steps && p->branches;
        p->step[i].text = step_text(r, &p->step[i]);
        p->step[i].hear = parts ? step_text_branches(r, p) : step_text_hear(r, &p->step[i]);
    }
    for (size_t i = 0; i < p->branches; i++)
        say_steps(r, p->branch[i].then, optimal);
}

struct plan *plan_find(struct reset *r, const struct stance *may_be, const double *p, size_t count)
{
    struct finder f = {.looks = 0};
    struct belief b = belief_new(count);
    struct plan *plan = plan_new();
    atlas_init(&f.atlas, r);
    for (size_t i = 0; i < count; i++)
        belief_add(&b, atlas_put(&f.atlas, &may_be[i]), p ? p[i] : 1.0 / (double)count);
    atlas_solve(&f.atlas);
    go_on(&f, plan, &b, 0);
    say_steps(r, plan, plan->found && !f.cut);
    belief_release(&b);
    atlas_release(&f.atlas);
    return plan;
}

/* --- what was really heard -------------------------------------------------------------------------- */

/* How far one deed goes of a step of `left` minutes. */
static int part_of(const struct reset *r, const struct stance *at, enum deed deed, int left)
{
    int ahead = stance_ahead(r->w->clock, at), back = stance_since(r->w->clock, at) + r->lead_min;
    if (deed == DEED_BACK)
        return left > back ? back : left;
    if (deed == DEED_FORWARD || deed == DEED_QUICK)
        return left > ahead ? ahead : left;
    return left;
}

bool plan_do(struct reset *r, const struct stance *from, enum deed deed, int amount, struct done *out)
{
    struct done all = {.deed = deed, .amount = amount, .to = *from};
    int left = amount;
    do {
        struct done d;
        int go = part_of(r, &all.to, deed, left);
        if (!deed_do(r, &all.to, deed, go, &d))
            return false;
        all.to = d.to;
        all.heard = d.heard;
        all.minutes += d.minutes;
        all.cost += d.cost;
        left = go < left ? left - go : 0;
    } while (left > 0);
    *out = all;
    return true;
}

static bool fits(const struct rung *h, const struct noticed *n)
{
    return (n->blows < 0 || h->blows == n->blows) && (n->phrases < 0 || h->phrases == n->phrases) &&
           (n->pointed <= 0 || !h->pointed || h->pointed == n->pointed) && (n->music < 0 || !h->music == !n->music);
}

struct noticed noticed_of(const struct rung *h)
{
    return (struct noticed){h->blows, h->phrases, h->pointed, h->music > 0};
}

const struct plan *plan_branch_heard(const struct plan *p, const struct noticed *n)
{
    for (size_t i = 0; i < p->branches; i++)
        if (fits(&p->branch[i].heard, n))
            return p->branch[i].then;
    return NULL;
}

bool plan_asks_pointed(const struct plan *p)
{
    for (size_t i = 1; i < p->branches; i++)
        if (p->branch[i].heard.pointed != p->branch[0].heard.pointed)
            return true;
    return false;
}

bool plan_asks_music(const struct plan *p)
{
    for (size_t i = 1; i < p->branches; i++)
        if (!p->branch[i].heard.music != !p->branch[0].heard.music)
            return true;
    return false;
}

size_t plan_heard(struct reset *r, const struct stance_chance *may_be, size_t count, enum deed deed,
                  int amount, const struct noticed *noticed, struct stance_chance *to)
{
    size_t n = 0;
    double sum = 0;
    for (size_t i = 0; i < count; i++) {
        struct done done;
        if (!plan_do(r, &may_be[i].stance, deed, amount, &done) || !fits(&done.heard, noticed))
            continue;
        to[n++] = (struct stance_chance){done.to, may_be[i].p};
        sum += may_be[i].p;
    }
    for (size_t i = 0; i < n; i++)
        to[i].p /= sum;
    return n;
}
