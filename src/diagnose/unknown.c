#include "diagnose/unknown.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>
#include "diagnose/evidence.h"
#include "diagnose/filter.h"
#include "diagnose/same_fact.h"

#define COUNTS     17 /* 0..15 and without end */
#define ENDLESS    16
#define COVERED    12 /* let-offs of a rule that are looked at */
#define DAYS_TOLD  4  /* days that "now and then" is heard over */
#define RULE_BEST  0.95
#define BLIND_WORD 0.1 /* one odd quality is this one ... */
#define BLIND_MANY 0.3  /* a word about many let-offs is told (irregular, unreliable) */
#define BLIND_QUIET 0.6 /* ... and goes untold at a let-off that sounded */

/* ---- the rows, by let-off ---- */

/* One let-off a row speaks of. */
struct place {
    const struct sounding *due;
    int dial_min, blows; /* due */
};

struct blind {
    const struct sheet *sheet;
    struct clock_case *kase;
    const struct ear_model *ear;
};

static int around(int minutes)
{
    int m = ((minutes % 720) + 720) % 720;
    return m > 360 ? m - 720 : m;
}

static struct place place_at(const struct blind *b, int letoff)
{
    const struct sounding *due = sounding_at(&b->kase->pool, b->kase->due[letoff]);
    return (struct place){due, b->kase->classes.minute[letoff] % 720,
                          due->train[TRAIN_STRIKE].count};
}

/* A rule speaks of let-offs at which something is due, if there are such. */
static bool speaks_of(const struct blind *b, const struct heard *h, int letoff, bool any)
{
    const struct letoff_classes *k = &b->kase->classes;
    bool rule = h->at.kind == AT_RULE || h->at.kind == AT_MINUTE;
    return heard_covers(h, k->minute[letoff], k->clock->cycle_min) &&
           (any || !rule || !sounding_silent(place_at(b, letoff).due));
}

/* The let-offs a row speaks of: the nearest to a told minute, or those a rule covers. */
static size_t places_of(const struct blind *b, const struct heard *h, struct place out[COVERED])
{
    const struct letoff_classes *k = &b->kase->classes;
    size_t n = 0, covered = 0;
    if (h->at.kind == AT_EXACT || (h->has_for && h->due.kind == AT_EXACT)) {
        int told = h->has_for && h->due.kind == AT_EXACT ? h->due.min : h->at.min, best = 0;
        for (int i = 1; i < k->letoffs; i++)
            if (abs(around(k->minute[i] - told)) < abs(around(k->minute[best] - told)))
                best = i;
        out[0] = place_at(b, best);
        return 1;
    }
    for (int i = 0; i < k->letoffs; i++)
        covered += speaks_of(b, h, i, false);
    bool any = !covered; /* nothing is due at any of them */
    for (int i = 0; i < k->letoffs && any; i++)
        covered += speaks_of(b, h, i, any);
    for (int i = 0, seen = 0; i < k->letoffs && n < COVERED; i++)
        if (speaks_of(b, h, i, any))
            if ((size_t)seen++ * COVERED >= n * covered)
                out[n++] = place_at(b, i);
    return n;
}

/* A row that speaks of many let-offs, by the mean chance at one. */
static double row_factor(const struct blind *b, const struct heard *h, double mean)
{
    if (h->at.kind == AT_EXACT && h->often != OFTEN_SOMETIMES && !h->mostly && !h->chime_mostly)
        return mean;
    bool every = h->at.kind == AT_RULE || h->at.kind == AT_MINUTE;
    if (every &&
        (h->often == OFTEN_MOSTLY || (h->often == OFTEN_ALWAYS && !h->mostly && !h->chime_mostly)))
        return RULE_BEST * exp(-filter_strict(h, b->sheet->words) * fmax(0, 1 - mean / RULE_BEST));
    return 1 - pow(1 - fmin(1, mean), DAYS_TOLD);
}

static double misheard(const struct blind *b, const struct heard *h, double p)
{
    return heard_how(h, b->sheet->words, HOW_BY_HAND) ? p + FILTER_MISHEARD * (0.4 - p) : p;
}

/* ---- manners ---- */

enum shape {
    RIGHT, SILENT, OFF, ONE, WILD, NOW_SILENT, MOSTLY_SILENT, NOW_OFF, NO_END, NOW_NO_END,
    HALVES_SILENT, HOURS_SILENT, HALF_OUT, WRONG, NOW_WRONG, MIXED, SCATTER, QUALITY, STANDS
};
struct manner {
    enum shape shape;
    int value;
    double share;
};

