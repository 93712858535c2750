/* The two pure readers: what they accept, what they say, and that no bytes can hurt them. */
#include "suite.h"

#include <stdio.h>
#include <string.h>

#include "err.h"
#include "journal/journal_import.h"
#include "mem.h"
#include "random.h"
#include "text.h"

#define ID "00112233445566778899aabbccddeeff"

static bool parse(const char *bytes, size_t length, struct import_rows *rows, struct err *e)
{
    return import_guess(bytes, length) == IMPORT_JSONL
               ? import_parse_jsonl("in", bytes, length, rows, e)
               : import_parse_csv("in", bytes, length, rows, e);
}

static void good_files_give_their_rows(void **state)
{
    static const struct {
        const char *bytes;
        size_t rows;
        const char *label; /* of the last row */
    } files[] = {
        {"kind,label\ncustomer,Mill Lane\n", 1, "Mill Lane"},
        {"kind,label\r\ncustomer,Mill Lane\r\ncustomer,Quay\r\n", 2, "Quay"},
        {"kind,label\ncustomer,no newline at the end", 1, "no newline at the end"},
        {"label,kind\n\"a \"\"tall\"\" one, with; all\r\nof it\",customer\n", 1,
         "a \"tall\" one, with; all\r\nof it"},
        {"\xEF\xBB\xBFkind;label\ncustomer;a,b\n", 1, "a,b"},
        {"kind\tlabel\ncustomer\tx\n", 1, "x"},
        {"kind,label\n\n\ncustomer,x\n\n", 1, "x"},
        {"kind,label,fault\ncustomer,x,\n", 1, "x"}, /* a column of another kind, left empty */
        {"kind,label\n", 0, NULL},
        {"{\"kind\":\"customer\",\"label\":\"x\"}\n\n{\"kind\":\"customer\",\"label\":\"y\"}", 2,
         "y"},
        {" \n{\"kind\":\"journal\",\"version\":1}\r\n{\"kind\":\"customer\",\"label\":\"\\u00e9\"}"
         "\r\n",
         1, "\xC3\xA9"},
        {"{\"kind\":\"customer\",\"label\":5}", 1, "5"},
    };
    (void)state;
    for (size_t i = 0; i < COUNT_OF(files); i++) {
        struct import_rows rows = {0};
        struct err e = {0};
        bool ok = parse(files[i].bytes, strlen(files[i].bytes), &rows, &e);
        if (!ok || e.count)
            fail_msg("file %zu: %s", i, e.count ? e.line[0] : "");
        assert_int_equal(rows.count, files[i].rows);
        if (files[i].label)
            assert_string_equal(record_text(&rows.at[rows.count - 1].record, "label"),
                                files[i].label);
        import_rows_release(&rows);
    }
}

