#include "sound/score.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>
#include "err.h"
#include "mem.h"
#include "random.h"
#include "sound/render.h"

#define RATE_HZ     44100
#define WHIRR_S     0.5 /* a running train is heard in pieces of this length, blended */
#define WHIRR_KINDS 4
#define WARN_RUN_S  0.3 /* the run to the warning, as heard */

/* ---- what the works let hear, by kind of event -------------------------------------------------- */

struct works_row {
    const char *voice;
    float strength;
};

static const struct works_row WORKS[EVENT_KINDS] = {
    [EVENT_WARN] = {"warning", 1},
    [EVENT_RELEASE] = {"click", 1},
    [EVENT_CLICK] = {"click", 0.7f},
    [EVENT_LOCK] = {"lock", 1},
    [EVENT_STALL] = {"clunk", 0.3f},
    [EVENT_JAM] = {"clunk", 1},
};

/* ---- the bank ----------------------------------------------------------------------------------- */

/* One sound that was asked for.  `owner` is a sounder, or beyond the table one of the works. */
struct bank_sound {
    size_t owner;
    float strength;
    uint8_t quality;
    struct pcm pcm;
};

struct score_bank {
    const struct score_sounder *sounder;
    size_t sounders;
    const struct voice_set *voices;
    struct score_style style;
    const struct voice **voice; /* of each sounder */
    double *hz;                 /* of each sounder, detuned */
    struct bank_sound **sound;  /* each allocated alone, so that none ever moves */
    size_t sounds, sound_room;
};

static bool sounder_check(const struct score_sounder *s, size_t i, const struct voice_set *voices,
                          struct err *e)
{
    const char *name = s->name ? s->name : "?", *id = s->voice ? s->voice : "";
    if (!voice_find(voices, id)) {
        const char *near = voice_nearest(voices, id);
        err_add(e, "Sounder %zu (%s) wants the voice \"%s\", which no voice file has%s%s%s.", i + 1,
                name, id, near ? "; is it \"" : "", near ? near : "", near ? "\"" : "");
        return false;
    }
    if (!(s->hz >= 10 && s->hz <= 10000)) {
        err_add(e, "Sounder %zu (%s) stands at %g Hz; a pitch from 10 to 10000 Hz was expected.",
                i + 1, name, s->hz);
        return false;
    }
    return true;
}

static bool style_check(const struct score_style *style, struct err *e)
{
    if (style->rate_hz == 0 || (style->rate_hz >= 4000 && style->rate_hz <= 192000))
        return true;
    err_add(e, "The rate %d Hz is not between 4000 and 192000 Hz.", style->rate_hz);
    return false;
}

static bool event_check(const struct event_list *events, size_t sounders, size_t i, struct err *e)
{
    const struct event *x = &events->at[i];
    if (!isfinite(x->t_s) || (i && x->t_s < x[-1].t_s)) {
        err_add(e, "Event %zu lies at %g s, which is not in order of time.", i + 1, x->t_s);
        return false;
    }
    if (event_sounds(x) && x->sounder != EVENT_NO_SOUNDER && x->sounder >= sounders) {
        err_add(e, "Event %zu strikes sounder %d, but the clock has only %zu.", i + 1,
                x->sounder + 1, sounders);
        return false;
    }
    return true;
}

/* The first wrong event only: the others would mostly repeat it. */
static bool events_check(const struct event_list *events, size_t sounders, struct err *e)
{
    for (size_t i = 0; i < events->count; i++)
        if (!event_check(events, sounders, i, e))
            return false;
    return true;
}

static bool table_check(const struct score_sounder *sounders, size_t n,
                        const struct voice_set *voices, const struct score_style *style,
                        struct err *e)
{
    bool good = style_check(style, e);
    for (size_t i = 0; i < n; i++)
        good &= sounder_check(&sounders[i], i, voices, e);
    return good;
}

bool score_check(const struct event_list *events, const struct score_sounder *sounders, size_t n,
                 const struct voice_set *voices, const struct score_style *style, struct err *e)
{
    bool good = table_check(sounders, n, voices, style, e);
    return events_check(events, n, e) && good;
}

/* One draw a sounder, so that more sounders do not change the first. */
static double detuned_hz(const struct score_style *style, const struct score_sounder *s, size_t i)
{
    struct random rnd;
    random_init(&rnd, style->seed * 1000003u + i);
    return s->hz * pow(2, style->detune_cents * random_normal(&rnd) / 1200);
}

struct score_bank *score_bank_new(const struct score_sounder *sounders, size_t n,
                                  const struct voice_set *voices, const struct score_style *style,
                                  struct err *e)
{
    if (!table_check(sounders, n, voices, style, e))
        return NULL;
    struct score_bank *b = mem_alloc(sizeof *b);
    *b = (struct score_bank){.sounder = sounders, .sounders = n, .voices = voices, .style = *style};
    if (b->style.rate_hz == 0)
        b->style.rate_hz = RATE_HZ;
    b->voice = mem_alloc((n + 1) * sizeof *b->voice);
    b->hz = mem_alloc((n + 1) * sizeof *b->hz);
    for (size_t i = 0; i < n; i++) {
        b->voice[i] = voice_find(voices, sounders[i].voice);
        b->hz[i] = detuned_hz(style, &sounders[i], i);
    }
    return b;
}

