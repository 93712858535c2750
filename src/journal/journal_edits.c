/* journal_edits.c - edits, the present state made from them, and erasing.
 *
 * The rules are at the top of journal.h; this file is the only one that decides by them. */
#include "journal/journal.h"

#include <assert.h>
#include <inttypes.h>
#include <stdio.h>
#include <string.h>
#include "journal/journal_priv.h"
#include "mem.h"
#include "text.h"

#define SCRUB_DUE  "scrub_due" /* key in meta: bytes of erased records may still be in the file */
#define STAMP_MOST 253402300799000 /* the end of the year 9999 */

static bool first_is_newer(int64_t stamp, const char *origin, int64_t than, const char *than_origin)
{
    if (stamp != than)
        return stamp > than;
    return strcmp(origin, than_origin) > 0;
}

/* ---- the present state -------------------------------------------------------------------- */

struct winner {
    int64_t stamp;
    char origin[17];
    char *value;
};
struct winners {
    enum record_kind kind;
    int64_t newest;
    struct winner field[RECORD_FIELDS_MOST];
};

static bool weigh(void *with, const char *const *values)
{
    struct winners *w = with;
    long stamp;
    int field = record_field_of(w->kind, values[0]);
    if (field < 0 || !text_int(values[1], &stamp))
        return true; /* a field of a later version that was taken back */
    struct winner *f = &w->field[field];
    if (stamp > w->newest)
        w->newest = stamp;
    if (f->stamp && !first_is_newer(stamp, values[2], f->stamp, f->origin))
        return true;
    f->stamp = stamp;
    snprintf(f->origin, sizeof f->origin, "%s", values[2]);
    mem_free(f->value);
    f->value = mem_copy_text(values[3] && values[3][0] ? values[3] : NULL);
    return true;
}

static enum restated check_parents(struct journal *j, const struct winners *w, struct err *e)
{
    const struct field *f = record_shape(w->kind)->field;
    for (size_t i = 0; f[i].name; i++) {
        bool there, erased;
        if (f[i].type != FIELD_REF || !w->field[i].value)
            continue;
        if (!journal_exists(j, f[i].refers, w->field[i].value, &there, e))
            return RESTATE_FAILED;
        if (there)
            continue;
        if (!journal_is_erased(j, w->field[i].value, &erased, e))
            return RESTATE_FAILED;
        return erased ? RESTATE_PARENT_ERASED : RESTATE_PARENT_UNKNOWN;
    }
    return RESTATED;
}

static bool write_state(struct journal *j, const struct winners *w, const char *id, struct err *e)
{
    const struct record_shape *shape = record_shape(w->kind);
    const char *params[RECORD_FIELDS_MOST + 2];
    struct text sql = {0}, marks = {0}, sets = {0};
    char newest[24];
    size_t n = 0;
    snprintf(newest, sizeof newest, "%" PRId64, w->newest);
    params[n++] = id;
    params[n++] = newest;
    text_addf(&sql, "INSERT INTO %s (id, updated_ms", shape->name);
    for (size_t i = 0; shape->field[i].name; i++) {
        params[n++] = w->field[i].value;
        text_addf(&sql, ", %s", shape->field[i].name);
        text_addf(&marks, ", $%zu", n);
        text_addf(&sets, ", %s = excluded.%s", shape->field[i].name, shape->field[i].name);
    }
    text_addf(&sql,
              ") VALUES ($1, $2%s) ON CONFLICT (id) DO UPDATE SET "
              "updated_ms = excluded.updated_ms%s",
              text_cstr(&marks), text_cstr(&sets));
    bool ok = j->store.back->run(&j->store, text_cstr(&sql), n, params, NULL, NULL, e);
    text_release(&sql);
    text_release(&marks);
    text_release(&sets);
    return ok;
}

enum restated journal_restate(struct journal *j, enum record_kind kind, const char *id,
                              struct err *e)
{
    struct winners w = {.kind = kind};
    enum restated done = RESTATE_FAILED;
    if (store_query(&j->store, e, weigh, &w,
                    "SELECT field, stamp, origin, value FROM edit "
                    "WHERE record = $1 AND kind = $2",
                    2, id, record_shape(kind)->name))
        done = check_parents(j, &w, e);
    if (done == RESTATED && !write_state(j, &w, id, e))
        done = RESTATE_FAILED;
    for (size_t i = 0; i < RECORD_FIELDS_MOST; i++)
        mem_free(w.field[i].value);
    return done;
}

/* ---- edits -------------------------------------------------------------------------------- */

static bool one_row(void *with, const char *const *values)
{
    (void)values;
    *(bool *)with = true;
    return false;
}

