/* Two faults at once: which pairs are tried, and that what is said of the others is a bound. */
#include "diagnose/finder_desk.h"

#include <math.h>
#include <string.h>
#include "diagnose/pairs.h"
#include "mem.h"

static struct sheet sheet_of(struct desk *d, const char *line)
{
    struct sheet s;
    sheet_init(&s, d->words);
    assert_true(sheet_parse_shorthand(&s, line, strlen(line), NULL));
    return s;
}

/* Weights before the report of all single variants of a clock that is known, without a history. */
static double *weights_of(const struct clock_case *k)
{
    double *weight = mem_alloc(k->variants * sizeof *weight);
    for (size_t i = 1; i < k->variants - k->pairs; i++)
        weight[i] = (1 - PRIOR_NONE - PRIOR_UNKNOWN_PAIRED) * k->variant[i].share;
    return weight;
}

static void all_pairs_of_different_faults_come_once_and_the_heaviest_first(void **state)
{
    static const char *const clocks[] = {"passing-strike", "japanese-hours"};
    struct desk *d = *state;
    for (size_t i = 0; i < COUNT_OF(clocks); i++) {
        const struct clock_case *k = finder_case(d->finder, library_find_clock(d->lib, clocks[i]));
        double *weight = weights_of(k), sum = 0, before = INFINITY;
        bool *met = mem_alloc(k->variants * k->variants * sizeof *met);
        struct pair_order *o = pair_order_new(k, weight, NULL, 0);
        struct pair_choice p;
        for (; pair_order_next(o, &p); sum += p.weight, before = p.weight) {
            size_t a = p.a < p.b ? p.a : p.b, b = p.a < p.b ? p.b : p.a;
            assert_true(k->variant[a].fault != k->variant[b].fault);
            assert_false(met[a * k->variants + b]);
            assert_true(p.weight <= before);
            met[a * k->variants + b] = true;
        }
        assert_true(fabs(sum - pairs_weight(k, weight)) < 1e-12);
        pair_order_free(o);
        mem_free(met);
        mem_free(weight);
    }
}

static void pairs_that_were_tried_do_not_come_again(void **state)
{
    struct desk *d = *state;
    const struct clock_case *k = finder_case(d->finder, library_find_clock(d->lib, "passing-strike"));
    double *weight = weights_of(k);
    struct pair_choice but[2], p;
    struct pair_order *o = pair_order_new(k, weight, NULL, 0);
    assert_true(pair_order_next(o, &but[0]) && pair_order_next(o, &but[1]));
    size_t rest = 0, others = 0;
    while (pair_order_next(o, &p))
        rest++;
    pair_order_free(o);
    o = pair_order_new(k, weight, but, 2);
    for (; pair_order_next(o, &p); others++)
        for (size_t i = 0; i < 2; i++)
            assert_false(p.a == but[i].a && p.b == but[i].b);
    assert_int_equal(others, rest);
    pair_order_free(o);
    mem_free(weight);
}

/* The chance of the report under two variants at once, in a works of their changes alone. */
static double chance_of_pair(struct clock_case *k, const struct sheet *s, size_t a, size_t b)
{
    struct closer c;
    struct held h = {.kase = k, .variant = clock_case_pair(k, a, b, 1)};
    struct variant *v = &k->variant[h.variant];
    size_t acts = v->acts;
    v->acts = v->table;
    closer_init(&c, &h, s, NULL);
    double chance = c.chance;
    closer_release(&c);
    k->variant[h.variant].acts = acts;
    return chance;
}

/* Sum of the joint weights of all pairs, one by one. */
static double all_pairs_by_hand(struct desk *d, const char *clock, const struct sheet *s)
{
    struct finder *f = finder_new(d->lib);
    struct clock_case *k = finder_case(f, library_find_clock(d->lib, clock));
    double *weight = weights_of(k), sum = 0;
    struct pair_order *o = pair_order_new(k, weight, NULL, 0);
    for (struct pair_choice p; pair_order_next(o, &p);)
        sum += BELIEF_SECOND * p.weight * chance_of_pair(k, s, p.a, p.b);
    pair_order_free(o);
    mem_free(weight);
    finder_free(f);
    return sum;
}

static double joint_of_pairs(const struct belief *b)
{
    double p = 0;
    for (size_t i = 0; i < b->causes; i++)
        p += b->cause[i].second ? b->cause[i].p : 0;
    return p * exp(b->evidence);
}

