#include "pair_clip.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "amr_write.h"
#include "command/hear_cause.h"
#include "command/setup.h"
#include "degrade.h"
#include "mem.h"
#include "movement/move.h"
#include "sound/score.h"

#define RATE_HZ 16000
#define FIRST 3

/* ---- drawing ---- */

static bool plays_westminster(const struct clock *c)
{
    const struct train *t = clock_train(c, TRAIN_CHIME);
    return t && t->tunes && !strncmp(t->tune[0]->id, "westminster", strlen("westminster"));
}

static const struct clock *draw_clock(const struct library *lib, struct random *r)
{
    size_t n = 0;
    for (size_t i = 0; i < library_clocks(lib); i++)
        n += plays_westminster(library_clock(lib, i));
    size_t at = random_below(r, (uint32_t)n);
    for (size_t i = 0; i < library_clocks(lib); i++)
        if (plays_westminster(library_clock(lib, i)) && at-- == 0)
            return library_clock(lib, i);
    return NULL;
}

static void play(const struct pair_clip *p, struct event_list *out);

/* One of those that fall in this quarter. */
static int draw_hammer(struct pair_clip *p, struct random *r)
{
    struct event_list all = {0};
    int used[256] = {0}, n = 0;
    p->hammer = -1;
    play(p, &all);
    for (size_t i = 0; i < all.count; i++)
        if (all.at[i].train == TRAIN_CHIME && !used[all.at[i].sounder]) {
            used[all.at[i].sounder] = 1;
            n++;
        }
    event_list_release(&all);
    n = n ? (int)random_below(r, (uint32_t)n) : 0;
    for (int i = 0; i < 256; i++)
        if (used[i] && n-- == 0)
            return i;
    return -1;
}

void pair_clip_draw(struct pair_clip *p, const struct library *lib, uint64_t seed)
{
    static const double late[] = {0.4, 0.5, 0.6, 0.7, 0.8};
    static const int changes[] = {1, 4};
    struct random r;
    random_init(&r, seed);
    *p = (struct pair_clip){.clock = draw_clock(lib, &r), .seed = random_bits(&r)};
    p->at_min = (int)random_below(&r, 12) * 60 + 30 + 15 * (int)random_below(&r, 3); /* half, third or hour */
    p->at_min %= 720;
    p->told = random_below(&r, 2) == 0;
    if (random_below(&r, 3) == 0)
        p->changes = changes[random_below(&r, 2)];
    else
        p->late = late[random_below(&r, 5)];
    p->snr_db = 15 + 10 * random_unit(&r);
    p->room_s = 0.5 * random_unit(&r);
    p->hammer = draw_hammer(p, &r);
}

/* ---- the clip ---- */

static void play(const struct pair_clip *p, struct event_list *out)
{
    struct change change[] = {{PAR_hammer_dead, p->hammer},
                              p->changes ? (struct change){PAR_drum_changes, p->changes} : (struct change){PAR_drum_late, p->late}};
    struct works w;
    struct moment m;
    struct chance chance;
    struct random r;
    struct event_list events = {0};
    works_init(&w, p->clock, change, 2);
    moment_init(&m, &w, p->at_min + 720 - 1);
    random_init(&r, p->seed);
    chance_draw(&chance, &r);
    movement_turn(&w, &m, 2, BY_TIME, &chance, &events);
    double first = -1;
    for (size_t i = 0; i < events.count; i++)
        if (event_sounds(&events.at[i])) {
            first = first < 0 ? events.at[i].t_s : first;
            events.at[i].t_s += 0.8 - first;
            event_list_add(out, events.at[i]);
        }
    event_list_release(&events);
}

static bool write_clip(const struct pair_clip *p, const struct voice_set *voices, const char *folder, char path[160])
{
    struct score_sounder table[CLOCK_SOUNDERS];
    struct score_style style = {.rate_hz = RATE_HZ, .tail_s = 2, .works = true};
    struct degrade way = {.room_s = p->room_s, .tick_every_s = 0.5, .tick_db = -30, .noise = NOISE_WHITE, .snr_db = p->snr_db};
    struct event_list events = {0};
    struct random r;
    struct pcm pcm = {0};
    char amr[160], command[512];
    random_init(&r, p->seed + 1);
    style.detune_cents = 35 * random_unit(&r);
    style.stretch = -0.005 + 0.02 * random_unit(&r);
    style.decay = 0.7 + 0.7 * random_unit(&r);
    style.seed = random_bits(&r);
    play(p, &events);
    snprintf(amr, sizeof amr, "%s/clip.amr", folder);
    snprintf(path, 160, "%s/clip.3gp", folder);
    snprintf(command, sizeof command, "ffmpeg -hide_banner -loglevel error -nostdin -y -i %s -c copy %s", amr, path);
    bool good = score_render(&events, table, setup_sounders(p->clock, table), voices, &style, &pcm, NULL);
    degrade_apply(&way, &pcm, &r);
    good = good && amr_write_narrow(&pcm, amr) && system(command) == 0;
    pcm_release(&pcm);
    event_list_release(&events);
    return good;
}

/* ---- the answer ---- */

static struct pair_found judge(const struct belief *b)
{
    struct pair_found f = {0};
    for (size_t i = 0; i < b->causes; i++) {
        const struct belief_cause *c = &b->cause[i];
        const char *two = c->second ? c->second->part : "";
        bool hammer = !strcmp(c->part, "hammer") || !strcmp(two, "hammer"), three = i < FIRST;
        bool drum = !strcmp(c->part, "chime drum") || !strcmp(two, "chime drum");
        f.hammer |= three && hammer;
        f.drum |= three && drum;
        f.three |= three && hammer && drum;
        f.first |= i == 0 && hammer && drum;
        f.p += hammer && drum ? c->p : 0;
    }
    return f;
}

static void tell(const struct pair_clip *p, const struct heard_cause *c, struct text *say)
{
    text_addf(say, "%s %d:%02d%s, hammer %d dead, drum %s %.1f, %.0f dB: ", p->clock->id, p->at_min / 60, p->at_min % 60,
              p->told ? "" : " (not told)", p->hammer, p->changes ? "changes" : "late", p->changes ? p->changes : p->late, p->snr_db);
    if (c->readings)
        sheet_print_shorthand(&c->sheet[0], say);
    for (size_t i = 0; i < c->report.belief.causes && i < FIRST; i++) {
        const struct belief_cause *k = &c->report.belief.cause[i];
        text_addf(say, "%s %s%s%s %.2f", i ? "," : " ->", k->id, k->second ? " + " : "", k->second ? k->second->id : "", k->p);
    }
    text_add(say, "\n");
}

struct pair_found pair_clip_listen(const struct pair_clip *p, struct desk *d, const struct voice_set *voices,
                                   const char *folder, struct text *say)
{
    struct hearing h = {0};
    struct heard_clock heard = {0};
    struct heard_cause cause = {0};
    struct pair_found found = {0};
    struct err e = {0};
    char path[160];
    snprintf(d->sheet.clock, sizeof d->sheet.clock, "%s", p->clock->id);
    if (write_clip(p, voices, folder, path) && hearing_from_file(&h, path, NULL, NULL, NULL, &e)) {
        hear_name(&heard, d->lib, p->clock, &h);
        if (heard_cause_believe(&cause, d, &heard, p->clock, &h, p->told ? p->at_min : -1))
            found = judge(&cause.report.belief);
        if (say)
            tell(p, &cause, say);
    }
    err_print(&e, stderr);
    err_release(&e);
    heard_cause_release(&cause);
    heard_clock_release(&heard);
    hearing_release(&h);
    return found;
}
