/* vignette.h - small pictures of the things a question is about, by the picture keys of words.yaml.
 *
 * To add one: a row in the table of vignette.c; a test sees that every key of the vocabulary has one.
 */
#ifndef LETOFF_DRAW_VIGNETTE_H
#define LETOFF_DRAW_VIGNETTE_H

#include <stdbool.h>
#include "draw/canvas.h"

/* Draw in a square of `size`; false (and nothing drawn) for a key without a picture. */
bool vignette_draw(struct canvas *c, const char *key, double x, double y, double size);
bool vignette_has(const char *key);

#endif
