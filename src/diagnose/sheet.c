#include "diagnose/sheet.h"

#include <stdlib.h>
#include <string.h>

#include "diagnose/sheet_priv.h"
#include "event.h"
#include "mem.h"

/* clang-format off */
const struct yaml_word sheet_strike_words[] = {
    {"none", HEARD_STRIKE_NONE, "silence where blows were due (the same as 0)"},
    {"runs_on", HEARD_STRIKE_RUNS_ON, "it did not stop by itself"},
    {"unnoticed", HEARD_STRIKE_UNNOTICED, "nobody listened: says nothing"},
    {"right", HEARD_STRIKE_RIGHT, "the count due there, whatever that is"},
    {"wrong", HEARD_STRIKE_WRONG, "not the count due; how many was not said"},
    {"some", HEARD_STRIKE_SOME, "it struck; not counted"},
    {"hour_count", HEARD_STRIKE_HOURS, "an hour's count where one blow was due; not counted"},
    {NULL, 0},
};
const struct yaml_word sheet_error_words[] = {
    {"constant", HEARD_STRIKE_SAME_ERROR, "wrong, always by the same number, which is not known"},
    {NULL, 0},
};
const struct yaml_word sheet_chime_words[] = {
    {"none", HEARD_CHIME_NONE, "no chime where one was due"},
    {"silent", HEARD_CHIME_NONE, "the same as none"},
    {"right", HEARD_CHIME_RIGHT, "the tune due there"},
    {"wrong", HEARD_CHIME_WRONG, "not the tune due: notes, length or order"},
    {"some", HEARD_CHIME_SOME, "it chimed; right or wrong was not said"},
    {"runs_on", HEARD_CHIME_RUNS_ON, "it did not stop by itself"},
    {"unnoticed", HEARD_CHIME_UNNOTICED, "nobody listened: says nothing"},
    {NULL, 0},
};
const struct yaml_word sheet_often_words[] = {
    {"always", OFTEN_ALWAYS, "each time (so it is when nothing is said)"},
    {"mostly", OFTEN_MOSTLY, "usually, with exceptions"},
    {"sometimes", OFTEN_SOMETIMES, "now and then; at other times not"},
    {"once", OFTEN_ONCE, "one single time"},
    {"maybe", OFTEN_MAYBE, "supposed, not heard: kept, but not held against a cause"},
    {NULL, 0},
};
const struct yaml_word sheet_stopped_words[] = {
    {"hands", STOPPED_HANDS, "the hands stand, the pendulum goes on"},
    {"clock", STOPPED_CLOCK, "all stands"},
    {"train", STOPPED_TRAIN, "a striking, chiming or music train stood midway; which was not said"},
    {"strike", STOPPED_STRIKE, "the strike stood midway"},
    {"chime", STOPPED_CHIME, "the chime stood midway"},
    {"music", STOPPED_MUSIC, "the music stood midway"},
    {NULL, 0},
};
const struct yaml_word sheet_hammers_words[] = {
    {"single", HAMMERS_SINGLE, "one hammer or sounder only"},
    {"both", HAMMERS_BOTH, "two or more at once (ting-tang where single blows are due)"},
    {"outer", HAMMERS_OUTER, "the outer one"},
    {"inner", HAMMERS_INNER, "the inner one"},
    {"high", HAMMERS_HIGH, "the high one only"},
    {"low", HAMMERS_LOW, "the low one only"},
    {"none", HAMMERS_NONE, "none"},
    {"all", HAMMERS_ALL, "all there are"},
    {NULL, 0},
};
const struct yaml_word sheet_order_words[] = {
    {"gong", ORDER_GONG, "the gong"},
    {"call", ORDER_CALL, "the cuckoo's call"},
    {"bell", ORDER_BELL, "the bell"},
    {"music", ORDER_MUSIC, "the music"},
    {"chime", ORDER_CHIME, "the quarters"},
    {"strike", ORDER_STRIKE, "the strike"},
    {NULL, 0},
};
const struct yaml_word sheet_train_words[] = {
    {"going", TRAIN_GOING, "the train of the hands"},
    {"strike", TRAIN_STRIKE, "the train of the hour strike"},
    {"chime", TRAIN_CHIME, "the train of the quarters"},
    {"music", TRAIN_MUSIC, "the train of the music"},
    {NULL, 0},
};
/* clang-format on */

const char *sheet_name(const struct yaml_word *words, int value)
{
    for (; words->name; words++)
        if (words->value == value)
            return words->name;
    return NULL;
}

int sheet_value(const struct yaml_word *words, const char *name)
{
    for (; words->name; words++)
        if (!strcmp(words->name, name))
            return words->value;
    return -1;
}

void sheet_init(struct sheet *s, const struct words *words)
{
    memset(s, 0, sizeof *s);
    s->words = words;
    for (size_t i = 0; i < SHEET_HINTS; i++)
        s->hint[i] = HINT_UNSAID;
    s->years_since_oil = -1;
    s->hands_min = -1;
    s->since_when = -1;
}

