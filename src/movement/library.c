/* library.c - reading goes in rounds over all files, because rows name each other:
 *
 *   1. every file is parsed and every row of its lists is entered under its id;
 *   2. tunes are read, then clocks (a row `like` another is laid over a copy of it, so the model
 *      is made first), then what is said of classes, faults and cures;
 *   3. what names something else is looked up: cures of faults.
 *
 * Rows are entered with the layer they came from.  Two rows of one id in the same layer are a
 * mistake; in a later layer (the user's folder, an added file) the new one replaces the old.
 */
#include "movement/library.h"

#include <dirent.h>
#include <errno.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>

#include "crew.h"
#include "mem.h"
#include "movement/clock_file.h"
#include "movement/fault_file.h"
#include "movement/tune_file.h"
#include "place.h"
#include "text.h"
#include "yaml_map.h"

enum kind { KIND_TUNE, KIND_CLOCK, KIND_CLASS, KIND_FAULT, KIND_CURE, KINDS }; /* in the order they are made */
static const char *const kind_key[KINDS] = {"tunes", "clocks", "class_tilts", "faults", "cures"};
static const char *const kind_what[KINDS] = {"tune", "clock", "class", "fault", "cure"};

enum state { UNREAD, READING, READY, BROKEN };

/* One row of a data file and what was made of it. */
struct entry {
    enum kind kind;
    const char *id;
    const struct yaml_node *row;
    int layer;
    int depth; /* of rows that this one is like */
    enum state state;
    union {
        struct tune tune;
        struct clock_draft draft; /* draft.clock is handed out */
        struct fault_class class;
        struct fault fault;
        struct cure cure;
    } as;
};

struct entries {
    struct entry **at; /* each allocated alone: pointers handed out stay good */
    size_t count, room;
};

struct library {
    struct entries all;       /* every row ever entered */
    struct entries in[KINDS]; /* what is in force, in the order of reading */
    struct yaml_tree **tree;
    size_t trees, tree_room;
    char *folder;
    uint64_t stamp;
    int layer;
    int depth; /* rows being made at once, each the model of the one before */
};
#define DEPTH_MOST 8
#define FILE_MOST  (4u << 20) /* as yaml_map.h takes */

/* ---- entries ---- */

static void entries_add(struct entries *list, struct entry *x)
{
    list->at = mem_grow(list->at, &list->room, list->count + 1, sizeof *list->at);
    list->at[list->count++] = x;
}

static struct entry *entries_find(const struct entries *list, const char *id)
{
    for (size_t i = 0; id && i < list->count; i++)
        if (!strcmp(list->at[i]->id, id))
            return list->at[i];
    return NULL;
}

static bool put_in_force(struct library *lib, struct entry *x, struct err *e)
{
    struct entries *list = &lib->in[x->kind];
    for (size_t i = 0; i < list->count; i++) {
        struct entry *old = list->at[i];
        if (strcmp(old->id, x->id))
            continue;
        if (old->layer == x->layer) {
            yaml_complain(x->row, e, "the %s \"%s\" is already given in %s, line %zu.",
                          kind_what[x->kind], x->id, yaml_file(old->row), yaml_line(old->row));
            return false;
        }
        list->at[i] = x;
        return true;
    }
    entries_add(list, x);
    return true;
}

static bool enter_row(struct library *lib, enum kind kind, const struct yaml_node *row,
                      struct err *e)
{
    const struct yaml_node *id = yaml_shape_of(row) == YAML_MAP ? yaml_get(row, "id") : NULL;
    if (!id || yaml_shape_of(id) != YAML_SCALAR || !*yaml_text(id)) {
        yaml_complain(row, e, "a %s must be a map with the key \"id\".", kind_what[kind]);
        return false;
    }
    static const size_t size_of[KINDS] = {sizeof(struct tune), sizeof(struct clock_draft),
                                          sizeof(struct fault_class), sizeof(struct fault), sizeof(struct cure)};
    struct entry *x = mem_alloc(offsetof(struct entry, as) + size_of[kind]); /* a clock is large */
    x->kind = kind;
    x->id = yaml_text(id);
    x->row = row;
    x->layer = lib->layer;
    entries_add(&lib->all, x);
    return put_in_force(lib, x, e);
}

