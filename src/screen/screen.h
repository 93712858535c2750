/* screen.h - the window of the program.
 *
 *     letoff                                   opens it
 *     letoff --screen desk --call SHEET        opens it on that screen with that call sheet
 *     letoff --shot FILE --screen plate        draws the screen to a PNG (or SVG, PDF), no display
 *     letoff --shot FILE --do "click quick; type 3:00 s2; key enter"
 *
 * --size WxH, --zoom Z, --text T, --contrast plain|strong|night, --places (prints the names and
 * places of all widgets), --do SCRIPT (see script.h), --fresh (no draft, no settings).
 */
#ifndef LETOFF_SCREEN_SCREEN_H
#define LETOFF_SCREEN_SCREEN_H

/* Returns the exit status: 0, 2 bad usage or input, 3 a device or file failed. */
int screen_main(int argc, char **argv);

#endif
