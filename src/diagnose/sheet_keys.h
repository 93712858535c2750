/* sheet_keys.h - the keys of a call sheet, for whoever has to be told which there are.
 *
 * They stand in the tables by which a sheet is read (sheet_read.c), so that a key which is read is
 * also listed.  Each key has its meaning, the forms its value may take, each written as it may
 * stand in a sheet, and the words out of a list that it knows; words of a vocabulary (how, seen)
 * and the hints are those of words.h.
 *
 * To add a key: a row in a table of sheet_read.c, with its forms in sheet_forms.c.
 */
#ifndef LETOFF_DIAGNOSE_SHEET_KEYS_H
#define LETOFF_DIAGNOSE_SHEET_KEYS_H

#include <stddef.h>
#include "diagnose/words.h"
#include "text.h"
#include "yaml_map.h"

struct sheet_form {
    const char *form, *about; /* a value as it may stand in a sheet, and what it says */
};

struct sheet_help {
    const char *about;
    const struct sheet_form *forms; /* to {NULL}; NULL none besides the words */
    const struct yaml_word *words;  /* one of them; NULL none */
    const char *kind;               /* words of this kind (word_kind_of); NULL none */
    const char *with; /* keys of the same map that an example needs besides; NULL none */
};

struct sheet_key {
    const char *map; /* the map it stands in: "sheet", "heard", "at", "tried", "since", "hints" */
    const char *key;
    struct sheet_help help;
};

/* Every key but the hints, which are the words of that kind. */
size_t sheet_keys(void);
struct sheet_key sheet_key_at(size_t i);
/* A whole sheet in which the key has this value: it can be read. */
void sheet_key_example(const struct sheet_key *k, const char *value, struct text *out);
/* What stands in a sheet for a word: in quotes where it might be taken for something else. */
void sheet_key_value(const char *word, struct text *out);

#endif
