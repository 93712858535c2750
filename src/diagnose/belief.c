#include "diagnose/belief.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>
#include "diagnose/attempt.h"
#include "mem.h"

/* ---- the finder ---- */

struct finder {
    const struct library *lib;
    struct clock_case *kase; /* by clock of the library */
    bool *made, *fit;
    size_t count;
    struct filter_space space;
};

struct finder *finder_new(const struct library *lib)
{
    struct finder *f = mem_alloc(sizeof *f);
    f->lib = lib;
    f->count = library_clocks(lib);
    f->kase = mem_alloc(f->count * sizeof *f->kase);
    f->made = mem_alloc(f->count * sizeof *f->made);
    f->fit = mem_alloc(f->count * sizeof *f->fit);
    return f;
}

void finder_free(struct finder *f)
{
    if (!f)
        return;
    for (size_t i = 0; i < f->count; i++)
        if (f->made[i] && f->fit[i])
            clock_case_release(&f->kase[i]);
    mem_free(f->kase);
    mem_free(f->made);
    mem_free(f->fit);
    filter_space_release(&f->space);
    mem_free(f);
}

const struct library *finder_library(const struct finder *f)
{
    return f->lib;
}

static struct clock_case *case_at(struct finder *f, size_t i)
{
    if (!f->made[i]) {
        f->fit[i] = clock_case_init(&f->kase[i], f->lib, library_clock(f->lib, i));
        f->made[i] = true;
    }
    return f->fit[i] ? &f->kase[i] : NULL;
}

struct clock_case *finder_case(struct finder *f, const struct clock *c)
{
    for (size_t i = 0; i < f->count; i++)
        if (library_clock(f->lib, i) == c)
            return case_at(f, i);
    return NULL;
}

/* ---- how the report lies along one works ---- */

/* Parameters that move the moment of the sound against the hands. */
static bool moves_moment(const struct outcome_table *t)
{
    for (size_t i = 0; i < t->changes; i++) {
        enum par p = t->change[i].par;
        if (p == PAR_letoff_late_min || p == PAR_letoff_scatter_min || p == PAR_warn_early_min ||
            (p >= PAR_warn_miss && p < PAR_warn_miss + TRAINS) ||
            (p >= PAR_warn_run && p < PAR_warn_run + TRAINS))
            return true;
    }
    return false;
}

/* Minutes by which it usually sounds after the lobe, at the hour. */
static int usual_lateness(struct clock_case *k, struct outcome_table *t)
{
    if (!moves_moment(t))
        return 0;
    struct rest r = rest_in_step(outcome_table_works(t), k->classes.minute[0]);
    size_t edges;
    const struct outcome_edge *e =
        outcome_table_edges(t, outcome_table_state(t, r), 0, &edges);
    double sum = 0, weight = 0;
    for (size_t i = 0; i < edges; i++) {
        const struct sounding *s = sounding_at(&k->pool, e[i].outcome);
        const struct train_sound *chime = &s->train[TRAIN_CHIME], *strike = &s->train[TRAIN_STRIKE];
        const struct train_sound *first = chime->falls ? chime : strike;
        sum += first->falls ? e[i].p * first->minute : 0;
        weight += first->falls ? e[i].p : 0;
    }
    return weight > 0 ? (int)lround(sum / weight) : 0;
}

#define STARTS_MOST 512

static size_t starts_of(struct clock_case *k, const struct variant *v, struct outcome_table *t,
                        int work_min, struct filter_state *out)
{
    struct start start[STARTS_MOST];
    size_t n = 1;
    (void)k;
    if (!v->fault) {
        start[0] = (struct start){rest_in_step(outcome_table_works(t), work_min), 1};
    } else {
        n = fault_starts(v->fault, outcome_table_works(t), work_min, start, STARTS_MOST);
    }
    for (size_t i = 0; i < n; i++)
        out[i] = (struct filter_state){outcome_table_state(t, start[i].rest), start[i].p};
    return n;
}

/* Plans of one clock for one sheet, made when a setting is first met. */
struct plans {
    const struct sheet *sheet;
    struct clock_case *kase;
    struct ear_at ear;
    struct planned {
        struct filter_setting set;
        struct filter_plan plan;
    } *at;
    size_t count, room;
    int halves, parities;
};

