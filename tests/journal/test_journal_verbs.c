/* `letoff journal ...` from its words to what it prints, on a journal in a temporary folder. */
#include "suite.h"

#include <fcntl.h>
#include <jansson.h>
#include <stdio.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#include "command/command.h"
#include "command/lessons.h"
#include "err.h"
#include "journal_fixture.h"
#include "mem.h"
#include "text.h"

#define WORDS_MOST 24

static char *folder, *place, *said_path, *told_path;

static int make_shop(void **state)
{
    (void)state;
    folder = fixture_folder();
    place = fixture_path(folder, "journal.db");
    said_path = fixture_path(folder, "said");
    told_path = fixture_path(folder, "told");
    return 0;
}

static int remove_shop(void **state)
{
    (void)state;
    mem_free(place);
    mem_free(said_path);
    mem_free(told_path);
    fixture_remove(folder);
    return 0;
}

static void send_to(const char *path, int fd)
{
    int file = open(path, O_WRONLY | O_CREAT | O_TRUNC, 0600);
    dup2(file, fd);
    close(file);
}

/* Runs the program in a child; `line` is cut at '|' and goes to the journal unless it begins with
 * '!' and another verb.  *said is what it printed (mem_free). */
static int run(const char *line, char **said, char **told)
{
    struct err e = {0};
    int status;
    size_t length;
    pid_t child = fork();
    if (child == 0) {
        char *argv[WORDS_MOST] = {"letoff", "journal"};
        char *copy = mem_copy_text(line[0] == '!' ? line + 1 : line);
        int argc = line[0] == '!' ? 1 : 2;
        for (char *w; argc < WORDS_MOST && (w = strsep(&copy, "|"));)
            argv[argc++] = w;
        send_to(said_path, STDOUT_FILENO);
        send_to(told_path, STDERR_FILENO);
        fflush(NULL);
        status = command_run(argc, argv, NULL);
        fflush(NULL);
        _exit(status);
    }
    waitpid(child, &status, 0);
    assert_true(WIFEXITED(status));
    *said = text_read_file(said_path, 10000000, &length, &e);
    *told = text_read_file(told_path, 10000000, &length, &e);
    err_release(&e);
    return WEXITSTATUS(status);
}

/* Expects success and no sentence; mem_free what it printed. */
static char *does(const char *line)
{
    char *said, *told;
    int status = run(line, &said, &told);
    if (status != 0 || (told && told[0]))
        fail_msg("%s: status %d, %s", line, status, told ? told : "");
    mem_free(told);
    return said ? said : mem_copy_text("");
}

/* Expects the status and one line on standard error with `part`. */
static void refuses(const char *line, int want, const char *part)
{
    char *said, *told;
    int status = run(line, &said, &told);
    const char *sentence = told ? told : "";
    if (status != want || !strstr(sentence, part))
        fail_msg("%s: status %d, \"%s\", expected %d with \"%s\"", line, status, sentence, want, part);
    assert_ptr_equal(strchr(sentence, '\n'), sentence + strlen(sentence) - 1); /* one line */
    mem_free(said);
    mem_free(told);
}

static json_t *does_json(const char *line)
{
    char *said = does(line);
    json_t *value = json_loads(said, 0, NULL);
    assert_non_null(value);
    mem_free(said);
    return value;
}

static char *with_place(const char *line)
{
    struct text t = {0};
    text_addf(&t, "%s|--journal|%s", line, place);
    return t.at;
}

static char *did(const char *line)
{
    char *full = with_place(line), *said = does(full);
    mem_free(full);
    return said;
}

static void did_quietly(const char *line)
{
    mem_free(did(line));
}

static json_t *did_json(const char *line)
{
    struct text t = {0};
    text_addf(&t, "%s|--json|--journal|%s", line, place);
    json_t *value = does_json(text_cstr(&t));
    text_release(&t);
    return value;
}

