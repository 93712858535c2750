/* Is a shop better off after a year?  Simulated shops whose true fault rates differ from the
 * shipped ones; what the finder says after 0, 50, 200 and 800 closed jobs is scored on fresh calls.
 *
 * The finder's likelihood is an abstract one: each fault sounds like itself or like one of its
 * neighbours (a report out of CLOCKS x FAULTS; several faults share each report), and the finder
 * knows these probabilities exactly, so that only the priors differ between the columns:
 *
 *   shipped   the priors every shop gets
 *   learned   shipped priors times the factors of learn_tilts
 *   true      the shop's own rates, which nobody knows: the best there is
 *
 * Scores: right = the most probable fault is the true one; loss = mean -log p(true fault), which
 * punishes false certainty; off = calibration error, the mean distance between what was promised
 * for the most probable fault and how often it held, over ten bins of promises; taken shop by shop,
 * since shops that are wrong in opposite directions would cancel.  Chance alone gives the true
 * rates some of it too: CALLS calls in ten bins leave about 0.02. */
#include "suite.h"

#include <stdio.h>
#include <string.h>

#include "journal/learn.h"
#include "random.h"

#define SHOPS        12
#define CLOCKS       8
#define FAULTS       14
#define WORDS        3 /* histories: none, and two words */
#define CALLS        1500
#define BINS         10
#define SPREAD_SHOP  0.9 /* deviation of log rates: faults of the whole shop */
#define SPREAD_CLOCK 0.5 /* of a clock in it */
#define SPREAD_WORD  0.4 /* of a history */

static const int stages[] = {0, 50, 200, 800};
static char clock_id[CLOCKS][8], fault_id[FAULTS][8];
static const char *const word_id[WORDS] = {"", "moved_house", "ran_down"};

struct rates {
    double p[CLOCKS][WORDS][FAULTS];
};
struct score {
    double right, loss, off;
    double bin_said[BINS], bin_held[BINS], bin_count[BINS];
};

/* How a fault sounds: itself, or like the two next to it. */
static double sounds_like(int fault, int report)
{
    int apart = abs(fault - report);
    if (apart > FAULTS / 2)
        apart = FAULTS - apart;
    static const double p[] = {0.40, 0.18, 0.08};
    double left = (1 - p[0] - 2 * p[1] - 2 * p[2]) / (FAULTS - 5);
    return apart < 3 ? p[apart] : left;
}

static int draw(struct random *chance, const double *p, int count)
{
    double u = random_unit(chance);
    for (int i = 0; i < count - 1; i++)
        if ((u -= p[i]) < 0)
            return i;
    return count - 1;
}

static void scale(double *p, int count)
{
    double sum = 0;
    for (int i = 0; i < count; i++)
        sum += p[i];
    for (int i = 0; i < count; i++)
        p[i] /= sum;
}

static void make_shipped(struct rates *r, struct random *chance)
{
    for (int c = 0; c < CLOCKS; c++) {
        for (int f = 0; f < FAULTS; f++)
            r->p[c][0][f] = exp(0.9 * random_normal(chance));
        scale(r->p[c][0], FAULTS);
        for (int w = 1; w < WORDS; w++)
            memcpy(r->p[c][w], r->p[c][0], sizeof r->p[c][w]);
    }
}

static void make_true(struct rates *shop, const struct rates *shipped, struct random *chance)
{
    double of_shop[FAULTS];
    for (int f = 0; f < FAULTS; f++)
        of_shop[f] = SPREAD_SHOP * random_normal(chance);
    for (int c = 0; c < CLOCKS; c++) {
        double of_clock[FAULTS];
        for (int f = 0; f < FAULTS; f++)
            of_clock[f] = SPREAD_CLOCK * random_normal(chance);
        for (int w = 0; w < WORDS; w++) {
            for (int f = 0; f < FAULTS; f++)
                shop->p[c][w][f] = shipped->p[c][w][f] * exp(of_shop[f] + of_clock[f] +
                                                             SPREAD_WORD * random_normal(chance));
            scale(shop->p[c][w], FAULTS);
        }
    }
}

static struct learn *ship(const struct rates *r)
{
    static struct shipped_prior rows[CLOCKS * FAULTS];
    size_t n = 0;
    for (int c = 0; c < CLOCKS; c++)
        for (int f = 0; f < FAULTS; f++)
            rows[n++] = (struct shipped_prior){clock_id[c], NULL, fault_id[f], r->p[c][0][f]};
    return learn_new(rows, n, NULL);
}

/* Shipped priors times the factors, just as the finder takes them. */
static void tilt(struct rates *out, const struct rates *shipped, struct learn *l)
{
    size_t count;
    const struct prior_tilt *t = learn_tilts(l, &count);
    *out = *shipped;
    for (int pass = 0; pass < 2; pass++) /* the clock's rows, then those of a history instead */
        for (size_t i = 0; i < count; i++) {
            if ((t[i].history != NULL) != (pass == 1))
                continue;
            int c = atoi(t[i].clock + 1), f = atoi(t[i].fault + 1);
            for (int w = 0; w < WORDS; w++)
                if (!t[i].history || strcmp(t[i].history, word_id[w]) == 0)
                    out->p[c][w][f] = shipped->p[c][w][f] * t[i].factor;
        }
}

