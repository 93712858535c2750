/* The round trip: movement -> events -> sound -> listening -> the same events, for every clock; and
 * a faulty run of a real kind through a poor line. */
#include "suite.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "command/hear_cause.h"
#include "command/setup.h"
#include "movement/move.h"
#include "sound/score.h"

#define RATE_HZ 16000
#define NEAR_S 0.05

static struct library *lib;
static struct words *words;
static struct voice_set voices;

static int load(void **state)
{
    struct err e = {0};
    (void)state;
    lib = library_load("chimes", &e);
    words = words_load("chimes/words.yaml", &e);
    bool good = lib && words && voice_set_load_folder(&voices, "sounds", NULL, &e);
    err_print(&e, stderr);
    return good ? 0 : -1;
}

static int unload(void **state)
{
    (void)state;
    voice_set_release(&voices);
    words_free(words);
    library_free(lib);
    return 0;
}

/* What a clock sounds with the hands near `min`, under the changes. */
static void run(const struct clock *c, int min, const struct change *change, size_t changes,
                struct event_list *events)
{
    struct works w;
    struct moment m;
    struct chance chance;
    struct random r;
    works_init(&w, c, change, changes);
    moment_init(&m, &w, min - 1);
    random_init(&r, 2);
    chance_draw(&chance, &r);
    movement_turn(&w, &m, 2, BY_TIME, &chance, events);
}

static void sound(const struct clock *c, const struct event_list *events, struct pcm *pcm)
{
    struct score_sounder table[CLOCK_SOUNDERS];
    struct score_style style = {.rate_hz = RATE_HZ, .lead_s = 0.5, .tail_s = 2};
    struct err e = {0};
    size_t n = setup_sounders(c, table);
    struct event_list struck = {0};
    for (size_t i = 0; i < events->count; i++)
        if (event_sounds(&events->at[i]) && events->at[i].train != TRAIN_MUSIC)
            event_list_add(&struck, events->at[i]);
    for (size_t i = 1; i < struck.count; i++)
        struck.at[i].t_s -= struck.at[0].t_s - 0.5;
    if (struck.count)
        struck.at[0].t_s = 0.5;
    bool good = score_render(&struck, table, n, &voices, &style, pcm, &e);
    err_print(&e, stderr);
    assert_true(good);
    event_list_release(&struck);
}

/* True if this hammer fell then: two that fall at once are one sound, named by either. */
static bool struck_then(const struct event_list *events, double t_s, int hammer)
{
    for (size_t i = 0; i < events->count; i++)
        if (event_sounds(&events->at[i]) && events->at[i].sounder == hammer &&
            fabs(events->at[i].t_s - t_s) < NEAR_S)
            return true;
    return false;
}

/* Expected blows that were heard in time and on the right hammer. */
static size_t matched(const struct event_list *events, const struct hearing *h, const struct heard_clock *heard,
                      size_t *due)
{
    double first = -1;
    size_t right = 0;
    *due = 0;
    for (size_t i = 0; i < events->count; i++) {
        const struct event *e = &events->at[i];
        if (!event_sounds(e) || e->train == TRAIN_MUSIC)
            continue;
        first = first < 0 ? e->t_s : first;
        (*due)++;
        for (size_t k = 0; k < h->blow_count; k++)
            if (fabs(h->blow[k].t_s - (e->t_s - first + 1.0)) < NEAR_S &&
                struck_then(events, e->t_s, heard->hammer[k])) {
                right++;
                break;
            }
    }
    return right;
}

/* The call sheet of what was heard, to shorthand and back: the same sheet. */
static void same_after_shorthand(const struct clock *c, const struct heard_clock *heard, const struct hearing *h)
{
    struct sheet sheet, again;
    struct text line = {0}, one = {0}, two = {0};
    struct err e = {0};
    sheet_init(&sheet, words);
    sheet_init(&again, words);
    snprintf(sheet.clock, sizeof sheet.clock, "%s", c->id);
    hear_rows(heard, c, h, 9 * 60, &sheet);
    assert_true(sheet.heards > 0);
    sheet_print_shorthand(&sheet, &line);
    if (!sheet_parse_shorthand(&again, text_cstr(&line), line.length, &e)) {
        err_print(&e, stderr);
        fail_msg("%s", text_cstr(&line));
    }
    sheet_print(&sheet, &one);
    sheet_print(&again, &two);
    assert_string_equal(text_cstr(&one), text_cstr(&two));
    text_release(&line);
    text_release(&one);
    text_release(&two);
    sheet_release(&sheet);
    sheet_release(&again);
}

