/* journal_postgres.c - the journal on a PostgreSQL server (the only file that names libpq).
 *
 * Everything lies in the schema `letoff` of the database the URL names; the copy kept before a
 * migration from version N lies in the schema `letoff_before_N`.  Writers queue on one row (the
 * stamp of journal.c), so each sees what the one before has committed.
 */
#include "journal/journal_store.h"

#include <libpq-fe.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "mem.h"
#include "text.h"

#define COLUMNS_MOST 32
/* Two desks may create or migrate at once: the lock (its number is "leto") lets one go first. */
#define LOCK_OTHERS_OUT "SELECT pg_advisory_xact_lock(1818588271)"

static PGconn *db_of(const struct store *s)
{
    return s->handle;
}

/* libpq's message without its line breaks, as one clause. */
static void add_clause(struct text *t, const char *message)
{
    size_t length = strcspn(message, "\n");
    while (length > 0 && strchr(". ", message[length - 1]))
        length--;
    text_add_bytes(t, message, length);
}

static void complain(struct store *s, const PGresult *result, struct err *e)
{
    const char *state = result ? PQresultErrorField(result, PG_DIAG_SQLSTATE) : NULL;
    struct text clause = {0};
    add_clause(&clause, PQerrorMessage(db_of(s)));
    if (PQstatus(db_of(s)) != CONNECTION_OK)
        err_device(e,
                   "The connection to the journal %s broke; what was not yet confirmed was not "
                   "written.",
                   s->name);
    else if (state && (strcmp(state, "55P03") == 0 || strcmp(state, "57014") == 0))
        err_device(e,
                   "The journal %s is in use by another desk that does not let go; nothing was "
                   "written, try again in a moment.",
                   s->name);
    else if (state && (strcmp(state, "42501") == 0 || strcmp(state, "25006") == 0))
        err_device(e, "The journal %s may only be read; nothing was written.", s->name);
    else if (state && strncmp(state, "53", 2) == 0)
        err_device(e, "There is no room left for the journal %s; nothing was written.", s->name);
    else
        err_device(e, "The journal %s failed: %s.", s->name, text_cstr(&clause));
    text_release(&clause);
}

static void give_rows(const PGresult *result, store_row *each, void *with)
{
    const char *values[COLUMNS_MOST];
    int columns = PQnfields(result);
    for (int row = 0; row < PQntuples(result); row++) {
        for (int i = 0; i < columns && i < COLUMNS_MOST; i++)
            values[i] = PQgetisnull(result, row, i) ? NULL : PQgetvalue(result, row, i);
        if (!each(with, values))
            return;
    }
}

static bool run(struct store *s, const char *sql, size_t count, const char *const *params,
                store_row *each, void *with, struct err *e)
{
    PGresult *result = PQexecParams(db_of(s), sql, (int)count, NULL, params, NULL, NULL, 0);
    ExecStatusType status = PQresultStatus(result);
    bool ok = status == PGRES_COMMAND_OK || status == PGRES_TUPLES_OK;
    if (!ok)
        complain(s, result, e);
    else if (each)
        give_rows(result, each, with);
    /* COMMIT of a transaction that had failed answers ROLLBACK and no error */
    if (ok && strcmp(sql, "COMMIT") == 0 && strcmp(PQcmdStatus(result), "COMMIT") != 0) {
        err_device(e, "The journal %s could not keep the change; nothing was written.", s->name);
        ok = false;
    }
    PQclear(result);
    return ok;
}

static bool plain(struct store *s, const char *sql, struct err *e)
{
    return run(s, sql, 0, NULL, NULL, NULL, e);
}

static void no_notice(void *with, const PGresult *result)
{
    (void)with;
    (void)result;
}

static bool connect_server(struct store *s, const char *where, struct err *e)
{
    /* later keywords win, so the URL may say otherwise about the first two */
    const char *keys[] = {"connect_timeout", "application_name", "dbname", "client_encoding", NULL};
    const char *values[] = {"5", "letoff", where, "UTF8", NULL};
    PGconn *db = PQconnectdbParams(keys, values, 1);
    struct text name = {0};
    s->handle = db;
    const char *host = db ? PQhost(db) : NULL, *base = db ? PQdb(db) : NULL;
    text_addf(&name, "postgresql://%s/%s", host ? host : "", base ? base : "");
    s->name = name.at;
    if (db && PQstatus(db) == CONNECTION_OK)
        return true;
    struct text clause = {0};
    add_clause(&clause, db ? PQerrorMessage(db) : "no memory");
    err_device(e, "The journal %s cannot be reached: %s.", s->name, text_cstr(&clause));
    text_release(&clause);
    return false;
}

static bool open_server(struct store *s, const char *where, const struct store_options *o,
                        struct err *e)
{
    char wait[64];
    if (!connect_server(s, where, e))
        return false;
    PQsetNoticeReceiver(db_of(s), no_notice, NULL);
    s->read_only = o->read_only;
    snprintf(wait, sizeof wait, "SET lock_timeout = %d", o->busy_ms > 0 ? o->busy_ms : 1);
    return plain(s, wait, e) && plain(s, "SET extra_float_digits = 1", e) &&
           plain(s, "SET search_path = letoff", e) &&
           (!o->read_only || plain(s, "SET default_transaction_read_only = on", e));
}

static void close_server(struct store *s)
{
    PQfinish(db_of(s));
    s->handle = NULL;
}

