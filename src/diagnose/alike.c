#include "diagnose/alike.h"

#include <math.h>
#include <string.h>
#include "diagnose/forecast.h"
#include "diagnose/reasons.h"
#include "mem.h"

/* ---- what each cause makes of each row ---- */

#define NO_CHANCE 1e-30

#define ROUNDING 1e-9 /* chances that differ by no more of themselves are the same */

static bool suits_better(const struct held *one, const struct held *other)
{
    double apart = one->chance - other->chance, same = ROUNDING * other->chance;
    return apart > same || (apart >= -same && one->p > other->p);
}

/* Of a cause's hypotheses the one that makes the report likeliest; of several that do, the likeliest itself. */
static const struct held *best_suited(const struct belief *b, size_t cause)
{
    const struct held *best = NULL;
    for (size_t i = 0; i < b->helds; i++)
        if (b->held[i].cause == cause && (!best || suits_better(&b->held[i], best)))
            best = &b->held[i];
    return best;
}

static size_t rows_at(const struct closer *c, const struct filter_step *s, bool *row, size_t rows)
{
    size_t n = 0;
    memset(row, 0, rows * sizeof *row);
    for (size_t k = s->first; k < s->first + s->count; k++) {
        size_t i = c->plan.look[k].row_index;
        n += i < rows && !row[i];
        if (i < rows)
            row[i] = true;
    }
    return n;
}

/* ln of the chance of every row, and behind them of what no row says. */
static void chances_of(const struct held *h, const struct sheet *sheet, const struct ear_model *ear, double *ln)
{
    struct closer c;
    size_t rows = sheet->heards;
    bool *row = mem_alloc((rows + 1) * sizeof *row);
    closer_init(&c, h, sheet, ear);
    ln[rows] = log(fmax(NO_CHANCE, c.best_chance));
    for (size_t i = 0; i < rows; i++)
        ln[i] = 0;
    for (size_t i = 0; i < c.plan.steps; i++) {
        size_t n = rows_at(&c, &c.plan.step[i], row, rows);
        double step = n ? log(fmax(NO_CHANCE, c.by_step[i])) : 0;
        for (size_t k = 0; k < rows; k++)
            ln[k] += row[k] ? step / (double)n : 0;
        ln[rows] -= step;
    }
    closer_release(&c);
    mem_free(row);
}

static bool sound_alike(const double *one, const double *two, size_t rows)
{
    double apart = 0;
    for (size_t i = 0; i <= rows; i++)
        apart += fabs(one[i] - two[i]);
    return apart <= log(ALIKE_FACTOR);
}

/* ---- groups ---- */

static void put_in_order(struct alike *a)
{
    for (size_t i = 1; i < a->groups; i++)
        for (size_t k = i; k > 0 && a->group[k].p > a->group[k - 1].p; k--) {
            struct alike_group swap = a->group[k];
            a->group[k] = a->group[k - 1];
            a->group[k - 1] = swap;
        }
}

static void join(struct alike *a, size_t group, size_t cause, double p)
{
    struct alike_group *g = &a->group[group];
    if (group == a->groups) {
        *g = (struct alike_group){.hear_min = -1};
        a->groups++;
    }
    g->cause[g->causes++] = cause;
    g->p += p;
}

void alike_find(struct alike *a, const struct belief *b, const struct sheet *sheet, size_t most, double least)
{
    size_t rows = sheet->heards, wide = rows + 1;
    memset(a, 0, sizeof *a);
    if (!rows)
        return;
    most = most < ALIKE_CAUSES ? most : ALIKE_CAUSES;
    double *ln = mem_alloc((most + 1) * wide * sizeof *ln);
    for (size_t i = 0; i < b->causes && i < most && b->cause[i].p >= least; i++) {
        const struct held *h = best_suited(b, i);
        double *mine = ln + i * wide;
        size_t g = 0;
        if (h)
            chances_of(h, sheet, b->ear, mine);
        while (g < a->groups && !(h && b->cause[a->group[g].cause[0]].best != (size_t)-1 &&
                                  sound_alike(mine, ln + a->group[g].cause[0] * wide, rows)))
            g++;
        join(a, g, i, b->cause[i].p);
    }
    put_in_order(a);
    mem_free(ln);
}

/* ---- what would part them ---- */

#define PARTED 6 /* members that are looked at closer */

static const struct coming *at_dial(const struct forecast *f, int dial_min)
{
    for (size_t i = 0; i < f->count; i++)
        if (f->at[i].dial_min == dial_min)
            return &f->at[i];
    return NULL;
}

