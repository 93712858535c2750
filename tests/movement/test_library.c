/* The data files against what is published: sums of count wheels, trains that close, tunes; and
 * what is said when a file is wrong.  Sources stand beside the facts; "Beckett" is E. Beckett,
 * Clocks, Watches and Bells, 8th ed. */
#include "suite.h"

#include <glob.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "err.h"
#include "movement/library.h"
#include "movement/pitch.h"
#include "text.h"
#include "yaml_map.h"

static struct library *lib;

static int load(void **state)
{
    (void)state;
    struct err e = {0};
    lib = library_load("chimes", &e);
    err_print(&e, stderr);
    err_release(&e);
    return lib ? 0 : -1;
}

static int unload(void **state)
{
    (void)state;
    library_free(lib);
    return 0;
}

static const struct clock *clock_named(const char *id)
{
    const struct clock *c = library_find_clock(lib, id);
    if (!c)
        fail_msg("no clock %s", id);
    return c;
}

static const struct tune *tune_named(const char *id)
{
    const struct tune *t = library_find_tune(lib, id);
    if (!t)
        fail_msg("no tune %s", id);
    return t;
}

static void the_library_holds_every_kind(void **state)
{
    (void)state;
    assert_true(library_clocks(lib) >= 24);
    assert_true(library_tunes(lib) >= 12);
    assert_true(library_faults(lib) >= 130);
    assert_string_equal(library_folder(lib), "chimes");
    assert_null(library_find_clock(lib, "no-such-clock"));
    assert_null(library_find_tune(lib, NULL));
    for (size_t i = 0; i < library_clocks(lib); i++) {
        const struct clock *c = library_clock(lib, i);
        assert_ptr_equal(library_find_clock(lib, c->id), c);
        assert_true(c->name && c->about && c->family && c->source && c->count && c->half &&
                    c->chime);
        assert_true(c->share > 0 && c->winding_points >= 1 && c->sounders >= 1);
    }
}

/* ---- count wheels and totals ---- */

static void count_wheels_add_up_to_the_published_divisions(void **state)
{
    (void)state;
    static const struct {
        const char *clock;
        int sum;
    } rows[] = {
        {"longcase-countwheel-78", 78}, /* hours: Beckett f.169 */
        {"countwheel-78", 78},
        {"mantel-countwheel-90", 90}, /* and halves: Beckett f.170 */
        {"french-countwheel-90", 90},
        {"countwheel-88", 88},      /* but those at 12:30 and 1:30: Beckett f.170 */
        {"countwheel-double", 156}, /* two sets */
        {"roman-strike", 30},       /* christies.com/en/lot/lot-4973414 */
        {"italian-six", 21},        /* 1 + 2 + ... 6 */
        {"strike-24h", 300},        /* Bell Historians, 6 Nov 2009, 015942 */
        {"japanese-hours", 39},     /* 9 + 8 + 7 + 6 + 5 + 4 */
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        const struct train *t = clock_train(clock_named(rows[i].clock), TRAIN_STRIKE);
        int sum = 0;
        for (int k = 0; k < t->entries; k++)
            sum += t->entry[k];
        assert_int_equal(sum, rows[i].sum);
    }
}

static void the_counts_of_a_day_are_the_published_ones(void **state)
{
    (void)state;
    static const struct {
        const char *clock;
        int counts;
    } rows[] = {
        {"longcase-rack", 156},    /* Beckett f.169, f.197 */
        {"mantel-rack-half", 180}, /* 2 x 90 */
        {"strike-24h", 300},       /* Bell Historians, 6 Nov 2009, 015942 */
        {"italian-six", 84},       /* the same */
        {"vienna-grande", 624},    /* 4 x 156: the same */
        {"french-petite", 156},    /* clockexhibition.org.uk/exhibits/10 */
        {"dutch-strike", 312},     /* full hour and coming hour */
        {"comtoise", 336},      /* twice 168: 78 + 78 + 12, steeplechaseclock.com/ITSjuly12.html */
        {"japanese-hours", 78}, /* Arthur, Time and its Measurement (1909) */
        {"passing-strike", 24},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++)
        assert_int_equal(train_counts_a_day(clock_named(rows[i].clock), TRAIN_STRIKE),
                         rows[i].counts);
}

static void half_past_twelve_and_one_are_silent_on_the_wheel_of_88(void **state)
{
    (void)state; /* Beckett f.170 */
    const struct clock *c = clock_named("countwheel-88");
    for (int m = 30; m < 720; m += 60)
        assert_int_equal(train_counts_at(c, TRAIN_STRIKE, m), m <= 90 ? 0 : 1);
    assert_int_equal(train_counts_at(c, TRAIN_STRIKE, 0), 12);
    assert_int_equal(train_counts_at(c, TRAIN_STRIKE, 60), 1);
}

static void roman_hours_have_the_published_blows(void **state)
{
    (void)state; /* I small, V large, X two large: christies.com/en/lot/lot-196643 */
    static const int blows[13] = {0, 1, 2, 3, 2, 1, 2, 3, 4, 3, 2, 3, 4};
    const struct clock *c = clock_named("roman-strike");
    for (int h = 1; h <= 12; h++)
        assert_int_equal(train_counts_at(c, TRAIN_STRIKE, h * 60), blows[h]);
    assert_string_equal(c->train[TRAIN_STRIKE].entry_hammers[3], "ab"); /* IV: small, then large */
    assert_string_equal(c->train[TRAIN_STRIKE].entry_hammers[5], "ba"); /* VI: large, then small */
}

