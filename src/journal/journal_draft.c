/* journal_draft.c - the call in hand, saved at each keystroke. */
#include "journal/journal.h"

#include <inttypes.h>
#include <stdio.h>
#include <string.h>
#include "journal/journal_priv.h"
#include "mem.h"
#include "text.h"

#define PRESS_EVERY_MS 1000

/* A keystroke is pressed onto the disk if the last one that was is a second old, or the clock was
 * put back. */
static bool choose_pace(struct journal *j, struct err *e)
{
    int64_t now_ms = journal_now_ms(j), since_ms = now_ms - j->pressed_ms;
    bool press = since_ms < 0 || since_ms >= PRESS_EVERY_MS;
    if (press)
        j->pressed_ms = now_ms;
    return journal_hurry(j, !press, e);
}

static bool body_ok(const char *slot, const char *body, struct err *e)
{
    size_t bad, length = strlen(body);
    if (!text_is_utf8(body, length, &bad)) {
        err_add(e, "The call in hand (%s) is no UTF-8 text at byte %zu, expected UTF-8.", slot,
                bad);
        return false;
    }
    if (length > RECORD_TEXT_MOST) {
        err_add(e, "The call in hand (%s) has %zu bytes, expected at most %d.", slot, length,
                RECORD_TEXT_MOST);
        return false;
    }
    return true;
}

bool journal_draft_save(struct journal *j, const char *slot, const char *body, struct err *e)
{
    char now[24];
    if (!body_ok(slot, body, e) || !journal_writable(j, e))
        return false;
    if (j->depth == 0 && !choose_pace(j, e))
        return false;
    snprintf(now, sizeof now, "%" PRId64, journal_now_ms(j));
    return store_run(&j->store, e,
                     "INSERT INTO draft (slot, body, saved_ms) VALUES ($1, $2, $3) "
                     "ON CONFLICT (slot) DO UPDATE SET body = excluded.body, "
                     "saved_ms = excluded.saved_ms",
                     3, slot, body, now);
}

char *journal_draft_load(struct journal *j, const char *slot, bool *ok, struct err *e)
{
    bool read;
    char *body = store_one(&j->store, e, &read, "SELECT body FROM draft WHERE slot = $1", 1, slot);
    if (ok)
        *ok = read;
    return body;
}

bool journal_draft_drop(struct journal *j, const char *slot, struct err *e)
{
    return journal_writable(j, e) &&
           store_run(&j->store, e, "DELETE FROM draft WHERE slot = $1", 1, slot);
}

struct draft_walk {
    draft_seen *each;
    void *with;
};

static bool give_draft(void *with, const char *const *values)
{
    struct draft_walk *walk = with;
    long saved_ms = 0;
    text_int(values[2], &saved_ms);
    walk->each(walk->with, values[0], values[1], saved_ms);
    return true;
}

bool journal_drafts(struct journal *j, draft_seen *each, void *with, struct err *e)
{
    struct draft_walk walk = {each, with};
    return store_query(&j->store, e, give_draft, &walk,
                       "SELECT slot, body, saved_ms FROM draft ORDER BY saved_ms DESC, slot", 0);
}
