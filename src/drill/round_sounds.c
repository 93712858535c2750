/* round_sounds.c - naming what is heard: the time, the kind of clock, the fault. */
#include <math.h>
#include <string.h>

#include "drill/round_priv.h"
#include "mem.h"

/* --- a question with one right choice --------------------------------------------------------------- */

#define CHOICES 4
struct naming {
    size_t right;       /* place of the right choice */
    char *truth, *note; /* said in the review; note may be NULL */
};

static struct naming *naming_of(struct round *r)
{
    if (!r->own)
        r->own = mem_alloc(sizeof(struct naming));
    return r->own;
}

static void naming_release(struct round *r)
{
    struct naming *n = r->own;
    mem_free(n->truth);
    mem_free(n->note);
}

static void naming_choose(struct round *r, size_t choice)
{
    struct naming *n = r->own;
    bool right = choice == n->right;
    round_came(r, right ? "Right." : "No.");
    round_review(r, "It was: %s.%s%s", n->truth, n->note ? " " : "", n->note ? n->note : "");
    round_finish(r, right, right ? 100 : 0);
}

static size_t naming_best(const struct round *r)
{
    return ((const struct naming *)r->own)->right;
}

/* The first choice offered is the right one until now. */
static void naming_ready(struct round *r, const char *note)
{
    struct naming *n = naming_of(r);
    n->truth = mem_copy_text(r->choice[0].text);
    n->note = mem_copy_text(note);
    n->right = round_shuffle(r);
}

static char *said(const struct clock *c, const struct event_list *events, bool sounders)
{
    struct text t = {0};
    round_say_events(c, events, sounders, &t);
    char *copy = mem_copy_text(text_cstr(&t));
    text_release(&t);
    return copy;
}

static const char *part_of_count(const struct clock *c)
{
    if (c->train[TRAIN_CHIME].tunes)
        return "chime drum";
    return c->train[TRAIN_STRIKE].control == CONTROL_RACK ? "rack" : "count wheel";
}

/* --- what time is it --------------------------------------------------------------------------------- */

/* What a clock in step sounds at its i-th let-off. */
static char *sounds_at(struct round *r, const struct works *w, int letoff, struct event_list *out)
{
    struct moment m;
    int min = clock_letoff_min(w->clock, letoff), lead = w->clock->warn_min + 1;
    event_list_clear(out);
    moment_init(&m, w, (min - lead + 1440) % 1440);
    round_run(w, &m, lead, &r->room->random, out);
    return said(w->clock, out, false);
}

static const char *time_of(const struct works *w, int letoff, char out[8])
{
    return text_dial(clock_letoff_min(w->clock, letoff), out);
}

static bool offer_times(struct round *r, const struct works *w, int truth, const char *heard)
{
    struct event_list other = {0};
    char when[8];
    int n = clock_letoffs(w->clock);
    round_offer(r, 0, "%s", time_of(w, truth, when));
    for (int tries = 0; tries < 200 && r->choices < CHOICES; tries++) {
        int i = (int)random_below(&r->room->random, (unsigned)n);
        char *sound = sounds_at(r, w, i, &other);
        bool fits = !strcmp(sound, heard);
        time_of(w, i, when);
        for (size_t k = 0; k < r->choices; k++)
            fits = fits || !strcmp(r->choice[k].text, when);
        if (!fits)
            round_offer(r, 0, "%s", when);
        mem_free(sound);
    }
    event_list_release(&other);
    return r->choices == CHOICES;
}

static bool sounds_differ(const struct clock *c)
{
    const struct train *t = &c->train[TRAIN_STRIKE];
    return t->control == CONTROL_RACK || t->control == CONTROL_COUNT_WHEEL;
}

static bool time_make(struct round *r)
{
    struct works w;
    r->clock = round_draw_clock(r, sounds_differ);
    if (!r->clock)
        return false;
    works_init(&w, r->clock, NULL, 0);
    int truth = (int)random_below(&r->room->random, (unsigned)clock_letoffs(r->clock));
    char *heard = sounds_at(r, &w, truth, &r->events);
    bool good = offer_times(r, &w, truth, heard);
    round_prompt(r, "%s, in order. It sounds: %s. Which time is it?", r->clock->name, heard);
    mem_free(heard);
    r->part = part_of_count(r->clock);
    if (good)
        naming_ready(r, NULL);
    return good;
}

const struct round_way round_time_way = {time_make, naming_choose, naming_release, naming_best};

/* --- which clock -------------------------------------------------------------------------------------- */

#define LISTEN_FROM (2 * 60 + 50)
#define LISTEN_MIN 75

static char *hour_of(struct round *r, const struct clock *c, struct event_list *out)
{
    struct works w;
    struct moment m;
    works_init(&w, c, NULL, 0);
    event_list_clear(out);
    moment_init(&m, &w, LISTEN_FROM);
    round_run(&w, &m, LISTEN_MIN, &r->room->random, out);
    return said(c, out, true);
}

