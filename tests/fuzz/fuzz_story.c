/* fuzz_story.c - any bytes as a caller's own words; what comes of them is accounted for part by
 * part, and is a call sheet that reads the same again. */
#include "fuzz_target.h"

#include "diagnose/story.h"
#include "err.h"
#include "text.h"

static void check_parts(const struct story *story, size_t size)
{
    size_t before = 0;
    for (size_t i = 0; i < story->parts; i++) {
        const struct story_part *p = &story->part[i];
        FUZZ_MUST(p->from >= before && p->from < p->to && p->to <= size);
        FUZZ_MUST((p->kind == STORY_UNKNOWN) == !p->gives);
        before = p->to;
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static struct words *words; /* loaded once, kept to the end */
    static struct phrases *phrases;
    if (!words) {
        words = words_load("chimes/words.yaml", NULL);
        phrases = words ? phrases_load("chimes/phrases-en.yaml", words, NULL) : NULL;
    }
    FUZZ_MUST(phrases);
    struct err e = {0};
    struct sheet s, back;
    struct story story = {0};
    struct text yaml = {0};
    sheet_init(&s, words);
    sheet_init(&back, words);
    bool good = story_read(phrases, (const char *)data, size, &s, &story, &e);
    FUZZ_MUST(good == (e.count == 0));
    FUZZ_MUST(good || (sheet_empty(&s) && !story.parts));
    check_parts(&story, size);
    sheet_print(&s, &yaml);
    if (!sheet_empty(&s)) {
        FUZZ_MUST(sheet_parse(&back, "back", text_cstr(&yaml), yaml.length, NULL));
        FUZZ_MUST(sheet_same(&s, &back));
    }
    text_release(&yaml);
    story_release(&story);
    sheet_release(&back);
    sheet_release(&s);
    err_release(&e);
    return 0;
}
