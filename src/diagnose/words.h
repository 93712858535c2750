/* words.h - the vocabulary of a call sheet, read from chimes/words.yaml.
 *
 * A word has an id, the kinds it belongs to (a history word may also stand in since.after), a
 * question that can be read out to a caller, an explanation for the owner, a picture key and the
 * minutes it costs to ask.  Within a kind words are numbered from 0 in the order of the file; that
 * number is the word's *ordinal* there, and a `struct word_set` is a set of ordinals of one kind.
 * Ordinals are only good within one loaded vocabulary: files and messages carry ids.
 */
#ifndef LETOFF_DIAGNOSE_WORDS_H
#define LETOFF_DIAGNOSE_WORDS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include "err.h"

enum word_kind {
    WORD_HISTORY,  /* what happened to the clock before */
    WORD_SEEN,     /* what can be seen, felt or noticed apart from the blows */
    WORD_HOW,      /* how a let-off sounded */
    WORD_WHEN,     /* since.when */
    WORD_AFTER,    /* since.after */
    WORD_DO,       /* an action tried or proposed */
    WORD_RESULT,   /* what came of an action */
    WORD_FREED_BY, /* what set a stopped clock going */
    WORD_HINT,     /* a key of `hints`, with its values */
    WORD_KINDS
};

#define WORDS_PER_KIND 512 /* most words of one kind */
#define WORD_AGAINST 8
#define WORD_VALUES 24
#define WORD_TOLD_BY 4
#define WORD_CURES 4
#define WORD_ALSO      8

struct clock;
struct fault_needs;

struct word {
    const char *id;
    unsigned kinds;              /* bit (1u << enum word_kind) for each kind */
    int ordinal[WORD_KINDS];     /* -1 where it does not belong */
    const char *ask, *explain, *picture;
    double minutes;              /* to ask and answer, or to do */
    const char *against[WORD_AGAINST]; /* ids of the same kind that exclude this one */
    size_t againsts;
    /* seen: ids of `how` words; one of them said of a row tells whether this is so of the clock */
    const char *told_by[WORD_TOLD_BY];
    size_t told_bys;
    /* seen, history: parts that it speaks of; NULL: of none that a clock may lack */
    const struct fault_needs *needs;
    bool lasting; /* how: it lies in a part that sounds, so that it is so of every let-off, not of one by chance */
    const char *who, *hazard;    /* actions: owner or technician; none, low, medium, high. Else NULL */
    /* actions: the cures of faults (chimes/cures.yaml) that they are, and how well it agrees with such a fault,
     * 0..1, that the action did not help: it may have been done badly, or not far enough */
    const char *cure[WORD_CURES];
    double cure_fails[WORD_CURES];
    size_t cures;
    /* hints: either values by name with an explanation each, or a number in low..high */
    const char *value[WORD_VALUES], *value_text[WORD_VALUES];
    size_t values;
    long low, high;
    /* Other names, that are read but never written: of the word, or (also_value) of a value of the hint */
    const char *also[WORD_ALSO];
    const char *also_value[WORD_ALSO];
    size_t alsos;
};

/* A set of words of one kind.  A zeroed struct is the empty set. */
struct word_set {
    uint64_t bits[WORDS_PER_KIND / 64];
};

struct words;

/* Load one file; every problem is reported.  NULL if anything was wrong.  Free with words_free. */
struct words *words_load(const char *path, struct err *e);
struct words *words_parse(const char *name, const char *text, size_t length, struct err *e);
void words_free(struct words *w);

/* Words of one kind in order of the file, by ordinal. */
size_t words_count(const struct words *w, enum word_kind kind);
const struct word *words_at(const struct words *w, enum word_kind kind, size_t ordinal);
/* By id or another name of it; NULL if there is no such word of that kind. */
const struct word *words_find(const struct words *w, enum word_kind kind, const char *id);
/* Ordinal by id; -1 if there is none. */
int words_ordinal(const struct words *w, enum word_kind kind, const char *id);
/* The id that looks most like `id` within the kind, or NULL. */
const char *words_nearest(const struct words *w, enum word_kind kind, const char *id);
/* Number of a hint's value by name or another name of it, -1 if it has no such value. */
int word_value_of(const struct word *hint, const char *value);
/* Read the number of a hint that has a range: 1920, "~1920" (about), or of years "1920s" (the middle of
 * them).  False if it is none or out of the range. */
bool word_number_of(const struct word *hint, const char *text, long *number);
/* True if the two words of one kind cannot both be true. */
bool words_clash(const struct word *a, const struct word *b);

/* True if the clock has the parts that the word speaks of. */
bool word_fits(const struct word *w, const struct clock *c);

/* "history", "seen" ... as in the file; -1 for an unknown name. */
const char *word_kind_name(enum word_kind kind);
int word_kind_of(const char *name);

void word_set_add(struct word_set *set, int ordinal); /* ordinals out of range are ignored */
void word_set_remove(struct word_set *set, int ordinal);
bool word_set_has(const struct word_set *set, int ordinal);
/* The first word of the set behind ordinal `after`; -1 when there is none.  Begin with -1. */
int word_set_next(const struct word_set *set, int after);
bool word_set_empty(const struct word_set *set);
size_t word_set_count(const struct word_set *set);
struct word_set word_set_both(const struct word_set *a, const struct word_set *b);
struct word_set word_set_less(const struct word_set *a, const struct word_set *b);
/* True if the set holds the word of that id. */
bool words_has(const struct words *w, enum word_kind kind, const struct word_set *set,
               const char *id);

#endif
