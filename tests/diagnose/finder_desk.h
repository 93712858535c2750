/* finder_desk.h - what a call is weighed with: clocks, words and a finder, opened once for a suite:
 *
 *     return cmocka_run_group_tests(tests, open_desk, close_desk);    *state is a struct desk
 */
#ifndef LETOFF_TESTS_FINDER_DESK_H
#define LETOFF_TESTS_FINDER_DESK_H

#include "suite.h"

#include "diagnose/belief.h"
#include "err.h"
#include "movement/library.h"

struct desk {
    struct library *lib;
    struct words *words;
    struct finder *finder;
};

static int open_desk(void **state)
{
    static struct desk d;
    struct err e = {0};
    d.lib = library_load("chimes", &e);
    d.words = words_load("chimes/words.yaml", &e);
    err_print(&e, stderr);
    err_release(&e);
    if (!d.lib || !d.words)
        return -1;
    d.finder = finder_new(d.lib);
    *state = &d;
    return 0;
}

static int close_desk(void **state)
{
    struct desk *d = *state;
    finder_free(d->finder);
    words_free(d->words);
    library_free(d->lib);
    return 0;
}

#endif
