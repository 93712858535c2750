/* fuzz_yaml.c - any bytes as a data file: parsed, walked, and read through a table of every kind.
 */
#include "fuzz_target.h"

#include <string.h>

#include "err.h"
#include "text.h"
#include "yaml_map.h"

enum { ROOM = 4 };

struct everything {
    const char *text, *id;
    int whole, word;
    double real;
    bool flag;
    int wholes[ROOM];
    double reals[ROOM];
    const char *texts[ROOM];
    size_t whole_count, real_count, text_count;
    const struct yaml_node *node;
};
#define MEMBER(m) offsetof(struct everything, m)

static const struct yaml_word words[] = {{"weight", 1}, {"spring", 2}, {NULL, 0}};
static const struct yaml_key keys[] = {
    {"name", YAML_K_TEXT, MEMBER(text)},
    {"id", YAML_K_ID, MEMBER(id), .needed = true},
    {"strike", YAML_K_INT, MEMBER(whole), .low = 0, .high = 24},
    {"power", YAML_K_WORD, MEMBER(word), .words = words},
    {"minutes", YAML_K_REAL, MEMBER(real), .low = 0, .high = 60},
    {"half", YAML_K_BOOL, MEMBER(flag)},
    {"teeth", YAML_K_INTS, MEMBER(wholes), .room = ROOM, .count_offset = MEMBER(whole_count)},
    {"ratio", YAML_K_REALS, MEMBER(reals), .room = ROOM, .count_offset = MEMBER(real_count)},
    {"seen", YAML_K_TEXTS, MEMBER(texts), .room = ROOM, .count_offset = MEMBER(text_count)},
    {"heard", YAML_K_NODE, MEMBER(node)},
};

static void read_map(const struct yaml_node *map, struct err *e)
{
    struct everything v = {0};
    size_t before = e->count;
    bool good = yaml_read_map(map, "thing", keys, sizeof keys / sizeof keys[0], &v, e);
    FUZZ_MUST(!good || e->count == before);
    FUZZ_MUST(v.whole_count <= ROOM && v.real_count <= ROOM && v.text_count <= ROOM);
    FUZZ_MUST(v.whole >= 0 && v.whole <= 24 && v.real >= 0 && v.real <= 60);
}

/* Goes through the whole tree; depth is limited by the reader. */
static void walk(const struct yaml_node *n, struct err *e)
{
    FUZZ_MUST(yaml_line(n) >= 1 && yaml_column(n) >= 1);
    FUZZ_MUST((yaml_shape_of(n) == YAML_SCALAR) == (yaml_text(n) != NULL));
    if (yaml_shape_of(n) == YAML_MAP)
        read_map(n, e);
    for (size_t i = 0; i < yaml_count(n); i++) {
        if (yaml_key_node(n, i))
            walk(yaml_key_node(n, i), e);
        walk(yaml_item(n, i), e);
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct err e = {0};
    struct yaml_tree *tree = yaml_parse("fuzz", (const char *)data, size, &e);
    FUZZ_MUST(tree || e.count);
    if (tree)
        walk(yaml_root(tree), &e);
    for (size_t i = 0; i < e.count && i < ERR_MOST; i++) {
        FUZZ_MUST(!strchr(e.line[i], '\n'));
        FUZZ_MUST(text_is_utf8(e.line[i], strlen(e.line[i]), NULL));
    }
    yaml_free(tree);
    err_release(&e);
    return 0;
}