static void refused(const char *line, int want, const char *part)
{
    char *full = with_place(line);
    refuses(full, want, part);
    mem_free(full);
}

/* Takes a call; the first eight digits of its id. */
static void take(const char *words, char id[9])
{
    struct text t = {0};
    text_addf(&t, "add|%s", words);
    char *said = did(text_cstr(&t));
    assert_int_equal(strlen(said), 33);
    snprintf(id, 9, "%.8s", said);
    mem_free(said);
    text_release(&t);
}

static void line_with(const char *form, const char *id, void (*act)(const char *))
{
    char line[512];
    snprintf(line, sizeof line, form, id);
    act(line);
}

static void a_job_goes_from_the_call_to_what_it_taught(void **state)
{
    char id[9], line[256];
    (void)state;
    take("--customer|Mill Lane|--clock|longcase-rack|--story|strikes 2 at 3|--history|moved_house",
         id);
    line_with("advice|%s|Listen at four.|--action|hear_four|--saves|10", id, did_quietly);
    line_with("plan|%s|2026-11-26T09:00|--van|Heron|--kit|tail pin|--kit|key", id, did_quietly);
    json_t *visits = did_json("visits|2026-11-26");
    assert_int_equal(json_array_size(visits), 1);
    assert_string_equal(json_string_value(json_object_get(json_array_get(visits, 0), "kit")),
                        "tail pin\nkey");
    json_decref(visits);
    line_with(
        "close|%s|--found|tail-angle-short|--part|taper pin=2|--work|travel=25|--heard|count=1/5",
        id, did_quietly);
    snprintf(line, sizeof line, "show|%s", id);
    json_t *job = did_json(line), *finding = json_array_get(json_object_get(job, "finding"), 0);
    assert_string_equal(json_string_value(json_object_get(finding, "part")), "rack tail");
    assert_string_equal(json_string_value(json_object_get(json_object_get(job, "call"), "outcome")),
                        "visit");
    json_decref(job);

    json_t *lessons = did_json("learn"), *row;
    size_t i;
    bool seen = false;
    assert_int_equal(json_integer_value(json_object_get(lessons, "jobs")), 1);
    json_array_foreach(json_object_get(lessons, "rows"), i, row)
    {
        if (strcmp(json_string_value(json_object_get(row, "fault")), "tail-angle-short") != 0)
            continue;
        seen = true;
        assert_true(json_real_value(json_object_get(row, "after")) >
                    json_real_value(json_object_get(row, "before")));
    }
    assert_true(seen);
    json_decref(lessons);
    snprintf(line, sizeof line, "learn|--undo|%s", id);
    lessons = did_json(line);
    assert_int_equal(json_integer_value(json_object_get(lessons, "jobs")), 0);
    assert_int_equal(json_integer_value(json_object_get(lessons, "left_out")), 1);
    json_decref(lessons);
    json_t *stats = did_json("stats");
    assert_int_equal(json_integer_value(json_object_get(stats, "closed")), 1);
    json_decref(stats);
    json_t *found = did_json("find|mill|tail-angle");
    assert_int_equal(json_array_size(found), 1);
    json_decref(found);
}

/* p of a fault in the answer of `letoff find`. */
static double p_found(const char *words, const char *fault)
{
    struct text line = {0};
    double p = 0;
    json_t *cause;
    size_t i;
    text_addf(&line, "!find|--clock|longcase-rack|--heard|3:00 s2, 4:00 s3%s", words);
    json_t *answer = did_json(text_cstr(&line));
    json_array_foreach(json_object_get(answer, "causes"), i, cause)
    {
        const char *id = json_string_value(json_array_get(json_object_get(cause, "faults"), 0));
        if (id && strcmp(id, fault) == 0)
            p += json_real_value(json_object_get(cause, "p"));
    }
    json_decref(answer);
    text_release(&line);
    return p;
}

