#include "journal/journal_schema.h"

#include <stdio.h>
#include <string.h>
#include "mem.h"
#include "text.h"

#define HEAD "id TEXT PRIMARY KEY, updated_ms {int} NOT NULL"
/* Checked at the end of the transaction: a merge brings children and parents in any order. */
#define NAMES(parent) "TEXT REFERENCES " parent "(id) DEFERRABLE INITIALLY DEFERRED"

/* clang-format off */
/* The tables of the records hold the present state; `edit` holds every value ever written to a
 * field with its stamp and is what a merge exchanges; `erased` remembers the ids (and nothing
 * else) of what is gone for good. */
static const char *const first_tables[] = {
    "CREATE TABLE meta (key TEXT PRIMARY KEY, value TEXT){strict}",
    "CREATE TABLE tick (one {int} PRIMARY KEY CHECK (one = 1), stamp {int} NOT NULL){strict}",
    "INSERT INTO tick (one, stamp) VALUES (1, 0)",
    "CREATE TABLE edit (record TEXT NOT NULL, kind TEXT NOT NULL, field TEXT NOT NULL, "
    "stamp {int} NOT NULL, origin TEXT NOT NULL, value TEXT, "
    "PRIMARY KEY (record, field, stamp, origin)){strict}",
    "CREATE TABLE erased (record TEXT PRIMARY KEY, kind TEXT NOT NULL, stamp {int} NOT NULL)"
    "{strict}",
    "CREATE TABLE draft (slot TEXT PRIMARY KEY, body TEXT NOT NULL, saved_ms {int} NOT NULL)"
    "{strict}",
    "CREATE TABLE customer (" HEAD ", label TEXT, note TEXT){strict}",
    "CREATE TABLE clock (" HEAD ", customer " NAMES("customer") ", movement TEXT, label TEXT, "
    "note TEXT){strict}",
    "CREATE TABLE call (" HEAD ", customer " NAMES("customer") ", clock " NAMES("clock") ", "
    "taken_at TEXT, state TEXT, sheet TEXT, story TEXT, history TEXT, desk TEXT, closed_at TEXT, "
    "outcome TEXT, minutes {real}, lesson TEXT, note TEXT){strict}",
    "CREATE TABLE belief (" HEAD ", call " NAMES("call") ", made_at TEXT, fault TEXT, part TEXT, "
    "p {real}){strict}",
    "CREATE TABLE advice (" HEAD ", call " NAMES("call") ", given_at TEXT, action TEXT, text TEXT, "
    "saves_min {real}, followed TEXT, helped TEXT){strict}",
    "CREATE TABLE visit (" HEAD ", call " NAMES("call") ", planned_at TEXT, minutes {real}, "
    "van TEXT, kit TEXT, done TEXT, note TEXT){strict}",
    "CREATE TABLE finding (" HEAD ", call " NAMES("call") ", fault TEXT, part TEXT, class TEXT, "
    "note TEXT){strict}",
    "CREATE TABLE part (" HEAD ", call " NAMES("call") ", name TEXT, count {int}){strict}",
    "CREATE TABLE work (" HEAD ", call " NAMES("call") ", action TEXT, minutes {real}){strict}",
    "CREATE TABLE hearing (" HEAD ", call " NAMES("call") ", what TEXT, trials {int}, "
    "wrong {int}){strict}",
    "CREATE TABLE recording (" HEAD ", call " NAMES("call") ", path TEXT, made_at TEXT, "
    "note TEXT){strict}",
    "CREATE TABLE drill (" HEAD ", trainee TEXT, part TEXT, was_right TEXT, made_at TEXT, "
    "due_at TEXT, interval_days {real}){strict}",
    NULL,
};

static const char *const first_indexes[] = {
    "CREATE INDEX clock_by_customer ON clock (customer)",
    "CREATE INDEX call_by_customer ON call (customer)",
    "CREATE INDEX call_by_clock ON call (clock)",
    "CREATE INDEX call_by_state ON call (state, taken_at)",
    "CREATE INDEX belief_by_call ON belief (call)",
    "CREATE INDEX advice_by_call ON advice (call)",
    "CREATE INDEX visit_by_call ON visit (call)",
    "CREATE INDEX visit_by_time ON visit (planned_at)",
    "CREATE INDEX finding_by_call ON finding (call)",
    "CREATE INDEX part_by_call ON part (call)",
    "CREATE INDEX work_by_call ON work (call)",
    "CREATE INDEX hearing_by_call ON hearing (call)",
    "CREATE INDEX recording_by_call ON recording (call)",
    "CREATE INDEX edit_by_stamp ON edit (stamp)",
    NULL,
};

