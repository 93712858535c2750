#include "listen/attack.h"

#include <math.h>
#include <string.h>

#include <kiss_fftr.h>

#include "mem.h"

#define LONG    1024 /* samples of the spectrum's window, 128 ms */
#define SHORT   128  /* of the timing frames, 16 ms */
#define STEP    16   /* 2 ms */
#define STEPS   110  /* timing frames, from FIRST_S before the onset on */
#define FIRST_S 0.090
#define LAG                                                                                        \
    35 /* steps, 70 ms: what a band is predicted from; more than the frames judged after a blow */
#define LEARN                                                                                      \
    30 /* steps before FIRST_S that the predictors are learnt from too, with STEPS_QUIET */
#define PAST        (LAG + LEARN)
#define STEPS_QUIET 20
#define SHARP_STEPS 34   /* within which a slow rise is over, 68 ms */
#define TAIL_LEFT   0.3f /* of its power is left of a band that is predictable, hence a tail */
#define BANDS       56   /* of 62.5 Hz, from 187 Hz to 3.7 kHz */
#define BAND_LOW    3
#define LINE_LOW    16    /* ATTACK_LOW_HZ / ATTACK_LINE_HZ */
#define RISE_LEAST  0.7f  /* ln; made blows never rose less, tails and echoes do */
#define SOON_S      0.15f /* no hammer follows another so soon; a tick may, and is looked through */
#define AROUND      20    /* lines to each side that make the background */

struct attack_lab {
    kiss_fftr_cfg long_fft, short_fft;
    float long_window[LONG], short_window[SHORT];
    float power[4][LONG / 2 + 1];
    kiss_fft_cpx line[PAST + STEPS][BANDS];
    kiss_fft_cpx spectrum[4][LONG / 2 + 1];
    float band[STEPS][BANDS];
    float grown[STEPS];
};

static void hann(float *w, int n)
{
    double sum = 0;
    for (int i = 0; i < n; i++)
        sum += w[i] = (float)(0.5 - 0.5 * cos(2 * M_PI * (i + 0.5) / n));
    for (int i = 0; i < n; i++)
        w[i] = (float)(w[i] * 2 / sum);
}

struct attack_lab *attack_lab_new(void)
{
    struct attack_lab *lab = mem_alloc(sizeof *lab);
    lab->long_fft = kiss_fftr_alloc(LONG, 0, NULL, NULL);
    lab->short_fft = kiss_fftr_alloc(SHORT, 0, NULL, NULL);
    hann(lab->long_window, LONG);
    hann(lab->short_window, SHORT);
    return lab;
}

void attack_lab_free(struct attack_lab *lab)
{
    if (lab) {
        kiss_fftr_free(lab->long_fft);
        kiss_fftr_free(lab->short_fft);
    }
    mem_free(lab);
}

/* ---- pieces of sound ---- */

struct piece {
    const float *samples;
    size_t frames;
    double start_s;
};

static float sample_at(const struct piece *p, long i)
{
    return i >= 0 && (size_t)i < p->frames ? p->samples[i] : 0;
}

static long frame_of(const struct piece *p, double t_s)
{
    return lround((t_s - p->start_s) * ATTACK_RATE_HZ);
}

/* Spectrum of `length` samples from t_s on (a window of that length, padded to LONG). */
static void long_spectrum(struct attack_lab *lab, const struct piece *p, double t_s, int length,
                          kiss_fft_cpx *out)
{
    float in[LONG];
    long from = frame_of(p, t_s);
    memset(in, 0, sizeof in);
    for (int i = 0; i < length; i++) {
        int w = (int)((long)i * LONG / length);
        in[i] = sample_at(p, from + i) * lab->long_window[w] * (float)LONG / (float)length;
    }
    kiss_fftr(lab->long_fft, in, out);
}

static float power_of(kiss_fft_cpx x)
{
    return x.r * x.r + x.i * x.i;
}

static void long_power(struct attack_lab *lab, const struct piece *p, double t_s, int length,
                       float *power)
{
    kiss_fft_cpx out[LONG / 2 + 1];
    long_spectrum(lab, p, t_s, length, out);
    for (int k = 0; k <= LONG / 2; k++)
        power[k] = power_of(out[k]);
}

static void short_bands(struct attack_lab *lab, const struct piece *p, long from,
                        kiss_fft_cpx *line)
{
    float in[SHORT];
    kiss_fft_cpx out[SHORT / 2 + 1];
    for (int i = 0; i < SHORT; i++)
        in[i] = sample_at(p, from + i) * lab->short_window[i];
    kiss_fftr(lab->short_fft, in, out);
    for (int k = 0; k < BANDS; k++)
        line[k] = out[BAND_LOW + k];
}