/* ---- files ---- */

bool library_knows(const struct yaml_node *root)
{
    if (yaml_shape_of(root) != YAML_MAP)
        return false;
    for (int k = 0; k < KINDS; k++)
        if (yaml_get(root, kind_key[k]))
            return true;
    return yaml_get(root, "wanted") != NULL;
}

static bool enter_list(struct library *lib, enum kind kind, const struct yaml_node *list,
                       struct err *e)
{
    if (yaml_shape_of(list) != YAML_LIST) {
        yaml_complain(list, e, "key \"%s\" wants a list of rows.", kind_key[kind]);
        return false;
    }
    bool good = true;
    for (size_t i = 0; i < yaml_count(list); i++)
        good = enter_row(lib, kind, yaml_item(list, i), e) && good;
    return good;
}

static bool check_wanted(const struct yaml_node *list, struct err *e)
{
    if (yaml_shape_of(list) != YAML_LIST) {
        yaml_complain(list, e, "key \"wanted\" wants a list of rows.");
        return false;
    }
    bool good = true;
    for (size_t i = 0; i < yaml_count(list); i++)
        good = tune_file_wanted(yaml_item(list, i), e) && good;
    return good;
}

static bool enter_key(struct library *lib, const struct yaml_node *root, size_t i, struct err *e)
{
    const char *key = yaml_key_text(root, i);
    for (int k = 0; k < KINDS; k++)
        if (!strcmp(key, kind_key[k]))
            return enter_list(lib, (enum kind)k, yaml_item(root, i), e);
    if (!strcmp(key, "wanted"))
        return check_wanted(yaml_item(root, i), e);
    const char *near = text_nearest(key, kind_key, KINDS);
    yaml_complain(
        yaml_key_node(root, i), e,
        "unknown key \"%.40s\"%s%s%s; a data file has clocks, tunes, wanted, class_tilts, faults or cures.",
        key,
        near ? "; did you mean \"" : "", near ? near : "", near ? "\"?" : "");
    return false;
}

#define FNV 1099511628211ull

/* FNV-1a, 64 bits, over the bytes of the file. */
static uint64_t stamp_of(const char *text, size_t length)
{
    uint64_t h = 14695981039346656037ull;
    for (size_t i = 0; i < length; i++)
        h = (h ^ (unsigned char)text[i]) * FNV;
    return h;
}

uint64_t library_stamp(const struct library *lib)
{
    return lib->stamp;
}

static bool key_of_ours(const char *line)
{
    for (int k = 0; k < KINDS; k++)
        if (!strncmp(line, kind_key[k], strlen(kind_key[k])))
            return true;
    return !strncmp(line, "wanted", strlen("wanted"));
}

/* The words and phrases of the call sheet stand in the same folder and are long: where every line that begins at
 * the margin begins with a plain word, and none with a key of ours, the file need not be parsed to be left alone. */
static bool may_be_ours(const char *text)
{
    bool any = false;
    for (const char *line = text; line; line = strchr(line, '\n')) {
        line += *line == '\n';
        bool passed_over = strchr(" #\r\n", *line) != NULL; /* the end of the text too */
        bool word = (*line >= 'a' && *line <= 'z') || (*line >= 'A' && *line <= 'Z');
        if ((!passed_over && !word) || (word && key_of_ours(line)))
            return true;
        any = any || word;
    }
    return !any;
}

/* A file on its way into the library. */
struct incoming {
    struct text path;
    char *text;
    size_t length;
    uint64_t stamp;
    struct yaml_tree *tree;
    bool must_be_ours, left_alone;
    struct err problems;
};

static void take_in(struct incoming *f)
{
    const char *path = text_cstr(&f->path);
    f->text = text_read_file(path, FILE_MOST, &f->length, &f->problems);
    if (!f->text)
        return;
    f->stamp = stamp_of(f->text, f->length);
    f->left_alone = !f->must_be_ours && !may_be_ours(f->text);
    if (!f->left_alone)
        f->tree = yaml_parse(strcmp(path, "-") ? path : "standard input", f->text, f->length, &f->problems);
}