static bool offer_clocks(struct round *r, const char *heard)
{
    struct event_list other = {0};
    char *taken[CHOICES] = {mem_copy_text(heard)};
    size_t n = library_clocks(r->room->lib);
    round_offer(r, 0, "%s", r->clock->name);
    for (int tries = 0; tries < 200 && r->choices < CHOICES; tries++) {
        const struct clock *c = library_clock(r->room->lib, random_below(&r->room->random, (unsigned)n));
        char *sound = hour_of(r, c, &other);
        bool known = false;
        for (size_t k = 0; k < r->choices; k++)
            known = known || (taken[k] && !strcmp(taken[k], sound));
        if (known) {
            mem_free(sound);
            continue;
        }
        taken[r->choices] = sound;
        round_offer(r, 0, "%s", c->name);
    }
    for (size_t i = 0; i < CHOICES; i++)
        mem_free(taken[i]);
    event_list_release(&other);
    return r->choices == CHOICES;
}

static bool clock_make(struct round *r)
{
    r->clock = round_draw_clock(r, NULL);
    if (!r->clock)
        return false;
    char *heard = hour_of(r, r->clock, &r->events);
    bool good = offer_clocks(r, heard);
    round_prompt(r, "From ten to three until five past four a clock in order sounds, let-off by let-off: %s. Which kind is it?",
                 heard);
    mem_free(heard);
    r->part = part_of_count(r->clock);
    if (good)
        naming_ready(r, r->clock->about);
    return good;
}

const struct round_way round_clock_way = {clock_make, naming_choose, naming_release, naming_best};

/* --- which fault ------------------------------------------------------------------------------------------ */

#define CHANGES_MOST (FAULT_SETS + FAULT_AXES + 1)

struct trial {
    struct round *r;
    int from_min, span_min;
};

/* What the clock sounds with this variant, by the words of an ear. */
static char *sounds_with(const struct trial *t, const struct fault *f, size_t variant, struct event_list *out)
{
    struct change change[CHANGES_MOST];
    double weight, severity;
    struct works w;
    struct moment m;
    size_t n = fault_variant(f, t->r->clock, variant, change, &weight, &severity);
    works_init(&w, t->r->clock, change, n);
    event_list_clear(out);
    moment_init(&m, &w, movement_work_at(&w, t->from_min));
    round_run(&w, &m, t->span_min, &t->r->room->random, out);
    return said(t->r->clock, out, false);
}

/* Could this fault sound like that at all? */
static bool could_sound(const struct trial *t, const struct fault *f, const char *heard)
{
    struct event_list out = {0};
    bool could = false;
    size_t n = fault_variants(f, t->r->clock);
    for (size_t v = 0; v < n && !could; v++) {
        char *sound = sounds_with(t, f, v, &out);
        could = !strcmp(sound, heard);
        mem_free(sound);
    }
    event_list_release(&out);
    return could;
}

static const struct fault *draw_fault(struct round *r, bool weak)
{
    size_t n = library_faults(r->room->lib);
    for (int tries = 0; tries < 400; tries++) {
        const struct fault *f = library_fault(r->room->lib, random_below(&r->room->random, (unsigned)n));
        if (!f->start_only && fault_applies(f, r->clock) && fault_variants(f, r->clock) &&
            (!weak || round_weak(r, f->part)))
            return f;
    }
    return NULL;
}

static bool offer_faults(const struct trial *t, const struct fault *truth, const char *heard)
{
    struct round *r = t->r;
    round_offer(r, 0, "%s (%s)", truth->name, truth->part);
    for (int tries = 0; tries < 60 && r->choices < CHOICES; tries++) {
        const struct fault *f = draw_fault(r, false);
        struct text name = {0};
        if (!f || f == truth || could_sound(t, f, heard))
            continue;
        text_addf(&name, "%s (%s)", f->name, f->part);
        bool known = false;
        for (size_t k = 0; k < r->choices; k++)
            known = known || !strcmp(r->choice[k].text, text_cstr(&name));
        if (!known)
            round_offer(r, 0, "%s", text_cstr(&name));
        text_release(&name);
    }
    return r->choices == CHOICES;
}

static bool defect_try(struct round *r, bool weak)
{
    struct trial t = {r, 60 * (1 + (int)random_below(&r->room->random, 11)) - 10, 75};
    struct event_list due = {0};
    struct works sound;
    struct moment m;
    const struct fault *f = draw_fault(r, weak);
    if (!f)
        return false;
    works_init(&sound, r->clock, NULL, 0);
    moment_init(&m, &sound, t.from_min);
    round_run(&sound, &m, t.span_min, &r->room->random, &due);
    char *should = said(r->clock, &due, false);
    char *heard = sounds_with(&t, f, random_below(&r->room->random, (unsigned)fault_variants(f, r->clock)), &r->events);
    bool good = strcmp(should, heard) && offer_faults(&t, f, heard);
    if (good) {
        char from[8], to[8];
        round_prompt(r, "%s. From %s to %s it should sound: %s. It sounds: %s. Which of these could it be?", r->clock->name,
                     text_dial(t.from_min, from), text_dial(t.from_min + t.span_min, to), should, heard);
        r->part = f->part;
        naming_ready(r, f->about);
    } else {
        round_clear_choices(r);
    }
    event_list_release(&due);
    mem_free(should);
    mem_free(heard);
    return good;
}

static bool defect_make(struct round *r)
{
    for (int tries = 0; tries < 60; tries++) {
        if (tries % 10 == 0)
            r->clock = round_draw_clock(r, NULL);
        if (r->clock && defect_try(r, tries < 20 && r->room->weaks))
            return true;
    }
    return false;
}

const struct round_way round_defect_way = {defect_make, naming_choose, naming_release, naming_best};
