#include "pretend_caller.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "diagnose/evidence.h"
#include "diagnose/hypothesis.h"
#include "mem.h"

#define NAMED         0.5 /* share of callers who know what kind of clock it is */
#define HINTS_TOLD    4   /* what the others tell of it */
#define HINT_SLIP     0.02
#define HISTORY_TOLD  0.02 /* a word of the history is told for no reason */
#define HISTORY_SO    0.1  /* it is so for no reason */
#define ATTEND_HOUR   0.7  /* let-offs that are listened to */
#define ATTEND_OTHER  0.35
#define SAYS_RIGHT    0.1 /* says right or wrong instead of a count */
#define SAYS_PHRASES  0.2 /* counts the phrases of a chime */
#define TELLS_QUALITY 0.5
#define LISTENS       24  /* let-offs, at most */
#define SOUND_KEPT    0.1 /* calls in which nothing odd is told */
#define REDRAWS       200

/* ---- the desk and the world ---- */

void pretend_desk_init(struct pretend_desk *d, const struct library *lib, const struct words *words,
                       const struct minutes_table *table)
{
    *d = (struct pretend_desk){.lib = lib, .words = words, .table = table};
    d->kase = mem_alloc((library_clocks(lib) + 1) * sizeof *d->kase);
}

void pretend_desk_release(struct pretend_desk *d)
{
    for (size_t i = 0; i < library_clocks(d->lib); i++)
        if (d->kase[i]) {
            clock_case_release(d->kase[i]);
            mem_free(d->kase[i]);
        }
    mem_free(d->kase);
}

static struct clock_case *case_of(struct pretend_desk *d, size_t i)
{
    if (!d->kase[i]) {
        d->kase[i] = mem_alloc(sizeof *d->kase[i]);
        clock_case_init(d->kase[i], d->lib, library_clock(d->lib, i));
    }
    return d->kase[i];
}

static double clock_share(const struct pretend_desk *d, const struct clock *c)
{
    return !d->clocks || strstr(d->clocks, c->id) ? c->share : 0;
}

/* Share of all calls that a fault of the library makes. */
static double share_of_calls(const struct pretend_world *w, const struct pretend_desk *d,
                             size_t fault)
{
    double calls = 0, all = 0;
    for (size_t i = 0; i < library_clocks(d->lib); i++) {
        const struct clock *c = library_clock(d->lib, i);
        double sum = 0, mine = 0;
        for (size_t f = 0; f < library_faults(d->lib); f++) {
            const struct fault *row = library_fault(d->lib, f);
            double prior = fault_applies(row, c) ? row->prior * w->factor[f] : 0;
            sum += prior;
            mine += f == fault ? prior : 0;
        }
        all += clock_share(d, c);
        calls += sum > 0 ? clock_share(d, c) * mine / sum : 0;
    }
    return all > 0 ? calls / all : 0;
}

static struct ear_model duller_ear(double times)
{
    struct ear_model m = ear_usual;
    double *error[] = {&m.miscount, &m.miscount_each, &m.asleep,        &m.dreamt,
                       &m.slip,     &m.word_false,    &m.normal_anyway, &m.tune_missed};
    for (size_t i = 0; i < sizeof error / sizeof *error; i++)
        *error[i] *= times;
    m.unnoticed = 1 - (1 - m.unnoticed) / times;
    return m;
}

void pretend_world_init(struct pretend_world *w, struct pretend_desk *d,
                        const struct world_row *row)
{
    struct random r;
    size_t n = library_faults(d->lib);
    random_init(&r, (uint64_t)row->seed * 7919);
    *w = (struct pretend_world){.row = row, .lib = d->lib, .ear = duller_ear(row->ear)};
    w->factor = mem_alloc((n + 1) * sizeof *w->factor);
    w->lacking = mem_alloc((n + 1) * sizeof *w->lacking);
    for (size_t i = 0; i < n; i++)
        w->factor[i] = exp(row->priors * random_normal(&r));
    for (int tries = 0; row->lacking > 0 && tries < 2000 && w->lacking_share < 0.98 * row->lacking;
         tries++) {
        size_t i = random_below(&r, (unsigned)n);
        double share = w->lacking[i] ? 1 : share_of_calls(w, d, i);
        if (w->lacking_share + share > 1.02 * row->lacking)
            continue;
        w->lacking[i] = true;
        w->lacking_share += share;
    }
}