/* x - a y, and a from sums of x times the conjugate of y. */
static kiss_fft_cpx less(kiss_fft_cpx x, kiss_fft_cpx a, kiss_fft_cpx y)
{
    return (kiss_fft_cpx){x.r - (a.r * y.r - a.i * y.i), x.i - (a.r * y.i + a.i * y.r)};
}

static kiss_fft_cpx against(kiss_fft_cpx x, kiss_fft_cpx y)
{
    return (kiss_fft_cpx){x.r * y.r + x.i * y.i, x.i * y.r - x.r * y.i};
}

static kiss_fft_cpx scaled(kiss_fft_cpx x, float by)
{
    return (kiss_fft_cpx){x.r * by, x.i * by};
}

/* ---- time ---- */

/* A sounder struck again while it rings may grow louder or softer, as the phases fall; but its tail would
 * have gone on turning and shrinking steadily, and did not.  Of a band that was so predictable before the
 * onset only what its tail does not explain is looked at; of the others (noise, silence) all. */
static void take_off_tail(struct attack_lab *lab, int k)
{
    kiss_fft_cpx a = {0, 0};
    float past = 1e-20f, all = 1e-20f, left = 0;
    for (int i = LAG; i < PAST + STEPS_QUIET; i++) {
        kiss_fft_cpx x = against(lab->line[i][k], lab->line[i - LAG][k]);
        a.r += x.r;
        a.i += x.i;
        past += power_of(lab->line[i - LAG][k]);
        all += power_of(lab->line[i][k]);
    }
    a = scaled(a, 1 / past);
    float size = sqrtf(power_of(a));
    a = size > 1 ? scaled(a, 1 / size) : a; /* a tail never grows */
    for (int i = LAG; i < PAST + STEPS_QUIET; i++)
        left += power_of(less(lab->line[i][k], a, lab->line[i - LAG][k]));
    bool tail = left < TAIL_LEFT * all;
    for (int i = 0; i < STEPS; i++) {
        kiss_fft_cpx x = lab->line[PAST + i][k];
        lab->band[i][k] = power_of(tail ? less(x, a, lab->line[PAST + i - LAG][k]) : x);
    }
}

/* Mean and largest power of each band before the blow, and mean after it. */
static void band_means(const struct attack_lab *lab, int from, int to, float *mean)
{
    for (int k = 0; k < BANDS; k++) {
        double sum = 0;
        for (int i = from; i < to; i++)
            sum += lab->band[i][k];
        mean[k] = (float)(sum / (to - from)) + 1e-13f;
    }
}

/* How far the bands have grown, frame by frame: sum over growing bands of ln(power / before),
 * weighted by how much each grows in all. */
static float growth(struct attack_lab *lab, int quiet, int loud_from, int loud_to)
{
    float before[BANDS], after[BANDS], weight[BANDS], total = 0;
    band_means(lab, 0, quiet, before);
    band_means(lab, loud_from, loud_to, after);
    float loudest = 0;
    for (int k = 0; k < BANDS; k++)
        loudest = after[k] > loudest ? after[k] : loudest;
    for (int k = 0; k < BANDS; k++) {
        before[k] += 1e-4f * loudest;
        float g = logf((after[k] + 1e-4f * loudest) / before[k]);
        weight[k] = g > 0.5f ? g * g : 0;
        total += weight[k];
    }
    for (int i = 0; i < STEPS; i++) {
        float sum = 0;
        for (int k = 0; k < BANDS && total > 0; k++)
            if (weight[k] > 0)
                sum += weight[k] * logf((lab->band[i][k] + 1e-4f * loudest) / before[k]);
        lab->grown[i] = total > 0 ? sum / total : 0;
    }
    return total;
}

/* Steepest stretch of the growth curve over 16 ms, then where half of it is done. */
static double half_way(const struct attack_lab *lab, int from, int to, struct attack *a)
{
    int best = from;
    float most = -1e9f;
    for (int i = from; i + 8 < to; i++) {
        float r = lab->grown[i + 8] - lab->grown[i];
        if (r > most) {
            most = r;
            best = i;
        }
    }
    float whole = most;
    for (int i = best; i < best + SHARP_STEPS && i < STEPS; i++)
        whole = lab->grown[i] - lab->grown[best] > whole ? lab->grown[i] - lab->grown[best] : whole;
    a->rise = most;
    a->sharp = whole > 0 ? most / whole : 0;
    float low = lab->grown[best], high = lab->grown[best + 8], half = 0.5f * (low + high);
    for (int i = best; i < best + 8; i++)
        if (lab->grown[i] <= half && lab->grown[i + 1] > half)
            return i + (double)((half - lab->grown[i]) / (lab->grown[i + 1] - lab->grown[i]));
    return best + 4;
}