static void a_step_of_the_snail_is_ready_when_its_hour_comes_and_stays_until_the_next(void **state)
{
    (void)state;
    for (size_t i = 0; i < library_clocks(lib); i++) {
        const struct clock *c = library_clock(lib, i);
        const struct train *t = &c->train[TRAIN_STRIKE];
        if (t->control != CONTROL_RACK || t->snail[0].steps != 12)
            continue;
        for (int h = 0; h < 12; h++) {
            int due = h ? h : 12;
            assert_int_equal(t->snail[0].teeth[snail_step_at(&t->snail[0], h * 60)], due);
            assert_int_equal(t->snail[0].teeth[snail_step_at(&t->snail[0], h * 60 - c->warn_min)],
                             due);
            assert_int_equal(t->snail[0].teeth[snail_step_at(&t->snail[0], h * 60 + 720)], due);
        }
    }
}

/* ---- trains ---- */

static void the_published_eight_day_train_closes(void **state)
{
    (void)state; /* great wheel 78, pinion 8, 8 pins, 16 turns in 8 days: Beckett f.165 */
    const struct train *t = clock_train(clock_named("longcase-rack"), TRAIN_STRIKE);
    assert_int_equal(t->arbor[0].wheel, 78);
    assert_int_equal(t->arbor[1].pinion, 8);
    assert_int_equal(t->pins, 8);
    double great = train_turns_per_blow(t, 0), pin = train_turns_per_blow(t, 1);
    assert_near(great * 78, 1, 1e-12);      /* once in 12 hours */
    assert_near(great * 156 * 8, 16, 1e-9); /* 1,248 blows in 8 days */
    assert_near(pin * 78, 9.75, 1e-12);
    assert_near(train_turns_per_blow(t, 2), 1, 1e-12); /* gathering pallet */
    assert_near(train_turns_per_blow(t, 3), 6, 1e-12); /* warning: 6 or any whole number */
    assert_near((double)t->arbor[1].wheel / t->arbor[2].pinion, 8, 1e-12);
}

static void the_published_chime_train_turns_the_drum_twice_an_hour(void **state)
{
    (void)state; /* 100 / 50 / 10, Beckett f.174-176 */
    const struct train *t = clock_train(clock_named("floor-westminster-rack"), TRAIN_CHIME);
    const struct tune *tune = t->tune[0];
    assert_int_equal(t->arbor[1].wheel, 100);
    assert_int_equal(t->arbor[2].pinion, 10);
    double notes_an_hour = 40, second = train_turns_per_blow(t, 1) * notes_an_hour;
    assert_near(second, 1, 1e-12);
    assert_near(train_turns_per_blow(t, 2) * notes_an_hour, 10, 1e-12); /* once a change */
    assert_near(second * 100 / 50, notes_an_hour / tune->notes, 1e-12); /* drum wheel of 50 */
    int sum = 0;
    for (int i = 0; i < t->entries; i++)
        sum += t->entry[i];
    assert_int_equal(sum, 10);
}

static void turns_of_the_key_agree_with_a_makers_sheet(void **state)
{
    (void)
        state; /* strike 3.5, chime 4.5 turns in 7 days: billsclockworks.com, instruction sheet 22 */
    const struct clock *c = clock_named("mantel-westminster-rack");
    assert_near(train_turns_per_blow(&c->train[TRAIN_STRIKE], 0) * 156 * 7, 3.5, 0.01);
    assert_near(train_turns_per_blow(&c->train[TRAIN_CHIME], 0) * 960 * 7, 4.5, 0.01);
}

static void a_tower_pinion_turns_once_a_blow_when_the_wheel_has_leaves_times_cams(void **state)
{
    (void)state; /* 10 cams, wheel 100, pinion 10: Beckett f.197-198 */
    const struct train *t = clock_train(clock_named("turret-countwheel"), TRAIN_STRIKE);
    assert_int_equal(t->arbor[0].wheel, t->arbor[1].pinion * t->pins);
    assert_near(train_turns_per_blow(t, 1), 1, 1e-12);
    assert_true(t->power.fly_turns >= 4 && t->power.fly_turns <= 8); /* Beckett f.194 */
}

static void without_gear_counts_no_turns_are_told(void **state)
{
    (void)state;
    struct train t = {
        .arbors = 2, .pins = 8, .pins_on = 1, .arbor = {{"great", 78, 0}, {"pin", 0, 0}}};
    assert_near(train_turns_per_blow(&t, 1), 0.125, 1e-12);
    assert_near(train_turns_per_blow(&t, 0), 0, 0);
    assert_near(train_turns_per_blow(&t, 2), 0, 0);
    assert_near(train_turns_per_blow(&t, -1), 0, 0);
}

/* ---- lobes ---- */

static void lobes_are_found_forward_and_round_the_hour(void **state)
{
    (void)state;
    const struct clock *c = clock_named("floor-westminster-rack");
    assert_int_equal(clock_lobe_at(c, 0), 0);
    assert_int_equal(clock_lobe_at(c, -60), 0);
    assert_int_equal(clock_lobe_at(c, 765), 3);
    assert_int_equal(clock_lobe_at(c, 7), -1);
    assert_int_equal(clock_next_lobe(c, 0), 15);
    assert_int_equal(clock_next_lobe(c, 46), 14);
    assert_int_equal(clock_next_lobe(clock_named("japanese-hours"), 0), 120);
    assert_int_equal(clock_letoffs(c), 48);
    for (int i = 0; i < 48; i++)
        assert_int_equal(clock_letoff_min(c, i), 15 * i);
    const struct clock *comtoise = clock_named("comtoise");
    assert_int_equal(clock_letoff_min(comtoise, 1), 2);
    assert_int_equal(clock_letoff_min(comtoise, 2), 30);
    assert_null(clock_train(comtoise, TRAIN_CHIME));
}

/* ---- tunes ---- */