void pretend_world_release(struct pretend_world *w)
{
    mem_free(w->factor);
    mem_free(w->lacking);
}

static size_t fault_number(const struct library *lib, const char *id)
{
    for (size_t i = 0; i < library_faults(lib); i++)
        if (strcmp(library_fault(lib, i)->id, id) == 0)
            return i;
    return 0;
}

double pretend_given(void *with, const char *clock, const char *fault)
{
    const struct pretend_world *w = with;
    (void)clock;
    return w->lacking[fault_number(w->lib, fault)] ? 0 : 1;
}

bool pretend_lacks(const struct pretend_world *w, const struct fault *f)
{
    return w->lacking[fault_number(w->lib, f->id)];
}

double pretend_true(void *with, const char *clock, const char *fault)
{
    const struct pretend_world *w = with;
    (void)clock;
    return w->factor[fault_number(w->lib, fault)];
}

/* ---- drawing the cause ---- */

static size_t draw(struct random *r, const double *weight, size_t n)
{
    double sum = 0;
    for (size_t i = 0; i < n; i++)
        sum += weight[i];
    double at = random_unit(r) * sum;
    for (size_t i = 0; i < n; i++) {
        at -= weight[i];
        if (at < 0 && weight[i] > 0)
            return i;
    }
    size_t last = n - 1;
    while (last > 0 && weight[last] <= 0)
        last--;
    return last;
}

static size_t draw_clock(struct pretend_call *c)
{
    size_t n = library_clocks(c->desk->lib);
    double *w = mem_alloc((n + 1) * sizeof *w);
    for (size_t i = 0; i < n; i++)
        w[i] = clock_share(c->desk, library_clock(c->desk->lib, i));
    size_t i = draw(&c->random, w, n);
    mem_free(w);
    return i;
}

static void draw_fault(struct pretend_call *c)
{
    size_t n = library_faults(c->desk->lib);
    double *w = mem_alloc((n + 1) * sizeof *w);
    c->fault = NULL;
    c->lacking = false;
    for (size_t i = 0; i < n; i++) {
        const struct fault *f = library_fault(c->desk->lib, i);
        w[i] = fault_applies(f, c->clock) ? f->prior * c->world->factor[i] : 0;
    }
    if (random_unit(&c->random) >= PRIOR_NONE) {
        size_t i = draw(&c->random, w, n);
        c->fault = library_fault(c->desk->lib, i);
        c->lacking = c->world->lacking[i];
    }
    mem_free(w);
}

/* A value between the swept ones, where the parameter is a matter of degree. */
static double between(const struct fault_axis *a, double value, double u)
{
    const struct par_row *row = par_row(a->par);
    if (a->known_by_clock || row->join == JOIN_SET || a->values < 2)
        return value;
    int at = 0;
    while (at + 1 < a->values && a->value[at] != value)
        at++;
    double other = a->value[at + 1 < a->values ? at + 1 : at - 1];
    if ((value - row->sound) * (other - row->sound) <= 0) /* not across sound */
        return value;
    double v = value + u * (other - value);
    bool whole = value == floor(value) && other == floor(other);
    return whole ? round(v) : v;
}

static size_t draw_variant(struct pretend_call *c, struct change *change)
{
    size_t variants = fault_variants(c->fault, c->clock), n = 0;
    double *w = mem_alloc((variants + 1) * sizeof *w), severity;
    for (size_t v = 0; v < variants; v++)
        fault_variant(c->fault, c->clock, v, change, &w[v], &severity);
    size_t v = draw(&c->random, w, variants);
    mem_free(w);
    double weight;
    n = fault_variant(c->fault, c->clock, v, change, &weight, &severity);
    for (int i = 0; c->world->row->off_grid && i < c->fault->axes; i++) {
        double u = 0.2 + 0.6 * random_unit(&c->random);
        for (size_t k = (size_t)c->fault->sets; k < n; k++)
            if (change[k].par == c->fault->axis[i].par)
                change[k].value = between(&c->fault->axis[i], change[k].value, u);
    }
    return n;
}

