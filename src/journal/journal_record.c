#include "journal/journal_record.h"

#include <assert.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>
#include "mem.h"
#include "text.h"

#define YES_NO "yes no"

/* clang-format off */
static const struct record_shape shapes[RECORD_KINDS] = {
    [RECORD_CUSTOMER] = {"customer", "somebody with clocks; as little as the shop needs",
        {
            {"label", FIELD_TEXT, true, .about = "the shop's own word for the customer"},
            {"note", FIELD_TEXT, .about = "free text"},
        }},
    [RECORD_CLOCK] = {"clock", "one clock",
        {
            {"customer", FIELD_REF, .refers = RECORD_CUSTOMER, .about = "whose it is"},
            {"movement", FIELD_TEXT, .about = "id of the clock description, or the caller's words"},
            {"label", FIELD_TEXT, .about = "which one of the house, in the shop's words"},
            {"note", FIELD_TEXT, .about = "free text"},
        }},
    [RECORD_CALL] = {"call", "one call, and the job that comes of it",
        {
            {"customer", FIELD_REF, .refers = RECORD_CUSTOMER, .about = "who called"},
            {"clock", FIELD_REF, .refers = RECORD_CLOCK, .about = "about which clock"},
            {"taken_at", FIELD_TIME, true, .about = "when the call was taken"},
            {"state", FIELD_WORD, true, .words = "open closed", .about = "open until the job is done"},
            {"sheet", FIELD_TEXT, .about = "the call sheet as given"},
            {"story", FIELD_TEXT, .about = "the caller's own words"},
            {"history", FIELD_TEXT, .about = "words of the clock's history, separated by spaces"},
            {"desk", FIELD_TEXT, .about = "desk or van that took it"},
            {"closed_at", FIELD_TIME, .about = "when the job was closed"},
            {"outcome", FIELD_WORD, .words = "phone visit bench declined no_fault",
             .about = "how it was put right, or not"},
            {"minutes", FIELD_REAL, .low = 0, .high = 100000, .about = "minutes spent in all"},
            {"lesson", FIELD_WORD, .words = YES_NO, .about = "no = the finder must not learn from it"},
            {"note", FIELD_TEXT, .about = "free text"},
        }},
    [RECORD_BELIEF] = {"belief", "what was believed at the time, one fault a record",
        {
            {"call", FIELD_REF, true, .refers = RECORD_CALL, .about = "of which call"},
            {"made_at", FIELD_TIME, .about = "when it was believed"},
            {"fault", FIELD_TEXT, true, .about = "fault id"},
            {"part", FIELD_TEXT, .about = "the part it sits in"},
            {"p", FIELD_REAL, true, .low = 0, .high = 1, .about = "its probability"},
        }},
    [RECORD_ADVICE] = {"advice", "what the caller was told to do or to listen for",
        {
            {"call", FIELD_REF, true, .refers = RECORD_CALL, .about = "of which call"},
            {"given_at", FIELD_TIME, .about = "when"},
            {"action", FIELD_TEXT, .about = "id of the action or question"},
            {"text", FIELD_TEXT, true, .about = "as it was said"},
            {"saves_min", FIELD_REAL, .low = -100000, .high = 100000,
             .about = "minutes it was expected to save"},
            {"followed", FIELD_WORD, .words = "yes no unknown", .about = "whether it was done"},
            {"helped", FIELD_WORD, .words = "yes no unknown", .about = "whether that was the cure"},
        }},
    [RECORD_VISIT] = {"visit", "a planned or made visit",
        {
            {"call", FIELD_REF, true, .refers = RECORD_CALL, .about = "for which call"},
            {"planned_at", FIELD_TIME, true, .about = "when, the shop's own time"},
            {"minutes", FIELD_REAL, .low = 0, .high = 10000, .about = "how long it is planned to take"},
            {"van", FIELD_TEXT, .about = "who goes"},
            {"kit", FIELD_TEXT, .about = "what to take along, one thing a line"},
            {"done", FIELD_WORD, .words = YES_NO, .about = "whether it has been made"},
            {"note", FIELD_TEXT, .about = "free text"},
        }},
    [RECORD_FINDING] = {"finding", "a fault that was found",
        {
            {"call", FIELD_REF, true, .refers = RECORD_CALL, .about = "of which call"},
            {"fault", FIELD_TEXT, true, .about = "fault id, none or unknown"},
            {"part", FIELD_TEXT, .about = "the part it sat in"},
            {"class", FIELD_TEXT, .about = "class of the answer"},
            {"note", FIELD_TEXT, .about = "free text"},
        }},
    [RECORD_PART] = {"part", "a part that was used",
        {
            {"call", FIELD_REF, true, .refers = RECORD_CALL, .about = "for which call"},
            {"name", FIELD_TEXT, true, .about = "what"},
            {"count", FIELD_INT, .low = 1, .high = 10000, .about = "how many"},
        }},
    [RECORD_WORK] = {"work", "minutes one action took",
        {
            {"call", FIELD_REF, true, .refers = RECORD_CALL, .about = "for which call"},
            {"action", FIELD_TEXT, true, .about = "action id"},
            {"minutes", FIELD_REAL, true, .low = 0, .high = 10000, .about = "minutes it took"},
        }},
    [RECORD_HEARING] = {"hearing", "what the caller's report was worth, seen afterwards",
        {
            {"call", FIELD_REF, true, .refers = RECORD_CALL, .about = "of which call"},
            {"what", FIELD_TEXT, true, .about = "kind of statement: count, time, notes, noticing ..."},
            {"trials", FIELD_INT, true, .low = 0, .high = 100000, .about = "statements checked"},
            {"wrong", FIELD_INT, true, .low = 0, .high = 100000, .about = "of these wrong"},
        }},
    [RECORD_RECORDING] = {"recording", "a sound file, by reference",
        {
            {"call", FIELD_REF, true, .refers = RECORD_CALL, .about = "of which call"},
            {"path", FIELD_TEXT, true, .about = "where the file is"},
            {"made_at", FIELD_TIME, .about = "when it was recorded"},
            {"note", FIELD_TEXT, .about = "free text"},
        }},
    [RECORD_DRILL] = {"drill", "one answer in a training round",
        {
            {"trainee", FIELD_TEXT, .about = "who"},
            {"part", FIELD_TEXT, true, .about = "the part the hidden fault sat in"},
            {"was_right", FIELD_WORD, true, .words = YES_NO, .about = "whether it was found"},
            {"made_at", FIELD_TIME, true, .about = "when"},
            {"due_at", FIELD_TIME, .about = "when the part should come up again"},
            {"interval_days", FIELD_REAL, .low = 0, .high = 10000, .about = "days until then"},
            {"round", FIELD_TEXT, .about = "kind of round: time, clock, oil, reset, defect or fault"},
            {"score", FIELD_INT, .low = 0, .high = 100, .about = "marks, 100 the best"},
            {"note", FIELD_TEXT, .about = "what was missed, and what would have been right"},
        }},
};
/* clang-format on */

