#include "listen/rhythm.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "mem.h"

#define SLOW_RATIO 1.35       /* against the usual interval */
#define FAST_RATIO 0.70
#define LEAST_INTERVALS 3     /* for anything beyond speed */
#define LEAST_FOR_PERIODS 6
#define DRAG_LEAST 0.006      /* growth a blow that somebody would notice over a dozen blows */
#define USUAL_SPREAD 0.025    /* of a sound train's intervals; a fly is steady */
#define UNEVEN_SPREAD 0.07
#define GRID_MOST 96
#define NONE_PRIOR 0.7        /* of there being no period, before looking */
#define FIT_SHARE 0.05        /* a period fits when it is at least this likely against the best */
#define TERMS_MOST 4

/* One least-squares problem: rows of terms, solved by normal equations. */
struct fitting {
    size_t terms;
    double ata[TERMS_MOST][TERMS_MOST + 1];
    double yy;
    size_t rows;
};

static void fitting_add(struct fitting *f, const double *x, double y)
{
    for (size_t i = 0; i < f->terms; i++) {
        for (size_t j = 0; j < f->terms; j++)
            f->ata[i][j] += x[i] * x[j];
        f->ata[i][f->terms] += x[i] * y;
    }
    f->yy += y * y;
    f->rows++;
}

static void swap_rows(double *a, double *b, size_t n)
{
    for (size_t i = 0; i < n; i++) {
        double t = a[i];
        a[i] = b[i];
        b[i] = t;
    }
}

/* Coefficients into `b`, the inverse's diagonal into `var` (NULL to leave out); the sum of squares left, or
 * -1 when the terms cannot be told apart. */
static double fitting_solve(const struct fitting *f, double *b, double *var)
{
    size_t n = f->terms;
    double m[TERMS_MOST][2 * TERMS_MOST + 1] = {{0}}, left = f->yy;
    for (size_t i = 0; i < n; i++) {
        memcpy(m[i], f->ata[i], (n + 1) * sizeof(double));
        m[i][n + 1 + i] = 1;
    }
    for (size_t i = 0; i < n; i++) {
        size_t pivot = i;
        for (size_t r = i + 1; r < n; r++)
            if (fabs(m[r][i]) > fabs(m[pivot][i]))
                pivot = r;
        swap_rows(m[i], m[pivot], 2 * n + 1);
        if (fabs(m[i][i]) < 1e-9)
            return -1;
        for (size_t r = 0; r < n; r++) {
            double factor = m[r][i] / m[i][i];
            for (size_t c = i; r != i && c < 2 * n + 1; c++)
                m[r][c] -= factor * m[i][c];
        }
    }
    for (size_t i = 0; i < n; i++) {
        b[i] = m[i][n] / m[i][i];
        left -= b[i] * f->ata[i][n];
        if (var)
            var[i] = m[i][n + 1 + i] / m[i][i];
    }
    return left > 0 ? left : 0;
}

/* ---- intervals ---- */

struct intervals {
    double *ln;    /* of the interval */
    double *index; /* of the blow that ends it, so that left-out ones keep their place */
    size_t count;
};

static void intervals_of(struct intervals *v, const double *blow_s, const bool *skip, size_t count)
{
    v->ln = mem_alloc((count + 1) * sizeof *v->ln);
    v->index = mem_alloc((count + 1) * sizeof *v->index);
    v->count = 0;
    for (size_t i = 1; i < count; i++) {
        double d = blow_s[i] - blow_s[i - 1];
        if ((skip && skip[i]) || !(d > 0.01))
            continue;
        v->ln[v->count] = log(d);
        v->index[v->count++] = (double)i;
    }
}

static void intervals_release(struct intervals *v)
{
    mem_free(v->ln);
    mem_free(v->index);
}

