#include "diagnose/puzzle.h"

#include <stdlib.h>
#include <string.h>
#include "diagnose/evidence.h"

#define NEAR_MIN 2     /* minutes from the let-off that a row may be told at */
#define AGREES   0.5   /* the ear would take down the due count as told */

/* How the minutes of a dial differ: half a day apart is the same place unless the half is known. */
static int minutes_off(int a, int b, int cycle)
{
    int off = abs(a - b) % cycle;
    return off > cycle / 2 ? cycle - off : off;
}

/* The let-off a row was heard at, -1 none. */
static int letoff_of(const struct clock_case *k, const struct heard *h)
{
    int cycle = h->at.known24 ? 1440 : 720;
    for (int i = 0; i < k->classes.letoffs; i++)
        if (minutes_off(k->classes.minute[i], h->at.min, cycle) <= NEAR_MIN)
            return i;
    return -1;
}

/* What one who knows only the dial expects.  One blow at half past twelve and half past one is taken for
 * one o'clock, three times running. */
static bool expected(int minute, int blows)
{
    int hour = minute / 60 % 12;
    bool like_one = minute % 720 == 30 || minute % 720 == 90;
    return minute % 60 == 0 ? blows == (hour ? hour : 12) : blows < (like_one ? 1 : 2);
}

enum row_tells { TELLS_NOTHING, TELLS_RIGHT, TELLS_PUZZLE, TELLS_WRONG };

static bool chime_due(const struct clock_case *k, int letoff)
{
    return sounding_at(&k->pool, k->due[letoff])->train[TRAIN_CHIME].falls > 0;
}

/* The quarters are shut off here, although they sound at this minute of other hours. */
static bool quarters_rest(const struct clock_case *k, int letoff)
{
    bool elsewhere = false;
    for (int i = 0; i < k->classes.letoffs; i++)
        elsewhere |= k->classes.minute[i] % 60 == k->classes.minute[letoff] % 60 && chime_due(k, i);
    return elsewhere && !chime_due(k, letoff);
}

static bool strike_told(const struct heard *h)
{
    return h->strike != HEARD_STRIKE_UNSAID && h->strike != HEARD_STRIKE_UNNOTICED && h->strike != HEARD_STRIKE_RIGHT;
}

/* The hour comes when its tune is over, and so after the hand has reached the twelve. */
static bool tune_first(const struct clock_case *k)
{
    const struct train *strike = clock_train(k->clock, TRAIN_STRIKE);
    return strike && strike->by == BY_CHIME;
}

static bool told_tune_first(const struct heard *h, const struct clock_case *k)
{
    return tune_first(k) && h->orders == 2 && h->order[0] == ORDER_CHIME && h->order[1] == ORDER_STRIKE;
}

/* It is said to have sounded otherwise than it should. */
static bool complains(const struct heard *h, const struct clock_case *k, const struct words *words)
{
    for (int i = -1; (i = word_set_next(&h->how, i)) >= 0;) {
        const char *how = words_at(words, WORD_HOW, (size_t)i)->id;
        bool fine = strcmp(how, "right") == 0 || strcmp(how, "silent") == 0 ||
                    (strcmp(how, "late") == 0 && tune_first(k));
        if (ear_judges(words, i) && !fine)
            return true;
    }
    return false;
}

/* Nothing at all was heard there. */
static bool silence_told(const struct heard *h, const struct words *words)
{
    return h->strike == HEARD_STRIKE_NONE &&
           (h->chime == HEARD_CHIME_NONE || heard_how(h, words, "silent"));
}

/* Something else than "right" or "none" is told of the quarters: whether it is right is not gone into. */
static bool tune_told(const struct heard *h)
{
    return h->chime == HEARD_CHIME_WRONG || h->chime == HEARD_CHIME_SOME ||
           h->chime == HEARD_CHIME_RUNS_ON || h->notes[0] || h->phrases >= 0 || h->quarter ||
           h->quarter_shift;
}

static enum row_tells letoff_tells(const struct heard *h, const struct clock_case *k,
                                   const struct ear_model *ear, const struct words *words, int i)
{
    bool quiet = h->chime == HEARD_CHIME_NONE;
    if ((quiet || silence_told(h, words)) && chime_due(k, i))
        return TELLS_WRONG;
    if (quiet && quarters_rest(k, i))
        return TELLS_PUZZLE;
    if (!strike_told(h))
        return TELLS_RIGHT;
    int due = sounding_at(&k->pool, k->due[i])->train[TRAIN_STRIKE].count;
    if (ear_strike(ear, h, due, due) < AGREES)
        return TELLS_WRONG;
    return expected(k->classes.minute[i], due) ? TELLS_RIGHT : TELLS_PUZZLE;
}

