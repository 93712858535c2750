#include "sound/render.h"

#include <assert.h>
#include <math.h>
#include <string.h>
#include "event.h"
#include "random.h"

#define PI 3.14159265358979323846
#define SILENT_DB 70.0      /* a partial this far below the whole blow as made is over */
#define RING_MOST 2.5       /* low partials lose their energy to the block: no longer than this */
#define FADE_S 0.005        /* the end is faded so that it does not click */
#define WEAK_MOST 0.35f

/* What the quality bits and the strength make of the recipe. */
struct touch {
    double strength;   /* amplitude of the blow */
    double contact_s;  /* time the hammer stays on */
    double ring;       /* factor on ring times */
    double ring_most_s;
    double knock;      /* factor on the strike noise */
    double body;       /* factor on the tone */
    bool rattle, again;
};

static struct touch touch_of(const struct voice *v, const struct render_blow *b)
{
    float strength = b->strength;
    if (b->quality & QUALITY_WEAK && strength > WEAK_MOST)
        strength = WEAK_MOST;
    struct touch t = {
        .strength = strength,
        .contact_s = v->contact_ms / 1000,
        .ring = b->decay > 0 ? b->decay : 1,
        .ring_most_s = RENDER_LONGEST_S,
        .knock = 1,
        .body = 1,
    };
    if (b->quality & QUALITY_LOUD)
        t.strength *= 1.5;
    t.contact_s *= pow(fmax(t.strength, 0.02), -0.2);
    if (b->quality & QUALITY_TINNY) {
        t.contact_s /= 6;
        t.knock *= 2;
    }
    if (b->quality & QUALITY_THUD) {
        t.ring_most_s = 0.12;
        t.knock *= 3;
        t.body = 0.6;
    }
    if (b->quality & QUALITY_BUZZ) {
        t.rattle = true;
        t.ring *= 0.6;
    }
    t.again = b->quality & QUALITY_DOUBLE;
    return t;
}

double render_partial_hz(const struct voice *v, const struct render_blow *b, size_t i)
{
    return b->hz * pow(v->partial[i].ratio / v->pitch_ratio, 1 + v->stretch + b->stretch);
}

static double hammer_tilt(double hz, double contact_s)
{
    double x = 2 * hz * contact_s;
    return 1 / (1 + x * x);
}

/* A board small against the wave pushes air from its front round to its back: below its corner it
 * radiates 12 dB an octave less. */
static double board_share(double hz, double board_hz)
{
    double x = board_hz > 0 ? hz / board_hz : 1e6;
    return x * x / (1 + x * x);
}

/* What a partial puts out for a level of 1 under a contact of this length. */
static double woken(const struct voice *v, double hz, double contact_s)
{
    return hammer_tilt(hz, contact_s) * board_share(hz, v->board_hz);
}

static double ring_s(const struct voice *v, size_t i, double hz, const struct touch *t)
{
    double t60 = v->partial[i].t60_s;
    if (t60 <= 0)
        t60 = v->t60_s * fmin(pow(hz / v->t60_hz, -v->t60_slope), RING_MOST);
    return fmin(fmin(t60 * t->ring, t->ring_most_s), RENDER_LONGEST_S);
}

/* What brings the partials under a contact of this length to a root sum of squares of half the level. */
static double level_of(const struct voice *v, const struct render_blow *b, double contact_s)
{
    double sum = 0;
    for (size_t i = 0; i < v->partials; i++) {
        double a = v->partial[i].level * woken(v, render_partial_hz(v, b, i), contact_s);
        sum += a * a;
    }
    return sum > 0 ? 0.5 * v->level / sqrt(sum) : 0.5 * v->level;
}

