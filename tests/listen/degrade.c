#include "degrade.h"

#include <math.h>
#include <stddef.h>

#define PI        3.14159265358979323846
#define BLOCK_S   0.05
#define SOUNDING  1e-3 /* of the loudest block's power: 30 dB */
#define LOW_HZ    300.0
#define HIGH_HZ   3400.0
#define TALKERS   6

/* ---- power -------------------------------------------------------------------------------------- */

static double block_power(const struct pcm *p, size_t from, size_t frames)
{
    double sum = 0;
    for (size_t i = from; i < from + frames; i++)
        sum += (double)p->at[i] * p->at[i];
    return sum / (double)frames;
}

double degrade_power(const struct pcm *p)
{
    size_t block = (size_t)(BLOCK_S * p->rate_hz), blocks = block ? p->frames / block : 0, used = 0;
    double most = 0, sum = 0;
    for (size_t i = 0; i < blocks; i++)
        most = fmax(most, block_power(p, i * block, block));
    for (size_t i = 0; i < blocks; i++) {
        double power = block_power(p, i * block, block);
        if (power < SOUNDING * most)
            continue;
        sum += power;
        used++;
    }
    return used ? sum / (double)used : 0;
}

/* ---- filters ------------------------------------------------------------------------------------ */

/* Second order section, transposed direct form; coefficients as in the bilinear transform. */
struct section {
    double b0, b1, b2, a1, a2, z1, z2;
};

static struct section section_edge(double hz, double q, int rate_hz, bool high)
{
    double w = 2 * PI * hz / rate_hz, alpha = sin(w) / (2 * q), a0 = 1 + alpha;
    double edge = high ? 1 + cos(w) : 1 - cos(w);
    return (struct section){
        .b0 = edge / 2 / a0,
        .b1 = (high ? -edge : edge) / a0,
        .b2 = edge / 2 / a0,
        .a1 = -2 * cos(w) / a0,
        .a2 = (1 - alpha) / a0,
    };
}

/* A resonator with gain about 1 at its top. */
static struct section section_peak(double hz, double q, int rate_hz)
{
    double w = 2 * PI * hz / rate_hz, alpha = sin(w) / (2 * q), a0 = 1 + alpha;
    return (struct section){
        .b0 = alpha / a0,
        .b2 = -alpha / a0,
        .a1 = -2 * cos(w) / a0,
        .a2 = (1 - alpha) / a0,
    };
}

static double section_step(struct section *s, double x)
{
    double y = s->b0 * x + s->z1;
    s->z1 = s->b1 * x - s->a1 * y + s->z2;
    s->z2 = s->b2 * x - s->a2 * y;
    return y;
}

/* The two sections of a Butterworth filter of 4th order have Q = 1 / (2 cos(pi/8)) and
 * 1 / (2 cos(3 pi/8)). */
static void edge_apply(struct pcm *p, double hz, bool high)
{
    if (hz > 0.45 * p->rate_hz)
        return;
    struct section a = section_edge(hz, 1 / (2 * cos(PI / 8)), p->rate_hz, high);
    struct section b = section_edge(hz, 1 / (2 * cos(3 * PI / 8)), p->rate_hz, high);
    for (size_t i = 0; i < p->frames; i++)
        p->at[i] = (float)section_step(&b, section_step(&a, p->at[i]));
}

void degrade_phone(struct pcm *p)
{
    edge_apply(p, LOW_HZ, true);
    edge_apply(p, HIGH_HZ, false);
}

/* ---- the room ----------------------------------------------------------------------------------- */

/* A delay that feeds itself: a comb, or with the direct path taken out an all-pass. */
struct delay {
    struct pcm line;
    size_t at;
    double back;
};

static struct delay delay_make(int rate_hz, double s, double back)
{
    struct delay d = {.back = back};
    pcm_init(&d.line, rate_hz);
    pcm_reserve(&d.line, (size_t)(s * rate_hz) + 1);
    return d;
}

static double delay_step(struct delay *d, double x, bool all_pass)
{
    double old = d->line.at[d->at];
    double in = x + d->back * old;
    d->line.at[d->at] = (float)in;
    d->at = (d->at + 1) % d->line.frames;
    return all_pass ? old - d->back * in : old;
}

