/* fuzz_target.h - the one function of a fuzz target (the name is libFuzzer's). */
#ifndef LETOFF_FUZZ_TARGET_H
#define LETOFF_FUZZ_TARGET_H

#include <stddef.h>
#include <stdint.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

/* Stops the program, whatever NDEBUG says, so that the fuzzer keeps the input. */
#define FUZZ_MUST(what)                                                                            \
    do {                                                                                           \
        if (!(what))                                                                               \
            __builtin_trap();                                                                      \
    } while (0)

#endif
