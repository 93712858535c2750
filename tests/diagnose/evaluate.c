/* evaluate.c - how good the fault finder is, and how far the numbers it gives can be believed.
 *
 *     evaluate [--calls N] [--jobs N] [--from N] [--seconds S] [--check] [--each] [--gap] [--no-cases]
 *              [--named] [--world N] [--clocks LIST] [--quick] [--lacking]
 *
 * --jobs parts the calls of a world among so many processes (the figures are the same but for the last
 * digit).
 * --seconds (or LETOFF_LONG_S, as tests/long.sh sets it) ends each world early, --each prints every
 * call with its questions, --gap those in which the ceiling has the class right and the finder has
 * not, with what each answer did to the odds in either; --named has every caller know the kind of
 * clock, --clocks takes calls of these clocks only, --world one of the worlds (1 or 2),
 * --lacking of the N only those with a fault the finder was not given, --quick leaves out the ceiling
 * and the random questions.  Whoever fits
 * a number to the evaluation takes --from 100000: the calls that are judged are those from 0.
 *
 * N simulated calls (2,000 if not given) in each world of evaluate-costs.yaml: one that is as the
 * model, one that differs (other priors, severities between the swept ones, twice the mishearing,
 * a tenth of the calls with a fault the finder was not given).  A call is four heard rows and some
 * words of its history; then up to five questions of the finder are answered from the simulation.
 *
 * Columns:
 *   report    the finder's belief from the report alone
 *   asked     after its questions: this is what is judged
 *   ceiling   the same report and answers, weighed by one who has the world's true model (ceiling.h):
 *             its priors, its faults, its ear, how answers are made, and no thought of an unknown
 *             cause.  No right reckoning from the same words can do better on average.  (Severities
 *             between the swept ones stay between them, so where they differ it is a little below
 *             the true ceiling.)  What could be had by asking better questions is not in it.
 *   told      the ceiling when the caller also names the kind of clock.
 * Unknown first or second is, for the ceiling, that the faults the finder lacks make up together
 * more than all but one of the others.  A fault that the finder was not given is withheld as a row
 * only: the parameter it changes is still in the mechanism, where the finder's `unknown` looks too
 * (sweep.h).  Of those calls it is told apart in how many of them some row that is left changes each
 * of its parameters, and in how many none does; a fault nobody has thought of is like the former, or
 * further off.
 * Figures over calls whose fault the finder was given stand by themselves: of the others it can
 * only say `unknown`, or name a neighbour of the same part.
 *
 * Calibration is the expected calibration error over ten bins of the first one's probability; the
 * number beside it is what a finder whose every probability is exact would show in as many calls.
 * Uncertainty is in bits over causes; a question answered yes or no removes at most one, a count
 * at most log2(18) = 4.2, so bits removed over bits a question is the least number of questions.
 *
 * Then the scorecard of the real open cases.  With --check it says what breaks an invariant or a
 * loose floor, and exits with 1.
 */
#define _POSIX_C_SOURCE 200809L
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>
#include "ceiling.h"
#include "diagnose/sweep.h"
#include "mem.h"
#include "open_cases.h"

#define ASKABLE      256
#define STEPS        128
#define ANSWERS_MOST 20
#define BINS         10
#define ODDS         60

enum column { REPORT, ASKED, CEILING, TOLD, COLUMNS };
enum policy { BY_FINDER, BY_CEILING, UNASKED, BY_OIL, BY_CHART, BY_RANDOM, AT_BEST, POLICIES };

/* ---- tallies ---- */

struct tally {
    double sum, squares;
    size_t n;
};

static void tally_add(struct tally *t, double x)
{
    t->sum += x;
    t->squares += x * x;
    t->n++;
}

static double tally_mean(const struct tally *t)
{
    return t->n ? t->sum / (double)t->n : 0;
}

static double tally_error(const struct tally *t)
{
    double m = tally_mean(t);
    return t->n > 1 ? sqrt(fmax(0, t->squares / (double)t->n - m * m) / (double)t->n) : 0;
}

/* Answers given with a probability, and whether they were right. */
struct claims {
    struct claim {
        double p;
        bool right;
    } * at;
    size_t count, room;
};

static void claims_add(struct claims *c, double p, bool right)
{
    c->at = mem_grow(c->at, &c->room, c->count + 1, sizeof *c->at);
    c->at[c->count++] = (struct claim){p, right};
}

struct bin {
    double p, right;
    size_t n;
};

static double bins_error(const struct bin *bin, size_t n)
{
    double sum = 0;
    for (int i = 0; i < BINS; i++)
        sum += fabs(bin[i].p - bin[i].right);
    return n ? sum / (double)n : 0;
}

static int bin_of(double p)
{
    int i = (int)(p * BINS);
    return i < 0 ? 0 : i >= BINS ? BINS - 1 : i;
}