/* One change as a word of digits; bells over 9 as letters. */
static const char *change_word(const struct tune *t, int change)
{
    static char word[TUNE_NOTES + 1];
    int n = 0;
    for (int i = t->change_at[change]; i < t->change_at[change + 1]; i++)
        word[n++] = "0123456789abcdef"[t->note[i]];
    word[n] = '\0';
    return word;
}

static int notes_of_quarter(const struct tune *t, int quarter)
{
    int change = 0, notes = 0;
    for (int q = 0; q < quarter; q++)
        change += t->quarter[q];
    for (int i = 0; i < t->quarter[quarter]; i++, change++)
        notes += t->change_at[change % t->changes + 1] - t->change_at[change % t->changes];
    return notes;
}

static void westminster_has_its_five_changes_in_order(void **state)
{
    (void)state; /* Beckett f.204 and en.wikipedia.org/wiki/Westminster_Quarters */
    static const char *const changes[] = {"1234", "3124", "3213", "1324", "4213"};
    const struct tune *t = tune_named("westminster");
    assert_int_equal(t->changes, 5);
    for (int i = 0; i < 5; i++) {
        assert_string_equal(change_word(t, i), changes[i]);
        assert_int_equal(strchr(change_word(t, i), '4') == NULL,
                         i == 2); /* III alone lacks bell 4 */
    }
    assert_int_equal(t->note[t->change_at[4] - 1],
                     t->note[t->change_at[4]]); /* 4 ends IV, begins V */
    static const int notes[] = {4, 8, 12, 16};  /* htfbw.com, 48467 */
    for (int q = 0; q < 4; q++)
        assert_int_equal(notes_of_quarter(t, q), notes[q]);
    static const char *const pitch[] = {"G#4", "F#4", "E4", "B3"}; /* the tower at Westminster */
    for (int i = 0; i < 4; i++)
        assert_string_equal(t->pitch[i], pitch[i]);
}

static void the_three_spacings_divide_the_drum_as_published(void **state)
{
    (void)state; /* Beckett f.205: 55 spaces for 2.5, note gap 2 and change gap 5; 50 for 2 */
    static const struct {
        const char *id;
        double spaces;
    } rows[] = {{"westminster", 50}, {"westminster-worcester", 55}, {"westminster-cambridge", 60}};
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        const struct tune *t = tune_named(rows[i].id);
        assert_near(t->changes * (3 * 2 + t->gap * 2), rows[i].spaces, 1e-12);
        assert_string_equal(change_word(t, 4), "4213");
    }
}

static bool is_permutation(const char *word, int bells)
{
    int met = 0;
    for (const char *c = word; *c; c++)
        met |= 1 << (strchr("0123456789abcdef", *c) - "0123456789abcdef");
    return (int)strlen(word) == bells && met == ((1 << bells) - 1) << 1;
}

static void every_whittington_change_on_eight_rings_each_bell_once(void **state)
{
    (void)state; /* D from the sources named in the file */
    static const char *const ids[] = {"whittington-eight", "whittington-eight-domestic",
                                      "whittington-eight-heard"};
    for (size_t i = 0; i < COUNT_OF(ids); i++) {
        const struct tune *t = tune_named(ids[i]);
        for (int k = 0; k < t->changes; k++)
            assert_true(is_permutation(change_word(t, k), 8));
    }
    static const int notes[] = {8, 16, 24, 32};
    for (int q = 0; q < 4; q++)
        assert_int_equal(notes_of_quarter(tune_named("whittington-eight"), q), notes[q]);
    int shared = 0; /* the traditional and the domestic set share only the plain scale */
    for (int a = 0; a < 5; a++) {
        char word[16];
        snprintf(word, sizeof word, "%s", change_word(tune_named("whittington-eight"), a));
        for (int b = 0; b < 5; b++)
            shared += !strcmp(word, change_word(tune_named("whittington-eight-domestic"), b));
    }
    assert_int_equal(shared, 1);
}

static void whittington_of_1905_leaves_the_sixth_bell_out(void **state)
{
    (void)
        state; /* 4, 6, 9, 12 notes, eleven of twelve bells: en.wikipedia.org/wiki/Whittington_chimes */
    const struct tune *t = tune_named("whittington-twelve-1905");
    static const int notes[] = {4, 6, 9, 12};
    int met = 0;
    for (int q = 0; q < 4; q++)
        assert_int_equal(notes_of_quarter(t, q), notes[q]);
    for (int i = 0; i < t->notes; i++)
        met |= 1 << t->note[i];
    assert_int_equal(met & 1 << 6, 0);
    assert_int_equal(__builtin_popcount((unsigned)met),
                     10); /* the hour bell is struck by the strike */
    assert_int_equal(met & 1 << 12, 0);
}

static void the_old_whittington_rings_twelve_bells_in_threes(void **state)
{
    (void)state; /* Grove's dictionary, "Cambridge Quarters" */
    const struct tune *t = tune_named("whittington-old-threes");
    char all[16] = "";
    for (int k = 0; k < t->changes; k++) {
        assert_int_equal(strlen(change_word(t, k)), 3);
        strcat(all, change_word(t, k));
    }
    assert_true(is_permutation(all, 12));
}

static void alleluia_is_turned_round_to_the_highest_bell(void **state)
{
    (void)
        state; /* numbered from the lowest, 7 13 20 26 notes: Bell Historians, 4 Nov 2009, 015930 */
    const struct tune *t = tune_named("alleluia-six");
    static const int notes[] = {7, 13, 20, 26};
    assert_string_equal(change_word(t, 0), "6432434");
    assert_string_equal(change_word(t, 9), "132434");
    assert_string_equal(t->pitch[0], "C5");
    assert_string_equal(t->pitch[5], "D4");
    for (int q = 0; q < 4; q++)
        assert_int_equal(notes_of_quarter(t, q), notes[q]);
}