/* Add amplitude * e^(-d t) sin(w t) down to the floor; y = 2 r cos(w) y1 - r^2 y2 is that sine. */
static void sine_add(struct pcm *out, double hz, double amplitude, double t60_s, double floor)
{
    double rate = out->rate_hz;
    if (hz >= 0.48 * rate || amplitude <= floor)
        return;
    double lasts_s = fmin(t60_s * 20 * log10(amplitude / floor) / 60, RENDER_LONGEST_S);
    size_t frames = (size_t)(lasts_s * rate);
    pcm_reserve(out, frames);
    double w = 2 * PI * hz / rate, r = pow(10, -3 / (t60_s * rate));
    double c1 = 2 * r * cos(w), c2 = r * r;
    double y2 = -amplitude * sin(w) / r, y1 = 0; /* y(-1), y(0) */
    for (size_t i = 0; i < frames; i++) {
        out->at[i] += (float)y1;
        double y = c1 * y1 - c2 * y2;
        y2 = y1;
        y1 = y;
    }
}

static void tone_struck(const struct voice *v, const struct render_blow *b, const struct touch *t,
                        struct pcm *out)
{
    /* A hard face puts the same blow into other partials; it does not add to it. */
    double as_made_s = b->quality & QUALITY_TINNY ? t->contact_s : v->contact_ms / 1000;
    double level = level_of(v, b, as_made_s) * t->strength * t->body;
    double floor = 0.5 * v->level * t->strength * pow(10, -SILENT_DB / 20);
    for (size_t i = 0; i < v->partials; i++) {
        const struct voice_partial *p = &v->partial[i];
        double hz = render_partial_hz(v, b, i), split = p->split > 0 ? p->split : v->split;
        double a = level * p->level * woken(v, hz, t->contact_s);
        double ring = ring_s(v, i, hz, t), second = split > 0 ? v->split_level : 0;
        sine_add(out, hz, a / (1 + second), ring, floor);
        sine_add(out, hz * (1 + split), a * second / (1 + second), ring, floor);
    }
}

/* ---- noise -------------------------------------------------------------------------------------- */

/* White noise through one pole up and two poles down, into a buffer that is all zero; scaled to a
 * peak of 1, so that levels do not depend on the width of the band. */
static void noise_fill(struct pcm *to, const struct voice_noise *n, struct random *rnd)
{
    double rate = to->rate_hz;
    double high = fmin(n->high_hz, 0.45 * rate), low = fmin(n->low_hz, 0.5 * high);
    double up = exp(-2 * PI * low / rate), down = 1 - exp(-2 * PI * high / rate);
    double last = 0, h = 0, l1 = 0, l2 = 0;
    for (size_t i = 0; i < to->frames; i++) {
        double x = 2 * random_unit(rnd) - 1;
        h = up * (h + x - last);
        last = x;
        l1 += down * (h - l1);
        l2 += down * (l1 - l2);
        to->at[i] = (float)l2;
    }
    float peak = pcm_peak(to);
    if (peak > 0)
        pcm_scale(to, 1 / peak);
}

/* A burst that falls by 60 dB in n->ms. */
static void knock_add(struct pcm *out, const struct voice_noise *n, double gain, struct random *rnd)
{
    if (gain <= 0)
        return;
    struct pcm burst = {0};
    pcm_init(&burst, out->rate_hz);
    pcm_reserve(&burst, (size_t)(n->ms / 1000 * out->rate_hz) + 1);
    noise_fill(&burst, n, rnd);
    double fall = pow(10, -3 / (n->ms / 1000 * out->rate_hz)), env = 1;
    for (size_t i = 0; i < burst.frames; i++, env *= fall)
        burst.at[i] *= (float)env;
    pcm_mix(out, 0, burst.at, burst.frames, (float)gain);
    pcm_release(&burst);
}

/* ---- pipes and noises that last ----------------------------------------------------------------- */

/* Wind in the bellows: rises in attack_ms, stays, falls in release_ms; 0 .. 1. */
struct wind {
    double attack_s, hold_s, release_s;
};

static struct wind wind_of(const struct voice *v, const struct render_blow *b)
{
    return (struct wind){v->attack_ms / 1000, b->hold_s > 0 ? b->hold_s : v->hold_s,
                         v->release_ms / 1000};
}

static double wind_s(const struct wind *w)
{
    return w->attack_s + w->hold_s + w->release_s;
}

