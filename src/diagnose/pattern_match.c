/* Walking the patterns of a phrase table over the words of a text, and filling in what they give. */
#include "diagnose/phrases_priv.h"

#include <stdio.h>
#include <string.h>

#include "diagnose/sheet.h"
#include "mem.h"

#define GAP_WORDS    4
#define PAST_MOST    4     /* words in a row that are passed over within a pattern */
#define STEPS_MOST   20000 /* of one try of one pattern: beyond it nothing more is found */
#define RESULTS_MOST PATTERN_RESULTS

struct matching {
    const struct phrases *p;
    const struct pattern *pattern;
    const struct said *said;
    size_t from;
    size_t soft; /* word that may stand behind a comma */
    size_t past; /* word before which `passed` words in a row were passed over */
    int passed;
    int steps;
    struct filled filled;
    struct result result[RESULTS_MOST];
    size_t results;
    struct times_kept *kept; /* NULL: none are */
};

/* The times that begin at one word: many patterns begin with a time and look for them there. */
struct times_kept {
    struct result result[RESULTS_MOST];
    char time[RESULTS_MOST][16];
    size_t at, count;
    bool bare, done;
};

/* Does the name of a number ("one") stand for the digits of the word? */
static bool names_number(const struct phrases *p, const char *name, long value)
{
    for (size_t i = 0; i < p->numbers; i++)
        if (!p->number[i].second && !p->number[i].repeat && !strcmp(p->number[i].first, name))
            return p->number[i].value == value;
    return false;
}

static bool is_word(const struct phrases *p, const struct node *n, const struct said_word *w)
{
    if (n->kind != NODE_WORD)
        return !strncmp(n->text, w->text, strlen(n->text));
    return !strcmp(n->text, w->text) || (w->number >= 0 && names_number(p, n->text, w->number));
}

/* A number of one or two words.  `repeats`: "twice" and the like are taken too. */
static bool number_at(const struct phrases *p, const struct said *s, size_t at, bool repeats,
                      size_t *end, int *value)
{
    if (at >= s->count)
        return false;
    const struct said_word *w = &s->word[at];
    *end = at + 1;
    if (w->number >= 0) {
        *value = (int)w->number;
        return true;
    }
    bool found = false;
    for (size_t i = 0; i < p->numbers; i++) {
        const struct number *n = &p->number[i];
        if (*n->first != *w->text || strcmp(n->first, w->text) || (n->repeat && !repeats))
            continue;
        if (!n->second && !found) {
            *value = n->value;
            found = true;
        } else if (n->second && at + 1 < s->count && s->word[at + 1].before == SAID_JOINED &&
                   !strcmp(n->second, s->word[at + 1].text)) {
            *value = n->value;
            *end = at + 2;
            return true;
        }
    }
    return found;
}

bool phrases_listed(const struct yaml_node *list, const char *word)
{
    size_t count = list ? yaml_count(list) : 0;
    for (size_t i = 0; i < count; i++) {
        const char *listed = yaml_text(yaml_item(list, i));
        if (*listed == *word && !strcmp(listed, word))
            return true;
    }
    return false;
}

enum {
    LISTS_MARKED = 1,
    LIST_FILLER = 2,
    LIST_NEGATORS = 4,
    LIST_JOINERS = 8,
    LIST_SKIPS = 16,
    LIST_TURNS = 32,
    LIST_UNITS = 64,
};

static bool is_listed(const struct said_word *w, unsigned mark, const struct yaml_node *list)
{
    return w->lists ? w->lists & mark : phrases_listed(list, w->text);
}

void phrases_mark(const struct phrases *p, struct said *s)
{
    const struct {
        unsigned mark;
        const struct yaml_node *list;
    } lists[] = {
        {LIST_FILLER, p->filler}, {LIST_NEGATORS, p->negators}, {LIST_JOINERS, p->joiners},
        {LIST_SKIPS, p->skips},   {LIST_TURNS, p->turns},       {LIST_UNITS, p->units},
    };
    for (size_t i = 0; i < s->count; i++) {
        unsigned marks = LISTS_MARKED;
        for (size_t k = 0; k < sizeof lists / sizeof *lists; k++)
            if (phrases_listed(lists[k].list, s->word[i].text))
                marks |= lists[k].mark;
        s->word[i].lists = marks;
    }
}