static int by_value(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

static double median_of(const double *x, size_t count)
{
    double *sorted = mem_alloc((count + 1) * sizeof *sorted), middle = 0;
    memcpy(sorted, x, count * sizeof *sorted);
    qsort(sorted, count, sizeof *sorted, by_value);
    if (count)
        middle = count % 2 ? sorted[count / 2] : 0.5 * (sorted[count / 2 - 1] + sorted[count / 2]);
    mem_free(sorted);
    return middle;
}

/* Level, slope and, with a period, its two waves; the sum of squares left. */
static double fit_period(const struct intervals *v, double period, double *b, double *var)
{
    struct fitting f = {.terms = period > 0 ? 4 : 2};
    if (period == 2) /* the sine of every second interval is nothing */
        f.terms = 3;
    double middle = 0.5 * (v->index[0] + v->index[v->count - 1]);
    for (size_t i = 0; i < v->count; i++) {
        double turn = period > 0 ? 2 * M_PI * v->index[i] / period : 0;
        fitting_add(&f, (const double[]){1, v->index[i] - middle, cos(turn), sin(turn)}, v->ln[i]);
    }
    return fitting_solve(&f, b, var);
}

static void measure_trend(struct rhythm *r, const struct intervals *v, double jitter_s)
{
    double b[TERMS_MOST] = {0}, var[TERMS_MOST] = {0};
    double left = fit_period(v, 0, b, var);
    double known = 1.41 * jitter_s / r->mean_s, free_rows = (double)v->count - 2;
    double scatter = left > 0 && free_rows > 0 ? sqrt(left / free_rows) : 0;
    double floor = sqrt(known * known + USUAL_SPREAD * USUAL_SPREAD / 4);
    r->spread = scatter;
    r->drag = exp(b[1]) - 1;
    r->drag_sigma = sqrt(var[1]) * (scatter > floor ? scatter : floor);
    r->dragging = r->drag > DRAG_LEAST && r->drag > 3 * r->drag_sigma;
    r->uneven = v->count >= 4 && scatter > UNEVEN_SPREAD && scatter > 2.5 * known;
}

/* ---- periods ---- */

/* All that can be told apart in a run of n intervals: frequencies in steps of a third of 1/n. */
static size_t usual_periods(size_t n, double *periods)
{
    size_t count = 0;
    double longest = (double)n / 1.5;
    double step = fmax(1.0 / (3.0 * (double)n), 0.5 / GRID_MOST);
    for (double frequency = 0.5; frequency > 1 / longest && count < GRID_MOST; frequency -= step)
        periods[count++] = 1 / frequency;
    return count;
}

/* A blow's error makes one interval longer and the next shorter, so it looks like a period of 2; what
 * such errors alone would leave is taken off first by demanding more than they explain. */
static double ln_evidence(double left, double left_without, double known, size_t rows, double terms)
{
    double n = (double)rows, error = n * known * known;
    double gain = n / 2 * log((left_without + error) / (left + error));
    return gain - terms / 2 * log(n); /* Schwarz's criterion */
}

static void insert_period(struct rhythm *r, struct rhythm_period p)
{
    size_t i = r->period_count;
    if (i == RHYTHM_PERIODS_MOST) {
        if (p.p <= r->period[i - 1].p)
            return;
        i--;
    } else {
        r->period_count++;
    }
    for (; i > 0 && r->period[i - 1].p < p.p; i--)
        r->period[i] = r->period[i - 1];
    r->period[i] = p;
}

static void find_periods(struct rhythm *r, const struct intervals *v, double jitter_s, const double *periods,
                         size_t period_count)
{
    double grid[GRID_MOST], ln[GRID_MOST], swing[GRID_MOST], b[TERMS_MOST], most = 0, sum;
    double without = fit_period(v, 0, b, NULL), known = 1.41 * jitter_s / r->mean_s + 0.005;
    if (!periods) {
        period_count = usual_periods(v->count, grid);
        periods = grid;
    }
    period_count = period_count < GRID_MOST ? period_count : GRID_MOST;
    for (size_t i = 0; i < period_count; i++) {
        ln[i] = -1e9;
        swing[i] = 0;
        if (!(periods[i] >= 1.2 && periods[i] <= (double)v->count))
            continue;
        double left = fit_period(v, periods[i], b, NULL);
        if (left < 0)
            continue;
        swing[i] = periods[i] == 2 ? fabs(b[2]) : hypot(b[2], b[3]);
        ln[i] = ln_evidence(left, without, known, v->count, periods[i] == 2 ? 1 : 2);
        most = ln[i] > most ? ln[i] : most;
    }
    sum = exp(-most) * NONE_PRIOR;
    for (size_t i = 0; i < period_count; i++)
        sum += exp(ln[i] - most) * (1 - NONE_PRIOR) / (double)period_count;
    r->p_none = exp(-most) * NONE_PRIOR / sum;
    for (size_t i = 0; i < period_count; i++) {
        double p = exp(ln[i] - most) * (1 - NONE_PRIOR) / (double)period_count / sum;
        if (r->p_none < 0.5 && ln[i] > most + log(FIT_SHARE))
            insert_period(r, (struct rhythm_period){.blows = periods[i], .swing = swing[i], .p = p});
    }
}

void rhythm_of(struct rhythm *r, const double *blow_s, const bool *skip, size_t count, double usual_s, double jitter_s,
               const double *periods, size_t period_count)
{
    struct intervals v;
    *r = (struct rhythm){.p_none = 1};
    intervals_of(&v, blow_s, skip, count);
    r->intervals = v.count;
    if (v.count > 0) {
        r->mean_s = exp(median_of(v.ln, v.count));
        r->slow = usual_s > 0 && r->mean_s > SLOW_RATIO * usual_s;
        r->fast = usual_s > 0 && r->mean_s < FAST_RATIO * usual_s;
    }
    if (v.count >= LEAST_INTERVALS)
        measure_trend(r, &v, jitter_s);
    if (v.count >= LEAST_FOR_PERIODS)
        find_periods(r, &v, jitter_s, periods, period_count);
    intervals_release(&v);
}