static double calibration_error(const struct claims *c, struct bin bin[BINS])
{
    memset(bin, 0, BINS * sizeof *bin);
    for (size_t i = 0; i < c->count; i++) {
        struct bin *b = &bin[bin_of(c->at[i].p)];
        b->p += c->at[i].p;
        b->right += c->at[i].right;
        b->n++;
    }
    return bins_error(bin, c->count);
}

/* What would show if each probability were exact. */
static double calibration_floor(const struct claims *c)
{
    struct random r;
    double sum = 0;
    random_init(&r, 3);
    for (int k = 0; k < 200; k++) {
        struct bin bin[BINS] = {{0, 0, 0}};
        for (size_t i = 0; i < c->count; i++) {
            struct bin *b = &bin[bin_of(c->at[i].p)];
            b->p += c->at[i].p;
            b->right += random_unit(&r) < c->at[i].p;
        }
        sum += bins_error(bin, c->count);
    }
    return sum / 200;
}

/* ---- one world ---- */

struct figures {
    struct tally class_first[COLUMNS], part_first[COLUMNS], part_three[COLUMNS],
        cause_first[COLUMNS];
    struct tally class_all[COLUMNS], part_three_all[COLUMNS]; /* with the faults it lacks */
    struct tally unknown_two[COLUMNS];                        /* of calls whose fault it lacks */
    struct tally unknown_kin[COLUMNS], unknown_gap[COLUMNS];  /* rows left change all of it; not all */
    struct tally minutes[POLICIES], questions, bits[COLUMNS], capacity;
    struct spent spent[POLICIES]; /* sums */
    double asking[POLICIES];      /* minutes, sums */
    struct claims report, cause, class, part, ceiling;
    size_t calls, lacking, refused, bad_sums, bad_omitted;
    double most_omitted, seconds;
};

struct bench {
    struct pretend_desk desk;
    struct minutes_table table;
    struct finder *finder;
    const struct words *words;
    size_t calls, jobs;
    unsigned from;
    double seconds; /* for each world; 0 = no limit */
    bool each, gap, quick, lacking;
};

static double now_s(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + (double)t.tv_nsec / 1e9;
}

static const char *class_of(const struct pretend_call *c)
{
    return c->fault ? c->fault->class : "no_fault";
}

static const char *part_of(const struct pretend_call *c)
{
    return c->fault ? c->fault->part : "none";
}

static bool is_cause(const struct pretend_call *c, const char *id)
{
    return strcmp(id, c->lacking ? "unknown" : c->fault ? c->fault->id : "none") == 0;
}

static double bits_of(const struct belief *b)
{
    double bits = 0;
    for (size_t i = 0; i < b->causes; i++)
        bits -= b->cause[i].p > 0 ? b->cause[i].p * log2(b->cause[i].p) : 0;
    return bits;
}

static bool not_given(const struct pretend_call *c, const struct belief_cause *b)
{
    return b->fault ? pretend_lacks(c->world, b->fault) : strcmp(b->id, "unknown") == 0;
}

static void check_belief(struct figures *f, const struct belief *b)
{
    double sum = 0;
    for (size_t i = 0; i < b->causes; i++)
        sum += b->cause[i].p;
    f->bad_sums += fabs(sum - 1) > 1e-9;
    f->bad_omitted += b->omitted > 1e-4;
    f->most_omitted = fmax(f->most_omitted, b->omitted);
}

/* At which place "none of those the finder was given" stands: its `unknown`, or, for one who knows
 * the others too, their sum. */
static int place_of_unknown(const struct pretend_call *c, const struct belief *b)
{
    double p = 0;
    int place = 1;
    for (size_t i = 0; i < b->causes; i++)
        p += not_given(c, &b->cause[i]) ? b->cause[i].p : 0;
    for (size_t i = 0; i < b->causes; i++)
        place += !not_given(c, &b->cause[i]) && b->cause[i].p > p;
    return place;
}

/* Some parameter or state of the fault is of no fault that the finder was given. */
static bool leaves_gap(const struct pretend_call *c)
{
    bool left[SWEEP_KINDS] = {false}, gap = false;
    for (size_t i = 0; i < library_faults(c->desk->lib); i++) {
        const struct fault *f = library_fault(c->desk->lib, i);
        bool given = !pretend_lacks(c->world, f);
        for (int k = 0; given && k < f->sets; k++)
            left[sweep_kin(f->set[k].par)] = true;
        for (int k = 0; given && k < f->axes; k++)
            left[sweep_kin(f->axis[k].par)] = true;
        for (int bit = 0; given && bit < SWEEP_STATES; bit++)
            left[PAR_COUNT + bit] |= f->start >> bit & 1;
    }
    for (int k = 0; k < c->fault->sets; k++)
        gap |= !left[sweep_kin(c->fault->set[k].par)];
    for (int k = 0; k < c->fault->axes; k++)
        gap |= !left[sweep_kin(c->fault->axis[k].par)];
    for (int bit = 0; bit < SWEEP_STATES; bit++)
        gap |= (c->fault->start >> bit & 1) && !left[PAR_COUNT + bit];
    return gap;
}