/* "2, 3, 4, 10 or 11": numbers with a break or a joiner between them. */
static bool list_at(const struct phrases *p, const struct said *s, size_t at, size_t *end,
                    char list[64])
{
    int value;
    size_t next = at, length = 0;
    for (size_t count = 0; count < 16; count++) {
        size_t from = next;
        if (count) {
            bool parted = from < s->count && s->word[from].before == SAID_SOFT;
            bool stop = from >= s->count || s->word[from].before == SAID_STOP;
            if (stop)
                break;
            if (phrases_joins(p, &s->word[from]))
                from++;
            else if (!parted)
                break;
        }
        if (!number_at(p, s, from, false, &next, &value) || value > SHEET_COUNT_MOST) {
            next = count ? next : at;
            break;
        }
        length += (size_t)snprintf(list + length, 64 - length, "%s%d", count ? "/" : "", value);
        *end = next;
    }
    return length > 0;
}

static void walk(struct matching *m, int node, size_t at, size_t own);

static void walk_number(struct matching *m, const struct node *n, size_t at, size_t own, int low,
                        int high)
{
    bool repeats = n->which == SLOT_N || n->which == SLOT_N2;
    int into = n->which == SLOT_FIVE ? SLOT_M : n->which;
    size_t end;
    int value, before = m->filled.number[into];
    if (!number_at(m->p, m->said, at, repeats, &end, &value) || value < low || value > high ||
        (n->which == SLOT_FIVE && value % 5))
        return;
    m->filled.number[into] = value;
    walk(m, n->next, end, own + end - at);
    m->filled.number[into] = before;
}

/* Could the pattern begin with this word?  A quick look before the walk. */
static bool may_begin(const struct pattern *p, const struct said_word *w)
{
    unsigned char c = (unsigned char)w->text[0];
    if (w->number >= 0) /* digits may stand for the name of a number */
        return true;
    return p->first[c / 64] >> (c % 64) & 1;
}

/* Does a word stand here that makes the number before it no time of day: "ten minutes"?  Not where it is
 * a verb with a number behind it: "six strikes seven". */
static bool counts_units(const struct phrases *p, const struct said *s, size_t at)
{
    size_t end;
    int value;
    return at < s->count && s->word[at].before == SAID_JOINED &&
           is_listed(&s->word[at], LIST_UNITS, p->units) &&
           !(at + 1 < s->count && s->word[at + 1].before == SAID_JOINED &&
             number_at(p, s, at + 1, false, &end, &value));
}

/* Does what ends before this word go on as a time: "five | oclock"? */
static bool counts_time(const struct phrases *p, const struct said *s, size_t at)
{
    return at < s->count && s->word[at].before == SAID_JOINED && p->hourmarks &&
           phrases_listed(p->hourmarks, s->word[at].text);
}

/* All readings of a time at this word. */
static size_t times_at(const struct phrases *p, const struct said *s, size_t at, bool bare,
                       struct result *into, char time[][16])
{
    size_t count = 0;
    for (size_t i = 0; i < p->times; i++)
        for (size_t j = 0; j < p->time[i].patterns.count; j++) {
            const struct time_row *row = &p->time[i];
            if ((row->bare && !bare) || !may_begin(&row->patterns.at[j], &s->word[at]))
                continue;
            struct matching m = {
                .p = p, .pattern = &row->patterns.at[j], .said = s, .from = at, .soft = SIZE_MAX, .past = SIZE_MAX};
            memset(m.filled.number, -1, sizeof m.filled.number);
            walk(&m, m.pattern->start, at, 0);
            for (size_t k = 0; k < m.results && count < RESULTS_MOST; k++) {
                if (row->bare && counts_units(p, s, m.result[k].end))
                    continue;
                const int *n = m.result[k].filled.number;
                int min = row->min + (n[SLOT_HOUR] >= 0 ? n[SLOT_HOUR] * 60 : 0) +
                          (n[SLOT_CLOCK] >= 0 ? n[SLOT_CLOCK] : 0) +
                          (n[SLOT_M] >= 0 ? row->m_sign * n[SLOT_M] : 0);
                char dial[8];
                snprintf(time[count], 16, "%s%s", text_dial(min, dial),
                         row->half == HALF_PM   ? "pm"
                         : row->half == HALF_AM ? "am"
                                                : "");
                into[count++] = m.result[k];
            }
        }
    return count;
}

