/* yaml_map.h - YAML data files as trees, read through tables.
 *
 * A file is parsed whole (libyaml), every node keeps its line and column, and a
 * map is read by a table of keys: one row joins a YAML key with a struct member.  All problems
 * of a file are reported together, each with file:line:column, the key, the value met and what
 * was expected; an unknown key gets the nearest known one as a suggestion.
 *
 * Strings handed out belong to the tree and live until yaml_free: whoever keeps structs filled
 * from a tree keeps the tree too.
 * Limits: 4 MB a file, 64 levels, 200,000 nodes, anchors and aliases refused (no bombs).
 */
#ifndef LETOFF_YAML_MAP_H
#define LETOFF_YAML_MAP_H

#include <stdbool.h>
#include <stddef.h>
#include "err.h"

struct yaml_tree;
enum yaml_shape { YAML_SCALAR, YAML_LIST, YAML_MAP };
struct yaml_node; /* opaque; part of its tree */

/* NULL with sentences in `e` when the text is no YAML, is empty or breaks a limit.
 * A second document in the file is an error.
 * A key given twice, a key that is no word, an anchor, an alias or a tag also gives a sentence,
 * but the tree is returned so that its other problems can be told in the same run;
 * yaml_read_map then returns false for the map it stands in and for all maps around it, and
 * yaml_faulty is true of them; a reader that walks a tree by itself asks yaml_faulty of the root.
 * So look at e->count, not only at the pointer. */
struct yaml_tree *yaml_load(const char *path, struct err *e);
struct yaml_tree *yaml_parse(const char *name, const char *text, size_t length, struct err *e);
void yaml_tree_free(struct yaml_tree *tree);
#define yaml_free                                                                                  \
    yaml_tree_free /* libyaml has a yaml_free of its own, and the linker knows but one */
const struct yaml_node *yaml_root(const struct yaml_tree *tree);
bool yaml_faulty(const struct yaml_node *n);

enum yaml_shape yaml_shape_of(const struct yaml_node *n);
const char *yaml_text(const struct yaml_node *n); /* scalar's text; NULL for other shapes */
bool yaml_quoted(const struct yaml_node *n);      /* scalar written in quotes */
size_t yaml_count(const struct yaml_node *n);     /* items of a list, pairs of a map, else 0 */
const struct yaml_node *yaml_item(const struct yaml_node *list, size_t i); /* or map's value i */
const struct yaml_node *yaml_key_node(const struct yaml_node *map, size_t i);
const char *yaml_key_text(const struct yaml_node *map, size_t i); /* "" if the key is no scalar */
const struct yaml_node *yaml_get(const struct yaml_node *map, const char *key); /* or NULL */
const char *yaml_file(const struct yaml_node *n);
size_t yaml_line(const struct yaml_node *n);   /* from 1 */
size_t yaml_column(const struct yaml_node *n); /* from 1 */
/* Add "file:line:column: <sentence>" for this node. */
void yaml_complain(const struct yaml_node *n, struct err *e, const char *fmt, ...)
    __attribute__((format(printf, 3, 4)));

/* Single values; false and a sentence naming `key` when the node is no such value. */
bool yaml_real(const struct yaml_node *n, const char *key, double low, double high, double *v,
               struct err *e);
bool yaml_int(const struct yaml_node *n, const char *key, long low, long high, long *v,
              struct err *e);
bool yaml_bool(const struct yaml_node *n, const char *key, bool *v,
               struct err *e); /* yes/no/true/false */

/* A word out of a list.  Rows end with {NULL, 0}. */
struct yaml_word {
    const char *name;
    int value;
    const char *about; /* what it means, for lists that are shown to people; else NULL */
};
bool yaml_one_of(const struct yaml_node *n, const char *key, const struct yaml_word *words, int *v,
                 struct err *e);

/* One row joins one key with one member of the struct that is filled. */
enum yaml_kind {
    YAML_K_TEXT,  /* const char *            owned by the tree */
    YAML_K_ID,    /* const char *            letters, digits, '-', '_' only */
    YAML_K_INT,   /* int                     low..high */
    YAML_K_REAL,  /* double                  low..high */
    YAML_K_BOOL,  /* bool */
    YAML_K_WORD,  /* int                     one of `words` */
    YAML_K_INTS,  /* int[room], count in the size_t at count_offset; a single int is a list of 1 */
    YAML_K_REALS, /* double[room], likewise */
    YAML_K_TEXTS, /* const char *[room], likewise */
    YAML_K_NODE,  /* const struct yaml_node * kept for the caller to read further */
};
struct yaml_key {
    const char *key;
    enum yaml_kind kind;
    size_t offset;    /* offsetof the member; the member keeps its value when the key is absent */
    bool needed;      /* absent is an error */
    double low, high; /* range for numbers; both 0 = no limit; for list kinds, of each item */
    const struct yaml_word *words;
    size_t room, count_offset;
};

/* Fill `into` from `map`.  Returns true if nothing was wrong; members whose value was wrong are
 * left as they were.  `what` names the thing in sentences ("clock", "fault"). */
bool yaml_read_map(const struct yaml_node *map, const char *what, const struct yaml_key *keys,
                   size_t key_count, void *into, struct err *e);

#endif
