/* What the clock could have played against what was heard: the right candidate and the right names. */
#include "suite.h"

#include <math.h>
#include <string.h>

#include "listen/fit.h"
#include "mem.h"
#include "random.h"

#define NOTES_MOST 64
#define SOUNDERS 5

static const double pitch_hz[SOUNDERS] = {415, 370, 330, 247, 165};

/* "1234 3124": a digit is a blow 0.5 s after the last, a blank waits 0.5 s more, lower-case letters
 * a..e are blows of dead hammers (expected silent). */
static size_t sequence(const char *text, struct fit_blow *blow)
{
    size_t n = 0;
    double t_s = 0;
    for (; *text; text++) {
        t_s += 0.5;
        if (*text >= '1' && *text <= '5')
            blow[n++] = (struct fit_blow){t_s, (uint8_t)(*text - '1'), 1};
        else if (*text >= 'a' && *text <= 'e')
            blow[n++] = (struct fit_blow){t_s, (uint8_t)(*text - 'a'), 0};
    }
    return n;
}

/* Heard: as a sequence, with sounders numbered by `names` (hammer -> sounder), times stretched and
 * shaken, and labels sure to `p`. */
static void hear(struct hearing *h, const char *text, const char *names, double stretch, double p, struct random *r)
{
    struct fit_blow blow[NOTES_MOST];
    size_t n = sequence(text, blow);
    *h = (struct hearing){0};
    for (size_t i = 0; i < SOUNDERS; i++)
        h->sounder_count += strchr(text, (int)('1' + i)) != NULL;
    h->blow = mem_alloc((n + 1) * sizeof *h->blow);
    for (size_t i = 0; i < n; i++) {
        if (blow[i].strength == 0)
            continue;
        struct heard_blow *b = &h->blow[h->blow_count++];
        uint8_t s = (uint8_t)(names[blow[i].hammer] - '1');
        *b = (struct heard_blow){.t_s = 3 + stretch * blow[i].t_s + 0.02 * random_normal(r), .sounder = s, .sure = 1};
        for (size_t c = 0; c < h->sounder_count; c++)
            b->sounder_p[c] = (float)(c == s ? p : (1 - p) / (double)(h->sounder_count - 1));
        if (h->sounder_count == 1)
            b->sounder_p[0] = 1;
    }
    for (size_t i = 0; i < SOUNDERS; i++)
        if (strchr(text, (int)('1' + i)))
            h->sounder[names[i] - '1'].pitch_hz = pitch_hz[i] * 1.7;
}

static void the_candidate_that_was_played_wins(void **state)
{
    (void)state;
    static const char *const candidates[] = {
        "1234",                     "3124 3213",           "1324 4213 1234",           "3124 3213 1324 4213",
        "1324 4213",                "4213 1234 3124 3213", "3124 3213 1324 4213  5 5 5", "3a24 3a13",
        "31b4 3b13",                "3124 3213 1324 4213  5 5 5 5",                    "1 1 1",
    };
    static const struct {
        const char *heard, *names; /* names: sounder of hammer 1..5 */
        size_t right;
    } rows[] = {
        {"1234", "12345", 0},
        {"3124 3213", "12345", 1},
        {"1324 4213 1234", "12345", 2},
        {"3124 3213 1324 4213", "12345", 3},
        {"1324 4213", "12345", 4}, /* the drum two changes late */
        {"4213 1234 3124 3213", "12345", 5},
        {"3124 3213 1324 4213  5 5 5", "12345", 6},
        {"31b4 3b13", "1x234", 8}, /* hammer 2 dead: three sounders only */
        {"3124 3213 1324 4213  5 5 5 5", "12345", 9},
    };
    struct fit_blow blow[16][NOTES_MOST];
    struct fit_candidate list[16];
    size_t count = sizeof candidates / sizeof *candidates;
    struct random r;
    random_init(&r, 21);
    for (size_t k = 0; k < count; k++)
        list[k] = (struct fit_candidate){blow[k], sequence(candidates[k], blow[k]), 1};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++)
        for (int turn = 0; turn < 4; turn++) {
            struct hearing h;
            struct fit_result f = {0};
            struct fit_options o = {.hammers = SOUNDERS, .pitch_hz = pitch_hz};
            hear(&h, rows[i].heard, rows[i].names, turn % 2 ? 1.4 : 0.8, turn / 2 ? 0.99 : 0.8, &r);
            fit_hearing(&f, &h, 0, h.blow_count, list, count, &o);
            if (f.best != rows[i].right)
                fail_msg("%s: %s wins (%.3f against %.3f)", rows[i].heard, candidates[f.best], f.posterior[f.best],
                         f.posterior[rows[i].right]);
            double sum = f.none;
            for (size_t k = 0; k < count; k++)
                sum += f.posterior[k];
            assert_true(fabs(sum - 1) < 1e-9);
            for (size_t b = 0; b < h.blow_count; b++) {
                double all = 0;
                for (size_t hammer = 0; hammer < FIT_HAMMERS_MOST; hammer++)
                    all += (double)f.hammer_p[b * FIT_HAMMERS_MOST + hammer];
                assert_true(all <= 1.001);
            }
            fit_release(&f);
            hearing_release(&h);
        }
}