static bool same_setting(const struct filter_setting *a, const struct filter_setting *b)
{
    return a->minute_off == b->minute_off && a->hour_off == b->hour_off && a->late == b->late &&
           a->half == b->half && a->parity == b->parity;
}

static struct filter_plan *plan_for(struct plans *p, struct filter_setting set)
{
    for (size_t i = 0; i < p->count; i++)
        if (same_setting(&p->at[i].set, &set))
            return &p->at[i].plan;
    p->at = mem_grow(p->at, &p->room, p->count + 1, sizeof *p->at);
    struct planned *q = &p->at[p->count++];
    q->set = set;
    filter_plan_init(&q->plan, p->sheet, &p->ear, &p->kase->classes, p->kase->due, set);
    return &q->plan;
}

static bool names_other_hours(const struct sheet *s)
{
    for (size_t i = 0; i < s->heards; i++)
        if (s->heard[i].at.kind == AT_RULE && s->heard[i].at.rule == RULE_OTHER_HOUR)
            return true;
    return false;
}

static void plans_init(struct plans *p, const struct sheet *sheet, struct clock_case *k,
                       const struct ear_model *ear)
{
    memset(p, 0, sizeof *p);
    p->sheet = sheet;
    p->kase = k;
    p->ear = (struct ear_at){.model = ear, .words = sheet->words, .clock = k->clock,
                             .pool = &k->pool};
    p->halves = k->clock->cycle_min == 1440 ? 2 : 1;
    p->parities = names_other_hours(sheet) ? 2 : 1;
}

static void plans_release(struct plans *p)
{
    for (size_t i = 0; i < p->count; i++)
        filter_plan_release(&p->at[i].plan);
    mem_free(p->at);
}

static struct filter_setting setting_of(struct clock_case *k, const struct variant *v)
{
    return (struct filter_setting){.minute_off = v->minute_off,
                                   .hour_off = v->hour_off,
                                   .late = usual_lateness(k, &k->table[v->table])};
}

/* Probability of the heard rows, and of what was seen and tried, under one variant. */
static double chance_of_report(struct plans *p, struct clock_case *k, const struct variant *v,
                               double bound, double *dropped, struct filter_space *space)
{
    struct outcome_table *t = &k->table[v->table];
    struct filter_setting set = setting_of(k, v);
    struct filter_state start[STARTS_MOST];
    double sum = 0, ways = p->halves * p->parities;
    bool wanted = evidence_wanted(p->sheet);
    *dropped = 0;
    for (set.half = 0; set.half < p->halves; set.half++)
        for (set.parity = 0; set.parity < p->parities; set.parity++) {
            struct filter_plan *plan = plan_for(p, set);
            size_t starts = starts_of(k, v, t, filter_plan_start_min(plan), start);
            double lost, chance = filter_run(plan, t, start, starts, bound, &lost, space);
            *dropped += lost / ways;
            if (chance > 0 && wanted) {
                struct habit h;
                habit_init(&h, k, v, plan->step[0].letoff, start, starts);
                chance *= evidence_chance(&h, p->sheet);
            }
            if (chance > bound && p->sheet->trieds)
                chance *= attempt_chance(p->sheet, k, v, plan, space, p->ear.model);
            sum += chance / ways;
        }
    return sum;
}

/* ---- gathering ---- */

struct gathering {
    struct belief *out;
    size_t held_room;
    double total, lost, count;  /* of joint weights; number of hypotheses in all */
    double unknown;             /* joint weight of the unknown cause */
};

static double blind_chance(const struct sheet *s)
{
    double p = 1;
    for (size_t i = 0; i < s->heards; i++)
        p *= s->heard[i].often == OFTEN_MAYBE ? 1 : ear_blind(&s->heard[i]);
    p *= pow(0.2, (double)fmin(4, (double)s->trieds));
    for (size_t i = 0; i < words_count(s->words, WORD_SEEN); i++)
        if (word_set_has(&s->seen, (int)i) &&
            evidence_predicts(words_at(s->words, WORD_SEEN, i)->id))
            p *= 0.25;
    return p;
}

