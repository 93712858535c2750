/* player.h - sound out of the loudspeaker, each blow on its own sample.
 *
 * The player counts the frames it has sent since it began.  A blow is put with the frame at which it
 * shall begin; the audio thread mixes it there.  Nothing is started by a timer, so the spread between
 * blows is that of the sample clock.  The position can be asked at any time: animation follows it and
 * so never drifts from what is heard.
 *
 * Without a device the player goes on silently by the clock on the wall: the position moves, blows are
 * used up, and the program need not care.  A device that is pulled out is noticed by player_poll and
 * looked for again; what was under way goes on where it would be by then.
 *
 *     struct player *p = player_new();
 *     if (!player_open(p, &player_back_sdl, 44100, &e))      one sentence; goes on silently
 *         err_print(&e, stderr);
 *     player_put(p, player_now(p) + 4410, sound->at, sound->frames, 1);
 *     while (...) player_poll(p);                            every frame or so
 *     player_free(p);
 *
 * Threads: one thread calls everything here but player_mix, which only a back end's audio thread
 * calls.  Between the two stand a ring of blows and a few atomic numbers; the audio thread allocates
 * nothing, waits for nothing and reports nothing.
 */
#ifndef LETOFF_SOUND_PLAYER_H
#define LETOFF_SOUND_PLAYER_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct err;
struct pcm;
struct player;

/* A way to get samples out.  `open` starts a thread that calls player_mix; after `close` returns it
 * is not called any more.  `alive` is asked by player_poll: false when the device has gone.
 * `found` (may be NULL) says that a new try to open is worthwhile now. */
struct player_back {
    const char *name;
    bool (*open)(struct player *p, int rate_hz, struct err *e);
    void (*close)(struct player *p);
    bool (*alive)(struct player *p);
    bool (*found)(struct player *p);
};
extern const struct player_back player_back_sdl;   /* SDL2_mixer; its driver by SDL_AUDIODRIVER */
extern const struct player_back player_back_dummy; /* no sound, by the clock on the wall */

struct player *player_new(void);
void player_free(struct player *p); /* closes it first */

/* False with one sentence when there is no device; the player then runs silently.  Blows put before
 * opening wait for frame 0.  Once in the life of a player; player_close ends it. */
bool player_open(struct player *p, const struct player_back *back, int rate_hz, struct err *e);
void player_close(struct player *p);

enum player_news { PLAYER_AS_BEFORE, PLAYER_LOST, PLAYER_FOUND };
/* Keeps a silent player moving, and watches the device.  Call several times a second. */
enum player_news player_poll(struct player *p);

int player_rate_hz(const struct player *p);
bool player_sounding(const struct player *p); /* there is a device */
/* Frames heard so far (sent, less what waits in the device's buffer); never runs backward. */
uint64_t player_now(struct player *p);

/* Have `frames` samples begin at frame `at`, or at once if that is past.  The samples stay the
 * caller's and must live until they are played, hushed (and player_idle), or the player is closed.
 * False when PLAYER_QUEUE blows wait already: poll, and put it again later. */
#define PLAYER_QUEUE 1024
bool player_put(struct player *p, uint64_t at, const float *samples, size_t frames, float gain);
/* Fade out what sounds and forget what waits. */
void player_hush(struct player *p);
/* Nothing sounds, nothing waits: samples may be freed. */
bool player_idle(const struct player *p);
unsigned player_late(const struct player *p);    /* blows that came too late for their frame */
void player_volume(struct player *p, float gain); /* 0 .. 2; 1 at first */

/* For back ends: the next `frames` samples, one channel; overwrites `to`.  Audio thread only. */
void player_mix(struct player *p, float *to, size_t frames);
/* For back ends: seconds since player_mix was last called (or the device opened).  Any thread. */
double player_since_mix_s(const struct player *p);

/* Reads wav itself and other formats (ogg, flac, mp3 ...) through SDL2_mixer; a voice_reader. */
bool player_read_recording(struct pcm *to, const char *path, struct err *e);

#endif
