/* Reading the patterns of a phrase table into graphs (phrases_priv.h). */
#include "diagnose/phrases_priv.h"

#include <string.h>

#include "mem.h"

#define DEPTH_MOST 8 /* of brackets */

const struct phrase_slot phrase_slots[SLOTS] = {
    [SLOT_N] = {"<n>", "1"},
    [SLOT_N2] = {"<n2>", "2"},
    [SLOT_LIST] = {"<list>", "1/2"},
    [SLOT_HOUR] = {"<hour>", "1"},
    [SLOT_TIME] = {"<time>", "1:00"},
    [SLOT_TIME2] = {"<time2>", "2:00"},
    [SLOT_M] = {"<m>", "5"},
    [SLOT_FIVE] = {"<five>", "5"},
    [SLOT_YEARS] = {"<years>", "5"},
    [SLOT_NOTES] = {"<notes>", "3124"},
    [SLOT_CLOCK] = {"<clock>", "1:00"},
    [SLOT_MOMENT] = {"<moment>", "1:00"},
};

const char *phrases_keep(struct phrases *p, const char *s, size_t length)
{
    p->strings = mem_grow(p->strings, &p->string_room, p->string_count + 1, sizeof *p->strings);
    return p->strings[p->string_count++] = mem_copy_bytes(s, length);
}

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

int phrases_add_class(struct phrases *p, const char *name)
{
    p->class = mem_grow(p->class, &p->class_room, p->classes + 1, sizeof *p->class);
    p->class[p->classes] = (struct word_class){.name = name};
    return (int)p->classes++;
}

void word_class_add(struct word_class *c, const char *word)
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

size_t pattern_word_length(const char *s)
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
        if (!strncmp(r->at, phrase_slots[i].name, strlen(phrase_slots[i].name))) {
            r->pattern->node[node].which = i;
            r->at += strlen(phrase_slots[i].name);
            return node;
        }
    complain(r, "there is no such slot: ", r->at);
    return node;
}

/* A stretch of the graph. */
struct stretch {
    int first, last;
};

/* A word, or those it stands for. */
static struct stretch read_word(struct parser *r)
{
    size_t length = pattern_word_length(r->at);
    bool star = r->at[length] == '*';
    const char *word = phrases_keep(r->p, r->at, length);
    const char *as = star ? NULL : phrases_alike(r->p, word);
    struct stretch s = {-1, -1};
    r->at += length + star;
    for (as = as ? as : word; *as; as += length + (as[length] == ' ')) {
        length = strcspn(as, " ");
        int node = add_node(r, star ? NODE_PREFIX : NODE_WORD);
        r->pattern->node[node].text = phrases_keep(r->p, as, length);
        if (s.last >= 0)
            r->pattern->node[s.last].next = node;
        s.first = s.first < 0 ? node : s.first;
        s.last = node;
    }
    return s;
}

static int read_other(struct parser *r)
{
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

static struct stretch read_item(struct parser *r)
{
    if (pattern_word_length(r->at))
        return read_word(r);
    int node = read_other(r);
    return (struct stretch){node, node};
}

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
            more = read_item(r);
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

/* The slot whose number this one fills. */
static int filled_by(int which)
{
    return which == SLOT_FIVE ? SLOT_M : which;
}

/* Can the end be reached from here without a node that takes words (without: -1), or without
 * the slot `without`? */
static bool way_round(const struct pattern *p, int from, int without, bool *been)
{
    if (from < 0 || been[from])
        return false;
    been[from] = true;
    const struct node *n = &p->node[from];
    bool bars = without < 0 ? n->kind <= NODE_SLOT : n->kind == NODE_SLOT && filled_by(n->which) == without;
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

bool pattern_can_avoid(const struct pattern *p, int slot)
{
    bool been[NODES_MOST + 2] = {false};
    return way_round(p, p->start, slot, been);
}

static void add_first(struct pattern *p, int c)
{
    p->first[c / 64] |= (uint64_t)1 << (c % 64);
}

static void add_digits(struct pattern *p)
{
    for (int c = '0'; c <= '9'; c++)
        add_first(p, c);
}

/* Numbers and times, too, begin with few letters; nearly every word is none of them. */
static void add_slot_first(const struct phrases *t, struct pattern *p, enum slot slot)
{
    bool time = slot == SLOT_TIME || slot == SLOT_TIME2 || slot == SLOT_MOMENT;
    add_digits(p);
    for (size_t i = 0; i < t->numbers && !time; i++)
        add_first(p, (unsigned char)t->number[i].first[0]);
    for (size_t i = 0; i < t->times && time; i++)
        for (size_t j = 0; j < t->time[i].patterns.count; j++)
            for (size_t k = 0; k < sizeof p->first / sizeof *p->first; k++)
                p->first[k] |= t->time[i].patterns.at[j].first[k];
    if (time && !t->times) /* not read yet */
        memset(p->first, 0xff, sizeof p->first);
}

/* Which bytes can the first word begin with?  Gaps: any. */
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
    } else if (n->kind == NODE_SLOT) {
        add_slot_first(t, p, (enum slot)n->which);
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
    if (pattern_can_avoid(pattern, -1))
        complain(&r, "it can match without a word", "");
    bool been[NODES_MOST + 2] = {false};
    find_first(p, pattern, pattern->start, been);
    return r.good;
}

bool patterns_read(struct phrases *p, const struct yaml_node *node, struct patterns *into,
                   struct err *e)
{
    bool good = true;
    if (yaml_shape_of(node) != YAML_LIST)
        return read_pattern(p, node, into, e);
    for (size_t i = 0; i < yaml_count(node); i++)
        good = read_pattern(p, yaml_item(node, i), into, e) && good;
    return good;
}

void patterns_release(struct patterns *p)
{
    for (size_t i = 0; i < p->count; i++)
        mem_free(p->at[i].node);
    mem_free(p->at);
}
