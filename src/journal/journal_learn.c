#include "journal/journal_learn.h"

#include <stdio.h>
#include <string.h>
#include "journal/journal_priv.h"
#include "mem.h"
#include "text.h"

#define FAULTS_MOST 16

/* Jobs come as rows (call, movement, history, lesson, fault), all faults of a job together. */
struct teaching {
    struct learn *learn;
    struct lessons *lessons;
    char call[RECORD_ID_LENGTH + 1];
    char *movement, *history, *fault[FAULTS_MOST];
    bool may;
    size_t count;
};

static void end_job(struct teaching *t)
{
    const char *faults[FAULTS_MOST];
    for (size_t i = 0; i < t->count; i++)
        faults[i] = t->fault[i];
    if (t->call[0] && !t->may)
        t->lessons->left_out++;
    else if (t->call[0] &&
             learn_job(t->learn, t->movement ? t->movement : "", t->history, faults, t->count))
        t->lessons->jobs++;
    else if (t->call[0])
        t->lessons->unplaced++;
    for (size_t i = 0; i < t->count; i++)
        mem_free(t->fault[i]);
    mem_free(t->movement);
    mem_free(t->history);
    t->movement = t->history = NULL;
    t->count = 0;
    t->call[0] = '\0';
}

static bool take_finding(void *with, const char *const *v)
{
    struct teaching *t = with;
    if (strcmp(t->call, v[0]) != 0) {
        end_job(t);
        snprintf(t->call, sizeof t->call, "%s", v[0]);
        t->movement = mem_copy_text(v[1]);
        t->history = mem_copy_text(v[2]);
        t->may = !(v[3] && strcmp(v[3], "no") == 0);
    }
    for (size_t i = 0; v[4] && i < t->count; i++)
        if (strcmp(t->fault[i], v[4]) == 0)
            return true; /* the same fault written down twice */
    if (v[4] && t->count < FAULTS_MOST)
        t->fault[t->count++] = mem_copy_text(v[4]);
    return true;
}

bool journal_teach(struct journal *j, struct learn *l, struct lessons *lessons, struct err *e)
{
    struct teaching t = {.learn = l, .lessons = lessons};
    bool ok;
    *lessons = (struct lessons){0};
    learn_clear(l);
    char *setting =
        store_one(&j->store, e, &ok, "SELECT value FROM meta WHERE key = 'learning'", 0);
    lessons->off = setting && strcmp(setting, "off") == 0;
    mem_free(setting);
    if (!ok || lessons->off)
        return ok;
    ok = store_query(&j->store, e, take_finding, &t,
                     "SELECT c.id, k.movement, c.history, c.lesson, f.fault FROM call c "
                     "LEFT JOIN clock k ON k.id = c.clock LEFT JOIN finding f ON f.call = c.id "
                     "WHERE c.state = 'closed' ORDER BY c.closed_at, c.id, f.fault, f.id",
                     0);
    end_job(&t);
    return ok;
}

static bool take_history(void *with, const char *const *v)
{
    struct seen_histories *seen = with;
    seen->at = mem_grow(seen->at, &seen->room, seen->count + 1, sizeof *seen->at);
    seen->at[seen->count++] = (struct seen_history){mem_copy_text(v[0]), mem_copy_text(v[1])};
    return true;
}

bool journal_histories(struct journal *j, struct seen_histories *seen, struct err *e)
{
    return store_query(
        &j->store, e, take_history, seen,
        "SELECT DISTINCT k.movement, c.history FROM call c JOIN clock k ON k.id = c.clock "
        "WHERE c.state = 'closed' AND c.history IS NOT NULL AND k.movement IS NOT NULL "
        "ORDER BY 1, 2",
        0);
}

void seen_histories_release(struct seen_histories *seen)
{
    for (size_t i = 0; i < seen->count; i++) {
        mem_free(seen->at[i].movement);
        mem_free(seen->at[i].history);
    }
    mem_free(seen->at);
    *seen = (struct seen_histories){0};
}

bool journal_learning(struct journal *j, bool on, struct err *e)
{
    return journal_set(j, "learning", on ? "on" : "off", e);
}

/* ---- callers and minutes -------------------------------------------------------------------- */

static bool take_heard(void *with, const char *const *v)
{
    struct heard_counts *counts = with;
    counts->at = mem_grow(counts->at, &counts->room, counts->count + 1, sizeof *counts->at);
    struct heard_count *c = &counts->at[counts->count++];
    *c = (struct heard_count){.what = mem_copy_text(v[0] ? v[0] : "")};
    if (v[1])
        text_int(v[1], &c->trials);
    if (v[2])
        text_int(v[2], &c->wrong);
    return true;
}

bool journal_heard(struct journal *j, struct heard_counts *counts, struct err *e)
{
    return store_query(&j->store, e, take_heard, counts,
                       "SELECT h.what, sum(h.trials), sum(h.wrong) FROM hearing h "
                       "JOIN call c ON c.id = h.call WHERE h.wrong <= h.trials AND "
                       "(c.lesson IS NULL OR c.lesson <> 'no') GROUP BY h.what ORDER BY h.what",
                       0);
}

void heard_counts_release(struct heard_counts *counts)
{
    for (size_t i = 0; i < counts->count; i++)
        mem_free(counts->at[i].what);
    mem_free(counts->at);
    *counts = (struct heard_counts){0};
}

static bool take_work(void *with, const char *const *v)
{
    struct action_times *times = with;
    double minutes;
    if (!v[0] || !v[1] || !text_real(v[1], &minutes))
        return true;
    struct action_time *last = times->count ? &times->at[times->count - 1] : NULL;
    if (!last || strcmp(last->action, v[0]) != 0) {
        times->at = mem_grow(times->at, &times->room, times->count + 1, sizeof *times->at);
        last = &times->at[times->count++];
        *last = (struct action_time){.action = mem_copy_text(v[0])};
    }
    running_add(&last->minutes, minutes);
    return true;
}

bool journal_action_times(struct journal *j, struct action_times *times, struct err *e)
{
    return store_query(&j->store, e, take_work, times,
                       "SELECT w.action, w.minutes FROM work w JOIN call c ON c.id = w.call "
                       "WHERE c.lesson IS NULL OR c.lesson <> 'no' ORDER BY w.action, w.id",
                       0);
}

void action_times_release(struct action_times *times)
{
    for (size_t i = 0; i < times->count; i++)
        mem_free(times->at[i].action);
    mem_free(times->at);
    *times = (struct action_times){0};
}
