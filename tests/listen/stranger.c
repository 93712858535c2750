#include "stranger.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "amr_write.h"

#define TURN       6.283185307179586
#define MODES_MOST 40
#define HAMMERS    STRANGER_HAMMERS
#define OTHER      5
#define BOUNCE_S   0.075

static double between(struct random *r, double low, double high)
{
    return low + (high - low) * random_unit(r);
}

static bool one_in(struct random *r, unsigned n)
{
    return random_below(r, n) == 0;
}

/* ---- sounders ---- */

struct mode {
    double hz, level, decay_s; /* to 1/e */
    double beat_hz, beat_depth;
};
struct sounder {
    struct mode mode[MODES_MOST];
    int modes;
    double click, rise_s;
};

static void add_mode(struct sounder *s, struct random *r, double hz, double level, double decay_s)
{
    if (s->modes < MODES_MOST && hz < 9000)
        s->mode[s->modes++] = (struct mode){
            hz * (1 + 0.004 * random_normal(r)), level * between(r, 0.6, 1.4),
            decay_s * between(r, 0.6, 1.6), one_in(r, 3) ? between(r, 0.3, 3) : 0, 0.25};
}

static void add_ratios(struct sounder *s, struct random *r, double hz, const double *ratio, int n,
                       double tilt, double decay_s)
{
    for (int i = 0; i < n; i++)
        add_mode(s, r, hz * ratio[i], pow(ratio[i] / ratio[0], -tilt),
                 decay_s * pow(ratio[i] / ratio[0], -0.6));
}

static void add_gong(struct sounder *s, struct random *r, double hz, double decay_s)
{
    for (double f = hz; f < 4000 && s->modes < 20; f *= between(r, 1.1, 1.3))
        add_mode(s, r, f, f < 350 ? f / 350 : 350 / f, decay_s * pow(f / hz, -0.4));
}

static void build(struct sounder *s, enum stranger_body body, double hz, double decay_s,
                  struct random *r)
{
    static const double harmonic[] = {1, 2, 3, 4, 5}, free_bar[] = {1, 2.756, 5.404, 8.933},
                        clamped[] = {1, 6.267, 17.55},
                        bell[] = {0.5, 1, 1.2, 1.5, 2, 2.5, 2.67, 3, 4},
                        tube[] = {0.2222, 0.6049, 1, 2.0, 3.0, 4.17, 5.55, 7.1, 8.9};
    *s = (struct sounder){.click = between(r, 0, 0.15), .rise_s = between(r, 0.0005, 0.004)};
    switch (body) {
    case BODY_SINE:
        add_mode(s, r, hz, 1, decay_s);
        break;
    case BODY_HARMONIC:
        add_ratios(s, r, hz, harmonic, 5, between(r, 0.8, 1.6), decay_s);
        break;
    case BODY_FREE_BAR:
        add_ratios(s, r, hz, free_bar, 4, between(r, 0.4, 1), decay_s);
        break;
    case BODY_CLAMPED_BAR:
        add_ratios(s, r, hz, clamped, 3, between(r, 0, 0.5), 1.5 * decay_s);
        break;
    case BODY_TUBE:
        add_ratios(s, r, hz, tube, 9, between(r, 0, 0.4), decay_s);
        break;
    case BODY_BELL:
        add_ratios(s, r, hz, bell, 9, between(r, 0.2, 0.8), decay_s);
        break;
    default:
        add_gong(s, r, 0.5 * hz, 1.5 * decay_s);
        break;
    }
}

static void make_beat(struct sounder *s, struct random *r)
{
    for (int m = 0; m < s->modes; m++) {
        s->mode[m].beat_hz = between(r, 0.4, 6);
        s->mode[m].beat_depth = between(r, 0.42, 0.5);
    }
}