static void look_for_times(const struct matching *m, size_t at, bool bare, struct times_kept *t)
{
    if (t->done && t->at == at && t->bare == bare)
        return;
    t->count = times_at(m->p, m->said, at, bare, t->result, t->time);
    t->at = at;
    t->bare = bare;
    t->done = true;
}

static void walk_time(struct matching *m, const struct node *n, size_t at, size_t own)
{
    char *into = m->filled.time[n->which == SLOT_TIME2], before[16];
    bool bare = n->which != SLOT_MOMENT, keep = m->kept && at == m->from;
    struct times_kept *t = keep ? &m->kept[bare] : mem_alloc(sizeof *t);
    look_for_times(m, at, bare, t);
    memcpy(before, into, sizeof before);
    for (size_t i = 0; i < t->count; i++) {
        memcpy(into, t->time[i], sizeof before);
        walk(m, n->next, t->result[i].end, own + t->result[i].end - at);
    }
    memcpy(into, before, sizeof before);
    if (!keep)
        mem_free(t);
}

static void walk_notes(struct matching *m, const struct node *n, size_t at, size_t own)
{
    const char *word = m->said->word[at].text;
    size_t length = strlen(word);
    if (length < 3 || strspn(word, "123456789") != length)
        return;
    strcpy(m->filled.notes, word);
    walk(m, n->next, at + 1, own + 1);
}

static void walk_slot(struct matching *m, const struct node *n, size_t at, size_t own)
{
    size_t end;
    switch ((enum slot)n->which) {
    case SLOT_N:
    case SLOT_N2:
        walk_number(m, n, at, own, 0, SHEET_COUNT_MOST);
        return;
    case SLOT_HOUR:
        walk_number(m, n, at, own, 1, 12);
        return;
    case SLOT_M:
    case SLOT_FIVE:
        walk_number(m, n, at, own, 1, 59);
        return;
    case SLOT_YEARS:
        walk_number(m, n, at, own, 0, 500);
        return;
    case SLOT_CLOCK:
        if (m->said->word[at].minute < 0)
            return;
        m->filled.number[SLOT_CLOCK] = m->said->word[at].minute;
        walk(m, n->next, at + 1, own + 1);
        return;
    case SLOT_LIST:
        if (list_at(m->p, m->said, at, &end, m->filled.list))
            walk(m, n->next, end, own + end - at);
        return;
    case SLOT_TIME:
    case SLOT_TIME2:
    case SLOT_MOMENT:
        walk_time(m, n, at, own);
        return;
    case SLOT_NOTES:
        walk_notes(m, n, at, own);
        return;
    case SLOTS:
        return;
    }
}

/* Keep the result; when there is no room the worst goes. */
static void found(struct matching *m, size_t end, size_t own)
{
    size_t into = m->results;
    if (m->results == RESULTS_MOST) {
        into = 0;
        for (size_t i = 1; i < m->results; i++)
            if (m->result[i].own < m->result[into].own)
                into = i;
        if (m->result[into].own >= own)
            return;
    } else {
        m->results++;
    }
    m->result[into].end = end;
    m->result[into].own = own;
    m->result[into].filled = m->filled;
}

/* Is the clause over before word `at`?  A comma ends it where the pattern has none. */
static bool is_over(const struct matching *m, size_t at)
{
    if (at >= m->said->count)
        return true;
    enum said_break before = at > m->from ? m->said->word[at].before : SAID_JOINED;
    return before == SAID_STOP || (before == SAID_SOFT && m->soft != at);
}

