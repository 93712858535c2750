#include "text.h"

#include <assert.h>
#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <locale.h>
#include <math.h>
#include <pthread.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "err.h"
#include "mem.h"

/* ---- growing ---- */

void text_add_bytes(struct text *t, const char *s, size_t length)
{
    t->at = mem_grow(t->at, &t->room, t->length + length + 1, 1);
    if (length)
        memcpy(t->at + t->length, s, length);
    t->length += length;
    t->at[t->length] = '\0';
}

void text_add(struct text *t, const char *s)
{
    if (s)
        text_add_bytes(t, s, strlen(s));
}

/* Numbers have a decimal point here even if some library has switched the locale of the process. */
static locale_t plain_locale;
static void plain_locale_open(void)
{
    plain_locale = newlocale(LC_ALL_MASK, "C", (locale_t)0);
}
static locale_t plain_locale_enter(void)
{
    static pthread_once_t once = PTHREAD_ONCE_INIT;
    pthread_once(&once, plain_locale_open);
    return uselocale(plain_locale);
}

void text_addv(struct text *t, const char *fmt, va_list args)
{
    locale_t before = plain_locale_enter();
    va_list again;
    va_copy(again, args);
    int length = vsnprintf(NULL, 0, fmt, args);
    assert(length >= 0 && "a format of ours is broken");
    t->at = mem_grow(t->at, &t->room, t->length + (size_t)length + 1, 1);
    vsnprintf(t->at + t->length, (size_t)length + 1, fmt, again);
    t->length += (size_t)length;
    va_end(again);
    uselocale(before);
}

void text_addf(struct text *t, const char *fmt, ...)
{
    va_list args;
    va_start(args, fmt);
    text_addv(t, fmt, args);
    va_end(args);
}

const char *text_cstr(const struct text *t)
{
    return t->at ? t->at : "";
}

void text_clear(struct text *t)
{
    t->length = 0;
    if (t->at)
        t->at[0] = '\0';
}

void text_release(struct text *t)
{
    mem_free(t->at);
    *t = (struct text){0};
}

/* ---- near misses ---- */

#define DISTANCE_WIDTH 64
#define DISTANCE_FAR   99

static int least(int a, int b)
{
    return a < b ? a : b;
}

int text_distance(const char *a, const char *b)
{
    size_t la = strlen(a), lb = strlen(b);
    if (la >= DISTANCE_WIDTH || lb >= DISTANCE_WIDTH)
        return DISTANCE_FAR;
    int row[DISTANCE_WIDTH][DISTANCE_WIDTH];
    for (size_t i = 0; i <= la; i++)
        row[i][0] = (int)i;
    for (size_t j = 0; j <= lb; j++)
        row[0][j] = (int)j;
    for (size_t i = 1; i <= la; i++) {
        for (size_t j = 1; j <= lb; j++) {
            int cost = row[i - 1][j - 1] + (a[i - 1] != b[j - 1]);
            cost = least(cost, least(row[i - 1][j], row[i][j - 1]) + 1);
            if (i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1])
                cost = least(cost, row[i - 2][j - 2] + 1);
            row[i][j] = cost;
        }
    }
    return row[la][lb];
}

const char *text_nearest(const char *word, const char *const *words, size_t count)
{
    const char *best = NULL;
    int length = (int)strlen(word);
    int limit =
        length < 3 ? 1 : length / 3 + 1; /* a third of the letters, and one more, may be wrong */
    for (size_t i = 0; i < count; i++) {
        int d = text_distance(word, words[i]);
        if (d <= limit && d < length) {
            limit = d - 1; /* only a nearer one replaces it */
            best = words[i];
        }
    }
    return best;
}

/* ---- UTF-8 ---- */

/* Bytes of the well-formed character at `s` (RFC 3629: shortest form, no surrogates, up to
 * 10FFFF), or 0. */