/* One mode: a rotating pointer that shrinks, seen through its beating and its rise. */
static void sound_mode(const struct mode *o, double rise_s, struct pcm *p, size_t at, double level,
                       double phase)
{
    double rate = p->rate_hz, fall = exp(-1 / (o->decay_s * rate)),
           rise = exp(-1 / (rise_s * rate));
    double c = fall * cos(TURN * o->hz / rate), s = fall * sin(TURN * o->hz / rate),
           x = level * cos(phase), y = level * sin(phase);
    /* a blow wakes both of a pair at once: one that beats right down begins loud */
    double beat_phase = o->beat_depth < 0.4 ? phase : 0.5 * sin(phase);
    double bc = cos(TURN * o->beat_hz / rate), bs = sin(TURN * o->beat_hz / rate),
           bx = cos(beat_phase), by = sin(beat_phase), still = 1;
    size_t n = (size_t)(fmin(6 * o->decay_s, 9) * rate); /* fading out over the last third */
    pcm_reserve(p, at + n);
    for (size_t i = 0; i < n; i++) {
        double turned = c * x - s * y, beat = bc * bx - bs * by;
        y = s * x + c * y;
        x = turned;
        by = bs * bx + bc * by;
        bx = beat;
        still *= rise;
        double fade = i > 2 * n / 3 ? 3 * (1 - (double)i / (double)n) : 1;
        p->at[at + i] +=
            (float)(fade * y * (1 - still) * (o->beat_hz > 0 ? 1 - o->beat_depth * (1 - bx) : 1));
    }
}

static void sound(const struct sounder *s, struct pcm *p, double t_s, double strength,
                  struct random *r)
{
    size_t at = (size_t)(t_s * p->rate_hz), click = (size_t)(0.004 * p->rate_hz);
    for (int m = 0; m < s->modes; m++) {
        double phase = between(r, 0, TURN),
               level = strength * s->mode[m].level * between(r, 0.85, 1.15);
        if (s->mode[m].hz < 0.47 * p->rate_hz)
            sound_mode(&s->mode[m], s->rise_s, p, at, level, phase);
    }
    pcm_reserve(p, at + click);
    for (size_t i = 0; i < click; i++)
        p->at[at + i] +=
            (float)(strength * s->click * random_normal(r) * (1 - (double)i / (double)click));
}

/* A stopped pipe with a puff of air: it speaks within some 30 ms, a little flat at first. */
static void sound_pipe(double hz, struct pcm *p, double t_s, double strength, struct random *r)
{
    static const double level[] = {1, 0.25, 0.18, 0, 0.03};
    double rise_s = between(r, 0.02, 0.04), lasts_s = between(r, 0.18, 0.3), turn = 0, breath = 0;
    size_t at = (size_t)(t_s * p->rate_hz), n = (size_t)((lasts_s + 0.06) * p->rate_hz);
    pcm_reserve(p, at + n);
    for (size_t i = 0; i < n; i++) {
        double t = (double)i / p->rate_hz, sum = 0;
        double loud = fmin(1, t / rise_s) *
                      (t < lasts_s ? 1 - 0.3 * t / lasts_s : 0.7 * exp((lasts_s - t) / 0.015));
        turn += TURN * hz * (1 - 0.015 * exp(-t / 0.03)) / p->rate_hz;
        for (int k = 0; k < 5; k++)
            sum += level[k] * sin((k + 1) * turn);
        breath += 0.3 * (random_normal(r) - breath);
        p->at[at + i] += (float)(strength * loud * (sum + 0.15 * breath));
    }
}

/* ---- what is played ---- */

static void blow(struct stranger *s, double t_s, int hammer)
{
    if (s->blows < STRANGER_BLOWS && hammer != s->dead) {
        s->blow[s->blows].t_s = t_s;
        s->blow[s->blows].twice = false;
        s->blow[s->blows++].hammer = hammer;
    }
}

static double quarters(struct stranger *s, struct random *r, double t_s, int first, int changes,
                       double step_s)
{
    static const char drum[5][5] = {"1234", "3124", "3213", "1324", "4213"};
    double rest_s = step_s * between(r, 0.5, 1.5);
    for (int c = 0; c < changes; c++, t_s += rest_s)
        for (int k = 0; k < 4; k++, t_s += step_s * between(r, 0.97, 1.03))
            blow(s, t_s, drum[(first + c) % 5][k] - '1');
    return t_s;
}

static double hour(struct stranger *s, struct random *r, double t_s, int hammer)
{
    double step_s = between(r, 0.9, 2.5);
    int lifted = 1 + (int)random_below(r, 12), lost = -1;
    if (s->lost && lifted > 2)
        lost = 1 + (int)random_below(r, (unsigned)lifted - 2);
    for (int i = 0; i < lifted; i++, t_s += step_s * between(r, 0.985, 1.015))
        if (i != lost)
            blow(s, t_s, hammer);
    s->strikes = lifted - (lost > 0);
    return t_s;
}

