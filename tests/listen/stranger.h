/* stranger.h - recordings of clocks as others would make them: the test of what the listener takes for granted.
 *
 * The sounds of practice.h come from the program's own voices, and a listener tuned on them may have learnt
 * their habits.  Nothing here is taken from there: sounders are sums of modes with the ratios of free bars, clamped
 * bars, tubes, bells, coiled gongs, pipes or a plain sine, each mode with its own decay and beating; hammers
 * click, rooms are noise that dies away, talk is one near voice, recorders pump, clip, drop and drift.
 * Ratios: a free bar 1 : 2.756 : 5.404 : 8.933, a clamped one 1 : 6.267 : 17.55, a tube (2k+1)^2 with its
 * strike note between 4th, 5th and 6th mode, a bell 0.5 : 1 : 1.2 : 1.5 : 2 (N. H. Fletcher, T. D. Rossing, The
 * Physics of Musical Instruments, 2nd ed. 1998, chapters 2, 19 and 21).
 */
#ifndef LETOFF_STRANGER_H
#define LETOFF_STRANGER_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include "pcm.h"
#include "random.h"

enum stranger_body {
    BODY_SINE,
    BODY_HARMONIC,
    BODY_FREE_BAR,
    BODY_CLAMPED_BAR,
    BODY_TUBE,
    BODY_BELL,
    BODY_GONG,
    BODY_BODIES
};
enum stranger_tune {
    TUNE_HOUR,
    TUNE_QUARTER,
    TUNE_QUARTERS_AND_HOUR,
    TUNE_TWO_LETOFFS,
    TUNE_TING_TANG,
    TUNE_TUNES
};

/* What lies between the clock and the file; zero = nothing. */
struct stranger_way {
    const char *name;
    int rate_hz;     /* 0 = 44100 */
    double noise_db; /* pink noise so far below the loudest 50 ms; 0 none */
    double talk_db;  /* one near voice, likewise; 0 none */
    double tick_db;  /* of a going train, likewise */
    double thump_db; /* handling: low knocks now and then, likewise */
    double steps_db; /* of somebody walking about, likewise */
    double room_s;   /* reverberation, 60 dB */
    double handled_db; /* the telephone is taken up before the first blow and put down after the last, likewise */
    double said_db;    /* a word or two right before the first blow and after the last, likewise */
    double door_db;    /* one door falls shut while it strikes, likewise */
    double hum_db;
    double offset;     /* constant added */
    double clip;       /* share of the peak that is left */
    double lead_s;     /* silence before, and half of it after */
    double drop_db;    /* the level falls by so much in the middle */
    double level_db;   /* of the whole file */
    bool pumping;      /* gain control with a short memory */
    bool dead_channel; /* stereo, one side silent */
    bool against;      /* stereo, one side upside down and a little weaker */
    bool short_decay, long_decay;
    bool dull;        /* every hammer rests on its sounder: no blow rings */
    bool no_clock;    /* only what would surround it; loudnesses are still against the clock left out */
    bool beating;     /* every mode is a pair that beats right down, up to six times a second */
    bool other_clock; /* a second clock of another make strikes its hour meanwhile */
    bool cut;         /* recording began when a third of the blows had fallen, in the ring of one */
    bool stopped;     /* recording ended when two thirds of them had, in the ring of one */
    bool lone;        /* one blow alone, as at half past or at one */
    bool chord;       /* the hour is struck on two rods at once */
    bool uneven;      /* some hammers fall much more softly than others, up to 20 dB */
    bool
        blown; /* every sounder is a pipe: notes that come up slowly, last a quarter of a second, with breath in them */
    bool amr;         /* an old telephone's speech codec, 8 kHz */
    double
        music_db; /* wireless or gramophone behind it: chords, plucked or bowed, and a beat, as talk */
    const char *
        codec; /* arguments for ffmpeg, with %s for the name without its ending; NULL a .wav file */
};

#define STRANGER_BLOWS   128
#define STRANGER_HAMMERS 6 /* the last is the other clock's */
struct stranger {
    enum stranger_body body;
    enum stranger_tune tune;
    struct {
        double t_s;
        int hammer;         /* 0 = highest */
        bool twice;         /* a bounce follows */
    } blow[STRANGER_BLOWS]; /* that sound, in order */
    size_t blows;
    size_t sounders, letoffs;
    int strikes; /* 0 no hour */
    int dead;    /* hammer that never sounds, -1 none */
    bool lost; /* one blow in the middle of the hour never sounds; it is not counted in `strikes` */
    struct pcm pcm; /* one channel, at the way's rate */
};

/* doubles: a bounce after some blows; dead: one hammer of the chime does not sound; of an hour alone, one blow. */
void stranger_make(struct stranger *s, enum stranger_body body, enum stranger_tune tune,
                   bool doubles, bool dead, const struct stranger_way *way, struct random *r);
void stranger_release(struct stranger *s);
/* As a file in `folder`; path_size of at least 160.  False if it could not be written. */
bool stranger_write(const struct stranger *s, const struct stranger_way *way, const char *folder,
                    char *path, size_t path_size);

const char *stranger_body_name(enum stranger_body body);
const char *stranger_tune_name(enum stranger_tune tune);

#endif
