/* manner.h - how a blow sounded: weak, loud, dull, buzzing, struck twice (enum event_quality). */
#ifndef LETOFF_MANNER_H
#define LETOFF_MANNER_H

#include <stddef.h>
#include <stdint.h>
#include "listen/attack.h"

/* usual_db: the median level of the blow's sounder; alike: how many blows that is of. */
uint8_t manner_of(const struct attack *a, float usual_db, size_t alike);

#endif
