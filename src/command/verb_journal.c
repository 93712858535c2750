/* verb_journal.c - `letoff journal ...`: the table of its own verbs, and what they share. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "command/command.h"
#include "command/verb_journal.h"
#include "text.h"

static const struct verb verbs[] = {
    {"add", "add [--customer WHO] [--clock CLOCK] [--story TEXT] [--sheet FILE]", "take a call",
     verb_journal_add},
    {"list", "list [--open] [--closed]", "the calls, newest first", verb_journal_list},
    {"show", "show CALL", "one job with all that hangs on it", verb_journal_show},
    {"advice", "advice CALL TEXT", "keep what the caller was told", verb_journal_advice},
    {"plan", "plan CALL WHEN", "plan a visit", verb_journal_plan},
    {"visits", "visits [DAY]", "visits of a day with their kits", verb_journal_visits},
    {"close", "close CALL --found FAULT", "close a job with the fault found", verb_journal_close},
    {"reopen", "reopen CALL", "open a closed job again", verb_journal_reopen},
    {"find", "find WORD...", "jobs in which all words occur", verb_journal_find},
    {"stats", "stats [--year N]", "parts, promises kept, minutes saved", verb_journal_stats},
    {"learn", "learn [--undo CALL] [--off]", "what the finder learned, and taking it back",
     verb_journal_learn},
    {"export", "export [--as jsonl|csv|ics] [--out FILE]", "write it in an open format",
     verb_journal_export},
    {"import", "import FILE...", "take in CSV or JSON Lines", verb_journal_import},
    {"merge", "merge OTHER [--both]", "take in another journal", verb_journal_merge},
    {"erase", "erase CUSTOMER", "remove a customer and all that belongs to him",
     verb_journal_erase},
    {"check", "check", "read all of it and look for damage", verb_journal_check},
    {"schema", "schema", "the kinds of records and their fields", verb_journal_schema},
};
#define VERBS (sizeof verbs / sizeof verbs[0])

static void help(FILE *out)
{
    fprintf(out, "letoff journal VERB ...   calls and jobs of the shop\n\n");
    for (size_t i = 0; i < VERBS; i++)
        fprintf(out, "  %-8s %s\n", verbs[i].name, verbs[i].about);
    fprintf(out,
            "\nEach takes --journal PLACE: a file or postgresql://...; without it the journal is\n"
            "$XDG_DATA_HOME/letoff/journal.db.  letoff journal VERB --help tells the rest.\n"
            "CALL and CUSTOMER are ids; their first digits are enough.\n");
}

int verb_journal(int argc, char **argv)
{
    if (argc < 2) {
        help(stderr);
        return EXIT_BAD_INPUT;
    }
    if (strcmp(argv[1], "--help") == 0 || strcmp(argv[1], "-h") == 0) {
        help(stdout);
        return EXIT_DONE;
    }
    return verb_run(verbs, VERBS, "The journal has no verb", argc - 1, argv + 1);
}

void journal_print(json_t *value)
{
    char *text = json_dumps(value, JSON_INDENT(2) | JSON_PRESERVE_ORDER | JSON_REAL_PRECISION(15));
    printf("%s\n", text ? text : "null");
    free(text);
    json_decref(value);
}

json_t *journal_record_json(const struct record *r)
{
    const struct field *f = record_shape(r->kind)->field;
    json_t *o = json_object();
    double number;
    json_object_set_new(o, "id", json_string(r->id));
    for (size_t i = 0; f[i].name; i++) {
        const char *value = r->value[i];
        if (!value)
            continue;
        if (f[i].type == FIELD_INT && text_real(value, &number))
            json_object_set_new(o, f[i].name, json_integer((json_int_t)number));
        else if (f[i].type == FIELD_REAL && text_real(value, &number))
            json_object_set_new(o, f[i].name, json_real(number));
        else
            json_object_set_new(o, f[i].name, json_string(value));
    }
    return o;
}
