/* A writer is killed (SIGKILL) hundreds of times at random moments: while it makes the journal,
 * types, and turns what was typed into a call.  After each death the file is whole, and holds all
 * that was acknowledged; at most the keystroke in flight is missing.
 *
 * The writer acknowledges each finished change by one byte in a pipe.  Its text is a function of
 * the number of keystrokes, so one number says what must be there. */
#include "suite.h"

#include <fcntl.h>
#include <signal.h>
#include <stdio.h>
#include <string.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#include "journal/journal.h"
#include "journal_fixture.h"
#include "mem.h"
#include "random.h"
#include "text.h"

#define KILLS          250
#define KEYS_OF_A_CALL 12 /* then the draft becomes a call, in one transaction */
#define SLOT           "desk"

static const char typed[] =
    "3:00 s2, 4:00 s*, 5:00 caf\xC3\xA9"; /* at least KEYS_OF_A_CALL bytes */

/* In memory where there is such a folder: a killed process does not notice the difference, and the
 * test does not wait for a thousand writes to a disk. */
static char *kill_folder(void)
{
    char name[] = "/dev/shm/letoff-journal-XXXXXX";
    return mkdtemp(name) ? mem_copy_text(name) : fixture_folder();
}

/* What the draft holds after `key` keystrokes in all; "" right after a call was made of it. */
static void body_after(long key, struct text *out)
{
    long in_call = key % (KEYS_OF_A_CALL + 1);
    text_clear(out);
    if (in_call > 0)
        text_addf(out, "call %ld: %.*s", key / (KEYS_OF_A_CALL + 1), (int)in_call, typed);
}

static bool make_call(struct journal *j, const char *story, struct err *e)
{
    struct record r;
    record_init(&r, RECORD_CALL);
    record_set(&r, "taken_at", "2026-11-06");
    record_set(&r, "state", "open");
    record_set(&r, "story", story);
    bool ok = journal_begin(j, e) && journal_put(j, &r, e) && journal_draft_drop(j, SLOT, e) &&
              journal_commit(j, e);
    record_release(&r);
    return ok;
}

/* Keystroke number key+1. */
static bool strike_key(struct journal *j, long key, struct err *e)
{
    struct text body = {0};
    bool ok;
    if ((key + 1) % (KEYS_OF_A_CALL + 1) == 0) {
        body_after(key, &body);
        ok = make_call(j, text_cstr(&body), e);
    } else {
        body_after(key + 1, &body);
        ok = journal_draft_save(j, SLOT, text_cstr(&body), e);
    }
    text_release(&body);
    return ok;
}

static void write_until_killed(const char *path, long key, int acknowledge)
{
    struct err e = {0};
    struct journal *j = journal_open(path, NULL, &e);
    for (; j && strike_key(j, key, &e); key++)
        if (write(acknowledge, "k", 1) != 1)
            break;
    err_print(&e, stderr);
    _exit(1);
}

static long count_bytes(int fd)
{
    char buffer[4096];
    long count = 0;
    for (ssize_t n; (n = read(fd, buffer, sizeof buffer)) > 0;)
        count += n;
    return count;
}

/* Starts a writer at keystroke `key`, kills it `wait_us` after its start or, if it may type first,
 * after its first acknowledged keystroke; gives the keystrokes it acknowledged. */
static long run_and_kill(const char *path, long key, bool type_first, unsigned wait_us)
{
    int ends[2], status;
    long acknowledged = 0;
    char byte;
    const struct timespec wait = {0, (long)wait_us * 1000};
    assert_int_equal(pipe(ends), 0);
    pid_t writer = fork();
    if (writer == 0) {
        close(ends[0]);
        write_until_killed(path, key, ends[1]);
    }
    close(ends[1]);
    if (type_first)
        acknowledged += read(ends[0], &byte, 1);
    nanosleep(&wait, NULL);
    kill(writer, SIGKILL);
    assert_int_equal(waitpid(writer, &status, 0), writer);
    assert_true(WIFSIGNALED(status)); /* it wrote until the end and never failed by itself */
    acknowledged += count_bytes(ends[0]);
    close(ends[0]);
    return acknowledged;
}

/* The keystrokes the file shows: calls made and the draft in hand; -1 if it fits none. */
static long keys_in(struct journal *j, struct err *e)
{
    size_t calls;
    struct text want = {0};
    assert_true(journal_count(j, RECORD_CALL, &calls, e));
    char *body = journal_draft_load(j, SLOT, NULL, e);
    long key = (long)calls * (KEYS_OF_A_CALL + 1), found = -1;
    for (long in_call = 0; found < 0 && in_call <= KEYS_OF_A_CALL; in_call++) {
        body_after(key + in_call, &want);
        if (strcmp(text_cstr(&want), body ? body : "") == 0)
            found = key + in_call;
    }
    mem_free(body);
    text_release(&want);
    return found;
}

/* Every call holds the whole text that was typed for it. */
static void check_calls(struct journal *j)
{
    struct record_list calls = {0};
    struct err e = {0};
    struct text want = {0};
    assert_true(journal_list(j, RECORD_CALL, NULL, NULL, NULL, &calls, &e));
    for (size_t i = 0; i < calls.count; i++) {
        body_after((long)i * (KEYS_OF_A_CALL + 1) + KEYS_OF_A_CALL, &want);
        assert_string_equal(record_text(&calls.at[i], "story"), text_cstr(&want));
    }
    text_release(&want);
    record_list_release(&calls);
}

static void a_writer_killed_at_any_moment_loses_at_most_the_last_keystroke(void **state)
{
    char *folder = kill_folder(), *path = fixture_path(folder, "journal.db");
    struct random chance;
    long key = 0, in_flight = 0, early = 0;
    random_init(&chance, 20261106);
    (void)state;
    for (int kills = 0; kills < KILLS; kills++) {
        struct err e = {0};
        long acknowledged = run_and_kill(path, key, kills % 4 != 0, random_below(&chance, 5000));
        struct journal *j = journal_open(path, NULL, &e);
        fixture_no_sentence(&e);
        assert_true(journal_verify(j, &e));
        long now = keys_in(j, &e);
        fixture_no_sentence(&e);
        if (now != key + acknowledged && now != key + acknowledged + 1)
            fail_msg("kill %d: %ld keystrokes acknowledged after %ld, the journal shows %ld", kills,
                     acknowledged, key, now);
        in_flight += now == key + acknowledged + 1;
        early += acknowledged == 0;
        key = now;
        if (kills % 50 == 49)
            check_calls(j);
        journal_close(j);
    }
    check_calls((*state = fixture_open(path)));
    journal_close(*state);
    printf(
        "%d kills, %ld keystrokes, %ld finished but not yet acknowledged, %ld before the first\n",
        KILLS, key, in_flight, early);
    assert_true(key > 3 * KILLS); /* the moments of death were spread over real writing */
    mem_free(path);
    fixture_remove(folder);
}

static void a_journal_killed_while_being_made_can_be_opened(void **state)
{
    struct random chance;
    random_init(&chance, 7);
    (void)state;
    for (int kills = 0; kills < 50; kills++) {
        char *folder = kill_folder(), *path = fixture_path(folder, "journal.db");
        struct err e = {0};
        run_and_kill(path, 0, false, random_below(&chance, 6000));
        struct journal *j = journal_open(path, NULL, &e);
        fixture_no_sentence(&e);
        assert_true(journal_verify(j, &e));
        journal_close(j);
        mem_free(path);
        fixture_remove(folder);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_writer_killed_at_any_moment_loses_at_most_the_last_keystroke),
        cmocka_unit_test(a_journal_killed_while_being_made_can_be_opened),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
