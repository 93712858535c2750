#include "sound/midi.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>
#include "err.h"
#include "mem.h"

#define TICKS_PER_S 1000
#define CHANNELS    15 /* 16 without the one kept for drums */
#define BEND_NONE   8192
#define BEND_CENTS  200.0
#define RING_TICKS  2000 /* a note is held this long unless struck again */
#define AGAIN_TICKS 80
#define AGAIN_SOFTER 0.55

/* A message waiting for its place in a track. */
struct message {
    uint32_t tick;
    uint32_t order; /* offs before ons, programs before notes, else as made */
    uint16_t track;
    uint8_t length, byte[3];
};

struct maker {
    struct message *at;
    size_t count, room;
    int program[16], bend[16]; /* what each channel was last told */
};

double midi_hz_of(double note)
{
    return 440 * pow(2, (note - 69) / 12);
}

int midi_note_of(double hz, double *cents)
{
    double exact = 69 + 12 * log2(hz / 440);
    int note = (int)lround(fmin(fmax(exact, 0), 127));
    if (cents)
        *cents = 100 * (exact - note);
    return note;
}

static void message_add(struct maker *m, uint32_t tick, size_t track, uint8_t length, int a, int b,
                        int c)
{
    m->at = mem_grow(m->at, &m->room, m->count + 1, sizeof *m->at);
    bool off = (a & 0xF0) == 0x80;
    m->at[m->count] = (struct message){tick, (uint32_t)m->count + (off ? 0 : 0x80000000u),
                                       (uint16_t)track, length,
                                       {(uint8_t)a, (uint8_t)b, (uint8_t)c}};
    m->count++;
}

static int channel_of(size_t sounder)
{
    int c = (int)(sounder % CHANNELS);
    return c < 9 ? c : c + 1;
}

/* Tell the channel its program and bend, unless it has them. */
static void channel_set(struct maker *m, uint32_t tick, size_t track, int channel, int program,
                        int bend)
{
    if (m->program[channel] != program)
        message_add(m, tick, track, 2, 0xC0 | channel, program, 0);
    if (m->bend[channel] != bend)
        message_add(m, tick, track, 3, 0xE0 | channel, bend & 127, bend >> 7);
    m->program[channel] = program;
    m->bend[channel] = bend;
}

static int bend_of(double cents)
{
    double b = BEND_NONE + cents / BEND_CENTS * BEND_NONE;
    return (int)lround(fmin(fmax(b, 0), 16383));
}

static int velocity_of(const struct event *e, const struct score_sounder *s)
{
    double strength = e->strength;
    if (e->quality & QUALITY_WEAK)
        strength = fmin(strength, 0.35);
    if (e->quality & QUALITY_LOUD)
        strength *= 1.5;
    return (int)lround(fmin(fmax(127 * strength * (s->gain > 0 ? s->gain : 1), 1), 127));
}

static void note_add(struct maker *m, uint32_t tick, uint32_t end, size_t track, int channel,
                     int note, int velocity)
{
    message_add(m, tick, track, 3, 0x90 | channel, note, velocity);
    message_add(m, end > tick ? end : tick + 1, track, 3, 0x80 | channel, note, 64);
}

/* The tick at which the channel of event i is wanted again, or the end of its ring: the next bend would
 * bend a note that still sounds. */
static uint32_t ring_end(const struct event_list *events, const double *t_s, size_t i)
{
    double horizon = t_s[i] + (double)RING_TICKS / TICKS_PER_S;
    for (size_t k = i + 1; k < events->count && t_s[k] < horizon; k++)
        if (event_sounds(&events->at[k]) &&
            channel_of(events->at[k].sounder) == channel_of(events->at[i].sounder))
            return (uint32_t)lround(t_s[k] * TICKS_PER_S);
    return (uint32_t)lround(horizon * TICKS_PER_S);
}

static void blow_add(struct maker *m, const struct event_list *events, const double *t_s, size_t i,
                     const struct score_sounder *s, const struct voice *v, int format)
{
    const struct event *e = &events->at[i];
    uint32_t tick = (uint32_t)lround(t_s[i] * TICKS_PER_S), end = ring_end(events, t_s, i);
    double cents;
    int note = midi_note_of(s->hz, &cents), channel = channel_of(e->sounder);
    int velocity = velocity_of(e, s);
    size_t track = format == 0 ? 0 : (size_t)e->sounder + 1;
    channel_set(m, tick, track, channel, v->midi_program, bend_of(cents));
    if (e->quality & QUALITY_DOUBLE && end > tick + AGAIN_TICKS) {
        note_add(m, tick, tick + AGAIN_TICKS, track, channel, note, velocity);
        tick += AGAIN_TICKS;
        velocity = (int)fmax(velocity * AGAIN_SOFTER, 1);
    }
    note_add(m, tick, end, track, channel, note, velocity);
}

