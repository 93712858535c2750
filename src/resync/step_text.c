#include "resync/step_text.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "mem.h"

static char *taken(struct text *t)
{
    char *copy = mem_copy_text(text_cstr(t));
    text_release(t);
    return copy;
}

static const char *time_at(const struct reset *r, int min, char out[8])
{
    if (r->w->clock->dials_24) {
        snprintf(out, 8, "%d:%02d", min / 60 % 24, min % 60);
        return out;
    }
    return text_dial(min, out);
}

static const char *minutes_word(int n)
{
    return n == 1 || n == -1 ? "minute" : "minutes";
}

/* --- what to do ------------------------------------------------------------------------------- */

static void say_forward(const struct reset *r, const struct step *s, struct text *t)
{
    char to[8];
    if (s->to_min < 0)
        text_add(t, "Turn the minute arbor forward (the minute hand set on it loosely will do) until it lets "
                    "off, and wait until all is quiet.");
    else
        text_addf(t, "Carry the minute hand forward to %s and wait until all is quiet.", time_at(r, s->to_min, to));
}

static void say_hour_hand(const struct reset *r, const struct step *s, struct text *t)
{
    char to[8];
    int hours = abs(s->amount) / 60;
    text_addf(t, "Leave the minute hand where it is and turn the hour hand on its pipe %s by %d hour%s, so that the "
                 "hands show %s.",
              s->amount < 0 ? "back" : "forward", hours, hours == 1 ? "" : "s", time_at(r, s->to_min, to));
}

static void say_minute_hand(const struct reset *r, const struct step *s, struct text *t)
{
    bool square = !r->w->clock->minute_bush;
    char to[8];
    text_addf(t, "Hold the motion work still, take the minute hand off and %s %s by %d %s of the dial",
              square ? "put it on its square again turned" : "turn its bush", s->amount < 0 ? "back" : "forward",
              abs(s->amount), minutes_word(s->amount));
    text_addf(t, ", so that it shows %s%s.", time_at(r, s->to_min, to),
              abs(s->amount) >= 15 ? "; set the hour hand to agree" : "");
}

static void say_lever(const struct step *s, const char *what, struct text *t)
{
    if (s->amount)
        text_addf(t, "Set the %s lever to silent (never within five minutes of a let-off).", what);
    else
        text_addf(t, "Set the %s lever back to sound (never within five minutes of a let-off).", what);
}

static void say_back(const struct reset *r, const struct step *s, struct text *t)
{
    char to[8];
    int hours = s->amount / 60, rest = s->amount % 60;
    text_addf(t, "Take the minute hand slowly back ");
    if (hours)
        text_addf(t, "%d hour%s%s", hours, hours == 1 ? "" : "s", rest ? " and " : "");
    if (rest)
        text_addf(t, "%d %s", rest, minutes_word(rest));
    text_addf(t, ", to %s; nothing is let off going back.", time_at(r, s->to_min, to));
}

static void say_more(const struct reset *r, const struct step *s, struct text *t)
{
    char to[8];
    time_at(r, s->to_min < 0 ? 0 : s->to_min, to);
    switch (s->deed) {
    case DEED_ON:
        text_addf(t, "Carry the minute hand on to %s.", to);
        break;
    case DEED_QUICK:
        text_addf(t, "Carry the minute hand forward to %s; there is no need to wait on the way, the rack finds its "
                     "count again.", to);
        break;
    case DEED_FIT:
        text_addf(t, "Put the hands on so that they show %s, which belongs to what has just been let off.", to);
        break;
    case DEED_WAIT:
        text_addf(t, "Stop the pendulum or balance at %s and start it again after %d %s, when the time has caught up.",
                  time_at(r, s->from_min, to), s->amount, minutes_word(s->amount));
        break;
    case DEED_TUNE: {
        const struct train *chime = &r->w->clock->train[TRAIN_CHIME];
        text_addf(t, "Set the selector to %s (never within five minutes of a let-off nor while it sounds).",
                  s->amount < chime->tunes ? chime->tune[s->amount]->name : "its tune");
        break;
    }
    case DEED_DRUM:
        text_addf(t, "On the bench: free the drum's wheel and slip the drum on by %d change%s against its count wheel.",
                  s->amount, s->amount == 1 ? "" : "s");
        break;
    default:
        break;
    }
}