const struct record_shape *record_shape(enum record_kind kind)
{
    assert((unsigned)kind < RECORD_KINDS);
    return &shapes[kind];
}

int record_kind_of(const char *name)
{
    for (int k = 0; k < RECORD_KINDS; k++)
        if (strcmp(shapes[k].name, name) == 0)
            return k;
    return -1;
}

int record_field_of(enum record_kind kind, const char *name)
{
    const struct field *f = record_shape(kind)->field;
    for (int i = 0; f[i].name; i++)
        if (strcmp(f[i].name, name) == 0)
            return i;
    return -1;
}

size_t record_field_count(enum record_kind kind)
{
    size_t n = 0;
    while (record_shape(kind)->field[n].name)
        n++;
    return n;
}

void record_init(struct record *r, enum record_kind kind)
{
    memset(r, 0, sizeof *r);
    r->kind = kind;
}

void record_release(struct record *r)
{
    for (size_t i = 0; i < RECORD_FIELDS_MOST; i++)
        mem_free(r->value[i]);
    record_init(r, r->kind);
}

void record_set(struct record *r, const char *field, const char *value)
{
    int i = record_field_of(r->kind, field);
    assert(i >= 0 && "a field of this kind");
    char *copy = mem_copy_text(value); /* first: value may be the old one */
    mem_free(r->value[i]);
    r->value[i] = copy;
}

