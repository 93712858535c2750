#include "listen/likeness.h"

#include <math.h>
#include <string.h>

#include "mem.h"

#define PER_OCTAVE 48
#define STEPS 236                  /* from ATTACK_LOW_HZ on, 4.9 octaves */
#define SHIFTS (2 * PER_OCTAVE)    /* either way */
#define USUAL_OCTAVES 0.8          /* sounders of one clock lie within about that */
#define ROUNDS 12

struct picture {
    float at[STEPS]; /* unit length */
};

static float spectrum_at(const float *spectrum, double line)
{
    if (line < 0 || line >= ATTACK_LINES - 1)
        return 0;
    size_t k = (size_t)line;
    float part = (float)(line - (double)k);
    return spectrum[k] * (1 - part) + spectrum[k + 1] * part;
}

/* Spread a little: rods of one set are stretched each in its own way. */
static void blur(float *x)
{
    static const float kernel[7] = {0.1f, 0.3f, 0.75f, 1, 0.75f, 0.3f, 0.1f};
    float y[STEPS] = {0};
    for (int i = 0; i < STEPS; i++)
        for (int k = -3; k <= 3; k++)
            if (i + k >= 0 && i + k < STEPS)
                y[i] += kernel[k + 3] * x[i + k];
    memcpy(x, y, sizeof y);
}

static void draw(struct picture *p, const float *spectrum)
{
    float sum = 0;
    for (int i = 0; i < STEPS; i++) {
        double low = ATTACK_LOW_HZ * pow(2, (i - 0.5) / PER_OCTAVE), high = low * pow(2, 1.0 / PER_OCTAVE);
        double first = (low - ATTACK_LOW_HZ) / ATTACK_LINE_HZ, last = (high - ATTACK_LOW_HZ) / ATTACK_LINE_HZ;
        float most = spectrum_at(spectrum, 0.5 * (first + last));
        for (double line = ceil(first); line < last; line++) {
            float v = spectrum_at(spectrum, line);
            most = v > most ? v : most;
        }
        p->at[i] = most;
    }
    blur(p->at);
    for (int i = 0; i < STEPS; i++)
        sum += p->at[i] * p->at[i];
    float scale = sum > 0 ? 1 / sqrtf(sum) : 0;
    for (int i = 0; i < STEPS; i++)
        p->at[i] *= scale;
}

/* Likeness of a shifted up by `shift` steps to b, a little less the farther. */
static float likeness_at(const struct picture *a, const struct picture *b, int shift)
{
    float sum = 0, far = (float)shift / (float)(PER_OCTAVE * USUAL_OCTAVES);
    for (int i = shift > 0 ? shift : 0; i < STEPS && i - shift < STEPS; i++)
        if (i - shift >= 0)
            sum += a->at[i - shift] * b->at[i];
    return sum - 0.05f * far * far;
}

struct overlay {
    size_t count;
    float like[PITCH_MOST][PITCH_MOST][2 * SHIFTS + 1]; /* [i][j][shift]: i shifted onto j, i < j */
};

static float pair_score(const struct overlay *o, size_t i, size_t j, int xi, int xj)
{
    int shift = i < j ? xj - xi : xi - xj;
    if (shift < -SHIFTS || shift > SHIFTS)
        return -1;
    return i < j ? o->like[i][j][shift + SHIFTS] : o->like[j][i][shift + SHIFTS];
}

static float place_score(const struct overlay *o, size_t i, int xi, const int *x, const char *placed)
{
    float sum = 0;
    for (size_t j = 0; j < o->count; j++)
        if (j != i && placed[j])
            sum += pair_score(o, i, j, xi, x[j]);
    return sum;
}

static int best_place(const struct overlay *o, size_t i, const int *x, const char *placed)
{
    int best = 0;
    float most = -1e9f;
    for (int xi = -SHIFTS; xi <= SHIFTS; xi++) {
        float s = place_score(o, i, xi, x, placed);
        if (s > most) {
            most = s;
            best = xi;
        }
    }
    return best;
}

static float total_score(const struct overlay *o, const int *x)
{
    float sum = 0;
    for (size_t i = 0; i < o->count; i++)
        for (size_t j = i + 1; j < o->count; j++)
            sum += pair_score(o, i, j, x[i], x[j]);
    return sum;
}

/* Sounder `first` at 0, the others placed one by one and then moved until none wants to. */
static float place_all(const struct overlay *o, size_t first, int *x)
{
    char placed[PITCH_MOST] = {0};
    x[first] = 0;
    placed[first] = 1;
    for (size_t k = 1; k < o->count; k++) {
        size_t i = (first + k) % o->count;
        x[i] = best_place(o, i, x, placed);
        placed[i] = 1;
    }
    for (int round = 0; round < ROUNDS; round++) {
        int moved = 0;
        for (size_t i = 0; i < o->count; i++) {
            int to = best_place(o, i, x, placed);
            moved += to != x[i];
            x[i] = to;
        }
        if (!moved)
            break;
    }
    return total_score(o, x);
}

static double centre_ln_hz(const float *spectrum)
{
    double weight = 0, sum = 0;
    for (size_t l = 0; l < ATTACK_LINES; l++) {
        double w = (double)spectrum[l] * spectrum[l];
        weight += w;
        sum += w * log(ATTACK_LOW_HZ + (double)l * ATTACK_LINE_HZ);
    }
    return weight > 0 ? sum / weight : log(ATTACK_LOW_HZ);
}

void pitch_order(const float *const *spectra, size_t count, double *pitch_hz)
{
    struct picture *picture = mem_alloc(PITCH_MOST * sizeof *picture);
    struct overlay *o = mem_alloc(sizeof *o);
    int best[PITCH_MOST] = {0}, x[PITCH_MOST];
    float most = -1e9f;
    double level = 0;
    o->count = count;
    for (size_t i = 0; i < count; i++) {
        draw(&picture[i], spectra[i]);
        level += centre_ln_hz(spectra[i]) / (double)count;
    }
    for (size_t i = 0; i < count; i++)
        for (size_t j = i + 1; j < count; j++)
            for (int s = -SHIFTS; s <= SHIFTS; s++)
                o->like[i][j][s + SHIFTS] = likeness_at(&picture[i], &picture[j], s);
    for (size_t first = 0; first < count; first++) {
        float score = place_all(o, first, x);
        if (score > most) {
            most = score;
            memcpy(best, x, sizeof best);
        }
    }
    double mean = 0;
    for (size_t i = 0; i < count; i++)
        mean += (double)best[i] / (double)count;
    for (size_t i = 0; i < count; i++)
        pitch_hz[i] = exp(level) * pow(2, (best[i] - mean) / PER_OCTAVE);
    mem_free(picture);
    mem_free(o);
}
