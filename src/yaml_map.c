#include "yaml_map.h"

#include <limits.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <yaml.h>

#include "mem.h"
#include "text.h"

#define FILE_LIMIT    ((size_t)4 << 20)
#define DEPTH_LIMIT   64
#define NODE_LIMIT    200000
#define NODES_A_BLOCK 256
#define SHOWN_BYTES   40 /* of a value in a sentence */
#define LISTED_WORDS  16 /* as many known words are listed in a sentence */

struct yaml_node {
    const struct yaml_tree *tree;
    enum yaml_shape shape;
    bool quoted;
    bool faulty; /* something in it was complained about when it was loaded */
    uint32_t line, column;
    char *text;               /* scalar */
    struct yaml_node **key;   /* map */
    struct yaml_node **value; /* map and list */
    size_t count, key_room, value_room;
};

struct node_block {
    struct node_block *next;
    size_t used;
    struct yaml_node node[NODES_A_BLOCK];
};

struct yaml_tree {
    char *name;
    struct yaml_node *root;
    struct node_block *blocks;
    size_t node_count;
};

/* Adds at most SHOWN_BYTES of `s`, cut between characters, in quotes. */
static void add_shown(struct text *t, const char *s)
{
    size_t length = strlen(s);
    bool cut = length > SHOWN_BYTES;
    if (cut)
        for (length = SHOWN_BYTES; length && ((unsigned char)s[length] & 0xC0) == 0x80;)
            length--;
    text_add(t, "\"");
    for (size_t i = 0; i < length; i++) /* a sentence stays on one line */
        text_add_bytes(t, (unsigned char)s[i] < 0x20 || s[i] == 0x7F ? " " : s + i, 1);
    text_add(t, cut ? "...\"" : "\"");
}

/* ---- building the tree ----
 * libyaml's events are used and not its documents: a document has forgotten where an anchor
 * stood, and events let a limit stop the reading before memory is spent. */

struct builder {
    struct yaml_tree *tree;
    struct err *e;
    struct yaml_node *open[DEPTH_LIMIT]; /* lists and maps not yet ended */
    size_t depth;
    size_t documents;
};

static struct yaml_node *new_node(struct yaml_tree *tree, enum yaml_shape shape, yaml_mark_t mark)
{
    if (!tree->blocks || tree->blocks->used == NODES_A_BLOCK) {
        struct node_block *block = mem_alloc(sizeof *block);
        block->next = tree->blocks;
        tree->blocks = block;
    }
    struct yaml_node *n = &tree->blocks->node[tree->blocks->used++];
    n->tree = tree;
    n->shape = shape;
    n->line = (uint32_t)mark.line + 1;
    n->column = (uint32_t)mark.column + 1;
    tree->node_count++;
    return n;
}

/* Puts a new node where it belongs: in the innermost open list or map, or at the root. */
static void attach(struct builder *b, struct yaml_node *n)
{
    if (!b->depth) {
        b->tree->root = n;
        return;
    }
    struct yaml_node *in = b->open[b->depth - 1];
    if (in->shape == YAML_MAP && (!in->count || in->value[in->count - 1])) {
        in->key = mem_grow(in->key, &in->key_room, in->count + 1, sizeof *in->key);
        in->value = mem_grow(in->value, &in->value_room, in->count + 1, sizeof *in->value);
        in->key[in->count] = n;
        in->value[in->count++] = NULL; /* its value is the next node */
    } else if (in->shape == YAML_MAP) {
        in->value[in->count - 1] = n;
    } else {
        in->value = mem_grow(in->value, &in->value_room, in->count + 1, sizeof *in->value);
        in->value[in->count++] = n;
    }
}

static void mark_faulty(struct builder *b, struct yaml_node *n)
{
    n->faulty = true;
    if (b->depth)
        b->open[b->depth - 1]->faulty = true;
}

static void refuse_anchor(struct builder *b, struct yaml_node *n, const yaml_char_t *anchor)
{
    if (!anchor)
        return;
    yaml_complain(n, b->e, "the anchor &%s is not allowed; write the value out.",
                  (const char *)anchor);
    mark_faulty(b, n);
}

static void refuse_tag(struct builder *b, struct yaml_node *n, const yaml_char_t *tag)
{
    if (!tag)
        return;
    yaml_complain(n, b->e, "the tag %s is not allowed; write the plain value.", (const char *)tag);
    mark_faulty(b, n);
}

