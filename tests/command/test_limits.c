/* Every limit that an input may meet, with the last size that is taken and the first that is not.
 *
 * A row is a text of `count` like parts: `before`, then `part` again and again with `between` them, then
 * `after`; # in a part is its number from 1.  With `most` parts the text is read without a
 * sentence; with one more there is one sentence, it contains `says`, and the exit status is 2.
 *
 * Limits of the readers that everything goes through stand with them: YAML in test_yaml (length, depth,
 * values), files in test_text, WAVE files in test_pcm, recordings in decoder_suite.
 */
#include "suite.h"

#include <stdio.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#include "command/command.h"
#include "command/listen_live.h"
#include "command/options.h"
#include "diagnose/phrases.h"
#include "diagnose/sheet.h"
#include "diagnose/story.h"
#include "err.h"
#include "journal/journal_import.h"
#include "journal/journal_record.h"
#include "listen/decoder.h"
#include "mem.h"
#include "movement/library.h"
#include "sound/voice.h"
#include "text.h"

static struct words *words;
static struct phrases *phrases;
static char file[] = "/tmp/letoff-limits-XXXXXX";

static int open_shop(void **state)
{
    (void)state;
    words = words_load("chimes/words.yaml", NULL);
    phrases = phrases_load("chimes/phrases-en.yaml", words, NULL);
    int fd = mkstemp(file);
    close(fd);
    return words && phrases && fd >= 0 ? 0 : -1;
}

static int close_shop(void **state)
{
    (void)state;
    phrases_free(phrases);
    words_free(words);
    unlink(file);
    return 0;
}

/* Runs a verb in a child, its sentences going to `file`; the exit status. */
static int run(int argc, char **argv, struct err *told)
{
    int status;
    pid_t child = fork();
    if (child == 0) {
        if (!freopen("/dev/null", "w", stdout) || !freopen(file, "w", stderr))
            _exit(99);
        int said = command_run(argc, argv, NULL);
        fflush(NULL);
        _exit(said);
    }
    waitpid(child, &status, 0);
    char *text = text_read_file(file, 100000, NULL, told);
    for (char *at = text, *line; at && (line = strsep(&at, "\n"));)
        if (line[0])
            err_add(told, "%s", line);
    mem_free(text);
    return WIFEXITED(status) ? WEXITSTATUS(status) : -1;
}

/* ---- readers ---- */

static void sheet(const struct text *t, struct err *e)
{
    struct sheet s;
    sheet_init(&s, words);
    sheet_parse(&s, "sheet", text_cstr(t), t->length, e);
    sheet_release(&s);
}

static void shorthand(const struct text *t, struct err *e)
{
    struct sheet s;
    sheet_init(&s, words);
    sheet_parse_shorthand(&s, text_cstr(t), t->length, e);
    sheet_release(&s);
}

static void story(const struct text *t, struct err *e)
{
    struct sheet s;
    struct story story = {0};
    sheet_init(&s, words);
    story_read(phrases, text_cstr(t), t->length, &s, &story, e);
    story_release(&story);
    sheet_release(&s);
}

static void data(const struct text *t, struct err *e)
{
    struct library *lib = library_load("chimes", e);
    assert_non_null(lib);
    assert_true(text_write_file(file, text_cstr(t), t->length, e));
    library_add(lib, file, e);
    library_free(lib);
}

static void voices(const struct text *t, struct err *e)
{
    struct voice_set set = {0};
    assert_true(text_write_file(file, text_cstr(t), t->length, e));
    voice_set_load(&set, file, NULL, e);
    voice_set_release(&set);
}

static void vocabulary(const struct text *t, struct err *e)
{
    words_free(words_parse("words", text_cstr(t), t->length, e));
}

static void phrase_table(const struct text *t, struct err *e)
{
    phrases_free(phrases_parse("phrases", text_cstr(t), t->length, words, e));
}

static void journal_text(const struct text *t, struct err *e)
{
    mem_free(record_canonical(RECORD_CUSTOMER, (size_t)record_field_of(RECORD_CUSTOMER, "note"),
                              text_cstr(t), e));
}

static void taps(const struct text *t, struct err *e)
{
    struct hearing h = {0};
    listen_taps(text_cstr(t), &h, e);
    hearing_release(&h);
}

