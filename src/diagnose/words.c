#include "diagnose/words.h"

#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include "mem.h"
#include "movement/fault_file.h"
#include "text.h"
#include "yaml_map.h"

#define WORDS_MOST 4000
#define WORD_SLOTS 8192 /* more than WORD_KINDS times WORDS_PER_KIND */

struct words {
    struct yaml_tree *tree; /* owns all strings */
    struct word *all;
    size_t count, room;
    const struct word **of[WORD_KINDS];
    size_t of_count[WORD_KINDS], of_room[WORD_KINDS];
    const struct word *slot[WORD_SLOTS]; /* by hash of kind and id: callers' words are asked for often */
};

static const struct yaml_word kind_words[] = {
    {"history", WORD_HISTORY}, {"seen", WORD_SEEN},
    {"how", WORD_HOW},         {"when", WORD_WHEN},
    {"after", WORD_AFTER},     {"do", WORD_DO},
    {"result", WORD_RESULT},   {"freed_by", WORD_FREED_BY},
    {"hint", WORD_HINT},       {NULL, 0},
};

const char *word_kind_name(enum word_kind kind)
{
    return kind_words[kind].name;
}

int word_kind_of(const char *name)
{
    for (int i = 0; kind_words[i].name; i++)
        if (!strcmp(kind_words[i].name, name))
            return kind_words[i].value;
    return -1;
}

/* One row as it stands in the file, before it is checked and numbered. */
struct row {
    struct word word;
    const struct yaml_node *kind, *needs, *values, *cures, *also;
    struct fault_needs parts;
    int range[2];
    size_t ranges;
};

#define AT(member) offsetof(struct row, member)
static const struct yaml_key row_keys[] = {
    {.key = "id", .kind = YAML_K_ID, .offset = AT(word.id), .needed = true},
    {.key = "kind", .kind = YAML_K_NODE, .offset = AT(kind), .needed = true},
    {.key = "minutes",
     .kind = YAML_K_REAL,
     .offset = AT(word.minutes),
     .needed = true,
     .high = 120},
    {.key = "picture", .kind = YAML_K_ID, .offset = AT(word.picture), .needed = true},
    {.key = "ask", .kind = YAML_K_TEXT, .offset = AT(word.ask), .needed = true},
    {.key = "explain", .kind = YAML_K_TEXT, .offset = AT(word.explain), .needed = true},
    {.key = "against",
     .kind = YAML_K_TEXTS,
     .offset = AT(word.against),
     .room = WORD_AGAINST,
     .count_offset = AT(word.againsts)},
    {.key = "told_by",
     .kind = YAML_K_TEXTS,
     .offset = AT(word.told_by),
     .room = WORD_TOLD_BY,
     .count_offset = AT(word.told_bys)},
    {.key = "needs", .kind = YAML_K_NODE, .offset = AT(needs)},
    {.key = "lasting", .kind = YAML_K_BOOL, .offset = AT(word.lasting)},
    {.key = "who", .kind = YAML_K_TEXT, .offset = AT(word.who)},
    {.key = "hazard", .kind = YAML_K_TEXT, .offset = AT(word.hazard)},
    {.key = "also", .kind = YAML_K_NODE, .offset = AT(also)},
    {.key = "cures", .kind = YAML_K_NODE, .offset = AT(cures)},
    {.key = "values", .kind = YAML_K_NODE, .offset = AT(values)},
    {.key = "range",
     .kind = YAML_K_INTS,
     .offset = AT(range),
     .low = -100000,
     .high = 100000,
     .room = 2,
     .count_offset = AT(ranges)},
};
#undef AT

static bool read_kinds(struct row *r, struct err *e)
{
    size_t count = yaml_shape_of(r->kind) == YAML_LIST ? yaml_count(r->kind) : 1;
    for (size_t i = 0; i < count; i++) {
        int kind;
        const struct yaml_node *n =
            yaml_shape_of(r->kind) == YAML_LIST ? yaml_item(r->kind, i) : r->kind;
        if (!yaml_one_of(n, "kind", kind_words, &kind, e))
            return false;
        r->word.kinds |= 1u << kind;
    }
    if (!count)
        yaml_complain(r->kind, e, "kind is an empty list; name at least one kind");
    return count > 0;
}

