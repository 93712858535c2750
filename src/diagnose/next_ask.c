#include "diagnose/next_step_priv.h"

#include <math.h>
#include <stdio.h>
#include <string.h>
#include "mem.h"
#include "text.h"

static struct asking *ask_new(struct weighing *w, enum question_kind kind, size_t answers,
                              double minutes)
{
    w->asking = mem_grow(w->asking, &w->room, w->askings + 1, sizeof *w->asking);
    struct asking *a = &w->asking[w->askings++];
    memset(a, 0, sizeof *a);
    a->q.kind = kind;
    a->q.minutes = minutes;
    a->answers = answers;
    a->chance = mem_alloc((w->n + 1) * answers * sizeof *a->chance);
    return a;
}

/* The question of a word of the vocabulary, in its own words; kind_name stands before its id. */
static struct asking *ask_word(struct weighing *w, enum question_kind kind, size_t answers, const struct word *word,
                               const char *kind_name)
{
    struct asking *a = ask_new(w, kind, answers, fmax(0.2, word->minutes));
    snprintf(a->q.id, sizeof a->q.id, "%s:%s", kind_name, word->id);
    snprintf(a->q.text, sizeof a->q.text, "%s", word->ask);
    a->q.word = word->id;
    a->q.picture = word->picture;
    return a;
}

static void yes_no(struct asking *a, size_t i, double yes)
{
    a->chance[2 * i] = (float)yes;
    a->chance[2 * i + 1] = (float)(1 - yes);
}

/* Of parts that the likeliest clock does not have nothing is asked. */
static bool fits_clock(const struct weighing *w, const struct word *word)
{
    return w->n && word_fits(word, w->b->held[0].kase->clock);
}

static void ask_seen(struct weighing *w)
{
    const struct words *v = w->sheet->words;
    double *degree = mem_alloc((w->n + 1) * sizeof *degree);
    for (size_t i = 0; i < words_count(v, WORD_SEEN); i++) {
        const struct word *word = words_at(v, WORD_SEEN, i);
        if (!evidence_predicts(word->id) || word_set_has(&w->sheet->seen, (int)i) ||
            word_set_has(&w->sheet->seen_not, (int)i) || !fits_clock(w, word) ||
            evidence_told(w->sheet, word))
            continue;
        struct asking *a = ask_word(w, QUESTION_SEEN, 2, word, "seen");
        habit_degrees(w->habit, w->n, word->id, degree);
        for (size_t k = 0; k < w->n; k++)
            yes_no(a, k, seen_yes(degree[k]));
    }
    mem_free(degree);
}

static double tilt_of(const struct fault *f, const char *word)
{
    for (size_t i = 0; f && i < f->tilts; i++)
        if (strcmp(f->tilt[i].word, word) == 0)
            return f->tilt[i].factor;
    return 1;
}

/* By hypothesis: what the word makes of its fault's odds.  False if it makes nothing of any.  Those of one cause are
 * of one fault. */
static bool tilts_of(const struct weighing *w, const char *word, double *tilt)
{
    double *of_cause = mem_alloc((w->b->causes + 1) * sizeof *of_cause);
    bool tells = false;
    for (size_t k = 0; k < w->n; k++) {
        const struct held *h = &w->b->held[k];
        if (of_cause[h->cause] == 0)
            of_cause[h->cause] = tilt_of(h->kase->variant[h->variant].fault, word);
        tilt[k] = of_cause[h->cause];
        tells |= tilt[k] != 1;
    }
    mem_free(of_cause);
    return tells;
}

static void ask_history(struct weighing *w)
{
    const struct words *v = w->sheet->words;
    double *tilt = mem_alloc((w->n + 1) * sizeof *tilt);
    for (size_t i = 0; i < words_count(v, WORD_HISTORY); i++) {
        const struct word *word = words_at(v, WORD_HISTORY, i);
        if (word_set_has(&w->sheet->history, (int)i) ||
            word_set_has(&w->sheet->history_not, (int)i) || !fits_clock(w, word) ||
            !tilts_of(w, word->id, tilt))
            continue;
        struct asking *a = ask_word(w, QUESTION_HISTORY, 2, word, "history");
        for (size_t k = 0; k < w->n; k++)
            yes_no(a, k, history_yes(tilt[k]));
    }
    mem_free(tilt);
}

