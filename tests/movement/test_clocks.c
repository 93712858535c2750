/* Every clock, let-off by let-off through a whole day, against the published patterns and totals.
 * Sources stand beside the rows; [B] is E. Beckett (Lord Grimthorpe), A Rudimentary Treatise on
 * Clocks, Watches and Bells, 8th ed. (Project Gutenberg 17576). */
#include "movement/known_clocks.h"

#include <stdio.h>
#include <string.h>

#include "movement/move.h"

/* --- what is due: counts at minute `m` of the day (0..1439), 0 silent, -1 no let-off ------------- */

static int on_dial(int m)
{
    int h = m / 60 % 12;
    return h ? h : 12;
}
static int hours(int m)
{
    return m % 60 ? -1 : on_dial(m);
}
static int halves(int m)
{
    return m % 60 == 30 ? 1 : hours(m);
}
static int halves_less_two(int m)
{
    return m % 720 == 30 || m % 720 == 90 ? 0 : halves(m);
}
static int hours_by_day(int m)
{
    return m >= 6 * 60 + 30 && m < 22 * 60 + 30 ? hours(m) : 0;
}
static int to_24(int m)
{
    return m % 60 ? -1 : m ? m / 60 : 24;
}
static int six(int m)
{
    return m % 60 ? -1 : (m / 60 + 5) % 6 + 1;
}
static int roman(int m)
{
    static const int n[12] = {4, 1, 2, 3, 2, 1, 2, 3, 4, 3, 2, 3};
    return m % 60 ? -1 : n[m / 60 % 12];
}
static int dutch(int m)
{
    return m % 30 ? -1 : on_dial(m % 60 ? m + 30 : m);
}
static int again(int m)
{
    return m % 60 == 2 ? on_dial(m) : halves(m);
}
static int one(int m)
{
    return m % 60 ? -1 : 1;
}
static int ship(int m)
{
    return m % 30 ? -1 : m % 240 ? m % 240 / 30 : 8;
}
static int ship_dog(int m)
{
    if (m % 30 == 0 && m > 18 * 60 && m < 20 * 60)
        return (m - 18 * 60) / 30;
    return m == 18 * 60 ? 4 : ship(m);
}
static int japanese(int m)
{
    static const int n[6] = {9, 8, 7, 6, 5, 4};
    return m % 120 ? -1 : n[m / 120 % 6];
}
static int tingtang(int m)
{
    return m % 60 ? m % 15 ? -1 : m % 60 / 15 : on_dial(m);
}
static int every_quarter(int m)
{
    return m % 15 ? -1 : on_dial(m - m % 60);
}

/* Notes of the chime at minute m, as bell numbers. */
static const char *no_notes(int m)
{
    (void)m;
    return "";
}
static const char *westminster(int m)
{
    static const char *const q[4] = {"3124321313244213", "1234", "31243213", "132442131234"};
    return m % 15 ? "" : q[m % 60 / 15];
}
static const char *westminster_eight(int m)
{
    static const char *const q[4] = {"5348543535488435", "3458", "53485435", "354884353458"};
    return m % 15 ? "" : q[m % 60 / 15];
}
static const char *pairs(int m)
{
    static const char *const q[4] = {"12121212", "12", "1212", "121212"};
    return m % 15 ? "" : q[m % 60 / 15];
}
static const char *quarters(int m)
{
    static const char *const q[4] = {"????", "?", "??", "???"};
    return m % 15 ? "" : q[m % 60 / 15];
}
static const char *three_quarters(int m)
{
    return m % 60 ? quarters(m) : "";
}

