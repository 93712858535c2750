#include "journal/journal_merge.h"

#include <string.h>
#include "journal/journal_priv.h"

struct merge {
    struct journal *into;
    struct merge_result *result;
    struct err *e;
    bool ok;
    char last[RECORD_ID_LENGTH + 1];
};

static void take_edit(void *with, const struct edit *edit)
{
    struct merge *m = with;
    bool fresh = false;
    if (!m->ok)
        return;
    m->ok = journal_take_edit(m->into, edit, &fresh, m->e);
    m->result->edits += fresh;
    if (fresh && strcmp(m->last, edit->record) != 0) {
        m->result->records++;
        memcpy(m->last, edit->record, sizeof m->last);
    }
}

static void take_erased(void *with, enum record_kind kind, const char *id, int64_t stamp_ms)
{
    struct merge *m = with;
    bool fresh = false;
    if (!m->ok)
        return;
    m->ok = journal_take_erased(m->into, kind, id, stamp_ms, &fresh, m->e);
    m->result->erased += fresh;
}

static bool merge_inside(struct merge *m, struct journal *from)
{
    size_t dropped = 0;
    bool ok = journal_each_erased(from, take_erased, m, m->e) && m->ok &&
              journal_history(from, NULL, take_edit, m, m->e) && m->ok &&
              journal_settle(m->into, &dropped, m->e);
    m->result->erased += dropped;
    return ok;
}

bool journal_merge(struct journal *into, struct journal *from, struct merge_result *result,
                   struct err *e)
{
    struct merge m = {into, result, e, true, ""};
    *result = (struct merge_result){0};
    if (!journal_read_begin(from, e))
        return false;
    bool ok = journal_begin(into, e);
    if (ok && merge_inside(&m, from))
        ok = journal_commit(into, e);
    else if (ok) {
        journal_rollback(into);
        ok = false;
    }
    journal_read_end(from);
    if (!ok)
        *result = (struct merge_result){0};
    return ok && (result->erased == 0 || journal_scrub(into, NULL, e));
}
