/* both_databases.h - runs a table of tests once on SQLite files and once on a PostgreSQL server of
 * its own; each test gets two empty places for journals, an office and a van. */
#ifndef LETOFF_BOTH_DATABASES_H
#define LETOFF_BOTH_DATABASES_H

#include "pg_server.h"

struct places {
    char *folder; /* for files */
    char office[256], van[256];
};

extern struct pg_server server; /* databases: postgres, office, van */
extern bool on_postgres;

int places_make(void **state);
int places_remove(void **state);
#define ON_PLACES(test) cmocka_unit_test_setup_teardown(test, places_make, places_remove)

/* Number of failed tests.  Without a server the second half is left out and a sentence says why;
 * afterwards on_postgres tells. */
int both_run(const struct CMUnitTest *tests, size_t count);
void both_end(void); /* stops the server */

#endif