static void westminster_on_eight_is_westminster_on_bells_3_4_5_8(void **state)
{
    (void)state; /* davewestclocks.co.uk/basicnotes.htm */
    const struct tune *four = tune_named("westminster"),
                      *eight = tune_named("westminster-on-eight");
    static const int bell[5] = {0, 3, 4, 5, 8};
    assert_int_equal(eight->notes, four->notes);
    for (int i = 0; i < four->notes; i++)
        assert_int_equal(eight->note[i], bell[four->note[i]]);
}

static void doncaster_strikes_no_bell_twice_running_in_its_third_quarter(void **state)
{
    (void)state; /* Beckett f.203-204; six changes an hour, none at the hour */
    const struct tune *t = tune_named("doncaster");
    assert_int_equal(t->changes, 6);
    assert_int_equal(t->quarters, 3);
    for (int i = t->change_at[3] + 1; i < t->notes; i++)
        assert_int_not_equal(t->note[i], t->note[i - 1]);
}

static void the_two_royal_exchange_versions_agree_on_half_and_hour(void **state)
{
    (void)state; /* Beckett f.204 and Grove's dictionary */
    const struct tune *a = tune_named("royal-exchange-beckett"),
                      *b = tune_named("royal-exchange-dictionary");
    char hour[64];
    assert_string_equal(change_word(a, 1), "3124");
    assert_string_equal(change_word(a, 2), "4213");
    assert_string_equal(change_word(b, 1), "3124");
    assert_string_equal(change_word(b, 2), "4213");
    hour[0] = '\0';
    for (int k = 6; k < 10; k++)
        strcat(hour, change_word(a, k));
    assert_string_equal(hour, "3124421313243213");
    hour[0] = '\0';
    for (int k = 6; k < 10; k++)
        strcat(hour, change_word(b, k % b->changes));
    assert_string_equal(hour, "3124421313243213");
}

static void music_and_pairs_have_their_published_counts(void **state)
{
    (void)
        state; /* Ode to Joy 15 15 17 15 (public-domain score); ting-tang 72 and 120 pairs in 12 h */
    static const int phrase[] = {15, 15, 17, 15};
    const struct tune *ode = tune_named("ode-to-joy"), *pairs = tune_named("ting-tang");
    assert_true(ode->music);
    for (int i = 0; i < 4; i++)
        assert_int_equal(ode->change_at[i + 1] - ode->change_at[i], phrase[i]);
    int an_hour = 0;
    for (int q = 0; q < 4; q++)
        an_hour += pairs->quarter[q];
    assert_int_equal(12 * an_hour, 120);
    assert_int_equal(12 * (an_hour - pairs->quarter[3]), 72);
    assert_near(pairs->gap, 2, 1e-12); /* Beckett f.173 */
}

static void every_tune_names_its_source_and_standing(void **state)
{
    (void)state;
    for (size_t i = 0; i < library_tunes(lib); i++) {
        const struct tune *t = library_tune(lib, i);
        assert_true(t->source && t->status && t->name && t->notes > 0 && t->bells > 0 &&
                    t->gap >= 1);
        for (int k = 0; k < t->notes; k++)
            assert_true(t->note[k] >= 0 && t->note[k] <= t->bells);
    }
}

/* ---- pitches ---- */

static void printed_notes_have_the_published_frequencies(void **state)
{
    (void)state; /* engineeringtoolbox.com/note-frequencies-d_520.html and CRC Handbook */
    static const struct {
        const char *printed;
        double hz;
    } rows[] = {
        {"E3", 164.8138}, {"B3", 246.9417},  {"C4", 261.6256},  {"D4", 293.6648},
        {"E4", 329.6276}, {"F#4", 369.9944}, {"G4", 391.9954},  {"G#4", 415.3047},
        {"A4", 440.0},    {"B4", 493.8833},  {"C5", 523.2511},  {"C#5", 554.3653},
        {"D5", 587.3295}, {"E5", 659.2551},  {"Ab4", 415.3047},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        double hz = 0;
        assert_true(pitch_hz(rows[i].printed, &hz));
        assert_near(hz, rows[i].hz, 0.0001);
    }
}

static void what_is_no_note_is_refused(void **state)
{
    (void)state;
    static const char *const bad[] = {"",     "H4", "a4",  "A",  "A44", "A#",
                                      "A##4", "4A", "A4 ", "C9", NULL};
    double hz = 7;
    for (size_t i = 0; i < COUNT_OF(bad); i++) {
        assert_int_equal(pitch_midi(bad[i]), -1);
        assert_false(pitch_hz(bad[i], &hz));
    }
    assert_near(hz, 7, 0);
}

/* ---- faults and cures ---- */

static bool owner_may(const struct cure *c)
{
    return !strcmp(c->who, "owner");
}

static void every_fault_has_a_cure_and_applies_to_some_clock(void **state)
{
    (void)state;
    for (size_t i = 0; i < library_faults(lib); i++) {
        const struct fault *f = library_fault(lib, i);
        const struct cure *c = library_find_cure(lib, f->cure);
        bool somewhere = false;
        assert_non_null(c);
        assert_true(!owner_may(c) || !strcmp(c->hazard, "none"));
        assert_true(c->minutes > 0 && strlen(c->text) > 10);
        for (size_t k = 0; k < library_clocks(lib); k++)
            somewhere = somewhere || fault_applies(f, library_clock(lib, k));
        if (!somewhere)
            fail_msg("fault %s applies to no clock", f->id);
    }
}

static int faults_of_class(const char *class)
{
    int n = 0;
    for (size_t i = 0; i < library_faults(lib); i++)
        n += !strcmp(library_fault(lib, i)->class, class);
    return n;
}

