/* verb_journal_write.c - taking calls, planning, closing, erasing. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "command/verb_journal.h"
#include "mem.h"
#include "movement/library.h"
#include "text.h"

#define SHEET_BYTES  1000000
#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

/* ---- add ------------------------------------------------------------------------------------ */

/* The call sheet, standard input for "-"; NULL without a path, or with a sentence. */
static char *read_sheet(const char *path, struct err *e)
{
    return path ? text_read_file(path, SHEET_BYTES, NULL, e) : NULL;
}

static void say_id(const struct journal_common *c, const char *what, const char *id)
{
    if (c->json)
        journal_print(json_pack("{s:s}", what, id));
    else
        printf("%s\n", id);
}

int verb_journal_add(int argc, char **argv)
{
    struct journal_common c = {0};
    struct new_call call = {0};
    const char *sheet = NULL;
    const struct option options[] = {
        {"--customer", OPTION_TEXT, &call.customer, "WHO", "the shop's word for the customer", 0,
         0},
        {"--clock", OPTION_TEXT, &call.movement, "CLOCK", "clock id, or the caller's words", 0, 0},
        {"--story", OPTION_TEXT, &call.story, "TEXT", "the caller's own words", 0, 0},
        {"--sheet", OPTION_TEXT, &sheet, "FILE", "the call sheet; - reads standard input", 0, 0},
        {"--history", OPTION_TEXT, &call.history, "WORDS", "history words, in one argument", 0, 0},
        {"--desk", OPTION_TEXT, &call.desk, "DESK", "who takes the call", 0, 0},
        {"--at", OPTION_TEXT, &call.taken_at, "TIME", "YYYY-MM-DDTHH:MM, now if not given", 0, 0},
        JOURNAL_OPTIONS(c),
    };
    const struct usage u = {
        "letoff journal add", "Takes a call and prints its id.", options, COUNT(options), 0, 0};
    struct err e = {0};
    char id[RECORD_ID_LENGTH + 1];
    if (options_read(&u, argc, argv, NULL, NULL, &e) != OPTIONS_OK)
        return options_end(&e);
    char *text = read_sheet(sheet, &e);
    call.sheet = text;
    struct journal *j = e.count ? NULL : journal_open(c.where, NULL, &e);
    if (j && job_add(j, &call, id, &e))
        say_id(&c, "call", id);
    journal_close(j);
    mem_free(text);
    return options_end(&e);
}

/* ---- one call ------------------------------------------------------------------------------- */

/* Opens the journal and finds the call that begins with `prefix`. */
static struct journal *open_at(const struct journal_common *c, enum record_kind kind,
                               const char *prefix, char id[RECORD_ID_LENGTH + 1], struct err *e)
{
    struct journal_options old = {.must_exist = true};
    struct journal *j = journal_open(c->where, &old, e);
    if (j && journal_id(j, kind, prefix, id, e))
        return j;
    journal_close(j);
    return NULL;
}

int verb_journal_advice(int argc, char **argv)
{
    struct journal_common c = {0};
    const char *action = NULL, *plain[2];
    double saves_min = 0;
    const struct option options[] = {
        {"--action", OPTION_TEXT, &action, "ID", "id of the action or question", 0, 0},
        {"--saves", OPTION_REAL, &saves_min, "MIN", "minutes it is expected to save", -10000,
         10000},
        JOURNAL_OPTIONS(c),
    };
    const struct usage u = {"letoff journal advice CALL TEXT",
                            "Keeps what the caller was told.",
                            options,
                            COUNT(options),
                            2,
                            2};
    struct err e = {0};
    char id[RECORD_ID_LENGTH + 1];
    size_t plains;
    if (options_read(&u, argc, argv, plain, &plains, &e) != OPTIONS_OK)
        return options_end(&e);
    struct journal *j = open_at(&c, RECORD_CALL, plain[0], id, &e);
    if (j && job_advise(j, id, action, plain[1], saves_min, &e))
        say_id(&c, "call", id);
    journal_close(j);
    return options_end(&e);
}

int verb_journal_plan(int argc, char **argv)
{
    struct journal_common c = {0};
    const char *van = NULL, *plain[2];
    double minutes = 0;
    struct option_list kit = {0};
    const struct option options[] = {
        {"--minutes", OPTION_REAL, &minutes, "MIN", "how long it is planned to take", 0, 10000},
        {"--van", OPTION_TEXT, &van, "VAN", "who goes", 0, 0},
        {"--kit", OPTION_MANY, &kit, "THING", "what to take along; may be given again", 0, 0},
        JOURNAL_OPTIONS(c),
    };
    const struct usage u = {"letoff journal plan CALL WHEN",
                            "Plans a visit; WHEN is YYYY-MM-DDTHH:MM or a day.",
                            options,
                            COUNT(options),
                            2,
                            2};
    struct err e = {0};
    struct text list = {0};
    char id[RECORD_ID_LENGTH + 1];
    size_t plains;
    if (options_read(&u, argc, argv, plain, &plains, &e) != OPTIONS_OK)
        return options_end(&e);
    for (size_t i = 0; i < kit.count; i++)
        text_addf(&list, "%s%s", i ? "\n" : "", kit.at[i]);
    struct journal *j = open_at(&c, RECORD_CALL, plain[0], id, &e);
    if (j && job_plan_visit(j, id, plain[1], minutes, van, list.at, &e))
        say_id(&c, "call", id);
    journal_close(j);
    text_release(&list);
    return options_end(&e);
}

