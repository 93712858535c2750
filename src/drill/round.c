#include "drill/round.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "drill/round_priv.h"
#include "mem.h"

static const struct {
    const char *name;
    const struct round_way *way;
} rows[ROUND_KINDS] = {
    [ROUND_TIME] = {"time", &round_time_way},       [ROUND_CLOCK] = {"clock", &round_clock_way},
    [ROUND_OIL] = {"oil", &round_oil_way},          [ROUND_RESET] = {"reset", &round_reset_way},
    [ROUND_DEFECT] = {"defect", &round_defect_way}, [ROUND_FAULT] = {"fault", &round_fault_way},
};

const char *round_kind_name(enum round_kind k)
{
    return rows[k].name;
}

int round_kind_of(const char *name)
{
    for (int i = 0; i < ROUND_KINDS; i++)
        if (!strcmp(rows[i].name, name))
            return i;
    return -1;
}

struct round *round_new(struct training *room, enum round_kind kind, int level)
{
    struct round *r = mem_alloc(sizeof *r);
    r->room = room;
    r->kind = kind;
    r->level = level < 1 ? 1 : level > 5 ? 5 : level;
    r->part = "none";
    if (rows[kind].way->make(r))
        return r;
    round_free(r);
    return NULL;
}

void round_free(struct round *r)
{
    if (!r)
        return;
    if (rows[r->kind].way->release && r->own)
        rows[r->kind].way->release(r);
    mem_free(r->own);
    round_clear_choices(r);
    mem_free(r->choice);
    mem_free(r->prompt);
    mem_free(r->came);
    mem_free(r->review);
    event_list_release(&r->events);
    mem_free(r);
}

bool round_choose(struct round *r, size_t choice)
{
    if (r->done || choice >= r->choices)
        return false;
    rows[r->kind].way->choose(r, choice);
    return true;
}

size_t round_best(const struct round *r)
{
    return r->done ? ROUND_NO_CHOICE : rows[r->kind].way->best(r);
}

/* --- what the kinds share ------------------------------------------------------------------------ */

static void put_text(char **to, const char *fmt, va_list args)
{
    struct text t = {0};
    text_addv(&t, fmt, args);
    mem_free(*to);
    *to = mem_copy_text(text_cstr(&t));
    text_release(&t);
}

void round_prompt(struct round *r, const char *fmt, ...)
{
    va_list args;
    va_start(args, fmt);
    put_text(&r->prompt, fmt, args);
    va_end(args);
}

void round_came(struct round *r, const char *fmt, ...)
{
    va_list args;
    va_start(args, fmt);
    put_text(&r->came, fmt, args);
    va_end(args);
}

void round_review(struct round *r, const char *fmt, ...)
{
    va_list args;
    va_start(args, fmt);
    put_text(&r->review, fmt, args);
    va_end(args);
}

void round_offer(struct round *r, double minutes, const char *fmt, ...)
{
    va_list args;
    r->choice = mem_grow(r->choice, &r->choice_room, r->choices + 1, sizeof *r->choice);
    r->choice[r->choices] = (struct round_choice){NULL, minutes};
    va_start(args, fmt);
    put_text(&r->choice[r->choices++].text, fmt, args);
    va_end(args);
}

void round_clear_choices(struct round *r)
{
    for (size_t i = 0; i < r->choices; i++)
        mem_free(r->choice[i].text);
    r->choices = 0;
}

void round_finish(struct round *r, bool right, int score)
{
    r->done = true;
    r->right = right;
    r->score = score < 0 ? 0 : score > 100 ? 100 : score;
    round_clear_choices(r);
}

int round_score(double best_min, double spent_min)
{
    if (spent_min <= best_min)
        return 100;
    return (int)lround(100 * best_min / spent_min);
}

/* A clock is harder the more trains it has and the more its count can be out. */
static int hardness(const struct clock *c)
{
    int trains = 0;
    for (int t = TRAIN_STRIKE; t < TRAINS; t++)
        trains += c->train[t].control != CONTROL_NONE;
    return trains + (c->train[TRAIN_CHIME].control == CONTROL_COUNT_WHEEL) + (c->cycle_min > 720);
}

const struct clock *round_draw_clock(struct round *r, bool (*suits)(const struct clock *c))
{
    const struct library *lib = r->room->lib;
    double sum = 0;
    for (int pass = 0; pass < 2; pass++) {
        double left = pass ? random_unit(&r->room->random) * sum : 0;
        for (size_t i = 0; i < library_clocks(lib); i++) {
            const struct clock *c = library_clock(lib, i);
            if ((suits && !suits(c)) || hardness(c) > r->level + 1 || !clock_letoffs(c))
                continue;
            double weight = 1 + c->share; /* common clocks more often */
            sum += pass ? 0 : weight;
            left -= weight;
            if (pass && left < 0)
                return c;
        }
    }
    return NULL;
}

bool round_weak(const struct round *r, const char *part)
{
    for (size_t i = 0; i < r->room->weaks; i++)
        if (!strcmp(r->room->weak[i], part))
            return true;
    return false;
}