static void the_finder_believes_what_the_shops_jobs_taught(void **state)
{
    static const char fault[] = "tail-angle-short";
    char id[9];
    (void)state;
    take("--story|first call makes the journal", id);
    double before = p_found("", fault);
    for (int i = 0; i < 12; i++) {
        take("--clock|longcase-rack|--story|x", id);
        line_with("close|%s|--found|tail-angle-short", id, did_quietly);
    }
    double after = p_found("", fault);
    assert_true(before > 0 && after > before * 1.3);
    assert_near(p_found("|--shipped", fault), before, 1e-9);
    did_quietly("learn|--off");
    assert_near(p_found("", fault), before, 1e-9);
}

static void a_call_is_kept_with_what_was_believed(void **state)
{
    (void)state;
    did_quietly("!find|--clock|longcase-rack|--heard|3:00 s2, 4:00 s3|--customer|Mill Lane");
    json_t *list = did_json("find|mill"), *row = json_array_get(list, 0);
    char line[128];
    snprintf(line, sizeof line, "show|%s", json_string_value(json_object_get(row, "call")));
    json_t *job = did_json(line), *beliefs = json_object_get(job, "belief"), *belief;
    size_t i;
    double sum = 0;
    json_array_foreach(beliefs, i, belief) sum += json_real_value(json_object_get(belief, "p"));
    assert_true(sum > 0.9 && sum <= 1 + 1e-9);
    assert_non_null(strstr(
        json_string_value(json_object_get(json_object_get(job, "call"), "sheet")), "heard:"));
    assert_int_equal(json_array_size(json_object_get(job, "advice")), 1);
    json_decref(job);
    json_decref(list);
}

static void a_journal_leaves_and_comes_back_in_every_format(void **state)
{
    char id[9], line[512];
    (void)state;
    take("--customer|Quay 3|--story|runs on", id);
    snprintf(line, sizeof line, "export|--out|%s/all.jsonl", folder);
    did_quietly(line);
    snprintf(line, sizeof line, "export|--as|csv|--out|%s/csv", folder);
    did_quietly(line);
    char *calendar = did("export|--as|ics");
    assert_non_null(strstr(calendar, "BEGIN:VCALENDAR\r\n"));
    mem_free(calendar);
    snprintf(line, sizeof line, "import|%s/all.jsonl|%s/csv/customer.csv|--journal|%s/second.db",
             folder, folder, folder);
    mem_free(does(line));
    snprintf(line, sizeof line, "find|quay|--json|--journal|%s/second.db", folder);
    json_t *found = does_json(line);
    assert_int_equal(json_array_size(found), 1);
    json_decref(found);
    snprintf(line, sizeof line, "merge|%s/second.db|--both", folder);
    json_t *merged = did_json(line);
    assert_int_equal(json_integer_value(json_object_get(merged, "records")), 0);
    json_decref(merged);
}

static void an_erased_customer_needs_yes_and_is_gone(void **state)
{
    char id[9];
    (void)state;
    take("--customer|Ferry House|--story|x", id);
    refused("erase|Ferry House", EXIT_BAD_INPUT, "Nothing was erased; add --yes");
    json_t *gone = did_json("erase|Ferry House|--yes");
    assert_int_equal(json_integer_value(json_object_get(gone, "records")), 2);
    json_decref(gone);
    json_t *found = did_json("find|ferry");
    assert_int_equal(json_array_size(found), 0);
    json_decref(found);
    char *sound = did("check");
    assert_non_null(strstr(sound, "is sound"));
    mem_free(sound);
}

