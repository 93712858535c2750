/* verb_doctor.c - what of this machine works for letoff, and how to mend what does not.
 *
 * To add a check: write a function that looks, says what it found in f->said and, when that is not
 * all that could be wished, what to do about it in f->mend; add its row to the table below.
 * Looking changes nothing: no file is made, no record written.
 */
#include <jansson.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "command/command.h"
#include "command/options.h"
#include "command/voices.h"
#include "diagnose/words.h"
#include "draw/type_case.h"
#include "journal/journal.h"
#include "listen/decoder.h"
#include "mem.h"
#include "movement/library.h"
#include "place.h"
#include "sound/devices.h"

enum health { HEALTH_GOOD, HEALTH_LIMITED, HEALTH_BROKEN };
static const char *const health_word[] = {
    [HEALTH_GOOD] = "good", [HEALTH_LIMITED] = "limited", [HEALTH_BROKEN] = "broken"};

struct finding {
    enum health health;
    struct text said, mend;
    const char *journal; /* where it is, NULL for the usual place */
};

/* The sentences of `e` as what was found; empties it. */
static enum health complain(struct finding *f, enum health health, struct err *e)
{
    for (size_t i = 0; i < e->count && i < ERR_MOST; i++)
        text_addf(&f->said, "%s%s", i ? " " : "", e->line[i]);
    err_release(e);
    return health;
}

/* ---- data ---- */

static enum health look_at_data(struct finding *f)
{
    struct err e = {0};
    struct text user = {0};
    struct library *lib = library_load(NULL, &e);
    bool own = place_user(PLACE_CHIMES, &user);
    if (lib)
        text_addf(&f->said, "%zu clocks, %zu tunes and %zu faults from %s%s%s", library_clocks(lib),
                  library_tunes(lib), library_faults(lib), library_folder(lib), own ? " and " : "",
                  own ? text_cstr(&user) : "");
    else
        text_addf(&f->mend, "Install the program's chimes again, or set %s to their folder%s%s.",
                  place_variable(PLACE_CHIMES),
                  own ? "; what is wrong in your own files must be mended there: " : "",
                  own ? text_cstr(&user) : "");
    text_release(&user);
    library_free(lib);
    return lib ? HEALTH_GOOD : complain(f, HEALTH_BROKEN, &e);
}

static enum health look_at_words(struct finding *f)
{
    struct err e = {0};
    struct text path = {0};
    size_t count = 0;
    place_own(PLACE_CHIMES, &path);
    text_add(&path, "/words.yaml");
    struct words *words = words_load(text_cstr(&path), &e);
    for (int k = 0; words && k < WORD_KINDS; k++)
        count += words_count(words, (enum word_kind)k);
    if (words)
        text_addf(&f->said, "%zu words of the call sheet", count);
    else
        text_add(&f->mend, "Install the program's chimes again.");
    text_release(&path);
    words_free(words);
    return words ? HEALTH_GOOD : complain(f, HEALTH_BROKEN, &e);
}

static enum health look_at_voices(struct finding *f)
{
    struct err e = {0};
    struct voice_set set = {0};
    bool good = voices_load(&set, &e);
    if (good)
        text_addf(&f->said, "%zu voices", set.count);
    else
        text_addf(&f->mend,
                  "Nothing can be played until the voices are there: install them again, or set %s "
                  "to their folder.",
                  place_variable(PLACE_SOUNDS));
    voice_set_release(&set);
    return good ? HEALTH_GOOD : complain(f, HEALTH_LIMITED, &e);
}

/* ---- the journal ---- */

/* The folder a file would be made in, or the nearest above it that is there. */
static bool folder_can_be_written(const char *path)
{
    char *folder = mem_copy_text(path), *slash;
    bool good = false;
    while ((slash = strrchr(folder, '/'))) {
        slash[slash == folder] = 0;
        if (place_is_folder(folder)) {
            good = access(folder, W_OK | X_OK) == 0;
            break;
        }
    }
    mem_free(folder);
    return good;
}

static enum health look_at_absent_journal(struct finding *f, const char *where)
{
    if (folder_can_be_written(where)) {
        text_addf(&f->said, "none yet; the first call makes it in %s", where);
        return HEALTH_GOOD;
    }
    text_addf(&f->said, "none, and its folder cannot be written: %s", where);
    text_add(
        &f->mend,
        "Calls are answered but not kept.  Give --journal PLACE, or make that folder writable.");
    return HEALTH_LIMITED;
}

