/* spectro.h - the picture of a recording: loudness by time and pitch, and the blows found in it. */
#ifndef LETOFF_DRAW_SPECTRO_H
#define LETOFF_DRAW_SPECTRO_H

#include <stddef.h>
#include "draw/canvas.h"

/* One blow to be named under the picture. */
struct spectro_blow {
    double t_s;
    const char *name; /* "1", "hour" ... */
    bool suspect;     /* sounded wrong: wears the accent and a mark */
    double sure;      /* 0..1: unsure blows get a dashed line */
};
/* db[column * rows + row], row 0 = 0 Hz, values floor_db .. 0 (as listen's spectrogram). */
struct spectro {
    const float *db;
    int columns, rows;
    double column_s, row_hz, floor_db;
    const struct spectro_blow *blow;
    size_t blows;
};
void spectro_draw(struct canvas *c, double x, double y, double w, double h,
                  const struct spectro *s);
/* A bar of level, rms and peak in dB below full scale, with a clipping mark. */
void spectro_level(struct canvas *c, double x, double y, double w, double h, double rms_db,
                   double peak_db, bool clipped);

#endif
