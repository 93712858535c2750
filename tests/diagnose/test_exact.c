/* The exact numbers of the finder against a simulation that shares nothing with the filter but the
 * mechanism and the ear.
 *
 * LETOFF_LONG=1 takes 240 random sheets, otherwise 24. */
#include "diagnose/finder_desk.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "diagnose/company.h"
#include "movement/move.h"
#include "random.h"

/* ---- one run of a works along the rows, drawn ---- */

struct drawn {
    struct clock_case *k;
    const struct variant *v;
    const struct works *w;
    const struct sheet *sheet;
    const struct words *words;
    struct random r;
    struct chance chance;
    struct event_list out;
};

static struct rest draw_start(struct drawn *d, int letoff)
{
    struct start start[512];
    const struct fault found = {.start = d->v->start, .start_only = d->v->start_only};
    size_t n = fault_starts(&found, d->w, d->k->classes.minute[letoff], start, 512), i = 0;
    for (double x = random_unit(&d->r); i + 1 < n && x >= start[i].p; i++)
        x -= start[i].p;
    return start[i].rest;
}

static struct sounding draw_letoff(struct drawn *d, struct rest *rest, int letoff)
{
    const struct letoff_classes *c = &d->k->classes;
    int before = c->minute[(letoff + c->letoffs - 1) % c->letoffs];
    int gap = (c->minute[letoff] - before + c->clock->cycle_min) % c->clock->cycle_min;
    gap = gap ? gap : c->clock->cycle_min;
    struct moment m;
    moment_init(&m, d->w, (c->minute[letoff] - gap + 1440) % 1440);
    m.rest = *rest;
    m.t_s = -60.0 * gap;
    event_list_clear(&d->out);
    movement_turn(d->w, &m, gap, BY_TIME, &d->chance, &d->out);
    *rest = m.rest;
    return *sounding_at(&d->k->pool, sounding_digest(&d->k->pool, c->clock, c->lobe[letoff], &d->out,
                                                     m.rest));
}

static double row_chance(struct drawn *d, const struct heard *h, const struct sounding *s, int letoff)
{
    const struct letoff_classes *c = &d->k->classes;
    int dial = ((c->minute[letoff] + d->v->hour_off) % 720 + 720) % 720, due = 0;
    while (c->minute[due] % 720 != dial)
        due++;
    struct ear_at at = {.model = &ear_usual,
                        .words = d->words,
                        .clock = c->clock,
                        .pool = &d->k->pool,
                        .sound = s,
                        .due = sounding_at(&d->k->pool, d->k->due[due]),
                        .lobe = c->lobe[letoff],
                        .dial_min = dial,
                        .shown_min = c->minute[letoff] + d->v->hour_off};
    return ear_row(&at, h);
}

static void wind_again(struct drawn *d, struct rest *rest, const struct sounding *s)
{
    bool out = false;
    for (int t = TRAIN_STRIKE; t < TRAINS; t++)
        out |= train_sound_endless(&s->train[t]) && rest_power(*rest, t) == POWER_OUT;
    if (!out || random_unit(&d->r) >= FILTER_REWOUND)
        return;
    for (int t = TRAIN_STRIKE; t < TRAINS; t++)
        if (train_sound_endless(&s->train[t]) && rest_power(*rest, t) == POWER_OUT)
            rest_set_power(rest, t, POWER_GOOD);
}

/* What ran out in the hour unheard is wound by the time somebody listens. */
static void wind_unheard(struct drawn *d, struct rest *rest)
{
    bool out = false;
    for (int t = TRAIN_STRIKE; t < TRAINS; t++)
        out |= rest_power(*rest, t) == POWER_OUT;
    if (!out || random_unit(&d->r) >= FILTER_REWOUND)
        return;
    for (int t = TRAIN_STRIKE; t < TRAINS; t++)
        if (rest_power(*rest, t) == POWER_OUT)
            rest_set_power(rest, t, POWER_GOOD);
}

static int letoff_told(const struct drawn *d, const struct heard *h)
{
    const struct letoff_classes *c = &d->k->classes;
    int work = ((h->at.min - d->v->hour_off) % 720 + 720) % 720, i = 0;
    while (c->minute[i] != work)
        i++;
    return i;
}

