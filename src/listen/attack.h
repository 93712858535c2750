/* attack.h - one blow under the glass: its exact time, its spectrum, and how it rang.
 *
 * An onset (onset.h) is roughly placed and may be anything.  Here the sound before it and after it
 * is looked at closely:
 *  - time: short frames (16 ms every 2 ms) over just the bands that grew; where they have grown half
 *    the way is the blow, to a few milliseconds;
 *  - spectrum: what is new after the blow, each line against the background around it, log-compressed:
 *    the blow's own partials and nothing else.  A tail that turned and shrank steadily before the blow is
 *    carried on past it and taken off with its phase, so that a sounder struck again while it rings
 *    shows its own spectrum again; of lines that did not, the power before is taken off;
 *  - ring: how fast those partials fall, whether they are steady tones, and how much noise goes
 *    with them (a rattle lasts as long as the ring; the knock of the hammer does not).
 */
#ifndef LETOFF_ATTACK_H
#define LETOFF_ATTACK_H

#include <stdbool.h>
#include <stddef.h>

#define ATTACK_RATE_HZ 8000 /* of sound halved by halve.h */
#define ATTACK_LINES 448        /* of the spectrum, 7.8 Hz apart, from ATTACK_LOW_HZ on */
#define ATTACK_LINE_HZ 7.8125
#define ATTACK_LOW_HZ 125.0
#define ATTACK_BEFORE_S 0.30    /* sound wanted before the onset and after it */
#define ATTACK_AFTER_S 0.75

struct attack {
    double t_s;
    float novelty;              /* of its onset */
    float rise;                 /* growth in the short frames, ln, mean over the bands that grew */
    float sharp;                /* share of that growth that comes within 16 ms, 0..1 */
    float steady;               /* how well the new partials go on as they began, 0..1 */
    float level_db;             /* of the new sound, dB against full scale */
    float snr_db;               /* new partials above the background about them, mean by power */
    float tonality;             /* share of new sound that lies in partials, 0..1 */
    float share;                /* of what sounds in those partials, that is new, 0..1 */
    float keep;                 /* partials' power 100 ms later against at the blow, 0..1 and more */
    float ring_s;               /* time to fall by 20 dB, 0 unknown */
    float noise_share;          /* about the partials, while they ring, against the partials */
    float second, second_stands, second_s, second_jump; /* a second touch; by bounce.h, 0 until then */
    float bright;               /* share of partial power above 1.2 kHz */
    double pitch_hz;            /* centre of the spectrum, to order sounders by */
    float clear_s;              /* undisturbed sound after the blow, until the next onset */
    float spectrum[ATTACK_LINES]; /* >= 0; unit length unless all zero */
};

struct attack_lab;
struct attack_lab *attack_lab_new(void);
void attack_lab_free(struct attack_lab *lab);

/* Look at the onset at `onset_s` within `samples`, whose first sample is at `start_s`.  The sound
 * should reach from ATTACK_BEFORE_S before to ATTACK_AFTER_S after; what lies outside counts as
 * silence.  next_s, later_s: times of the next two onsets, or huge numbers.  False when nothing is there. */
bool attack_look(struct attack_lab *lab, const float *samples, size_t frames, double start_s,
                 double onset_s, float novelty, double next_s, double later_s, struct attack *a);

/* Likeness of two spectra, 0..1 (cosine). */
float attack_likeness(const float *a, const float *b);

#endif