/* The same from the standard input of a child: what was told is passed on through `file`. */
static void taps_read(const struct text *t, struct err *e)
{
    char *argv[] = {"letoff", "listen", "--taps", "-", "--no-cause", NULL};
    int before = dup(STDIN_FILENO), status;
    assert_true(text_write_file(file, text_cstr(t), t->length, e));
    assert_non_null(freopen(file, "r", stdin));
    unlink(file); /* the child writes its sentences to a new one of that name */
    status = run(5, argv, e);
    assert_true(dup2(before, STDIN_FILENO) == STDIN_FILENO);
    close(before);
    assert_int_equal(status, err_status(e));
}

static void imported(const struct text *t, struct err *e)
{
    struct import_rows rows = {0};
    import_parse_csv("in", text_cstr(t), t->length, &rows, e);
    import_rows_release(&rows);
}

/* Kept with a call in a journal of its own. */
static void sheet_kept(const struct text *t, struct err *e)
{
    static char folder[] = "/tmp/letoff-limits-XXXXXX";
    char path[80], journal[80], command[100];
    char *argv[] = {"letoff", "journal", "add", "--sheet", path, "--journal", journal, NULL};
    assert_non_null(mkdtemp(folder));
    snprintf(path, sizeof path, "%s/call.yaml", folder);
    snprintf(journal, sizeof journal, "%s/journal.db", folder);
    assert_true(text_write_file(path, text_cstr(t), t->length, e));
    int status = run(7, argv, e);
    assert_int_equal(status, err_status(e));
    snprintf(command, sizeof command, "rm -r %s", folder);
    assert_int_equal(system(command), 0);
    memcpy(folder + strlen(folder) - 6, "XXXXXX", 6); /* to be made anew */
}

/* ---- rows ---- */

#define RACK "clocks:\n - {id: limit, name: Limit, like: longcase-rack, "
#define TUNE "tunes:\n - {id: limit, name: Limit, status: ours, source: ours, numbering: highest, "
#define FAULT                                                                                      \
    "faults:\n - {id: limit, name: Limit, part: rack tail, class: setting, about: a, prior: 1, "   \
    "cure: bend-tail, source: ours, "

#define PHRASES                                                                                    \
    "language: en\nnumbers: {one: 1}\nfiller: [the]\nnegators: [not]\njoiners: [and]\nnouns: "     \
    "[gong]\n"                                                                                     \
    "units: [minutes]\nrepeats: {once: 1}\nclasses: {x: [y]}\ntimes: [{say: noon, min: 0}]\n"

