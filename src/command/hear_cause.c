#include "command/hear_cause.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "mem.h"

#define SHARE_LEAST 0.03  /* readings rarer than this change nothing */
#define UNKNOWN_MOST 0.15 /* with more belief in a cause nobody knows, two at once are thought of */
#define ROW_LEAST 0.02    /* or if the best that is known makes one of the rows no likelier than this */
#define TIMES_MOST 64
#define SETTLE_ROUNDS 3
#define RECORDED_UNKNOWN 0.01 /* belief in a cause nobody knows, before: a recording leaves little out */

/* ---- readings ---- */

/* Make room where a share of this size belongs; HEAR_CAUSE_READINGS: nowhere. */
static size_t place_for(struct heard_cause *c, double share)
{
    size_t i = 0, last = HEAR_CAUSE_READINGS - 1;
    while (i < c->readings && c->share[i] >= share)
        i++;
    if (i > last)
        return HEAR_CAUSE_READINGS;
    if (c->readings > last)
        sheet_release(&c->sheet[last]);
    else
        last = c->readings++;
    for (size_t k = last; k > i; k--) {
        c->sheet[k] = c->sheet[k - 1];
        c->share[k] = c->share[k - 1];
        c->at_min[k] = c->at_min[k - 1];
    }
    return i;
}

/* Who asks, and everything a sheet is written from. */
struct asking {
    struct desk *desk;
    struct heard_clock *heard;
    const struct clock *clock;
    const struct hearing *hearing;
};

/* The sheet of the readings now taken in `heard`. */
static void write_down(const struct asking *a, int at_min, struct sheet *s)
{
    sheet_init(s, a->desk->words);
    snprintf(s->clock, sizeof s->clock, "%s", a->desk->sheet.clock);
    memcpy(s->hint, a->desk->sheet.hint, sizeof s->hint);
    hear_rows(a->heard, a->clock, a->hearing, at_min, s);
}

static void keep(struct heard_cause *c, struct sheet *s, int at_min, double share)
{
    size_t i = place_for(c, share);
    if (i == HEAR_CAUSE_READINGS) {
        sheet_release(s);
        return;
    }
    c->sheet[i] = *s;
    c->share[i] = share;
    c->at_min[i] = at_min;
}

/* Dial times at which the first let-off may have been, with their weights.  A quarter or half is
 * much the same at every hour: one stands for twelve. */
struct times {
    int min[TIMES_MOST];
    double weight[TIMES_MOST];
    size_t count;
};

static void times_of(struct times *t, const struct clock *clock, int at_min)
{
    t->count = 0;
    if (at_min >= 0 || !clock) {
        t->min[t->count] = at_min;
        t->weight[t->count++] = 1;
        return;
    }
    int hours = 720 / clock->lobe_period_min;
    for (int h = 0; h < hours; h++)
        for (int i = 0; i < clock->lobes && t->count < TIMES_MOST; i++) {
            bool hour = clock->lobe[i].minute % 60 == 0;
            if (!hour && h != 1)
                continue;
            t->min[t->count] = (h * clock->lobe_period_min + clock->lobe[i].minute) % 720;
            t->weight[t->count++] = hour ? 1 : hours;
        }
}

/* ln of the chance of the sheet under everything that is known. */
static double known_evidence(const struct asking *a, const struct sheet *s, const struct belief_options *o)
{
    struct belief b;
    if (!belief_find(a->desk->finder, s, o, &b))
        return -1e9;
    const struct belief_cause *unknown = belief_cause_of(&b, "unknown");
    double ln = b.evidence + log(fmax(1e-12, 1 - (unknown ? unknown->p : 0)));
    belief_release(&b);
    return ln;
}

/* How the let-offs are read, and how sure each way is beside the likeliest of its own let-off. */
struct choice {
    size_t reading[HEAR_LETOFFS_MOST];
    double least_ln; /* what everything that is weighed stands against */
};

static double share_of(const struct heard_letoff *l, size_t reading)
{
    return reading && l->reading[0].p > 0 ? l->reading[reading].p / l->reading[0].p : 1;
}

static void take_readings(const struct asking *a, const struct choice *c)
{
    for (size_t i = 0; i < a->heard->letoffs; i++)
        heard_clock_read(a->heard, i, c->reading[i]);
}

