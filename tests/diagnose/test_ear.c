/* What a listener says of a let-off: every quality is met where it is there and only there, and every thing that
 * can be told is likelier of the let-off that did it than of one that did not. */
#include "suite.h"

#include <stdio.h>
#include <string.h>
#include "diagnose/ear.h"
#include "diagnose/finder_desk.h"
#include "event.h"

#define CHIMER "floor-westminster-rack"
#define BIRD   "cuckoo-countwheel"
#define THREE  180 /* dial minutes */

/* A let-off in few words: sounders of the blows and bells of the notes, 1 the first; the rest of `sound` as it is. */
struct made {
    const char *blows, *notes;
    struct sounding sound;
    int late_min;
};

static void count(struct sounding_pool *p, struct train_sound *t, const char *letters, int first)
{
    uint8_t order[SOUNDING_SEQUENCE];
    size_t n = letters ? strlen(letters) : 0;
    for (size_t i = 0; i < n; i++)
        order[i] = (uint8_t)(letters[i] - '1' + first);
    if (!n)
        return;
    t->falls = t->count = (uint16_t)n;
    t->sequence = sounding_sequence_of(p, order, n);
}

static uint32_t make(struct sounding_pool *p, const struct made *m)
{
    struct sounding s = m->sound;
    count(p, &s.train[TRAIN_STRIKE], m->blows, 0); /* a strike keeps sounders from 0 */
    count(p, &s.train[TRAIN_CHIME], m->notes, 1);  /* a chime bells from 1 */
    for (int i = 0; i < TRAINS; i++)
        if (s.train[i].falls)
            s.train[i].minute = (int8_t)(s.train[i].minute + m->late_min);
    return sounding_intern(p, &s);
}

/* The same ear for one let-off after another. */
struct ear {
    struct desk *desk;
    struct sounding_pool pool;
    struct ear_at at;
};

static void listen_to(struct ear *x, const char *clock, const struct made *made, const struct made *due, int dial_min)
{
    uint32_t one = make(&x->pool, made), two = make(&x->pool, due);
    x->at = (struct ear_at){.model = &ear_usual,
                            .words = x->desk->words,
                            .clock = library_find_clock(x->desk->lib, clock),
                            .pool = &x->pool,
                            .sound = sounding_at(&x->pool, one),
                            .due = sounding_at(&x->pool, two),
                            .dial_min = dial_min,
                            .shown_min = dial_min};
    assert_non_null(x->at.clock);
}

/* Three blows, of which the first fell at the warning; the same all at the warning; all at the hour. */
#define ONE_EARLY   {"111", NULL, {.early = 1, .train[TRAIN_STRIKE] = {.minute = -5}}, 0}
#define ALL_EARLY   {"111", NULL, PLAIN, -5}
#define AT_THE_HOUR {"111", NULL, PLAIN, 0}
#define STRIKE(...) {.train[TRAIN_STRIKE] = {__VA_ARGS__}}
#define CHIME(...)  {.train[TRAIN_CHIME] = {__VA_ARGS__}}
#define PLAIN       {.halt = STUCK_NOT}
#define ENDLESS     STRIKE(.falls = 60, .count = 60, .flags = SOUNDING_RUN_ON)

static const struct made three = {"111", "1234", STRIKE(.pace = 0, .gap = 40), 0};

/* ---- qualities ---- */