static void play(struct stranger *s, struct random *r, double t_s)
{
    double step_s = between(r, 0.4, 0.95);
    s->letoffs = 1;
    switch (s->tune) {
    case TUNE_HOUR:
        hour(s, r, t_s, 4);
        break;
    case TUNE_QUARTER:
        quarters(s, r, t_s, (int)random_below(r, 5), 2 + (int)random_below(r, 2), step_s);
        break;
    case TUNE_QUARTERS_AND_HOUR:
        t_s = quarters(s, r, t_s, 1, 4, step_s);
        hour(s, r, t_s + between(r, 0.8, 3), 4);
        break;
    case TUNE_TWO_LETOFFS:
        t_s = quarters(s, r, t_s, 3, 3, step_s);
        t_s = quarters(s, r, t_s + between(r, 25, 40), 1, 4, step_s);
        hour(s, r, t_s + between(r, 0.8, 3), 4);
        s->letoffs = 2;
        break;
    default: {
        int pairs = 1 + (int)random_below(r, 3);
        for (int i = 0; i < pairs; i++, t_s += 3 * step_s) {
            blow(s, t_s, 0);
            blow(s, t_s + step_s, 2);
        }
    }
    }
}

/* The other clock's hour, put among the blows in order of time. */
static void other_hour(struct stranger *s, struct random *r)
{
    double step_s = between(r, 0.9, 2.5), t_s = s->blow[0].t_s + between(r, -0.3, 4);
    int strikes = 1 + (int)random_below(r, 12);
    for (int n = 0; n < strikes && s->blows < STRANGER_BLOWS;
         n++, t_s += step_s * between(r, 0.985, 1.015)) {
        size_t i = s->blows++;
        for (; i > 0 && s->blow[i - 1].t_s > t_s; i--)
            s->blow[i] = s->blow[i - 1];
        s->blow[i].t_s = t_s;
        s->blow[i].hammer = OTHER;
        s->blow[i].twice = false;
    }
    s->strikes = 0; /* two hours at once are no count of one */
}

/* Begin anew in the ring of a blow, a third of the way in; what fell before is not in the recording. */
static void cut(struct stranger *s, struct random *r)
{
    size_t gone = (s->blows + 2) / 3;
    if (gone >= s->blows)
        return;
    double from_s =
        s->blow[gone - 1].t_s + between(r, 0.1, 0.6) * (s->blow[gone].t_s - s->blow[gone - 1].t_s);
    size_t from = (size_t)(from_s * s->pcm.rate_hz);
    from_s = (double)from / s->pcm.rate_hz;
    memmove(s->pcm.at, s->pcm.at + from, (s->pcm.frames - from) * sizeof *s->pcm.at);
    s->pcm.frames -= from;
    s->strikes = s->tune == TUNE_HOUR ? s->strikes - (int)gone : s->strikes;
    s->blows -= gone;
    memmove(s->blow, s->blow + gone, s->blows * sizeof *s->blow);
    for (size_t i = 0; i < s->blows; i++)
        s->blow[i].t_s -= from_s;
}

/* Stop in the ring of a blow, two thirds of the way; what would have followed is not in the recording. */
static void stop(struct stranger *s, struct random *r)
{
    size_t left = s->blows - s->blows / 3;
    if (left >= s->blows)
        return;
    double until_s = s->blow[left - 1].t_s + between(r, 0.2, 0.8) * (s->blow[left].t_s - s->blow[left - 1].t_s);
    s->pcm.frames = (size_t)(until_s * s->pcm.rate_hz);
    s->strikes = s->tune == TUNE_HOUR ? s->strikes - (int)(s->blows - left) : 0;
    s->blows = left;
    if (s->tune == TUNE_TWO_LETOFFS && s->blow[left - 1].t_s - s->blow[0].t_s < 20)
        s->letoffs = 1;
}

/* ---- what lies between ---- */

static double loudest(const struct pcm *p)
{
    size_t block = (size_t)p->rate_hz / 20;
    double most = 1e-12;
    for (size_t from = 0; from + block <= p->frames; from += block) {
        double sum = 0;
        for (size_t i = from; i < from + block; i++)
            sum += (double)p->at[i] * (double)p->at[i];
        most = fmax(most, sum / (double)block);
    }
    return sqrt(most);
}