/* The case keeps one place (variant 1) for the works of the truth. */
static void set_works(struct pretend_call *c, const struct change *change, size_t changes)
{
    struct clock_case *k = c->kase;
    c->variant = c->fault && k->variants > 1 ? 1 : 0;
    struct variant *v = &k->variant[c->variant];
    struct outcome_table *t = &k->table[v->table];
    if (c->variant) {
        double par[PAR_COUNT];
        outcome_table_release(t);
        outcome_table_init(t, &k->rows, change, changes);
        outcome_table_par(t, par);
        v->fault = c->fault;
        v->minute_off = (int)lround(par[PAR_minute_off_min]);
        v->hour_off = (int)lround(par[PAR_hour_off_min]);
        v->late = VARIANT_LATE_NEW;
    }
    c->works = outcome_table_works(t);
}

/* ---- the clock going on ---- */

static int letoff_gap(const struct pretend_call *c)
{
    const struct letoff_classes *k = &c->kase->classes;
    int before = k->minute[c->next ? c->next - 1 : k->letoffs - 1];
    int gap = (k->minute[c->next] - before + c->clock->cycle_min) % c->clock->cycle_min;
    return gap ? gap : c->clock->cycle_min;
}

/* One let-off on: its number, what it came to, and how the hands stood. */
struct heard_letoff {
    int letoff, dial_min, shown_min;
    uint32_t outcome, due;
    bool held; /* the hands did not come so far, or stand there now */
};

static uint32_t due_at(const struct clock_case *k, int dial)
{
    for (int i = 0; i < k->classes.letoffs; i++)
        if (k->classes.minute[i] == dial % k->clock->cycle_min)
            return k->due[i];
    return 0;
}

static struct heard_letoff go_on(struct pretend_call *c, enum turner by)
{
    const struct clock_case *k = c->kase;
    struct event_list events = {0};
    struct chance chance;
    const struct variant *v = &k->variant[c->variant];
    int lobe_min = k->classes.minute[c->next], hours = (int)lround(v->hour_off / 60.0) * 60;
    int want = (lobe_min - c->now.work_min % c->clock->cycle_min + c->clock->cycle_min) %
               c->clock->cycle_min;
    want = want ? want : letoff_gap(c);
    struct heard_letoff h = {.letoff = c->next,
                             .dial_min = (lobe_min + hours + 2880) % 1440,
                             .shown_min = lobe_min + v->minute_off + hours};
    chance_draw(&chance, &c->random);
    c->now.t_s = -60.0 * want;
    int done = movement_turn(c->works, &c->now, want, by, &chance, &events);
    h.outcome =
        sounding_digest(&c->kase->pool, c->clock, k->classes.lobe[c->next], &events, c->now.rest);
    h.due = due_at(k, h.dial_min);
    h.held = done < want || outcome_holds_hands(c->now.rest);
    event_list_release(&events);
    if (!h.held)
        c->next = (c->next + 1) % k->classes.letoffs;
    return h;
}

/* Someone eases what stands and sets the hands on past the let-off it stood at. */
static void set_going(struct pretend_call *c)
{
    struct chance chance;
    chance_draw(&chance, &c->random);
    movement_do(c->works, &c->now, ACTION_FREE, 0, &chance, NULL);
    int lobe_min = c->kase->classes.minute[c->next], cycle = c->clock->cycle_min;
    int want = (lobe_min - c->now.work_min % cycle + cycle) % cycle;
    if (want > 0 && want < cycle / 2)
        movement_turn(c->works, &c->now, want, BY_HAND, &chance, NULL);
    c->now.rest.stuck = outcome_holds_hands(c->now.rest) ? STUCK_NOT : c->now.rest.stuck;
    c->now.work_min = (c->now.work_min / cycle * cycle + lobe_min) % 1440;
    c->next = (c->next + 1) % c->kase->classes.letoffs;
}

