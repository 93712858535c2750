/* bench_journal.c - how long a keystroke, a call and a search take on a journal of some years. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "bench/stopwatch.h"
#include "journal/journal_jobs.h"
#include "journal/stats.h"
#include "mem.h"

#define CALLS 3000
#define KEYS  500

static void fill(struct journal *j, struct err *e)
{
    char id[33], who[32], story[64];
    const struct found_fault found = {"tail-angle-short", "rack tail", "out_of_adjustment"};
    const struct belief_row belief[] = {{"tail-angle-short", "rack tail", 0.7},
                                        {"hour-hand-moved", "hour hand", 0.2}};
    struct closing c = {.faults = &found, .fault_count = 1, .minutes = 40};
    double began_s = stopwatch_s();
    journal_begin(j, e);
    for (int i = 0; i < CALLS; i++) {
        snprintf(who, sizeof who, "House %d", i);
        snprintf(story, sizeof story, "strikes %d at three", i % 13);
        struct new_call call = {.customer = who, .movement = "longcase-rack", .story = story};
        job_add(j, &call, id, e);
        job_believe(j, id, belief, 2, 0, e);
        job_close(j, id, &c, e);
    }
    journal_commit(j, e);
    printf("a job kept and closed: %.2f ms\n", (stopwatch_s() - began_s) * 1e3 / CALLS);
}

int main(void)
{
    char folder[] = "/tmp/letoff-bench-XXXXXX", path[64], command[64];
    struct err e = {0};
    struct job_rows rows = {0};
    struct stats s;
    if (!mkdtemp(folder))
        return 1;
    snprintf(path, sizeof path, "%s/journal.db", folder);
    struct journal *j = journal_open(path, NULL, &e);
    fill(j, &e);
    double began_s = stopwatch_s();
    char text[KEYS + 1] = "";
    for (int i = 0; i < KEYS; i++) {
        text[i] = 'x';
        journal_draft_save(j, "desk", text, &e);
    }
    printf("a keystroke saved: %.3f ms\n", (stopwatch_s() - began_s) * 1e3 / KEYS);
    began_s = stopwatch_s();
    job_find(j, "house 2999 strikes", &rows, &e);
    printf("a search in %d jobs: %.1f ms\n", CALLS, (stopwatch_s() - began_s) * 1e3);
    job_rows_release(&rows);
    began_s = stopwatch_s();
    stats_read(j, 0, &s, &e);
    printf("all figures of %d jobs: %.1f ms\n", CALLS, (stopwatch_s() - began_s) * 1e3);
    stats_release(&s);
    journal_close(j);
    err_print(&e, stderr);
    err_release(&e);
    snprintf(command, sizeof command, "rm -rf %s", folder);
    return system(command) != 0;
}