static void judge(struct figures *f, enum column col, const struct pretend_call *c,
                  const struct belief *b)
{
    bool class = strcmp(b->by_class[0].name, class_of(c)) == 0;
    bool part = strcmp(b->by_part[0].name, part_of(c)) == 0, three = false;
    for (size_t i = 0; i < b->parts && i < 3; i++)
        three |= strcmp(b->by_part[i].name, part_of(c)) == 0;
    tally_add(&f->class_all[col], class);
    tally_add(&f->part_three_all[col], three);
    tally_add(&f->bits[col], bits_of(b));
    if (c->lacking) {
        bool two = place_of_unknown(c, b) <= 2;
        tally_add(&f->unknown_two[col], two);
        tally_add(leaves_gap(c) ? &f->unknown_gap[col] : &f->unknown_kin[col], two);
        return;
    }
    tally_add(&f->class_first[col], class);
    tally_add(&f->part_first[col], part);
    tally_add(&f->part_three[col], three);
    tally_add(&f->cause_first[col], is_cause(c, b->cause[0].id));
}

static void claim(struct figures *f, const struct pretend_call *c, const struct belief *b)
{
    const char *class = c->lacking ? "unknown" : class_of(c), *part = b->by_part[0].name;
    claims_add(&f->cause, b->cause[0].p, is_cause(c, b->cause[0].id));
    claims_add(&f->class, b->by_class[0].p, strcmp(b->by_class[0].name, class) == 0);
    claims_add(&f->part, b->by_part[0].p,
               strcmp(part, part_of(c)) == 0 || (c->lacking && strcmp(part, "unknown") == 0));
}

/* ---- one call ---- */

/* The likeliest causes after the report or an answer. */
struct odds {
    size_t count;
    const char *id[ODDS];
    double p[ODDS];
};

struct sitting {
    struct bench *bench;
    struct figures *figures;
    struct pretend_world *world;
    struct pretend_call *call;
    struct belief_options given; /* what the finder knows of the world */
    struct want want;
    struct sheet report;                    /* as it was before the questions */
    struct answered answered[ANSWERS_MOST]; /* to the finder's own questions */
    size_t answers;
    struct odds odds[ANSWERS_MOST + 1]; /* --gap: the finder's belief on the report, after each */
};

static void believe(struct sitting *s, const struct pretend_call *c, const struct belief_options *o,
                    struct belief *b)
{
    belief_release(b);
    if (!belief_find(s->bench->finder, &c->sheet, o, b))
        s->figures->refused++;
    check_belief(s->figures, b);
}

static double ask(struct sitting *s, struct pretend_call *c, const struct question *q,
                  struct answered *a)
{
    struct err e = {0};
    a->q = *q;
    int led = pretend_call_answer(c, q, a->answer);
    if (!question_answer(q, &c->sheet, a->answer, &e)) {
        err_print(&e, stderr);
        s->figures->refused++;
    }
    err_release(&e);
    return minutes_of_question(&s->bench->table, q->kind, led);
}

static void charge(struct sitting *s, enum policy by, double asking, struct spent spent)
{
    struct figures *f = s->figures;
    struct spent *sum = &f->spent[by];
    tally_add(&f->minutes[by], asking + minutes_spent(&spent));
    f->asking[by] += asking;
    sum->owner += spent.owner;
    sum->way += spent.way;
    sum->look += spent.look;
    sum->in_vain += spent.in_vain;
    sum->cure += spent.cure;
}

static void charge_plan(struct sitting *s, enum policy by, double asking, const struct belief *b)
{
    struct plan_step step[STEPS];
    charge(s, by, asking,
           minutes_of_plan(&s->bench->table, s->want, step, next_plan(b, step, STEPS)));
}

static double bits_at_most(const struct question *q)
{
    return q->kind == QUESTION_STRIKE ? log2(18) : q->kind == QUESTION_CHIME ? log2(3) : 1;
}

static void print_call(const struct pretend_call *c, const struct belief *b, const char *when)
{
    if (strcmp(when, "report") == 0) {
        struct text t = {0};
        sheet_print_shorthand(&c->sheet, &t);
        printf("%s %s%s\n    %s\n", c->clock->id, c->fault ? c->fault->id : "none",
               c->lacking ? " (not given)" : "", text_cstr(&t));
        text_release(&t);
    }
    printf("    %-7s", when);
    for (size_t i = 0; i < b->causes && i < 4; i++)
        printf("  %s %.2f", b->cause[i].id, b->cause[i].p);
    printf("\n");
}

/* ---- where the finder falls short of the ceiling ---- */

static struct odds odds_of(const struct belief *b)
{
    struct odds o = {.count = b->causes < ODDS ? b->causes : ODDS};
    for (size_t i = 0; i < o.count; i++) {
        o.id[i] = b->cause[i].id;
        o.p[i] = b->cause[i].p;
    }
    return o;
}

