/* bench_core.c - what the core costs: let-offs, beliefs fresh and warm, pairs, plans over all states; and how the
 * cost of a belief grows with the rows of a report, and with the faults and the clocks thought of.
 *
 * Beside the exact belief stands what drawing would cost: hypotheses drawn from the prior and each run
 * along the report, weighed by the chance of what was told.  The share p of the first cause then has the
 * variance (delta method)
 *
 *     1/N  sum over h of  prior_h chance_h^2 (first_h - p)^2  /  P(report)^2
 *
 * which leaves out that runs of one hypothesis differ, and so is least.  N runs give a standard
 * error of 0.01.
 *
 * Processor time of this program alone.  One line a figure, "what: number unit".
 */
#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>
#include <time.h>

#include "diagnose/belief.h"
#include "mem.h"
#include "movement/library.h"
#include "resync/presume.h"

static struct library *lib;
static struct words *words;

static double spent_s(void)
{
    struct timespec t;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
    return (double)t.tv_sec + (double)t.tv_nsec * 1e-9;
}

/* ---- the simulator ---- */

static double letoffs_a_second(const char *id)
{
    struct works w;
    struct moment m;
    struct random random;
    struct chance chance;
    struct event_list events = {0};
    works_init(&w, library_find_clock(lib, id), NULL, 0);
    random_init(&random, 1);
    chance_draw(&chance, &random);
    moment_init(&m, &w, 0);
    int letoffs = 0;
    double began = spent_s();
    while (spent_s() - began < 0.5) {
        movement_do(&w, &m, ACTION_WIND, 0, &chance, NULL);
        m.letoff = 0;
        event_list_clear(&events);
        movement_turn(&w, &m, 1440, BY_TIME, &chance, &events);
        letoffs += m.letoff;
    }
    double rate = letoffs / (spent_s() - began);
    event_list_release(&events);
    printf("let-offs, %s: %.0f a second\n", id, rate);
    return rate;
}

/* ---- the finder ---- */

static const char *const rows[] = {"3:00 s2",   "4:00 s3",   "5:00 s4",  "6:00 s5",
                                   "7:00 s6",   "8:00 s7",   "9:00 s8",  "10:00 s9",
                                   "11:00 s10", "12:00 s11", "1:00 s12", "2:00 s1"};

static void report_of(struct sheet *s, const char *clock, size_t count)
{
    struct text t = {0};
    sheet_init(s, words);
    if (clock)
        snprintf(s->clock, sizeof s->clock, "%s", clock);
    for (size_t i = 0; i < count; i++)
        text_addf(&t, "%s%s", i ? ", " : "", rows[i]);
    sheet_parse_shorthand(s, text_cstr(&t), t.length, NULL);
    text_release(&t);
}

/* Runs that drawing needs; see above. */
static double runs_wanted(const struct belief *b)
{
    double p = b->cause[0].p, sum = 0;
    for (size_t i = 0; i < b->helds; i++) {
        double off = (b->held[i].cause == 0) - p;
        sum += b->held[i].p * b->held[i].chance * off * off;
    }
    return sum / (0.01 * 0.01 * exp(b->evidence));
}

/* Seconds of one drawn run: a variant's works made, an hour unheard and three heard, what was heard compared. */
static double run_s(struct finder *f, const char *clock)
{
    struct clock_case *k = finder_case(f, library_find_clock(lib, clock));
    struct random random;
    struct chance chance;
    struct event_list events = {0};
    const struct heard row = {.at = {.kind = AT_EXACT, .min = 180}, .strike = HEARD_STRIKE_COUNT, .value = {2}, .values = 1};
    double told = 0;
    random_init(&random, 1);
    chance_draw(&chance, &random);
    double began = spent_s();
    for (int i = 0; i < 2000; i++) {
        struct works w;
        struct moment m;
        const struct outcome_table *t = &k->table[k->variant[random_below(&random, (uint32_t)k->variants)].table];
        works_init(&w, k->clock, t->change, t->changes);
        moment_init(&m, &w, 90);
        for (int hour = 0; hour < 4; hour++) {
            event_list_clear(&events);
            movement_turn(&w, &m, 60, BY_TIME, &chance, &events);
            uint32_t n = sounding_digest(&k->pool, k->clock, k->classes.lobe[0], &events, m.rest);
            struct ear_at at = {.model = &ear_usual, .words = words, .clock = k->clock, .pool = &k->pool, .lobe = k->classes.lobe[0],
                                .sound = sounding_at(&k->pool, n), .due = sounding_at(&k->pool, k->due[0]), .dial_min = 180, .shown_min = 180};
            told += hour ? ear_row(&at, &row) : 0;
        }
    }
    double took = (spent_s() - began) / 2000;
    event_list_release(&events);
    return told >= 0 ? took : 0;
}