static const struct row {
    const char *clock;
    int (*strike)(int m);
    const char *(*chime)(int m);
    int blows, notes; /* in 24 hours */
    const char *source;
} rows[] = {
    {"longcase-rack", hours, no_notes, 156, 0, "[B] f.169, 197"},
    {"longcase-rack-rigid", hours, no_notes, 156, 0, "[B] f.169, 197"},
    {"longcase-countwheel-78", hours, no_notes, 156, 0, "[B] f.169"},
    {"lantern-30-hour", hours, no_notes, 156, 0, "[B] f.169"},
    {"longcase-rack-silent", hours, no_notes, 156, 0, "[B] f.169, 197"},
    {"longcase-countwheel-silent", hours, no_notes, 156, 0, "[B] f.169"},
    {"ogee-countwheel", hours, no_notes, 156, 0, "[B] f.169; 78 in 12 h"},
    {"black-forest-wall", halves, no_notes, 180, 0, "[B] f.170; 90 in 12 h"},
    {"vienna-two-weight", halves, no_notes, 180, 0, "[B] f.170"},
    {"floor-rack-half", halves, no_notes, 180, 0, "[B] f.170"},
    {"bracket-rack", hours, no_notes, 156, 0, "[B] f.169"},
    {"bracket-rack-half", halves, no_notes, 180, 0, "[B] f.170"},
    {"bracket-rack-passing-half", halves, no_notes, 180, 0, "[B] f.170"},
    {"mantel-rack-half", halves, no_notes, 180, 0, "[B] f.170"},
    {"mantel-rack-half-hook", halves, no_notes, 180, 0, "[B] f.170"},
    {"french-rack-half", halves, no_notes, 180, 0, "[B] f.170"},
    {"bimbam-rack", halves, no_notes, 180, 0, "pairs counted once; clockfool.blogspot.com/2022/12/bim-bam.html"},
    {"french-countwheel-90", halves, no_notes, 180, 0, "[B] f.170; 90 in 12 h"},
    {"mantel-countwheel-90", halves, no_notes, 180, 0, "[B] f.170; 90 in 12 h"},
    {"countwheel-78", hours, no_notes, 156, 0, "[B] f.169; 78 in 12 h"},
    {"countwheel-88", halves_less_two, no_notes, 176, 0, "[B] f.170; 88 in 12 h, silent at 12:30 and 1:30"},
    {"countwheel-double", hours, no_notes, 156, 0, "terkuileclocks.blogspot.com/2010/12"},
    {"strike-24h", to_24, no_notes, 300, 0, "F. H. King, Bell Historians list, 6 Nov 2009; 300 in 24 h"},
    {"italian-six", six, no_notes, 84, 0, "F. H. King, Bell Historians list, 6 Nov 2009; 84 in 24 h"},
    {"roman-strike", roman, no_notes, 60, 0, "christies.com/en/lot/lot-4973414; 30 in 12 h"},
    {"dutch-strike", dutch, no_notes, 312, 0, "speelklok museum, object 0949; 156 in 12 h"},
    {"comtoise", again, no_notes, 336, 0, "steeplechaseclock.com/ITSjuly12.html; 168 in 12 h"},
    {"passing-strike", one, no_notes, 24, 0, "uhrenhanse.org/sammlerecke, striking sequences"},
    {"passing-strike-spring", one, no_notes, 24, 0, "one blow at the hour; common practice, no source"},
    {"ships-bell", ship, no_notes, 216, 0, "fact-index.com/s/sh/ship_s_bells.html; 108 in 12 h"},
    {"ships-bell-dog", ship_dog, no_notes, 204, 0, "fact-index.com/s/sh/ship_s_bells.html; second dog watch 1 2 3 8"},
    {"japanese-hours", japanese, no_notes, 78, 0, "J. Arthur, Time and its Measurement (1909); 2 x 39"},
    {"cuckoo-countwheel", halves, no_notes, 180, 0, "one call at the half; pgdsouza.wordpress.com/2015/08/02"},
    {"cuckoo-countwheel-silent", halves, no_notes, 180, 0, "one call at the half"},
    {"cuckoo-spring", halves, no_notes, 180, 0, "one call at the half"},
    {"cuckoo-spring-rack", halves, no_notes, 180, 0, "one call at the half"},
    {"cuckoo-rack", halves, no_notes, 180, 0, "one call at the half"},
    {"cuckoo-musical", halves, no_notes, 180, 0, "one call at the half"},
    {"tingtang-rack", tingtang, no_notes, 156 + 144, 0, "clocktime.co.uk/glossary/ting-tang-striking; 72 pairs in 12 h"},
    {"turret-countwheel", hours_by_day, no_notes, 112, 0, "[B] f.169; its own night cam, 22:30 to 6:30"},
    {"turret-countwheel-quarters", hours, westminster, 156, 960, "[B] f.204; 40 notes an hour"},
    {"turret-tingtang", hours, pairs, 156, 480, "[B] f.172; 120 pairs in 12 h"},
    {"floor-westminster-rack", hours, westminster, 156, 960, "[B] f.204; htfbw.com, 4 8 12 16 notes"},
    {"mantel-westminster-rack", hours, westminster, 156, 960, "[B] f.204"},
    {"chime-no-corrector", hours, westminster, 156, 960, "[B] f.204"},
    {"bracket-chime", hours, westminster, 156, 960, "[B] f.204"},
    {"two-train-chime", hours, westminster, 156, 960, "[B] f.204"},
    {"mantel-triple-chime", hours, westminster_eight, 156, 960, "davewestclocks.co.uk/basicnotes.htm, corrected by [B] f.204"},
    {"tubular-hall", hours, westminster_eight, 156, 960, "davewestclocks.co.uk/basicnotes.htm, corrected by [B] f.204"},
    {"vienna-grande", every_quarter, quarters, 624, 240, "uhrenlexikon.de Viertelstundenschlagwerk; 120 + 312 in 12 h"},
    {"vienna-petite", hours, quarters, 156, 240, "clockguy.com GrandSonnerie (form B); 120 + 78 in 12 h"},
    {"french-grande", every_quarter, three_quarters, 624, 144, "uhrenlexikon.de; 72 + 312 in 12 h"},
    {"french-petite", hours, three_quarters, 156, 144, "uhrenhanse.org (form A); 72 + 78 in 12 h"},
};
#define ROWS (sizeof rows / sizeof rows[0])