static double place(struct attack_lab *lab, const struct piece *p, double onset_s, struct attack *a)
{
    long from = frame_of(p, onset_s - FIRST_S);
    for (int i = 0; i < PAST + STEPS; i++)
        short_bands(lab, p, from + (long)(i - PAST) * STEP, lab->line[i]);
    for (int k = 0; k < BANDS; k++)
        take_off_tail(lab, k);
    growth(lab, STEPS_QUIET, 50, 80);
    double at = half_way(lab, 14, 76, a);
    /* A window sees a blow when the blow enters its last part; in logarithms early. */
    return onset_s - FIRST_S + (at * STEP + 0.72 * SHORT) / ATTACK_RATE_HZ;
}

/* ---- spectrum ---- */

static float lower_part_of(float *x, int n)
{
    for (int i = 1; i < n; i++) {
        float v = x[i];
        int j = i;
        for (; j > 0 && x[j - 1] > v; j--)
            x[j] = x[j - 1];
        x[j] = v;
    }
    return x[n * 3 / 10];
}

/* The background about each line, every 8th line worked out: the power that three in ten lines around
 * it stay below (partials may stand close), times what makes it the mean of noise. */
static void background(const float *power, float *floor)
{
    float loudest = 0;
    for (int k = 0; k < ATTACK_LINES; k++)
        loudest = power[LINE_LOW + k] > loudest ? power[LINE_LOW + k] : loudest;
    for (int k = 0; k < ATTACK_LINES; k += 8) {
        float around[2 * AROUND + 1];
        int n = 0;
        for (int j = k - AROUND; j <= k + AROUND; j += 2)
            if (j >= 0 && j < ATTACK_LINES)
                around[n++] = power[LINE_LOW + j];
        float m = lower_part_of(around, n) * 2.8f; /* exponential variate: 1 / -ln 0.7 */
        for (int j = k; j < k + 8 && j < ATTACK_LINES; j++)
            floor[j] = m + 2e-4f * loudest + 1e-13f;
    }
}

static void smooth_and_scale(float *v)
{
    float before = v[0], sum = 0;
    for (int k = 0; k < ATTACK_LINES; k++) {
        float here = v[k], after = k + 1 < ATTACK_LINES ? v[k + 1] : 0;
        v[k] = 0.25f * before + 0.5f * here + 0.25f * after;
        before = here;
        sum += v[k] * v[k];
    }
    float scale = sum > 0 ? 1 / sqrtf(sum) : 0;
    for (int k = 0; k < ATTACK_LINES; k++)
        v[k] *= scale;
}

/* What the tail of older blows does not explain of each line after the blow, from spectra half a step before,
 * one step before and right before it (a step is from there to the one after it, spectrum[3]): a steady
 * partial turns and shrinks alike in both half steps, and twice so until after the blow.  -1 for
 * lines that do not. */
static void unexplained(const struct attack_lab *lab, float *left)
{
    for (int k = 0; k < ATTACK_LINES; k++) {
        int j = LINE_LOW + k;
        kiss_fft_cpx first = lab->spectrum[0][j], middle = lab->spectrum[1][j],
                     last = lab->spectrum[2][j];
        float size = power_of(middle) + 1e-20f;
        kiss_fft_cpx a = scaled(against(last, middle), 1 / size);
        float error = power_of(less(middle, a, first)), turn = power_of(a);
        left[k] = -1;
        if (turn > 1.2f || error > 0.05f * size)
            continue;
        kiss_fft_cpx twice = {a.r * a.r - a.i * a.i, 2 * a.r * a.i};
        float rest = power_of(less(lab->spectrum[3][j], twice, last)) - 8 * error;
        left[k] = rest > 0 ? rest : 0;
    }
}

/* Spectrum, level, signal-to-background, tonality, brightness and pitch from the power before
 * (power[0]) and after (power[1]) the blow. */
