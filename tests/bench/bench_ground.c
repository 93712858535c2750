/* bench_ground.c - how fast the ground reads data files and changes the rate of a recording. */
#include <stdio.h>
#include <string.h>

#include "bench/stopwatch.h"
#include "err.h"
#include "pcm.h"
#include "random.h"
#include "text.h"
#include "yaml_map.h"

static void bench_yaml(void)
{
    struct text t = {0};
    text_add(&t, "heard:\n");
    while (t.length < 1000000)
        text_add(&t, "  - {at: \"3:00\", strike: 2, how: [slow, uneven]}\n");
    struct err e = {0};
    double began_s = stopwatch_s();
    struct yaml_tree *tree = yaml_parse("bench", text_cstr(&t), t.length, &e);
    double took_s = stopwatch_s() - began_s;
    printf("YAML read: %.1f MB/s%s\n", (double)t.length / 1e6 / took_s, tree ? "" : " (failed)");
    yaml_free(tree);
    err_release(&e);
    text_release(&t);
}

static void bench_resample(void)
{
    struct pcm from, to;
    struct random r;
    random_init(&r, 1);
    pcm_init(&from, 44100);
    pcm_reserve(&from, 44100 * 20);
    for (size_t i = 0; i < from.frames; i++)
        from.at[i] = (float)random_unit(&r) - 0.5f;
    double began_s = stopwatch_s();
    pcm_resample(&from, 16000, &to);
    printf("resampling 44100 to 16000 Hz: %.0f x real time\n", 20 / (stopwatch_s() - began_s));
    pcm_release(&from);
    pcm_release(&to);
}

int main(void)
{
    bench_yaml();
    bench_resample();
    return 0;
}
