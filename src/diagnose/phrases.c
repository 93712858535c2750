#include "diagnose/phrases.h"

#include <string.h>

#include "diagnose/sheet.h"
#include "mem.h"
#include "text.h"
#include "yaml_map.h"

#define NODES_MOST   2000 /* of one pattern */
#define DEPTH_MOST   8    /* of brackets */
#define GAP_WORDS    4
#define STEPS_MOST   20000 /* of one try of one pattern: beyond it nothing more is found */
#define RESULTS_MOST 8
#define NOTES_MOST   64

enum slot {
    SLOT_N,
    SLOT_N2,
    SLOT_LIST,
    SLOT_HOUR,
    SLOT_TIME,
    SLOT_TIME2,
    SLOT_M,
    SLOT_YEARS,
    SLOT_NOTES,
    SLOT_CLOCK,
    SLOT_MOMENT,
    SLOTS
};
static const struct {
    const char *name, *sample;
} slots[SLOTS] = {
    [SLOT_N] = {"<n>", "1"},
    [SLOT_N2] = {"<n2>", "2"},
    [SLOT_LIST] = {"<list>", "1/2"},
    [SLOT_HOUR] = {"<hour>", "1"},
    [SLOT_TIME] = {"<time>", "1:00"},
    [SLOT_TIME2] = {"<time2>", "2:00"},
    [SLOT_M] = {"<m>", "5"},
    [SLOT_YEARS] = {"<years>", "5"},
    [SLOT_NOTES] = {"<notes>", "3124"},
    [SLOT_CLOCK] = {"<clock>", "1:00"},
    [SLOT_MOMENT] = {"<moment>", "1:00"},
};

/* A pattern is a graph of nodes from its start to its one end:
 *
 *     a (b|c d) [e]      a -> split -> b ------> join -> split -> e -> join -> end
 *                               +----> c -> d ----^         +-----------^
 *
 * Nodes name each other by their number, so that the array may grow. */
enum node_kind {
    NODE_WORD,
    NODE_PREFIX,
    NODE_CLASS,
    NODE_SLOT,
    NODE_GAP,
    NODE_COMMA,
    NODE_JOIN,
    NODE_SPLIT,
    NODE_END
};
struct node {
    enum node_kind kind;
    const char *text; /* word or beginning, owned by the table */
    int which;        /* class or slot */
    int next;         /* not for a split or the end */
    int branch;       /* split: its first branch, -1 none */
    int other;        /* of the first node of a branch: the first node of the next, -1 none */
};
struct pattern {
    struct node *node;
    size_t nodes, room;
    int start;
    uint64_t first[4]; /* bytes a text may begin with */
};
struct patterns {
    struct pattern *at;
    size_t count, room;
};

/* Words that stand for each other. */
struct class
{
    const char *name;
    const char **word;
    size_t count, room;
};

struct phrase {
    const char *say, *gives;
    struct patterns patterns;
};
enum half_said { HALF_UNSAID, HALF_AM, HALF_PM };
struct time_row {
    struct patterns patterns;
    int min;    /* minutes added to the hour */
    int m_sign; /* -1 or +1: the minutes of <m> are added too */
    enum half_said half;
    bool bare; /* a mere number: good for <time>, not for <moment> */
};
struct number {
    const char *first, *second; /* second may be NULL */
    int value;
    bool repeat; /* "twice": a count, never an hour */
};

struct phrases {
    struct yaml_tree *tree;
    const struct words *words;
    const char *language;
    char **strings;
    size_t string_count, string_room;
    struct class *class;
    size_t classes, class_room;
    struct number *number;
    size_t numbers, number_room;
    struct time_row *time;
    size_t times, time_room;
    struct phrase *phrase;
    size_t phrases, phrase_room;
    const struct yaml_node *filler, *negators, *joiners, *nouns, *units;
};

static const char *keep(struct phrases *p, const char *s, size_t length)
{
    p->strings = mem_grow(p->strings, &p->string_room, p->string_count + 1, sizeof *p->strings);
    return p->strings[p->string_count++] = mem_copy_bytes(s, length);
}

/* ---- reading patterns ---- */

struct parser {
    struct phrases *p;
    struct pattern *pattern;
    const struct yaml_node *node; /* for sentences */
    const char *at;
    struct err *e;
    int depth;
    bool good;
};

