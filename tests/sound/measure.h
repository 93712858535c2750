/* measure.h - what a sound holds, measured apart from the code that made it: spectral lines by a direct
 * Fourier sum under a Hann window, levels, and the place where a sound begins. */
#ifndef LETOFF_MEASURE_H
#define LETOFF_MEASURE_H

#include "pcm.h"

/* Amplitude of a steady sine of this frequency in the given stretch (1 for a sine of 1). */
double measure_amplitude(const struct pcm *p, double from_s, double length_s, double hz);
/* The frequency between low and high with the largest amplitude, interpolated between the points of
 * the search (a quarter of a line width apart). */
double measure_peak_hz(const struct pcm *p, double from_s, double length_s, double low_hz,
                       double high_hz);
double measure_rms(const struct pcm *p, double from_s, double length_s);
/* The same of the difference of neighbouring samples: rises with the frequency. */
double measure_rms_rise(const struct pcm *p, double from_s, double length_s);
/* Time of the first sample at or after from_s that is larger than `level`; -1 if there is none. */
double measure_onset_s(const struct pcm *p, double from_s, double level);

#endif