void sheet_release(struct sheet *s)
{
    for (size_t i = 0; i < s->heards; i++)
        heard_release(&s->heard[i]);
    for (size_t i = 0; i < s->trieds; i++)
        heard_release(&s->tried[i].row);
    mem_free(s->heard);
    mem_free(s->tried);
    mem_free(s->story);
    mem_free(s->source);
    mem_free(s->file);
    memset(s, 0, sizeof *s);
}

void sheet_clear(struct sheet *s)
{
    const struct words *words = s->words;
    sheet_release(s);
    sheet_init(s, words);
}

void heard_init(struct heard *h)
{
    memset(h, 0, sizeof *h);
    h->phrases = h->freed_by = h->train = -1;
}

void heard_release(struct heard *h)
{
    mem_free(h->said);
    h->said = NULL;
}

struct heard *sheet_add_heard(struct sheet *s)
{
    if (s->heards == SHEET_ROWS)
        return NULL;
    s->heard = mem_grow(s->heard, &s->heard_room, s->heards + 1, sizeof *s->heard);
    heard_init(&s->heard[s->heards]);
    return &s->heard[s->heards++];
}

void sheet_remove_heard(struct sheet *s, size_t i)
{
    if (i >= s->heards)
        return;
    heard_release(&s->heard[i]);
    memmove(&s->heard[i], &s->heard[i + 1], (s->heards - i - 1) * sizeof *s->heard);
    s->heards--;
}

struct tried *sheet_add_tried(struct sheet *s)
{
    if (s->trieds == SHEET_TRIED)
        return NULL;
    s->tried = mem_grow(s->tried, &s->tried_room, s->trieds + 1, sizeof *s->tried);
    struct tried *t = &s->tried[s->trieds++];
    memset(t, 0, sizeof *t);
    t->action = t->train = t->result = -1;
    heard_init(&t->row);
    return t;
}

bool heard_tells(const struct heard *h)
{
    return h->strike || h->chime || *h->notes || h->phrases >= 0 || h->quarter ||
           h->quarter_shift || h->hammers || !word_set_empty(&h->how) || h->stopped || h->orders ||
           h->interval_s > 0 || h->pause_s > 0 || h->intervals || h->has_for;
}

const char *heard_value_word(const struct yaml_word *words, int value)
{
    return value < 0 ? sheet_name(words, -value) : NULL;
}

void sheet_settle_chimes(struct heard *h)
{
    h->chime_also &= ~(1u << h->chime);
    h->chime_mostly = h->chime_mostly && h->chime_also;
}

static bool same_text(const char *a, const char *b)
{
    return a == b || (a && b && !strcmp(a, b));
}

static bool same_set(const struct word_set *a, const struct word_set *b)
{
    return !memcmp(a, b, sizeof *a);
}

static bool same_asked(const struct word_set *a, const struct word_set *asked,
                       const struct word_set *b, const struct word_set *also)
{
    struct word_set one = word_set_both(a, asked), two = word_set_both(b, also);
    return same_set(&one, &two);
}

static bool same_lists(const struct heard *a, const struct heard *b)
{
    if (a->values != b->values || a->excepts != b->excepts || a->orders != b->orders ||
        a->intervals != b->intervals)
        return false;
    for (size_t i = 0; i < a->values; i++)
        if (a->value[i] != b->value[i])
            return false;
    for (size_t i = 0; i < a->excepts; i++)
        if (!at_same(&a->except[i], &b->except[i]))
            return false;
    for (size_t i = 0; i < a->orders; i++)
        if (a->order[i] != b->order[i])
            return false;
    for (size_t i = 0; i < a->intervals; i++)
        if (memcmp(&a->intervals_s[i], &b->intervals_s[i], sizeof(double)))
            return false;
    return !memcmp(&a->interval_s, &b->interval_s, sizeof(double)) &&
           !memcmp(&a->pause_s, &b->pause_s, sizeof(double));
}

bool heard_same(const struct heard *a, const struct heard *b)
{
    return at_same(&a->at, &b->at) && a->has_for == b->has_for &&
           (!a->has_for || at_same(&a->due, &b->due)) && a->strike == b->strike &&
           a->mostly == b->mostly && a->chime == b->chime && a->chime_also == b->chime_also &&
           a->chime_mostly == b->chime_mostly && !strcmp(a->notes, b->notes) &&
           a->phrases == b->phrases && a->quarter == b->quarter &&
           a->quarter_shift == b->quarter_shift && a->hammers == b->hammers &&
           same_set(&a->how, &b->how) && a->often == b->often && a->stopped == b->stopped &&
           a->stopped_also == b->stopped_also && a->freed_by == b->freed_by &&
           a->train == b->train && a->year == b->year && a->month == b->month && a->day == b->day &&
           same_text(a->said, b->said) && same_lists(a, b);
}

