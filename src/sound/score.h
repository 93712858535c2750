/* score.h - from events to sound: a whole run of a clock as one pcm, faster than real time.
 *
 * A clock's events say which sounder was struck; a table of sounders says what stands there: a
 * voice (the yaml files of sounds/), its pitch and how loud it is.  Event k with sounder i sounds
 * sounders[i]; a blow at t_s begins exactly on frame round((lead_s + t_s) * rate).
 * The works are heard too, softly: warning and lock click, the fly while a train runs, a
 * clunk where something jams, and, if wanted, the tick of the clock.
 *
 *     struct score_sounder rods[] = {{"1", "rod", 415.30, 1}, {"2", "rod", 369.99, 1}, ...};
 *     struct score_style style = {.works = true};
 *     struct pcm out = {0};
 *     score_render(&events, rods, 5, &voices, &style, &out, &e);
 *
 * Both ways of hearing a run go through cues: a cue is a sound and the time it begins.  The score
 * mixes them into one pcm; a player (perform.h) takes them one by one.  A bank keeps each sound it
 * was once asked for (same sounder, strength and quality), so that a twelve-hour run renders a few
 * dozen blows.
 */
#ifndef LETOFF_SOUND_SCORE_H
#define LETOFF_SOUND_SCORE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include "event.h"
#include "pcm.h"
#include "sound/voice.h"

struct err;

/* One thing that is struck (or blown).  Row i of the table is the clock's sounder i. */
struct score_sounder {
    const char *name;  /* for sentences: "1", "hour", "cuckoo high" */
    const char *voice; /* id of a voice in the set */
    double hz;         /* the pitch as it is named (strike note of a bell); 10 .. 10000 */
    float gain;        /* 1 as the voice is made; 0 counts as 1 */
};

/* All zero is a good style: 44100 Hz, only blows and notes, rings until inaudible. */
struct score_style {
    int rate_hz;      /* 0: 44100; else 4000 .. 192000 */
    double lead_s;    /* silence before t = 0 */
    double tail_s;    /* what is kept after the last event; 0: until the ring is inaudible */
    bool works;       /* clicks, whirr and clunks as well */
    double tick_s;    /* seconds between ticks of the clock; 0: none */
    float tick_gain;  /* 0 counts as 1 */
    double stretch;   /* partials stretched beyond the recipe, see render.h; 0: as made */
    double decay;     /* all ring times times this; 0 counts as 1 */
    double detune_cents; /* each sounder off its pitch by a fixed draw of this deviation; 0: true */
    double gap_most_s; /* silences between events longer than this are cut to it; 0: kept */
    uint64_t seed;    /* ornament: strike noise, detuning; the same seed sounds the same */
    bool keep_level;  /* true: never scale the whole down to keep it from clipping */
};

/* Render everything into `out` (emptied first, at the style's rate).  False with sentences in
 * `e` and `out` empty when a sounder names no voice of the set, a pitch is out of range, an
 * event points past the table or is out of order, or the result would last more than
 * SCORE_LONGEST_S (cut the silences with gap_most_s).  Events before 0 lie before the run and are
 * not heard. */
#define SCORE_LONGEST_S 3600.0
bool score_render(const struct event_list *events, const struct score_sounder *sounders, size_t n,
                  const struct voice_set *voices, const struct score_style *style,
                  struct pcm *out, struct err *e);

/* The checks of score_render alone: table, style, events; length for sound apart. */
bool score_check(const struct event_list *events, const struct score_sounder *sounders, size_t n,
                 const struct voice_set *voices, const struct score_style *style, struct err *e);

/* Where each event lies in the sound, seconds from its start (lead and cut gaps counted): the place
 * of event i is written to t_s[i].  Events must be in order of time. */
void score_places(const struct event_list *events, const struct score_style *style, double *t_s);

/* A bank belongs to one table of sounders; table, voices and style must outlive it.  It renders when
 * asked for something new: not for the audio thread. */
struct score_bank;
struct score_bank *score_bank_new(const struct score_sounder *sounders, size_t n,
                                  const struct voice_set *voices, const struct score_style *style,
                                  struct err *e); /* NULL with sentences on a bad table */
void score_bank_free(struct score_bank *bank);
/* The sound of one event by itself; the bank owns it and it never moves.  NULL for an event without
 * a sound (silent kinds; works when the style has none).  Mix it with score_bank_gain. */
const struct pcm *score_bank_sound(struct score_bank *bank, const struct event *event);
float score_bank_gain(const struct score_bank *bank, const struct event *event);

struct score_cue {
    double t_s;              /* from the start of the sound */
    const struct pcm *sound; /* the bank's */
    float gain;
    int event;               /* index of the event it belongs to; -1 for ticks and whirr */
};

/* A zeroed struct is an empty list. */
struct score_cues {
    struct score_cue *at;
    size_t count, room;
};

/* All sounds of a run in order of time, the whirr of running trains and the ticks included.
 * False with sentences, and `cues` empty, on a bad event or a run that is too long. */
bool score_cue(struct score_bank *bank, const struct event_list *events, struct score_cues *cues,
               struct err *e);
void score_cues_release(struct score_cues *cues);

#endif
