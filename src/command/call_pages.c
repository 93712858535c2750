#include "command/call_pages.h"

#include <string.h>

#include "mem.h"

#define CAUSES_SHOWN 5
#define HEARDS_SHOWN 24

/* Dry oil that was only moved about, not washed out, gums up again: how soon depends on how much
 * of it was left (common practice; no figures are published). */
static const char back_again[] =
    "Oil put on top of old oil is a stop-gap: where the old oil is not all out the fault may be back within weeks to a year. A "
    "movement stripped and cleaned keeps three to five years before it wants oil again.";

static const char *cause_name(const struct belief_cause *k)
{
    if (k->fault)
        return k->fault->name;
    return !strcmp(k->id, "none") ? "Nothing wrong" : "Something the program does not know";
}

static size_t take_causes(const struct report *r, struct page_cause cause[CAUSES_SHOWN])
{
    size_t n = 0;
    for (size_t i = 0; i < r->belief.causes && n < CAUSES_SHOWN; i++) {
        const struct belief_cause *k = &r->belief.cause[i];
        if (n && k->p < 0.02)
            break;
        const char *reason = i < REPORT_CAUSES && r->reasons[i].count ? r->reasons[i].at[0] : NULL;
        cause[n++] = (struct page_cause){cause_name(k), k->part, reason, k->p};
    }
    return n;
}

static const struct clock *likeliest_clock(const struct desk *d, const struct report *r)
{
    return r->belief.clocks ? library_find_clock(d->lib, r->belief.clock[0].name) : NULL;
}

static size_t take_heard(const struct desk *d, char *line[HEARDS_SHOWN])
{
    size_t n = 0;
    for (; n < d->sheet.heards && n < HEARDS_SHOWN; n++) {
        struct text t = {0};
        heard_say(&d->sheet.heard[n], d->words, &t);
        line[n] = mem_copy_text(text_cstr(&t));
        text_release(&t);
    }
    return n;
}

static void take_parts(const struct report *r, double belief[PLATE_PARTS])
{
    for (size_t i = 0; i < r->belief.parts; i++) {
        enum plate_part part = plate_part_of(r->belief.by_part[i].name);
        if (part != PART_NONE)
            belief[part] = r->belief.by_part[i].p;
    }
}

/* What the owner may do: only what the hazard of the next step allows. */
static const char *owner_advice(const struct report *r)
{
    switch (r->next.kind) {
    case NEXT_OWNER:
    case NEXT_LEAVE:
        return r->next.text;
    default:
        return "Leave it as it is until it has been seen to. It does no harm to let the clock go on with the strike unwound or at "
               "silent. Do not open the movement.";
    }
}

void call_pages_report(struct pages *p, const struct desk *d, const struct report *r, const struct call_head *head)
{
    struct page_cause cause[CAUSES_SHOWN];
    char *heard[HEARDS_SHOWN] = {0};
    struct page_call call = {.number = head->number, .when = head->when, .customer = head->customer, .story = d->sheet.story};
    call.clock = likeliest_clock(d, r);
    call.clock_name = call.clock ? call.clock->name : NULL;
    call.cause = cause;
    call.causes = take_causes(r, cause);
    call.heards = take_heard(d, heard);
    call.heard = (const char *const *)heard;
    call.advice = owner_advice(r);
    take_parts(r, call.belief);
    pages_call(p, &call);
    for (size_t i = 0; i < HEARDS_SHOWN; i++)
        mem_free(heard[i]);
}

/* One step for each likely cause: its cure, who may do it and what to mind. */
static size_t take_steps(const struct report *r, struct page_step step[CAUSES_SHOWN])
{
    size_t n = 0;
    for (size_t i = 0; i < r->belief.causes && n < CAUSES_SHOWN; i++) {
        const struct cure *cure = r->belief.cause[i].cure;
        bool twice = false;
        for (size_t k = 0; k < n; k++)
            twice = twice || step[k].text == (cure ? cure->text : NULL);
        if (!cure || twice || (n && r->belief.cause[i].p < 0.02))
            continue;
        step[n++] = (struct page_step){cure->text, NULL, hazard_caution(cure->hazard), cure->minutes, NULL};
    }
    return n;
}