static void errors_of_assembly_are_as_many_as_wear(void **state)
{
    (void)state;
    assert_true(faults_of_class("assembly_error") >= faults_of_class("worn_part"));
}

static void every_part_has_a_fault(void **state)
{
    (void)state;
    for (int p = 0; fault_part_name(p); p++) {
        int n = 0;
        for (size_t i = 0; i < library_faults(lib); i++)
            n += !strcmp(library_fault(lib, i)->part, fault_part_name(p));
        if (!n)
            fail_msg("no fault of the part %s", fault_part_name(p));
    }
}

/* Dirt is never the reason of a count that is wrong: cleaning cures trains that fail or drag. */
static void cleaning_cures_no_wrong_count(void **state)
{
    (void)state;
    static const char *const allowed[] = {"friction_", "stall_", "trip_gum_", "spring_rough_", "spring_clings_", "going_stop"};
    for (size_t i = 0; i < library_faults(lib); i++) {
        const struct fault *f = library_fault(lib, i);
        if (strcmp(f->cure, "clean-and-oil"))
            continue;
        for (int k = 0; k < f->sets + f->axes; k++) {
            const char *name =
                par_row(k < f->sets ? f->set[k].par : f->axis[k - f->sets].par)->name;
            bool train = false;
            for (size_t a = 0; a < COUNT_OF(allowed); a++)
                train = train || !strncmp(name, allowed[a], strlen(allowed[a]));
            if (!train)
                fail_msg("fault %s changes %s and is cured by cleaning", f->id, name);
        }
    }
}

static bool changed_by_a_fault(enum par p)
{
    for (size_t i = 0; i < library_faults(lib); i++) {
        const struct fault *f = library_fault(lib, i);
        for (int k = 0; k < f->sets; k++)
            if (f->set[k].par == p)
                return true;
        for (int k = 0; k < f->axes; k++)
            if (f->axis[k].par == p ||
                (p == PAR_hammer_swap_b && f->axis[k].domain == DOMAIN_HAMMER_PAIRS))
                return true;
    }
    return false;
}

/* Rows for one train each are one parameter: the part of the name before the train's. */
static size_t stem_of(const char *name)
{
    for (int t = 0; t < TRAINS; t++) {
        const char *train = event_train_name((enum event_train)t);
        size_t n = strlen(name), m = strlen(train);
        if (n > m && name[n - m - 1] == '_' && !strcmp(name + n - m, train))
            return n - m - 1;
    }
    return strlen(name);
}

static void every_parameter_is_changed_by_some_fault(void **state)
{
    (void)state;
    for (int p = 0; p < PAR_COUNT; p++) {
        const char *name = par_row((enum par)p)->name;
        bool found = false;
        for (int q = 0; q < PAR_COUNT; q++) {
            const char *other = par_row((enum par)q)->name;
            if (stem_of(name) == stem_of(other) && !strncmp(name, other, stem_of(name)))
                found = found || changed_by_a_fault((enum par)q);
        }
        if (!found)
            fail_msg("no fault changes %s", name);
    }
}

static const struct yaml_node *word_row(const struct yaml_tree *words, const char *id,
                                        const char *kind)
{
    const struct yaml_node *list = yaml_get(yaml_root(words), "words");
    for (size_t i = 0; i < yaml_count(list); i++) {
        const struct yaml_node *row = yaml_item(list, i), *k = yaml_get(row, "kind");
        if (strcmp(yaml_text(yaml_get(row, "id")), id))
            continue;
        if (!kind || (yaml_text(k) && !strcmp(yaml_text(k), kind)))
            return row;
    }
    return NULL;
}

static void tilts_name_words_of_the_call_sheet(void **state)
{
    (void)state;
    struct err e = {0};
    struct yaml_tree *words = yaml_load("chimes/words.yaml", &e);
    assert_non_null(words);
    for (size_t i = 0; i < library_faults(lib); i++) {
        const struct fault *f = library_fault(lib, i);
        for (size_t k = 0; k < f->tilts; k++)
            if (!word_row(words, f->tilt[k].word, NULL))
                fail_msg("fault %s: \"%s\" is no word of a call sheet", f->id, f->tilt[k].word);
    }
    yaml_free(words);
}

static double tilt_by(const char *fault, const char *word)
{
    const struct fault *f = library_find_fault(lib, fault);
    assert_non_null(f);
    for (size_t k = 0; k < f->tilts; k++)
        if (!strcmp(f->tilt[k].word, word))
            return f->tilt[k].factor;
    return 1;
}

/* What comes slowly is worn or dry and not bent; what the row itself says of a word comes first. */
static void the_history_speaks_for_a_class_where_the_row_does_not(void **state)
{
    (void)state;
    assert_true(tilt_by("tail-slips-behind", "gradual") > 1);
    assert_true(tilt_by("tail-come-off", "gradual") < 1);
    assert_true(tilt_by("hour-wheel-meshed-off", "service") > 1);
    assert_true(tilt_by("bird-door-latched", "works_in_shop") > 1);
    assert_near(tilt_by("tail-come-off", "dropped"), 3, 1e-9); /* the row's own */
}

static void hints_of_clocks_are_hints_of_the_call_sheet(void **state)
{
    (void)state;
    struct err e = {0};
    struct yaml_tree *words = yaml_load("chimes/words.yaml", &e);
    assert_non_null(words);
    for (size_t i = 0; i < library_clocks(lib); i++) {
        const struct clock *c = library_clock(lib, i);
        for (size_t k = 0; k < c->hints; k++) {
            const struct yaml_node *row = word_row(words, c->hint[k].word, "hint");
            const struct yaml_node *values = row ? yaml_get(row, "values") : NULL;
            if (!row)
                fail_msg("clock %s: \"%s\" is no hint", c->id, c->hint[k].word);
            for (size_t v = 0; values && v < c->hint[k].values; v++)
                if (!yaml_get(values, c->hint[k].value[v]))
                    fail_msg("clock %s: hint %s has no value \"%s\"", c->id, c->hint[k].word,
                             c->hint[k].value[v]);
        }
    }
    yaml_free(words);
}

