#include "measure.h"

#include <math.h>

#define PI 3.14159265358979323846

static size_t frame_of(const struct pcm *p, double s)
{
    size_t i = s <= 0 ? 0 : (size_t)(s * p->rate_hz);
    return i < p->frames ? i : p->frames;
}

double measure_amplitude(const struct pcm *p, double from_s, double length_s, double hz)
{
    size_t from = frame_of(p, from_s), to = frame_of(p, from_s + length_s), n = to - from;
    double re = 0, im = 0, c = 1, s = 0, w = 2 * PI * hz / p->rate_hz;
    double turn_c = cos(w), turn_s = sin(w), v = n ? 2 * PI / (double)n : 0;
    double hc = 1, hs = 0, hann_c = cos(v), hann_s = sin(v);
    for (size_t i = from; i < to; i++) {
        double x = p->at[i] * (1 - hc), next = c * turn_c - s * turn_s;
        re += x * c;
        im += x * s;
        s = s * turn_c + c * turn_s;
        c = next;
        next = hc * hann_c - hs * hann_s;
        hs = hs * hann_c + hc * hann_s;
        hc = next;
    }
    return n ? 2 * hypot(re, im) / (double)n : 0;
}

double measure_peak_hz(const struct pcm *p, double from_s, double length_s, double low_hz,
                       double high_hz)
{
    double step = 0.25 / length_s, best = low_hz, most = -1;
    for (double hz = low_hz; hz <= high_hz; hz += step) {
        double a = measure_amplitude(p, from_s, length_s, hz);
        if (a > most) {
            most = a;
            best = hz;
        }
    }
    double l = log(measure_amplitude(p, from_s, length_s, best - step) + 1e-12), m = log(most + 1e-12);
    double r = log(measure_amplitude(p, from_s, length_s, best + step) + 1e-12);
    double bend = l - 2 * m + r;
    return bend < 0 ? best + step * 0.5 * (l - r) / bend : best;
}

double measure_rms(const struct pcm *p, double from_s, double length_s)
{
    size_t from = frame_of(p, from_s), to = frame_of(p, from_s + length_s);
    double sum = 0;
    for (size_t i = from; i < to; i++)
        sum += (double)p->at[i] * p->at[i];
    return to > from ? sqrt(sum / (double)(to - from)) : 0;
}

double measure_rms_rise(const struct pcm *p, double from_s, double length_s)
{
    size_t from = frame_of(p, from_s), to = frame_of(p, from_s + length_s);
    double sum = 0;
    for (size_t i = from + 1; i < to; i++)
        sum += pow((double)p->at[i] - p->at[i - 1], 2);
    return to > from + 1 ? sqrt(sum / (double)(to - from - 1)) : 0;
}

double measure_onset_s(const struct pcm *p, double from_s, double level)
{
    for (size_t i = frame_of(p, from_s); i < p->frames; i++)
        if (fabs(p->at[i]) > level)
            return (double)i / p->rate_hz;
    return -1;
}
