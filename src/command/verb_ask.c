/* verb_ask.c - the finder as a conversation: one question at a time, in the terminal.
 *
 * An answer is a line: yes, no, ? (not known), a count such as 4 or "s4" where a strike is asked
 * for.  "back" takes the last answer back, "sheet" shows the sheet, "causes" the ranking, "done"
 * ends.  A line of shorthand ("5:00 s4") is taken at any time.  The end of the input ends the
 * conversation as "done" does.  The shop's closed jobs are leaned on as in `letoff find`; with --keep
 * the call goes into the journal when the conversation is over.
 */
#include <stdio.h>
#include <string.h>

#include "command/command.h"
#include "command/desk.h"
#include "command/options.h"
#include "command/shop.h"
#include "diagnose/report.h"
#include "mem.h"

#define TURNS_MOST 40

struct ask {
    const char *clock, *heard, *journal, *customer;
    bool keep, shipped;
    struct desk desk;
    struct shop shop;
    char *before[TURNS_MOST]; /* the sheet as it was, for "back" */
    char asked[TURNS_MOST][80];
    size_t turns;
};

static void remember(struct ask *a, const char *id)
{
    struct text t = {0};
    if (a->turns == TURNS_MOST)
        return;
    sheet_print(&a->desk.sheet, &t);
    a->before[a->turns] = mem_copy_bytes(text_cstr(&t), t.length);
    snprintf(a->asked[a->turns++], sizeof a->asked[0], "%s", id);
    text_release(&t);
}

static void go_back(struct ask *a)
{
    struct err quiet = {0};
    if (!a->turns) {
        puts("There is no answer to take back.");
        return;
    }
    char *old = a->before[--a->turns];
    sheet_clear(&a->desk.sheet);
    sheet_parse(&a->desk.sheet, "the sheet", old, strlen(old), &quiet);
    mem_free(old);
    err_release(&quiet);
    puts("Taken back.");
}

static bool was_asked(const struct ask *a, const char *id)
{
    for (size_t i = 0; i < a->turns; i++)
        if (!strcmp(a->asked[i], id))
            return true;
    return false;
}

static void print_sheet(const struct ask *a)
{
    struct text t = {0};
    sheet_print(&a->desk.sheet, &t);
    fputs(text_cstr(&t), stdout);
    text_release(&t);
}

static void print_causes(const struct report *r)
{
    for (size_t i = 0; i < r->belief.causes && i < 3; i++)
        printf("  %3.0f %%  %s\n", 100 * r->belief.cause[i].p,
               r->belief.cause[i].fault ? r->belief.cause[i].fault->name : r->belief.cause[i].id);
}

static bool read_line(char *line, size_t room)
{
    fputs("> ", stdout);
    fflush(stdout);
    if (!fgets(line, (int)room, stdin))
        return false;
    line[strcspn(line, "\r\n")] = 0;
    return true;
}

/* Take one line; false ends the conversation.  *next is true when a new question is due. */
static bool take_line(struct ask *a, const struct report *r, const struct question *q,
                      const char *line, bool *next)
{
    struct err e = {0};
    *next = true;
    if (!strcmp(line, "done") || !strcmp(line, "quit"))
        return false;
    if (!strcmp(line, "back")) {
        go_back(a);
        return true;
    }
    *next = false;
    if (!strcmp(line, "sheet")) {
        print_sheet(a);
        return true;
    }
    if (!strcmp(line, "causes")) {
        print_causes(r);
        return true;
    }
    remember(a, q->id);
    if (strchr(line, ':') && sheet_parse_shorthand(&a->desk.sheet, line, strlen(line), &e)) {
        *next = true;
    } else {
        err_release(&e);
        e = (struct err){0};
        *next = question_answer(q, &a->desk.sheet, line, &e);
    }
    if (!*next) {
        mem_free(a->before[--a->turns]);
        err_print(&e, stdout);
    }
    err_release(&e);
    return true;
}