static bool begin(struct store *s, enum store_begin how, struct err *e)
{
    if (how == STORE_READ)
        return plain(s, "BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY", e);
    if (!plain(s, "BEGIN ISOLATION LEVEL READ COMMITTED", e))
        return false;
    if (how == STORE_WRITE || plain(s, LOCK_OTHERS_OUT, e))
        return true;
    store_rollback(s);
    return false;
}

static int look(struct store *s, struct err *e)
{
    bool ok;
    char *ours = store_one(s, e, &ok,
                           "SELECT count(*) FROM pg_catalog.pg_tables "
                           "WHERE schemaname = 'letoff' AND tablename = 'meta'",
                           0);
    int seen = !ok ? -1 : strcmp(ours, "1") == 0;
    mem_free(ours);
    return seen;
}

static bool prepare(struct store *s, struct err *e)
{
    if (!begin(s, STORE_MIGRATE, e))
        return false;
    s->fresh = true;
    if (plain(s, "CREATE SCHEMA IF NOT EXISTS letoff", e) && plain(s, "COMMIT", e))
        return true;
    store_rollback(s);
    return false;
}

static bool list_table(void *with, const char *const *values)
{
    struct text *names = with;
    text_addf(names, "%s ", values[0]); /* NOLINT(clang-analyzer-core.CallAndMessage): a query of one column */
    return true;
}

static bool copy_tables(struct store *s, const char *schema, const char *names, struct err *e)
{
    struct text sql = {0};
    bool ok = true;
    for (const char *n = names; ok && *n;) {
        size_t length = strcspn(n, " ");
        text_clear(&sql);
        text_addf(&sql, "CREATE TABLE %s.%.*s AS TABLE letoff.%.*s", schema, (int)length, n,
                  (int)length, n);
        ok = plain(s, text_cstr(&sql), e);
        n += length + (n[length] == ' ');
    }
    text_release(&sql);
    return ok;
}

static bool keep_copy(struct store *s, int version, struct err *e)
{
    char schema[48], sql[160];
    struct text names = {0};
    snprintf(schema, sizeof schema, "letoff_before_%d", version);
    snprintf(sql, sizeof sql, "DROP SCHEMA IF EXISTS %s CASCADE", schema);
    bool ok = plain(s, "BEGIN", e) && plain(s, sql, e);
    snprintf(sql, sizeof sql, "CREATE SCHEMA %s", schema);
    ok = ok && plain(s, sql, e) &&
         run(s, "SELECT tablename FROM pg_catalog.pg_tables WHERE schemaname = 'letoff'", 0, NULL,
             list_table, &names, e) &&
         copy_tables(s, schema, text_cstr(&names), e) && plain(s, "COMMIT", e);
    if (!ok) {
        store_rollback(s);
        err_device(e, "The copy %s could not be kept, so the journal was left as it was.", schema);
    }
    text_release(&names);
    return ok;
}

static bool drop_copies(struct store *s, size_t *copies, struct err *e)
{
    struct text names = {0};
    char sql[160];
    bool ok = run(s,
                  "SELECT nspname FROM pg_catalog.pg_namespace "
                  "WHERE nspname ~ '^letoff_before_[0-9]+$'",
                  0, NULL, list_table, &names, e);
    for (const char *n = text_cstr(&names); ok && *n;) {
        int length = (int)strcspn(n, " ");
        snprintf(sql, sizeof sql, "DROP SCHEMA %.*s CASCADE", length, n);
        ok = plain(s, sql, e);
        *copies += ok;
        n += length + (n[length] == ' ');
    }
    text_release(&names);
    return ok;
}

/* VACUUM FULL writes every table anew and gives the old files back; the server's own log and its
 * backups are the keeper's business, which the header of journal.h says. */
static bool scrub(struct store *s, size_t *copies, struct err *e)
{
    struct text names = {0};
    char sql[160];
    *copies = 0;
    bool ok = drop_copies(s, copies, e) &&
              run(s, "SELECT tablename FROM pg_catalog.pg_tables WHERE schemaname = 'letoff'", 0,
                  NULL, list_table, &names, e);
    for (const char *n = text_cstr(&names); ok && *n;) {
        int length = (int)strcspn(n, " ");
        snprintf(sql, sizeof sql, "VACUUM (FULL, ANALYZE) letoff.%.*s", length, n);
        ok = plain(s, sql, e);
        n += length + (n[length] == ' ');
    }
    text_release(&names);
    plain(s, "CHECKPOINT", NULL); /* only a superuser may; the rest is done without it */
    return ok;
}

static bool verify(struct store *s, struct err *e)
{
    struct text names = {0};
    char sql[160];
    bool ok = run(s, "SELECT tablename FROM pg_catalog.pg_tables WHERE schemaname = 'letoff'", 0,
                  NULL, list_table, &names, e);
    for (const char *n = text_cstr(&names); ok && *n;) {
        int length = (int)strcspn(n, " ");
        snprintf(sql, sizeof sql, "SELECT count(t.*) FROM letoff.%.*s t", length, n);
        ok = plain(s, sql, e);
        n += length + (n[length] == ' ');
    }
    text_release(&names);
    return ok;
}

static bool hurry(struct store *s, bool quick, struct err *e)
{
    return plain(s, quick ? "SET synchronous_commit = off" : "SET synchronous_commit = on", e);
}

const struct store_back letoff_annex = {
    .name = "PostgreSQL",
    .open = open_server,
    .close = close_server,
    .run = run,
    .begin = begin,
    .word_int = "BIGINT",
    .word_real = "DOUBLE PRECISION",
    .word_strict = "",
    .look = look,
    .prepare = prepare,
    .keep_copy = keep_copy,
    .scrub = scrub,
    .verify = verify,
    .hurry = hurry,
};