static bool read_values(struct row *r, const struct yaml_node *node, struct err *e)
{
    struct word *w = &r->word;
    if (!r->values) {
        w->low = r->range[0], w->high = r->range[1];
        if (r->ranges == 2 && w->low <= w->high)
            return true;
        yaml_complain(node, e, "hint %s has neither values nor a range of two numbers", w->id);
        return false;
    }
    if (yaml_shape_of(r->values) != YAML_MAP || !yaml_count(r->values) ||
        yaml_count(r->values) > WORD_VALUES) {
        yaml_complain(r->values, e, "values of hint %s is not a map of 1 to %d names", w->id,
                      WORD_VALUES);
        return false;
    }
    for (size_t i = 0; i < yaml_count(r->values); i++) {
        w->value[i] = yaml_key_text(r->values, i);
        w->value_text[i] = yaml_text(yaml_item(r->values, i));
        if (!w->value_text[i]) {
            yaml_complain(yaml_item(r->values, i), e, "value %s of hint %s has no explanation",
                          w->value[i], w->id);
            return false;
        }
    }
    w->values = yaml_count(r->values);
    return true;
}

static bool read_cures(struct word *w, const struct yaml_node *map, struct err *e)
{
    if (!(w->kinds & 1u << WORD_DO) || yaml_shape_of(map) != YAML_MAP || yaml_count(map) > WORD_CURES) {
        yaml_complain(map, e, "cures of word %s: expected, of an action, a map of at most %d cures", w->id,
                      WORD_CURES);
        return false;
    }
    for (; w->cures < yaml_count(map); w->cures++) {
        w->cure[w->cures] = yaml_key_text(map, w->cures);
        if (!yaml_real(yaml_item(map, w->cures), w->cure[w->cures], 0, 1, &w->cure_fails[w->cures], e))
            return false;
    }
    return true;
}

/* A list of other names of the word, or a map from other names to values of the hint. */
static bool read_also(struct word *w, const struct yaml_node *n, struct err *e)
{
    bool hint = w->kinds & 1u << WORD_HINT, good = true;
    if (yaml_shape_of(n) != (hint ? YAML_MAP : YAML_LIST) || yaml_count(n) > WORD_ALSO) {
        yaml_complain(n, e, "also of word %s is not a %s of at most %d names", w->id,
                      hint ? "map" : "list", WORD_ALSO);
        return false;
    }
    for (; w->alsos < yaml_count(n); w->alsos++) {
        const struct yaml_node *item = yaml_item(n, w->alsos);
        const char *text = yaml_text(item);
        w->also[w->alsos] = hint ? yaml_key_text(n, w->alsos) : text ? text : "";
        w->also_value[w->alsos] = hint ? text : NULL;
        bool known = !hint || (text && word_value_of(w, text) >= 0);
        if (!*w->also[w->alsos] || !known || word_value_of(w, w->also[w->alsos]) >= 0) {
            yaml_complain(item, e, "also of word %s: expected another name%s", w->id,
                          hint ? " of one of its values" : "");
            good = false;
        }
    }
    return good;
}

static bool read_needs(struct row *r, struct err *e)
{
    if (!(r->word.kinds & (1u << WORD_SEEN | 1u << WORD_HISTORY))) {
        yaml_complain(r->needs, e,
                      "word %s has needs, which only a word of kind seen or history may have",
                      r->word.id);
        return false;
    }
    return fault_file_needs(r->needs, &r->parts, e);
}

static const struct fault_needs *keep_needs(const struct row *r)
{
    struct fault_needs *kept = r->needs ? mem_alloc(sizeof *kept) : NULL;
    if (kept)
        *kept = r->parts;
    return kept;
}

static bool one_of(const char *word, const char *const *words)
{
    for (; *words; words++)
        if (word && !strcmp(word, *words))
            return true;
    return false;
}

static bool check_action(const struct word *w, const struct yaml_node *node, struct err *e)
{
    static const char *const who[] = {"owner", "technician", NULL};
    static const char *const hazard[] = {"none", "low", "medium", "high", NULL};
    if (!one_of(w->who, who))
        yaml_complain(node, e, "action %s has who: %s; expected owner or technician", w->id,
                      w->who ? w->who : "nothing");
    else if (!one_of(w->hazard, hazard))
        yaml_complain(node, e, "action %s has hazard: %s; expected none, low, medium or high",
                      w->id, w->hazard ? w->hazard : "nothing");
    else
        return true;
    return false;
}

