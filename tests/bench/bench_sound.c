/* bench_sound.c - how fast runs are rendered, and what the audio thread costs. */
#include <stdio.h>

#include "bench/stopwatch.h"
#include "event.h"
#include "pcm.h"
#include "sound/player.h"
#include "sound/render.h"
#include "sound/score.h"

#define HOURS 10

static const struct score_sounder RODS[] = {
    {"1", "rod", 415.3, 1}, {"2", "rod", 370.0, 1}, {"3", "rod", 329.6, 1},
    {"4", "rod", 246.9, 1}, {"hour", "rod", 164.8, 1},
};

/* Sixteen notes and twelve blows, a few dozen seconds, HOURS times. */
static void run_make(struct event_list *list)
{
    double t_s = 0;
    for (int hour = 0; hour < HOURS; hour++, t_s += 4)
        for (int i = 0; i < 28; i++, t_s += i < 16 ? 0.7 : 1.6)
            event_list_add(list, (struct event){.t_s = t_s, .kind = i < 16 ? EVENT_NOTE : EVENT_BLOW,
                                                .sounder = (uint8_t)(i < 16 ? i * 7 % 4 : 4),
                                                .strength = 1});
}

static void bench_voices(const struct voice_set *voices)
{
    double sounded_s = 0, began_s = stopwatch_s();
    for (size_t i = 0; i < voices->count; i++) {
        struct pcm p;
        pcm_init(&p, 44100);
        render_blow(&voices->at[i], &(struct render_blow){.hz = 400, .strength = 1}, &p);
        sounded_s += (double)p.frames / p.rate_hz;
        pcm_release(&p);
    }
    printf("one blow of every voice: %.0f x real time\n", sounded_s / (stopwatch_s() - began_s));
}

static void bench_score(const struct voice_set *voices, const struct event_list *list)
{
    struct score_style style = {.works = true};
    struct pcm p = {0};
    double began_s = stopwatch_s();
    score_render(list, RODS, 5, voices, &style, &p, NULL);
    double took_s = stopwatch_s() - began_s;
    printf("%d hours of Westminster to samples: %.0f x real time\n", HOURS,
           (double)p.frames / p.rate_hz / took_s);
    pcm_release(&p);
}

static void bench_mixing(const struct voice_set *voices, const struct event_list *list)
{
    struct score_style style = {.works = true};
    struct score_cues cues = {0};
    struct score_bank *bank = score_bank_new(RODS, 5, voices, &style, NULL);
    struct player *p = player_new();
    float block[1024];
    score_cue(bank, list, &cues, NULL);
    for (size_t i = 0; i < cues.count && i < 200; i++)
        player_put(p, (uint64_t)(cues.at[i].t_s * 44100), cues.at[i].sound->at,
                   cues.at[i].sound->frames, 1);
    double began_s = stopwatch_s(), worst_s = 0;
    int blocks = 60 * 44100 / 1024;
    for (int i = 0; i < blocks; i++) {
        double from_s = stopwatch_s();
        player_mix(p, block, 1024);
        double took_s = stopwatch_s() - from_s;
        worst_s = took_s > worst_s ? took_s : worst_s;
    }
    double mean_s = (stopwatch_s() - began_s) / blocks;
    printf("mixing a buffer of 23.2 ms: %.3f ms, at worst %.3f ms\n", mean_s * 1e3, worst_s * 1e3);
    player_free(p);
    score_cues_release(&cues);
    score_bank_free(bank);
}

int main(void)
{
    struct voice_set voices = {0};
    struct event_list list = {0};
    if (!voice_set_load_folder(&voices, "sounds", NULL, NULL))
        return 3;
    run_make(&list);
    bench_voices(&voices);
    bench_score(&voices, &list);
    bench_mixing(&voices, &list);
    event_list_release(&list);
    voice_set_release(&voices);
    return 0;
}
