/* evaluate_hear - how often the right cause comes out of a recording alone.
 *
 *     evaluate_hear [--runs N] [--seed N] [--snr DB] [--letoffs N] [--say]
 *
 * A clock, a fault that can occur on it and one of its variants are drawn by their priors; the clock is let run
 * for half a day; of the let-offs that sound, a few that follow one another are taken of which the first is
 * not as it should be.  They are rendered, sent through a telephone's band with noise, heard, and given to the
 * fault finder with the times told, as `letoff listen --clock --at` does.  Right is: the fault itself, or one of
 * the same part and class, among the first three causes.  The ceiling is the same finder with the
 * let-offs written down without a mistake.  With LETOFF_LONG_S it runs for so many seconds.
 */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "command/hear_cause.h"
#include "command/setup.h"
#include "command/tally.h"
#include "degrade.h"
#include "mem.h"
#include "movement/move.h"
#include "sound/score.h"

#define RATE_HZ 16000
#define HALF_DAY_MIN 720
#define GAP_S 25.0 /* longer than any pause within a let-off */
#define CLIPS_MOST 6
#define AIM 0.9
#define SHORT_OF_CEILING 0.05 /* what hearing may cost, where the let-offs themselves do not tell enough */
#define TRIES 40

struct evaluation {
    struct desk desk;
    struct voice_set voices;
    double snr_db;
    long letoffs;
    bool say;
    size_t runs, right, ceiling;
};

/* One drawn case: the fault, and the let-offs that were recorded. */
struct drawn {
    const struct clock *clock;
    const struct fault *fault;
    struct works works;
    struct event_list all, events; /* of half a day; those recorded, at the times of the recording */
    int at_min[CLIPS_MOST];
    struct tally tally[CLIPS_MOST];
    size_t letoffs;
};

static void drawn_release(struct drawn *d)
{
    for (size_t i = 0; i < d->letoffs; i++)
        tally_release(&d->tally[i]);
    event_list_release(&d->all);
    event_list_release(&d->events);
    *d = (struct drawn){0};
}

static void let_run(const struct works *w, struct rest rest, struct random *r, struct event_list *out)
{
    struct moment m;
    struct chance chance;
    chance_draw(&chance, r);
    moment_init(&m, w, 1);
    m.rest = rest;
    movement_turn(w, &m, HALF_DAY_MIN, BY_TIME, &chance, out);
}

static const struct fault *draw_fault(const struct library *lib, const struct clock *c, struct random *r)
{
    double sum = 0, at;
    for (size_t i = 0; i < library_faults(lib); i++)
        sum += fault_applies(library_fault(lib, i), c) ? library_fault(lib, i)->prior : 0;
    at = random_unit(r) * sum;
    for (size_t i = 0; i < library_faults(lib); i++) {
        const struct fault *f = library_fault(lib, i);
        at -= fault_applies(f, c) ? f->prior : 0;
        if (at < 0 && fault_applies(f, c))
            return f;
    }
    return NULL;
}

static struct rest draw_start(const struct fault *f, const struct works *w, struct random *r)
{
    struct start start[64];
    size_t n = fault_starts(f, w, 1, start, 64), i = 0;
    double at = random_unit(r);
    while (i + 1 < n && (at -= start[i].p) > 0)
        i++;
    return n ? start[i].rest : rest_in_step(w, 1);
}

/* The sounding let-off of the sound clock that is due at this time, as a tally; false if none. */
static bool due_at(const struct clock *c, const struct event_list *due, int hand_min, struct tally *t)
{
    for (size_t i = 0; i < due->count;) {
        size_t next = tally_take(t, c, due, i);
        if (next <= i)
            break;
        if (abs((t->hand_min - hand_min + 1080) % 720 - 360) <= 1)
            return true;
        tally_release(t);
        i = next;
    }
    return false;
}

static bool as_due(const struct drawn *d, const struct event_list *due, const struct tally *t)
{
    struct tally should = {0};
    bool same = due_at(d->clock, due, t->hand_min, &should) && tally_same(&should, t);
    tally_release(&should);
    return same;
}