static const struct quality_row {
    const char *word, *clock;
    struct made made, due;
} qualities[] = {
    {"silent", CHIMER, {NULL, NULL, PLAIN, 0}, {"111", NULL, PLAIN, 0}},
    {"slow", CHIMER, {"111", NULL, STRIKE(.pace = 5), 0}, {"111", NULL, PLAIN, 0}},
    {"fast", CHIMER, {"111", NULL, STRIKE(.pace = -5), 0}, {"111", NULL, PLAIN, 0}},
    {"uneven", CHIMER, {"111", NULL, STRIKE(.uneven = 6), 0}, {"111", NULL, PLAIN, 0}},
    {"slowing", CHIMER, {"111", NULL, STRIKE(.drag = 5), 0}, {"111", NULL, PLAIN, 0}},
    {"speeding_up", CHIMER, {"111", NULL, STRIKE(.drag = -5), 0}, {"111", NULL, PLAIN, 0}},
    {"runs_on", CHIMER, {NULL, NULL, ENDLESS, 0}, {"111", NULL, PLAIN, 0}},
    {"stops", CHIMER, {"11", NULL, STRIKE(.flags = SOUNDING_STALLED), 0}, {"111", NULL, PLAIN, 0}},
    {"stops_midway", CHIMER, {"11", NULL, STRIKE(.flags = SOUNDING_STALLED), 0}, {"111", NULL, PLAIN, 0}},
    {"bound", CHIMER, {"11", NULL, STRIKE(.flags = SOUNDING_JAMMED), 0}, {"111", NULL, PLAIN, 0}},
    {"jams", CHIMER, {"11", NULL, STRIKE(.flags = SOUNDING_JAMMED), 0}, {"111", NULL, PLAIN, 0}},
    {"takes_hands_along", CHIMER, {"1", NULL, {.halt = STUCK_WARNING}, 0}, {"111", NULL, PLAIN, 0}},
    {"loud", CHIMER, {"111", NULL, STRIKE(.some = QUALITY_LOUD), 0}, {"111", NULL, PLAIN, 0}},
    {"soft", CHIMER, {"111", NULL, STRIKE(.some = QUALITY_WEAK), 0}, {"111", NULL, PLAIN, 0}},
    {"weak_first", CHIMER, {"111", NULL, STRIKE(.some = QUALITY_WEAK), 0}, {"111", NULL, PLAIN, 0}},
    {"weak_last", CHIMER, {"111", NULL, STRIKE(.some = QUALITY_WEAK), 0}, {"111", NULL, PLAIN, 0}},
    {"dull", CHIMER, {"111", NULL, STRIKE(.some = QUALITY_THUD), 0}, {"111", NULL, PLAIN, 0}},
    {"thud", CHIMER, {"111", NULL, STRIKE(.some = QUALITY_THUD), 0}, {"111", NULL, PLAIN, 0}},
    {"buzz", CHIMER, {"111", NULL, STRIKE(.some = QUALITY_BUZZ), 0}, {"111", NULL, PLAIN, 0}},
    {"cracked", CHIMER, {"111", NULL, STRIKE(.some = QUALITY_BUZZ), 0}, {"111", NULL, PLAIN, 0}},
    {"double", CHIMER, {"111", NULL, STRIKE(.some = QUALITY_DOUBLE), 0}, {"111", NULL, PLAIN, 0}},
    {"tinny", CHIMER, {"111", NULL, STRIKE(.some = QUALITY_TINNY), 0}, {"111", NULL, PLAIN, 0}},
    {"click_only", CHIMER, {NULL, NULL, STRIKE(.flags = SOUNDING_CLICKED), 0}, {"111", NULL, PLAIN, 0}},
    {"whirr_only", CHIMER, {NULL, NULL, STRIKE(.flags = SOUNDING_MOVED), 0}, {"111", NULL, PLAIN, 0}},
    {"late", CHIMER, {"111", NULL, PLAIN, 6}, {"111", NULL, PLAIN, 0}},
    {"early", CHIMER, {"111", NULL, PLAIN, -6}, {"111", NULL, PLAIN, 0}},
    {"on_both", CHIMER, {"12", NULL, PLAIN, 0}, {"11", NULL, PLAIN, 0}},
    {"wrong_sounder", CHIMER, {"22", NULL, PLAIN, 0}, {"11", NULL, PLAIN, 0}},
    {"one_note_missing", CHIMER, {NULL, "134", PLAIN, 0}, {NULL, "1234", PLAIN, 0}},
    {"last_note_missing", CHIMER, {NULL, "123", PLAIN, 0}, {NULL, "1234", PLAIN, 0}},
    {"last_note_first", CHIMER, {NULL, "4123", PLAIN, 0}, {NULL, "1234", PLAIN, 0}},
    {"first_note_missing", CHIMER, {NULL, "234", PLAIN, 0}, {NULL, "1234", PLAIN, 0}},
    {"first_note_last", CHIMER, {NULL, "2341", PLAIN, 0}, {NULL, "1234", PLAIN, 0}},
    {"notes_swapped", CHIMER, {NULL, "2134", PLAIN, 0}, {NULL, "1234", PLAIN, 0}},
    {"jumbled", CHIMER, {NULL, "4321", PLAIN, 0}, {NULL, "1234", PLAIN, 0}},
    {"too_many_notes", CHIMER, {NULL, "12341", PLAIN, 0}, {NULL, "1234", PLAIN, 0}},
    {"notes_together", CHIMER, {NULL, "12341234", CHIME(.gap = 6), 0}, {NULL, "1234", CHIME(.gap = 12), 0}},
    {"too_few_notes", CHIMER, {NULL, "12", PLAIN, 0}, {NULL, "1234", PLAIN, 0}},
    {"long_pause", CHIMER, {"111", "1234", {.pause = 120}, 0}, {"111", "1234", {.pause = 30}, 0}},
    {"no_pause", CHIMER, {"111", "1234", {.pause = 5}, 0}, {"111", "1234", {.pause = 30}, 0}},
    {"gong_fails", BIRD, {"23", NULL, PLAIN, 0}, {"123", NULL, PLAIN, 0}},
    {"call_fails", BIRD, {"1", NULL, PLAIN, 0}, {"123", NULL, PLAIN, 0}},
    {"one_tone_call", BIRD, {"12", NULL, PLAIN, 0}, {"123", NULL, PLAIN, 0}},
    {"wrong", CHIMER, {"11", NULL, PLAIN, 0}, {"111", NULL, PLAIN, 0}},
};

