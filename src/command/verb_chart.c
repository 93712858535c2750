/* verb_chart.c - sheets for the bench and the van: proving, oiling, hands; a call's report and visit.
 *
 * With --out they are drawn (PDF, SVG, PNG); without it the same is printed as text, or with
 * --json as data.
 */
#include <jansson.h>
#include <stdio.h>
#include <string.h>

#include "command/call_pages.h"
#include "command/command.h"
#include "command/desk.h"
#include "command/options.h"
#include "command/plan_pages.h"
#include "command/setup.h"
#include "command/shop.h"
#include "draw/oil_chart.h"
#include "draw/pages.h"
#include "draw/type_case.h"
#include "mem.h"
#include "movement/due_list.h"
#include "resync/hands_sheet.h"
#include "resync/step_text.h"

#define HANDS_SHOW_MIN (14 * 60 + 20) /* where the hands of the sheet stand at first */

struct chart {
    const char *out, *paper, *sheet, *journal;
    struct call_head head;
    bool proving, winding, oil, hands, json;
    enum paper size;
    const struct clock *clock;
    struct works works;
};

/* --- pages --------------------------------------------------------------------------------------- */

static void add_clock_pages(const struct chart *v, struct pages *p)
{
    if (v->proving)
        pages_proving(p, v->clock);
    if (v->winding)
        pages_winding(p, v->clock);
    if (v->oil)
        pages_oiling(p, v->clock);
    if (v->hands)
        hands_pages_add(p, &v->works, HANDS_SHOW_MIN);
}

static void write_pages(const struct chart *v, const struct desk *d, const struct report *report, struct err *e)
{
    struct pages p;
    struct ink ink = {0};
    struct type_case *types = type_case_new(e);
    if (!types)
        return;
    pages_init(&p, types, v->size, &ink);
    if (report) {
        call_pages_report(&p, d, report, &v->head);
        call_pages_visit(&p, d, report, &v->head);
    }
    if (v->clock)
        add_clock_pages(v, &p);
    if (p.count)
        pages_write(&p, v->out, e);
    else
        err_add(e, "There is nothing to draw for this clock.");
    pages_release(&p);
    type_case_free(types);
}

/* --- data ------------------------------------------------------------------------------------------ */

typedef void each_due(void *with, int shown_min, const struct rung *due);

/* What each let-off of twelve hours (twenty-four where the clock needs them) must sound. */
static void each_letoff(const struct chart *v, each_due *each, void *with)
{
    struct due due[DUES_MOST];
    size_t n = due_list(v->clock, due, DUES_MOST);
    for (size_t i = 0; i < n; i++)
        each(with, due[i].shown_min, &due[i].rung);
}

struct listing {
    const struct clock *c;
    json_t *list;
};

static void list_due(void *with, int shown_min, const struct rung *due)
{
    struct listing *l = with;
    struct text hear = {0};
    char when[8];
    rung_say(due, l->c, &hear);
    json_array_append_new(l->list, json_pack("{s:s, s:s, s:i, s:i, s:s}", "hands", due_time(l->c, shown_min, when), "hear",
                                             text_cstr(&hear), "blows", due->blows, "phrases", due->phrases, "notes", due->tune));
    text_release(&hear);
}

static json_t *oil_json(const struct clock *c)
{
    struct oil_row row[OIL_ROWS];
    size_t n = oil_chart(c, row);
    json_t *list = json_array();
    for (size_t i = 0; i < n; i++)
        json_array_append_new(list, json_pack("{s:s, s:i, s:s, s:s?}", "place", row[i].place, "count", row[i].count, "oil",
                                              oil_name(row[i].oil), "note", row[i].note));
    return list;
}

static json_t *hands_json(const struct chart *v)
{
    struct hands_sheet s;
    json_t *list = json_array();
    hands_sheet_init(&s, &v->works, HANDS_SHOW_MIN);
    for (size_t i = 0; i < s.steps; i++)
        json_array_append_new(list, json_pack("{s:s, s:s, s:s?, s:s?, s:f}", "part", hands_part_title(s.step[i].part), "text",
                                              s.step[i].text, "hear", s.step[i].hear, "caution", s.step[i].caution, "minutes",
                                              s.step[i].minutes));
    hands_sheet_release(&s);
    return list;
}

static void print_json(const struct chart *v, const struct report *report)
{
    json_t *o = json_object();
    if (v->clock)
        json_object_set_new(o, "clock", json_string(v->clock->id));
    if (v->clock && (v->proving || v->winding)) {
        struct listing l = {v->clock, json_array()};
        each_letoff(v, list_due, &l);
        json_object_set_new(o, "proving", l.list);
    }
    if (v->clock && v->oil)
        json_object_set_new(o, "oiling", oil_json(v->clock));
    if (v->clock && v->hands)
        json_object_set_new(o, "hands", hands_json(v));
    if (report) {
        struct text t = {0};
        call_visit_text(report, &t);
        json_object_set_new(o, "visit", json_string(text_cstr(&t)));
        text_release(&t);
    }
    json_object_set_new(o, "caution", json_string(STEP_CAUTION));
    json_dumpf(o, stdout, JSON_COMPACT | JSON_REAL_PRECISION(6));
    putchar('\n');
    json_decref(o);
}

/* --- text -------------------------------------------------------------------------------------------- */

static void print_due(void *with, int shown_min, const struct rung *due)
{
    const struct clock *c = with;
    struct text hear = {0};
    char when[8];
    rung_say(due, c, &hear);
    printf("  [ ] %5s  %s\n", due_time(c, shown_min, when), text_cstr(&hear));
    text_release(&hear);
}