static const struct limit {
    const char *what;
    void (*read)(const struct text *t, struct err *e);
    const char *before, *part, *between, *after;
    size_t most;
    const char *says, *close; /* `close` stands as often as the part, behind them all */
} limits[] = {
    /* call sheets */
    {"rows heard", sheet, "heard:\n", "- {at: \"3:00\", strike: 2}\n", "", "", 500, "at most 500"},
    {"actions tried", sheet, "tried:\n", "- {do: wind}\n", "", "", 64, "at most 64"},
    {"counts of one row", sheet, "heard: [{at: \"3:00\", strike: [", "#", ", ", "]}]", 24, "24"},
    {"exceptions", sheet, "heard: [{at: every_quarter, strike: none, except: [", "\"#:00\"", ", ",
     "]}]", 24, "at most 24"},
    {"notes", sheet, "heard: [{at: \"3:00\", notes: \"", "1", "", "\"}]", 96, "1 to 96 notes"},
    {"intervals", sheet, "heard: [{at: \"3:00\", intervals_s: [", "1.5", ", ", "]}]", 64, "64"},
    {"letters of a clock's id", sheet, "heard: [{at: \"3:00\", strike: 2}]\nclock: ", "x", "", "\n",
     63, "at most 63"},
    {"bytes of a story", sheet, "story: ", "x", "", "\n", 20000, "at most 20000"},
    {"bytes of a source", sheet, "heard: [{at: \"3:00\", strike: 2}]\nsource: ", "x", "", "\n",
     20000, "at most 20000"},
    {"bytes of what was said", sheet, "heard: [{at: \"3:00\", strike: 2, said: ", "x", "", "}]",
     20000, "at most 20000"},
    /* shorthand */
    {"rows in shorthand", shorthand, "", "3:00 s2", ", ", "", 500, "more than 500 rows"},
    {"actions in shorthand", shorthand, "", "did wind", ", ", "", 64, "more than 64 actions"},
    {"bytes of an item", shorthand, "3:00 i2.", "0", "", "", 397, "over 400 bytes"},
    {"items of a row", shorthand, "had ", "@history", " ", "", 63, "more than 64 items"},
    {"counts in shorthand", shorthand, "3:00 s", "2", "/", "", 24, "s2/2"},
    {"notes in shorthand", shorthand, "3:00 n", "1", "", "", 96, "n111"},
    {"intervals in shorthand", shorthand, "3:00 i", "1.5", "/", "", 64, "i1.5"},
    {"exceptions in shorthand", shorthand, "quarters c0 not=", "#:00", "/", "", 24, "not="},
    /* free words */
    {"bytes of free words", story, "", "x", "", "", 20000, "at most 20000"},
    /* taps */
    {"taps", taps, "", "1.5", " ", "", LISTEN_TAPS_MOST, "more taps than the 10000"},
    {"bytes of taps that are read", taps_read, "1.5", " ", "", "", LISTEN_TYPED_MOST - 3, "1000000"},
    /* files taken in */
    {"columns of a file taken in", imported, "kind,", "label", ",", "\n", IMPORT_COLUMNS_MOST - 1,
     "more than 64 columns"},
    /* clocks */
    {"lobes", data, RACK "lobes: [", "<", ", ", "]}\n", 4, "lobes"},
    {"sounders", data, RACK "sounders: [{name: bell, voice: bell-small, pitch: A4}, ",
     "{name: s#, voice: bell-small, pitch: A4}", ", ", "]}\n", 15, "sounders"},
    {"patterns", data, RACK "trains: {strike: {patterns: [", "[bell]", ", ", "]}}}\n", 4,
     "patterns"},
    {"strokes of a pattern", data, RACK "trains: {strike: {patterns: [[", "bell", ", ", "]]}}}\n",
     4, "patterns"},
    {"arbors", data, RACK "trains: {music: {arbors: [", "{name: a#, wheel: 60, pinion: 8}", ", ",
     "]}}}\n", 8, "arbors"},
    {"hints", data, RACK "hints: {", "x#: y", ", ", "}}\n", 20, "more than 20 hints"},
    {"rows like a row", data, "clocks:\n - {id: l0, name: L, like: longcase-rack}\n",
     " - {id: l#, name: L, like: l<}\n", "", "", 7, "deep"},
    {"steps of a snail", data,
     "clocks:\n - {id: limit, name: Limit, like: ships-bell-dog, trains: {strike: {snails: "
     "[{turn_min: 1440, "
     "lead_min: 15, bevelled: yes, steps: [",
     "@1 1 2 2 3 3 4 4 1 1 2 2 3 3 4 4 1 1 2 2 3 3 4 4 1 1 2 2 3 3 4 4 1 1 2 2 1 1 2 4 1 1 2 2 3 3 "
     "4 4 1",
     ", ", "]}]}}}\n", 48, "steps"},
    {"snails", data, RACK "trains: {strike: {snails: [",
     "{turn_min: 720, lead_min: 30, steps: [1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12]}", ", ",
     "]}}}\n", 3, "snails"},
    {"counts of a count wheel", data,
     "clocks:\n - {id: limit, name: Limit, like: countwheel-78, lobes: [0, 15, 30, 45], day_blows: "
     "192, "
     "trains: {strike: {use: {0: {read: count}, 15: {read: count}, 30: {read: count}, 45: {read: "
     "count}}, wheel_blows: 96, entries: [",
     "2", ", ", "]}}}\n", 48, "entries"},
    /* tunes */
    {"notes of a tune", data, TUNE "bells: 4, changes: [", "4321", ", ",
     "], quarters: [48], gap: 2, pitch: [G#4, F#4, E4, B3]}\n", 48, "1 to 48 changes"},
    {"notes of all changes", data, TUNE "bells: 9, changes: [",
     "123456789123456789123456789123456789123456789123456789123456789123456789123456789123456789123"
     "456",
     ", ", "], quarters: [4], gap: 2, pitch: [C5, B4, A4, G4, F4, E4, D4, C4, B3]}\n", 4,
     "more than 400 notes"},
    /* faults */
    {"parameters that are set", data, FAULT "set: {",
     "@\"lift_loss\":0 \"tail_teeth\":0 \"tail_len\":0 \"tail_side\":0 \"hook_zone\":0 "
     "\"rack_stick\":0 \"rack_part\":0 \"rack_over\":0 \"hook_up\":0",
     ", ", "}}\n", 8, "at most 8"},
    {"axes", data, FAULT "vary: [", "{par: tail_teeth, values: [-1]}", ", ", "]}\n", 3,
     "at most 3"},
    {"values of an axis", data, FAULT "vary: [{par: tail_teeth, values: [", "-1", ", ", "]}]}\n",
     64, "at most 64"},
    /* voices */
    {"partials", voices, "voices:\n - {id: limit, name: Limit, source: ours, partials: [",
     "{ratio: #, level: 1}", ", ", "]}\n", 24, "24"},
    /* vocabularies and phrases */
    {"words", vocabulary, "words:\n",
     "- {kind: seen, id: w#, ask: w, explain: w, minutes: 1, picture: house}\n", "", "", 512,
     "more than 512 words"},
    {"brackets in brackets", phrase_table, PHRASES "phrases:\n - {say: \"a ", "(b ", "",
     "\", gives: \"had moved_house\"}\n", 8, "deep", ")"},
    {"words of one pattern", phrase_table, PHRASES "phrases:\n - {say: \"", "b", " ",
     "\", gives: \"had moved_house\"}\n", 1996, "too long"},
    {"bytes of what a phrase gives", phrase_table,
     PHRASES "phrases:\n - {say: a, gives: \"had moved_house", " ", "", "\"}\n", 185,
     "over 200 bytes"},
    /* journal */
    {"bytes of a sheet that is kept", sheet_kept, "heard: [{at: \"3:00\", strike: 2}]\n#", "x", "", "",
     1000000 - 34, "1000000"},
    {"bytes of one value of a record", journal_text, "", "x", "", "", 1000000, "at most 1000000"},
};

