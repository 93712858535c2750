#include "practice.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "err.h"
#include "mem.h"
#include "sound/score.h"

#define SOUNDERS_MOST 9

/* A run under way: where in time, and who stands where. */
struct making {
    struct practice_run *run;
    struct random *r;
    double t_s;
    bool faults;
    struct score_sounder sounder[SOUNDERS_MOST];
    bool sounded[SOUNDERS_MOST];
};

static double between(struct random *r, double low, double high)
{
    return low + (high - low) * random_unit(r);
}

static const char *one_of(struct random *r, const char *const *names, unsigned count)
{
    return names[random_below(r, count)];
}

static void silent(struct making *m, enum event_kind kind, enum event_train train, double t_s)
{
    event_list_add(&m->run->events, (struct event){.t_s = t_s, .kind = (uint8_t)kind, .train = (uint8_t)train,
                                                   .sounder = EVENT_NO_SOUNDER});
}

static unsigned chance_quality(struct making *m)
{
    static const unsigned qualities[] = {QUALITY_WEAK, QUALITY_DOUBLE, QUALITY_BUZZ, QUALITY_THUD, QUALITY_TINNY};
    return m->faults && random_below(m->r, 8) == 0 ? qualities[random_below(m->r, 5)] : 0;
}

/* One blow, then on by step_s (a train's pace scatters by a few hundredths). */
static void blow(struct making *m, size_t sounder, bool chime, double step_s)
{
    m->sounded[sounder] = true;
    event_list_add(&m->run->events, (struct event){
                                        .t_s = m->t_s,
                                        .kind = chime ? EVENT_NOTE : EVENT_BLOW,
                                        .train = chime ? TRAIN_CHIME : TRAIN_STRIKE,
                                        .sounder = (uint8_t)sounder,
                                        .quality = (uint8_t)chance_quality(m),
                                        .strength = (float)between(m->r, 0.7, 1),
                                    });
    m->run->blows++;
    m->t_s += step_s * (1 + 0.02 * random_normal(m->r));
}

static void change(struct making *m, const char *notes, double step_s, double pause_s)
{
    for (; *notes; notes++)
        blow(m, (size_t)(*notes - '1'), true, step_s);
    m->t_s += pause_s;
}

/* ---- the tunes ---- */

static const char *const cambridge[4][4] = {
    {"1234"}, {"3124", "3213"}, {"1324", "4213", "1234"}, {"3124", "3213", "1324", "4213"}};
static const char *const whittington[4][4] = {{"12345678"},
                                              {"17652438", "45637218"},
                                              {"21657438", "42615738", "12345678"},
                                              {"17652438", "45637218", "21657438", "42615738"}};

static void quarter(struct making *m, const char *const changes[4], double step_s)
{
    double pause_s = step_s * between(m->r, 0.8, 2);
    for (int i = 0; i < 4 && changes[i]; i++)
        change(m, changes[i], step_s, pause_s);
}

static void hour(struct making *m, size_t sounder)
{
    int strikes = 1 + (int)random_below(m->r, 12);
    double step_s = between(m->r, 0.9, 2.4);
    for (int i = 0; i < strikes; i++)
        blow(m, sounder, false, step_s);
    m->run->strikes = strikes;
}

static void pairs(struct making *m, int count, bool chime)
{
    double inner_s = between(m->r, 0.3, 0.6), step_s = inner_s * between(m->r, 2.5, 3.5);
    for (int i = 0; i < count; i++) {
        blow(m, 0, chime, inner_s);
        blow(m, 1, chime, step_s - inner_s);
    }
}

/* ---- the sounders ---- */

static void stand(struct making *m, size_t i, const char *voice, double hz)
{
    static const char *const names[SOUNDERS_MOST] = {"1", "2", "3", "4", "5", "6", "7", "8", "9"};
    m->sounder[i] = (struct score_sounder){.name = names[i], .voice = voice, .hz = hz, .gain = (float)between(m->r, 0.7, 1)};
}

/* Pitches as scale degrees under a top note; the clamp, wear and the wrong set do the rest. */
static void stand_scale(struct making *m, const char *voice, double top_hz, const double *semitones, size_t count)
{
    for (size_t i = 0; i < count; i++)
        stand(m, i, voice, top_hz * pow(2, -semitones[i] / 12));
}

