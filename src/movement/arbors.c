#include "movement/arbors.h"

#include <math.h>

#define PI 3.14159265358979323846
#define BEATS_LEAST 6
#define F_NEEDED 6
#define TURNS_LEAST 0.9

/* Frequency as seen with one sample a blow. */
static double seen(double turns)
{
    double f = fabs(turns - floor(turns + 0.5));
    return f < 1e-6 ? 0 : f;
}

/* Solve the 3x3 normal equations by elimination; false if they are singular. */
static bool solve3(double a[3][4], double x[3])
{
    for (int i = 0; i < 3; i++) {
        int best = i;
        for (int r = i + 1; r < 3; r++)
            best = fabs(a[r][i]) > fabs(a[best][i]) ? r : best;
        for (int c = 0; c < 4; c++) {
            double swap = a[i][c];
            a[i][c] = a[best][c];
            a[best][c] = swap;
        }
        if (fabs(a[i][i]) < 1e-9)
            return false;
        for (int r = 0; r < 3; r++)
            for (int c = 3; r != i && c >= i; c--)
                a[r][c] -= a[r][i] / a[i][i] * a[i][c];
    }
    for (int i = 0; i < 3; i++)
        x[i] = a[i][3] / a[i][i];
    return true;
}

static void basis(double f, double blow, double b[3])
{
    b[0] = 1;
    b[1] = cos(2 * PI * f * blow);
    b[2] = sin(2 * PI * f * blow);
}

static bool fit_wave(double f, const struct beat *beat, size_t n, double x[3])
{
    double a[3][4] = {{0}}, b[3];
    for (size_t i = 0; i < n; i++) {
        basis(f, beat[i].blow, b);
        for (int r = 0; r < 3; r++) {
            for (int c = 0; c < 3; c++)
                a[r][c] += b[r] * b[c];
            a[r][3] += b[r] * beat[i].interval_s;
        }
    }
    for (int r = 0; r < 3; r++)
        a[r][r] += 1e-6 * (double)n; /* at half a cycle a blow the sine is nought throughout */
    return solve3(a, x);
}

static double mean_of(const struct beat *beat, size_t n)
{
    double sum = 0;
    for (size_t i = 0; i < n; i++)
        sum += beat[i].interval_s;
    return sum / (double)n;
}

static void fit_one(struct arbor_fit *fit, const struct beat *beat, size_t n, double needed_f)
{
    double x[3], b[3], mean = mean_of(beat, n), all = 0, left = 0;
    if (fit->seen_cycles * (double)n < TURNS_LEAST)
        return; /* not once round yet: a slow arbor looks like any drift */
    if (fit->unheard || !fit_wave(fit->seen_cycles, beat, n, x))
        return;
    for (size_t i = 0; i < n; i++) {
        basis(fit->seen_cycles, beat[i].blow, b);
        double e = beat[i].interval_s - (x[0] * b[0] + x[1] * b[1] + x[2] * b[2]);
        all += (beat[i].interval_s - mean) * (beat[i].interval_s - mean);
        left += e * e;
    }
    if (all <= 0 || mean <= 0)
        return;
    fit->explained = 1 - left / all;
    fit->swing = sqrt(x[1] * x[1] + x[2] * x[2]) / mean;
    double f = (all - left) / 2 / (left / (double)(n - 3) + 1e-15 * all);
    fit->fits = f >= needed_f && fit->swing > 0.005;
}

/* Arbors at the same frequency are alike for ever; near ones until enough blows are heard. */
static void find_alike(struct arbor_fit *fit, size_t n, size_t beats)
{
    for (size_t i = 0; i < n; i++) {
        fit[i].alike = fit[i].arbor;
        double nearest = 9;
        for (size_t k = 0; k < n; k++) {
            double d = fabs(fit[i].seen_cycles - fit[k].seen_cycles);
            if (k == i || fit[i].unheard || fit[k].unheard)
                continue;
            if (k < i && d * (double)beats < 1 && fit[i].alike == fit[i].arbor)
                fit[i].alike = fit[k].arbor;
            if (d > 1e-6 && d < nearest)
                nearest = d;
        }
        fit[i].blows_wanted = nearest < 9 ? ceil(1 / nearest) : 0;
        if (!fit[i].unheard && fit[i].seen_cycles * (double)beats < TURNS_LEAST)
            fit[i].blows_wanted = ceil(1 / fit[i].seen_cycles);
    }
}

/* Of those that fit, keep the best explained and what cannot be parted from it. */
static void keep_the_best(struct arbor_fit *fit, size_t n, size_t beats)
{
    size_t best = n;
    for (size_t i = 0; i < n; i++)
        if (fit[i].fits && (best == n || fit[i].explained > fit[best].explained))
            best = i;
    for (size_t i = 0; best < n && i < n; i++) {
        double d = fabs(fit[i].seen_cycles - fit[best].seen_cycles);
        fit[i].fits = fit[i].fits && (d * (double)beats < 1 ||
                                      fit[i].explained > 0.8 * fit[best].explained);
    }
}

size_t arbors_fit(const struct train *t, const struct beat *beat, size_t beats, double needed_f,
                  struct arbor_fit *fit)
{
    size_t n = (size_t)t->arbors;
    for (size_t i = 0; i < n; i++) {
        double turns = train_turns_per_blow(t, (int)i);
        fit[i] = (struct arbor_fit){.arbor = (int)i, .alike = (int)i};
        fit[i].period_blows = turns > 0 ? 1 / turns : 0;
        fit[i].seen_cycles = turns > 0 ? seen(turns) : 0;
        fit[i].unheard = fit[i].seen_cycles <= 0;
        if (beats >= BEATS_LEAST)
            fit_one(&fit[i], beat, beats, needed_f > 0 ? needed_f : F_NEEDED);
    }
    find_alike(fit, n, beats);
    keep_the_best(fit, n, beats);
    return n;
}
