/* The SQLite file under bad luck: damaged, foreign, locked, read-only, disk full; and what is
 * left in its bytes after a customer was erased. */
#include "suite.h"

#include <errno.h>
#include <fcntl.h>
#include <glob.h>
#include <signal.h>
#include <sqlite3.h>
#include <stdio.h>
#include <string.h>
#include <sys/mount.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include "journal/journal.h"
#include "journal/journal_merge.h"
#include "journal/journal_priv.h"
#include "journal_fixture.h"
#include "mem.h"
#include "random.h"
#include "text.h"

struct place {
    char *folder, *path;
};

static int make_place(void **state)
{
    struct place *p = mem_alloc(sizeof *p);
    fixture_now_ms = NINE_O_CLOCK;
    p->folder = fixture_folder();
    p->path = fixture_path(p->folder, "journal.db");
    *state = p;
    return 0;
}

static int remove_place(void **state)
{
    struct place *p = *state;
    mem_free(p->path);
    fixture_remove(p->folder);
    mem_free(p);
    return 0;
}

static char *read_whole(const char *path, size_t *length)
{
    struct err e = {0};
    char *bytes = text_read_file(path, 100000000, length, &e);
    err_release(&e);
    return bytes;
}

static void write_whole(const char *path, const void *bytes, size_t length)
{
    FILE *f = fopen(path, "wb");
    assert_non_null(f);
    assert_int_equal(fwrite(bytes, 1, length, f), length);
    fclose(f);
}

/* ---- damaged and foreign ------------------------------------------------------------------- */

/* Opens what lies at the path, expects one sentence and the same bytes afterwards. */
static void refused_untouched(const char *path, const char *says)
{
    struct err e = {0};
    size_t before_length, after_length;
    char *before = read_whole(path, &before_length);
    assert_null(journal_open(path, NULL, &e));
    fixture_one_sentence(&e, says);
    char *after = read_whole(path, &after_length);
    assert_int_equal(after_length, before_length);
    assert_memory_equal(after, before, before_length);
    mem_free(before);
    mem_free(after);
}

static void a_file_that_is_no_journal_is_refused_and_left_alone(void **state)
{
    struct place *p = *state;
    static const char letter[] = "Dear sir, the clock strikes thirteen again. ";
    char big[4096];
    for (size_t i = 0; i < sizeof big; i++)
        big[i] = letter[i % (sizeof letter - 1)];
    write_whole(p->path, letter, sizeof letter);
    refused_untouched(p->path, "is no journal of letoff");
    write_whole(p->path, big, sizeof big);
    refused_untouched(p->path, "is no journal of letoff");
}

static void another_programs_database_is_refused_and_left_alone(void **state)
{
    struct place *p = *state;
    sqlite3 *db;
    assert_int_equal(sqlite3_open(p->path, &db), SQLITE_OK);
    sqlite3_exec(db, "CREATE TABLE meta (key, value); INSERT INTO meta VALUES ('version', '1')",
                 NULL, NULL, NULL);
    sqlite3_close(db);
    refused_untouched(p->path, "is a database of another program");
}

static void a_folder_or_a_missing_place_gives_one_sentence(void **state)
{
    struct place *p = *state;
    struct err e = {0};
    struct journal_options reader = {.read_only = true};
    assert_null(journal_open(p->folder, NULL, &e));
    fixture_one_sentence(&e, "is no file");
    assert_null(journal_open("/nowhere/at/all/journal.db", NULL, &e));
    fixture_one_sentence(&e, "cannot be opened");
    assert_null(journal_open(p->path, &reader, &e));
    fixture_one_sentence(&e, "There is no journal");
    assert_int_equal(access(p->path, F_OK), -1);
}

static void fill(struct journal *j, int calls)
{
    char call[33];
    for (int i = 0; i < calls; i++)
        fixture_call(j, NULL, NULL, "strikes one too many, then none, then runs on", call);
}

/* Read all there is, in every way a screen would; damage may show anywhere and must end in
 * sentences. */
static void read_all(struct journal *j, struct err *e)
{
    for (int kind = 0; kind < RECORD_KINDS; kind++) {
        struct record_list list = {0};
        journal_list(j, (enum record_kind)kind, NULL, NULL, NULL, &list, e);
        record_list_release(&list);
    }
    journal_verify(j, e);
}

