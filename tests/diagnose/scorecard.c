/* scorecard.c - the real open cases, one line each; see open_cases.h.
 *
 *     scorecard [tests/cases] [words]
 */
#include <stdio.h>
#include "open_cases.h"

int main(int argc, char **argv)
{
    const char *folder = argc > 1 ? argv[1] : "tests/cases";
    const char *only = argc > 2 ? argv[2] : NULL;
    struct err e = {0};
    struct library *lib = library_load("chimes", &e);
    struct words *words = words_load("chimes/words.yaml", &e);
    err_print(&e, stderr);
    if (!lib || !words)
        return err_status(&e);
    struct finder *f = finder_new(lib);
    struct case_totals t = {0};
    int failed = open_cases_run(f, words, folder, only, &t);
    finder_free(f);
    words_free(words);
    library_free(lib);
    err_release(&e);
    return failed ? 2 : 0;
}
