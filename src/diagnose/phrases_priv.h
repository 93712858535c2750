/* phrases_priv.h - the inside of a phrase table, for its seven files only: pattern_read.c makes
 * patterns, pattern_match.c walks them, clause_match.c finds several in one clause, spelling.c puts
 * the words of a text into the table's own spelling, repair.c leaves out what a speaker takes back,
 * standing.c says what is denied, past or doubtful, phrases.c loads the table and says what it gives. */
#ifndef LETOFF_DIAGNOSE_PHRASES_PRIV_H
#define LETOFF_DIAGNOSE_PHRASES_PRIV_H

#include "diagnose/cues.h"
#include "diagnose/phrases.h"
#include "text.h"
#include "yaml_map.h"

#define NODES_MOST 2000 /* of one pattern */
#define NOTES_MOST 64

enum slot {
    SLOT_N,
    SLOT_N2,
    SLOT_LIST,
    SLOT_HOUR,
    SLOT_TIME,
    SLOT_TIME2,
    SLOT_M,
    SLOT_FIVE, /* fills SLOT_M */
    SLOT_YEARS,
    SLOT_NOTES,
    SLOT_CLOCK,
    SLOT_MOMENT,
    SLOTS
};

/* A pattern is a graph of nodes from its start to its one end:
 *
 *     a (b|c d) [e]      a -> split -> b ------> join -> split -> e -> join -> end
 *                               +----> c -> d ----^         +-----------^
 *
 * Nodes name each other by their number, so that the array may grow. */
enum node_kind {
    NODE_WORD,
    NODE_PREFIX,
    NODE_CLASS,
    NODE_SLOT,
    NODE_GAP,
    NODE_COMMA,
    NODE_JOIN,
    NODE_SPLIT,
    NODE_END
};
struct node {
    enum node_kind kind;
    const char *text; /* word or beginning, owned by the table */
    int which;        /* class or slot */
    int next;         /* not for a split or the end */
    int branch;       /* split: its first branch, -1 none */
    int other;        /* of the first node of a branch: the first node of the next, -1 none */
};
struct pattern {
    struct node *node;
    size_t nodes, room;
    int start;
    uint64_t first[4]; /* bytes a text may begin with */
};
struct patterns {
    struct pattern *at;
    size_t count, room;
};

/* Words that stand for each other. */
struct word_class {
    const char *name;
    const char **word;
    size_t count, room;
};

struct phrase {
    const char *say, *gives;
    struct patterns patterns;
    bool within, ends;
};
#define CLAUSE_PATTERNS 6 /* of one row */
struct clause_row {
    const char *say, *gives;
    struct patterns all, but;
    bool wide; /* the whole sentence may be its clause */
};
struct pair_row {
    const char *say, *gives;
    struct patterns patterns;
    bool follows, whole; /* only behind another; only as a sentence of its own */
};
enum half_said { HALF_UNSAID, HALF_AM, HALF_PM };
struct time_row {
    struct patterns patterns;
    int min;    /* minutes added to the hour */
    int m_sign; /* -1 or +1: the minutes of <m> are added too */
    enum half_said half;
    bool bare; /* a mere number: good for <time>, not for <moment> */
};
struct number {
    const char *first, *second; /* second may be NULL */
    int value;
    bool repeat; /* "twice": a count, never an hour */
};

/* "doesnt" is "does not". */
struct alike {
    const char *word, *as;
};

struct phrases {
    struct yaml_tree *tree;
    const struct words *words;
    const char *language;
    char **strings;
    size_t string_count, string_room;
    struct word_class *class;
    size_t classes, class_room;
    struct number *number;
    size_t numbers, number_room;
    struct time_row *time;
    size_t times, time_room;
    struct phrase *phrase;
    size_t phrases, phrase_room;
    struct clause_row *clause;
    size_t clauses, clause_room;
    struct pair_row *pair;
    size_t pairs, pair_room;
    struct patterns unreal, coming, former, doubtful, repairs, company, telling, ended, superseded,
        elsewhere, wonders;
    const struct yaml_node *signs, *endings; /* maps */
    const struct yaml_node *filler, *negators, *joiners, *nouns, *units, *skips, *turns, *contrasts, *ordinary,
        *hourmarks, *beliefs, *anew, *nors, *genitives, *binders, *listers, *hourwords, *pasts,
        *contraries, *shortened, *asks, *yeses, *noes, *against, *enders;
    const struct yaml_node *narrows; /* a map, or NULL */
    struct alike *alike;
    size_t alikes, alike_room;
    const char **known; /* every word of the table, sorted */
    size_t knowns, known_room;
    const char *cues_file; /* beside the table, or NULL */
    struct cues *cues;     /* of phrases_load only, or NULL */
};