bool journal_write_edit(struct journal *j, const struct edit *edit, bool *fresh, struct err *e)
{
    const struct record_shape *shape = record_shape((enum record_kind)edit->kind);
    char stamp[24];
    bool written = false;
    snprintf(stamp, sizeof stamp, "%" PRId64, edit->stamp_ms);
    bool ok = store_query(&j->store, e, one_row, &written,
                          "INSERT INTO edit (record, kind, field, stamp, origin, value) "
                          "VALUES ($1, $2, $3, $4, $5, $6) ON CONFLICT DO NOTHING RETURNING stamp",
                          6, edit->record, shape->name, shape->field[edit->field].name, stamp,
                          edit->origin, edit->value);
    if (fresh)
        *fresh = written;
    return ok;
}

static void touch(struct journal *j, const struct edit *edit)
{
    if (j->touched_count && strcmp(j->touched[j->touched_count - 1].id, edit->record) == 0)
        return; /* edits of one record mostly come together */
    j->touched = mem_grow(j->touched, &j->touched_room, j->touched_count + 1, sizeof *j->touched);
    struct touched *t = &j->touched[j->touched_count++];
    t->kind = (enum record_kind)edit->kind;
    memcpy(t->id, edit->record, sizeof t->id);
}

static bool origin_ok(const char *origin)
{
    return strlen(origin) == 16 && strspn(origin, "0123456789abcdef") == 16;
}

static bool stamp_ok(int64_t stamp_ms)
{
    return stamp_ms > 0 && stamp_ms <= STAMP_MOST;
}

static bool edit_ok(const struct edit *edit, struct err *e)
{
    if (record_id_ok(edit->record) && origin_ok(edit->origin) && stamp_ok(edit->stamp_ms) &&
        edit->kind >= 0 && edit->kind < RECORD_KINDS && edit->field >= 0 &&
        (size_t)edit->field < record_field_count((enum record_kind)edit->kind))
        return true;
    err_add(e, "The edit of %.40s at %" PRId64 " is none that letoff wrote; nothing was taken in.",
            edit->record, edit->stamp_ms);
    return false;
}

bool journal_take_edit(struct journal *j, const struct edit *edit, bool *fresh, struct err *e)
{
    struct edit clean = *edit;
    bool erased;
    assert(j->depth > 0 && "journal_begin before journal_take_edit");
    *fresh = false;
    if (!edit_ok(edit, e) || !journal_is_erased(j, edit->record, &erased, e))
        return false;
    if (erased)
        return true;
    char *value =
        record_canonical((enum record_kind)edit->kind, (size_t)edit->field, edit->value, e);
    if (!value)
        return false;
    clean.value = value;
    bool ok = journal_write_edit(j, &clean, fresh, e);
    if (ok && *fresh)
        touch(j, edit);
    if (edit->stamp_ms > j->newest_ms)
        j->newest_ms = edit->stamp_ms;
    mem_free(value);
    return ok;
}

/* Our own next stamp must be greater than all we have seen. */
static bool catch_up(struct journal *j, struct err *e)
{
    char newest[24];
    snprintf(newest, sizeof newest, "%" PRId64, j->newest_ms);
    return store_run(&j->store, e, "UPDATE tick SET stamp = $1 WHERE one = 1 AND stamp < $1", 1,
                     newest);
}

static bool settle_one(struct journal *j, const struct touched *t, size_t *dropped, struct err *e)
{
    bool erased;
    if (!journal_is_erased(j, t->id, &erased, e))
        return false;
    if (erased)
        return true;
    switch (journal_restate(j, t->kind, t->id, e)) {
    case RESTATED:
        return true;
    case RESTATE_PARENT_ERASED: {
        size_t gone = 0;
        int64_t stamp_ms = j->newest_ms > 0 ? j->newest_ms : 1;
        bool ok = journal_remove_all(j, t->kind, t->id, stamp_ms, &gone, e);
        *dropped += gone;
        return ok;
    }
    case RESTATE_PARENT_UNKNOWN:
        err_add(e,
                "The %s %s names a record that is in neither journal; take in the records it "
                "belongs to first.",
                record_shape(t->kind)->name, t->id);
        return false;
    case RESTATE_FAILED:
        break;
    }
    return false;
}

bool journal_settle(struct journal *j, size_t *dropped, struct err *e)
{
    size_t none = 0, *count = dropped ? dropped : &none;
    assert(j->depth > 0 && "journal_begin before journal_settle");
    *count = 0;
    /* parents stand before children in the order of kinds */
    for (int kind = 0; kind < RECORD_KINDS; kind++)
        for (size_t i = 0; i < j->touched_count; i++)
            if (j->touched[i].kind == (enum record_kind)kind &&
                !settle_one(j, &j->touched[i], count, e))
                return false;
    j->touched_count = 0;
    return j->newest_ms == 0 || catch_up(j, e);
}

