#include "diagnose/cues.h"

#include <stdlib.h>
#include <string.h>

#include "diagnose/phrases_priv.h"
#include "mem.h"
#include "text.h"
#include "yaml_map.h"

#define STEM_LEAST   3 /* letters an ending leaves */
#define TERM_WORDS   5 /* of one entry of a concept */
#define TERMS_HERE   8 /* entries that begin at one word of a text */
#define PLACES_HERE  6 /* of one concept in one clause */
#define DENIAL_WORDS 4 /* between a negator and the first word of a row it denies */

/* A word or a few in a row, as stems, and the thing they name. */
struct term {
    char stem[TERM_WORDS][SAID_LETTERS];
    size_t words;
    size_t thing;
};
struct row {
    struct cue cue;
    size_t thing[CUE_WORDS];
    size_t things;
};
struct cues {
    const struct phrases *p;
    struct yaml_tree *tree;
    const struct yaml_node *endings, *forms;
    const char **thing; /* names: "@hammer" or a word of a row */
    size_t things, thing_room;
    struct term *term; /* sorted by their first stem */
    size_t terms, term_room;
    struct row *row; /* in the order of the file */
    size_t rows, row_room;
    char **text; /* owned strings */
    size_t texts, text_room;
};

/* ---- stems ---- */

static void cut(char *stem, size_t length, const char *instead)
{
    snprintf(stem + length, SAID_LETTERS - length, "%s", instead);
}

/* "Stuck", "sticks" and "sticking" are one: the ending goes, then a doubled letter and an e.  What is left need be no
 * word, as long as the table's words lose theirs likewise. */
static void stem_of(const struct cues *c, const char *word, char stem[SAID_LETTERS])
{
    const struct yaml_node *form = c->forms ? yaml_get(c->forms, word) : NULL;
    snprintf(stem, SAID_LETTERS, "%s", form ? yaml_text(form) : word);
    size_t length = strlen(stem);
    for (size_t i = 0; c->endings && i < yaml_count(c->endings); i++) {
        const char *ending = yaml_key_text(c->endings, i);
        size_t tail = strlen(ending);
        if (length < tail + STEM_LEAST || strcmp(stem + length - tail, ending) != 0)
            continue;
        cut(stem, length - tail, yaml_text(yaml_item(c->endings, i)));
        break;
    }
    length = strlen(stem);
    if (length > STEM_LEAST && stem[length - 1] == stem[length - 2] &&
        !strchr("els", stem[length - 1]))
        stem[--length] = '\0';
    if (length > STEM_LEAST && stem[length - 1] == 'e')
        stem[--length] = '\0';
}

/* ---- the table ---- */

struct top {
    const char *language;
    const struct yaml_node *endings, *forms, *concepts, *cues;
};
#define TOP(member) offsetof(struct top, member)
static const struct yaml_key top_keys[] = {
    {.key = "language", .kind = YAML_K_ID, .offset = TOP(language), .needed = true},
    {.key = "endings", .kind = YAML_K_NODE, .offset = TOP(endings)},
    {.key = "forms", .kind = YAML_K_NODE, .offset = TOP(forms)},
    {.key = "concepts", .kind = YAML_K_NODE, .offset = TOP(concepts), .needed = true},
    {.key = "cues", .kind = YAML_K_NODE, .offset = TOP(cues), .needed = true},
};
struct row_keys {
    const struct yaml_node *all;
    const char *gives;
    bool denied;
    int met, right;
};
#define ROW(member) offsetof(struct row_keys, member)
static const struct yaml_key row_keys[] = {
    {.key = "all", .kind = YAML_K_NODE, .offset = ROW(all), .needed = true},
    {.key = "gives", .kind = YAML_K_TEXT, .offset = ROW(gives), .needed = true},
    {.key = "denied", .kind = YAML_K_BOOL, .offset = ROW(denied)},
    {.key = "met", .kind = YAML_K_INT, .offset = ROW(met), .low = 0, .high = 1000000},
    {.key = "right", .kind = YAML_K_INT, .offset = ROW(right), .low = 0, .high = 1000000},
};

static const char *keep(struct cues *c, char *owned)
{
    c->text = mem_grow(c->text, &c->text_room, c->texts + 1, sizeof *c->text);
    c->text[c->texts++] = owned;
    return owned;
}

static size_t find_thing(const struct cues *c, const char *name)
{
    for (size_t i = 0; i < c->things; i++)
        if (!strcmp(c->thing[i], name))
            return i;
    return SIZE_MAX;
}

