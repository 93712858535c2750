#include "command/habits.h"

#include <math.h>
#include <string.h>

/* The rate a kind of statement moves; NULL for a kind that moves none. */
static double *rate_of(struct ear_model *ear, const char *what)
{
    const struct { const char *what; double *rate; } rows[] = {
        {"silence", &ear->asleep},
        {"words", &ear->word_false},
        {"noticing", &ear->unnoticed},
        {"tune", &ear->tune_missed},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++)
        if (strcmp(rows[i].what, what) == 0)
            return rows[i].rate;
    return NULL;
}

void habits_init(struct habits *h)
{
    memset(h, 0, sizeof *h);
    h->ear = ear_usual;
}

void habits_release(struct habits *h)
{
    action_times_release(&h->times);
    memset(h, 0, sizeof *h);
}

/* A shipped rate after these statements. */
static double learned(double shipped, long trials, long wrong)
{
    struct error_rate r = error_rate_of(shipped, HABITS_TRIALS);
    error_rate_learn(&r, trials, wrong);
    return fmin(error_rate_mean(&r), fmax(shipped, HABITS_RATE_MOST));
}

static void hear_counts(struct ear_model *ear, long trials, long wrong)
{
    double shipped = ear_usual.miscount + HABITS_BLOWS * ear_usual.miscount_each;
    double factor = learned(shipped, trials, wrong) / shipped;
    double most = HABITS_RATE_MOST / (ear_usual.miscount + 12 * ear_usual.miscount_each);
    factor = fmin(factor, most);
    ear->miscount = ear_usual.miscount * factor;
    ear->miscount_each = ear_usual.miscount_each * factor;
}

void habits_hear(struct habits *h, const char *what, long trials, long wrong)
{
    struct ear_model shipped = ear_usual;
    double *rate = rate_of(&h->ear, what);
    if (trials <= 0 || wrong < 0 || wrong > trials)
        return;
    if (rate)
        *rate = learned(*rate_of(&shipped, what), trials, wrong);
    else if (strcmp(what, "count") == 0)
        hear_counts(&h->ear, trials, wrong);
    else
        return;
    h->ear_learned = true;
}

bool habits_read(struct habits *h, const char *where, struct err *e)
{
    struct journal_options reader = {.read_only = true};
    struct journal *j = journal_open(where, &reader, e);
    struct heard_counts heard = {0};
    struct action_times times = {0};
    bool ok = j && journal_heard(j, &heard, e) && journal_action_times(j, &times, e);
    if (ok) {
        action_times_release(&h->times);
        h->times = times;
        for (size_t i = 0; i < heard.count; i++)
            habits_hear(h, heard.at[i].what, heard.at[i].trials, heard.at[i].wrong);
    } else {
        action_times_release(&times);
    }
    heard_counts_release(&heard);
    journal_close(j);
    return ok;
}

double habits_minutes(void *with, const char *cure, double shipped)
{
    const struct habits *h = with;
    for (size_t i = 0; i < h->times.count; i++)
        if (strcmp(h->times.at[i].action, cure) == 0) {
            struct minutes m = minutes_of(shipped, HABITS_SPREAD * shipped, HABITS_JOBS);
            return fmax(0, minutes_learned(m, &h->times.at[i].minutes).mean);
        }
    return shipped;
}

void habits_teach(struct habits *h, struct belief_options *o)
{
    if (h->ear_learned)
        o->ear = &h->ear;
    if (h->times.count > 0) {
        o->minutes = habits_minutes;
        o->minutes_with = h;
    }
}