static bool file_has_voice(const char *path, const char *id)
{
    struct err e = {0};
    struct yaml_tree *tree = yaml_load(path, &e);
    const struct yaml_node *list = tree ? yaml_get(yaml_root(tree), "voices") : NULL;
    bool found = false;
    for (size_t i = 0; list && i < yaml_count(list); i++)
        found = found || !strcmp(yaml_text(yaml_get(yaml_item(list, i), "id")), id);
    yaml_free(tree);
    err_release(&e);
    return found;
}

static void every_sounder_has_a_voice_that_is_made(void **state)
{
    (void)state;
    glob_t files;
    assert_int_equal(glob("sounds/*.yaml", 0, NULL, &files), 0);
    const char *last = "";
    for (size_t i = 0; i < library_clocks(lib); i++) {
        const struct clock *c = library_clock(lib, i);
        for (int k = 0; k < c->sounders; k++) {
            const char *voice = c->sounder[k].voice;
            bool found = !strcmp(voice, last);
            for (size_t f = 0; !found && f < files.gl_pathc; f++)
                found = file_has_voice(files.gl_pathv[f], voice);
            if (!found)
                fail_msg("clock %s: no voice \"%s\"", c->id, voice);
            last = voice;
        }
    }
    globfree(&files);
}

/* ---- files of a user, good and bad ---- */

static bool add_text(const char *text, struct err *e)
{
    char path[64];
    snprintf(path, sizeof path, "/tmp/letoff-library-%ld.yaml", (long)getpid());
    bool good = text_write_file(path, text, strlen(text), e) && library_add(lib, path, e);
    unlink(path);
    return good;
}

static void a_users_tune_and_clock_are_added_and_may_replace(void **state)
{
    (void)state;
    struct err e = {0};
    size_t tunes = library_tunes(lib), clocks = library_clocks(lib);
    const struct clock *before = clock_named("floor-westminster-rack");
    assert_true(add_text("tunes:\n"
                         "  - {id: our-three, name: Ours, source: made at Aldermere, bells: 4, "
                         "changes: [\"4321\"], quarters: [1, 2, 3, 4]}\n"
                         "clocks:\n"
                         "  - id: our-floor\n"
                         "    like: floor-westminster-rack\n"
                         "    name: With our tune\n"
                         "    trains: {chime: {tunes: [our-three], power: {interval_s: 0.9}}}\n",
                         &e));
    assert_int_equal(e.count, 0);
    assert_int_equal(library_tunes(lib), tunes + 1);
    assert_int_equal(library_clocks(lib), clocks + 1);
    const struct clock *ours = clock_named("our-floor");
    assert_string_equal(ours->train[TRAIN_CHIME].tune[0]->id, "our-three");
    assert_near(ours->train[TRAIN_CHIME].power.interval_s, 0.9, 1e-12);
    assert_near(ours->train[TRAIN_CHIME].power.weight_kg,
                before->train[TRAIN_CHIME].power.weight_kg, 0);
    assert_ptr_equal(clock_named("floor-westminster-rack"), before); /* handed out pointers stay */
    assert_true(
        add_text("clocks:\n  - {id: our-floor, like: our-floor, name: Renamed, share: 3}\n", &e));
    assert_string_equal(clock_named("our-floor")->name, "Renamed");
    assert_int_equal(library_clocks(lib), clocks + 1);
}

static void a_row_that_is_like_another_keeps_what_it_does_not_say(void **state)
{
    (void)state;
    const struct clock *soft = clock_named("longcase-rack"),
                       *stiff = clock_named("longcase-rack-rigid");
    assert_true(soft->train[TRAIN_STRIKE].sprung_tail && !stiff->train[TRAIN_STRIKE].sprung_tail);
    assert_true(soft->train[TRAIN_STRIKE].snail[0].bevelled &&
                !stiff->train[TRAIN_STRIKE].snail[0].bevelled);
    assert_int_equal(soft->train[TRAIN_STRIKE].pins, stiff->train[TRAIN_STRIKE].pins);
    assert_int_equal(soft->warn_min, stiff->warn_min);
    assert_string_equal(soft->sounder[0].voice, stiff->sounder[0].voice);
}

#define CLOCK "clocks:\n  - {id: x, like: longcase-rack, name: X, "
#define TUNE  "tunes:\n  - {id: x, name: X, source: s, bells: 4, "
#define FAULT                                                                                      \
    "faults:\n  - {id: x, name: X, part: rack tail, class: setting, about: a, prior: 1, cure: "    \
    "bend-tail, source: s, "
#define CURE "cures:\n  - {id: x, text: t, minutes: 1, "

