/* desk_print.c - the call on paper: a report for the customer, a plan for the van. */
#include <stdio.h>
#include <string.h>

#include "command/call_pages.h"
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
                             .advice = call_owner_advice(&a->advice.next)};
    memcpy(call.belief, a->advice.part, sizeof call.belief);
    pages_call(p, &call);
    for (size_t i = 0; i < n; i++)
        mem_free(line[i]);
}

static enum next_kind place_of(const char *who)
{
    return !strcmp(who, "owner") ? NEXT_OWNER : !strcmp(who, "bench") ? NEXT_BENCH : NEXT_VISIT;
}

/* First what the finder advises, then the cures of the likely causes by where they are done. */
static size_t steps_of(const struct app *a, struct page_step step[ADVICE_CAUSES + 1])
{
    const struct next_step *s = &a->advice.next;
    size_t n = 0;
    step[n++] = (struct page_step){s->text, NULL, hazard_caution(s->hazard), s->minutes, call_place_title(s->kind)};
    for (int place = NEXT_OWNER; place <= NEXT_BENCH; place++) {
        bool first = place != (int)s->kind;
        for (size_t i = 0; i < a->advice.causes; i++) {
            const struct advice_cause *k = &a->advice.cause[i];
            bool twice = false;
            for (size_t m = 0; m < n; m++)
                twice = twice || !strcmp(step[m].text, k->cure);
            if (!k->cure[0] || twice || k->p < 0.02 || (int)place_of(k->who) != place || n > ADVICE_CAUSES)
                continue;
            step[n++] = (struct page_step){k->cure, NULL, hazard_caution(k->hazard), 0, first ? call_place_title((enum next_kind)place) : NULL};
            first = false;
        }
    }
    return n;
}

static void visit_pages(struct app *a, struct pages *p)
{
    const struct next_step *s = &a->advice.next;
    struct page_cause cause[ADVICE_CAUSES];
    struct page_step step[ADVICE_CAUSES + 1];
    struct page_visit visit = {.customer = a->desk.customer.length > 0 ? text_cstr(&a->desk.customer) : NULL,
                               .clock_name = app_clock(a)->name, .cause = cause, .causes = causes_of(a, cause),
                               .kit = s->kit, .kits = s->kits, .oil_enough = s->oil_suffices >= 0.02 ? s->oil_suffices : -1,
                               .comes_back = call_back_again, .step = step, .steps = steps_of(a, step)};
    visit.minutes = s->cost_min - s->minutes; /* s->minutes is the way */
    pages_visit(p, &visit);
}

void desk_print(struct app *a)
{
    struct pages p;
    struct text path = {0};
    struct err e = {0};
    struct ink ink = {0};
    settings_path(&path, "XDG_DATA_HOME", ".local/share", "call-report.pdf");
    pages_init(&p, a->types, paper_of_house(), &ink);
    report_pages(a, &p);
    if (a->advice.next.kind == NEXT_VISIT || a->advice.next.kind == NEXT_BENCH)
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