/* Events of one let-off moved to where the recording has come to. */
static double record(struct drawn *d, size_t from, size_t to, double at_s)
{
    double first = -1, last = at_s;
    for (size_t i = from; i < to; i++) {
        struct event e = d->all.at[i];
        if (!event_sounds(&e) || e.train == TRAIN_MUSIC)
            continue;
        first = first < 0 ? e.t_s : first;
        e.t_s += at_s - first;
        last = e.t_s;
        event_list_add(&d->events, e);
    }
    return last + GAP_S;
}

/* Take let-offs from the first one that is wrong; false if there is none. */
static bool choose(struct drawn *d, const struct event_list *due, size_t most)
{
    double at_s = 1;
    for (size_t i = 0; i < d->all.count && d->letoffs < most;) {
        struct tally t = {0};
        size_t next = tally_take(&t, d->clock, &d->all, i);
        bool sounds = t.blows + t.notes > 0 && !t.run_on && t.blows + t.notes < 60;
        if (next <= i || !sounds || (!d->letoffs && as_due(d, due, &t))) {
            tally_release(&t);
        } else {
            at_s = record(d, i, next, at_s);
            d->at_min[d->letoffs] = t.hand_min;
            d->tally[d->letoffs++] = t;
        }
        if (next <= i)
            break;
        i = next;
    }
    return d->letoffs > 0;
}

static bool draw(const struct evaluation *v, struct drawn *d, struct random *r)
{
    const struct library *lib = v->desk.lib;
    struct change change[FAULT_SETS + FAULT_AXES + 1];
    struct event_list due = {0};
    struct works sound;
    double share, severity, at = random_unit(r);
    d->clock = library_clock(lib, random_below(r, (uint32_t)library_clocks(lib)));
    d->fault = draw_fault(lib, d->clock, r);
    if (!d->fault)
        return false;
    size_t n = fault_variants(d->fault, d->clock), k = 0;
    for (; k < n; k++) {
        size_t changes = fault_variant(d->fault, d->clock, k, change, &share, &severity);
        works_init(&d->works, d->clock, change, changes);
        if ((at -= share) <= 0)
            break;
    }
    works_init(&sound, d->clock, NULL, 0);
    let_run(&sound, rest_in_step(&sound, 1), r, &due);
    let_run(&d->works, draw_start(d->fault, &d->works, r), r, &d->all);
    bool good = n > 0 && choose(d, &due, (size_t)v->letoffs);
    event_list_release(&due);
    return good;
}

/* ---- the two ways to the finder ---- */

static bool right(const struct belief *b, const struct fault *f)
{
    for (size_t i = 0; i < b->causes && i < 3; i++) {
        const struct belief_cause *c = &b->cause[i];
        if (c->fault == f || c->second == f || (!strcmp(c->part, f->part) && !strcmp(c->class, f->class)))
            return true;
    }
    return false;
}

static bool by_ear(struct evaluation *v, const struct drawn *d, struct random *r, struct text *say)
{
    struct score_sounder table[CLOCK_SOUNDERS];
    struct score_style style = {.rate_hz = RATE_HZ, .tail_s = 2, .detune_cents = 20, .stretch = 0.005, .seed = random_bits(r)};
    struct degrade way = {.phone = true, .noise = NOISE_WHITE, .snr_db = v->snr_db};
    struct pcm p = {0};
    struct hearing h = {0};
    struct heard_clock heard = {0};
    struct heard_cause cause = {0};
    bool good = score_render(&d->events, table, setup_sounders(d->clock, table), &v->voices, &style, &p, NULL);
    degrade_apply(&way, &p, r);
    hearing_from_pcm(&h, &p);
    hear_name(&heard, v->desk.lib, d->clock, &h);
    for (size_t i = 0; i < heard.letoffs && i < d->letoffs; i++) /* when the clips were taken */
        heard.letoff[i].t_s = 60.0 * ((d->at_min[i] - d->at_min[0] + 1440) % 1440);
    good = good && heard.letoffs == d->letoffs &&
           heard_cause_init(&cause, &v->desk, &heard, d->clock, &h, d->at_min[0] % 720);
    bool found = good && right(&cause.report.belief, d->fault);
    if (cause.readings)
        sheet_print_shorthand(&cause.sheet[0], say);
    if (good)
        text_addf(say, " -> %s", cause.report.belief.cause[0].id);
    heard_cause_release(&cause);
    heard_clock_release(&heard);
    hearing_release(&h);
    pcm_release(&p);
    return found;
}