static void complain(struct parser *r, const char *what, const char *about)
{
    if (r->good)
        yaml_complain(r->node, r->e, "pattern \"%.100s\": %s%.40s", yaml_text(r->node), what,
                      about);
    r->good = false;
}

static int add_node(struct parser *r, enum node_kind kind)
{
    struct pattern *p = r->pattern;
    if (p->nodes == NODES_MOST) {
        complain(r, "it is too long", "");
        return 0;
    }
    p->node = mem_grow(p->node, &p->room, p->nodes + 1, sizeof *p->node);
    p->node[p->nodes] = (struct node){.kind = kind, .next = -1, .branch = -1, .other = -1};
    return (int)p->nodes++;
}

static int add_class(struct phrases *p, const char *name)
{
    p->class = mem_grow(p->class, &p->class_room, p->classes + 1, sizeof *p->class);
    p->class[p->classes] = (struct class){.name = name};
    return (int)p->classes++;
}

static void class_add(struct class *c, const char *word)
{
    c->word = mem_grow(c->word, &c->room, c->count + 1, sizeof *c->word);
    c->word[c->count++] = word;
}

static void skip_blanks(struct parser *r)
{
    while (*r->at == ' ' || *r->at == '\n')
        r->at++;
}

static bool word_byte(char c)
{
    return (c >= 'a' && c <= 'z') || (c >= '0' && c <= '9') || (unsigned char)c >= 0x80;
}

static int find_class(const struct phrases *p, const char *name, size_t length)
{
    for (size_t i = 0; i < p->classes; i++)
        if (strlen(p->class[i].name) == length && !memcmp(p->class[i].name, name, length))
            return (int)i;
    return -1;
}

static size_t word_length(const char *s)
{
    size_t n = 0;
    while (word_byte(s[n]))
        n++;
    return n;
}

static int read_class_name(struct parser *r)
{
    size_t length = 1;
    while (word_byte(r->at[length]) || r->at[length] == '_')
        length++;
    int node = add_node(r, NODE_CLASS), which = find_class(r->p, r->at + 1, length - 1);
    if (which < 0)
        complain(r, "there is no such class: ", r->at);
    r->pattern->node[node].which = which;
    r->at += length;
    return node;
}

static int read_slot(struct parser *r)
{
    int node = add_node(r, NODE_SLOT);
    for (int i = 0; i < SLOTS; i++)
        if (!strncmp(r->at, slots[i].name, strlen(slots[i].name))) {
            r->pattern->node[node].which = i;
            r->at += strlen(slots[i].name);
            return node;
        }
    complain(r, "there is no such slot: ", r->at);
    return node;
}

static int read_word(struct parser *r)
{
    size_t length = word_length(r->at);
    bool star = r->at[length] == '*';
    int node = add_node(r, star ? NODE_PREFIX : NODE_WORD);
    r->pattern->node[node].text = keep(r->p, r->at, length);
    r->at += length + star;
    return node;
}

static int read_item(struct parser *r)
{
    if (word_length(r->at))
        return read_word(r);
    if (*r->at == '<')
        return read_slot(r);
    if (*r->at == '@')
        return read_class_name(r);
    if (!strncmp(r->at, "...", 3)) {
        r->at += 3;
        return add_node(r, NODE_GAP);
    }
    if (*r->at == ',') {
        r->at++;
        return add_node(r, NODE_COMMA);
    }
    complain(r, "expected small letters, (, [, <slot>, @class, comma or ... at: ",
             *r->at ? r->at : "its end");
    return 0;
}

/* A stretch of the graph. */
struct stretch {
    int first, last;
};

static struct stretch read_choice(struct parser *r, bool may_miss);

/* (a|b c) or [a] */
static struct stretch read_group(struct parser *r)
{
    bool may_miss = *r->at == '[';
    struct stretch group = {0, 0};
    r->at++;
    if (++r->depth > DEPTH_MOST)
        complain(r, "its brackets go too deep", "");
    else
        group = read_choice(r, may_miss);
    r->depth--;
    if (r->good && *r->at != (may_miss ? ']' : ')'))
        complain(r, "a bracket is not closed before: ", *r->at ? r->at : "its end");
    r->at += r->good;
    return group;
}

