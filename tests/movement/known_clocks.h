/* known_clocks.h - the clocks and faults of the tree, loaded once for a suite:
 *
 *     return cmocka_run_group_tests(tests, load, unload);
 */
#ifndef LETOFF_TESTS_KNOWN_CLOCKS_H
#define LETOFF_TESTS_KNOWN_CLOCKS_H

#include "suite.h"

#include "err.h"
#include "movement/library.h"

static struct library *lib;

static int load(void **state)
{
    struct err e = {0};
    (void)state;
    lib = library_load("chimes", &e);
    err_print(&e, stderr);
    err_release(&e);
    return lib ? 0 : -1;
}

static int unload(void **state)
{
    (void)state;
    library_free(lib);
    return 0;
}

#endif