static double odds_p(const struct odds *o, const char *id)
{
    for (size_t i = 0; i < o->count; i++)
        if (strcmp(o->id[i], id) == 0)
            return o->p[i];
    return 1e-9;
}

/* How far the odds of the truth against the finder's first went with each answer, here and there. */
static void print_gap(struct sitting *s, const struct belief *mine, const struct belief *top)
{
    const struct pretend_call *c = s->call;
    const char *truth = c->fault ? c->fault->id : "none", *other = mine->cause[0].id;
    print_call(c, mine, "report");
    print_call(c, top, "ceiling");
    if (strcmp(truth, other) == 0)
        return;
    printf("    %s against %s: after answer, ours, ceiling\n", truth, other);
    for (size_t k = 0; k <= s->answers; k++) {
        struct belief then = {0};
        ceiling_find(s->bench->finder, &s->bench->desk, s->world, &s->report, s->answered, k, &then);
        struct odds theirs = odds_of(&then), *ours = &s->odds[k];
        printf("      %-40s %-8s %9.3f %9.3f\n", k ? s->answered[k - 1].q.id : "(the report)",
               k ? s->answered[k - 1].answer : "",
               log10(odds_p(ours, truth) / odds_p(ours, other)),
               log10(odds_p(&theirs, truth) / odds_p(&theirs, other)));
        belief_release(&then);
    }
}

/* The finder's own way.  Returns the minutes of asking; leaves its last belief in `b`. */
static double ask_as_proposed(struct sitting *s, struct question *q, size_t n, struct belief *b)
{
    struct pretend_call *c = s->call;
    double minutes = 0;
    int most = s->bench->table.questions;
    s->odds[0] = odds_of(b);
    while ((int)s->answers < most && n && q[0].saves_min >= NEXT_LEAST) {
        struct answered *a = &s->answered[s->answers++];
        tally_add(&s->figures->capacity, bits_at_most(&q[0]));
        minutes += ask(s, c, &q[0], a);
        if (s->bench->each)
            printf("      %s? %s\n", q->id, a->answer);
        believe(s, c, &s->given, b);
        s->odds[s->answers] = odds_of(b);
        if ((int)s->answers < most)
            n = next_questions(s->bench->finder, b, &c->sheet, NEXT_LEAST, q, 1);
    }
    judge(s->figures, ASKED, c, b);
    claim(s->figures, c, b);
    tally_add(&s->figures->questions, (double)s->answers);
    charge_plan(s, BY_FINDER, minutes, b);
    return minutes;
}

static bool class_right(const struct pretend_call *c, const struct belief *b)
{
    return strcmp(b->by_class[0].name, class_of(c)) == 0;
}

static void find_ceiling(struct sitting *s, double minutes, const struct belief *mine)
{
    struct pretend_call *c = s->call;
    struct figures *f = s->figures;
    struct belief top = {0};
    ceiling_find(s->bench->finder, &s->bench->desk, s->world, &s->report, s->answered, s->answers,
                 &top);
    judge(f, CEILING, c, &top);
    claims_add(&f->ceiling, top.cause[0].p,
               strcmp(top.cause[0].id, c->fault ? c->fault->id : "none") == 0);
    charge_plan(s, BY_CEILING, minutes, &top);
    if (s->bench->each)
        print_call(c, &top, "ceiling");
    if (s->bench->gap && class_right(c, &top) && !class_right(c, mine))
        print_gap(s, mine, &top);
    if (!s->report.clock[0]) {
        snprintf(s->report.clock, sizeof s->report.clock, "%s", c->clock->id);
        belief_release(&top);
        ceiling_find(s->bench->finder, &s->bench->desk, s->world, &s->report, s->answered,
                     s->answers, &top);
    }
    judge(f, TOLD, c, &top);
    belief_release(&top);
}

/* As many questions as are allowed, taken blindly from all that could be asked. */
static void ask_at_random(struct sitting *s, struct pretend_call *c, struct question *q, size_t n)
{
    double minutes = 0;
    struct belief b = {0};
    struct answered a;
    for (int i = 0; i < s->bench->table.questions && n; i++) {
        size_t k = random_below(&c->random, (unsigned)n);
        minutes += ask(s, c, &q[k], &a);
        q[k] = q[--n];
    }
    believe(s, c, &s->given, &b);
    charge_plan(s, BY_RANDOM, minutes, &b);
    belief_release(&b);
}

static void without_finder(struct sitting *s)
{
    const struct minutes_table *t = &s->bench->table;
    struct pretend_call *c = s->call;
    struct plan_step step[STEPS];
    size_t n = minutes_of_chart(t, pretend_symptom(c), s->bench->desk.lib, c->clock, step, STEPS);
    charge(s, BY_OIL, 0, minutes_of_oil_visit(t, s->want));
    charge(s, BY_CHART, 0, minutes_of_plan(t, s->want, step, n));
    charge(s, AT_BEST, 0, minutes_at_best(t, s->want));
}

