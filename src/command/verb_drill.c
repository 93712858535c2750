/* verb_drill.c - training rounds in the terminal, with a score.
 *
 * A line of input is the number of a choice; ? shows the best one, q ends.  Without --seed every session is another one,
 * and answers are kept in the journal by part, so that weak parts come up again when they are due.
 * --review shows them, with what was missed and has not been answered right since.
 * With --seed the session is always the same and the journal is left alone unless one is named.
 */
#include <jansson.h>
#include <stdio.h>
#include <string.h>
#include <time.h>

#include "command/command.h"
#include "command/desk.h"
#include "command/oil_rounds.h"
#include "command/options.h"
#include "drill/drill.h"
#include "journal/journal.h"
#include "journal/spaced.h"
#include "mem.h"

#define WEAK_MOST 32
#define MISSED_MOST 20

struct session {
    const char *answers, *kind, *trainee, *where;
    long seed, rounds, level;
    bool json, no_journal, review;
    FILE *from, *say; /* answers; prompts (stderr when the result is JSON) */
    struct journal *journal;
    struct due_parts due;
    const char *weak[WEAK_MOST];
    json_t *list;
};

/* --- the journal ----------------------------------------------------------------------------------- */

static bool open_journal(struct session *s, struct err *e)
{
    if (!s->review && (s->no_journal || (s->seed >= 0 && !s->where)))
        return true;
    s->journal = journal_open(s->where, NULL, e);
    return s->journal && drill_due(s->journal, s->trainee, &s->due, e);
}

/* Parts that are due again, the longest overdue first. */
static size_t weak_parts(struct session *s)
{
    char now[20];
    size_t n = 0;
    if (!s->journal)
        return 0;
    journal_now(s->journal, now);
    for (size_t i = 0; i < s->due.count && n < WEAK_MOST; i++)
        if (strncmp(s->due.at[i].due_at, now, 10) <= 0)
            s->weak[n++] = s->due.at[i].part;
    return n;
}

/* --- one round -------------------------------------------------------------------------------------- */

static void show(const struct session *s, const struct round *r)
{
    fprintf(s->say, "\n%s\n", r->prompt);
    for (size_t i = 0; i < r->choices; i++) {
        fprintf(s->say, "  %zu  %s", i + 1, r->choice[i].text);
        if (r->choice[i].minutes > 0)
            fprintf(s->say, r->choice[i].minutes < 10 ? "  (%.1f min)" : "  (%.0f min)", r->choice[i].minutes);
        fputc('\n', s->say);
    }
    fputs("> ", s->say);
    fflush(s->say);
}

/* Number of the choice, 0-based; -1 at the end. */
static long read_choice(const struct session *s, const struct round *r)
{
    char line[64];
    long n;
    while (fgets(line, sizeof line, s->from)) {
        line[strcspn(line, "\r\n")] = 0;
        if (!strcmp(line, "q"))
            return -1;
        if (!strcmp(line, "?") && round_best(r) != ROUND_NO_CHOICE) {
            fprintf(s->say, "An expert would take %zu.\n> ", round_best(r) + 1);
            fflush(s->say);
            continue;
        }
        if (text_int(line, &n) && n >= 1 && (size_t)n <= r->choices)
            return n - 1;
        fprintf(s->say, "Say a number from 1 to %zu, ? or q.\n> ", r->choices);
        fflush(s->say);
    }
    return -1;
}

static bool run_round(const struct session *s, struct round *r)
{
    while (!r->done) {
        show(s, r);
        long choice = read_choice(s, r);
        if (choice < 0)
            return false;
        round_choose(r, (size_t)choice);
        fprintf(s->say, "%s\n", r->came);
    }
    fprintf(s->say, "%s\nScore %d.\n", r->review, r->score);
    return true;
}

static void note_round(struct session *s, const struct round *r, struct err *e)
{
    if (s->list)
        json_array_append_new(s->list, json_pack("{s:s, s:i, s:s, s:s, s:i, s:b, s:s, s:s, s:f, s:f}", "kind",
                                                 round_kind_name(r->kind), "level", r->level, "clock", r->clock->id, "prompt",
                                                 r->prompt, "score", r->score, "right", r->right, "part", r->part, "review",
                                                 r->review, "spent_min", r->spent_min, "best_min", r->best_min));
    if (!s->journal || !strcmp(r->part, "none"))
        return;
    char *note = drill_note(r);
    struct drill_answer answer = {r->part, r->right, round_kind_name(r->kind), r->score, note};
    drill_keep(s->journal, s->trainee, &answer, e);
    mem_free(note);
}

/* --- the session --------------------------------------------------------------------------------------- */

static void sum_up(const struct session *s, const struct drill *d)
{
    if (s->list) {
        json_t *o = json_pack("{s:O, s:f, s:i, s:i}", "rounds", s->list, "score", drill_score(d), "level", d->level, "misses",
                              (int)d->misses);
        json_dumpf(o, stdout, JSON_COMPACT | JSON_REAL_PRECISION(6));
        putchar('\n');
        json_decref(o);
        return;
    }
    printf("\n%zu round%s, score %.0f of 100, level %d.\n", d->rounds, d->rounds == 1 ? "" : "s", drill_score(d), d->level);
    for (size_t i = 0; i < d->misses; i++)
        printf("%s%s\n    %s\n", i ? "" : "To look at again:\n", d->miss[i].prompt, d->miss[i].review);
}