static bool by_truth(struct evaluation *v, const struct drawn *d)
{
    struct sheet s;
    struct belief b = {0};
    struct belief_options o = {.ear = &ear_recording};
    sheet_init(&s, v->desk.words);
    snprintf(s.clock, sizeof s.clock, "%s", d->clock->id);
    for (size_t i = 0; i < d->letoffs; i++) {
        struct heard *row = sheet_add_heard(&s);
        row->at = (struct sheet_at){.kind = AT_EXACT, .min = d->at_min[i] % 720};
        row->strike = d->tally[i].blows ? HEARD_STRIKE_COUNT : HEARD_STRIKE_NONE;
        row->value[0] = d->tally[i].blows < SHEET_COUNT_MOST ? d->tally[i].blows : SHEET_COUNT_MOST;
        row->values = d->tally[i].blows ? 1 : 0;
        snprintf(row->notes, sizeof row->notes, "%.*s", SHEET_NOTES, text_cstr(&d->tally[i].chime));
    }
    bool found = belief_find(v->desk.finder, &s, &o, &b) && right(&b, d->fault);
    belief_release(&b);
    sheet_release(&s);
    return found;
}

static void one_run(struct evaluation *v, struct random *r)
{
    struct drawn d = {0};
    struct text say = {0};
    bool good = false;
    for (int i = 0; i < TRIES && !good; i++) {
        drawn_release(&d);
        good = draw(v, &d, r);
    }
    if (good) {
        bool heard = by_ear(v, &d, r, &say), known = by_truth(v, &d);
        v->runs++;
        v->right += heard;
        v->ceiling += known;
        if (v->say)
            printf("%s %s  %s: %s\n", heard ? "right" : known ? "MISSED" : "unclear", d.fault->id, d.clock->id,
                   text_cstr(&say));
    }
    text_release(&say);
    drawn_release(&d);
}

static double number_after(int argc, char **argv, const char *name, double otherwise)
{
    for (int i = 1; i + 1 < argc; i++)
        if (!strcmp(argv[i], name))
            return strtod(argv[i + 1], NULL);
    return otherwise;
}

static int judge(const struct evaluation *v)
{
    double n = v->runs ? (double)v->runs : 1, share = (double)v->right / n, most = (double)v->ceiling / n;
    printf("right cause in the first three, from %zu recordings: %.3f (written down without a mistake: %.3f)\n",
           v->runs, share, most);
    double wanted = most - SHORT_OF_CEILING < AIM ? most - SHORT_OF_CEILING : AIM;
    return v->runs && share >= wanted - 1 / n ? 0 : 1; /* one more or less is chance */
}

int main(int argc, char **argv)
{
    struct evaluation v = {.snr_db = number_after(argc, argv, "--snr", 15),
                           .letoffs = (long)number_after(argc, argv, "--letoffs", 2)};
    struct err e = {0};
    struct random r;
    const char *long_s = getenv("LETOFF_LONG_S");
    double runs = number_after(argc, argv, "--runs", long_s ? 1e6 : 40);
    time_t until = time(NULL) + (long_s ? (time_t)strtol(long_s, NULL, 10) : 100000);
    random_init(&r, (uint64_t)number_after(argc, argv, "--seed", 5000));
    v.letoffs = v.letoffs < 1 ? 1 : v.letoffs > CLIPS_MOST ? CLIPS_MOST : v.letoffs;
    for (int i = 1; i < argc; i++)
        v.say |= !strcmp(argv[i], "--say");
    bool good = desk_open(&v.desk, &e) && voice_set_load_folder(&v.voices, "sounds", NULL, &e);
    for (double i = 0; good && i < runs && time(NULL) < until; i++)
        one_run(&v, &r);
    err_print(&e, stderr);
    err_release(&e);
    int status = good ? judge(&v) : 2;
    voice_set_release(&v.voices);
    desk_close(&v.desk);
    return status;
}