static double expected_minutes(const struct report *r)
{
    double sum = 0;
    for (size_t i = 0; i < r->belief.causes; i++)
        sum += r->belief.cause[i].p * (r->belief.cause[i].cure ? r->belief.cause[i].cure->minutes : UNKNOWN_MIN);
    return sum;
}

/* Tools of the cures, the likelier cause first. */
static size_t take_kit(const struct report *r, const char *kit[NEXT_KIT])
{
    size_t n = 0;
    for (; n < r->next.kits && n < NEXT_KIT; n++)
        kit[n] = r->next.kit[n];
    for (size_t i = 0; i < r->belief.causes && i < CAUSES_SHOWN; i++) {
        const struct cure *cure = r->belief.cause[i].cure;
        for (size_t k = 0; cure && k < cure->kits && n < NEXT_KIT; k++) {
            bool have = false;
            for (size_t m = 0; m < n; m++)
                have = have || !strcmp(kit[m], cure->kit[k]);
            if (!have)
                kit[n++] = cure->kit[k];
        }
    }
    return n;
}

/* Chance that cleaning and oiling is all it takes; below 0 when no oil is in question. */
static double oil_enough(const struct report *r)
{
    double p = 0;
    for (size_t i = 0; i < r->belief.causes; i++)
        if (!strcmp(r->belief.cause[i].class, "dry_or_dirty_oil"))
            p += 0.9 * r->belief.cause[i].p; /* nine in ten of those that are merely dry: common practice */
    return p > 0.005 ? p : -1;
}

void call_pages_visit(struct pages *p, const struct desk *d, const struct report *r, const struct call_head *head)
{
    struct page_cause cause[CAUSES_SHOWN];
    struct page_step step[CAUSES_SHOWN];
    const char *kit[NEXT_KIT];
    const struct clock *c = likeliest_clock(d, r);
    struct page_visit visit = {.van = head->van, .when = head->when, .customer = head->customer};
    visit.clock_name = c ? c->name : NULL;
    visit.cause = cause;
    visit.causes = take_causes(r, cause);
    visit.kit = kit;
    visit.kits = take_kit(r, kit);
    visit.minutes = expected_minutes(r);
    visit.oil_enough = oil_enough(r);
    visit.comes_back = visit.oil_enough > 0 ? back_again : NULL;
    visit.step = step;
    visit.steps = take_steps(r, step);
    pages_visit(p, &visit);
}

void call_visit_text(const struct report *r, struct text *out)
{
    struct page_cause cause[CAUSES_SHOWN];
    struct page_step step[CAUSES_SHOWN];
    const char *kit[NEXT_KIT];
    size_t causes = take_causes(r, cause), steps = take_steps(r, step), kits = take_kit(r, kit);
    double oil = oil_enough(r);
    text_addf(out, "Visit plan, about %.0f minutes at the clock\n", expected_minutes(r));
    for (size_t i = 0; i < causes; i++)
        text_addf(out, "  %3.0f %%  %s (%s)\n", 100 * cause[i].p, cause[i].name, cause[i].part);
    if (oil > 0)
        text_addf(out, "  Chance that cleaning and oiling suffices: %.0f %%. %s\n", 100 * oil, back_again);
    for (size_t i = 0; i < kits; i++)
        text_addf(out, "  [ ] %s\n", kit[i]);
    for (size_t i = 0; i < steps; i++)
        text_addf(out, "  %zu. %s (%.0f min%s%s)\n", i + 1, step[i].text, step[i].minutes, step[i].caution ? "; mind: " : "",
                  step[i].caution ? step[i].caution : "");
}