/* Heard sounders numbered out of order (the pitch guess was wrong): the pattern must still say which is which. */
static void names_follow_the_pattern_against_a_wrong_pitch_order(void **state)
{
    (void)state;
    struct fit_blow blow[2][NOTES_MOST];
    struct fit_candidate list[2] = {{blow[0], sequence("3124 3213 1324 4213", blow[0]), 1},
                                    {blow[1], sequence("1234", blow[1]), 1}};
    struct hearing h;
    struct fit_result f = {0};
    struct fit_options o = {.hammers = SOUNDERS, .pitch_hz = pitch_hz};
    struct random r;
    random_init(&r, 22);
    hear(&h, "3124 3213 1324 4213", "21345", 1, 0.95, &r);
    h.sounder[0].pitch_hz = 500; /* said to be the highest, but it is hammer 2 */
    h.sounder[1].pitch_hz = 450;
    fit_hearing(&f, &h, 0, h.blow_count, list, 2, &o);
    assert_int_equal(f.best, 0);
    assert_int_equal(f.hammer_of[0], 1);
    assert_int_equal(f.hammer_of[1], 0);
    for (size_t i = 0; i < h.blow_count; i++)
        assert_int_equal(f.expected_of[i], i);
    fit_release(&f);
    hearing_release(&h);
}

static void missing_and_extra_blows_are_placed(void **state)
{
    (void)state;
    struct fit_blow blow[NOTES_MOST];
    struct fit_candidate list = {blow, sequence("3124 3213 1324 4213", blow), 1};
    struct hearing h;
    struct fit_result f = {0};
    struct fit_options o = {.hammers = SOUNDERS, .pitch_hz = pitch_hz};
    struct random r;
    random_init(&r, 23);
    hear(&h, "3124 3213 1324 4213", "12345", 1.1, 0.97, &r);
    memmove(&h.blow[6], &h.blow[7], (h.blow_count - 7) * sizeof *h.blow); /* the seventh was not heard */
    h.blow_count--;
    fit_hearing(&f, &h, 0, h.blow_count, &list, 1, &o);
    for (size_t i = 0; i < h.blow_count; i++)
        assert_int_equal(f.expected_of[i], i < 6 ? i : i + 1);
    memmove(&h.blow[4], &h.blow[3], (h.blow_count - 3) * sizeof *h.blow); /* and a cough after the third */
    h.blow_count++;
    h.blow[4].t_s += 0.17;
    h.blow[3] = h.blow[4];
    h.blow[3].t_s -= 0.3;
    fit_hearing(&f, &h, 0, h.blow_count, &list, 1, &o);
    size_t extra = 0;
    for (size_t i = 0; i < h.blow_count; i++)
        extra += f.expected_of[i] < 0;
    assert_int_equal(extra, 1);
    assert_true(f.posterior[0] > 0.9);
    fit_release(&f);
    hearing_release(&h);
}

static void what_no_candidate_explains_goes_to_none(void **state)
{
    (void)state;
    struct fit_blow blow[NOTES_MOST];
    struct fit_candidate list = {blow, sequence("1 1 1 1 1 1 1 1 1 1 1 1", blow), 1};
    struct hearing h;
    struct fit_result f = {0};
    struct fit_options o = {.hammers = SOUNDERS, .pitch_hz = pitch_hz};
    struct random r;
    random_init(&r, 24);
    hear(&h, "3124 3213 1324 4213", "12345", 1, 0.97, &r);
    fit_hearing(&f, &h, 0, h.blow_count, &list, 1, &o);
    assert_true(f.none > 0.9);
    fit_hearing(&f, &h, 0, h.blow_count, &list, 0, &o);
    assert_true(f.none > 0.999);
    h.blow_count = 0;
    fit_hearing(&f, &h, 0, 10, &list, 1, &o);
    assert_true(f.none > 0.9); /* twelve blows expected, none heard */
    fit_release(&f);
    hearing_release(&h);
}

/* The hour falls on a rod that nobody tells from the lowest of the chime: as many sounders are heard as rods. */
static void a_sounder_that_two_hammers_share_is_named_by_what_is_due(void **state)
{
    (void)state;
    struct fit_blow played[NOTES_MOST], dead[NOTES_MOST];
    struct fit_candidate list[] = {{played, sequence("3124 3213 1324 4213  5 5 5", played), 1},
                                   {dead, sequence("3a24 3a13 1324 4213  5 5 5", dead), 1}};
    const double unison_hz[SOUNDERS] = {415, 370, 330, 247, 247};
    struct fit_options o = {.hammers = SOUNDERS, .pitch_hz = unison_hz};
    struct fit_result f = {0};
    struct hearing h;
    struct random r;
    random_init(&r, 61);
    hear(&h, "3124 3213 1324 4213  4 4 4", "12345", 1.1, 0.95, &r);
    fit_hearing(&f, &h, 0, h.blow_count, list, 2, &o);
    assert_int_equal(f.best, 0);
    assert_true(f.none < 0.05);
    for (size_t i = 0; i < h.blow_count; i++) {
        const float *p = &f.hammer_p[i * FIT_HAMMERS_MOST];
        assert_true(p[played[i].hammer] > 0.8f);
    }
    fit_release(&f);
    hearing_release(&h);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_sounder_that_two_hammers_share_is_named_by_what_is_due),
        cmocka_unit_test(the_candidate_that_was_played_wins),
        cmocka_unit_test(names_follow_the_pattern_against_a_wrong_pitch_order),
        cmocka_unit_test(missing_and_extra_blows_are_placed),
        cmocka_unit_test(what_no_candidate_explains_goes_to_none),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
