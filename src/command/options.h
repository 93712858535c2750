/* options.h - the words after a verb, read through a table.
 *
 * One row is one option; --help is printed from the same rows.  All mistakes of a line are
 * reported together, with the nearest option as a suggestion.
 */
#ifndef LETOFF_COMMAND_OPTIONS_H
#define LETOFF_COMMAND_OPTIONS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>
#include "err.h"

enum option_kind {
    OPTION_FLAG,  /* bool */
    OPTION_TEXT,  /* const char *, the argument itself */
    OPTION_INT,   /* long, low..high */
    OPTION_REAL,  /* double, low..high */
    OPTION_TIME,  /* int, minutes after midnight */
    OPTION_MANY,  /* struct option_list: may be given again and again */
};

#define OPTION_MOST 16
struct option_list {
    const char *at[OPTION_MOST];
    size_t count;
};

struct option {
    const char *name; /* with its dashes */
    enum option_kind kind;
    void *into;
    const char *value; /* name of the value in the help, NULL for flags */
    const char *help;
    double low, high;
};

/* What a verb takes: its line of usage, what it does, its options, how many plain words. */
struct usage {
    const char *line, *about;
    const struct option *options;
    size_t count;
    size_t least, most; /* plain words */
};

enum options_result { OPTIONS_OK, OPTIONS_HELP, OPTIONS_BAD };

/* Read argv[1..].  Plain words are written to plain (room for usage->most) and counted.
 * plains may be NULL when none are taken.  OPTIONS_HELP: the help has been printed to stdout. */
enum options_result options_read(const struct usage *u, int argc, char **argv, const char **plain,
                                 size_t *plains, struct err *e);
/* The end of every verb: prints the sentences, empties `e` and gives the exit status. */
int options_end(struct err *e);
void options_help(const struct usage *u, FILE *out);

#endif