static struct ear *open_ear(struct desk *d)
{
    static struct ear x;
    x = (struct ear){.desk = d};
    sounding_pool_init(&x.pool);
    return &x;
}

static void every_quality_is_met_where_it_is_and_not_in_a_let_off_as_it_should_be(void **state)
{
    struct ear *x = open_ear(*state);
    for (size_t i = 0; i < COUNT_OF(qualities); i++) {
        const struct quality_row *q = &qualities[i];
        int how = words_ordinal(x->desk->words, WORD_HOW, q->word);
        assert_true(how >= 0 && ear_judges(x->desk->words, how));
        listen_to(x, q->clock, &q->made, &q->due, THREE);
        double there = ear_quality(&x->at, how);
        listen_to(x, q->clock, &q->due, &q->due, THREE);
        double absent = ear_quality(&x->at, how);
        if (!(there >= 0.5 && there <= 1 && absent == 0))
            fail_msg("%s: %g where it is, %g where it is not", q->word, there, absent);
    }
    sounding_pool_release(&x->pool);
}

static void every_word_that_is_judged_has_its_row_above(void **state)
{
    const struct desk *d = *state;
    static const char *const apart[] = {"right", "phrase_ahead", "phrase_behind"}; /* below */
    for (size_t i = 0; i < words_count(d->words, WORD_HOW); i++) {
        const char *id = words_at(d->words, WORD_HOW, i)->id;
        bool met = !ear_judges(d->words, (int)i);
        for (size_t k = 0; k < COUNT_OF(qualities); k++)
            met = met || !strcmp(qualities[k].word, id);
        for (size_t k = 0; k < COUNT_OF(apart); k++)
            met = met || !strcmp(apart[k], id);
        if (!met)
            fail_msg("%s has no row", id);
    }
}