/* A gap: up to GAP_WORDS words of the same sentence. */
static void walk_gap(struct matching *m, const struct node *n, size_t at, size_t own)
{
    for (size_t i = at; i <= at + GAP_WORDS; i++) {
        walk(m, n->next, i, own);
        if (is_over(m, i))
            return;
    }
}

/* One negator may stand between the words of a pattern that does not name it. */
static void walk_denied(struct matching *m, int node, size_t at, size_t own)
{
    if (m->filled.denied || !own || is_over(m, at) || !phrases_negates(m->p, &m->said->word[at]))
        return;
    m->filled.denied = true;
    walk(m, node, at + 1, own);
    m->filled.denied = false;
}

/* Words that an entry of a class ("gives up", "chim*") takes from word `at`; 0 if it is not said. */
static size_t entry_at(const struct matching *m, const char *entry, size_t at)
{
    size_t words = 0;
    if (!is_over(m, at) && m->said->word[at].number >= 0 && !strchr(entry, ' '))
        return names_number(m->p, entry, m->said->word[at].number) ||
               !strcmp(entry, m->said->word[at].text);
    for (size_t length; *entry; entry += length + (entry[length] == ' '), words++) {
        length = strcspn(entry, " ");
        if (is_over(m, at + words))
            return 0;
        const char *word = m->said->word[at + words].text;
        bool beginning = entry[length - 1] == '*';
        if (strncmp(entry, word, length - beginning) || (!beginning && word[length]))
            return 0;
    }
    return words;
}

static bool walk_class(struct matching *m, const struct node *n, size_t at, size_t own)
{
    const struct word_class *c = &m->p->class[n->which];
    bool any = false;
    for (size_t i = 0; i < c->count; i++) {
        size_t words = entry_at(m, c->word[i], at);
        if (words)
            walk(m, n->next, at + words, own + words);
        any = any || words;
    }
    return any;
}

/* A word or class at word `at`; a negator may stand before it, and words that only fill may be
 * passed over. */
static void walk_word(struct matching *m, int node, size_t at, size_t own)
{
    const struct node *n = &m->pattern->node[node];
    bool said = false;
    if (n->kind == NODE_CLASS)
        said = walk_class(m, n, at, own);
    else if ((said = is_word(m->p, n, &m->said->word[at])))
        walk(m, n->next, at + 1, own + 1);
    if (!said)
        walk_denied(m, node, at, own);
}

/* "the", "really": between the words of any pattern, a few in a row ("a a a a ..." has no end). */
static void walk_past(struct matching *m, int node, size_t at, size_t own)
{
    size_t past = m->past;
    int passed = m->passed, row = past == at ? passed : 0;
    if (!own || row == PAST_MOST || is_over(m, at) ||
        !is_listed(&m->said->word[at], LIST_SKIPS, m->p->skips))
        return;
    m->past = at + 1;
    m->passed = row + 1;
    walk(m, node, at + 1, own);
    m->past = past;
    m->passed = passed;
}

/* Follow the graph from this node, at word `at`; every way to the end is a result. */
static void walk(struct matching *m, int node, size_t at, size_t own)
{
    const struct node *n = &m->pattern->node[node];
    size_t soft = m->soft;
    if (++m->steps > STEPS_MOST)
        return;
    switch (n->kind) {
    case NODE_END:
        if (own)
            found(m, at, own);
        return;
    case NODE_JOIN:
        walk(m, n->next, at, own);
        return;
    case NODE_SPLIT:
        for (int b = n->branch; b >= 0; b = m->pattern->node[b].other)
            walk(m, b, at, own);
        return;
    case NODE_GAP:
        walk_gap(m, n, at, own);
        return;
    case NODE_COMMA:
        m->soft = at;
        walk(m, n->next, at, own);
        m->soft = soft;
        return;
    case NODE_SLOT:
        if (!is_over(m, at))
            walk_slot(m, n, at, own);
        walk_past(m, node, at, own);
        return;
    case NODE_WORD:
    case NODE_PREFIX:
    case NODE_CLASS:
        if (!is_over(m, at))
            walk_word(m, node, at, own);
        walk_past(m, node, at, own);
        return;
    }
}

