#include "suite.h"
#include "pg_server.h"

#include <arpa/inet.h>
#include <errno.h>
#include <fcntl.h>
#include <glob.h>
#include <libpq-fe.h>
#include <netinet/in.h>
#include <pwd.h>
#include <signal.h>
#include <stdio.h>
#include <string.h>
#include <sys/prctl.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#include "journal/journal_record.h"

/* The newest server installed, or PATH's. */
static bool find_program(const char *name, char *out, size_t room)
{
    char pattern[96];
    glob_t found;
    snprintf(pattern, sizeof pattern, "/usr/lib/postgresql/*/bin/%s", name);
    bool ok = glob(pattern, 0, NULL, &found) == 0;
    if (ok)
        snprintf(out, room, "%s", found.gl_pathv[found.gl_pathc - 1]);
    globfree(&found);
    return ok;
}

static const struct passwd *other_user(void)
{
    if (getuid() != 0)
        return NULL;
    const struct passwd *user = getpwnam("postgres");
    return user ? user : getpwnam("nobody");
}

static void become(const struct passwd *user)
{
    if (user && (setgid(user->pw_gid) != 0 || setuid(user->pw_uid) != 0))
        _exit(126);
}

/* Start a program as that user, its words into `log`. */
static pid_t start(const struct passwd *user, const char *log, char *const argv[])
{
    pid_t parent = getpid(), pid = fork();
    if (pid != 0)
        return pid;
    become(user);
    prctl(PR_SET_PDEATHSIG, SIGQUIT);
    if (getppid() != parent)
        _exit(125);
    int out = open(log, O_WRONLY | O_CREAT | O_APPEND, 0600);
    dup2(out, STDOUT_FILENO);
    dup2(out, STDERR_FILENO);
    if (chdir("/") != 0)
        _exit(124);
    execv(argv[0], argv);
    _exit(127);
}

static int free_port(void)
{
    struct sockaddr_in at = {.sin_family = AF_INET};
    socklen_t length = sizeof at;
    int fd = socket(AF_INET, SOCK_STREAM, 0);
    at.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    bool ok = fd >= 0 && bind(fd, (struct sockaddr *)&at, sizeof at) == 0 &&
              getsockname(fd, (struct sockaddr *)&at, &length) == 0;
    close(fd);
    return ok ? ntohs(at.sin_port) : 0;
}

static bool write_password(const struct pg_server *s, const struct passwd *user, const char *path)
{
    FILE *f = fopen(path, "w");
    if (!f)
        return false;
    fprintf(f, "%s\n", s->password);
    fclose(f);
    return !user || chown(path, user->pw_uid, user->pw_gid) == 0;
}

static bool make_cluster(struct pg_server *s, const struct passwd *user)
{
    char program[128], data[96], log[96], secret[96], secret_option[128];
    int status;
    if (!find_program("initdb", program, sizeof program)) {
        snprintf(s->why, sizeof s->why,
                 "PostgreSQL's server is not installed (package postgresql); "
                 "tests/run.sh installs it.");
        return false;
    }
    snprintf(data, sizeof data, "%s/data", s->folder);
    snprintf(log, sizeof log, "%s/log", s->folder);
    snprintf(secret, sizeof secret, "%s/secret", s->folder);
    snprintf(secret_option, sizeof secret_option, "--pwfile=%s", secret);
    if (!write_password(s, user, secret))
        return false;
    char *argv[] = {program,
                    "-D",
                    data,
                    "-U",
                    "keeper",
                    "--no-sync",
                    "-E",
                    "UTF8",
                    "--locale=C",
                    "--auth-local=trust",
                    "--auth-host=scram-sha-256",
                    secret_option,
                    NULL};
    pid_t pid = start(user, log, argv);
    if (waitpid(pid, &status, 0) != pid || status != 0) {
        snprintf(s->why, sizeof s->why, "initdb failed, see %s.", log);
        return false;
    }
    return true;
}

static bool comes_up(struct pg_server *s)
{
    char url[256];
    const struct timespec pause = {0, 20000000};
    pg_server_url(s, "postgres", false, url, sizeof url);
    for (int tries = 0; tries < 500; tries++) {
        PGPing answer = PQping(url);
        if (answer == PQPING_OK)
            return true;
        if (waitpid(s->pid, NULL, WNOHANG) == s->pid) {
            s->pid = 0;
            break;
        }
        nanosleep(&pause, NULL);
    }
    snprintf(s->why, sizeof s->why, "The server did not come up, see %s/log.", s->folder);
    return false;
}

bool pg_server_start(struct pg_server *s)
{
    char program[128], data[96], log[96], port[16];
    const struct passwd *user = other_user();
    memset(s, 0, sizeof *s);
    record_id_new(s->password);
    snprintf(s->folder, sizeof s->folder, "/tmp/letoff-pg-XXXXXX");
    if (!mkdtemp(s->folder) || (user && chown(s->folder, user->pw_uid, user->pw_gid) != 0)) {
        snprintf(s->why, sizeof s->why, "No temporary folder could be made.");
        return false;
    }
    if (!make_cluster(s, user) || !find_program("postgres", program, sizeof program))
        return false;
    snprintf(data, sizeof data, "%s/data", s->folder);
    snprintf(log, sizeof log, "%s/log", s->folder);
    s->port = free_port();
    snprintf(port, sizeof port, "%d", s->port);
    char *argv[] = {program,
                    "-D",
                    data,
                    "-k",
                    s->folder,
                    "-p",
                    port,
                    "-c",
                    "listen_addresses=127.0.0.1",
                    "-c",
                    "fsync=off",
                    "-c",
                    "shared_buffers=16MB",
                    "-c",
                    "max_connections=20",
                    "-c",
                    "autovacuum=off",
                    NULL};
    s->pid = start(user, log, argv);
    return comes_up(s);
}

void pg_server_stop(struct pg_server *s)
{
    char command[128];
    if (s->pid > 0) {
        kill(s->pid, SIGQUIT);
        waitpid(s->pid, NULL, 0);
    }
    s->pid = 0;
    if (s->folder[0]) {
        snprintf(command, sizeof command, "rm -rf %s", s->folder);
        if (system(command) != 0)
            print_error("%s could not be removed\n", s->folder);
    }
}

void pg_server_url(const struct pg_server *s, const char *database, bool loopback, char *out,
                   size_t room)
{
    if (loopback)
        snprintf(out, room, "postgresql://keeper:%s@127.0.0.1:%d/%s", s->password, s->port,
                 database);
    else
        snprintf(out, room, "postgresql:///%s?host=%s&port=%d&user=keeper", database, s->folder,
                 s->port);
}

void pg_server_do(const struct pg_server *s, const char *database, const char *sql)
{
    char url[256];
    pg_server_url(s, database, false, url, sizeof url);
    PGconn *db = PQconnectdb(url);
    PQclear(PQexec(db, "SET client_min_messages = warning"));
    PGresult *result = PQexec(db, sql);
    ExecStatusType status = PQresultStatus(result);
    if (status != PGRES_COMMAND_OK && status != PGRES_TUPLES_OK)
        fail_msg("%s: %s", sql, PQerrorMessage(db));
    PQclear(result);
    PQfinish(db);
}
