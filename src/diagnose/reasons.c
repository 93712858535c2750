#include "diagnose/reasons.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>
#include "diagnose/forecast.h"
#include "mem.h"

void sentences_release(struct sentences *s)
{
    for (size_t i = 0; i < s->count; i++)
        mem_free(s->at[i]);
    memset(s, 0, sizeof *s);
}

void sentences_add(struct sentences *s, const char *fmt, ...)
{
    char line[1024];
    va_list args;
    if (s->count == REASONS_MOST)
        return;
    va_start(args, fmt);
    vsnprintf(line, sizeof line, fmt, args);
    va_end(args);
    s->at[s->count++] = mem_copy_text(line);
}

const char *reasons_name(const struct belief_cause *c)
{
    return c->fault                      ? c->fault->name
           : strcmp(c->id, "none") == 0 ? "Nothing wrong"
                                        : "Something not in the list of faults";
}

void reasons_say_name(const struct belief_cause *c, struct text *out)
{
    text_addf(out, "\"%s%s%s\"", reasons_name(c), c->second ? " with " : "", c->second ? c->second->name : "");
}

/* ---- rows ---- */

#define EXPLAINED 0.25 /* chance of a row from which on it counts as explained */
#define AGAINST 0.08   /* below this it speaks against the cause, unless any row that tells so much is as rare */
#define AGAINST_BLIND 2 /* times what it would have where nothing is known */

/* How a rule fares where it lies in the report: the best mean chance over the let-offs it speaks
 * of, from any state the clock may be found in.  -1 if it says nothing. */
static double row_fit(struct closer *c, const struct sheet *sheet, size_t row)
{
    struct sheet one = *sheet;
    struct heard only = sheet->heard[row];
    struct filter_plan plan;
    struct filter_space space = {0};
    struct start starts[64];
    double fit = 0;
    if (only.often == OFTEN_MAYBE)
        return -1;
    one.heard = &only;
    one.heards = 1;
    struct filter_setting set = {.minute_off = c->variant->minute_off,
                                 .hour_off = c->variant->hour_off,
                                 .late = c->variant->late == VARIANT_LATE_NEW ? 0 : c->variant->late};
    filter_plan_init(&plan, &one, &c->plan.ear, c->plan.classes, c->kase->due, set);
    int minute = c->plan.classes->minute[filter_plan_start(&plan, false)];
    const struct fault found = {.start = c->variant->start, .start_only = c->variant->start_only};
    size_t n = fault_starts(&found, outcome_table_works(c->table), minute, starts, 64);
    for (size_t i = 0; i < n; i++) {
        struct filter_state start = {outcome_rows_state(&c->kase->rows, starts[i].rest), 1};
        fit = fmax(fit, filter_run(&plan, c->table, &start, 1, false, &space));
    }
    if (only.at.kind == AT_RULE && !plan.marks && fit > 0) /* back to the mean over its let-offs */
        fit = fmax(0, 1 + log(fit / ear_best(&c->plan.ear, &only)) / filter_strict(&only, sheet->words));
    if (plan.marks) /* closing marks that a lone row cannot set are not its fault */
        fit = fmin(1, fit * 1.5);
    filter_plan_release(&plan);
    filter_space_release(&space);
    return fit;
}

/* Chance of the row where it lies in the whole report. */
static double row_in_report(const struct closer *c, size_t row)
{
    double log_sum = 0, count = 0;
    for (size_t i = 0; i < c->plan.steps; i++) {
        const struct filter_step *s = &c->plan.step[i];
        bool mine = false, alone = true;
        for (size_t k = s->first; k < s->first + s->count; k++) {
            mine |= c->plan.look[k].row_index == row && c->plan.look[k].kind == FILTER_ROW;
            alone &= c->plan.look[k].row_index == row;
        }
        if (mine && alone) {
            log_sum += log(fmax(1e-9, c->by_step[i]));
            count++;
        }
    }
    return count > 0 ? exp(log_sum / count) : -1;
}

/* A plain count at a plain time is said in short, so that twelve of them stay one line. */
static bool short_row(const struct heard *h, struct text *t)
{
    bool plain = h->at.kind == AT_EXACT && !h->has_for && h->often == OFTEN_ALWAYS &&
                 h->chime == HEARD_CHIME_UNSAID && !h->notes[0] && h->phrases < 0 &&
                 h->stopped == STOPPED_NOTHING && word_set_count(&h->how) <= 1;
    char dial[8];
    if (!plain || (h->strike != HEARD_STRIKE_COUNT && h->strike != HEARD_STRIKE_NONE))
        return false;
    text_dial(h->at.min, dial);
    if (h->strike == HEARD_STRIKE_NONE)
        text_addf(t, "silence at %s", dial);
    else
        text_addf(t, "%d at %s", h->value[0], dial);
    return true;
}