/* The notes of a quarter (1..4) of the clock's own tune, as letters. */
static const char *quarter_notes(const struct tune *t, int quarter, char notes[80])
{
    int change = 0;
    size_t n = 0;
    for (int q = 1; q < quarter; q++)
        change += t->quarter[q - 1];
    for (int k = 0; k < t->quarter[quarter - 1]; k++, change++)
        for (int i = t->change_at[change % t->changes]; i < t->change_at[change % t->changes + 1]; i++)
            notes[n++] = (char)('0' + t->note[i]);
    notes[n] = 0;
    return notes;
}

static void the_tune_of_another_quarter_is_known_for_what_it_is(void **state)
{
    struct ear *x = open_ear(*state);
    const struct tune *tune = clock_train(library_find_clock(x->desk->lib, CHIMER), TRAIN_CHIME)->tune[0];
    int ahead = words_ordinal(x->desk->words, WORD_HOW, "phrase_ahead"), behind = words_ordinal(x->desk->words, WORD_HOW, "phrase_behind"),
        right = words_ordinal(x->desk->words, WORD_HOW, "right");
    for (int heard = 1; heard <= 3; heard++) {
        char one[80], two[80];
        struct made made = {NULL, quarter_notes(tune, heard, one), PLAIN, 0}, due = {NULL, quarter_notes(tune, 2, two), PLAIN, 0};
        listen_to(x, CHIMER, &made, &due, THREE + 30); /* at half past the second is due */
        assert_near(ear_quality(&x->at, ahead) >= 0.9, heard == 3, 0);
        assert_near(ear_quality(&x->at, behind) >= 0.9, heard == 1, 0);
        assert_near(ear_quality(&x->at, right), heard == 2, 0);
    }
    sounding_pool_release(&x->pool);
}

/* ---- rows ---- */

