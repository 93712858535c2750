/* pg_server.h - a PostgreSQL server of the test's own, in a temporary folder.
 *
 * It runs as the user postgres (or nobody) when the test runs as root, since the server refuses
 * root; it listens on a socket in its folder and on 127.0.0.1 with a password drawn for this
 * run; it dies with the test. */
#ifndef LETOFF_PG_SERVER_H
#define LETOFF_PG_SERVER_H

#include <stdbool.h>
#include <stddef.h>
#include <sys/types.h>

struct pg_server {
    pid_t pid;
    int port;
    char folder[64];
    char password[33];
    char why[256]; /* when it did not start: one sentence */
};

/* False with `why` filled if the server's programs are missing or it does not come up. */
bool pg_server_start(struct pg_server *s);
void pg_server_stop(struct pg_server *s);
/* The journal URL of a database, through the socket or over the loopback. */
void pg_server_url(const struct pg_server *s, const char *database, bool loopback, char *out,
                   size_t room);
/* One statement in a database; fails the run with the server's words. */
void pg_server_do(const struct pg_server *s, const char *database, const char *sql);

#endif
