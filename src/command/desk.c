#include "command/desk.h"

#include <string.h>

#include "command/setup.h"
#include "crew.h"
#include "diagnose/story.h"
#include "mem.h"
#include "place.h"

#define STDIN_MOST (4u << 20)

struct opening {
    struct desk *desk;
    struct err problems[2];
};

static void open_library(struct opening *o)
{
    o->desk->lib = library_load(NULL, &o->problems[0]);
}

/* From the folder that the library is looked for in. */
static void open_words(struct opening *o)
{
    struct text path = {0};
    if (place_own(PLACE_CHIMES, &path)) {
        text_add(&path, "/words.yaml");
        o->desk->words = words_load(text_cstr(&path), &o->problems[1]);
    }
    text_release(&path);
}

static void open_one(void *with, size_t i, size_t hand)
{
    static void (*const part[])(struct opening *o) = {open_library, open_words};
    (void)hand;
    part[i](with);
}

bool desk_open(struct desk *d, struct err *e)
{
    struct opening o = {.desk = d};
    *d = (struct desk){0};
    mem_in_large_pages();
    crew_run(2, crew_hands(), open_one, &o);
    err_move(e, &o.problems[0]);
    if (d->lib) /* without it nothing is said of the words: the folder may not be there at all */
        err_move(e, &o.problems[1]);
    err_release(&o.problems[1]);
    if (!d->lib || !d->words)
        return false;
    sheet_init(&d->sheet, d->words);
    d->finder = finder_new(d->lib);
    return true;
}

void desk_close(struct desk *d)
{
    finder_free(d->finder);
    sheet_release(&d->sheet);
    words_free(d->words);
    library_free(d->lib);
    *d = (struct desk){0};
}

/* All of the standard input, up to a limit just above what a sheet may hold. */
static void read_stdin(struct text *to)
{
    char block[4096];
    size_t n;
    while (to->length <= STDIN_MOST && (n = fread(block, 1, sizeof block, stdin)) > 0)
        text_add_bytes(to, block, n);
}

bool desk_check_clock(const struct desk *d, struct err *e)
{
    const struct sheet *s = &d->sheet;
    if (!s->clock[0] || library_find_clock(d->lib, s->clock))
        return true;
    struct err quiet = {0};
    setup_clock(d->lib, s->clock, &quiet);
    err_at(e, s->file ? s->file : "", s->clock_line, s->clock_column, "key \"clock\": %s",
           quiet.count ? quiet.line[0] : "there is no such clock.");
    err_release(&quiet);
    return false;
}

bool desk_read(struct desk *d, const char *path, struct err *e)
{
    bool good;
    if (!strcmp(path, "-")) {
        struct text in = {0};
        read_stdin(&in);
        good = sheet_parse(&d->sheet, "standard input", text_cstr(&in), in.length, e);
        text_release(&in);
    } else {
        good = sheet_load(&d->sheet, path, e);
    }
    return good && desk_check_clock(d, e);
}

/* The account of a story, and the sheet it gave, to be corrected by whoever took the call. */
static void tell_story(const struct desk *d, const struct story *story, const char *text, FILE *say)
{
    struct text account = {0}, line = {0};
    story_print(story, text, &account);
    sheet_print_shorthand(&d->sheet, &line);
    fprintf(say, "What the words gave:\n%sCall sheet: %s\n\n", text_cstr(&account),
            line.length ? text_cstr(&line) : "nothing");
    text_release(&account);
    text_release(&line);
}

bool desk_story(struct desk *d, const char *text, FILE *say, struct err *e)
{
    struct text path = {0};
    struct story story = {0};
    text_addf(&path, "%s/phrases-en.yaml", library_folder(d->lib));
    struct phrases *phrases = phrases_load(text_cstr(&path), d->words, e);
    text_release(&path);
    bool good = phrases && story_read(phrases, text, strlen(text), &d->sheet, &story, e);
    if (good)
        tell_story(d, &story, text, say);
    story_release(&story);
    phrases_free(phrases);
    return good;
}

bool desk_clock(struct desk *d, const char *id, struct err *e)
{
    const struct clock *c = setup_clock(d->lib, id, e);
    if (!c)
        return false;
    snprintf(d->sheet.clock, sizeof d->sheet.clock, "%s", c->id);
    return true;
}
