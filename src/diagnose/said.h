/* said.h - free text as words: what story.h reads.
 *
 * Words are runs of letters and digits in small letters; apostrophes are left out ("won't" is
 * "wont", "o'clock" is "oclock"), a hyphen parts words ("half-hour" is two), digits part from
 * letters ("3pm" is "3" and "pm"), a dash between numbers is the word "to" ("2-8"), and "3:15" or
 * "3.15" is one word with a minute of the day, "1/2" is one word as it is.  The marks = @ + -> > the
 * arrow U+2192 and the colon of a lone ":15" are words of their own (`sign`).  Letters beyond ASCII stay
 * as they are.
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
    bool asked;               /* its sentence ends with a question mark */
    bool spent;               /* known to say nothing: good for nothing else */
    bool told;                /* a phrase has taken it as its own */
    unsigned lists; /* of the phrase table that hold the word, once they are looked up; else 0 */
};

struct said_span {
    size_t from, to; /* bytes of the text */
};

/* A zeroed struct is empty. */
struct said {
    struct said_word *word;
    size_t count, room;
    struct said_span *cut; /* what the speaker took back: no longer among the words */
    size_t cuts, cut_room;
};

/* Add the words of the text, which must be well-formed UTF-8. */
void said_split(struct said *s, const char *text, size_t length);
void said_release(struct said *s);

/* The sentence word `at` stands in: its first word, and the one behind its last. */
size_t said_sentence(const struct said *s, size_t at);
size_t said_sentence_end(const struct said *s, size_t at);
/* Leave out the words from .. to - 1, as taken back.  What stands behind them is joined to what stands
 * before, or parted from it as they were. */
void said_cut(struct said *s, size_t from, size_t to, bool joined);

#endif
