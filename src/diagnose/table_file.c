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
#include "diagnose/company.h"
#include "mem.h"
#include "text.h"

#ifndef LETOFF_TABLES_CODE
#define LETOFF_TABLES_CODE 0ull /* of the files the mechanism is made of; given by the build */
#endif

static const char magic[8] = "letoffT5";

struct file_head {
    char magic[8];
    uint64_t stamp, clocks, bytes;
};

struct clock_head {
    char id[64];
    uint64_t bytes; /* of this clock, head included; whole eights */
    uint64_t sum;   /* of all those bytes but these eight */
    uint64_t states, rows, edges, soundings, sequence_bytes, sequences, letoffs, variants, tables; /* the sound one too */
    uint64_t classes, known, reads, kept; /* known: rows of the sound works; kept: of all others */
    double lost;
    uint64_t heeded[WORKS_TOUCHED];
    uint32_t standing[(STUCK_KINDS + 1) / 2 * 2]; /* whole eights */
};

struct variant_note {
    uint32_t acts;
    int32_t late;
};
/* Then in which order they are followed: the number of a variant for each, whole eights. */

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
    return h << 29 | h >> 35;
}

/* Four sums side by side, so that none waits for another. */
#define SUMS 4
static uint64_t sum_words(const char *at, size_t bytes, uint64_t h)
{
    uint64_t sum[SUMS] = {h, h + 1, h + 2, h + 3};
    size_t i = 0;
    for (; i + SUMS * sizeof h <= bytes; i += SUMS * sizeof h) {
        sum[0] = mix_word(sum[0], at + i);
        sum[1] = mix_word(sum[1], at + i + 8);
        sum[2] = mix_word(sum[2], at + i + 16);
        sum[3] = mix_word(sum[3], at + i + 24);
    }
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

/* Tables besides the sound works' that variants read their rows from. */
static size_t own_tables(const struct clock_case *k, uint32_t *own)
{
    size_t n = 0;
    for (size_t i = 1; i < k->variants; i++)
        if (k->variant[i].acts == k->variant[i].table && outcome_table_kepts(&k->table[k->variant[i].table]))
            own[n++] = (uint32_t)k->variant[i].table;
    return n;
}

/* Where the rows of each class begin, counted through all tables; then the rows. */
static size_t put_kept(struct text *t, const struct clock_case *k, const uint32_t *own, size_t owns)
{
    size_t classes = (size_t)k->classes.classes, sum = 0;
    uint32_t *first = mem_alloc((owns * (classes + 1) + 1) * sizeof *first);
    struct text kept = {0};
    for (size_t i = 0; i < owns; i++) {
        const struct outcome_table *o = &k->table[own[i]];
        for (size_t c = 0; c <= classes; c++)
            first[i * (classes + 1) + c] = o->first[c] + (uint32_t)sum;
        text_add_bytes(&kept, (const char *)o->kept, outcome_table_kepts(o) * sizeof *o->kept);
        sum += outcome_table_kepts(o);
    }
    put(t, own, owns * sizeof *own);
    put(t, first, owns * (classes + 1) * sizeof *first);
    put(t, kept.at, kept.length);
    text_release(&kept);
    mem_free(first);
    return sum;
}

static void put_shared(struct text *t, const struct clock_case *k)
{
    const struct outcome_rows *r = &k->rows;
    const struct sounding_pool *p = &k->pool;
    put(t, r->state, r->states * sizeof *r->state);
    put(t, r->row, r->rows * sizeof *r->row);
    put(t, r->edge, r->edges * sizeof *r->edge);
    put(t, r->read, r->reads * sizeof *r->read);
    put(t, p->at, p->count * sizeof *p->at);
    put(t, p->byte, p->bytes);
    put(t, p->sequence, (p->sequences + 1) * sizeof *p->sequence);
    put(t, k->due, (size_t)k->classes.letoffs * sizeof *k->due);
    for (size_t i = 0; i < k->variants; i++) {
        struct variant_note n = {(uint32_t)k->variant[i].acts, k->variant[i].late};
        put(t, &n, sizeof n);
    }
}

/* As companies follow them. */
static void put_order(struct text *t, const struct clock_case *k)
{
    struct company *c = mem_alloc((k->variants + 1) * sizeof *c);
    uint32_t *order = mem_alloc((k->variants + 1) * sizeof *order);
    for (size_t i = 0; i < k->variants; i++) {
        const struct variant *v = &k->variant[i];
        c[i] = (struct company){.variant = i, .minute_off = v->minute_off, .hour_off = v->hour_off, .late = v->late,
                                .start = v->start, .start_only = v->start_only, .acts = v->acts};
    }
    qsort(c, k->variants, sizeof *c, company_order_by_acts);
    for (size_t i = 0; i < k->variants; i++)
        order[i] = (uint32_t)c[i].variant;
    put(t, order, k->variants * sizeof *order);
    mem_free(order);
    mem_free(c);
}

static void put_clock(struct text *t, const struct clock_case *k)
{
    const struct outcome_rows *r = &k->rows;
    const struct sounding_pool *p = &k->pool;
    const struct outcome_table *sound = &k->table[0];
    uint32_t *own = mem_alloc((k->variants + 1) * sizeof *own);
    size_t start = t->length, owns = own_tables(k, own);
    struct clock_head h = {.states = r->states,
                           .rows = r->rows,
                           .edges = r->edges,
                           .soundings = p->count,
                           .sequence_bytes = p->bytes,
                           .sequences = p->sequences,
                           .letoffs = (uint64_t)k->classes.letoffs,
                           .variants = k->variants,
                           .tables = owns + 1,
                           .classes = (uint64_t)k->classes.classes,
                           .known = outcome_table_kepts(sound),
                           .reads = r->reads,
                           .lost = r->lost};
    snprintf(h.id, sizeof h.id, "%s", k->clock->id);
    memcpy(h.heeded, k->heeded, sizeof h.heeded);
    memcpy(h.standing, r->standing, sizeof r->standing);
    put(t, &h, sizeof h);
    put_shared(t, k);
    put_order(t, k);
    put(t, sound->first, (h.classes + 1) * sizeof *sound->first);
    put(t, sound->kept, h.known * sizeof *sound->kept);
    put(t, sound->touched, h.known * sizeof *sound->touched);
    h.kept = put_kept(t, k, own, owns);
    h.bytes = t->length - start;
    memcpy(t->at + start, &h, sizeof h);
    h.sum = clock_sum(t->at + start, h.bytes);
    memcpy(t->at + start, &h, sizeof h);
    mem_free(own);
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

/* All of it is about to be read: asked for at once it comes sooner than page by page. */
static void expect_bytes(const void *at, size_t bytes)
{
#ifdef MADV_POPULATE_READ
    size_t page = (size_t)sysconf(_SC_PAGESIZE), before = (uintptr_t)at % page;
    madvise((char *)(uintptr_t)at - before, before + bytes, MADV_POPULATE_READ); /* a wish */
#else
    (void)at, (void)bytes;
#endif
}

/* None unless its bytes are as they were written. */
static const struct clock_head *whole_clock(const struct table_file *f, const char *id)
{
    const struct clock_head *c = find_clock(f, id);
    if (c)
        expect_bytes(c, c->bytes);
    return c && c->sum == clock_sum((const char *)c, c->bytes) ? c : NULL;
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

/* Where the parts of a clock lie. */
struct parts {
    struct rest *state;
    struct outcome_row *row;
    struct outcome_edge *edge;
    uint64_t (*read)[WORKS_TOUCHED];
    struct sounding *sounding;
    uint8_t *byte;
    uint32_t *sequence;
    const uint32_t *due;
    const struct variant_note *note;
    const uint32_t *order;
    const uint32_t *sound_first;
    const struct outcome_kept *sound_kept;
    uint32_t *touched;
    const uint32_t *own, *first;
    const struct outcome_kept *kept;
};

/* All of them, in the order they were put; false if one does not fit. */
static bool take_parts(const struct clock_head *c, struct parts *p)
{
    struct taking t = {.at = (char *)(uintptr_t)(c + 1), .left = c->bytes - sizeof *c};
    uint64_t owns = c->tables - 1;
    p->state = take(&t, c->states, sizeof *p->state);
    p->row = take(&t, c->rows, sizeof *p->row);
    p->edge = take(&t, c->edges, sizeof *p->edge);
    p->read = take(&t, c->reads, sizeof *p->read);
    p->sounding = take(&t, c->soundings, sizeof *p->sounding);
    p->byte = take(&t, c->sequence_bytes, 1);
    p->sequence = take(&t, c->sequences + 1, sizeof *p->sequence);
    p->due = take(&t, c->letoffs, sizeof *p->due);
    p->note = take(&t, c->variants, sizeof *p->note);
    p->order = take(&t, c->variants, sizeof *p->order);
    p->sound_first = take(&t, c->classes + 1, sizeof *p->sound_first);
    p->sound_kept = take(&t, c->known, sizeof *p->sound_kept);
    p->touched = take(&t, c->known, sizeof *p->touched);
    p->own = take(&t, owns, sizeof *p->own);
    p->first = take(&t, owns, (c->classes + 1) * sizeof *p->first);
    p->kept = take(&t, c->kept, sizeof *p->kept);
    return !t.bad;
}

/* The parts are of this clock's size, and no number in them points outside of it. */
static bool parts_fit(const struct clock_case *k, const struct clock_head *c, const struct parts *p)
{
    if (p->sound_first[0] != 0 || p->sound_first[c->classes] != c->known)
        return false;
    for (size_t i = 0; i < k->variants; i++)
        if (p->note[i].acts >= k->tables || p->order[i] >= k->variants)
            return false;
    for (size_t i = 0; i + 1 < c->tables; i++)
        if (p->own[i] >= k->tables)
            return false;
    return true;
}

/* Lent by the file until they grow. */
static void lend_shared(struct clock_case *k, const struct parts *from, const struct clock_head *c)
{
    struct outcome_rows *r = &k->rows;
    struct sounding_pool *p = &k->pool;
    size_t works = r->works;
    outcome_rows_release(r);
    sounding_pool_release(p);
    outcome_rows_init(r, &k->classes, p);
    r->works = works;
    r->sound = &k->table[0];
    r->lost = c->lost;
    memcpy(r->standing, c->standing, sizeof r->standing);
    r->state = from->state;
    r->states = c->states;
    r->row = from->row;
    r->rows = c->rows;
    r->edge = from->edge;
    r->edges = c->edges;
    r->read = from->read;
    r->reads = c->reads;
    p->at = from->sounding;
    p->count = c->soundings;
    p->byte = from->byte;
    p->bytes = c->sequence_bytes;
    p->sequence = from->sequence;
    p->sequences = c->sequences;
    memcpy(k->due, from->due, c->letoffs * sizeof *k->due);
}

static void lend_tables(struct clock_case *k, const struct parts *from, const struct clock_head *c)
{
    struct outcome_table *sound = &k->table[0];
    for (size_t i = 0; i < k->tables; i++)
        outcome_table_complete(&k->table[i], NULL, NULL, 0);
    sound->complete = false;
    sound->first = from->sound_first;
    sound->kept = from->sound_kept;
    sound->touched = from->touched;
    sound->mapped = true;
    for (size_t i = 0; i + 1 < c->tables; i++) {
        struct outcome_table *t = &k->table[from->own[i]];
        t->first = from->first + i * (c->classes + 1);
        t->kept = from->kept;
        t->mapped = true;
    }
}

static bool fill(struct clock_case *k, const struct clock_head *c)
{
    struct parts p;
    if (c->variants != k->variants || c->letoffs != (uint64_t)k->classes.letoffs ||
        c->classes != (uint64_t)k->classes.classes || !c->tables || !take_parts(c, &p) || !parts_fit(k, c, &p))
        return false;
    lend_tables(k, &p, c);
    lend_shared(k, &p, c);
    for (size_t i = 0; i < k->variants; i++) {
        k->variant[i].acts = p.note[i].acts;
        k->variant[i].late = p.note[i].late;
    }
    mem_free(k->order);
    k->order = mem_alloc(k->variants * sizeof *k->order);
    memcpy(k->order, p.order, k->variants * sizeof *k->order);
    return true;
}

bool table_file_fill(struct table_file *f, struct clock_case *k)
{
    const struct clock_head *c = whole_clock(f, k->clock->id);
    return c && fill(k, c);
}

bool table_file_case(struct table_file *f, struct clock_case *k, const struct library *lib, const struct clock *of)
{
    const struct clock_head *c = whole_clock(f, of->id);
    if (!c || !clock_case_list(k, lib, of, c->heeded, c->variants))
        return false;
    if (fill(k, c))
        return true;
    clock_case_release(k);
    return false;
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
