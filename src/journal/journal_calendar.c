#include "journal/journal_calendar.h"

#include <stdio.h>
#include <string.h>
#include <time.h>
#include "mem.h"

#define LINE_BYTES 75
#define VISIT_MIN  60 /* length of a visit nobody planned the length of */

static bool continues(char c)
{
    return ((unsigned char)c & 0xC0) == 0x80;
}

void calendar_line(struct text *out, const char *line)
{
    size_t room = LINE_BYTES;
    while (strlen(line) > room) {
        size_t cut = room;
        while (cut > 1 && continues(line[cut]))
            cut--;
        text_add_bytes(out, line, cut);
        text_add(out, "\r\n ");
        line += cut;
        room = LINE_BYTES - 1; /* the blank counts */
    }
    text_add(out, line);
    text_add(out, "\r\n");
}

void calendar_escape(struct text *out, const char *value)
{
    for (const char *c = value; *c; c++) {
        if (*c == '\r')
            continue;
        if (*c == '\n')
            text_add(out, "\\n");
        else {
            if (strchr("\\;,", *c))
                text_add(out, "\\");
            text_add_bytes(out, c, 1);
        }
    }
}

static void add_property(struct text *out, const char *name, const char *value)
{
    struct text line = {0};
    text_addf(&line, "%s:", name);
    calendar_escape(&line, value);
    calendar_line(out, text_cstr(&line));
    text_release(&line);
}

/* "2026-11-25T09:00" to "20261125T090000"; a bare day gives false. */
static bool stamp_of(const char *time, char out[24])
{
    if (strlen(time) < 16)
        return false;
    snprintf(out, 24, "%.4s%.2s%.2sT%.2s%.2s%.2s", time, time + 5, time + 8, time + 11, time + 14,
             time[16] ? time + 17 : "00");
    return true;
}

static void add_times(struct text *out, const struct record *visit)
{
    const char *planned = record_text(visit, "planned_at");
    char stamp[24], line[64];
    if (!stamp_of(planned, stamp)) {
        snprintf(line, sizeof line, "DTSTART;VALUE=DATE:%.4s%.2s%.2s", planned, planned + 5,
                 planned + 8);
        calendar_line(out, line);
        return;
    }
    snprintf(line, sizeof line, "DTSTART:%s", stamp);
    calendar_line(out, line);
    snprintf(line, sizeof line, "DURATION:PT%dM", (int)record_real(visit, "minutes", VISIT_MIN));
    calendar_line(out, line);
}

static void add_stamp(struct text *out, const char *name, int64_t ms)
{
    time_t seconds = (time_t)(ms / 1000);
    struct tm utc = {0};
    char stamp[32] = "19700101T000000Z", line[64];
    if (gmtime_r(&seconds, &utc))
        strftime(stamp, sizeof stamp, "%Y%m%dT%H%M%SZ", &utc);
    snprintf(line, sizeof line, "%s:%s", name, stamp);
    calendar_line(out, line);
}

/* What a record of another kind says in one field; "" if there is none. */
static void look_up(struct journal *j, enum record_kind kind, const char *id, const char *field,
                    struct text *out)
{
    struct record r;
    if (id[0] && journal_get(j, kind, id, &r, NULL)) {
        text_add(out, record_text(&r, field));
        record_release(&r);
    }
}

static void add_event(struct journal *j, const struct record *visit, struct text *out)
{
    struct text summary = {0}, about = {0};
    struct record call;
    if (journal_get(j, RECORD_CALL, record_text(visit, "call"), &call, NULL)) {
        look_up(j, RECORD_CUSTOMER, record_text(&call, "customer"), "label", &summary);
        text_add(&summary, summary.length ? ": " : "");
        look_up(j, RECORD_CLOCK, record_text(&call, "clock"), "movement", &summary);
        record_release(&call);
    }
    if (summary.length == 0)
        text_add(&summary, "Visit");
    text_addf(&about, "Kit:\n%s\n%s", record_text(visit, "kit"), record_text(visit, "note"));
    calendar_line(out, "BEGIN:VEVENT");
    struct text uid = {0};
    text_addf(&uid, "%s@letoff", visit->id);
    add_property(out, "UID", text_cstr(&uid));
    text_release(&uid);
    add_stamp(out, "DTSTAMP", visit->updated_ms);
    add_times(out, visit);
    add_property(out, "SUMMARY", text_cstr(&summary));
    add_property(out, "DESCRIPTION", text_cstr(&about));
    if (record_get(visit, "van"))
        add_property(out, "RESOURCES", record_text(visit, "van"));
    calendar_line(out, "END:VEVENT");
    text_release(&summary);
    text_release(&about);
}

bool journal_calendar(struct journal *j, const char *from, struct text *out, size_t *visits,
                      struct err *e)
{
    struct record_list list = {0};
    size_t count = 0;
    if (!journal_list(j, RECORD_VISIT, NULL, NULL, "planned_at", &list, e))
        return false;
    calendar_line(out, "BEGIN:VCALENDAR");
    calendar_line(out, "VERSION:2.0");
    calendar_line(out, "PRODID:-//letoff//journal//EN");
    for (size_t i = 0; i < list.count; i++) {
        const struct record *visit = &list.at[i];
        bool done = strcmp(record_text(visit, "done"), "yes") == 0;
        if (done || (from && strncmp(record_text(visit, "planned_at"), from, 10) < 0))
            continue;
        add_event(j, visit, out);
        count++;
    }
    calendar_line(out, "END:VCALENDAR");
    record_list_release(&list);
    if (visits)
        *visits = count;
    return true;
}
