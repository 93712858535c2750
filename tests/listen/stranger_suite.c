/* Recordings that owe nothing to the program's voices: hammers that rest, hammers that bounce, and no clock at all. */
#include "suite.h"

#include <math.h>
#include <string.h>

#include "event.h"
#include "listen/hearing.h"
#include "listen/listener.h"
#include "onset_match.h"
#include "stranger.h"

#define RUNS 14 /* every body twice */

/* Over RUNS recordings. */
struct outcome {
    size_t blows, founds, matches, dull;
    size_t doubles, said, right;
    size_t quiet; /* recordings in which nothing was heard */
};

static void compare(struct outcome *o, const struct stranger *s, const struct hearing *h)
{
    double truth_s[STRANGER_BLOWS], found_s[1024];
    int pair[1024];
    size_t founds = h->blow_count < 1024 ? h->blow_count : 1024;
    for (size_t i = 0; i < s->blows; i++) {
        truth_s[i] = s->blow[i].t_s;
        o->doubles += s->blow[i].twice;
    }
    for (size_t i = 0; i < founds; i++)
        found_s[i] = h->blow[i].t_s;
    o->matches += onset_match(truth_s, s->blows, found_s, founds, ONSET_WINDOW_S, pair).matches;
    for (size_t i = 0; i < founds; i++) {
        bool said = h->blow[i].quality & QUALITY_DOUBLE;
        o->said += said;
        o->right += said && pair[i] >= 0 && s->blow[pair[i]].twice;
        o->dull += (h->blow[i].quality & QUALITY_THUD) != 0;
    }
    o->blows += s->blows;
    o->founds += founds;
    o->quiet += founds == 0;
}

static struct outcome hear_all(const struct stranger_way *way, enum stranger_tune tune, bool doubles, uint64_t seed)
{
    struct outcome o = {0};
    for (int i = 0; i < RUNS; i++) {
        struct random r;
        struct stranger s;
        struct hearing h = {0};
        random_init(&r, seed + (uint64_t)i * 7919);
        stranger_make(&s, (enum stranger_body)(i % BODY_BODIES), tune, doubles, false, way, &r);
        hearing_from_pcm(&h, &s.pcm);
        compare(&o, &s, &h);
        hearing_release(&h);
        stranger_release(&s);
    }
    return o;
}

/* Hours struck by a hammer that rests; of one or two blows nobody could tell them from a knock, and a tube that does
 * not ring drowns in noise. */
static void an_hour_without_a_ring_is_counted(void **state)
{
    (void)state;
    static const struct stranger_way ways[] = {
        {.name = "near", .rate_hz = 16000, .dull = true, .noise_db = -40},
        {.name = "in noise", .rate_hz = 16000, .dull = true, .noise_db = -20},
    };
    for (size_t i = 0; i < COUNT_OF(ways); i++) {
        struct outcome o = hear_all(&ways[i], TUNE_HOUR, false, 91000);
        if (o.matches != o.founds || 10 * o.matches < (i ? 7 : 9) * o.blows || 10 * o.dull < 9 * o.founds)
            fail_msg("%s: %zu blows, %zu found, %zu right, %zu dull", ways[i].name, o.blows, o.founds, o.matches, o.dull);
    }
}

static void a_bounce_is_told_and_a_tick_is_none(void **state)
{
    (void)state;
    static const struct {
        struct stranger_way way;
        bool doubles;
    } rows[] = {
        {{.name = "bounces", .rate_hz = 16000, .noise_db = -40}, true},
        {{.name = "ticks", .rate_hz = 16000, .tick_db = -12, .noise_db = -40}, false},
        {{.name = "clean", .rate_hz = 16000}, false},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct outcome o = hear_all(&rows[i].way, TUNE_QUARTER, rows[i].doubles, 92000);
        if (10 * o.right < 7 * o.doubles || 100 * (o.said - o.right) > o.founds)
            fail_msg("%s: %zu doubles of %zu, %zu said, %zu right", rows[i].way.name, o.doubles, o.blows, o.said, o.right);
    }
}

/* A tick louder than the blows falls beside some of them. */
static void blows_beside_loud_ticks_are_found(void **state)
{
    (void)state;
    static const struct stranger_way way = {.name = "loud tick", .rate_hz = 16000, .tick_db = 6, .noise_db = -40};
    struct outcome o = hear_all(&way, TUNE_QUARTER, false, 94000);
    if (10 * o.matches < 8 * o.blows || 20 * (o.founds - o.matches) > o.founds)
        fail_msg("%zu blows, %zu found, %zu right", o.blows, o.founds, o.matches);
}

/* What is called comes up slowly and breathes; the pace of its like tells it from the tick. */
static void pipes_beside_a_tick_are_found(void **state)
{
    (void)state;
    static const struct stranger_way way = {
        .name = "pipes, tick", .rate_hz = 16000, .blown = true, .tick_db = -12, .noise_db = -40};
    struct outcome o = hear_all(&way, TUNE_QUARTER, false, 97000);
    if (100 * o.matches < 97 * o.blows || 50 * (o.founds - o.matches) > o.founds)
        fail_msg("%zu blows, %zu found, %zu right", o.blows, o.founds, o.matches);
}

/* One blow has no run to be known by, and a word beside an hour no likeness to it. */
static void one_blow_is_heard_and_a_word_is_none(void **state)
{
    (void)state;
    static const struct stranger_way alone = {.rate_hz = 16000, .lone = true, .noise_db = -30},
                                     said = {.rate_hz = 16000, .lead_s = 1, .noise_db = -40, .said_db = -6};
    struct outcome one = hear_all(&alone, TUNE_HOUR, false, 521000), word = hear_all(&said, TUNE_HOUR, false, 522000);
    assert_int_equal(one.matches, RUNS);
    assert_int_equal(one.founds, RUNS);
    assert_true(word.matches >= word.blows - 3);
    assert_true(word.founds <= word.blows + 2);
}

/* Nothing keeps a train's time in them. */
static void knocks_that_are_no_clock_are_not_heard(void **state)
{
    (void)state;
    static const struct stranger_way ways[] = {
        {.name = "ticks", .rate_hz = 16000, .no_clock = true, .tick_db = -10, .noise_db = -40},
        {.name = "thumps", .rate_hz = 16000, .no_clock = true, .thump_db = -6, .noise_db = -40},
        {.name = "steps", .rate_hz = 16000, .no_clock = true, .steps_db = -6, .noise_db = -40},
        {.name = "noise", .rate_hz = 16000, .no_clock = true, .noise_db = -20},
    };
    for (size_t i = 0; i < COUNT_OF(ways); i++) {
        struct outcome o = hear_all(&ways[i], TUNE_QUARTER, false, 93000);
        if (o.quiet < RUNS)
            fail_msg("%s: nothing heard in %zu of %d, %zu blows in the others", ways[i].name, o.quiet, RUNS, o.founds);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(an_hour_without_a_ring_is_counted),
        cmocka_unit_test(a_bounce_is_told_and_a_tick_is_none),
        cmocka_unit_test(blows_beside_loud_ticks_are_found),
        cmocka_unit_test(pipes_beside_a_tick_are_found),
        cmocka_unit_test(one_blow_is_heard_and_a_word_is_none),
        cmocka_unit_test(knocks_that_are_no_clock_are_not_heard),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
