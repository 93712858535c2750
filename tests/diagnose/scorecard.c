/* scorecard.c - the real open cases, one line each; see open_cases.h.
 *
 *     scorecard [FOLDER] [words]
 *     scorecard --perturb [FOLDER] [constant[,constant...]]
 *     scorecard --stories [FOLDER] [--read [READ,BORNE] | words]
 *
 * FOLDER is tests/cases, or one of invented reports such as tests/made_cases/apart.
 *
 * --perturb: the cases as they are, then each constant of the table below (or those named, or with
 * that in their name) halved and doubled, so that it shows whether a result hangs on any one of them;
 * scorecard-last.txt is what came of it last.  All of them may
 * have been set with these cases in view, so at the end stands what is left when that is undone: each
 * case is scored with the setting that does best on all the others (leave-one-out; best is the largest
 * sum of logs of the chances given to an accepted class and part).
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
#include "diagnose/tuned.h"
#include "mem.h"
#include "open_cases.h"

/* Whose number it is: of the caller's ear (struct ear_model), of the options of a belief, of tuned.h, or none of these
 * but how far the priors of the faults lie apart. */
enum owner { OF_EAR, OF_OPTIONS, OF_TUNED, OF_PRIORS };

#define EAR_ROW(member) {#member, OF_EAR, offsetof(struct ear_model, member), 0},
#define TUNED_ROW(member) {#member, OF_TUNED, offsetof(struct tuned_times, member), 1},
#define EAR_TABLE(row)                                                                             \
    row(word_hit) row(word_false) row(unnoticed) row(slip) row(asleep) row(miscount_each)          \
    row(pace_spread) row(miscount) row(dreamt) row(normal_anyway) row(tune_missed) row(note_slip)

/* To add a constant: a row here, or in tuned.h. */
static const struct constant {
    const char *name;
    enum owner owner;
    size_t at;
    double usual; /* of an option */
} constants[] = {
    {"prior_spread", OF_PRIORS, 0, 1},
    {"prior_none", OF_OPTIONS, offsetof(struct belief_options, prior_none), PRIOR_NONE},
    {"prior_unknown", OF_OPTIONS, offsetof(struct belief_options, prior_unknown), PRIOR_UNKNOWN},
    TUNED_TABLE(TUNED_ROW)
    EAR_TABLE(EAR_ROW)
};
#define CONSTANTS (sizeof constants / sizeof *constants)

#define SETTINGS_MOST 64
#define CHANCE_MOST 0.95 /* a chance that is doubled stays one */

struct scorer {
    const struct library *lib;
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
    printf("%-15s x %.1f  ", name, times);
    case_totals_print(t);
    fflush(stdout);
}

/* The prior of each fault to the power of `times`, so that those of a clock come to as much as before. */
struct spread {
    const struct library *lib;
    double times;
    double *by_clock; /* worked out beforehand: several threads ask */
};

static double spread_factor(const struct spread *p, const struct clock *c)
{
    double usual = 0, now = 0;
    for (size_t i = 0; i < library_faults(p->lib); i++) {
        const struct fault *f = library_fault(p->lib, i);
        bool applies = fault_applies(f, c);
        usual += applies ? f->prior : 0;
        now += applies ? pow(f->prior, p->times) : 0;
    }
    return now > 0 ? usual / now : 1;
}

static void spread_init(struct spread *p, const struct library *lib, double times)
{
    *p = (struct spread){.lib = lib,
                         .times = times,
                         .by_clock = mem_alloc(library_clocks(lib) * sizeof *p->by_clock)};
    for (size_t i = 0; i < library_clocks(lib); i++)
        p->by_clock[i] = spread_factor(p, library_clock(lib, i));
}

static double spread_prior(void *with, const char *clock, const char *fault)
{
    const struct spread *p = with;
    size_t i = 0;
    while (strcmp(library_clock(p->lib, i)->id, clock) != 0)
        i++;
    return p->by_clock[i] * pow(library_find_fault(p->lib, fault)->prior, p->times - 1);
}

static double some_of(double value, double times)
{
    return value < 1 ? fmin(value * times, CHANCE_MOST) : value * times;
}

/* A finder remembers what it worked out with other numbers. */
static void begin_anew(struct scorer *s)
{
    finder_free(s->finder);
    s->finder = finder_new(s->lib);
}

static void perturb_priors(struct scorer *s, const struct constant *c, double times)
{
    struct spread spread;
    spread_init(&spread, s->lib, times);
    struct belief_options o = {.shop = spread_prior, .shop_with = &spread};
    score_with(s, c->name, times, &o);
    mem_free(spread.by_clock);
}

static void perturb_tuned(struct scorer *s, const struct constant *c, double times)
{
    double *at = (double *)(void *)((char *)&tuned_times + c->at);
    *at = times; /* tuned_value sees to it that a chance stays one */
    begin_anew(s);
    score_with(s, c->name, times, NULL);
    *at = 1;
    begin_anew(s);
}

static void perturb_option(struct scorer *s, const struct constant *c, double times)
{
    struct ear_model ear = ear_usual;
    struct belief_options o = {.ear = &ear};
    double *at = (double *)(void *)((c->owner == OF_EAR ? (char *)&ear : (char *)&o) + c->at);
    *at = some_of(c->owner == OF_EAR ? *at : c->usual, times);
    score_with(s, c->name, times, &o);
}

static void perturb_by(struct scorer *s, const struct constant *c, double times)
{
    if (c->owner == OF_PRIORS)
        perturb_priors(s, c, times);
    else if (c->owner == OF_TUNED)
        perturb_tuned(s, c, times);
    else
        perturb_option(s, c, times);
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
    printf("%-15s        ", "leave-one-out");
    case_totals_print(&t);
}

static int perturb(struct scorer *s, const char *only)
{
    score_with(s, "as it is", 1, NULL);
    for (size_t i = 0; i < CONSTANTS; i++) {
        if (only && !strstr(constants[i].name, only) && !strstr(only, constants[i].name))
            continue;
        perturb_by(s, &constants[i], 0.5);
        perturb_by(s, &constants[i], 2);
    }
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
    s.lib = lib;
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
