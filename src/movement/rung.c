#include "movement/rung.h"

#include <string.h>

static int bell_of(const struct train *t, int sounder)
{
    int bells = t->tunes ? t->tune[0]->bells : 0;
    for (int i = 0; i < bells && i < CLOCK_SOUNDERS; i++)
        if (t->hammer[i] == sounder)
            return i + 1;
    return 0;
}

/* A stroke that belongs to the count begun by the one before it. */
static bool goes_on(const struct train *t, int before, int sounder)
{
    for (int i = 0; i < t->patterns; i++)
        for (int k = 1; k < t->pattern[i].strokes; k++)
            if (before != sounder && t->pattern[i].stroke[k - 1].sounder == before &&
                t->pattern[i].stroke[k].sounder == sounder)
                return true;
    return false;
}

static void take_note(struct rung *h, const struct train *t, int sounder)
{
    size_t at = strlen(h->tune);
    int bell = bell_of(t, sounder);
    if (bell && at + 1 < sizeof h->tune)
        h->tune[at] = (char)(bell < 10 ? '0' + bell : 'a' + bell - 10);
    h->notes++;
}

/* Changes played, from the notes of an even drum; counts of a chime that has none. */
static int phrases_of(const struct train *t, const struct rung *h, int counts)
{
    const struct tune *u = t->tunes ? t->tune[0] : NULL;
    if (!u || !u->changes || !u->notes)
        return counts;
    double each = (double)u->notes / u->changes;
    int n = (int)(h->notes / each + 0.5);
    return h->notes && n < 1 ? 1 : n;
}

struct rung rung_of(const struct clock *c, const struct event_list *events)
{
    const struct train *strike = &c->train[TRAIN_STRIKE], *chime = &c->train[TRAIN_CHIME];
    struct rung h = {0};
    int counts = 0, before = -1, last = -1;
    for (size_t i = 0; i < events->count; i++) {
        const struct event *e = &events->at[i];
        if (e->kind == EVENT_CLICK)
            h.clicked = true;
        if (e->kind == EVENT_STALL || e->kind == EVENT_JAM || e->kind == EVENT_RUN_ON)
            h.trouble = true;
        if (!event_sounds(e))
            continue;
        h.hour_first = h.hour_first || (h.blows && !h.notes && e->train == TRAIN_CHIME);
        if (e->train == TRAIN_MUSIC) {
            h.music++;
        } else if (e->train == TRAIN_CHIME) {
            counts += !goes_on(chime, last, e->sounder);
            last = e->sounder;
            take_note(&h, chime, e->sounder);
        } else {
            h.blows += !goes_on(strike, before, e->sounder);
            before = e->sounder;
        }
    }
    h.phrases = phrases_of(chime, &h, counts);
    return h;
}

bool rung_same(const struct rung *a, const struct rung *b)
{
    return a->blows == b->blows && a->phrases == b->phrases && !a->music == !b->music &&
           a->trouble == b->trouble && a->pointed == b->pointed;
}

static void say_chime(const struct rung *h, const struct clock *c, struct text *out)
{
    static const char *const words[] = {"no", "one", "two", "three", "four", "five", "six"};
    bool drum = c->train[TRAIN_CHIME].tunes > 0;
    if (h->phrases < 7)
        text_addf(out, "%s %s%s", words[h->phrases], drum ? "phrase" : "quarter",
                  h->phrases == 1 ? "" : "s");
    else
        text_addf(out, "%d %ss", h->phrases, drum ? "phrase" : "quarter");
    if (h->tune[0])
        text_addf(out, " (%s)", h->tune);
}

static void say_blows(const struct rung *h, struct text *out)
{
    if (h->blows)
        text_addf(out, "strikes %d", h->blows);
}

void rung_say(const struct rung *h, const struct clock *c, struct text *out)
{
    if (h->hour_first)
        say_blows(h, out);
    if (h->phrases) {
        text_add(out, h->hour_first ? ", then " : "");
        say_chime(h, c, out);
    }
    if (!h->hour_first) {
        text_add(out, h->phrases && h->blows ? ", then " : "");
        say_blows(h, out);
    }
    if (h->music)
        text_addf(out, "%smusic", h->phrases || h->blows ? ", then " : "");
    if (h->pointed)
        text_addf(out, "%sthe loose hand points to %d", h->phrases || h->blows || h->music ? ", " : "", h->pointed % 60);
    else if (!h->phrases && !h->blows && !h->music)
        text_add(out, h->clicked ? "nothing but the click of a lever" : "nothing");
}
