/* sheet.h - the call sheet: what a caller says of a clock, in a form that can be reasoned with.
 *
 * A sheet is read from YAML or from one line of shorthand, and can be written in either form.
 * All parts are optional; a sheet must hold at least one of `heard`, `seen`, `history` or `story`.
 *
 *     clock: mantel-westminster-rack      # or hints below when the caller can't say
 *     hints: {winding_points: 3, power: weight, hands_back_ok: unknown, age: modern}
 *     history: [moved_house, not hands_turned_back]     # "not": asked, and the answer was no
 *     seen: [left_weight_still, asked hammers_free]     # "asked": yes, but only when asked
 *     years_since_oil: 6
 *     hands: "3:10"                       # what the hands show now
 *     heard:
 *       - {at: "3:00", strike: 2}
 *       - {at: "5:07", for: "5:00", strike: 5, how: late}
 *       - {at: every_quarter, how: silent, except: hour}
 *     tried:
 *       - {do: trip_by_hand, result: {strike: 4}}
 *       - {do: pull_weight, train: strike, result: starts}
 *     since: {when: sudden, after: carriage}
 *     story: free text
 *     source: where the report is from
 *
 * Rows of `heard` stand in order of hearing.
 *
 *   at        "3:00", "3:00 pm", "~3:00" (about), "*:28" (at that minute of any hour), every_hour,
 *             every_half, every_quarter, every_other_hour, any (every let-off), an_hour, a_half,
 *             a_quarter (one of them, which is not known), unknown,
 *             {after: "8:10", before: "8:30"} (a window; "*:10" allowed),
 *             {from: "3:00", to: "11:00", every: hour} (a rule over part of the dial), or a list of
 *             these: a row for each, alike in all else.
 *             Without `at`: one let-off at an unknown time.
 *   for       the let-off it belongs to when it came late or early: "5:00", hour (or every_hour),
 *             half, quarter.
 *   except    hour, half, quarter, "5:00", "*:30" or a list of them: a rule's exceptions.
 *   strike    a count 1..N, none (or 0), runs_on, unnoticed, right, wrong, some (struck, not
 *             counted), hour_count (an hour's count where one blow was due, not counted), a list
 *             [1, 2], "1 or 2" (the same), or {mostly: 1, sometimes: [2, 3]}; the words may stand
 *             for a count there: {mostly: right, sometimes: none}.
 *   strike_error  heard less due: -1, or {mostly: 0, sometimes: [-1]}; constant: always the same
 *             number, which is not told (one number for all such rows of the sheet).
 *   notes     "3124": bells of the notes, 1 = highest, a..g = 10..16, . = a gap where a note
 *             should be, ? = not made out; blanks and - may stand between phrases.
 *   phrases   how many phrases (of a ting-tang: pairs) were heard.
 *   quarter   1..4, next or previous: the tune of which quarter it was.
 *   chime     none (or silent), right, wrong, some, runs_on, unnoticed, a list of them, or
 *             {mostly: right, sometimes: none}.
 *   hammers   single, both, outer, inner, high, low, none, all: which hammers were heard.
 *   how       a word or list of words of kind `how`.
 *   often     always, mostly, sometimes, once, maybe: how often a row holds (default always).
 *   stopped   hands, clock, train, strike, chime, music, or a list of them: all of these;
 *             freed_by: a word of that kind.
 *   train     going, strike, chime or music, when it is not plain which is meant.
 *   order     list of gong, call, bell, music, chime, strike: in which order they sounded.
 *   interval_s, intervals_s, pause_s     between blows; between chime and hour.
 *   date      "2026-10-25"; pm: yes/no.  Only needed for 24-hour matters.
 *   said      the caller's own words for this row.
 *
 * The same in shorthand, rows parted by commas, items by blanks:
 *
 *     3:00 s2, 3:15 n3124 slow, 3:30 p2 s0, 4:00 s*, hours s-1, quarters c0 not=hour
 *
 *   time      3:00  3:00pm  ~3:00  *:28  hours  halves  quarters  other-hours  any  an-hour
 *             a-half  a-quarter  ?  8:10..8:30 (window)  3:00-11:00/hours (part of the dial)
 *   strike    s3 count, s0 none, s* runs on, s? unnoticed, s= right, s! wrong, s. some,
 *             s# hour count, s1/2 list, s1(2/3/4) mostly(sometimes), s=(0), s+1 s-1 error, s+0(-1), s~ constant
 *   chime     n3124 notes (without blanks), p2 phrases, q3 quarter, q+1 next, q-1 previous,
 *             c0 none, c= right, c! wrong, c. some, c* runs on, c? unnoticed, c0/! list, c=(0)
 *   others    for=5:00  not=hour/5:00  stop=hands  stop=strike/hands  freed=hand_back  train=chime  hammers=both
 *             often=sometimes  order=gong>call  i2.1 or i2.1/2.3  pause=4  date=2026-10-25
 *             and any `how` word as it is
 *   besides   rows that begin with one of these words instead of a time:
 *             clock ID   hint chime=westminster   had moved_house   not-had WORD   asked-had WORD
 *             seen hammers_free   not-seen WORD   asked-seen WORD   oil 6   hands 3:10
 *             since sudden carriage
 *             did pull_weight:strike@3:00 -> starts      did trip_by_hand -> s4
 * `story`, `source`, and `said` have no shorthand.
 *
 * Limits: SHEET_ROWS rows, SHEET_TRIED actions, counts to 24 (strike_error -24..24),
 * SHEET_NOTES notes, texts to SHEET_TEXT bytes; files as in yaml_map.h.
 */
