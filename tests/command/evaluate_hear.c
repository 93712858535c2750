/* evaluate_hear - how often the right cause comes out of a recording alone.
 *
 *     evaluate_hear [--runs N] [--seed N] [--snr DB] [--letoffs N] [--fault ID] [--say]
 *
 * A clock, a fault that can occur on it and one of its variants are drawn by their priors; the clock is let run
 * for half a day; of the let-offs that sound, those that follow one another are taken from the first that
 * is not as it should be.  They go three ways to the fault finder, with the times told:
 *   recording  rendered, sent through a telephone's band with noise, and heard, as `letoff listen --clock --at` does;
 *   ear        the same from a hearing without a mistake: what the naming of hammers costs is the rest;
 *   rows       the same with counts and notes written down as they were: what the finder itself can know.
 * Right is: the fault itself, or one of the same part and class, among the first three causes.  Many faults
 * make the very same sounds in what was recorded (alike.h); `groups` counts the first three groups of causes that
 * sound alike, and beside it stands how many causes the right group holds and how many one has to look
 * at (parts that differ) in the three together.  `audible` are the cases in which the rows are AUDIBLE times likelier
 * under what explains them best than under a sound clock with its own spread.
 * With LETOFF_LONG_S it runs for so many seconds.
 */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "command/hear_cause.h"
#include "command/setup.h"
#include "command/tally.h"
#include "degrade.h"
#include "diagnose/alike.h"
#include "mem.h"
#include "movement/move.h"
#include "sound/score.h"

#define RATE_HZ 16000
#define HALF_DAY_MIN 720
#define GAP_S 25.0 /* longer than any pause within a let-off */
#define CLIPS_MOST 8
#define AIM 0.9
#define SHORT_OF_CEILING 0.05 /* what hearing may cost, where the let-offs themselves do not tell enough */
#define TRIES 40
#define PATIENCE 60 /* blows of one let-off: then the recording is ended, whatever the clock does */
#define AUDIBLE 3.0
#define TOGETHER_S 0.03 /* hammers that fall together are one blow even to the best of ears */
#define FIRST 3

enum way { BY_RECORDING, BY_EAR, BY_ROWS, WAYS };
static const char *const way_names[WAYS] = {"recording", "ear", "rows"};

/* How one answer fared. */
struct found {
    bool cause, group; /* right among the first three causes; groups of causes that sound alike */
    bool audible;
    size_t alike, parts; /* causes in the right group; parts to look at in the first three groups */
};

/* Of all runs, with so many let-offs recorded. */
struct figures {
    size_t runs, audible;
    struct {
        size_t cause, group, audible_cause, audible_group, alike, parts;
    } way[WAYS];
};

static const size_t lengths[] = {2, 4, 8};
#define LENGTHS (sizeof lengths / sizeof *lengths)

struct evaluation {
    struct desk desk;
    struct voice_set voices;
    double snr_db;
    long letoffs; /* 0: all of lengths */
    bool say;
    const char *fault; /* only this one; NULL all */
    struct figures figures[LENGTHS];
};

