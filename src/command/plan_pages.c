#include "command/plan_pages.h"

#include <stdio.h>
#include <string.h>

#include "mem.h"
#include "movement/fault.h"
#include "resync/hands_sheet.h"
#include "resync/step_text.h"

#define STEPS_MOST 120 /* some twelve pages */

struct listing {
    const struct clock *c;
    struct page_step step[STEPS_MOST + 2];
    size_t steps;
    char *heading[STEPS_MOST + 2];
    size_t headings;
    bool cut;
};

static void list_step(struct listing *l, const char *text, const char *hear, const char *caution, double minutes,
                      const char *heading)
{
    if (l->steps >= STEPS_MOST) {
        l->cut = true;
        return;
    }
    l->step[l->steps++] = (struct page_step){text, hear, caution, minutes, heading};
}

static const char *branch_heading(struct listing *l, const struct plan_branch *b, size_t at)
{
    struct text t = {0};
    if (l->headings >= STEPS_MOST)
        return NULL;
    text_addf(&t, "If at step %zu it %s", at, b->heard.blows && !b->heard.phrases ? "" : "sounds ");
    rung_say(&b->heard, l->c, &t);
    l->heading[l->headings] = mem_copy_text(text_cstr(&t));
    text_release(&t);
    return l->heading[l->headings++];
}

static void list_plan(struct listing *l, const struct plan *p, const char *heading)
{
    for (size_t i = 0; i < p->steps; i++) {
        const struct step *s = &p->step[i];
        list_step(l, s->text, s->hear, hazard_caution(s->hazard), s->minutes, i ? NULL : heading);
    }
    if (p->steps)
        heading = NULL;
    size_t at = l->steps;
    for (size_t i = 0; i < p->branches && !l->cut; i++)
        list_plan(l, p->branch[i].then, branch_heading(l, &p->branch[i], at));
    if (p->branches)
        return;
    if (!p->found)
        list_step(l, p->why, NULL, NULL, 0, heading);
    else
        list_step(l, "It is in step. Prove it at the next let-off.", p->proof, NULL, 0, heading);
}

void plan_pages_add(struct pages *p, const struct clock *c, const struct plan *plan)
{
    struct listing *l = mem_alloc(sizeof *l);
    char under[160];
    l->c = c;
    if (plan->steps && plan->step[0].before.hands_off)
        list_step(l, STEP_BARE, NULL, NULL, 0, NULL);
    list_plan(l, plan, NULL);
    if (l->cut)
        l->step[l->steps++] = (struct page_step){.text = "There are more ways than fit on paper: go on with letoff resync "
                                                         "--follow or with the window, which ask what was heard."};
    l->step[l->steps++] = (struct page_step){.text = STEP_CAUTION, .heading = "Mind"};
    snprintf(under, sizeof under, "%.90s. About %.0f minutes%s.", c->name, plan->minutes < 1 ? 1 : plan->minutes,
             plan->branches ? ", by what is heard on the way" : "");
    pages_steps(p, "Setting right", under, l->step, l->steps);
    for (size_t i = 0; i < l->headings; i++)
        mem_free(l->heading[i]);
    mem_free(l);
}

void hands_pages_add(struct pages *p, const struct works *w, int shown_min)
{
    struct hands_sheet s;
    struct page_step step[STEPS_MOST];
    char under[160];
    size_t n = 0;
    int part = -1;
    hands_sheet_init(&s, w, shown_min);
    snprintf(under, sizeof under, "%.100s. In the order hands, chime, strike.", w->clock->name);
    for (; n < s.steps && n < STEPS_MOST; n++) {
        const struct hands_step *h = &s.step[n];
        step[n] = (struct page_step){h->text, h->hear, h->caution, h->minutes,
                                     (int)h->part == part ? NULL : hands_part_title(h->part)};
        part = (int)h->part;
    }
    pages_steps(p, "Hands off, hands on", under, step, n);
    hands_sheet_release(&s);
}