static void every_clock_is_heard_as_it_sounded(void **state)
{
    size_t all = 0, right = 0;
    (void)state;
    for (size_t i = 0; i < library_clocks(lib); i++) {
        const struct clock *c = library_clock(lib, i);
        struct event_list events = {0};
        struct pcm pcm = {0};
        struct hearing h = {0};
        struct heard_clock heard;
        size_t due, ok;
        run(c, c->lobe_period_min == 120 ? 8 * 60 : 9 * 60, NULL, 0, &events);
        sound(c, &events, &pcm);
        hearing_from_pcm(&h, &pcm);
        hear_name(&heard, lib, c, &h);
        same_after_shorthand(c, &heard, &h);
        ok = matched(&events, &h, &heard, &due);
        if (ok < due)
            print_message("%s: %zu of %zu blows heard on the right hammer\n", c->id, ok, due);
        all += due;
        right += ok;
        heard_clock_release(&heard);
        hearing_release(&h);
        pcm_release(&pcm);
        event_list_release(&events);
    }
    print_message("%zu of %zu blows\n", right, all);
    assert_true(all > 400);
    assert_true((double)right >= 0.985 * (double)all);
}

static void a_dead_hammer_and_a_late_drum_are_written_down_as_they_sounded(void **state)
{
    (void)state;
    const struct clock *c = library_find_clock(lib, "floor-westminster-rack");
    struct change change[] = {{PAR_drum_late, 0.5}, {PAR_hammer_dead, c->train[TRAIN_CHIME].hammer[1]}};
    struct event_list events = {0};
    struct pcm pcm = {0};
    struct hearing h = {0};
    struct heard_clock heard;
    run(c, 9 * 60 + 45, change, 2, &events);
    sound(c, &events, &pcm);
    hearing_from_pcm(&h, &pcm);
    hear_name(&heard, lib, c, &h);
    assert_int_equal(heard.letoffs, 1);
    assert_string_equal(heard.letoff[0].notes, "313441313");
    assert_int_equal(heard.letoff[0].strikes, 0);
    heard_clock_release(&heard);
    hearing_release(&h);
    pcm_release(&pcm);
    event_list_release(&events);
}

/* What was not there tells as much as what was. */
static void a_silent_chime_and_the_pause_before_the_hour_are_told_too(void **state)
{
    (void)state;
    const struct clock *c = library_find_clock(lib, "floor-westminster-rack");
    static const struct {
        struct change change;
        const char *like; /* stands in the shorthand */
    } rows[] = {{{PAR_drum_late, 0}, "9:00 s9 n3124321313244213 i1.6 "}, {{PAR_drum_late, 0}, "pause="},
                {{PAR_hammers_dead_chime, 1}, "9:00 s9 c0 "}};
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct event_list events = {0};
        struct pcm pcm = {0};
        struct hearing h = {0};
        struct heard_clock heard;
        struct sheet sheet;
        struct text line = {0};
        run(c, 9 * 60, &rows[i].change, rows[i].change.value != 0, &events);
        sound(c, &events, &pcm);
        hearing_from_pcm(&h, &pcm);
        hear_name(&heard, lib, c, &h);
        sheet_init(&sheet, words);
        hear_rows(&heard, c, &h, 9 * 60, &sheet);
        sheet_print_shorthand(&sheet, &line);
        if (!strstr(text_cstr(&line), rows[i].like))
            fail_msg("row %zu: %s", i, text_cstr(&line));
        text_release(&line);
        sheet_release(&sheet);
        heard_clock_release(&heard);
        hearing_release(&h);
        pcm_release(&pcm);
        event_list_release(&events);
    }
}

