#include "command/command.h"

#include <assert.h>
#include <errno.h>
#include <locale.h>
#include <stdio.h>
#include <string.h>

#include "err.h"
#include "text.h"

#ifndef LETOFF_VERSION
#define LETOFF_VERSION "0"
#endif

static const struct verb verbs[] = {
    {"play", "play CLOCK [--from 14:50 --to 16:10] [--fault ID[=SEVERITY]]",
     "what a clock sounds, as it should or with a fault", verb_play},
    {"find", "find SHEET | - [--clock ID] [--heard '...'] [--story '...']",
     "ranked causes of a report, with reasons and the next step", verb_find},
    {"listen", "listen RECORDING [--clock ID] [--at 3:00]",
     "what was struck in a recording, and the likely cause", verb_listen},
    {"ask", "ask [SHEET]", "the same, question by question", verb_ask},
    {"resync", "resync CLOCK --hands H:MM --struck N [--phrase K] [--time H:MM]",
     "bring hands, strike and chime into step, each step with what must be heard", verb_resync},
    {"chart", "chart CLOCK --out x.pdf",
     "twelve-hour test chart, oiling chart, hand-refit sheet; a call's report and visit plan",
     verb_chart},
    {"drill", "drill [--seed N]", "training rounds with a score", verb_drill},
    {"list", "list clocks|tunes|faults|voices|words|sheet",
     "what the program knows; how a call sheet is written", verb_list},
    {"journal", "journal VERB ...", "calls and jobs of the shop", verb_journal},
    {"check", "check FILE...", "validate data files and call sheets", verb_check},
    {"doctor", "doctor", "what of this machine works, and how to mend what does not", verb_doctor},
};
#define VERBS (sizeof verbs / sizeof verbs[0])

const struct verb *command_verbs(size_t *count)
{
    *count = VERBS;
    return verbs;
}

static void help(FILE *out)
{
    fprintf(out, "letoff " LETOFF_VERSION " - a companion for striking and chiming clocks\n\n"
                 "letoff                opens the window\n");
    for (size_t i = 0; i < VERBS; i++)
        fprintf(out, "letoff %-14s %s\n", verbs[i].name, verbs[i].about);
    fprintf(out, "\nletoff VERB --help tells what a verb takes.\n"
                 "Answers are likelihoods.  Weights, mainsprings and glass can hurt: leave a wound\n"
                 "movement closed and what is not said to be the owner's to a trained repairer.\n");
}

#define VERBS_MOST 32

static int no_such_verb(const struct verb *rows, size_t count, const char *none, const char *word)
{
    const char *names[VERBS_MOST];
    for (size_t i = 0; i < count; i++)
        names[i] = rows[i].name;
    const char *near = text_nearest(word, names, count);
    if (near)
        fprintf(stderr, "%s \"%s\"; the nearest is \"%s\".\n", none, word, near);
    else
        fprintf(stderr, "%s \"%s\"; --help lists those there are.\n", none, word);
    return EXIT_BAD_INPUT;
}

int verb_run(const struct verb *rows, size_t count, const char *none, int argc, char **argv)
{
    assert(count <= VERBS_MOST);
    for (size_t i = 0; i < count; i++)
        if (!strcmp(argv[0], rows[i].name))
            return rows[i].run(argc, argv);
    return no_such_verb(rows, count, none, argv[0]);
}

/* The window's own options begin with a dash: --shot and the like. */
static int run_window(int argc, char **argv, int (*window)(int argc, char **argv))
{
    if (!window) {
        fprintf(stderr, "This build has no window; letoff --help lists the verbs.\n");
        return EXIT_BAD_INPUT;
    }
    return window(argc, argv);
}

static int run(int argc, char **argv, int (*window)(int argc, char **argv))
{
    if (argc < 2)
        return run_window(argc, argv, window);
    if (!strcmp(argv[1], "--version")) {
        printf("letoff " LETOFF_VERSION "\n");
        return EXIT_DONE;
    }
    if (!strcmp(argv[1], "--help") || !strcmp(argv[1], "-h") || !strcmp(argv[1], "help")) {
        help(stdout);
        return EXIT_DONE;
    }
    if (argv[1][0] == '-')
        return run_window(argc, argv, window);
    return verb_run(verbs, VERBS, "There is no verb", argc - 1, argv + 1);
}

/* Output that did not all arrive (a full disk, a closed file) is a failure, and is told. */
static int finish_output(int status)
{
    errno = 0;
    if (fflush(stdout) == 0 && !ferror(stdout))
        return status;
    fprintf(stderr, "The output could not be written%s%s.\n", errno ? ": " : "", errno ? strerror(errno) : "");
    return EXIT_DEVICE;
}

int command_run(int argc, char **argv, int (*window)(int argc, char **argv))
{
    setlocale(LC_CTYPE, "");
    setlocale(LC_NUMERIC, "C");
    return finish_output(run(argc, argv, window));
}
