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

bool drill_keep(struct journal *j, const char *trainee, const char *part, bool right, struct err *e)
{
    struct record_list answers = {0};
    struct record r;
    char now[20], due[11];
    if (!journal_begin(j, e))
        return false;
    bool ok = journal_list(j, RECORD_DRILL, "part", part, "made_at", &answers, e);
    double days = spaced_next_days(last_interval(&answers, trainee, part), right);
    record_list_release(&answers);
    journal_now(j, now);
    record_init(&r, RECORD_DRILL);
    record_set(&r, "trainee", trainee);
    record_set(&r, "part", part);
    record_set(&r, "was_right", right ? "yes" : "no");
    record_set(&r, "made_at", now);
    record_set_real(&r, "interval_days", days);
    if (spaced_day_after(now, days, due))
        record_set(&r, "due_at", due);
    ok = ok && journal_put(j, &r, e);
    record_release(&r);
    if (ok)
        return journal_commit(j, e);
    journal_rollback(j);
    return false;
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
