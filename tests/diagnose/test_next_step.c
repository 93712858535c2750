/* Orders of repair, and which step is proposed. */
#include "diagnose/finder_desk.h"

#include <string.h>
#include "diagnose/next_step.h"
#include "diagnose/report.h"
#include "random.h"

/* Worked numbers of cost ordering (sum of c_i times what is still uncured; smallest c/p first:
 * Heckerman, Breese, Rommelse 1995); checked by hand over all orders. */
static const struct {
    const char *name;
    size_t n;
    double p[3], cost[3];
    size_t first;      /* tried first */
    double least, by_probability;
} orders[] = {
    {"A", 3, {.5, .3, .2}, {4, 1, 2}, 1, 4.2, 4.9},
    {"B: a tie", 3, {.5, .3, .2}, {5, 1, 2}, 1, 4.9, 5.9},
    {"C: two causes, checks of 3 and 1", 2, {.6, .4}, {3, 1}, 1, 2.8, 3.4},
};

static void the_order_by_cost_over_probability_is_the_cheapest(void **state)
{
    (void)state;
    for (size_t i = 0; i < COUNT_OF(orders); i++) {
        size_t order[3], plain[3] = {0, 1, 2};
        repair_order(orders[i].p, orders[i].cost, orders[i].n, order);
        assert_int_equal(order[0], orders[i].first);
        assert_near(repair_cost(orders[i].p, orders[i].cost, orders[i].n, order), orders[i].least, 1e-12);
        assert_near(repair_cost(orders[i].p, orders[i].cost, orders[i].n, plain),
                    orders[i].by_probability, 1e-12);
    }
}

/* In case B both 2,1,3 and 2,3,1 cost 4.9, and the worst order 6.3. */
static void a_tie_costs_the_same_in_either_order(void **state)
{
    (void)state;
    const size_t one[] = {1, 0, 2}, two[] = {1, 2, 0};
    assert_near(repair_cost(orders[1].p, orders[1].cost, 3, one), 4.9, 1e-12);
    assert_near(repair_cost(orders[1].p, orders[1].cost, 3, two), 4.9, 1e-12);
    static const size_t all[6][3] = {{0, 1, 2}, {0, 2, 1}, {1, 0, 2}, {1, 2, 0}, {2, 0, 1}, {2, 1, 0}};
    double worst = 0;
    for (size_t i = 0; i < 6; i++)
        worst = fmax(worst, repair_cost(orders[1].p, orders[1].cost, 3, all[i]));
    assert_near(worst, 6.3, 1e-12);
}

static void no_order_of_random_repairs_beats_the_one_by_cost_over_probability(void **state)
{
    (void)state;
    static const size_t all[6][3] = {{0, 1, 2}, {0, 2, 1}, {1, 0, 2}, {1, 2, 0}, {2, 0, 1}, {2, 1, 0}};
    struct random r;
    random_init(&r, 5);
    for (int n = 0; n < 300; n++) {
        double p[3], cost[3], sum = 0;
        size_t order[3];
        for (int i = 0; i < 3; i++) {
            sum += p[i] = random_unit(&r);
            cost[i] = 0.1 + 10 * random_unit(&r);
        }
        for (int i = 0; i < 3; i++)
            p[i] /= sum;
        repair_order(p, cost, 3, order);
        double mine = repair_cost(p, cost, 3, order);
        for (size_t i = 0; i < 6; i++)
            assert_true(mine <= repair_cost(p, cost, 3, all[i]) + 1e-12);
    }
}

static struct next_step step_for(struct desk *d, const char *line, struct belief *b)
{
    struct sheet s;
    struct next_step n;
    sheet_init(&s, d->words);
    assert_true(sheet_parse_shorthand(&s, line, strlen(line), NULL));
    assert_true(belief_find(d->finder, &s, NULL, b));
    next_step_find(&n, d->finder, b, &s);
    sheet_release(&s);
    return n;
}

