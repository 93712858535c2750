#include "sound/player.h"

#include <assert.h>
#include <math.h>
#include <stdatomic.h>
#include <string.h>
#include <time.h>
#include "err.h"
#include "mem.h"

#define LIVE_MOST   512  /* sounding, or taken and waiting for their frame */
#define FADE_FRAMES 512  /* a hushed sound goes out in this many */
#define RETRY_S     3.0  /* how often a lost device is looked for */
#define MIX_MOST    4096 /* frames mixed at once in silence */

struct player_blow {
    uint64_t at;
    const float *sample;
    size_t frames;
    float gain;
    unsigned age; /* the hush count when it was put; older ones are to fade */
};

/* A blow that sounds: the next frame of it, and how many frames its fade still has. */
struct live_blow {
    struct player_blow blow;
    size_t next, fade;
};

/* Ring: `head` is written by the caller's thread only, `tail` by the mixing thread only; the slots
 * between tail and head belong to the mixing thread.  live[] belongs to the mixing thread. */
struct player {
    const struct player_back *wanted; /* what was asked for */
    const struct player_back *back;   /* what runs: wanted, or the dummy while there is no device */
    int rate_hz;
    bool open;
    struct player_blow ring[PLAYER_QUEUE];
    atomic_uint head, tail, hushes, holding, late;
    atomic_uint_fast64_t sent, block_start, block_at_ns;
    _Atomic float volume;
    struct live_blow live[LIVE_MOST];
    size_t lives;
    uint64_t wall_from_ns, wall_frames, told; /* silent running; last position told */
    double retry_at_s;
};

static uint64_t wall_ns(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (uint64_t)t.tv_sec * 1000000000u + (uint64_t)t.tv_nsec;
}

struct player *player_new(void)
{
    struct player *p = mem_alloc(sizeof *p);
    atomic_store(&p->volume, 1.0f);
    p->rate_hz = 44100;
    return p;
}

void player_free(struct player *p)
{
    if (!p)
        return;
    player_close(p);
    mem_free(p);
}

/* ---- the mixing thread -------------------------------------------------------------------------- */

/* Take the blows out of the ring.  They need not stand in order of time, so all are taken that find a
 * place; those of a later time wait among the live ones.  `holding` is told before the ring is, so
 * that a blow is always seen in one of the two. */
static void ring_take(struct player *p, uint64_t now, unsigned hushes)
{
    unsigned tail = atomic_load_explicit(&p->tail, memory_order_relaxed);
    unsigned head = atomic_load_explicit(&p->head, memory_order_acquire);
    for (; tail != head && p->lives < LIVE_MOST; tail++) {
        struct player_blow b = p->ring[tail % PLAYER_QUEUE];
        if (b.age != hushes)
            continue;
        if (b.at < now) {
            b.at = now;
            atomic_fetch_add_explicit(&p->late, 1, memory_order_relaxed);
        }
        p->live[p->lives++] = (struct live_blow){b, 0, FADE_FRAMES};
    }
    atomic_store_explicit(&p->holding, (unsigned)p->lives, memory_order_relaxed);
    atomic_store_explicit(&p->tail, tail, memory_order_release);
}

/* Mix what of the blow falls into the block; false when it is over. */
static bool live_mix(struct live_blow *l, float *to, size_t frames, uint64_t now, bool hushed)
{
    size_t from = l->blow.at > now ? (size_t)(l->blow.at - now) : 0;
    if (l->blow.at > now && l->blow.at - now >= frames)
        return !hushed;
    for (size_t i = from; i < frames && l->next < l->blow.frames; i++) {
        float gain = l->blow.gain;
        if (hushed) {
            if (l->next == 0 || l->fade == 0)
                return false;
            gain *= (float)l->fade-- / FADE_FRAMES;
        }
        to[i] += gain * l->blow.sample[l->next++];
    }
    return l->next < l->blow.frames;
}

/* Straight up to 0.7, then bent so that it never passes 1. */
static float soft_limit(float x)
{
    float size = fabsf(x);
    if (size <= 0.7f)
        return x;
    return copysignf(0.7f + 0.3f * tanhf((size - 0.7f) / 0.3f), x);
}

void player_mix(struct player *p, float *to, size_t frames)
{
    uint64_t now = atomic_load_explicit(&p->sent, memory_order_relaxed);
    unsigned hushes = atomic_load_explicit(&p->hushes, memory_order_acquire);
    float volume = atomic_load_explicit(&p->volume, memory_order_relaxed);
    memset(to, 0, frames * sizeof *to);
    ring_take(p, now, hushes);
    for (size_t i = 0; i < p->lives;) {
        struct live_blow *l = &p->live[i];
        if (live_mix(l, to, frames, now, l->blow.age != hushes))
            i++;
        else
            *l = p->live[--p->lives];
    }
    for (size_t i = 0; i < frames; i++)
        to[i] = soft_limit(volume * to[i]);
    atomic_store_explicit(&p->holding, (unsigned)p->lives, memory_order_release);
    atomic_store_explicit(&p->block_start, now, memory_order_relaxed);
    atomic_store_explicit(&p->block_at_ns, wall_ns(), memory_order_relaxed);
    atomic_store_explicit(&p->sent, now + frames, memory_order_release);
}

double player_since_mix_s(const struct player *p)
{
    uint64_t at_ns = atomic_load_explicit(&p->block_at_ns, memory_order_relaxed), ns = wall_ns();
    return ns > at_ns ? (double)(ns - at_ns) / 1e9 : 0;
}

/* ---- the dummy: silence by the clock on the wall ------------------------------------------------ */

static bool dummy_open(struct player *p, int rate_hz, struct err *e)
{
    (void)rate_hz, (void)e;
    p->wall_from_ns = wall_ns();
    p->wall_frames = 0;
    return true;
}