void score_bank_free(struct score_bank *b)
{
    if (!b)
        return;
    for (size_t i = 0; i < b->sounds; i++) {
        pcm_release(&b->sound[i]->pcm);
        mem_free(b->sound[i]);
    }
    mem_free(b->sound);
    mem_free(b->voice);
    mem_free(b->hz);
    mem_free(b);
}

/* Find or render.  The seed follows from what is asked for, so the same blow sounds the same. */
static const struct pcm *bank_get(struct score_bank *b, size_t owner, const struct voice *voice,
                                  struct render_blow blow)
{
    for (size_t i = 0; i < b->sounds; i++) {
        const struct bank_sound *s = b->sound[i];
        if (s->owner == owner && s->strength == blow.strength && s->quality == blow.quality)
            return &s->pcm;
    }
    struct bank_sound *s = mem_alloc(sizeof *s);
    *s = (struct bank_sound){owner, blow.strength, (uint8_t)blow.quality, {0}};
    blow.stretch = b->style.stretch;
    blow.decay = b->style.decay;
    blow.seed = b->style.seed * 2654435761u + owner * 977 + blow.quality;
    pcm_init(&s->pcm, b->style.rate_hz);
    render_blow(voice, &blow, &s->pcm);
    b->sound = mem_grow(b->sound, &b->sound_room, b->sounds + 1, sizeof(struct bank_sound *));
    b->sound[b->sounds++] = s;
    return &s->pcm;
}

/* Works stand behind the sounders in the numbering of owners, by their place in the voice set. */
static const struct pcm *bank_works(struct score_bank *b, const char *id, struct render_blow blow,
                                    size_t variant)
{
    const struct voice *v = voice_find(b->voices, id);
    if (!v)
        return NULL;
    size_t owner = b->sounders + (size_t)(v - b->voices->at) * WHIRR_KINDS + variant;
    return bank_get(b, owner, v, blow);
}

static bool sounds_here(const struct score_bank *b, const struct event *event)
{
    return event_sounds(event) && event->sounder < b->sounders && event->strength > 0;
}

const struct pcm *score_bank_sound(struct score_bank *b, const struct event *event)
{
    if (sounds_here(b, event)) {
        size_t i = event->sounder;
        struct render_blow blow = {.hz = b->hz[i], .strength = fminf(event->strength, 1),
                                   .quality = event->quality};
        return bank_get(b, i, b->voice[i], blow);
    }
    if (!b->style.works || event->kind >= EVENT_KINDS || !WORKS[event->kind].voice)
        return NULL;
    struct render_blow blow = {.hz = 1000, .strength = WORKS[event->kind].strength};
    return bank_works(b, WORKS[event->kind].voice, blow, 0);
}

float score_bank_gain(const struct score_bank *b, const struct event *event)
{
    if (!sounds_here(b, event))
        return 1;
    float gain = b->sounder[event->sounder].gain;
    return gain > 0 ? gain : 1;
}

/* ---- cues --------------------------------------------------------------------------------------- */

void score_places(const struct event_list *events, const struct score_style *style, double *t_s)
{
    double cut = 0, last = 0;
    for (size_t i = 0; i < events->count; i++) {
        double t = events->at[i].t_s, gap = t - last;
        if (style->gap_most_s > 0 && gap > style->gap_most_s)
            cut += gap - style->gap_most_s;
        last = fmax(t, 0);
        t_s[i] = style->lead_s + t - cut;
    }
}

static void cue_add(struct score_cues *c, double t_s, const struct pcm *sound, float gain, int event)
{
    if (!sound || !sound->frames)
        return;
    c->at = mem_grow(c->at, &c->room, c->count + 1, sizeof *c->at);
    c->at[c->count++] = (struct score_cue){t_s, sound, gain, event};
}

static bool stops_train(const struct event *e)
{
    return e->kind == EVENT_LOCK || e->kind == EVENT_STALL || e->kind == EVENT_JAM ||
           e->kind == EVENT_POWER_OUT;
}

/* When the train let go by event i comes to rest: at its lock, or shortly after its last sign. */
static double run_end_s(const struct event_list *events, const double *t_s, size_t i)
{
    double end = t_s[i] + WHIRR_S;
    for (size_t k = i + 1; k < events->count; k++) {
        const struct event *e = &events->at[k];
        if (e->train != events->at[i].train)
            continue;
        if (stops_train(e))
            return t_s[k];
        if (e->kind == EVENT_RELEASE || e->kind == EVENT_WARN)
            break;
        end = t_s[k] + WHIRR_S;
    }
    return end;
}

/* The fly from `from` to `to`: pieces that overlap by their rise and fall.  Four different ones take
 * turns so that no loop is heard. */