static void take_scalar(struct builder *b, const yaml_event_t *event)
{
    struct yaml_node *n = new_node(b->tree, YAML_SCALAR, event->start_mark);
    const char *value = (const char *)event->data.scalar.value;
    n->text = mem_copy_bytes(value, event->data.scalar.length);
    n->quoted = event->data.scalar.style != YAML_PLAIN_SCALAR_STYLE;
    attach(b, n);
    refuse_anchor(b, n, event->data.scalar.anchor);
    refuse_tag(b, n, event->data.scalar.tag);
    if (strlen(n->text) != event->data.scalar.length) {
        yaml_complain(n, b->e, "the text holds a NUL character, which is not allowed.");
        mark_faulty(b, n);
    }
}

static void take_alias(struct builder *b, const yaml_event_t *event)
{
    struct yaml_node *n = new_node(b->tree, YAML_SCALAR, event->start_mark);
    n->text = mem_copy_text("");
    attach(b, n);
    yaml_complain(n, b->e, "the alias *%s is not allowed; write the value out.",
                  (const char *)event->data.alias.anchor);
    mark_faulty(b, n);
}

static bool open_node(struct builder *b, enum yaml_shape shape, const yaml_event_t *event)
{
    struct yaml_node *n = new_node(b->tree, shape, event->start_mark);
    attach(b, n);
    if (b->depth == DEPTH_LIMIT) {
        yaml_complain(n, b->e, "lists and maps are nested more than %d deep.", DEPTH_LIMIT);
        return false;
    }
    bool list = shape == YAML_LIST;
    refuse_anchor(b, n,
                  list ? event->data.sequence_start.anchor : event->data.mapping_start.anchor);
    refuse_tag(b, n, list ? event->data.sequence_start.tag : event->data.mapping_start.tag);
    b->open[b->depth++] = n;
    return true;
}

static int key_order(const void *a, const void *b)
{
    const struct yaml_node *x = *(const struct yaml_node *const *)a;
    const struct yaml_node *y = *(const struct yaml_node *const *)b;
    int order = strcmp(x->text, y->text);
    if (order)
        return order;
    if (x->line != y->line)
        return x->line < y->line ? -1 : 1;
    return (x->column > y->column) - (x->column < y->column);
}

/* Complains of keys that are lists or maps; gathers the others, sorted, and returns their number.
 */
static size_t sort_keys(struct builder *b, struct yaml_node *map, struct yaml_node **sorted)
{
    size_t count = 0;
    for (size_t i = 0; i < map->count; i++) {
        if (map->key[i]->shape == YAML_SCALAR) {
            sorted[count++] = map->key[i];
        } else {
            yaml_complain(map->key[i], b->e, "a key must be one word, not a list or map.");
            map->faulty = true;
        }
    }
    if (count > 1)
        qsort(sorted, count, sizeof *sorted, key_order);
    return count;
}

static void complain_twice(struct builder *b, const struct yaml_node *key, uint32_t first_line)
{
    struct text t = {0};
    text_add(&t, "key ");
    add_shown(&t, key->text);
    text_addf(&t, " stands here a second time; expected it once (the first is at line %u).",
              first_line);
    yaml_complain(key, b->e, "%s", text_cstr(&t));
    text_release(&t);
}

static void check_keys(struct builder *b, struct yaml_node *map)
{
    struct yaml_node **sorted = mem_alloc(map->count * sizeof(struct yaml_node *));
    size_t count = sort_keys(b, map, sorted);
    for (size_t i = 1, first = 0; i < count; i++) {
        if (strcmp(sorted[i]->text, sorted[first]->text) != 0) {
            first = i;
            continue;
        }
        complain_twice(b, sorted[i], sorted[first]->line);
        map->faulty = true;
    }
    mem_free(sorted);
}

static void close_node(struct builder *b)
{
    struct yaml_node *n = b->open[--b->depth];
    if (n->shape == YAML_MAP)
        check_keys(b, n);
    if (n->faulty && b->depth)
        b->open[b->depth - 1]->faulty = true;
}

static bool start_document(struct builder *b, const yaml_event_t *event)
{
    if (++b->documents == 1)
        return true;
    err_at(b->e, b->tree->name, event->start_mark.line + 1, event->start_mark.column + 1,
           "a second document begins here; expected one document a file.");
    return false;
}