/* Noise that dies away, of scattered pulses; heard with the direct sound. */
static void room(struct pcm *p, double t60_s, struct random *r)
{
    struct pcm dry = {0};
    pcm_init(&dry, p->rate_hz);
    pcm_add(&dry, p->at, p->frames);
    double t = 0.008;
    for (int i = 0; i < 200 && t < t60_s; i++, t += t60_s / 200 * between(r, 0.2, 1.8))
        pcm_mix(p, (size_t)(t * p->rate_hz), dry.at, dry.frames,
                (float)((one_in(r, 2) ? 0.12 : -0.12) * pow(10, -3 * t / t60_s)));
    pcm_release(&dry);
}

static void pink(struct pcm *p, double rms, struct random *r)
{
    double low = 0, mid = 0;
    for (size_t i = 0; i < p->frames; i++) {
        double white = random_normal(r);
        low = 0.995 * low + 0.06 * white;
        mid = 0.93 * mid + 0.2 * white;
        p->at[i] += (float)(rms * (low + mid + 0.3 * white) / 0.9);
    }
}

/* One voice: pulses of the throat through two resonances that glide from sound to sound, hisses and stops between. */
static void talk(struct pcm *p, double rms, struct random *r)
{
    double rate = p->rate_hz, phase = 0, f0 = between(r, 95, 220), level = 0, y[2][2] = {{0}},
           formant[2] = {500, 1500}, hiss = 0;
    double to[2] = {500, 1500}, want = 0, want_hiss = 0;
    size_t left = 0;
    for (size_t i = 0; i < p->frames; i++) {
        if (left-- == 0) {
            left = (size_t)(between(r, 0.06, 0.25) * rate);
            unsigned kind = random_below(r, 6);
            want = kind < 4 ? between(r, 0.4, 1) : 0;
            want_hiss = kind == 4 ? between(r, 0.05, 0.2) : 0;
            to[0] = between(r, 280, 850);
            to[1] = between(r, 850, 2400);
            f0 *= between(r, 0.95, 1.05);
            f0 = f0 < 85 ? 120 : f0 > 260 ? 180 : f0;
            if (one_in(r, 9)) {
                left = (size_t)(between(r, 0.3, 1.2) * rate);
                want = want_hiss = 0;
            }
        }
        level += (want - level) * 90 / rate;
        hiss += (want_hiss - hiss) * 120 / rate;
        phase += f0 * (1 + 0.02 * sin(TURN * 2.3 * (double)i / rate)) / rate;
        double pulse = 0;
        if (phase >= 1) {
            phase -= 1;
            pulse = 1;
        }
        double x = level * pulse * rate / 2000, out = 0;
        for (int k = 0; k < 2; k++) {
            formant[k] += (to[k] - formant[k]) * 25 / rate;
            double radius = exp(-TURN / 2 * (70 + 40 * k) / rate),
                   c = 2 * radius * cos(TURN * formant[k] / rate);
            double now = (1 - radius) * x + c * y[k][0] - radius * radius * y[k][1];
            y[k][1] = y[k][0];
            y[k][0] = now;
            out += now * (k ? 0.5 : 1);
        }
        p->at[i] += (float)(rms * 6 * (out + hiss * 0.3 * random_normal(r)));
    }
}

/* A note of a band: five harmonics, plucked (sudden, dying) or bowed (swelling, ending). */
static void band_note(struct pcm *p, double t_s, double hz, double level, double lasts_s,
                      bool bowed)
{
    double rate = p->rate_hz;
    size_t n = (size_t)(lasts_s * rate);
    for (size_t at = (size_t)(t_s * rate), i = 0; i < n && at + i < p->frames; i++) {
        double t = (double)i / rate, x = 0;
        double shape = bowed ? fmin(t / 0.06, 1) * fmin((lasts_s - t) / 0.08, 1)
                             : fmin(t / 0.003, 1) * exp(-2.5 * t / lasts_s);
        double turn = TURN * hz * t + (bowed ? 0.004 * hz / 5.5 * sin(TURN * 5.5 * t) : 0);
        for (int k = 1; k <= 5; k++)
            x += sin(k * turn) / k;
        p->at[at + i] += (float)(level * shape * x);
    }
}

