/* verb_journal_read.c - lists, one job, search, visits, figures, lessons. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "command/journal_figures.h"
#include "command/lessons.h"
#include "command/verb_journal.h"
#include "journal/stats.h"
#include "mem.h"
#include "text.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

static struct journal *open_reader(const struct journal_common *c, struct err *e)
{
    struct journal_options reader = {.read_only = true};
    return journal_open(c->where, &reader, e);
}

/* ---- lists ---------------------------------------------------------------------------------- */

static json_t *row_json(const struct job_row *r)
{
    return json_pack("{s:s, s:s, s:s, s:s, s:s, s:s, s:s, s:s, s:s}", "call", r->call, "taken_at",
                     r->taken_at, "state", r->state, "customer", r->customer, "movement",
                     r->movement, "outcome", r->outcome, "found", r->found, "next_visit",
                     r->next_visit, "story", r->story);
}

static void print_rows(const struct journal_common *c, const struct job_rows *rows)
{
    json_t *list = json_array();
    for (size_t i = 0; i < rows->count; i++) {
        const struct job_row *r = &rows->at[i];
        int line = (int)strcspn(r->story, "\n");
        if (c->json)
            json_array_append_new(list, row_json(r));
        else
            printf("%.8s  %.16s  %-6s  %s%s%s  %s%.*s\n", r->call, r->taken_at, r->state,
                   r->customer, r->customer[0] && r->movement[0] ? ", " : "", r->movement,
                   r->found[0] ? r->found : "", r->found[0] ? 0 : line, r->story);
    }
    if (c->json)
        journal_print(list);
    else
        json_decref(list);
}

int verb_journal_list(int argc, char **argv)
{
    struct journal_common c = {0};
    bool open = false, closed = false;
    long most = 0;
    const struct option options[] = {
        {"--open", OPTION_FLAG, &open, NULL, "open calls only", 0, 0},
        {"--closed", OPTION_FLAG, &closed, NULL, "closed jobs only", 0, 0},
        {"--most", OPTION_INT, &most, "N", "at most so many", 1, 1000000},
        JOURNAL_OPTIONS(c),
    };
    const struct usage u = {
        "letoff journal list", "Lists calls, newest first.", options, COUNT(options), 0, 0};
    struct err e = {0};
    struct job_rows rows = {0};
    if (options_read(&u, argc, argv, NULL, NULL, &e) != OPTIONS_OK)
        return options_end(&e);
    struct journal *j = open_reader(&c, &e);
    enum job_which which = open == closed ? JOBS_ALL : open ? JOBS_OPEN : JOBS_CLOSED;
    if (j && job_list(j, which, (size_t)most, &rows, &e))
        print_rows(&c, &rows);
    job_rows_release(&rows);
    journal_close(j);
    return options_end(&e);
}

#define WORDS_MOST 8

int verb_journal_find(int argc, char **argv)
{
    struct journal_common c = {0};
    const char *plain[WORDS_MOST];
    const struct option options[] = {JOURNAL_OPTIONS(c)};
    const struct usage u = {"letoff journal find WORD...",
                            "Lists jobs in which all words occur.",
                            options,
                            COUNT(options),
                            1,
                            WORDS_MOST};
    struct err e = {0};
    struct text words = {0};
    struct job_rows rows = {0};
    size_t plains;
    if (options_read(&u, argc, argv, plain, &plains, &e) != OPTIONS_OK)
        return options_end(&e);
    for (size_t i = 0; i < plains; i++)
        text_addf(&words, "%s ", plain[i]);
    struct journal *j = open_reader(&c, &e);
    if (j && job_find(j, text_cstr(&words), &rows, &e))
        print_rows(&c, &rows);
    job_rows_release(&rows);
    journal_close(j);
    text_release(&words);
    return options_end(&e);
}