void record_set_real(struct record *r, const char *field, double value)
{
    char number[40];
    snprintf(number, sizeof number, "%.15g", value);
    record_set(r, field, number);
}

void record_set_int(struct record *r, const char *field, long value)
{
    char number[24];
    snprintf(number, sizeof number, "%ld", value);
    record_set(r, field, number);
}

const char *record_get(const struct record *r, const char *field)
{
    int i = record_field_of(r->kind, field);
    assert(i >= 0 && "a field of this kind");
    return r->value[i];
}

const char *record_text(const struct record *r, const char *field)
{
    const char *value = record_get(r, field);
    return value ? value : "";
}

double record_real(const struct record *r, const char *field, double absent)
{
    const char *value = record_get(r, field);
    double number;
    return value && text_real(value, &number) ? number : absent;
}

struct record *record_list_add(struct record_list *list, enum record_kind kind)
{
    list->at = mem_grow(list->at, &list->room, list->count + 1, sizeof *list->at);
    struct record *r = &list->at[list->count++];
    record_init(r, kind);
    return r;
}

void record_list_release(struct record_list *list)
{
    for (size_t i = 0; i < list->count; i++)
        record_release(&list->at[i]);
    mem_free(list->at);
    *list = (struct record_list){0};
}

/* ---- checking values ---------------------------------------------------------------------- */

static bool digits(const char *s, size_t count, int *value)
{
    *value = 0;
    for (size_t i = 0; i < count; i++) {
        if (s[i] < '0' || s[i] > '9')
            return false;
        *value = *value * 10 + (s[i] - '0');
    }
    return true;
}

