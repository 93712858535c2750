/* letoff_tables.c - run by the build: works out all outcomes and writes them to one file.
 *
 *     letoff-tables FILE [-v]
 */
#include <stdio.h>
#include <string.h>
#include "diagnose/table_file.h"

static void tell(const struct clock_case *k, size_t tables)
{
    printf("%-28s %6zu variants %6zu tables %6zu states %7zu rows %6zu soundings\n", k->clock->id,
           k->variants, tables, k->rows.states, k->rows.rows, k->pool.count);
}

int main(int argc, char **argv)
{
    struct err e = {0};
    if (argc < 2) {
        fprintf(stderr, "usage: letoff-tables FILE [-v]\n");
        return EXIT_BAD_INPUT;
    }
    struct library *lib = library_load(NULL, &e);
    if (lib)
        table_file_write(lib, argv[1], argc > 2 && strcmp(argv[2], "-v") == 0 ? tell : NULL, &e);
    err_print(&e, stderr);
    int status = err_status(&e);
    library_free(lib);
    err_release(&e);
    return status;
}