static const struct told_row {
    const char *row; /* in shorthand */
    struct made did, did_not;
    double times; /* by so much likelier, at least */
    const char *clock;
} rows[] = {
    {"3:00 s3", {"111", NULL, PLAIN, 0}, {"1111", NULL, PLAIN, 0}, 20, CHIMER},
    {"3:00 s0", {NULL, NULL, PLAIN, 0}, {"111", NULL, PLAIN, 0}, 20, CHIMER},
    {"3:00 s*", {NULL, NULL, ENDLESS, 0}, {"111", NULL, PLAIN, 0}, 20, CHIMER},
    {"3:00 s20", {NULL, NULL, ENDLESS, 0}, {"111", NULL, PLAIN, 0}, 3, CHIMER},
    {"3:00 s=", {"111", NULL, PLAIN, 0}, {"11111", NULL, PLAIN, 0}, 5, CHIMER},
    {"3:00 s!", {"11111", NULL, PLAIN, 0}, {"111", NULL, PLAIN, 0}, 5, CHIMER},
    {"3:00 s.", {"111", NULL, PLAIN, 0}, {NULL, NULL, PLAIN, 0}, 20, CHIMER},
    {"3:00 s#", {"111", NULL, PLAIN, 0}, {"1", NULL, PLAIN, 0}, 5, CHIMER},
    {"3:00 s-1", {"11", NULL, PLAIN, 0}, {"111", NULL, PLAIN, 0}, 20, CHIMER},
    {"3:00 s2/4", {"11", NULL, PLAIN, 0}, {"111111", NULL, PLAIN, 0}, 20, CHIMER},
    {"3:00 s+1(-1)", {"1111", NULL, PLAIN, 0}, {"1111111", NULL, PLAIN, 0}, 20, CHIMER},
    {"3:00 s=/0", {"111", NULL, PLAIN, 0}, {"11111", NULL, PLAIN, 0}, 5, CHIMER},
    {"3:00 s=/0", {NULL, NULL, PLAIN, 0}, {"11111", NULL, PLAIN, 0}, 5, CHIMER},
    {"3:00 s!/4", {"1111", NULL, PLAIN, 0}, {"111", NULL, PLAIN, 0}, 5, CHIMER},
    {"3:00 n1234", {"111", "1234", PLAIN, 0}, {"111", "1243", PLAIN, 0}, 20, CHIMER},
    {"3:00 n12?4", {"111", "1234", PLAIN, 0}, {"111", "4321", PLAIN, 0}, 20, CHIMER},
    {"3:00 n1234", {"111", "1234", PLAIN, 0}, {"111", NULL, PLAIN, 0}, 20, CHIMER},
    {"3:00 p1", {"111", "1234", PLAIN, 0}, {"111", "12344321", PLAIN, 0}, 5, CHIMER},
    {"3:00 p2",
     {"111", "12344321", PLAIN, 0},
     {"111", NULL, CHIME(.falls = 60, .count = 60, .flags = SOUNDING_RUN_ON), 0},
     5,
     CHIMER},
    {"3:00 c0", {"111", NULL, PLAIN, 0}, {"111", "1234", PLAIN, 0}, 20, CHIMER},
    {"3:00 c=", {"111", "1234", PLAIN, 0}, {"111", "123", PLAIN, 0}, 5, CHIMER},
    {"3:00 c!", {"111", "123", PLAIN, 0}, {"111", "1234", PLAIN, 0}, 5, CHIMER},
    {"3:00 c.", {"111", "1234", PLAIN, 0}, {"111", NULL, PLAIN, 0}, 20, CHIMER},
    {"3:00 c*",
     {"111", NULL, CHIME(.falls = 60, .count = 60, .flags = SOUNDING_RUN_ON), 0},
     {"111", "1234", PLAIN, 0},
     20,
     CHIMER},
    {"3:00 c0/!", {"111", "123", PLAIN, 0}, {"111", "1234", PLAIN, 0}, 5, CHIMER},
    {"3:00 c0/!", {"111", NULL, PLAIN, 0}, {"111", "1234", PLAIN, 0}, 20, CHIMER},
    {"3:00 c=/0", {"111", "1234", PLAIN, 0}, {"111", "123", PLAIN, 0}, 5, CHIMER},
    {"3:00 hammers=both", {"12", NULL, PLAIN, 0}, {"11", NULL, PLAIN, 0}, 5, CHIMER},
    {"3:00 hammers=single", {"11", NULL, PLAIN, 0}, {"12", NULL, PLAIN, 0}, 5, CHIMER},
    {"3:00 hammers=all", {"12", NULL, PLAIN, 0}, {NULL, NULL, PLAIN, 0}, 5, CHIMER},
    {"3:00 hammers=none", {NULL, NULL, PLAIN, 0}, {"11", NULL, PLAIN, 0}, 5, CHIMER},
    {"3:00 order=gong>call", {"123", NULL, PLAIN, 0}, {"231", NULL, PLAIN, 0}, 5, BIRD},
    {"3:00 order=chime>strike", {"111", "1234", PLAIN, 0}, {NULL, "1234", PLAIN, 0}, 3, CHIMER},
    {"3:00 order=call>music",
     {"123", NULL, {.train[TRAIN_MUSIC] = {.falls = 9, .count = 9}}, 0},
     {"123", NULL, PLAIN, 0},
     3,
     BIRD},
    {"3:00 i2",
     {"111", NULL, STRIKE(.gap = 40), 0},
     {"111", NULL, STRIKE(.gap = 80), 0},
     5,
     CHIMER},
    {"3:00 i2/2.1",
     {"111", NULL, STRIKE(.gap = 40), 0},
     {"111", NULL, STRIKE(.gap = 80), 0},
     5,
     CHIMER},
    {"3:00 pause=4",
     {"111", "1234", {.pause = 40}, 0},
     {"111", "1234", {.pause = 200}, 0},
     5,
     CHIMER},
    {"3:06 for=3:00 s3", {"111", NULL, PLAIN, 6}, {"111", NULL, PLAIN, 0}, 5, CHIMER},
    {"~3:06 for=3:00 s3", {"111", NULL, PLAIN, 6}, {"111", NULL, PLAIN, -14}, 5, CHIMER},
    {"*:06 s3", {"111", NULL, PLAIN, 6}, {"111", NULL, PLAIN, 0}, 5, CHIMER},
    {"hours s3", {"111", NULL, PLAIN, 0}, {"111", NULL, PLAIN, 9}, 5, CHIMER},
    {"2:55 for=3:00 s1", ONE_EARLY, ALL_EARLY, 20, CHIMER},
    {"2:55 for=3:00 s1", ONE_EARLY, AT_THE_HOUR, 20, CHIMER},
    {"3:00 s2", ONE_EARLY, AT_THE_HOUR, 20, CHIMER},
    {"3:00 s2", ONE_EARLY, ALL_EARLY, 20, CHIMER},
    {"*:55 for=3:00 s1", ONE_EARLY, AT_THE_HOUR, 20, CHIMER},
    {"3:00 s0 c= silent", {NULL, "1234", PLAIN, 0}, {"111", "1234", PLAIN, 0}, 20, CHIMER},
    {"3:00 s0 c= silent", {NULL, "1234", PLAIN, 0}, {NULL, NULL, PLAIN, 0}, 20, CHIMER},
    {"3:00 c0 s3 silent", {"111", NULL, PLAIN, 0}, {"111", "1234", PLAIN, 0}, 20, CHIMER},
    {"3:00 s3 slow", {"111", NULL, STRIKE(.pace = 5), 0}, {"111", NULL, PLAIN, 0}, 5, CHIMER},
    {"3:00 s3 normal",
     {"111", NULL, PLAIN, 0},
     {"111", NULL, STRIKE(.some = QUALITY_BUZZ), 0},
     3,
     CHIMER},
    {"3:00 s3",
     {"111", NULL, PLAIN, 0},
     {"111", NULL, STRIKE(.some = QUALITY_BUZZ), 0},
     1.2,
     CHIMER},
};

