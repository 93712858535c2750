#include "diagnose/said.h"

#include <stdbool.h>
#include <string.h>

#include "mem.h"
#include "text.h"

static bool is_digit(char c)
{
    return c >= '0' && c <= '9';
}

static bool is_letter(char c)
{
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z');
}

static char small(char c)
{
    return c >= 'A' && c <= 'Z' ? (char)(c - 'A' + 'a') : c;
}

/* Bytes of the punctuation mark beyond ASCII that starts here, or 0: quotes and dashes
 * U+2010..U+201F and the ellipsis, three bytes each. */
static size_t wide_mark(const char *at, size_t left)
{
    if (left < 3 || memcmp(at, "\xe2\x80", 2))
        return 0;
    unsigned char last = (unsigned char)at[2];
    return (last >= 0x90 && last <= 0x9f) || last == 0xa6 ? 3 : 0;
}

/* Bytes of an apostrophe at the place, or 0. */
static size_t apostrophe(const char *at, size_t left)
{
    if (left && *at == '\'')
        return 1;
    return left >= 3 && !memcmp(at, "\xe2\x80\x99", 3) ? 3 : 0;
}

static bool is_dash(const char *at, size_t left)
{
    return *at == '-' || (left >= 3 && !memcmp(at, "\xe2\x80", 2) && (unsigned char)at[2] >= 0x90 &&
                          (unsigned char)at[2] <= 0x95);
}

/* ":15" with nothing before it: minutes past some hour. */
static bool lone_minutes(const char *text, size_t at, size_t length)
{
    return text[at] == ':' && at + 2 < length && is_digit(text[at + 1]) && is_digit(text[at + 2]) &&
           (at + 3 == length || !is_digit(text[at + 3])) &&
           (at == 0 || !(is_digit(text[at - 1]) || is_letter(text[at - 1])));
}

/* "1-2-3": numbers in a row, not from one to another. */
static bool in_chain(const char *text, size_t dash, size_t length)
{
    size_t before = dash, after = dash + 1;
    while (before > 0 && is_digit(text[before - 1]))
        before--;
    while (after < length && is_digit(text[after]))
        after++;
    return (before > 1 && text[before - 1] == '-' && is_digit(text[before - 2])) ||
           (after + 1 < length && text[after] == '-' && is_digit(text[after + 1]));
}

/* Bytes of a mark that says something, or 0: = @ + > -> => and the arrow U+2192. */
static size_t sign_length(const char *at, size_t left)
{
    if (left >= 3 && !memcmp(at, "\xe2\x86\x92", 3))
        return 3;
    if (left >= 2 && (*at == '-' || *at == '=') && at[1] == '>')
        return 2;
    return left && *at && strchr("=@+>", *at) ? 1 : 0;
}

static struct said_word *add(struct said *s, size_t from, size_t to, enum said_break before)
{
    s->word = mem_grow(s->word, &s->room, s->count + 1, sizeof *s->word);
    struct said_word *w = &s->word[s->count++];
    memset(w, 0, sizeof *w);
    w->from = from;
    w->to = to;
    w->before = before;
    w->number = w->minute = -1;
    return w;
}

/* "3:15" or "3.15" (then not "3.150"): the minute, and its length; -1 if it is none. */
static int read_minute(const char *at, size_t left, size_t *length)
{
    size_t digits = 0;
    while (digits < left && digits < 3 && is_digit(at[digits]))
        digits++;
    if (!digits || digits > 2 || left < digits + 3 || (at[digits] != ':' && at[digits] != '.') ||
        !is_digit(at[digits + 1]) || !is_digit(at[digits + 2]) ||
        (left > digits + 3 && is_digit(at[digits + 3])))
        return -1;
    char copy[8] = "";
    int minute;
    memcpy(copy, at, digits + 3);
    copy[digits] = ':';
    *length = digits + 3;
    return text_time(copy, &minute, NULL) ? minute : -1;
}

/* Bytes of a fraction such as "1/2" at the place, or 0; not of "1/2/26". */
static size_t fraction_length(const char *text, size_t at, size_t length)
{
    bool alone = at == 0 || !(is_digit(text[at - 1]) || text[at - 1] == '/' || text[at - 1] == '.');
    bool fits = at + 2 < length && is_digit(text[at]) && text[at + 1] == '/' &&
                (text[at + 2] == '2' || text[at + 2] == '4');
    bool ends = at + 3 >= length || !(is_digit(text[at + 3]) || text[at + 3] == '/');
    return alone && fits && ends && text[at] < text[at + 2] ? 3 : 0;
}

static size_t take_digits(struct said *s, const char *text, size_t at, size_t length,
                          enum said_break before)
{
    size_t end = at, minute_length = 0;
    int minute = read_minute(text + at, length - at, &minute_length);
    if (minute >= 0) {
        struct said_word *w = add(s, at, at + minute_length, before);
        memcpy(w->text, text + at, minute_length);
        w->minute = minute;
        return at + minute_length;
    }
    if (fraction_length(text, at, length)) {
        struct said_word *w = add(s, at, at + 3, before);
        memcpy(w->text, text + at, 3);
        return at + 3;
    }
    while (end < length && is_digit(text[end]))
        end++;
    struct said_word *w = add(s, at, end, before);
    size_t kept = end - at < SAID_LETTERS - 1 ? end - at : SAID_LETTERS - 1;
    memcpy(w->text, text + at, kept);
    if (!text_int(w->text, &w->number) || w->number > 1000000)
        w->number = -1;
    return end;
}