static void draw_start(struct pretend_call *c)
{
    struct start start[512];
    const struct works *sound = outcome_table_works(&c->kase->table[c->kase->variant[0].table]);
    c->next = (int)random_below(&c->random, (unsigned)c->kase->classes.letoffs);
    int minute = c->kase->classes.minute[c->next], gap = letoff_gap(c);
    size_t n = fault_starts(c->fault, sound, minute, start, 512);
    double w[512];
    for (size_t i = 0; i < n; i++)
        w[i] = start[i].p;
    moment_init(&c->now, c->works, (minute - gap + 1440) % 1440);
    c->now.rest = start[draw(&c->random, w, n)].rest;
    if (c->fault && c->fault->start)
        return;
    for (int i = 0; i < c->clock->lobes; i++) { /* an hour that nobody heeds */
        struct heard_letoff h = go_on(c, BY_TIME);
        if (h.held && random_unit(&c->random) < 0.5)
            set_going(c);
        else if (h.held)
            return;
    }
}

/* ---- what the caller tells ---- */

static bool tells_right_or_wrong(struct pretend_call *c, const struct ear_at *a, struct heard *h)
{
    static const enum heard_strike said[] = {HEARD_STRIKE_RIGHT, HEARD_STRIKE_WRONG,
                                             HEARD_STRIKE_NONE};
    double w[3];
    for (size_t i = 0; i < 3; i++) {
        h->strike = said[i];
        w[i] = ear_row(a, h);
    }
    h->strike = said[draw(&c->random, w, 3)];
    return h->strike != HEARD_STRIKE_RIGHT;
}

/* Returns whether what is told is odd. */
static bool tell_strike(struct pretend_call *c, const struct ear_at *a, struct heard *h)
{
    const struct train_sound *t = &a->sound->train[TRAIN_STRIKE];
    int due = a->due->train[TRAIN_STRIKE].count,
        made = train_sound_endless(t) ? HEARD_ENDLESS : t->count;
    double w[SHEET_COUNT_MOST + 2];
    if (!due && !made)
        return false;
    if (due && random_unit(&c->random) < SAYS_RIGHT)
        return tells_right_or_wrong(c, a, h);
    for (int n = 0; n <= SHEET_COUNT_MOST; n++)
        w[n] = ear_count(a->model, made, n);
    w[SHEET_COUNT_MOST + 1] = ear_count(a->model, made, HEARD_ENDLESS);
    int told = (int)draw(&c->random, w, SHEET_COUNT_MOST + 2);
    if (!due && !told) /* nobody tells of a silence where none is due */
        return false;
    h->strike = told > SHEET_COUNT_MOST ? HEARD_STRIKE_RUNS_ON
                : told                  ? HEARD_STRIKE_COUNT
                                        : HEARD_STRIKE_NONE;
    h->value[0] = told;
    h->values = h->strike == HEARD_STRIKE_COUNT ? 1 : 0;
    return told != due;
}

static bool tell_chime(struct pretend_call *c, const struct ear_at *a, struct heard *h)
{
    static const enum heard_chime said[] = {HEARD_CHIME_RIGHT, HEARD_CHIME_WRONG, HEARD_CHIME_NONE,
                                            HEARD_CHIME_RUNS_ON};
    double w[16];
    struct heard alone;
    heard_init(&alone);
    if (!clock_train(c->clock, TRAIN_CHIME) ||
        (!a->due->train[TRAIN_CHIME].falls && !a->sound->train[TRAIN_CHIME].falls))
        return false;
    for (size_t i = 0; i < 4; i++) {
        alone.chime = said[i];
        w[i] = ear_row(a, &alone);
    }
    h->chime = said[draw(&c->random, w, 4)];
    bool odd = h->chime != HEARD_CHIME_RIGHT;
    if (h->chime > HEARD_CHIME_NONE && h->chime != HEARD_CHIME_RUNS_ON &&
        random_unit(&c->random) < SAYS_PHRASES) {
        alone.chime = HEARD_CHIME_UNSAID;
        for (int n = 0; n < 12; n++) {
            alone.phrases = n + 1;
            w[n] = ear_row(a, &alone);
        }
        h->phrases = (int)draw(&c->random, w, 12) + 1;
    }
    return odd;
}

/* Words that only say again what the count, the notes or the time say; and words about notes, of a
 * clock that only counts, or about a pause before a strike that did not come. */