/* Chords on a beat, a bass, a brush on the drum. */
static void music(struct pcm *p, double rms, struct random *r)
{
    static const double scale[] = {0, 2, 4, 5, 7, 9, 11};
    double beat_s = between(r, 0.3, 0.6), key_hz = between(r, 220, 330);
    bool bowed = one_in(r, 2);
    struct pcm band = {0};
    pcm_init(&band, p->rate_hz);
    pcm_reserve(&band, p->frames);
    for (double t = 0.05; t * p->rate_hz < (double)p->frames; t += beat_s) {
        unsigned root = random_below(r, 7);
        for (unsigned k = 0; k < 3; k++)
            if (!one_in(r, 3))
                band_note(&band, t + between(r, 0, 0.02),
                          key_hz *
                              pow(2, (scale[(root + 2 * k) % 7] + 12 * random_below(r, 2)) / 12),
                          between(r, 0.3, 1), beat_s * (1 + random_below(r, 3)), bowed);
        band_note(&band, t, key_hz / 4 * pow(2, scale[root] / 12), 1, beat_s, false);
        for (size_t at = (size_t)(t * p->rate_hz), i = 0;
             i < (size_t)p->rate_hz / 12 && at + i < p->frames; i++)
            band.at[at + i] +=
                (float)(0.4 * random_normal(r) * exp(-(double)i / p->rate_hz / 0.02));
    }
    pcm_mix(p, 0, band.at, band.frames, (float)(rms / loudest(&band)));
    pcm_release(&band);
}

/* Knocks of a hand on the telephone: below 200 Hz, over in a tenth of a second. */
static void thumps(struct pcm *p, double rms, struct random *r)
{
    for (double t = between(r, 0.5, 3); t * p->rate_hz < (double)p->frames;
         t += between(r, 1.5, 6)) {
        double hz = between(r, 50, 180), decay_s = between(r, 0.015, 0.05);
        for (size_t i = (size_t)(t * p->rate_hz), k = 0;
             i < p->frames && (double)k < 0.3 * p->rate_hz; i++, k++)
            p->at[i] += (float)(2 * rms * exp(-(double)k / p->rate_hz / decay_s) *
                                (sin(TURN * hz * (double)k / p->rate_hz) + 0.1 * random_normal(r)));
    }
}

/* Somebody walks about, a few steps at a time: two feet, none set down like the other or the one before. */
static void steps(struct pcm *p, double rms, struct random *r)
{
    double hz[2] = {between(r, 90, 300), between(r, 90, 300)}, every_s = between(r, 0.45, 0.7);
    for (double t = between(r, 0.5, 2); t * p->rate_hz < (double)p->frames; t += between(r, 1, 5))
        for (unsigned n = 3 + random_below(r, 8); n > 0; n--, t += every_s * between(r, 0.93, 1.07)) {
            double level = 2 * rms * between(r, 0.4, 1), decay_s = between(r, 0.02, 0.05), hiss = 0;
            for (size_t i = (size_t)(t * p->rate_hz), k = 0;
                 i < p->frames && (double)k < 0.3 * p->rate_hz; i++, k++) {
                hiss += 0.3 * (random_normal(r) - hiss);
                p->at[i] += (float)(level * exp(-(double)k / p->rate_hz / decay_s) *
                                    (sin(TURN * hz[n % 2] * (double)k / p->rate_hz) + hiss));
            }
        }
}

/* A hand about the telephone: rustling that comes and goes, and a knock or two. */
static void handle(struct pcm *p, double from_s, double until_s, double rms, struct random *r)
{
    double level = 0, want = 0, low = 0, high = 0;
    size_t from = (size_t)(fmax(0, from_s) * p->rate_hz), until = (size_t)(fmax(0, until_s) * p->rate_hz), left = 0;
    for (size_t i = from; i < until && i < p->frames; i++) {
        if (left-- == 0) {
            left = (size_t)(between(r, 0.02, 0.2) * p->rate_hz);
            want = one_in(r, 3) ? 0 : between(r, 0.2, 1);
        }
        level += (want - level) * 200 / p->rate_hz;
        low += 0.2 * (random_normal(r) - low);
        high += 0.7 * (low - high);
        p->at[i] += (float)(3 * rms * level * (low - 0.8 * high));
    }
    for (unsigned n = 1 + random_below(r, 2); n > 0; n--) {
        double t_s = between(r, from_s, until_s), hz = between(r, 60, 400), decay_s = between(r, 0.008, 0.04);
        for (size_t i = (size_t)(fmax(0, t_s) * p->rate_hz), k = 0; i < p->frames && (double)k < 0.2 * p->rate_hz; i++, k++)
            p->at[i] += (float)(2 * rms * exp(-(double)k / p->rate_hz / decay_s) *
                                (sin(TURN * hz * (double)k / p->rate_hz) + 0.3 * random_normal(r)));
    }
}