/* The one row of a shorthand. */
static struct heard row_of(struct sheet *s, struct desk *d, const char *text)
{
    struct err e = {0};
    sheet_init(s, d->words);
    if (!sheet_parse_shorthand(s, text, strlen(text), &e))
        fail_msg("%s: %s", text, e.line[0]);
    assert_int_equal(s->heards, 1);
    return s->heard[0];
}

static void what_is_told_is_likelier_of_the_let_off_that_did_it(void **state)
{
    struct ear *x = open_ear(*state);
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct sheet s;
        struct heard h = row_of(&s, x->desk, rows[i].row);
        listen_to(x, rows[i].clock, &rows[i].did, &three, THREE);
        double did = ear_row(&x->at, &h);
        double best = ear_best(&x->at, &h);
        listen_to(x, rows[i].clock, &rows[i].did_not, &three, THREE);
        double did_not = ear_row(&x->at, &h);
        if (!(did <= 1 && did_not >= 0 && best <= 1 && did >= rows[i].times * did_not))
            fail_msg("\"%s\": %g of the one that did it, %g of the other", rows[i].row, did, did_not);
        sheet_release(&s);
    }
    sounding_pool_release(&x->pool);
}

/* Also across the hour, and with hands that were moved back by hours. */
static void a_minute_of_any_hour_is_the_same_at_every_hour(void **state)
{
    static const int dials[] = {-60, 0, THREE, 11 * 60, 23 * 60};
    static const struct {
        const char *row;
        struct made made;
    } told[] = {
        {"*:58 s3", {"111", NULL, PLAIN, -2}},
        {"*:01 s3", {"111", NULL, PLAIN, 1}},
        {"*:59 s3", {"111", NULL, PLAIN, 1}},
        {"*:59 stop=hands", {NULL, NULL, {.halt = STUCK_HANDS, .halt_min = -1}, 0}},
        {"*:02 stop=hands", {NULL, NULL, {.halt = STUCK_HANDS, .halt_min = 59}, 0}},
    };
    struct ear *x = open_ear(*state);
    for (size_t i = 0; i < COUNT_OF(told); i++) {
        struct sheet s;
        struct heard h = row_of(&s, x->desk, told[i].row);
        double first = 0;
        for (size_t k = 0; k < COUNT_OF(dials); k++) {
            listen_to(x, CHIMER, &told[i].made, &three, dials[k]);
            double chance = h.stopped == STOPPED_NOTHING ? ear_row(&x->at, &h) : ear_stopped(&x->at, &h);
            first = k ? first : chance;
            assert_true(chance > 0.04);
            assert_near(chance, first, 1e-12);
        }
        sheet_release(&s);
    }
    sounding_pool_release(&x->pool);
}

