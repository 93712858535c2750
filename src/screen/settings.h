/* settings.h - what the window remembers: size, zoom, text size, contrast.
 *
 * Kept in $XDG_CONFIG_HOME/letoff/window.yaml (else ~/.config/letoff), a flat map:
 *
 *     width: 1280
 *     height: 800
 *     zoom: 1.25
 *     text: 1
 *     contrast: plain
 *     sound: yes
 */
#ifndef LETOFF_SCREEN_SETTINGS_H
#define LETOFF_SCREEN_SETTINGS_H

#include <stdbool.h>
#include "draw/ink.h"
#include "text.h"

struct settings {
    int width, height; /* pixels */
    double zoom;       /* 0: after the display */
    double text;
    int contrast;      /* enum contrast */
    bool sound;
};

void settings_defaults(struct settings *s);
/* A file that is not there or not good leaves the defaults. */
void settings_load(struct settings *s);
bool settings_save(const struct settings *s);
/* $XDG_(CONFIG|STATE)_HOME/letoff/NAME, the folder made if need be; empty if there is no home. */
void settings_path(struct text *path, const char *variable, const char *under_home,
                   const char *name);

#endif