char *step_text(const struct reset *r, const struct step *s)
{
    struct text t = {0};
    switch (s->deed) {
    case DEED_FREE:
        text_add(&t, "Ease the hands a little, free what is stuck and let it run out.");
        break;
    case DEED_WIND:
        text_add(&t, "Wind all trains.");
        break;
    case DEED_HELP:
        text_add(&t, "Help the strike by hand until the rack that hangs down has been gathered.");
        break;
    case DEED_LEVER_STRIKE:
        say_lever(s, "strike", &t);
        break;
    case DEED_LEVER_CHIME:
        say_lever(s, "chime", &t);
        break;
    case DEED_FORWARD:
        say_forward(r, s, &t);
        break;
    case DEED_BACK:
        say_back(r, s, &t);
        break;
    case DEED_TRIP_STRIKE:
        text_add(&t, "Raise the wire or lever of the strike once and wait until all is quiet.");
        break;
    case DEED_TRIP_CHIME:
        text_add(&t, "Raise the wire or lever of the chime once and wait until all is quiet.");
        break;
    case DEED_HOUR_HAND:
        say_hour_hand(r, s, &t);
        break;
    case DEED_MINUTE_BUSH:
        say_minute_hand(r, s, &t);
        break;
    default:
        say_more(r, s, &t);
        break;
    }
    return taken(&t);
}

/* --- what must be heard ------------------------------------------------------------------------- */

/* Why a let-off that should sound is silent. */
static const char *why_silent(const struct reset *r, const struct step *s)
{
    const struct clock *c = r->w->clock;
    unsigned flags = s->before.rest.flags;
    int lobe = clock_lobe_at(c, s->after.work_min);
    if (lobe < 0)
        return NULL;
    if (stance_by_night(c, s->after.work_min))
        return "nothing: it is silent by night";
    if (flags & (REST_SILENT_CHIME | REST_SILENT_STRIKE))
        return "nothing: the lever is at silent";
    if ((flags & REST_CORRECTOR) && c->train[TRAIN_CHIME].use[lobe].read != READ_NOTHING)
        return "nothing: the corrector holds the chime until the hour";
    return NULL;
}

char *step_text_hear(const struct reset *r, const struct step *s)
{
    struct text t = {0};
    const char *silent = NULL;
    if (s->deed == DEED_QUICK)
        text_add(&t, "whatever it strikes on the way");
    else if (s->deed == DEED_ON && (s->after.rest.flags & (REST_WARNED_STRIKE | REST_WARNED_CHIME)))
        text_add(&t, "the soft click of the warning");
    else if (s->deed == DEED_FORWARD && !s->heard.blows && !s->heard.phrases && (silent = why_silent(r, s)))
        text_add(&t, silent);
    else
        rung_say(&s->heard, r->w->clock, &t);
    return taken(&t);
}

#define BRANCHES_TOLD 5 /* nobody reads a longer list */

static void say_range(int low, int high, const char *what, struct text *t)
{
    if (low == high)
        text_addf(t, "%s (%d)", what, low);
    else
        text_addf(t, "%s (%d to %d)", what, low, high);
}

/* What to count, where it may come out in very many ways. */
static void say_what_to_count(const struct plan *p, bool drum, struct text *t)
{
    struct rung low = p->branch[0].heard, high = low;
    bool points = false;
    for (size_t i = 0; i < p->branches; i++) {
        const struct rung *h = &p->branch[i].heard;
        low.blows = h->blows < low.blows ? h->blows : low.blows;
        high.blows = h->blows > high.blows ? h->blows : high.blows;
        low.phrases = h->phrases < low.phrases ? h->phrases : low.phrases;
        high.phrases = h->phrases > high.phrases ? h->phrases : high.phrases;
        points = points || h->pointed;
    }
    text_add(t, "Count ");
    if (high.phrases)
        say_range(low.phrases, high.phrases, drum ? "the phrases" : "the quarters", t);
    if (high.blows) {
        text_add(t, high.phrases ? " and " : "");
        say_range(low.blows, high.blows, "the blows", t);
    }
    if (points)
        text_add(t, high.phrases || high.blows ? " and see where the loose hand points" : "the minute the loose hand points to");
}

char *step_text_branches(const struct reset *r, const struct plan *p)
{
    struct text t = {0};
    if (p->branches > BRANCHES_TOLD) {
        say_what_to_count(p, r->w->clock->train[TRAIN_CHIME].tunes > 0, &t);
        text_add(&t, "; go on by what it was");
        return taken(&t);
    }
    text_add(&t, "Count; it may be ");
    for (size_t i = 0; i < p->branches; i++) {
        text_add(&t, !i ? "" : i + 1 == p->branches ? "; or " : "; ");
        rung_say(&p->branch[i].heard, r->w->clock, &t);
    }
    text_add(&t, ". Go on by what it was");
    return taken(&t);
}

