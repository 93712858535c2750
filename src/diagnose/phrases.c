#include "diagnose/phrases_priv.h"

#include <string.h>

#include "diagnose/sheet.h"
#include "mem.h"

static bool starts(const char *s, const char *with)
{
    return !strncmp(s, with, strlen(with));
}

static bool is_fact(const char *part)
{
    static const char *const facts[] = {"had ",       "not-had ",    "seen ",  "not-seen ",
                                        "asked-had ", "asked-seen ", "clock ", "hint ",
                                        "oil ",       "hands ",      "since ", "did "};
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
    if (!strcmp(part, "nothing")) {
        g->kind = GIVE_NOTHING;
    } else if (!strcmp(part, "time onward")) {
        g->kind = GIVE_ONWARD;
    } else if (starts(part, "time ")) {
        g->kind = GIVE_TIME;
        snprintf(g->line, sizeof g->line, "%s s.", part + 5);
    } else if (starts(part, "same ")) {
        g->kind = GIVE_SAME;
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

bool phrases_check_gives(const struct phrases *p, const struct yaml_node *node, const char *gives,
                         struct err *e)
{
    struct text sample = {0};
    struct give g;
    bool good = true;
    size_t at = 0, parts = 0;
    phrases_fill(gives, NULL, &sample);
    for (; good && phrases_give(text_cstr(&sample), &at, &g); parts++) {
        struct sheet s;
        struct err problems = {0};
        sheet_init(&s, p->words);
        if (g.kind != GIVE_NOTHING && g.kind != GIVE_ONWARD &&
            !sheet_parse_shorthand(&s, g.line, strlen(g.line), &problems)) {
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

/* Every slot that is given must be filled by every pattern. */
static bool check_slots(const char *gives, const struct patterns *patterns,
                        const struct yaml_node *node, struct err *e)
{
    for (int slot = 0; slot < SLOTS; slot++)
        for (size_t i = 0; phrases_gives_slot(gives, (enum slot)slot) && i < patterns->count; i++)
            if (pattern_can_avoid(&patterns->at[i], slot)) {
                yaml_complain(node, e,
                              "gives \"%.100s\" holds %s, which not every pattern of say "
                              "fills",
                              gives, phrase_slots[slot].name);
                return false;
            }
    return true;
}

/* ... and of a clause by one of its patterns at least. */
static bool check_clause_slots(const struct clause_row *row, const struct yaml_node *node,
                               struct err *e)
{
    for (int slot = 0; slot < SLOTS; slot++) {
        bool filled = !phrases_gives_slot(row->gives, (enum slot)slot);
        for (size_t i = 0; i < row->all.count; i++)
            filled = filled || !pattern_can_avoid(&row->all.at[i], slot);
        if (!filled) {
            yaml_complain(node, e, "gives \"%.100s\" holds %s, which no pattern of all fills",
                          row->gives, phrase_slots[slot].name);
            return false;
        }
    }
    return true;
}

/* ---- loading ---- */

struct top {
    const char *language, *cues;
    const struct yaml_node *numbers, *filler, *negators, *joiners, *nouns, *units, *repeats,
        *classes, *times, *phrases, *skips, *turns, *contrasts, *against, *narrows, *enders, *alike, *ordinary, *unreal, *coming, *former,
        *doubtful, *repairs, *company, *telling, *ended, *superseded, *pasts, *contraries, *genitives,
        *shortened, *asks, *yeses, *noes, *elsewhere, *wonders, *endings, *beliefs, *anew, *nors, *binders, *listers, *hourwords, *hourmarks,
        *signs, *pairs, *clauses;
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
    {.key = "cues", .kind = YAML_K_TEXT, .offset = TOP(cues)},
    {.key = "skips", .kind = YAML_K_NODE, .offset = TOP(skips)},
    {.key = "turns", .kind = YAML_K_NODE, .offset = TOP(turns)},
    {.key = "contrasts", .kind = YAML_K_NODE, .offset = TOP(contrasts)},
    {.key = "against", .kind = YAML_K_NODE, .offset = TOP(against)},
    {.key = "enders", .kind = YAML_K_NODE, .offset = TOP(enders)},
    {.key = "narrows", .kind = YAML_K_NODE, .offset = TOP(narrows)},
    {.key = "alike", .kind = YAML_K_NODE, .offset = TOP(alike)},
    {.key = "ordinary", .kind = YAML_K_NODE, .offset = TOP(ordinary)},
    {.key = "unreal", .kind = YAML_K_NODE, .offset = TOP(unreal)},
    {.key = "coming", .kind = YAML_K_NODE, .offset = TOP(coming)},
    {.key = "former", .kind = YAML_K_NODE, .offset = TOP(former)},
    {.key = "doubtful", .kind = YAML_K_NODE, .offset = TOP(doubtful)},
    {.key = "repairs", .kind = YAML_K_NODE, .offset = TOP(repairs)},
    {.key = "company", .kind = YAML_K_NODE, .offset = TOP(company)},
    {.key = "ended", .kind = YAML_K_NODE, .offset = TOP(ended)},
    {.key = "superseded", .kind = YAML_K_NODE, .offset = TOP(superseded)},
    {.key = "contraries", .kind = YAML_K_NODE, .offset = TOP(contraries)},
    {.key = "genitives", .kind = YAML_K_NODE, .offset = TOP(genitives)},
    {.key = "shortened", .kind = YAML_K_NODE, .offset = TOP(shortened)},
    {.key = "asks", .kind = YAML_K_NODE, .offset = TOP(asks)},
    {.key = "yeses", .kind = YAML_K_NODE, .offset = TOP(yeses)},
    {.key = "noes", .kind = YAML_K_NODE, .offset = TOP(noes)},
    {.key = "elsewhere", .kind = YAML_K_NODE, .offset = TOP(elsewhere)},
    {.key = "wonders", .kind = YAML_K_NODE, .offset = TOP(wonders)},
    {.key = "pasts", .kind = YAML_K_NODE, .offset = TOP(pasts)},
    {.key = "telling", .kind = YAML_K_NODE, .offset = TOP(telling)},
    {.key = "endings", .kind = YAML_K_NODE, .offset = TOP(endings)},
    {.key = "beliefs", .kind = YAML_K_NODE, .offset = TOP(beliefs)},
    {.key = "anew", .kind = YAML_K_NODE, .offset = TOP(anew)},
    {.key = "nors", .kind = YAML_K_NODE, .offset = TOP(nors)},
    {.key = "binders", .kind = YAML_K_NODE, .offset = TOP(binders)},
    {.key = "hourwords", .kind = YAML_K_NODE, .offset = TOP(hourwords)},
    {.key = "listers", .kind = YAML_K_NODE, .offset = TOP(listers)},
    {.key = "hourmarks", .kind = YAML_K_NODE, .offset = TOP(hourmarks)},
    {.key = "signs", .kind = YAML_K_NODE, .offset = TOP(signs)},
    {.key = "pairs", .kind = YAML_K_NODE, .offset = TOP(pairs)},
    {.key = "clauses", .kind = YAML_K_NODE, .offset = TOP(clauses)},
};

#define LIST(member)                                                                               \
    {                                                                                              \
#member, TOP(member), offsetof(struct phrases, member)                                     \
    }
const struct phrase_list phrase_word_lists[PHRASE_WORD_LISTS] = {
    LIST(filler),    LIST(negators), LIST(joiners),    LIST(nouns),     LIST(units),
    LIST(skips),     LIST(turns),    LIST(contrasts),    LIST(ordinary),   LIST(hourmarks), LIST(beliefs),
    LIST(anew),      LIST(nors),     LIST(genitives),  LIST(binders),   LIST(listers),
    LIST(hourwords), LIST(pasts),    LIST(contraries), LIST(shortened),
    LIST(asks),      LIST(yeses),    LIST(noes),
    LIST(against),   LIST(enders),
};
const struct phrase_list phrase_pattern_lists[PHRASE_PATTERN_LISTS] = {
    LIST(coming), LIST(unreal),  LIST(former),  LIST(doubtful),
    LIST(ended),  LIST(repairs), LIST(company), LIST(telling),
    LIST(superseded), LIST(elsewhere), LIST(wonders),
};
#undef LIST
#undef TOP

const struct yaml_node **phrases_word_list(struct phrases *p, size_t i)
{
    return (const struct yaml_node **)((char *)p + phrase_word_lists[i].table);
}

struct patterns *phrases_pattern_list(struct phrases *p, size_t i)
{
    return (struct patterns *)((char *)p + phrase_pattern_lists[i].table);
}

/* True if the scalar is one word as said_split makes them; a * may stand at its end. */
static bool plain_word(const struct yaml_node *n, bool star)
{
    const char *s = yaml_text(n);
    if (!s || !*s || strlen(s) >= SAID_LETTERS)
        return false;
    size_t length = pattern_word_length(s);
    return length && (!s[length] || (star && s[length] == '*' && !s[length + 1]));
}

static bool read_word_list(const struct yaml_node *list, const char *key, struct err *e)
{
    if (yaml_shape_of(list) != YAML_LIST) {
        yaml_complain(list, e, "%s is no list of words", key);
        return false;
    }
    for (size_t i = 0; i < yaml_count(list); i++)
        if (!plain_word(yaml_item(list, i), false)) {
            yaml_complain(yaml_item(list, i), e,
                          "%s holds \"%.60s\"; expected single words of small letters, without "
                          "apostrophes",
                          key,
                          yaml_text(yaml_item(list, i)) ? yaml_text(yaml_item(list, i)) : "a map");
            return false;
        }
    return true;
}

/* Plain words with one blank between each; a * may stand at the end of a single one. */
static bool plain_words(const struct yaml_node *n)
{
    const char *s = yaml_text(n);
    if (plain_word(n, true))
        return true;
    for (size_t length; s && (length = pattern_word_length(s)) > 0; s += length + 1) {
        if (length >= SAID_LETTERS)
            return false;
        if (!s[length])
            return true;
        if (s[length] != ' ')
            return false;
    }
    return false;
}

/* The words with those that are `alike` replaced. */
static const char *respelled(struct phrases *p, const char *words)
{
    struct text out = {0};
    for (size_t length; *words; words += length + (words[length] == ' ')) {
        char word[SAID_LETTERS + 1];
        length = strcspn(words, " ");
        snprintf(word, sizeof word, "%.*s", (int)length, words);
        const char *as = phrases_alike(p, word);
        text_addf(&out, "%s%s", out.length ? " " : "", as ? as : word);
    }
    const char *kept = phrases_keep(p, text_cstr(&out), out.length);
    text_release(&out);
    return kept;
}

static bool read_alike(struct phrases *p, const struct yaml_node *map, struct err *e)
{
    if (yaml_shape_of(map) != YAML_MAP) {
        yaml_complain(map, e, "alike is no map of words");
        return false;
    }
    for (size_t i = 0; i < yaml_count(map); i++) {
        if (!plain_words(yaml_item(map, i)) || strchr(yaml_text(yaml_item(map, i)), '*')) {
            yaml_complain(yaml_item(map, i), e, "alike: %s stands for no words of small letters",
                          yaml_key_text(map, i));
            return false;
        }
        p->alike = mem_grow(p->alike, &p->alike_room, p->alikes + 1, sizeof *p->alike);
        p->alike[p->alikes++] = (struct alike){yaml_key_text(map, i), yaml_text(yaml_item(map, i))};
    }
    return true;
}

static bool read_class(struct phrases *p, const char *name, const struct yaml_node *list,
                       struct err *e)
{
    if (yaml_shape_of(list) != YAML_LIST) {
        yaml_complain(list, e, "%s is no list of words", name);
        return false;
    }
    int which = phrases_add_class(p, name);
    for (size_t i = 0; i < yaml_count(list); i++) {
        if (!plain_words(yaml_item(list, i))) {
            yaml_complain(yaml_item(list, i), e,
                          "%s holds what is no row of words of small letters, without apostrophes",
                          name);
            return false;
        }
        word_class_add(&p->class[which], respelled(p, yaml_text(yaml_item(list, i))));
    }
    return true;
}

static bool read_classes(struct phrases *p, const struct yaml_node *map, struct err *e)
{
    if (yaml_shape_of(map) != YAML_MAP) {
        yaml_complain(map, e, "classes is no map of lists");
        return false;
    }
    bool good = true;
    for (size_t i = 0; i < yaml_count(map); i++)
        good = read_class(p, yaml_key_text(map, i), yaml_item(map, i), e) && good;
    return good;
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
        n->first = blank ? phrases_keep(p, key, (size_t)(blank - key)) : key;
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
    bool good = patterns_read(p, k.say, &row.patterns, e);
    for (size_t i = 0; i < row.patterns.count && good; i++) {
        const struct pattern *pattern = &row.patterns.at[i];
        if (holds_time(pattern) || (row.m_sign && pattern_can_avoid(pattern, SLOT_M))) {
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
    bool within, ends;
};
#define PHRASE_AT(member) offsetof(struct phrase_keys, member)
static const struct yaml_key phrase_keys[] = {
    {.key = "say", .kind = YAML_K_NODE, .offset = PHRASE_AT(say), .needed = true},
    {.key = "gives", .kind = YAML_K_TEXT, .offset = PHRASE_AT(gives), .needed = true},
    {.key = "within", .kind = YAML_K_BOOL, .offset = PHRASE_AT(within)},
    {.key = "ends", .kind = YAML_K_BOOL, .offset = PHRASE_AT(ends)},
};
#undef PHRASE_AT

static bool read_phrase(struct phrases *p, const struct yaml_node *node, struct err *e)
{
    struct phrase_keys k = {0};
    if (!yaml_read_map(node, "phrase", phrase_keys, sizeof phrase_keys / sizeof *phrase_keys, &k,
                       e))
        return false;
    struct phrase ph = {.gives = k.gives, .within = k.within, .ends = k.ends};
    ph.say = yaml_text(k.say)    ? yaml_text(k.say)
             : yaml_count(k.say) ? yaml_text(yaml_item(k.say, 0))
                                 : NULL;
    bool good = patterns_read(p, k.say, &ph.patterns, e);
    p->phrase = mem_grow(p->phrase, &p->phrase_room, p->phrases + 1, sizeof *p->phrase);
    p->phrase[p->phrases++] = ph;
    if (strlen(k.gives) > PHRASE_GIVES / 2) {
        yaml_complain(node, e, "gives is over %d bytes long", PHRASE_GIVES / 2);
        return false;
    }
    return good && ph.say && phrases_check_gives(p, node, k.gives, e) &&
           check_slots(k.gives, &ph.patterns, node, e);
}

struct pair_keys {
    const struct yaml_node *say;
    const char *gives;
    bool follows, whole;
};
#define PAIR_AT(member) offsetof(struct pair_keys, member)
static const struct yaml_key pair_keys[] = {
    {.key = "say", .kind = YAML_K_NODE, .offset = PAIR_AT(say), .needed = true},
    {.key = "gives", .kind = YAML_K_TEXT, .offset = PAIR_AT(gives), .needed = true},
    {.key = "follows", .kind = YAML_K_BOOL, .offset = PAIR_AT(follows)},
    {.key = "whole", .kind = YAML_K_BOOL, .offset = PAIR_AT(whole)},
};
#undef PAIR_AT

static bool read_pair(struct phrases *p, const struct yaml_node *node, struct err *e)
{
    struct pair_keys k = {0};
    if (!yaml_read_map(node, "pair", pair_keys, sizeof pair_keys / sizeof *pair_keys, &k, e))
        return false;
    struct pair_row row = {.gives = k.gives, .follows = k.follows, .whole = k.whole};
    row.say = yaml_text(k.say)    ? yaml_text(k.say)
              : yaml_count(k.say) ? yaml_text(yaml_item(k.say, 0))
                                  : NULL;
    bool good = patterns_read(p, k.say, &row.patterns, e);
    p->pair = mem_grow(p->pair, &p->pair_room, p->pairs + 1, sizeof *p->pair);
    p->pair[p->pairs++] = row;
    if (strlen(k.gives) > PHRASE_GIVES / 2) {
        yaml_complain(node, e, "gives is over %d bytes long", PHRASE_GIVES / 2);
        return false;
    }
    return good && row.say && phrases_check_gives(p, node, k.gives, e) &&
           check_slots(k.gives, &row.patterns, node, e);
}

struct clause_keys {
    const struct yaml_node *all, *but;
    const char *gives;
    bool wide;
};
#define CLAUSE_AT(member) offsetof(struct clause_keys, member)
static const struct yaml_key clause_keys[] = {
    {.key = "all", .kind = YAML_K_NODE, .offset = CLAUSE_AT(all), .needed = true},
    {.key = "but", .kind = YAML_K_NODE, .offset = CLAUSE_AT(but)},
    {.key = "gives", .kind = YAML_K_TEXT, .offset = CLAUSE_AT(gives), .needed = true},
    {.key = "wide", .kind = YAML_K_BOOL, .offset = CLAUSE_AT(wide)},
};
#undef CLAUSE_AT

/* "left & @weight & @no & @moves", for showing. */
static const char *say_clause(struct phrases *p, const struct yaml_node *all)
{
    struct text out = {0};
    for (size_t i = 0; i < yaml_count(all); i++)
        text_addf(&out, "%s%s", i ? " & " : "",
                  yaml_text(yaml_item(all, i)) ? yaml_text(yaml_item(all, i)) : "");
    const char *kept = phrases_keep(p, text_cstr(&out), out.length);
    text_release(&out);
    return kept;
}

static bool read_clause(struct phrases *p, const struct yaml_node *node, struct err *e)
{
    struct clause_keys k = {0};
    if (!yaml_read_map(node, "clause", clause_keys, sizeof clause_keys / sizeof *clause_keys, &k,
                       e))
        return false;
    struct clause_row row = {.gives = k.gives, .wide = k.wide};
    bool list = yaml_shape_of(k.all) == YAML_LIST;
    if (list)
        row.say = say_clause(p, k.all);
    bool good =
        patterns_read(p, k.all, &row.all, e) && (!k.but || patterns_read(p, k.but, &row.but, e));
    p->clause = mem_grow(p->clause, &p->clause_room, p->clauses + 1, sizeof *p->clause);
    p->clause[p->clauses++] = row;
    if (!list || !row.all.count || row.all.count > CLAUSE_PATTERNS) {
        yaml_complain(node, e, "all is no list of 1 to %d patterns", CLAUSE_PATTERNS);
        return false;
    }
    if (strlen(k.gives) > PHRASE_GIVES / 2) {
        yaml_complain(node, e, "gives is over %d bytes long", PHRASE_GIVES / 2);
        return false;
    }
    return good && phrases_check_gives(p, node, k.gives, e) && check_clause_slots(&row, node, e);
}

/* Signs are short rows of marks; what they stand for is one word. */
static bool check_signs(const struct yaml_node *map, struct err *e)
{
    if (yaml_shape_of(map) != YAML_MAP) {
        yaml_complain(map, e, "signs is no map of marks and words");
        return false;
    }
    for (size_t i = 0; i < yaml_count(map); i++)
        if (!plain_word(yaml_item(map, i), false)) {
            yaml_complain(yaml_item(map, i), e, "signs: %.20s stands for no word of small letters",
                          yaml_key_text(map, i));
            return false;
        }
    return true;
}

/* Endings are letters, and lists of what stood in their place. */
static bool check_endings(const struct yaml_node *map, struct err *e)
{
    bool good = yaml_shape_of(map) == YAML_MAP;
    for (size_t i = 0; good && i < yaml_count(map); i++) {
        const struct yaml_node *stems = yaml_item(map, i);
        good = yaml_shape_of(stems) == YAML_LIST && yaml_count(stems);
        for (size_t k = 0; good && k < yaml_count(stems); k++)
            good = yaml_text(yaml_item(stems, k)) && strlen(yaml_text(yaml_item(stems, k))) < 8;
    }
    if (!good)
        yaml_complain(map, e, "endings is no map of endings and lists of what stands without them");
    return good;
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

static const struct yaml_node *listed_in(const struct top *t, const struct phrase_list *l)
{
    return *(const struct yaml_node *const *)((const char *)t + l->top);
}

static bool take_word_lists(struct phrases *p, const struct top *t, struct err *e)
{
    bool good = true;
    for (size_t i = 0; i < PHRASE_WORD_LISTS; i++) {
        const struct yaml_node *list = listed_in(t, &phrase_word_lists[i]);
        good = (!list || read_word_list(list, phrase_word_lists[i].key, e)) && good;
        *phrases_word_list(p, i) = list;
    }
    return good;
}

/* A map of words to words. */
static bool read_narrows(struct phrases *p, const struct yaml_node *map, struct err *e)
{
    bool good = yaml_shape_of(map) == YAML_MAP;
    for (size_t i = 0; good && i < yaml_count(map); i++)
        good = yaml_text(yaml_item(map, i)) != NULL;
    if (!good)
        yaml_complain(map, e, "narrows is no map of values of hints, such as {cuckoo: wall}");
    p->narrows = map;
    return good;
}

bool phrases_narrow(const struct phrases *p, const char *value, const char *wider)
{
    const struct yaml_node *known = p->narrows ? yaml_get(p->narrows, value) : NULL;
    return known && !strcmp(yaml_text(known), wider);
}

static bool read_pattern_lists(struct phrases *p, const struct top *t, struct err *e)
{
    bool good = true;
    for (size_t i = 0; i < PHRASE_PATTERN_LISTS; i++) {
        const struct yaml_node *list = listed_in(t, &phrase_pattern_lists[i]);
        good = (!list || patterns_read(p, list, phrases_pattern_list(p, i), e)) && good;
    }
    return good;
}

static bool read_table(struct phrases *p, struct err *e)
{
    struct top t = {0};
    if (!yaml_read_map(yaml_root(p->tree), "phrase table", top_keys,
                       sizeof top_keys / sizeof *top_keys, &t, e))
        return false;
    p->language = t.language;
    p->signs = t.signs;
    p->endings = t.endings;
    p->cues_file = t.cues;
    return (!t.signs || check_signs(t.signs, e)) && (!t.endings || check_endings(t.endings, e)) &&
           (!t.alike || read_alike(p, t.alike, e)) &&
           (!t.narrows || read_narrows(p, t.narrows, e)) && take_word_lists(p, &t, e) &&
           read_classes(p, t.classes, e) && read_numbers(p, t.numbers, false, e) &&
           read_numbers(p, t.repeats, true, e) && read_pattern_lists(p, &t, e) &&
           read_rows(p, t.times, "times", read_time, e) &&
           read_rows(p, t.phrases, "phrases", read_phrase, e) &&
           (!t.pairs || read_rows(p, t.pairs, "pairs", read_pair, e)) &&
           (!t.clauses || read_rows(p, t.clauses, "clauses", read_clause, e));
}

static struct phrases *read_phrases(struct yaml_tree *tree, const struct words *words,
                                    struct err *e)
{
    if (!tree)
        return NULL;
    struct phrases *p = mem_alloc(sizeof *p);
    p->tree = tree;
    p->words = words;
    if (read_table(p, e)) {
        phrases_learn(p);
        return p;
    }
    phrases_free(p);
    return NULL;
}

bool phrases_take_cues(struct phrases *p, const char *path, struct err *e)
{
    cues_free(p->cues);
    p->cues = cues_load(p, path, e);
    return p->cues != NULL;
}

/* The file of cues stands beside that of the phrases. */
static bool load_cues(struct phrases *p, const char *path, struct err *e)
{
    const char *slash = strrchr(path, '/');
    struct text beside = {0};
    text_add_bytes(&beside, path, slash ? (size_t)(slash + 1 - path) : 0);
    text_add(&beside, p->cues_file);
    bool good = phrases_take_cues(p, text_cstr(&beside), e);
    text_release(&beside);
    return good;
}

struct phrases *phrases_load(const char *path, const struct words *words, struct err *e)
{
    struct phrases *p = read_phrases(yaml_load(path, e), words, e);
    if (!p || !p->cues_file || load_cues(p, path, e))
        return p;
    phrases_free(p);
    return NULL;
}

struct phrases *phrases_parse(const char *name, const char *text, size_t length,
                              const struct words *words, struct err *e)
{
    return read_phrases(yaml_parse(name, text, length, e), words, e);
}

void phrases_free(struct phrases *p)
{
    if (!p)
        return;
    cues_free(p->cues);
    for (size_t i = 0; i < p->classes; i++)
        mem_free(p->class[i].word);
    for (size_t i = 0; i < p->times; i++)
        patterns_release(&p->time[i].patterns);
    for (size_t i = 0; i < p->phrases; i++)
        patterns_release(&p->phrase[i].patterns);
    for (size_t i = 0; i < PHRASE_PATTERN_LISTS; i++)
        patterns_release(phrases_pattern_list(p, i));
    for (size_t i = 0; i < p->pairs; i++)
        patterns_release(&p->pair[i].patterns);
    for (size_t i = 0; i < p->clauses; i++) {
        patterns_release(&p->clause[i].all);
        patterns_release(&p->clause[i].but);
    }
    for (size_t i = 0; i < p->string_count; i++)
        mem_free(p->strings[i]);
    mem_free(p->pair);
    mem_free(p->clause);
    mem_free(p->class);
    mem_free(p->time);
    mem_free(p->phrase);
    mem_free(p->number);
    mem_free(p->alike);
    mem_free(p->known);
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

const struct cues *phrases_cues(const struct phrases *p)
{
    return p->cues;
}

size_t phrases_count(const struct phrases *p)
{
    return p->phrases;
}