#ifndef LETOFF_DIAGNOSE_SHEET_H
#define LETOFF_DIAGNOSE_SHEET_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include "diagnose/words.h"
#include "err.h"
#include "text.h"

#define SHEET_ROWS 500
#define SHEET_TRIED 64
#define SHEET_VALUES 24
#define SHEET_NOTES 96
#define SHEET_INTERVALS 64
#define SHEET_EXCEPT 24
#define SHEET_ORDER 6
#define SHEET_HINTS 64
#define SHEET_TEXT 20000
#define SHEET_COUNT_MOST 24

/* When: a point, a minute of any hour, a rule or a window of the dial. */
enum at_kind {
    AT_UNKNOWN, /* one let-off, time not known */
    AT_EXACT,   /* `min` */
    AT_MINUTE,  /* minute `min` (0..59) of any hour */
    AT_RULE,    /* every let-off of the kind `rule`, within min..end_min if `part` */
    AT_ONE,     /* one let-off of the kind `rule`, which one is not known */
    AT_WINDOW,  /* between min and end_min (both of any hour when any_hour) */
};
enum at_rule { RULE_ANY, RULE_HOUR, RULE_HALF, RULE_QUARTER, RULE_OTHER_HOUR };

struct sheet_at {
    enum at_kind kind;
    enum at_rule rule;
    int min;       /* dial minutes 0..719 (0 = twelve o'clock), 0..1439 if known24, 0..59 */
    int end_min;   /* last minute of a window or part, may be below min: it goes over twelve */
    bool known24;  /* which half of the day is known */
    bool about;    /* the caller was not sure of the minute */
    bool any_hour; /* window: min and end_min are minutes past any hour */
    bool part;     /* rule: only from min to end_min */
};

enum heard_strike {
    HEARD_STRIKE_UNSAID,     /* nothing told of the strike */
    HEARD_STRIKE_COUNT,      /* value[0] blows */
    HEARD_STRIKE_NONE,       /* silence was heard */
    HEARD_STRIKE_RUNS_ON,    /* without end */
    HEARD_STRIKE_UNNOTICED,  /* not listened to: says nothing */
    HEARD_STRIKE_RIGHT,      /* the count due */
    HEARD_STRIKE_WRONG,      /* not the count due */
    HEARD_STRIKE_SOME,       /* it struck; not counted */
    HEARD_STRIKE_HOURS,      /* struck as for an hour (not the single blow); not counted */
    HEARD_STRIKE_ERROR,      /* value[0] more (or fewer, < 0) than due */
    HEARD_STRIKE_SET,        /* one of value[]; the first is the usual one if `mostly` */
    HEARD_STRIKE_ERROR_SET,  /* likewise of errors */
    HEARD_STRIKE_SAME_ERROR, /* wrong, always by the same number, which is not told */
};
#define HEARD_ENDLESS 1000 /* stands for runs_on, and 0 for none, within a set of counts */
#define HEARD_AS(word) (-(int)(word)) /* and this for right, wrong, some and hour_count */