/* One sentence for all rows of a kind: "explains 9 at 9:00, 1 at 2:00; at every hour it ...". */
static void say_rows(struct sentences *out, struct closer *c, const struct sheet *sheet)
{
    struct text yes = {0}, no = {0};
    for (size_t i = 0; i < sheet->heards; i++) {
        double fit = row_in_report(c, i);
        if (fit < 0)
            fit = row_fit(c, sheet, i);
        double against = fmin(AGAINST, AGAINST_BLIND * ear_blind(&sheet->heard[i], sheet->words));
        if (fit < 0 || (fit >= against && fit < EXPLAINED))
            continue;
        struct text *t = fit >= EXPLAINED ? &yes : &no;
        if (t->length)
            text_add(t, ", ");
        if (!short_row(&sheet->heard[i], t)) {
            text_add(t, "that ");
            heard_say(&sheet->heard[i], sheet->words, t);
        }
    }
    if (yes.length)
        sentences_add(out, "explains %s", text_cstr(&yes));
    if (no.length)
        sentences_add(out, "does not explain %s", text_cstr(&no));
    text_release(&yes);
    text_release(&no);
}

/* ---- words ---- */

static void add_word(struct text *t, const char *word)
{
    if (t->length)
        text_add(t, ", ");
    for (; *word; word++)
        text_add_bytes(t, *word == '_' ? " " : word, 1);
}

static void say_words(struct sentences *out, const char *before, struct text *t)
{
    if (t->length)
        sentences_add(out, "%s %s", before, text_cstr(t));
    text_release(t);
}

static void say_seen(struct sentences *out, const struct habit *h, const struct sheet *sheet)
{
    struct text agrees = {0}, differs = {0}, lacks = {0};
    for (size_t i = 0; i < words_count(sheet->words, WORD_SEEN); i++) {
        const struct word *w = words_at(sheet->words, WORD_SEEN, i);
        bool seen = word_set_has(&sheet->seen, (int)i), not = word_set_has(&sheet->seen_not, (int)i);
        double d = seen || not ? habit_degree(h, w->id) : -1;
        if (d < 0)
            continue;
        if (seen && d > 0.5)
            add_word(&agrees, w->id);
        else if (seen && d < 0.1)
            add_word(&differs, w->id);
        else if (not && d > 0.9)
            add_word(&lacks, w->id);
    }
    say_words(out, "agrees with what was seen:", &agrees);
    say_words(out, "does not agree with what was seen:", &differs);
    say_words(out, "should show, and does not:", &lacks);
}

static bool told_word(const struct sheet *s, const char *word)
{
    return sheet_had(s, word) || words_has(s->words, WORD_AFTER, &s->since_after, word) ||
           (sheet_seen(s, word) && !evidence_predicts(word));
}

static void say_history(struct sentences *out, const struct fault *f, const struct sheet *sheet)
{
    struct text t = {0};
    for (size_t i = 0; f && i < f->tilts; i++)
        if (f->tilt[i].factor > 1.2 && told_word(sheet, f->tilt[i].word))
            add_word(&t, f->tilt[i].word);
    say_words(out, "is likelier after what was told:", &t);
}

void reasons_of(struct sentences *out, const struct belief *b, size_t cause,
                const struct sheet *sheet)
{
    const struct belief_cause *c = &b->cause[cause];
    if (c->best == (size_t)-1) {
        sentences_add(out, "what was heard fits none of the known causes well");
        return;
    }
    struct closer close;
    closer_init(&close, &b->held[c->best], sheet, b->ear);
    say_rows(out, &close, sheet);
    if (evidence_wanted(sheet)) {
        struct habit h;
        habit_init(&h, close.kase, close.variant, close.next, close.space.end, close.space.ends);
        say_seen(out, &h, sheet);
    }
    closer_release(&close);
    say_history(out, c->fault, sheet);
    say_history(out, c->second, sheet);
}

/* ---- predictions ---- */

/* Chances of counts under all other causes, mixed. */
static void others_at(const struct belief *b, size_t cause, const struct sheet *sheet,
                      struct forecast *mixed)
{
    double all = 0;
    memset(mixed, 0, sizeof *mixed);
    for (size_t i = 0; i < b->causes && i < 6; i++) {
        if (i == cause || b->cause[i].best == (size_t)-1 || b->cause[i].p < 0.01)
            continue;
        struct closer c;
        struct forecast f;
        closer_init(&c, &b->held[b->cause[i].best], sheet, b->ear);
        forecast_init(&f, &c, 0, false);
        closer_release(&c);
        for (size_t k = 0; k < f.count; k++) {
            size_t at = 0;
            while (at < mixed->count && mixed->at[at].dial_min != f.at[k].dial_min)
                at++;
            if (at == mixed->count && mixed->count < FORECAST_MOST)
                mixed->at[mixed->count++].dial_min = f.at[k].dial_min;
            for (int n = 0; at < mixed->count && n < FORECAST_COUNTS; n++)
                mixed->at[at].count[n] += b->cause[i].p * f.at[k].count[n];
        }
        all += b->cause[i].p;
    }
    for (size_t k = 0; k < mixed->count && all > 0; k++)
        for (int n = 0; n < FORECAST_COUNTS; n++)
            mixed->at[k].count[n] /= all;
}

