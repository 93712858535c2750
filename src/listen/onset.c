#include "listen/onset.h"

#include <math.h>
#include <stdbool.h>
#include <string.h>

#include <kiss_fftr.h>

#include "mem.h"

#define LOW_LINE 9    /* 141 Hz */
#define HIGH_LINE 233 /* 3641 Hz */
#define LINES (HIGH_LINE - LOW_LINE)
#define LAG 5         /* frames between a frame and what predicts it */
#define PAST 16       /* frames kept; a power of two over LAG and DELAY */
#define DELAY 5       /* the recent mean leaves out the youngest frames */
#define FORGET 0.93f  /* of the predictor, a frame: memory about 140 ms */
#define SLOW 0.95f    /* of the recent mean: about 200 ms */
#define FLOOR 1e-10f  /* power of a line in digital silence, window gain included */
#define GATE 6.0f     /* what a line must exceed its recent mean by */
#define GATE_LN 1.791759f
#define AROUND 6      /* a peak is the highest within so many frames to either side */
#define HISTORY 512   /* frames of novelty for the measure of its usual level */
#define LEAST 2.0f    /* novelty that is worth a look at all */
#define QUEUE 64
#define PENDING (16 * ONSET_WINDOW) /* samples kept back, so that they are seldom moved */

/* One number a line, side by side so that the compiler works on several at once. */
struct lines {
    float re[PAST][LINES], im[PAST][LINES];
    float num_re[LINES], num_im[LINES], den[LINES];
    float mean[LINES];       /* of |E|^2, delayed */
    float past[PAST][LINES]; /* |E|^2 lately */
};

struct onset_finder {
    kiss_fftr_cfg fft;
    float window[ONSET_WINDOW], frame[ONSET_WINDOW];
    float pending[PENDING];
    size_t pending_count;
    struct lines line;
    float novelty[HISTORY];
    float usual;         /* slow mean of novelty, capped */
    size_t frames;       /* frames analysed */
    float loudest;       /* slow maximum of line power */
    struct onset queue[QUEUE];
    size_t queued, taken;
};

struct onset_finder *onset_new(void)
{
    struct onset_finder *f = mem_alloc(sizeof *f);
    f->fft = kiss_fftr_alloc(ONSET_WINDOW, 0, NULL, NULL);
    for (int i = 0; i < ONSET_WINDOW; i++)
        f->window[i] = (float)((0.5 - 0.5 * cos(2 * M_PI * (i + 0.5) / ONSET_WINDOW)) * 2 / ONSET_WINDOW);
    onset_clear(f);
    return f;
}

void onset_free(struct onset_finder *f)
{
    if (f)
        kiss_fftr_free(f->fft);
    mem_free(f);
}

void onset_clear(struct onset_finder *f)
{
    memset(&f->line, 0, sizeof f->line);
    memset(f->novelty, 0, sizeof f->novelty);
    f->pending_count = f->frames = f->queued = f->taken = 0;
    f->usual = 0;
    f->loudest = 0;
}

/* New energy of each line in this frame, and the learning of its predictor. */
static void innovation(struct lines *l, size_t n, const float *re, const float *im, float *restrict power)
{
    const float *lag_re = l->re[(n + PAST - LAG) % PAST], *lag_im = l->im[(n + PAST - LAG) % PAST];
    float *restrict num_re = l->num_re, *restrict num_im = l->num_im, *restrict den = l->den;
    for (int k = 0; k < LINES; k++) {
        float size = num_re[k] * num_re[k] + num_im[k] * num_im[k], all = den[k] * den[k] + 1e-36f;
        float scale = 1 / sqrtf(size > all ? size : all); /* a tail never grows */
        float a_re = num_re[k] * scale, a_im = num_im[k] * scale;
        float e_re = re[k] - (a_re * lag_re[k] - a_im * lag_im[k]);
        float e_im = im[k] - (a_re * lag_im[k] + a_im * lag_re[k]);
        num_re[k] = FORGET * num_re[k] + re[k] * lag_re[k] + im[k] * lag_im[k];
        num_im[k] = FORGET * num_im[k] + im[k] * lag_re[k] - re[k] * lag_im[k];
        den[k] = FORGET * den[k] + lag_re[k] * lag_re[k] + lag_im[k] * lag_im[k];
        power[k] = e_re * e_re + e_im * e_im;
    }
    memcpy(l->re[n % PAST], re, sizeof l->re[0]);
    memcpy(l->im[n % PAST], im, sizeof l->im[0]);
}