static double drawn_runs; /* of the last belief */

static double belief_with_s(struct finder *f, const struct sheet *s, const struct belief_options *o, size_t *hypotheses)
{
    struct belief b = {0};
    double began = spent_s();
    belief_find(f, s, o, &b);
    double took = spent_s() - began;
    *hypotheses = b.hypotheses;
    drawn_runs = runs_wanted(&b);
    belief_release(&b);
    return took;
}

static double belief_s(struct finder *f, const struct sheet *s, bool pairs, size_t *hypotheses)
{
    struct belief_options o = {.pairs = pairs};
    return belief_with_s(f, s, &o, hypotheses);
}

/* A finder that has thought of the clocks, but of a report that tells nothing of the one to come. */
static struct finder *finder_warmed(const char *clock)
{
    static const char line[] = "2:00 s7, 2:30 s3";
    struct finder *f = finder_new(lib);
    struct sheet s;
    size_t n;
    report_of(&s, clock, 0);
    sheet_parse_shorthand(&s, line, sizeof line - 1, NULL);
    belief_s(f, &s, false, &n);
    sheet_release(&s);
    return f;
}

static double warm_belief_s(const char *clock, size_t rows_n, size_t *hypotheses)
{
    struct sheet s;
    struct finder *f = finder_warmed(clock);
    report_of(&s, clock, rows_n);
    double took = belief_s(f, &s, false, hypotheses);
    sheet_release(&s);
    finder_free(f);
    return took;
}

static void bench_finder(const char *clock, const char *name)
{
    struct sheet s;
    size_t n, pairs_n;
    struct finder *f = finder_new(lib);
    report_of(&s, clock, 3);
    double fresh = belief_s(f, &s, false, &n), again = belief_s(f, &s, false, &n), runs = drawn_runs;
    double warm = warm_belief_s(clock, 3, &n), twelve = warm_belief_s(clock, 12, &n);
    printf("belief of three rows, %s, fresh: %.2f ms\n", name, 1e3 * fresh);
    printf("belief of three rows, %s, warm: %.2f ms\n", name, 1e3 * warm);
    printf("belief of three rows, %s, fresh to warm: %.1f times\n", name, fresh / warm);
    printf("belief of three rows, %s, the same report again: %.2f ms\n", name, 1e3 * again);
    printf("belief of twelve rows, %s, warm: %.2f ms\n", name, 1e3 * twelve);
    printf("growth with clocks, %s: %.2f us a hypothesis\n", name, 1e6 * warm / (double)n);
    printf("hypotheses, %s: %zu\n", name, n);
    printf("runs, %s: %.0f\n", name, runs);
    double drawn = runs * run_s(f, clock ? clock : "longcase-rack");
    printf("the same by runs, %s: %.0f ms\n", name, 1e3 * drawn);
    printf("runs to belief, %s: %.0f times\n", name, drawn / warm);
    if (clock) {
        double pairs = belief_s(f, &s, true, &pairs_n),
               pairs_warm = belief_s(f, &s, true, &pairs_n);
        printf("belief with pairs, %s, fresh: %.1f ms\n", name, 1e3 * pairs);
        printf("belief with pairs, %s, warm: %.1f ms\n", name, 1e3 * pairs_warm);
        printf("pairs to singles, %s, warm: %.1f times\n", name, pairs_warm / warm);
    }
    sheet_release(&s);
    finder_free(f);
}

