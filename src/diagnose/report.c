#include "diagnose/report.h"

#include <string.h>
#include "diagnose/sheet_notice.h"
#include "mem.h"

#define REPORT_GROUPED 12

static void say_many_alike(struct sentences *notes, const struct alike_group *g, const struct belief *b)
{
    struct text t = {0};
    alike_names(g, b, &t);
    text_add(&t, " sound alike in what was heard; to tell them apart ");
    alike_say(g, b, &t);
    sentences_add(notes, "%s", text_cstr(&t));
    text_release(&t);
}

static bool holds_second(const struct alike_group *g)
{
    for (size_t i = 0; i < g->causes; i++)
        if (g->cause[i] == 1)
            return true;
    return false;
}

/* The likeliest group when it is of three or more; the first two causes by themselves unless they
 * are in it already. */
static void say_alike(struct report *r)
{
    const struct alike_group *g = &r->alike.group[0];
    bool many = r->alike.groups && g->causes > 2;
    r->alike_from = r->notes.count;
    if (!many || g->cause[0] != 0 || !holds_second(g))
        reasons_look(&r->notes, &r->belief, r->sheet);
    if (many)
        say_many_alike(&r->notes, g, &r->belief);
    r->alike_to = r->notes.count;
}

/* A count at no known time fits nearly every clock and cause. */
static void ask_for_times(struct sentences *notes, const struct sheet *sheet)
{
    for (size_t i = 0; i < sheet->heards; i++)
        if (sheet->heard[i].at.kind != AT_UNKNOWN || sheet->heard[i].has_for)
            return;
    if (sheet->heards)
        sentences_add(notes, "it is not told at what time that was heard: ask for it first, without it little can be told");
}

static void add_notice(void *with, size_t line, const char *said)
{
    (void)line;
    sentences_add(with, "%s", said);
}

void report_look(struct report *r, struct finder *f)
{
    const struct sheet *sheet = r->sheet;
    for (size_t i = 0; i < r->belief.causes && i < REPORT_CAUSES; i++) {
        if (r->belief.cause[i].p < 0.01 && i > 0)
            break;
        reasons_of(&r->reasons[i], &r->belief, i, sheet);
        reasons_predicts(&r->predicts[i], &r->belief, i, sheet, 3);
    }
    reasons_first(&r->first, &r->belief, sheet);
    ask_for_times(&r->notes, sheet);
    alike_find(&r->alike, &r->belief, sheet, REPORT_GROUPED, 0.01);
    for (size_t i = 0; i < r->alike.groups; i++)
        alike_apart(&r->alike.group[i], &r->belief, sheet);
    say_alike(r);
    r->clash = reasons_clash(&r->notes, f, &r->belief, sheet);
    sheet_notice(sheet, add_notice, &r->notes);
    next_step_find(&r->next, f, &r->belief, sheet);
}

bool report_believe(struct report *r, struct finder *f, const struct sheet *const *reading,
                    const double *share, size_t readings, const struct belief_options *options)
{
    double sum = share[0];
    memset(r, 0, sizeof *r);
    r->sheet = reading[0];
    r->clash = -1;
    if (!belief_find(f, reading[0], options, &r->belief))
        return false;
    for (size_t i = 1; i < readings; i++) {
        struct belief other;
        if (!belief_find(f, reading[i], options, &other))
            continue;
        sum += share[i];
        belief_mix(&r->belief, &other, share[i] / sum);
        belief_release(&other);
    }
    return true;
}

bool report_init(struct report *r, struct finder *f, const struct sheet *sheet,
                 const struct belief_options *options)
{
    const double all = 1;
    if (!report_believe(r, f, &sheet, &all, 1, options))
        return false;
    report_look(r, f);
    return true;
}

void report_release(struct report *r)
{
    for (size_t i = 0; i < REPORT_CAUSES; i++) {
        sentences_release(&r->reasons[i]);
        sentences_release(&r->predicts[i]);
    }
    sentences_release(&r->first);
    sentences_release(&r->notes);
    belief_release(&r->belief);
}

/* ---- for people ---- */