static size_t add_thing(struct cues *c, const char *name)
{
    c->thing = mem_grow(c->thing, &c->thing_room, c->things + 1, sizeof *c->thing);
    c->thing[c->things] = name;
    return c->things++;
}

/* False if it is no one to TERM_WORDS words. */
static bool add_term(struct cues *c, size_t thing, const char *words)
{
    struct term t = {.thing = thing};
    char word[SAID_LETTERS];
    for (size_t length; *words; words += length + (words[length] == ' ')) {
        length = strcspn(words, " ");
        if (!length || length >= SAID_LETTERS || t.words == TERM_WORDS)
            return false;
        snprintf(word, sizeof word, "%.*s", (int)length, words);
        stem_of(c, word, t.stem[t.words++]);
    }
    c->term = mem_grow(c->term, &c->term_room, c->terms + 1, sizeof *c->term);
    c->term[c->terms++] = t;
    return t.words > 0;
}

static bool read_concept(struct cues *c, const char *key, const struct yaml_node *list,
                         struct err *e)
{
    struct text name = {0};
    text_addf(&name, "@%s", key);
    size_t thing = add_thing(c, keep(c, mem_copy_text(text_cstr(&name))));
    text_release(&name);
    bool good = yaml_shape_of(list) == YAML_LIST && yaml_count(list) > 0;
    for (size_t i = 0; good && i < yaml_count(list); i++)
        good = yaml_text(yaml_item(list, i)) && add_term(c, thing, yaml_text(yaml_item(list, i)));
    if (!good)
        yaml_complain(list, e, "concept \"%s\" is no list of words, at most %d together", key,
                      TERM_WORDS);
    return good;
}

static bool read_map_of_words(const struct yaml_node *map, const char *key, struct err *e)
{
    bool good = yaml_shape_of(map) == YAML_MAP;
    for (size_t i = 0; good && i < yaml_count(map); i++)
        good = yaml_text(yaml_item(map, i)) && strlen(yaml_text(yaml_item(map, i))) < SAID_LETTERS;
    if (!good)
        yaml_complain(map, e, "%s is no map of words, such as {broken: break}", key);
    return good;
}

/* One of a row's words: a concept, or any other word, which then is a thing of its own. */
static bool read_word(struct cues *c, const struct yaml_node *node, size_t *thing, struct err *e)
{
    const char *word = yaml_text(node);
    *thing = word ? find_thing(c, word) : SIZE_MAX;
    if (word && *thing == SIZE_MAX && *word != '@' && *word && !strchr(word, ' ')) {
        *thing = add_thing(c, word);
        if (!add_term(c, *thing, word))
            *thing = SIZE_MAX;
    }
    if (*thing == SIZE_MAX)
        yaml_complain(node, e, "\"%.40s\" is neither a concept of the file nor a word",
                      word ? word : "");
    return *thing != SIZE_MAX;
}

static bool read_row(struct cues *c, const struct yaml_node *node, struct err *e)
{
    struct row_keys k = {0};
    struct row r = {0};
    if (!yaml_read_map(node, "cue", row_keys, sizeof row_keys / sizeof *row_keys, &k, e))
        return false;
    size_t words = yaml_shape_of(k.all) == YAML_LIST ? yaml_count(k.all) : 0;
    if (!words || words > CUE_WORDS || k.right > k.met || strchr(k.gives, '<')) {
        yaml_complain(
            node, e,
            "a cue has a list `all` of 1 to %d words, no slots, and is right no oftener than met",
            CUE_WORDS);
        return false;
    }
    struct text say = {0};
    bool good = phrases_check_gives(c->p, node, k.gives, e);
    for (size_t i = 0; i < words && good; i++) {
        good = read_word(c, yaml_item(k.all, i), &r.thing[r.things++], e);
        text_addf(&say, "%s%s", i ? " " : "", good ? yaml_text(yaml_item(k.all, i)) : "");
    }
    double sure = (k.right + CUE_WEIGHT * CUE_GUESS) / (k.met + CUE_WEIGHT);
    r.cue = (struct cue){
        keep(c, mem_copy_text(text_cstr(&say))),   k.gives, k.denied, k.met, k.right, sure,
        sure >= (words == 1 ? CUE_LONE : CUE_SURE)};
    text_release(&say);
    c->row = mem_grow(c->row, &c->row_room, c->rows + 1, sizeof *c->row);
    c->row[c->rows++] = r;
    return good;
}

