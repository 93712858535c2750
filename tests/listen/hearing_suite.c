/* Made-up runs of clocks must be heard as they were made; what is no clock must not be heard at all. */
#include "suite.h"

#include <math.h>
#include <string.h>

#include "degrade.h"
#include "listen/hearing.h"
#include "listen/listener.h"
#include "onset_match.h"
#include "practice.h"

static struct voice_set voices;

static int load_voices(void **state)
{
    (void)state;
    return voice_set_load_folder(&voices, "sounds", NULL, NULL) ? 0 : -1;
}

static int release_voices(void **state)
{
    (void)state;
    voice_set_release(&voices);
    return 0;
}

/* mir_eval's own onset test 00 (tests/data/onset/ref00.txt, est00.txt, output00.json, commit 04f0c3b5). */
static void the_scorer_gives_the_published_figures(void **state)
{
    (void)state;
    static const double reference[] = {
        0.355011337, 0.807006802, 0.943990929, 1.968367346, 2.171428571, 2.380612244, 2.563265306, 3.439455782,
        4.643990929, 6.185215419, 6.339047619, 6.526258503, 6.678639455, 7.397006802, 8.354829931, 8.798911564,
        8.877278911, 8.948390022, 9.184943310, 9.430204081, 9.601451247, 9.811882086};
    static const double estimate[] = {
        0.174149660, 0.415056689, 0.850430839, 0.992653061, 1.904036281, 2.023038549, 2.214603175,
        2.438095238, 2.609342404, 3.482993197, 4.684625850, 4.728163265, 5.700498866, 5.868843537,
        6.217142857, 6.266485261, 6.385487528, 6.713469388, 7.439092971, 7.471020408, 8.182131519,
        8.405623583, 8.852607710, 9.232834467, 9.505668934, 9.665306122, 9.830748299};
    struct onset_score s = onset_match(reference, 22, estimate, 27, ONSET_WINDOW_S, NULL);
    assert_int_equal(s.matches, 13);
    assert_true(fabs(s.precision - 0.48148148148148145) < 1e-15);
    assert_true(fabs(s.recall - 0.5909090909090909) < 1e-15);
    assert_true(fabs(s.f - 0.5306122448979591) < 1e-15);
    assert_true(onset_match(reference, 0, estimate, 27, ONSET_WINDOW_S, NULL).f == 0);
    assert_true(onset_match(reference, 22, estimate, 0, ONSET_WINDOW_S, NULL).f == 0);
}

struct way {
    struct degrade way;
    double least_f;
    size_t matches, truths, founds;
};

/* One run through one way; adds to its counts. */
static void hear_run(const struct practice_run *run, struct way *w, struct random *r)
{
    struct pcm p = {0};
    struct hearing h = {0};
    double truth_s[256], found_s[256];
    size_t n = 0, m;
    pcm_init(&p, run->pcm.rate_hz);
    pcm_add(&p, run->pcm.at, run->pcm.frames);
    degrade_apply(&w->way, &p, r);
    hearing_from_pcm(&h, &p);
    for (size_t i = 0; i < run->events.count && n < 256; i++)
        if (event_sounds(&run->events.at[i]))
            truth_s[n++] = run->events.at[i].t_s;
    m = h.blow_count < 256 ? h.blow_count : 256;
    for (size_t i = 0; i < m; i++)
        found_s[i] = h.blow[i].t_s;
    w->matches += onset_match(truth_s, n, found_s, m, ONSET_WINDOW_S, NULL).matches;
    w->truths += n;
    w->founds += m;
    hearing_release(&h);
    pcm_release(&p);
}

static void blows_are_found_in_noise_on_the_telephone(void **state)
{
    (void)state;
    static struct way ways[] = {
        {.way = {.name = "clean"}, .least_f = 0.99},
        {.way = {.name = "10 dB", .phone = true, .noise = NOISE_WHITE, .snr_db = 10}, .least_f = 0.97},
        {.way = {.name = "babble", .phone = true, .noise = NOISE_BABBLE, .snr_db = 15}, .least_f = 0.90},
        {.way = {.name = "0 dB", .phone = true, .noise = NOISE_WHITE}, .least_f = 0.97},
        {.way = {.name = "loud babble", .phone = true, .noise = NOISE_BABBLE, .snr_db = 5}, .least_f = 0.96},
        {.way = {.name = "room", .room_s = 0.6, .phone = true, .noise = NOISE_WHITE, .snr_db = 20}, .least_f = 0.97},
    };
    for (int k = 0; k < PRACTICE_KINDS - 1; k++) {
        struct random r;
        struct practice_run run;
        random_init(&r, 9000 + (uint64_t)k);
        practice_make(&run, (enum practice_kind)k, false, &voices, &r);
        for (size_t i = 0; i < sizeof ways / sizeof *ways; i++)
            hear_run(&run, &ways[i], &r);
        practice_release(&run);
    }
    for (size_t i = 0; i < sizeof ways / sizeof *ways; i++) {
        double f = onset_score_of(ways[i].matches, ways[i].truths, ways[i].founds).f;
        if (f < ways[i].least_f)
            fail_msg("%s: F %.3f", ways[i].way.name, f);
    }
}