static size_t utf8_width(const unsigned char *s, size_t left)
{
    if (s[0] < 0x80)
        return s[0] ? 1 : 0;
    size_t width = s[0] >= 0xF0 ? 4 : s[0] >= 0xE0 ? 3 : 2;
    if (s[0] < 0xC2 || s[0] > 0xF4 || width > left)
        return 0;
    unsigned low = 0x80, high = 0xBF; /* of the second byte */
    if (s[0] == 0xE0)
        low = 0xA0;
    else if (s[0] == 0xED)
        high = 0x9F;
    else if (s[0] == 0xF0)
        low = 0x90;
    else if (s[0] == 0xF4)
        high = 0x8F;
    if (s[1] < low || s[1] > high)
        return 0;
    for (size_t i = 2; i < width; i++)
        if ((s[i] & 0xC0) != 0x80)
            return 0;
    return width;
}

bool text_is_utf8(const char *s, size_t length, size_t *bad)
{
    size_t at = 0;
    while (at < length) {
        size_t width = utf8_width((const unsigned char *)s + at, length - at);
        if (!width) {
            if (bad)
                *bad = at;
            return false;
        }
        at += width;
    }
    return true;
}

/* ---- numbers ---- */

static const char *skip_digits(const char *s, int *seen)
{
    while (*s >= '0' && *s <= '9') {
        s++;
        (*seen)++;
    }
    return s;
}

/* [+-] digits [. digits] [e [+-] digits], nothing before or behind. */
static bool looks_real(const char *s)
{
    int digits = 0, power = 0;
    if (*s == '+' || *s == '-')
        s++;
    s = skip_digits(s, &digits);
    if (*s == '.')
        s = skip_digits(s + 1, &digits);
    if (!digits)
        return false;
    if (*s == 'e' || *s == 'E') {
        s++;
        if (*s == '+' || *s == '-')
            s++;
        s = skip_digits(s, &power);
        if (!power)
            return false;
    }
    return *s == '\0';
}

bool text_real(const char *s, double *value)
{
    if (!looks_real(s))
        return false;
    locale_t before = plain_locale_enter();
    double v = strtod(s, NULL);
    uselocale(before);
    if (!isfinite(v))
        return false;
    *value = v;
    return true;
}

bool text_int(const char *s, long *value)
{
    int digits = 0;
    const char *end = skip_digits(*s == '+' || *s == '-' ? s + 1 : s, &digits);
    if (!digits || *end)
        return false;
    errno = 0;
    long v = strtol(s, NULL, 10);
    if (errno)
        return false;
    *value = v;
    return true;
}

/* ---- times ---- */

enum half_of_day { HALF_UNSAID, HALF_AM, HALF_PM, HALF_BAD };

static enum half_of_day read_half(const char *s)
{
    if (!*s)
        return HALF_UNSAID;
    if (*s == ' ')
        s++;
    if (strcmp(s, "am") == 0)
        return HALF_AM;
    return strcmp(s, "pm") == 0 ? HALF_PM : HALF_BAD;
}

bool text_time(const char *s, int *minutes, bool *known24)
{
    int digits = 0;
    const char *colon = skip_digits(s, &digits);
    if (digits < 1 || digits > 2 || *colon != ':')
        return false;
    int more = 0;
    const char *end = skip_digits(colon + 1, &more);
    if (more != 2)
        return false;
    int hour = atoi(s), minute = atoi(colon + 1);
    enum half_of_day half = read_half(end);
    if (half == HALF_BAD || hour > 24 || minute > 59 || (hour == 24 && minute))
        return false;
    if (half != HALF_UNSAID && (hour < 1 || hour > 12))
        return false;
    if (known24)
        *known24 = half != HALF_UNSAID || hour > 12;
    if (half != HALF_UNSAID)
        hour = hour % 12 + (half == HALF_PM ? 12 : 0);
    *minutes = hour % 24 * 60 + minute;
    return true;
}

char *text_dial(int minutes, char out[8])
{
    int m = (minutes % 720 + 720) % 720;
    int hour = m / 60 ? m / 60 : 12;
    snprintf(out, 8, "%d:%02d", hour % 100, m % 60);
    return out;
}

