#include "amr_write.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include <opencore-amrnb/interf_enc.h>
#include <vo-amrwbenc/enc_if.h>

#define NARROW_FRAME 160
#define WIDE_FRAME 320
#define WIDE_MODE 8 /* 23.85 kbit/s */

static void take_frame(const struct pcm *p, size_t at, int frames, short *out)
{
    for (int i = 0; i < frames; i++) {
        float v = at + (size_t)i < p->frames ? p->at[at + (size_t)i] : 0;
        v = v > 1 ? 1 : v < -1 ? -1 : v;
        out[i] = (short)lrintf(v * 32767);
    }
}

bool amr_write_narrow(const struct pcm *p, const char *path)
{
    struct pcm low = {0};
    FILE *f = fopen(path, "wb");
    if (!f)
        return false;
    pcm_resample(p, 8000, &low);
    void *encoder = Encoder_Interface_init(0);
    fputs("#!AMR\n", f);
    for (size_t at = 0; at < low.frames; at += NARROW_FRAME) {
        short in[NARROW_FRAME];
        unsigned char out[64];
        take_frame(&low, at, NARROW_FRAME, in);
        int bytes = Encoder_Interface_Encode(encoder, MR122, in, out, 0);
        fwrite(out, 1, (size_t)(bytes > 0 ? bytes : 0), f);
    }
    Encoder_Interface_exit(encoder);
    pcm_release(&low);
    return fclose(f) == 0;
}

bool amr_write_wide(const struct pcm *p, const char *path)
{
    struct pcm wide = {0};
    FILE *f = fopen(path, "wb");
    if (!f)
        return false;
    pcm_resample(p, 16000, &wide);
    void *encoder = E_IF_init();
    fputs("#!AMR-WB\n", f);
    for (size_t at = 0; at < wide.frames; at += WIDE_FRAME) {
        short in[WIDE_FRAME];
        unsigned char out[128];
        take_frame(&wide, at, WIDE_FRAME, in);
        int bytes = E_IF_encode(encoder, WIDE_MODE, in, out, 0);
        fwrite(out, 1, (size_t)(bytes > 0 ? bytes : 0), f);
    }
    E_IF_exit(encoder);
    pcm_release(&wide);
    return fclose(f) == 0;
}