static void a_damaged_journal_gives_sentences_and_keeps_its_bytes(void **state)
{
    struct place *p = *state;
    struct random chance;
    size_t length;
    struct journal_options reader = {.read_only = true};
    random_init(&chance, 11);
    struct journal *j = fixture_open(p->path);
    fill(j, 40);
    journal_close(j);
    char *whole = read_whole(p->path, &length), *broken = mem_copy_bytes(whole, length);
    int noticed = 0;
    for (int round = 0; round < 60; round++) {
        struct err e = {0};
        size_t kept = round % 3 == 0 ? random_below(&chance, (unsigned)length) : length;
        memcpy(broken, whole, length);
        for (int i = 0; i < 200; i++) /* one page in tatters */
            broken[(random_below(&chance, (unsigned)length / 4096) * 4096 +
                    random_below(&chance, 4096))] = (char)random_below(&chance, 256);
        write_whole(p->path, broken, kept);
        j = journal_open(p->path, round % 2 ? &reader : NULL, &e);
        if (j)
            read_all(j, &e);
        journal_close(j);
        noticed += e.count > 0;
        for (size_t i = 0; i < e.count && i < ERR_MOST; i++)
            assert_non_null(e.line[i]);
        err_release(&e);
        size_t after_length;
        char *after = read_whole(p->path, &after_length);
        if (kept > 0) { /* an empty file is a new journal */
            assert_int_equal(after_length, kept);
            assert_memory_equal(after, broken, kept);
        }
        mem_free(after);
    }
    assert_in_range(noticed, 55, 60); /* 200 wild bytes do not go unnoticed */
    mem_free(whole);
    mem_free(broken);
}

static void merging_a_damaged_journal_changes_nothing(void **state)
{
    struct place *p = *state;
    struct merge_result r;
    struct err e = {0};
    size_t length;
    char *van_path = fixture_path(p->folder, "van.db");
    struct journal *van = fixture_open(van_path), *office = fixture_open(p->path);
    fill(office, 2);
    fill(van, 60);
    journal_close(van);
    char *bytes = read_whole(van_path, &length), *before = fixture_dump(office);
    int noticed = 0;
    for (size_t page = 1; page < length / 4096; page += 2) { /* one page after another wiped out */
        char *broken = mem_copy_bytes(bytes, length);
        memset(broken + page * 4096, 0x5A, 4096);
        write_whole(van_path, broken, length);
        mem_free(broken);
        van = journal_open(van_path, NULL, &e);
        bool merged = van && journal_merge(office, van, &r, &e);
        journal_close(van);
        noticed += !merged;
        assert_true(merged == (e.count == 0));
        err_release(&e);
        char *after = fixture_dump(office);
        if (!merged)
            assert_string_equal(after, before);
        mem_free(before);
        before = after;
    }
    assert_true(noticed > 0);
    assert_true(journal_verify(office, &e));
    mem_free(bytes);
    mem_free(before);
    mem_free(van_path);
    journal_close(office);
}

/* ---- locked, read-only, full ---------------------------------------------------------------- */

static void a_lock_that_stays_gives_one_sentence_and_writes_nothing(void **state)
{
    struct place *p = *state;
    struct err e = {0};
    struct record r;
    char id[33];
    struct journal *holder = fixture_open(p->path);
    struct journal_options o = {.busy_ms = 50};
    struct journal *j = journal_open(p->path, &o, &e);
    fixture_customer(holder, "first", id);
    assert_true(journal_begin(holder, &e));
    record_init(&r, RECORD_CUSTOMER);
    record_set(&r, "label", "second");
    assert_false(journal_put(j, &r, &e));
    assert_true(e.device);
    fixture_one_sentence(&e, "in use by another program");
    assert_string_equal(r.id, "");
    /* reading goes on meanwhile */
    assert_int_equal(fixture_count(j, RECORD_CUSTOMER), 1);
    assert_true(journal_commit(holder, &e));
    assert_true(journal_put(j, &r, &e));
    fixture_no_sentence(&e);
    record_release(&r);
    journal_close(j);
    journal_close(holder);
}

/* In a child that is not root, since root may write anything. */
static int try_read_only(const char *path)
{
    struct err e = {0};
    struct record r;
    if (getuid() == 0 && (setgid(65534) != 0 || setuid(65534) != 0))
        return 1;
    struct journal *j = journal_open(path, NULL, &e);
    if (!j || !journal_read_only(j))
        return 2;
    size_t count = 0;
    if (!journal_count(j, RECORD_CALL, &count, &e) || count != 3)
        return 3;
    record_init(&r, RECORD_CUSTOMER);
    record_set(&r, "label", "never");
    if (journal_put(j, &r, &e) || e.count != 1 || !strstr(e.line[0], "may only be read"))
        return 4;
    record_release(&r);
    err_release(&e);
    if (journal_draft_save(j, "desk", "x", &e) || e.count != 1)
        return 5;
    err_release(&e);
    journal_close(j);
    return 0;
}

