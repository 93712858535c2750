/* cues.h - what words that stand near each other mostly mean, for what the phrase table (phrases.h) leaves unread.
 *
 * A phrase says exactly which words mean what; a stranger's words are seldom those.  A cue names things rather than
 * words: a hammer and something stuck, in one clause and near each other, mostly mean a stuck hammer, be it "the
 * little mallet seems to have seized" or "one of the strikers hangs".  The table is a file beside the phrases
 * (chimes/cues-en.yaml), named there by `cues:`:
 *
 *     language: en
 *     endings: {ies: y, ing: ""}            # what stands for an ending, the first that fits: stems are compared
 *     forms: {broken: break}                # words that are another's form in no such way
 *     concepts:                             # words that mean one thing, here
 *       hammer: [hammer, mallet, striker]
 *       stick: [stick, stuck, jam, hang up]
 *     cues:
 *       - {all: ["@hammer", "@stick"], gives: "seen hammer_stuck", met: 12, right: 10}
 *       - {all: ["@bird", "come", "out"], denied: yes, gives: "seen bird_stuck", met: 3, right: 3}
 *
 * A row holds when each of its words, or one of its concepts, stands in the clause, all of them within CUE_SPAN words,
 * at least one of them with news that nothing else has read, and no negator in the clause that is not among
 * them; a row with `denied` when a negator stands shortly before them or among them.  What is not told plainly of this
 * clock as it is (standing.c) tells nothing.
 *
 * `met` and `right` are counted, not chosen: how often the row held in the texts of tests/diagnose where the phrases had
 * not said as much, with a part of the phrase table left out by lot so that there is enough unread, and how often what it
 * gives was true (tests/diagnose/cue_counts.c).  From them comes how sure it is; only rows that are sure enough are
 * read (CUE_SURE; settled by comparing a few values, on texts of which some also serve to measure the reader).
 */
#ifndef LETOFF_DIAGNOSE_CUES_H
#define LETOFF_DIAGNOSE_CUES_H

#include <stdbool.h>
#include <stddef.h>
#include "diagnose/phrases.h"
#include "diagnose/said.h"
#include "err.h"

#define CUE_SPAN    10  /* words from the first to the last */
#define CUE_WORDS   4   /* of one row */
#define CUE_SURE    0.6 /* least share of right ones of a row that is read, */
#define CUE_LONE    0.8 /* ... and of a row of one word */
#define CUE_GUESS   0.6 /* what a row never met is worth: about what the others come to, ... */
#define CUE_WEIGHT  2   /* ... as much as being met so often */
#define CUE_MATCHES 64  /* of one clause; more are left out */

struct cues;

/* For the table `p`, which must outlive it.  NULL with sentences when anything is wrong. */
struct cues *cues_load(const struct phrases *p, const char *path, struct err *e);
void cues_free(struct cues *c);
size_t cues_count(const struct cues *c);

struct cue {
    const char *say, *gives; /* its words with blanks; shorthand as of a phrase */
    bool denied;
    int met, right;
    double sure; /* share of right ones to be expected */
    bool read;   /* sure enough */
};
const struct cue *cues_at(const struct cues *c, size_t i);
/* Is it a word of the table, in any form? */
bool cues_know(const struct cues *c, const char *word);

struct cue_match {
    size_t row;
    size_t first, end; /* first word, and the one behind the last */
};
/* The rows that hold among the words from .. to - 1 of one clause, the surest first, at most CUE_MATCHES; returns how
 * many.  `used` says for each word of the text whether something else has taken it. */
size_t cues_match(const struct cues *c, const struct said *s, const bool *used, size_t from,
                  size_t to, struct cue_match into[CUE_MATCHES]);

#endif