static int days_of(int year, int month)
{
    static const int days[] = {31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
    bool leap = (year % 4 == 0 && year % 100 != 0) || year % 400 == 0;
    return days[month - 1] + (month == 2 && leap);
}

/* YYYY-MM-DD, then nothing, or THH:MM, or THH:MM:SS.  `digits` stops at the first other byte, a
 * NUL too, so nothing is read behind the end. */
static bool is_time(const char *s)
{
    int year, month, day, hour, minute, second;
    if (!digits(s, 4, &year) || s[4] != '-' || !digits(s + 5, 2, &month) || s[7] != '-' ||
        !digits(s + 8, 2, &day))
        return false;
    if (year < 1 || month < 1 || month > 12 || day < 1 || day > days_of(year, month))
        return false;
    if (s[10] == '\0')
        return true;
    if (s[10] != 'T' || !digits(s + 11, 2, &hour) || s[13] != ':' || !digits(s + 14, 2, &minute))
        return false;
    if (hour > 23 || minute > 59)
        return false;
    if (s[16] == '\0')
        return true;
    return s[16] == ':' && digits(s + 17, 2, &second) && second <= 59 && s[19] == '\0';
}

static bool is_word(const char *value, const char *words)
{
    size_t length = strlen(value);
    for (const char *w = words; *w;) {
        size_t here = strcspn(w, " ");
        if (here == length && memcmp(w, value, length) == 0)
            return true;
        w += here;
        w += *w == ' ';
    }
    return false;
}

bool record_id_ok(const char *id)
{
    return strlen(id) == RECORD_ID_LENGTH && strspn(id, "0123456789abcdef") == RECORD_ID_LENGTH;
}

void record_id_new(char id[RECORD_ID_LENGTH + 1])
{
    unsigned char bits[RECORD_ID_LENGTH / 2];
    if (getentropy(bits, sizeof bits) != 0)
        abort(); /* no kernel we run on refuses 16 bytes; ids that could meet would mix records */
    for (size_t i = 0; i < sizeof bits; i++)
        snprintf(id + 2 * i, 3, "%02x", bits[i]);
}

/* A value as it is shown in a sentence: the first 60 bytes, cut at a character. */
static const char *shown(const char *value, char out[64])
{
    size_t length = strlen(value);
    if (length > 60) {
        length = 60;
        while (length > 0 && ((unsigned char)value[length] & 0xC0) == 0x80)
            length--;
    }
    memcpy(out, value, length);
    out[length] = '\0';
    return out;
}

static char *refuse(enum record_kind kind, const struct field *f, const char *value,
                    const char *wanted, struct err *e)
{
    char cut[64];
    err_add(e, "%s: %s is \"%s\", expected %s.", record_shape(kind)->name, f->name,
            shown(value, cut), wanted);
    return NULL;
}

static char *canonical_number(enum record_kind kind, const struct field *f, const char *value,
                              struct err *e)
{
    char out[64];
    double real;
    bool whole = f->type == FIELD_INT;
    bool ok = text_real(value, &real) && real >= f->low && real <= f->high;
    if (ok && whole)
        ok = real == floor(real);
    if (!ok) {
        snprintf(out, sizeof out, "a %snumber from %g to %g", whole ? "whole " : "", f->low,
                 f->high);
        return refuse(kind, f, value, out, e);
    }
    snprintf(out, sizeof out, "%.15g", real == 0 ? 0 : real); /* no "-0" */
    return mem_copy_text(out);
}

char *record_canonical(enum record_kind kind, size_t field, const char *value, struct err *e)
{
    const struct field *f = &record_shape(kind)->field[field];
    size_t length = strlen(value), bad;
    char wanted[128];
    if (!text_is_utf8(value, length, &bad)) {
        err_add(e, "%s: %s is no UTF-8 text at byte %zu, expected UTF-8.", record_shape(kind)->name,
                f->name, bad);
        return NULL;
    }
    if (length > RECORD_TEXT_MOST) {
        err_add(e, "%s: %s has %zu bytes, expected at most %d.", record_shape(kind)->name, f->name,
                length, RECORD_TEXT_MOST);
        return NULL;
    }
    if (length == 0)
        return mem_copy_text("");
    switch (f->type) {
    case FIELD_INT:
    case FIELD_REAL:
        return canonical_number(kind, f, value, e);
    case FIELD_TIME:
        if (!is_time(value))
            return refuse(kind, f, value, "YYYY-MM-DD or YYYY-MM-DDTHH:MM", e);
        break;
    case FIELD_REF:
        if (!record_id_ok(value)) {
            snprintf(wanted, sizeof wanted, "the id of a %s", record_shape(f->refers)->name);
            return refuse(kind, f, value, wanted, e);
        }
        break;
    case FIELD_WORD:
        if (!is_word(value, f->words)) {
            snprintf(wanted, sizeof wanted, "one of %s", f->words);
            return refuse(kind, f, value, wanted, e);
        }
        break;
    case FIELD_TEXT:
        break;
    }
    return mem_copy_text(value);
}

bool record_check(struct record *r, bool fresh, struct err *e)
{
    bool ok = true;
    const struct record_shape *shape = record_shape(r->kind);
    for (size_t i = 0; shape->field[i].name; i++) {
        const struct field *f = &shape->field[i];
        if (r->value[i]) {
            char *canonical = record_canonical(r->kind, i, r->value[i], e);
            if (!canonical) {
                ok = false;
                continue;
            }
            mem_free(r->value[i]);
            r->value[i] = canonical;
        }
        bool missing = r->value[i] ? r->value[i][0] == '\0' : fresh;
        if (f->must && missing) {
            err_add(e, "%s: %s is missing, expected %s.", shape->name, f->name, f->about);
            ok = false;
        }
    }
    return ok;
}
