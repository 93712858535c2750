#include "listen/bounce.h"

#include <math.h>
#include <string.h>

#include <kiss_fftr.h>

#define ORDER 32
#define LEARN_FROM 160   /* samples after the blow, 10 ms: the knock of the hammer is over */
#define LEARN 800        /* 50 ms */
#define LOOK_FROM 480    /* 30 ms */
#define LOOK_UNTIL 2080  /* 130 ms */
#define BURST 64         /* 4 ms */
#define HOP 32
#define BEFORE 32        /* the blow itself: from 2 ms before its moment */
#define BURSTS ((LOOK_UNTIL - LOOK_FROM) / HOP)

/* Burg's recursion: prediction[k] is the weight of the sample k+1 before. */
static void learn(const float *x, float prediction[ORDER])
{
    double forward[LEARN], backward[LEARN], a[ORDER + 1] = {1};
    for (int i = 0; i < LEARN; i++)
        forward[i] = backward[i] = x[i];
    for (int m = 1; m <= ORDER; m++) {
        double cross = 0, power = 1e-20, old[ORDER + 1];
        for (int i = m; i < LEARN; i++) {
            cross += forward[i] * backward[i - 1];
            power += forward[i] * forward[i] + backward[i - 1] * backward[i - 1];
        }
        double k = -2 * cross / power;
        memcpy(old, a, sizeof old);
        for (int i = 1; i <= m; i++)
            a[i] = (i < m ? old[i] : 0) + k * old[m - i];
        for (int i = LEARN - 1; i >= m; i--) {
            double f = forward[i];
            forward[i] = f + k * backward[i - 1];
            backward[i] = backward[i - 1] + k * f;
        }
    }
    for (int i = 0; i < ORDER; i++)
        prediction[i] = (float)-a[i + 1];
}

/* Root mean square of what is left of BURST samples from `from` on. */
static float remainder_of(const float *x, const float prediction[ORDER])
{
    double sum = 0;
    for (int i = 0; i < BURST; i++) {
        float e = x[i];
        for (int k = 0; k < ORDER; k++)
            e -= prediction[k] * x[i - 1 - k];
        sum += (double)e * (double)e;
    }
    return (float)sqrt(sum / BURST);
}

static float middle_of(float *x, int n)
{
    for (int i = 1; i < n; i++) {
        float v = x[i];
        int j = i;
        for (; j > 0 && x[j - 1] > v; j--)
            x[j] = x[j - 1];
        x[j] = v;
    }
    return x[n / 2];
}

/* ---- how the ring goes on ---- */

#define PIECE    320 /* 20 ms; lines 50 Hz apart */
#define APART    448 /* from the middle of one piece to that of the next */
#define BEHIND   192 /* the middle one ends 2 ms before the burst */
#define LOW_LINE 6   /* 300 Hz */
#define LINES    70
#define FAINT    0.02f /* of the strongest: not looked at */

/* Spectra of the pieces about three places. */
static void spectra_of(const float *const middle[3], kiss_fft_cpx line[3][PIECE / 2 + 1])
{
    kiss_fftr_cfg fft = kiss_fftr_alloc(PIECE, 0, NULL, NULL);
    float window[PIECE], piece[PIECE];
    for (int i = 0; i < PIECE; i++)
        window[i] = (float)(0.5 - 0.5 * cos(2 * M_PI * (i + 0.5) / PIECE));
    for (int k = 0; k < 3; k++) {
        const float *from = middle[k] - PIECE / 2;
        for (int i = 0; i < PIECE; i++)
            piece[i] = window[i] * from[i];
        kiss_fftr(fft, piece, line[k]);
    }
    kiss_fftr_free(fft);
}

static float size_of(kiss_fft_cpx p)
{
    return p.r * p.r + p.i * p.i;
}

/* b carried on as it came from a, but never growing. */
static kiss_fft_cpx carried_on(kiss_fft_cpx a, kiss_fft_cpx b)
{
    float size = size_of(a) + 1e-20f;
    kiss_fft_cpx r = {(b.r * a.r + b.i * a.i) / size, (b.i * a.r - b.r * a.i) / size};
    float grows = sqrtf(size_of(r)), by = grows > 1 ? grows : 1;
    r.r /= by;
    r.i /= by;
    return (kiss_fft_cpx){r.r * b.r - r.i * b.i, r.r * b.i + r.i * b.r};
}

static float jump_at(const float *burst)
{
    const float *const middle[3] = {burst - BEHIND - APART, burst - BEHIND, burst - BEHIND + APART};
    kiss_fft_cpx line[3][PIECE / 2 + 1];
    float most = 0, all = 1e-20f, off = 0;
    spectra_of(middle, line);
    for (int k = LOW_LINE; k < LOW_LINE + LINES; k++)
        most = fmaxf(most, size_of(line[1][k]));
    for (int k = LOW_LINE; k < LOW_LINE + LINES; k++) {
        kiss_fft_cpx told = carried_on(line[0][k], line[1][k]), came = line[2][k];
        if (size_of(line[1][k]) <= FAINT * most)
            continue;
        all += size_of(line[1][k]);
        off += size_of((kiss_fft_cpx){came.r - told.r, came.i - told.i});
    }
    return off / all > 10 ? 10 : off / all;
}

struct bounce bounce_find(const float *samples, size_t frames, size_t at, float clear_s)
{
    struct bounce b = {.stands = 1, .jump = BOUNCE_JUMP_UNKNOWN};
    float prediction[ORDER], left[BURSTS], most = 0, first = 0;
    size_t reach = at + (size_t)((clear_s > 0.01f ? clear_s - 0.01f : 0) * BOUNCE_RATE_HZ);
    reach = reach < frames ? reach : frames;
    if (at < BEFORE + ORDER || reach < at + LEARN_FROM + LEARN)
        return b;
    learn(samples + at + LEARN_FROM, prediction);
    for (int i = -BEFORE; i < LEARN_FROM; i += HOP) {
        float r = remainder_of(samples + (long)at + i, prediction);
        first = r > first ? r : first;
    }
    int n = 0, best = 0;
    for (int i = LOOK_FROM; i < LOOK_UNTIL && at + (size_t)i + BURST < reach; i += HOP) {
        left[n] = remainder_of(samples + at + i, prediction);
        if (left[n] > most) {
            most = left[n];
            best = i;
        }
        n++;
    }
    if (n < 8 || first <= 0)
        return b;
    float usual = middle_of(left, n);
    b.size = most / first > 1 ? 1 : most / first;
    b.stands = most / (usual + 1e-6f * first);
    b.after_s = (float)best / BOUNCE_RATE_HZ;
    if (best >= LEARN_FROM + PIECE / 2 + BEHIND + APART &&
        at + (size_t)(best - BEHIND + APART + PIECE / 2) < reach)
        b.jump = jump_at(samples + at + best);
    return b;
}