static void a_moved_hour_hand_is_put_right_by_the_owner_at_once(void **state)
{
    struct belief b;
    struct next_step n = step_for(*state, "clock longcase-rack, 3:00 s4, 4:00 s5, 5:00 s6, had hour_hand_moved", &b);
    assert_int_equal(n.kind, NEXT_OWNER);
    assert_string_equal(n.id, "move-hour-hand");
    assert_true(n.p_cure > 0.9);
    assert_true(belief_cause_of(&b, "hour-hand-moved")->owner_safe);
    belief_release(&b);
}

static void a_question_is_only_proposed_when_it_saves_more_than_it_takes(void **state)
{
    struct belief b;
    struct next_step n = step_for(*state, "clock longcase-rack, 3:00 s0", &b);
    if (n.kind == NEXT_QUESTION)
        assert_true(n.saves_min >= NEXT_LEAST && n.questions >= 1);
    assert_true(n.cost_min > 0);
    for (size_t i = 1; i < n.questions; i++)
        assert_string_not_equal(n.batch[i].id, n.batch[0].id);
    belief_release(&b);
}

/* On a clock of unknown kind a steady error is the hour hand or the count wheel; whether the clock
 * finds the hour by itself or counts on tells which. */
static void the_question_that_tells_hour_hand_from_count_wheel_is_named(void **state)
{
    struct belief b;
    struct next_step n = step_for(*state, "3:00 s4, 4:00 s5, 5:00 s6", &b);
    assert_true(belief_cause_of(&b, "hour-hand-moved") <= b.cause + 1);
    assert_true(belief_cause_of(&b, "count-out-of-step") <= b.cause + 1);
    assert_true(n.apart_by >= APART_LEAST);
    assert_true(strlen(n.apart.text) > 10);
    belief_release(&b);
}

/* Ten minutes before every hour is early by the hand: that need not be asked. */
static void what_a_row_tells_is_not_asked_again(void **state)
{
    struct belief b;
    struct next_step n = step_for(*state, "hint case=mantel, *:50 for=hour early", &b);
    assert_string_not_equal(n.id, "seen:strike_early_by_hand");
    for (size_t i = 0; i < n.questions; i++)
        assert_string_not_equal(n.batch[i].id, "seen:strike_early_by_hand");
    belief_release(&b);
}

static void answers_are_written_into_the_sheet(void **state)
{
    struct desk *d = *state;
    struct sheet s;
    struct question q = {.kind = QUESTION_STRIKE, .dial_min = 240};
    struct err e = {0};
    sheet_init(&s, d->words);
    assert_true(question_answer(&q, &s, "3", &e));
    assert_int_equal(s.heards, 1);
    assert_int_equal(s.heard[0].at.min, 240);
    assert_int_equal(s.heard[0].value[0], 3);
    assert_true(heard_how(&s.heard[0], d->words, HOW_BY_HAND));
    assert_true(question_answer(&q, &s, "don't know", &e));
    assert_int_equal(s.heards, 1);
    q = (struct question){.kind = QUESTION_SEEN, .word = "hammers_free"};
    assert_true(question_answer(&q, &s, "no", &e));
    assert_true(words_has(d->words, WORD_SEEN, &s.seen_not, "hammers_free"));
    q = (struct question){.kind = QUESTION_HISTORY, .word = "carriage"};
    assert_true(question_answer(&q, &s, "Yes, by car.", &e));
    assert_true(words_has(d->words, WORD_HISTORY, &s.history_asked, "carriage"));
    q = (struct question){.kind = QUESTION_HINT, .word = "count"};
    assert_true(question_answer(&q, &s, "rack", &e));
    assert_string_equal(sheet_hint(&s, "count"), "rack");
    q.word = "trains";
    assert_true(question_answer(&q, &s, "?", &e));
    assert_int_equal(sheet_hint_number(&s, "trains", -1), -1);
    q.word = "count";
    assert_int_equal(e.count, 0);
    assert_false(question_answer(&q, &s, "purple", &e));
    q = (struct question){.kind = QUESTION_HISTORY, .word = "moved_house"};
    assert_false(question_answer(&q, &s, "perhaps", &e));
    assert_int_equal(e.count, 2);
    err_release(&e);
    sheet_release(&s);
}