int verb_journal_visits(int argc, char **argv)
{
    struct journal_common c = {0};
    const char *plain[1] = {NULL};
    const struct option options[] = {JOURNAL_OPTIONS(c)};
    const struct usage u = {"letoff journal visits [YYYY-MM-DD]",
                            "Lists the visits of a day, or all that are still to be made.",
                            options,
                            COUNT(options),
                            0,
                            1};
    struct err e = {0};
    struct visit_rows rows = {0};
    size_t plains;
    if (options_read(&u, argc, argv, plain, &plains, &e) != OPTIONS_OK)
        return options_end(&e);
    struct journal *j = open_reader(&c, &e);
    bool ok = j && job_visits(j, plains ? plain[0] : NULL, &rows, &e);
    json_t *list = json_array();
    for (size_t i = 0; ok && i < rows.count; i++) {
        const struct visit_row *r = &rows.at[i];
        json_array_append_new(list, json_pack("{s:s, s:s, s:s, s:s, s:s, s:s, s:s, s:f, s:b}",
                                              "visit", r->visit, "call", r->call, "planned_at",
                                              r->planned_at, "van", r->van, "customer", r->customer,
                                              "movement", r->movement, "kit", r->kit, "minutes",
                                              r->minutes, "done", r->done));
        if (!c.json)
            printf("%s  %.8s  %s  %s, %s\n%s%s", r->planned_at, r->call, r->van, r->customer,
                   r->movement, r->kit, r->kit[0] ? "\n" : "");
    }
    if (ok && c.json)
        journal_print(json_incref(list));
    json_decref(list);
    visit_rows_release(&rows);
    journal_close(j);
    return options_end(&e);
}

/* ---- one job -------------------------------------------------------------------------------- */

static json_t *job_json(const struct job *job)
{
    json_t *o = json_object();
    json_object_set_new(o, "call", journal_record_json(&job->call));
    if (job->customer.id[0])
        json_object_set_new(o, "customer", journal_record_json(&job->customer));
    if (job->clock.id[0])
        json_object_set_new(o, "clock", journal_record_json(&job->clock));
    for (int kind = RECORD_BELIEF; kind <= RECORD_RECORDING; kind++) {
        json_t *list = json_array();
        for (size_t i = 0; i < job->of[kind].count; i++)
            json_array_append_new(list, journal_record_json(&job->of[kind].at[i]));
        json_object_set_new(o, record_shape((enum record_kind)kind)->name, list);
    }
    return o;
}

static void print_record(const struct record *r)
{
    const struct record_shape *shape = record_shape(r->kind);
    printf("%s %.8s\n", shape->name, r->id);
    for (size_t i = 0; shape->field[i].name; i++)
        if (r->value[i] && shape->field[i].type != FIELD_REF)
            printf("  %-13s %s\n", shape->field[i].name, r->value[i]);
}

static void print_job(const struct job *job)
{
    print_record(&job->call);
    if (job->customer.id[0])
        print_record(&job->customer);
    if (job->clock.id[0])
        print_record(&job->clock);
    for (int kind = RECORD_BELIEF; kind <= RECORD_RECORDING; kind++)
        for (size_t i = 0; i < job->of[kind].count; i++)
            print_record(&job->of[kind].at[i]);
}

static void print_edit(void *with, const struct edit *edit)
{
    (void)with;
    const struct record_shape *shape = record_shape((enum record_kind)edit->kind);
    printf("%lld %.4s  %s = %s\n", (long long)edit->stamp_ms, edit->origin,
           shape->field[edit->field].name, edit->value);
}

int verb_journal_show(int argc, char **argv)
{
    struct journal_common c = {0};
    bool edits = false;
    const char *plain[1];
    const struct option options[] = {
        {"--edits", OPTION_FLAG, &edits, NULL, "every value the call's fields ever had", 0, 0},
        JOURNAL_OPTIONS(c),
    };
    const struct usage u = {"letoff journal show CALL",
                            "Shows a job with all that hangs on it.",
                            options,
                            COUNT(options),
                            1,
                            1};
    struct err e = {0};
    struct job job = {0};
    char id[RECORD_ID_LENGTH + 1];
    size_t plains;
    if (options_read(&u, argc, argv, plain, &plains, &e) != OPTIONS_OK)
        return options_end(&e);
    struct journal *j = open_reader(&c, &e);
    bool ok = j && journal_id(j, RECORD_CALL, plain[0], id, &e);
    if (ok && edits)
        journal_history(j, id, print_edit, NULL, &e);
    else if (ok && job_read(j, id, &job, &e)) {
        if (c.json)
            journal_print(job_json(&job));
        else
            print_job(&job);
        job_release(&job);
    }
    journal_close(j);
    return options_end(&e);
}

/* ---- figures -------------------------------------------------------------------------------- */

