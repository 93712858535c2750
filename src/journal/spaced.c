#include "journal/spaced.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include "mem.h"
#include "text.h"

#define FIRST_DAYS  3.0
#define GROWS_BY    2.5
#define MOST_DAYS   180.0
#define MISSED_DAYS 1.0

double spaced_next_days(double last_days, bool right)
{
    if (!right)
        return MISSED_DAYS;
    if (!(last_days > 0))
        return FIRST_DAYS;
    return fmin(fmax(last_days * GROWS_BY, FIRST_DAYS), MOST_DAYS);
}

bool spaced_day_after(const char *time, double days, char out[11])
{
    struct tm day = {0};
    int year, month, date;
    if (sscanf(time, "%4d-%2d-%2d", &year, &month, &date) != 3)
        return false;
    day.tm_year = year - 1900;
    day.tm_mon = month - 1;
    day.tm_mday = date;
    time_t seconds = timegm(&day) + (time_t)(ceil(days) * 86400); /* UTC: no summer time in it */
    return gmtime_r(&seconds, &day) && strftime(out, 11, "%Y-%m-%d", &day) == 10;
}

static bool is_trainee(const struct record *r, const char *trainee)
{
    return strcmp(record_text(r, "trainee"), trainee ? trainee : "") == 0;
}

/* The interval of the trainee's last answer on the part; answers come in the order of time. */
static double last_interval(const struct record_list *answers, const char *trainee,
                            const char *part)
{
    double days = 0;
    for (size_t i = 0; i < answers->count; i++)
        if (is_trainee(&answers->at[i], trainee) &&
            strcmp(record_text(&answers->at[i], "part"), part) == 0)
            days = record_real(&answers->at[i], "interval_days", 0);
    return days;
}

static void fill_answer(struct record *r, const char *trainee, const struct drill_answer *answer, const char *now,
                        double days)
{
    char due[11];
    record_set(r, "trainee", trainee);
    record_set(r, "part", answer->part);
    record_set(r, "was_right", answer->right ? "yes" : "no");
    record_set(r, "made_at", now);
    record_set_real(r, "interval_days", days);
    if (spaced_day_after(now, days, due))
        record_set(r, "due_at", due);
    record_set(r, "round", answer->round);
    record_set_int(r, "score", answer->score);
    record_set(r, "note", answer->note);
}

bool drill_keep(struct journal *j, const char *trainee, const struct drill_answer *answer, struct err *e)
{
    struct record_list answers = {0};
    struct record r;
    char now[20];
    if (!journal_begin(j, e))
        return false;
    bool ok = journal_list(j, RECORD_DRILL, "part", answer->part, "made_at", &answers, e);
    double days = spaced_next_days(last_interval(&answers, trainee, answer->part), answer->right);
    record_list_release(&answers);
    journal_now(j, now);
    record_init(&r, RECORD_DRILL);
    fill_answer(&r, trainee, answer, now, days);
    ok = ok && journal_put(j, &r, e);
    record_release(&r);
    if (ok)
        return journal_commit(j, e);
    journal_rollback(j);
    return false;
}

/* True if the part was answered right after answer i; answers come in the order of time. */
static bool right_since(const struct record_list *answers, size_t i, const char *trainee)
{
    for (size_t k = i + 1; k < answers->count; k++)
        if (is_trainee(&answers->at[k], trainee) && !strcmp(record_text(&answers->at[k], "was_right"), "yes") &&
            !strcmp(record_text(&answers->at[k], "part"), record_text(&answers->at[i], "part")))
            return true;
    return false;
}

bool drill_missed(struct journal *j, const char *trainee, size_t most, struct record_list *missed, struct err *e)
{
    struct record_list answers = {0};
    if (!journal_list(j, RECORD_DRILL, NULL, NULL, "made_at", &answers, e))
        return false;
    for (size_t i = answers.count; i-- > 0 && missed->count < most;) {
        const struct record *r = &answers.at[i];
        if (!is_trainee(r, trainee) || !strcmp(record_text(r, "was_right"), "yes") || !record_text(r, "note")[0] ||
            right_since(&answers, i, trainee))
            continue;
        struct record *to = record_list_add(missed, RECORD_DRILL);
        static const char *const fields[] = {"part", "made_at", "due_at", "round", "note"};
        for (size_t k = 0; k < sizeof fields / sizeof *fields; k++)
            record_set(to, fields[k], record_text(r, fields[k]));
    }
    record_list_release(&answers);
    return true;
}

static struct due_part *find_part(struct due_parts *parts, const char *part)
{
    for (size_t i = 0; i < parts->count; i++)
        if (strcmp(parts->at[i].part, part) == 0)
            return &parts->at[i];
    parts->at = mem_grow(parts->at, &parts->room, parts->count + 1, sizeof *parts->at);
    struct due_part *new = &parts->at[parts->count++];
    *new = (struct due_part){.part = mem_copy_text(part)};
    return new;
}

static int by_due(const void *a, const void *b)
{
    const struct due_part *x = a, *y = b;
    int order = strcmp(x->due_at, y->due_at);
    return order ? order : strcmp(x->part, y->part);
}

bool drill_due(struct journal *j, const char *trainee, struct due_parts *parts, struct err *e)
{
    struct record_list answers = {0};
    if (!journal_list(j, RECORD_DRILL, NULL, NULL, "made_at", &answers, e))
        return false;
    for (size_t i = 0; i < answers.count; i++) {
        const struct record *r = &answers.at[i];
        if (!is_trainee(r, trainee))
            continue;
        struct due_part *part = find_part(parts, record_text(r, "part"));
        snprintf(part->due_at, sizeof part->due_at, "%.19s", record_text(r, "due_at"));
        part->asked++;
        part->right += strcmp(record_text(r, "was_right"), "yes") == 0;
    }
    if (parts->count)
        qsort(parts->at, parts->count, sizeof *parts->at, by_due);
    record_list_release(&answers);
    return true;
}

void due_parts_release(struct due_parts *parts)
{
    for (size_t i = 0; i < parts->count; i++)
        mem_free(parts->at[i].part);
    mem_free(parts->at);
    *parts = (struct due_parts){0};
}