static bool not_told(const struct pretend_call *c, const struct ear_at *a, const char *word)
{
    static const char *const again[] = {"right", "wrong",  "silent", "runs_on", "bound",
                                        "stops", "normal", "late",   "early",   "jams"};
    static const char *const notes[] = {"note", "phrase", "jumbled", "swapped"};
    for (size_t i = 0; i < sizeof again / sizeof *again; i++)
        if (strcmp(again[i], word) == 0)
            return true;
    if (strstr(word, "pause") && !a->sound->train[TRAIN_STRIKE].falls)
        return true;
    for (size_t i = 0; !clock_train(c->clock, TRAIN_CHIME) && i < sizeof notes / sizeof *notes; i++)
        if (strstr(word, notes[i]))
            return true;
    return false;
}

/* How much more the let-off has a quality than a right one has. */
static double more_than_due(const struct ear_at *a, int how)
{
    struct ear_at right = *a;
    right.sound = a->due;
    return ear_quality(a, how) - fmax(0, ear_quality(&right, how));
}

/* What somebody may think to hear who only heard badly. */
static void tell_fancied(struct pretend_call *c, struct heard *h)
{
    static const char *const fancied[] = {"slow", "fast", "uneven", "soft",
                                          "loud", "dull", "buzz",   "double"};
    const unsigned n = sizeof fancied / sizeof *fancied;
    word_set_add(&h->how,
                 words_ordinal(c->desk->words, WORD_HOW, fancied[random_below(&c->random, n)]));
}

static bool tell_quality(struct pretend_call *c, const struct ear_at *a, struct heard *h)
{
    size_t n = words_count(c->desk->words, WORD_HOW);
    double *w = mem_alloc((n + 1) * sizeof *w), most = 0;
    for (size_t i = 0; i < n; i++) {
        const char *word = words_at(c->desk->words, WORD_HOW, i)->id;
        double d = not_told(c, a, word) ? 0 : more_than_due(a, (int)i);
        w[i] = d >= 0.5 ? d : 0;
        most = fmax(most, w[i]);
    }
    bool told = random_unit(&c->random) <
                (most > 0 ? TELLS_QUALITY / c->world->row->ear : a->model->word_false);
    if (told && most > 0)
        word_set_add(&h->how, (int)draw(&c->random, w, n));
    else if (told)
        tell_fancied(c, h);
    mem_free(w);
    return told;
}

static int around(int minutes)
{
    int m = ((minutes % 720) + 720) % 720;
    return m > 360 ? m - 720 : m;
}

/* By the hands, when it came at another minute than its own. */
static bool tell_time(struct pretend_call *c, const struct ear_at *a, struct heard *h)
{
    const struct train_sound *t = a->sound->train[TRAIN_STRIKE].falls
                                      ? &a->sound->train[TRAIN_STRIKE]
                                      : &a->sound->train[TRAIN_CHIME];
    int off = t->falls ? around(a->shown_min + t->minute - a->dial_min) : 0;
    h->at.kind = AT_EXACT;
    h->at.min = a->dial_min % 720;
    if (abs(off) < 3)
        return false;
    h->at.min = ((a->dial_min + off) % 720 + 720) % 720;
    h->has_for = abs(off) <= 10 && random_unit(&c->random) < 0.5;
    h->due.kind = AT_EXACT;
    h->due.min = a->dial_min % 720;
    return true;
}

static void tell(struct pretend_call *c, const struct heard_letoff *now)
{
    struct ear_at a = {.model = &c->world->ear,
                       .words = c->desk->words,
                       .clock = c->clock,
                       .pool = &c->kase->pool,
                       .sound = sounding_at(&c->kase->pool, now->outcome),
                       .due = sounding_at(&c->kase->pool, now->due),
                       .lobe = c->kase->classes.lobe[now->letoff],
                       .dial_min = now->dial_min,
                       .shown_min = now->shown_min};
    struct heard h;
    heard_init(&h);
    bool odd = tell_strike(c, &a, &h);
    odd |= tell_chime(c, &a, &h);
    if (h.strike == HEARD_STRIKE_UNSAID && h.chime == HEARD_CHIME_UNSAID)
        return;
    bool sounded = h.strike != HEARD_STRIKE_NONE ||
                   (h.chime != HEARD_CHIME_UNSAID && h.chime != HEARD_CHIME_NONE);
    odd |= tell_time(c, &a, &h);
    if (sounded)
        odd |= tell_quality(c, &a, &h);
    *sheet_add_heard(&c->sheet) = h;
    c->odd |= odd;
}