/* ---- files ---- */

#define READ_STEP 65536

/* Reads to the end or one byte past the limit; false if the system says no (errno). */
static bool read_all(int fd, size_t limit, struct text *into)
{
    while (into->length <= limit) {
        into->at = mem_grow_bare(into->at, &into->room, into->length + READ_STEP + 1, 1);
        ssize_t got = read(fd, into->at + into->length, READ_STEP);
        if (got < 0 && errno == EINTR)
            continue;
        if (got < 0)
            return false;
        if (got == 0)
            break;
        into->length += (size_t)got;
    }
    return true;
}

char *text_read_file(const char *path, size_t limit, size_t *length, struct err *e)
{
    bool from_stdin = strcmp(path, "-") == 0;
    int fd = from_stdin ? STDIN_FILENO : open(path, O_RDONLY | O_CLOEXEC);
    if (fd < 0) {
        err_device(e, "%s: the file cannot be opened: %s.", path, strerror(errno));
        return NULL;
    }
    struct text t = {0};
    bool good = read_all(fd, limit, &t);
    int problem = errno;
    if (!from_stdin)
        close(fd);
    if (!good)
        err_device(e, "%s: the file cannot be read: %s.", path, strerror(problem));
    else if (t.length > limit)
        err_add(e, "%s: the file is longer than the %zu bytes that are allowed.", path, limit);
    if (!good || t.length > limit) {
        text_release(&t);
        return NULL;
    }
    text_add_bytes(&t, "", 0);
    if (length)
        *length = t.length;
    return t.at;
}

static bool write_all(int fd, const char *bytes, size_t length)
{
    while (length) {
        ssize_t put = write(fd, bytes, length);
        if (put < 0 && errno == EINTR)
            continue;
        if (put < 0)
            return false;
        bytes += put;
        length -= (size_t)put;
    }
    return true;
}

/* A file of its own beside `path`, its name in `part`; -1 with errno. */
static int open_beside(const char *path, mode_t mode, struct text *part)
{
    for (int n = 0; n < 100; n++) {
        text_clear(part);
        text_addf(part, "%s.%ld-%d.part", path, (long)getpid(), n);
        int fd = open(text_cstr(part), O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, mode);
        if (fd >= 0 || errno != EEXIST)
            return fd;
    }
    return -1;
}

/* On failure errno tells why and nothing is left behind. */
static bool replace_file(const char *path, mode_t mode, const void *bytes, size_t length)
{
    struct text part = {0};
    int problem = 0;
    int fd = open_beside(path, mode, &part);
    if (fd < 0) {
        problem = errno;
    } else {
        if (!write_all(fd, bytes, length) || fsync(fd) != 0)
            problem = errno;
        if (close(fd) != 0 && !problem)
            problem = errno;
        if (!problem && rename(text_cstr(&part), path) != 0)
            problem = errno;
        if (problem)
            unlink(text_cstr(&part));
    }
    text_release(&part);
    errno = problem;
    return problem == 0;
}

static bool write_through(const char *path, const void *bytes, size_t length)
{
    int fd = open(path, O_WRONLY | O_CLOEXEC);
    if (fd < 0)
        return false;
    bool good = write_all(fd, bytes, length);
    return close(fd) == 0 && good;
}

bool text_write_file(const char *path, const void *bytes, size_t length, struct err *e)
{
    struct stat st;
    bool exists = stat(path, &st) == 0;
    bool good;
    if (exists && !S_ISREG(st.st_mode) && !S_ISDIR(st.st_mode)) {
        good = write_through(path, bytes, length);
    } else {
        char *real = exists ? realpath(path, NULL) : NULL; /* so that a link stays a link */
        good = replace_file(real ? real : path, exists ? st.st_mode & 0777 : 0666, bytes, length);
        free(real); /* malloc'd by the C library */
    }
    if (!good)
        err_device(e, "%s: the file cannot be written: %s.", path, strerror(errno));
    return good;
}
