#include "journal/journal.h"

#include <assert.h>
#include <errno.h>
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>
#include "journal/journal_priv.h"
#include "journal/journal_schema.h"
#include "mem.h"
#include "text.h"

#define BUSY_MS 5000

static int64_t system_ms(void *with)
{
    struct timespec now;
    (void)with;
    clock_gettime(CLOCK_REALTIME, &now);
    return (int64_t)now.tv_sec * 1000 + now.tv_nsec / 1000000;
}

/* ---- opening ------------------------------------------------------------------------------ */

char *journal_default_path(void)
{
    const char *data = getenv("XDG_DATA_HOME"), *home = getenv("HOME");
    struct text path = {0};
    if (data && data[0] == '/')
        text_addf(&path, "%s/letoff/journal.db", data);
    else if (home && home[0] == '/')
        text_addf(&path, "%s/.local/share/letoff/journal.db", home);
    return path.at;
}

/* All folders above the file, private to the user. */
static bool make_folders(const char *path, struct err *e)
{
    char *copy = mem_copy_text(path);
    bool ok = true;
    for (char *slash = strchr(copy + 1, '/'); ok && slash; slash = strchr(slash + 1, '/')) {
        *slash = '\0';
        if (mkdir(copy, 0700) != 0 && errno != EEXIST) {
            err_device(e, "The folder %s for the journal cannot be made (%s).", copy,
                       strerror(errno));
            ok = false;
        }
        *slash = '/';
    }
    mem_free(copy);
    return ok;
}

struct journal *journal_open(const char *where, const struct journal_options *o, struct err *e)
{
    struct journal *j = mem_alloc(sizeof *j);
    char *standard = where ? NULL : journal_default_path();
    char id[RECORD_ID_LENGTH + 1];
    if (o)
        j->options = *o;
    if (!j->options.now_ms)
        j->options.now_ms = system_ms;
    struct store_options so = {j->options.busy_ms ? j->options.busy_ms : BUSY_MS,
                               j->options.read_only, j->options.must_exist};
    record_id_new(id);
    snprintf(j->origin, sizeof j->origin, "%.16s", id);
    bool ok = where || standard;
    if (!ok)
        err_add(e, "There is no place for the journal: neither XDG_DATA_HOME nor HOME names a "
                   "folder; name one with --journal.");
    if (ok && standard && !so.read_only && !so.must_exist)
        ok = make_folders(standard, e);
    ok = ok && store_open(&j->store, where ? where : standard, &so, e) &&
         schema_migrate(&j->store, schema_migrations, schema_migration_count, e);
    mem_free(standard);
    if (ok && !j->store.read_only)
        journal_scrub_if_due(j);
    if (ok)
        return j;
    journal_close(j);
    return NULL;
}

void journal_close(struct journal *j)
{
    if (!j)
        return;
    if (j->depth || j->reading)
        store_rollback(&j->store);
    store_close(&j->store);
    mem_free(j->touched);
    mem_free(j);
}

const char *journal_name(const struct journal *j)
{
    return j->store.name;
}

bool journal_read_only(const struct journal *j)
{
    return j->store.read_only;
}

bool journal_writable(struct journal *j, struct err *e)
{
    if (j->store.read_only)
        err_device(e, "The journal %s may only be read; nothing was written.", j->store.name);
    return !j->store.read_only;
}

bool journal_verify(struct journal *j, struct err *e)
{
    return j->store.back->verify(&j->store, e);
}

int64_t journal_now_ms(const struct journal *j)
{
    return j->options.now_ms(j->options.with);
}

void journal_now(struct journal *j, char out[20])
{
    time_t seconds = (time_t)(journal_now_ms(j) / 1000);
    struct tm local = {0};
    if (!localtime_r(&seconds, &local) || !strftime(out, 20, "%Y-%m-%dT%H:%M:%S", &local))
        snprintf(out, 20, "1970-01-01");
}

/* ---- transactions ------------------------------------------------------------------------- */