static bool copy_sheet(struct sheet *to, const struct sheet *from)
{
    struct text t = {0};
    struct err e = {0};
    sheet_init(to, from->words);
    sheet_print(from, &t);
    bool ok = sheet_parse(to, "call", text_cstr(&t), t.length, &e);
    err_print(&e, stderr);
    err_release(&e);
    text_release(&t);
    return ok;
}

static struct want what_it_wants(const struct bench *bench, struct pretend_call *c)
{
    struct want w = {.oil_does = c->fault && strcmp(c->fault->class, "dry_or_dirty_oil") == 0 &&
                                 random_unit(&c->random) < bench->table.oil_works};
    const char *cure = c->fault ? c->fault->cure : "leave-alone";
    w.cure = minutes_of_cure(&bench->table, cure, library_find_cure(bench->desk.lib, cure));
    return w;
}

static void one_call(struct bench *bench, struct figures *f, struct pretend_world *w,
                     unsigned number)
{
    struct pretend_call call, other;
    struct belief b = {0};
    pretend_call_init(&call, &bench->desk, w, number);
    if (bench->lacking && !call.lacking) {
        pretend_call_release(&call);
        return;
    }
    struct question *q = mem_alloc(ASKABLE * sizeof *q), *all = mem_alloc(ASKABLE * sizeof *all);
    struct sitting s = {.bench = bench,
                        .figures = f,
                        .world = w,
                        .call = &call,
                        .given = {.shop = pretend_given, .shop_with = w}};
    s.want = what_it_wants(bench, &call);
    f->calls++;
    f->lacking += call.lacking;
    without_finder(&s);
    believe(&s, &call, &s.given, &b);
    judge(f, REPORT, &call, &b);
    claims_add(&f->report, b.cause[0].p, is_cause(&call, b.cause[0].id));
    charge_plan(&s, UNASKED, 0, &b);
    if (bench->each)
        print_call(&call, &b, "report");
    size_t n = next_questions(bench->finder, &b, &call.sheet, -1e9, q, ASKABLE);
    memcpy(all, q, n * sizeof *q);
    other = call;
    if (!copy_sheet(&other.sheet, &call.sheet) || !copy_sheet(&s.report, &call.sheet))
        f->refused++;
    double minutes = ask_as_proposed(&s, q, n, &b);
    if (bench->each)
        print_call(&call, &b, "asked");
    if (!bench->quick) {
        find_ceiling(&s, minutes, &b);
        ask_at_random(&s, &other, all, n);
    }
    sheet_release(&s.report);
    belief_release(&b);
    pretend_call_release(&other);
    pretend_call_release(&call);
    mem_free(q);
    mem_free(all);
}

/* Every `step`th call from `first` on. */
static void run_calls(struct bench *bench, struct figures *f, struct pretend_world *w, unsigned first,
                      unsigned step)
{
    double from = now_s();
    for (unsigned i = first; i < bench->calls; i += step) {
        if (bench->seconds > 0 && now_s() - from > bench->seconds)
            break;
        one_call(bench, f, w, bench->from + i);
        if (!bench->each && first == 0 && f->calls % 25 == 0)
            fprintf(stderr, "%s: %u calls, %.2f a second\n", w->row->name, i + 1,
                    (i + 1) / (now_s() - from));
    }
}

/* ---- several processes ---- */

static struct claims *claims_of(struct figures *f, int i)
{
    struct claims *const all[] = {&f->report, &f->cause, &f->class, &f->part, &f->ceiling};
    return i < (int)(sizeof all / sizeof *all) ? all[i] : NULL;
}

static void figures_release(struct figures *f)
{
    for (int i = 0; claims_of(f, i); i++)
        mem_free(claims_of(f, i)->at);
}

static bool figures_write(struct figures *f, FILE *to)
{
    bool ok = fwrite(f, sizeof *f, 1, to) == 1;
    for (int i = 0; claims_of(f, i); i++) {
        const struct claims *c = claims_of(f, i);
        ok = ok && fwrite(c->at, sizeof *c->at, c->count, to) == c->count;
    }
    return ok && fflush(to) == 0;
}

static bool figures_read(struct figures *f, FILE *from)
{
    bool ok = fread(f, sizeof *f, 1, from) == 1;
    for (int i = 0; claims_of(f, i); i++) {
        struct claims *c = claims_of(f, i);
        c->room = 0;
        c->count = ok ? c->count : 0;
        c->at = mem_grow(NULL, &c->room, c->count + 1, sizeof *c->at);
        ok = ok && fread(c->at, sizeof *c->at, c->count, from) == c->count;
    }
    return ok;
}

