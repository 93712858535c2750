#include "command/call_pages.h"

#include <string.h>

#include "mem.h"

#define CAUSES_SHOWN 5
#define STEPS_SHOWN 8
#define PLAN_MOST 100
#define HEARDS_SHOWN 24

/* Dry oil that was only moved about, not washed out, gums up again: how soon depends on how much
 * of it was left (common practice; no figures are published). */
const char call_back_again[] =
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

const char *call_owner_advice(const struct next_step *next)
{
    switch (next->kind) {
    case NEXT_OWNER:
    case NEXT_LEAVE:
        return next->text;
    default:
        return "Leave it as it is until it has been seen to. It does no harm to let the clock go on with the strike unwound or at "
               "silent. Do not open the movement.";
    }
}

const char *call_place_title(enum next_kind place)
{
    switch (place) {
    case NEXT_OWNER:
    case NEXT_LEAVE:
        return "Before going: the owner, by telephone";
    case NEXT_VISIT:
        return "In the house";
    case NEXT_BENCH:
        return "At the bench";
    case NEXT_QUESTION:
        break;
    }
    return NULL;
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
    call.advice = call_owner_advice(&r->next);
    take_parts(r, call.belief);
    pages_call(p, &call);
    for (size_t i = 0; i < HEARDS_SHOWN; i++)
        mem_free(heard[i]);
}

static const struct cure *cure_named(const struct report *r, const char *id)
{
    for (size_t i = 0; i < r->belief.causes; i++)
        if (r->belief.cause[i].cure && !strcmp(r->belief.cause[i].cure->id, id))
            return r->belief.cause[i].cure;
    return NULL;
}

/* A step of the plan as it is printed; false for one that is not worth a line. */
static bool print_step(const struct report *r, const struct plan_step *s, size_t before, struct page_step *out)
{
    const struct cure *cure = cure_named(r, s->cure);
    if (!strncmp(s->cure, "look", 4)) {
        *out = (struct page_step){.text = "Look for the cause with your own eyes, and do only what it wants.",
                                  .minutes = s->minutes};
        return true;
    }
    if (!strcmp(s->cure, "leave-alone"))
        *out = (struct page_step){.text = "Leave it alone and hear it again: it may be doing what such a clock should.", .minutes = s->minutes};
    else if (cure && s->place == NEXT_VISIT && !strcmp(s->cure, "clean-and-oil"))
        *out = (struct page_step){.text = "Clean what can be reached where it stands, and oil it.", .minutes = s->minutes,
                                  .caution = hazard_caution(cure->hazard)};
    else if (cure)
        *out = (struct page_step){.text = cure->text, .minutes = s->minutes, .caution = hazard_caution(cure->hazard)};
    return out->text && (!before || s->p >= 0.02);
}

/* The finder's plan: what the owner tries, what is done there first, then what else it may want. */
static size_t take_steps(const struct report *r, struct page_step step[STEPS_SHOWN])
{
    struct plan_step plan[PLAN_MOST];
    size_t n = 0, count = next_plan(&r->belief, plan, PLAN_MOST);
    bool looked = false;
    int place = -1, there = 0; /* steps away from the telephone */
    for (size_t i = 0; i < count && n < STEPS_SHOWN; i++) {
        step[n] = (struct page_step){.text = NULL};
        if (!print_step(r, &plan[i], n, &step[n]))
            continue;
        step[n].heading = place == NEXT_VISIT && plan[i].place == NEXT_BENCH ? "At the bench, if the house does not do"
                          : (int)plan[i].place != place                       ? call_place_title(plan[i].place)
                          : there != 1 ? NULL
                          : looked ? "What it may then want" : "If that was not it: look, and do what it wants of these";
        place = (int)plan[i].place;
        there += place != NEXT_OWNER;
        looked = looked || !strncmp(plan[i].cure, "look", 4);
        n++;
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
    return p >= 0.02 ? p : -1;
}

void call_pages_visit(struct pages *p, const struct desk *d, const struct report *r, const struct call_head *head)
{
    struct page_cause cause[CAUSES_SHOWN];
    struct page_step step[STEPS_SHOWN];
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
    visit.comes_back = visit.oil_enough > 0 ? call_back_again : NULL;
    visit.step = step;
    visit.steps = take_steps(r, step);
    pages_visit(p, &visit);
}

void call_visit_text(const struct report *r, struct text *out)
{
    struct page_cause cause[CAUSES_SHOWN];
    struct page_step step[STEPS_SHOWN];
    const char *kit[NEXT_KIT];
    size_t causes = take_causes(r, cause), steps = take_steps(r, step), kits = take_kit(r, kit);
    double oil = oil_enough(r);
    text_addf(out, "Visit plan, about %.0f minutes of work, the way not counted\n", expected_minutes(r));
    for (size_t i = 0; i < causes; i++)
        text_addf(out, "  %3.0f %%  %s (%s)\n", 100 * cause[i].p, cause[i].name, cause[i].part);
    if (oil > 0)
        text_addf(out, "  Chance that cleaning and oiling suffices: %.0f %%. %s\n", 100 * oil, call_back_again);
    for (size_t i = 0; i < kits; i++)
        text_addf(out, "  [ ] %s\n", kit[i]);
    for (size_t i = 0; i < steps; i++) {
        if (step[i].heading)
            text_addf(out, "  %s\n", step[i].heading);
        text_addf(out, "  %zu. %s (%.0f min)\n%s%s%s", i + 1, step[i].text, step[i].minutes, step[i].caution ? "     Mind: " : "",
                  step[i].caution ? step[i].caution : "", step[i].caution ? "\n" : "");
    }
}