bool journal_hurry(struct journal *j, bool quick, struct err *e)
{
    if (j->quick == quick)
        return true;
    j->quick = quick;
    return j->store.back->hurry(&j->store, quick, e);
}

bool journal_begin(struct journal *j, struct err *e)
{
    assert(!j->reading && "no change inside a read");
    if (j->depth == 0) {
        if (!journal_writable(j, e) || !journal_hurry(j, false, e) ||
            !store_begin(&j->store, STORE_WRITE, e))
            return false;
        j->broken = false;
        j->touched_count = 0;
        j->newest_ms = 0;
    }
    j->depth++;
    return true;
}

bool journal_commit(struct journal *j, struct err *e)
{
    assert(j->depth > 0 && "journal_begin before journal_commit");
    if (j->depth > 1) {
        j->depth--;
        return !j->broken;
    }
    j->depth = 0;
    if (!j->broken)
        return store_commit(&j->store, e);
    store_rollback(&j->store);
    err_add(e, "Nothing was written to the journal %s, since a part of the change failed.",
            j->store.name);
    return false;
}

void journal_rollback(struct journal *j)
{
    assert(j->depth > 0 && "journal_begin before journal_rollback");
    j->broken = true;
    if (--j->depth == 0)
        store_rollback(&j->store);
}

bool journal_read_begin(struct journal *j, struct err *e)
{
    assert(j->depth == 0 && !j->reading && "one transaction at a time");
    j->reading = store_begin(&j->store, STORE_READ, e);
    return j->reading;
}

void journal_read_end(struct journal *j)
{
    if (j->reading)
        store_rollback(&j->store);
    j->reading = false;
}

/* ---- reading ------------------------------------------------------------------------------ */

static void add_columns(struct text *sql, enum record_kind kind)
{
    const struct field *f = record_shape(kind)->field;
    text_add(sql, "id, updated_ms");
    for (; f->name; f++)
        text_addf(sql, ", %s", f->name);
}

static void fill(struct record *r, const char *const *values)
{
    const struct field *f = record_shape(r->kind)->field;
    long stamp = 0;
    double real;
    snprintf(r->id, sizeof r->id, "%s", values[0] ? values[0] : "");
    if (values[1] && text_int(values[1], &stamp))
        r->updated_ms = stamp;
    for (size_t i = 0; f[i].name; i++) {
        const char *value = values[2 + i];
        if (value && f[i].type == FIELD_REAL && text_real(value, &real))
            record_set_real(r, f[i].name, real);
        else
            record_set(r, f[i].name, value);
    }
}

struct listing {
    struct record_list *list;
    enum record_kind kind;
};

static bool take_row(void *with, const char *const *values)
{
    struct listing *l = with;
    fill(record_list_add(l->list, l->kind), values);
    return true;
}

bool journal_list(struct journal *j, enum record_kind kind, const char *field, const char *value,
                  const char *order, struct record_list *list, struct err *e)
{
    struct text sql = {0};
    struct listing l = {list, kind};
    assert(!field || strcmp(field, "id") == 0 || record_field_of(kind, field) >= 0);
    assert(!order || record_field_of(kind, order) >= 0);
    text_add(&sql, "SELECT ");
    add_columns(&sql, kind);
    text_addf(&sql, " FROM %s", record_shape(kind)->name);
    if (field)
        text_addf(&sql, " WHERE %s = $1", field);
    text_addf(&sql, " ORDER BY %s, id", order ? order : "updated_ms");
    bool ok = store_query(&j->store, e, take_row, &l, text_cstr(&sql), field ? 1 : 0, value);
    text_release(&sql);
    return ok;
}