static void hold(struct gathering *g, struct clock_case *k, size_t variant, double joint,
                 double chance)
{
    struct belief *b = g->out;
    b->held = mem_grow(b->held, &g->held_room, b->helds + 1, sizeof *b->held);
    b->held[b->helds++] =
        (struct held){.kase = k, .variant = variant, .p = joint, .chance = chance};
    g->total += joint;
}

static double shop_factor(const struct belief_options *o, const struct clock *c,
                          const struct fault *f)
{
    return o->shop ? o->shop(o->shop_with, c->id, f->id) : 1;
}

static double weight_of(const struct sheet *s, const struct clock *c, const struct variant *v,
                        const struct belief_options *o)
{
    if (!v->fault)
        return o->prior_none;
    double tilt = fault_tilt(s, v->fault, evidence_predicts);
    if (v->second)
        tilt *= fault_tilt(s, v->second, evidence_predicts) * shop_factor(o, c, v->second);
    return (1 - o->prior_none - o->prior_unknown) * v->share * tilt * shop_factor(o, c, v->fault);
}

static void look_at_clock(struct finder *f, struct gathering *g, const struct sheet *sheet,
                          struct clock_case *k, double clock_weight,
                          const struct belief_options *o)
{
    struct plans plans;
    plans_init(&plans, sheet, k, o->ear);
    for (size_t i = 0; i < k->variants; i++) {
        const struct variant *v = &k->variant[i];
        double weight = clock_weight * weight_of(sheet, k->clock, v, o);
        double allowed = BELIEF_OMIT * (g->total + g->unknown) / g->count, dropped;
        if (v->second || weight <= 0)
            continue;
        g->out->hypotheses++;
        if (weight <= allowed) {
            g->lost += weight;
            continue;
        }
        double chance = chance_of_report(&plans, k, v, allowed / weight, &dropped, &f->space);
        g->lost += weight * dropped;
        if (chance > 0)
            hold(g, k, i, weight * chance, chance);
    }
    plans_release(&plans);
}

/* ---- marginals ---- */

static int by_p_held(const void *a, const void *b)
{
    double x = ((const struct held *)a)->p, y = ((const struct held *)b)->p;
    return x < y ? 1 : x > y ? -1 : 0;
}

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

static void share_add(struct belief_share **at, size_t *count, const char *name, double p)
{
    for (size_t i = 0; i < *count; i++)
        if (strcmp((*at)[i].name, name) == 0) {
            (*at)[i].p += p;
            return;
        }
    size_t room = *count; /* grows by one name at a time; there are few */
    *at = mem_grow(*at, &room, *count + 1, sizeof **at);
    (*at)[(*count)++] = (struct belief_share){name, p};
}

static bool safe_for_owner(const struct cure *c)
{
    return c && c->hazard && strcmp(c->hazard, "none") == 0 && c->who &&
           strcmp(c->who, "owner") == 0;
}

static size_t cause_for(struct finder *f, struct belief *b, size_t *room, const struct fault *one,
                        const struct fault *two)
{
    for (size_t i = 0; i < b->causes; i++)
        if (b->cause[i].fault == one && b->cause[i].second == two)
            return i;
    b->cause = mem_grow(b->cause, room, b->causes + 1, sizeof *b->cause);
    const struct cure *cure = one ? library_find_cure(f->lib, one->cure) : NULL;
    bool safe = one ? safe_for_owner(cure) : true;
    if (two)
        safe = safe && safe_for_owner(library_find_cure(f->lib, two->cure));
    b->cause[b->causes] = (struct belief_cause){.fault = one,
                                                .second = two,
                                                .id = one ? one->id : "none",
                                                .part = one ? one->part : "none",
                                                .class = one ? one->class : "no_fault",
                                                .cure = cure,
                                                .owner_safe = safe,
                                                .best = (size_t)-1};
    return b->causes++;
}

