/* bench_shops.c - what closed jobs are worth to the finder itself, on simulated shops.
 *
 * A shop's true fault rates are the shipped priors bent at random.  Faulty clocks are simulated, four
 * hours of striking are told as a call (one count in thirty wrong), and the finder's belief is
 * scored with the shipped priors, with what 50, 200 and 800 closed jobs taught, and with the true
 * rates.  As the likelihoods do not change, the belief under other priors is the shipped one
 * times the factors, scaled; the first call of each shop is also found anew to show that.
 *
 * test_learn_shops.c has the same with many more calls and an abstract likelihood. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "bench/stopwatch.h"
#include "command/desk.h"
#include "command/lessons.h"
#include "command/setup.h"
#include "command/tally.h"
#include "mem.h"

#define SHOPS  3
#define CALLS  400
#define FAULTS 400
#define STAGES 5 /* shipped, 50, 200, 800, true */

static const char *const clock_ids[] = {"longcase-rack", "mantel-rack-half",
                                        "longcase-countwheel-78"};
#define CLOCKS 3
static const int jobs[STAGES] = {0, 50, 200, 800, -1};

struct rates { /* of one clock */
    const struct clock *clock;
    const struct fault *fault[FAULTS];
    double shipped[FAULTS], truth[FAULTS], now[STAGES][FAULTS]; /* now: factors */
    size_t count;
};
struct score {
    double right, loss, calls;
};

static void scale(double *p, size_t count)
{
    double sum = 0;
    for (size_t i = 0; i < count; i++)
        sum += p[i];
    for (size_t i = 0; i < count; i++)
        p[i] /= sum;
}

static void make_rates(struct rates *r, const struct library *lib, const double *bent,
                       struct random *chance)
{
    r->count = 0;
    for (size_t f = 0; f < library_faults(lib) && r->count < FAULTS; f++) {
        const struct fault *fault = library_fault(lib, f);
        if (!fault_applies(fault, r->clock) || fault->prior <= 0)
            continue;
        r->fault[r->count] = fault;
        r->shipped[r->count] = fault->prior;
        r->truth[r->count++] = fault->prior * exp(bent[f] + 0.5 * random_normal(chance));
    }
    scale(r->shipped, r->count);
    scale(r->truth, r->count);
}

static size_t draw(const double *p, size_t count, struct random *chance)
{
    double u = random_unit(chance);
    for (size_t i = 0; i + 1 < count; i++)
        if ((u -= p[i]) < 0)
            return i;
    return count - 1;
}

static void say_hour(const struct tally *t, struct random *chance, struct text *out)
{
    int hour = (t->hand_min + 20) / 60 % 12, blows = t->blows;
    if ((t->hand_min + 20) % 60 > 40)
        return; /* not an hour */
    if (blows > 0 && random_below(chance, 30) == 0)
        blows += random_below(chance, 2) ? 1 : -1;
    text_addf(out, "%s%d:00 ", out->length ? ", " : "", hour ? hour : 12);
    if (t->run_on || blows > 24)
        text_add(out, "s*");
    else
        text_addf(out, "s%d", blows);
}

/* Four hours of a clock with this fault, as shorthand. */
static void tell(const struct library *lib, const struct clock *c, const char *fault,
                 struct random *random, struct text *out)
{
    struct setup s;
    struct err e = {0};
    struct chance chance;
    struct event_list events = {0};
    if (setup_init(&s, lib, c, &fault, 1, (int)random_below(random, 12) * 60 + 45, random, &e)) {
        chance_draw(&chance, random);
        movement_turn(&s.works, &s.moment, 240, BY_TIME, &chance, &events);
        for (size_t i = 0; i < events.count;) {
            struct tally t;
            i = tally_take(&t, c, &events, i);
            say_hour(&t, random, out);
            tally_release(&t);
        }
    }
    event_list_release(&events);
    err_release(&e);
}

/* The shipped belief times the factors, scaled; none and unknown keep theirs. */
static void score_call(struct score *s, const struct belief *b, const struct rates *r, int stage,
                       const struct fault *truth)
{
    double sum = 0, p_true = 0, best = -1;
    bool right = false;
    for (size_t i = 0; i < b->causes; i++) {
        double p = b->cause[i].p;
        for (size_t f = 0; f < r->count; f++)
            if (r->fault[f] == b->cause[i].fault)
                p *= r->now[stage][f];
        sum += p;
        if (b->cause[i].fault == truth)
            p_true += p;
        if (p > best) {
            best = p;
            right = b->cause[i].fault == truth;
        }
    }
    s->right += right;
    s->loss -= log(fmax(p_true / sum, 1e-6));
    s->calls++;
}