/* Six combs side by side, then two all-passes: M. R. Schroeder, Natural sounding artificial
 * reverberation, J. Audio Eng. Soc. 10 (1962).  A comb of delay D falls by 60 dB in t60 when it feeds
 * back 10^(-3 D / t60). */
void degrade_room(struct pcm *p, double t60_s, double level, struct random *r)
{
    enum { COMBS = 6, PASSES = 2 };
    struct delay comb[COMBS], pass[PASSES];
    size_t frames = p->frames;
    for (int i = 0; i < COMBS; i++) {
        double s = 0.023 + 0.006 * i + 0.004 * random_unit(r);
        comb[i] = delay_make(p->rate_hz, s, pow(10, -3 * s / t60_s));
    }
    for (int i = 0; i < PASSES; i++)
        pass[i] = delay_make(p->rate_hz, 0.0017 + 0.0033 * i, 0.6);
    pcm_reserve(p, frames + (size_t)(t60_s * p->rate_hz));
    for (size_t i = 0; i < p->frames; i++) {
        double wet = 0;
        for (int k = 0; k < COMBS; k++)
            wet += delay_step(&comb[k], p->at[i], false) / COMBS;
        for (int k = 0; k < PASSES; k++)
            wet = delay_step(&pass[k], wet, true);
        p->at[i] += (float)(2.4 * level * wet); /* combs add as powers: sqrt(6) */
    }
    for (int i = 0; i < COMBS; i++)
        pcm_release(&comb[i].line);
    for (int i = 0; i < PASSES; i++)
        pcm_release(&pass[i].line);
}

/* ---- sounds beside the clock's strike ----------------------------------------------------------- */

void degrade_tick(struct pcm *p, double every_s, double db, struct random *r)
{
    double gain = pcm_peak(p) * pow(10, db / 20), fall = exp(-1 / (0.0025 * p->rate_hz));
    size_t length = (size_t)(0.02 * p->rate_hz);
    double first_s = every_s * random_unit(r);
    for (size_t n = 0;; n++) {
        size_t start = (size_t)((first_s + (double)n * every_s) * p->rate_hz);
        if (start + length >= p->frames)
            return;
        struct section body = section_peak(n % 2 ? 2300 : 1900, 2, p->rate_hz);
        double env = gain * 3; /* the resonator lets a third through */
        for (size_t i = 0; i < length; i++, env *= fall)
            p->at[start + i] += (float)section_step(&body, env * (2 * random_unit(r) - 1));
    }
}

void degrade_hum(struct pcm *p, double db)
{
    double a = sqrt(2 * degrade_power(p) * pow(10, db / 10));
    for (size_t i = 0; i < p->frames; i++) {
        double w = 2 * PI * 50 * (double)i / p->rate_hz;
        p->at[i] += (float)(a * (0.8 * sin(w) + 0.5 * sin(2 * w) + 0.3 * sin(3 * w)));
    }
}

/* ---- noise -------------------------------------------------------------------------------------- */

static void white_fill(struct pcm *n, struct random *r)
{
    for (size_t i = 0; i < n->frames; i++)
        n->at[i] = (float)random_normal(r);
}

/* One far voice: a buzz at the pitch of speech through two resonances that change with each
 * syllable, three to six syllables a second, with pauses. */
struct talker {
    double f0_hz, phase;
    struct section formant[2];
    size_t left; /* frames left of this syllable */
    double level, target;
};

static void syllable_next(struct talker *t, int rate_hz, struct random *r)
{
    t->left = (size_t)((0.16 + 0.17 * random_unit(r)) * rate_hz);
    t->target = random_unit(r) < 0.25 ? 0 : 0.4 + 0.6 * random_unit(r);
    t->f0_hz *= 0.94 + 0.12 * random_unit(r);
    if (t->f0_hz < 80 || t->f0_hz > 260)
        t->f0_hz = 110 + 90 * random_unit(r);
    t->formant[0] = section_peak(300 + 500 * random_unit(r), 5, rate_hz);
    t->formant[1] = section_peak(900 + 1500 * random_unit(r), 8, rate_hz);
}