/* Severity over the hypotheses of one cause: mean and the middle four fifths. */
static void severity(const struct belief *b, size_t cause, struct belief_cause *c)
{
    double bin[101] = {0}, sum = 0, mean = 0, run = 0;
    for (size_t i = 0; i < b->helds; i++)
        if (b->held[i].cause == cause) {
            double s = b->held[i].kase->variant[b->held[i].variant].severity;
            bin[(int)lround(fmax(0, fmin(1, s)) * 100)] += b->held[i].p;
            sum += b->held[i].p;
            mean += b->held[i].p * s;
        }
    c->severity_mean = sum > 0 ? mean / sum : 0;
    for (int i = 0; i <= 100; i++) {
        double before = run;
        run += sum > 0 ? bin[i] / sum : 0;
        if (before < 0.1 && run >= 0.1)
            c->severity_low = i / 100.0;
        if (before < 0.9 && run >= 0.9)
            c->severity_high = i / 100.0;
    }
}

static void sum_up(struct finder *f, struct gathering *g)
{
    struct belief *b = g->out;
    size_t room = 0;
    double all = g->total + g->unknown;
    b->omitted = all + g->lost > 0 ? g->lost / (all + g->lost) : 0;
    b->evidence = log(all);
    for (size_t i = 0; i < b->helds; i++)
        b->held[i].p /= all;
    if (b->helds)
        qsort(b->held, b->helds, sizeof *b->held, by_p_held);
    for (size_t i = 0; i < b->helds; i++) {
        struct held *h = &b->held[i];
        const struct variant *v = &h->kase->variant[h->variant];
        size_t c = cause_for(f, b, &room, v->fault, v->second);
        h->cause = c;
        b->cause[c].p += h->p;
        if (b->cause[c].best == (size_t)-1)
            b->cause[c].best = i;
        share_add(&b->clock, &b->clocks, h->kase->clock->id, h->p);
    }
    for (size_t i = 0; i < b->causes; i++)
        severity(b, i, &b->cause[i]);
    b->cause = mem_grow(b->cause, &room, b->causes + 1, sizeof *b->cause);
    b->cause[b->causes++] = (struct belief_cause){.id = "unknown", .part = "unknown",
                                                  .class = "unknown", .p = g->unknown / all,
                                                  .best = (size_t)-1};
}

/* Causes in order; hypotheses keep pointing at theirs. */
static void put_in_order(struct belief *b)
{
    const char **was = mem_alloc((b->causes + 1) * sizeof *was);
    const struct fault **second = mem_alloc((b->causes + 1) * sizeof *second);
    size_t *now = mem_alloc((b->causes + 1) * sizeof *now);
    for (size_t i = 0; i < b->causes; i++) {
        was[i] = b->cause[i].id;
        second[i] = b->cause[i].second;
    }
    qsort(b->cause, b->causes, sizeof *b->cause, by_p_cause);
    for (size_t i = 0; i < b->causes; i++)
        for (size_t k = 0; k < b->causes; k++)
            if (b->cause[k].id == was[i] && b->cause[k].second == second[i])
                now[i] = k;
    for (size_t i = 0; i < b->helds; i++)
        b->held[i].cause = now[b->held[i].cause];
    mem_free(was);
    mem_free(second);
    mem_free(now);
    for (size_t i = 0; i < b->causes; i++) {
        share_add(&b->by_class, &b->classes, b->cause[i].class, b->cause[i].p);
        share_add(&b->by_part, &b->parts, b->cause[i].part, b->cause[i].p);
    }
    qsort(b->by_class, b->classes, sizeof *b->by_class, by_p_share);
    qsort(b->by_part, b->parts, sizeof *b->by_part, by_p_share);
    if (b->clocks)
        qsort(b->clock, b->clocks, sizeof *b->clock, by_p_share);
}

static struct belief_options options_of(const struct belief_options *given)
{
    struct belief_options o = given ? *given : (struct belief_options){0};
    if (!o.ear)
        o.ear = &ear_usual;
    if (o.prior_none <= 0)
        o.prior_none = PRIOR_NONE;
    if (o.prior_unknown <= 0)
        o.prior_unknown = PRIOR_UNKNOWN;
    return o;
}

