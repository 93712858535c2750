/* fuzz_shorthand.c - any bytes as a line of shorthand; a good one, written and read again, is the
 * same, and so is its call sheet. */
#include "fuzz_target.h"

#include "diagnose/sheet.h"
#include "err.h"
#include "text.h"

static void write_and_read_again(const struct sheet *s, const struct words *words)
{
    struct text out = {0};
    struct sheet back;
    sheet_init(&back, words);
    FUZZ_MUST(sheet_print_shorthand(s, &out));
    FUZZ_MUST(sheet_parse_shorthand(&back, text_cstr(&out), out.length, NULL));
    FUZZ_MUST(sheet_same(s, &back));
    sheet_release(&back);
    text_release(&out);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static struct words *words; /* loaded once, kept to the end */
    if (!words)
        words = words_load("chimes/words.yaml", NULL);
    FUZZ_MUST(words);
    struct err e = {0};
    struct sheet s;
    sheet_init(&s, words);
    bool good = sheet_parse_shorthand(&s, (const char *)data, size, &e);
    FUZZ_MUST(good == (e.count == 0));
    FUZZ_MUST(good || sheet_empty(&s)); /* refused input changed nothing */
    if (good)
        write_and_read_again(&s, words);
    sheet_release(&s);
    err_release(&e);
    return 0;
}