/* Takes one event; false when reading must stop. */
static bool take_event(struct builder *b, const yaml_event_t *event)
{
    if (b->tree->node_count > NODE_LIMIT) {
        err_at(b->e, b->tree->name, event->start_mark.line + 1, event->start_mark.column + 1,
               "the file holds more than %d values.", NODE_LIMIT);
        return false;
    }
    switch (event->type) {
    case YAML_DOCUMENT_START_EVENT:
        return start_document(b, event);
    case YAML_SCALAR_EVENT:
        take_scalar(b, event);
        return true;
    case YAML_ALIAS_EVENT:
        take_alias(b, event);
        return true;
    case YAML_SEQUENCE_START_EVENT:
        return open_node(b, YAML_LIST, event);
    case YAML_MAPPING_START_EVENT:
        return open_node(b, YAML_MAP, event);
    case YAML_SEQUENCE_END_EVENT:
    case YAML_MAPPING_END_EVENT:
        close_node(b);
        return true;
    default:
        return true;
    }
}

/* ---- bytes before YAML ---- */

/* Line and column (in characters) of a byte. */
static void place_of(const char *text, size_t offset, size_t *line, size_t *column)
{
    *line = *column = 1;
    for (size_t i = 0; i < offset; i++) {
        if (text[i] == '\n') {
            ++*line;
            *column = 1;
        } else if (((unsigned char)text[i] & 0xC0) != 0x80) {
            ++*column;
        }
    }
}

static bool control_character(unsigned char c)
{
    return (c < 0x20 && c != '\t' && c != '\n' && c != '\r') || c == 0x7F;
}

static bool check_bytes(const char *name, const char *text, size_t length, struct err *e)
{
    size_t bad = 0, line, column;
    bool good = text_is_utf8(text, length, &bad);
    size_t sound = good ? length : bad, control = 0;
    while (control < sound && !control_character((unsigned char)text[control]))
        control++;
    if (control < sound)
        bad = control;
    else if (good)
        return true;
    unsigned byte = (unsigned char)text[bad];
    place_of(text, bad, &line, &column);
    if (control_character((unsigned char)byte))
        err_at(e, name, line, column, "a control character (byte %02X) is not allowed in the text.",
               byte);
    else
        err_at(e, name, line, column,
               "the text is not UTF-8 from here on (byte %02X); save the file as UTF-8.", byte);
    return false;
}

static void report_syntax(const yaml_parser_t *parser, const char *name, const char *text,
                          size_t length, struct err *e)
{
    if (parser->error == YAML_MEMORY_ERROR)
        mem_exhausted(length);
    size_t line = parser->problem_mark.line + 1, column = parser->problem_mark.column + 1;
    if (parser->error == YAML_READER_ERROR)
        place_of(text, parser->problem_offset < length ? parser->problem_offset : length, &line,
                 &column);
    const char *problem = parser->problem ? parser->problem : "it cannot be read";
    if (parser->context)
        err_at(e, name, line, column, "this is not well-formed YAML: %s (%s, line %zu).", problem,
               parser->context, parser->context_mark.line + 1);
    else
        err_at(e, name, line, column, "this is not well-formed YAML: %s.", problem);
}

/* Feeds all events to the builder; false when the text must be refused. */
static bool read_events(struct builder *b, const char *text, size_t length)
{
    yaml_parser_t parser;
    if (!yaml_parser_initialize(&parser))
        mem_exhausted(sizeof parser);
    yaml_parser_set_encoding(&parser, YAML_UTF8_ENCODING);
    yaml_parser_set_input_string(&parser, (const unsigned char *)text, length);
    bool good = true;
    for (bool more = true; good && more;) {
        yaml_event_t event;
        good = yaml_parser_parse(&parser, &event);
        if (!good) {
            report_syntax(&parser, b->tree->name, text, length, b->e);
            break;
        }
        more = event.type != YAML_STREAM_END_EVENT;
        good = take_event(b, &event);
        yaml_event_delete(&event);
    }
    yaml_parser_delete(&parser);
    return good;
}

struct yaml_tree *yaml_parse(const char *name, const char *text, size_t length, struct err *e)
{
    if (length > FILE_LIMIT) {
        err_add(e, "%s: the file is longer than the %zu bytes that are allowed.", name, FILE_LIMIT);
        return NULL;
    }
    if (length >= 3 && memcmp(text, "\xEF\xBB\xBF", 3) == 0) { /* byte order mark */
        text += 3;
        length -= 3;
    }
    if (!check_bytes(name, text, length, e))
        return NULL;
    struct yaml_tree *tree = mem_alloc(sizeof *tree);
    tree->name = mem_copy_text(name);
    struct builder b = {.tree = tree, .e = e};
    bool good = read_events(&b, text, length);
    if (good && !tree->root) {
        err_at(e, name, 1, 1, "the file is empty; expected YAML.");
        good = false;
    }
    if (good)
        return tree;
    yaml_free(tree);
    return NULL;
}

