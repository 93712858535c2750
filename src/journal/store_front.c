/* store_front.c - which database a place names; the annex with the server's is loaded when one does. */
#include "journal/journal_store.h"

#include <string.h>
#include "annex.h"

static struct annex server = {"postgres"};

bool store_open(struct store *s, const char *where, const struct store_options *o, struct err *e)
{
    bool postgres =
        strncmp(where, "postgresql://", 13) == 0 || strncmp(where, "postgres://", 11) == 0;
    memset(s, 0, sizeof *s);
    s->back = postgres ? annex_open(&server, e) : &store_sqlite;
    if (s->back && s->back->open(s, where, o, e))
        return true;
    store_close(s);
    return false;
}