static void a_wrong_file_says_where_and_what_and_changes_nothing(void **state)
{
    (void)state;
    static const struct {
        const char *text, *want;
    } rows[] = {
        {"words: []\n", "this is no data file"},
        {"clocks: []\ntunez: []\n", ":2:1: unknown key \"tunez\"; did you mean \"tunes\"?"},
        {"class_tilts: [{id: worn_prat, tilts: {gradual: 2}}]\n", "worn_prat"},
        {"class_tilts: [{id: worn_part, tilts: 3}]\n", "key \"tilts\" wants a map"},
        {"clocks: 3\n", "key \"clocks\" wants a list"},
        {"clocks:\n  - 3\n", "a clock must be a map with the key \"id\""},
        {"clocks:\n  - {id: a b, name: x}\n", "id"},
        {CLOCK "}\n  - {id: x, like: longcase-rack, name: Y}\n",
         "the clock \"x\" is already given in"},
        {"clocks:\n  - {id: x, like: nothing, name: X}\n",
         "\"nothing\" is not the id of another row"},
        {"clocks:\n  - {id: x, like: y, name: X}\n  - {id: y, like: x, name: Y}\n",
         "is like itself"},
        {"clocks:\n  - {id: x, name: X}\n", "lacks the key \"lobes\""},
        {CLOCK "lobes: [5]}\n", "the first lobe of clock \"x\" must be the hour's"},
        {CLOCK "lobes: [0, 0]}\n", "two lobes stand at minute 0"},
        {CLOCK "lobes: [0, 61]}\n", "61"},
        {CLOCK "cycle_min: 900}\n", "cycle_min is 900; 720 or 1440 is expected"},
        {CLOCK "day_blows: 157}\n", "the strike counts 156 in 24 hours, not the 157 stated"},
        {CLOCK "sounders: [{name: bel, voice: bell-small, pitch: E5}]}\n",
         "\"bell\" is no sounder of clock \"x\"; did you mean \"bel\"?"},
        {CLOCK "sounders: [{name: bell, voice: bell-small, pitch: X5}]}\n",
         "a note is written as F#4 or Bb3"},
        {CLOCK "sounders: [{name: bell, voice: bell-small}]}\n",
         "has neither \"pitch\" nor \"hz\""},
        {CLOCK "trains: {striek: {}}}\n", "\"striek\" is no train"},
        {CLOCK "trains: {strike: {pins_on: pim}}}\n", "names \"pim\", which is none of its arbors"},
        {CLOCK "trains: {strike: {use: {7: {read: snail}}}}}\n",
         "\"7\" is not the minute of a lobe"},
        {CLOCK "trains: {strike: {pins: 9}}}\n", "it must be exactly once"},
        {CLOCK "trains: {strike: {power: {days: 9}}}}\n",
         "runs 8.0 days on one winding, but days says 9.0"},
        {CLOCK "trains: {strike: {power: {loss: \"21,5\"}}}}\n", "21,5"},
        {CLOCK "trains: {strike: {rack_teeth: 11}}}\n", "is 12 teeth deep, but the rack has 11"},
        {CLOCK "trains: {strike: {shares: music}}}\n",
         "shares the wheels of a train that is not there"},
        {CLOCK "trains: {strike: {snails: [{steps: [1, 2], edges: [0]}]}}}\n",
         "key \"edges\" wants 2 numbers"},
        {"clocks:\n  - {id: x, like: mantel-countwheel-90, name: X, trains: {strike: {entries: [1, "
         "2], wheel_blows: 90}}}\n",
         "add up to 3, not to the 90 stated"},
        {"clocks:\n  - {id: x, like: mantel-countwheel-90, name: X, trains: {strike: {entries: "
         "[12, 12, 12, 12, 42]}}}\n",
         "does not come round with the hands"},
        {"clocks:\n  - {id: x, like: floor-westminster-rack, name: X, trains: {chime: {tunes: "
         "[whittington-eight]}}}\n",
         "wants 8 bells, but the chime train has 4 hammers"},
        {"clocks:\n  - {id: x, like: floor-westminster-rack, name: X, trains: {chime: {tunes: "
         "[westminste]}}}\n",
         "\"westminste\" is no tune"},
        {"clocks:\n  - {id: x, like: floor-westminster-rack, name: X, trains: {chime: {tunes: "
         "[parsifal-bells]}}}\n",
         "has 0 quarters"},
        {"clocks:\n  - {id: x, like: floor-westminster-rack, name: X, lobes: [0, 15, 30, 45]}\n",
         "a corrector wants one lobe"},
        {"clocks:\n  - {id: x, like: roman-strike, name: X, trains: {strike: {entry_hammers: [a, "
         "a, a, a, a, a, a, a, a, a, a, a]}}}\n",
         "entry 2 has 2 blows"},
        {TUNE "changes: [\"1235\"], quarters: [1, 2, 3, 4]}\n",
         "the change uses bell 5, but the tune has 4 bells"},
        {TUNE "changes: [\"1234\", \"4321\", \"1324\"], quarters: [1, 2, 3, 4]}\n",
         "10 changes an hour, which is not a whole number of turns"},
        {TUNE "changes: [\"12x4\"]}\n", "a change is bell numbers"},
        {TUNE "changes: [\"0000\"]}\n", "is nothing but rests"},
        {TUNE "changes: [\"1234\"], pitch: [E4, F#4, G#4, B3]}\n",
         "bell 2 (F#4) is higher than bell 1 (E4)"},
        {TUNE "changes: [\"1234\"], pitch: [E4]}\n", "wants a list of 4 notes"},
        {"tunes:\n  - {id: x, name: X, bells: 4, changes: [\"1234\"]}\n",
         "lacks the key \"source\""},
        {FAULT "}\n", "changes nothing"},
        {FAULT "set: {tail_tooth: 1}}\n",
         "\"tail_tooth\" is no parameter of the mechanism; did you mean \"tail_teeth\"?"},
        {FAULT "set: {tail_teeth: 40}}\n", "tail_teeth"},
        {FAULT "vary: [{par: tail_teeth}]}\n", "an axis wants \"values\""},
        {FAULT "vary: [{par: tail_teeth, from: 0, to: 6, step: 0.01}]}\n",
         "601 values; 1 to 64 are allowed"},
        {FAULT "vary: [{par: tail_teeth, values: [9]}]}\n", "the value 9 lies outside"},
        {FAULT "vary: [{par: tail_teeth, values: [1, 2], weights: [1]}]}\n",
         "2 values but 1 weights"},
        {FAULT "needs: [rakc], start: [count_any]}\n", "did you mean \"rack\"?"},
        {FAULT "start: [counts_any]}\n", "did you mean \"count_any\"?"},
        {"faults:\n  - {id: x, name: X, part: rack tial, class: settin, about: a, prior: 1, cure: "
         "no-cure, source: s, start: [count_any]}\n",
         "did you mean \"rack tail\"?"},
        {"faults:\n  - {id: x, name: X, part: rack, class: setting, about: a, prior: 1, cure: "
         "no-cure, source: s, start: [count_any]}\n",
         "names the cure \"no-cure\", which no file gives"},
        {CURE "who: owner, hazard: spring}\n",
         "asks an owner to do what has the hazard \"spring\""},
        {CURE "who: someone, hazard: none}\n", "who"},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct err e = {0};
        bool met = false;
        size_t clocks = library_clocks(lib), tunes = library_tunes(lib),
               faults = library_faults(lib);
        if (add_text(rows[i].text, &e))
            fail_msg("this was taken:\n%s", rows[i].text);
        for (size_t k = 0; k < e.count && k < ERR_MOST; k++)
            met = met || strstr(e.line[k], rows[i].want);
        if (!met)
            fail_msg("%s\nwanted \"%s\", first sentence: %s", rows[i].text, rows[i].want,
                     e.count ? e.line[0] : "none");
        assert_true(library_clocks(lib) == clocks && library_tunes(lib) == tunes &&
                    library_faults(lib) == faults);
        assert_null(library_find_clock(lib, "x"));
        err_release(&e);
    }
}