/* "One at each half hour" is right where it is right at every half hour of this clock, and no puzzle to who can say
 * it of them all; "nothing at the half" of a clock that is never let off there is asked because others strike. */
static enum row_tells rule_tells(const struct heard *h, const struct clock_case *k,
                                 const struct ear_model *ear, const struct words *words)
{
    bool covers = false;
    for (int i = 0; i < k->classes.letoffs; i++) {
        if (!heard_covers(h, k->classes.minute[i], k->clock->cycle_min))
            continue;
        covers = true;
        if (letoff_tells(h, k, ear, words, i) == TELLS_WRONG)
            return TELLS_WRONG;
    }
    return covers ? TELLS_RIGHT : silence_told(h, words) ? TELLS_PUZZLE : TELLS_WRONG;
}

static enum row_tells row_tells(const struct heard *h, const struct clock_case *k, const struct ear_model *ear,
                                const struct words *words)
{
    bool quiet = h->chime == HEARD_CHIME_NONE;
    bool fine = h->strike == HEARD_STRIKE_RIGHT || h->chime == HEARD_CHIME_RIGHT;
    if (h->often == OFTEN_MAYBE)
        return TELLS_NOTHING;
    bool mixed = h->values > 1 || h->chime_also; /* "six, and seven at times" */
    if (mixed || complains(h, k, words) || h->stopped != STOPPED_NOTHING ||
        h->often != OFTEN_ALWAYS || tune_told(h))
        return TELLS_WRONG;
    if (!strike_told(h) && !quiet)
        return !fine ? TELLS_NOTHING : told_tune_first(h, k) ? TELLS_PUZZLE : TELLS_RIGHT;
    if (h->at.kind == AT_RULE)
        return rule_tells(h, k, ear, words);
    if (h->at.kind == AT_EXACT && letoff_of(k, h) < 0)
        return silence_told(h, words) ? TELLS_PUZZLE : TELLS_WRONG;
    enum row_tells tells =
        h->at.kind != AT_EXACT ? TELLS_WRONG : letoff_tells(h, k, ear, words, letoff_of(k, h));
    return tells == TELLS_RIGHT && told_tune_first(h, k) ? TELLS_PUZZLE : tells;
}

/* ---- what is seen ---- */

#define SHOWN 0.2 /* a sound clock shows it often enough */

/* Everything seen is what a sound clock shows too; what the mechanism does not show was told for a reason. */
static bool sights_of_sound(const struct sheet *s, struct clock_case *k)
{
    struct habit h;
    const struct works *w = outcome_table_works(&k->table[k->variant[0].table]);
    struct filter_state from = {outcome_rows_state(&k->rows, rest_in_step(w, k->classes.minute[0])),
                                1};
    habit_init(&h, k, &k->variant[0], 0, &from, 1);
    for (size_t i = 0; i < words_count(s->words, WORD_SEEN); i++)
        if (word_set_has(&s->seen, (int)i) &&
            habit_degree(&h, words_at(s->words, WORD_SEEN, i)->id) < SHOWN)
            return false;
    return true;
}

/* Right at every hour, by the caller's own word. */
static bool says_of_all(const struct heard *h)
{
    return h->at.kind == AT_RULE && !h->at.part && !h->excepts &&
           (h->at.rule == RULE_HOUR || h->at.rule == RULE_ANY);
}

/* Something that was tried changed it: it was not right before. */
static bool something_helped(const struct sheet *s)
{
    for (size_t i = 0; i < s->trieds; i++) {
        const struct word *r = s->tried[i].result >= 0
                                   ? words_at(s->words, WORD_RESULT, (size_t)s->tried[i].result)
                                   : NULL;
        if (s->tried[i].has_row ||
            (r && strcmp(r->id, "nothing") != 0 && strcmp(r->id, "stays_wrong") != 0))
            return true;
    }
    return false;
}

/* What began one day is not how the clock was made. */
static bool it_began(const struct sheet *s)
{
    const struct word *when = s->since_when >= 0 ? words_at(s->words, WORD_WHEN, (size_t)s->since_when) : NULL;
    return when && (strcmp(when->id, "sudden") == 0 || strcmp(when->id, "gradual") == 0);
}

double puzzle_tilt(const struct sheet *s, struct clock_case *k, const struct ear_model *ear)
{
    bool puzzle = false, all_right = false;
    if (it_began(s))
        return 1;
    for (size_t i = 0; i < s->heards; i++) {
        enum row_tells tells = row_tells(&s->heard[i], k, ear, s->words);
        if (tells == TELLS_WRONG)
            return 1;
        puzzle |= tells == TELLS_PUZZLE;
        all_right |= tells == TELLS_RIGHT && says_of_all(&s->heard[i]);
    }
    if (!puzzle && (!all_right || something_helped(s)))
        return 1;
    return sights_of_sound(s, k) ? PUZZLED : 1;
}