static const struct manner of_strike[] = {
    {RIGHT, 0, 0.29},       {SILENT, 0, 0.24},         {OFF, 1, 0.05},          {OFF, -1, 0.055},
    {OFF, 2, 0.01},         {OFF, -2, 0.01},           {OFF, 3, 0.004},         {OFF, -3, 0.004},
    {OFF, 4, 0.003},        {OFF, -4, 0.003},          {OFF, 5, 0.004},         {OFF, -5, 0.004},
    {OFF, 6, 0.002},        {ONE, 1, 0.01},            {ONE, 2, 0.002},         {ONE, 3, 0.001},
    {ONE, 4, 0.001},        {ONE, 12, 0.005},          {WILD, 0, 0.025},        {NOW_SILENT, 0, 0.085},
    {MOSTLY_SILENT, 0, 0.02}, {NOW_OFF, 0, 0.105},     {NO_END, 0, 0.003},      {NOW_NO_END, 0, 0.005},
    {HALVES_SILENT, 0, 0.012}, {HOURS_SILENT, 0, 0.02}, {HALF_OUT, 0, 0.03},
};
static const struct manner of_quarters[] = {
    {RIGHT, 0, 0.49},     {SILENT, 0, 0.145}, {WRONG, 0, 0.075},   {NOW_SILENT, 0, 0.03},
    {NOW_WRONG, 0, 0.13}, {MIXED, 0, 0.115},  {NO_END, 0, 0.005},  {NOW_NO_END, 0, 0.01},
};
static const struct manner of_time[] = {
    {RIGHT, 0, 0.935},  {SCATTER, 0, 0.004}, {OFF, 3, 0.008},  {OFF, -3, 0.012}, {OFF, 5, 0.006},
    {OFF, -5, 0.006},   {OFF, 8, 0.003},     {OFF, -8, 0.003}, {OFF, 10, 0.001}, {OFF, -10, 0.001},
    {OFF, 15, 0.006},   {OFF, -15, 0.006},   {OFF, 20, 0.001}, {OFF, -20, 0.001}, {OFF, 25, 0.001},
    {OFF, 30, 0.004},
};
static const struct manner of_stands[] = {{RIGHT, 0, 0.85}, {STANDS, 0, 0.15}};
static const struct {
    const struct manner *at;
    size_t count;
} kinds[UNKNOWN_KINDS] = {
    {of_strike, sizeof of_strike / sizeof *of_strike},
    {of_quarters, sizeof of_quarters / sizeof *of_quarters},
    {of_time, sizeof of_time / sizeof *of_time},
    {NULL, 0},
    {of_stands, sizeof of_stands / sizeof *of_stands},
};

/* ---- the strike ---- */

static double made(const double p[COUNTS], int count)
{
    return count < 0 ? 0 : p[count < ENDLESS ? count : ENDLESS - 1];
}

static double any_count(const double p[COUNTS])
{
    double sum = 0;
    for (int n = 1; n <= 12; n++)
        sum += p[n];
    return sum / 12;
}

/* Chance of the row under a manner, from its chance p for each count that may have been made. */
static double strike_in(const struct manner *m, const double p[COUNTS], const struct place *at)
{
    bool hour = at->dial_min % 60 == 0;
    int due = at->blows;
    if (!due && m->shape != NO_END)
        return p[0];
    switch (m->shape) {
    case RIGHT: return made(p, due);
    case SILENT: return p[0];
    case OFF: return hour ? made(p, (due + m->value + 11) % 12 + 1) : 0.8 * made(p, due) + 0.2 * any_count(p);
    case ONE: return made(p, m->value);
    case WILD: return 0.9 * any_count(p) + 0.1 * p[0];
    case NOW_SILENT: return 0.65 * made(p, due) + 0.35 * p[0];
    case MOSTLY_SILENT: return 0.3 * made(p, due) + 0.7 * p[0];
    case NOW_OFF: return 0.6 * made(p, due) + 0.15 * made(p, due + 1) + 0.15 * made(p, due - 1) + 0.1 * any_count(p);
    case NO_END: return p[ENDLESS];
    case NOW_NO_END: return 0.5 * made(p, due) + 0.5 * p[ENDLESS];
    case HALVES_SILENT: return hour ? made(p, due) : p[0];
    case HOURS_SILENT: return hour ? p[0] : made(p, due);
    case HALF_OUT: return hour ? p[1] : any_count(p);
    default: return 0;
    }
}

