#include "suite.h"
#include "journal_fixture.h"

#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "journal/journal_export.h"
#include "mem.h"
#include "text.h"

int64_t fixture_now_ms = NINE_O_CLOCK;

static int64_t standing_clock(void *with)
{
    (void)with;
    return fixture_now_ms;
}

char *fixture_folder(void)
{
    char name[] = "/tmp/letoff-journal-XXXXXX";
    assert_non_null(mkdtemp(name));
    return mem_copy_text(name);
}

void fixture_remove(char *folder)
{
    char command[128];
    snprintf(command, sizeof command, "rm -rf %s", folder);
    assert_int_equal(system(command), 0);
    mem_free(folder);
}

char *fixture_path(const char *folder, const char *name)
{
    struct text path = {0};
    text_addf(&path, "%s/%s", folder, name);
    return path.at;
}

struct journal *fixture_open(const char *where)
{
    struct journal_options o = {.now_ms = standing_clock};
    struct err e = {0};
    struct journal *j = journal_open(where, &o, &e);
    fixture_no_sentence(&e);
    assert_non_null(j);
    return j;
}

static void put(struct journal *j, struct record *r, char id[33])
{
    struct err e = {0};
    bool ok = journal_put(j, r, &e);
    fixture_no_sentence(&e);
    assert_true(ok);
    if (id)
        memcpy(id, r->id, 33);
    record_release(r);
}

void fixture_customer(struct journal *j, const char *label, char id[33])
{
    struct record r;
    record_init(&r, RECORD_CUSTOMER);
    record_set(&r, "label", label);
    put(j, &r, id);
}

void fixture_clock(struct journal *j, const char *customer, const char *movement, char id[33])
{
    struct record r;
    record_init(&r, RECORD_CLOCK);
    record_set(&r, "customer", customer);
    record_set(&r, "movement", movement);
    put(j, &r, id);
}

void fixture_call(struct journal *j, const char *customer, const char *clock, const char *story,
                  char id[33])
{
    struct record r;
    record_init(&r, RECORD_CALL);
    record_set(&r, "customer", customer);
    record_set(&r, "clock", clock);
    record_set(&r, "taken_at", "2026-11-06T09:00");
    record_set(&r, "state", "open");
    record_set(&r, "story", story);
    put(j, &r, id);
}

void fixture_finding(struct journal *j, const char *call, const char *fault, const char *part)
{
    struct record r;
    record_init(&r, RECORD_FINDING);
    record_set(&r, "call", call);
    record_set(&r, "fault", fault);
    record_set(&r, "part", part);
    put(j, &r, NULL);
}

void fixture_edit(struct journal *j, enum record_kind kind, const char *id, const char *field,
                  const char *value)
{
    struct record r;
    record_init(&r, kind);
    memcpy(r.id, id, sizeof r.id);
    record_set(&r, field, value);
    put(j, &r, NULL);
}

char *fixture_value(struct journal *j, enum record_kind kind, const char *id, const char *field)
{
    struct record r;
    struct err e = {0};
    bool ok = journal_get(j, kind, id, &r, &e);
    fixture_no_sentence(&e);
    assert_true(ok);
    char *value = mem_copy_text(record_text(&r, field));
    record_release(&r);
    return value;
}

size_t fixture_count(struct journal *j, enum record_kind kind)
{
    struct err e = {0};
    size_t count = 0;
    assert_true(journal_count(j, kind, &count, &e));
    fixture_no_sentence(&e);
    return count;
}

char *fixture_dump(struct journal *j)
{
    struct text out = {0};
    struct err e = {0};
    assert_true(journal_export_jsonl(j, &out, &e));
    fixture_no_sentence(&e);
    return out.at;
}

void fixture_no_sentence(struct err *e)
{
    if (e->count) {
        err_print(e, stderr);
        fail_msg("%zu sentences, expected none", e->count);
    }
}

void fixture_one_sentence(struct err *e, const char *part)
{
    if (e->count != 1 || !strstr(e->line[0], part)) {
        err_print(e, stderr);
        fail_msg("%zu sentences, expected one with \"%s\"", e->count, part);
    }
    char last = e->line[0][strlen(e->line[0]) - 1];
    assert_true(last == '.' || last == '?');
    err_release(e);
}