char *step_text_proof(struct reset *r, const struct stance *s)
{
    struct text t = {0};
    struct stance at = *s;
    char when[8];
    for (int i = 0; i < 8; i++) { /* the next let-off that sounds */
        struct done done;
        if (!deed_do(r, &at, DEED_FORWARD, stance_ahead(r->w->clock, &at), &done))
            break;
        at = done.to;
        if (!done.heard.blows && !done.heard.phrases)
            continue;
        text_addf(&t, "At %s it must sound: ", time_at(r, stance_shown(r->w, &at), when));
        rung_say(&done.heard, r->w->clock, &t);
        text_add(&t, ".");
        return taken(&t);
    }
    text_release(&t);
    return NULL;
}

const char *step_text_alike(const struct reset *r)
{
    const struct clock *c = r->w->clock;
    if (c->train[TRAIN_CHIME].control == CONTROL_COUNT_WHEEL)
        return "It may stand in several ways that sound alike at every let-off; the steps go by the likeliest. Look at the "
               "chime's count wheel, which slot its lever lies in, and turn the hands to the quarter that belongs to it.";
    if (c->train[TRAIN_STRIKE].control == CONTROL_COUNT_WHEEL)
        return "It may stand in several ways that sound alike at every let-off; the steps go by the likeliest. Look at the "
               "count wheel, which slot its lever lies in, and turn the hands to the hour that belongs to it.";
    return "It may stand in several ways that sound alike at every let-off; the steps go by the likeliest. Look at the snail, "
           "which step the tail falls on, and turn the hands to the hour that belongs to it.";
}

const char *step_text_no_way(const struct reset *r, const struct stance *s)
{
    if (!s->hands_off && !stance_minutes_agree(r->w, s))
        return "The minute hand does not stand where its let-offs are, and this movement has neither a bush "
               "nor a square to turn it on: the motion work must be set on the bench.";
    if (deed_drum_error(r->w->clock, s->rest))
        return "The chime's drum stands wrong against its count wheel, so that its tune does not begin at the beginning. Hands "
               "cannot change that: on the bench the drum's wheel is freed and the drum slipped on until the two agree.";
    if (s->rest.stuck)
        return "Something is stuck that hands alone do not free.";
    return "No hand action that this movement allows brings it into step: it needs the bench.";
}

/* --- the rules ------------------------------------------------------------------------------------ */

static const char *back_rule(const struct clock *c)
{
    switch (c->back) {
    case BACK_YES:
        return "Hands may be turned back on this movement, slowly and not in the warning. Sources differ: makers' "
               "sheets allow it (two hours back, then forward letting it strike: "
               "https://billsclockworks.com/merchandise/instruction-sheet.html/22), one trade source says never "
               "on a chiming clock.";
    case BACK_UNLESS_WARNED:
        return "Hands may be turned back on this movement unless it has given warning (E. Beckett, Clocks, Watches "
               "and Bells, 8th ed., f.167). Sources differ: trade advice for old two-train clocks is forward only.";
    case BACK_NO:
        break;
    }
    return "Hands of this movement are turned forward only, waiting at each let-off.";
}

size_t step_text_rules(const struct clock *c, const char *rule[RULES_MOST])
{
    const struct train *strike = &c->train[TRAIN_STRIKE], *chime = &c->train[TRAIN_CHIME];
    size_t n = 0;
    rule[n++] = back_rule(c);
    if (strike->control == CONTROL_RACK && chime->control != CONTROL_COUNT_WHEEL)
        rule[n++] = "A rack clock may be carried forward without waiting at every hour but twelve; there wait until "
                    "the rack is gathered, unless snail and tail are sloped (Beckett f.167).";
    if (strike->control == CONTROL_COUNT_WHEEL)
        rule[n++] = "A count wheel keeps its own count: wait at every let-off, or it is lost again (Beckett f.172).";
    if (chime->corrector)
        rule[n++] = "The corrector puts the chime right at the next hour or the one after; until then it may stay "
                    "silent at some quarters. After the second hour look for a fault.";
    if (c->selector || c->silent_chime || c->silent_strike)
        rule[n++] = "Levers and selectors are left alone within five minutes of a let-off and while it sounds "
                    "(https://htfbw.com/collecting/Other-Collecting/48467.shtml).";
    if (c->hour_hand_keyed)
        rule[n++] = "The hour hand is keyed and cannot be moved on its pipe.";
    return n;
}