/* A strike told of where this clock has no let-off is another clock's. */
static double no_strike(const struct blind *b, const struct heard *h)
{
    struct heard strike = {.strike = h->strike, .values = h->values, .phrases = -1};
    return h->strike == HEARD_STRIKE_NONE ? 1 : FILTER_UNPLACED * ear_blind(&strike, b->sheet->words);
}

static void strike_rows(const struct blind *b, const struct manner *m, size_t manners, double *chance)
{
    for (size_t i = 0; i < b->sheet->heards; i++) {
        const struct heard *h = &b->sheet->heard[i];
        struct place at[COVERED];
        double mean[UNKNOWN_MANNERS] = {0};
        if (h->strike == HEARD_STRIKE_UNSAID || h->strike == HEARD_STRIKE_UNNOTICED || h->often == OFTEN_MAYBE)
            continue;
        size_t n = places_of(b, h, at);
        for (size_t k = 0; k < n; k++) {
            double p[COUNTS];
            for (int c = 0; c < COUNTS; c++)
                p[c] = ear_strike(b->ear, h, c == ENDLESS ? HEARD_ENDLESS : c, at[k].blows);
            for (size_t j = 0; j < manners; j++)
                mean[j] += strike_in(&m[j], p, &at[k]) / (double)n;
        }
        for (size_t j = 0; j < manners; j++)
            chance[j] *= n ? misheard(b, h, row_factor(b, h, mean[j])) : no_strike(b, h);
    }
}

/* ---- the quarters ---- */

static double tune_told(const struct blind *b, const struct heard *h, const struct place *at, bool right)
{
    const struct ear_at a = {.model = b->ear, .words = b->sheet->words, .clock = b->kase->clock,
                             .pool = &b->kase->pool, .sound = at->due, .due = at->due,
                             .dial_min = at->dial_min, .shown_min = at->dial_min};
    if (right)
        return ear_tune(&a, h);
    double p = h->notes[0] ? 0.02 * pow(0.4, fmax(0, (double)strlen(h->notes) - 4)) : 1;
    return p * (h->phrases >= 0 || h->quarter || h->quarter_shift ? 0.2 : 1);
}

/* Chance of the row when the quarters were right, silent, wrong, without end. */
static void quarter_chances(const struct blind *b, const struct heard *h, const struct place *at,
                            double p[4])
{
    static const double told[][4] = {
        [HEARD_CHIME_UNSAID] = {1, 1, 1, 1},
        [HEARD_CHIME_NONE] = {0.01, 1, 0.01, 0.01},
        [HEARD_CHIME_RIGHT] = {0.97, 0.01, 0.1, 0.01},
        [HEARD_CHIME_WRONG] = {0.03, 0.4, 0.87, 0.9},
        [HEARD_CHIME_SOME] = {0.98, 0.004, 0.98, 0.98},
        [HEARD_CHIME_RUNS_ON] = {0.002, 0.001, 0.02, 0.95},
        [HEARD_CHIME_UNNOTICED] = {1, 1, 1, 1},
    };
    bool quiet_told = h->notes[0] || h->phrases > 0 || h->quarter || h->quarter_shift;
    for (int k = 0; k < 4; k++) {
        p[k] = told[h->chime][k];
        for (int chime = 0; h->chime_also >> chime; chime++)
            p[k] += h->chime_also >> chime & 1 ? told[chime][k] : 0;
        p[k] = fmin(1, p[k]);
    }
    p[0] *= tune_told(b, h, at, true);
    p[1] *= quiet_told ? b->ear->dreamt : 1;
    p[2] *= tune_told(b, h, at, false);
    p[3] *= quiet_told ? 0.01 : 1;
}

static double quarters_in(const struct manner *m, const double p[4])
{
    switch (m->shape) {
    case RIGHT: return p[0];
    case SILENT: return p[1];
    case WRONG: return p[2];
    case NOW_SILENT: return 0.5 * p[0] + 0.5 * p[1];
    case NOW_WRONG: return 0.5 * p[0] + 0.5 * p[2];
    case MIXED: return 0.3 * p[0] + 0.3 * p[1] + 0.4 * p[2];
    case NO_END: return p[3];
    case NOW_NO_END: return 0.5 * p[0] + 0.5 * p[3];
    default: return 0;
    }
}

static bool tune_told_of(const struct heard *h)
{
    return h->notes[0] || h->phrases >= 0 || h->quarter || h->quarter_shift;
}

static bool quarters_told(const struct heard *h)
{
    bool told = (h->chime != HEARD_CHIME_UNSAID && h->chime != HEARD_CHIME_UNNOTICED) || tune_told_of(h);
    return told && h->often != OFTEN_MAYBE;
}

