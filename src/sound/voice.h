/* voice.h - voices: what a rod, a bell, a gong or a pipe sounds like, as a physical recipe.
 *
 * A voice file (sounds/NAME.yaml) holds a list `voices:`.  A struck voice is a set of partials,
 * each a ratio to the others, a level and a ring time, woken by a hammer whose hardness tilts the
 * spectrum.  Rods and tubes take their ratios from the equation of the bar (partials.h) instead
 * of a list.  A pipe is a stopped pipe on a bellows.  A noise voice is a click or a whirr.
 * A shop's own recording may stand in for the recipe.
 *
 * To add a voice:
 *   1. copy the row that is nearest in one of the files and give it a new `id`;
 *   2. say in `source` where its numbers come from ("ours" if from nowhere);
 *   3. run `letoff check` on the file; it names all that is wrong at once.
 *
 * Voices of the tree: rod, rod-bim-bam, tube, bell-small, bell-large, bell-turret, bell-ship,
 * ting, tang, gong-coiled, cuckoo-high, cuckoo-low, flute, comb; and of the works: click,
 * warning, lock, clunk, whirr, tick, tock.
 */
#ifndef LETOFF_SOUND_VOICE_H
#define LETOFF_SOUND_VOICE_H

#include <stdbool.h>
#include <stddef.h>
#include "pcm.h"

struct err;
struct yaml_tree;
struct yaml_node;

enum voice_kind { VOICE_STRUCK, VOICE_PIPE, VOICE_NOISE };
enum voice_law { LAW_LIST, LAW_CLAMPED_ROD, LAW_FREE_TUBE };

#define VOICE_PARTIALS 24

struct voice_partial {
    double ratio; /* frequency, in the unit of the list */
    double level; /* amplitude before the hammer's tilt, any unit (the whole is levelled) */
    double t60_s; /* seconds to fall by 60 dB; 0: by the voice's law of decay */
    double split; /* relative distance of the two members of the doublet; 0: the voice's */
};

/* Band-limited noise: the knock of the hammer, the breath of a pipe, a click of the works. */
struct voice_noise {
    double level; /* against the tone; 0: none */
    double ms;    /* time to fall by 60 dB */
    double low_hz, high_hz;
};

/* A zeroed struct is no voice.  Always holds after loading: at least one partial unless the kind
 * is noise; levels, times and ratios positive; pitch_ratio is a ratio of the list's unit. */
struct voice {
    const char *id, *name, *source;
    int kind, law;                 /* enum voice_kind, enum voice_law */
    struct voice_partial partial[VOICE_PARTIALS];
    size_t partials;
    double pitch_ratio;            /* the ratio that lies on the pitch a sounder names */
    double stretch;                /* f = pitch * (ratio / pitch_ratio)^(1 + stretch) */
    double low_hz, high_hz;        /* pitches it is meant for; others are allowed */
    double t60_s, t60_hz, t60_slope; /* a partial at f rings t60_s * (f / t60_hz)^-t60_slope */
    double contact_ms;             /* how long a hammer as made stays on the sounder */
    double board_hz;               /* below this the board is too small to radiate; 0: no board */
    double split, split_level;     /* doublets: relative distance, level of the weaker one */
    struct voice_noise noise;
    double attack_ms, hold_s, release_ms; /* pipes, and noises that last (the whirr) */
    double sag_cents;              /* how flat a pipe is while the bellows gather and run out */
    double flutter_hz;             /* noises: how often the fly or the wheel teeth come round */
    double level;                  /* 0 .. 1: how loud against other voices */
    int midi_program;              /* 0 .. 127 of the General MIDI table */
    struct pcm recording;          /* a shop's own recording; empty if there is none */
    double recording_hz;           /* the pitch it was recorded at */
};

/* A zeroed struct is an empty set.  Keeps the files' trees, since ids and names live there. */
struct voice_set {
    struct voice *at;
    size_t count, room;
    struct yaml_tree **tree;
    size_t trees, tree_room;
};

/* Reads a recording for a voice row; pcm_read_wav is one, player_read_recording another. */
typedef bool voice_reader(struct pcm *to, const char *path, struct err *e);

/* Add the voices of one file; recordings are looked for beside it.  All that is wrong is
 * reported together and then nothing of the file is added.  A voice whose id is in the set
 * already replaces it if it comes from another file (a shop's own), else it is an error.
 * `reader` NULL means pcm_read_wav. */
bool voice_set_load(struct voice_set *set, const char *path, voice_reader *reader, struct err *e);
/* Add every .yaml file of a folder, in the order of their names. */
bool voice_set_load_folder(struct voice_set *set, const char *folder, voice_reader *reader,
                           struct err *e);
void voice_set_release(struct voice_set *set);

const struct voice *voice_find(const struct voice_set *set, const char *id); /* or NULL */
/* The id nearest to a misspelt one, for a suggestion, or NULL. */
const char *voice_nearest(const struct voice_set *set, const char *id);

#endif
