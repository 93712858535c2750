#include "listen/onset.h"

#include <math.h>
#include <stdbool.h>
#include <string.h>

#include <kiss_fftr.h>

#include "mem.h"

#define LOW_LINE 14   /* 219 Hz */
#define HIGH_LINE 230 /* 3594 Hz */
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
#define LEAST 3.0f    /* novelty that is worth a look at all */
#define QUEUE 64

struct line {
    float re[PAST], im[PAST];
    float num_re, num_im, den;
    float mean; /* of |E|^2, delayed */
    float past[PAST]; /* |E|^2 lately */
};

struct onset_finder {
    kiss_fftr_cfg fft;
    float window[ONSET_WINDOW], frame[ONSET_WINDOW];
    float pending[ONSET_WINDOW];
    size_t pending_count;
    struct line line[LINES];
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
    memset(f->line, 0, sizeof f->line);
    memset(f->novelty, 0, sizeof f->novelty);
    f->pending_count = f->frames = f->queued = f->taken = 0;
    f->usual = 0;
    f->loudest = 0;
}

/* New energy of one line in this frame, and the learning of its predictor. */
static float line_innovation(struct line *l, size_t n, float re, float im)
{
    size_t at = n % PAST, lag = (n + PAST - LAG) % PAST;
    float lag_re = l->re[lag], lag_im = l->im[lag];
    float scale = l->den > 0 ? 1 / l->den : 0;
    float a_re = l->num_re * scale, a_im = l->num_im * scale;
    float size = a_re * a_re + a_im * a_im;
    if (size > 1) { /* a tail never grows */
        float shrink = 1 / sqrtf(size);
        a_re *= shrink;
        a_im *= shrink;
    }
    float e_re = re - (a_re * lag_re - a_im * lag_im);
    float e_im = im - (a_re * lag_im + a_im * lag_re);
    l->num_re = FORGET * l->num_re + re * lag_re + im * lag_im;
    l->num_im = FORGET * l->num_im + im * lag_re - re * lag_im;
    l->den = FORGET * l->den + lag_re * lag_re + lag_im * lag_im + 1e-20f;
    l->re[at] = re;
    l->im[at] = im;
    return e_re * e_re + e_im * e_im;
}

static float line_novelty(struct line *l, size_t n, float power, float floor)
{
    size_t at = n % PAST, old = (n + PAST - DELAY) % PAST;
    l->mean = SLOW * l->mean + (1 - SLOW) * l->past[old];
    l->past[at] = power;
    /* two frames together scatter less than one */
    float now = 0.5f * (power + l->past[(n + PAST - 1) % PAST]);
    float ratio = now / (l->mean + floor);
    if (ratio < GATE)
        return 0;
    return logf(ratio) - GATE_LN;
}

static float frame_novelty(struct onset_finder *f)
{
    kiss_fft_cpx out[ONSET_WINDOW / 2 + 1];
    for (int i = 0; i < ONSET_WINDOW; i++)
        f->frame[i] = f->pending[i] * f->window[i];
    kiss_fftr(f->fft, f->frame, out);
    float floor = FLOOR + 1e-6f * f->loudest, sum = 0, loudest = 0;
    for (int k = 0; k < LINES; k++) {
        kiss_fft_cpx x = out[LOW_LINE + k];
        float power = line_innovation(&f->line[k], f->frames, x.r, x.i);
        sum += line_novelty(&f->line[k], f->frames, power, floor);
        float level = x.r * x.r + x.i * x.i;
        loudest = level > loudest ? level : loudest;
    }
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
    float least = LEAST + 2 * f->usual;
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

static void analyse(struct onset_finder *f)
{
    float novelty = frame_novelty(f);
    if (f->frames < 12) /* the predictors have not learnt anything yet */
        novelty = f->frames < 2 ? 0 : novelty * (float)f->frames / 12;
    f->novelty[f->frames % HISTORY] = novelty;
    float capped = novelty < 3 * f->usual + 2 ? novelty : 3 * f->usual + 2;
    f->usual += 0.01f * (capped - f->usual);
    f->frames++;
    look_for_peak(f);
}

void onset_feed(struct onset_finder *f, const float *samples, size_t frames)
{
    while (frames) {
        size_t take = ONSET_WINDOW - f->pending_count;
        take = take < frames ? take : frames;
        memcpy(f->pending + f->pending_count, samples, take * sizeof *samples);
        f->pending_count += take;
        samples += take;
        frames -= take;
        if (f->pending_count < ONSET_WINDOW)
            return;
        analyse(f);
        memmove(f->pending, f->pending + ONSET_HOP, (ONSET_WINDOW - ONSET_HOP) * sizeof *f->pending);
        f->pending_count = ONSET_WINDOW - ONSET_HOP;
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