/* The part of that number: "@a b c" names a, b, c one after another, "@history" the words of that kind. */
static void add_part(const char *part, size_t number, struct text *t)
{
    if (!strcmp(part, "@history")) {
        text_add(t, words_at(words, WORD_HISTORY, number - 1)->id);
    } else if (part[0] == '@') {
        const char *from = part + 1;
        for (size_t i = 1; i < number; i++)
            from += strcspn(from, " ") + 1;
        text_add_bytes(t, from, strcspn(from, " "));
    } else {
        for (const char *c = part; *c; c++)
            if (*c == '#')
                text_addf(t, "%zu", number);
            else if (*c == '<')
                text_addf(t, "%zu", number - 1);
            else
                text_add_bytes(t, c, 1);
    }
}

static void build(const struct limit *l, size_t count, struct text *t)
{
    text_clear(t);
    text_add(t, l->before);
    for (size_t i = 1; i <= count; i++) {
        text_add(t, i > 1 ? l->between : "");
        add_part(l->part, i, t);
    }
    for (size_t i = 0; l->close && i < count; i++)
        text_add(t, l->close);
    text_add(t, l->after);
}

static void the_last_size_is_taken_and_the_next_is_refused_in_one_sentence(void **state)
{
    struct text t = {0};
    int bad = 0;
    (void)state;
    for (size_t i = 0; i < sizeof limits / sizeof *limits; i++) {
        const struct limit *l = &limits[i];
        struct err at = {0}, past = {0};
        build(l, l->most, &t);
        l->read(&t, &at);
        build(l, l->most + 1, &t);
        l->read(&t, &past);
        bool good = at.count == 0 && past.count == 1 && err_status(&past) == 2 &&
                    strstr(past.line[0], l->says);
        if (!good)
            print_message(
                "%s: %zu gives %zu sentences (%s), one more gives %zu with status %d: %s\n",
                l->what, l->most, at.count, at.count ? at.line[0] : "", past.count,
                err_status(&past), past.count ? past.line[0] : "");
        bad += !good;
        err_release(&at);
        err_release(&past);
    }
    text_release(&t);
    assert_int_equal(bad, 0);
}