static void play_kind(struct making *m, enum practice_kind kind)
{
    static const char *const chimes[] = {"rod", "rod", "rod", "tube", "bell-large"};
    static const char *const hours[] = {"rod", "gong-coiled", "bell-small", "rod-bim-bam", "bell-turret"};
    static const double usual_hz[] = {160, 180, 900, 180, 250};
    static const double four[] = {0, 2, 4, 9}, eight[] = {0, 2, 4, 5, 7, 9, 11, 12};
    const char *voice = one_of(m->r, chimes, 5);
    double top_hz = between(m->r, 380, 450), step_s = between(m->r, 0.4, 0.9);
    unsigned h = random_below(m->r, 5);
    switch (kind) {
    case PRACTICE_QUARTER:
        stand_scale(m, voice, top_hz, four, 4);
        quarter(m, cambridge[random_below(m->r, 3)], step_s);
        break;
    case PRACTICE_FULL_HOUR:
        stand_scale(m, voice, top_hz, four, 4);
        stand(m, 4, voice, top_hz * pow(2, -between(m->r, 14, 17) / 12));
        quarter(m, cambridge[3], step_s);
        m->t_s += between(m->r, 0.5, 3);
        hour(m, 4);
        break;
    case PRACTICE_HOUR:
        stand(m, 0, hours[h], usual_hz[h] * between(m->r, 0.85, 1.15));
        hour(m, 0);
        break;
    case PRACTICE_HALF:
        stand(m, 0, hours[h], usual_hz[h] * between(m->r, 0.85, 1.15));
        blow(m, 0, false, 1);
        m->run->strikes = 1;
        break;
    case PRACTICE_TING_TANG:
        stand(m, 0, "ting", between(m->r, 1100, 1500));
        stand(m, 1, "tang", m->sounder[0].hz * pow(2, -between(m->r, 4, 7) / 12));
        pairs(m, 1 + (int)random_below(m->r, 3), true);
        break;
    case PRACTICE_BIM_BAM:
        stand(m, 0, "rod-bim-bam", between(m->r, 200, 260));
        stand(m, 1, "rod-bim-bam", m->sounder[0].hz * pow(2, -between(m->r, 3, 7) / 12));
        m->run->strikes = 1 + (int)random_below(m->r, 12);
        pairs(m, m->run->strikes, false);
        break;
    case PRACTICE_EIGHT:
        stand_scale(m, voice, top_hz, eight, 8);
        quarter(m, whittington[random_below(m->r, 4)], between(m->r, 0.3, 0.5));
        break;
    default:
        stand(m, 0, "cuckoo-high", between(m->r, 600, 700));
        stand(m, 1, "cuckoo-low", m->sounder[0].hz * pow(2, -between(m->r, 3, 4.5) / 12));
        pairs(m, 1 + (int)random_below(m->r, 12), false);
        m->run->strikes = (int)m->run->blows / 2;
        break;
    }
}

/* ---- the whole ---- */

static void render(struct making *m, const struct voice_set *voices)
{
    struct score_style style = {
        .rate_hz = 16000,
        .tail_s = between(m->r, 1.5, 4),
        .works = true,
        .stretch = between(m->r, -0.01, 0.02),
        .decay = between(m->r, 0.6, 1.5),
        .detune_cents = between(m->r, 0, 40),
        .seed = random_bits(m->r),
    };
    struct err e = {0};
    if (!score_render(&m->run->events, m->sounder, SOUNDERS_MOST, voices, &style, &m->run->pcm, &e)) {
        err_print(&e, stderr);
        abort();
    }
    float peak = pcm_peak(&m->run->pcm);
    pcm_scale(&m->run->pcm, peak > 0 ? 0.5f / peak : 1);
}

void practice_make(struct practice_run *run, enum practice_kind kind, bool faults, const struct voice_set *voices,
                   struct random *r)
{
    *run = (struct practice_run){.kind = kind};
    struct making m = {.run = run, .r = r, .t_s = between(r, 1.2, 3), .faults = faults};
    for (size_t i = 0; i < SOUNDERS_MOST; i++)
        stand(&m, i, "rod", 300);
    silent(&m, EVENT_RELEASE, TRAIN_STRIKE, m.t_s - 0.6);
    play_kind(&m, kind);
    silent(&m, EVENT_LOCK, TRAIN_STRIKE, m.t_s);
    for (size_t i = 0; i < SOUNDERS_MOST; i++)
        run->sounders += m.sounded[i];
    render(&m, voices);
}

void practice_release(struct practice_run *run)
{
    event_list_release(&run->events);
    pcm_release(&run->pcm);
}

const char *practice_name(enum practice_kind kind)
{
    static const char *const names[PRACTICE_KINDS] = {"quarter", "full hour", "hour",  "half",
                                                      "ting-tang", "bim-bam", "eight", "cuckoo"};
    return kind < PRACTICE_KINDS ? names[kind] : "?";
}