static void a_row_that_tells_nothing_weighs_nothing(void **state)
{
    static const struct made silent = {NULL, NULL, PLAIN, 0};
    static const char *const nothing[] = {"3:00 s?", "3:00 c?", "3:00 hammers=outer"};
    struct ear *x = open_ear(*state);
    for (size_t i = 0; i < COUNT_OF(nothing); i++) {
        struct sheet s;
        struct heard h = row_of(&s, x->desk, nothing[i]);
        listen_to(x, CHIMER, &silent, &three, THREE);
        assert_near(ear_row(&x->at, &h), 1, 1e-9);
        sheet_release(&s);
    }
    sounding_pool_release(&x->pool);
}

static void a_chime_told_of_a_clock_that_has_none_is_seldom_right(void **state)
{
    struct ear *x = open_ear(*state);
    struct sheet s;
    struct made blows = {"111", NULL, PLAIN, 0};
    struct heard h = row_of(&s, x->desk, "3:00 s3 c.");
    listen_to(x, "longcase-rack", &blows, &blows, THREE);
    assert_true(ear_row(&x->at, &h) < 0.1);
    sheet_release(&s);
    h = row_of(&s, x->desk, "3:00 s3 c0");
    assert_true(ear_row(&x->at, &h) > 0.8); /* they only said that there is none */
    sheet_release(&s);
    sounding_pool_release(&x->pool);
}

static void counts_of_one_number_of_blows_sum_to_about_one(void **state)
{
    const struct ear_model *const models[] = {&ear_usual, &ear_recording};
    (void)state;
    for (size_t k = 0; k < COUNT_OF(models); k++)
        for (int made = 0; made <= 12; made++) {
            double all = ear_count(models[k], made, HEARD_ENDLESS);
            for (int heard = 0; heard <= SHEET_COUNT_MOST; heard++)
                all += ear_count(models[k], made, heard);
            assert_true(all > 0.9 && all < 1.1);
            for (int apart = 1; apart < made; apart++) /* the further off, the less likely */
                assert_true(ear_count(models[k], made, made - apart) <= ear_count(models[k], made, made - apart + 1));
        }
}

/* ---- standing still, and when nothing is known ---- */

