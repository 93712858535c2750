/* show.h - a clock let go: what it does, drawn and sounded together.
 *
 * A show runs the simulator from one moment over some minutes and keeps the events.  It is then
 * played along its own time, in which long silences are shortened (five minutes of warning take a
 * second and a half) and which can be slowed, stopped, stepped and gone back in.  While it sounds,
 * the player's count of samples is the only clock, so that eye and ear agree.
 */
#ifndef LETOFF_SCREEN_SHOW_H
#define LETOFF_SCREEN_SHOW_H

#include <stdbool.h>
#include <stddef.h>
#include "draw/plate_pose.h"
#include "err.h"
#include "movement/move.h"
#include "random.h"
#include "sound/player.h"
#include "sound/score.h"
#include "sound/voice.h"

#define SHOW_SILENCE_S 2.2  /* longer silences are shortened ... */
#define SHOW_SHORT_S 1.4    /* ... to this */
#define SHOW_KNOTS 4000

struct show {
    const struct voice_set *voices;
    bool mute;                 /* never open a device */
    struct works works;
    struct moment now, before; /* at the end of what was run, and at its start */
    struct event_list events;
    struct { double show_s, run_s; } knot[SHOW_KNOTS]; /* show time against the run's time */
    size_t knots;
    double at_s, length_s;     /* show time */
    double speed;              /* 1 real, 0.25 slow */
    bool playing;
    struct random random;
    struct player *player;
    struct score_bank *bank;
    struct score_sounder sounder[CLOCK_SOUNDERS];
    struct score_style style;
    size_t put;                /* events handed to the player so far */
    uint64_t start_frame;      /* player's frame of show time start_s */
    double start_s, started_s; /* show time, wall time when playing began */
    double last_s;             /* wall time when it last sounded */
    struct err trouble;        /* device or voices: one sentence, shown once */
    const char *news;          /* the loudspeaker came or went: one sentence, shown once; or NULL */
};

void show_init(struct show *s, const struct voice_set *voices, uint64_t seed);
void show_release(struct show *s);
/* This clock, with these changes, its hands at `work_min` and in step. */
void show_set(struct show *s, const struct clock *c, const struct change *change, size_t changes,
              int work_min);
void show_set_rest(struct show *s, struct rest rest);
/* Run over `minutes` (back if negative) by hand or time; the show stands at its beginning. */
void show_run(struct show *s, int minutes, enum turner by);
/* Events made elsewhere, of this clock; copied.  The show stands at their beginning. */
void show_take(struct show *s, const struct clock *c, const struct event_list *events);
/* Run from shortly before the next let-off until it is over. */
void show_next_letoff(struct show *s, double now_s);
void show_do(struct show *s, enum action a, int amount);

void show_play(struct show *s, double now_s);
void show_stop(struct show *s);
void show_step(struct show *s, int by); /* to the next or last event */
void show_seek(struct show *s, double show_s);
/* Keep up with the clock; true while something moves or sounds. */
bool show_tick(struct show *s, double now_s);
/* Close the sound device when nothing sounded for a while; true if it is still open. */
bool show_rest(struct show *s, double now_s);
void show_pose(const struct show *s, struct plate_pose *pose);
double show_run_s(const struct show *s);   /* the run's own time of the moment shown */
/* The last event at or before the moment shown, or NULL. */
const struct event *show_event(const struct show *s);

#endif