static enum health look_inside_journal(struct finding *f, const char *where)
{
    struct err e = {0};
    const struct journal_options options = {.read_only = true, .must_exist = true, .busy_ms = 500};
    struct journal *j = journal_open(where, &options, &e);
    size_t calls = 0;
    bool good = j && journal_verify(j, &e) && journal_count(j, RECORD_CALL, &calls, &e);
    if (good)
        text_addf(&f->said, "%zu calls in %s, undamaged", calls, journal_name(j));
    else
        text_add(&f->mend, "Calls are answered but not kept.  Give --journal PLACE for another "
                           "one, or bring back a copy of it.");
    journal_close(j);
    return good ? HEALTH_GOOD : complain(f, HEALTH_LIMITED, &e);
}

static enum health look_at_journal(struct finding *f)
{
    struct stat st;
    char *usual = f->journal ? NULL : journal_default_path();
    const char *where = f->journal ? f->journal : usual;
    enum health h = HEALTH_LIMITED;
    if (!where) {
        text_add(&f->said, "no place for it: neither XDG_DATA_HOME nor HOME names a folder");
        text_add(&f->mend, "Set HOME, or give --journal PLACE.");
    } else if (!strstr(where, "://") && stat(where, &st) != 0) {
        h = look_at_absent_journal(f, where);
    } else {
        h = look_inside_journal(f, where);
    }
    mem_free(usual);
    return h;
}

/* ---- recordings ---- */

/* A tenth of a second, as a file that has no name: of whole numbers (1), or of logarithmic ones (7), which take the
 * libraries that read every other kind of file. */
static FILE *short_recording(unsigned char code)
{
    unsigned char head[44] = {
        'R', 'I', 'F', 'F', 0xa4, 0x0c, 0,   0,   'W', 'A',  'V',  'E',  'f', 'm', 't',
        ' ', 16,  0,   0,   0,    1,    0,   1,   0,   0x80, 0x3e, 0,    0,   0,   0x7d,
        0,   0,   2,   0,   16,   0,    'd', 'a', 't', 'a',  0x80, 0x0c, 0,   0,
    };
    static const unsigned char silence[3200];
    FILE *file = tmpfile();
    head[20] = code;
    if (code == 7) {
        head[29] = 0x3e; /* bytes a second */
        head[32] = 1;    /* bytes of one moment */
        head[34] = 8;    /* bits */
        head[41] = 0x06; /* bytes in all */
        head[40] = 0x40;
    }
    if (file && (fwrite(head, sizeof head, 1, file) != 1 ||
                 fwrite(silence, sizeof silence, 1, file) != 1 || fflush(file))) {
        fclose(file);
        return NULL;
    }
    return file;
}

static bool decodes(struct finding *f, unsigned char code, struct err *e)
{
    char path[64];
    struct pcm heard = {0};
    FILE *file = short_recording(code);
    if (!file) {
        text_add(&f->said, "there is no room for temporary files to try it with");
        return false;
    }
    snprintf(path, sizeof path, "/proc/self/fd/%d", fileno(file));
    bool good = decoder_read(path, &heard, e) && heard.frames == 1600;
    pcm_release(&heard);
    fclose(file);
    return good;
}

static enum health look_at_decoder(struct finding *f)
{
    struct err e = {0};
    char path[4096];
    if (!decoder_program(path, sizeof path)) {
        text_add(&f->said, "letoff-decode was not found");
        text_add(&f->mend, "Install the program again, or set LETOFF_DECODE to where it is; "
                           "without it no recording can be listened to.");
        return HEALTH_LIMITED;
    }
    if (decodes(f, 1, &e) && decodes(f, 7, &e)) {
        text_addf(&f->said, "%s, locked in", path);
        return HEALTH_GOOD;
    }
    text_addf(&f->mend,
              "%s was tried with a short recording of its own.  It needs a kernel with seccomp "
              "filters and a mounted /proc.",
              path);
    return complain(f, HEALTH_LIMITED, &e);
}

/* ---- devices ---- */

static enum health look_at_loudspeaker(struct finding *f)
{
    if (devices_look(DEVICE_LOUDSPEAKER, &f->said))
        return HEALTH_GOOD;
    text_add(&f->mend, "Nothing will be heard; --out FILE.wav writes the sound instead.  Plug one "
                       "in, start the sound server, "
                       "or choose another driver with SDL_AUDIODRIVER.");
    return HEALTH_LIMITED;
}

static enum health look_at_microphone(struct finding *f)
{
    if (devices_look(DEVICE_MICROPHONE, &f->said))
        return HEALTH_GOOD;
    text_add(&f->mend, "Recordings from files can be listened to all the same.");
    return HEALTH_LIMITED;
}

