/* reasons.h - why, in plain words read from the simulation.
 *
 * For a cause: which heard rows its likeliest hypothesis gives, which it does not; what will be
 * heard next if it is right, where that differs from a sound clock or from the other causes; and
 * whether two causes can be told apart by ear at all.  For a report nothing explains: the row that
 * clashes with the rest.
 */
#ifndef LETOFF_DIAGNOSE_REASONS_H
#define LETOFF_DIAGNOSE_REASONS_H

#include <stddef.h>
#include "diagnose/belief.h"
#include "text.h"

#define REASONS_MOST 24

/* A list of sentences, owned. */
struct sentences {
    char *at[REASONS_MOST];
    size_t count;
};
void sentences_release(struct sentences *s);
void sentences_add(struct sentences *s, const char *fmt, ...) __attribute__((format(printf, 2, 3)));

/* What to call a cause in a sentence. */
const char *reasons_name(const struct belief_cause *c);
/* The same between quotation marks, of a pair with its second fault. */
void reasons_say_name(const struct belief_cause *c, struct text *out);
/* Rows explained and not, words of the history and of what was seen that speak for it. */
void reasons_of(struct sentences *out, const struct belief *b, size_t cause,
                const struct sheet *sheet);
/* "will strike 1 at 2:00 and 9 at 9:00": at most `most` coming let-offs that tell most. */
void reasons_predicts(struct sentences *out, const struct belief *b, size_t cause,
                      const struct sheet *sheet, size_t most);
/* When the first two causes cannot be told apart by ear: where to look.  Else adds nothing. */
void reasons_look(struct sentences *out, const struct belief *b, const struct sheet *sheet);
/* Seen words that cannot both be true; and when nothing known fits well, the row that clashes with
 * the others, and what to ask.  Else nothing.  Returns the row's index in the sheet, or -1. */
int reasons_clash(struct sentences *out, struct finder *f, const struct belief *b,
                  const struct sheet *sheet);
/* What to see to first: a clock that stands, is not level, is unwound or shut off by a lever. */
void reasons_first(struct sentences *out, const struct belief *b, const struct sheet *sheet);

#endif
