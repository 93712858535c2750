/* desk_print.c - the call on paper: a report for the customer, a plan for the van. */
#include <stdio.h>
#include <string.h>

#include "draw/pages.h"
#include "mem.h"
#include "screen/desk_priv.h"

#define LINES 24

static size_t causes_of(const struct app *a, struct page_cause cause[ADVICE_CAUSES])
{
    size_t n = 0;
    for (size_t i = 0; i < a->advice.causes && n < 5; i++) {
        const struct advice_cause *k = &a->advice.cause[i];
        if (n > 0 && k->p < 0.02)
            break;
        cause[n++] = (struct page_cause){k->name, k->part, k->whys > 0 ? k->why[0] : NULL, k->p};
    }
    return n;
}

static size_t heard_lines(const struct app *a, char *line[LINES])
{
    size_t n = 0;
    for (; n < a->call.sheet.heards && n < LINES; n++) {
        struct text t = {0};
        heard_say(&a->call.sheet.heard[n], a->words, &t);
        line[n] = mem_copy_text(text_cstr(&t));
        text_release(&t);
    }
    return n;
}

static void report_pages(struct app *a, struct pages *p)
{
    struct page_cause cause[ADVICE_CAUSES];
    char *line[LINES];
    size_t n = heard_lines(a, line);
    struct page_call call = {.customer = a->desk.customer.length > 0 ? text_cstr(&a->desk.customer) : NULL,
                             .clock_name = app_clock(a)->name, .story = a->call.sheet.story,
                             .heard = (const char *const *)line, .heards = n, .cause = cause,
                             .causes = causes_of(a, cause), .clock = app_clock(a),
                             .advice = a->advice.next.kind == NEXT_QUESTION ? NULL : a->advice.next.text};
    memcpy(call.belief, a->advice.part, sizeof call.belief);
    pages_call(p, &call);
    for (size_t i = 0; i < n; i++)
        mem_free(line[i]);
}

static void visit_pages(struct app *a, struct pages *p)
{
    const struct next_step *s = &a->advice.next;
    struct page_cause cause[ADVICE_CAUSES];
    struct page_step step = {s->text, NULL, NULL, s->minutes};
    struct page_visit visit = {.customer = a->desk.customer.length > 0 ? text_cstr(&a->desk.customer) : NULL,
                               .clock_name = app_clock(a)->name, .cause = cause, .causes = causes_of(a, cause),
                               .kit = s->kit, .kits = s->kits, .minutes = s->minutes, .oil_enough = s->oil_suffices,
                               .comes_back = "Oil on top of old oil is a stop-gap: the fault may be back within weeks to a year.",
                               .step = &step, .steps = 1};
    pages_visit(p, &visit);
}

void desk_print(struct app *a)
{
    struct pages p;
    struct text path = {0};
    struct err e = {0};
    struct ink ink = {0};
    settings_path(&path, "XDG_DATA_HOME", ".local/share", "call-report.pdf");
    pages_init(&p, a->types, PAPER_A4, &ink);
    report_pages(a, &p);
    if (a->advice.next.kind == NEXT_VISIT)
        visit_pages(a, &p);
    pages_proving(&p, app_clock(a));
    if (path.length > 0 && pages_write(&p, text_cstr(&path), &e))
        app_notice(a, "Written: %s", text_cstr(&path));
    else
        app_notice(a, "%s", e.count > 0 ? e.line[0] : "It could not be written.");
    pages_release(&p);
    err_release(&e);
    text_release(&path);
}