static int by_first_stem(const void *a, const void *b)
{
    return strcmp(((const struct term *)a)->stem[0], ((const struct term *)b)->stem[0]);
}

static bool read_cues(struct cues *c, struct err *e)
{
    struct top t = {0};
    if (!yaml_read_map(yaml_root(c->tree), "cue table", top_keys,
                       sizeof top_keys / sizeof *top_keys, &t, e))
        return false;
    bool good = (!t.endings || read_map_of_words(t.endings, "endings", e)) &&
                (!t.forms || read_map_of_words(t.forms, "forms", e)) &&
                yaml_shape_of(t.concepts) == YAML_MAP && yaml_shape_of(t.cues) == YAML_LIST;
    if (!good && !e->count)
        yaml_complain(yaml_root(c->tree), e, "concepts is no map, or cues no list");
    if (!good)
        return false;
    c->endings = t.endings, c->forms = t.forms;
    for (size_t i = 0; i < yaml_count(t.concepts); i++)
        good = read_concept(c, yaml_key_text(t.concepts, i), yaml_item(t.concepts, i), e) && good;
    for (size_t i = 0; i < yaml_count(t.cues); i++)
        good = read_row(c, yaml_item(t.cues, i), e) && good;
    if (c->terms)
        qsort(c->term, c->terms, sizeof *c->term, by_first_stem);
    return good;
}

struct cues *cues_load(const struct phrases *p, const char *path, struct err *e)
{
    struct yaml_tree *tree = yaml_load(path, e);
    if (!tree)
        return NULL;
    struct cues *c = mem_alloc(sizeof *c);
    c->p = p;
    c->tree = tree;
    if (read_cues(c, e))
        return c;
    cues_free(c);
    return NULL;
}

void cues_free(struct cues *c)
{
    if (!c)
        return;
    for (size_t i = 0; i < c->texts; i++)
        mem_free(c->text[i]);
    mem_free(c->text);
    mem_free(c->thing);
    mem_free(c->term);
    mem_free(c->row);
    yaml_free(c->tree);
    mem_free(c);
}

size_t cues_count(const struct cues *c)
{
    return c->rows;
}

const struct cue *cues_at(const struct cues *c, size_t i)
{
    return &c->row[i].cue;
}

/* The first term that begins with the stem, or the number of terms. */
static size_t first_term(const struct cues *c, const char *stem)
{
    size_t low = 0, high = c->terms;
    while (low < high) {
        size_t mid = (low + high) / 2;
        if (strcmp(c->term[mid].stem[0], stem) < 0)
            low = mid + 1;
        else
            high = mid;
    }
    return low < c->terms && !strcmp(c->term[low].stem[0], stem) ? low : c->terms;
}

bool cues_know(const struct cues *c, const char *word)
{
    char stem[SAID_LETTERS];
    stem_of(c, word, stem);
    return first_term(c, stem) < c->terms;
}

/* ---- one clause ---- */

struct spot {
    size_t at, end;
};
struct clause {
    const struct cues *c;
    const struct said *s;
    const bool *used;
    size_t from, to;
    char stem[CLAUSE_WORDS][SAID_LETTERS];
    struct spot (*spot)[PLACES_HERE]; /* by thing */
    unsigned char *spots;
    bool negated; /* there is a negator */
};

static void put_spot(struct clause *l, size_t thing, size_t at, size_t end)
{
    if (l->spots[thing] < PLACES_HERE)
        l->spot[thing][l->spots[thing]++] = (struct spot){at, end};
}

static bool term_fits(const struct clause *l, const struct term *t, size_t at)
{
    if (at + t->words > l->to)
        return false;
    for (size_t i = 0; i < t->words; i++)
        if (strcmp(l->stem[at + i - l->from], t->stem[i]) != 0)
            return false;
    return true;
}

static void find_spots(struct clause *l)
{
    const struct cues *c = l->c;
    for (size_t at = l->from; at < l->to; at++)
        stem_of(c, l->s->word[at].text, l->stem[at - l->from]);
    for (size_t at = l->from; at < l->to; at++) {
        const char *stem = l->stem[at - l->from];
        l->negated = l->negated || phrases_negates(c->p, &l->s->word[at]);
        for (size_t i = first_term(c, stem); i < c->terms && !strcmp(c->term[i].stem[0], stem); i++)
            if (term_fits(l, &c->term[i], at))
                put_spot(l, c->term[i].thing, at, at + c->term[i].words);
    }
}

struct placed {
    struct spot spot[CUE_WORDS];
    size_t first, end;
};

