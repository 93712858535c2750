/* command.h - the program's verbs, without a window.
 *
 * To add a verb: 1. write src/command/verb_NAME.c with `int verb_NAME(int argc, char **argv)`
 * (argv[0] is the verb); 2. declare it below; 3. add its row to the table in command.c.  The
 * usage text, `letoff --help` and the completion file follow from the table.
 *
 * A verb prints its result on stdout and one sentence per problem on stderr and returns the exit
 * status: 0 done, 2 bad usage or input, 3 a device or file failed.
 */
#ifndef LETOFF_COMMAND_COMMAND_H
#define LETOFF_COMMAND_COMMAND_H

#include <stddef.h>

struct verb {
    const char *name, *form, *about;
    int (*run)(int argc, char **argv);
};

/* Run the program: argv[1] is the verb.  `window` is run when there is no verb; NULL if this
 * build has none. */
int command_run(int argc, char **argv, int (*window)(int argc, char **argv));

/* Run the row argv[0] names.  When there is none, one sentence that begins with `none` ("There is no
 * verb") and names the nearest; status 2. */
int verb_run(const struct verb *rows, size_t count, const char *none, int argc, char **argv);

const struct verb *command_verbs(size_t *count);

int verb_play(int argc, char **argv);
int verb_resync(int argc, char **argv);
int verb_chart(int argc, char **argv);
int verb_drill(int argc, char **argv);
int verb_list(int argc, char **argv);
int verb_check(int argc, char **argv);
int verb_journal(int argc, char **argv);
int verb_find(int argc, char **argv);
int verb_ask(int argc, char **argv);
int verb_listen(int argc, char **argv);
int verb_doctor(int argc, char **argv);

#endif