/* The text of a filled slot. */
static void write_slot(const struct filled *f, enum slot slot, struct text *out)
{
    if (slot == SLOT_LIST)
        text_add(out, f->list);
    else if (slot == SLOT_TIME || slot == SLOT_TIME2 || slot == SLOT_MOMENT)
        text_add(out, f->time[slot == SLOT_TIME2]);
    else if (slot == SLOT_NOTES)
        text_add(out, f->notes);
    else
        text_addf(out, "%d", f->number[slot]);
}

/* Minutes in two digits that a slot makes: <past> and <less> those of <m> after and before the
 * hour, <hand> and <hand2> those of the minute hand at the <hour> and <n> of the dial.  The
 * length of what was read, 0 if none of them stands here. */
static const struct {
    const char *name;
    enum slot slot;
    int times, plus;
} minutes[] = {
    {"<past>", SLOT_M, 1, 0},
    {"<less>", SLOT_M, -1, 60},
    {"<hand>", SLOT_HOUR, 5, 0},
    {"<hand2>", SLOT_N, 5, 0},
};
#define MINUTES (sizeof minutes / sizeof *minutes)

/* Full hours beside a time: <next> and <next2> the first after <time> and <time2>, <prior> and
 * <prior2> the last before. */
static const struct {
    const char *name;
    enum slot slot;
    bool after;
} beside[] = {
    {"<next>", SLOT_TIME, true},
    {"<next2>", SLOT_TIME2, true},
    {"<prior>", SLOT_TIME, false},
    {"<prior2>", SLOT_TIME2, false},
};
#define BESIDE (sizeof beside / sizeof *beside)

static int full_hour_beside(const char *time, bool after)
{
    int hour = 0, min = 0;
    sscanf(time, "%d:%d", &hour, &min);
    hour += after ? 1 : min ? 0 : -1;
    return (hour + 11) % 12 + 1;
}

static size_t fill_beside(const char *gives, const struct filled *f, struct text *out)
{
    for (size_t i = 0; i < BESIDE; i++)
        if (!strncmp(gives, beside[i].name, strlen(beside[i].name))) {
            const char *time = f ? f->time[beside[i].slot == SLOT_TIME2] : "5:00";
            text_addf(out, "%d:00", full_hour_beside(time, beside[i].after));
            return strlen(beside[i].name);
        }
    return 0;
}

static size_t fill_minutes(const char *gives, const struct filled *f, struct text *out)
{
    for (size_t i = 0; i < MINUTES; i++)
        if (!strncmp(gives, minutes[i].name, strlen(minutes[i].name))) {
            int value = f ? f->number[minutes[i].slot] : 5;
            text_addf(out, "%02d", (value * minutes[i].times + minutes[i].plus) % 60);
            return strlen(minutes[i].name);
        }
    return 0;
}

void phrases_fill(const char *gives, const struct filled *f, struct text *out)
{
    while (*gives) {
        size_t length = fill_minutes(gives, f, out);
        length = length ? length : fill_beside(gives, f, out);
        gives += length;
        if (length)
            continue;
        int slot = 0;
        while (slot < SLOTS &&
               strncmp(gives, phrase_slots[slot].name, strlen(phrase_slots[slot].name)))
            slot++;
        if (slot == SLOTS) {
            text_add_bytes(out, gives++, 1);
            continue;
        }
        gives += strlen(phrase_slots[slot].name);
        if (f)
            write_slot(f, (enum slot)slot, out);
        else
            text_add(out, phrase_slots[slot].sample);
    }
}

/* More words of its own; then plain rather than denied; then the shorter stretch. */
static bool is_better(const struct result *a, const struct result *b)
{
    if (a->own != b->own)
        return a->own > b->own;
    if (a->filled.denied != b->filled.denied)
        return b->filled.denied;
    return a->end < b->end;
}

