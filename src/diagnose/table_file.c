#include "diagnose/table_file.h"

#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>
#ifndef __wasi__
#include <sys/mman.h>
#endif
#include "mem.h"
#include "text.h"

#ifndef LETOFF_TABLES_CODE
#define LETOFF_TABLES_CODE 0ull /* of the files the mechanism is made of; given by the build */
#endif

static const char magic[8] = "letoffT3";

struct file_head {
    char magic[8];
    uint64_t stamp, clocks, bytes;
};

struct clock_head {
    char id[64];
    uint64_t bytes; /* of this clock, head included; whole eights */
    uint64_t sum;   /* of all those bytes but these eight */
    uint64_t states, rows, edges, soundings, sequence_bytes, sequences, letoffs, variants, tables;
    double lost;
};

struct variant_note {
    uint32_t acts;
    int32_t late;
};

struct table_head {
    uint32_t table, spare;
    uint64_t slots, known;
};

static uint64_t stamp_of(const struct library *lib)
{
    uint64_t h = library_stamp(lib) ^ (uint64_t)LETOFF_TABLES_CODE;
    h = (h ^ sizeof(struct sounding)) * 1099511628211ull;
    return (h ^ PAR_COUNT) * 1099511628211ull;
}

/* ---- writing ---- */

static void put(struct text *t, const void *bytes, size_t length)
{
    static const char none[8] = {0};
    text_add_bytes(t, bytes ? bytes : none, length);
    if (length % 8)
        text_add_bytes(t, none, 8 - length % 8);
}

static uint64_t mix_word(uint64_t h, const char *at)
{
    uint64_t w;
    memcpy(&w, at, sizeof w);
    h = (h ^ w) * 0x9e3779b97f4a7c15ull;
    return h ^ (h >> 32);
}

/* Four sums side by side, so that none waits for another. */
#define SUMS 4
static uint64_t sum_words(const char *at, size_t bytes, uint64_t h)
{
    uint64_t sum[SUMS] = {h, h + 1, h + 2, h + 3};
    size_t i = 0;
    for (; i + SUMS * sizeof h <= bytes; i += SUMS * sizeof h)
        for (size_t k = 0; k < SUMS; k++)
            sum[k] = mix_word(sum[k], at + i + k * sizeof h);
    for (; i + sizeof h <= bytes; i += sizeof h)
        sum[0] = mix_word(sum[0], at + i);
    for (size_t k = 1; k < SUMS; k++)
        sum[0] = mix_word(sum[0], (const char *)&sum[k]);
    return sum[0];
}

/* So that a file that was hurt is never believed: what stands in it is used as it is. */
static uint64_t clock_sum(const char *at, size_t bytes)
{
    const size_t before = offsetof(struct clock_head, sum), after = before + sizeof(uint64_t);
    return sum_words(at + after, bytes - after, sum_words(at, before, bytes));
}

static void put_table(struct text *t, const struct outcome_table *o, size_t number, bool sound)
{
    struct table_head h = {.table = (uint32_t)number, .slots = o->slots, .known = o->known};
    put(t, &h, sizeof h);
    put(t, o->key, o->slots * sizeof *o->key);
    put(t, o->row, o->slots * sizeof *o->row);
    if (sound)
        put(t, o->touched, o->slots * sizeof *o->touched);
}

static bool is_own(const struct clock_case *k, size_t variant)
{
    const struct variant *v = &k->variant[variant];
    return v->acts == v->table && (variant == 0 || k->table[v->table].known > 0);
}