static void tell_stand(struct pretend_call *c)
{
    struct heard *h = sheet_add_heard(&c->sheet);
    h->at.kind = AT_EXACT;
    h->at.min = moment_shown(c->works, &c->now) % 720;
    h->stopped = c->now.rest.stuck == STUCK_HANDS ? STOPPED_HANDS : STOPPED_CLOCK;
    c->odd = true;
}

static void listen(struct pretend_call *c)
{
    for (int i = 0; i < LISTENS && c->sheet.heards < (size_t)c->desk->table->rows; i++) {
        int minute = c->kase->classes.minute[c->next];
        double attend = minute % 60 == 0 ? ATTEND_HOUR : ATTEND_OTHER;
        struct heard_letoff h = go_on(c, BY_TIME);
        if (!h.held && random_unit(&c->random) < attend)
            tell(c, &h);
        if (!h.held)
            continue;
        tell_stand(c);
        if (random_unit(&c->random) < 0.4)
            return; /* rings up with the clock standing */
        set_going(c);
    }
}

/* ---- what else is told ---- */

static double tilt_for(const struct fault *f, const char *word)
{
    for (size_t i = 0; f && i < f->tilts; i++)
        if (strcmp(f->tilt[i].word, word) == 0)
            return f->tilt[i].factor;
    return 1;
}

static double tilted(double t, double base)
{
    return base * t / (1 + base * (t - 1));
}

double pretend_history(const struct fault *f, const char *word)
{
    return tilted(tilt_for(f, word), HISTORY_SO);
}

/* What is told unasked is told the more readily where it bears on the fault, as the finder takes it. */
static bool told_so(struct pretend_call *c, const char *word)
{
    return random_unit(&c->random) < tilted(pow(tilt_for(c->fault, word), TILT_UNASKED), HISTORY_TOLD);
}

static void tell_history(struct pretend_call *c)
{
    const struct words *w = c->desk->words;
    for (size_t i = 0; i < words_count(w, WORD_HISTORY); i++)
        if (told_so(c, words_at(w, WORD_HISTORY, i)->id))
            word_set_add(&c->sheet.history, (int)i);
}

static void tell_hint(struct pretend_call *c, const char *word)
{
    const struct word *w = words_find(c->desk->words, WORD_HINT, word);
    if (strcmp(word, "winding_points") == 0) {
        char number[12];
        snprintf(number, sizeof number, "%d", c->clock->winding_points);
        sheet_set_hint(&c->sheet, word, number);
        return;
    }
    for (size_t i = 0; w && i < c->clock->hints; i++) {
        const struct clock_hint *h = &c->clock->hint[i];
        if (strcmp(h->word, word) != 0 || !h->values)
            continue;
        const char *value = h->value[random_below(&c->random, (unsigned)h->values)];
        if (w->values && random_unit(&c->random) < HINT_SLIP)
            value = w->value[random_below(&c->random, (unsigned)w->values)];
        sheet_set_hint(&c->sheet, word, value);
    }
}

static void tell_clock(struct pretend_call *c)
{
    static const char *const words[] = {"power", "winding_points", "chime",
                                        "case",  "half",           "count"};
    if (c->desk->always_named || random_unit(&c->random) < NAMED) {
        snprintf(c->sheet.clock, sizeof c->sheet.clock, "%s", c->clock->id);
        return;
    }
    for (size_t i = 0; i < HINTS_TOLD; i++)
        tell_hint(c, words[i]);
}

static void draw_call(struct pretend_call *c)
{
    struct change change[FAULT_SETS + 2 * FAULT_AXES + 1];
    size_t i = draw_clock(c), changes = 0;
    sheet_clear(&c->sheet);
    c->odd = false;
    c->clock = library_clock(c->desk->lib, i);
    c->kase = case_of(c->desk, i);
    draw_fault(c);
    if (c->fault)
        changes = draw_variant(c, change);
    set_works(c, change, changes);
    draw_start(c);
    if (outcome_holds_hands(c->now.rest))
        tell_stand(c);
    else
        listen(c);
}