struct yaml_tree *yaml_load(const char *path, struct err *e)
{
    size_t length;
    char *text = text_read_file(path, FILE_LIMIT, &length, e);
    if (!text)
        return NULL;
    const char *name = strcmp(path, "-") == 0 ? "standard input" : path;
    struct yaml_tree *tree = yaml_parse(name, text, length, e);
    mem_free(text);
    return tree;
}

void yaml_free(struct yaml_tree *tree)
{
    if (!tree)
        return;
    while (tree->blocks) {
        struct node_block *block = tree->blocks;
        tree->blocks = block->next;
        for (size_t i = 0; i < block->used; i++) {
            mem_free(block->node[i].text);
            mem_free(block->node[i].key);
            mem_free(block->node[i].value);
        }
        mem_free(block);
    }
    mem_free(tree->name);
    mem_free(tree);
}

/* ---- looking ---- */

const struct yaml_node *yaml_root(const struct yaml_tree *tree)
{
    return tree->root;
}

bool yaml_faulty(const struct yaml_node *n)
{
    return n->faulty;
}

enum yaml_shape yaml_shape_of(const struct yaml_node *n)
{
    return n->shape;
}

const char *yaml_text(const struct yaml_node *n)
{
    return n->text;
}

bool yaml_quoted(const struct yaml_node *n)
{
    return n->quoted;
}

size_t yaml_count(const struct yaml_node *n)
{
    return n->count;
}

const struct yaml_node *yaml_item(const struct yaml_node *list, size_t i)
{
    return i < list->count ? list->value[i] : NULL;
}

const struct yaml_node *yaml_key_node(const struct yaml_node *map, size_t i)
{
    return map->shape == YAML_MAP && i < map->count ? map->key[i] : NULL;
}

const char *yaml_key_text(const struct yaml_node *map, size_t i)
{
    const struct yaml_node *key = yaml_key_node(map, i);
    return key && key->text ? key->text : "";
}

const struct yaml_node *yaml_get(const struct yaml_node *map, const char *key)
{
    if (map->shape != YAML_MAP)
        return NULL;
    for (size_t i = 0; i < map->count; i++)
        if (map->key[i]->text && strcmp(map->key[i]->text, key) == 0)
            return map->value[i];
    return NULL;
}

const char *yaml_file(const struct yaml_node *n)
{
    return n->tree->name;
}

size_t yaml_line(const struct yaml_node *n)
{
    return n->line;
}

size_t yaml_column(const struct yaml_node *n)
{
    return n->column;
}

void yaml_complain(const struct yaml_node *n, struct err *e, const char *fmt, ...)
{
    struct text t = {0};
    va_list args;
    va_start(args, fmt);
    text_addv(&t, fmt, args);
    va_end(args);
    err_at(e, n->tree->name, n->line, n->column, "%s", text_cstr(&t));
    text_release(&t);
}

/* ---- sentences ---- */

static void add_met(struct text *t, const struct yaml_node *n)
{
    if (n->shape == YAML_LIST)
        text_addf(t, "a list of %zu", n->count);
    else if (n->shape == YAML_MAP)
        text_addf(t, "a map of %zu", n->count);
    else if (!*n->text && !n->quoted)
        text_add(t, "nothing");
    else
        add_shown(t, n->text);
}

/* `key "K": met V, expected <wanted>.`  Always false, so that readers can return it. */
static bool complain_met(const struct yaml_node *n, const char *key, struct err *e,
                         const char *wanted)
{
    struct text t = {0};
    text_add(&t, "key ");
    add_shown(&t, key);
    text_add(&t, ": met ");
    add_met(&t, n);
    text_addf(&t, ", expected %s.", wanted);
    yaml_complain(n, e, "%s", text_cstr(&t));
    text_release(&t);
    return false;
}

/* "21,5" becomes "21.5"; false if the text is no number with one comma. */
static bool mend_comma(const char *s, char mended[SHOWN_BYTES])
{
    double v;
    if (strlen(s) >= SHOWN_BYTES || !strchr(s, ','))
        return false;
    strcpy(mended, s);
    *strchr(mended, ',') = '.';
    return text_real(mended, &v);
}