static json_t *stats_json(const struct stats *s)
{
    json_t *parts = json_array(), *bins = json_array(), *months = json_array(),
           *advice = json_array();
    for (size_t i = 0; i < s->parts; i++) {
        json_t *month = json_array();
        for (int m = 0; m < STATS_MONTHS; m++)
            json_array_append_new(month, json_integer(s->part[i].month[m]));
        json_array_append_new(parts, json_pack("{s:s, s:i, s:o}", "part", s->part[i].part, "all",
                                               (int)s->part[i].all, "month", month));
    }
    for (int b = 0; b < STATS_BINS; b++)
        json_array_append_new(bins, json_pack("{s:f, s:f, s:i}", "said", s->bin[b].said, "held",
                                              s->bin[b].held, "count", (int)s->bin[b].count));
    for (int m = 0; m < STATS_MONTHS; m++)
        json_array_append_new(months,
                              json_pack("{s:i, s:i, s:f, s:f}", "jobs", (int)s->month[m].jobs,
                                        "by_phone", (int)s->month[m].by_phone, "minutes",
                                        s->month[m].minutes, "saved", s->month[m].saved));
    for (size_t i = 0; i < s->advices; i++)
        json_array_append_new(
            advice,
            json_pack("{s:s, s:i, s:i, s:i, s:f}", "action", s->advice[i].action, "given",
                      (int)s->advice[i].given, "followed", (int)s->advice[i].followed, "helped",
                      (int)s->advice[i].helped, "promised_min", s->advice[i].promised_min));
    return json_pack("{s:i, s:i, s:i, s:i, s:o, s:o, s:i, s:i, s:f, s:o, s:f, s:i, s:f, s:f, s:o}",
                     "year", s->year, "calls", (int)s->calls, "open", (int)s->open, "closed",
                     (int)s->closed, "parts", parts, "promises", bins, "judged", (int)s->judged,
                     "right", (int)s->right, "brier", s->brier, "months", months, "trip_min",
                     s->trip_min, "trips", (int)s->trips, "minutes_saved", s->minutes_saved,
                     "promised_min", s->promised_min, "advice", advice);
}

static void print_stats(const struct stats *s)
{
    printf("%u calls, %u open, %u closed\n", s->calls, s->open, s->closed);
    if (s->judged)
        printf("The most probable fault was the right one in %u of %u jobs.\n", s->right,
               s->judged);
    for (int b = 0; b < STATS_BINS; b++)
        if (s->bin[b].count)
            printf("  promised %3.0f %%, held %3.0f %%, %u beliefs\n", 100 * s->bin[b].said,
                   100 * s->bin[b].held, s->bin[b].count);
    if (s->trips >= STATS_TRIPS_LEAST)
        printf("A job with a visit or on the bench took %.0f min (%u jobs); the telephone saved "
               "%.0f min.\n",
               s->trip_min, s->trips, s->minutes_saved);
    for (size_t i = 0; i < s->parts; i++) {
        printf("%-22s %4u  ", s->part[i].part[0] ? s->part[i].part : "(no part)", s->part[i].all);
        for (int m = 0; m < STATS_MONTHS; m++)
            printf("%4u", s->part[i].month[m]);
        printf("\n");
    }
}

int verb_journal_stats(int argc, char **argv)
{
    struct journal_common c = {0};
    long year = 0;
    const char *picture = NULL;
    const struct option options[] = {
        {"--year", OPTION_INT, &year, "N", "jobs closed in this year; all if not given", 1900,
         9999},
        {"--out", OPTION_TEXT, &picture, "FILE", "draw the figures: .svg, .png or .pdf", 0, 0},
        JOURNAL_OPTIONS(c),
    };
    const struct usage u = {"letoff journal stats",
                            "Which parts fail, whether promises hold, minutes saved.",
                            options,
                            COUNT(options),
                            0,
                            0};
    struct err e = {0};
    struct stats s = {0};
    if (options_read(&u, argc, argv, NULL, NULL, &e) != OPTIONS_OK)
        return options_end(&e);
    struct journal *j = open_reader(&c, &e);
    if (j && stats_read(j, (int)year, &s, &e)) {
        if (picture && !journal_figures_write(&s, picture, &e))
            ;
        else if (c.json)
            journal_print(stats_json(&s));
        else
            print_stats(&s);
    }
    stats_release(&s);
    journal_close(j);
    return options_end(&e);
}