/* Quarters told of a clock that has none are another clock's, whatever is wrong with this one. */
static double no_quarters(const struct heard *h)
{
    bool silent = h->chime == HEARD_CHIME_NONE || h->phrases == 0;
    return silent && !h->notes[0] ? 1 : FILTER_UNPLACED;
}

static void quarter_row(const struct blind *b, const struct heard *h, const struct manner *m, size_t manners,
                        double *chance)
{
    struct place at[COVERED];
    double mean[UNKNOWN_MANNERS] = {0};
    size_t n = places_of(b, h, at);
    for (size_t k = 0; k < n; k++) {
        double p[4];
        quarter_chances(b, h, &at[k], p);
        for (size_t j = 0; j < manners; j++)
            mean[j] += quarters_in(&m[j], p) / (double)n;
    }
    for (size_t j = 0; j < manners; j++)
        chance[j] *= n ? misheard(b, h, row_factor(b, h, mean[j])) : no_quarters(h);
}

static void quarter_rows(const struct blind *b, const struct manner *m, size_t manners, double *chance)
{
    bool quarters = clock_train(b->kase->clock, TRAIN_CHIME) || b->kase->clock->lobes > 2;
    for (size_t i = 0; i < b->sheet->heards; i++) {
        const struct heard *h = &b->sheet->heard[i];
        if (!quarters_told(h))
            continue;
        if (quarters)
            quarter_row(b, h, m, manners, chance);
        else
            for (size_t j = 0; j < manners; j++)
                chance[j] *= no_quarters(h);
    }
}

/* ---- when, in what quality, standing ---- */

static double time_in(const struct manner *m, const struct heard *h, const struct place *at)
{
    double sum = 0;
    int from = m->shape == SCATTER ? -12 : m->value, to = m->shape == SCATTER ? 12 : m->value;
    for (int d = from; d <= to; d++) {
        int really = at->dial_min + d, told = h->at.min;
        if (h->at.kind == AT_MINUTE)
            told = ear_nearest(told, really);
        sum += ear_minute(really, told, at->dial_min, h->at.about) / (to - from + 1);
    }
    return sum;
}

/* A time is told: of one let-off, or that what is due at some is at another minute every time. */
static bool time_told(const struct heard *h)
{
    bool silent = h->strike == HEARD_STRIKE_NONE || h->chime == HEARD_CHIME_NONE;
    bool told = h->at.kind == AT_EXACT || (h->at.kind == AT_MINUTE && h->has_for);
    return told && !silent && h->stopped == STOPPED_NOTHING && h->often != OFTEN_MAYBE;
}

static void time_rows(const struct blind *b, const struct manner *m, size_t manners, double *chance)
{
    for (size_t i = 0; i < b->sheet->heards; i++) {
        const struct heard *h = &b->sheet->heard[i];
        struct place at[COVERED];
        if (!time_told(h) || !places_of(b, h, at) || ear_answers(h, b->sheet->words, at[0].dial_min))
            continue;
        for (size_t j = 0; j < manners; j++) {
            double p = time_in(&m[j], h, &at[0]); /* alike at every hour */
            chance[j] *= h->at.kind == AT_EXACT ? p : exp(-filter_strict(h, b->sheet->words) * (1 - p));
        }
    }
}

static bool sounded(const struct heard *h)
{
    return h->stopped == STOPPED_NOTHING && h->strike != HEARD_STRIKE_NONE;
}

/* The rows when the one odd quality is the word numbered `odd`; -1 none. */
static double quality_rows(const struct blind *b, int odd)
{
    const struct words *w = b->sheet->words;
    double p = 1;
    for (size_t i = 0; i < b->sheet->heards; i++) {
        const struct heard *h = &b->sheet->heard[i];
        bool told = odd >= 0 && word_set_has(&h->how, odd);
        for (size_t k = 0; k < words_count(w, WORD_HOW) && !word_set_empty(&h->how); k++)
            if (word_set_has(&h->how, (int)k) && !ear_judges(w, (int)k))
                p *= strcmp(words_at(w, WORD_HOW, k)->id, HOW_BY_HAND) == 0 ? 1 : BLIND_MANY;
            else if (word_set_has(&h->how, (int)k))
                p *= ear_word(b->ear, words_at(w, WORD_HOW, k)->id, (int)k == odd);
        p *= odd >= 0 && !told && sounded(h) && word_set_empty(&h->how) ? BLIND_QUIET : 1;
    }
    return p;
}

#define ODD_QUALITY 0.3 /* share of faults with an odd quality of sound */

