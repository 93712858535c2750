/* journal_sqlite.c - the journal in one SQLite file (the only file that names SQLite).
 *
 * Beside `journal.db` SQLite keeps `journal.db-wal` and `journal.db-shm` while it is open, and
 * we keep `journal.db.before-N` from the migration away from version N.
 *
 * Write-ahead log: a writer killed at any moment leaves whole transactions only, and readers
 * are never in the way of the desk.  synchronous=FULL presses every record onto the disk when it
 * is committed; a keystroke may use NORMAL, which a killed process survives as well and
 * only a power cut can cost (journal_draft_save presses at least once a second).
 */
#include "journal/journal_store.h"

#include <errno.h>
#include <fcntl.h>
#include <glob.h>
#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>
#include "mem.h"
#include "text.h"

#define COLUMNS_MOST   32
#define APPLICATION_ID "1818588271" /* "leto" in four bytes: this file is one of ours */

static sqlite3 *db_of(const struct store *s)
{
    return s->handle;
}

/* One sentence for what went wrong, in the shop's words. */
static void complain(struct store *s, int code, struct err *e)
{
    int why = errno;
    const char *detail = s->handle ? sqlite3_errmsg(db_of(s)) : sqlite3_errstr(code);
    switch (code & 0xff) {
    case SQLITE_BUSY:
    case SQLITE_LOCKED:
        err_device(e,
                   "The journal %s is in use by another program that does not let go; nothing "
                   "was written, try again in a moment.",
                   s->name);
        break;
    case SQLITE_READONLY:
        err_device(e, "The journal %s may only be read; nothing was written.", s->name);
        break;
    case SQLITE_FULL:
        err_device(e,
                   "There is no room left for the journal %s; nothing was written and what it "
                   "holds is unharmed.",
                   s->name);
        break;
    case SQLITE_IOERR:
        err_device(e,
                   "The disk failed or is full under the journal %s (%s); nothing was "
                   "written.",
                   s->name, sqlite3_errstr(code));
        break;
    case SQLITE_CORRUPT:
        err_device(e,
                   "The journal %s is damaged (%s); nothing was changed, keep the file and go on "
                   "with a copy.",
                   s->name, detail);
        break;
    case SQLITE_NOTADB:
        err_device(e, "%s is no journal of letoff; nothing was changed.", s->name);
        break;
    case SQLITE_CANTOPEN:
        err_device(e, "The journal %s cannot be opened (%s).", s->name,
                   why ? strerror(why) : detail);
        break;
    default:
        err_device(e, "The journal %s failed: %s.", s->name, detail);
    }
}

static bool bind_all(sqlite3_stmt *st, size_t count, const char *const *params, int *code)
{
    char name[24];
    for (size_t i = 0; i < count && *code == SQLITE_OK; i++) {
        snprintf(name, sizeof name, "$%zu", i + 1);
        int at = sqlite3_bind_parameter_index(st, name);
        if (at > 0 && params[i])
            *code = sqlite3_bind_text(st, at, params[i], -1, SQLITE_STATIC);
    }
    return *code == SQLITE_OK;
}

static bool give_row(sqlite3_stmt *st, store_row *each, void *with)
{
    const char *values[COLUMNS_MOST];
    int columns = sqlite3_column_count(st);
    for (int i = 0; i < columns && i < COLUMNS_MOST; i++)
        values[i] = (const char *)sqlite3_column_text(st, i);
    return each(with, values);
}

static bool run(struct store *s, const char *sql, size_t count, const char *const *params,
                store_row *each, void *with, struct err *e)
{
    sqlite3_stmt *st = NULL;
    int code = sqlite3_prepare_v2(db_of(s), sql, -1, &st, NULL);
    if (code == SQLITE_OK && bind_all(st, count, params, &code)) {
        while ((code = sqlite3_step(st)) == SQLITE_ROW)
            if (each && !give_row(st, each, with))
                break;
        if (code == SQLITE_ROW || code == SQLITE_DONE)
            code = SQLITE_OK;
    }
    if (code != SQLITE_OK)
        complain(s, code, e);
    sqlite3_finalize(st);
    return code == SQLITE_OK;
}

static bool plain(struct store *s, const char *sql, struct err *e)
{
    return run(s, sql, 0, NULL, NULL, NULL, e);
}

static bool is_writable(const char *path)
{
    return access(path, W_OK) == 0;
}

static bool folder_writable(const char *path)
{
    char *copy = mem_copy_text(path);
    char *slash = strrchr(copy, '/');
    if (slash)
        slash[slash == copy] = '\0';
    bool ok = is_writable(slash ? copy : ".");
    mem_free(copy);
    return ok;
}

static bool log_waits(const char *path)
{
    struct text log = {0};
    struct stat st;
    text_addf(&log, "%s-wal", path);
    bool waits = stat(text_cstr(&log), &st) == 0 && st.st_size > 0;
    text_release(&log);
    return waits;
}

