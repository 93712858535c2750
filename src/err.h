/* err.h - problems, as whole sentences that can be shown as they are.
 *
 * A function that can fail takes a `struct err *` and adds one sentence per
 * problem; it adds nothing when all is well, so calls can be chained and all
 * problems of a file come out together.  A NULL err is allowed and drops them.
 */
#ifndef LETOFF_ERR_H
#define LETOFF_ERR_H

#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>

/* Exit statuses of the program (the contract of the command line). */
enum exit_status { EXIT_DONE = 0, EXIT_BAD_INPUT = 2, EXIT_DEVICE = 3 };

/* A zeroed struct is an empty list.  More than ERR_MOST sentences are counted, not kept. */
#define ERR_MOST 100
struct err {
    char *line[ERR_MOST];
    size_t count; /* problems met, may exceed ERR_MOST */
    bool device;  /* some problem was a device or file that failed: exit 3, not 2 */
};

/* Add one sentence (printf style, no newline at the end). */
void err_add(struct err *e, const char *fmt, ...) __attribute__((format(printf, 2, 3)));

/* Add "file:line:column: sentence".  line and column count from 1; 0 leaves them out. */
void err_at(struct err *e, const char *file, size_t line, size_t column, const char *fmt, ...)
    __attribute__((format(printf, 5, 6)));

/* As err_add, for a device or file that failed (exit status 3). */
void err_device(struct err *e, const char *fmt, ...) __attribute__((format(printf, 2, 3)));

/* Move all of `from` behind `to` and empty `from`. */
void err_move(struct err *to, struct err *from);
/* Print one sentence a line ("letoff: " is not put before); says how many were left out. */
void err_print(const struct err *e, FILE *out);
int err_status(const struct err *e); /* EXIT_DONE, EXIT_BAD_INPUT or EXIT_DEVICE */
void err_release(struct err *e);

#endif
