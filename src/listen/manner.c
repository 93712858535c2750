#include "listen/manner.h"

#include <stdbool.h>

#include "event.h"

#define WEAK_DB   7.5f /* below the sounder's median */
#define LOUD_DB   6.0f
#define THUD_KEEP 0.12f /* of the power is left after 100 ms */

/* Noise all through the ring, that also breaks the ring's regularity. */
static bool buzzes(const struct attack *a)
{
    return a->noise_share > 0.03f && a->second > 0.6f && a->second_stands > 1.35f && a->keep > 0.3f;
}

/* Conservative: in noise a bounce drowns, and a bounce that is not there is worse than one missed. */
static bool bounced(const struct attack *a)
{
    return a->second > 0.5f && a->second_stands > 1.6f && a->second_s > 0.05f &&
           a->keep > THUD_KEEP;
}

uint8_t manner_of(const struct attack *a, float usual_db, size_t alike)
{
    unsigned q = 0;
    if (alike >= 3 && a->level_db < usual_db - WEAK_DB)
        q |= QUALITY_WEAK;
    if (alike >= 3 && a->level_db > usual_db + LOUD_DB)
        q |= QUALITY_LOUD;
    if (a->keep < THUD_KEEP && a->clear_s > 0.2f)
        q |= QUALITY_THUD;
    if (buzzes(a))
        q |= QUALITY_BUZZ;
    else if (bounced(a))
        q |= QUALITY_DOUBLE;
    return (uint8_t)q;
}