static double belief_in(struct desk *d, const char *line, const char *cause)
{
    struct sheet s;
    struct belief b;
    sheet_init(&s, d->words);
    assert_true(sheet_parse_shorthand(&s, line, strlen(line), NULL));
    assert_true(belief_find(d->finder, &s, NULL, &b));
    double p = belief_cause_of(&b, cause)->p;
    belief_release(&b);
    sheet_release(&s);
    return p;
}

/* A finger leads the hands over where the clock out of beat stops, and the strike is right there. */
static void a_strike_led_to_by_hand_does_not_speak_against_what_stops_the_clock(void **state)
{
    static const char report[] = "clock mantel-countwheel-90, 10:30 s1, 11:00 s0, 10:50 stop=hands";
    char by_time[128], by_hand[128];
    snprintf(by_time, sizeof by_time, "%s, 4:00 s4", report);
    snprintf(by_hand, sizeof by_hand, "%s, 4:00 s4 by_hand", report);
    double before = belief_in(*state, report, "out-of-beat");
    assert_true(belief_in(*state, by_hand, "out-of-beat") > before / 2);
    assert_true(belief_in(*state, by_time, "out-of-beat") < before / 10);
}

/* "How many at nine?" is answered with the count, whenever by the hand it came; a row told unasked says that it came at nine. */
static void the_answer_for_an_hour_says_nothing_of_the_minute_it_came_at(void **state)
{
    static const char report[] = "clock passing-strike, 4:45 s1, 5:45 s1, 6:45 s1";
    char told[128], answered[128];
    snprintf(told, sizeof told, "%s, 9:00 s1", report);
    snprintf(answered, sizeof answered, "%s, 9:00 s1 by_hand", report);
    double before = belief_in(*state, report, "lifting-pins-quarter-out");
    assert_true(before > 0.5);
    assert_true(belief_in(*state, answered, "lifting-pins-quarter-out") > 0.9 * before);
    assert_true(belief_in(*state, told, "lifting-pins-quarter-out") < 0.9 * before);
}

/* What is told unasked bears on the matter more than the same word got by asking. */
static void a_yes_to_a_question_says_less_than_what_is_told_unasked(void **state)
{
    static const char report[] = "clock longcase-rack, 3:00 s4, 4:00 s5";
    char told[128], asked[128];
    snprintf(told, sizeof told, "%s, had hour_hand_moved", report);
    snprintf(asked, sizeof asked, "%s, asked-had hour_hand_moved", report);
    double before = belief_in(*state, report, "hour-hand-moved");
    double by_asking = belief_in(*state, asked, "hour-hand-moved");
    assert_true(by_asking > before);
    assert_true(belief_in(*state, told, "hour-hand-moved") > by_asking);
}

/* With one clock in three dry, oil comes first in the house; a moved hour hand is told over the
 * telephone; what may be many things is looked at before anything is done. */
static void the_first_thing_done_there_is_the_cheapest(void **state)
{
    static const struct {
        const char *line, *first;
        enum next_kind place;
    } rows[] = {
        {"clock longcase-rack, hours s= slow, oil 12, seen oil_dark", "clean-and-oil", NEXT_VISIT},
        {"clock longcase-rack, 3:00 s4, 4:00 s5, 5:00 s6, had hour_hand_moved", "move-hour-hand",
         NEXT_OWNER},
        {"clock longcase-rack, 12:00 s12, 1:00 s*", "look", NEXT_VISIT},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct belief b;
        struct plan_step step[64];
        step_for(*state, rows[i].line, &b);
        assert_true(next_plan(&b, step, COUNT_OF(step)) > 0);
        assert_string_equal(step[0].cure, rows[i].first);
        assert_int_equal(step[0].place, rows[i].place);
        belief_release(&b);
    }
}

/* What is merely dry: oil in the house does in nine of ten cases, the rest wants the bench. */
static void clean_and_oil_is_planned_in_the_house_first(void **state)
{
    struct belief b;
    struct plan_step step[64];
    double house = 0, bench = 0;
    step_for(*state, "clock longcase-rack, hours s= slow, oil 12, seen oil_dark", &b);
    size_t n = next_plan(&b, step, COUNT_OF(step));
    for (size_t i = 0; i < n; i++)
        if (strcmp(step[i].cure, "clean-and-oil") == 0)
            *(step[i].place == NEXT_VISIT ? &house : &bench) += step[i].p;
    assert_true(house > 0);
    assert_near(bench, house * (1 - OIL_WORKS) / OIL_WORKS, 1e-9);
    belief_release(&b);
}