static void put_clock(struct text *t, const struct clock_case *k)
{
    const struct outcome_rows *r = &k->rows;
    const struct sounding_pool *p = &k->pool;
    size_t start = t->length, letoffs = (size_t)k->classes.letoffs;
    struct clock_head h = {.states = r->states,
                           .rows = r->rows,
                           .edges = r->edges,
                           .soundings = p->count,
                           .sequence_bytes = p->bytes,
                           .sequences = p->sequences,
                           .letoffs = letoffs,
                           .variants = k->variants,
                           .lost = r->lost};
    snprintf(h.id, sizeof h.id, "%s", k->clock->id);
    for (size_t i = 0; i < k->variants; i++)
        h.tables += is_own(k, i);
    put(t, &h, sizeof h);
    put(t, r->state, r->states * sizeof *r->state);
    put(t, r->row, r->rows * sizeof *r->row);
    put(t, r->edge, r->edges * sizeof *r->edge);
    put(t, p->at, p->count * sizeof *p->at);
    put(t, p->byte, p->bytes);
    put(t, p->sequence, (p->sequences + 1) * sizeof *p->sequence);
    put(t, k->due, letoffs * sizeof *k->due);
    for (size_t i = 0; i < k->variants; i++) {
        struct variant_note n = {(uint32_t)k->variant[i].acts, k->variant[i].late};
        put(t, &n, sizeof n);
    }
    for (size_t i = 0; i < k->variants; i++)
        if (is_own(k, i))
            put_table(t, &k->table[k->variant[i].acts], k->variant[i].acts, i == 0);
    uint64_t bytes = t->length - start;
    memcpy(t->at + start + offsetof(struct clock_head, bytes), &bytes, sizeof bytes);
    uint64_t sum = clock_sum(t->at + start, bytes);
    memcpy(t->at + start + offsetof(struct clock_head, sum), &sum, sizeof sum);
}

bool table_file_write(const struct library *lib, const char *path,
                      void (*each)(const struct clock_case *k, size_t tables), struct err *e)
{
    struct text t = {0};
    struct file_head h = {.stamp = stamp_of(lib)};
    memcpy(h.magic, magic, sizeof magic);
    put(&t, &h, sizeof h);
    for (size_t i = 0; i < library_clocks(lib); i++) {
        struct clock_case k;
        if (!clock_case_init(&k, lib, library_clock(lib, i)))
            continue;
        size_t tables = clock_case_complete(&k);
        put_clock(&t, &k);
        h.clocks++;
        if (each)
            each(&k, tables);
        clock_case_release(&k);
    }
    h.bytes = t.length;
    memcpy(t.at, &h, sizeof h);
    bool done = text_write_file(path, t.at, t.length, e);
    text_release(&t);
    return done;
}

/* ---- reading ---- */

struct table_file {
    char *at;
    size_t bytes;
};

#ifdef __wasi__ /* no maps there: the file is read whole */
static char *map_file(int fd, size_t bytes)
{
    char *at = mem_alloc(bytes);
    size_t done = 0;
    for (ssize_t n; done < bytes && (n = read(fd, at + done, bytes - done)) > 0;)
        done += (size_t)n;
    return at;
}

static void unmap_file(char *at, size_t bytes)
{
    (void)bytes;
    mem_free(at);
}
#else
/* Private and writable: rows added later stay with this process. */
static char *map_file(int fd, size_t bytes)
{
    void *at = mmap(NULL, bytes, PROT_READ | PROT_WRITE, MAP_PRIVATE, fd, 0);
    return at == MAP_FAILED ? NULL : at;
}

static void unmap_file(char *at, size_t bytes)
{
    munmap(at, bytes);
}
#endif

struct table_file *table_file_open(const struct library *lib, const char *path)
{
    int fd = open(path, O_RDONLY | O_CLOEXEC);
    struct stat st;
    char *at = NULL;
    if (fd < 0)
        return NULL;
    if (fstat(fd, &st) == 0 && st.st_size >= (off_t)sizeof(struct file_head))
        at = map_file(fd, (size_t)st.st_size);
    close(fd);
    if (!at)
        return NULL;
    const struct file_head *h = (const struct file_head *)at;
    if (memcmp(h->magic, magic, sizeof magic) != 0 || h->stamp != stamp_of(lib) ||
        h->bytes != (uint64_t)st.st_size) {
        unmap_file(at, (size_t)st.st_size);
        return NULL;
    }
    struct table_file *f = mem_alloc(sizeof *f);
    *f = (struct table_file){.at = at, .bytes = (size_t)st.st_size};
    return f;
}