/* One call: what the finder makes of the report, against what it is. */
static void score_call(struct score *s, const double *prior, int fault, int report)
{
    double p[FAULTS];
    int best = 0;
    for (int f = 0; f < FAULTS; f++)
        p[f] = prior[f] * sounds_like(f, report);
    scale(p, FAULTS);
    for (int f = 1; f < FAULTS; f++)
        if (p[f] > p[best])
            best = f;
    int bin = p[best] >= 1 ? BINS - 1 : (int)(p[best] * BINS);
    s->right += best == fault;
    s->loss -= log(p[fault]);
    s->bin_said[bin] += p[best];
    s->bin_held[bin] += best == fault;
    s->bin_count[bin]++;
}

/* Adds one shop's score to the mean of all. */
static void add_shop(struct score *all, const struct score *shop)
{
    for (int b = 0; b < BINS; b++)
        all->off += fabs(shop->bin_said[b] - shop->bin_held[b]) / CALLS / SHOPS;
    all->right += shop->right / CALLS / SHOPS;
    all->loss += shop->loss / CALLS / SHOPS;
}

static void score_rates(struct score *all, const struct rates *prior, const struct rates *truth,
                        uint64_t seed)
{
    struct score shop = {0};
    struct random chance;
    double sound[FAULTS];
    random_init(&chance, seed); /* the same calls for every column and stage */
    for (int i = 0; i < CALLS; i++) {
        int c = (int)random_below(&chance, CLOCKS), w = (int)random_below(&chance, WORDS);
        int fault = draw(&chance, truth->p[c][w], FAULTS);
        for (int r = 0; r < FAULTS; r++)
            sound[r] = sounds_like(fault, r);
        score_call(&shop, prior->p[c][w], fault, draw(&chance, sound, FAULTS));
    }
    add_shop(all, &shop);
}

static void work(struct learn *l, const struct rates *truth, struct random *chance, int jobs)
{
    for (int i = 0; i < jobs; i++) {
        int c = (int)random_below(chance, CLOCKS), w = (int)random_below(chance, WORDS);
        const char *fault = fault_id[draw(chance, truth->p[c][w], FAULTS)];
        assert_true(learn_job(l, clock_id[c], word_id[w], &fault, 1));
    }
}

static struct score learned[COUNT_OF(stages)], shipped_score, true_score;

static void run_shop(int shop)
{
    struct random chance;
    struct rates shipped, truth, now;
    random_init(&chance, 1000 + (uint64_t)shop);
    make_shipped(&shipped, &chance);
    make_true(&truth, &shipped, &chance);
    struct learn *l = ship(&shipped);
    score_rates(&shipped_score, &shipped, &truth, 77 + (uint64_t)shop);
    score_rates(&true_score, &truth, &truth, 77 + (uint64_t)shop);
    for (size_t stage = 0; stage < COUNT_OF(stages); stage++) {
        work(l, &truth, &chance, stages[stage] - (int)learn_jobs(l));
        tilt(&now, &shipped, l);
        score_rates(&learned[stage], &now, &truth, 77 + (uint64_t)shop);
    }
    learn_free(l);
}

static int run_shops(void **state)
{
    (void)state;
    for (int c = 0; c < CLOCKS; c++)
        snprintf(clock_id[c], sizeof clock_id[c], "c%d", c);
    for (int f = 0; f < FAULTS; f++)
        snprintf(fault_id[f], sizeof fault_id[f], "f%d", f);
    for (int shop = 0; shop < SHOPS; shop++)
        run_shop(shop);
    printf("%d shops, %d calls each     right    loss     off\n", SHOPS, CALLS);
    printf("shipped priors            %6.1f %%  %.4f  %.4f\n", 100 * shipped_score.right,
           shipped_score.loss, shipped_score.off);
    for (size_t s = 0; s < COUNT_OF(stages); s++)
        printf("after %3d jobs            %6.1f %%  %.4f  %.4f\n", stages[s],
               100 * learned[s].right, learned[s].loss, learned[s].off);
    printf("true rates of the shop    %6.1f %%  %.4f  %.4f\n", 100 * true_score.right,
           true_score.loss, true_score.off);
    return 0;
}

static void before_the_first_job_nothing_is_changed(void **state)
{
    (void)state;
    assert_near(learned[0].loss, shipped_score.loss, 1e-12);
    assert_near(learned[0].right, shipped_score.right, 1e-12);
}

static void each_stage_is_better_than_the_one_before(void **state)
{
    (void)state;
    for (size_t s = 1; s < COUNT_OF(stages); s++) {
        assert_true(learned[s].loss < learned[s - 1].loss);
        assert_true(learned[s].right >= learned[s - 1].right);
    }
}

/* 18,000 calls: one deviation of a share near one half is 0.4 of a hundred. */
static void after_a_year_the_shop_is_clearly_better_off(void **state)
{
    (void)state;
    assert_true(learned[3].right > shipped_score.right + 0.03);
    /* more than half of the way to the rates nobody knows */
    assert_true(shipped_score.loss - learned[3].loss >
                0.5 * (shipped_score.loss - true_score.loss));
}

static void what_is_promised_holds_better_than_with_shipped_priors(void **state)
{
    (void)state;
    assert_true(learned[3].off < shipped_score.off);
    assert_true(learned[3].off < true_score.off + 0.01);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(before_the_first_job_nothing_is_changed),
        cmocka_unit_test(each_stage_is_better_than_the_one_before),
        cmocka_unit_test(after_a_year_the_shop_is_clearly_better_off),
        cmocka_unit_test(what_is_promised_holds_better_than_with_shipped_priors),
    };
    return cmocka_run_group_tests(tests, run_shops, NULL);
}