bool journal_get(struct journal *j, enum record_kind kind, const char *id, struct record *r,
                 struct err *e)
{
    struct record_list found = {0};
    record_init(r, kind);
    bool ok = journal_list(j, kind, "id", id, NULL, &found, e);
    if (ok && found.count == 0)
        err_add(e, "There is no %s %s in the journal %s.", record_shape(kind)->name, id,
                j->store.name);
    ok = ok && found.count > 0;
    if (ok) {
        *r = found.at[0];
        record_init(&found.at[0], kind);
    }
    record_list_release(&found);
    return ok;
}

bool journal_exists(struct journal *j, enum record_kind kind, const char *id, bool *there,
                    struct err *e)
{
    char sql[96];
    bool ok;
    snprintf(sql, sizeof sql, "SELECT 1 FROM %s WHERE id = $1", record_shape(kind)->name);
    char *one = store_one(&j->store, e, &ok, sql, 1, id);
    *there = one != NULL;
    mem_free(one);
    return ok;
}

struct prefix_hits {
    size_t count;
    char *id;
};

static bool take_hit(void *with, const char *const *values)
{
    struct prefix_hits *hits = with;
    snprintf(hits->id, RECORD_ID_LENGTH + 1, "%s", values[0]);
    return ++hits->count < 2;
}

bool journal_id(struct journal *j, enum record_kind kind, const char *prefix,
                char id[RECORD_ID_LENGTH + 1], struct err *e)
{
    const char *name = record_shape(kind)->name;
    struct prefix_hits hits = {0, id};
    char sql[96], pattern[RECORD_ID_LENGTH + 2];
    size_t length = strlen(prefix);
    if (length < 4 || length > RECORD_ID_LENGTH || strspn(prefix, "0123456789abcdef") != length) {
        err_add(e, "%s is no id of a %s, expected at least 4 of the digits 0-9 and a-f.", prefix,
                name);
        return false;
    }
    snprintf(sql, sizeof sql, "SELECT id FROM %s WHERE id LIKE $1 LIMIT 2", name);
    snprintf(pattern, sizeof pattern, "%s%%", prefix);
    if (!store_query(&j->store, e, take_hit, &hits, sql, 1, pattern))
        return false;
    if (hits.count == 0)
        err_add(e, "There is no %s %s in the journal %s.", name, prefix, j->store.name);
    else if (hits.count > 1)
        err_add(e, "Several %ss begin with %s, expected more of the id.", name, prefix);
    return hits.count == 1;
}

bool journal_count(struct journal *j, enum record_kind kind, size_t *count, struct err *e)
{
    char sql[64];
    bool ok;
    long n = 0;
    snprintf(sql, sizeof sql, "SELECT count(*) FROM %s", record_shape(kind)->name);
    char *value = store_one(&j->store, e, &ok, sql, 0);
    if (value)
        text_int(value, &n);
    *count = (size_t)n;
    mem_free(value);
    return ok;
}

/* ---- writing ------------------------------------------------------------------------------ */

bool journal_stamp(struct journal *j, int64_t *stamp_ms, struct err *e)
{
    char now[24];
    bool ok;
    long stamp = 0;
    snprintf(now, sizeof now, "%" PRId64, journal_now_ms(j));
    char *value = store_one(&j->store, e, &ok,
                            "UPDATE tick SET stamp = CASE WHEN stamp < $1 "
                            "THEN $1 ELSE stamp + 1 END WHERE one = 1 RETURNING stamp",
                            1, now);
    ok = ok && value && text_int(value, &stamp);
    *stamp_ms = stamp;
    mem_free(value);
    return ok;
}

static bool parents_there(struct journal *j, const struct record *r, struct err *e)
{
    const struct record_shape *shape = record_shape(r->kind);
    for (size_t i = 0; shape->field[i].name; i++) {
        const struct field *f = &shape->field[i];
        bool there;
        if (f->type != FIELD_REF || !r->value[i] || !r->value[i][0])
            continue;
        if (!journal_exists(j, f->refers, r->value[i], &there, e))
            return false;
        if (!there) {
            err_add(e, "%s: %s is %s, and the journal %s has no such %s.", shape->name, f->name,
                    r->value[i], j->store.name, record_shape(f->refers)->name);
            return false;
        }
    }
    return true;
}