static void text_cause(const struct report *r, size_t i, struct text *out)
{
    const struct belief_cause *c = &r->belief.cause[i];
    text_addf(out, "%5.1f %%  %s%s%s  (%s; %s)\n", 100 * c->p, reasons_name(c), c->second ? " and " : "",
              c->second ? c->second->name : "", c->part, c->class);
    if (i >= REPORT_CAUSES)
        return;
    for (size_t k = 0; k < r->reasons[i].count; k++)
        text_addf(out, "           %s\n", r->reasons[i].at[k]);
    for (size_t k = 0; k < r->predicts[i].count; k++)
        text_addf(out, "         > %s\n", r->predicts[i].at[k]);
}

static void text_advice(const struct next_step *n, struct text *out)
{
    text_addf(out, "\n%s%s\n", n->kind == NEXT_OWNER ? "The owner can do this now: " : "", n->text);
    if (n->kind == NEXT_OWNER)
        text_addf(out, "  about %.0f min, puts it right with a chance of %.0f %%; hazard: %s\n",
                  n->minutes, 100 * n->p_cure, n->hazard);
    for (size_t i = 0; i < n->kits; i++)
        text_addf(out, "%s%s%s", i ? ", " : "  bring: ", n->kit[i], i + 1 < n->kits ? "" : "\n");
}

static void text_tells(const struct report *r, struct text *out)
{
    text_add(out, "\nTells ");
    reasons_say_name(&r->belief.cause[0], out);
    text_add(out, " from ");
    reasons_say_name(&r->belief.cause[1], out);
    text_addf(out, ": %s\n", r->next.apart.text);
}

static void text_questions(const struct report *r, struct text *out)
{
    const struct next_step *n = &r->next;
    if (n->kind == NEXT_QUESTION)
        text_addf(out, "\nAsk next: %s\n  takes %.1f min, saves about %.0f min\n", n->text, n->minutes,
                  n->saves_min);
    for (size_t i = 1; i < n->questions; i++)
        text_addf(out, "%s%s\n", i == 1 ? "  then: " : "        ", n->batch[i].text);
    if (n->apart_by >= APART_LEAST && r->belief.cause[1].p >= 0.02 && strcmp(n->apart.id, n->id) != 0)
        text_tells(r, out);
}

static void text_next(const struct report *r, struct text *out)
{
    if (r->next.kind != NEXT_QUESTION)
        text_advice(&r->next, out);
    text_questions(r, out);
}

void report_groups(const struct report *r, struct text *out)
{
    for (size_t i = 0; i < r->alike.groups; i++) {
        const struct alike_group *g = &r->alike.group[i];
        text_addf(out, "%5.1f %%  %s", 100 * g->p, g->causes > 1 ? "one of: " : "");
        alike_names(g, &r->belief, out);
        if (g->causes > 1) {
            text_add(out, " - they sound alike; to tell them apart ");
            alike_say(g, &r->belief, out);
        }
        text_add(out, "\n");
    }
}

#define BOUND_SAYS 0.1 /* a bound above this tells nobody anything */

static void text_pairs(const struct belief *b, struct text *out)
{
    text_addf(out, "Of two faults at once %zu pairs were tried; the others come to about %.0e", b->pairs_tried,
              b->pairs_about);
    if (b->pairs_untried > BOUND_SAYS)
        text_add(out, ", which is an estimate: too many were left for a bound.\n");
    else
        text_addf(out, ", to %.0e at most.\n", b->pairs_untried);
}

void report_text(const struct report *r, size_t most, bool grouped, struct text *out)
{
    const struct belief *b = &r->belief;
    for (size_t i = 0; i < r->first.count; i++)
        text_addf(out, "First: %s\n", r->first.at[i]);
    if (b->clocks && !r->sheet->clock[0]) {
        text_add(out, "Clock:");
        for (size_t i = 0; i < b->clocks && i < 3 && (i == 0 || b->clock[i].p > 0.05); i++)
            text_addf(out, "%s %s %.0f %%", i ? "," : "", b->clock[i].name, 100 * b->clock[i].p);
        text_add(out, "\n");
    }
    for (size_t i = 0; i < b->causes; i++)
        if (most ? i < most : i == 0 || (i < REPORT_CAUSES && b->cause[i].p >= 0.01))
            text_cause(r, i, out);
    for (size_t i = 0; i < r->notes.count; i++)
        if (!grouped || i < r->alike_from || i >= r->alike_to)
            text_addf(out, "Note: %s\n", r->notes.at[i]);
    text_next(r, out);
    text_addf(out, "These are likelihoods, not certainties (left out at most %.0e).\n", b->omitted);
    if (b->pairs_tried)
        text_pairs(b, out);
}
