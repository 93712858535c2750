/* said.h - free text as words: what story.h reads.
 *
 * Words are runs of letters and digits in small letters; apostrophes are left out ("won't" is
 * "wont", "o'clock" is "oclock"), a hyphen parts words ("half-hour" is two), digits part from
 * letters ("3pm" is "3" and "pm"), a dash between numbers is the word "to" ("2-8"), and "3:15" or
 * "3.15" is one word with a minute of the day.  The marks = @ + -> > the arrow U+2192
 * and the colon of a lone ":15" are words of their own (`sign`).  Letters beyond ASCII stay as they are.
 */
#ifndef LETOFF_DIAGNOSE_SAID_H
#define LETOFF_DIAGNOSE_SAID_H

#include <stdbool.h>
#include <stddef.h>

#define SAID_LETTERS 32

enum said_break { SAID_JOINED, SAID_SOFT, SAID_STOP }; /* nothing; comma, colon, dash; sentence end */

struct said_word {
    size_t from, to;          /* bytes of the text */
    char text[SAID_LETTERS];  /* longer words are cut */
    enum said_break before;   /* what stands between it and the word before */
    long number;              /* of a word in digits, else -1 */
    int minute;               /* of "3:15", else -1 */
    bool sign;                /* a mark such as "=" */
};

/* A zeroed struct is empty. */
struct said {
    struct said_word *word;
    size_t count, room;
};

/* Add the words of the text, which must be well-formed UTF-8. */
void said_split(struct said *s, const char *text, size_t length);
void said_release(struct said *s);

#endif