static double draw_report(struct drawn *d)
{
    const struct letoff_classes *c = &d->k->classes;
    bool burn = !d->v->start;
    int first = letoff_told(d, &d->sheet->heard[0]), from = burn ? c->clock->lobes : 0;
    int start = (first - from + c->letoffs) % c->letoffs, row = 0;
    struct rest rest = draw_start(d, start);
    double p = 1;
    for (int i = -from; row < (int)d->sheet->heards; i++) {
        int letoff = (first + i + c->letoffs) % c->letoffs;
        bool held = outcome_holds_hands(rest);
        struct sounding s = {.halt = rest.stuck};
        if (held && i >= 0 && random_unit(&d->r) < FILTER_FREED) {
            rest.stuck = STUCK_NOT;
            held = false;
        }
        if (!held)
            s = draw_letoff(d, &rest, letoff);
        if (i == -1 && rest.stuck && random_unit(&d->r) < 0.5)
            rest = draw_start(d, start);
        else if (i == -1)
            wind_unheard(d, &rest);
        if (i < 0)
            continue;
        if (outcome_holds_hands((struct rest){.stuck = s.halt}))
            p *= FILTER_UNTOLD_STOP;
        if (letoff == letoff_told(d, &d->sheet->heard[row]))
            p *= row_chance(d, &d->sheet->heard[row++], &s, letoff);
        wind_again(d, &rest, &s);
    }
    return p;
}

/* ---- comparing ---- */

struct tally {
    int sheets, compared, forked;
};

static void compare(struct desk *desk, const struct sheet *sheet, const struct held *h, uint64_t seed,
                    struct tally *t)
{
    const struct variant *v = &h->kase->variant[h->variant];
    const int draws = getenv("LETOFF_LONG") ? 2000 : 500;
    struct drawn d = {.k = h->kase, .v = v, .sheet = sheet, .words = desk->words,
                      .w = outcome_table_works(&h->kase->table[v->table])};
    double sum = 0, squares = 0;
    random_init(&d.r, seed);
    chance_draw(&d.chance, &d.r);
    for (int i = 0; i < draws; i++) {
        double p = draw_report(&d);
        sum += p;
        squares += p * p;
    }
    double mean = sum / draws, spread = fmax(0, squares / draws - mean * mean);
    double error = sqrt(spread / (draws - 1));
    /* 5 deviations, and what a branch too rare to be met in so many draws (3/n: rule of three) can
       carry */
    double slack = 5 * error + 3.0 / draws;
    if (fabs(mean - h->chance) > slack)
        fail_msg("%s: exact %.6g, drawn %.6g +- %.2g", v->fault ? v->fault->id : "none", h->chance,
                 mean, error);
    t->compared++;
    t->forked += spread > 0;
    event_list_release(&d.out);
}

static const char *const clocks[] = {"longcase-rack", "mantel-countwheel-90", "floor-westminster-rack",
                                     "longcase-rack-rigid"};

/* Rows as some works of the clock would give them, with a slip now and then. */
static void random_sheet(struct desk *desk, struct random *r, struct sheet *s)
{
    char line[256];
    int hour = 1 + (int)random_below(r, 12), rows = 2 + (int)random_below(r, 3), at = 0;
    int error = (int)random_below(r, 3) - 1;
    at += snprintf(line, sizeof line, "clock %s", clocks[random_below(r, COUNT_OF(clocks))]);
    for (int i = 0; i < rows; i++) {
        int count = (hour + error + 11) % 12 + 1;
        if (random_below(r, 4) == 0)
            count = (int)random_below(r, 13);
        at += snprintf(line + at, sizeof line - (size_t)at, ", %d:00 s%d", hour, count);
        hour = hour % 12 + 1;
    }
    assert_true(sheet_parse_shorthand(s, line, strlen(line), NULL));
    (void)desk;
}

static bool simple(const struct held *h)
{
    const struct variant *v = &h->kase->variant[h->variant];
    return v->minute_off == 0 && v->late == 0 && v->hour_off % 60 == 0 && h->chance > 0.03;
}

static void exact_probabilities_agree_with_drawn_ones_within_their_error(void **state)
{
    struct desk *desk = *state;
    struct tally t = {0};
    struct random r;
    int sheets = getenv("LETOFF_LONG") ? 240 : 24;
    random_init(&r, 20261125);
    for (int n = 0; n < sheets; n++, t.sheets++) {
        struct sheet s;
        struct belief b;
        sheet_init(&s, desk->words);
        random_sheet(desk, &r, &s);
        assert_true(belief_find(desk->finder, &s, NULL, &b));
        for (int i = 0, found = 0; i < 400 && found < 3; i++) {
            size_t pick = random_below(&r, (unsigned)b.helds);
            if (!simple(&b.held[pick]))
                continue;
            compare(desk, &s, &b.held[pick], random_bits(&r), &t);
            found++;
        }
        belief_release(&b);
        sheet_release(&s);
    }
    print_message("%d sheets, %d comparisons, %d of them with branches\n", t.sheets, t.compared, t.forked);
    assert_true(t.compared >= t.sheets);
    assert_true(t.forked > 0);
}

/* Two hypotheses by hand: a sound clock gives 3 at 3:00 and was told as 3; the posterior odds of none
 * against a hand moved by one hour are the ratio of prior times ear. */
