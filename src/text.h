/* text.h - a growable string, and small helpers on strings. */
#ifndef LETOFF_TEXT_H
#define LETOFF_TEXT_H

#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>

/* A zeroed struct is the empty string; `at` may then be NULL (use text_cstr). */
struct text {
    char *at;
    size_t length, room;
};

void text_add(struct text *t, const char *s);
void text_add_bytes(struct text *t, const char *s, size_t length);
/* printf style; numbers are written with a decimal point whatever the locale. */
void text_addf(struct text *t, const char *fmt, ...) __attribute__((format(printf, 2, 3)));
void text_addv(struct text *t, const char *fmt, va_list args) __attribute__((format(printf, 2, 0)));
const char *text_cstr(const struct text *t); /* never NULL */
void text_clear(struct text *t);
void text_release(struct text *t);

/* Levenshtein distance with adjacent swaps counting one; used to suggest near misses.
 * Strings over 63 bytes give 99. */
int text_distance(const char *a, const char *b);
/* The nearest of `count` words to `word`, or NULL if none is near enough to suggest. */
const char *text_nearest(const char *word, const char *const *words, size_t count);

/* True if `length` bytes are well-formed UTF-8 without NUL; else *bad is the offset. */
bool text_is_utf8(const char *s, size_t length, size_t *bad);

/* Read a real or a whole number written with a decimal point, all of `s`, whatever the
 * locale.  "21,5", "", "nan", "inf" and trailing letters are refused. */
bool text_real(const char *s, double *value);
bool text_int(const char *s, long *value);

/* "H:MM" or "HH:MM" (hours 0..24), optionally followed by " pm"/" am"/"pm"/"am"; minutes
 * after midnight 0..1439 (24:00 is 0).  *known24 tells whether am/pm or an hour over 12 said
 * which half of the day is meant (NULL to ignore).  False if it is no time. */
bool text_time(const char *s, int *minutes, bool *known24);
/* Writes "H:MM" (12-hour dial, 12:05 not 0:05) into `out`; returns `out`. */
char *text_dial(int minutes, char out[8]);

/* Whole file into memory, at most `limit` bytes, with a NUL behind it; the caller frees with
 * mem_free.  "-" is standard input.  NULL with a sentence in `e` when it cannot be read (exit
 * status 3) or is longer than the limit (status 2).  `length` may be NULL. */
struct err;
char *text_read_file(const char *path, size_t limit, size_t *length, struct err *e);
/* Replace `path` whole (written beside it, synced, renamed) or leave it alone.  A link is followed
 * and a device or pipe is written to directly.  False with a sentence in `e` (status 3). */
bool text_write_file(const char *path, const void *bytes, size_t length, struct err *e);

#endif