/* ---- numbers ---- */

/* What is wrong with `value` in the place of % in `form`; it must be taken, or refused in one sentence that
 * has `says` in it. */
static int misread(void (*read)(const struct text *t, struct err *e), const char *form, const char *value,
                   const char *says)
{
    struct text t = {0};
    struct err e = {0};
    const char *place = strchr(form, '%');
    text_add_bytes(&t, form, (size_t)(place - form));
    text_add(&t, value);
    text_add(&t, place + 1);
    read(&t, &e);
    bool good = says ? e.count == 1 && err_status(&e) == 2 && strstr(e.line[0], says) : e.count == 0;
    if (!good)
        print_message("%s: %zu sentences, expected %s: %s\n", text_cstr(&t), e.count, says ? says : "none",
                      e.count ? e.line[0] : "");
    err_release(&e);
    text_release(&t);
    return !good;
}

#define VOICE "voices:\n - {id: limit, name: Limit, source: ours, partials: [{ratio: 1, level: 1}], "

static void numbers_of_a_sheet_and_of_data_are_taken_up_to_both_ends_of_their_range(void **state)
{
    static const struct {
        void (*read)(const struct text *t, struct err *e);
        const char *form, *below, *low, *high, *above, *says;
    } rows[] = {
        {sheet, "heard: [{at: \"3:00\", strike: %}]", "-1", "0", "24", "25", "24"},
        {sheet, "heard: [{at: \"3:00\", strike: [1, %]}]", "-1", "0", "24", "25", "24"},
        {sheet, "heard: [{at: \"3:00\", strike_error: %}]", "-25", "-24", "24", "25", "24"},
        {sheet, "heard: [{at: \"3:00\", phrases: %}]", "-1", "0", "24", "25", "24"},
        {sheet, "heard: [{at: \"3:00\", quarter: %}]", "0", "1", "4", "5", "1, 2, 3, 4"},
        {sheet, "heard: [{at: \"3:00\", interval_s: %}]", "0.009", "0.01", "600", "600.1", "600"},
        {sheet, "heard: [{at: \"3:00\", intervals_s: [1, %]}]", "0.009", "0.01", "600", "600.1", "600"},
        {sheet, "heard: [{at: \"3:00\", pause_s: %}]", "0.009", "0.01", "3600", "3600.1", "3600"},
        {sheet, "heard: [{at: \"%\", strike: 2}]", "-1:00", "0:00", "24:00", "24:01", "24:01"},
        {sheet, "heard: [{at: \"3:%\", strike: 2}]", "-1", "00", "59", "60", "60"},
        {sheet, "heard: [{at: \"*:%\", strike: 2}]", "-1", "00", "59", "60", "60"},
        {sheet, "heard: [{date: \"2024-02-%\", strike: 2}]", "00", "01", "29", "30", "2024-02-30"},
        {sheet, "heard: [{date: \"2025-02-%\", strike: 2}]", "00", "01", "28", "29", "2025-02-29"},
        {sheet, "heard: [{strike: 2}]\nhands: \"%\"", "-1:00", "0:00", "24:00", "24:01", "24:01"},
        {sheet, "years_since_oil: %\nheard: [{strike: 2}]", "-0.1", "0", "500", "500.1", "500"},
        {shorthand, "3:00 s%", "-25", "0", "24", "25", "s25"},
        {shorthand, "3:00 s1/%", "-1", "0", "24", "25", "25"},
        {shorthand, "hours s%", "-25", "-24", "+24", "+25", "s+25"},
        {shorthand, "3:00 p%", "-1", "0", "24", "25", "p25"},
        {shorthand, "3:00 q%", "0", "1", "4", "5", "q5"},
        {shorthand, "3:00 i%", "0.009", "0.01", "600", "600.1", "i600.1"},
        {shorthand, "3:00 pause=%", "0.009", "0.01", "3600", "3600.1", "3600.1"},
        {shorthand, "%:00 s2", "-1", "0", "24", "25", "25:00"},
        {shorthand, "3:% s2", "-1", "00", "59", "60", "3:60"},
        {shorthand, "oil %", "-0.1", "0", "500", "500.1", "0 to 500"},
        {voices, VOICE "t60_s: %}\n", "0.009", "0.01", "120", "121", "0.01 to 120"},
        {voices, VOICE "t60_slope: %}\n", "-0.1", "0", "3", "3.1", "0 to 3"},
        {voices, VOICE "contact_ms: %}\n", "0.01", "0.02", "20", "21", "0.02 to 20"},
        {voices, VOICE "level: %}\n", "0.0009", "0.001", "1", "1.1", "0.001 to 1"},
        {data, RACK "share: %}\n", "-1", "0", "100", "101", "0 to 100"},
        {data, RACK "warn_min: %}\n", "-1", "0", "14", "15", "0 to 14"},
        {data, TUNE "bells: 4, changes: [4321], quarters: [1], gap: %, pitch: [G#4, F#4, E4, B3]}\n", "0.9", "1", "8",
         "8.1", "1 to 8"},
        {data, "faults:\n - {id: limit, name: Limit, part: rack tail, class: setting, about: a, cure: bend-tail, source: ours, "
         "set: {tail_teeth: -1}, prior: %}\n", "0.0009", "0.001", "100", "101", "0.001 to 100"},
        {vocabulary, "words:\n- {kind: seen, id: w, ask: w, explain: w, picture: house, minutes: %}\n", "-1", "0", "120",
         "121", "0 to 120"},
        {taps, "0 %", "-0.1", "0", "86400", "86400.1", "86400"},
        {taps, "0 1:%", "-1", "0", "9", "10", "1:10"},
    };
    int bad = 0;
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        bad += misread(rows[i].read, rows[i].form, rows[i].below, "");
        bad += misread(rows[i].read, rows[i].form, rows[i].low, NULL);
        bad += misread(rows[i].read, rows[i].form, rows[i].high, NULL);
        bad += misread(rows[i].read, rows[i].form, rows[i].above, rows[i].says);
    }
    assert_int_equal(bad, 0);
}