static void a_read_only_journal_can_be_read_and_says_why_it_is_not_written(void **state)
{
    struct place *p = *state;
    static const mode_t folder_modes[] = {0755, 0555};
    struct journal *j = fixture_open(p->path);
    fill(j, 3);
    journal_close(j);
    assert_int_equal(chmod(p->path, 0444), 0);
    for (size_t i = 0; i < COUNT_OF(folder_modes); i++) {
        int status;
        assert_int_equal(chmod(p->folder, folder_modes[i]), 0);
        pid_t child = fork();
        if (child == 0)
            _exit(try_read_only(p->path));
        waitpid(child, &status, 0);
        assert_true(WIFEXITED(status));
        assert_int_equal(WEXITSTATUS(status), 0);
    }
    chmod(p->folder, 0755);
}

/* Writes until there is no room; then one sentence, and all that was acknowledged is there. */
static void write_until_full(const char *path, struct err *e, long *written)
{
    struct journal *j = journal_open(path, NULL, e);
    struct text story = {0};
    assert_non_null(j);
    for (int i = 0; i < 2000; i++)
        text_add(&story, "and it strikes ");
    for (*written = 0; *written < 5000 && e->count == 0; ++*written) {
        struct record r;
        record_init(&r, RECORD_CALL);
        record_set(&r, "taken_at", "2026-11-06");
        record_set(&r, "state", "open");
        record_set(&r, "story", text_cstr(&story));
        bool ok = journal_put(j, &r, e);
        record_release(&r);
        if (!ok)
            break;
    }
    text_release(&story);
    journal_close(j);
}

static int fill_the_disk(const char *path)
{
    struct err e = {0};
    long written;
    size_t count = 0;
    write_until_full(path, &e, &written);
    if (e.count != 1 || !e.device || written < 3)
        return 1;
    if (!strstr(e.line[0], "no room left") && !strstr(e.line[0], "full"))
        return 2;
    err_release(&e);
    struct journal_options reader = {.read_only = true};
    struct journal *j = journal_open(path, &reader, &e);
    if (!j || !journal_count(j, RECORD_CALL, &count, &e) || (long)count != written)
        return 3;
    if (!journal_verify(j, &e))
        return 4;
    journal_close(j);
    return 0;
}

static void in_a_child(int (*act)(const char *path), const char *path)
{
    int status;
    pid_t child = fork();
    if (child == 0)
        _exit(act(path));
    waitpid(child, &status, 0);
    assert_true(WIFEXITED(status));
    assert_int_equal(WEXITSTATUS(status), 0);
}

static int fill_under_a_limit(const char *path)
{
    struct rlimit limit = {600000, 600000};
    signal(SIGXFSZ, SIG_IGN);
    if (setrlimit(RLIMIT_FSIZE, &limit) != 0)
        return 9;
    return fill_the_disk(path);
}

static void a_full_disk_gives_one_sentence_and_loses_nothing(void **state)
{
    struct place *p = *state;
    in_a_child(fill_under_a_limit, p->path);
    char *small = fixture_path(p->folder, "small");
    if (mkdir(small, 0700) == 0 && mount("tmpfs", small, "tmpfs", 0, "size=1m") == 0) {
        char *path = fixture_path(small, "journal.db");
        in_a_child(fill_the_disk, path);
        assert_int_equal(umount(small), 0);
        mem_free(path);
    } else
        printf("The small file system is left out: mounting is not allowed here (%s).\n",
               strerror(errno));
    mem_free(small);
}

/* ---- erasing -------------------------------------------------------------------------------- */

#define SECRET "Quartermaine-Ferryhouse"

/* In how many files of the folder the word can be found. */
static int files_with(const char *folder, const char *word)
{
    char *pattern = fixture_path(folder, "*");
    glob_t found;
    int files = 0;
    size_t length;
    assert_int_equal(glob(pattern, 0, NULL, &found), 0);
    for (size_t i = 0; i < found.gl_pathc; i++) {
        char *bytes = read_whole(found.gl_pathv[i], &length);
        files += bytes && length && memmem(bytes, length, word, strlen(word)) != NULL;
        mem_free(bytes);
    }
    globfree(&found);
    mem_free(pattern);
    return files;
}