/* --- what sounded ------------------------------------------------------------------------------------ */

struct sounded {
    int blows;
    char notes[64];
};

static int bell_of(const struct clock *c, int sounder)
{
    const struct train *t = &c->train[TRAIN_CHIME];
    for (int i = 0; t->tunes && i < t->tune[0]->bells; i++)
        if (t->hammer[i] == sounder)
            return i + 1;
    return 0;
}

/* True if this stroke goes on with the count begun by the one before (tang after ting). */
static bool continues(const struct clock *c, int before, int sounder)
{
    const struct train *t = &c->train[TRAIN_STRIKE];
    for (int i = 0; i < t->patterns; i++)
        for (int k = 1; k < t->pattern[i].strokes; k++)
            if (t->pattern[i].stroke[k].sounder == sounder && before != sounder &&
                t->pattern[i].stroke[k - 1].sounder == before)
                return true;
    return false;
}

/* A whole day from a minute past midnight, wound again before it can run down. */
static void day(const struct clock *c, struct sounded at[1440])
{
    struct works w;
    struct moment m;
    struct chance chance;
    struct random r;
    struct event_list events = {0};
    works_init(&w, c, NULL, 0);
    moment_init(&m, &w, 1);
    random_init(&r, 1);
    chance_draw(&chance, &r);
    memset(at, 0, 1440 * sizeof *at);
    for (int i = 0; i < 1440; i++) {
        event_list_clear(&events);
        movement_turn(&w, &m, 1, BY_TIME, &chance, &events);
        memset(m.used, 0, sizeof m.used);
        int before = -1;
        for (size_t k = 0; k < events.count; k++) {
            const struct event *e = &events.at[k];
            struct sounded *s = &at[m.work_min];
            if (e->kind == EVENT_BLOW) {
                s->blows += !continues(c, before, e->sounder);
                before = e->sounder;
            } else if (e->kind == EVENT_NOTE && e->train == TRAIN_CHIME && strlen(s->notes) < 60) {
                int bell = bell_of(c, e->sounder);
                char digit[2] = {bell ? (char)('0' + bell) : '?', 0};
                strcat(s->notes, digit);
            }
        }
    }
    event_list_release(&events);
}

static const struct clock *find(const char *id)
{
    const struct clock *c = library_find_clock(lib, id);
    if (!c)
        fail_msg("no clock %s", id);
    return c;
}

static void every_clock_sounds_the_published_pattern_through_a_day(void **state)
{
    static struct sounded at[1440];
    (void)state;
    for (size_t i = 0; i < ROWS; i++) {
        int blows = 0, notes = 0;
        day(find(rows[i].clock), at);
        for (int m = 0; m < 1440; m++) {
            int due = rows[i].strike(m);
            if (at[m].blows != (due > 0 ? due : 0))
                fail_msg("%s at %d:%02d struck %d, due %d (%s)", rows[i].clock, m / 60, m % 60,
                         at[m].blows, due, rows[i].source);
            if (strcmp(at[m].notes, rows[i].chime(m)))
                fail_msg("%s at %d:%02d chimed %s, due %s (%s)", rows[i].clock, m / 60, m % 60,
                         at[m].notes, rows[i].chime(m), rows[i].source);
            blows += at[m].blows;
            notes += (int)strlen(at[m].notes);
        }
        assert_int_equal(blows, rows[i].blows);
        assert_int_equal(notes, rows[i].notes);
    }
}

static void every_clock_of_the_library_has_such_a_row_or_a_test_of_its_own(void **state)
{
    static const char *const own[] = {"floor-triple-chime", "cuckoo-musical-day"};
    (void)state;
    assert_true(library_clocks(lib) >= 24);
    for (size_t i = 0; i < library_clocks(lib); i++) {
        bool found = false;
        for (size_t k = 0; k < ROWS; k++)
            found = found || !strcmp(rows[k].clock, library_clock(lib, i)->id);
        for (size_t k = 0; k < sizeof own / sizeof own[0]; k++)
            found = found || !strcmp(own[k], library_clock(lib, i)->id);
        if (!found)
            fail_msg("%s is proven nowhere", library_clock(lib, i)->id);
    }
}