/* "a.m." and the like: one letter, a dot, one letter, a dot or the end. */
static bool dotted(const char *text, size_t at, size_t length)
{
    return at + 2 < length && is_letter(text[at]) && text[at + 1] == '.' &&
           is_letter(text[at + 2]) && (at + 3 == length || !is_letter(text[at + 3]));
}

static size_t take_letters(struct said *s, const char *text, size_t at, size_t length,
                           enum said_break before)
{
    struct said_word *w = add(s, at, at, before);
    size_t kept = 0;
    if (dotted(text, at, length)) {
        w->text[0] = small(text[at]);
        w->text[1] = small(text[at + 2]);
        w->to = at + 3 + (at + 3 < length && text[at + 3] == '.');
        return w->to;
    }
    while (at < length) {
        size_t skip = apostrophe(text + at, length - at);
        bool wide = (unsigned char)text[at] >= 0x80 && !wide_mark(text + at, length - at) &&
                    !sign_length(text + at, length - at);
        if (skip && at + skip < length && is_letter(text[at + skip])) {
            at += skip;
            continue;
        }
        if (!is_letter(text[at]) && !wide)
            break;
        if (kept < SAID_LETTERS - 1)
            w->text[kept++] = small(text[at]);
        at++;
    }
    w->to = at;
    return at;
}

static enum said_break strength(char c, bool second_newline)
{
    if (c == '.' || c == '!' || c == '?' || c == ';' || (c == '\n' && second_newline))
        return SAID_STOP;
    return c == ',' || c == ':' || c == '(' || c == ')' || c == '/' ? SAID_SOFT : SAID_JOINED;
}

/* The sentence so far is a question. */
static void ask(struct said *s)
{
    for (size_t at = s->count ? said_sentence(s, s->count - 1) : 0; at < s->count; at++)
        s->word[at].asked = true;
}

void said_split(struct said *s, const char *text, size_t length)
{
    enum said_break before = s->count ? SAID_STOP : SAID_JOINED;
    size_t at = 0;
    while (at < length) {
        size_t wide = wide_mark(text + at, length - at), wide_sign;
        if (is_digit(text[at])) {
            at = take_digits(s, text, at, length, before);
        } else if (lone_minutes(text, at, length)) {
            struct said_word *w = add(s, at, at + 1, before);
            strcpy(w->text, ":");
            w->sign = true;
            at++;
        } else if ((wide_sign = sign_length(text + at, length - at)) > 0) {
            struct said_word *w = add(s, at, at + wide_sign, before);
            strcpy(w->text, wide_sign == 1 ? (char[]){text[at], '\0'} : "->");
            w->sign = true;
            at += wide_sign;
        } else if (is_letter(text[at]) || ((unsigned char)text[at] >= 0x80 && !wide)) {
            at = take_letters(s, text, at, length, before);
        } else {
            size_t step = wide ? wide : 1;
            bool dash = is_dash(text + at, length - at), numbers = at && is_digit(text[at - 1]) &&
                                                                   at + step < length &&
                                                                   is_digit(text[at + step]);
            bool second = at && text[at] == '\n' && text[at - 1] == '\n';
            enum said_break here = strength(text[at], second);
            if (dash && !wide && numbers && in_chain(text, at, length))
                here = SAID_SOFT;
            else if (dash && numbers)
                strcpy(add(s, at, at + step, before)->text, "to"), before = SAID_JOINED;
            else if (dash && (wide || (at && text[at - 1] == ' ')))
                here = SAID_SOFT;
            if (text[at] == '?')
                ask(s);
            before = here > before ? here : before;
            at += step;
            continue;
        }
        before = SAID_JOINED;
    }
}

size_t said_sentence(const struct said *s, size_t at)
{
    while (at > 0 && s->word[at].before != SAID_STOP)
        at--;
    return at;
}

size_t said_sentence_end(const struct said *s, size_t at)
{
    do
        at++;
    while (at < s->count && s->word[at].before != SAID_STOP);
    return at < s->count ? at : s->count;
}

void said_cut(struct said *s, size_t from, size_t to, bool joined)
{
    enum said_break before = s->word[from].before;
    s->cut = mem_grow(s->cut, &s->cut_room, s->cuts + 1, sizeof *s->cut);
    s->cut[s->cuts++] = (struct said_span){s->word[from].from, s->word[to - 1].to};
    memmove(&s->word[from], &s->word[to], (s->count - to) * sizeof *s->word);
    s->count -= to - from;
    if (from < s->count && (joined || before > s->word[from].before))
        s->word[from].before = before;
}

void said_release(struct said *s)
{
    mem_free(s->word);
    mem_free(s->cut);
    memset(s, 0, sizeof *s);
}