static const struct coming *at_dial(const struct forecast *f, int dial)
{
    for (size_t i = 0; i < f->count; i++)
        if (f->at[i].dial_min == dial)
            return &f->at[i];
    return NULL;
}

static void say_count(struct sentences *out, const struct coming *c)
{
    char dial[8];
    int n = coming_count(c);
    text_dial(c->dial_min, dial);
    if (n == 0)
        sentences_add(out, "will be silent at %s", dial);
    else if (n == FORECAST_ENDLESS)
        sentences_add(out, "will strike without end at %s", dial);
    else if (n > 0)
        sentences_add(out, "will strike %d at %s%s", n, dial, n == c->due ? " (right)" : "");
}

/* A count has been told at this time of the dial already. */
static bool told_at(const struct sheet *sheet, int dial)
{
    for (size_t i = 0; i < sheet->heards; i++) {
        const struct heard *h = &sheet->heard[i];
        if (h->at.kind == AT_EXACT && h->at.min % 720 == dial && h->strike != HEARD_STRIKE_UNSAID)
            return true;
    }
    return false;
}

#define TOLD_WORTH 0.05 /* what was told is no news, but better than nothing to say */

void reasons_predicts(struct sentences *out, const struct belief *b, size_t cause,
                      const struct sheet *sheet, size_t most)
{
    struct closer c;
    struct forecast mine, rest;
    double worth[FORECAST_MOST] = {0};
    if (b->cause[cause].best == (size_t)-1)
        return;
    closer_init(&c, &b->held[b->cause[cause].best], sheet, b->ear);
    forecast_init(&mine, &c, 0, false);
    closer_release(&c);
    others_at(b, cause, sheet, &rest);
    for (size_t i = 0; i < mine.count; i++) {
        int n = coming_count(&mine.at[i]);
        const struct coming *other = at_dial(&rest, mine.at[i].dial_min);
        if (n < 0 || (!mine.at[i].due && n == 0))
            continue;
        /* a count that the others do not give tells most; a wrong one more than a right one */
        worth[i] = 0.01 + (other ? mine.at[i].count[n] * (1 - other->count[n]) : 0.5) +
                   (n != mine.at[i].due ? 0.3 : 0) - 0.002 * (double)i;
        worth[i] *= told_at(sheet, mine.at[i].dial_min) ? TOLD_WORTH : 1;
    }
    for (size_t said = 0; said < most; said++) {
        size_t best = FORECAST_MOST;
        for (size_t i = 0; i < mine.count; i++)
            if (worth[i] > 0 && (best == FORECAST_MOST || worth[i] > worth[best]))
                best = i;
        if (best == FORECAST_MOST)
            return;
        worth[best] = 0;
        say_count(out, &mine.at[best]);
    }
}

/* ---- two causes that sound alike ---- */

/* Of two pairs that have one fault in common the other ones tell. */
static const char *part_that_tells(const struct belief_cause *c, const struct belief_cause *other)
{
    return c->second && c->fault == other->fault ? c->second->part : c->part;
}

/* "Nothing wrong" has no part to look at: the other's tells. */
static void say_alike(struct sentences *out, const struct belief_cause *a, const struct belief_cause *b)
{
    const char *first = part_that_tells(a, b), *second = part_that_tells(b, a);
    struct text t = {0};
    reasons_say_name(a, &t);
    text_add(&t, " and ");
    reasons_say_name(b, &t);
    text_addf(&t, " cannot be told apart by ear: look at the %s", a->fault ? first : second);
    if (strcmp(first, second) != 0 && a->fault && b->fault)
        text_addf(&t, " and the %s", second);
    sentences_add(out, "%s", text_cstr(&t));
    text_release(&t);
}

void reasons_look(struct sentences *out, const struct belief *b, const struct sheet *sheet)
{
    if (b->causes < 2 || b->cause[0].best == (size_t)-1 || b->cause[1].best == (size_t)-1 ||
        b->cause[1].p < 0.1 * b->cause[0].p)
        return;
    struct closer one, two;
    struct forecast a, c;
    closer_init(&one, &b->held[b->cause[0].best], sheet, b->ear);
    closer_init(&two, &b->held[b->cause[1].best], sheet, b->ear);
    bool same_clock = one.kase == two.kase;
    forecast_init(&a, &one, 0, false);
    forecast_init(&c, &two, 0, false);
    closer_release(&one);
    closer_release(&two);
    if (!same_clock || forecast_apart(&a, &c) > 0.1)
        return;
    say_alike(out, &b->cause[0], &b->cause[1]);
}