static void factors(struct rates *r, int stage, struct learn *l)
{
    for (size_t f = 0; f < r->count; f++)
        r->now[stage][f] = jobs[stage] < 0 ? r->truth[f] / r->shipped[f]
                                           : learn_factor(l, r->clock->id, "", r->fault[f]->id);
}

static void work(struct rates *rates, struct learn *l, struct random *chance)
{
    for (int stage = 0; stage < STAGES; stage++) {
        while ((int)learn_jobs(l) < jobs[stage]) {
            struct rates *r = &rates[random_below(chance, CLOCKS)];
            const char *fault = r->fault[draw(r->truth, r->count, chance)]->id;
            learn_job(l, r->clock->id, "", &fault, 1);
        }
        for (int c = 0; c < CLOCKS; c++)
            factors(&rates[c], stage, l);
    }
}

/* Found with the factors in the finder: the same as multiplied afterwards, to what was left out. */
static double apart(struct desk *d, const struct belief *b, const struct rates *r, struct learn *l)
{
    struct lessons_view view = {.learn = l, .history = ""};
    struct belief_options o = {.shop = lessons_factor, .shop_with = &view};
    struct belief anew;
    double worst = 0, sum = 0;
    belief_find(d->finder, &d->sheet, &o, &anew);
    for (int pass = 0; pass < 2; pass++)
        for (size_t i = 0; i < b->causes; i++) {
            double p = b->cause[i].p;
            for (size_t f = 0; f < r->count; f++)
                if (r->fault[f] == b->cause[i].fault)
                    p *= r->now[3][f];
            const struct belief_cause *same = belief_cause_of(&anew, b->cause[i].id);
            if (pass == 0)
                sum += p;
            else
                worst = fmax(worst, fabs(p / sum - (same ? same->p : 0)));
        }
    belief_release(&anew);
    return worst;
}

static void one_call(struct desk *d, struct rates *r, struct score *score, struct random *chance,
                     struct learn *l, bool check)
{
    struct text told = {0};
    struct belief b;
    struct err e = {0};
    const struct fault *fault = r->fault[draw(r->truth, r->count, chance)];
    tell(d->lib, r->clock, fault->id, chance, &told);
    sheet_clear(&d->sheet);
    if (told.length && sheet_parse_shorthand(&d->sheet, text_cstr(&told), told.length, &e) &&
        desk_clock(d, r->clock->id, &e) && belief_find(d->finder, &d->sheet, NULL, &b)) {
        for (int stage = 0; stage < STAGES; stage++)
            score_call(&score[stage], &b, r, stage, fault);
        if (check)
            printf("factors inside and outside the finder differ by at most: %.1e\n",
                   apart(d, &b, r, l));
        belief_release(&b);
    }
    err_print(&e, stderr);
    err_release(&e);
    text_release(&told);
}

static void run_shop(struct desk *d, int shop, struct score *score)
{
    static struct rates rates[CLOCKS];
    static double bent[4096];
    struct random chance;
    random_init(&chance, 500 + (uint64_t)shop);
    for (size_t f = 0; f < library_faults(d->lib) && f < 4096; f++)
        bent[f] = 0.9 * random_normal(&chance);
    for (int c = 0; c < CLOCKS; c++) {
        rates[c].clock = library_find_clock(d->lib, clock_ids[c]);
        make_rates(&rates[c], d->lib, bent, &chance);
    }
    struct learn *l = lessons_shipped(d->lib, NULL);
    work(rates, l, &chance);
    for (int i = 0; i < CALLS; i++)
        one_call(d, &rates[i % CLOCKS], score, &chance, l, i == 0);
    learn_free(l);
}

int main(void)
{
    static const char *const names[STAGES] = {"shipped priors", "after 50 jobs", "after 200 jobs",
                                              "after 800 jobs", "true rates"};
    struct score score[STAGES] = {{0}};
    struct desk d = {0};
    struct err e = {0};
    double began_s = stopwatch_s();
    if (desk_open(&d, &e))
        for (int shop = 0; shop < SHOPS; shop++)
            run_shop(&d, shop, score);
    for (int s = 0; s < STAGES && score[s].calls > 0; s++)
        printf("%s: right %.1f %%, loss %.3f, calls %.0f\n", names[s],
               100 * score[s].right / score[s].calls, score[s].loss / score[s].calls,
               score[s].calls);
    printf("time: %.0f s\n", stopwatch_s() - began_s);
    err_print(&e, stderr);
    err_release(&e);
    desk_close(&d);
    return 0;
}