size_t round_shuffle(struct round *r)
{
    size_t at = random_below(&r->room->random, (unsigned)r->choices);
    struct round_choice first = r->choice[0];
    r->choice[0] = r->choice[at];
    r->choice[at] = first;
    return at;
}

/* --- sound in words -------------------------------------------------------------------------------- */

static char bell_sign(const struct clock *c, int sounder)
{
    const struct train *t = &c->train[TRAIN_CHIME];
    for (int i = 0; t->tunes && i < t->tune[0]->bells && i < CLOCK_SOUNDERS; i++)
        if (t->hammer[i] == sounder)
            return (char)(i < 9 ? '1' + i : 'a' + i - 9);
    return 0;
}

static void say_quality(unsigned quality, struct text *out)
{
    static const struct { unsigned bit; const char *sign; } signs[] = {
        {QUALITY_WEAK, "(weak)"}, {QUALITY_DOUBLE, "(double)"}, {QUALITY_BUZZ, "(buzz)"},
        {QUALITY_THUD, "(thud)"}, {QUALITY_TINNY, "(tinny)"},   {QUALITY_LOUD, "(loud)"},
    };
    for (size_t i = 0; i < sizeof signs / sizeof signs[0]; i++)
        if (quality & signs[i].bit)
            text_add(out, signs[i].sign);
}

static void say_note(const struct clock *c, const struct event *e, bool sounders, struct text *out)
{
    char sign[2] = {e->train == TRAIN_CHIME ? bell_sign(c, e->sounder) : 0, 0};
    if (sign[0])
        text_add(out, sign);
    else if (sounders && e->sounder < c->sounders)
        text_add(out, c->sounder[e->sounder].voice);
    else if (e->sounder < c->sounders)
        text_add(out, c->sounder[e->sounder].name);
    say_quality(e->quality, out);
    if (!sign[0])
        text_add(out, " ");
}

static const char *trouble_word(const struct event *e)
{
    switch (e->kind) {
    case EVENT_STALL:
        return e->train == TRAIN_GOING ? " the clock stops" : " a train stands still";
    case EVENT_JAM:
        return " something wedges";
    case EVENT_HAND_STALL:
        return " the hands stand";
    case EVENT_RUN_ON:
        return " runs on to the end of its power";
    case EVENT_CLICK:
        return " a click";
    default:
        return "";
    }
}

/* Blows of one let-off wait here until they are said: a count that repeats is said once, with how
 * often ("gong high-pipe low-pipe x7"). */
#define BLOWS_MOST 128
struct saying {
    const struct clock *c;
    struct text *out;
    bool sounders;
    const struct event *blow[BLOWS_MOST];
    int blows;
};

static bool blow_same(const struct event *a, const struct event *b)
{
    return a->sounder == b->sounder && a->quality == b->quality;
}

/* Blows after which they repeat, to the end. */
static int period_of(const struct saying *s)
{
    for (int p = 1; p < s->blows; p++) {
        bool same = s->blows % p == 0;
        for (int i = p; same && i < s->blows; i++)
            same = blow_same(s->blow[i], s->blow[i - p]);
        if (same)
            return p;
    }
    return s->blows;
}

static void say_blows(struct saying *s)
{
    int period = period_of(s);
    if (!s->blows)
        return;
    if (s->out->length && s->out->at[s->out->length - 1] != ' ')
        text_add(s->out, " ");
    for (int i = 0; i < period; i++)
        say_note(s->c, s->blow[i], s->sounders, s->out);
    if (s->blows > period)
        text_addf(s->out, "x%d ", s->blows / period);
    s->blows = 0;
}

static void say_event(struct saying *s, const struct event *e)
{
    if (e->kind == EVENT_BLOW) {
        if (s->blows < BLOWS_MOST)
            s->blow[s->blows++] = e;
        return;
    }
    if (!event_sounds(e) && !trouble_word(e)[0])
        return;
    say_blows(s);
    if (event_sounds(e))
        say_note(s->c, e, s->sounders, s->out);
    else
        text_add(s->out, trouble_word(e));
}

void round_say_events(const struct clock *c, const struct event_list *events, bool sounders, struct text *out)
{
    struct saying s = {c, out, sounders, {NULL}, 0};
    size_t before = out->length;
    int letoff = EVENT_NO_LETOFF;
    for (size_t i = 0; i < events->count; i++) {
        const struct event *e = &events->at[i];
        if (e->letoff != letoff && e->letoff != EVENT_NO_LETOFF) {
            say_blows(&s);
            if (letoff != EVENT_NO_LETOFF && out->length > before)
                text_add(out, "| ");
            letoff = e->letoff;
        }
        say_event(&s, e);
    }
    say_blows(&s);
    while (out->length > before && out->at[out->length - 1] == ' ')
        out->at[--out->length] = 0;
    if (out->length > before && out->at[before] == ' ') { /* it begins with trouble */
        memmove(out->at + before, out->at + before + 1, out->length - before);
        out->length--;
    }
    if (out->length == before)
        text_add(out, "nothing");
}

void round_run(const struct works *w, struct moment *m, int span_min, struct random *random, struct event_list *out)
{
    struct chance chance;
    chance_draw(&chance, random);
    movement_turn(w, m, span_min, BY_TIME, &chance, out);
}