/* However early trying ends. */
static void what_pairs_come_to_lies_between_what_was_found_and_the_bound(void **state)
{
    static const char *const lines[] = {
        "clock passing-strike, 3:00 s1 buzz, 4:00 s0",
        "clock passing-strike, 3:00 s2, 4:00 s2, 5:00 s2",
        "clock passing-strike, 3:00 s1, 4:00 s1",
    };
    static const size_t walks[] = {1, 40, 100, 0};
    struct desk *d = *state;
    for (size_t i = 0; i < COUNT_OF(lines); i++) {
        struct sheet s = sheet_of(d, lines[i]);
        double truth = all_pairs_by_hand(d, "passing-strike", &s), before = 1;
        for (size_t w = 0; w < COUNT_OF(walks); w++) {
            struct finder *f = finder_new(d->lib);
            struct belief b;
            assert_true(belief_find(f, &s, &(struct belief_options){.pairs = true, .pair_walks = walks[w]}, &b));
            double all = exp(b.evidence), found = joint_of_pairs(&b), lost = b.omitted / (1 - b.omitted) * all;
            double untried = b.pairs_untried / (1 - b.pairs_untried) * all;
            assert_true(found <= truth * (1 + 1e-9));
            assert_true(truth <= found + lost + untried + 1e-15);
            assert_true(b.pairs_about <= b.pairs_untried + 1e-15 && b.pairs_untried <= before);
            before = b.pairs_untried;
            belief_release(&b);
            finder_free(f);
        }
        assert_true(before <= 1e-4); /* a clock of few faults is gone through */
        sheet_release(&s);
    }
}

/* A pair of a large clock may cost a thousand times one of a small clock: trying looks up after a few. */
static void trying_ends_soon_where_pairs_cost_much(void **state)
{
    struct desk *d = *state;
    struct sheet s = sheet_of(d, "clock turret-countwheel, had part_replaced, seen hammer_rests, hours s= dull");
    struct clock_case *k = finder_case(d->finder, library_find_clock(d->lib, "turret-countwheel"));
    for (size_t walks = 1; walks <= 1000; walks *= 1000) {
        size_t before = k->rows.branches;
        struct belief b;
        assert_true(belief_find(d->finder, &s, &(struct belief_options){.pairs = true, .pair_walks = walks}, &b));
        assert_true(b.pairs_tried >= 8 && b.pairs_tried <= 256); /* few once ... */
        assert_true(k->rows.branches - before < 200000);         /* ... and not a batch of the dearest */
        belief_release(&b);
    }
    sheet_release(&s);
}

/* Beside a fault that changes nothing in the works another acts as it does alone, and only that is shared. */
static void a_pair_acts_as_its_own_works_would(void **state)
{
    struct desk *d = *state;
    struct sheet s = sheet_of(d, "clock mantel-countwheel-90, 3:00 s4, 3:30 s1, 4:00 s2");
    struct clock_case *k = finder_case(d->finder, library_find_clock(d->lib, "mantel-countwheel-90"));
    double *weight = weights_of(k);
    struct pair_order *o = pair_order_new(k, weight, NULL, 0);
    size_t shared = 0;
    struct pair_choice p;
    for (size_t i = 0; i < 3000 && pair_order_next(o, &p); i++) {
        if (i % 30)
            continue;
        size_t n = clock_case_pair(k, p.a, p.b, 1);
        assert_int_equal(clock_case_pair(k, p.a, p.b, 1), n);
        shared += k->variant[n].acts != k->variant[n].table;
        struct closer c;
        closer_init(&c, &(struct held){.kase = k, .variant = n}, &s, NULL);
        assert_near(c.chance, chance_of_pair(k, &s, p.a, p.b), 1e-12);
        closer_release(&c);
    }
    assert_true(shared > 10);
    pair_order_free(o);
    mem_free(weight);
    sheet_release(&s);
    clock_case_drop_pairs(k);
}

static void pairs_that_are_kept_are_found_again_under_their_new_numbers(void **state)
{
    struct desk *d = *state;
    struct clock_case *k = finder_case(d->finder, library_find_clock(d->lib, "japanese-hours"));
    size_t singles = k->variants - k->pairs, now[40], one[40], two[40];
    bool keep[40] = {false};
    double *weight = weights_of(k);
    struct pair_order *o = pair_order_new(k, weight, NULL, 0);
    struct pair_choice p;
    for (size_t i = 0; i < 40; i++) {
        assert_true(pair_order_next(o, &p));
        assert_int_equal(clock_case_pair(k, p.a, p.b, 1), singles + i);
        one[i] = p.a, two[i] = p.b;
        keep[i] = i % 3 == 1;
    }
    clock_case_keep_pairs(k, singles, keep, now);
    assert_int_equal(k->pairs, 13);
    for (size_t i = 0; i < 40; i++)
        if (keep[i]) {
            assert_int_equal(clock_case_pair(k, one[i], two[i], 1), now[i]);
            assert_true(k->variant[now[i]].table < k->tables && k->variant[now[i]].acts < k->tables);
            assert_ptr_equal(k->variant[now[i]].second, k->variant[two[i]].fault);
        }
    assert_int_equal(k->pairs, 13);
    clock_case_drop_pairs(k);
    assert_int_equal(k->variants, singles);
    assert_int_equal(k->tables, singles);
    pair_order_free(o);
    mem_free(weight);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(all_pairs_of_different_faults_come_once_and_the_heaviest_first),
        cmocka_unit_test(pairs_that_were_tried_do_not_come_again),
        cmocka_unit_test(what_pairs_come_to_lies_between_what_was_found_and_the_bound),
        cmocka_unit_test(trying_ends_soon_where_pairs_cost_much),
        cmocka_unit_test(a_pair_acts_as_its_own_works_would),
        cmocka_unit_test(pairs_that_are_kept_are_found_again_under_their_new_numbers),
    };
    return cmocka_run_group_tests(tests, open_desk, close_desk);
}