static bool complain_number(const struct yaml_node *n, const char *key, struct err *e,
                            const char *kind, double low, double high)
{
    struct text wanted = {0};
    char mended[SHOWN_BYTES];
    text_add(&wanted, kind);
    if (low != 0 || high != 0)
        text_addf(&wanted, " from %.10g to %.10g", low, high);
    if (n->shape == YAML_SCALAR && mend_comma(n->text, mended))
        text_addf(&wanted, " written with a decimal point: %s", mended);
    complain_met(n, key, e, text_cstr(&wanted));
    text_release(&wanted);
    return false;
}

/* Adds "; did you mean "X"?" if a word is near, else "<before>a, b, c.": words never NULL. */
static void add_advice(struct text *t, const char *word, const char *const *words, size_t count,
                       const char *before)
{
    const char *near = text_nearest(word, words, count);
    if (near) {
        text_addf(t, "; did you mean \"%s\"?", near);
        return;
    }
    text_add(t, before);
    size_t listed = count < LISTED_WORDS ? count : LISTED_WORDS;
    for (size_t i = 0; i < listed; i++)
        text_addf(t, "%s%s", i ? ", " : "", words[i]);
    text_add(t, listed < count ? ", ... ." : ".");
}

/* ---- single values ---- */

bool yaml_real(const struct yaml_node *n, const char *key, double low, double high, double *v,
               struct err *e)
{
    double met;
    bool ranged = low != 0 || high != 0;
    if (n->shape != YAML_SCALAR || !text_real(n->text, &met) ||
        (ranged && (met < low || met > high)))
        return complain_number(n, key, e, "a number", low, high);
    *v = met;
    return true;
}

bool yaml_int(const struct yaml_node *n, const char *key, long low, long high, long *v,
              struct err *e)
{
    long met;
    bool ranged = low != 0 || high != 0;
    if (n->shape != YAML_SCALAR || !text_int(n->text, &met) ||
        (ranged && (met < low || met > high)))
        return complain_number(n, key, e, "a whole number", (double)low, (double)high);
    *v = met;
    return true;
}

static const struct yaml_word bool_words[] = {
    {"yes", 1}, {"no", 0}, {"true", 1}, {"false", 0}, {NULL, 0},
};

bool yaml_bool(const struct yaml_node *n, const char *key, bool *v, struct err *e)
{
    int met;
    if (!yaml_one_of(n, key, bool_words, &met, e))
        return false;
    *v = met != 0;
    return true;
}

static bool complain_word(const struct yaml_node *n, const char *key, const struct yaml_word *words,
                          struct err *e)
{
    size_t count = 0;
    while (words[count].name)
        count++;
    const char **names = mem_alloc(count * sizeof *names);
    for (size_t i = 0; i < count; i++)
        names[i] = words[i].name;
    struct text t = {0};
    text_add(&t, "key ");
    add_shown(&t, key);
    text_add(&t, ": met ");
    add_met(&t, n);
    add_advice(&t, n->text ? n->text : "", names, count, ", expected one of ");
    yaml_complain(n, e, "%s", text_cstr(&t));
    text_release(&t);
    mem_free(names);
    return false;
}

bool yaml_one_of(const struct yaml_node *n, const char *key, const struct yaml_word *words, int *v,
                 struct err *e)
{
    for (size_t i = 0; n->shape == YAML_SCALAR && words[i].name; i++) {
        if (strcmp(n->text, words[i].name) == 0) {
            *v = words[i].value;
            return true;
        }
    }
    return complain_word(n, key, words, e);
}

static bool read_text(const struct yaml_node *n, const char *key, const char **v, struct err *e)
{
    if (n->shape != YAML_SCALAR || (!*n->text && !n->quoted))
        return complain_met(n, key, e, "a text");
    *v = n->text;
    return true;
}

static bool id_letter(char c)
{
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '-' ||
           c == '_';
}

static bool read_id(const struct yaml_node *n, const char *key, const char **v, struct err *e)
{
    bool good = n->shape == YAML_SCALAR && *n->text;
    for (const char *c = good ? n->text : ""; *c; c++)
        good = good && id_letter(*c);
    if (!good)
        return complain_met(n, key, e, "an id of letters, digits, - and _");
    *v = n->text;
    return true;
}

/* ---- rows of keys ---- */

static bool read_int(const struct yaml_node *n, const struct yaml_key *k, int *v, struct err *e)
{
    bool ranged = k->low != 0 || k->high != 0;
    long met = 0;
    if (!yaml_int(n, k->key, ranged ? (long)k->low : INT_MIN, ranged ? (long)k->high : INT_MAX,
                  &met, e))
        return false;
    *v = (int)met;
    return true;
}