/* How much oftener the right one of the group is named when this let-off has been heard than unheard, as a share
 * of all that could be gained: for each thing that may be heard the member that makes it likeliest is
 * named. */
static double parted_at(const struct forecast *f, const double *p, size_t n, int dial_min)
{
    const struct coming *at[PARTED];
    double right = 0, unheard = 0;
    for (size_t i = 0; i < n; i++) {
        unheard = fmax(unheard, p[i]);
        at[i] = at_dial(&f[i], dial_min);
        if (!at[i])
            return 0;
    }
    for (int chime = 0; chime < 3; chime++)
        for (int count = 0; count < FORECAST_COUNTS; count++) {
            double most = 0;
            for (size_t i = 0; i < n; i++)
                most = fmax(most, p[i] * at[i]->chime[chime] * at[i]->count[count]);
            right += most;
        }
    return unheard < 1 ? (right - unheard) / (1 - unheard) : 0;
}

/* What the members will do next; those of other clocks than the first's are left out. */
static size_t foretell(const struct alike_group *g, const struct belief *b, const struct sheet *sheet,
                       struct forecast *f, double *p)
{
    const struct held *first = best_suited(b, g->cause[0]);
    double sum = 0;
    size_t n = 0;
    for (size_t i = 0; i < g->causes && n < PARTED; i++) {
        const struct held *h = best_suited(b, g->cause[i]);
        struct closer c;
        if (!h || h->kase != first->kase)
            continue;
        closer_init(&c, h, sheet, b->ear);
        forecast_init(&f[n], &c, 0, false);
        closer_release(&c);
        p[n] = b->cause[g->cause[i]].p;
        sum += p[n++];
    }
    for (size_t i = 0; i < n; i++)
        p[i] /= sum > 0 ? sum : 1;
    return n;
}

void alike_apart(struct alike_group *g, const struct belief *b, const struct sheet *sheet)
{
    g->hear_min = -1;
    g->parted = 0;
    if (g->causes < 2)
        return;
    struct forecast *f = mem_alloc(PARTED * sizeof *f);
    double p[PARTED];
    size_t n = foretell(g, b, sheet, f, p);
    for (size_t k = 0; n > 1 && k < f[0].count; k++) {
        double worth = parted_at(f, p, n, f[0].at[k].dial_min);
        if (worth > g->parted + 0.01) { /* of equals the next one */
            g->parted = worth;
            g->hear_min = f[0].at[k].dial_min;
        }
    }
    mem_free(f);
}

/* ---- in words ---- */

size_t alike_parts(const struct alike_group *g, const struct belief *b, const char **part, size_t most)
{
    size_t n = 0;
    for (size_t i = 0; i < g->causes && n < most; i++) {
        const struct belief_cause *c = &b->cause[g->cause[i]];
        const char *both[] = {c->fault ? c->part : NULL, c->second ? c->second->part : NULL};
        for (size_t k = 0; k < 2 && n < most; k++) {
            size_t at = 0;
            while (both[k] && at < n && strcmp(part[at], both[k]) != 0)
                at++;
            if (both[k] && at == n)
                part[n++] = both[k];
        }
    }
    return n;
}

#define NAMES_SAID 4

void alike_names(const struct alike_group *g, const struct belief *b, struct text *out)
{
    size_t n = g->causes <= NAMES_SAID ? g->causes : NAMES_SAID - 1;
    for (size_t i = 0; i < n; i++) {
        const struct belief_cause *c = &b->cause[g->cause[i]];
        text_add(out, i == 0 ? "" : i + 1 < g->causes ? ", " : " and ");
        reasons_say_name(c, out);
    }
    if (n < g->causes)
        text_addf(out, " and %zu others", g->causes - n);
}

#define PARTS_SAID 4
#define PARTS_LEAST 0.1 /* a let-off that names one rightly so much oftener is worth saying */

void alike_say(const struct alike_group *g, const struct belief *b, struct text *out)
{
    const char *part[PARTS_SAID];
    size_t n = alike_parts(g, b, part, PARTS_SAID);
    bool hear = g->hear_min >= 0 && g->parted >= PARTS_LEAST;
    char dial[8];
    if (hear) {
        text_dial(g->hear_min, dial);
        text_addf(out, "hear it at %s", dial);
    }
    for (size_t i = 0; i < n; i++)
        text_addf(out, "%sthe %s", i == 0 ? (hear ? ", or look at " : "look at ") : i + 1 < n ? ", " : " and ", part[i]);
}