/* A row of items; it begins with a join, so that it is never empty. */
static struct stretch read_row(struct parser *r)
{
    int first = add_node(r, NODE_JOIN);
    struct stretch row = {first, first};
    for (skip_blanks(r); r->good && *r->at && !strchr("|)]", *r->at); skip_blanks(r)) {
        struct stretch more;
        if (*r->at == '(' || *r->at == '[')
            more = read_group(r);
        else
            more.first = more.last = read_item(r);
        if (r->good)
            r->pattern->node[row.last].next = more.first;
        row.last = more.last;
    }
    return row;
}

static struct stretch read_choice(struct parser *r, bool may_miss)
{
    struct stretch choice = {add_node(r, NODE_SPLIT), add_node(r, NODE_JOIN)};
    int *into = NULL;
    if (may_miss) {
        int nothing = add_node(r, NODE_JOIN);
        r->pattern->node[nothing].next = choice.last;
        r->pattern->node[choice.first].branch = nothing;
    }
    for (;;) {
        struct stretch row = read_row(r);
        if (!r->good)
            return choice;
        struct node *node = r->pattern->node;
        node[row.last].next = choice.last;
        for (into = &node[choice.first].branch; *into >= 0;)
            into = &node[*into].other;
        *into = row.first;
        if (*r->at != '|')
            return choice;
        r->at++;
    }
}

/* Can the end be reached from here without a node that takes words (without: -1), or without
 * the slot `without`? */
static bool way_round(const struct pattern *p, int from, int without, bool *been)
{
    if (from < 0 || been[from])
        return false;
    been[from] = true;
    const struct node *n = &p->node[from];
    bool bars = without < 0 ? n->kind <= NODE_SLOT : n->kind == NODE_SLOT && n->which == without;
    if (n->kind == NODE_END)
        return true;
    if (n->kind == NODE_SPLIT) {
        for (int b = n->branch; b >= 0; b = p->node[b].other)
            if (way_round(p, b, without, been))
                return true;
        return false;
    }
    return !bars && way_round(p, n->next, without, been);
}

static bool can_avoid(const struct pattern *p, int slot)
{
    bool been[NODES_MOST + 2] = {false};
    return way_round(p, p->start, slot, been);
}

static void add_first(struct pattern *p, int c)
{
    p->first[c / 64] |= (uint64_t)1 << (c % 64);
}

/* Which bytes can the first word begin with?  Slots and gaps: any. */
static void find_first(const struct phrases *t, struct pattern *p, int from, bool *been)
{
    if (from < 0 || been[from])
        return;
    been[from] = true;
    const struct node *n = &p->node[from];
    if (n->kind == NODE_WORD || n->kind == NODE_PREFIX) {
        add_first(p, (unsigned char)n->text[0]);
    } else if (n->kind == NODE_CLASS) {
        for (size_t i = 0; i < t->class[n->which].count; i++)
            add_first(p, (unsigned char)t->class[n->which].word[i][0]);
    } else if (n->kind == NODE_SPLIT) {
        for (int b = n->branch; b >= 0; b = p->node[b].other)
            find_first(t, p, b, been);
    } else if (n->kind == NODE_JOIN || n->kind == NODE_COMMA) {
        find_first(t, p, n->next, been);
    } else {
        memset(p->first, 0xff, sizeof p->first);
    }
}

static bool read_pattern(struct phrases *p, const struct yaml_node *node, struct patterns *into,
                         struct err *e)
{
    if (!yaml_text(node)) {
        yaml_complain(node, e, "say is no text; expected a pattern");
        return false;
    }
    into->at = mem_grow(into->at, &into->room, into->count + 1, sizeof *into->at);
    struct pattern *pattern = &into->at[into->count++];
    memset(pattern, 0, sizeof *pattern);
    struct parser r = {
        .p = p, .pattern = pattern, .node = node, .at = yaml_text(node), .e = e, .good = true};
    struct stretch all = read_choice(&r, false);
    if (r.good && *r.at)
        complain(&r, "a bracket closes that was not opened: ", r.at);
    if (!r.good)
        return false;
    int end = add_node(&r, NODE_END);
    if (!r.good)
        return false;
    pattern->node[all.last].next = end;
    pattern->start = all.first;
    if (can_avoid(pattern, -1))
        complain(&r, "it can match without a word", "");
    bool been[NODES_MOST + 2] = {false};
    find_first(p, pattern, pattern->start, been);
    return r.good;
}