/* Seeds whose hour is heard whole; the count and the sentence must be right. */
static void an_hour_is_divided_into_chime_and_strike(void **state)
{
    (void)state;
    for (uint64_t seed = 9100; seed < 9103; seed++) {
        struct random r;
        struct practice_run run;
        struct hearing h = {0};
        struct heard_row row;
        struct text t = {0};
        random_init(&r, seed);
        practice_make(&run, PRACTICE_FULL_HOUR, false, &voices, &r);
        hearing_from_pcm(&h, &run.pcm);
        assert_int_equal(hearing_rows(&h, &row, 1), 1);
        assert_int_equal(row.strike, run.strikes);
        assert_int_equal(strlen(row.notes), 16);
        assert_true(row.gap_s > 0.5);
        assert_int_equal(h.part_count, 2);
        assert_int_equal(h.part[0].kind, PART_CHIME);
        assert_int_equal(h.part[1].kind, PART_STRIKE);
        hearing_summary(&h, &t);
        assert_non_null(strstr(text_cstr(&t), "Four sounders, 16 notes"));
        assert_non_null(strstr(text_cstr(&t), "then one lower sounder"));
        text_release(&t);
        hearing_release(&h);
        practice_release(&run);
    }
}

static void evidence_is_soft_and_sums_to_one(void **state)
{
    (void)state;
    struct random r;
    struct practice_run run;
    struct hearing h = {0};
    random_init(&r, 9200);
    practice_make(&run, PRACTICE_QUARTER, false, &voices, &r);
    hearing_from_pcm(&h, &run.pcm);
    assert_true(h.blow_count > 0);
    for (size_t i = 0; i < h.blow_count; i++) {
        float sum = 0;
        for (size_t k = 0; k < h.sounder_count; k++)
            sum += h.blow[i].sounder_p[k];
        assert_true(fabsf(sum - 1) < 1e-4f);
        assert_true(h.blow[i].sounder < h.sounder_count);
        assert_true(h.blow[i].sure > 0 && h.blow[i].sure <= 1);
        assert_true(i == 0 || h.blow[i].t_s > h.blow[i - 1].t_s);
    }
    hearing_release(&h);
    practice_release(&run);
}

static void blocks_of_any_size_give_the_same(void **state)
{
    (void)state;
    struct random r;
    struct practice_run run;
    struct hearing whole = {0}, pieces = {0};
    random_init(&r, 9300);
    practice_make(&run, PRACTICE_BIM_BAM, false, &voices, &r);
    hearing_from_pcm(&whole, &run.pcm);
    struct listener *l = listener_new();
    for (size_t at = 0; at < run.pcm.frames;) {
        size_t n = 1 + random_below(&r, 3000);
        n = n < run.pcm.frames - at ? n : run.pcm.frames - at;
        listener_feed(l, run.pcm.at + at, n);
        at += n;
    }
    listener_finish(l);
    listener_hearing(l, &pieces);
    assert_int_equal(whole.blow_count, pieces.blow_count);
    for (size_t i = 0; i < whole.blow_count; i++) {
        assert_true(fabs(whole.blow[i].t_s - pieces.blow[i].t_s) < 0.005);
        assert_int_equal(whole.blow[i].sounder, pieces.blow[i].sounder);
    }
    listener_free(l);
    hearing_release(&whole);
    hearing_release(&pieces);
    practice_release(&run);
}

/* Ten minutes of a quiet room with one strike of five in the seventh minute. */
static void one_strike_in_ten_minutes_is_found(void **state)
{
    (void)state;
    struct random r;
    struct practice_run run;
    struct hearing h = {0};
    float block[1600];
    random_init(&r, 9401);
    practice_make(&run, PRACTICE_HOUR, false, &voices, &r);
    struct listener *l = listener_new();
    size_t start = 400 * 16000, at = 0;
    while (at < 600 * 16000) {
        for (size_t i = 0; i < 1600; i++, at++) {
            block[i] = 0.001f * (float)random_normal(&r);
            if (at >= start && at - start < run.pcm.frames)
                block[i] += run.pcm.at[at - start];
        }
        listener_feed(l, block, 1600);
    }
    listener_finish(l);
    listener_hearing(l, &h);
    assert_true(fabs(h.length_s - 600) < 0.2);
    assert_int_equal(h.blow_count, run.blows);
    assert_int_equal(h.part_count, 1);
    assert_int_equal(h.part[0].strikes, run.strikes);
    assert_true(fabs(h.blow[0].t_s - 400 - run.events.at[1].t_s) < 0.02);
    listener_free(l);
    hearing_release(&h);
    practice_release(&run);
}