void table_file_close(struct table_file *f)
{
    if (!f)
        return;
    unmap_file(f->at, f->bytes);
    mem_free(f);
}

size_t table_file_size(const struct table_file *f)
{
    return f ? f->bytes : 0;
}

static const struct clock_head *find_clock(const struct table_file *f, const char *id)
{
    const struct file_head *h = (const struct file_head *)f->at;
    size_t at = sizeof *h;
    for (uint64_t i = 0; i < h->clocks && at + sizeof(struct clock_head) <= f->bytes; i++) {
        const struct clock_head *c = (const struct clock_head *)(f->at + at);
        if (c->bytes < sizeof *c || c->bytes > f->bytes - at || c->bytes % 8)
            return NULL;
        if (strncmp(c->id, id, sizeof c->id) == 0)
            return c;
        at += c->bytes;
    }
    return NULL;
}

/* Takes parts off a clock's bytes one after another; `bad` once one does not fit. */
struct taking {
    char *at;
    size_t left;
    bool bad;
};

static void *take(struct taking *t, uint64_t count, size_t each)
{
    static uint64_t nothing[8];
    uint64_t bytes = count < (1ull << 40) / each ? count * each : 1ull << 40;
    bytes = (bytes + 7) / 8 * 8;
    if (t->bad || bytes > t->left) {
        t->bad = true;
        return nothing;
    }
    void *at = t->at;
    t->at += bytes;
    t->left -= bytes;
    return at;
}

static void fill_tables(struct clock_case *k, struct taking *t, uint64_t tables)
{
    for (uint64_t i = 0; i < tables; i++) {
        const struct table_head *h = take(t, 1, sizeof *h);
        bool sound = i == 0;
        void *key = take(t, h->slots, sizeof(uint64_t)), *row = take(t, h->slots, sizeof(uint32_t));
        void *touched = sound ? take(t, h->slots, WORKS_TOUCHED * sizeof(uint64_t)) : NULL;
        if (t->bad || h->table >= k->tables || (h->slots & (h->slots - 1)) || h->known > h->slots)
            return;
        struct outcome_table *o = &k->table[h->table];
        o->key = key;
        o->row = row;
        o->touched = touched;
        o->slots = h->slots;
        o->known = h->known;
        o->mapped = true;
    }
}

/* Lent by the file until they grow. */
static void fill_shared(struct clock_case *k, struct taking *t, const struct clock_head *c)
{
    struct outcome_rows *r = &k->rows;
    struct sounding_pool *p = &k->pool;
    void *state = take(t, c->states, sizeof *r->state), *row = take(t, c->rows, sizeof *r->row);
    void *edge = take(t, c->edges, sizeof *r->edge), *at = take(t, c->soundings, sizeof *p->at);
    void *byte = take(t, c->sequence_bytes, 1), *sequence = take(t, c->sequences + 1, sizeof *p->sequence);
    const void *due = take(t, c->letoffs, sizeof *k->due);
    if (t->bad)
        return;
    outcome_rows_release(r);
    sounding_pool_release(p);
    outcome_rows_init(r, &k->classes, p);
    r->sound = &k->table[0];
    r->lost = c->lost;
    r->state = state;
    r->states = c->states;
    r->row = row;
    r->rows = c->rows;
    r->edge = edge;
    r->edges = c->edges;
    p->at = at;
    p->count = c->soundings;
    p->byte = byte;
    p->bytes = c->sequence_bytes;
    p->sequence = sequence;
    p->sequences = c->sequences;
    memcpy(k->due, due, c->letoffs * sizeof *k->due);
}