/* A voice between two moments. */
static void say(struct pcm *p, double from_s, double until_s, double rms, struct random *r)
{
    struct pcm words = {0};
    double fade_s = 0.02;
    size_t from = (size_t)(fmax(0, from_s) * p->rate_hz);
    pcm_init(&words, p->rate_hz);
    pcm_reserve(&words, (size_t)((until_s - fmax(0, from_s)) * p->rate_hz));
    talk(&words, rms, r);
    for (size_t i = 0; i < words.frames; i++) {
        double edge_s = fmin((double)i, (double)(words.frames - i)) / p->rate_hz;
        words.at[i] *= (float)fmin(1, edge_s / fade_s);
    }
    if (from + words.frames <= p->frames)
        pcm_mix(p, from, words.at, words.frames, 1);
    pcm_release(&words);
}

/* A door: a dull thud of a big board, its latch, and the room after it. */
static void door(struct pcm *p, double t_s, double rms, struct random *r)
{
    double hz[4], decay_s[4];
    for (int k = 0; k < 4; k++) {
        hz[k] = between(r, 45, 400);
        decay_s[k] = between(r, 0.03, 0.12);
    }
    for (size_t i = (size_t)(t_s * p->rate_hz), k = 0; i < p->frames && (double)k < 0.8 * p->rate_hz; i++, k++) {
        double t = (double)k / p->rate_hz, x = 0;
        for (int m = 0; m < 4; m++)
            x += exp(-t / decay_s[m]) * sin(TURN * hz[m] * t);
        double latch = t > 0.02 ? exp(-(t - 0.02) / 0.006) : 0;
        p->at[i] += (float)(rms * (x + (0.6 * latch + 0.25 * exp(-t / 0.15)) * random_normal(r)));
    }
}

/* Tick and tock, each a pair of little wooden knocks. */
static void ticks(struct pcm *p, double rms, struct random *r)
{
    double every_s = between(r, 0.2, 0.6), hz[2] = {between(r, 900, 2500), between(r, 900, 2500)};
    int n = 0;
    for (double t = 0.1; t * p->rate_hz < (double)p->frames; t += every_s, n++)
        for (int part = 0; part < 2; part++)
            for (size_t i = (size_t)((t + 0.012 * part) * p->rate_hz), k = 0;
                 i < p->frames && (double)k < 0.03 * p->rate_hz; i++, k++)
                p->at[i] += (float)(rms * (part ? 1 : 0.6) * exp(-(double)k / p->rate_hz / 0.003) *
                                    (sin(TURN * hz[n % 2] * (double)k / p->rate_hz) +
                                     0.4 * random_normal(r)));
}

static void hum(struct pcm *p, double rms)
{
    for (size_t i = 0; i < p->frames; i++) {
        double w = TURN * 60 * (double)i / p->rate_hz;
        p->at[i] +=
            (float)(rms * (sin(w) + 0.6 * sin(3 * w) + 0.3 * sin(5 * w) + 0.15 * sin(9 * w)));
    }
}

static void pump(struct pcm *p)
{
    double up = 1 - exp(-1 / (0.003 * p->rate_hz)), down = 1 - exp(-1 / (0.25 * p->rate_hz)),
           level = 0.1;
    for (size_t i = 0; i < p->frames; i++) {
        double size = fabs((double)p->at[i]);
        level += (size > level ? up : down) * (size - level);
        p->at[i] *= (float)fmin(0.3 / fmax(level, 1e-4), 30);
    }
}

static void drop(struct pcm *p, double db)
{
    size_t middle = p->frames / 2, fade = (size_t)p->rate_hz / 10;
    for (size_t i = middle; i < p->frames; i++) {
        double share = i - middle < fade ? (double)(i - middle) / (double)fade : 1;
        p->at[i] *= (float)pow(10, share * db / 20);
    }
}

/* What the one who records does, about the blows. */
static void add_company(struct pcm *p, const struct stranger_way *w, double first_s, double last_s, double rms, struct random *r)
{
    double end_s = (double)p->frames / p->rate_hz;
    if (w->handled_db != 0) {
        double level = rms * pow(10, w->handled_db / 20);
        handle(p, 0, fmin(1.5, first_s - 0.2), level, r);
        handle(p, fmax(end_s - 1.2, last_s + 0.8), end_s - 0.05, level, r);
    }
    if (w->said_db != 0) {
        double level = rms * pow(10, w->said_db / 20), lasts_s = between(r, 0.4, 0.9);
        say(p, first_s - lasts_s - between(r, 0.15, 0.5), first_s - 0.15, level, r);
        say(p, last_s + between(r, 0.8, 1.2), last_s + between(r, 1.5, 2), level, r);
    }
    if (w->door_db != 0)
        door(p, between(r, first_s, last_s + 1), rms * pow(10, w->door_db / 20), r);
}