static void write_match(struct phrase_match *match, const char *gives, const char *say,
                        const struct result *r)
{
    struct text filled = {0};
    phrases_fill(gives, &r->filled, &filled);
    match->end = r->end;
    match->own = r->own;
    match->denied = r->filled.denied;
    match->say = say;
    snprintf(match->gives, sizeof match->gives, "%s", text_cstr(&filled));
    text_release(&filled);
}

/* Is a statement over before word `at`: "we had two | at four", not "we had two clocks"? */
static bool statement_ends(const struct phrases *p, const struct said *s, size_t at)
{
    return at >= s->count || s->word[at].before != SAID_JOINED || phrases_turns(p, &s->word[at]) ||
           phrases_joins(p, &s->word[at]) || phrases_listed(p->listers, s->word[at].text) ||
           phrases_listed(p->enders, s->word[at].text);
}

/* Do the words from .. to - 1 make up their sentence? */
static bool is_sentence(const struct said *s, size_t from, size_t to)
{
    return (from == 0 || s->word[from].before == SAID_STOP) &&
           (to >= s->count || s->word[to].before == SAID_STOP);
}

static bool best_match(const struct phrases *p, const struct said *s, size_t at, size_t until,
                       bool within, struct phrase_match *match)
{
    const struct phrase *best = NULL;
    struct result best_result = {0};
    struct matching *m = mem_alloc(sizeof *m);
    m->kept = mem_alloc(2 * sizeof *m->kept);
    for (size_t i = 0; i < p->phrases && at < s->count; i++)
        for (size_t j = 0; j < p->phrase[i].patterns.count; j++) {
            const struct pattern *pattern = &p->phrase[i].patterns.at[j];
            if (!may_begin(pattern, &s->word[at]) || (within && !p->phrase[i].within))
                continue;
            m->p = p, m->pattern = pattern, m->said = s, m->from = at;
            m->steps = 0, m->results = 0, m->soft = m->past = SIZE_MAX;
            memset(m->filled.number, -1, sizeof m->filled.number);
            walk(m, pattern->start, at, 0);
            for (size_t k = 0; k < m->results; k++) {
                const struct result *r = &m->result[k];
                bool whole = !p->phrase[i].ends || statement_ends(p, s, r->end);
                if (r->end <= until && whole && (!best || is_better(r, &best_result))) {
                    best = &p->phrase[i];
                    best_result = *r;
                }
            }
        }
    mem_free(m->kept);
    mem_free(m);
    if (!best)
        return false;
    write_match(match, best->gives, best->say, &best_result);
    return true;
}

size_t pattern_results(const struct phrases *p, const struct pattern *pattern, const struct said *s,
                       size_t at, size_t until, struct result *into)
{
    size_t count = 0;
    if (at >= s->count || !may_begin(pattern, &s->word[at]))
        return 0;
    struct matching *m = mem_alloc(sizeof *m);
    m->p = p, m->pattern = pattern, m->said = s, m->from = at;
    m->soft = m->past = SIZE_MAX;
    memset(m->filled.number, -1, sizeof m->filled.number);
    walk(m, pattern->start, at, 0);
    for (size_t i = 0; i < m->results; i++)
        if (m->result[i].end <= until)
            into[count++] = m->result[i];
    mem_free(m);
    return count;
}

size_t patterns_end(const struct phrases *p, const struct patterns *patterns, const struct said *s,
                    size_t at, size_t until)
{
    struct result r[PATTERN_RESULTS];
    size_t end = at;
    for (size_t i = 0; i < patterns->count; i++) {
        size_t count = pattern_results(p, &patterns->at[i], s, at, until, r);
        for (size_t k = 0; k < count; k++)
            end = r[k].end > end ? r[k].end : end;
    }
    return end;
}

bool phrases_number(const struct phrases *p, const struct said *s, size_t at, size_t *end)
{
    int value;
    return number_at(p, s, at, true, end, &value);
}

bool phrases_count_at(const struct phrases *p, const struct said *s, size_t at, size_t *end,
                      int *count)
{
    return number_at(p, s, at, false, end, count);
}

