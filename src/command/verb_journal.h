/* verb_journal.h - what the journal's own verbs share (verb_journal*.c).
 *
 * To add one: write a function like the others, declare it below, add its row to the table in
 * verb_journal.c. */
#ifndef LETOFF_COMMAND_VERB_JOURNAL_H
#define LETOFF_COMMAND_VERB_JOURNAL_H

#include <jansson.h>
#include <stdbool.h>
#include "command/options.h"
#include "journal/journal.h"
#include "journal/journal_jobs.h"

/* Options all of them have. */
struct journal_common {
    const char *where; /* --journal */
    bool json;
};
#define JOURNAL_OPTIONS(c)                                                                         \
    {"--journal", OPTION_TEXT, &(c).where, "PLACE", "a file or postgresql://...", 0, 0},           \
    {                                                                                              \
        "--json", OPTION_FLAG, &(c).json, NULL, "print the result as JSON", 0, 0                   \
    }

/* A sub-verb: argv[0] is its name. */
int verb_journal_add(int argc, char **argv);
int verb_journal_plan(int argc, char **argv);
int verb_journal_advice(int argc, char **argv);
int verb_journal_close(int argc, char **argv);
int verb_journal_reopen(int argc, char **argv);
int verb_journal_erase(int argc, char **argv);

int verb_journal_list(int argc, char **argv);
int verb_journal_show(int argc, char **argv);
int verb_journal_find(int argc, char **argv);
int verb_journal_visits(int argc, char **argv);
int verb_journal_stats(int argc, char **argv);
int verb_journal_learn(int argc, char **argv);

int verb_journal_export(int argc, char **argv);
int verb_journal_import(int argc, char **argv);
int verb_journal_merge(int argc, char **argv);
int verb_journal_check(int argc, char **argv);
int verb_journal_schema(int argc, char **argv);

/* Prints a JSON value and drops it. */
void journal_print(json_t *value);
/* A record with its id and all fields that have a value. */
json_t *journal_record_json(const struct record *r);

#endif