bool belief_find(struct finder *f, const struct sheet *sheet, const struct belief_options *options,
                 struct belief *out)
{
    struct belief_options o = options_of(options);
    struct gathering g = {.out = out};
    double *weight = mem_alloc(f->count * sizeof *weight), sum = 0, best = 0;
    memset(out, 0, sizeof *out);
    for (size_t i = 0; i < f->count; i++) {
        const struct clock *c = library_clock(f->lib, i);
        weight[i] = c->share * hint_fit(sheet, c);
        if (sheet->clock[0] && strcmp(sheet->clock, c->id) == 0)
            weight[i] = 1; /* a clock of the user's own may have no share */
        sum += weight[i];
        best = fmax(best, weight[i]);
    }
    if (sum <= 0) {
        mem_free(weight);
        return false;
    }
    g.unknown = o.prior_unknown * blind_chance(sheet);
    for (size_t i = 0; i < f->count; i++)
        if (weight[i] > 0)
            g.count += (double)(case_at(f, i) ? f->kase[i].variants : 0);
    for (double level = best; level > 0; level /= 4) /* likelier clocks first: tighter bounds */
        for (size_t i = 0; i < f->count; i++)
            if (weight[i] > 0 && weight[i] > level / 4) {
                if (case_at(f, i))
                    look_at_clock(f, &g, sheet, &f->kase[i], weight[i] / sum, &o);
                weight[i] = 0;
            }
    mem_free(weight);
    sum_up(f, &g);
    put_in_order(out);
    return true;
}

void belief_release(struct belief *b)
{
    mem_free(b->cause);
    mem_free(b->by_class);
    mem_free(b->by_part);
    mem_free(b->clock);
    mem_free(b->held);
    memset(b, 0, sizeof *b);
}

const struct belief_cause *belief_cause_of(const struct belief *b, const char *id)
{
    for (size_t i = 0; i < b->causes; i++)
        if (strcmp(b->cause[i].id, id) == 0 && !b->cause[i].second)
            return &b->cause[i];
    return NULL;
}

/* ---- looking closer ---- */

/* Rows are judged from the start that fits best: that the clock might have stood elsewhere is no
 * failing of the cause. */
static void steps_of_best_start(struct closer *c, const struct filter_state *start, size_t starts)
{
    double most = -1, dropped;
    c->by_step = mem_alloc((c->plan.steps + 1) * sizeof *c->by_step);
    for (size_t i = 0; i < starts; i++) {
        struct filter_state one = {start[i].state, 1};
        double chance = filter_run(&c->plan, c->table, &one, 1, -1, &dropped, &c->space);
        if (chance > most && c->plan.steps)
            memcpy(c->by_step, c->space.by_step, c->plan.steps * sizeof *c->by_step);
        most = fmax(most, chance);
    }
}

void closer_init(struct closer *c, const struct held *h, const struct sheet *sheet,
                 const struct ear_model *ear)
{
    memset(c, 0, sizeof *c);
    c->kase = h->kase;
    c->variant = &h->kase->variant[h->variant];
    c->table = &h->kase->table[c->variant->table];
    struct plans p;
    plans_init(&p, sheet, h->kase, ear ? ear : &ear_usual);
    struct filter_setting set = setting_of(h->kase, c->variant), best = set;
    struct filter_state start[STARTS_MOST];
    double dropped, most = -1;
    for (set.half = 0; set.half < p.halves; set.half++)
        for (set.parity = 0; set.parity < p.parities; set.parity++) {
            struct filter_plan *plan = plan_for(&p, set);
            size_t starts = starts_of(h->kase, c->variant, c->table, filter_plan_start_min(plan), start);
            double chance = filter_run(plan, c->table, start, starts, -1, &dropped, &c->space);
            if (chance > most) {
                most = chance;
                best = set;
            }
        }
    filter_plan_init(&c->plan, sheet, &p.ear, &h->kase->classes, h->kase->due, best);
    size_t starts = starts_of(h->kase, c->variant, c->table, filter_plan_start_min(&c->plan), start);
    steps_of_best_start(c, start, starts);
    c->chance = filter_run(&c->plan, c->table, start, starts, -1, &dropped, &c->space);
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