static void numbers_of_hints_are_taken_up_to_both_ends_of_their_range(void **state)
{
    int bad = 0, met = 0;
    (void)state;
    for (size_t i = 0; i < words_count(words, WORD_HINT); i++) {
        const struct word *w = words_at(words, WORD_HINT, i);
        char form[200], value[4][32];
        if (w->values)
            continue;
        met++;
        snprintf(form, sizeof form, "hints: {%s: %%}\nheard: [{strike: 2}]", w->id);
        snprintf(value[0], sizeof value[0], "%ld", w->low - 1);
        snprintf(value[1], sizeof value[1], "%ld", w->low);
        snprintf(value[2], sizeof value[2], "%ld", w->high);
        snprintf(value[3], sizeof value[3], "%ld", w->high + 1);
        for (int k = 0; k < 4; k++)
            bad += misread(sheet, form, value[k], k == 0 || k == 3 ? w->id : NULL);
    }
    assert_true(met >= 3);
    assert_int_equal(bad, 0);
}

/* ---- words behind a verb ---- */

#define ARGUMENTS 520

/* `part` (cut at blanks) `count` times behind `before`. */
static int arguments(const char *before, const char *part, size_t count, char **argv)
{
    struct text line = {0};
    int argc = 0;
    text_addf(&line, "letoff %s", before);
    for (size_t i = 0; i < count; i++)
        text_addf(&line, " %s", part);
    for (char *copy = mem_copy_text(text_cstr(&line)), *w;
         argc < ARGUMENTS - 1 && (w = strsep(&copy, " "));)
        argv[argc++] = w;
    argv[argc] = NULL;
    text_release(&line);
    return argc;
}