static void run_session(struct session *s, struct desk *desk, struct err *e)
{
    struct training room = {.lib = desk->lib, .words = desk->words, .finder = desk->finder, .oil = oil_rounds};
    struct drill d;
    room.weak = s->weak;
    room.weaks = weak_parts(s);
    random_init(&room.random, s->seed >= 0 ? (uint64_t)s->seed : (uint64_t)time(NULL));
    drill_init(&d, &room, (int)s->level);
    d.only = s->kind ? round_kind_of(s->kind) : -1;
    for (long i = 0; i < s->rounds && !e->count; i++) {
        struct round *r = drill_next(&d);
        bool done = r && run_round(s, r);
        if (done) {
            note_round(s, r, e);
            drill_take(&d, r);
        } else if (!r) {
            err_add(e, "No round of this kind can be made at level %d.", d.level);
        }
        round_free(r);
        if (!done)
            break;
    }
    sum_up(s, &d);
    drill_release(&d);
}

/* --- looking back ------------------------------------------------------------------------------------------- */

static json_t *parts_json(const struct session *s)
{
    json_t *list = json_array();
    for (size_t i = 0; i < s->due.count; i++) {
        const struct due_part *p = &s->due.at[i];
        json_array_append_new(list, json_pack("{s:s, s:i, s:i, s:s}", "part", p->part, "asked", (int)p->asked, "right", (int)p->right,
                                              "due", p->due_at));
    }
    return list;
}

static void review_json(const struct session *s, const struct record_list *missed)
{
    json_t *list = json_array(), *o;
    for (size_t i = 0; i < missed->count; i++) {
        const struct record *r = &missed->at[i];
        json_array_append_new(list, json_pack("{s:s, s:s, s:s, s:s}", "part", record_text(r, "part"), "made_at",
                                              record_text(r, "made_at"), "round", record_text(r, "round"), "note",
                                              record_text(r, "note")));
    }
    o = json_pack("{s:o, s:o}", "parts", parts_json(s), "missed", list);
    json_dumpf(o, stdout, JSON_COMPACT);
    putchar('\n');
    json_decref(o);
}

static void review_text(const struct session *s, const struct record_list *missed)
{
    if (!s->due.count)
        printf("Nothing has been kept yet: play some rounds first.\n");
    for (size_t i = 0; i < s->due.count; i++) {
        const struct due_part *p = &s->due.at[i];
        printf("%s%-24s %3zu of %3zu right, again on %.10s\n", i ? "" : "Parts, the one due first\n", p->part, p->right, p->asked,
               p->due_at);
    }
    for (size_t i = 0; i < missed->count; i++)
        printf("%s%.10s %s (%s)\n    %s\n", i ? "" : "Missed and not yet put right\n", record_text(&missed->at[i], "made_at"),
               record_text(&missed->at[i], "part"), record_text(&missed->at[i], "round"), record_text(&missed->at[i], "note"));
}

static void review(struct session *s, struct err *e)
{
    struct record_list missed = {0};
    if (drill_missed(s->journal, s->trainee, MISSED_MOST, &missed, e)) {
        if (s->json)
            review_json(s, &missed);
        else
            review_text(s, &missed);
    }
    record_list_release(&missed);
}

static bool check(struct session *s, struct err *e)
{
    s->say = s->json ? stderr : stdout;
    s->from = stdin;
    if (s->kind && round_kind_of(s->kind) < 0)
        err_add(e, "--kind \"%.40s\" is no kind of round; expected is time, clock, oil, reset, defect or fault.", s->kind);
    if (s->answers && strcmp(s->answers, "-")) {
        s->from = fopen(s->answers, "r");
        if (!s->from)
            err_device(e, "The answers in %s cannot be read.", s->answers);
    }
    return e->count == 0;
}

static void drill_session(struct session *s, struct err *e)
{
    struct desk desk = {0};
    s->list = s->json ? json_array() : NULL;
    if (s->review && open_journal(s, e))
        review(s, e);
    else if (!s->review && check(s, e) && open_journal(s, e) && desk_open(&desk, e))
        run_session(s, &desk, e);
    desk_close(&desk);
    due_parts_release(&s->due);
    journal_close(s->journal);
    json_decref(s->list);
    if (s->from && s->from != stdin)
        fclose(s->from);
}

int verb_drill(int argc, char **argv)
{
    struct session s = {.seed = -1, .rounds = 10, .level = 1};
    const struct option options[] = {
        {"--seed", OPTION_INT, &s.seed, "N", "always the same session", 0, 2147483647},
        {"--rounds", OPTION_INT, &s.rounds, "N", "how many rounds (10)", 1, 1000},
        {"--level", OPTION_INT, &s.level, "N", "where to begin, 1 easy to 5 (1)", 1, 5},
        {"--kind", OPTION_TEXT, &s.kind, "KIND", "only time, clock, oil, reset, defect or fault", 0, 0},
        {"--answers", OPTION_TEXT, &s.answers, "FILE", "choices from a file, a number a line; - the standard input", 0, 0},
        {"--trainee", OPTION_TEXT, &s.trainee, "WHO", "whose answers are kept", 0, 0},
        {"--journal", OPTION_TEXT, &s.where, "PLACE", "a file or postgresql://..., where answers are kept", 0, 0},
        {"--review", OPTION_FLAG, &s.review, NULL, "what was missed, and which parts are due again", 0, 0},
        {"--no-journal", OPTION_FLAG, &s.no_journal, NULL, "keep nothing", 0, 0},
        {"--json", OPTION_FLAG, &s.json, NULL, "print the result as JSON; prompts go to the error output", 0, 0},
    };
    const struct usage u = {"letoff drill [--seed N] [--rounds N] [--level 1..5] [--kind KIND]",
                            "Training rounds that grow harder, marked against the shortest way there is.",
                            options, sizeof options / sizeof options[0], 0, 0};
    struct err e = {0};
    size_t plains = 0;
    if (options_read(&u, argc, argv, NULL, &plains, &e) == OPTIONS_OK)
        drill_session(&s, &e);
    return options_end(&e);
}