static bool read_row(struct words *ws, const struct yaml_node *node, struct err *e)
{
    struct row r = {.parts = FAULT_NEEDS_NOTHING};
    if (!yaml_read_map(node, "word", row_keys, sizeof row_keys / sizeof *row_keys, &r, e) ||
        !read_kinds(&r, e))
        return false;
    if (r.word.kinds & 1u << WORD_HINT ? !read_values(&r, node, e) : r.values || r.ranges) {
        if (!(r.word.kinds & 1u << WORD_HINT))
            yaml_complain(node, e, "word %s has values or a range, which only a hint may have",
                          r.word.id);
        return false;
    }
    if (r.word.lasting && !(r.word.kinds & 1u << WORD_HOW)) {
        yaml_complain(node, e, "word %s is lasting, which only a word of kind how may be", r.word.id);
        return false;
    }
    if (r.needs && !read_needs(&r, e))
        return false;
    if (r.cures && !read_cures(&r.word, r.cures, e))
        return false;
    if (r.also && !read_also(&r.word, r.also, e))
        return false;
    if (r.word.kinds & 1u << WORD_DO && !check_action(&r.word, node, e))
        return false;
    for (size_t i = 0; i < ws->count; i++)
        if (ws->all[i].kinds & r.word.kinds && !strcmp(ws->all[i].id, r.word.id)) {
            yaml_complain(node, e, "word %s is given twice for the same kind", r.word.id);
            return false;
        }
    ws->all = mem_grow(ws->all, &ws->room, ws->count + 1, sizeof *ws->all);
    r.word.needs = keep_needs(&r);
    ws->all[ws->count++] = r.word;
    return true;
}

static size_t slot_of(enum word_kind kind, const char *id)
{
    uint32_t h = 2166136261u + (uint32_t)kind; /* FNV-1a, 32 bits */
    for (; *id; id++)
        h = (h ^ (uint8_t)*id) * 16777619u;
    return (h ^ (h >> 15)) % WORD_SLOTS;
}

static void list_word(struct words *ws, enum word_kind kind, const struct word *w, const char *name)
{
    size_t at = slot_of(kind, name);
    while (ws->slot[at])
        at = (at + 1) % WORD_SLOTS;
    ws->slot[at] = w;
}

/* The words a row names are there, which is known only when all have been read. */
static bool check_against(const struct words *ws, const struct word *w, const struct yaml_node *list, struct err *e)
{
    bool good = true;
    for (size_t j = 0; j < w->againsts; j++) {
        bool found = false;
        for (int k = 0; k < WORD_KINDS; k++)
            found = found || (w->kinds & 1u << k && words_find(ws, (enum word_kind)k, w->against[j]));
        if (!found)
            yaml_complain(list, e, "word %s is against %s, which is no word of its kind", w->id, w->against[j]);
        good = good && found;
    }
    return good;
}

static bool check_told_by(const struct words *ws, const struct word *w, const struct yaml_node *list, struct err *e)
{
    if (w->told_bys && !(w->kinds & 1u << WORD_SEEN)) {
        yaml_complain(list, e, "word %s has told_by, which only a word of kind seen may have", w->id);
        return false;
    }
    bool good = true;
    for (size_t j = 0; j < w->told_bys; j++)
        if (!words_find(ws, WORD_HOW, w->told_by[j])) {
            yaml_complain(list, e, "word %s is told by %s, which is no word of kind how", w->id, w->told_by[j]);
            good = false;
        }
    return good;
}

/* Another name is no word of the kind, nor of another word of it. */
static bool list_other_names(struct words *ws, const struct word *w, const struct yaml_node *list,
                             struct err *e)
{
    bool good = true;
    for (size_t i = 0; i < w->alsos && !(w->kinds & 1u << WORD_HINT); i++)
        for (int k = 0; k < WORD_KINDS; k++) {
            if (!(w->kinds & 1u << k))
                continue;
            if (words_find(ws, (enum word_kind)k, w->also[i])) {
                yaml_complain(list, e, "word %s is also called %s, which is a word of its kind",
                              w->id, w->also[i]);
                good = false;
            } else {
                list_word(ws, (enum word_kind)k, w, w->also[i]);
            }
        }
    return good;
}