static void posterior_odds_are_prior_odds_times_the_ears_odds(void **state)
{
    struct desk *desk = *state;
    struct sheet s;
    struct belief b;
    const char *line = "clock longcase-rack, 3:00 s3";
    sheet_init(&s, desk->words);
    assert_true(sheet_parse_shorthand(&s, line, strlen(line), NULL));
    assert_true(belief_find(desk->finder, &s, NULL, &b));
    double none = 0, moved = 0, none_chance = 0, moved_chance = 0, share = 0;
    for (size_t i = 0; i < b.helds; i++) {
        const struct variant *v = &b.held[i].kase->variant[b.held[i].variant];
        if (!v->fault) {
            none = b.held[i].p;
            none_chance = b.held[i].chance;
        } else if (strcmp(v->fault->id, "hour-hand-moved") == 0 && v->hour_off == 60) {
            moved = b.held[i].p;
            moved_chance = b.held[i].chance;
            share = v->share;
        }
    }
    /* a sound clock strikes 3; with the hand an hour ahead it strikes 2 when 3 is shown */
    assert_near(none_chance, ear_count(&ear_usual, 3, 3), 1e-9);
    assert_near(moved_chance, ear_count(&ear_usual, 2, 3), 1e-9);
    assert_near(none / moved,
                PRIOR_NONE * none_chance / ((1 - PRIOR_NONE - PRIOR_UNKNOWN) * share * moved_chance),
                1e-6 * none / moved);
    belief_release(&b);
    sheet_release(&s);
}

/* The time of the filter grows with the let-offs walked, not faster. */
static void works_of_a_longer_report_grow_in_proportion_to_its_rows(void **state)
{
    struct desk *desk = *state;
    double steps[2];
    const char *line[2] = {"clock longcase-rack, 1:00 s1, 2:00 s2, 3:00 s3",
                           "clock longcase-rack, 1:00 s1, 2:00 s2, 3:00 s3, 4:00 s4, 5:00 s5, 6:00 s6"};
    for (int i = 0; i < 2; i++) {
        struct sheet s;
        struct belief b;
        struct closer c;
        sheet_init(&s, desk->words);
        assert_true(sheet_parse_shorthand(&s, line[i], strlen(line[i]), NULL));
        assert_true(belief_find(desk->finder, &s, NULL, &b));
        closer_init(&c, &b.held[0], &s, NULL);
        steps[i] = (double)c.plan.steps;
        closer_release(&c);
        belief_release(&b);
        sheet_release(&s);
    }
    assert_near(steps[1] - 1, 2 * (steps[0] - 1), 1e-9); /* one step is the silent hour before */
}

/* Who only wants to know where the clock may be now is told what who looks closer is told. */
static void where_a_clock_may_be_is_the_same_however_closely_it_is_looked_at(void **state)
{
    static const char *const lines[] = {
        "clock longcase-rack, 1:00 s1, 2:00 s1, 3:00 s2",
        "clock floor-westminster-rack, hours s= , quarters c!",
        "clock longcase-countwheel-78, hours s+1 often=sometimes, 4:00 s5",
    };
    struct desk *desk = *state;
    for (size_t i = 0; i < sizeof lines / sizeof *lines; i++) {
        struct sheet s;
        struct belief b;
        struct plans plans;
        struct closer fast = {0};
        sheet_init(&s, desk->words);
        assert_true(sheet_parse_shorthand(&s, lines[i], strlen(lines[i]), NULL));
        assert_true(belief_find(desk->finder, &s, NULL, &b));
        plans_init(&plans, &s, b.held[0].kase, &ear_usual);
        for (size_t h = 0; h < b.helds && h < 12; h++) {
            struct closer slow;
            closer_init(&slow, &b.held[h], &s, &ear_usual);
            closer_place(&fast, &b.held[h], &plans);
            assert_true(fast.chance == slow.chance && fast.chance > 0);
            assert_int_equal(fast.next, slow.next);
            assert_int_equal(fast.space.ends, slow.space.ends);
            for (size_t e = 0; e < fast.space.ends; e++)
                assert_true(fast.space.end[e].state == slow.space.end[e].state &&
                            fast.space.end[e].p == slow.space.end[e].p);
            closer_release(&slow);
        }
        closer_release(&fast);
        plans_release(&plans);
        belief_release(&b);
        sheet_release(&s);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(exact_probabilities_agree_with_drawn_ones_within_their_error),
        cmocka_unit_test(posterior_odds_are_prior_odds_times_the_ears_odds),
        cmocka_unit_test(where_a_clock_may_be_is_the_same_however_closely_it_is_looked_at),
        cmocka_unit_test(works_of_a_longer_report_grow_in_proportion_to_its_rows),
    };
    return cmocka_run_group_tests(tests, open_desk, close_desk);
}