/* One drawn case: the fault, and the let-offs that were recorded. */
struct drawn {
    const struct clock *clock;
    const struct fault *fault;
    struct works works;
    struct event_list all, events; /* of half a day; those recorded, at the times of the recording */
    int at_min[CLIPS_MOST];
    double from_s[CLIPS_MOST]; /* first blow of each, in the recording */
    struct tally tally[CLIPS_MOST];
    size_t until[CLIPS_MOST]; /* events of the recording up to and with each let-off */
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
    int blows = 0;
    for (size_t i = from; i < to; i++) {
        struct event e = d->all.at[i];
        if (!event_sounds(&e) || e.train == TRAIN_MUSIC || blows++ >= PATIENCE)
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
        bool sounds = t.blows + t.notes > 0;
        if (next <= i || !sounds || (!d->letoffs && as_due(d, due, &t))) {
            tally_release(&t);
        } else {
            d->from_s[d->letoffs] = at_s;
            at_s = record(d, i, next, at_s);
            d->at_min[d->letoffs] = t.hand_min;
            d->until[d->letoffs] = d->events.count;
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
    if (v->fault && (d->fault = library_find_fault(lib, v->fault)) != NULL && !fault_applies(d->fault, d->clock))
        d->fault = NULL;
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
    bool good = n > 0 && choose(d, &due, CLIPS_MOST);
    event_list_release(&due);
    return good;
}

/* ---- judging an answer ---- */

static bool right(const struct belief_cause *c, const struct fault *f)
{
    return c->fault == f || c->second == f || (!strcmp(c->part, f->part) && !strcmp(c->class, f->class));
}

static bool holds(const struct alike_group *g, const struct belief *b, const struct fault *f)
{
    for (size_t i = 0; i < g->causes; i++)
        if (right(&b->cause[g->cause[i]], f))
            return true;
    return false;
}

/* How much likelier the rows are under what explains them best than under a sound clock. */
static double against_sound(const struct belief *b)
{
    double sound = 1e-12, best = 0;
    for (size_t i = 0; i < b->helds; i++) {
        double *most = strcmp(b->cause[b->held[i].cause].id, "none") ? &best : &sound;
        *most = b->held[i].chance > *most ? b->held[i].chance : *most;
    }
    return best / sound;
}

static void judge_answer(struct found *out, const struct belief *b, const struct sheet *s, const struct fault *f)
{
    struct alike *a = mem_alloc(sizeof *a);
    const char *part[ALIKE_CAUSES * FIRST];
    struct alike_group first = {.causes = 0};
    alike_find(a, b, s, ALIKE_CAUSES, 1e-4);
    for (size_t i = 0; i < b->causes && i < FIRST; i++)
        out->cause |= right(&b->cause[i], f);
    for (size_t i = 0; i < a->groups && i < FIRST; i++) {
        bool mine = holds(&a->group[i], b, f);
        if (mine && !out->group)
            out->alike = a->group[i].causes;
        out->group |= mine;
        for (size_t k = 0; k < a->group[i].causes && first.causes < ALIKE_CAUSES; k++)
            first.cause[first.causes++] = a->group[i].cause[k];
    }
    out->parts = alike_parts(&first, b, part, ALIKE_CAUSES * FIRST);
    out->audible = against_sound(b) > AUDIBLE;
    mem_free(a);
}

/* ---- the ways to the finder ---- */

static size_t blows_of(const struct drawn *d, size_t letoffs, struct event_list *out)
{
    for (size_t i = 0; i < d->events.count && i < d->until[letoffs - 1]; i++)
        event_list_add(out, d->events.at[i]);
    return out->count;
}

/* A hearing without a mistake: sounders in their order of pitch. */
static void hear_exactly(const struct clock *c, const struct event_list *events, struct hearing *h)
{
    uint8_t rank[CLOCK_SOUNDERS] = {0};
    bool used[CLOCK_SOUNDERS] = {false};
    float most[CLOCK_SOUNDERS] = {0};
    hearing_clear(h);
    for (size_t i = 0; i < events->count; i++) {
        const struct event *e = &events->at[i];
        used[e->sounder] = true;
        most[e->sounder] = e->strength > most[e->sounder] ? e->strength : most[e->sounder];
    }
    for (int i = 0; i < c->sounders; i++)
        for (int k = 0; k < c->sounders; k++)
            if (used[k] && (c->sounder[k].hz > c->sounder[i].hz || (c->sounder[k].hz == c->sounder[i].hz && k < i)))
                rank[i]++;
    for (int i = 0; i < c->sounders; i++)
        if (used[i] && rank[i] < HEARING_SOUNDERS_MOST) {
            h->sounder[rank[i]] = (struct heard_sounder){.pitch_hz = c->sounder[i].hz, .ring_s = 1, .strength = 1};
            h->sounder_count = rank[i] + 1u > h->sounder_count ? rank[i] + 1u : h->sounder_count;
        }
    for (size_t i = 0; i < events->count; i++) {
        const struct event *e = &events->at[i];
        uint8_t k = rank[e->sounder];
        if (h->blow_count && e->t_s - h->blow[h->blow_count - 1].t_s < TOGETHER_S)
            continue;
        h->blow = mem_grow(h->blow, &h->blow_room, h->blow_count + 1, sizeof *h->blow);
        h->blow[h->blow_count] = (struct heard_blow){.t_s = e->t_s, .sounder = k, .quality = e->quality, .p = 1, .sure = 1,
                                                     .strength = e->strength / most[e->sounder], .ring_s = 1, .tonality = 1};
        h->blow[h->blow_count++].sounder_p[k] = 1;
        h->sounder[k].blows++;
    }
    hearing_divide(h);
}

static void hear_recording(struct evaluation *v, const struct clock *c, const struct event_list *events, uint64_t seed,
                           struct hearing *h)
{
    struct score_sounder table[CLOCK_SOUNDERS];
    struct score_style style = {.rate_hz = RATE_HZ, .tail_s = 2, .detune_cents = 20, .stretch = 0.005, .seed = seed};
    struct degrade way = {.phone = true, .noise = NOISE_WHITE, .snr_db = v->snr_db};
    struct random r;
    struct pcm p = {0};
    random_init(&r, seed);
    if (!score_render(events, table, setup_sounders(c, table), &v->voices, &style, &p, NULL))
        abort();
    degrade_apply(&way, &p, &r);
    hearing_from_pcm(h, &p);
    pcm_release(&p);
}

/* When the clips were taken: at the minute of their let-off, each blow as much later as it was. */
static void tell_times(struct heard_clock *heard, const struct drawn *d, size_t letoffs)
{
    for (size_t i = 0; i < heard->letoffs; i++) {
        size_t of = letoffs - 1;
        while (of > 0 && d->from_s[of] > heard->letoff[i].t_s + 1)
            of--;
        heard->letoff[i].t_s += 60.0 * ((d->at_min[of] - d->at_min[0] + 1440) % 1440) - d->from_s[of];
    }
}

static void by_hearing(struct evaluation *v, const struct drawn *d, size_t letoffs, const struct hearing *h,
                       struct found *out, struct text *say)
{
    struct heard_clock heard = {0};
    struct heard_cause cause = {0};
    snprintf(v->desk.sheet.clock, sizeof v->desk.sheet.clock, "%s", d->clock->id);
    hear_name(&heard, v->desk.lib, d->clock, h);
    tell_times(&heard, d, letoffs);
    if (heard.letoffs && heard_cause_believe(&cause, &v->desk, &heard, d->clock, h, d->at_min[0] % 720)) {
        judge_answer(out, &cause.report.belief, &cause.sheet[0], d->fault);
        sheet_print_shorthand(&cause.sheet[0], say);
        text_addf(say, " -> %s%s\n", cause.report.belief.cause[0].id, cause.pairs ? " (pairs)" : "");
    } else {
        text_addf(say, "%zu let-offs heard of %zu\n", heard.letoffs, letoffs);
    }
    heard_cause_release(&cause);
    heard_clock_release(&heard);
}

/* What runs on has been found out by ear already. */
static void write_exactly(const struct tally *t, struct heard *row)
{
    if (row->strike != HEARD_STRIKE_RUNS_ON) {
        row->strike = t->blows ? HEARD_STRIKE_COUNT : HEARD_STRIKE_NONE;
        row->value[0] = t->blows < SHEET_COUNT_MOST ? t->blows : SHEET_COUNT_MOST;
        row->values = t->blows ? 1 : 0;
    }
    if (row->chime != HEARD_CHIME_RUNS_ON)
        snprintf(row->notes, sizeof row->notes, "%.*s", SHEET_NOTES, text_cstr(&t->chime));
    if (row->notes[0] && row->chime == HEARD_CHIME_NONE)
        row->chime = HEARD_CHIME_UNSAID;
}

/* The rows of an exact hearing, with counts and notes as they were. */
static void by_rows(struct evaluation *v, const struct drawn *d, size_t letoffs, const struct hearing *h,
                    struct found *out, struct text *say)
{
    struct heard_clock heard = {0};
    struct sheet s;
    struct belief b = {0};
    struct belief_options o = {.ear = &ear_recording};
    sheet_init(&s, v->desk.words);
    snprintf(s.clock, sizeof s.clock, "%s", d->clock->id);
    hear_name(&heard, v->desk.lib, d->clock, h);
    hear_rows(&heard, d->clock, h, -1, &s);
    if (s.heards != letoffs) {
        sheet_release(&s);
        sheet_init(&s, v->desk.words);
        snprintf(s.clock, sizeof s.clock, "%s", d->clock->id);
    }
    for (size_t i = 0; i < letoffs; i++) {
        struct heard *row = i < s.heards ? &s.heard[i] : sheet_add_heard(&s);
        row->at = (struct sheet_at){.kind = AT_EXACT, .min = d->at_min[i] % 720};
        write_exactly(&d->tally[i], row);
    }
    sheet_print_shorthand(&s, say);
    if (belief_find(v->desk.finder, &s, &o, &b)) {
        judge_answer(out, &b, &s, d->fault);
        text_addf(say, " -> %s\n", b.cause[0].id);
    }
    belief_release(&b);
    heard_clock_release(&heard);
    sheet_release(&s);
}

/* ---- one case ---- */

static void count(struct figures *f, const struct found found[WAYS])
{
    bool audible = found[BY_ROWS].audible;
    f->runs++;
    f->audible += audible;
    for (int w = 0; w < WAYS; w++) {
        f->way[w].cause += found[w].cause;
        f->way[w].group += found[w].group;
        f->way[w].audible_cause += audible && found[w].cause;
        f->way[w].audible_group += audible && found[w].group;
        f->way[w].alike += found[w].alike;
        f->way[w].parts += found[w].parts;
    }
}

static void say_case(const struct drawn *d, size_t letoffs, const struct found found[WAYS], const struct text say[WAYS])
{
    printf("%s on %s, %zu let-offs%s\n", d->fault->id, d->clock->id, letoffs, found[BY_ROWS].audible ? "" : ", not audible");
    for (int w = 0; w < WAYS; w++)
        printf("  %-9s %s %s (%zu alike)  %s", way_names[w], found[w].cause ? "right " : "MISSED", found[w].group ? "right " : "MISSED",
               found[w].alike, text_cstr(&say[w]));
    fflush(stdout);
}

static void one_length(struct evaluation *v, const struct drawn *d, size_t letoffs, uint64_t seed, struct figures *f)
{
    struct event_list events = {0};
    struct hearing recorded = {0}, exact = {0};
    struct found found[WAYS] = {{0}};
    struct text say[WAYS] = {{0}};
    if (blows_of(d, letoffs, &events) > 0) {
        hear_recording(v, d->clock, &events, seed, &recorded);
        hear_exactly(d->clock, &events, &exact);
        by_hearing(v, d, letoffs, &recorded, &found[BY_RECORDING], &say[BY_RECORDING]);
        by_hearing(v, d, letoffs, &exact, &found[BY_EAR], &say[BY_EAR]);
        by_rows(v, d, letoffs, &exact, &found[BY_ROWS], &say[BY_ROWS]);
        count(f, found);
        if (v->say)
            say_case(d, letoffs, found, say);
    }
    for (int w = 0; w < WAYS; w++)
        text_release(&say[w]);
    hearing_release(&recorded);
    hearing_release(&exact);
    event_list_release(&events);
}

static void one_run(struct evaluation *v, uint64_t seed)
{
    struct drawn d = {0};
    struct random r;
    bool good = false;
    random_init(&r, seed);
    for (int i = 0; i < TRIES && !good; i++) {
        drawn_release(&d);
        good = draw(v, &d, &r);
    }
    for (size_t i = 0; good && i < LENGTHS; i++) {
        size_t letoffs = lengths[i] < d.letoffs ? lengths[i] : d.letoffs;
        if (!v->letoffs || (size_t)v->letoffs == lengths[i])
            one_length(v, &d, letoffs, seed, &v->figures[i]);
    }
    drawn_release(&d);
}

/* ---- the whole ---- */

static double number_after(int argc, char **argv, const char *name, double otherwise)
{
    for (int i = 1; i + 1 < argc; i++)
        if (!strcmp(argv[i], name))
            return strtod(argv[i + 1], NULL);
    return otherwise;
}

static double share(size_t part, size_t whole)
{
    return whole ? (double)part / (double)whole : 0;
}

static void tell(const struct figures *f, size_t letoffs)
{
    printf("%zu let-offs, %zu cases, %zu audible\n", letoffs, f->runs, f->audible);
    puts("             cause in three   audible   group in three   audible   causes in it   parts in the three");
    for (int w = 0; w < WAYS; w++)
        printf("  %-10s     %5.3f        %5.3f        %5.3f         %5.3f        %4.1f            %4.1f\n", way_names[w],
               share(f->way[w].cause, f->runs), share(f->way[w].audible_cause, f->audible),
               share(f->way[w].group, f->runs), share(f->way[w].audible_group, f->audible),
               share(f->way[w].alike, f->way[w].group), share(f->way[w].parts, f->runs));
}

static int judge(const struct evaluation *v)
{
    int missed = 0;
    for (size_t i = 0; i < LENGTHS; i++) {
        const struct figures *f = &v->figures[i];
        if (!f->runs)
            continue;
        tell(f, lengths[i]);
        double most = share(f->way[BY_ROWS].cause, f->runs), one = 1 / (double)f->runs; /* one more or less is chance */
        double wanted = most - SHORT_OF_CEILING < AIM ? most - SHORT_OF_CEILING : AIM;
        missed += share(f->way[BY_RECORDING].cause, f->runs) < wanted - one;
    }
    return missed > 0;
}

int main(int argc, char **argv)
{
    struct evaluation v = {.snr_db = number_after(argc, argv, "--snr", 15),
                           .letoffs = (long)number_after(argc, argv, "--letoffs", 0)};
    struct err e = {0};
    const char *long_s = getenv("LETOFF_LONG_S");
    double runs = number_after(argc, argv, "--runs", long_s ? 1e6 : 40);
    double seed = number_after(argc, argv, "--seed", 5000);
    time_t until = time(NULL) + (long_s ? (time_t)strtol(long_s, NULL, 10) : 100000);
    for (int i = 1; i < argc; i++) {
        v.say |= !strcmp(argv[i], "--say");
        v.fault = i + 1 < argc && !strcmp(argv[i], "--fault") ? argv[i + 1] : v.fault;
    }
    bool good = desk_open(&v.desk, &e) && voice_set_load_folder(&v.voices, "sounds", NULL, &e);
    for (double i = 0; good && i < runs && time(NULL) < until; i++)
        one_run(&v, (uint64_t)(seed + i));
    err_print(&e, stderr);
    err_release(&e);
    int status = good ? judge(&v) : 2;
    voice_set_release(&v.voices);
    desk_close(&v.desk);
    return status;
}