/* What was taken in becomes the library's, or is given back. */
static bool enter_file(struct library *lib, struct incoming *f, struct err *e)
{
    err_move(e, &f->problems);
    if (f->tree || f->left_alone)
        lib->stamp = (lib->stamp ^ f->stamp) * FNV;
    mem_free(f->text);
    text_release(&f->path);
    if (!f->tree)
        return f->left_alone;
    const struct yaml_node *root = yaml_root(f->tree);
    lib->tree = mem_grow(lib->tree, &lib->tree_room, lib->trees + 1, sizeof *lib->tree);
    lib->tree[lib->trees++] = f->tree;
    if (!library_knows(root)) {
        if (f->must_be_ours)
            yaml_complain(root, e,
                          "this is no data file; a map with clocks, tunes, wanted, class_tilts, faults "
                          "or cures is expected.");
        return !f->must_be_ours;
    }
    bool good = !yaml_faulty(root);
    for (size_t i = 0; i < yaml_count(root); i++)
        good = enter_key(lib, root, i, e) && good;
    return good;
}

/* ---- making things of rows ---- */

static bool make_clock(struct library *lib, struct entry *x, struct err *e);

static bool make_tune(struct library *lib, struct entry *x, struct err *e);

/* The row that this one is like, made first; false with a sentence when there is none. */
static bool make_model(struct library *lib, struct entry *x, struct entry **model, struct err *e)
{
    const struct yaml_node *like = yaml_get(x->row, "like");
    *model = NULL;
    if (!like)
        return true;
    struct entry *m = entries_find(&lib->in[x->kind], yaml_text(like));
    if (m == x) { /* a user's row may replace the one it is like */
        m = NULL;
        for (size_t i = 0; i < lib->all.count; i++)
            if (lib->all.at[i] != x && lib->all.at[i]->kind == x->kind &&
                !strcmp(lib->all.at[i]->id, x->id))
                m = lib->all.at[i];
    }
    if (!m || m->state == READING) {
        yaml_complain(like, e,
                      m ? "\"%.40s\" is like itself, by a circle of rows."
                        : "\"%.40s\" is not the id of another row.",
                      yaml_text(like) ? yaml_text(like) : "a list");
        return false;
    }
    lib->depth++;
    bool shallow = lib->depth <= DEPTH_MOST,
         good = shallow && (x->kind == KIND_TUNE ? make_tune(lib, m, e) : make_clock(lib, m, e));
    lib->depth--;
    x->depth = m->depth + 1;
    if (!shallow ||
        (good && x->depth > DEPTH_MOST)) { /* whichever of them stands first in the file */
        yaml_complain(like, e, "the row is like a row that is like another, more than %d deep.",
                      DEPTH_MOST);
        return false;
    }
    *model = m;
    return good;
}

static bool settled(struct entry *x, bool good)
{
    x->state = good ? READY : BROKEN;
    return good;
}

static bool make_tune(struct library *lib, struct entry *x, struct err *e)
{
    struct entry *model;
    if (x->state != UNREAD)
        return x->state == READY;
    x->state = READING;
    if (!make_model(lib, x, &model, e))
        return settled(x, false);
    if (model)
        x->as.tune = model->as.tune;
    return settled(x, tune_file_read(x->row, &x->as.tune, e));
}

static const struct tune *find_tune(void *with, const char *id)
{
    struct entry *x = entries_find(&((struct library *)with)->in[KIND_TUNE], id);
    return x && x->state == READY ? &x->as.tune : NULL;
}

static bool make_clock(struct library *lib, struct entry *x, struct err *e)
{
    struct entry *model;
    if (x->state != UNREAD)
        return x->state == READY;
    x->state = READING;
    if (!make_model(lib, x, &model, e))
        return settled(x, false);
    if (model)
        x->as.draft = model->as.draft;
    else
        clock_file_start(&x->as.draft);
    return settled(x, clock_file_read(x->row, &x->as.draft, e) &&
                          clock_file_finish(&x->as.draft, find_tune, lib, e));
}

static bool make_fault(struct library *lib, struct entry *x, struct err *e)
{
    if (!fault_file_read(x->row, &x->as.fault, e))
        return settled(x, false);
    const struct entry *class = entries_find(&lib->in[KIND_CLASS], x->as.fault.class);
    if (class && class->state == READY)
        fault_tilt_by_class(&x->as.fault, &class->as.class);
    return settled(x, true);
}