static void add_surroundings(struct pcm *p, const struct stranger_way *w, double first_s, double last_s, struct random *r)
{
    if (w->room_s > 0)
        room(p, w->room_s, r);
    double rms = loudest(p);
    for (size_t i = 0; w->no_clock && i < p->frames; i++)
        p->at[i] = 0;
    add_company(p, w, first_s, last_s, rms, r);
    if (w->talk_db != 0)
        talk(p, rms * pow(10, w->talk_db / 20), r);
    if (w->music_db != 0)
        music(p, rms * pow(10, w->music_db / 20), r);
    if (w->tick_db != 0)
        ticks(p, rms * pow(10, w->tick_db / 20), r);
    if (w->thump_db != 0)
        thumps(p, rms * pow(10, w->thump_db / 20), r);
    if (w->steps_db != 0)
        steps(p, rms * pow(10, w->steps_db / 20), r);
    if (w->hum_db != 0)
        hum(p, rms * pow(10, w->hum_db / 20));
    if (w->noise_db != 0)
        pink(p, rms * pow(10, w->noise_db / 20), r);
}

static void record(struct pcm *p, const struct stranger_way *w)
{
    float peak = pcm_peak(p);
    pcm_scale(p, peak > 0 ? 0.8f / peak : 1);
    if (w->drop_db != 0)
        drop(p, w->drop_db);
    if (w->pumping)
        pump(p);
    if (w->level_db != 0)
        pcm_scale(p, (float)pow(10, w->level_db / 20));
    float most = w->clip > 0 ? pcm_peak(p) * (float)w->clip : 0.98f;
    for (size_t i = 0; i < p->frames; i++) {
        float v = p->at[i];
        p->at[i] = (v > most ? most : v < -most ? -most : v) + (float)w->offset;
    }
}

static void render(struct stranger *s, const struct stranger_way *w, bool doubles, struct random *r)
{
    static const double semitones[HAMMERS] = {0, 2, 4, 9, 16, 13};
    struct sounder sounder[HAMMERS];
    double top_hz = between(r, 370, 700), decay_s = w->dull         ? between(r, 0.015, 0.035)
                                                    : w->short_decay ? 0.25
                                                    : w->long_decay  ? 3
                                                                     : between(r, 0.5, 1.6);
    for (int i = 0; i < HAMMERS; i++) {
        if (i == OTHER && !w->other_clock && !w->chord)
            break;
        enum stranger_body body =
            i == OTHER && !w->chord ? (enum stranger_body)((s->body + 1 + random_below(r, BODY_BODIES - 1)) %
                                              BODY_BODIES)
                       : s->body;
        build(&sounder[i], body, top_hz * pow(2, -semitones[i] / 12), decay_s * (i >= 4 ? 1.5 : 1),
              r);
        if (w->beating)
            make_beat(&sounder[i], r);
    }
    double soft[HAMMERS] = {1, 1, 1, 1, 1, 1};
    for (int i = 0; i < HAMMERS && w->uneven; i++)
        soft[i] = pow(10, -between(r, 0, 20) / 20);
    for (size_t i = 0; i < s->blows; i++) {
        double strength = between(r, 0.6, 1) * soft[s->blow[i].hammer];
        if (w->blown) {
            sound_pipe(top_hz * pow(2, (4 - semitones[s->blow[i].hammer]) / 12), &s->pcm,
                       s->blow[i].t_s, strength, r);
            continue;
        }
        sound(&sounder[s->blow[i].hammer], &s->pcm, s->blow[i].t_s, strength, r);
        if (w->chord && s->blow[i].hammer == 4)
            sound(&sounder[5], &s->pcm, s->blow[i].t_s + between(r, 0, 0.012), strength * between(r, 0.6, 1), r);
        if (doubles && one_in(r, 4)) {
            s->blow[i].twice = true;
            sound(&sounder[s->blow[i].hammer], &s->pcm,
                  s->blow[i].t_s + BOUNCE_S * between(r, 0.8, 1.3), 0.55 * strength, r);
        }
    }
    pcm_reserve(&s->pcm, s->pcm.frames + (size_t)((0.5 + 0.5 * w->lead_s) * s->pcm.rate_hz));
}