void pretend_call_init(struct pretend_call *c, struct pretend_desk *d,
                       const struct pretend_world *w, unsigned number)
{
    memset(c, 0, sizeof *c);
    c->desk = d;
    c->world = w;
    random_init(&c->random, ((uint64_t)w->row->seed << 32) + number);
    sheet_init(&c->sheet, d->words);
    for (c->redrawn = 0; c->redrawn < REDRAWS; c->redrawn++) {
        draw_call(c);
        if (c->odd || (c->sheet.heards && random_unit(&c->random) < SOUND_KEPT))
            break;
    }
    tell_clock(c);
    tell_history(c);
}

void pretend_call_stand(struct pretend_call *c, struct pretend_desk *d,
                        const struct pretend_world *w, struct clock_case *k, size_t variant,
                        int next, struct rest rest, uint64_t seed)
{
    *c = (struct pretend_call){.desk = d,
                               .world = w,
                               .clock = k->clock,
                               .kase = k,
                               .variant = variant,
                               .fault = k->variant[variant].fault,
                               .next = next};
    c->works = outcome_table_works(&k->table[k->variant[variant].table]);
    random_init(&c->random, seed);
    moment_init(&c->now, c->works, (k->classes.minute[next] - letoff_gap(c) + 1440) % 1440);
    c->now.rest = rest;
}

void pretend_call_release(struct pretend_call *c)
{
    sheet_release(&c->sheet);
}

/* ---- answers ---- */

static bool misheard(struct pretend_call *c)
{
    return random_unit(&c->random) < c->world->row->misheard;
}

static void answer_yes_no(struct pretend_call *c, bool yes, char answer[64])
{
    snprintf(answer, 64, "%s", yes != misheard(c) ? "yes" : "no");
}

static void answer_seen(struct pretend_call *c, const struct question *q, char answer[64])
{
    struct habit h;
    struct filter_state now = {outcome_rows_state(&c->kase->rows, c->now.rest), 1};
    habit_init(&h, c->kase, &c->kase->variant[c->variant], c->next, &now, 1);
    double degree = habit_degree(&h, q->word);
    answer_yes_no(c, random_unit(&c->random) < degree, answer);
}

static void answer_hint(struct pretend_call *c, const struct question *q, char answer[64])
{
    const struct word *w = words_find(c->desk->words, WORD_HINT, q->word);
    snprintf(answer, 64, "unknown");
    for (size_t i = 0; i < c->clock->hints; i++)
        if (strcmp(c->clock->hint[i].word, q->word) == 0 && c->clock->hint[i].values)
            snprintf(answer, 64, "%s",
                     c->clock->hint[i]
                         .value[random_below(&c->random, (unsigned)c->clock->hint[i].values)]);
    if (misheard(c) && w && w->values)
        snprintf(answer, 64, "%s", w->value[random_below(&c->random, (unsigned)w->values)]);
}

static void answer_count(struct pretend_call *c, const struct sounding *s, char answer[64])
{
    const struct train_sound *t = &s->train[TRAIN_STRIKE];
    int count = t->count;
    bool endless = train_sound_endless(t);
    if (misheard(c)) {
        count = endless || count == 0 ? 1 : random_unit(&c->random) < 0.5 ? count + 1 : count - 1;
        endless = false;
    }
    if (endless)
        snprintf(answer, 64, "runs on");
    else if (count == 0)
        snprintf(answer, 64, "none");
    else
        snprintf(answer, 64, "%d", count > SHEET_COUNT_MOST ? SHEET_COUNT_MOST : count);
}

static void answer_tune(struct pretend_call *c, const struct sounding *s,
                        const struct sounding *due, char answer[64])
{
    static const char *const words[] = {"silent", "right", "wrong"};
    const struct train_sound *t = &s->train[TRAIN_CHIME], *d = &due->train[TRAIN_CHIME];
    unsigned i = !t->falls ? 0 : t->sequence == d->sequence && t->falls == d->falls ? 1 : 2;
    if (misheard(c))
        i = (i + 1 + random_below(&c->random, 2)) % 3;
    snprintf(answer, 64, "%s", words[i]);
}