static void tallies_join(struct tally *to, const struct tally *from, size_t n)
{
    for (size_t i = 0; i < n; i++) {
        to[i].sum += from[i].sum;
        to[i].squares += from[i].squares;
        to[i].n += from[i].n;
    }
}

static void figures_join(struct figures *to, struct figures *from)
{
    tallies_join(to->class_first, from->class_first, COLUMNS);
    tallies_join(to->part_first, from->part_first, COLUMNS);
    tallies_join(to->part_three, from->part_three, COLUMNS);
    tallies_join(to->cause_first, from->cause_first, COLUMNS);
    tallies_join(to->class_all, from->class_all, COLUMNS);
    tallies_join(to->part_three_all, from->part_three_all, COLUMNS);
    tallies_join(to->unknown_two, from->unknown_two, COLUMNS);
    tallies_join(to->unknown_kin, from->unknown_kin, COLUMNS);
    tallies_join(to->unknown_gap, from->unknown_gap, COLUMNS);
    tallies_join(to->minutes, from->minutes, POLICIES);
    tallies_join(&to->questions, &from->questions, 1);
    tallies_join(to->bits, from->bits, COLUMNS);
    tallies_join(&to->capacity, &from->capacity, 1);
    for (int i = 0; i < POLICIES; i++) {
        struct spent *a = &to->spent[i];
        const struct spent *b = &from->spent[i];
        *a = (struct spent){.owner = a->owner + b->owner,
                            .way = a->way + b->way,
                            .look = a->look + b->look,
                            .in_vain = a->in_vain + b->in_vain,
                            .cure = a->cure + b->cure};
        to->asking[i] += from->asking[i];
    }
    for (int i = 0; claims_of(to, i); i++) {
        const struct claims *c = claims_of(from, i);
        for (size_t k = 0; k < c->count; k++)
            claims_add(claims_of(to, i), c->at[k].p, c->at[k].right);
    }
    to->calls += from->calls;
    to->lacking += from->lacking;
    to->refused += from->refused;
    to->bad_sums += from->bad_sums;
    to->bad_omitted += from->bad_omitted;
    to->most_omitted = fmax(to->most_omitted, from->most_omitted);
}

#define JOBS_MOST 64

/* A process of our own works at its share of the calls; what it found comes through the pipe. */
static FILE *start_job(struct bench *bench, struct pretend_world *w, unsigned first, pid_t *pid)
{
    int end[2];
    if (pipe(end) != 0)
        return NULL;
    fflush(NULL);
    *pid = fork();
    if (*pid == 0) {
        struct figures *f = mem_alloc(sizeof *f);
        FILE *to = fdopen(end[1], "wb");
        close(end[0]);
        run_calls(bench, f, w, first, (unsigned)bench->jobs);
        _exit(to && figures_write(f, to) ? 0 : 1);
    }
    close(end[1]);
    if (*pid < 0) {
        close(end[0]);
        return NULL;
    }
    return fdopen(end[0], "rb");
}

static void run_jobs(struct bench *bench, struct figures *f, struct pretend_world *w)
{
    FILE *from[JOBS_MOST];
    pid_t pid[JOBS_MOST];
    for (unsigned i = 0; i < bench->jobs; i++)
        from[i] = start_job(bench, w, i, &pid[i]);
    for (unsigned i = 0; i < bench->jobs; i++) {
        struct figures *part = mem_alloc(sizeof *part);
        if (!from[i] || !figures_read(part, from[i]))
            f->refused++;
        else
            figures_join(f, part);
        if (from[i]) {
            fclose(from[i]);
            waitpid(pid[i], NULL, 0);
        }
        figures_release(part);
        mem_free(part);
    }
}

static void run_world(struct bench *bench, struct figures *f, struct pretend_world *w)
{
    double from = now_s();
    if (bench->jobs > 1 && !bench->each && !bench->gap)
        run_jobs(bench, f, w);
    else
        run_calls(bench, f, w, 0, 1);
    f->seconds = now_s() - from;
}

/* ---- the table ---- */

static void print_shares(const char *what, const struct tally *t)
{
    printf("%-44s", what);
    for (int i = 0; i < COLUMNS; i++)
        printf(" %8.1f", 100 * tally_mean(&t[i]));
    printf("   +-%.1f\n", 100 * tally_error(&t[ASKED]));
}

static void print_calibration(const char *what, const struct claims *c)
{
    struct bin bin[BINS];
    double error = calibration_error(c, bin);
    printf("%-44s %8.3f   (exact probabilities would show %.3f)\n", what, error,
           calibration_floor(c));
}

static void print_bins(const struct claims *c)
{
    struct bin bin[BINS];
    calibration_error(c, bin);
    printf("  first cause: said -> right (calls)  ");
    for (int i = 0; i < BINS; i++)
        if (bin[i].n)
            printf(" %.0f->%.0f (%zu)", 100 * bin[i].p / (double)bin[i].n,
                   100 * bin[i].right / (double)bin[i].n, bin[i].n);
    printf("\n");
}

