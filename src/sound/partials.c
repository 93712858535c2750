#include "sound/partials.h"

#include <assert.h>
#include <math.h>

#define PI 3.14159265358979323846
#define MODES 40

/* cos x + sign / cosh x has the same roots as the equations of the header and does not overflow.
 * The right start lies within 0.31 of the root and Newton's steps then halve the digits missing. */
static double bar_root(double start, double sign)
{
    double x = start;
    for (int i = 0; i < 60; i++) {
        double f = cos(x) + sign / cosh(x);
        double slope = -sin(x) - sign * tanh(x) / cosh(x);
        double step = f / slope;
        x -= step;
        if (fabs(step) < 1e-15 * x)
            break;
    }
    return x;
}

double partials_clamped_root(int n)
{
    assert(n >= 1 && n <= MODES);
    return bar_root((n - 0.5) * PI, 1);
}

double partials_free_root(int n)
{
    assert(n >= 1 && n <= MODES);
    return bar_root((n + 0.5) * PI, -1);
}

double partials_clamped_ratio(int n)
{
    double r = partials_clamped_root(n) / partials_clamped_root(1);
    return r * r;
}

double partials_free_ratio(int n)
{
    double r = partials_free_root(n) / partials_free_root(1);
    return r * r;
}

/* cosh y - cos y - s (sinh y - sin y) with s = (cosh b + cos b) / (sinh b + sin b).  s is 1 to many
 * digits, so the difference of the two exponentials is written out: e^-y + (1 - s) sinh y. */
double partials_clamped_shape(int n, double at)
{
    double b = partials_clamped_root(n), y = b * at;
    double below = sinh(b) + sin(b);
    double rest = (sin(b) - cos(b) - exp(-b)) / below; /* 1 - s */
    return exp(-y) + rest * sinh(y) - cos(y) + (1 - rest) * sin(y);
}

double rod_gyration_round(double diameter_m)
{
    return diameter_m / 4;
}

double rod_gyration_flat(double thickness_m)
{
    return thickness_m / sqrt(12);
}

/* f L^2, the same for rods of one stock. */
static double rod_product(const struct rod *rod, int mode)
{
    double x = partials_clamped_root(mode);
    return x * x / (2 * PI) * rod->gyration_m * sqrt(rod->young_pa / rod->density_kg_m3);
}

double rod_frequency_hz(const struct rod *rod, int mode)
{
    return rod_product(rod, mode) / (rod->length_m * rod->length_m);
}

double rod_length_for(const struct rod *rod, int mode, double hz)
{
    return sqrt(rod_product(rod, mode) / hz);
}