static void wrong_words_give_one_sentence_and_the_right_status(void **state)
{
    char id[9], line[256];
    (void)state;
    take("--story|x", id);
    static const struct {
        const char *line;
        int status;
        const char *says;
    } rows[] = {
        {"fnd", EXIT_BAD_INPUT, "the nearest is \"find\""},
        {"show|zzzz", EXIT_BAD_INPUT, "is no id of a call"},
        {"show|0000000000", EXIT_BAD_INPUT, "There is no call 0000000000"},
        {"add|--at|soon", EXIT_BAD_INPUT, "taken_at is \"soon\""},
        {"add|--sheet|/nowhere/sheet.yaml", EXIT_DEVICE, "/nowhere/sheet.yaml"},
        {"export|--as|xls", EXIT_BAD_INPUT, "expected jsonl, csv or ics"},
        {"export|--as|csv", EXIT_BAD_INPUT, "name a folder with --out"},
        {"export|--as|csv|--kind|dial", EXIT_BAD_INPUT, "\"dial\" is no kind"},
        {"import|/nowhere.csv", EXIT_DEVICE, "/nowhere.csv"},
        {"merge|/nowhere.db", EXIT_DEVICE, "There is no journal /nowhere.db"},
        {"learn|--on|--off", EXIT_BAD_INPUT, "given together"},
        {"erase|Nobody at all", EXIT_BAD_INPUT, "is no id of a customer"},
        {"visits|tomorrow", EXIT_BAD_INPUT, "is no day"},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++)
        refused(rows[i].line, rows[i].status, rows[i].says);
    refuses("list|--journal|/etc/passwd", EXIT_DEVICE, "is no journal of letoff");
    snprintf(line, sizeof line, "close|%s|--found|tail-angle-shrt", id);
    refused(line, EXIT_BAD_INPUT, "the nearest is \"tail-angle-short\"");
    snprintf(line, sizeof line, "close|%s|--heard|count=9", id);
    refused(line, EXIT_BAD_INPUT, "expected WHAT=WRONG/CHECKED");
}

static void every_verb_has_its_help(void **state)
{
    static const char *const verbs[] = {"add",    "list",   "show",  "advice", "plan",  "visits",
                                        "close",  "reopen", "find",  "stats",  "learn", "export",
                                        "import", "merge",  "erase", "check",  "schema"};
    (void)state;
    char *all = does("--help");
    for (size_t i = 0; i < COUNT_OF(verbs); i++) {
        char line[64];
        snprintf(line, sizeof line, "%s|--help", verbs[i]);
        char *said = does(line);
        assert_non_null(strstr(said, verbs[i]));
        assert_non_null(strstr(all, verbs[i]));
        mem_free(said);
    }
    mem_free(all);
}

static void shipped_priors_cover_every_clock_and_sum_to_one(void **state)
{
    struct err e = {0};
    (void)state;
    struct library *lib = library_load(NULL, &e);
    fixture_no_sentence(&e);
    struct learn *l = lessons_shipped(lib, NULL);
    assert_true(library_clocks(lib) > 0);
    for (size_t c = 0; c < library_clocks(lib); c++) {
        double sum = 0;
        for (size_t f = 0; f < library_faults(lib); f++)
            sum += learn_p(l, library_clock(lib, c)->id, NULL, library_fault(lib, f)->id);
        assert_near(sum, 1, 1e-9);
    }
    learn_free(l);
    library_free(lib);
}

#define IN_SHOP(test) cmocka_unit_test_setup_teardown(test, make_shop, remove_shop)

int main(void)
{
    const struct CMUnitTest tests[] = {
        IN_SHOP(a_job_goes_from_the_call_to_what_it_taught),
        IN_SHOP(the_finder_believes_what_the_shops_jobs_taught),
        IN_SHOP(a_call_is_kept_with_what_was_believed),
        IN_SHOP(a_journal_leaves_and_comes_back_in_every_format),
        IN_SHOP(an_erased_customer_needs_yes_and_is_gone),
        IN_SHOP(wrong_words_give_one_sentence_and_the_right_status),
        IN_SHOP(every_verb_has_its_help),
        cmocka_unit_test(shipped_priors_cover_every_clock_and_sum_to_one),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
