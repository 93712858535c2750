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
 * A bank keeps each blow it was once asked for (same sounder, strength and quality), so that a
 * twelve-hour run renders a few dozen blows and mixes the rest.
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
    uint64_t seed;    /* ornament: strike noise, detuning; the same seed sounds the same */
    bool keep_level;  /* true: never scale the whole down to keep it from clipping */
};

/* Render everything into `out` (emptied first, at the style's rate).  False with sentences in
 * `e` and `out` empty when a sounder names no voice of the set, a pitch is out of range, an
 * event points past the table, or the run is longer than SCORE_LONGEST_S. */
#define SCORE_LONGEST_S 86400.0
bool score_render(const struct event_list *events, const struct score_sounder *sounders, size_t n,
                  const struct voice_set *voices, const struct score_style *style,
                  struct pcm *out, struct err *e);

/* The same events as single blows, for a player.  A bank belongs to one table of sounders; the
 * table, the voices and the style must outlive it.  Not for the audio thread: it renders. */
struct score_bank;
struct score_bank *score_bank_new(const struct score_sounder *sounders, size_t n,
                                  const struct voice_set *voices, const struct score_style *style,
                                  struct err *e); /* NULL with sentences on a bad table */
void score_bank_free(struct score_bank *bank);
/* The sound of one event and the gain to mix it with; the bank owns it, it never moves.  NULL
 * for an event without a sound (silent kinds; works when the style has none). */
const struct pcm *score_bank_sound(struct score_bank *bank, const struct event *event, float *gain);

#endif
