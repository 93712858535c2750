/* fuzz_wav.c - any bytes as a WAVE file. */
#include "fuzz_target.h"

#include <math.h>

#include "err.h"
#include "pcm.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct err e = {0};
    struct pcm p = {0};
    bool good = pcm_parse_wav(&p, "fuzz", data, size, &e);
    FUZZ_MUST(good == (e.count == 0));
    FUZZ_MUST(p.frames <= size);
    float peak = pcm_peak(&p);
    FUZZ_MUST(isfinite(peak) && peak <= 1);
    pcm_release(&p);
    err_release(&e);
    return 0;
}