/* Lead the hands on to the let-off due at that time of the dial. */
static int answer_by_hand(struct pretend_call *c, const struct question *q, char answer[64])
{
    int led = 0;
    snprintf(answer, 64, "?");
    while (led < 2 * c->kase->classes.letoffs) {
        struct heard_letoff h = go_on(c, BY_HAND);
        led++;
        if (h.held)
            set_going(c);
        if (h.dial_min % 720 != q->dial_min % 720)
            continue;
        const struct sounding *s = sounding_at(&c->kase->pool, h.outcome);
        if (q->kind == QUESTION_STRIKE)
            answer_count(c, s, answer);
        else
            answer_tune(c, s, sounding_at(&c->kase->pool, h.due), answer);
        break;
    }
    return led;
}

int pretend_call_answer(struct pretend_call *c, const struct question *q, char answer[64])
{
    switch (q->kind) {
    case QUESTION_SEEN:
        answer_seen(c, q, answer);
        return 0;
    case QUESTION_HISTORY:
        answer_yes_no(c, random_unit(&c->random) < pretend_history(c->fault, q->word), answer);
        return 0;
    case QUESTION_HINT:
        answer_hint(c, q, answer);
        return 0;
    default:
        return answer_by_hand(c, q, answer);
    }
}

/* ---- what a fixed chart goes by ---- */

struct marks {
    int silent, struck, chime_silent, chime_wrong, chimed, late, pace, tone, counted, errors, same;
    int error;
    bool stands, endless;
};

static void mark_row(const struct pretend_call *c, const struct heard *h, struct marks *m)
{
    const struct words *w = c->desk->words;
    m->stands |= h->stopped != STOPPED_NOTHING;
    m->endless |= h->strike == HEARD_STRIKE_RUNS_ON || h->chime == HEARD_CHIME_RUNS_ON;
    m->silent += h->strike == HEARD_STRIKE_NONE;
    m->struck += h->strike == HEARD_STRIKE_COUNT || h->strike == HEARD_STRIKE_RIGHT ||
                 h->strike == HEARD_STRIKE_WRONG;
    m->chime_silent += h->chime == HEARD_CHIME_NONE;
    m->chime_wrong += h->chime == HEARD_CHIME_WRONG;
    m->chimed += h->chime == HEARD_CHIME_RIGHT || h->chime == HEARD_CHIME_WRONG;
    m->late += h->has_for || (h->at.kind == AT_EXACT && h->at.min % 15 != 0);
    m->pace += heard_how(h, w, "slow") || heard_how(h, w, "fast") || heard_how(h, w, "uneven") ||
               heard_how(h, w, "slowing");
    m->tone += !word_set_empty(&h->how);
    m->errors += h->strike == HEARD_STRIKE_WRONG;
    if (h->strike != HEARD_STRIKE_COUNT)
        return;
    int at = h->has_for ? h->due.min : h->at.min;
    int due = sounding_at(&c->kase->pool, due_at(c->kase, at))->train[TRAIN_STRIKE].count;
    int error = h->value[0] - due;
    m->same += m->counted == 0 || error == m->error;
    m->error = m->counted == 0 ? error : m->error;
    m->errors += error != 0;
    m->counted++;
}

enum symptom pretend_symptom(const struct pretend_call *c)
{
    struct marks m = {0};
    for (size_t i = 0; i < c->sheet.heards; i++)
        mark_row(c, &c->sheet.heard[i], &m);
    if (m.stands)
        return SYMPTOM_STANDS;
    if (m.endless)
        return SYMPTOM_RUNS_ON;
    if (m.silent)
        return m.struck ? SYMPTOM_SOMETIMES_SILENT : SYMPTOM_STRIKE_SILENT;
    if (m.chime_silent)
        return m.chimed ? SYMPTOM_SOMETIMES_SILENT : SYMPTOM_CHIME_SILENT;
    if (m.chime_wrong)
        return SYMPTOM_CHIME_WRONG;
    if (m.errors)
        return m.counted > 1 && m.same == m.counted && m.error ? SYMPTOM_ONE_ERROR
                                                               : SYMPTOM_COUNTS_WRONG;
    return m.late   ? SYMPTOM_OFF_TIME
           : m.pace ? SYMPTOM_PACE
           : m.tone ? SYMPTOM_TONE
                    : SYMPTOM_NOTHING;
}
