/* stats.h - figures from the journal: which parts fail when, whether the finder's promises hold, and
 * how many minutes it saves.  Numbers only; drawing them is draw's business. */
#ifndef LETOFF_STATS_H
#define LETOFF_STATS_H

#include "journal/journal.h"

#define STATS_MONTHS 12
#define STATS_BINS   10

/* One part: faults found in it, by the month the job was closed. */
struct part_year {
    char *part; /* "" if no part was written down */
    unsigned month[STATS_MONTHS], all;
};

/* Of the beliefs whose p lay in this bin (tenths): what was promised, what came. */
struct promise_bin {
    double said; /* mean p */
    double held; /* share in which that fault was found */
    unsigned count;
};

struct month_minutes {
    unsigned jobs, by_phone; /* closed; closed on the telephone */
    double minutes;          /* spent, of jobs that say */
    double saved;            /* see stats.minutes_saved */
};

/* What came of one kind of advice. */
struct advice_fate {
    char *action; /* id, or the text if there was none */
    unsigned given, followed, helped;
    double promised_min; /* sum of saves_min */
};

struct stats {
    int year; /* of month and part; 0 = all years together */
    unsigned calls, open, closed;
    struct part_year *part; /* most frequent first */
    size_t parts, part_room;
    struct promise_bin bin[STATS_BINS];
    unsigned judged; /* closed calls with a belief and a finding */
    unsigned right;  /* of these: the most probable fault was among those found */
    double brier;    /* mean over judged calls of the sum over their beliefs of (p - found)^2 */
    struct month_minutes month[STATS_MONTHS];
    double trip_min;      /* mean minutes of a job that needed a visit or the bench */
    unsigned trips;       /* from how many jobs */
    double minutes_saved; /* jobs closed on the telephone x trip_min, less the minutes they took;
                             0 while there are fewer than STATS_TRIPS_LEAST trips */
    double promised_min;  /* what the advice given had promised */
    struct advice_fate *advice; /* most often given first */
    size_t advices, advice_room;
};
#define STATS_TRIPS_LEAST 5

/* Reads the whole journal.  Of several sets of beliefs of one call the last counts. */
bool stats_read(struct journal *j, int year, struct stats *s, struct err *e);
void stats_release(struct stats *s);

#endif
