/* verb_check.c - validate data files and call sheets: every mistake of every file at once. */
#include <stdio.h>
#include <string.h>

#include "command/command.h"
#include "command/options.h"
#include "command/voices.h"
#include "diagnose/phrases.h"
#include "diagnose/sheet.h"
#include "diagnose/sheet_notice.h"
#include "diagnose/table_file.h"
#include "movement/library.h"
#include "place.h"
#include "sound/player.h"
#include "text.h"
#include "yaml_map.h"

#define FILES_MOST 500

enum file_kind { FILE_SHEET, FILE_DATA, FILE_VOICES, FILE_WORDS, FILE_PHRASES, FILE_CUES };

/* What a file is, by the keys at its top. */
static enum file_kind kind_of(const struct yaml_node *root)
{
    if (library_knows(root))
        return FILE_DATA;
    if (yaml_get(root, "voices"))
        return FILE_VOICES;
    if (yaml_get(root, "phrases"))
        return FILE_PHRASES;
    if (yaml_get(root, "cues"))
        return FILE_CUES;
    return yaml_get(root, "words") ? FILE_WORDS : FILE_SHEET;
}

/* It is in order all the same. */
static void say_notice(void *with, size_t line, const char *said)
{
    if (line)
        printf("%s:%zu: note: %s\n", (const char *)with, line, said);
    else
        printf("%s: note: %s\n", (const char *)with, said);
}

static bool check_sheet(const struct library *lib, const char *path, struct err *e)
{
    struct text words_path = {0};
    struct sheet sheet = {0};
    text_addf(&words_path, "%s/words.yaml", library_folder(lib));
    struct words *words = words_load(text_cstr(&words_path), e);
    bool good = words != NULL;
    if (good) {
        sheet_init(&sheet, words);
        good = sheet_load(&sheet, path, e);
        if (good && sheet.clock[0] && !library_find_clock(lib, sheet.clock)) {
            err_at(e, path, sheet.clock_line, sheet.clock_column,
                   "key \"clock\": \"%s\" is no clock; letoff list clocks shows those there are.", sheet.clock);
            good = false;
        }
        if (good)
            sheet_notice(&sheet, say_notice, (void *)path);
        sheet_release(&sheet);
    }
    words_free(words);
    text_release(&words_path);
    return good;
}

static bool check_voices(const char *path, struct err *e)
{
    struct voice_set set = {0};
    bool good = voice_set_load(&set, path, player_read_recording, e);
    voice_set_release(&set);
    return good;
}

static bool check_words(const char *path, struct err *e)
{
    struct words *words = words_load(path, e);
    words_free(words);
    return words != NULL;
}

static bool check_phrases(const struct library *lib, const char *path, struct err *e)
{
    struct text words_path = {0};
    text_addf(&words_path, "%s/words.yaml", library_folder(lib));
    struct words *words = words_load(text_cstr(&words_path), e);
    struct phrases *phrases = words ? phrases_load(path, words, e) : NULL;
    bool good = phrases != NULL;
    phrases_free(phrases);
    words_free(words);
    text_release(&words_path);
    return good;
}

/* Cues are read with a phrase table; any will do, so it is that of the library. */
static bool check_cues(const struct library *lib, const char *path, struct err *e)
{
    struct text words_path = {0}, phrases_path = {0};
    text_addf(&words_path, "%s/words.yaml", library_folder(lib));
    text_addf(&phrases_path, "%s/phrases-en.yaml", library_folder(lib));
    struct words *words = words_load(text_cstr(&words_path), e);
    struct phrases *phrases = words ? phrases_load(text_cstr(&phrases_path), words, e) : NULL;
    bool good = phrases && phrases_take_cues(phrases, path, e);
    phrases_free(phrases);
    words_free(words);
    text_release(&words_path);
    text_release(&phrases_path);
    return good;
}

static bool check_file(struct library *lib, const char *path, struct err *e)
{
    struct err met = {0}; /* what is wrong with a tree is told by who reads it */
    struct yaml_tree *tree = yaml_load(path, &met);
    enum file_kind kind = tree ? kind_of(yaml_root(tree)) : FILE_SHEET;
    yaml_free(tree);
    err_release(&met);
    switch (kind) {
    case FILE_DATA:
        return library_add(lib, path, e);
    case FILE_VOICES:
        return check_voices(path, e);
    case FILE_WORDS:
        return check_words(path, e);
    case FILE_PHRASES:
        return check_phrases(lib, path, e);
    case FILE_CUES:
        return check_cues(lib, path, e);
    case FILE_SHEET:
        break;
    }
    return check_sheet(lib, path, e);
}

/* Clocks and faults of the user's own folder are worked out now, so that no call has to wait for it.  That
 * it cannot be kept is told, but is no fault of the files. */
static void keep_tables(void)
{
    struct text folder = {0};
    struct err e = {0};
    struct library *lib = place_user(PLACE_CHIMES, &folder) ? library_load(NULL, &e) : NULL;
    if (lib && !table_file_kept(lib)) {
        printf("working out what the clocks do with what is in %s (once, some ten seconds)\n", text_cstr(&folder));
        fflush(stdout);
        table_file_keep(lib, &e);
    }
    library_free(lib);
    err_print(&e, stderr);
    err_release(&e);
    text_release(&folder);
}

int verb_check(int argc, char **argv)
{
    const struct usage u = {
        "letoff check FILE...",
        "Validates clock, tune, fault, voice, word and phrase files and call sheets;\n"
        "every mistake is told with its place.  letoff list sheet explains the keys of a call "
        "sheet.",
        NULL,
        0,
        1,
        FILES_MOST};
    struct err e = {0};
    const char *file[FILES_MOST];
    size_t files = 0;
    if (options_read(&u, argc, argv, file, &files, &e) == OPTIONS_OK) {
        struct library *lib = library_load(NULL, &e);
        for (size_t i = 0; lib && i < files; i++)
            if (check_file(lib, file[i], &e))
                printf("%s: in order\n", file[i]);
        library_free(lib);
    }
    int status = options_end(&e);
    if (!status && files)
        keep_tables();
    return status;
}