static double share_of_all(const struct asking *a, const struct choice *c)
{
    double share = 1;
    for (size_t i = 0; i < a->heard->letoffs; i++)
        share *= share_of(&a->heard->letoff[i], c->reading[i]);
    return share;
}

/* ln of share and evidence of what is read now, at this time. */
static double ln_at(const struct asking *a, const struct belief_options *o, double share, int at_min)
{
    struct sheet s;
    write_down(a, at_min, &s);
    double ln = log(share) + known_evidence(a, &s, o);
    sheet_release(&s);
    return ln;
}

/* The time at which the likeliest readings can best come about. */
static int best_time(const struct asking *a, const struct times *t, const struct belief_options *o)
{
    int best = t->count ? t->min[0] : 0;
    double most = -1e9;
    for (size_t i = 0; i < t->count && t->count > 1; i++) {
        double now = ln_at(a, o, t->weight[i], t->min[i]);
        best = now > most ? t->min[i] : best;
        most = fmax(most, now);
    }
    return best;
}

/* Each let-off in turn takes the reading that suits the others best, until all keep theirs. */
static void settle(struct choice *c, const struct asking *a, int at_min, const struct belief_options *o)
{
    take_readings(a, c);
    double ln = ln_at(a, o, share_of_all(a, c), at_min);
    bool changed = true;
    for (int round = 0; round < SETTLE_ROUNDS && changed; round++) {
        changed = false;
        for (size_t i = 0; i < a->heard->letoffs; i++)
            for (size_t k = 0; k < a->heard->letoff[i].readings; k++) {
                size_t before = c->reading[i];
                if (k == before || share_of(&a->heard->letoff[i], k) < SHARE_LEAST)
                    continue;
                c->reading[i] = k;
                heard_clock_read(a->heard, i, k);
                double now = ln_at(a, o, share_of_all(a, c), at_min);
                if (now > ln + 1e-9) {
                    ln = now;
                    changed = true;
                } else {
                    c->reading[i] = before;
                    heard_clock_read(a->heard, i, before);
                }
            }
    }
    c->least_ln = ln;
}

enum leaning { AS_LIKELIEST, AS_COUNTS, AS_NOTES, LEANINGS };

/* Every let-off read alike, where it can be: its likeliest reading of that kind. */
static bool lean(struct choice *c, const struct asking *a, enum leaning leaning)
{
    bool other = leaning == AS_LIKELIEST;
    *c = (struct choice){.least_ln = 0};
    for (size_t i = 0; i < a->heard->letoffs && leaning != AS_LIKELIEST; i++) {
        const struct heard_letoff *l = &a->heard->letoff[i];
        for (size_t k = 0; k < l->readings && share_of(l, k) >= SHARE_LEAST; k++)
            if ((l->reading[k].notes[0] == 0) == (leaning == AS_COUNTS)) {
                c->reading[i] = k;
                other |= k > 0;
                break;
            }
    }
    return other;
}

/* Readings that go together.  Where quarters and hours fall on one bell, two blows may be the second quarter or
 * two o'clock, and which of them depends on the other let-offs. */
static void choose(struct choice *best, const struct asking *a, int at_min, const struct belief_options *o)
{
    for (int leaning = 0; leaning < LEANINGS; leaning++) {
        struct choice c;
        if (!lean(&c, a, (enum leaning)leaning))
            continue;
        settle(&c, a, at_min, o);
        if (leaning == AS_LIKELIEST || c.least_ln > best->least_ln)
            *best = c;
    }
    take_readings(a, best);
}

/* What was read, at each time it may have been. */
static void read_at_times(struct heard_cause *c, const struct asking *a, const struct times *t,
                          const struct belief_options *o, const struct choice *choice)
{
    double share = share_of_all(a, choice);
    for (size_t i = 0; i < t->count; i++) {
        struct sheet s;
        write_down(a, t->min[i], &s);
        double ln = log(share * t->weight[i]) + known_evidence(a, &s, o) - choice->least_ln;
        keep(c, &s, t->min[i], exp(fmin(300, fmax(-300, ln))));
    }
}

