/* fuzz_words.c - any bytes as the file of the words of a call sheet. */
#include "fuzz_target.h"

#include "diagnose/words.h"
#include "err.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct err e = {0};
    struct words *w = words_parse("fuzz", (const char *)data, size, &e);
    FUZZ_MUST((w != NULL) == (e.count == 0));
    for (int kind = 0; w && kind < WORD_KINDS; kind++)
        for (size_t i = 0; i < words_count(w, (enum word_kind)kind); i++)
            FUZZ_MUST(
                words_find(w, (enum word_kind)kind, words_at(w, (enum word_kind)kind, i)->id));
    words_free(w);
    err_release(&e);
    return 0;
}
