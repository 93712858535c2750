/* less_phrases.h - the phrase table with a part of its rows left out by lot: what a reader does with texts its table was
 * not made for, on texts it was made for. */
#ifndef LETOFF_TESTS_LESS_PHRASES_H
#define LETOFF_TESTS_LESS_PHRASES_H

#include <stdint.h>
#include "diagnose/phrases.h"

/* The table of this file, each row of `phrases` and `clauses` left out with the chance `share`, and the cues of
 * `cues` (NULL: none).  NULL with sentences when a file cannot be read. */
struct phrases *less_phrases(const char *path, const char *cues, const struct words *words,
                             double share, uint64_t lot, struct err *e);

#endif