static void bench_growth(void)
{
    double one = 0;
    for (size_t rows_n = 1; rows_n <= 12; rows_n = rows_n < 8 ? 2 * rows_n : rows_n + 4) {
        size_t n;
        double took = warm_belief_s("longcase-countwheel-78", rows_n, &n);
        one = rows_n == 1 ? took : one;
        printf("belief of %zu rows, warm: %.2f ms, %.1f times one row\n", rows_n, 1e3 * took,
               took / one);
    }
}

/* Only some of the faults, or of the clocks, are thought of: the others have no prior. */
struct some {
    size_t faults, clocks;
};

static double only_some(void *with, const char *clock, const char *fault)
{
    const struct some *some = with;
    size_t f = 0, c = 0;
    while (c < library_clocks(lib) && strcmp(library_clock(lib, c)->id, clock) != 0)
        c++;
    while (f < library_faults(lib) && strcmp(library_fault(lib, f)->id, fault) != 0)
        f++;
    return c * some->clocks / library_clocks(lib) != (c + 1) * some->clocks / library_clocks(lib) &&
           f * some->faults / library_faults(lib) != (f + 1) * some->faults / library_faults(lib);
}

static double some_belief_s(const struct some *some)
{
    struct belief_options o = {.shop = only_some, .shop_with = (void *)(uintptr_t)some};
    struct finder *f = finder_warmed(NULL);
    struct sheet s;
    size_t n;
    report_of(&s, NULL, 3);
    double took = belief_with_s(f, &s, &o, &n);
    sheet_release(&s);
    finder_free(f);
    return took;
}

static void bench_width(void)
{
    double one = 0;
    for (size_t part = 8; part >= 1; part /= 2) {
        struct some some = {library_faults(lib) / part, library_clocks(lib)};
        double took = some_belief_s(&some);
        one = part == 8 ? took : one;
        printf("belief of %zu faults, all clocks: %.2f ms, %.1f times the first\n", some.faults, 1e3 * took, took / one);
    }
    for (size_t part = 8; part >= 1; part /= 2) {
        struct some some = {library_faults(lib), library_clocks(lib) / part};
        double took = some_belief_s(&some);
        one = part == 8 ? took : one;
        printf("belief of %zu clocks, all faults: %.2f ms, %.1f times the first\n", some.clocks, 1e3 * took, took / one);
    }
}

/* ---- back in step ---- */

static void bench_resync(const char *id)
{
    struct works w;
    struct reset r;
    works_init(&w, library_find_clock(lib, id), NULL, 0);
    double began = spent_s(), longest = 0;
    size_t plans = 0;
    reset_init(&r, &w, 3 * 60 + 10, NULL);
    for (int hour = 0; hour < 12; hour++) {
        struct stance_chance *all = NULL;
        size_t n = presume_all(&w, 60 * hour + 10, &all);
        for (size_t i = 0; i < n; i++) {
            double from = spent_s();
            plan_free(plan_find(&r, &all[i].stance, NULL, 1));
            double took = spent_s() - from;
            longest = took > longest && plans ? took : longest;
            plans++;
        }
        mem_free(all);
    }
    printf("plans from every state, %s: %.2f s\n", id, spent_s() - began);
    printf("states, %s: %zu\n", id, plans);
    printf("a plan, %s: %.2f ms, the longest %.1f ms\n", id,
           1e3 * (spent_s() - began) / (double)plans, 1e3 * longest);
    reset_release(&r);
}

int main(void)
{
    struct err e = {0};
    lib = library_load("chimes", &e);
    words = words_load("chimes/words.yaml", &e);
    if (lib && words) {
        letoffs_a_second("longcase-countwheel-78");
        letoffs_a_second("floor-westminster-rack");
        bench_finder("longcase-countwheel-78", "clock known");
        bench_finder(NULL, "clock unknown");
        bench_growth();
        bench_width();
        bench_resync("longcase-countwheel-78");
        bench_resync("longcase-rack");
    }
    err_print(&e, stderr);
    int status = err_status(&e);
    err_release(&e);
    words_free(words);
    library_free(lib);
    return status;
}
