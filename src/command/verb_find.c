/* verb_find.c - from a call sheet, a line of shorthand or a typed note to ranked causes. */
#include <stdio.h>
#include <string.h>

#include "command/command.h"
#include "command/desk.h"
#include "command/options.h"
#include "command/shop.h"
#include "diagnose/report.h"
#include "mem.h"

struct find {
    const char *clock, *heard, *story, *journal, *customer;
    long most;
    bool pairs, json, sheet_only, shorthand, shipped, keep;
};

static void print_report(const struct find *f, const struct report *r, const struct shop *shop)
{
    struct text out = {0};
    if (f->json)
        report_json(r, (size_t)f->most, &out);
    else
        report_text(r, (size_t)f->most, false, &out);
    if (!f->json && shop->got.jobs)
        text_addf(&out, "This leans on %zu closed job%s of the shop (letoff journal learn).\n",
                  shop->got.jobs, shop->got.jobs == 1 ? "" : "s");
    fputs(text_cstr(&out), stdout);
    text_release(&out);
}

static void keep(const struct find *f, const struct desk *d, const struct report *r, struct err *e)
{
    char id[RECORD_ID_LENGTH + 1];
    if (shop_keep(f->journal, f->customer, d, r, id, e))
        fprintf(f->json ? stderr : stdout, "Kept as call %.8s.\n", id);
}

static void show(const struct find *f, struct desk *d, struct err *e)
{
    struct belief_options options = {.pairs = f->pairs};
    struct report r = {0};
    struct shop shop = {0};
    if (!f->shipped)
        shop_open(&shop, d, f->journal, f->keep || f->customer, e);
    shop_teach(&shop, &options);
    if (report_init(&r, d->finder, &d->sheet, &options)) {
        print_report(f, &r, &shop);
        if (f->keep || f->customer)
            keep(f, d, &r, e);
        report_release(&r);
    } else
        err_add(e, "No clock fits what the sheet says of it.");
    shop_close(&shop);
}

/* What was understood of a note is always shown, so that it can be put right. */
static void print_sheet(const struct find *f, const struct desk *d)
{
    struct text out = {0};
    if (f->shorthand)
        sheet_print_shorthand(&d->sheet, &out);
    else
        sheet_print(&d->sheet, &out);
    fputs(text_cstr(&out), stdout);
    if (f->shorthand)
        putchar('\n');
    text_release(&out);
}

static bool fill(const struct find *f, struct desk *d, const char *path, struct err *e)
{
    bool good = true;
    if (path)
        good = desk_read(d, path, e);
    if (f->heard)
        good = sheet_parse_shorthand(&d->sheet, f->heard, strlen(f->heard), e) && good;
    if (f->story) /* the account goes beside what is printed for other programs */
        good = desk_story(d, f->story, f->json || f->sheet_only || f->shorthand ? stderr : stdout, e) && good;
    if (f->clock)
        good = desk_clock(d, f->clock, e) && good;
    if (good && sheet_empty(&d->sheet)) {
        err_add(e, "Nothing was told: give a call sheet, --heard or --story.");
        good = false;
    }
    return good;
}

static void find(const struct find *f, const char *path, struct err *e)
{
    struct desk d = {0};
    if (desk_open(&d, e) && fill(f, &d, path, e)) {
        if (f->sheet_only || f->shorthand)
            print_sheet(f, &d);
        else
            show(f, &d, e);
    }
    desk_close(&d);
}

int verb_find(int argc, char **argv)
{
    struct find f = {.most = 0};
    const struct option options[] = {
        {"--clock", OPTION_TEXT, &f.clock, "ID", "which clock it is (letoff list clocks)", 0, 0},
        {"--heard", OPTION_TEXT, &f.heard, "'...'", "what was heard, in shorthand: '3:00 s2, 4:00 s3'", 0, 0},
        {"--story", OPTION_TEXT, &f.story, "'...'", "plain words; shows what was understood and what was not", 0, 0},
        {"--most", OPTION_INT, &f.most, "N", "show at most so many causes", 1, 500},
        {"--pairs", OPTION_FLAG, &f.pairs, NULL, "think of two faults at once as well", 0, 0},
        {"--sheet", OPTION_FLAG, &f.sheet_only, NULL, "only print the call sheet that was understood", 0, 0},
        {"--shorthand", OPTION_FLAG, &f.shorthand, NULL, "the same, as one line of shorthand", 0, 0},
        {"--keep", OPTION_FLAG, &f.keep, NULL, "keep the call with these beliefs in the journal", 0, 0},
        {"--customer", OPTION_TEXT, &f.customer, "WHO", "keep it under this customer", 0, 0},
        {"--journal", OPTION_TEXT, &f.journal, "PLACE", "a file or postgresql://..., to learn from and keep in", 0, 0},
        {"--shipped", OPTION_FLAG, &f.shipped, NULL, "leave out what the shop's closed jobs taught", 0, 0},
        {"--json", OPTION_FLAG, &f.json, NULL, "print the answer as JSON", 0, 0},
    };
    const struct usage u = {
        "letoff find SHEET | - [--clock ID] [--heard '3:00 s2'] [--story '...']",
        "Ranks the causes that fit a report, with reasons and the best next question.\n"
        "SHEET is a call sheet (YAML; letoff list sheet explains its keys); - reads it from the\n"
        "standard input.",
        options,
        sizeof options / sizeof options[0],
        0,
        1};
    struct err e = {0};
    const char *path = NULL;
    size_t plains = 0;
    if (options_read(&u, argc, argv, &path, &plains, &e) == OPTIONS_OK)
        find(&f, plains ? path : NULL, &e);
    return options_end(&e);
}
