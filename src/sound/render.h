/* render.h - one blow of a voice, as sound.
 *
 * Each partial is a decaying sine (two, a little apart, where the section is not quite round: that
 * is the slow beat of rods and bells).  The hammer decides how strongly each is woken: a contact of
 * length T has a spectrum that falls off above about 1/(2T), here taken as 1 / (1 + (2 f T)^2), the
 * -12 dB an octave of a half-sine blow without its zeros; T shortens with the strength as
 * strength^-0.2 (Hertz' contact: A. Chaigne, J. Kergomard, Acoustics of Musical Instruments,
 * ch. 1), so a soft blow is also a dull one.
 *
 * Rods, gongs and combs are heard through a board, which radiates little of the lowest partials.
 *
 * What the quality bits of event.h do to the sound:
 *     weak     the strength is at most 0.35
 *     double   a second, weaker blow 60 to 110 ms later
 *     buzz     where the swing exceeds a gap something is touched: rattle, and a shorter ring
 *     thud     the hammer stays on: a knock with hardly any ring
 *     tinny    a sixth of the contact: the high partials stand out
 *     loud     half as much again, and a shorter contact
 */
#ifndef LETOFF_SOUND_RENDER_H
#define LETOFF_SOUND_RENDER_H

#include <stdint.h>
#include "pcm.h"
#include "sound/voice.h"

/* Zero means "as made" for all but hz and strength. */
struct render_blow {
    double hz;        /* the pitch a listener would name; not used by noises */
    float strength;   /* 0 .. 1, 1 as made */
    unsigned quality; /* enum event_quality bits */
    double stretch;   /* added to the voice's stretch (rods off their theory) */
    double decay;     /* all ring times times this; 0 counts as 1 */
    double hold_s;    /* how long a pipe or a lasting noise lasts; 0: as the voice says */
    uint64_t seed;    /* strike noise, time of the second blow */
};

#define RENDER_LONGEST_S 20.0

/* Render into `out` (emptied; its rate_hz must be set, 4000 .. 192000).  The blow begins at frame 0
 * and ends where the ring is 70 dB down or after RENDER_LONGEST_S.  A blow as made peaks near half
 * the voice's level, so that several may sound together.  Strength 0 gives no frames. */
void render_blow(const struct voice *voice, const struct render_blow *blow, struct pcm *out);

/* The frequency (Hz) of partial i (from 0) when the voice sounds at `hz`, as rendered. */
double render_partial_hz(const struct voice *voice, const struct render_blow *blow, size_t i);

#endif