static void dummy_close(struct player *p)
{
    (void)p;
}

static bool dummy_alive(struct player *p)
{
    (void)p;
    return true;
}

const struct player_back player_back_dummy = {
    .name = "dummy",
    .open = dummy_open,
    .close = dummy_close,
    .alive = dummy_alive,
};

/* Mix the frames that have passed into nothing.  A program that slept long does not catch up blow
 * by blow for more than a minute. */
static void dummy_run(struct player *p)
{
    float nothing[MIX_MOST];
    uint64_t due = (uint64_t)((double)(wall_ns() - p->wall_from_ns) / 1e9 * p->rate_hz);
    uint64_t most = (uint64_t)p->rate_hz * 60;
    if (due > p->wall_frames + most) {
        atomic_fetch_add(&p->sent, due - p->wall_frames - most);
        p->wall_frames = due - most;
    }
    while (p->wall_frames < due) {
        size_t frames = (size_t)(due - p->wall_frames);
        frames = frames > MIX_MOST ? MIX_MOST : frames;
        player_mix(p, nothing, frames);
        p->wall_frames += frames;
    }
}

/* ---- opening, losing and finding ---------------------------------------------------------------- */

static void go_silent(struct player *p)
{
    p->back = &player_back_dummy;
    p->back->open(p, p->rate_hz, NULL);
}

bool player_open(struct player *p, const struct player_back *back, int rate_hz, struct err *e)
{
    assert(!p->open && rate_hz >= 4000 && rate_hz <= 192000);
    p->rate_hz = rate_hz;
    p->wanted = p->back = back;
    p->open = true;
    atomic_store(&p->block_at_ns, wall_ns());
    if (back->open(p, rate_hz, e))
        return true;
    p->retry_at_s = (double)wall_ns() / 1e9 + RETRY_S;
    go_silent(p);
    return false;
}

void player_close(struct player *p)
{
    if (!p->open)
        return;
    p->back->close(p);
    p->open = false;
    p->lives = 0;
    atomic_store(&p->tail, atomic_load(&p->head));
    atomic_store(&p->holding, 0);
}

static bool retry_now(struct player *p)
{
    double now_s = (double)wall_ns() / 1e9;
    bool found = p->wanted->found && p->wanted->found(p);
    if (!found && now_s < p->retry_at_s)
        return false;
    p->retry_at_s = now_s + RETRY_S;
    return true;
}

enum player_news player_poll(struct player *p)
{
    if (!p->open)
        return PLAYER_AS_BEFORE;
    if (p->back != p->wanted) {
        dummy_run(p);
        if (!retry_now(p))
            return PLAYER_AS_BEFORE;
        atomic_store(&p->block_at_ns, wall_ns());
        if (!p->wanted->open(p, p->rate_hz, NULL))
            return PLAYER_AS_BEFORE;
        p->back = p->wanted;
        return PLAYER_FOUND;
    }
    if (p->back == &player_back_dummy)
        dummy_run(p);
    if (p->back->alive(p))
        return PLAYER_AS_BEFORE;
    p->back->close(p);
    p->retry_at_s = (double)wall_ns() / 1e9 + RETRY_S;
    go_silent(p);
    return PLAYER_LOST;
}

/* ---- what the caller's thread asks and puts ----------------------------------------------------- */

int player_rate_hz(const struct player *p)
{
    return p->rate_hz;
}

bool player_sounding(const struct player *p)
{
    return p->open && p->back != &player_back_dummy;
}

/* Within the block that was mixed last the wall clock tells how far the device has come; in silence
 * nothing waits in a device, so what is mixed is past. */
uint64_t player_now(struct player *p)
{
    uint64_t sent = atomic_load_explicit(&p->sent, memory_order_acquire);
    uint64_t start = atomic_load_explicit(&p->block_start, memory_order_relaxed);
    uint64_t at_ns = atomic_load_explicit(&p->block_at_ns, memory_order_relaxed), ns = wall_ns();
    double since_s = ns > at_ns ? (double)(ns - at_ns) / 1e9 : 0;
    uint64_t now = player_sounding(p) ? start + (uint64_t)(since_s * p->rate_hz) : sent;
    if (now > sent)
        now = sent;
    if (now > p->told)
        p->told = now;
    return p->told;
}

bool player_put(struct player *p, uint64_t at, const float *samples, size_t frames, float gain)
{
    unsigned head = atomic_load_explicit(&p->head, memory_order_relaxed);
    if (head - atomic_load_explicit(&p->tail, memory_order_acquire) >= PLAYER_QUEUE)
        return false;
    unsigned age = atomic_load_explicit(&p->hushes, memory_order_relaxed);
    p->ring[head % PLAYER_QUEUE] = (struct player_blow){at, samples, frames, gain, age};
    atomic_store_explicit(&p->head, head + 1, memory_order_release);
    return true;
}

void player_hush(struct player *p)
{
    atomic_fetch_add_explicit(&p->hushes, 1, memory_order_release);
}

/* Held sounds are counted after the ring was emptied, so look at the ring first. */
bool player_idle(const struct player *p)
{
    if (!p->open)
        return true;
    unsigned tail = atomic_load_explicit(&p->tail, memory_order_acquire);
    return tail == atomic_load_explicit(&p->head, memory_order_relaxed) &&
           atomic_load_explicit(&p->holding, memory_order_acquire) == 0;
}

unsigned player_late(const struct player *p)
{
    return atomic_load(&p->late);
}

void player_volume(struct player *p, float gain)
{
    atomic_store_explicit(&p->volume, fminf(fmaxf(gain, 0), 2), memory_order_relaxed);
}
