/* judgement_weights.h - what each thing seen of an onset counts for (judgement.c).
 *
 * A small network: the sights weighed straight, and UNITS sums of them bent by tanh and weighed again.  Fitted
 * (least cross-entropy, some 188,000 onsets, each recording counting alike, those with one blow or with much talk
 * or noise more) on sounds made by code, with seeds kept apart from the tests: the program's own voices and the
 * strangers of tests/listen, with faults, noise, talk, music, ticks and knocks.  Then fitted on from there, held near
 * to it, when rows of clear tones came among the sights: on the same kinds and on some 130 recordings of another making
 * (pairs of modes that beat, gong and pipes together, eight rods of uneven loudness, gain control, noise gates, codecs),
 * on one or two blows alone and on clips of old phones, the onsets as they are judged before and after.
 */
#ifndef LETOFF_JUDGEMENT_WEIGHTS_H
#define LETOFF_JUDGEMENT_WEIGHTS_H

#define SIGHTS 75
#define UNITS  12

extern const float judgement_straight[SIGHTS];
extern const float
    judgement_unit[UNITS][1 + SIGHTS]; /* what the unit counts for, then its sum's weights */

#endif
