/* fuzz_library.c - any bytes as a file of clocks, tunes, faults and cures. */
#include "fuzz_target.h"

#include "err.h"
#include "fuzz_folder.h"
#include "movement/library.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct err e = {0};
    struct library *lib = library_load(fuzz_folder_with("fuzz.yaml", data, size), &e);
    FUZZ_MUST(lib || e.count);
    for (size_t i = 0; lib && i < library_clocks(lib); i++)
        FUZZ_MUST(library_find_clock(lib, library_clock(lib, i)->id));
    library_free(lib);
    err_release(&e);
    return 0;
}
