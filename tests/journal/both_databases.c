#include "suite.h"
#include "both_databases.h"

#include <stdio.h>

#include "journal_fixture.h"
#include "mem.h"

struct pg_server server;
bool on_postgres;

int places_make(void **state)
{
    struct places *p = mem_alloc(sizeof *p);
    fixture_now_ms = NINE_O_CLOCK;
    p->folder = fixture_folder();
    if (on_postgres) {
        pg_server_do(&server, "office", "DROP SCHEMA IF EXISTS letoff CASCADE");
        pg_server_do(&server, "van", "DROP SCHEMA IF EXISTS letoff CASCADE");
        pg_server_url(&server, "office", false, p->office, sizeof p->office);
        pg_server_url(&server, "van", true, p->van, sizeof p->van);
    } else {
        snprintf(p->office, sizeof p->office, "%s/office.db", p->folder);
        snprintf(p->van, sizeof p->van, "%s/van.db", p->folder);
    }
    *state = p;
    return 0;
}

int places_remove(void **state)
{
    struct places *p = *state;
    fixture_remove(p->folder);
    mem_free(p);
    return 0;
}

int both_run(const struct CMUnitTest *tests, size_t count)
{
    int failed = _cmocka_run_group_tests("SQLite", tests, count, NULL, NULL);
    if (!pg_server_start(&server)) {
        printf("The PostgreSQL half is left out: %s\n", server.why);
        return failed;
    }
    on_postgres = true;
    pg_server_do(&server, "postgres", "CREATE DATABASE office");
    pg_server_do(&server, "postgres", "CREATE DATABASE van");
    return failed + _cmocka_run_group_tests("PostgreSQL", tests, count, NULL, NULL);
}

void both_end(void)
{
    pg_server_stop(&server);
}