/* A hammer that rests on the only sounder leaves nothing that rings: its knocks are counted all the same. */
static void a_clock_that_never_rings_is_counted(void **state)
{
    (void)state;
    static const char *const clocks[] = {"bracket-rack", "longcase-countwheel-78", "lantern-30-hour"};
    for (size_t i = 0; i < COUNT_OF(clocks); i++) {
        const struct clock *c = library_find_clock(lib, clocks[i]);
        struct change change = {PAR_hammer_thud, c->train[TRAIN_STRIKE].pattern[0].stroke[0].sounder};
        struct event_list events = {0};
        struct pcm pcm = {0};
        struct hearing h = {0};
        struct heard_clock heard;
        run(c, 9 * 60, &change, 1, &events);
        sound(c, &events, &pcm);
        hearing_from_pcm(&h, &pcm);
        hear_name(&heard, lib, c, &h);
        if (heard.letoffs != 1 || heard.letoff[0].strikes != 9 || !(heard.letoff[0].strike_how & PART_THUD))
            fail_msg("%s: %zu let-offs, %d struck", c->id, heard.letoffs, heard.letoff[0].strikes);
        heard_clock_release(&heard);
        hearing_release(&h);
        pcm_release(&pcm);
        event_list_release(&events);
    }
}

/* A strike let off by its warning and the quarter that follows at its time are one let-off in two rows; when the
 * hands were led on, what follows is the next let-off. */
static void a_letoff_in_two_parts_is_told_as_one(void **state)
{
    (void)state;
    static const struct {
        int at_min;
        double after_s;
        int second_min;
        bool joined;
    } rows[] = {{12 * 60 + 56, 240, 13 * 60, true}, {12 * 60 + 56, 30, 13 * 60, false}, {13 * 60, 240, 13 * 60 + 15, false},
                {13 * 60, 900, 13 * 60 + 15, false}};
    const struct clock *c = library_find_clock(lib, "turret-tingtang");
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct hearing h = {0};
        struct heard_clock heard = {.letoffs = 2};
        struct sheet sheet;
        heard.letoff[0].strikes = 1;
        heard.letoff[1].t_s = rows[i].after_s;
        snprintf(heard.letoff[1].notes, sizeof heard.letoff[1].notes, "12121212");
        sheet_init(&sheet, words);
        hear_rows(&heard, c, &h, rows[i].at_min, &sheet);
        assert_int_equal(sheet.heards, 2);
        assert_int_equal(sheet.heard[1].at.min, rows[i].second_min % 720);
        assert_int_equal(sheet.heard[0].chime, rows[i].joined ? HEARD_CHIME_UNSAID : HEARD_CHIME_NONE);
        assert_int_equal(sheet.heard[1].strike, rows[i].joined ? HEARD_STRIKE_UNSAID : HEARD_STRIKE_NONE);
        sheet_release(&sheet);
    }
}

