/* midi.h - the blows of a run as a Standard MIDI File.
 *
 * One quarter note lasts one second and has 1000 ticks, so a tick is a millisecond and no tempo ever
 * changes.  Each sounder is a channel with the program of its voice; a pitch that is not in equal
 * temperament (A4 = 440 Hz) is the nearest note with a pitch bend (range the usual two semitones).
 * Velocity is strength times gain.  A double blow is two notes; works make no notes.
 *
 *     MThd 6 <format> <tracks> 1000        (The Complete MIDI 1.0 Detailed Specification, SMF 1.0)
 *     MTrk: tempo 1000000 us; program, bend, note on, note off ...; end of track
 *
 * Format 0 has one track; format 1 has a track with the tempo and one for each sounder.
 */
#ifndef LETOFF_SOUND_MIDI_H
#define LETOFF_SOUND_MIDI_H

#include <stdbool.h>
#include <stddef.h>
#include "sound/score.h"
#include "text.h"

struct err;

/* Append the file to `out`.  Places in time as score_places gives them (style NULL: as they are).
 * False with sentences, `out` untouched, on a bad table, event or format. */
bool midi_build(const struct event_list *events, const struct score_sounder *sounders, size_t n,
                const struct voice_set *voices, const struct score_style *style, int format,
                struct text *out, struct err *e);
/* The same, into a file that is replaced whole. */
bool midi_save(const struct event_list *events, const struct score_sounder *sounders, size_t n,
               const struct voice_set *voices, const struct score_style *style, int format,
               const char *path, struct err *e);

/* The note nearest to a pitch, 0..127, and how far the pitch lies above it, in cents (may be NULL). */
int midi_note_of(double hz, double *cents);
/* 440 * 2^((note - 69) / 12) */
double midi_hz_of(double note);

#endif