/* A list of words, or of patterns, of the table by its key: where it stands in what was read of the file,
 * and in the table. */
struct phrase_list {
    const char *key;
    size_t top, table;
};
#define PHRASE_WORD_LISTS    25
#define PHRASE_PATTERN_LISTS 11
extern const struct phrase_list phrase_word_lists[PHRASE_WORD_LISTS];
extern const struct phrase_list phrase_pattern_lists[PHRASE_PATTERN_LISTS];
const struct yaml_node **phrases_word_list(struct phrases *p, size_t i);
struct patterns *phrases_pattern_list(struct phrases *p, size_t i);

/* Slots as they stand in a pattern, and something that may fill them. */
struct phrase_slot {
    const char *name, *sample;
};
extern const struct phrase_slot phrase_slots[SLOTS];

/* What fills the slots of one match. */
struct filled {
    bool denied; /* a negator stood among the words: "was not dropped" */
    int number[SLOTS];
    char list[64], time[2][16], notes[NOTES_MOST + 1];
};

/* phrases.c */
/* Is it shorthand of the kind a row may give?  Else a sentence about `node`. */
bool phrases_check_gives(const struct phrases *p, const struct yaml_node *node, const char *gives,
                         struct err *e);

/* pattern_read.c */
const char *phrases_keep(struct phrases *p, const char *s, size_t length); /* a copy, owned by p */
int phrases_add_class(struct phrases *p, const char *name);
void word_class_add(struct word_class *c, const char *word);
size_t pattern_word_length(const char *s); /* bytes of the plain word that begins here */
/* The pattern, or list of patterns, of this node behind those of `into`. */
bool patterns_read(struct phrases *p, const struct yaml_node *node, struct patterns *into,
                   struct err *e);
void patterns_release(struct patterns *p);
/* Can the end of the pattern be reached without this slot (-1: without any word)? */
bool pattern_can_avoid(const struct pattern *p, int slot);

/* spelling.c */
const char *phrases_alike(const struct phrases *p, const char *word); /* or NULL */
void phrases_learn(struct phrases *p); /* fill `known` when all else is read */

/* standing.c */
/* Do the words from `at` on, not beyond `until`, put what follows out of the plain? */
enum standing phrases_stands(const struct phrases *p, const struct said *s, size_t at, size_t until);
/* Does another statement begin with word `at`? */
bool phrases_begins_anew(const struct phrases *p, const struct said *s, size_t at);

/* repair.c */
void phrases_repair(const struct phrases *p, struct said *s);

/* pattern_match.c */
/* One pattern at word `at` of the text, not beyond word `until`: its results in `into`, which has room
 * for PATTERN_RESULTS; returns how many. */
#define PATTERN_RESULTS 8
struct result {
    size_t end, own;
    struct filled filled;
};
size_t pattern_results(const struct phrases *p, const struct pattern *pattern, const struct said *s,
                       size_t at, size_t until, struct result *into);
/* The word behind the longest of the patterns that begins at word `at`; `at` if none does. */
size_t patterns_end(const struct phrases *p, const struct patterns *patterns, const struct said *s,
                    size_t at, size_t until);
/* A number, or a time of the dial, at word `at`, and the word behind it. */
bool phrases_number(const struct phrases *p, const struct said *s, size_t at, size_t *end);
bool phrases_time(const struct phrases *p, const struct said *s, size_t at, size_t *end);
bool phrases_listed(const struct yaml_node *list, const char *word);
/* Look up in which lists each word stands, for those that are asked for at every word. */
void phrases_mark(const struct phrases *p, struct said *s);
/* Copy `gives` with its slots filled from `f`, or with samples if that is NULL. */
void phrases_fill(const char *gives, const struct filled *f, struct text *out);
bool phrases_gives_slot(const char *gives, enum slot slot);

#endif
