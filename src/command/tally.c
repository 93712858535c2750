#include "command/tally.h"

#include <string.h>

/* Bell number of a sounder on the chime's drum; 0 if it is none of its bells. */
static int bell_of(const struct clock *c, int sounder)
{
    const struct train *t = &c->train[TRAIN_CHIME];
    int bells = t->tunes ? t->tune[0]->bells : 0;
    for (int i = 0; i < bells && i < CLOCK_SOUNDERS; i++)
        if (t->hammer[i] == sounder)
            return i + 1;
    return 0;
}

static void add_note(struct tally *t, const struct clock *c, int sounder)
{
    int bell = bell_of(c, sounder);
    char digit[2] = {bell == 0 ? '?' : bell < 10 ? (char)('0' + bell) : (char)('a' + bell - 10), 0};
    t->notes++;
    text_add(&t->chime, digit);
}

/* A stroke that continues the count begun by the one before it (call after call, tang after ting). */
bool tally_continues(const struct clock *c, int before, int sounder)
{
    const struct train *t = &c->train[TRAIN_STRIKE];
    for (int i = 0; i < t->patterns; i++)
        for (int k = 1; k < t->pattern[i].strokes; k++)
            if (t->pattern[i].stroke[k].sounder == sounder && before != sounder &&
                t->pattern[i].stroke[k - 1].sounder == before)
                return true;
    return false;
}

static void take_event(struct tally *t, const struct clock *c, const struct event *e)
{
    t->quality |= event_sounds(e) ? e->quality : 0;
    switch ((enum event_kind)e->kind) {
    case EVENT_BLOW:
        if (!t->blows && !t->notes)
            t->hand_min = e->hand_min;
        if (!tally_continues(c, t->before, e->sounder)) {
            t->first_s = t->blows ? t->first_s : e->t_s;
            t->last_s = e->t_s;
            t->blows++;
        }
        t->before = e->sounder;
        break;
    case EVENT_NOTE:
        if (!t->notes && !t->blows)
            t->hand_min = e->hand_min;
        if (e->train == TRAIN_MUSIC)
            t->music++;
        else
            add_note(t, c, e->sounder);
        break;
    case EVENT_RUN_ON:
        t->run_on = true;
        break;
    case EVENT_STALL:
        t->stall = true;
        break;
    case EVENT_JAM:
        t->jam = true;
        break;
    case EVENT_HAND_STALL:
        t->hand_stall = true;
        break;
    case EVENT_POWER_OUT:
        t->power_out = true;
        break;
    case EVENT_CLICK:
        t->clicked = true;
        break;
    default:
        break;
    }
}

size_t tally_take(struct tally *t, const struct clock *c, const struct event_list *events,
                  size_t from)
{
    size_t i = from;
    *t = (struct tally){.letoff = EVENT_NO_LETOFF, .before = -1};
    if (i < events->count)
        t->hand_min = events->at[i].hand_min;
    for (; i < events->count; i++) {
        const struct event *e = &events->at[i];
        if (e->letoff != EVENT_NO_LETOFF && t->letoff != EVENT_NO_LETOFF && e->letoff != t->letoff)
            break;
        if (e->letoff != EVENT_NO_LETOFF)
            t->letoff = e->letoff;
        take_event(t, c, e);
    }
    return i;
}

static void say_quality(const struct tally *t, struct text *out)
{
    static const struct {
        unsigned bit;
        const char *word;
    } rows[] = {
        {QUALITY_WEAK, "weak"},   {QUALITY_DOUBLE, "double blows"}, {QUALITY_BUZZ, "buzzing"},
        {QUALITY_THUD, "thud"},   {QUALITY_TINNY, "tinny"},         {QUALITY_LOUD, "too loud"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        if (t->quality & rows[i].bit)
            text_addf(out, ", %s", rows[i].word);
}

void tally_say(const struct tally *t, struct text *out)
{
    bool some = t->notes || t->blows || t->music;
    if (t->notes)
        text_addf(out, "chimes %s", text_cstr(&t->chime));
    if (t->notes && t->blows)
        text_add(out, ", ");
    if (t->run_on)
        text_addf(out, "%s%s on to the end of its power", t->notes && !t->blows ? ", " : "",
                  t->blows ? "strikes" : "runs");
    else if (t->blows)
        text_addf(out, "strikes %d", t->blows);
    else if (!some)
        text_add(out, t->clicked ? "silent, a lever clicks" : "silent");
    if (t->music)
        text_addf(out, "%splays its music (%d notes)", t->notes || t->blows ? ", " : "", t->music);
    say_quality(t, out);
    if (t->stall)
        text_add(out, ", then a train stands still");
    if (t->jam)
        text_add(out, ", something wedges and the hands are held");
    if (t->hand_stall)
        text_add(out, ", the hands stand though the clock ticks");
}

bool tally_same(const struct tally *a, const struct tally *b)
{
    return a->blows == b->blows && a->music == b->music && a->run_on == b->run_on && a->stall == b->stall &&
           a->jam == b->jam && a->hand_stall == b->hand_stall && a->quality == b->quality &&
           a->hand_min == b->hand_min && !strcmp(text_cstr(&a->chime), text_cstr(&b->chime));
}

void tally_release(struct tally *t)
{
    text_release(&t->chime);
}