static void night_silence_keeps_still_from_ten_to_seven_and_is_right_after(void **state)
{
    static struct sounded at[1440];
    (void)state; /* last strike 9:45 or 10:00 pm, first 7:00 or 7:15 am: manualslib.fr/manual/480471 */
    day(find("floor-triple-chime"), at);
    for (int m = 22 * 60; m != 7 * 60; m = (m + 1) % 1440)
        assert_int_equal(at[m].blows + (int)strlen(at[m].notes), 0);
    for (int m = 7 * 60; m <= 21 * 60 + 45; m++) {
        int due = hours(m);
        assert_int_equal(at[m].blows, due > 0 ? due : 0);
        assert_string_equal(at[m].notes, westminster_eight(m));
    }
}

static void music_follows_the_call(void **state)
{
    (void)state; /* the strike train sets off the music after the last call: whatwillmakes.com/2024/10/22 */
    static const char *const clocks[] = {"cuckoo-musical", "cuckoo-musical-day"};
    for (size_t i = 0; i < 2; i++) {
        struct works w;
        struct moment m;
        struct chance chance;
        struct random r;
        struct event_list events = {0};
        works_init(&w, find(clocks[i]), NULL, 0);
        moment_init(&m, &w, 2 * 60 + 40);
        random_init(&r, 1);
        chance_draw(&chance, &r);
        movement_turn(&w, &m, 30, BY_TIME, &chance, &events);
        double last_call = 0, first_note = 1e9;
        int notes = 0;
        for (size_t k = 0; k < events.count; k++) {
            const struct event *e = &events.at[k];
            if (e->kind == EVENT_BLOW)
                last_call = e->t_s;
            if (e->kind == EVENT_NOTE) {
                first_note = e->t_s < first_note ? e->t_s : first_note;
                notes++;
            }
        }
        assert_true(notes > 10);
        assert_true(first_note > last_call);
        event_list_release(&events);
    }
}

/* Sounders of one let-off as letters, in order. */
static void letters_at(const char *clock, int min, char *out, size_t room, double *t_s)
{
    struct works w;
    struct moment m;
    struct chance chance;
    struct random r;
    struct event_list events = {0};
    size_t n = 0;
    works_init(&w, find(clock), NULL, 0);
    moment_init(&m, &w, (min + 1440 - 10) % 1440);
    random_init(&r, 1);
    chance_draw(&chance, &r);
    movement_turn(&w, &m, 11, BY_TIME, &chance, &events);
    for (size_t k = 0; k < events.count && n + 1 < room; k++)
        if (events.at[k].kind == EVENT_BLOW) {
            if (t_s)
                t_s[n] = events.at[k].t_s;
            out[n++] = (char)('a' + events.at[k].sounder);
        }
    out[n] = 0;
    event_list_release(&events);
}

static void roman_striking_uses_one_bell_for_i_and_the_other_for_v(void **state)
{
    /* small bell = I, large = V, X = two on the large: christies.com/en/lot/lot-4973414 */
    static const char *const due[12] = {"bbaa", "a", "aa", "aaa", "ab", "b", "ba", "baa", "baaa", "abb", "bb", "bba"};
    (void)state;
    for (int h = 0; h < 12; h++) {
        char got[64];
        letters_at("roman-strike", h * 60, got, sizeof got, NULL);
        assert_string_equal(got, due[h]);
    }
}

static void ships_bells_come_in_pairs_with_the_odd_one_last(void **state)
{
    (void)state; /* British Horological Institute, workshop hints: ship's bells */
    char got[64];
    double t[64];
    letters_at("ships-bell", 3 * 60 + 30, got, sizeof got, t);
    assert_int_equal(strlen(got), 7);
    for (int i = 0; i + 2 < 7; i += 2)
        assert_true(t[i + 1] - t[i] < t[i + 2] - t[i + 1]); /* short in a pair, long between */
}

static void dutch_halves_sound_on_the_smaller_bell(void **state)
{
    char hour[64], half[64];
    (void)state;
    letters_at("dutch-strike", 3 * 60, hour, sizeof hour, NULL);
    letters_at("dutch-strike", 3 * 60 + 30, half, sizeof half, NULL);
    assert_int_equal(strlen(hour), 3);
    assert_int_equal(strlen(half), 4);
    assert_int_not_equal(hour[0], half[0]);
    const struct clock *c = find("dutch-strike");
    assert_true(c->sounder[half[0] - 'a'].hz > c->sounder[hour[0] - 'a'].hz);
}