/* Number the words within their kinds; only now are their addresses final. */
static bool number_words(struct words *ws, const struct yaml_node *list, struct err *e)
{
    bool good = true;
    for (size_t i = 0; i < ws->count; i++) {
        struct word *w = &ws->all[i];
        for (int k = 0; k < WORD_KINDS; k++) {
            w->ordinal[k] = -1;
            if (!(w->kinds & 1u << k))
                continue;
            size_t n = ws->of_count[k];
            if (n == WORDS_PER_KIND) {
                yaml_complain(list, e, "there are more than %d words of kind %s", WORDS_PER_KIND,
                              word_kind_name((enum word_kind)k));
                return false;
            }
            ws->of[k] = mem_grow(ws->of[k], &ws->of_room[k], n + 1, sizeof *ws->of[k]);
            ws->of[k][n] = w;
            w->ordinal[k] = (int)n;
            ws->of_count[k] = n + 1;
            list_word(ws, (enum word_kind)k, w, w->id);
        }
    }
    for (size_t i = 0; i < ws->count; i++)
        good = list_other_names(ws, &ws->all[i], list, e) && good;
    for (size_t i = 0; i < ws->count; i++)
        good = check_against(ws, &ws->all[i], list, e) && check_told_by(ws, &ws->all[i], list, e) && good;
    return good;
}

static struct words *read_words(struct yaml_tree *tree, struct err *e)
{
    if (!tree)
        return NULL;
    struct words *ws = mem_alloc(sizeof *ws);
    ws->tree = tree;
    const struct yaml_node *root = yaml_root(tree);
    const struct yaml_node *list =
        yaml_shape_of(root) == YAML_MAP && yaml_count(root) == 1 ? yaml_get(root, "words") : NULL;
    bool good = false;
    if (!list || yaml_shape_of(list) != YAML_LIST || !yaml_count(list))
        yaml_complain(root, e, "this is no vocabulary; expected the one key words with a list");
    else if (yaml_count(list) > WORDS_MOST)
        yaml_complain(list, e, "there are more than %d words", WORDS_MOST);
    else {
        good = !yaml_faulty(root);
        for (size_t i = 0; i < yaml_count(list); i++)
            good = read_row(ws, yaml_item(list, i), e) && good;
        good = good && number_words(ws, list, e);
    }
    if (good)
        return ws;
    words_free(ws);
    return NULL;
}

struct words *words_load(const char *path, struct err *e)
{
    return read_words(yaml_load(path, e), e);
}

struct words *words_parse(const char *name, const char *text, size_t length, struct err *e)
{
    return read_words(yaml_parse(name, text, length, e), e);
}

void words_free(struct words *w)
{
    if (!w)
        return;
    for (int k = 0; k < WORD_KINDS; k++)
        mem_free(w->of[k]);
    for (size_t i = 0; i < w->count; i++)
        mem_free((void *)w->all[i].needs);
    mem_free(w->all);
    yaml_free(w->tree);
    mem_free(w);
}

size_t words_count(const struct words *w, enum word_kind kind)
{
    return w->of_count[kind];
}

const struct word *words_at(const struct words *w, enum word_kind kind, size_t ordinal)
{
    return ordinal < w->of_count[kind] ? w->of[kind][ordinal] : NULL;
}

static bool is_called(const struct word *w, const char *id)
{
    if (!strcmp(w->id, id))
        return true;
    for (size_t i = 0; i < w->alsos; i++)
        if (!w->also_value[i] && !strcmp(w->also[i], id))
            return true;
    return false;
}

const struct word *words_find(const struct words *w, enum word_kind kind, const char *id)
{
    size_t at = slot_of(kind, id);
    for (const struct word *word; (word = w->slot[at]); at = (at + 1) % WORD_SLOTS)
        if (word->kinds & 1u << kind && is_called(word, id))
            return word;
    return NULL;
}

int words_ordinal(const struct words *w, enum word_kind kind, const char *id)
{
    const struct word *word = words_find(w, kind, id);
    return word ? word->ordinal[kind] : -1;
}