/* Different answers that clocks with a fiftieth of the belief give to a hint. */
static size_t answers_believed(const struct desk *d, const struct belief *b, const char *hint)
{
    const char *said[32];
    size_t n = 0;
    for (size_t i = 0; i < b->clocks; i++) {
        const struct clock *c = library_find_clock(d->lib, b->clock[i].name);
        for (size_t h = 0; h < c->hints && b->clock[i].p > 0.02; h++)
            for (size_t v = 0; strcmp(c->hint[h].word, hint) == 0 && v < c->hint[h].values && n < 32; v++) {
                size_t k = 0;
                while (k < n && strcmp(said[k], c->hint[h].value[v]) != 0)
                    k++;
                if (k == n)
                    said[n++] = c->hint[h].value[v];
            }
    }
    return n;
}

static void how_a_clock_is_made_is_asked_only_where_clocks_believed_in_differ(void **state)
{
    static const char *const lines[] = {"3:00 s4, 4:00 s5", "3:00 s0, 4:00 s4", "12:00 s11, 1:00 s12",
                                        "hours s1", "7:00 s9", "3:00 s3, 3:30 s1"};
    for (size_t i = 0; i < COUNT_OF(lines); i++) {
        struct belief b;
        struct next_step n = step_for(*state, lines[i], &b);
        for (size_t q = 0; q <= n.questions; q++) {
            const struct question *asked = q < n.questions ? &n.batch[q] : &n.apart;
            if (asked->kind == QUESTION_HINT && strncmp(asked->id, "hint:", 5) == 0)
                assert_true(answers_believed(*state, &b, asked->id + 5) > 1);
        }
        belief_release(&b);
    }
}

/* That nothing be done is the cheapest to try, but it is advised only where nothing is likeliest to be wrong. */
static void a_count_at_no_known_time_is_not_left_alone_and_its_time_is_asked_for(void **state)
{
    struct desk *d = *state;
    struct sheet s;
    struct report r;
    const char *line = "? s4";
    sheet_init(&s, d->words);
    assert_true(sheet_parse_shorthand(&s, line, strlen(line), NULL));
    assert_true(report_init(&r, d->finder, &s, NULL));
    assert_int_not_equal(r.next.kind, NEXT_LEAVE);
    assert_true(r.notes.count > 0);
    assert_non_null(strstr(r.notes.at[0], "at what time"));
    report_release(&r);
    sheet_release(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_order_by_cost_over_probability_is_the_cheapest),
        cmocka_unit_test(a_tie_costs_the_same_in_either_order),
        cmocka_unit_test(no_order_of_random_repairs_beats_the_one_by_cost_over_probability),
        cmocka_unit_test(a_moved_hour_hand_is_put_right_by_the_owner_at_once),
        cmocka_unit_test(a_question_is_only_proposed_when_it_saves_more_than_it_takes),
        cmocka_unit_test(the_question_that_tells_hour_hand_from_count_wheel_is_named),
        cmocka_unit_test(what_a_row_tells_is_not_asked_again),
        cmocka_unit_test(answers_are_written_into_the_sheet),
        cmocka_unit_test(a_strike_led_to_by_hand_does_not_speak_against_what_stops_the_clock),
        cmocka_unit_test(the_answer_for_an_hour_says_nothing_of_the_minute_it_came_at),
        cmocka_unit_test(a_yes_to_a_question_says_less_than_what_is_told_unasked),
        cmocka_unit_test(the_first_thing_done_there_is_the_cheapest),
        cmocka_unit_test(clean_and_oil_is_planned_in_the_house_first),
        cmocka_unit_test(how_a_clock_is_made_is_asked_only_where_clocks_believed_in_differ),
        cmocka_unit_test(a_count_at_no_known_time_is_not_left_alone_and_its_time_is_asked_for),
    };
    return cmocka_run_group_tests(tests, open_desk, close_desk);
}