/* The best question not asked yet; NULL when none is worth asking. */
static const struct question *next_question(const struct ask *a, const struct report *r)
{
    if (r->next.kind != NEXT_QUESTION)
        return NULL;
    for (size_t i = 0; i < r->next.questions; i++)
        if (!was_asked(a, r->next.batch[i].id))
            return &r->next.batch[i];
    return NULL;
}

static void print_advice(const struct report *r)
{
    struct text t = {0};
    report_text(r, 0, false, &t);
    printf("\n%s", text_cstr(&t));
    text_release(&t);
}

static void keep(const struct ask *a, const struct report *r, struct err *e)
{
    char id[RECORD_ID_LENGTH + 1];
    if (shop_keep(a->journal, a->customer, &a->desk, r, id, e))
        printf("Kept as call %.8s.\n", id);
}

static bool converse_once(struct ask *a, struct err *e)
{
    struct report r = {0};
    struct belief_options options = {.pairs = false};
    char line[2000];
    if (!a->shipped) {
        shop_hear(&a->shop, a->desk.words, &a->desk.sheet);
        shop_teach(&a->shop, &options);
    }
    if (!report_init(&r, a->desk.finder, &a->desk.sheet, &options)) {
        err_add(e, "No clock fits what the sheet says of it.");
        return false;
    }
    const struct question *q = a->turns < TURNS_MOST ? next_question(a, &r) : NULL;
    bool going = q != NULL, next = false;
    if (q) {
        print_causes(&r);
        printf("\n%s\n  (worth about %.0f minutes; yes, no, ?, or what was struck; back, sheet, causes, done)\n",
               q->text, q->saves_min);
    }
    while (going && !next)
        going = read_line(line, sizeof line) && take_line(a, &r, q, line, &next);
    if (!going)
        print_advice(&r);
    if (!going && (a->keep || a->customer))
        keep(a, &r, e);
    report_release(&r);
    return going;
}

static void ask(struct ask *a, const char *path, struct err *e)
{
    struct desk *d = &a->desk;
    if (!desk_open(d, e) || (path && !desk_read(d, path, e)) || (a->clock && !desk_clock(d, a->clock, e)) ||
        (a->heard && !sheet_parse_shorthand(&d->sheet, a->heard, strlen(a->heard), e)))
        return;
    if (!a->shipped)
        shop_read(&a->shop, d->lib, a->journal, a->keep || a->customer, e);
    while (converse_once(a, e))
        ;
}

int verb_ask(int argc, char **argv)
{
    struct ask *a = mem_alloc(sizeof *a);
    const char *path = NULL;
    const struct option options[] = {
        {"--clock", OPTION_TEXT, &a->clock, "ID", "which clock it is", 0, 0},
        {"--heard", OPTION_TEXT, &a->heard, "'...'", "what was heard so far, in shorthand", 0, 0},
        {"--keep", OPTION_FLAG, &a->keep, NULL, "keep the call with what is believed in the journal", 0, 0},
        {"--customer", OPTION_TEXT, &a->customer, "WHO", "keep it under this customer", 0, 0},
        {"--journal", OPTION_TEXT, &a->journal, "PLACE", "a file or postgresql://..., to learn from and keep in", 0, 0},
        {"--shipped", OPTION_FLAG, &a->shipped, NULL, "leave out what the shop's closed jobs taught", 0, 0},
    };
    const struct usage u = {"letoff ask [SHEET] [--clock ID] [--heard '3:00 s2'] [--keep]",
                            "Takes a call question by question; each answer changes the next question.",
                            options, sizeof options / sizeof options[0], 0, 1};
    struct err e = {0};
    size_t plains = 0;
    if (options_read(&u, argc, argv, &path, &plains, &e) == OPTIONS_OK)
        ask(a, plains ? path : NULL, &e);
    while (a->turns)
        mem_free(a->before[--a->turns]);
    shop_close(&a->shop);
    desk_close(&a->desk);
    mem_free(a);
    return options_end(&e);
}