static bool make(struct library *lib, struct entry *x, struct err *e)
{
    switch (x->kind) {
    case KIND_TUNE:
        return make_tune(lib, x, e);
    case KIND_CLOCK:
        return make_clock(lib, x, e);
    case KIND_CLASS:
        return settled(x, fault_file_class(x->row, &x->as.class, e));
    case KIND_FAULT:
        return make_fault(lib, x, e);
    case KIND_CURE:
    case KINDS:
        break;
    }
    return settled(x, fault_file_cure(x->row, &x->as.cure, e));
}

static bool cures_known(const struct library *lib, struct err *e)
{
    const struct entries *faults = &lib->in[KIND_FAULT];
    bool good = true;
    for (size_t i = 0; i < faults->count; i++) {
        const struct entry *x = faults->at[i];
        if (x->state != READY || entries_find(&lib->in[KIND_CURE], x->as.fault.cure))
            continue;
        yaml_complain(x->row, e, "fault \"%s\" names the cure \"%s\", which no file gives.", x->id,
                      x->as.fault.cure);
        good = false;
    }
    return good;
}

static bool make_all(struct library *lib, struct err *e)
{
    bool good = true;
    for (int k = 0; k < KINDS; k++)
        for (size_t i = 0; i < lib->in[k].count; i++)
            if (lib->in[k].at[i]->state == UNREAD)
                good = make(lib, lib->in[k].at[i], e) && good;
    return cures_known(lib, e) && good;
}

/* ---- folders ---- */

static int by_name(const void *a, const void *b)
{
    return strcmp(*(char *const *)a, *(char *const *)b);
}

static bool is_yaml(const char *name)
{
    size_t n = strlen(name);
    return n > 5 && name[0] != '.' && !strcmp(name + n - 5, ".yaml");
}

static void take_in_one(void *with, size_t i, size_t hand)
{
    (void)hand;
    take_in((struct incoming *)with + i);
}

/* Files are read side by side, and then entered one after another. */
static bool enter_folder(struct library *lib, const char *folder, struct err *e)
{
    DIR *dir = opendir(folder);
    char **name = NULL;
    size_t names = 0, room = 0;
    bool good = true;
    if (!dir) {
        err_add(e, "The folder %s cannot be opened: %s.", folder, strerror(errno));
        return false;
    }
    for (struct dirent *d; (d = readdir(dir));) {
        if (!is_yaml(d->d_name))
            continue;
        name = mem_grow(name, &room, names + 1, sizeof *name);
        name[names++] = mem_copy_text(d->d_name);
    }
    closedir(dir);
    if (names)
        qsort(name, names, sizeof *name, by_name);
    struct incoming *file = mem_alloc((names + 1) * sizeof *file);
    for (size_t i = 0; i < names; i++) {
        text_addf(&file[i].path, "%s/%s", folder, name[i]);
        mem_free(name[i]);
    }
    crew_run(names, crew_hands(), take_in_one, file);
    for (size_t i = 0; i < names; i++)
        good = enter_file(lib, &file[i], e) && good;
    mem_free(file);
    mem_free(name);
    return good;
}

/* A folder and its tunes, as one layer. */
static bool enter_layer(struct library *lib, const char *folder, struct err *e)
{
    struct text tunes = {0};
    text_addf(&tunes, "%s/tunes", folder);
    bool good = enter_folder(lib, folder, e);
    if (place_is_folder(text_cstr(&tunes)))
        good = enter_folder(lib, text_cstr(&tunes), e) && good;
    text_release(&tunes);
    lib->layer++;
    return good;
}

static bool enter_user(struct library *lib, struct err *e)
{
    struct text folder = {0};
    bool good = !place_user(PLACE_CHIMES, &folder) || enter_layer(lib, text_cstr(&folder), e);
    text_release(&folder);
    return good;
}

static bool enter_all(struct library *lib, bool with_user, struct err *e)
{
    bool good = enter_layer(lib, lib->folder, e);
    good = (!with_user || enter_user(lib, e)) && good;
    good = make_all(lib, e) && good;
    if (good && !lib->all.count) {
        err_add(e, "The folder %s holds no clock, tune or fault.", lib->folder);
        good = false;
    }
    return good;
}

