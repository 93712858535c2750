#include "journal/stats.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "mem.h"
#include "text.h"

/* All that is needed, each list sorted by the call it belongs to. */
struct material {
    struct record_list calls, findings, beliefs, advice;
};

/* ---- small helps ----------------------------------------------------------------------------- */

static bool is(const struct record *r, const char *field, const char *value)
{
    return strcmp(record_text(r, field), value) == 0;
}

/* Month 0..11 in which the job was closed; -1 if it was not, or in another year. */
static int month_of(const struct record *call, int year)
{
    int y, m;
    if (sscanf(record_text(call, "closed_at"), "%4d-%2d", &y, &m) != 2 || m < 1 || m > 12)
        return -1;
    return year == 0 || y == year ? m - 1 : -1;
}

static int by_call(const void *a, const void *b)
{
    const struct record *x = a, *y = b;
    int order = strcmp(record_text(x, "call"), record_text(y, "call"));
    return order ? order : strcmp(x->id, y->id);
}

/* Records of a call in a list sorted by call. */
static const struct record *of_call(const struct record_list *list, const char *call, size_t *count)
{
    size_t low = 0, high = list->count;
    while (low < high) {
        size_t middle = (low + high) / 2;
        if (strcmp(record_text(&list->at[middle], "call"), call) < 0)
            low = middle + 1;
        else
            high = middle;
    }
    for (*count = 0; low + *count < list->count; ++*count)
        if (!is(&list->at[low + *count], "call", call))
            break;
    return list->count ? list->at + low : NULL;
}

static bool was_found(const struct record *findings, size_t count, const char *fault)
{
    for (size_t i = 0; i < count; i++)
        if (is(&findings[i], "fault", fault))
            return true;
    return false;
}

/* ---- parts ----------------------------------------------------------------------------------- */

static struct part_year *part_row(struct stats *s, const char *part)
{
    for (size_t i = 0; i < s->parts; i++)
        if (strcmp(s->part[i].part, part) == 0)
            return &s->part[i];
    s->part = mem_grow(s->part, &s->part_room, s->parts + 1, sizeof *s->part);
    s->part[s->parts] = (struct part_year){.part = mem_copy_text(part)};
    return &s->part[s->parts++];
}

static void count_parts(struct stats *s, const struct record *findings, size_t count, int month)
{
    for (size_t i = 0; i < count; i++) {
        struct part_year *row = part_row(s, record_text(&findings[i], "part"));
        row->month[month]++;
        row->all++;
    }
}

/* ---- promises -------------------------------------------------------------------------------- */

static const char *last_belief_time(const struct record *beliefs, size_t count)
{
    const char *last = "";
    for (size_t i = 0; i < count; i++)
        if (strcmp(record_text(&beliefs[i], "made_at"), last) > 0)
            last = record_text(&beliefs[i], "made_at");
    return last;
}

static void judge(struct stats *s, const struct record *beliefs, size_t count,
                  const struct record *findings, size_t found_count)
{
    const char *last = last_belief_time(beliefs, count);
    double best = -1;
    bool best_found = false;
    for (size_t i = 0; i < count; i++) {
        if (!is(&beliefs[i], "made_at", last))
            continue;
        double p = record_real(&beliefs[i], "p", 0);
        bool found = was_found(findings, found_count, record_text(&beliefs[i], "fault"));
        struct promise_bin *bin = &s->bin[p >= 1 ? STATS_BINS - 1 : (int)(p * STATS_BINS)];
        bin->said += p;
        bin->held += found;
        bin->count++;
        s->brier += (p - found) * (p - found);
        if (p > best) {
            best = p;
            best_found = found;
        }
    }
    s->judged++;
    s->right += best_found;
}

/* ---- minutes --------------------------------------------------------------------------------- */

static bool is_trip(const struct record *call)
{
    return is(call, "outcome", "visit") || is(call, "outcome", "bench");
}

static void count_minutes(struct stats *s, const struct record *call, int month)
{
    double minutes = record_real(call, "minutes", -1);
    s->month[month].jobs++;
    s->month[month].by_phone += is(call, "outcome", "phone");
    if (minutes < 0)
        return;
    s->month[month].minutes += minutes;
    if (is_trip(call)) {
        s->trip_min += minutes;
        s->trips++;
    }
}

/* After the mean of the trips is known. */
static void count_savings(struct stats *s, const struct material *m)
{
    if (s->trips)
        s->trip_min /= s->trips;
    for (size_t i = 0; i < m->calls.count && s->trips >= STATS_TRIPS_LEAST; i++) {
        const struct record *call = &m->calls.at[i];
        int month = month_of(call, s->year);
        if (month < 0 || !is(call, "state", "closed") || !is(call, "outcome", "phone"))
            continue;
        double saved = s->trip_min - record_real(call, "minutes", 0);
        s->month[month].saved += saved;
        s->minutes_saved += saved;
    }
}