static void bad_files_say_where_and_what(void **state)
{
    static const struct {
        const char *bytes, *says;
    } files[] = {
        {"", "in: The file is empty"},
        {"label\nx\n", "in:1:1: The first line has no column \"kind\""},
        {"kind,lable\n", "in:1:6: The column is \"lable\""},
        {"kind,label\nclocc,x\n", "in:2:1: kind is \"clocc\""},
        {"kind,label\ncustomer\n", "in:2: This row has 1 cells, expected 2"},
        {"kind,label\ncustomer,\"x\n", "in:2:10: A quote is opened here and never closed"},
        {"kind,state\ncall,ajar\n", "in:2:6: call: state is \"ajar\", expected one of open closed"},
        {"kind,minutes\ncall,\"2,5\"\n", "in:2:6: call: minutes is \"2,5\""},
        {"kind,id\ncall,1\n", "in:2:6: id is \"1\", expected 32 of the digits"},
        {"kind,updated_ms\ncall,x\n", "in:2:6: updated_ms is \"x\""},
        {"kind,fault\ncustomer,x\n", "in:2:10: fault is \"x\", expected nothing"},
        {"kind,label\ncustomer,\xFF\n", "in:2: Byte 21 of the file is no UTF-8"},
        {"{\"kind\":\"customer\"", "in:1:18: This line is no JSON"},
        {"{\"kind\":\"customer\",\"kind\":\"call\"}", "This line is no JSON (duplicate object key"},
        {"{}", "in:1: kind is wrong or missing"},
        {"{\"kind\":7}", "in:1: kind is wrong or missing"},
        {"{\"kind\":\"customer\"}\n[]",
         "in:2: The line is wrong or missing, expected a JSON object"},
        {"{\"kind\":\"customer\",\"lable\":\"x\"}", "in:1: lable is no field of a customer"},
        {"{\"kind\":\"customer\",\"label\":[]}",
         "in:1: label is wrong or missing, expected a string"},
        {"{\"kind\":\"customer\",\"id\":\"x\"}", "in:1: id is wrong or missing"},
        {"{\"kind\":\"customer\",\"stamps\":{\"label\":\"now\"}}",
         "in:1: stamps is wrong or missing"},
        {"{\"kind\":\"customer\",\"stamps\":{}}", "in:1: id is wrong or missing"},
        {"{\"kind\":\"journal\",\"version\":99}", "was written by a newer letoff (version 99"},
        {"{\"kind\":\"erased\",\"of\":\"x\"}", "in:1: of is wrong or missing"},
        {"{\"kind\":\"erased\",\"of\":\"call\",\"id\":\"" ID "\"}",
         "in:1: stamp_ms is wrong or missing"},
    };
    (void)state;
    for (size_t i = 0; i < COUNT_OF(files); i++) {
        struct import_rows rows = {0};
        struct err e = {0};
        if (parse(files[i].bytes, strlen(files[i].bytes), &rows, &e) || e.count == 0)
            fail_msg("file %zu was taken", i);
        if (!strstr(e.line[0], files[i].says))
            fail_msg("file %zu: \"%s\", expected \"%s\"", i, e.line[0], files[i].says);
        import_rows_release(&rows);
        err_release(&e);
    }
}

static void all_mistakes_of_a_file_come_at_once(void **state)
{
    static const char csv[] = "kind,state,minutes\ncall,ajar,x\nclocc,,\ncall,open,1\ncall,a,b\n";
    struct import_rows rows = {0};
    struct err e = {0};
    (void)state;
    assert_false(parse(csv, sizeof csv - 1, &rows, &e));
    assert_int_equal(e.count, 5);
    import_rows_release(&rows);
    err_release(&e);
}

/* Bytes knocked about: no crash, no leak (sanitizers), and refused files always say why. */
static void no_bytes_can_hurt_the_readers(void **state)
{
    static const char *const seeds[] = {
        "kind,id,updated_ms,label,note\ncustomer," ID ",1700000000000,\"a \"\"b\"\"\",x\r\n"
        "call,,,,\"y\nz\"\n",
        "{\"kind\":\"journal\",\"version\":2}\n{\"kind\":\"call\",\"id\":\"" ID
        "\",\"state\":\"open\","
        "\"minutes\":2.5,\"stamps\":{\"state\":\"1700000000000-0123456789abcdef\"}}\n"
        "{\"kind\":\"erased\",\"of\":\"call\",\"id\":\"" ID "\",\"stamp_ms\":5}\n",
    };
    static const char spice[] = ",;\t\"\n\r{}[]:-0 \\e\xC3\xFF";
    struct random chance;
    char bytes[512];
    (void)state;
    random_init(&chance, 99);
    for (int round = 0; round < 20000; round++) {
        const char *seed = seeds[round % 2];
        size_t length = strlen(seed);
        struct import_rows rows = {0};
        struct err e = {0};
        memcpy(bytes, seed, length);
        for (unsigned hits = random_below(&chance, 6) + 1; hits > 0; hits--) {
            size_t at = random_below(&chance, (unsigned)length);
            if (random_below(&chance, 3) == 0)
                length = at + 1;
            bytes[at] = spice[random_below(&chance, sizeof spice)]; /* its NUL too */
        }
        bool ok = parse(bytes, length, &rows, &e);
        assert_true(ok == (e.count == 0));
        for (size_t i = 0; ok && i < rows.count; i++)
            assert_true(rows.at[i].record.id[0] == '\0' || record_id_ok(rows.at[i].record.id));
        import_rows_release(&rows);
        err_release(&e);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(good_files_give_their_rows),
        cmocka_unit_test(bad_files_say_where_and_what),
        cmocka_unit_test(all_mistakes_of_a_file_come_at_once),
        cmocka_unit_test(no_bytes_can_hurt_the_readers),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