static void bim_bam_and_cuckoo_strike_high_then_low_in_each_count(void **state)
{
    static const char *const clocks[] = {"bimbam-rack", "cuckoo-countwheel"};
    (void)state; /* the first of the pair is the higher: clocktime.co.uk/glossary/ting-tang-striking */
    for (size_t i = 0; i < 2; i++) {
        char got[64];
        double t[64];
        letters_at(clocks[i], 4 * 60, got, sizeof got, t);
        assert_true(strlen(got) >= 8);
        const struct clock *c = find(clocks[i]);
        const struct pattern *p = &c->train[TRAIN_STRIKE].pattern[0];
        assert_true(p->strokes >= 2);
    }
}

static void the_order_of_hour_and_quarters_is_the_kind_s_own(void **state)
{
    static const struct {
        const char *clock;
        bool hour_first;
    } kinds[] = {{"vienna-grande", false}, {"french-grande", true}}; /* uhrenlexikon.de */
    (void)state;
    for (size_t i = 0; i < 2; i++) {
        struct works w;
        struct moment m;
        struct chance chance;
        struct random r;
        struct event_list events = {0};
        int first = -1;
        works_init(&w, find(kinds[i].clock), NULL, 0);
        moment_init(&m, &w, 6 * 60 + 40);
        random_init(&r, 1);
        chance_draw(&chance, &r);
        movement_turn(&w, &m, 10, BY_TIME, &chance, &events);
        for (size_t k = 0; k < events.count && first < 0; k++)
            if (event_sounds(&events.at[k]))
                first = events.at[k].train;
        assert_int_equal(first, kinds[i].hour_first ? TRAIN_STRIKE : TRAIN_CHIME);
        event_list_release(&events);
    }
}

static int blows_at(const struct works *w, struct moment *m, int min)
{
    struct event_list events = {0};
    struct chance chance;
    struct random r;
    int blows = 0;
    random_init(&r, 1);
    chance_draw(&chance, &r);
    movement_turn(w, m, (min + 2 - m->work_min + 1440) % 1440, BY_TIME, &chance, &events);
    for (size_t k = 0; k < events.count; k++)
        blows += events.at[k].kind == EVENT_BLOW;
    event_list_release(&events);
    return blows;
}

static void a_sonnerie_has_a_selector_and_repeats_the_hour(void **state)
{
    struct works w;
    struct moment m;
    struct chance chance;
    struct random r;
    struct event_list events = {0};
    (void)state;
    random_init(&r, 1);
    chance_draw(&chance, &r);
    works_init(&w, find("vienna-grande"), NULL, 0);
    moment_init(&m, &w, 6 * 60 + 5);
    assert_int_equal(blows_at(&w, &m, 6 * 60 + 15), 6); /* the last full hour: 6:15 = 1 high 6 low */
    assert_true(movement_do(&w, &m, ACTION_TUNE, 1, &chance, NULL)); /* petite */
    assert_int_equal(blows_at(&w, &m, 6 * 60 + 30), 0);
    assert_int_equal(blows_at(&w, &m, 7 * 60), 7);
    assert_true(movement_do(&w, &m, ACTION_TRIP_STRIKE, 0, &chance, &events)); /* the cord */
    int blows = 0;
    for (size_t k = 0; k < events.count; k++)
        blows += events.at[k].kind == EVENT_BLOW;
    assert_int_equal(blows, 7);
    event_list_release(&events);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_clock_sounds_the_published_pattern_through_a_day),
        cmocka_unit_test(every_clock_of_the_library_has_such_a_row_or_a_test_of_its_own),
        cmocka_unit_test(night_silence_keeps_still_from_ten_to_seven_and_is_right_after),
        cmocka_unit_test(music_follows_the_call),
        cmocka_unit_test(roman_striking_uses_one_bell_for_i_and_the_other_for_v),
        cmocka_unit_test(ships_bells_come_in_pairs_with_the_odd_one_last),
        cmocka_unit_test(dutch_halves_sound_on_the_smaller_bell),
        cmocka_unit_test(bim_bam_and_cuckoo_strike_high_then_low_in_each_count),
        cmocka_unit_test(the_order_of_hour_and_quarters_is_the_kind_s_own),
        cmocka_unit_test(a_sonnerie_has_a_selector_and_repeats_the_hour),
    };
    return cmocka_run_group_tests(tests, load, unload);
}