/* ---- writing ------------------------------------------------------------------------------------ */

static void number_add(struct text *t, uint32_t value, int bytes)
{
    for (int i = bytes - 1; i >= 0; i--) {
        char c = (char)(value >> (8 * i) & 255);
        text_add_bytes(t, &c, 1);
    }
}

/* Seven bits a byte, the highest first, all but the last marked. */
static void length_add(struct text *t, uint32_t value)
{
    for (int shift = 28; shift > 0; shift -= 7)
        if (value >> shift) {
            char c = (char)((value >> shift & 127) | 128);
            text_add_bytes(t, &c, 1);
        }
    char last = (char)(value & 127);
    text_add_bytes(t, &last, 1);
}

static void meta_add(struct text *t, int kind, const char *bytes, size_t length)
{
    char head[3] = {0, (char)0xFF, (char)kind};
    text_add_bytes(t, head, 3);
    length_add(t, (uint32_t)length);
    text_add_bytes(t, bytes, length);
}

static void track_add(struct text *out, const struct maker *m, size_t track, bool tempo,
                      const char *name)
{
    static const char SECOND_US[3] = {0x0F, 0x42, 0x40};
    struct text body = {0};
    uint32_t last = 0;
    if (tempo)
        meta_add(&body, 0x51, SECOND_US, 3);
    if (name)
        meta_add(&body, 0x03, name, strlen(name));
    for (size_t i = 0; i < m->count; i++) {
        if (m->at[i].track != track)
            continue;
        length_add(&body, m->at[i].tick - last);
        text_add_bytes(&body, (const char *)m->at[i].byte, m->at[i].length);
        last = m->at[i].tick;
    }
    meta_add(&body, 0x2F, "", 0);
    text_add_bytes(out, "MTrk", 4);
    number_add(out, (uint32_t)body.length, 4);
    text_add_bytes(out, body.at, body.length);
    text_release(&body);
}

static void file_add(struct text *out, const struct maker *m, const struct score_sounder *s,
                     size_t n, int format)
{
    size_t tracks = format == 0 ? 1 : n + 1;
    text_add_bytes(out, "MThd", 4);
    number_add(out, 6, 4);
    number_add(out, (uint32_t)format, 2);
    number_add(out, (uint32_t)tracks, 2);
    number_add(out, TICKS_PER_S, 2);
    track_add(out, m, 0, true, NULL);
    for (size_t i = 1; i < tracks; i++)
        track_add(out, m, i, false, s[i - 1].name ? s[i - 1].name : s[i - 1].voice);
}

/* ---- the whole ---------------------------------------------------------------------------------- */

static int by_tick(const void *a, const void *b)
{
    const struct message *x = a, *y = b;
    if (x->tick != y->tick)
        return x->tick < y->tick ? -1 : 1;
    return (x->order > y->order) - (x->order < y->order);
}

static bool input_check(const struct event_list *events, const struct score_sounder *sounders,
                        size_t n, const struct voice_set *voices, const struct score_style *style,
                        int format, struct err *e)
{
    if (format != 0 && format != 1) {
        err_add(e, "A MIDI file of format %d was asked for; 0 and 1 are known.", format);
        return false;
    }
    return score_check(events, sounders, n, voices, style, e);
}

bool midi_build(const struct event_list *events, const struct score_sounder *sounders, size_t n,
                const struct voice_set *voices, const struct score_style *style, int format,
                struct text *out, struct err *e)
{
    static const struct score_style PLAIN = {0};
    if (!style)
        style = &PLAIN;
    if (!input_check(events, sounders, n, voices, style, format, e))
        return false;
    struct maker m = {0};
    for (int c = 0; c < 16; c++)
        m.program[c] = -1, m.bend[c] = BEND_NONE;
    double *t_s = mem_alloc((events->count + 1) * sizeof *t_s);
    score_places(events, style, t_s);
    for (size_t i = 0; i < events->count; i++) {
        const struct event *x = &events->at[i];
        if (x->t_s >= 0 && event_sounds(x) && x->sounder < n && x->strength > 0)
            blow_add(&m, events, t_s, i, &sounders[x->sounder],
                     voice_find(voices, sounders[x->sounder].voice), format);
    }
    if (m.count)
        qsort(m.at, m.count, sizeof *m.at, by_tick);
    file_add(out, &m, sounders, n, format);
    mem_free(t_s);
    mem_free(m.at);
    return true;
}

bool midi_save(const struct event_list *events, const struct score_sounder *sounders, size_t n,
               const struct voice_set *voices, const struct score_style *style, int format,
               const char *path, struct err *e)
{
    struct text file = {0};
    bool good = midi_build(events, sounders, n, voices, style, format, &file, e) &&
                text_write_file(path, file.at, file.length, e);
    text_release(&file);
    return good;
}