static const char *const drill_texts[] = {
    "ALTER TABLE drill ADD COLUMN round TEXT",
    "ALTER TABLE drill ADD COLUMN score {int}",
    "ALTER TABLE drill ADD COLUMN note TEXT",
    NULL,
};

/* clang-format on */

const struct migration schema_migrations[] = {
    {"the tables of the first journal", first_tables},
    {"indexes", first_indexes},
    {"what was missed in training", drill_texts},
};
const size_t schema_migration_count = sizeof schema_migrations / sizeof *schema_migrations;

static bool run_statement(struct store *s, const char *statement, struct err *e)
{
    struct text sql = {0};
    for (const char *c = statement; *c; c++) {
        if (strncmp(c, "{int}", 5) == 0)
            text_add(&sql, s->back->word_int), c += 4;
        else if (strncmp(c, "{real}", 6) == 0)
            text_add(&sql, s->back->word_real), c += 5;
        else if (strncmp(c, "{strict}", 8) == 0)
            text_add(&sql, s->back->word_strict), c += 7;
        else
            text_add_bytes(&sql, c, 1);
    }
    bool ok = store_run(s, e, text_cstr(&sql), 0);
    text_release(&sql);
    return ok;
}

/* -1 and a sentence if it cannot be told. */
static long version_of(struct store *s, struct err *e)
{
    bool ok;
    long version = -1;
    int seen = s->back->look(s, e);
    if (seen <= 0)
        return seen;
    char *value = store_one(s, e, &ok, "SELECT value FROM meta WHERE key = 'version'", 0);
    if (ok && !(value && text_int(value, &version) && version >= 0)) {
        err_device(e, "The journal %s does not say which version it is; nothing was changed.",
                   s->name);
        version = -1;
    }
    mem_free(value);
    return version;
}

static bool run_all(struct store *s, const struct migration *migrations, long from, size_t count,
                    struct err *e)
{
    char number[24];
    for (size_t m = (size_t)from; m < count; m++)
        for (size_t i = 0; migrations[m].statements[i]; i++)
            if (!run_statement(s, migrations[m].statements[i], e)) {
                err_device(e,
                           "Bringing the journal %s to version %zu (%s) failed, so it was left as "
                           "it was.",
                           s->name, m + 1, migrations[m].about);
                return false;
            }
    snprintf(number, sizeof number, "%zu", count);
    return store_run(s, e,
                     "INSERT INTO meta (key, value) VALUES ('version', $1) "
                     "ON CONFLICT (key) DO UPDATE SET value = excluded.value",
                     1, number);
}

/* The version again inside the transaction: another desk may have been quicker. */
static bool migrate_now(struct store *s, const struct migration *migrations, long from,
                        size_t count, struct err *e)
{
    if (!store_begin(s, STORE_MIGRATE, e))
        return false;
    long now = version_of(s, e);
    if (now == from && run_all(s, migrations, from, count, e))
        return store_commit(s, e);
    if (now > from) {
        store_rollback(s);
        return schema_migrate(s, migrations, count, e);
    }
    store_rollback(s);
    return false;
}

bool schema_migrate(struct store *s, const struct migration *migrations, size_t count,
                    struct err *e)
{
    long version = version_of(s, e);
    if (version < 0)
        return false;
    if (version == (long)count)
        return true;
    if (version > (long)count) {
        err_add(e,
                "The journal %s was written by a newer letoff (version %ld, this one knows up to "
                "%zu); nothing was changed.",
                s->name, version, count);
        return false;
    }
    if (s->read_only) {
        err_device(e,
                   version == 0
                       ? "There is no journal in %s yet, and it may only be read."
                       : "The journal %s is of an older version and may only be read; open "
                         "it once where it may be written.",
                   s->name);
        return false;
    }
    if (version == 0 && !s->back->prepare(s, e))
        return false;
    if (version > 0 && !(s->back->verify(s, e) && s->back->keep_copy(s, (int)version, e)))
        return false;
    return migrate_now(s, migrations, version, count, e);
}