static double talker_step(struct talker *t, int rate_hz, struct random *r)
{
    if (t->left-- == 0)
        syllable_next(t, rate_hz, r);
    t->level += (t->target - t->level) * 60 / rate_hz;
    t->phase += t->f0_hz / rate_hz;
    if (t->phase >= 1)
        t->phase -= 1;
    double buzz = 1 - 2 * t->phase + 0.2 * (2 * random_unit(r) - 1);
    return t->level *
           (section_step(&t->formant[0], buzz) + 0.7 * section_step(&t->formant[1], buzz));
}

static void babble_fill(struct pcm *n, struct random *r)
{
    struct talker talker[TALKERS];
    for (int k = 0; k < TALKERS; k++) {
        talker[k] = (struct talker){.f0_hz = 100 + 120 * random_unit(r)};
        syllable_next(&talker[k], n->rate_hz, r);
    }
    for (size_t i = 0; i < n->frames; i++)
        for (int k = 0; k < TALKERS; k++)
            n->at[i] += (float)talker_step(&talker[k], n->rate_hz, r);
}

void degrade_noise(struct pcm *p, enum degrade_noise kind, double snr_db, bool phone,
                   struct random *r)
{
    struct pcm noise = {0};
    if (kind == NOISE_NONE || !p->frames)
        return;
    pcm_init(&noise, p->rate_hz);
    pcm_reserve(&noise, p->frames);
    if (kind == NOISE_WHITE)
        white_fill(&noise, r);
    else
        babble_fill(&noise, r);
    if (phone)
        degrade_phone(&noise);
    double power = block_power(&noise, 0, noise.frames);
    double gain = sqrt(degrade_power(p) / power * pow(10, -snr_db / 10));
    pcm_mix(p, 0, noise.at, noise.frames, (float)gain);
    pcm_release(&noise);
}

/* ---- the recorder ------------------------------------------------------------------------------- */

/* Follows the level with a quick rise (10 ms) and a slow fall (0.8 s) and holds the output near a
 * fifth of full scale, raising quiet parts at most by 20 dB. */
void degrade_gain_control(struct pcm *p)
{
    double up = 1 - exp(-1 / (0.01 * p->rate_hz)), down = 1 - exp(-1 / (0.8 * p->rate_hz));
    double level = 0.2;
    for (size_t i = 0; i < p->frames; i++) {
        double size = fabs(p->at[i]);
        level += (size > level ? up : down) * (size - level);
        p->at[i] *= (float)fmin(0.2 / fmax(level, 1e-6), 10);
    }
}

void degrade_clip(struct pcm *p, double part_of_peak)
{
    float most = pcm_peak(p) * (float)part_of_peak;
    for (size_t i = 0; i < p->frames; i++)
        p->at[i] = fminf(fmaxf(p->at[i], -most), most);
}

/* The continuous form of the law with mu = 255, cut to 8 bits; full scale is the peak or 1. */
void degrade_mulaw(struct pcm *p)
{
    double full = fmax(pcm_peak(p), 1e-9), mu = 255;
    if (full < 1)
        full = 1;
    for (size_t i = 0; i < p->frames; i++) {
        double x = p->at[i] / full;
        double code = round(127 * copysign(log1p(mu * fabs(x)) / log1p(mu), x)) / 127;
        p->at[i] = (float)(full * copysign(expm1(fabs(code) * log1p(mu)) / mu, code));
    }
}

void degrade_apply(const struct degrade *d, struct pcm *p, struct random *r)
{
    if (d->room_s > 0)
        degrade_room(p, d->room_s, d->room_level > 0 ? d->room_level : 0.4, r);
    if (d->tick_every_s > 0)
        degrade_tick(p, d->tick_every_s, d->tick_db, r);
    if (d->hum_db < 0)
        degrade_hum(p, d->hum_db);
    if (d->phone)
        degrade_phone(p);
    degrade_noise(p, d->noise, d->snr_db, d->phone, r);
    if (d->gain_control)
        degrade_gain_control(p);
    if (d->clip > 0)
        degrade_clip(p, d->clip);
    if (d->mulaw)
        degrade_mulaw(p);
}