bool phrases_time(const struct phrases *p, const struct said *s, size_t at, size_t *end)
{
    struct result *r = mem_alloc(RESULTS_MOST * sizeof *r);
    char time[RESULTS_MOST][16];
    size_t count = at < s->count ? times_at(p, s, at, true, r, time) : 0;
    *end = at;
    for (size_t i = 0; i < count; i++)
        *end = r[i].end > *end ? r[i].end : *end;
    mem_free(r);
    return count > 0;
}

bool phrases_match_pair(const struct phrases *p, const struct said *s, size_t at, bool follows,
                        size_t *row, struct phrase_match *match)
{
    struct result *r = mem_alloc(RESULTS_MOST * sizeof *r);
    const struct pair_row *best = NULL;
    struct result best_result = {0};
    for (size_t i = 0; i < p->pairs; i++)
        for (size_t j = 0; j < p->pair[i].patterns.count; j++) {
            if (p->pair[i].follows && !follows)
                continue;
            size_t count = pattern_results(p, &p->pair[i].patterns.at[j], s, at, s->count, r);
            for (size_t k = 0; k < count; k++)
                if (!r[k].filled.denied && !(counts_time(p, s, r[k].end)) &&
                    (!p->pair[i].whole || is_sentence(s, at, r[k].end)) &&
                    (!best || is_better(&r[k], &best_result))) {
                    best = &p->pair[i];
                    best_result = r[k];
                }
        }
    mem_free(r);
    if (!best)
        return false;
    *row = (size_t)(best - p->pair);
    write_match(match, best->gives, best->say, &best_result);
    return true;
}

bool phrases_match(const struct phrases *p, const struct said *s, size_t at,
                   struct phrase_match *match)
{
    return best_match(p, s, at, s->count, false, match);
}

bool phrases_match_until(const struct phrases *p, const struct said *s, size_t at, size_t until,
                         struct phrase_match *match)
{
    return best_match(p, s, at, until, false, match);
}

bool phrases_match_within(const struct phrases *p, const struct said *s, size_t at, size_t until,
                          struct phrase_match *match)
{
    return best_match(p, s, at, until, true, match);
}

bool phrases_hour(const struct phrases *p, const struct said *s, size_t at, size_t *end, int *min)
{
    int hour;
    if (at < s->count && s->word[at].minute >= 0) {
        *min = s->word[at].minute % 720;
        *end = at + 1;
        return true;
    }
    if (!number_at(p, s, at, false, end, &hour) || hour < 1 || hour > 12 ||
        counts_units(p, s, *end))
        return false;
    *min = hour % 12 * 60;
    return true;
}

bool phrases_filler(const struct phrases *p, const struct said_word *w)
{
    return is_listed(w, LIST_FILLER, p->filler) || is_listed(w, LIST_JOINERS, p->joiners);
}

bool phrases_joins(const struct phrases *p, const struct said_word *w)
{
    return is_listed(w, LIST_JOINERS, p->joiners);
}

bool phrases_lists(const struct phrases *p, const struct said_word *w)
{
    return phrases_listed(p->joiners, w->text) || phrases_listed(p->listers, w->text);
}

bool phrases_noun(const struct phrases *p, const struct said_word *w)
{
    return phrases_listed(p->nouns, w->text);
}

bool phrases_turns(const struct phrases *p, const struct said_word *w)
{
    return is_listed(w, LIST_TURNS, p->turns);
}

bool phrases_contrasts(const struct phrases *p, const struct said_word *w)
{
    return phrases_listed(p->contrasts, w->text);
}

bool phrases_opposes(const struct phrases *p, const struct said_word *w)
{
    return phrases_listed(p->against, w->text);
}

bool phrases_negates(const struct phrases *p, const struct said_word *w)
{
    return is_listed(w, LIST_NEGATORS, p->negators);
}

bool phrases_gives_slot(const char *gives, enum slot slot)
{
    bool given = strstr(gives, phrase_slots[slot].name);
    for (size_t i = 0; i < MINUTES; i++)
        given = given || (minutes[i].slot == slot && strstr(gives, minutes[i].name));
    for (size_t i = 0; i < BESIDE; i++)
        given = given || (beside[i].slot == slot && strstr(gives, beside[i].name));
    return given;
}