static void all_mistakes_of_a_file_are_told_at_once(void **state)
{
    (void)state;
    struct err e = {0};
    assert_false(add_text(TUNE "changes: [\"99\"]}\n" FAULT
                               "set: {nothing_such: 1}, start: [nowhere]}\n" CURE
                               "who: nobody, hazard: none}\n",
                          &e));
    assert_true(e.count >= 4);
    err_release(&e);
}

static void a_folder_without_data_is_refused(void **state)
{
    (void)state;
    struct err e = {0};
    assert_null(library_load("no/such/folder", &e));
    assert_null(library_load("tests/cases", &e));
    assert_true(e.count >= 2);
    err_release(&e);
    library_free(NULL);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_library_holds_every_kind),
        cmocka_unit_test(count_wheels_add_up_to_the_published_divisions),
        cmocka_unit_test(the_counts_of_a_day_are_the_published_ones),
        cmocka_unit_test(half_past_twelve_and_one_are_silent_on_the_wheel_of_88),
        cmocka_unit_test(roman_hours_have_the_published_blows),
        cmocka_unit_test(a_step_of_the_snail_is_ready_when_its_hour_comes_and_stays_until_the_next),
        cmocka_unit_test(the_published_eight_day_train_closes),
        cmocka_unit_test(the_published_chime_train_turns_the_drum_twice_an_hour),
        cmocka_unit_test(turns_of_the_key_agree_with_a_makers_sheet),
        cmocka_unit_test(a_tower_pinion_turns_once_a_blow_when_the_wheel_has_leaves_times_cams),
        cmocka_unit_test(without_gear_counts_no_turns_are_told),
        cmocka_unit_test(lobes_are_found_forward_and_round_the_hour),
        cmocka_unit_test(westminster_has_its_five_changes_in_order),
        cmocka_unit_test(the_three_spacings_divide_the_drum_as_published),
        cmocka_unit_test(every_whittington_change_on_eight_rings_each_bell_once),
        cmocka_unit_test(whittington_of_1905_leaves_the_sixth_bell_out),
        cmocka_unit_test(the_old_whittington_rings_twelve_bells_in_threes),
        cmocka_unit_test(alleluia_is_turned_round_to_the_highest_bell),
        cmocka_unit_test(westminster_on_eight_is_westminster_on_bells_3_4_5_8),
        cmocka_unit_test(doncaster_strikes_no_bell_twice_running_in_its_third_quarter),
        cmocka_unit_test(the_two_royal_exchange_versions_agree_on_half_and_hour),
        cmocka_unit_test(music_and_pairs_have_their_published_counts),
        cmocka_unit_test(every_tune_names_its_source_and_standing),
        cmocka_unit_test(printed_notes_have_the_published_frequencies),
        cmocka_unit_test(what_is_no_note_is_refused),
        cmocka_unit_test(every_fault_has_a_cure_and_applies_to_some_clock),
        cmocka_unit_test(errors_of_assembly_are_as_many_as_wear),
        cmocka_unit_test(every_part_has_a_fault),
        cmocka_unit_test(cleaning_cures_no_wrong_count),
        cmocka_unit_test(every_parameter_is_changed_by_some_fault),
        cmocka_unit_test(tilts_name_words_of_the_call_sheet),
        cmocka_unit_test(the_history_speaks_for_a_class_where_the_row_does_not),
        cmocka_unit_test(hints_of_clocks_are_hints_of_the_call_sheet),
        cmocka_unit_test(every_sounder_has_a_voice_that_is_made),
        cmocka_unit_test(a_row_that_is_like_another_keeps_what_it_does_not_say),
        cmocka_unit_test(a_wrong_file_says_where_and_what_and_changes_nothing),
        cmocka_unit_test(all_mistakes_of_a_file_are_told_at_once),
        cmocka_unit_test(a_users_tune_and_clock_are_added_and_may_replace),
        cmocka_unit_test(a_folder_without_data_is_refused),
    };
    return cmocka_run_group_tests(tests, load, unload);
}