struct library *library_load(const char *folder, struct err *e)
{
    struct text own = {0};
    if (folder) {
        text_add(&own, folder);
    } else if (!place_own(PLACE_CHIMES, &own)) {
        err_add(e, "No folder with clocks was found; looked for were %s.", text_cstr(&own));
        text_release(&own);
        return NULL;
    }
    struct library *lib = mem_alloc(sizeof *lib);
    lib->folder = mem_copy_text(text_cstr(&own));
    text_release(&own);
    if (enter_all(lib, folder == NULL, e))
        return lib;
    library_free(lib);
    return NULL;
}

/* ---- one more file ---- */

/* Lists as they were, so that a file that is refused leaves no trace. */
struct backup {
    struct entries in[KINDS];
};

static void backup_take(struct backup *b, const struct library *lib)
{
    for (int k = 0; k < KINDS; k++) {
        b->in[k] = (struct entries){0};
        for (size_t i = 0; i < lib->in[k].count; i++)
            entries_add(&b->in[k], lib->in[k].at[i]);
    }
}

static void backup_swap(struct backup *b, struct library *lib)
{
    for (int k = 0; k < KINDS; k++) {
        struct entries old = lib->in[k];
        lib->in[k] = b->in[k];
        b->in[k] = old;
    }
}

static void backup_release(struct backup *b)
{
    for (int k = 0; k < KINDS; k++)
        mem_free(b->in[k].at);
}

bool library_add(struct library *lib, const char *path, struct err *e)
{
    struct backup before;
    backup_take(&before, lib);
    struct incoming file = {.must_be_ours = true};
    text_add(&file.path, path);
    take_in(&file);
    bool good = enter_file(lib, &file, e);
    good = make_all(lib, e) && good;
    lib->layer++;
    if (!good)
        backup_swap(&before, lib);
    backup_release(&before);
    return good;
}

void library_free(struct library *lib)
{
    if (!lib)
        return;
    for (size_t i = 0; i < lib->all.count; i++)
        mem_free(lib->all.at[i]);
    mem_free(lib->all.at);
    for (int k = 0; k < KINDS; k++)
        mem_free(lib->in[k].at);
    for (size_t i = 0; i < lib->trees; i++)
        yaml_free(lib->tree[i]);
    mem_free(lib->tree);
    mem_free(lib->folder);
    mem_free(lib);
}

/* ---- looking ---- */

size_t library_clocks(const struct library *lib)
{
    return lib->in[KIND_CLOCK].count;
}

const struct clock *library_clock(const struct library *lib, size_t i)
{
    return &lib->in[KIND_CLOCK].at[i]->as.draft.clock;
}

const struct clock *library_find_clock(const struct library *lib, const char *id)
{
    struct entry *x = entries_find(&lib->in[KIND_CLOCK], id);
    return x ? &x->as.draft.clock : NULL;
}

size_t library_tunes(const struct library *lib)
{
    return lib->in[KIND_TUNE].count;
}

const struct tune *library_tune(const struct library *lib, size_t i)
{
    return &lib->in[KIND_TUNE].at[i]->as.tune;
}

const struct tune *library_find_tune(const struct library *lib, const char *id)
{
    struct entry *x = entries_find(&lib->in[KIND_TUNE], id);
    return x ? &x->as.tune : NULL;
}

size_t library_faults(const struct library *lib)
{
    return lib->in[KIND_FAULT].count;
}

const struct fault *library_fault(const struct library *lib, size_t i)
{
    return &lib->in[KIND_FAULT].at[i]->as.fault;
}

const struct fault *library_find_fault(const struct library *lib, const char *id)
{
    struct entry *x = entries_find(&lib->in[KIND_FAULT], id);
    return x ? &x->as.fault : NULL;
}

const struct cure *library_find_cure(const struct library *lib, const char *id)
{
    struct entry *x = entries_find(&lib->in[KIND_CURE], id);
    return x ? &x->as.cure : NULL;
}

const char *library_folder(const struct library *lib)
{
    return lib->folder;
}