int verb_journal_reopen(int argc, char **argv)
{
    struct journal_common c = {0};
    const char *plain[1];
    const struct option options[] = {JOURNAL_OPTIONS(c)};
    const struct usage u = {
        "letoff journal reopen CALL", "Opens a closed job again.", options, COUNT(options), 1, 1};
    struct err e = {0};
    char id[RECORD_ID_LENGTH + 1];
    size_t plains;
    if (options_read(&u, argc, argv, plain, &plains, &e) != OPTIONS_OK)
        return options_end(&e);
    struct journal *j = open_at(&c, RECORD_CALL, plain[0], id, &e);
    if (j && job_reopen(j, id, &e))
        say_id(&c, "call", id);
    journal_close(j);
    return options_end(&e);
}

/* ---- close ---------------------------------------------------------------------------------- */

/* What the words of `close` say; texts are copies, cut in place. */
struct close_words {
    struct option_list found, parts, work, heard;
    char *text[4 * OPTION_MOST];
    size_t texts;
    struct found_fault fault[OPTION_MOST];
    struct used_part part[OPTION_MOST];
    struct done_work done[OPTION_MOST];
    struct heard_check check[OPTION_MOST];
};

/* Cuts "NAME=VALUE" in two; *value is NULL without '='. */
static const char *cut(struct close_words *w, const char *word, const char **value)
{
    char *name = w->text[w->texts++] = mem_copy_text(word);
    char *equals = strrchr(name, '=');
    *value = equals ? equals + 1 : NULL;
    if (equals)
        *equals = '\0';
    return name;
}

/* The part and class of a fault are the library's; an id it does not have is a mistake. */
static bool read_fault(const struct library *lib, const char *id, struct found_fault *f,
                       struct err *e)
{
    const char *names[1024];
    size_t count = 0;
    const struct fault *fault = library_find_fault(lib, id);
    *f = (struct found_fault){id, fault ? fault->part : NULL, fault ? fault->class : NULL};
    if (fault || strcmp(id, "none") == 0 || strcmp(id, "unknown") == 0)
        return true;
    for (; count < library_faults(lib) && count < COUNT(names); count++)
        names[count] = library_fault(lib, count)->id;
    const char *near = text_nearest(id, names, count);
    err_add(e,
            near ? "\"%s\" is no fault; the nearest is \"%s\"."
                 : "\"%s\" is no fault; letoff list faults shows those there are, none and unknown "
                   "are taken too.",
            id, near);
    return false;
}

static void read_faults(struct close_words *w, struct err *e)
{
    struct library *lib = w->found.count ? library_load(NULL, e) : NULL;
    for (size_t i = 0; lib && i < w->found.count; i++)
        read_fault(lib, w->found.at[i], &w->fault[i], e);
    /* ids are the caller's words, parts and classes the library's: keep copies past its life */
    for (size_t i = 0; lib && i < w->found.count; i++) {
        if (w->fault[i].part)
            w->fault[i].part = w->text[w->texts++] = mem_copy_text(w->fault[i].part);
        if (w->fault[i].class)
            w->fault[i].class = w->text[w->texts++] = mem_copy_text(w->fault[i].class);
    }
    library_free(lib);
}

static void read_close_words(struct close_words *w, struct err *e)
{
    const char *value;
    long number;
    for (size_t i = 0; i < w->parts.count; i++) {
        w->part[i].name = cut(w, w->parts.at[i], &value);
        w->part[i].count = 1;
        if (value && (!text_int(value, &number) || number < 1))
            err_add(e, "--part %s: expected NAME or NAME=COUNT.", w->parts.at[i]);
        else if (value)
            w->part[i].count = number;
    }
    for (size_t i = 0; i < w->work.count; i++) {
        w->done[i].action = cut(w, w->work.at[i], &value);
        if (!value || !text_real(value, &w->done[i].minutes))
            err_add(e, "--work %s: expected ACTION=MINUTES.", w->work.at[i]);
    }
    for (size_t i = 0; i < w->heard.count; i++) {
        w->check[i].what = cut(w, w->heard.at[i], &value);
        char tail;
        if (!value ||
            sscanf(value, "%ld/%ld%c", &w->check[i].wrong, &w->check[i].trials, &tail) != 2)
            err_add(e, "--heard %s: expected WHAT=WRONG/CHECKED, such as count=1/5.",
                    w->heard.at[i]);
    }
    read_faults(w, e);
}