static struct advice_fate *advice_row(struct stats *s, const char *action)
{
    for (size_t i = 0; i < s->advices; i++)
        if (strcmp(s->advice[i].action, action) == 0)
            return &s->advice[i];
    s->advice = mem_grow(s->advice, &s->advice_room, s->advices + 1, sizeof *s->advice);
    s->advice[s->advices] = (struct advice_fate){.action = mem_copy_text(action)};
    return &s->advice[s->advices++];
}

static void count_advice(struct stats *s, const struct record *advice, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        const struct record *a = &advice[i];
        struct advice_fate *row =
            advice_row(s, record_text(a, record_get(a, "action") ? "action" : "text"));
        double promised = record_real(a, "saves_min", 0);
        row->given++;
        row->followed += is(a, "followed", "yes");
        row->helped += is(a, "helped", "yes");
        row->promised_min += promised;
        s->promised_min += promised;
    }
}

/* ---- all of it ------------------------------------------------------------------------------- */

static void count_call(struct stats *s, const struct material *m, const struct record *call)
{
    size_t findings, beliefs, advice;
    bool closed = is(call, "state", "closed");
    int month = closed ? month_of(call, s->year) : -1;
    if (s->year && closed && month < 0)
        return; /* another year's */
    const struct record *found = of_call(&m->findings, call->id, &findings);
    const struct record *believed = of_call(&m->beliefs, call->id, &beliefs);
    const struct record *advised = of_call(&m->advice, call->id, &advice);
    s->calls++;
    s->open += !closed;
    s->closed += closed;
    count_advice(s, advised, advice);
    if (closed && month >= 0) {
        count_parts(s, found, findings, month);
        count_minutes(s, call, month);
    }
    if (closed && findings && beliefs)
        judge(s, believed, beliefs, found, findings);
}

static int by_frequency(const void *a, const void *b)
{
    const struct part_year *x = a, *y = b;
    if (x->all != y->all)
        return x->all < y->all ? 1 : -1;
    return strcmp(x->part, y->part);
}

static int by_given(const void *a, const void *b)
{
    const struct advice_fate *x = a, *y = b;
    if (x->given != y->given)
        return x->given < y->given ? 1 : -1;
    return strcmp(x->action, y->action);
}

static void finish(struct stats *s)
{
    for (size_t b = 0; b < STATS_BINS; b++)
        if (s->bin[b].count) {
            s->bin[b].said /= s->bin[b].count;
            s->bin[b].held /= s->bin[b].count;
        }
    if (s->judged)
        s->brier /= s->judged;
    if (s->parts)
        qsort(s->part, s->parts, sizeof *s->part, by_frequency);
    if (s->advices)
        qsort(s->advice, s->advices, sizeof *s->advice, by_given);
}

static void sort_by_call(struct record_list *list)
{
    if (list->count)
        qsort(list->at, list->count, sizeof *list->at, by_call);
}

static bool gather(struct journal *j, struct material *m, struct err *e)
{
    if (!journal_read_begin(j, e))
        return false;
    bool ok = journal_list(j, RECORD_CALL, NULL, NULL, NULL, &m->calls, e) &&
              journal_list(j, RECORD_FINDING, NULL, NULL, NULL, &m->findings, e) &&
              journal_list(j, RECORD_BELIEF, NULL, NULL, NULL, &m->beliefs, e) &&
              journal_list(j, RECORD_ADVICE, NULL, NULL, NULL, &m->advice, e);
    journal_read_end(j);
    sort_by_call(&m->findings);
    sort_by_call(&m->beliefs);
    sort_by_call(&m->advice);
    return ok;
}

bool stats_read(struct journal *j, int year, struct stats *s, struct err *e)
{
    struct material m = {0};
    memset(s, 0, sizeof *s);
    s->year = year;
    bool ok = gather(j, &m, e);
    for (size_t i = 0; ok && i < m.calls.count; i++)
        count_call(s, &m, &m.calls.at[i]);
    if (ok)
        count_savings(s, &m);
    finish(s);
    record_list_release(&m.calls);
    record_list_release(&m.findings);
    record_list_release(&m.beliefs);
    record_list_release(&m.advice);
    return ok;
}

void stats_release(struct stats *s)
{
    for (size_t i = 0; i < s->parts; i++)
        mem_free(s->part[i].part);
    for (size_t i = 0; i < s->advices; i++)
        mem_free(s->advice[i].action);
    mem_free(s->part);
    mem_free(s->advice);
    memset(s, 0, sizeof *s);
}