static void new_sound(const struct attack_lab *lab, struct attack *a, const float *left,
                      float *fresh)
{
    float floor[ATTACK_LINES], tone = 0, all = 0, high = 0, over = 0, there = 0;
    const float *old = lab->power[0], *now = lab->power[1];
    double weight = 0, pitch = 0;
    background(now, floor);
    for (int k = 0; k < ATTACK_LINES; k++) {
        int j = LINE_LOW + k;
        float tail = old[j] > old[j - 1] ? old[j] : old[j - 1];
        tail = old[j + 1] > tail ? old[j + 1] : tail;
        float rest = left[k] >= 0 ? left[k] : now[j] - tail;
        fresh[k] = rest > 4 * floor[k] ? rest : 0;
        a->spectrum[k] = rest > 2 * floor[k] ? logf(1 + rest / (2 * floor[k])) : 0;
        tone += fresh[k];
        there += fresh[k] > 0 ? now[j] > old[j] ? now[j] : old[j] : 0;
        all += rest > 0 ? rest : 0;
        if (fresh[k] > 0)
            over += fresh[k] * logf(fresh[k] / floor[k]);
        if (ATTACK_LOW_HZ + k * ATTACK_LINE_HZ > 1200)
            high += fresh[k];
        weight += a->spectrum[k] * a->spectrum[k];
        pitch += a->spectrum[k] * a->spectrum[k] * log(ATTACK_LOW_HZ + k * ATTACK_LINE_HZ);
    }
    a->level_db = 10 * log10f(tone + 1e-12f);
    a->snr_db = tone > 0 ? 4.343f * over / tone : 0;
    a->tonality = all > 0 ? tone / all : 0;
    a->share = there > 0 && tone < there ? tone / there : there > 0 ? 1 : 0;
    a->bright = tone > 0 ? high / tone : 0;
    a->pitch_hz = weight > 0 ? exp(pitch / weight) : 0;
    smooth_and_scale(a->spectrum);
}

/* ---- ring ---- */

static float weighted(const float *power, const float *fresh)
{
    double sum = 0, weight = 0;
    for (int k = 0; k < ATTACK_LINES; k++)
        if (fresh[k] > 0) {
            float w = sqrtf(fresh[k]);
            sum += w * power[LINE_LOW + k];
            weight += w;
        }
    return weight > 0 ? (float)(sum / weight) : 0;
}

/* Noise about the partials against the partials, from a window while the blow rings on. */
static float rattle(const float *power, const float *old, const float *fresh)
{
    float floor[ATTACK_LINES], was[ATTACK_LINES];
    double noise = 0, tone = 0;
    background(power, floor);
    background(old, was);
    for (int k = 0; k < ATTACK_LINES; k++) {
        noise += floor[k] > was[k] ? floor[k] - was[k] : 0;
        if (fresh[k] > 0 && power[LINE_LOW + k] > floor[k])
            tone += power[LINE_LOW + k] - floor[k];
    }
    return noise + tone > 0 ? (float)(noise / (noise + tone)) : 0;
}

/* Power of the new partials above what rang before, from windows at t_s + after_s. */
static float ring_power(struct attack_lab *lab, const struct piece *p, double t_s, int length,
                        const float *fresh, float *power)
{
    long_power(lab, p, t_s, length, power);
    return weighted(power, fresh);
}

/* Where the next blow is near, shorter windows closer together do, and the fall is reckoned up to
 * 100 ms; nearer than 60 ms nothing can be said and half is assumed. */
static void ring(struct attack_lab *lab, const struct piece *p, struct attack *a,
                 const float *fresh)
{
    double room = a->clear_s - 0.012;
    int length = room > 0.164 ? LONG / 2 : (int)(room * 0.4 * ATTACK_RATE_HZ);
    if (room < 0.048) {
        a->keep = 0.5f;
        return;
    }
    double long_s = (double)length / ATTACK_RATE_HZ, apart = room > 0.164 ? 0.1 : room - long_s;
    double far = room - long_s > 0.5 ? 0.5 : room - long_s;
    float old = ring_power(lab, p, a->t_s - 0.008 - long_s, length, fresh, lab->power[0]);
    float first = ring_power(lab, p, a->t_s + 0.008, length, fresh, lab->power[1]) - old;
    float last = ring_power(lab, p, a->t_s + 0.008 + far, length, fresh, lab->power[3]) - old;
    float later = ring_power(lab, p, a->t_s + 0.008 + apart, length, fresh, lab->power[2]) - old;
    if (old > 0.5f * first) { /* struck again while it rang: the sum of both falls as each does */
        first += old;
        last += old;
        later += old;
    }
    a->keep = first > 0 && later > 0 ? powf(later / first, (float)(0.1 / apart)) : 0;
    if (far >= 0.1 && first > 0) {
        float fall_db = last > 0 ? 10 * log10f(first / last) : 30;
        fall_db = fall_db < 0.3f ? 0.3f : fall_db > 30 ? 30 : fall_db;
        a->ring_s = (float)(20 * far / fall_db);
    }
    a->noise_share = rattle(lab->power[2], lab->power[0], fresh);
}

