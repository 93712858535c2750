/* ear.h - what a caller says of a let-off, given what it really came to.
 *
 * An untrained ear miscounts (more so at high counts), rounds times, misses a soft double blow,
 * calls a tune "wrong" without knowing how.  ear_row gives the probability of one heard row when
 * a given sounding was made; only ratios between soundings matter, so a row that says nothing has
 * probability 1.  The numbers are judgement, kept in one table (struct ear_model), and are what the
 * differing world of the evaluation varies.
 *
 * Example: five blows were made.  "5" has probability about 0.96, "4" 0.015, "runs on" 0.003.
 */
#ifndef LETOFF_DIAGNOSE_EAR_H
#define LETOFF_DIAGNOSE_EAR_H

#include <stdbool.h>
#include <stddef.h>
#include "diagnose/sheet.h"
#include "diagnose/sounding.h"

struct ear_model {
    double miscount, miscount_each; /* chance of a wrong count: this much, and so much per blow */
    double asleep;        /* a strike that came was told as silence */
    double dreamt;        /* silence was told as a strike */
    double slip;          /* any flat contradiction: a slip of the tongue */
    double word_hit;      /* a quality that is there is told */
    double word_false;    /* a quality that is not there is told */
    double unnoticed;     /* a quality that is there goes untold */
    double normal_anyway; /* "normal" is said although a quality is off */
    double tune_missed;   /* a tune with wrong notes but the right length is called right */
    double note_slip;     /* nats that each note left out, added or written wrong costs */
    double pace_spread;   /* log of how far clocks of one kind differ in pace, and are timed wrongly */
};
extern const struct ear_model ear_usual;
/* A recording that was listened to by the program: it neither dreams nor sleeps, counts nearly
 * always right, and calls a quality that is not there about as often as people do. */
extern const struct ear_model ear_recording;

/* One let-off as the caller may speak of it. */
struct ear_at {
    const struct ear_model *model;
    const struct words *words;
    const struct clock *clock;
    const struct sounding_pool *pool;
    const struct sounding *sound; /* what it came to */
    const struct sounding *due;   /* what a sound clock in step does at this dial time */
    int lobe;       /* lobe that let off */
    int dial_min;   /* dial time for which it was due (0..1439) */
    int shown_min;  /* what the hands show at the nominal moment of the lobe */
};

/* Probability of the row (0..1), apart from `often` and rules, which concern many let-offs.
 * `stopped` rows are the business of ear_stopped. */
double ear_row(const struct ear_at *a, const struct heard *h);
/* False if the row tells of nothing but the pace (slow, uneven ...) of more blows than are due here: a
 * rule so told does not speak of this let-off.  `sound` may be NULL. */
bool ear_means(const struct ear_at *a, const struct heard *h);
/* What ear_row comes to, about, at a let-off that is just as the row tells it. */
double ear_best(const struct ear_at *a, const struct heard *h);
/* How far the let-off fits a row that tells of something standing still, 0..1. */
double ear_stopped(const struct ear_at *a, const struct heard *h);
/* The same for a let-off of which nothing fits: how likely any row is when nothing is known of
 * the mechanism.  Reasons measure by it how far a row speaks against all; the cause "unknown" has more
 * thought to it (unknown.h). */
double ear_blind(const struct heard *h, const struct words *words);
/* The parts of it: what is told of the count alone when so many blows were made and due ... */
double ear_strike(const struct ear_model *m, const struct heard *h, int made, int due);
/* ... of the notes, phrases and quarter of a tune; of hammers, order and intervals ... */
double ear_tune(const struct ear_at *a, const struct heard *h);
double ear_blows(const struct ear_at *a, const struct heard *h);
/* ... and that a quality is told that is there to this degree. */
double ear_word(const struct ear_model *m, const char *word, double degree);
bool ear_judges(const struct words *words, int how_ordinal); /* it is a quality of one let-off */
/* A row says how blows or notes sounded (slow, dull): something was heard there, counted or not. */
bool ear_tells_sound(const struct heard *h, const struct words *words);
/* Chance that `heard` blows are counted when `made` were made (both may be HEARD_ENDLESS). */
double ear_count(const struct ear_model *m, int made, int heard);
/* Chance that this dial minute is told when it happened at `really`; due: the minute it was due. */
double ear_minute(int really, int told, int due, bool about);
/* The row names its let-off because that was asked for ("lead the hands on to nine: how many there?"): the answer is a
 * count of what came of it and says nothing of the minute at which it came. */
bool ear_answers(const struct heard *h, const struct words *words, int due_min);
/* The time nearest to `to` at which the hands show this minute of an hour. */
int ear_nearest(int minute, int to);
/* How far a sounding has the quality named by a `how` word, 0..1; -1 if one let-off cannot tell. */
double ear_quality(const struct ear_at *a, int how_ordinal);

#endif