/* ---- rows that clash ---- */

#define CLASH_GAIN 2.5 /* log of how much likelier the rest of the report must become, beyond what
                          leaving out any row gives */

/* Log probability of the report without row `skip`, less what any row costs. */
static double evidence_without(struct finder *f, const struct sheet *sheet, size_t skip)
{
    struct sheet less = *sheet;
    struct belief b;
    double evidence = -1e9;
    less.heard = mem_alloc((sheet->heards + 1) * sizeof *less.heard);
    less.heards = 0;
    for (size_t i = 0; i < sheet->heards; i++)
        if (i != skip)
            less.heard[less.heards++] = sheet->heard[i];
    if (belief_find(f, &less, NULL, &b)) {
        const struct belief_cause *u = belief_cause_of(&b, "unknown");
        evidence = b.evidence + log(fmax(1e-12, 1 - (u ? u->p : 0)));
        belief_release(&b);
    }
    mem_free(less.heard);
    return evidence;
}

/* Words that cannot both be true. */
static void clashing_words(struct sentences *out, const struct sheet *s)
{
    size_t count = words_count(s->words, WORD_SEEN);
    for (size_t i = 0; i < count; i++)
        for (size_t j = i + 1; word_set_has(&s->seen, (int)i) && j < count; j++) {
            const struct word *a = words_at(s->words, WORD_SEEN, i);
            const struct word *b = words_at(s->words, WORD_SEEN, j);
            struct text both = {0};
            add_word(&both, a->id);
            add_word(&both, b->id);
            if (word_set_has(&s->seen, (int)j) && words_clash(a, b))
                sentences_add(out, "%s cannot both be so; ask again: %s", text_cstr(&both), a->ask);
            text_release(&both);
        }
}

int reasons_clash(struct sentences *out, struct finder *f, const struct belief *b,
                  const struct sheet *sheet)
{
    clashing_words(out, sheet);
    const struct belief_cause *u = belief_cause_of(b, "unknown");
    if (!u || u->p < 0.3 || sheet->heards < 2 || sheet->heards > 16)
        return -1;
    double known = b->evidence + log(fmax(1e-12, 1 - u->p)), best = -1e9, second = -1e9;
    int which = -1;
    for (size_t i = 0; i < sheet->heards; i++) {
        double gain = evidence_without(f, sheet, i) - known + log(ear_blind(&sheet->heard[i], sheet->words));
        if (gain > best) {
            second = best;
            best = gain;
            which = (int)i;
        } else {
            second = fmax(second, gain);
        }
    }
    if (best < 1 || (best < second + 0.7 && best < CLASH_GAIN))
        return -1;
    struct text t = {0};
    heard_say(&sheet->heard[which], sheet->words, &t);
    sentences_add(out, "one row clashes with the others: that %s; ask about it again",
                  text_cstr(&t));
    text_release(&t);
    return which;
}

/* ---- first things first ---- */

static const struct {
    const char *word, *sentence;
} first_things[] = {
    {"pendulum_stopped", "The clock stands: level it, start the pendulum and see that the tick is even before judging the strike."},
    {"not_level", "The clock is not level: level it first until the tick is even; levers that drop by their own weight may not drop in a clock that leans."},
    {"beat_uneven", "The tick is uneven: put it in beat first."},
    {"pendulum_touches", "The pendulum touches something: clear it first."},
    {"weight_at_bottom", "A weight is at the bottom: wind it first, then listen again."},
    {"spring_feels_loose", "A spring feels loose: wind it first; if it turns without end, stop and leave it to a repairer."},
    {"winding_slips", "The winding slips: do not wind on; that is for a repairer."},
    {"no_weight_on_hook", "A hook carries no weight: hang each weight on its own hook first."},
    {"silent_lever_at_silent", "The silent lever is at silent: push it right over to strike, not within five minutes of a quarter."},
    {"silent_lever_between", "The silent lever stands between two places: push it right over."},
    {"selector_between", "The tune selector stands between two tunes: push it right over when all is quiet."},
    {"night_lever_on", "The night silence is on: switch it off and listen by day."},
    {"weight_jammed_at_top", "A weight is jammed at the top: do not force it; lift it a little off its hook so that the line runs free."},
    {"clock_stops", "The clock stops: see first that it is wound, level and in beat, and that the hands touch neither each other nor the glass."},
};

void reasons_first(struct sentences *out, const struct belief *b, const struct sheet *sheet)
{
    (void)b;
    for (size_t i = 0; i < sizeof first_things / sizeof *first_things; i++)
        if (sheet_seen(sheet, first_things[i].word))
            sentences_add(out, "%s", first_things[i].sentence);
}