/* What was due while it was recorded and did not sound is told: between let-offs, before the first, after the last. */
static void silence_at_a_let_off_is_told(void **state)
{
    (void)state;
    static const struct {
        double first_s, second_s, length_s; /* 0: one let-off only */
        int at_min;
        const char *rows; /* minutes of the rows, silent ones in brackets */
    } rows[] = {
        {5, 900, 950, 3 * 60, "180 195 "},
        {5, 1800 + 5, 1850, 3 * 60, "180 (195) 210 "},
        {5, 30, 60, 3 * 60, "180 195 "},          /* the hands were led on */
        {5, 0, 40 * 60, 12 * 60, "0 (15) (30) "},
        {20 * 60, 0, 1250, 12 * 60, "(705) 0 "},
        {5, 22 * 60 + 5, 1400, 3 * 60, "180 202 "}, /* may be the quarter, late */
        {5, 35 * 60 + 5, 2200, 2 * 60 + 55, "175 (195) 210 "}, /* may be the hour, struck at its warning */
        {5, 7300, 7310, 3 * 60, "180 302 "},       /* no recording is so long */
        {5, 0, 7300, 3 * 60, "180 "},
        {5, 1800, 1850, -1, "-1 -1 "},
    };
    const struct clock *c = library_find_clock(lib, "mantel-westminster-rack");
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct hearing h = {.length_s = rows[i].length_s};
        struct heard_clock heard = {.letoffs = rows[i].second_s > 0 ? 2 : 1};
        struct sheet sheet;
        struct text got = {0};
        heard.letoff[0] = (struct heard_letoff){.t_s = rows[i].first_s, .strikes = 3};
        heard.letoff[1] = (struct heard_letoff){.t_s = rows[i].second_s, .strikes = 3};
        sheet_init(&sheet, words);
        hear_rows(&heard, c, &h, rows[i].at_min, &sheet);
        for (size_t k = 0; k < sheet.heards; k++) {
            const struct heard *row = &sheet.heard[k];
            bool silent = row->strike == HEARD_STRIKE_NONE && row->chime == HEARD_CHIME_NONE;
            text_addf(&got, silent ? "(%d) " : "%d ", row->at.kind == AT_EXACT ? row->at.min : -1);
        }
        assert_string_equal(text_cstr(&got), rows[i].rows);
        text_release(&got);
        sheet_release(&sheet);
    }
}

/* Blows on the one gong may be quarters or hours: taken each by itself they look like quarters, of which there are
 * more; by the hours at which they fell, and by each other, they are one to four o'clock. */
static void readings_that_go_together_are_found(void **state)
{
    (void)state;
    struct desk desk;
    struct err e = {0};
    struct hearing h = {0};
    struct heard_clock heard = {.letoffs = 4};
    struct heard_cause cause;
    assert_true(desk_open(&desk, &e));
    snprintf(desk.sheet.clock, sizeof desk.sheet.clock, "french-petite");
    for (int i = 0; i < 4; i++) {
        struct heard_letoff *l = &heard.letoff[i];
        l->t_s = 3600 * i;
        l->readings = 2;
        l->reading[0].p = 0.9;
        memset(l->reading[0].notes, '?', (size_t)i + 1);
        l->reading[1] = (struct heard_reading){.p = 0.08, .strikes = i + 1};
        heard_clock_read(&heard, (size_t)i, 0);
    }
    assert_true(heard_cause_believe(&cause, &desk, &heard, library_find_clock(desk.lib, "french-petite"), &h, 60));
    for (int i = 0; i < 4; i++) {
        assert_int_equal(cause.sheet[0].heard[i].strike, HEARD_STRIKE_COUNT);
        assert_int_equal(cause.sheet[0].heard[i].value[0], i + 1);
        assert_int_equal(heard.letoff[i].strikes, i + 1);
    }
    heard_cause_release(&cause);
    desk_close(&desk);
}

static void silence_gives_no_rows(void **state)
{
    struct pcm pcm = {0};
    struct hearing h = {0};
    struct heard_clock heard;
    (void)state;
    pcm_init(&pcm, RATE_HZ);
    pcm_reserve(&pcm, RATE_HZ * 3);
    hearing_from_pcm(&h, &pcm);
    hear_name(&heard, lib, library_find_clock(lib, "longcase-rack"), &h);
    assert_int_equal(heard.letoffs, 0);
    heard_clock_release(&heard);
    hearing_release(&h);
    pcm_release(&pcm);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_clock_is_heard_as_it_sounded),
        cmocka_unit_test(a_dead_hammer_and_a_late_drum_are_written_down_as_they_sounded),
        cmocka_unit_test(a_silent_chime_and_the_pause_before_the_hour_are_told_too),
        cmocka_unit_test(a_clock_that_never_rings_is_counted),
        cmocka_unit_test(a_letoff_in_two_parts_is_told_as_one),
        cmocka_unit_test(silence_at_a_let_off_is_told),
        cmocka_unit_test(readings_that_go_together_are_found),
        cmocka_unit_test(silence_gives_no_rows),
    };
    return cmocka_run_group_tests(tests, load, unload);
}