static void whirr_cue(struct score_bank *b, struct score_cues *c, double from_s, double to_s)
{
    const struct voice *v = voice_find(b->voices, "whirr");
    if (!v)
        return;
    double rise_s = v->attack_ms / 1000;
    struct render_blow blow = {.hz = 1000, .strength = 1, .hold_s = fmax(WHIRR_S - rise_s, 0.05)};
    size_t pieces = (size_t)fmax(floor((to_s - from_s) / WHIRR_S), 1);
    for (size_t i = 0; i < pieces; i++)
        cue_add(c, from_s + (double)i * WHIRR_S, bank_works(b, "whirr", blow, i % WHIRR_KINDS), 1,
                -1);
}

static void works_cue(struct score_bank *b, const struct event_list *events, const double *t_s,
                      struct score_cues *c)
{
    for (size_t i = 0; i < events->count; i++) {
        if (events->at[i].t_s < 0)
            continue;
        if (events->at[i].kind == EVENT_WARN)
            whirr_cue(b, c, t_s[i] - fmin(t_s[i], WARN_RUN_S), t_s[i]);
        else if (events->at[i].kind == EVENT_RELEASE)
            whirr_cue(b, c, t_s[i], run_end_s(events, t_s, i));
    }
}

static void ticks_cue(struct score_bank *b, double end_s, struct score_cues *c)
{
    static const char *const BEAT[2] = {"tick", "tock"};
    struct render_blow blow = {.hz = 1000, .strength = 1};
    float gain = b->style.tick_gain > 0 ? b->style.tick_gain : 1;
    double every_s = fmax(b->style.tick_s, 0.05);
    for (size_t i = 0; (double)i * every_s < end_s; i++)
        cue_add(c, (double)i * every_s, bank_works(b, BEAT[i % 2], blow, 0), gain, -1);
}

static bool length_check(double end_s, struct err *e)
{
    if (end_s <= SCORE_LONGEST_S)
        return true;
    err_add(e, "The run would sound for %.0f s, more than the %.0f s that are rendered at once; "
               "take a shorter span or cut the silences.",
            end_s, SCORE_LONGEST_S);
    return false;
}

static int by_time(const void *a, const void *b)
{
    double x = ((const struct score_cue *)a)->t_s, y = ((const struct score_cue *)b)->t_s;
    return (x > y) - (x < y);
}

bool score_cue(struct score_bank *b, const struct event_list *events, struct score_cues *c,
               struct err *e)
{
    c->count = 0;
    if (!events_check(events, b->sounders, e))
        return false;
    double *t_s = mem_alloc((events->count + 1) * sizeof *t_s);
    score_places(events, &b->style, t_s);
    double end_s = (events->count ? t_s[events->count - 1] : b->style.lead_s) + b->style.tail_s;
    bool good = length_check(end_s, e);
    if (good) {
        for (size_t i = 0; i < events->count; i++)
            if (events->at[i].t_s >= 0)
                cue_add(c, t_s[i], score_bank_sound(b, &events->at[i]),
                        score_bank_gain(b, &events->at[i]), (int)i);
        if (b->style.works)
            works_cue(b, events, t_s, c);
        if (b->style.tick_s > 0)
            ticks_cue(b, end_s, c);
        if (c->count)
            qsort(c->at, c->count, sizeof *c->at, by_time);
    }
    mem_free(t_s);
    return good;
}

void score_cues_release(struct score_cues *c)
{
    mem_free(c->at);
    *c = (struct score_cues){0};
}

/* ---- the whole ---------------------------------------------------------------------------------- */

static double last_place_s(const struct score_bank *b, const struct event_list *events)
{
    double *t_s = mem_alloc((events->count + 1) * sizeof *t_s);
    score_places(events, &b->style, t_s);
    double last = events->count ? t_s[events->count - 1] : b->style.lead_s;
    mem_free(t_s);
    return last;
}

/* tail_s after the last event, if one is asked for: shorter or longer than the ring. */
static void end_trim(struct pcm *out, const struct score_bank *b, const struct event_list *events)
{
    if (b->style.tail_s <= 0)
        return;
    size_t end = (size_t)lround((last_place_s(b, events) + b->style.tail_s) * out->rate_hz);
    pcm_reserve(out, end);
    out->frames = end;
}

static void mix_all(struct pcm *out, const struct score_bank *b, const struct score_cues *c)
{
    for (size_t i = 0; i < c->count; i++) {
        const struct score_cue *q = &c->at[i];
        pcm_mix(out, (size_t)lround(q->t_s * b->style.rate_hz), q->sound->at, q->sound->frames,
                q->gain);
    }
    float peak = pcm_peak(out);
    if (!b->style.keep_level && peak > 0.97f)
        pcm_scale(out, 0.97f / peak);
}

bool score_render(const struct event_list *events, const struct score_sounder *sounders, size_t n,
                  const struct voice_set *voices, const struct score_style *style,
                  struct pcm *out, struct err *e)
{
    struct score_cues cues = {0};
    pcm_release(out);
    struct score_bank *b = score_bank_new(sounders, n, voices, style, e);
    if (!b)
        return false;
    pcm_init(out, b->style.rate_hz);
    bool good = score_cue(b, events, &cues, e);
    if (good) {
        mix_all(out, b, &cues);
        end_trim(out, b, events);
    }
    score_cues_release(&cues);
    score_bank_free(b);
    return good;
}
