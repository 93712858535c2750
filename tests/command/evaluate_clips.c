/* evaluate_clips - a 3gp clip of a quarter with a dead hammer and a late drum: are both named?
 *
 *     evaluate_clips [--runs N] [--seed N] [--say]
 *
 * Seeds below 1000 were used for tuning; the default is 6000.  Exit status 1 when both are named first in fewer
 * than NEED of the clips.
 */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "pair_clip.h"

#define NEED 0.7

static double number_after(int argc, char **argv, const char *name, double otherwise)
{
    for (int i = 1; i + 1 < argc; i++)
        if (!strcmp(argv[i], name))
            return strtod(argv[i + 1], NULL);
    return otherwise;
}

int main(int argc, char **argv)
{
    struct desk d;
    struct voice_set voices = {0};
    struct err e = {0};
    char folder[] = "/tmp/letoff-clips-XXXXXX", command[96];
    int first = 0, three = 0, hammer = 0, drum = 0, runs = (int)number_after(argc, argv, "--runs", getenv("LETOFF_LONG_S") ? 40 : 10);
    uint64_t seed = (uint64_t)number_after(argc, argv, "--seed", 6000);
    double ln = 0;
    bool say = false, good = desk_open(&d, &e) && voice_set_load_folder(&voices, "sounds", NULL, &e) && mkdtemp(folder);
    for (int i = 1; i < argc; i++)
        say |= !strcmp(argv[i], "--say");
    for (int i = 0; good && i < runs; i++) {
        struct pair_clip clip;
        struct text t = {0};
        pair_clip_draw(&clip, d.lib, seed + (uint64_t)i);
        struct pair_found f = pair_clip_listen(&clip, &d, &voices, folder, &t);
        first += f.first;
        ln += log(fmax(f.p, 1e-6));
        three += f.three;
        hammer += f.hammer;
        drum += f.drum;
        if (say)
            printf("%s %s", f.first ? "both " : f.three ? "three" : "MISS ", text_cstr(&t));
        fflush(stdout);
        text_release(&t);
    }
    printf("both named first in %d of %d clips, in three in %d; hammer in three %d, drum in three %d; mean ln of the belief in both %.3f\n",
           first, runs, three, hammer, drum, ln / (runs ? runs : 1));
    err_print(&e, stderr);
    err_release(&e);
    voice_set_release(&voices);
    desk_close(&d);
    snprintf(command, sizeof command, "rm -r %s", folder);
    if (!good || system(command) != 0)
        return 2;
    return first < NEED * runs;
}