enum heard_chime {
    HEARD_CHIME_UNSAID,
    HEARD_CHIME_NONE,
    HEARD_CHIME_RIGHT,
    HEARD_CHIME_WRONG,
    HEARD_CHIME_SOME,
    HEARD_CHIME_RUNS_ON,
    HEARD_CHIME_UNNOTICED,
};
enum heard_often { OFTEN_ALWAYS, OFTEN_MOSTLY, OFTEN_SOMETIMES, OFTEN_ONCE, OFTEN_MAYBE };
enum heard_stopped {
    STOPPED_NOTHING, STOPPED_HANDS, STOPPED_CLOCK, STOPPED_TRAIN, STOPPED_STRIKE, STOPPED_CHIME,
    STOPPED_MUSIC
};
enum heard_hammers {
    HAMMERS_UNSAID, HAMMERS_SINGLE, HAMMERS_BOTH, HAMMERS_OUTER, HAMMERS_INNER, HAMMERS_HIGH,
    HAMMERS_LOW, HAMMERS_NONE, HAMMERS_ALL
};
enum heard_order { ORDER_GONG, ORDER_CALL, ORDER_BELL, ORDER_MUSIC, ORDER_CHIME, ORDER_STRIKE };

/* One row of `heard`, and what an action gave. */
struct heard {
    struct sheet_at at;
    bool has_for;
    struct sheet_at due;                 /* `for`: AT_EXACT or AT_RULE */
    struct sheet_at except[SHEET_EXCEPT];/* AT_EXACT, AT_MINUTE or AT_RULE */
    size_t excepts;
    enum heard_strike strike;
    int value[SHEET_VALUES];
    size_t values;
    bool mostly;
    enum heard_chime chime; /* the first of several, the usual one if chime_mostly */
    unsigned chime_also;    /* bits (1u << enum heard_chime) of the others */
    bool chime_mostly;
    char notes[SHEET_NOTES + 1];         /* blanks and - left out; "" if not told */
    int phrases;                         /* -1 not told */
    int quarter;                         /* 1..4; 0 not told */
    int quarter_shift;                   /* +1 next, -1 previous, 0 not told */
    enum heard_hammers hammers;
    struct word_set how;                 /* WORD_HOW */
    enum heard_often often;
    enum heard_stopped stopped;
    unsigned stopped_also;               /* bits (1u << enum heard_stopped) of what stood besides */
    int freed_by;                        /* ordinal of WORD_FREED_BY, -1 not told */
    int train;                           /* enum event_train, -1 not told */
    enum heard_order order[SHEET_ORDER];
    size_t orders;
    double interval_s, pause_s;          /* 0 not told */
    double intervals_s[SHEET_INTERVALS];
    size_t intervals;
    int year, month, day;                /* 0 not told */
    char *said;                          /* owned; NULL not told */
    size_t line;                         /* where the row stands in its file, 0 unknown */
};

struct tried {
    int action;            /* ordinal of WORD_DO */
    int train;             /* enum event_train, -1 not told */
    bool has_at;
    struct sheet_at at;    /* where the hands stood */
    int result;            /* ordinal of WORD_RESULT, -1 */
    bool has_row;
    struct heard row;      /* what was heard then, if has_row */
    size_t line;
};