static void what_is_no_clock_is_not_heard(void **state)
{
    (void)state;
    static const char *const names[] = {"nothing", "silence", "steady noise", "a tick", "not numbers", "full scale"};
    for (int kind = 0; kind < 6; kind++) {
        struct pcm p;
        struct random r;
        struct hearing h = {0};
        random_init(&r, 77);
        pcm_init(&p, 16000);
        pcm_reserve(&p, kind == 0 ? 0 : 16000 * 20);
        for (size_t i = 0; i < p.frames; i++)
            p.at[i] = kind == 2 ? 0.1f * (float)random_normal(&r) : kind == 3 ? 0.001f * (float)random_normal(&r)
                    : kind == 4 ? NAN : kind == 5 ? 1e30f : 0;
        if (kind == 3) {
            pcm_reserve(&p, p.frames);
            for (size_t t = 4000; t + 400 < p.frames; t += 8000)
                for (size_t i = 0; i < 160; i++)
                    p.at[t + i] += 0.2f * expf(-(float)i / 30) * (float)random_normal(&r);
        }
        hearing_from_pcm(&h, &p);
        if (h.blow_count > 0)
            fail_msg("%s: %zu blows", names[kind], h.blow_count);
        hearing_release(&h);
        pcm_release(&p);
    }
}

static void other_rates_are_resampled(void **state)
{
    (void)state;
    struct random r;
    struct practice_run run;
    struct pcm high = {0};
    struct hearing h = {0};
    random_init(&r, 9500);
    practice_make(&run, PRACTICE_HOUR, false, &voices, &r);
    pcm_resample(&run.pcm, 44100, &high);
    hearing_from_pcm(&h, &high);
    assert_int_equal(h.blow_count, run.blows);
    struct event_list events = {0};
    hearing_to_events(&h, &events);
    assert_int_equal(events.count, run.blows);
    assert_int_equal(events.at[0].kind, EVENT_BLOW);
    event_list_release(&events);
    hearing_release(&h);
    pcm_release(&high);
    practice_release(&run);
}

/* Blows given by hand: time, sounder; divided as a listener with a clock would. */
static void runs_are_divided_by_rule(void **state)
{
    (void)state;
    static const struct {
        const char *blows; /* sounder digits, '.' waits 0.5 s, '_' 0.6 s, '~' 20 s; each blow takes 0.6 s, after '!' none */
        size_t parts;
        int kind[4], strikes[4];
    } rows[] = {
        {"1", 1, {PART_STRIKE}, {1}},
        {"1.1.1.1", 1, {PART_STRIKE}, {4}},
        {"1234", 1, {PART_CHIME}, {0}},
        {"3124.3213.1324.4213...5..5..5", 2, {PART_CHIME, PART_STRIKE}, {0, 3}},
        {"1234..5", 2, {PART_CHIME, PART_STRIKE}, {0, 1}},
        {"12.12.12", 1, {PART_STRIKE}, {3}},
        {"12.12.1_.12", 1, {PART_STRIKE}, {4}},              /* a stroke that did not sound */
        {"12._2.12.12.12", 1, {PART_STRIKE}, {5}},
        {"12.12.12.3.12.12.12.12.12", 1, {PART_CHIME}, {0}}, /* what parts them is no pair */
        {"12.12!2.12.12.12", 1, {PART_STRIKE}, {5}},         /* a word beside it */
        {"12.1_.1_.12", 1, {PART_CHIME}, {0}},               /* too many to be chance */
        {"12.12.12.12..2", 1, {PART_CHIME}, {0}},            /* quarters, and one o'clock */
        {"1~1.1", 2, {PART_STRIKE, PART_STRIKE}, {1, 2}},
        {"1234~3124.3213", 2, {PART_CHIME, PART_CHIME}, {0, 0}},
        {"", 0, {0}, {0}},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct hearing h = {0};
        double t_s = 1;
        struct heard_blow blows[64];
        for (const char *c = rows[i].blows; *c; c++) {
            if (*c == '.' || *c == '_' || *c == '~') {
                t_s += *c == '.' ? 0.5 : *c == '_' ? 0.6 : 20;
                continue;
            }
            bool beside = *c == '!';
            c += beside;
            blows[h.blow_count++] = (struct heard_blow){.t_s = t_s, .sounder = (uint8_t)(*c - '1'), .sure = 1};
            t_s += beside ? 0 : 0.6;
        }
        h.blow = blows;
        h.sounder_count = 5;
        hearing_divide(&h);
        if (h.part_count != rows[i].parts)
            fail_msg("%s: %zu parts", rows[i].blows, h.part_count);
        for (size_t k = 0; k < h.part_count; k++) {
            assert_int_equal(h.part[k].kind, rows[i].kind[k]);
            assert_int_equal(h.part[k].strikes, rows[i].strikes[k]);
        }
        h.blow = NULL;
        hearing_release(&h);
    }
}