const char *words_nearest(const struct words *w, enum word_kind kind, const char *id)
{
    const char *ids[WORDS_PER_KIND];
    for (size_t i = 0; i < w->of_count[kind]; i++)
        ids[i] = w->of[kind][i]->id;
    return text_nearest(id, ids, w->of_count[kind]);
}

int word_value_of(const struct word *hint, const char *value)
{
    for (size_t i = 0; i < hint->values; i++)
        if (!strcmp(hint->value[i], value))
            return (int)i;
    for (size_t i = 0; i < hint->alsos; i++)
        if (hint->also_value[i] && !strcmp(hint->also[i], value) &&
            strcmp(hint->also_value[i], value))
            return word_value_of(hint, hint->also_value[i]);
    return -1;
}

#define YEARS_FROM 1000 /* a hint whose numbers go beyond that is one of years */

bool word_number_of(const struct word *hint, const char *text, long *number)
{
    char digits[24];
    text += *text == '~';
    size_t length = strlen(text);
    bool decade = hint->high > YEARS_FROM && length > 2 && length < sizeof digits &&
                  !strcmp(text + length - 2, "0s");
    snprintf(digits, sizeof digits, "%.*s", (int)(length < 23 ? length - decade : 0), text);
    long read;
    if (hint->values || *digits == '+' || !text_int(digits, &read) || read < hint->low ||
        read > hint->high)
        return false;
    *number = decade ? read + 5 : read;
    return *number <= hint->high;
}

static bool names_against(const struct word *a, const struct word *b)
{
    for (size_t i = 0; i < a->againsts; i++)
        if (!strcmp(a->against[i], b->id))
            return true;
    return false;
}

bool words_clash(const struct word *a, const struct word *b)
{
    return a->kinds & b->kinds && (names_against(a, b) || names_against(b, a));
}

bool word_fits(const struct word *w, const struct clock *c)
{
    return !w->needs || fault_needs_met(w->needs, c);
}

void word_set_add(struct word_set *set, int ordinal)
{
    if (ordinal >= 0 && ordinal < WORDS_PER_KIND)
        set->bits[ordinal / 64] |= (uint64_t)1 << (ordinal % 64);
}

void word_set_remove(struct word_set *set, int ordinal)
{
    if (ordinal >= 0 && ordinal < WORDS_PER_KIND)
        set->bits[ordinal / 64] &= ~((uint64_t)1 << (ordinal % 64));
}

bool word_set_has(const struct word_set *set, int ordinal)
{
    return ordinal >= 0 && ordinal < WORDS_PER_KIND &&
           set->bits[ordinal / 64] >> (ordinal % 64) & 1;
}

int word_set_next(const struct word_set *set, int after)
{
    int first = after + 1;
    for (int i = first / 64; i < WORDS_PER_KIND / 64; i++) {
        uint64_t rest = set->bits[i] & (i == first / 64 ? ~0ull << first % 64 : ~0ull);
        if (rest)
            return 64 * i + __builtin_ctzll(rest);
    }
    return -1;
}

bool word_set_empty(const struct word_set *set)
{
    for (size_t i = 0; i < WORDS_PER_KIND / 64; i++)
        if (set->bits[i])
            return false;
    return true;
}

size_t word_set_count(const struct word_set *set)
{
    size_t count = 0;
    for (size_t i = 0; i < WORDS_PER_KIND / 64; i++)
        for (uint64_t bits = set->bits[i]; bits; bits &= bits - 1)
            count++;
    return count;
}

struct word_set word_set_both(const struct word_set *a, const struct word_set *b)
{
    struct word_set both = *a;
    for (size_t i = 0; i < WORDS_PER_KIND / 64; i++)
        both.bits[i] &= b->bits[i];
    return both;
}

struct word_set word_set_less(const struct word_set *a, const struct word_set *b)
{
    struct word_set less = *a;
    for (size_t i = 0; i < WORDS_PER_KIND / 64; i++)
        less.bits[i] &= ~b->bits[i];
    return less;
}

bool words_has(const struct words *w, enum word_kind kind, const struct word_set *set,
               const char *id)
{
    return word_set_has(set, words_ordinal(w, kind, id));
}