static bool same(const char *a, const char *b)
{
    return strcmp(a ? a : "", b ? b : "") == 0;
}

/* Edits for the fields that change; a record without any value gets one empty edit, so that it
 * travels in a merge. */
static bool write_changes(struct journal *j, const struct record *r, const struct record *old,
                          int64_t stamp_ms, bool *changed, struct err *e)
{
    size_t count = record_field_count(r->kind);
    struct edit edit = {.kind = r->kind, .stamp_ms = stamp_ms};
    memcpy(edit.record, r->id, sizeof edit.record);
    memcpy(edit.origin, j->origin, sizeof edit.origin);
    *changed = false;
    for (size_t i = 0; i < count; i++) {
        bool keep = !r->value[i] || same(r->value[i], old->value[i]);
        bool only_sign = i + 1 == count && !*changed && !old->id[0];
        if (keep && !only_sign)
            continue;
        edit.field = (int)i;
        edit.value = r->value[i] ? r->value[i] : "";
        if (!journal_write_edit(j, &edit, NULL, e))
            return false;
        *changed = true;
    }
    return true;
}

static bool read_old(struct journal *j, const struct record *r, struct record *old, struct err *e)
{
    struct record_list found = {0};
    record_init(old, r->kind);
    if (!r->id[0])
        return true;
    if (!record_id_ok(r->id)) {
        err_add(e, "%s is no id, expected %d of the digits 0-9 and a-f.", r->id, RECORD_ID_LENGTH);
        return false;
    }
    bool ok = journal_list(j, r->kind, "id", r->id, NULL, &found, e);
    if (ok && found.count) {
        *old = found.at[0];
        record_init(&found.at[0], r->kind);
    }
    record_list_release(&found);
    return ok;
}

static bool put_inside(struct journal *j, struct record *r, struct err *e)
{
    struct record old;
    int64_t stamp_ms;
    bool erased = false, changed = false;
    bool ok = journal_stamp(j, &stamp_ms, e) && read_old(j, r, &old, e);
    if (!ok)
        return false;
    if (r->id[0] && !old.id[0])
        ok = journal_is_erased(j, r->id, &erased, e);
    if (erased) {
        err_add(e, "The %s %s was erased and cannot come back.", record_shape(r->kind)->name,
                r->id);
        ok = false;
    }
    ok = ok && record_check(r, !old.id[0], e) && parents_there(j, r, e);
    if (ok && !r->id[0])
        record_id_new(r->id);
    ok = ok && write_changes(j, r, &old, stamp_ms, &changed, e);
    if (ok && changed)
        ok = journal_restate(j, r->kind, r->id, e) == RESTATED;
    r->updated_ms = changed ? stamp_ms : old.updated_ms;
    record_release(&old);
    return ok;
}

bool journal_put(struct journal *j, struct record *r, struct err *e)
{
    bool fresh = !r->id[0];
    if (!journal_begin(j, e))
        return false;
    if (put_inside(j, r, e))
        return journal_commit(j, e);
    journal_rollback(j);
    if (fresh)
        r->id[0] = '\0';
    return false;
}

/* ---- settings ----------------------------------------------------------------------------- */

char *journal_setting(struct journal *j, const char *key, struct err *e)
{
    bool ok;
    return store_one(&j->store, e, &ok, "SELECT value FROM meta WHERE key = $1", 1, key);
}

bool journal_set(struct journal *j, const char *key, const char *value, struct err *e)
{
    assert(strcmp(key, "version") != 0 && "the version belongs to the migrations");
    if (!journal_begin(j, e))
        return false;
    if (store_run(&j->store, e,
                  "INSERT INTO meta (key, value) VALUES ($1, $2) "
                  "ON CONFLICT (key) DO UPDATE SET value = excluded.value",
                  2, key, value))
        return journal_commit(j, e);
    journal_rollback(j);
    return false;
}