static void print_oil(const struct clock *c)
{
    struct oil_row row[OIL_ROWS];
    size_t n = oil_chart(c, row);
    printf("Oiling\n");
    for (size_t i = 0; i < n; i++)
        printf("  [ ] %s, %d: %s%s%s\n", row[i].place, row[i].count, oil_name(row[i].oil), row[i].note ? ". " : "",
               row[i].note ? row[i].note : "");
}

static void print_hands(const struct chart *v)
{
    struct hands_sheet s;
    int part = -1;
    hands_sheet_init(&s, &v->works, HANDS_SHOW_MIN);
    for (size_t i = 0; i < s.steps; i++) {
        if ((int)s.step[i].part != part)
            printf("%s\n", hands_part_title(s.step[i].part));
        part = (int)s.step[i].part;
        printf("  [ ] %s\n", s.step[i].text);
        if (s.step[i].hear)
            printf("      Hear: %s.\n", s.step[i].hear);
        if (s.step[i].caution)
            printf("      Mind: %s\n", s.step[i].caution);
    }
    hands_sheet_release(&s);
}

static void print_text(const struct chart *v, const struct report *report)
{
    if (report) {
        struct text t = {0};
        call_visit_text(report, &t);
        fputs(text_cstr(&t), stdout);
        text_release(&t);
    }
    if (v->clock) {
        printf("%s\n", v->clock->name);
        if (v->proving || v->winding) {
            printf("Proving\n");
            each_letoff(v, print_due, (void *)v->clock);
        }
        if (v->winding)
            printf("  Power faults show late: go on until the next winding, a line a day.\n");
        if (v->oil)
            print_oil(v->clock);
        if (v->hands)
            print_hands(v);
    }
    printf("%s\n", STEP_CAUTION);
}

/* --- the verb ------------------------------------------------------------------------------------------- */

static void put_out(const struct chart *v, const struct desk *d, const struct report *report, struct err *e)
{
    if (v->out)
        write_pages(v, d, report, e);
    else if (v->json)
        print_json(v, report);
    else
        print_text(v, report);
}

static void chart_call(struct chart *v, struct desk *d, struct err *e)
{
    struct belief_options options = {.pairs = false};
    struct report r = {0};
    struct shop shop = {0};
    shop_open(&shop, d, v->journal, false, e);
    shop_teach(&shop, &options);
    if (report_init(&r, d->finder, &d->sheet, &options)) {
        put_out(v, d, &r, e);
        report_release(&r);
    } else {
        err_add(e, "No clock fits what the sheet says of it.");
    }
    shop_close(&shop);
}

static void chart(struct chart *v, const char *clock, struct err *e)
{
    struct desk d = {0};
    bool known = true;
    v->size = v->paper ? paper_of(v->paper, &known) : paper_of_house();
    if (!known)
        err_add(e, "--paper \"%.40s\" is no paper; expected is a4 or letter.", v->paper);
    if (!clock && !v->sheet)
        err_add(e, "Give a clock (letoff list clocks), or a call sheet with --sheet.");
    if (!v->proving && !v->winding && !v->oil && !v->hands)
        v->proving = v->winding = v->oil = v->hands = true;
    if (!e->count && desk_open(&d, e)) {
        v->clock = clock ? setup_clock(d.lib, clock, e) : NULL;
        if (v->clock)
            works_init(&v->works, v->clock, NULL, 0);
        if (v->sheet && !e->count && desk_read(&d, v->sheet, e))
            chart_call(v, &d, e);
        else if (!v->sheet && v->clock)
            put_out(v, &d, NULL, e);
    }
    desk_close(&d);
}

int verb_chart(int argc, char **argv)
{
    struct chart v = {.out = NULL};
    const struct option options[] = {
        {"--out", OPTION_TEXT, &v.out, "FILE", "draw into .pdf, .svg or .png; left out: print as text", 0, 0},
        {"--proving", OPTION_FLAG, &v.proving, NULL, "each let-off of twelve hours with what it must sound", 0, 0},
        {"--winding", OPTION_FLAG, &v.winding, NULL, "the same over a full winding, where power faults show", 0, 0},
        {"--oil", OPTION_FLAG, &v.oil, NULL, "where oil goes, how little, and what stays dry", 0, 0},
        {"--hands", OPTION_FLAG, &v.hands, NULL, "taking the hands off and putting them on again", 0, 0},
        {"--sheet", OPTION_TEXT, &v.sheet, "SHEET", "a call sheet: report for the customer, plan for the van", 0, 0},
        {"--customer", OPTION_TEXT, &v.head.customer, "WHO", "printed at the head of a call", 0, 0},
        {"--van", OPTION_TEXT, &v.head.van, "VAN", "likewise", 0, 0},
        {"--when", OPTION_TEXT, &v.head.when, "DATE", "likewise", 0, 0},
        {"--journal", OPTION_TEXT, &v.journal, "PLACE", "a file or postgresql://..., to learn from", 0, 0},
        {"--paper", OPTION_TEXT, &v.paper, "a4|letter", "size of the page (as PAPERSIZE says, else a4)", 0, 0},
        {"--json", OPTION_FLAG, &v.json, NULL, "print as JSON", 0, 0},
    };
    const struct usage u = {"letoff chart [CLOCK] [--out FILE.pdf] [--proving --winding --oil --hands] [--sheet SHEET]",
                            "Sheets for the bench and the van; all of a clock's when none is named.",
                            options, sizeof options / sizeof options[0], 0, 1};
    struct err e = {0};
    const char *clock = NULL;
    size_t plains = 0;
    if (options_read(&u, argc, argv, &clock, &plains, &e) == OPTIONS_OK)
        chart(&v, plains ? clock : NULL, &e);
    return options_end(&e);
}
