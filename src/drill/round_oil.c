/* round_oil.c - place the oil: what each place of this movement wants. */
#include <string.h>

#include "drill/round_priv.h"
#include "mem.h"

#define PLACES 6

const char *const round_oil_words[4] = {"clock oil", "grease", "dry", "sources differ"};

struct oiling {
    struct oil_place place[PLACES];
    size_t places, at, right;
    struct text review;
};

/* Where sources differ, keeping it dry is the careful answer and is not marked wrong. */
static bool fits(const struct oil_place *p, const char *word)
{
    return !strcmp(p->wants, word) || (!strcmp(p->wants, "sources differ") && !strcmp(word, "dry"));
}

static void ask(struct round *r)
{
    struct oiling *o = r->own;
    round_prompt(r, "%s. %s: what does it want?", r->clock->name, o->place[o->at].place);
    round_clear_choices(r);
    for (size_t i = 0; i < 4; i++)
        round_offer(r, 0, "%s", round_oil_words[i]);
}

static bool oil_make(struct round *r)
{
    struct oil_place all[ROUND_OIL_MOST];
    r->clock = round_draw_clock(r, NULL);
    size_t n = r->clock && r->room->oil ? r->room->oil(r->clock, all, ROUND_OIL_MOST) : 0;
    if (!n)
        return false;
    struct oiling *o = r->own = mem_alloc(sizeof *o);
    for (size_t left = n; left && o->places < PLACES; left--) { /* draw without putting back */
        size_t i = random_below(&r->room->random, (unsigned)left);
        o->place[o->places++] = all[i];
        all[i] = all[left - 1];
    }
    r->part = "pivot holes";
    ask(r);
    return true;
}

static void oil_choose(struct round *r, size_t choice)
{
    struct oiling *o = r->own;
    const struct oil_place *p = &o->place[o->at];
    bool right = fits(p, round_oil_words[choice]);
    o->right += right;
    round_came(r, "%s %s: %s. %s", right ? "Right." : "No.", p->place, p->wants, p->note ? p->note : "");
    text_addf(&o->review, "%s%s: %s", o->at ? "; " : "", p->place, p->wants);
    if (++o->at < o->places) {
        ask(r);
        return;
    }
    round_review(r, "%s.", text_cstr(&o->review));
    round_finish(r, o->right == o->places, (int)(100 * o->right / o->places));
}

static void oil_release(struct round *r)
{
    struct oiling *o = r->own;
    text_release(&o->review);
}

static size_t oil_best(const struct round *r)
{
    const struct oiling *o = r->own;
    for (size_t i = 0; i < 4; i++)
        if (!strcmp(round_oil_words[i], o->place[o->at].wants))
            return i;
    return ROUND_NO_CHOICE;
}

const struct round_way round_oil_way = {oil_make, oil_choose, oil_release, oil_best};
