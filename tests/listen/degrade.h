/* degrade.h - what lies between a clock and a recording of it: the room, the noise, the telephone.
 *
 * Made by code so that an evaluation needs no stored sounds.  Each function changes a pcm in place;
 * chance comes from the generator passed in, so a seed gives the same recording again.
 * Detuned and stretched rods are made when the sound is rendered (struct score_style).
 *
 * The signal-to-noise ratio is that of powers, the signal's taken over its sounding parts: the
 * 50 ms blocks within 30 dB of the loudest one.  Silence between strikes does not lower it.
 */
#ifndef LETOFF_DEGRADE_H
#define LETOFF_DEGRADE_H

#include <stdbool.h>
#include "pcm.h"
#include "random.h"

enum degrade_noise { NOISE_NONE, NOISE_WHITE, NOISE_BABBLE };

/* One row of a table of conditions.  All zero changes nothing. */
struct degrade {
    const char *name;
    double room_s;          /* reverberation time (60 dB); 0: none */
    double room_level;      /* echo against the direct sound, 0 .. 1; 0 counts as 0.4 */
    double tick_every_s;    /* beats of the going train; 0: none */
    double tick_db;         /* peak of a tick against the loudest peak of the sound */
    double hum_db;          /* mains hum (50, 100, 150 Hz) against the signal, below 0; 0: none */
    bool phone;             /* 300-3400 Hz */
    enum degrade_noise noise;
    double snr_db;          /* in the phone's band if `phone` */
    bool gain_control;      /* a recorder that pulls quiet parts up and loud ones down */
    double clip;            /* overdriven: cut off at this part of the peak; 0: not */
    bool mulaw;             /* 8 bits, logarithmic, as on a digital telephone line */
};

/* All of a row, in the order sound travels: room, tick, hum, band, noise, gain, clipping, code. */
void degrade_apply(const struct degrade *d, struct pcm *p, struct random *r);

/* Mean square over the sounding parts; 0 for silence. */
double degrade_power(const struct pcm *p);

/* The telephone band (ITU-T G.711/G.712: 300 to 3400 Hz), two Butterworth filters of 4th order, 3 dB
 * down at the edges. */
void degrade_phone(struct pcm *p);
void degrade_room(struct pcm *p, double t60_s, double level, struct random *r);
void degrade_tick(struct pcm *p, double every_s, double db, struct random *r);
void degrade_hum(struct pcm *p, double db);
/* Noise of this kind at this ratio; `phone`: only what passes the telephone band. */
void degrade_noise(struct pcm *p, enum degrade_noise kind, double snr_db, bool phone,
                   struct random *r);
void degrade_gain_control(struct pcm *p);
void degrade_clip(struct pcm *p, double part_of_peak);
void degrade_mulaw(struct pcm *p);

#endif
