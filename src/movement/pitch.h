/* pitch.h - a note as printed ("F#4", "Bb3") and its frequency.
 *
 * Equal temperament at A4 = 440 Hz: f = 440 * 2^((n - 69) / 12) with n the MIDI number, C4 = 60.
 */
#ifndef LETOFF_MOVEMENT_PITCH_H
#define LETOFF_MOVEMENT_PITCH_H

#include <stdbool.h>

/* MIDI number of a printed note, 12..119 (C0..B8); -1 if `printed` is no note. */
int pitch_midi(const char *printed);
/* Frequency in Hz; false if `printed` is no note (*hz is left alone). */
bool pitch_hz(const char *printed, double *hz);

#endif