struct sheet {
    const struct words *words;
    char clock[64];                     /* "" not told */
    size_t clock_line, clock_column;
    int hint[SHEET_HINTS];              /* by ordinal of WORD_HINT: value number or the number
                                           itself; HINT_UNSAID */
    struct word_set history, history_not, seen, seen_not;
    struct word_set history_asked, seen_asked; /* of those that are so: said only when asked for */
    double years_since_oil;             /* < 0 not told */
    int hands_min;                      /* what the hands show now, -1 not told */
    struct heard *heard;
    size_t heards, heard_room;
    struct tried *tried;
    size_t trieds, tried_room;
    int since_when;                     /* ordinal of WORD_WHEN, -1 not told */
    struct word_set since_after;        /* WORD_AFTER */
    char *story, *source;               /* owned; NULL not told */
    char *file;                         /* owned; name for messages */
};
#define HINT_UNSAID (-1000000)

/* Life cycle.  The vocabulary must outlive the sheet. */
void sheet_init(struct sheet *s, const struct words *words);
void sheet_clear(struct sheet *s);   /* as after sheet_init */
void sheet_release(struct sheet *s); /* a zeroed struct is fine */

/* Read YAML into an initialised, empty sheet.  Every problem gives a sentence with
 * file:line:column, key, value and what was expected; false then, and the sheet is empty. */
bool sheet_parse(struct sheet *s, const char *name, const char *text, size_t length, struct err *e);
bool sheet_load(struct sheet *s, const char *path, struct err *e);
/* Append rows in shorthand to an initialised sheet.  On false the sheet is as it was; the column
 * in the sentences counts bytes of the text from 1. */
bool sheet_parse_shorthand(struct sheet *s, const char *text, size_t length, struct err *e);

/* Write.  Reading what sheet_print wrote gives an equal sheet.  sheet_print_shorthand leaves out
 * story, source and said, and returns false when it had to. */
void sheet_print(const struct sheet *s, struct text *out);
bool sheet_print_shorthand(const struct sheet *s, struct text *out);
bool sheet_same(const struct sheet *a, const struct sheet *b); /* file and lines left aside */

/* Rows. */
void heard_init(struct heard *h); /* nothing told */
struct heard *sheet_add_heard(struct sheet *s); /* a new last row; NULL when there are SHEET_ROWS */
struct tried *sheet_add_tried(struct sheet *s);
void sheet_remove_heard(struct sheet *s, size_t i);
/* One row as YAML flow map "{at: "3:00", strike: 2}" or in shorthand. */
void heard_print(const struct heard *h, const struct words *w, struct text *out);
void heard_print_shorthand(const struct heard *h, const struct words *w, struct text *out);
/* The row in plain words: "at 3:00 it struck 2, slowly". */
void heard_say(const struct heard *h, const struct words *w, struct text *out);

/* Does `at` speak of the let-off due at this minute of a cycle of 720 or 1440 minutes?  In a cycle
 * of 720 (or when the caller did not say) the halves of the day are one.  "About" allows seven
 * minutes.  AT_UNKNOWN, AT_ONE and every_other_hour are about some let-off: true where it could
 * be that one. */
bool at_covers(const struct sheet_at *at, int due_min, int cycle_min);
/* Likewise for a row: the let-off it belongs to (`for` before `at`), less its exceptions. */
bool heard_covers(const struct heard *h, int due_min, int cycle_min);
/* True for a rule, a minute or `any`: it speaks of every let-off it covers, not of one. */
bool heard_is_rule(const struct heard *h);
bool heard_how(const struct heard *h, const struct words *w, const char *how);
#define HOW_BY_HAND "by_hand" /* the hands were led to that let-off because it was asked for */

/* Hints by name.  The value's name ("rack"), or NULL if unsaid or a number. */
const char *sheet_hint(const struct sheet *s, const char *key);
/* The number of a numeric hint ("trains" and "winding_points" also), or `otherwise`. */
long sheet_hint_number(const struct sheet *s, const char *key, long otherwise);
bool sheet_set_hint(struct sheet *s, const char *key, const char *value); /* false: no such */
bool sheet_had(const struct sheet *s, const char *history_word);
bool sheet_seen(const struct sheet *s, const char *seen_word);
/* Nothing at all has been told. */
bool sheet_empty(const struct sheet *s);

#endif