static bool clock_value(const struct clock *c, const char *word, const char *value)
{
    for (size_t i = 0; i < c->hints; i++)
        if (strcmp(c->hint[i].word, word) == 0)
            for (size_t k = 0; k < c->hint[i].values; k++)
                if (strcmp(c->hint[i].value[k], value) == 0)
                    return true;
    return false;
}

#define HINT_OTHERS 0.03 /* so much of the belief must lie on clocks of another answer */

/* By clock and value of the word: whether the clock's file says so.  Owned by the caller. */
static bool *values_by_clock(const struct weighing *w, const struct word *word)
{
    bool *says = mem_alloc((w->kases * word->values + 1) * sizeof *says);
    for (size_t i = 0; i < w->kases; i++)
        for (size_t x = 0; x < word->values; x++)
            says[i * word->values + x] = clock_value(w->kase[i]->clock, word->id, word->value[x]);
    return says;
}

/* Clocks that are believed in give it different answers; one that does not say gives none. */
static bool parts_clocks(const struct weighing *w, const struct word *word, const bool *says)
{
    double said[WORD_VALUES] = {0}, all = 0;
    int answers = 0;
    for (size_t k = 0; k < w->n; k++)
        all += w->b->held[k].p;
    for (size_t x = 0; x < word->values; x++) {
        for (size_t k = 0; k < w->n; k++)
            said[x] += says[w->of_kase[k] * word->values + x] ? w->b->held[k].p : 0;
        answers += said[x] > HINT_OTHERS * all;
    }
    return answers > 1;
}

static void ask_hint(struct weighing *w, const struct word *word, const bool *says)
{
    struct asking *a = ask_word(w, QUESTION_HINT, word->values, word, "hint");
    for (size_t k = 0; k < w->n; k++) {
        const bool *mine = says + w->of_kase[k] * word->values;
        double sum = 0;
        for (size_t x = 0; x < word->values; x++)
            sum += mine[x] ? 1 : 0.06;
        for (size_t x = 0; x < word->values; x++)
            a->chance[k * word->values + x] = (float)((mine[x] ? 1 : 0.06) / sum);
    }
}

static void ask_hints(struct weighing *w)
{
    const struct words *v = w->sheet->words;
    if (w->sheet->clock[0] || !w->b->clocks || w->b->clock[0].p > 0.97)
        return;
    for (size_t i = 0; i < words_count(v, WORD_HINT); i++) {
        const struct word *word = words_at(v, WORD_HINT, i);
        if (w->sheet->hint[i] != HINT_UNSAID || word->values < 2 || word->values > ANSWERS)
            continue;
        bool *says = values_by_clock(w, word);
        if (parts_clocks(w, word, says))
            ask_hint(w, word, says);
        mem_free(says);
    }
}

static const struct coming *coming_at(const struct forecast *f, int dial)
{
    for (size_t i = 0; i < f->count; i++)
        if (f->at[i].dial_min == dial)
            return &f->at[i];
    return NULL;
}

/* Chances of what is counted, by what was made. */
struct ear_counts {
    double heard[FORECAST_COUNTS][FORECAST_COUNTS]; /* [made][heard] */
};

static void ear_counts_init(struct ear_counts *e, const struct ear_model *ear)
{
    for (int made = 0; made < FORECAST_COUNTS; made++)
        for (int heard = 0; heard < FORECAST_COUNTS; heard++)
            e->heard[made][heard] = ear_count(ear, made == FORECAST_ENDLESS ? HEARD_ENDLESS : made,
                                              heard == FORECAST_ENDLESS ? HEARD_ENDLESS : heard);
}

/* Counts as they will be told: through the ear. */
static void told_counts(const struct ear_counts *e, const struct coming *c, float *out)
{
    double sum = 0, told[FORECAST_COUNTS];
    for (int heard = 0; heard < FORECAST_COUNTS; heard++)
        told[heard] = 1e-3;
    for (int made = 0; made < FORECAST_COUNTS; made++)
        for (int heard = 0; heard < FORECAST_COUNTS && c->count[made] > 1e-6; heard++)
            told[heard] += c->count[made] * e->heard[made][heard];
    for (int heard = 0; heard < FORECAST_COUNTS; heard++)
        sum += told[heard];
    for (int heard = 0; heard < FORECAST_COUNTS; heard++)
        out[heard] = (float)((1 - FILTER_MISHEARD) * told[heard] / sum + FILTER_MISHEARD / FORECAST_COUNTS);
}