static void so_many_words_are_taken_behind_a_verb_and_not_one_more(void **state)
{
    static const struct {
        const char *before, *part;
        size_t most;
        const char *says;
    } rows[] = {
        {"play longcase-rack --no-sound", "--fault rack-worn", 16, "at most 16 times"},

        {"check", "chimes/ship.yaml", 500, "one word too many"},
        {"journal import --journal /nowhere/j", "chimes/ship.yaml", 32, "one word too many"},
    };
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++)
        for (size_t more = 0; more <= 1; more++) {
            char *argv[ARGUMENTS];
            struct err told = {0};
            int status = run(arguments(rows[i].before, rows[i].part, rows[i].most + more, argv),
                             argv, &told);
            bool refused = false;
            for (size_t k = 0; k < told.count && k < ERR_MOST; k++)
                refused = refused || strstr(told.line[k], rows[i].says);
            if (refused != (more == 1) || (more && (status != 2 || told.count != 1)))
                fail_msg("%s, %zu: status %d, %zu sentences: %s", rows[i].before,
                         rows[i].most + more, status, told.count, told.count ? told.line[0] : "");
            err_release(&told);
            mem_free(argv[0]);
        }
}

/* The option --quite-another, which is none, ends each of these before anything is done. */
static void numbers_of_options_are_taken_up_to_both_ends_of_their_range(void **state)
{
    static const struct {
        const char *before, *option, *below, *low, *high, *above;
    } rows[] = {
        {"find --quite-another", "--most", "0", "1", "500", "501"},
        {"listen --quite-another", "--most", "0", "1", "500", "501"},
        {"listen --quite-another --live", "--seconds", "0.09", "0.1", "1800", "1800.1"},
        {"listen --quite-another", "--at", "-1:00", "0:00", "24:00", "24:01"},
        {"play --quite-another", "--seed", "-1", "0", "2147483647", "2147483648"},
        {"play --quite-another", "--from", "-1:00", "0:00", "24:00", "24:01"},
        {"drill --quite-another", "--seed", "-1", "0", "2147483647", "2147483648"},
        {"drill --quite-another", "--rounds", "0", "1", "1000", "1001"},
        {"drill --quite-another", "--level", "0", "1", "5", "6"},
        {"resync --quite-another", "--struck", "-1", "0", "24", "25"},
        {"resync --quite-another", "--phrase", "-1", "0", "12", "13"},
        {"resync --quite-another", "--tune", "-1", "0", "15", "16"},
        {"journal list --quite-another", "--most", "0", "1", "1000000", "1000001"},
        {"journal stats --quite-another", "--year", "1899", "1900", "9999", "10000"},
        {"journal close --quite-another", "--minutes", "-1", "0", "100000", "100001"},
        {"journal plan --quite-another", "--minutes", "-1", "0", "10000", "10001"},
    };
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        const char *value[] = {rows[i].below, rows[i].low, rows[i].high, rows[i].above};
        for (int k = 0; k < 4; k++) {
            char line[200], *argv[ARGUMENTS];
            struct err told = {0};
            bool past = k == 0 || k == 3, named = false;
            snprintf(line, sizeof line, "%s %s=%s", rows[i].before, rows[i].option, value[k]);
            assert_int_equal(run(arguments(line, "", 0, argv), argv, &told), 2);
            for (size_t n = 0; n < told.count && n < ERR_MOST; n++)
                named = named || !strncmp(told.line[n], rows[i].option, strlen(rows[i].option));
            if (named != past)
                fail_msg("letoff %s: %zu sentences: %s", line, told.count, told.count ? told.line[0] : "");
            err_release(&told);
            mem_free(argv[0]);
        }
    }
}

/* Sparse files of nothing: neither is a table, only the second is too long to be looked at. */
static void a_file_to_take_in_is_looked_at_up_to_its_longest(void **state)
{
    char folder[] = "/tmp/letoff-limits-XXXXXX", path[80], journal[80], command[100];
    char *argv[] = {"letoff", "journal", "import", path, "--journal", journal, NULL};
    (void)state;
    assert_non_null(mkdtemp(folder));
    snprintf(path, sizeof path, "%s/rows.csv", folder);
    snprintf(journal, sizeof journal, "%s/journal.db", folder);
    for (int over = 0; over <= 1; over++) {
        struct err e = {0};
        assert_true(text_write_file(path, "", 0, &e));
        assert_int_equal(truncate(path, IMPORT_BYTES_MOST + over), 0);
        assert_int_equal(run(6, argv, &e), 2);
        assert_true(e.count >= 1);
        assert_int_equal(strstr(e.line[0], "longer than the 256000000 bytes") != NULL, over);
        err_release(&e);
    }
    snprintf(command, sizeof command, "rm -r %s", folder);
    assert_int_equal(system(command), 0);
}