/* ---- lessons -------------------------------------------------------------------------------- */

struct learn_words {
    const char *undo, *redo;
    bool on, off;
};

/* What was asked to be changed; true if that was all or nothing was asked. */
static bool change_learning(struct journal *j, const struct learn_words *w, struct err *e)
{
    char id[RECORD_ID_LENGTH + 1];
    if (w->undo && !(journal_id(j, RECORD_CALL, w->undo, id, e) && job_teaches(j, id, false, e)))
        return false;
    if (w->redo && !(journal_id(j, RECORD_CALL, w->redo, id, e) && job_teaches(j, id, true, e)))
        return false;
    return !(w->on || w->off) || journal_learning(j, w->on, e);
}

static void print_lessons(struct learn *l, const struct lessons *got)
{
    size_t count;
    const struct learned *row = learn_show(l, &count);
    printf("%zu jobs taught, %zu were told not to, %zu had no clock or fault the finder knows.\n",
           got->jobs, got->left_out, got->unplaced);
    if (got->off)
        printf("Learning is switched off; the shipped priors stand.\n");
    for (size_t i = 0; i < count; i++)
        if (row[i].jobs > 0 && row[i].found > 0)
            printf("%s%s%s: %s was %.1f %%, is %.1f %% (%g of %g jobs)\n", row[i].clock,
                   row[i].history && row[i].history[0] ? ", " : "",
                   row[i].history ? row[i].history : "", row[i].fault, 100 * row[i].before,
                   100 * row[i].after, row[i].found, row[i].jobs);
}

static json_t *lessons_json(struct learn *l, const struct lessons *got)
{
    size_t count;
    const struct learned *row = learn_show(l, &count);
    json_t *list = json_array();
    for (size_t i = 0; i < count; i++)
        if (row[i].jobs > 0)
            json_array_append_new(list, json_pack("{s:s, s:s?, s:s, s:f, s:f, s:f, s:f}", "clock",
                                                  row[i].clock, "history", row[i].history, "fault",
                                                  row[i].fault, "before", row[i].before, "after",
                                                  row[i].after, "found", row[i].found, "jobs",
                                                  row[i].jobs));
    return json_pack("{s:I, s:I, s:I, s:b, s:o}", "jobs", (json_int_t)got->jobs, "left_out",
                     (json_int_t)got->left_out, "unplaced", (json_int_t)got->unplaced, "off",
                     got->off, "rows", list);
}

static void teach_and_print(struct journal *j, bool json, struct err *e)
{
    struct lessons got;
    struct library *lib = library_load(NULL, e);
    struct learn *l = lib ? lessons_of(lib, j, &got, e) : NULL;
    if (l) {
        if (json)
            journal_print(lessons_json(l, &got));
        else
            print_lessons(l, &got);
    }
    learn_free(l);
    library_free(lib);
}

int verb_journal_learn(int argc, char **argv)
{
    struct journal_common c = {0};
    struct learn_words w = {0};
    const struct option options[] = {
        {"--undo", OPTION_TEXT, &w.undo, "CALL", "take back what this job taught", 0, 0},
        {"--redo", OPTION_TEXT, &w.redo, "CALL", "let it teach again", 0, 0},
        {"--off", OPTION_FLAG, &w.off, NULL, "go back to the shipped priors", 0, 0},
        {"--on", OPTION_FLAG, &w.on, NULL, "learn from closed jobs again", 0, 0},
        JOURNAL_OPTIONS(c),
    };
    const struct usage u = {"letoff journal learn",
                            "Shows what closed jobs taught: before, after, from how many jobs.",
                            options,
                            COUNT(options),
                            0,
                            0};
    struct err e = {0};
    if (options_read(&u, argc, argv, NULL, NULL, &e) != OPTIONS_OK)
        return options_end(&e);
    bool writes = w.undo || w.redo || w.on || w.off;
    struct journal_options how = {.must_exist = true, .read_only = !writes};
    struct journal *j = w.on && w.off ? NULL : journal_open(c.where, &how, &e);
    if (w.on && w.off)
        err_add(&e, "--on and --off were given together, expected one of them.");
    if (j && change_learning(j, &w, &e))
        teach_and_print(j, c.json, &e);
    journal_close(j);
    return options_end(&e);
}