/* The let-off that was heard last is only met again when the hands have gone all the way round. */
static bool heard_last(const struct sheet *s, int dial_min)
{
    const struct heard *h = s->heards ? &s->heard[s->heards - 1] : NULL;
    return h && h->at.kind == AT_EXACT && h->at.min % 720 == dial_min % 720;
}

/* Minutes to lead the hands on to that let-off, letting each strike out on the way. */
static double minutes_to(const struct coming *c, const struct forecast *f)
{
    return 1.5 + 0.35 * (double)(c - f->at);
}

static void ask_strikes(struct weighing *w)
{
    const struct forecast *lead = w->n ? &w->forecast[0] : NULL;
    struct ear_counts ear;
    ear_counts_init(&ear, w->b->ear ? w->b->ear : &ear_usual);
    for (size_t i = 0; lead && i < lead->count; i++) {
        const struct coming *c = &lead->at[i];
        char dial[8];
        if (!c->due || heard_last(w->sheet, c->dial_min))
            continue;
        text_dial(c->dial_min, dial);
        struct asking *a = ask_new(w, QUESTION_STRIKE, ANSWERS, minutes_to(c, lead));
        snprintf(a->q.id, sizeof a->q.id, "strike:%s", dial);
        snprintf(a->q.text, sizeof a->q.text,
                 "Lead the minute hand slowly on to %s, letting each strike finish: how many does it "
                 "strike there?", dial);
        a->q.dial_min = c->dial_min;
        a->q.picture = "hand_forward";
        for (size_t k = 0; k < w->n; k++) {
            const struct coming *mine = coming_at(&w->forecast[k], c->dial_min);
            for (size_t x = 0; x < ANSWERS && !mine; x++)
                a->chance[k * ANSWERS + x] = 1.0f / ANSWERS;
            if (mine)
                told_counts(&ear, mine, a->chance + k * ANSWERS);
        }
    }
}

static void ask_chimes(struct weighing *w)
{
    const struct forecast *lead = w->n ? &w->forecast[0] : NULL;
    for (size_t i = 0; lead && i < lead->count && i < 8; i++) {
        const struct coming *c = &lead->at[i];
        char dial[8];
        if (!c->chime_due || heard_last(w->sheet, c->dial_min))
            continue;
        text_dial(c->dial_min, dial);
        struct asking *a = ask_new(w, QUESTION_CHIME, 3, minutes_to(c, lead));
        snprintf(a->q.id, sizeof a->q.id, "chime:%s", dial);
        snprintf(a->q.text, sizeof a->q.text,
                 "Lead the minute hand slowly on to %s: is the chime there right, wrong or silent?",
                 dial);
        a->q.dial_min = c->dial_min;
        a->q.picture = "ear";
        for (size_t k = 0; k < w->n; k++) {
            const struct coming *mine = coming_at(&w->forecast[k], c->dial_min);
            for (size_t x = 0; x < 3; x++)
                a->chance[k * 3 + x] = (float)(mine ? 0.03 + 0.91 * mine->chime[x] : 1.0 / 3);
        }
    }
}

/* A fault we lack answers half as those in play do, half anyhow. */
static void answer_unknown(const struct weighing *w, struct asking *a)
{
    double all = 0;
    for (size_t k = 0; k < w->n; k++)
        all += w->b->held[k].p;
    for (size_t x = 0; x < a->answers; x++) {
        double sum = 0;
        for (size_t k = 0; k < w->n; k++)
            sum += w->b->held[k].p * a->chance[k * a->answers + x];
        a->chance[w->n * a->answers + x] =
            (float)(0.5 / (double)a->answers + (all > 0 ? 0.5 * sum / all : 0.5 / (double)a->answers));
    }
}

void weighing_ask(struct weighing *w)
{
    ask_seen(w);
    ask_history(w);
    ask_hints(w);
    ask_strikes(w);
    ask_chimes(w);
    for (size_t i = 0; i < w->askings; i++)
        answer_unknown(w, &w->asking[i]);
}