static double wind_at(const struct wind *w, double t_s)
{
    double rest = wind_s(w) - t_s;
    double x = t_s < w->attack_s ? t_s / w->attack_s : rest < w->release_s ? rest / w->release_s : 1;
    return x <= 0 ? 0 : x * x * (3 - 2 * x);
}

/* A pipe with little wind speaks flat; one partial at a time, so the phase carries the bend. */
static void pipe_partial_add(struct pcm *out, const struct voice *v, double hz, double amplitude,
                             const struct wind *w)
{
    double rate = out->rate_hz, phase = 0;
    if (hz >= 0.48 * rate)
        return;
    for (size_t i = 0; i < out->frames; i++) {
        double wind = wind_at(w, (double)i / rate);
        out->at[i] += (float)(amplitude * wind * sin(phase));
        phase += 2 * PI * hz / rate * pow(2, -v->sag_cents / 1200 * (1 - wind));
        if (phase > 2 * PI)
            phase -= 2 * PI;
    }
}

/* Breath, or the whirr of a train: noise as long as the wind, in pulses when there is a flutter. */
static void lasting_noise_add(struct pcm *out, const struct voice *v, double gain,
                              const struct wind *w, struct random *rnd)
{
    if (gain <= 0)
        return;
    struct pcm hiss = {0};
    pcm_init(&hiss, out->rate_hz);
    pcm_reserve(&hiss, out->frames);
    noise_fill(&hiss, &v->noise, rnd);
    for (size_t i = 0; i < hiss.frames; i++) {
        double t_s = (double)i / out->rate_hz;
        double pulse = v->flutter_hz > 0 ? 0.6 + 0.4 * cos(2 * PI * v->flutter_hz * t_s) : 1;
        hiss.at[i] *= (float)(wind_at(w, t_s) * pulse);
    }
    pcm_mix(out, 0, hiss.at, hiss.frames, (float)gain);
    pcm_release(&hiss);
}

static void tone_pipe(const struct voice *v, const struct render_blow *b, const struct touch *t,
                      struct pcm *out, struct random *rnd)
{
    struct wind w = wind_of(v, b);
    double sum = 0, body = b->quality & QUALITY_THUD ? 0.1 : 1; /* the wind misses the lip */
    bool overblown = b->quality & QUALITY_TINNY;
    pcm_reserve(out, (size_t)(fmin(wind_s(&w), RENDER_LONGEST_S) * out->rate_hz));
    for (size_t i = 0; i < v->partials; i++)
        sum += v->partial[i].level * v->partial[i].level;
    double level = 0.5 * v->level * t->strength / sqrt(sum);
    for (size_t i = 0; i < v->partials; i++) {
        double a = level * v->partial[i].level * body;
        if (overblown)
            a *= i == 0 ? 0.4 : 4;
        pipe_partial_add(out, v, render_partial_hz(v, b, i), a, &w);
    }
    lasting_noise_add(out, v, 0.5 * v->level * v->noise.level * t->strength * t->knock, &w, rnd);
}

/* ---- recordings --------------------------------------------------------------------------------- */

/* A recording played faster or slower stands at another pitch: take its samples as if they had been
 * made at another rate. */
static void tone_recorded(const struct voice *v, const struct render_blow *b,
                          const struct touch *t, struct pcm *out)
{
    struct pcm as_if = v->recording, made = {0};
    double faster = v->kind == VOICE_NOISE ? 1 : b->hz / v->recording_hz;
    as_if.rate_hz = (int)lround(fmax(as_if.rate_hz * faster, 1));
    if (as_if.rate_hz == out->rate_hz)
        pcm_mix(out, 0, as_if.at, as_if.frames, 1);
    else
        pcm_resample(&as_if, out->rate_hz, &made);
    pcm_mix(out, 0, made.at, made.frames, 1);
    pcm_release(&made);
    float peak = pcm_peak(out);
    if (peak > 0)
        pcm_scale(out, (float)(0.5 * v->level * t->strength * t->body) / peak);
    double fall = pow(10, -3 / (t->ring_most_s * out->rate_hz)), env = 1;
    if (b->quality & QUALITY_THUD)
        for (size_t i = 0; i < out->frames; i++, env *= fall)
            out->at[i] *= (float)env;
}