struct history {
    edit_seen *each;
    void *with;
};

static bool give_edit(void *with, const char *const *values)
{
    struct history *h = with;
    struct edit edit = {0};
    long stamp;
    edit.kind = record_kind_of(values[1]);
    edit.field = edit.kind < 0 ? -1 : record_field_of((enum record_kind)edit.kind, values[2]);
    if (edit.field < 0 || !text_int(values[3], &stamp))
        return true;
    edit.stamp_ms = stamp;
    snprintf(edit.record, sizeof edit.record, "%s", values[0]);
    snprintf(edit.origin, sizeof edit.origin, "%s", values[4]);
    edit.value = values[5] ? values[5] : "";
    h->each(h->with, &edit);
    return true;
}

bool journal_history(struct journal *j, const char *id, edit_seen *each, void *with, struct err *e)
{
    struct history h = {each, with};
    if (id)
        return store_query(&j->store, e, give_edit, &h,
                           "SELECT record, kind, field, stamp, origin, value FROM edit "
                           "WHERE record = $1 ORDER BY stamp, origin, field",
                           1, id);
    return store_query(&j->store, e, give_edit, &h,
                       "SELECT record, kind, field, stamp, origin, value FROM edit "
                       "ORDER BY stamp, origin, record, field",
                       0);
}

/* ---- erasing ------------------------------------------------------------------------------ */

bool journal_is_erased(struct journal *j, const char *id, bool *erased, struct err *e)
{
    bool ok;
    char *one = store_one(&j->store, e, &ok, "SELECT 1 FROM erased WHERE record = $1", 1, id);
    *erased = one != NULL;
    mem_free(one);
    return ok;
}

struct erased_walk {
    erased_seen *each;
    void *with;
};

static bool give_erased(void *with, const char *const *values)
{
    struct erased_walk *walk = with;
    int kind = record_kind_of(values[1]);
    long stamp;
    if (kind >= 0 && text_int(values[2], &stamp))
        walk->each(walk->with, (enum record_kind)kind, values[0], stamp);
    return true;
}

bool journal_each_erased(struct journal *j, erased_seen *each, void *with, struct err *e)
{
    struct erased_walk walk = {each, with};
    return store_query(&j->store, e, give_erased, &walk,
                       "SELECT record, kind, stamp FROM erased ORDER BY stamp, record", 0);
}

/* A growing list of what has to go; children are found through every field that refers. */
struct doomed {
    struct touched *at;
    size_t count, room;
    enum record_kind kind; /* of the rows coming in now */
};

static void doom(struct doomed *d, enum record_kind kind, const char *id)
{
    d->at = mem_grow(d->at, &d->room, d->count + 1, sizeof *d->at);
    d->at[d->count].kind = kind;
    snprintf(d->at[d->count++].id, sizeof d->at->id, "%s", id);
}

static bool doom_row(void *with, const char *const *values)
{
    struct doomed *d = with;
    for (size_t i = 0; i < d->count; i++)
        if (strcmp(d->at[i].id, values[0]) == 0)
            return true;
    doom(d, d->kind, values[0]);
    return true;
}

static bool doom_children(struct journal *j, struct doomed *d, size_t parent, struct err *e)
{
    char sql[128], id[RECORD_ID_LENGTH + 1];
    memcpy(id, d->at[parent].id, sizeof id); /* the list moves while it grows */
    for (int kind = 0; kind < RECORD_KINDS; kind++) {
        const struct record_shape *shape = record_shape((enum record_kind)kind);
        for (const struct field *f = shape->field; f->name; f++) {
            if (f->type != FIELD_REF || f->refers != d->at[parent].kind)
                continue;
            d->kind = (enum record_kind)kind;
            snprintf(sql, sizeof sql, "SELECT id FROM %s WHERE %s = $1", shape->name, f->name);
            if (!store_query(&j->store, e, doom_row, d, sql, 1, id))
                return false;
        }
    }
    return true;
}

/* Of two erasures of one record the earlier stamp stays, so that all journals agree. */
static bool remove_one(struct journal *j, const struct touched *t, int64_t stamp_ms, struct err *e)
{
    char sql[96], stamp[24];
    snprintf(sql, sizeof sql, "DELETE FROM %s WHERE id = $1", record_shape(t->kind)->name);
    snprintf(stamp, sizeof stamp, "%" PRId64, stamp_ms);
    return store_run(&j->store, e, sql, 1, t->id) &&
           store_run(&j->store, e, "DELETE FROM edit WHERE record = $1", 1, t->id) &&
           store_run(&j->store, e,
                     "INSERT INTO erased (record, kind, stamp) VALUES ($1, $2, $3) "
                     "ON CONFLICT (record) DO UPDATE SET stamp = CASE WHEN excluded.stamp < "
                     "erased.stamp THEN excluded.stamp ELSE erased.stamp END",
                     3, t->id, record_shape(t->kind)->name, stamp);
}

