/* likeness.h - which sounder is higher than which, without knowing what a sounder is.
 *
 * The partials of a rod, a tube or a bell stand in ratios of their own, and the lowest may lie
 * below what a telephone passes, so no single line is "the pitch".  But sounders of one clock are
 * of one kind: on a logarithmic frequency axis their spectra are the same picture, shifted.  The
 * shifts that lay all pictures over one another best are the relative pitches:
 *
 *     x maximises  sum over pairs i < j of  likeness(picture i shifted by x[j] - x[i], picture j)
 *
 * found by moving one sounder at a time, from several starts.  Where it stops: sounders of two kinds
 * (a gong beside bells) have no common picture, and their order is a guess; a picture of one line
 * only is its line.
 */
#ifndef LETOFF_LISTEN_LIKENESS_H
#define LETOFF_LISTEN_LIKENESS_H

#include <stddef.h>
#include "listen/attack.h"

#define PITCH_MOST 16

/* spectra[i]: as attack.h makes them; count up to PITCH_MOST.  pitch_hz[i] is filled with numbers in
 * the ratios found, about where the spectra lie. */
void pitch_order(const float *const *spectra, size_t count, double *pitch_hz);

#endif