static bool same_tried(const struct tried *a, const struct tried *b)
{
    return a->action == b->action && a->train == b->train && a->has_at == b->has_at &&
           (!a->has_at || at_same(&a->at, &b->at)) && a->result == b->result &&
           a->has_row == b->has_row && (!a->has_row || heard_same(&a->row, &b->row));
}

bool sheet_same(const struct sheet *a, const struct sheet *b)
{
    if (strcmp(a->clock, b->clock) || memcmp(a->hint, b->hint, sizeof a->hint) ||
        !same_set(&a->history, &b->history) || !same_set(&a->history_not, &b->history_not) ||
        !same_set(&a->seen, &b->seen) || !same_set(&a->seen_not, &b->seen_not) ||
        !same_asked(&a->history, &a->history_asked, &b->history, &b->history_asked) ||
        !same_asked(&a->seen, &a->seen_asked, &b->seen, &b->seen_asked) ||
        !same_set(&a->since_after, &b->since_after) || a->since_when != b->since_when ||
        memcmp(&a->years_since_oil, &b->years_since_oil, sizeof(double)) ||
        a->hands_min != b->hands_min || !same_text(a->story, b->story) ||
        !same_text(a->source, b->source) || a->heards != b->heards || a->trieds != b->trieds)
        return false;
    for (size_t i = 0; i < a->heards; i++)
        if (!heard_same(&a->heard[i], &b->heard[i]))
            return false;
    for (size_t i = 0; i < a->trieds; i++)
        if (!same_tried(&a->tried[i], &b->tried[i]))
            return false;
    return true;
}

bool heard_how(const struct heard *h, const struct words *w, const char *how)
{
    return !word_set_empty(&h->how) && words_has(w, WORD_HOW, &h->how, how);
}

static const struct word *hint_word(const struct sheet *s, const char *key, int *value)
{
    const struct word *w = words_find(s->words, WORD_HINT, key);
    if (!w || w->ordinal[WORD_HINT] >= SHEET_HINTS)
        return NULL;
    *value = s->hint[w->ordinal[WORD_HINT]];
    return *value == HINT_UNSAID ? NULL : w;
}

const char *sheet_hint(const struct sheet *s, const char *key)
{
    int value;
    const struct word *w = hint_word(s, key, &value);
    return w && value >= 0 && (size_t)value < w->values ? w->value[value] : NULL;
}

long sheet_hint_number(const struct sheet *s, const char *key, long otherwise)
{
    int value;
    const struct word *w = hint_word(s, key, &value);
    long number;
    if (!w)
        return otherwise;
    if (!w->values)
        return value;
    return text_int(w->value[value], &number) ? number : otherwise;
}

bool sheet_set_hint(struct sheet *s, const char *key, const char *value)
{
    const struct word *w = words_find(s->words, WORD_HINT, key);
    if (!w || w->ordinal[WORD_HINT] >= SHEET_HINTS)
        return false;
    long number = w->values ? word_value_of(w, value) : 0;
    if (w->values ? number < 0 : !word_number_of(w, value, &number))
        return false;
    s->hint[w->ordinal[WORD_HINT]] = (int)number;
    return true;
}

bool sheet_had(const struct sheet *s, const char *history_word)
{
    return words_has(s->words, WORD_HISTORY, &s->history, history_word);
}

bool sheet_seen(const struct sheet *s, const char *seen_word)
{
    return words_has(s->words, WORD_SEEN, &s->seen, seen_word);
}

bool sheet_empty(const struct sheet *s)
{
    return !s->heards && !s->trieds && word_set_empty(&s->history) &&
           word_set_empty(&s->history_not) && word_set_empty(&s->seen) &&
           word_set_empty(&s->seen_not) && (!s->story || !*s->story);
}

bool notes_read(const char *text, char notes[SHEET_NOTES + 1])
{
    size_t n = 0;
    for (; *text; text++) {
        if (*text == ' ' || *text == '-')
            continue;
        bool note = (*text >= '1' && *text <= '9') || (*text >= 'a' && *text <= 'g') ||
                    *text == '.' || *text == '?';
        if (!note || n == SHEET_NOTES)
            return false;
        notes[n++] = *text;
    }
    notes[n] = 0;
    return n > 0;
}

void number_write(double value, struct text *out)
{
    char buffer[40];
    for (int digits = 6; digits <= 17; digits++) {
        double back;
        snprintf(buffer, sizeof buffer, "%.*g", digits, value);
        if (text_real(buffer, &back) && !memcmp(&back, &value, sizeof value))
            break;
    }
    text_add(out, buffer);
}

struct sheet_shown sheet_shown(const char *text)
{
    struct sheet_shown out = {{0}};
    size_t n = 0;
    for (; n < 60 && text[n]; n++) {
        unsigned char c = (unsigned char)text[n];
        out.at[n] = c < 32 || c == 127 ? '?' : text[n];
    }
    while (text[n] && n && ((unsigned char)text[n] & 0xC0) == 0x80) /* not within a letter */
        n--;
    strcpy(out.at + n, text[n] ? "..." : "");
    return out;
}