static void print_minutes(const struct figures *f)
{
    static const char *const name[POLICIES] = {"the finder",
                                               "the ceiling's plan, same questions",
                                               "the finder's plan, nothing asked",
                                               "always visit, clean and oil",
                                               "fixed symptom chart",
                                               "five random questions",
                                               "cause known beforehand"};
    double mine = tally_mean(&f->minutes[BY_FINDER]), n = fmax(1, (double)f->calls);
    printf("  minutes until it is right                         all   +-  |  asking  owner    way  "
           " look in vain   cure\n");
    for (int i = 0; i < POLICIES; i++) {
        double theirs = tally_mean(&f->minutes[i]);
        const struct spent *s = &f->spent[i];
        if (!f->minutes[i].n) /* --quick */
            continue;
        printf("    %-40s %8.1f %4.1f  |  %6.1f %6.1f %6.1f %6.1f %7.1f %6.1f", name[i], theirs,
               tally_error(&f->minutes[i]), f->asking[i] / n, s->owner / n, s->way / n, s->look / n,
               s->in_vain / n, s->cure / n);
        if (i >= BY_OIL && i <= BY_RANDOM)
            printf("   the finder saves %.0f %%", 100 * (1 - mine / fmax(theirs, 1e-9)));
        printf("\n");
    }
}

static void print_questions(const struct figures *f)
{
    double removed = tally_mean(&f->bits[REPORT]) - tally_mean(&f->bits[ASKED]);
    double capacity = tally_mean(&f->capacity);
    printf("  uncertainty over causes, bits              %8.2f %8.2f\n",
           tally_mean(&f->bits[REPORT]), tally_mean(&f->bits[ASKED]));
    printf(
        "  questions asked                            %8.2f   +-%.2f;  at least %.2f for the %.2f "
        "bits removed\n",
        tally_mean(&f->questions), tally_error(&f->questions),
        capacity > 0 ? removed / capacity : 0, removed);
    printf("  to leave no doubt: at least                %8.2f more, were each of %.2f bits\n",
           capacity > 0 ? tally_mean(&f->bits[ASKED]) / capacity : 0, capacity);
}

static void print_world(const struct figures *f, const struct pretend_world *w)
{
    printf(
        "\n%s: %zu calls, %zu of them with a fault the finder was not given; %.2f calls a second\n",
        w->row->name, f->calls, f->lacking, (double)f->calls / fmax(f->seconds, 1e-9));
    printf("%-44s %8s %8s %8s %8s\n", "", "report", "asked", "ceiling", "told");
    print_shares("  class right first, of 100", f->class_first);
    print_shares("  part right first", f->part_first);
    print_shares("  part right in the first three", f->part_three);
    print_shares("  cause right first", f->cause_first);
    if (f->lacking) {
        print_shares("  class right first, with faults not given", f->class_all);
        print_shares("  part in three, with faults not given", f->part_three_all);
        print_shares("  fault not given: unknown first or second", f->unknown_two);
        printf("   of these, in %zu rows left change all of it:\n", f->unknown_kin[ASKED].n);
        print_shares("    then unknown first or second", f->unknown_kin);
        printf("   and in %zu they do not:\n", f->unknown_gap[ASKED].n);
        print_shares("    then unknown first or second", f->unknown_gap);
    }
    print_calibration("  calibration error, first cause on the report", &f->report);
    print_calibration("  calibration error, first cause", &f->cause);
    print_calibration("  calibration error, first class", &f->class);
    print_calibration("  calibration error, first part", &f->part);
    print_calibration("  calibration error, ceiling's first cause", &f->ceiling);
    print_bins(&f->cause);
    print_questions(f);
    print_minutes(f);
    printf("  largest mass given up                      %8.1e\n", f->most_omitted);
}

/* ---- invariants and loose floors ---- */

static int broken(bool bad, const char *world, const char *what)
{
    if (bad)
        printf("BROKEN: %s: %s\n", world, what);
    return bad;
}

/* Floors are far below what is reached, for a run of a few dozen calls on well-known clocks. */
static int check_world(const struct figures *f, const struct pretend_world *w)
{
    const char *name = w->row->name;
    struct bin bin[BINS];
    double mine = tally_mean(&f->minutes[BY_FINDER]);
    int n = broken(f->refused > 0, name, "an answer was refused or a clock not found");
    n += broken(f->bad_sums > 0, name, "probabilities of all causes do not sum to one");
    n += broken(f->bad_omitted > 0, name, "more was given up than one in ten thousand");
    n += broken(tally_mean(&f->class_first[ASKED]) < 0.25, name,
                "class right first in fewer than 25 of 100");
    n += broken(tally_mean(&f->part_three[ASKED]) < 0.4, name,
                "part in three in fewer than 40 of 100");
    n += broken(calibration_error(&f->cause, bin) > 0.5, name, "calibration error over 0.5");
    n += broken(tally_mean(&f->questions) > 5, name, "more than five questions");
    n += broken(mine < tally_mean(&f->minutes[AT_BEST]), name, "quicker than knowing the cause");
    n += broken(mine > 1.5 * tally_mean(&f->minutes[BY_OIL]), name,
                "far slower than always going to clean and oil");
    n += broken(tally_mean(&f->bits[ASKED]) > tally_mean(&f->bits[REPORT]) + 0.3, name,
                "questions add to the uncertainty");
    return n;
}