static bool is_within(const struct placed *p, size_t n, size_t word)
{
    for (size_t i = 0; i < n; i++)
        if (word >= p->spot[i].at && word < p->spot[i].end)
            return true;
    return false;
}

/* Negators: for a plain row none in the clause but its own, for a denied one shortly before it or among it. */
static bool denial_fits(const struct clause *l, const struct row *r, const struct placed *p)
{
    bool before = false;
    for (size_t i = l->from; l->negated && i < l->to; i++) {
        if (!phrases_negates(l->c->p, &l->s->word[i]) || is_within(p, r->things, i))
            continue;
        if (!r->cue.denied)
            return false;
        before = before || (i < p->end && i + DENIAL_WORDS >= p->first);
    }
    return before == r->cue.denied;
}

static bool tells_news(const struct clause *l, const struct row *r, const struct placed *p)
{
    for (size_t i = 0; i < r->things; i++)
        for (size_t k = p->spot[i].at; k < p->spot[i].end; k++) {
            const struct said_word *w = &l->s->word[k];
            if (!l->used[k] && !w->spent && !phrases_filler(l->c->p, w) &&
                !phrases_noun(l->c->p, w))
                return true;
        }
    return false;
}

static bool is_plain(const struct clause *l, const struct placed *p)
{
    for (size_t i = p->first; i < p->end; i++) /* "the fan may be slipping" */
        if (phrases_stands(l->c->p, l->s, i, l->s->count) != STANDING_PLAIN)
            return false;
    return phrases_standing(l->c->p, l->s, p->first, p->end) == STANDING_PLAIN;
}

static bool holds(const struct clause *l, const struct row *r, struct placed *p)
{
    p->first = SIZE_MAX, p->end = 0;
    for (size_t i = 0; i < r->things; i++) {
        p->first = p->spot[i].at < p->first ? p->spot[i].at : p->first;
        p->end = p->spot[i].end > p->end ? p->spot[i].end : p->end;
    }
    return p->end - p->first <= CUE_SPAN && denial_fits(l, r, p) && tells_news(l, r, p) &&
           is_plain(l, p);
}

/* The row's words from number `i` on, none on another. */
static bool place_row(const struct clause *l, const struct row *r, size_t i, struct placed *p)
{
    if (i == r->things)
        return holds(l, r, p);
    for (size_t k = 0; k < l->spots[r->thing[i]]; k++) {
        struct spot at = l->spot[r->thing[i]][k];
        bool free = true;
        for (size_t j = 0; j < i && free; j++)
            free = at.end <= p->spot[j].at || p->spot[j].end <= at.at;
        p->spot[i] = at;
        if (free && place_row(l, r, i + 1, p))
            return true;
    }
    return false;
}

static bool all_there(const struct clause *l, const struct row *r)
{
    for (size_t i = 0; i < r->things; i++)
        if (!l->spots[r->thing[i]])
            return false;
    return true;
}

/* Keeps the surest first; of equal ones those with more words, then the first of the file. */
static size_t put_match(const struct cues *c, struct cue_match *into, size_t count,
                        struct cue_match m)
{
    size_t at = count;
    const struct row *r = &c->row[m.row];
    while (at > 0) {
        const struct row *o = &c->row[into[at - 1].row];
        if (o->cue.sure > r->cue.sure || (o->cue.sure >= r->cue.sure && o->things >= r->things))
            break;
        at--;
    }
    if (at == CUE_MATCHES)
        return count;
    if (count == CUE_MATCHES)
        count--;
    memmove(&into[at + 1], &into[at], (count - at) * sizeof *into);
    into[at] = m;
    return count + 1;
}

size_t cues_match(const struct cues *c, const struct said *s, const bool *used, size_t from,
                  size_t to, struct cue_match into[CUE_MATCHES])
{
    struct clause *l = mem_alloc(sizeof *l);
    size_t count = 0;
    *l = (struct clause){.c = c, .s = s, .used = used, .from = from};
    l->to = to - from < CLAUSE_WORDS ? to : from + CLAUSE_WORDS;
    l->spot = mem_alloc(c->things * sizeof *l->spot);
    l->spots = mem_alloc(c->things);
    find_spots(l);
    for (size_t i = 0; i < c->rows; i++) {
        struct placed p;
        if (all_there(l, &c->row[i]) && place_row(l, &c->row[i], 0, &p))
            count = put_match(c, into, count, (struct cue_match){i, p.first, p.end});
    }
    mem_free(l->spot);
    mem_free(l->spots);
    mem_free(l);
    return count;
}