/* How far each line's new energy exceeds its recent mean; two frames together scatter less than one. */
static void excess(struct lines *l, size_t n, const float *power, float floor, float *restrict ratio)
{
    const float *old = l->past[(n + PAST - DELAY) % PAST], *last = l->past[(n + PAST - 1) % PAST];
    float *restrict mean = l->mean;
    for (int k = 0; k < LINES; k++) {
        mean[k] = SLOW * mean[k] + (1 - SLOW) * old[k];
        ratio[k] = 0.5f * (power[k] + last[k]) / (mean[k] + floor);
    }
    memcpy(l->past[n % PAST], power, sizeof l->past[0]);
}

static float frame_novelty(struct onset_finder *f, const float *samples)
{
    kiss_fft_cpx out[ONSET_WINDOW / 2 + 1];
    float re[LINES], im[LINES], power[LINES], ratio[LINES], sum = 0, loudest = 0;
    float floor = FLOOR + 1e-6f * f->loudest;
    for (int i = 0; i < ONSET_WINDOW; i++)
        f->frame[i] = samples[i] * f->window[i];
    kiss_fftr(f->fft, f->frame, out);
    for (int k = 0; k < LINES; k++) {
        re[k] = out[LOW_LINE + k].r;
        im[k] = out[LOW_LINE + k].i;
        float level = re[k] * re[k] + im[k] * im[k];
        loudest = level > loudest ? level : loudest;
    }
    innovation(&f->line, f->frames, re, im, power);
    excess(&f->line, f->frames, power, floor, ratio);
    for (int k = 0; k < LINES; k++)
        if (ratio[k] > GATE)
            sum += logf(ratio[k]) - GATE_LN;
    f->loudest = loudest > f->loudest ? loudest : 0.9995f * f->loudest;
    return sum;
}

/* The frame AROUND frames ago is a peak if none around it is higher. */
static void look_for_peak(struct onset_finder *f)
{
    if (f->frames < 2 * AROUND + 1)
        return;
    size_t middle = f->frames - 1 - AROUND;
    float height = f->novelty[middle % HISTORY];
    float least = LEAST + 1.5f * f->usual;
    if (height < least)
        return;
    for (size_t i = middle - AROUND; i <= middle + AROUND; i++) {
        float other = f->novelty[i % HISTORY];
        if (other > height || (other == height && i < middle))
            return;
    }
    if (f->queued - f->taken == QUEUE)
        f->taken++;
    f->queue[f->queued++ % QUEUE] = (struct onset){
        .t_s = ((double)middle * ONSET_HOP + 0.35 * ONSET_WINDOW) / ONSET_RATE_HZ,
        .novelty = height,
    };
}

static void analyse(struct onset_finder *f, const float *samples)
{
    float novelty = frame_novelty(f, samples);
    if (f->frames < 12) /* the predictors have not learnt anything yet */
        novelty = f->frames < 2 ? 0 : novelty * (float)f->frames / 12;
    f->novelty[f->frames % HISTORY] = novelty;
    float capped = novelty < 3 * f->usual + 2 ? novelty : 3 * f->usual + 2;
    f->usual += 0.01f * (capped - f->usual);
    f->frames++;
    look_for_peak(f);
}

/* Every whole frame of what is pending; then the rest moves to the front. */
static void work_off(struct onset_finder *f)
{
    size_t at = 0;
    for (; at + ONSET_WINDOW <= f->pending_count; at += ONSET_HOP)
        analyse(f, f->pending + at);
    f->pending_count -= at;
    memmove(f->pending, f->pending + at, f->pending_count * sizeof *f->pending);
}

void onset_feed(struct onset_finder *f, const float *samples, size_t frames)
{
    while (frames) {
        size_t take = PENDING - f->pending_count;
        take = take < frames ? take : frames;
        memcpy(f->pending + f->pending_count, samples, take * sizeof *samples);
        f->pending_count += take;
        samples += take;
        frames -= take;
        work_off(f);
    }
}

void onset_finish(struct onset_finder *f)
{
    for (int i = 0; i < AROUND; i++) {
        f->novelty[f->frames++ % HISTORY] = 0;
        look_for_peak(f);
    }
}

int onset_take(struct onset_finder *f, struct onset *o)
{
    if (f->taken == f->queued)
        return 0;
    *o = f->queue[f->taken++ % QUEUE];
    return 1;
}

double onset_settled_s(const struct onset_finder *f)
{
    double frames = (double)f->frames - 1 - AROUND;
    return frames > 0 ? frames * ONSET_HOP / ONSET_RATE_HZ : 0;
}

float onset_novelty(const struct onset_finder *f)
{
    return f->frames ? f->novelty[(f->frames - 1) % HISTORY] : 0;
}