static enum health look_at_display(struct finding *f)
{
    if (devices_look(DEVICE_DISPLAY, &f->said))
        return HEALTH_GOOD;
    text_add(&f->mend, "The window cannot be opened; every verb works in the terminal.  Start it "
                       "from a desktop, or set DISPLAY.");
    return HEALTH_LIMITED;
}

static enum health look_at_fonts(struct finding *f)
{
    static const enum type shown[] = {TYPE_BODY, TYPE_UI, TYPE_MONO};
    struct err e = {0};
    struct type_case *t = type_case_new(&e);
    if (!t)
        return complain(f, HEALTH_BROKEN, &e);
    bool all = true, first_choice = true;
    for (size_t i = 0; all && i < sizeof shown / sizeof *shown; i++) {
        struct text face = {0};
        all = type_case_face(t, shown[i], &face);
        first_choice =
            first_choice && face.length && !strncmp(ink_family(shown[i]), face.at, face.length);
        text_addf(&f->said, "%s%s", i && all ? ", " : "", text_cstr(&face));
        text_release(&face);
    }
    type_case_free(t);
    if (!all)
        text_add(&f->said, "there are no fonts");
    if (!all || !first_choice)
        text_addf(&f->mend, "Install the package %s for %s.",
                  all ? "fonts-linuxlibertine" : "fonts-dejavu-core",
                  all ? "the type the papers were laid out in"
                      : "any text in the window and on paper");
    return all ? HEALTH_GOOD : HEALTH_LIMITED;
}

/* ---- the table ---- */

static const struct check {
    const char *id;
    enum health (*look)(struct finding *f);
} checks[] = {
    {"data", look_at_data},
    {"words", look_at_words},
    {"voices", look_at_voices},
    {"journal", look_at_journal},
    {"decoder", look_at_decoder},
    {"loudspeaker", look_at_loudspeaker},
    {"microphone", look_at_microphone},
    {"display", look_at_display},
    {"fonts", look_at_fonts},
};
#define CHECKS (sizeof checks / sizeof checks[0])

static void print(const struct check *c, const struct finding *f)
{
    printf("%-12s %-8s %s\n", c->id, health_word[f->health], text_cstr(&f->said));
    if (f->mend.length)
        printf("%21s %s\n", "", text_cstr(&f->mend));
}

static json_t *as_row(const struct check *c, const struct finding *f)
{
    return json_pack("{s:s, s:s, s:s, s:s}", "id", c->id, "health", health_word[f->health], "said",
                     text_cstr(&f->said), "mend", text_cstr(&f->mend));
}

/* Runs all checks; true when calls can be answered, whatever else is amiss. */
static bool examine(const char *journal, json_t *rows)
{
    bool good = true;
    for (size_t i = 0; i < CHECKS; i++) {
        struct finding f = {.journal = journal};
        f.health = checks[i].look(&f);
        good = good && f.health != HEALTH_BROKEN;
        if (rows)
            json_array_append_new(rows, as_row(&checks[i], &f));
        else
            print(&checks[i], &f);
        text_release(&f.said);
        text_release(&f.mend);
    }
    return good;
}

int verb_doctor(int argc, char **argv)
{
    const char *journal = NULL;
    bool as_json = false;
    const struct option options[] = {
        {"--journal", OPTION_TEXT, &journal, "PLACE",
         "a file or postgresql://... in place of the usual journal", 0, 0},
        {"--json", OPTION_FLAG, &as_json, NULL, "print the findings as JSON", 0, 0},
    };
    const struct usage u = {
        "letoff doctor [--journal PLACE]",
        "Looks at what the program needs: data, journal, decoder, sound, display, fonts.\n"
        "Ends with status 0 when calls can be answered, whatever else is amiss; else with 3.",
        options,
        sizeof options / sizeof options[0],
        0,
        0};
    struct err e = {0};
    size_t plains = 0;
    enum options_result wish = options_read(&u, argc, argv, NULL, &plains, &e);
    bool good = true;
    if (wish == OPTIONS_OK && as_json) {
        json_t *rows = json_array();
        good = examine(journal, rows);
        json_t *all =
            json_pack("{s:s, s:b, s:o}", "version", LETOFF_VERSION, "good", good, "checks", rows);
        json_dumpf(all, stdout, JSON_COMPACT);
        putchar('\n');
        json_decref(all);
    } else if (wish == OPTIONS_OK) {
        good = examine(journal, NULL);
        printf("\n%s\n", good ? "Calls can be answered."
                              : "Calls cannot be answered until what is broken above is mended.");
    }
    int status = options_end(&e);
    return status || good ? status : EXIT_DEVICE;
}