/* A file in a folder nobody may write cannot get the shared memory of the write-ahead log; if no
 * log is waiting it can be read as it stands, as an unchanging file. */
static char *uri_of(const char *path, bool unchanging)
{
    struct text uri = {0};
    text_add(&uri, "file:");
    if (path[0] == '/')
        text_add(&uri, "//"); /* so that "//host" cannot be read out of a path */
    for (const char *c = path; *c; c++) {
        if (strchr("?#%", *c))
            text_addf(&uri, "%%%02X", (unsigned char)*c);
        else
            text_add_bytes(&uri, c, 1);
    }
    if (unchanging)
        text_add(&uri, "?immutable=1");
    return uri.at;
}

/* A new file is for its user only; SQLite gives its log the same rights. */
static bool make_private(struct store *s, const char *path, struct err *e)
{
    int fd = open(path, O_RDWR | O_CREAT | O_EXCL | O_CLOEXEC, 0600);
    if (fd < 0 && errno != EEXIST) {
        complain(s, SQLITE_CANTOPEN, e);
        return false;
    }
    if (fd >= 0)
        close(fd);
    return true;
}

static bool connect_file(struct store *s, const char *path, const struct store_options *o,
                         struct err *e)
{
    struct stat st;
    bool there = stat(path, &st) == 0;
    sqlite3 *db = NULL;
    if (there && !S_ISREG(st.st_mode)) {
        err_add(e, "%s is no file, expected a journal.", path);
        return false;
    }
    if (!there && (o->must_exist || o->read_only)) {
        err_device(e, "There is no journal %s.", path);
        return false;
    }
    s->fresh = !there || st.st_size == 0;
    if (!there && !make_private(s, path, e))
        return false;
    bool locked_away = there && (!is_writable(path) || !folder_writable(path));
    s->read_only = o->read_only || locked_away;
    int flags = s->read_only ? SQLITE_OPEN_READONLY : SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE;
    char *uri = uri_of(path, locked_away && !log_waits(path));
    errno = 0;
    int code = sqlite3_open_v2(uri, &db, flags | SQLITE_OPEN_URI, NULL);
    mem_free(uri);
    s->handle = db;
    if (code != SQLITE_OK)
        complain(s, code, e);
    return code == SQLITE_OK;
}

static bool open_file(struct store *s, const char *where, const struct store_options *o,
                      struct err *e)
{
    s->name = mem_copy_text(where);
    if (!connect_file(s, where, o, e))
        return false;
    sqlite3 *db = db_of(s);
    sqlite3_extended_result_codes(db, 1);
    sqlite3_busy_timeout(db, o->busy_ms);
    sqlite3_db_config(db, SQLITE_DBCONFIG_DEFENSIVE, 1, NULL);
    sqlite3_db_config(db, SQLITE_DBCONFIG_TRUSTED_SCHEMA, 0, NULL);
    return plain(s, "PRAGMA foreign_keys = ON", e) && plain(s, "PRAGMA cell_size_check = ON", e) &&
           plain(s, "PRAGMA secure_delete = ON", e) && plain(s, "PRAGMA synchronous = FULL", e);
}

static void close_file(struct store *s)
{
    sqlite3_close_v2(db_of(s));
    s->handle = NULL;
}

static bool begin(struct store *s, enum store_begin how, struct err *e)
{
    return plain(s, how == STORE_READ ? "BEGIN" : "BEGIN IMMEDIATE", e);
}

static int look(struct store *s, struct err *e)
{
    bool ok;
    char *ours = store_one(s, e, &ok, "SELECT count(*) FROM sqlite_schema WHERE name = 'meta'", 0);
    char *all = ok ? store_one(s, e, &ok, "SELECT count(*) FROM sqlite_schema", 0) : NULL;
    char *mark = ok ? store_one(s, e, &ok, "PRAGMA application_id", 0) : NULL;
    int seen = -1;
    if (ok && strcmp(all, "0") == 0)
        seen = 0;
    else if (ok && strcmp(ours, "1") == 0 && strcmp(mark, APPLICATION_ID) == 0)
        seen = 1;
    else if (ok)
        err_device(e,
                   "%s is a database of another program, no journal of letoff; nothing was "
                   "changed.",
                   s->name);
    mem_free(ours);
    mem_free(all);
    mem_free(mark);
    return seen;
}

/* Mark and log mode of a new file; both are harmless to repeat.  Going over to the log does not
 * wait for another desk that does the same at this moment, so we do. */
static bool prepare(struct store *s, struct err *e)
{
    if (!plain(s, "PRAGMA application_id = " APPLICATION_ID, e))
        return false;
    for (int tries = 0; tries < 50; tries++) {
        if (plain(s, "PRAGMA journal_mode = WAL", NULL))
            return true;
        sqlite3_sleep(20);
    }
    return plain(s, "PRAGMA journal_mode = WAL", e);
}

