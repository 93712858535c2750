/* scorecard.c - the real open cases, one line each; see open_cases.h.
 *
 *     scorecard [tests/cases] [words]
 *     scorecard --perturb [constant]
 *
 * --perturb: the cases as they are, then each constant of the caller's ear and of the priors a quarter
 * less and a quarter more (or those with that in their name), so that it shows whether a result
 * hangs on any one of them.
 */
#include <stdio.h>
#include <string.h>
#include "open_cases.h"

static const struct {
    const char *name;
    size_t at;
} ear_constants[] = {
    {"miscount", offsetof(struct ear_model, miscount)},
    {"miscount_each", offsetof(struct ear_model, miscount_each)},
    {"asleep", offsetof(struct ear_model, asleep)},
    {"dreamt", offsetof(struct ear_model, dreamt)},
    {"slip", offsetof(struct ear_model, slip)},
    {"word_hit", offsetof(struct ear_model, word_hit)},
    {"word_false", offsetof(struct ear_model, word_false)},
    {"unnoticed", offsetof(struct ear_model, unnoticed)},
    {"normal_anyway", offsetof(struct ear_model, normal_anyway)},
    {"tune_missed", offsetof(struct ear_model, tune_missed)},
    {"note_slip", offsetof(struct ear_model, note_slip)},
    {"pace_spread", offsetof(struct ear_model, pace_spread)},
};

struct scorer {
    struct finder *finder;
    const struct words *words;
};

/* One line: the constant, how much of it, and what the cases come to. */
static int score_with(const struct scorer *s, const char *name, double times,
                      const struct belief_options *o)
{
    struct case_totals t = {.quiet = true, .options = o};
    int failed = open_cases_run(s->finder, s->words, "tests/cases", NULL, &t);
    printf("%-14s x %.2f  ", name, times);
    case_totals_print(&t);
    fflush(stdout);
    return failed;
}

static int perturb_by(const struct scorer *s, const char *only, double times)
{
    struct belief_options prior = {.prior_none = PRIOR_NONE * times};
    int failed = 0;
    for (size_t i = 0; i < sizeof ear_constants / sizeof *ear_constants; i++) {
        struct ear_model ear = ear_usual;
        struct belief_options o = {.ear = &ear};
        *(double *)(void *)((char *)&ear + ear_constants[i].at) *= times;
        if (!only || strstr(ear_constants[i].name, only))
            failed += score_with(s, ear_constants[i].name, times, &o);
    }
    if (!only || strstr("prior_none", only))
        failed += score_with(s, "prior_none", times, &prior);
    prior = (struct belief_options){.prior_unknown = PRIOR_UNKNOWN * times};
    if (!only || strstr("prior_unknown", only))
        failed += score_with(s, "prior_unknown", times, &prior);
    return failed;
}

static int perturb(const struct scorer *s, const char *only)
{
    int failed = score_with(s, "as it is", 1, NULL);
    failed += perturb_by(s, only, 0.75);
    return failed + perturb_by(s, only, 1.25);
}

int main(int argc, char **argv)
{
    bool perturbed = argc > 1 && strcmp(argv[1], "--perturb") == 0;
    const char *folder = argc > 1 && !perturbed ? argv[1] : "tests/cases";
    const char *only = argc > 2 ? argv[2] : NULL;
    struct err e = {0};
    struct library *lib = library_load("chimes", &e);
    struct words *words = words_load("chimes/words.yaml", &e);
    err_print(&e, stderr);
    if (!lib || !words)
        return err_status(&e);
    struct scorer s = {finder_new(lib), words};
    struct case_totals t = {0};
    int failed =
        perturbed ? perturb(&s, only) : open_cases_run(s.finder, words, folder, only, &t);
    finder_free(s.finder);
    words_free(words);
    library_free(lib);
    err_release(&e);
    return failed ? 2 : 0;
}
