#include "listen/manner.h"

#include <math.h>
#include <stdbool.h>

#include "event.h"
#include "listen/manner_weights.h"

#define WEAK_DB 7.5f /* below the sounder's median */
#define LOUD_DB 6.0f
#define CLEAR_S 0.2f /* undisturbed sound it takes to tell a ring from none */

void manner_numbers(const struct attack *a, float number[MANNER_NUMBERS])
{
    number[MANNER_LEVEL] = a->level_db;
    number[MANNER_BRIGHT] = a->bright;
    number[MANNER_NOISE] = logf(a->noise_share + 0.003f);
    number[MANNER_TONALITY] = logf(1.003f - a->tonality);
    number[MANNER_KEEP] = a->keep < 1 ? a->keep : 1;
    number[MANNER_RING] = logf(a->ring_s + 0.05f);
    number[MANNER_SECOND] = a->second;
    number[MANNER_STANDS] = logf(a->second_stands + 0.1f);
    number[MANNER_SHARP] = a->sharp;
    number[MANNER_STEADY] = logf(1.003f - a->steady);
    number[MANNER_JUMP] = logf(a->second_jump + 0.003f);
    number[MANNER_PITCH] = a->pitch_hz > 0 ? (float)log(a->pitch_hz) : 5;
}

/* Each number, its difference from the usual and from what is usual elsewhere; then clearness, and a second
 * burst late enough to be a bounce. */
static void see(const struct attack *a, const struct manner_usual *u, float seen[MANNER_SIGHTS])
{
    float here[MANNER_NUMBERS];
    manner_numbers(a, here);
    for (int i = 0; i < MANNER_NUMBERS; i++) {
        bool relative = i == MANNER_LEVEL || i == MANNER_PITCH;
        seen[i] = relative ? 0 : here[i];
        seen[MANNER_NUMBERS + i] = u->blows >= MANNER_ALIKE ? here[i] - u->own[i] : 0;
        seen[2 * MANNER_NUMBERS + i] = u->sounders > 0 && !relative ? here[i] - u->others[i] : 0;
    }
    seen[3 * MANNER_NUMBERS] = a->snr_db < 30 ? a->snr_db : 30;
    seen[3 * MANNER_NUMBERS + 1] =
        a->second_s > 0.05f ? a->second * logf(a->second_stands + 0.1f) : 0;
    seen[3 * MANNER_NUMBERS + 2] = a->second_jump > 0.2f && a->second_jump < 0.8f ? 1 : 0;
    seen[3 * MANNER_NUMBERS + 3] = u->blows >= MANNER_ALIKE ? 1 : 0;
    seen[3 * MANNER_NUMBERS + 4] = u->sounders > 0 ? 1 : 0;
}

static float weigh(const float weight[1 + MANNER_SIGHTS], const float seen[MANNER_SIGHTS])
{
    float sum = weight[0];
    for (int i = 0; i < MANNER_SIGHTS; i++)
        sum += weight[1 + i] * seen[i];
    return sum;
}

uint8_t manner_of(const struct attack *a, const struct manner_usual *u)
{
    float seen[MANNER_SIGHTS];
    unsigned q = 0;
    if (u->blows >= MANNER_ALIKE && a->level_db < u->own[MANNER_LEVEL] - WEAK_DB)
        q |= QUALITY_WEAK;
    if (u->blows >= MANNER_ALIKE && a->level_db > u->own[MANNER_LEVEL] + LOUD_DB)
        q |= QUALITY_LOUD;
    see(a, u, seen);
    for (size_t m = 0; m < MANNERS; m++) {
        const struct manner_weights *w = &manner_weights[m];
        float odds = weigh(w->straight, seen);
        for (int k = 0; k < MANNER_UNITS; k++)
            odds += w->unit[k][0] * tanhf(weigh(w->unit[k] + 1, seen));
        if (odds > w->told && a->clear_s > CLEAR_S)
            q |= w->quality;
    }
    if (q & QUALITY_THUD)
        q &= ~(unsigned)QUALITY_WEAK; /* a dull blow is faint of itself */
    return (uint8_t)q;
}