/* Windows of this length right before and after the blow, and what is new in the latter. */
static void spectra_about(struct attack_lab *lab, const struct piece *p, double t_s, int length,
                          float *left)
{
    double long_s = (double)length / ATTACK_RATE_HZ, before_s = t_s - 0.006 - long_s,
           step_s = long_s + 0.010;
    for (int i = 0; i < 3; i++)
        long_spectrum(lab, p, before_s - 0.5 * (2 - i) * step_s, length, lab->spectrum[i]);
    long_spectrum(lab, p, t_s + 0.004, length, lab->spectrum[3]);
    for (int k = 0; k <= LONG / 2; k++) {
        lab->power[0][k] = power_of(lab->spectrum[2][k]);
        lab->power[1][k] = power_of(lab->spectrum[3][k]);
    }
    unexplained(lab, left);
}

/* How well the new partials go on as they began: a ring turns and shrinks alike from one window to the next, a
 * voice glides. */
static void steadiness(struct attack_lab *lab, const struct piece *p, struct attack *a,
                       const float *fresh)
{
    double room = a->clear_s - 0.012, long_s = room * 0.5 > 0.064 ? 0.064 : room * 0.5,
           step_s = 0.5 * (room - long_s), error = 0, all = 0;
    step_s = step_s > 0.05 ? 0.05 : step_s;
    a->steady = 0.5f;
    if (room < 0.06)
        return;
    for (int i = 0; i < 3; i++)
        long_spectrum(lab, p, a->t_s + 0.010 + i * step_s, (int)(long_s * ATTACK_RATE_HZ),
                      lab->spectrum[i]);
    for (int k = 0; k < ATTACK_LINES; k++) {
        int j = LINE_LOW + k;
        if (fresh[k] <= 0)
            continue;
        float size = power_of(lab->spectrum[0][j]) + 1e-20f;
        kiss_fft_cpx turn = scaled(against(lab->spectrum[1][j], lab->spectrum[0][j]), 1 / size);
        float grows = power_of(turn);
        turn = grows > 1 ? scaled(turn, 1 / sqrtf(grows)) : turn;
        error += power_of(less(lab->spectrum[2][j], turn, lab->spectrum[1][j]));
        all += power_of(lab->spectrum[2][j]) + power_of(lab->spectrum[1][j]);
    }
    a->steady = all > 0 && error < all ? (float)(1 - error / all) : 0;
}

/* All but the time, with what sounds until next_s. */
static void look_until(struct attack_lab *lab, const struct piece *p, double next_s,
                       struct attack *a)
{
    float fresh[ATTACK_LINES], left[ATTACK_LINES];
    double clear = next_s - a->t_s, end = p->start_s + (double)p->frames / ATTACK_RATE_HZ - a->t_s;
    clear = clear < end ? clear : end;
    a->clear_s = (float)(clear < 0 ? 0 : clear > ATTACK_AFTER_S ? ATTACK_AFTER_S : clear);
    int length = (int)((a->clear_s - 0.012) * ATTACK_RATE_HZ);
    length = length < LONG / 8 ? LONG / 8 : length > LONG ? LONG : length;
    spectra_about(lab, p, a->t_s, length, left);
    new_sound(lab, a, left, fresh);
    ring(lab, p, a, fresh);
    steadiness(lab, p, a, fresh);
}

bool attack_look(struct attack_lab *lab, const float *samples, size_t frames, double start_s,
                 double onset_s, float novelty, double next_s, double later_s, struct attack *a)
{
    struct piece p = {samples, frames, start_s};
    *a = (struct attack){.novelty = novelty};
    a->t_s = place(lab, &p, onset_s, a);
    if (a->rise < RISE_LEAST)
        return false;
    struct attack through = *a;
    look_until(lab, &p, next_s, a);
    if (next_s - a->t_s < SOON_S) {
        look_until(lab, &p, later_s, &through);
        if (through.steady * through.tonality * through.snr_db >
            a->steady * a->tonality * a->snr_db)
            *a = through;
    }
    return a->snr_db > 0;
}

float attack_likeness(const float *a, const float *b)
{
    float sum = 0;
    for (int k = 0; k < ATTACK_LINES; k++)
        sum += a[k] * b[k];
    return sum;
}
