/* frame.h - the frame round every screen: the thumb index, common keys, one line at the foot.
 *
 * frame_pass describes the whole window onto the app's canvas; it is a function of the app and
 * the input alone, so the window, the pictures for tests and the scripts all go through it.
 */
#ifndef LETOFF_SCREEN_FRAME_H
#define LETOFF_SCREEN_FRAME_H

#include "screen/app.h"

/* `draft`: keep and take up the draft of the call in hand. */
bool app_init(struct app *a, bool headless, bool draft, void (*wake)(void), struct err *e);
void app_release(struct app *a);

/* One pass; true if something was used and a pass without input should follow. */
bool frame_pass(struct app *a, struct ui_input *in);
/* Passes until nothing changes any more (at most a few); the canvas then shows the result. */
void frame_settle(struct app *a, struct ui_input *in);
/* Time goes on: sound, animation, answers from the advisor.  True if the screen must be shown
 * again soon. */
bool frame_tick(struct app *a, double now_s);
void frame_drop(struct app *a, const char *path);
int frame_page_of(const char *name); /* enum page, -1 */
const char *frame_page_name(enum page page);

#endif