/* One value of kind INT(S), REAL(S), TEXT(S), ID, BOOL or WORD into `to`. */
static bool read_one(const struct yaml_node *n, const struct yaml_key *k, enum yaml_kind kind,
                     void *to, struct err *e)
{
    switch (kind) {
    case YAML_K_TEXT:
    case YAML_K_TEXTS:
        return read_text(n, k->key, to, e);
    case YAML_K_ID:
        return read_id(n, k->key, to, e);
    case YAML_K_INT:
    case YAML_K_INTS:
        return read_int(n, k, to, e);
    case YAML_K_REAL:
    case YAML_K_REALS:
        return yaml_real(n, k->key, k->low, k->high, to, e);
    case YAML_K_BOOL:
        return yaml_bool(n, k->key, to, e);
    case YAML_K_WORD:
        return yaml_one_of(n, k->key, k->words, to, e);
    case YAML_K_NODE:
        *(const struct yaml_node **)to = n;
        return true;
    }
    return false;
}

static size_t item_size(enum yaml_kind kind)
{
    switch (kind) {
    case YAML_K_INTS:
        return sizeof(int);
    case YAML_K_REALS:
        return sizeof(double);
    case YAML_K_TEXTS:
        return sizeof(const char *);
    default:
        return 0; /* no list */
    }
}

/* A list is read beside its member and copied when all of it was right. */
static bool read_items(const struct yaml_node *n, const struct yaml_key *k, void *into,
                       struct err *e)
{
    size_t each = item_size(k->kind), count = n->shape == YAML_LIST ? n->count : 1;
    if (count > k->room) {
        struct text wanted = {0};
        text_addf(&wanted, "at most %zu", k->room);
        complain_met(n, k->key, e, text_cstr(&wanted));
        text_release(&wanted);
        return false;
    }
    bool good = true;
    char *items = mem_alloc(count * each);
    for (size_t i = 0; i < count; i++)
        good = read_one(n->shape == YAML_LIST ? n->value[i] : n, k, k->kind, items + i * each, e) &&
               good;
    if (good) {
        memcpy((char *)into + k->offset, items, count * each);
        memcpy((char *)into + k->count_offset, &count, sizeof count);
    }
    mem_free(items);
    return good;
}

static bool read_row(const struct yaml_node *n, const struct yaml_key *k, void *into, struct err *e)
{
    if (item_size(k->kind))
        return read_items(n, k, into, e);
    return read_one(n, k, k->kind, (char *)into + k->offset, e);
}

static void complain_key(const struct yaml_node *key, const char *what, const struct yaml_key *keys,
                         size_t count, struct err *e)
{
    const char **names = mem_alloc(count * sizeof *names);
    for (size_t i = 0; i < count; i++)
        names[i] = keys[i].key;
    struct text t = {0};
    text_add(&t, "key ");
    add_shown(&t, key->text);
    text_addf(&t, " is not known in a %s", what);
    add_advice(&t, key->text, names, count, "; expected one of ");
    yaml_complain(key, e, "%s", text_cstr(&t));
    text_release(&t);
    mem_free(names);
}

static const struct yaml_key *find_row(const char *name, const struct yaml_key *keys, size_t count)
{
    for (size_t i = 0; i < count; i++)
        if (strcmp(name, keys[i].key) == 0)
            return &keys[i];
    return NULL;
}

bool yaml_read_map(const struct yaml_node *map, const char *what, const struct yaml_key *keys,
                   size_t key_count, void *into, struct err *e)
{
    if (map->shape != YAML_MAP)
        return complain_met(map, what, e, "a map of keys and values");
    bool good = !map->faulty;
    for (size_t i = 0; i < map->count; i++) {
        const struct yaml_node *key = map->key[i];
        if (key->shape != YAML_SCALAR)
            continue; /* complained about when it was loaded */
        const struct yaml_key *row = find_row(key->text, keys, key_count);
        if (row) {
            good = read_row(map->value[i], row, into, e) && good;
        } else {
            complain_key(key, what, keys, key_count, e);
            good = false;
        }
    }
    for (size_t i = 0; i < key_count; i++) {
        if (keys[i].needed && !yaml_get(map, keys[i].key)) {
            yaml_complain(map, e, "key \"%s\" is missing; a %s must have it.", keys[i].key, what);
            good = false;
        }
    }
    return good;
}