static double quality_chance(const struct blind *b)
{
    const struct words *w = b->sheet->words;
    struct word_set told = {{0}};
    double p = (1 - ODD_QUALITY) * quality_rows(b, -1);
    for (size_t i = 0; i < b->sheet->heards; i++)
        for (size_t k = 0; k < words_count(w, WORD_HOW) && !word_set_empty(&b->sheet->heard[i].how); k++)
            if (word_set_has(&b->sheet->heard[i].how, (int)k))
                word_set_add(&told, (int)k);
    for (size_t k = 0; k < words_count(w, WORD_HOW); k++)
        if (word_set_has(&told, (int)k) && ear_judges(w, (int)k))
            p += ODD_QUALITY * BLIND_WORD * quality_rows(b, (int)k);
    return p;
}

#define STAND_AGAIN 0.4  /* told again */
#define STAND_WHERE 0.15 /* at the minute told */

static void stand_rows(const struct blind *b, const struct manner *m, size_t manners, double *chance)
{
    size_t n = 0;
    for (size_t i = 0; i < b->sheet->heards; i++)
        n += b->sheet->heard[i].stopped != STOPPED_NOTHING;
    for (size_t j = 0; j < manners; j++) {
        double slip = n ? pow(0.005, (double)n) : 1;
        double stood = n ? 0.95 * STAND_WHERE * pow(STAND_AGAIN, (double)n - 1) : 0.3;
        chance[j] *= m[j].shape == STANDS ? stood : slip;
    }
}

/* ---- all together ---- */

size_t unknown_manners(const struct sheet *s, struct clock_case *k, const struct ear_model *ear, int kind,
                       double chance[UNKNOWN_MANNERS], double share[UNKNOWN_MANNERS])
{
    const struct blind b = {s, k, ear};
    const struct manner *m = kinds[kind].at;
    size_t n = kinds[kind].count;
    for (size_t j = 0; j < n; j++) {
        chance[j] = 1;
        share[j] = m[j].share;
    }
    if (kind == 0)
        strike_rows(&b, m, n, chance);
    else if (kind == 1)
        quarter_rows(&b, m, n, chance);
    else if (kind == 2)
        time_rows(&b, m, n, chance);
    else if (kind == 4)
        stand_rows(&b, m, n, chance);
    return n;
}

static double blows_chance(const struct blind *b)
{
    double p = 1;
    for (size_t i = 0; i < b->sheet->heards; i++) {
        const struct heard *h = &b->sheet->heard[i];
        struct place at[COVERED];
        bool told = h->hammers != HAMMERS_UNSAID || h->orders || h->intervals || h->interval_s > 0 || h->pause_s > 0;
        if (!told || !places_of(b, h, at))
            continue;
        const struct ear_at a = {.model = b->ear, .words = b->sheet->words, .clock = b->kase->clock,
                                 .pool = &b->kase->pool, .sound = at[0].due, .due = at[0].due,
                                 .dial_min = at[0].dial_min, .shown_min = at[0].dial_min};
        p *= 0.7 * ear_blows(&a, h) + 0.06;
    }
    return p;
}

static double seen_chance(const struct sheet *s)
{
    double p = 1;
    for (size_t i = 0; i < words_count(s->words, WORD_SEEN); i++) {
        bool asked = word_set_has(&s->seen_asked, (int)i);
        if (!evidence_predicts(words_at(s->words, WORD_SEEN, i)->id))
            continue;
        if (word_set_has(&s->seen, (int)i) && same_fact_told(s, i))
            continue;
        if (word_set_has(&s->seen, (int)i))
            p *= asked ? UNKNOWN_SEEN_YES : UNKNOWN_SEEN;
        else if (word_set_has(&s->seen_not, (int)i))
            p *= 1 - UNKNOWN_SEEN_YES;
    }
    return p;
}

double unknown_chance(const struct sheet *s, struct clock_case *k, const struct ear_model *ear)
{
    const struct blind b = {s, k, ear};
    double p = quality_chance(&b) * blows_chance(&b) * seen_chance(s);
    for (int kind = 0; kind < UNKNOWN_KINDS; kind++) {
        double chance[UNKNOWN_MANNERS], share[UNKNOWN_MANNERS], sum = 0, all = 0;
        size_t n = unknown_manners(s, k, ear, kind, chance, share);
        for (size_t j = 0; j < n; j++) {
            sum += share[j] * chance[j];
            all += share[j];
        }
        p *= n ? sum / all : 1;
    }
    return p * pow(0.2, (double)(s->trieds < 4 ? s->trieds : 4));
}
