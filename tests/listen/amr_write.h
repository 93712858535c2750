/* amr_write.h - speech-codec files as old phones record them, for tests.
 *
 * Writes the plain .amr container (a magic line, then frames of 20 ms); 3gp is made of it by
 * `ffmpeg -c copy`.  Any rate goes in: narrow band is 8 kHz, wide band 16 kHz.
 */
#ifndef LETOFF_AMR_WRITE_H
#define LETOFF_AMR_WRITE_H

#include <stdbool.h>
#include "pcm.h"

bool amr_write_narrow(const struct pcm *p, const char *path); /* AMR-NB, 12.2 kbit/s */
bool amr_write_wide(const struct pcm *p, const char *path);   /* AMR-WB, 23.85 kbit/s */

#endif