bool table_file_fill(struct table_file *f, struct clock_case *k)
{
    const struct clock_head *c = find_clock(f, k->clock->id);
    if (!c || c->variants != k->variants || c->letoffs != (uint64_t)k->classes.letoffs || !c->tables ||
        c->sum != clock_sum((const char *)c, c->bytes))
        return false;
    struct taking whole = {.at = (char *)(uintptr_t)(c + 1), .left = c->bytes - sizeof *c};
    struct taking t = whole;
    take(&t, c->states, sizeof *k->rows.state); /* everything must fit before anything is used */
    take(&t, c->rows, sizeof *k->rows.row);
    take(&t, c->edges, sizeof *k->rows.edge);
    take(&t, c->soundings, sizeof *k->pool.at);
    take(&t, c->sequence_bytes, 1);
    take(&t, c->sequences + 1, sizeof *k->pool.sequence);
    take(&t, c->letoffs, sizeof *k->due);
    const struct variant_note *note = take(&t, c->variants, sizeof *note);
    for (size_t i = 0; i < k->variants && !t.bad; i++)
        t.bad |= note[i].acts >= k->tables;
    if (t.bad)
        return false;
    for (size_t i = 0; i < k->tables; i++)
        outcome_table_complete(&k->table[i], NULL, NULL, 0);
    k->table[0].complete = false;
    fill_shared(k, &whole, c);
    note = take(&whole, c->variants, sizeof *note);
    for (size_t i = 0; i < k->variants; i++) {
        k->variant[i].acts = note[i].acts;
        k->variant[i].late = note[i].late;
    }
    fill_tables(k, &whole, c->tables);
    return true;
}

/* ---- where it is ---- */

#define CACHE_PLACE 3

static void cache_folder(char *path, size_t room)
{
    const char *cache = getenv("XDG_CACHE_HOME"), *home = getenv("HOME");
    path[0] = 0;
    if (cache && cache[0])
        snprintf(path, room, "%s/letoff", cache);
    else if (home && home[0])
        snprintf(path, room, "%s/.cache/letoff", home);
}

bool table_file_place(const struct library *lib, size_t n, char *path, size_t room)
{
    const char *named = getenv("LETOFF_TABLES"), *folder = library_folder(lib);
    char cache[900];
    path[0] = 0;
    switch (n) {
    case 0:
        snprintf(path, room, "%s", named ? named : "");
        return true;
    case 1:
#ifdef LETOFF_TABLES_FILE
        snprintf(path, room, "%s", LETOFF_TABLES_FILE);
#endif
        return true;
    case 2:
        if (folder)
            snprintf(path, room, "%s/../letoff.tables", folder);
        return true;
    case CACHE_PLACE:
        cache_folder(cache, sizeof cache);
        if (cache[0])
            snprintf(path, room, "%s/letoff.tables", cache);
        return true;
    default:
        return false;
    }
}

bool table_file_kept(const struct library *lib)
{
    char path[1024];
    struct table_file *f = NULL;
    for (size_t n = 0; !f && table_file_place(lib, n, path, sizeof path); n++)
        f = table_file_open(lib, path);
    table_file_close(f);
    return f != NULL;
}

bool table_file_keep(const struct library *lib, struct err *e)
{
    char path[1024], folder[900];
    if (table_file_kept(lib))
        return true;
    cache_folder(folder, sizeof folder);
    if (!folder[0]) {
        err_device(e, "there is no folder to keep the outcome tables in: set HOME or XDG_CACHE_HOME.");
        return false;
    }
    char *slash = strrchr(folder, '/');
    *slash = 0;
    mkdir(folder, 0777); /* a folder that is there already is no problem */
    *slash = '/';
    mkdir(folder, 0777);
    table_file_place(lib, CACHE_PLACE, path, sizeof path);
    return table_file_write(lib, path, NULL, e);
}
