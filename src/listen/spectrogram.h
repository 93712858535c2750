/* spectrogram.h - the picture of a sound: how loud each frequency is at each moment, in dB.
 *
 * db[column * rows + row], row 0 = 0 Hz, linear in frequency up to high_hz; values are dB against
 * the loudest cell, between floor_db and 0.
 */
#ifndef LETOFF_SPECTROGRAM_H
#define LETOFF_SPECTROGRAM_H

#include <stddef.h>
#include "pcm.h"

struct spectrogram {
    float *db;
    size_t columns, rows;
    double column_s;   /* time from one column to the next */
    double row_hz;
    float floor_db;
};

/* columns 1..4096 (never more than one a window of 64 ms), rows 16..512.  Starts
 * from a zeroed struct or one used before. */
void spectrogram_of(struct spectrogram *s, const struct pcm *p, size_t columns, size_t rows,
                    double high_hz, float floor_db);
void spectrogram_release(struct spectrogram *s);

#endif
