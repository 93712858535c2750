/* script.h - doing by name what a hand would do, for tests and pictures.
 *
 * Steps parted by ';' or new lines:
 *
 *     click NAME | click X Y     press and release on a named place or a point
 *     move NAME | move X Y       point there
 *     drag X1 Y1 X2 Y2           press, move in steps, release
 *     key WORD                   "a", "enter", "tab", "shift+tab", "ctrl+z", "f7" ...
 *     type TEXT                  text as from the keyboard, up to the next ';'
 *     wait S                     time goes on by so many seconds; the finder has its say
 *     drop PATH                  a file dropped on the window
 *     wheel LINES
 *
 * Each click or key counts as one use (typed text: one a character); script_uses tells the sum.
 */
#ifndef LETOFF_SCREEN_SCRIPT_H
#define LETOFF_SCREEN_SCRIPT_H

#include "screen/app.h"

/* Run against an app; false with a sentence when a step means nothing or a name is not there. */
bool script_run(struct app *a, const char *script, size_t *uses, struct err *e);
/* The code of a key's word ("enter", "f7", "x"), 0 for none. */
int script_key(const char *word, unsigned *mods);

#endif
