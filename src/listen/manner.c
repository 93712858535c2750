#include "listen/manner.h"

#include <math.h>
#include <stdbool.h>

#include "event.h"
#include "listen/manner_weights.h"

#define WEAK_DB 7.5f /* below the sounder's median */
#define LOUD_DB 6.0f
#define ALIKE   3    /* blows that make a usual one */
#define CLEAR_S 0.2f /* undisturbed sound it takes to tell a ring from none */
#define TOLD    1.0f /* ln odds from which a manner is told */

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
    number[MANNER_PITCH] = a->pitch_hz > 0 ? (float)log(a->pitch_hz) : 5;
}

/* Each number, and its difference from the usual; then clearness, and a second burst late enough to be a
 * bounce. */
static void see(const struct attack *a, const float *usual, size_t alike, float seen[MANNER_SIGHTS])
{
    float here[MANNER_NUMBERS];
    manner_numbers(a, here);
    for (int i = 0; i < MANNER_NUMBERS; i++) {
        seen[i] = i == MANNER_LEVEL || i == MANNER_PITCH ? 0 : here[i];
        seen[MANNER_NUMBERS + i] = alike >= ALIKE ? here[i] - usual[i] : 0;
    }
    seen[2 * MANNER_NUMBERS] = a->snr_db < 30 ? a->snr_db : 30;
    seen[2 * MANNER_NUMBERS + 1] =
        a->second_s > 0.05f ? a->second * logf(a->second_stands + 0.1f) : 0;
}

static float weigh(const float weight[1 + MANNER_SIGHTS], const float seen[MANNER_SIGHTS])
{
    float sum = weight[0];
    for (int i = 0; i < MANNER_SIGHTS; i++)
        sum += weight[1 + i] * seen[i];
    return sum;
}

uint8_t manner_of(const struct attack *a, const float usual[MANNER_NUMBERS], size_t alike)
{
    float seen[MANNER_SIGHTS];
    unsigned q = 0;
    if (alike >= ALIKE && a->level_db < usual[MANNER_LEVEL] - WEAK_DB)
        q |= QUALITY_WEAK;
    if (alike >= ALIKE && a->level_db > usual[MANNER_LEVEL] + LOUD_DB)
        q |= QUALITY_LOUD;
    see(a, usual, alike, seen);
    for (size_t m = 0; m < MANNERS; m++) {
        const struct manner_weights *w = &manner_weights[m];
        float odds = weigh(w->straight, seen);
        for (int u = 0; u < MANNER_UNITS; u++)
            odds += w->unit[u][0] * tanhf(weigh(w->unit[u] + 1, seen));
        if (odds > TOLD && a->clear_s > CLEAR_S)
            q |= w->quality;
    }
    if (q & QUALITY_THUD)
        q &= ~(unsigned)QUALITY_WEAK; /* a dull blow is faint of itself */
    return (uint8_t)q;
}
