/* scorecard.c - the real open cases, one line each; see open_cases.h.
 *
 *     scorecard [FOLDER] [words]
 *     scorecard --perturb [FOLDER] [constant]
 *     scorecard --stories [FOLDER] [--read [READ,BORNE] | words]
 *
 * FOLDER is tests/cases, or one of invented reports such as tests/made_cases/apart.
 *
 * --perturb: the cases as they are, then each constant of the caller's ear and of the priors halved and
 * doubled (or those with that in their name), so that it shows whether a result hangs on any one of
 * them.  All of them may have been set with these cases in view, so at the end stands what is left
 * when that is undone: each case is scored with the setting that does best on all the others
 * (leave-one-out; best is the largest sum of logs of the chances given to an accepted class and part).
 *
 * --stories: each case's own `story`, a summary of the real report in free words, is read through the
 * phrase table (phrases-en.yaml) and the finder sees that sheet; the one written by hand says what
 * should have been understood.  --read leaves the finder out; READ and BORNE are the least per cent of
 * the facts by hand that are read, and of those read that the sheets by hand bear out, below which the
 * exit status is 1.
 */
#include <math.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
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

#define SETTINGS_MOST 64
#define CHANCE_MOST 0.95 /* a chance that is doubled stays one */

struct scorer {
    struct finder *finder;
    const struct words *words;
    const char *folder;
    struct case_totals setting[SETTINGS_MOST];
    int settings, failed;
};

/* One line: the constant, how much of it, and what the cases come to. */
static void score_with(struct scorer *s, const char *name, double times, const struct belief_options *o)
{
    struct case_totals *t = &s->setting[s->settings++];
    *t = (struct case_totals){.quiet = true, .options = o};
    s->failed += open_cases_run(s->finder, s->words, s->folder, NULL, t);
    printf("%-14s x %.1f  ", name, times);
    case_totals_print(t);
    fflush(stdout);
}

static void perturb_by(struct scorer *s, const char *only, double times)
{
    struct belief_options prior = {.prior_none = PRIOR_NONE * times};
    for (size_t i = 0; i < sizeof ear_constants / sizeof *ear_constants; i++) {
        struct ear_model ear = ear_usual;
        struct belief_options o = {.ear = &ear};
        double *at = (double *)(void *)((char *)&ear + ear_constants[i].at);
        *at = *at < 1 ? fmin(*at * times, CHANCE_MOST) : *at * times;
        if (!only || strstr(ear_constants[i].name, only))
            score_with(s, ear_constants[i].name, times, &o);
    }
    if (!only || strstr("prior_none", only))
        score_with(s, "prior_none", times, &prior);
    prior = (struct belief_options){.prior_unknown = PRIOR_UNKNOWN * times};
    if (!only || strstr("prior_unknown", only))
        score_with(s, "prior_unknown", times, &prior);
}

/* The setting that does best on all cases but one. */
static int best_without(const struct scorer *s, int left_out)
{
    int best = 0;
    double most = -INFINITY;
    for (int i = 0; i < s->settings; i++) {
        const struct case_totals *t = &s->setting[i];
        const struct case_score *out = &t->score[left_out];
        double sum = t->log_class + t->log_part - out->log_class - out->log_part;
        if (sum > most) {
            most = sum;
            best = i;
        }
    }
    return best;
}

static void leave_one_out(const struct scorer *s)
{
    struct case_totals t = {0};
    for (int i = 0; i < s->setting[0].cases; i++)
        case_totals_add(&t, s->setting[best_without(s, i)].score[i]);
    printf("%-14s        ", "leave-one-out");
    case_totals_print(&t);
}

static int perturb(struct scorer *s, const char *only)
{
    score_with(s, "as it is", 1, NULL);
    perturb_by(s, only, 0.5);
    perturb_by(s, only, 2);
    leave_one_out(s);
    return s->failed;
}

/* Is it at least what "READ,BORNE" asks for?  NULL asks for nothing. */
static bool good_enough(const struct case_totals *t, const char *need)
{
    double read, borne;
    if (!need)
        return true;
    return sscanf(need, "%lf,%lf", &read, &borne) == 2 && 100.0 * t->read >= read * t->told &&
           100.0 * t->borne >= borne * t->given;
}

static bool is_folder(const char *path)
{
    struct stat st;
    return stat(path, &st) == 0 && S_ISDIR(st.st_mode);
}

int main(int argc, char **argv)
{
    bool perturbed = false, stories = false, read = false;
    const char *folder = "tests/cases", *only = NULL;
    for (int i = 1; i < argc; i++) {
        if (strcmp(argv[i], "--perturb") == 0)
            perturbed = true;
        else if (strcmp(argv[i], "--stories") == 0)
            stories = true;
        else if (strcmp(argv[i], "--read") == 0)
            read = stories;
        else if (is_folder(argv[i]))
            folder = argv[i];
        else
            only = argv[i];
    }
    struct err e = {0};
    struct library *lib = library_load("chimes", &e);
    struct words *words = words_load("chimes/words.yaml", &e);
    struct phrases *phrases =
        stories && words ? phrases_load("chimes/phrases-en.yaml", words, &e) : NULL;
    err_print(&e, stderr);
    if (!lib || !words || (stories && !phrases))
        return err_status(&e);
    static struct scorer s;
    s.finder = read ? NULL : finder_new(lib);
    s.words = words;
    s.folder = folder;
    struct case_totals t = {.phrases = phrases};
    int failed =
        perturbed ? perturb(&s, only) : open_cases_run(s.finder, words, folder, read ? NULL : only, &t);
    finder_free(s.finder);
    phrases_free(phrases);
    words_free(words);
    library_free(lib);
    err_release(&e);
    if (failed)
        return 2;
    return good_enough(&t, read ? only : NULL) ? 0 : 1;
}