static int evaluate(struct bench *bench, size_t only, bool check)
{
    int bad = 0;
    for (size_t i = 0; i < bench->table.worlds; i++) {
        if (only && i + 1 != only)
            continue;
        struct pretend_world w;
        struct figures *f = mem_alloc(sizeof *f);
        pretend_world_init(&w, &bench->desk, &bench->table.world[i]);
        run_world(bench, f, &w);
        print_world(f, &w);
        bad += check ? check_world(f, &w) : 0;
        figures_release(f);
        mem_free(f);
        pretend_world_release(&w);
    }
    return bad;
}

struct request {
    size_t calls, jobs;
    double seconds;
    bool check, each, gap, cases, named, quick, lacking;
    unsigned from;
    size_t world;
    const char *clocks;
};

static bool read_request(int argc, char **argv, struct request *r)
{
    const char *limit = getenv("LETOFF_LONG_S");
    *r = (struct request){.calls = 2000, .jobs = 1, .cases = true, .seconds = limit ? atof(limit) / 2 : 0};
    for (int i = 1; i < argc; i++) {
        const char *next = i + 1 < argc ? argv[i + 1] : NULL;
        if (strcmp(argv[i], "--calls") == 0 && next)
            r->calls = (size_t)atoi(argv[++i]);
        else if (strcmp(argv[i], "--jobs") == 0 && next)
            r->jobs = (size_t)fmax(1, fmin(JOBS_MOST, atoi(argv[++i])));
        else if (strcmp(argv[i], "--seconds") == 0 && next)
            r->seconds = atof(argv[++i]);
        else if (strcmp(argv[i], "--clocks") == 0 && next)
            r->clocks = argv[++i];
        else if (strcmp(argv[i], "--from") == 0 && next)
            r->from = (unsigned)atoi(argv[++i]);
        else if (strcmp(argv[i], "--world") == 0 && next)
            r->world = (size_t)atoi(argv[++i]);
        else if (strcmp(argv[i], "--gap") == 0)
            r->gap = true;
        else if (strcmp(argv[i], "--check") == 0)
            r->check = true;
        else if (strcmp(argv[i], "--each") == 0)
            r->each = true;
        else if (strcmp(argv[i], "--named") == 0)
            r->named = true;
        else if (strcmp(argv[i], "--quick") == 0)
            r->quick = true;
        else if (strcmp(argv[i], "--lacking") == 0)
            r->lacking = true;
        else if (strcmp(argv[i], "--no-cases") == 0)
            r->cases = false;
        else
            return false;
    }
    return true;
}

int main(int argc, char **argv)
{
    struct request r;
    struct bench bench = {.seconds = 0};
    struct err e = {0};
    if (!read_request(argc, argv, &r)) {
        fprintf(stderr,
                "evaluate [--calls N] [--jobs N] [--from N] [--seconds S] [--check] [--each] [--gap] "
                "[--no-cases] [--named] [--world N] [--clocks LIST] [--quick] [--lacking]\n");
        return 2;
    }
    struct library *lib = library_load("chimes", &e);
    struct words *words = words_load("chimes/words.yaml", &e);
    bool ok = minutes_table_load(&bench.table, "tests/diagnose/evaluate-costs.yaml", &e);
    err_print(&e, stderr);
    if (!lib || !words || !ok)
        return err_status(&e);
    pretend_desk_init(&bench.desk, lib, words, &bench.table);
    bench.desk.clocks = r.clocks;
    bench.desk.always_named = r.named;
    bench.finder = finder_new(lib);
    finder_hands(bench.finder, 1); /* the jobs take all processors */
    bench.words = words;
    bench.calls = r.calls;
    bench.jobs = r.jobs;
    bench.seconds = r.seconds;
    bench.from = r.from;
    bench.each = r.each;
    bench.gap = r.gap;
    bench.quick = r.quick;
    bench.lacking = r.lacking;
    int bad = evaluate(&bench, r.world, r.check);
    struct case_totals totals = {0};
    if (r.cases) {
        printf("\nthe real open cases\n");
        bad += open_cases_run(bench.finder, words, "tests/cases", NULL, &totals);
    }
    finder_free(bench.finder);
    pretend_desk_release(&bench.desk);
    minutes_table_release(&bench.table);
    words_free(words);
    library_free(lib);
    err_release(&e);
    return bad ? 1 : 0;
}