int verb_journal_close(int argc, char **argv)
{
    struct journal_common c = {0};
    struct close_words w = {{{0}}};
    struct closing closing = {.minutes = -1};
    const char *plain[1];
    const struct option options[] = {
        {"--found", OPTION_MANY, &w.found, "FAULT", "a fault that was found; may be given again", 0,
         0},
        {"--part", OPTION_MANY, &w.parts, "NAME[=N]", "a part that was used", 0, 0},
        {"--work", OPTION_MANY, &w.work, "ACTION=MIN", "minutes an action took", 0, 0},
        {"--heard", OPTION_MANY, &w.heard, "WHAT=W/N",
         "of N statements of a kind, W turned out wrong (count, time, notes ...)", 0, 0},
        {"--outcome", OPTION_TEXT, &closing.outcome, "WORD",
         "phone, visit, bench, declined or no_fault", 0, 0},
        {"--minutes", OPTION_REAL, &closing.minutes, "MIN", "minutes in all", 0, 100000},
        {"--note", OPTION_TEXT, &closing.note, "TEXT", "free text", 0, 0},
        JOURNAL_OPTIONS(c),
    };
    const struct usage u = {"letoff journal close CALL",
                            "Closes a job; the finder learns from the fault found.",
                            options,
                            COUNT(options),
                            1,
                            1};
    struct err e = {0};
    char id[RECORD_ID_LENGTH + 1];
    size_t plains;
    if (options_read(&u, argc, argv, plain, &plains, &e) != OPTIONS_OK)
        return options_end(&e);
    read_close_words(&w, &e);
    closing.faults = w.fault, closing.fault_count = w.found.count;
    closing.parts = w.part, closing.part_count = w.parts.count;
    closing.work = w.done, closing.work_count = w.work.count;
    closing.checks = w.check, closing.check_count = w.heard.count;
    struct journal *j = e.count ? NULL : open_at(&c, RECORD_CALL, plain[0], id, &e);
    if (j && job_close(j, id, &closing, &e))
        say_id(&c, "call", id);
    journal_close(j);
    for (size_t i = 0; i < w.texts; i++)
        mem_free(w.text[i]);
    return options_end(&e);
}

/* ---- erase ---------------------------------------------------------------------------------- */

/* An id, its first digits, or the whole label of one customer. */
static bool find_customer(struct journal *j, const char *word, char id[RECORD_ID_LENGTH + 1],
                          struct err *e)
{
    struct record_list list = {0};
    bool ok = journal_list(j, RECORD_CUSTOMER, "label", word, NULL, &list, e);
    if (ok && list.count == 1)
        memcpy(id, list.at[0].id, RECORD_ID_LENGTH + 1);
    else if (ok && list.count > 1) {
        err_add(e, "%zu customers are called \"%s\", expected the id of one.", list.count, word);
        ok = false;
    } else if (ok)
        ok = journal_id(j, RECORD_CUSTOMER, word, id, e);
    record_list_release(&list);
    return ok;
}

int verb_journal_erase(int argc, char **argv)
{
    struct journal_common c = {0};
    const char *plain[1];
    bool yes = false;
    const struct option options[] = {
        {"--yes", OPTION_FLAG, &yes, NULL, "really do it; without it nothing is erased", 0, 0},
        JOURNAL_OPTIONS(c),
    };
    const struct usage u = {
        "letoff journal erase CUSTOMER --yes",
        "Removes a customer (id or label) with clocks, calls and all that hangs on them, "
        "also from old copies.  There is no way back.",
        options,
        COUNT(options),
        1,
        1};
    struct journal_options old = {.must_exist = true};
    struct err e = {0};
    char id[RECORD_ID_LENGTH + 1];
    size_t plains, gone = 0, copies = 0;
    if (options_read(&u, argc, argv, plain, &plains, &e) != OPTIONS_OK)
        return options_end(&e);
    struct journal *j = journal_open(c.where, &old, &e);
    if (j && find_customer(j, plain[0], id, &e)) {
        if (!yes)
            err_add(&e, "Nothing was erased; add --yes to remove customer %.8s for good.", id);
        else if (journal_erase(j, RECORD_CUSTOMER, id, &gone, &copies, &e)) {
            if (c.json)
                journal_print(json_pack("{s:I, s:I}", "records", (json_int_t)gone, "copies",
                                        (json_int_t)copies));
            else
                printf("%zu records and %zu old copies are gone.\n", gone, copies);
        }
    }
    journal_close(j);
    return options_end(&e);
}