/* The manual's limits are those of the headers. */
static void the_manual_tells_the_limits_as_they_are(void **state)
{
    static const struct {
        const char *form;
        long limit;
    } rows[] = {
        {"%s rows heard", SHEET_ROWS},
        {"%s actions tried", SHEET_TRIED},
        {"counts up to %s", SHEET_COUNT_MOST},
        {"%s notes", SHEET_NOTES},
        {"%s intervals", SHEET_INTERVALS},
        {"texts of %s bytes", SHEET_TEXT},
        {"%s hours (half an hour", DECODER_SECONDS_MOST / 3600},
        {"%s, within a day", LISTEN_TAPS_MOST},
        {"%s bytes from the standard input", LISTEN_TYPED_MOST},
        {"%s bytes in one value", RECORD_TEXT_MOST},
        {"%s MB in a file that is taken in", IMPORT_BYTES_MOST / 1000000},
        {"%s times", OPTION_MOST},
    };
    struct err e = {0};
    char *manual = text_read_file("src/package/manual-tail.1", 1 << 20, NULL, &e);
    (void)state;
    assert_non_null(manual);
    assert_true(LISTEN_LIVE_MOST_S == 1800 && LISTEN_TAP_LAST_S == 86400); /* half an hour, a day */
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        char number[32], said[80];
        long n = rows[i].limit;
        if (n < 1000)
            snprintf(number, sizeof number, "%ld", n);
        else if (n < 1000000)
            snprintf(number, sizeof number, "%ld,%03ld", n / 1000, n % 1000);
        else
            snprintf(number, sizeof number, "%ld,%03ld,%03ld", n / 1000000, n / 1000 % 1000, n % 1000);
        const char *place = strstr(rows[i].form, "%s");
        snprintf(said, sizeof said, "%.*s%s%s", (int)(place - rows[i].form), rows[i].form, number, place + 2);
        if (!strstr(manual, said))
            fail_msg("the manual does not say \"%s\"", said);
    }
    mem_free(manual);
}

/* A story of more let-offs than a sheet has rows: what did not fit is told, nothing is lost without a word. */
static void a_story_with_more_than_500_times_is_accounted_for_to_the_end(void **state)
{
    struct text t = {0};
    struct sheet s;
    struct story account = {0};
    struct err e = {0};
    size_t told = 0;
    (void)state;
    for (int i = 0; i < 700; i++)
        text_addf(&t, "at %d:%02d it struck %d. ", 1 + i % 12, i / 12, 1 + i % 9);
    assert_true(t.length < SHEET_TEXT);
    sheet_init(&s, words);
    assert_true(story_read(phrases, text_cstr(&t), t.length, &s, &account, &e));
    assert_in_range(s.heards, 400, SHEET_ROWS);
    for (size_t i = 0; i < account.parts; i++)
        told += account.part[i].kind != STORY_UNDERSTOOD;
    assert_true(told > 0);
    story_release(&account);
    sheet_release(&s);
    err_release(&e);
    text_release(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_last_size_is_taken_and_the_next_is_refused_in_one_sentence),
        cmocka_unit_test(numbers_of_a_sheet_and_of_data_are_taken_up_to_both_ends_of_their_range),
        cmocka_unit_test(numbers_of_hints_are_taken_up_to_both_ends_of_their_range),
        cmocka_unit_test(numbers_of_options_are_taken_up_to_both_ends_of_their_range),
        cmocka_unit_test(so_many_words_are_taken_behind_a_verb_and_not_one_more),
        cmocka_unit_test(a_file_to_take_in_is_looked_at_up_to_its_longest),
        cmocka_unit_test(the_manual_tells_the_limits_as_they_are),
        cmocka_unit_test(a_story_with_more_than_500_times_is_accounted_for_to_the_end),
    };
    return cmocka_run_group_tests(tests, open_shop, close_shop);
}