static void what_stands_still_is_told_of_what_stands_still(void **state)
{
    static const struct {
        const char *row;
        struct sounding did, did_not;
    } stops[] = {
        {"3:07 stop=hands", {.halt = STUCK_HANDS, .halt_min = 7}, {.halt = STUCK_NOT}},
        {"3:07 stop=hands",
         {.halt = STUCK_HANDS, .halt_min = 7},
         {.halt = STUCK_HANDS, .halt_min = 40}},
        {"*:07 stop=hands",
         {.halt = STUCK_HANDS, .halt_min = 7},
         {.halt = STUCK_HANDS, .halt_min = 40}},
        {"3:07 stop=clock",
         {.halt = STUCK_TAIL, .halt_min = 7},
         {.halt = STUCK_STRIKE, .halt_min = 7}},
        {"3:00..3:10 stop=clock",
         {.halt = STUCK_GOING, .halt_min = 7},
         {.halt = STUCK_GOING, .halt_min = 40}},
        {"3:00 stop=strike", STRIKE(.flags = SOUNDING_STALLED), CHIME(.flags = SOUNDING_STALLED)},
        {"3:00 stop=chime", CHIME(.flags = SOUNDING_JAMMED), STRIKE(.flags = SOUNDING_JAMMED)},
        {"? stop=music", {.halt = STUCK_MUSIC}, {.halt = STUCK_CHIME}},
        {"3:07 stop=strike/hands",
         {.halt = STUCK_HANDS, .halt_min = 7, .train[TRAIN_STRIKE] = {.flags = SOUNDING_JAMMED}},
         {.halt = STUCK_HANDS, .halt_min = 7}},
        {"hours stop=train", {.halt = STUCK_CHIME}, {.halt = STUCK_HANDS}},
    };
    struct ear *x = open_ear(*state);
    for (size_t i = 0; i < COUNT_OF(stops); i++) {
        struct sheet s;
        struct heard h = row_of(&s, x->desk, stops[i].row);
        listen_to(x, CHIMER, &(struct made){NULL, NULL, stops[i].did, 0}, &three, THREE);
        double did = ear_stopped(&x->at, &h);
        listen_to(x, CHIMER, &(struct made){NULL, NULL, stops[i].did_not, 0}, &three, THREE);
        double did_not = ear_stopped(&x->at, &h);
        if (!(did > 0.3 && did <= 1 && did_not < 0.5 * did))
            fail_msg("\"%s\": %g of what stands so, %g of the other", stops[i].row, did, did_not);
        sheet_release(&s);
    }
    sounding_pool_release(&x->pool);
}

static void what_tells_more_is_less_likely_of_a_clock_of_which_nothing_is_known(void **state)
{
    /* each tells all that the one before it tells, and more */
    static const char *const more[][4] = {
        {"3:00 s=", "3:00 s3", "3:00 s3 slow", "3:00 s3 slow soft"},
        {"3:00 s.", "3:00 s0", "3:00 s0 c0", "3:00 s0 c0 click_only"},
        {"3:00 c.", "3:00 c=", "3:00 n1234", "3:00 n12341234"},
        {"3:00 s1/2/3", "3:00 s1/2", "3:00 s1/2 q1", "3:00 s1/2 q1 stop=hands"},
        {"3:00 c=", "3:00 c*", "3:00 c* s*", "3:00 c* s* loud"},
    };
    struct desk *d = *state;
    for (size_t i = 0; i < COUNT_OF(more); i++) {
        double before = 2;
        for (size_t k = 0; k < 4; k++) {
            struct sheet s;
            struct heard h = row_of(&s, d, more[i][k]);
            double p = ear_blind(&h, d->words);
            if (!(p > 0 && p < before))
                fail_msg("\"%s\": %g, after %g", more[i][k], p, before);
            before = p;
            sheet_release(&s);
        }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_quality_is_met_where_it_is_and_not_in_a_let_off_as_it_should_be),
        cmocka_unit_test(every_word_that_is_judged_has_its_row_above),
        cmocka_unit_test(the_tune_of_another_quarter_is_known_for_what_it_is),
        cmocka_unit_test(what_is_told_is_likelier_of_the_let_off_that_did_it),
        cmocka_unit_test(a_minute_of_any_hour_is_the_same_at_every_hour),
        cmocka_unit_test(a_row_that_tells_nothing_weighs_nothing),
        cmocka_unit_test(a_chime_told_of_a_clock_that_has_none_is_seldom_right),
        cmocka_unit_test(counts_of_one_number_of_blows_sum_to_about_one),
        cmocka_unit_test(what_stands_still_is_told_of_what_stands_still),
        cmocka_unit_test(what_tells_more_is_less_likely_of_a_clock_of_which_nothing_is_known),
    };
    return cmocka_run_group_tests(tests, open_desk, close_desk);
}
