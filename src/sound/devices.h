/* devices.h - what there is to hear with, to listen with and to show on: for `letoff doctor`.
 *
 * Looking opens nothing that another program might want to have; names are the system's own.
 */
#ifndef LETOFF_SOUND_DEVICES_H
#define LETOFF_SOUND_DEVICES_H

#include <stdbool.h>
#include "text.h"

enum device_kind { DEVICE_LOUDSPEAKER, DEVICE_MICROPHONE, DEVICE_DISPLAY };

/* True when there is at least one; its name, or how the system reaches it, is appended to `said`.
 * False when there is none; the system's reason is appended. */
bool devices_look(enum device_kind kind, struct text *said);

#endif
