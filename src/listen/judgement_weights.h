/* judgement_weights.h - what each thing seen of an onset counts for (judgement.c).
 *
 * A small network: the sights weighed straight, and UNITS sums of them bent by tanh and weighed again.  Fitted
 * (least cross-entropy, some 188,000 onsets, each recording counting alike, those with one blow or with much talk
 * or noise more) on sounds made by code, with seeds kept apart from the tests: the program's own voices and the
 * strangers of tests/listen, with faults, noise, talk, music, ticks and knocks.
 */
#ifndef LETOFF_JUDGEMENT_WEIGHTS_H
#define LETOFF_JUDGEMENT_WEIGHTS_H

#define SIGHTS 66
#define UNITS  12

extern const float judgement_straight[SIGHTS];
extern const float
    judgement_unit[UNITS][1 + SIGHTS]; /* what the unit counts for, then its sum's weights */

#endif