/* A name for the copy that is not taken yet. */
static char *copy_name(const char *path, int version)
{
    struct text name = {0};
    text_addf(&name, "%s.before-%d", path, version);
    for (int n = 2; access(text_cstr(&name), F_OK) == 0 && n < 1000; n++) {
        text_clear(&name);
        text_addf(&name, "%s.before-%d.%d", path, version, n);
    }
    return name.at;
}

static bool keep_copy(struct store *s, int version, struct err *e)
{
    char *copy = copy_name(s->name, version);
    const char *params[] = {copy};
    bool ok = run(s, "VACUUM INTO $1", 1, params, NULL, NULL, e);
    if (!ok)
        err_device(e, "The copy %s could not be kept, so the journal was left as it was.", copy);
    mem_free(copy);
    return ok;
}

/* Overwrites a kept copy before its name goes, as far as the file system writes in place. */
static bool shred(const char *path)
{
    static const char zeros[65536];
    struct stat st;
    int fd = open(path, O_WRONLY | O_NOFOLLOW | O_CLOEXEC);
    if (fd < 0 || fstat(fd, &st) != 0)
        return false;
    for (off_t done = 0; done < st.st_size;) {
        size_t want =
            st.st_size - done < (off_t)sizeof zeros ? (size_t)(st.st_size - done) : sizeof zeros;
        ssize_t n = write(fd, zeros, want);
        if (n <= 0)
            break;
        done += n;
    }
    fsync(fd);
    close(fd);
    return unlink(path) == 0;
}

static bool is_copy(const char *name, size_t stem)
{
    const char *tail = name + stem; /* digits, perhaps a dot and more digits */
    return *tail && strspn(tail, "0123456789.") == strlen(tail);
}

static bool shred_copies(struct store *s, size_t *copies, struct err *e)
{
    struct text stem = {0}, pattern = {0};
    text_addf(&stem, "%s.before-", s->name);
    for (const char *c = text_cstr(&stem); *c; c++)
        text_addf(&pattern, strchr("*?[]\\", *c) ? "\\%c" : "%c", *c);
    text_add(&pattern, "*");
    glob_t found = {0};
    bool ok = true;
    if (glob(text_cstr(&pattern), 0, NULL, &found) == 0)
        for (size_t i = 0; i < found.gl_pathc; i++) {
            if (!is_copy(found.gl_pathv[i], stem.length))
                continue;
            if (shred(found.gl_pathv[i]))
                (*copies)++;
            else {
                err_device(e, "The old copy %s could not be removed.", found.gl_pathv[i]);
                ok = false;
            }
        }
    globfree(&found);
    text_release(&stem);
    text_release(&pattern);
    return ok;
}

static bool log_emptied(void *with, const char *const *values)
{
    *(bool *)with = values[0] && strcmp(values[0], "0") == 0;
    return false;
}

static bool scrub(struct store *s, size_t *copies, struct err *e)
{
    bool emptied = false;
    *copies = 0;
    if (!shred_copies(s, copies, e) || !plain(s, "VACUUM", e))
        return false;
    if (!run(s, "PRAGMA wal_checkpoint(TRUNCATE)", 0, NULL, log_emptied, &emptied, e))
        return false;
    if (!emptied)
        err_device(e,
                   "Another program still reads the journal %s, so its log could not be emptied; "
                   "close the other program and erase again.",
                   s->name);
    return emptied;
}

static bool first_problem(void *with, const char *const *values)
{
    char **problem = with;
    if (values[0] && strcmp(values[0], "ok") != 0)
        *problem = mem_copy_text(values[0]);
    return false;
}

static bool loose_end(void *with, const char *const *values)
{
    char **problem = with;
    *problem = mem_copy_text(values[0] ? values[0] : "a table");
    return false;
}

static bool verify(struct store *s, struct err *e)
{
    char *problem = NULL, *loose = NULL;
    bool ok = run(s, "PRAGMA integrity_check(1)", 0, NULL, first_problem, &problem, e) &&
              run(s, "PRAGMA foreign_key_check", 0, NULL, loose_end, &loose, e);
    if (ok && problem)
        err_device(e,
                   "The journal %s is damaged (%s); nothing was changed, keep the file and go on "
                   "with a copy.",
                   s->name, problem);
    else if (ok && loose)
        err_device(e, "The journal %s is damaged: a record of %s names one that is not there.",
                   s->name, loose);
    ok = ok && !problem && !loose;
    mem_free(problem);
    mem_free(loose);
    return ok;
}

static bool hurry(struct store *s, bool quick, struct err *e)
{
    return plain(s, quick ? "PRAGMA synchronous = NORMAL" : "PRAGMA synchronous = FULL", e);
}

const struct store_back store_sqlite = {
    .name = "SQLite",
    .open = open_file,
    .close = close_file,
    .run = run,
    .begin = begin,
    .word_int = "INTEGER",
    .word_real = "REAL",
    .word_strict = " STRICT",
    .look = look,
    .prepare = prepare,
    .keep_copy = keep_copy,
    .scrub = scrub,
    .verify = verify,
    .hurry = hurry,
};