/* The readings that suit each other best, then those that differ from them in one let-off. */
static void read_all(struct heard_cause *c, const struct asking *a, int at_min, const struct belief_options *o)
{
    struct times t;
    struct choice choice = {{0}, 0};
    times_of(&t, a->clock, at_min);
    choose(&choice, a, best_time(a, &t, o), o);
    read_at_times(c, a, &t, o, &choice);
    for (size_t i = 0; i < a->heard->letoffs; i++) {
        size_t settled = choice.reading[i];
        for (size_t k = 0; k < a->heard->letoff[i].readings; k++) {
            if (k == settled || share_of(&a->heard->letoff[i], k) < SHARE_LEAST)
                continue;
            choice.reading[i] = k;
            heard_clock_read(a->heard, i, k);
            read_at_times(c, a, &t, o, &choice);
        }
        choice.reading[i] = settled;
        heard_clock_read(a->heard, i, settled);
    }
    take_readings(a, &choice);
}

/* ---- causes ---- */

static double belief_in_unknown(const struct belief *b)
{
    const struct belief_cause *c = belief_cause_of(b, "unknown");
    return c ? c->p : 0;
}

/* Chance of the row that a hypothesis explains worst. */
static double worst_row(const struct held *h, const struct sheet *sheet, const struct ear_model *ear)
{
    struct closer c;
    double worst = 1;
    closer_init(&c, h, sheet, ear);
    for (size_t i = 0; i < c.plan.steps; i++)
        if (c.plan.step[i].count)
            worst = fmin(worst, c.by_step[i]);
    closer_release(&c);
    return worst;
}

/* No single fault explains it well. */
static bool badly_explained(const struct belief *b, const struct sheet *sheet)
{
    if (belief_in_unknown(b) > UNKNOWN_MOST || !b->helds)
        return true;
    return worst_row(&b->held[0], sheet, b->ear) < ROW_LEAST;
}

/* When pairs are thought of at unknown times: only where single faults did best. */
static void weigh_again(struct heard_cause *c, const struct asking *a, const struct belief_options *o)
{
    struct heard_cause again = {.readings = 0};
    struct times t;
    times_of(&t, a->clock, -1);
    for (size_t i = 0; i < c->readings; i++) {
        double weight = 1, ln = known_evidence(a, &c->sheet[i], o);
        for (size_t k = 0; k < t.count; k++)
            weight = t.min[k] == c->at_min[i] ? t.weight[k] : weight;
        keep(&again, &c->sheet[i], c->at_min[i], weight * exp(fmax(-600, ln)));
    }
    c->readings = again.readings;
    memcpy(c->sheet, again.sheet, sizeof c->sheet);
    memcpy(c->share, again.share, sizeof c->share);
    memcpy(c->at_min, again.at_min, sizeof c->at_min);
}

static bool think(struct heard_cause *c, const struct asking *a, const struct belief_options *o)
{
    const struct sheet *reading[HEAR_CAUSE_READINGS];
    size_t n = 0;
    while (n < c->readings && c->share[n] >= SHARE_LEAST * c->share[0]) {
        reading[n] = &c->sheet[n];
        n++;
    }
    return report_believe(&c->report, a->desk->finder, reading, c->share, n, o);
}

bool heard_cause_believe(struct heard_cause *c, struct desk *d, struct heard_clock *heard, const struct clock *clock,
                         const struct hearing *h, int at_min)
{
    struct asking a = {d, heard, clock, h};
    struct belief_options o = {.ear = &ear_recording, .prior_unknown = RECORDED_UNKNOWN};
    memset(c, 0, sizeof *c);
    read_all(c, &a, at_min, &o);
    if (!think(c, &a, &o))
        return false;
    if (!clock || !badly_explained(&c->report.belief, &c->sheet[0]))
        return true;
    report_release(&c->report);
    c->pairs = o.pairs = true;
    o.prior_unknown *= PRIOR_UNKNOWN_PAIRED / PRIOR_UNKNOWN;
    o.pair_walks = BELIEF_PAIR_WALKS / (c->readings * (at_min < 0 ? 2 : 1)); /* as long as one report in all */
    if (at_min < 0)
        weigh_again(c, &a, &o);
    return think(c, &a, &o);
}

bool heard_cause_init(struct heard_cause *c, struct desk *d, struct heard_clock *heard, const struct clock *clock,
                      const struct hearing *h, int at_min)
{
    if (!heard_cause_believe(c, d, heard, clock, h, at_min))
        return false;
    report_look(&c->report, d->finder);
    return true;
}

void heard_cause_release(struct heard_cause *c)
{
    report_release(&c->report);
    for (size_t i = 0; i < c->readings; i++)
        sheet_release(&c->sheet[i]);
    memset(c, 0, sizeof *c);
}