/* A harsh hammer on a recording: the rise of the wave added to the wave. */
static void brighten(struct pcm *out)
{
    float last = 0;
    for (size_t i = 0; i < out->frames; i++) {
        float x = out->at[i];
        out->at[i] = 0.6f * x + 2 * (x - last);
        last = x;
    }
}

/* ---- faults that act on the whole wave ---------------------------------------------------------- */

/* Something stands a gap away from the sounder.  Each time the swing passes the gap the two touch:
 * a click as strong as the overshoot, and the swing beyond the gap is pushed back. */
static void rattle_add(struct pcm *out, struct random *rnd)
{
    float gap = 0.2f * pcm_peak(out), click = 0;
    float fall = (float)exp(-1 / (0.0012 * out->rate_hz));
    for (size_t i = 0; i < out->frames; i++) {
        float over = out->at[i] - gap;
        if (over > 0) {
            click = fmaxf(click, over);
            out->at[i] = gap + 0.5f * over;
        }
        out->at[i] += 0.5f * click * (float)(2 * random_unit(rnd) - 1);
        click *= fall;
    }
}

/* The hammer bounces: the same once more, weaker.  A pipe is blown again when it has fallen silent. */
static void again_add(struct pcm *out, const struct voice *v, struct random *rnd)
{
    struct pcm first = {0};
    pcm_init(&first, out->rate_hz);
    pcm_add(&first, out->at, out->frames);
    double late_s = 0.060 + 0.050 * random_unit(rnd);
    size_t late = v->kind == VOICE_PIPE ? first.frames : (size_t)(late_s * out->rate_hz);
    pcm_mix(out, late, first.at, first.frames, 0.55f);
    pcm_release(&first);
}

static void fade_end(struct pcm *out)
{
    size_t fade = (size_t)(FADE_S * out->rate_hz);
    if (fade > out->frames)
        fade = out->frames;
    for (size_t i = 0; i < fade; i++)
        out->at[out->frames - 1 - i] *= (float)i / (float)fade;
}

/* ---- the blow ----------------------------------------------------------------------------------- */

static void blow_struck(const struct voice *v, const struct render_blow *b, const struct touch *t,
                        struct pcm *out, struct random *rnd)
{
    tone_struck(v, b, t, out);
    knock_add(out, &v->noise, 0.5 * v->level * v->noise.level * t->strength * t->knock, rnd);
}

static void blow_noise(const struct voice *v, const struct render_blow *b, const struct touch *t,
                       struct pcm *out, struct random *rnd)
{
    double gain = 0.5 * v->level * v->noise.level * t->strength * t->knock;
    if (b->hold_s <= 0) {
        knock_add(out, &v->noise, gain, rnd);
        return;
    }
    struct wind w = wind_of(v, b);
    pcm_reserve(out, (size_t)(wind_s(&w) * out->rate_hz));
    lasting_noise_add(out, v, gain, &w, rnd);
}

void render_blow(const struct voice *v, const struct render_blow *b, struct pcm *out)
{
    int rate = out->rate_hz;
    assert(rate >= 4000 && rate <= 192000);
    pcm_release(out);
    pcm_init(out, rate);
    if (!(b->strength > 0))
        return;
    struct random rnd;
    random_init(&rnd, b->seed);
    struct touch t = touch_of(v, b);
    if (v->recording.frames) {
        tone_recorded(v, b, &t, out);
        if (b->quality & QUALITY_TINNY)
            brighten(out);
    } else if (v->kind == VOICE_PIPE) {
        tone_pipe(v, b, &t, out, &rnd);
    } else if (v->kind == VOICE_NOISE) {
        blow_noise(v, b, &t, out, &rnd);
    } else {
        blow_struck(v, b, &t, out, &rnd);
    }
    if (t.rattle)
        rattle_add(out, &rnd);
    if (t.again)
        again_add(out, v, &rnd);
    fade_end(out);
}