static bool read_say(struct phrases *p, const struct yaml_node *node, struct patterns *into,
                     struct err *e)
{
    bool good = true;
    if (yaml_shape_of(node) != YAML_LIST)
        return read_pattern(p, node, into, e);
    for (size_t i = 0; i < yaml_count(node); i++)
        good = read_pattern(p, yaml_item(node, i), into, e) && good;
    return good;
}

/* ---- matching ---- */

struct filled {
    bool denied; /* a negator stood among the words: "was not dropped" */
    int number[SLOTS];
    char list[64], time[2][16], notes[NOTES_MOST + 1];
};
struct result {
    size_t end, own;
    struct filled filled;
};
struct matching {
    const struct phrases *p;
    const struct pattern *pattern;
    const struct said *said;
    size_t from;
    size_t soft; /* word that may stand behind a comma */
    int steps;
    struct filled filled;
    struct result result[RESULTS_MOST];
    size_t results;
};

static bool is_word(const struct phrases *p, const struct node *n, const char *word)
{
    if (n->kind == NODE_WORD)
        return !strcmp(n->text, word);
    if (n->kind == NODE_PREFIX)
        return !strncmp(n->text, word, strlen(n->text));
    const struct class *c = &p->class[n->which];
    for (size_t i = 0; i < c->count; i++) {
        size_t length = strlen(c->word[i]);
        bool beginning = length && c->word[i][length - 1] == '*';
        if (beginning ? !strncmp(c->word[i], word, length - 1) : !strcmp(c->word[i], word))
            return true;
    }
    return false;
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
        if (strcmp(n->first, w->text) || (n->repeat && !repeats))
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

static bool listed(const struct yaml_node *list, const char *word)
{
    for (size_t i = 0; list && i < yaml_count(list); i++)
        if (!strcmp(yaml_text(yaml_item(list, i)), word))
            return true;
    return false;
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
            if (listed(p->joiners, s->word[from].text))
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
    size_t end;
    int value, before = m->filled.number[n->which];
    if (!number_at(m->p, m->said, at, repeats, &end, &value) || value < low || value > high)
        return;
    m->filled.number[n->which] = value;
    walk(m, n->next, end, own + end - at);
    m->filled.number[n->which] = before;
}

/* Does a word stand here that makes the number before it no time of day: "ten minutes"? */
static bool counts_units(const struct phrases *p, const struct said *s, size_t at)
{
    return at < s->count && s->word[at].before == SAID_JOINED && listed(p->units, s->word[at].text);
}

/* All readings of a time at this word. */
static size_t times_at(const struct phrases *p, const struct said *s, size_t at, bool bare,
                       struct result *into, char time[][16])
{
    size_t count = 0;
    for (size_t i = 0; i < p->times; i++)
        for (size_t j = 0; j < p->time[i].patterns.count; j++) {
            const struct time_row *row = &p->time[i];
            if (row->bare && !bare)
                continue;
            struct matching m = {
                .p = p, .pattern = &row->patterns.at[j], .said = s, .from = at, .soft = SIZE_MAX};
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

static void walk_time(struct matching *m, const struct node *n, size_t at, size_t own)
{
    struct result *result = mem_alloc(RESULTS_MOST * sizeof *result);
    char time[RESULTS_MOST][16], *into = m->filled.time[n->which == SLOT_TIME2], before[16];
    size_t count = times_at(m->p, m->said, at, n->which != SLOT_MOMENT, result, time);
    memcpy(before, into, sizeof before);
    for (size_t i = 0; i < count; i++) {
        memcpy(into, time[i], sizeof before);
        walk(m, n->next, result[i].end, own + result[i].end - at);
    }
    memcpy(into, before, sizeof before);
    mem_free(result);
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
        return;
    case NODE_WORD:
    case NODE_PREFIX:
    case NODE_CLASS:
        if (is_over(m, at))
            return;
        if (is_word(m->p, n, m->said->word[at].text))
            walk(m, n->next, at + 1, own + 1);
        else
            walk_denied(m, node, at, own);
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

/* Copy `gives` with its slots filled from `f`, or with samples if that is NULL. */
static void fill(const char *gives, const struct filled *f, struct text *out)
{
    while (*gives) {
        size_t length = fill_minutes(gives, f, out);
        gives += length;
        if (length)
            continue;
        int slot = 0;
        while (slot < SLOTS && strncmp(gives, slots[slot].name, strlen(slots[slot].name)))
            slot++;
        if (slot == SLOTS) {
            text_add_bytes(out, gives++, 1);
            continue;
        }
        gives += strlen(slots[slot].name);
        if (f)
            write_slot(f, (enum slot)slot, out);
        else
            text_add(out, slots[slot].sample);
    }
}

/* Could the pattern begin with this word?  A quick look before the walk. */
static bool may_begin(const struct pattern *p, const struct said_word *w)
{
    unsigned char c = (unsigned char)w->text[0];
    return p->first[c / 64] >> (c % 64) & 1;
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

bool phrases_match(const struct phrases *p, const struct said *s, size_t at,
                   struct phrase_match *match)
{
    const struct phrase *best = NULL;
    struct result best_result = {0};
    struct matching *m = mem_alloc(sizeof *m);
    for (size_t i = 0; i < p->phrases && at < s->count; i++)
        for (size_t j = 0; j < p->phrase[i].patterns.count; j++) {
            const struct pattern *pattern = &p->phrase[i].patterns.at[j];
            if (!may_begin(pattern, &s->word[at]))
                continue;
            m->p = p, m->pattern = pattern, m->said = s, m->from = at;
            m->steps = 0, m->results = 0, m->soft = SIZE_MAX;
            memset(m->filled.number, -1, sizeof m->filled.number);
            walk(m, pattern->start, at, 0);
            for (size_t k = 0; k < m->results; k++) {
                const struct result *r = &m->result[k];
                if (!best || is_better(r, &best_result)) {
                    best = &p->phrase[i];
                    best_result = *r;
                }
            }
        }
    mem_free(m);
    if (!best)
        return false;
    struct text gives = {0};
    fill(best->gives, &best_result.filled, &gives);
    match->end = best_result.end;
    match->own = best_result.own;
    match->denied = best_result.filled.denied;
    match->say = best->say;
    snprintf(match->gives, sizeof match->gives, "%s", text_cstr(&gives));
    text_release(&gives);
    return true;
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
    return listed(p->filler, w->text) || listed(p->joiners, w->text);
}

bool phrases_noun(const struct phrases *p, const struct said_word *w)
{
    return listed(p->nouns, w->text);
}

bool phrases_negates(const struct phrases *p, const struct said_word *w)
{
    return listed(p->negators, w->text);
}

/* ---- what a phrase gives ---- */

static bool starts(const char *s, const char *with)
{
    return !strncmp(s, with, strlen(with));
}

static bool is_fact(const char *part)
{
    static const char *const facts[] = {"had ",  "not-had ", "seen ",  "not-seen ", "clock ",
                                        "hint ", "oil ",     "hands ", "since ",    "did "};
    for (size_t i = 0; i < sizeof facts / sizeof *facts; i++)
        if (starts(part, facts[i]))
            return true;
    return false;
}

bool phrases_give(const char *gives, size_t *at, struct give *g)
{
    while (gives[*at] == ' ' || gives[*at] == ',')
        ++*at;
    if (!gives[*at])
        return false;
    size_t length = strcspn(gives + *at, ",");
    char part[PHRASE_GIVES];
    snprintf(part, sizeof part, "%.*s", (int)length, gives + *at);
    *at += length;
    memset(g, 0, sizeof *g);
    if (starts(part, "time ")) {
        g->kind = GIVE_TIME;
        snprintf(g->line, sizeof g->line, "%s s.", part + 5);
    } else if (starts(part, "often ")) {
        g->kind = GIVE_OFTEN;
        snprintf(g->line, sizeof g->line, "? s. often=%s", part + 6);
    } else if (*part == '_') {
        g->kind = GIVE_ROW;
        g->loose = true;
        g->others = starts(part, "_others ");
        g->timed = starts(part, "_at ");
        const char *time = g->others ? "any" : g->timed || part[1] == ' ' ? "?" : "";
        size_t skip = g->others ? strlen("_others") : g->timed ? strlen("_at") : 1;
        snprintf(g->line, sizeof g->line, "%s%s", time, part + skip);
    } else {
        g->kind = is_fact(part) ? GIVE_FACT : GIVE_ROW;
        snprintf(g->line, sizeof g->line, "%s", part);
    }
    return true;
}

static bool check_gives(struct phrases *p, const struct yaml_node *node, const char *gives,
                        struct err *e)
{
    struct text sample = {0};
    struct give g;
    bool good = true;
    size_t at = 0, parts = 0;
    fill(gives, NULL, &sample);
    for (; good && phrases_give(text_cstr(&sample), &at, &g); parts++) {
        struct sheet s;
        struct err problems = {0};
        sheet_init(&s, p->words);
        if (!sheet_parse_shorthand(&s, g.line, strlen(g.line), &problems)) {
            yaml_complain(node, e, "gives \"%.100s\" is no shorthand: %.200s", gives,
                          problems.line[0]);
            good = false;
        }
        err_release(&problems);
        sheet_release(&s);
    }
    if (good && !parts) {
        yaml_complain(node, e, "gives is empty; expected shorthand such as \"had moved_house\"");
        good = false;
    }
    text_release(&sample);
    return good;
}

static bool slot_is_given(const char *gives, enum slot slot)
{
    bool given = strstr(gives, slots[slot].name);
    for (size_t i = 0; i < MINUTES; i++)
        given = given || (minutes[i].slot == slot && strstr(gives, minutes[i].name));
    return given;
}

/* Every slot that is given must be filled by every pattern. */
static bool check_slots(const struct phrase *ph, const struct yaml_node *node, struct err *e)
{
    for (int slot = 0; slot < SLOTS; slot++)
        for (size_t i = 0; slot_is_given(ph->gives, (enum slot)slot) && i < ph->patterns.count; i++)
            if (can_avoid(&ph->patterns.at[i], slot)) {
                yaml_complain(node, e,
                              "gives \"%.100s\" holds %s, which not every pattern of say "
                              "fills",
                              ph->gives, slots[slot].name);
                return false;
            }
    return true;
}

/* ---- loading ---- */

struct top {
    const char *language;
    const struct yaml_node *numbers, *filler, *negators, *joiners, *nouns, *units, *repeats,
        *classes, *times, *phrases;
};
#define TOP(member) offsetof(struct top, member)
static const struct yaml_key top_keys[] = {
    {.key = "language", .kind = YAML_K_ID, .offset = TOP(language), .needed = true},
    {.key = "numbers", .kind = YAML_K_NODE, .offset = TOP(numbers), .needed = true},
    {.key = "filler", .kind = YAML_K_NODE, .offset = TOP(filler), .needed = true},
    {.key = "negators", .kind = YAML_K_NODE, .offset = TOP(negators), .needed = true},
    {.key = "joiners", .kind = YAML_K_NODE, .offset = TOP(joiners), .needed = true},
    {.key = "nouns", .kind = YAML_K_NODE, .offset = TOP(nouns), .needed = true},
    {.key = "units", .kind = YAML_K_NODE, .offset = TOP(units), .needed = true},
    {.key = "repeats", .kind = YAML_K_NODE, .offset = TOP(repeats), .needed = true},
    {.key = "classes", .kind = YAML_K_NODE, .offset = TOP(classes), .needed = true},
    {.key = "times", .kind = YAML_K_NODE, .offset = TOP(times), .needed = true},
    {.key = "phrases", .kind = YAML_K_NODE, .offset = TOP(phrases), .needed = true},
};
#undef TOP

/* True if the scalar is one word as said_split makes them; a * may stand at its end. */
static bool plain_word(const struct yaml_node *n, bool star)
{
    const char *s = yaml_text(n);
    if (!s || !*s || strlen(s) >= SAID_LETTERS)
        return false;
    size_t length = word_length(s);
    return length && (!s[length] || (star && s[length] == '*' && !s[length + 1]));
}

static bool read_word_list(const struct yaml_node *list, const char *key, bool star, struct err *e)
{
    if (yaml_shape_of(list) != YAML_LIST) {
        yaml_complain(list, e, "%s is no list of words", key);
        return false;
    }
    for (size_t i = 0; i < yaml_count(list); i++)
        if (!plain_word(yaml_item(list, i), star)) {
            yaml_complain(yaml_item(list, i), e,
                          "%s holds \"%.60s\"; expected single words of small letters, without "
                          "apostrophes",
                          key,
                          yaml_text(yaml_item(list, i)) ? yaml_text(yaml_item(list, i)) : "a map");
            return false;
        }
    return true;
}

static bool read_classes(struct phrases *p, const struct yaml_node *map, struct err *e)
{
    if (yaml_shape_of(map) != YAML_MAP) {
        yaml_complain(map, e, "classes is no map of lists");
        return false;
    }
    for (size_t i = 0; i < yaml_count(map); i++) {
        const struct yaml_node *list = yaml_item(map, i);
        if (!read_word_list(list, yaml_key_text(map, i), true, e))
            return false;
        int which = add_class(p, yaml_key_text(map, i));
        for (size_t k = 0; k < yaml_count(list); k++)
            class_add(&p->class[which], yaml_text(yaml_item(list, k)));
    }
    return true;
}

static bool read_numbers(struct phrases *p, const struct yaml_node *map, bool repeat, struct err *e)
{
    if (yaml_shape_of(map) != YAML_MAP) {
        yaml_complain(map, e, "%s is no map of words and numbers", repeat ? "repeats" : "numbers");
        return false;
    }
    for (size_t i = 0; i < yaml_count(map); i++) {
        const char *key = yaml_key_text(map, i);
        const char *blank = strchr(key, ' ');
        long value;
        if (!yaml_int(yaml_item(map, i), key, 0, 1000, &value, e))
            return false;
        p->number = mem_grow(p->number, &p->number_room, p->numbers + 1, sizeof *p->number);
        struct number *n = &p->number[p->numbers++];
        n->first = blank ? keep(p, key, (size_t)(blank - key)) : key;
        n->second = blank ? blank + 1 : NULL;
        n->value = (int)value;
        n->repeat = repeat;
    }
    return true;
}

struct time_keys {
    const struct yaml_node *say;
    const char *min;
    int half;
    bool bare;
};
#define TIME_AT(member) offsetof(struct time_keys, member)
static const struct yaml_word half_words[] = {
    {"unsaid", HALF_UNSAID}, {"am", HALF_AM}, {"pm", HALF_PM}, {NULL, 0}};
static const struct yaml_key time_keys[] = {
    {.key = "say", .kind = YAML_K_NODE, .offset = TIME_AT(say), .needed = true},
    {.key = "min", .kind = YAML_K_TEXT, .offset = TIME_AT(min), .needed = true},
    {.key = "half", .kind = YAML_K_WORD, .offset = TIME_AT(half), .words = half_words},
    {.key = "bare", .kind = YAML_K_BOOL, .offset = TIME_AT(bare)},
};
#undef TIME_AT

static bool holds_time(const struct pattern *p)
{
    for (size_t i = 0; i < p->nodes; i++)
        if (p->node[i].kind == NODE_SLOT &&
            (p->node[i].which == SLOT_TIME || p->node[i].which == SLOT_TIME2 ||
             p->node[i].which == SLOT_MOMENT))
            return true;
    return false;
}

static bool read_time(struct phrases *p, const struct yaml_node *node, struct err *e)
{
    struct time_keys k = {0};
    if (!yaml_read_map(node, "time", time_keys, sizeof time_keys / sizeof *time_keys, &k, e))
        return false;
    struct time_row row = {.half = (enum half_said)k.half, .bare = k.bare};
    long min = 0;
    if (!strcmp(k.min, "<m>") || !strcmp(k.min, "-<m>"))
        row.m_sign = *k.min == '-' ? -1 : 1;
    else if (!text_int(k.min, &min) || min < -60 || min > 720) {
        yaml_complain(node, e, "min: \"%.40s\" is none of -60 to 720, <m> and -<m>", k.min);
        return false;
    }
    row.min = (int)min;
    bool good = read_say(p, k.say, &row.patterns, e);
    for (size_t i = 0; i < row.patterns.count && good; i++) {
        const struct pattern *pattern = &row.patterns.at[i];
        if (holds_time(pattern) || (row.m_sign && can_avoid(pattern, SLOT_M))) {
            yaml_complain(node, e, "a time is made of <hour>, <m> and <clock>, not of other times");
            good = false;
        }
    }
    p->time = mem_grow(p->time, &p->time_room, p->times + 1, sizeof *p->time);
    p->time[p->times++] = row;
    return good;
}

struct phrase_keys {
    const struct yaml_node *say;
    const char *gives;
};
#define PHRASE_AT(member) offsetof(struct phrase_keys, member)
static const struct yaml_key phrase_keys[] = {
    {.key = "say", .kind = YAML_K_NODE, .offset = PHRASE_AT(say), .needed = true},
    {.key = "gives", .kind = YAML_K_TEXT, .offset = PHRASE_AT(gives), .needed = true},
};
#undef PHRASE_AT

static bool read_phrase(struct phrases *p, const struct yaml_node *node, struct err *e)
{
    struct phrase_keys k = {0};
    if (!yaml_read_map(node, "phrase", phrase_keys, sizeof phrase_keys / sizeof *phrase_keys, &k,
                       e))
        return false;
    struct phrase ph = {.gives = k.gives};
    ph.say = yaml_text(k.say)    ? yaml_text(k.say)
             : yaml_count(k.say) ? yaml_text(yaml_item(k.say, 0))
                                 : NULL;
    bool good = read_say(p, k.say, &ph.patterns, e);
    p->phrase = mem_grow(p->phrase, &p->phrase_room, p->phrases + 1, sizeof *p->phrase);
    p->phrase[p->phrases++] = ph;
    if (strlen(k.gives) >= PHRASE_GIVES / 2) {
        yaml_complain(node, e, "gives is over %d bytes long", PHRASE_GIVES / 2);
        return false;
    }
    return good && ph.say && check_gives(p, node, k.gives, e) && check_slots(&ph, node, e);
}

static bool read_rows(struct phrases *p, const struct yaml_node *list, const char *key,
                      bool (*read)(struct phrases *, const struct yaml_node *, struct err *),
                      struct err *e)
{
    bool good = true;
    if (yaml_shape_of(list) != YAML_LIST) {
        yaml_complain(list, e, "%s is no list", key);
        return false;
    }
    for (size_t i = 0; i < yaml_count(list); i++)
        good = read(p, yaml_item(list, i), e) && good;
    return good;
}

static bool read_table(struct phrases *p, struct err *e)
{
    struct top t = {0};
    if (!yaml_read_map(yaml_root(p->tree), "phrase table", top_keys,
                       sizeof top_keys / sizeof *top_keys, &t, e))
        return false;
    p->language = t.language;
    p->filler = t.filler;
    p->negators = t.negators;
    p->joiners = t.joiners;
    p->nouns = t.nouns;
    p->units = t.units;
    return read_word_list(t.filler, "filler", false, e) &&
           read_word_list(t.negators, "negators", false, e) &&
           read_word_list(t.joiners, "joiners", false, e) &&
           read_word_list(t.nouns, "nouns", false, e) &&
           read_word_list(t.units, "units", false, e) && read_classes(p, t.classes, e) &&
           read_numbers(p, t.numbers, false, e) && read_numbers(p, t.repeats, true, e) &&
           read_rows(p, t.times, "times", read_time, e) &&
           read_rows(p, t.phrases, "phrases", read_phrase, e);
}

static struct phrases *read_phrases(struct yaml_tree *tree, const struct words *words,
                                    struct err *e)
{
    if (!tree)
        return NULL;
    struct phrases *p = mem_alloc(sizeof *p);
    p->tree = tree;
    p->words = words;
    if (read_table(p, e))
        return p;
    phrases_free(p);
    return NULL;
}

struct phrases *phrases_load(const char *path, const struct words *words, struct err *e)
{
    return read_phrases(yaml_load(path, e), words, e);
}

struct phrases *phrases_parse(const char *name, const char *text, size_t length,
                              const struct words *words, struct err *e)
{
    return read_phrases(yaml_parse(name, text, length, e), words, e);
}

static void free_patterns(struct patterns *p)
{
    for (size_t i = 0; i < p->count; i++)
        mem_free(p->at[i].node);
    mem_free(p->at);
}

void phrases_free(struct phrases *p)
{
    if (!p)
        return;
    for (size_t i = 0; i < p->classes; i++)
        mem_free(p->class[i].word);
    for (size_t i = 0; i < p->times; i++)
        free_patterns(&p->time[i].patterns);
    for (size_t i = 0; i < p->phrases; i++)
        free_patterns(&p->phrase[i].patterns);
    for (size_t i = 0; i < p->string_count; i++)
        mem_free(p->strings[i]);
    mem_free(p->class);
    mem_free(p->time);
    mem_free(p->phrase);
    mem_free(p->number);
    mem_free(p->strings);
    yaml_free(p->tree);
    mem_free(p);
}

const char *phrases_language(const struct phrases *p)
{
    return p->language;
}

const struct words *phrases_words(const struct phrases *p)
{
    return p->words;
}

size_t phrases_count(const struct phrases *p)
{
    return p->phrases;
}