struct draft_hunt {
    const char *id, *label;
    struct text slots; /* NUL-separated */
};

static void hunt_draft(void *with, const char *slot, const char *body, int64_t saved_ms)
{
    struct draft_hunt *hunt = with;
    (void)saved_ms;
    if (strstr(body, hunt->id) || (hunt->label[0] && strstr(body, hunt->label)))
        text_add_bytes(&hunt->slots, slot, strlen(slot) + 1);
}

/* A draft may still hold the name of a customer who is being erased. */
static bool drop_drafts(struct journal *j, enum record_kind kind, const char *id, struct err *e)
{
    struct record r;
    if (kind != RECORD_CUSTOMER || !journal_get(j, kind, id, &r, NULL))
        return true;
    struct draft_hunt hunt = {.id = id, .label = record_text(&r, "label")};
    bool ok = journal_drafts(j, hunt_draft, &hunt, e);
    for (size_t i = 0; ok && i < hunt.slots.length; i += strlen(hunt.slots.at + i) + 1)
        ok = store_run(&j->store, e, "DELETE FROM draft WHERE slot = $1", 1, hunt.slots.at + i);
    text_release(&hunt.slots);
    record_release(&r);
    return ok;
}

bool journal_remove_all(struct journal *j, enum record_kind kind, const char *id, int64_t stamp_ms,
                        size_t *gone, struct err *e)
{
    struct doomed d = {0};
    bool ok = drop_drafts(j, kind, id, e);
    doom(&d, kind, id);
    for (size_t i = 0; ok && i < d.count; i++)
        ok = doom_children(j, &d, i, e);
    for (size_t i = d.count; ok && i-- > 0;)
        ok = remove_one(j, &d.at[i], stamp_ms, e);
    *gone += d.count;
    mem_free(d.at);
    return ok && store_run(&j->store, e,
                           "INSERT INTO meta (key, value) VALUES ('" SCRUB_DUE "', 'yes') "
                           "ON CONFLICT (key) DO NOTHING",
                           0);
}

bool journal_take_erased(struct journal *j, enum record_kind kind, const char *id, int64_t stamp_ms,
                         bool *fresh, struct err *e)
{
    bool erased;
    size_t gone = 0;
    assert(j->depth > 0 && "journal_begin before journal_take_erased");
    *fresh = false;
    if (!record_id_ok(id) || !stamp_ok(stamp_ms)) {
        err_add(e, "The erasure of %.40s is none that letoff wrote; nothing was taken in.", id);
        return false;
    }
    if (!journal_is_erased(j, id, &erased, e))
        return false;
    *fresh = !erased;
    if (stamp_ms > j->newest_ms)
        j->newest_ms = stamp_ms;
    return journal_remove_all(j, kind, id, stamp_ms, &gone, e);
}

bool journal_scrub(struct journal *j, size_t *copies, struct err *e)
{
    size_t none;
    return j->store.back->scrub(&j->store, copies ? copies : &none, e) &&
           store_run(&j->store, e, "DELETE FROM meta WHERE key = '" SCRUB_DUE "'", 0);
}

/* Erased records are gone at the commit; their bytes go in a second step, which a power cut or a
 * reader can prevent.  Then it is done when the journal is opened next. */
void journal_scrub_if_due(struct journal *j)
{
    struct err dropped = {0};
    bool ok;
    char *due = store_one(&j->store, &dropped, &ok,
                          "SELECT value FROM meta WHERE key = '" SCRUB_DUE "'", 0);
    if (due)
        journal_scrub(j, NULL, &dropped);
    mem_free(due);
    err_release(&dropped);
}

bool journal_erase(struct journal *j, enum record_kind kind, const char *id, size_t *gone,
                   size_t *copies, struct err *e)
{
    size_t none = 0, *count = gone ? gone : &none;
    int64_t stamp_ms;
    bool there;
    *count = 0;
    assert(j->depth == 0 && "erasing is a transaction of its own");
    if (!journal_begin(j, e))
        return false;
    bool ok = journal_stamp(j, &stamp_ms, e) && journal_exists(j, kind, id, &there, e);
    if (ok && !there) {
        err_add(e, "There is no %s %s in the journal %s.", record_shape(kind)->name, id,
                j->store.name);
        ok = false;
    }
    if (ok && journal_remove_all(j, kind, id, stamp_ms, count, e))
        return journal_commit(j, e) && journal_scrub(j, copies, e);
    journal_rollback(j);
    return false;
}