static void the_pace_is_told(void **state)
{
    (void)state;
    static const struct {
        double step_s, growth;
        int odd;            /* this blow is late by half a step */
        unsigned how;
    } rows[] = {
        {1.5, 0, -1, 0},
        {1.5, 0.05, -1, PART_DRAGGING},
        {4.5, 0, -1, PART_SLOW},
        {0.3, 0, -1, PART_FAST},
        {1.5, 0, 5, PART_UNEVEN},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct heard_blow blows[10];
        struct hearing h = {.blow = blows, .blow_count = 10, .sounder_count = 1};
        double t_s = 2, step_s = rows[i].step_s;
        for (int k = 0; k < 10; k++, t_s += step_s, step_s *= 1 + rows[i].growth)
            blows[k] = (struct heard_blow){.t_s = t_s + (k == rows[i].odd ? step_s / 2 : 0), .sure = 1};
        hearing_divide(&h);
        assert_int_equal(h.part_count, 1);
        if (h.part[0].how != rows[i].how)
            fail_msg("row %zu: how %u", i, h.part[0].how);
        h.blow = NULL;
        hearing_release(&h);
    }
}

/* On sounders struck often, blows that buzz, thud or sound tinny are called so more often than not, and no other is. */
static void a_blow_s_manner_is_told(void **state)
{
    (void)state;
    size_t is = 0, right = 0, wrong = 0;
    const unsigned told = QUALITY_BUZZ | QUALITY_THUD | QUALITY_TINNY;
    for (uint64_t seed = 9600; seed < 9624; seed++) {
        struct random r;
        struct practice_run run;
        struct hearing h = {0};
        double truth_s[256], found_s[256];
        unsigned quality[256];
        int pair[256];
        size_t n = 0;
        random_init(&r, seed);
        practice_make(&run, seed % 2 ? PRACTICE_HOUR : PRACTICE_FULL_HOUR, true, &voices, &r);
        hearing_from_pcm(&h, &run.pcm);
        for (size_t i = 0; i < run.events.count && n < 256; i++)
            if (event_sounds(&run.events.at[i])) {
                quality[n] = run.events.at[i].quality & told;
                truth_s[n++] = run.events.at[i].t_s;
            }
        size_t m = h.blow_count < 256 ? h.blow_count : 256;
        for (size_t i = 0; i < m; i++)
            found_s[i] = h.blow[i].t_s;
        onset_match(truth_s, n, found_s, m, ONSET_WINDOW_S, pair);
        for (size_t i = 0; i < n; i++)
            is += quality[i] != 0;
        for (size_t i = 0; i < m; i++) {
            unsigned said = h.blow[i].quality & told;
            right += said && pair[i] >= 0 && said == quality[pair[i]];
            wrong += said && (pair[i] < 0 || said != quality[pair[i]]);
        }
        hearing_release(&h);
        practice_release(&run);
    }
    if (is < 10 || right * 2 < is || wrong * 10 > right)
        fail_msg("%zu blows, %zu told rightly, %zu wrongly", is, right, wrong);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_scorer_gives_the_published_figures),
        cmocka_unit_test(blows_are_found_in_noise_on_the_telephone),
        cmocka_unit_test(an_hour_is_divided_into_chime_and_strike),
        cmocka_unit_test(evidence_is_soft_and_sums_to_one),
        cmocka_unit_test(blocks_of_any_size_give_the_same),
        cmocka_unit_test(one_strike_in_ten_minutes_is_found),
        cmocka_unit_test(what_is_no_clock_is_not_heard),
        cmocka_unit_test(other_rates_are_resampled),
        cmocka_unit_test(runs_are_divided_by_rule),
        cmocka_unit_test(the_pace_is_told),
        cmocka_unit_test(a_blow_s_manner_is_told),
    };
    return cmocka_run_group_tests(tests, load_voices, release_voices);
}
