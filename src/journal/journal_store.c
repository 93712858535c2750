#include "journal/journal_store.h"

#include <assert.h>
#include <stdarg.h>
#include <string.h>
#include "mem.h"

#define PARAMS_MOST 24

void store_close(struct store *s)
{
    if (s->back)
        s->back->close(s);
    mem_free(s->name);
    memset(s, 0, sizeof *s);
}

static void collect(const char **params, size_t count, va_list more)
{
    assert(count <= PARAMS_MOST);
    for (size_t i = 0; i < count; i++)
        params[i] = va_arg(more, const char *);
}

bool store_run(struct store *s, struct err *e, const char *sql, size_t count, ...)
{
    const char *params[PARAMS_MOST];
    va_list more;
    va_start(more, count);
    collect(params, count, more);
    va_end(more);
    return s->back->run(s, sql, count, params, NULL, NULL, e);
}

bool store_query(struct store *s, struct err *e, store_row *each, void *with, const char *sql,
                 size_t count, ...)
{
    const char *params[PARAMS_MOST];
    va_list more;
    va_start(more, count);
    collect(params, count, more);
    va_end(more);
    return s->back->run(s, sql, count, params, each, with, e);
}

static bool keep_first(void *with, const char *const *values)
{
    char **first = with;
    *first = mem_copy_text(values[0]);
    return false;
}

char *store_one(struct store *s, struct err *e, bool *ok, const char *sql, size_t count, ...)
{
    const char *params[PARAMS_MOST];
    char *first = NULL;
    va_list more;
    va_start(more, count);
    collect(params, count, more);
    va_end(more);
    *ok = s->back->run(s, sql, count, params, keep_first, &first, e);
    return first;
}

bool store_begin(struct store *s, enum store_begin how, struct err *e)
{
    return s->back->begin(s, how, e);
}

bool store_commit(struct store *s, struct err *e)
{
    if (s->back->run(s, "COMMIT", 0, NULL, NULL, NULL, e))
        return true;
    store_rollback(s);
    return false;
}

void store_rollback(struct store *s)
{
    struct err dropped = {0};
    s->back->run(s, "ROLLBACK", 0, NULL, NULL, NULL, &dropped);
    err_release(&dropped);
}