static void keep_first(struct stranger *s)
{
    s->blows = s->letoffs = 1;
    s->strikes = s->tune == TUNE_HOUR;
}

void stranger_make(struct stranger *s, enum stranger_body body, enum stranger_tune tune,
                   bool doubles, bool dead, const struct stranger_way *way, struct random *r)
{
    bool used[HAMMERS] = {false};
    *s = (struct stranger){.body = body, .tune = tune, .dead = -1};
    if (dead && tune != TUNE_HOUR && tune != TUNE_TING_TANG)
        s->dead = (int)random_below(r, 4);
    s->lost = dead && tune == TUNE_HOUR;
    pcm_init(&s->pcm, way->rate_hz ? way->rate_hz : 44100);
    play(s, r, way->lead_s + between(r, 0.4, 2));
    if (way->lone)
        keep_first(s);
    if (way->other_clock)
        other_hour(s, r);
    render(s, way, doubles, r);
    if (way->cut)
        cut(s, r);
    if (way->stopped)
        stop(s, r);
    double first_s = s->blow[0].t_s, last_s = s->blow[s->blows - 1].t_s;
    if (way->no_clock) {
        s->blows = s->letoffs = 0;
        s->strikes = 0;
    }
    for (size_t i = 0; i < s->blows; i++)
        used[s->blow[i].hammer] = true;
    for (int i = 0; i < HAMMERS; i++)
        s->sounders += used[i];
    add_surroundings(&s->pcm, way, first_s, last_s, r);
    record(&s->pcm, way);
}

void stranger_release(struct stranger *s)
{
    pcm_release(&s->pcm);
}

/* ---- the file ---- */

static void put(FILE *f, uint32_t value, int bytes)
{
    for (int i = 0; i < bytes; i++)
        fputc((int)(value >> 8 * i & 255), f);
}

static bool write_wav(const struct pcm *p, const struct stranger_way *w, const char *path)
{
    uint32_t channels = w->dead_channel || w->against ? 2 : 1,
             bytes = (uint32_t)p->frames * channels * 2, rate = (uint32_t)p->rate_hz;
    FILE *f = fopen(path, "wb");
    if (!f)
        return false;
    fputs("RIFF", f), put(f, 36 + bytes, 4), fputs("WAVEfmt ", f), put(f, 16, 4), put(f, 1, 2),
        put(f, channels, 2);
    put(f, rate, 4), put(f, rate * channels * 2, 4), put(f, channels * 2, 2), put(f, 16, 2),
        fputs("data", f), put(f, bytes, 4);
    for (size_t i = 0; i < p->frames; i++) {
        int v = (int)lrintf(32767 * fmaxf(-1, fminf(1, p->at[i])));
        put(f, (uint32_t)v & 65535, 2);
        if (channels == 2)
            put(f, w->against ? (uint32_t)(-v * 9 / 10) & 65535 : 0, 2);
    }
    return fclose(f) == 0;
}

bool stranger_write(const struct stranger *s, const struct stranger_way *way, const char *folder,
                    char *path, size_t path_size)
{
    char base[96], arguments[200], command[512];
    snprintf(base, sizeof base, "%s/stranger", folder);
    snprintf(path, path_size, "%s.%s", base, way->amr ? "amr" : "wav");
    if (way->amr)
        return amr_write_narrow(&s->pcm, path);
    if (!write_wav(&s->pcm, way, path) || !way->codec)
        return !way->codec;
    snprintf(arguments, sizeof arguments, way->codec, base);
    snprintf(command, sizeof command, "ffmpeg -hide_banner -loglevel error -nostdin -y -i %s %s",
             path, arguments);
    snprintf(path, path_size, "%s%s", base, strrchr(arguments, '.'));
    return system(command) == 0;
}

const char *stranger_body_name(enum stranger_body body)
{
    static const char *const names[BODY_BODIES] = {"sine", "harmonic", "free bar", "clamped bar",
                                                   "tube", "bell",     "gong"};
    return names[body];
}

const char *stranger_tune_name(enum stranger_tune tune)
{
    static const char *const names[TUNE_TUNES] = {"hour", "quarter", "quarters and hour",
                                                  "two let-offs", "ting-tang"};
    return names[tune];
}