static void an_erased_customer_is_gone_from_the_bytes_of_every_file(void **state)
{
    struct place *p = *state;
    struct err e = {0};
    char customer[33], clock[33], call[33], other[33];
    size_t gone, copies;
    struct journal *j = fixture_open(p->path);
    fixture_customer(j, SECRET, customer);
    fixture_clock(j, customer, "longcase-rack", clock);
    for (int i = 0; i < 20; i++) {
        fixture_call(j, customer, clock, SECRET " says it strikes", call);
        fixture_edit(j, RECORD_CALL, call, "story", SECRET " says it does not");
        fixture_edit(j, RECORD_CALL, call, "story", "corrected");
    }
    fixture_call(j, NULL, NULL, "of somebody else", other);
    assert_true(journal_draft_save(j, "desk", "3:00 s2 " SECRET, &e));
    assert_true(journal_draft_save(j, "desk 2", "3:00 s3", &e));
    assert_true(j->store.back->keep_copy(&j->store, 1, &e));
    assert_true(j->store.back->keep_copy(&j->store, 1, &e));
    assert_true(files_with(p->folder, SECRET) >= 3);

    assert_true(journal_erase(j, RECORD_CUSTOMER, customer, &gone, &copies, &e));
    fixture_no_sentence(&e);
    assert_int_equal(gone, 22);
    assert_int_equal(copies, 2);
    assert_int_equal(files_with(p->folder, SECRET), 0); /* while it is still open */
    assert_int_equal(files_with(p->folder, "says it strikes"), 0);
    assert_int_equal(fixture_count(j, RECORD_CALL), 1);
    assert_null(journal_draft_load(j, "desk", NULL, &e));
    char *kept = journal_draft_load(j, "desk 2", NULL, &e);
    assert_string_equal(kept, "3:00 s3");
    mem_free(kept);
    journal_close(j);
    assert_int_equal(files_with(p->folder, SECRET), 0);
}

static void erasing_says_when_a_reader_keeps_the_log_from_being_emptied(void **state)
{
    struct place *p = *state;
    struct err e = {0};
    char customer[33];
    struct journal_options o = {.busy_ms = 50};
    struct journal *j = journal_open(p->path, &o, &e);
    fixture_customer(j, SECRET, customer);
    struct journal *reader = journal_open(p->path, &o, &e);
    assert_true(journal_read_begin(reader, &e));
    assert_int_equal(fixture_count(reader, RECORD_CUSTOMER), 1);
    assert_false(journal_erase(j, RECORD_CUSTOMER, customer, NULL, NULL, &e));
    assert_true(e.count >= 1);
    err_release(&e);
    journal_read_end(reader);
    assert_int_equal(fixture_count(j, RECORD_CUSTOMER), 0); /* the record is gone all the same */
    journal_close(reader);
    journal_close(j);
    journal_close(fixture_open(p->path)); /* and with the next opening the bytes too */
    assert_int_equal(files_with(p->folder, SECRET), 0);
}

static void a_new_journal_is_private_and_lies_in_the_data_folder(void **state)
{
    struct place *p = *state;
    struct err e = {0};
    struct stat st;
    char *home = getenv("XDG_DATA_HOME") ? mem_copy_text(getenv("XDG_DATA_HOME")) : NULL;
    setenv("XDG_DATA_HOME", p->folder, 1);
    struct journal *j = journal_open(NULL, NULL, &e);
    fixture_no_sentence(&e);
    char *want = fixture_path(p->folder, "letoff/journal.db");
    assert_string_equal(journal_name(j), want);
    assert_int_equal(stat(want, &st), 0);
    assert_int_equal(st.st_mode & 0777, 0600);
    journal_close(j);
    unsetenv("XDG_DATA_HOME");
    if (home)
        setenv("XDG_DATA_HOME", home, 1);
    mem_free(home);
    mem_free(want);
}

#define AT_PLACE(test) cmocka_unit_test_setup_teardown(test, make_place, remove_place)

int main(void)
{
    const struct CMUnitTest tests[] = {
        AT_PLACE(a_file_that_is_no_journal_is_refused_and_left_alone),
        AT_PLACE(another_programs_database_is_refused_and_left_alone),
        AT_PLACE(a_folder_or_a_missing_place_gives_one_sentence),
        AT_PLACE(a_damaged_journal_gives_sentences_and_keeps_its_bytes),
        AT_PLACE(merging_a_damaged_journal_changes_nothing),
        AT_PLACE(a_lock_that_stays_gives_one_sentence_and_writes_nothing),
        AT_PLACE(a_read_only_journal_can_be_read_and_says_why_it_is_not_written),
        AT_PLACE(a_full_disk_gives_one_sentence_and_loses_nothing),
        AT_PLACE(an_erased_customer_is_gone_from_the_bytes_of_every_file),
        AT_PLACE(erasing_says_when_a_reader_keeps_the_log_from_being_emptied),
        AT_PLACE(a_new_journal_is_private_and_lies_in_the_data_folder),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
